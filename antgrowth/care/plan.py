"""A plan of care: what happens when, how sure that is, and what to check first."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report, Shown, share_words
from antgrowth._core.text import counted, near_miss
from antgrowth.care.checks import Checker
from antgrowth.care.milestone import Milestone
from antgrowth.care.nest_room import NestRoom, nest_room
from antgrowth.care.nests import Nest
from antgrowth.care.outdoors import LAW, STAY, OutdoorWindows, outdoor_windows
from antgrowth.care.rest_season import RestSeason, hemisphere_fault, rest_around
from antgrowth.care.timing import NEVER
from antgrowth.care.triggers import Surroundings
from antgrowth.care.view import plan_report
from antgrowth.climate.temperature import Temperature
from antgrowth.errors import AntgrowthError
from antgrowth.evaluation.alerts import Alerts
from antgrowth.food.feed_log import FeedLog
from antgrowth.forecast.paths import Forecast
from antgrowth.species.milestones import amended, milestone_faults
from antgrowth.species.native_range import country_fault
from antgrowth.species.thermal_limits import refuse_research

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["CarePlan", "Milestone", "care_plan"]

HEMISPHERES = ("north", "south")

SAID_TWICE = ("Heat", "Never release")
"""How cautions of steps begin that only repeat what most profiles say."""


@dataclass(frozen=True, eq=False, repr=False)
class CarePlan(Shown):
    """What a colony will need, in the order of time; made by `care_plan`.

    Attributes
    ----------
    forecast : Forecast
    milestones : tuple of Milestone
        Those with a date first, by date; then those that are not scheduled.
    room : NestRoom or None
        When each nest is full; None if no nests are given.
    outdoors : OutdoorWindows or None
        Weeks for a stay outdoors; None if no weather is given.
    rest : RestSeason or None
        The rest that goes on or comes next.
    feeds : FeedLog or None
        What was offered.
    alerts : Alerts
        What stands out in the notes.
    hemisphere : str
    country : str or None
    level : float
        Probability of the windows.
    """

    forecast: Forecast = field(repr=False)
    milestones: tuple[Milestone, ...]
    room: NestRoom | None = field(repr=False)
    outdoors: OutdoorWindows | None = field(repr=False)
    rest: RestSeason | None
    feeds: FeedLog | None = field(repr=False)
    alerts: Alerts
    hemisphere: str
    country: str | None
    level: float

    def __getitem__(self, name: str) -> Milestone:
        """The milestone of an id.

        Raises
        ------
        KeyError
            If there is none.
        """
        for milestone in self.milestones:
            if milestone.id == name:
                return milestone
        raise KeyError(f"{name!r}; there are {', '.join(m.id for m in self.milestones)}")

    def __iter__(self) -> Iterator[Milestone]:
        return iter(self.milestones)

    def __len__(self) -> int:
        return len(self.milestones)

    def frame(self) -> pd.DataFrame:
        """Tell the plan as a table.

        Returns
        -------
        DataFrame
            One row a milestone: id, title, status ("coming", "due", "passed", "done", "missed",
            "beyond" the horizon, "not scheduled"), first, median, last (window at `level`; NaT
            where there is none or the horizon ends first), chance (that it comes within the
            horizon; NaN where a date decides), prepare_from, ready (True if all checks hold, False
            if one does not, None if one is not known), trigger, checks, action, caution, evidence.
        """
        return pd.DataFrame([milestone.row() for milestone in self.milestones])

    def chances(self) -> pd.DataFrame:
        """Tell the chance of each milestone over time.

        Returns
        -------
        DataFrame
            Columns date, id, chance (that it has come by the evening of the date).
        """
        dates = self.forecast.dates
        return pd.DataFrame(
            [
                {"date": date, "id": milestone.id, "chance": milestone.chance_by(date)}
                for milestone in self.milestones
                if milestone.is_scheduled
                for date in dates
            ],
            columns=["date", "id", "chance"],
        )

    def chance_before_rest(self, workers: int) -> float:
        """Chance that there are so many workers before the rest season begins.

        Raises
        ------
        AntgrowthError
            If no rest comes, one goes on already, or the forecast ends before it.
        """
        eve = self._rest_begins() - pd.Timedelta("1D")
        return self.forecast.arrival(workers).chance_by(eve)

    def before_rest_sentence(self, workers: int) -> str:
        """Whether there will be so many workers before the rest season, in a sentence."""
        chance, begins = share_words(self.chance_before_rest(workers)), self._rest_begins()
        return (
            f"{counted(workers, 'worker')} before the rest season of {begins:%Y-%m-%d}: {chance} "
            f"chance, {self.forecast.condition}."
        )

    def _rest_begins(self) -> pd.Timestamp:
        """First day of the rest to come, if the forecast sees it."""
        rest, start, end = self.rest, self.forecast.start, self.forecast.dates[-1]
        if rest is None or rest.begins <= start:
            state = "no rest is planned or needed" if rest is None else "the season has begun"
            raise AntgrowthError(f"chance_before_rest: {state}. Ask for a date: arrival().")
        if end < rest.begins:
            raise AntgrowthError(
                f"chance_before_rest: the forecast ends {end:%Y-%m-%d}, before the rest of "
                f"{rest.begins:%Y-%m-%d}. Forecast {(rest.begins - start).days} days or more."
            )
        return rest.begins

    def sentences(self) -> tuple[str, ...]:
        """The plan in sentences, one a milestone."""
        return tuple(milestone.sentence() for milestone in self.milestones)

    def cautions(self) -> tuple[str, ...]:
        """What to take care of: the law first, then the species, then the steps still ahead."""
        own = self.forecast.fit.species.cautions
        law, release, weather = LAW
        # A profile's own sentences stand for the general ones, where nothing is put outdoors.
        outdoors = self.outdoors is not None
        general = [] if any(text.startswith("Law") for text in own) else [law]
        if outdoors or not any(text.startswith("Never release") for text in own):
            general.append(release)
        general += [weather] if outdoors else []
        steps = [step.rule.caution for step in self.milestones if step.is_scheduled]
        said = [start for start in SAID_TWICE if any(text.startswith(start) for text in own)]
        steps = [text for text in steps if text and not text.startswith(tuple(said))]
        return tuple(dict.fromkeys([*own, *general, *steps]))

    def to_ics(self, path: str | os.PathLike[str]) -> None:
        """Write the plan as a calendar file.

        Parameters
        ----------
        path : path
            A file of its own for each colony. One written before is replaced; what stood in it and
            is no longer planned is marked as cancelled.

        Raises
        ------
        AntgrowthError
            If there is a file that is not such a calendar, or that of another colony: it is left
            as it is.

        Notes
        -----
        RFC 5545. Windows are whole days without a clock time. An entry is known by colony and
        milestone, not by its date: when a new plan is imported, old entries move to their new
        dates, if the calendar program goes by such names. The chance of a window is `level`.

        References
        ----------
        Desruisseaux B (2009) Internet calendaring and scheduling core object specification
        (iCalendar). RFC 5545, sections 3.6.1 and 3.8.7.4, doi:10.17487/RFC5545.
        """
        from antgrowth.care.calendar import write_calendar

        write_calendar(self, path)

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the windows of all milestones on one line of time."""
        drawn: Axes = picture("care", "plot_care")(self, ax=ax)
        return drawn

    def summary(self) -> str:
        """Report in plain text: the windows, what must hold first, what to take care of."""
        return self._report().as_text()

    def _report(self) -> Report:
        return plan_report(self)

    def __repr__(self) -> str:
        scheduled = sum(milestone.is_scheduled for milestone in self.milestones)
        return (
            f"CarePlan({self.forecast.fit.counts.name!r}, {counted(len(self), 'milestone')}, "
            f"{scheduled} scheduled from {self.forecast.start:%Y-%m-%d} on)"
        )


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
    hemisphere = hemisphere or forecast.fit.setting.hemisphere or "north"
    faults: list[str] = []
    if _are_tables(milestones):
        faults += milestone_faults(list(milestones), ant.milestones, None, own=True)
    else:
        faults.append(
            f"milestones = {milestones!r}. Give a list of tables, such as "
            '[{"id": "out-of-tube", "lead_days": 7}].'
        )
    if nests is not None and not _are_tables(nests):
        faults.append(
            f"nests = {nests!r}. Give a list of tables, such as "
            '[{"name": "tube", "workers": 25}].'
        )
    if weather is not None and not isinstance(weather, Temperature):
        faults.append(
            f"weather = {weather!r}. Give the temperatures of the place through the year: "
            "monthly_normals(...), or a record of a year from read_temperature(...)."
        )
    if hemisphere not in HEMISPHERES:
        faults.append(f"hemisphere = {hemisphere!r}. Allowed: north, south. Write one of them.")
    elif fault := hemisphere_fault(forecast, hemisphere):
        faults.append(fault)
    if country is not None and (fault := country_fault(country)):
        faults.append(f"country = {country!r}. {fault}")
    if not (isinstance(level, (int, float, np.floating)) and 0 < level < 1):
        faults.append(f"level = {level!r}. Give a probability, such as 0.9.")
    if outdoors is not None:
        faults += _stay_faults(outdoors)
    if outdoors is not None and weather is None:
        faults.append("outdoors goes with weather: give the normals or a record of the place.")
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
    alerts = forecast.fit.alerts()
    checker = Checker(forecast, feeds, alerts, _housed_from(found, forecast))
    checked = [milestone.checked(checker) for milestone in found]
    return CarePlan(
        forecast, tuple(sorted(checked, key=_in_time)), room, windows, rest, feeds, alerts,
        hemisphere, country, float(level),
    )  # fmt: skip


