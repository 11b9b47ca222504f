"""Rests to come: those of a plan, and those that a species needs and nobody has planned.

A species that needs a rest takes it in its season, as the keeper of this colony did before or else
as its profile says. A season that a plan leaves out is told, so that a date never rests on a winter
that nobody has thought of.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from antgrowth.climate.gaps import runs
from antgrowth.climate.schedules import Continued
from antgrowth.climate.source import ONE_DAY
from antgrowth.climate.temperature import Temperature, as_plan
from antgrowth.species.profile import Species

LEEWAY_DAYS = 60
"""A rest within so many days of a season counts as the rest of that season (assumed)."""

SHORTEST_DAYS = 30
"""A shorter pause than this is no model for the rests to come (assumed)."""

LEAST_SHARE = 1 / 3
"""Share of a season that a rest has to last to be the rest of it: a day or a week of cold is none
(assumed; Lasius niger has wintered on 59 days at 10 °C, of a season of 137)."""

YEARS_LOOK = 400
"""Days before and after a forecast in which a rest shows that the keeper thinks of rests. [day]"""

Season = tuple[np.datetime64, np.datetime64]
"""First day of a rest, and the day on which it is over."""


@dataclass(frozen=True)
class DormancySchedule:
    """When in the year a colony rests, and how warm."""

    # start, end: month and day of the first day, and of the day on which it is over, such as
    # "10-15".
    start: str
    end: str
    temperature_c: float  # [°C]
    words: str  # where this is known from

    def seasons(self, first: np.datetime64, last: np.datetime64) -> list[Season]:
        """Rests of which some day lies between two days, both included."""
        years = range(pd.Timestamp(first).year - 1, pd.Timestamp(last).year + 1)
        found = [(_day(year, self.start), _day(year, self.end)) for year in years]
        found = [(a, b if b > a else _day(pd.Timestamp(a).year + 1, self.end)) for a, b in found]
        return [(start, stop) for start, stop in found if start <= last and stop > first]


@dataclass(frozen=True)
class RestAhead:
    """A rest among the days to come, or the lack of one that was due."""

    start: np.datetime64  # start, stop: first day of the rest, and the day on which it is over
    stop: np.datetime64
    # "planned", by the keeper; "added", since the species needs it; "skipped", since half of it
    # is over; "missing" from a plan that is taken at its word.
    kind: str
    temperature_c: float  # its mean; NaN where there is no rest [°C]
    basis: str  # where the season is known from; of a missing one, whose need it is

    def words(self) -> str:
        """Say it, as the continuation of a sentence."""
        if self.kind == "missing":
            return f"; no rest from {self.start} until {self.stop}, though {self.basis} needs one"
        if self.kind == "skipped":
            return f"; no rest until {self.stop}, {self.basis}: it seems to be skipped"
        warmth = f"{self.temperature_c:.1f} °C"
        return f"; rest from {self.start} until {self.stop} at {warmth}, {self.basis}"


@dataclass(frozen=True, eq=False)
class PlanAhead:
    """A temperature that reaches as far as is asked, and what was assumed to make it so."""

    temperature: Temperature
    # What the days to come are like: a plan that reaches as far, or the day that is repeated.
    usual: Temperature
    rests: tuple[RestAhead, ...] = ()  # those that are told besides

    def describe(self) -> str:
        """Say what is assumed, in a sentence."""
        return self.usual.describe() + "".join(rest.words() for rest in self.rests)


def dormancy_schedule(
    species: Species,
    hemisphere: str | None,
    lived: Temperature,
    since: np.datetime64,
    until: np.datetime64,
) -> DormancySchedule | None:
    """When a colony rests: as it did before, or else as its profile says; None if it needs no rest.

    It `lived` through a temperature on the days `since` to `until`. Where nobody said the
    hemisphere, north is taken, unless the colony's own rest tells.
    """
    rest = species.rest
    if not rest.needed or rest.start is None or rest.end is None or rest.temperature_c is None:
        return None
    # A rest that is still on ends as planned; one that was on already began before the first note.
    early = since - 366
    mask = lived.resting(early, int((until - early) // ONE_DAY) + 366)
    for begin, end in reversed(runs(mask)):
        start, stop = early + begin, early + end
        if start <= until and stop > since and end - begin >= SHORTEST_DAYS:
            hours_c = lived.known_hours(start, end - begin)
            known = not np.isnan(hours_c).all()
            return DormancySchedule(
                start=f"{pd.Timestamp(start):%m-%d}",
                end=f"{pd.Timestamp(stop):%m-%d}",
                temperature_c=float(np.nanmean(hours_c)) if known else rest.temperature_c,
                words=f"as the rest of {pd.Timestamp(start).year}",
            )
    later = pd.DateOffset(months=6 if hemisphere == "south" else 0)
    dates = [f"{pd.Timestamp(_day(2001, day)) + later:%m-%d}" for day in (rest.start, rest.end)]
    words = f"usual for {species.scientific_name}"
    if hemisphere is None:
        words += " in the northern hemisphere"
    return DormancySchedule(dates[0], dates[1], rest.temperature_c, words)


def extend_plan(
    temperature: Temperature,
    species: Species,
    schedule: DormancySchedule | None,
    until: np.datetime64,
    days: int,
) -> PlanAhead:
    """What so many days to come are taken to be where nobody says: as usual, with the rests due.

    The temperature goes as far as it is known or planned; `until` is the last day lived through. A
    record ends, and what comes after it is for the forecast to say. A plan without end and without
    any rest, such as ``constant(24)``, says it all: it is taken at its word, and the rests that are
    not in it are told.
    """
    ahead = continue_plan(temperature, species, until + days)
    if schedule is None:
        return ahead
    if temperature.ends() is None and not _ever_rests(temperature, until, days):
        missing = missing_rests(ahead.temperature, species, schedule, until + 1, days)
        return replace(ahead, rests=ahead.rests + missing)
    coldest = species.value("laying.lower_c")
    plan, added = add_rests(ahead.temperature, schedule, coldest, until + 1, days)
    return PlanAhead(plan, ahead.usual, ahead.rests + added)


def continue_plan(temperature: Temperature, species: Species, until: np.datetime64) -> PlanAhead:
    """Let a temperature go on to a day as its last two weeks without rest, if it ends before.

    The species tells the warmth of what nobody wrote down: a rest planned without a temperature,
    the time after a rest that is all that is known.
    """
    end = temperature.ends()
    if end is None or np.datetime64(end, "D") >= until:
        return PlanAhead(temperature, temperature)
    last = np.datetime64(end, "D")
    awake, asleep = _usual_day(temperature, species, last), _rest_day(temperature, species, last)
    going_on = Continued(temperature.source, last + 1, awake.source, asleep.source)
    number, rests = int((until - last) // ONE_DAY), []
    for begin, stop in runs(temperature.resting(last + 1, number)):
        start = last + 1 + begin
        warmth = float(going_on.known_hours(start, stop - begin).mean())
        rests.append(RestAhead(start, last + 1 + stop, "planned", warmth, "as planned"))
    return PlanAhead(Temperature(going_on), awake, tuple(rests))


def add_rests(
    plan: Temperature,
    schedule: DormancySchedule,
    coldest_laying_c: float,
    first: np.datetime64,
    days: int,
) -> tuple[Temperature, tuple[RestAhead, ...]]:
    """Put the rests of a schedule into the seasons of a plan that have none, on so many days.

    A season that is colder by itself than `coldest_laying_c` keeps its temperature. [°C]
    """
    rests = []
    for start, stop in seasons_without_rest(plan, schedule, first, days):
        if start < first and (first - start) * 2 > stop - start:
            rests.append(RestAhead(start, stop, "skipped", np.nan, schedule.words))
            continue
        begin = max(start, first)
        shown = min(stop, first + days) - begin  # nothing may be known beyond
        planned = float(np.nanmean(plan.known_hours(begin, int(shown // ONE_DAY))))
        wintry = planned <= coldest_laying_c
        plan = plan.rest(begin, stop, None if wintry else schedule.temperature_c)
        warmth = planned if wintry else schedule.temperature_c
        rests.append(RestAhead(begin, stop, "added", warmth, schedule.words))
    return plan, tuple(rests)


def seasons_without_rest(
    plan: Temperature, schedule: DormancySchedule, first: np.datetime64, days: int
) -> list[Season]:
    """Seasons, among the days from one on, in or near which a plan has too little rest.

    A rest that was begun and is broken off soon is none.
    """
    found = []
    for start, stop in schedule.seasons(first, first + (days - 1)):
        season = int((stop - start) // ONE_DAY)
        near = plan.resting(start - LEEWAY_DAYS, season + 2 * LEEWAY_DAYS)
        if near.sum() < LEAST_SHARE * season:
            found.append((start, stop))
    return found


def missing_rests(
    plan: Temperature,
    species: Species,
    schedule: DormancySchedule | None,
    first: np.datetime64,
    days: int,
) -> tuple[RestAhead, ...]:
    """Seasons that a plan leaves without rest, of a species that needs it."""
    lacking = [] if schedule is None else seasons_without_rest(plan, schedule, first, days)
    name = species.scientific_name
    return tuple(RestAhead(start, stop, "missing", np.nan, name) for start, stop in lacking)


def _ever_rests(temperature: Temperature, until: np.datetime64, days: int) -> bool:
    """Whether some rest stands in a plan, within a year and more of the days that matter."""
    return bool(temperature.resting(until - YEARS_LOOK, days + 2 * YEARS_LOOK).any())


def _day(year: int, month_day: str) -> np.datetime64:
    """A date of a year; the 29th of February is the 1st of March where there is none."""
    month, day = map(int, month_day.split("-"))
    return np.datetime64(f"{year}-{month:02d}", "D") + (day - 1)


def _usual_day(temperature: Temperature, species: Species, last: np.datetime64) -> Temperature:
    """Mean of the last two weeks without rest; where there are none, the profile's reference."""
    if temperature.awake(last - 365, 366).any():
        return temperature.typical_day(last)
    return as_plan(species.value("development.reference_c"), "development.reference_c")


def _rest_day(temperature: Temperature, species: Species, last: np.datetime64) -> Temperature:
    """Mean of the last rest that is known, else what the profile says, else the usual day."""
    hours_c = temperature.known_hours(last - 365, 366)
    known = temperature.resting(last - 365, 366) & ~np.isnan(hours_c).any(axis=1)
    if known.any():
        return as_plan(float(hours_c[known].mean()), "rest")
    if species.rest.temperature_c is not None:
        return as_plan(species.rest.temperature_c, "rest.temperature_c")
    return _usual_day(temperature, species, last)
