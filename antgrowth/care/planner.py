"""Plan the care of a colony from its forecast: check what is asked, then read the milestones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from antgrowth._core.arguments import instance, optional, takes
from antgrowth._core.text import told
from antgrowth._core.validation import Table, one_of
from antgrowth.care.checks import Checker
from antgrowth.care.milestone import Milestone
from antgrowth.care.nest_room import nest_room
from antgrowth.care.nests import Nest
from antgrowth.care.outdoors import STAY, outdoor_windows
from antgrowth.care.plan import CarePlan
from antgrowth.care.rest_season import hemisphere_fault, rest_around
from antgrowth.care.timing import NEVER
from antgrowth.care.triggers import Surroundings
from antgrowth.climate.temperature import Temperature
from antgrowth.errors import AntgrowthError
from antgrowth.evaluation.alerts import find_alerts
from antgrowth.food.feed_log import FeedLog
from antgrowth.forecast.paths import Forecast
from antgrowth.species.milestones import amended, milestone_faults
from antgrowth.species.native_range import COUNTRY
from antgrowth.species.thermal_limits import refuse_research

HEMISPHERES = ("north", "south")


@takes(
    forecast=instance(Forecast, "Fit.forecast"), feeds=optional(instance(FeedLog, "ag.read_feeds"))
)  # fmt: skip
def care_plan(
    forecast: Forecast,
    *,
    milestones: Sequence[Mapping[str, Any]] = (),
    nests: Sequence[Nest | Mapping[str, Any]] = (),
    weather: Temperature | None = None,
    outdoors: Mapping[str, Any] | None = None,
    feeds: FeedLog | None = None,
    hemisphere: str | None = None,
    country: str | None = None,
    level: float = 0.9,
) -> CarePlan:
    """Plan the care of a colony from its forecast.

    Parameters
    ----------
    forecast : Forecast
    milestones : sequence of mapping
        Tables in the form of colony.toml that amend those of the species by id; see "Milestones"
        in datasets/species/README.md.
    nests : sequence of mapping or Nest
        See `antgrowth.nest_room`.
    weather : Temperature, optional
        Normals or a record of the place, for a stay outdoors; see `antgrowth.outdoor_windows`.
    outdoors : mapping, optional
        ``workers``, ``weeks`` and ``chance`` of that stay.
    feeds : FeedLog, optional
        What was offered; without it nobody knows whether food is in place.
    hemisphere : "north" or "south", optional
        Of the keeper: seasons of the species are half a year later in the south. That of the fit,
        and north if nobody said, if not given. It may not contradict a rest that the forecast has
        put in for the fit's hemisphere: say it in `fit`.
    country : str, optional
        Two-letter code of ISO 3166-1. Where the species is not known to be native, no move outdoors
        is scheduled.
    level : float
        Probability of the windows.

    Returns
    -------
    CarePlan

    Raises
    ------
    AntgrowthError
        With every fault of the arguments at once.
    SpeciesError
        If the species is for research only.

    Notes
    -----
    A milestone comes with the first of its triggers in each simulated colony; its window is the
    central interval of those days. All of it holds as of the last note, if the queen lives and
    stays fertile. The plan can only tell what the notes and the forecast say: look at the colony
    before you act.

    Examples
    --------
    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> notes = pd.DataFrame({"date": ["2026-07-16", "2026-07-24"], "eggs": [9, 12]})
    >>> fit = ag.fit(notes, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=1)
    >>> plan = ag.care_plan(fit.forecast(days=120, draws=200, rng=1))
    >>> plan["first-worker"].status, plan["outdoors"].reason
    ('coming', 'no weather is given: add [outdoors] to colony.toml')
    """
    ant = forecast.fit.species
    refuse_research(ant, "care plan")
    if hemisphere is None:
        hemisphere = forecast.fit.history.hemisphere or "north"
    faults: list[str] = []
    if _are_tables(milestones):
        faults += milestone_faults(list(milestones), ant.milestones, None, own=True)
    faults += _argument_faults(milestones, nests, weather, outdoors, country, level)
    if wrong := list(one_of(*HEMISPHERES)(hemisphere, "hemisphere")):
        faults += wrong
    elif fault := hemisphere_fault(forecast, hemisphere):
        faults.append(fault)
    if faults:
        raise AntgrowthError("care_plan: " + "\n  ".join(faults))
    rest = rest_around(forecast, hemisphere)
    room = nest_room(forecast, nests) if nests else None
    windows = None
    if weather is not None:
        windows = outdoor_windows(forecast, weather, country=country, **(outdoors or {}))
    around = Surroundings(forecast, hemisphere, rest, room, windows)
    rules = amended(ant.milestones, milestones, by="the keeper")
    found = [Milestone.read(rule, around, level) for rule in rules]
    alerts = find_alerts(forecast.fit)
    checker = Checker(forecast, feeds, alerts, _housed_from(found, forecast))
    checked = [milestone.checked(checker) for milestone in found]
    return CarePlan(
        forecast, tuple(sorted(checked, key=_in_time)), room, windows, rest, feeds, alerts,
        hemisphere, country, float(level),
    )  # fmt: skip


def _argument_faults(
    milestones: object,
    nests: object,
    weather: object,
    outdoors: object,
    country: object,
    level: object,
) -> list[str]:
    """What is wrong with arguments on their own; empty if nothing is."""
    faults = []
    if not _are_tables(milestones):
        faults.append(
            f"milestones = {told(milestones)}. Give a list of tables, such as "
            '[{"id": "out-of-tube", "lead_days": 7}].'
        )
    if nests is not None and not _are_tables(nests):
        faults.append(
            f"nests = {told(nests)}. Give a list of tables, such as "
            '[{"name": "tube", "workers": 25}].'
        )
    if weather is not None and not isinstance(weather, Temperature):
        faults.append(
            f"weather = {told(weather)}. Give the temperatures of the place through the year: "
            "monthly_normals(...), or a record of a year from read_temperature(...)."
        )
    if country is not None:
        faults += COUNTRY(country, "country")
    if not (isinstance(level, (int, float, np.floating)) and 0 < level < 1):
        faults.append(f"level = {told(level)}. Give a probability, such as 0.9.")
    if outdoors is not None and not isinstance(outdoors, Mapping):
        faults.append(
            f'outdoors = {told(outdoors)}. Give a table of the stay, such as {{"weeks": 4}}.'
        )
    elif outdoors is not None:
        faults += Table(STAY)(outdoors, "outdoors")
    if outdoors is not None and weather is None:
        faults.append("outdoors goes with weather: give the normals or a record of the place.")
    return faults


def _are_tables(found: object) -> bool:
    """Whether it is a list of something; a single table or a text is none, though it has items."""
    return isinstance(found, list | tuple)


def _housed_from(found: list[Milestone], forecast: Forecast) -> pd.Timestamp:
    """Since when the colony is surely out of its tube; NaT if that is not in sight."""
    tube = next((milestone for milestone in found if milestone.id == "out-of-tube"), None)
    if tube is None:
        return forecast.fit.history.first_day
    if tube.status in ("passed", "done"):
        return tube.on
    if tube.is_scheduled and pd.notna(tube.last):
        return max(tube.last, forecast.start) + pd.Timedelta("1D")
    return NEVER


def _in_time(milestone: Milestone) -> tuple[bool, pd.Timestamp]:
    """Order of a plan: by first day; what has none comes last."""
    day = milestone.on if pd.notna(milestone.on) else milestone.first
    return pd.isna(day), pd.Timestamp.max if pd.isna(day) else day