def _are_tables(found: object) -> bool:
    """Whether it is a list of something; a single table or a text is none, though it has items."""
    return isinstance(found, Iterable) and not isinstance(found, (str, bytes, Mapping))


def _stay_faults(found: object) -> Iterator[str]:
    if not isinstance(found, Mapping):
        yield f'outdoors = {found!r}. Give a table of the stay, such as {{"weeks": 4}}.'
        return
    for key in found:
        if key not in STAY:
            hint = near_miss(str(key), STAY)
            yield f"outdoors.{key}: no such key.{hint} Allowed: {', '.join(STAY)}."


def _housed_from(found: list[Milestone], forecast: Forecast) -> pd.Timestamp:
    """Since when the colony is surely out of its tube; NaT if that is not in sight."""
    tube = next((milestone for milestone in found if milestone.id == "out-of-tube"), None)
    if tube is None:
        return forecast.fit.setting.first_day
    if tube.status in ("passed", "done"):
        return tube.on
    if tube.is_scheduled and tube.last is not pd.NaT:
        return max(tube.last, forecast.start) + pd.Timedelta("1D")
    return NEVER


def _in_time(milestone: Milestone) -> tuple[bool, pd.Timestamp]:
    """Order of a plan: by first day; what has none comes last."""
    day = milestone.on if milestone.on is not pd.NaT else milestone.first
    return day is pd.NaT, pd.Timestamp.max if day is pd.NaT else day
