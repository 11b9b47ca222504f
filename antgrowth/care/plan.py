"""A plan of care: what happens when, how sure that is, and what to check first."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pandas as pd

from antgrowth._core.arguments import PATH, takes
from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report, Shown, share_words
from antgrowth._core.text import counted
from antgrowth.care.milestone import Milestone
from antgrowth.care.nest_room import NestRoom
from antgrowth.care.outdoors import LAW, OutdoorWindows
from antgrowth.care.rest_season import RestSeason
from antgrowth.errors import AntgrowthError
from antgrowth.evaluation.alerts import Alerts
from antgrowth.food.feed_log import FeedLog
from antgrowth.forecast.paths import Forecast
from antgrowth.species.view import season_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

HEAD = ("milestone", "status", "window", "most likely", "prepare from", "checks")

KEEPING = (
    "Barriers and lids: a lid or fine mesh that closes, and a dry rim with a barrier under it; "
    "barriers wear off and fail when damp, so try yours every week, and look at joints before each "
    "move (common practice).",
    "Humidity: no range is known of most ants. Keep one part damp and one dry, about 50 to 80 % in "
    "the nest, and let them choose (common practice); fire ants chose nearly saturated air for "
    "their brood (Potts and others 1984), and of two carpenter ants one founded as well at 70 as "
    "at 100 % and the other did not (Mankowski and Morrell 2011).",
    "Mould: wet surfaces decide where it grows, more than damp air (Pasanen and others 1991). Take "
    "leftovers away within a day, let no water run onto floor or cotton, and offer a clean nest "
    "beside a mouldy one instead of tipping the ants out (common practice).",
)
"""What to take care of whatever the ant; each with its source, or as common practice."""

FOUNDING = (
    "A queen who is disturbed eats her brood: no light, no knocks, and a look once a week at most, "
    "in red light (common practice).",
    "A founding that fails: many do. How many is known of few ants, and under keepers it is taken "
    "for a fifth to a half (common practice, not counted). If the brood is gone, leave her dark "
    "and quiet at her usual warmth; a queen who is still heavy lays again. Without brood in autumn "
    "give her the rest of her species and try again in spring. Feed a claustral queen who is thin "
    "with a touch of sugar water: fed queens of Lasius niger reared more (Szabo and others 2023). "
    "A dead queen ends it: do not release what is left.",
)
"""The same for a queen who has no workers yet."""

SAID_TWICE = ("Heat", "Never release")
"""How cautions of steps begin that only repeat what most profiles say."""

_READY = {True: "fine", False: "NOT FINE", None: "look yourself"}


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
        """What to take care of: the law, the species, its keeping, then the steps ahead."""
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
        alone = self.forecast.workers_now == 0
        keeping = [*KEEPING, *(FOUNDING if alone else ())]
        return tuple(dict.fromkeys([*own, *general, *keeping, *steps]))

    @takes(path=PATH)
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

        write_calendar(path, self.forecast.fit.counts.name, self.forecast.start, self.milestones)

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the windows of all milestones on one line of time."""
        return picture("care", "plot_care", self, ax=ax)

    def _report(self) -> Report:
        return _report(self)

    def __repr__(self) -> str:
        scheduled = sum(milestone.is_scheduled for milestone in self.milestones)
        return (
            f"CarePlan({self.forecast.fit.counts.name!r}, {counted(len(self), 'milestone')}, "
            f"{scheduled} scheduled from {self.forecast.start:%Y-%m-%d} on)"
        )


def _report(plan: CarePlan) -> Report:
    """Report of a plan: the windows, what does not hold, what to take care of."""
    ahead = plan.forecast
    country = plan.country or "no country given"
    facts = [
        ("as of", f"the last note, {ahead.start:%Y-%m-%d}; horizon {ahead.dates[-1]:%Y-%m-%d}"),
        ("warmth", ahead.assumed),
        *((("cool", ahead.cool),) if ahead.cool else ()),
        ("season", season_words(ahead.fit.species)),
        ("holds", f"{plan.forecast.condition}; windows have a chance of {plan.level:.0%}"),
        ("keeper", f"{plan.hemisphere}ern hemisphere, {country}"),
    ]
    closing = [
        (milestone.title, str(check))
        for milestone in plan
        for check in milestone.checks
        if check.holds is not True
    ]
    unscheduled = [
        (milestone.title, milestone.when()) for milestone in plan if not milestone.is_scheduled
    ]
    rooms = [("nests", text) for text in plan.room.sentences()] if plan.room else []
    windows = [("outdoors", plan.outdoors.sentence())] if plan.outdoors else []
    cautions = [("caution", text) for text in plan.cautions()]
    return Report(
        title=f"Care plan: {ahead.fit.counts.name} ({ahead.fit.species.scientific_name})",
        facts=tuple(facts),
        head=HEAD,
        align="llllll",
        rows=tuple(milestone_cells(milestone) for milestone in plan),
        closing=(*unscheduled, *closing, *rooms, *windows, *cautions),
        warning="" if ahead.heat is None else ahead.heat.words(),
    )


def milestone_cells(milestone: Milestone) -> tuple[str, ...]:
    """One row: dates of the window, or the day on which it passed."""
    head = milestone.title, milestone.status
    if not milestone.is_scheduled:
        return (*head, day(milestone.on), "", "", "")
    ready = _READY[milestone.ready] if milestone.checks else ""
    early = milestone.prepare_from < milestone.first
    prepare = day(milestone.prepare_from) if early else ""
    return (*head, milestone.span(), day(milestone.middle), prepare, ready)


def day(date: pd.Timestamp) -> str:
    """Write a date; empty if there is none."""
    return "" if pd.isna(date) else f"{date:%Y-%m-%d}"
