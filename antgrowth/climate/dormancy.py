"""Rests to come: those of a plan, and those that a species needs and nobody has planned.

A species that needs a rest takes it in its season, as the keeper of this colony did before or else
as its profile says. A season that a plan leaves out is told, so that a date never rests on a winter
that nobody has thought of.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth.climate.base import ONE_DAY, Temperature
from antgrowth.climate.gaps import runs
from antgrowth.climate.schedules import Continued, as_plan

if TYPE_CHECKING:
    from antgrowth.species.profile import Species

__all__ = [
    "Habit", "foreseen", "go_on", "habit_of", "told_without_rest", "with_rests", "without_rest",
]  # fmt: skip

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
class Habit:
    """When in the year a colony rests, and how warm.

    Attributes
    ----------
    start, end : str
        Month and day of the first day, and of the day on which it is over, such as "10-15".
    temperature_c : float
        [°C]
    words : str
        Where this is known from.
    """

    start: str
    end: str
    temperature_c: float
    words: str

    def seasons(self, first: np.datetime64, last: np.datetime64) -> list[Season]:
        """Rests of which some day lies between two days, both included."""
        years = range(pd.Timestamp(first).year - 1, pd.Timestamp(last).year + 1)
        found = [(_day(year, self.start), _day(year, self.end)) for year in years]
        found = [(a, b if b > a else _day(pd.Timestamp(a).year + 1, self.end)) for a, b in found]
        return [(start, stop) for start, stop in found if start <= last and stop > first]


def habit_of(
    species: Species,
    hemisphere: str | None,
    lived: Temperature,
    since: np.datetime64,
    until: np.datetime64,
) -> Habit | None:
    """When a colony rests: as it did before, or else as its profile says.

    Parameters
    ----------
    species : Species
    hemisphere : "north", "south" or None
        None where nobody said: north is taken, unless the colony's own rest tells.
    lived : Temperature
        What the colony lived through.
    since, until : datetime64[D]
        The days of it.

    Returns
    -------
    Habit or None
        None if the species needs no rest.
    """
    rest = species.rest
    if not rest.needed or rest.start is None or rest.end is None or rest.temperature_c is None:
        return None
    # A rest that is still on ends as planned; one that was on already began before the first note.
    early = since - 366
    mask = lived._resting(early, int((until - early) // ONE_DAY) + 366)
    for begin, end in reversed(runs(mask)):
        start, stop = early + begin, early + end
        if start <= until and stop > since and end - begin >= SHORTEST_DAYS:
            hours_c = lived._hours(start, end - begin)
            known = not np.isnan(hours_c).all()
            return Habit(
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
    return Habit(dates[0], dates[1], rest.temperature_c, words)


def foreseen(
    temperature: Temperature,
    species: Species,
    habit: Habit | None,
    until: np.datetime64,
    days: int,
) -> tuple[Temperature, str]:
    """What the days to come are taken to be where nobody says: as usual, with the rests due.

    Parameters
    ----------
    temperature : Temperature
        As far as it is known or planned.
    species : Species
    habit : Habit or None
    until : datetime64[D]
        Last day that the colony has lived through.
    days : int
        How many to come. [day]

    Returns
    -------
    temperature : Temperature
    words : str
        What is assumed.

    Notes
    -----
    A record ends, and what comes after it is for the forecast to say. A plan without end and
    without any rest, such as ``constant(24)``, says it all: it is taken at its word, and the words
    tell which rests are not in it.
    """
    plan, words = go_on(temperature, species, until + days)
    if habit is None:
        return plan, words
    if temperature._ends() is None and not _ever_rests(temperature, until, days):
        return plan, words + told_without_rest(plan, species, habit, until + 1, days)
    plan, rests = with_rests(plan, habit, species.value("laying.lower_c"), until + 1, days)
    return plan, words + rests


def go_on(
    temperature: Temperature, species: Species, until: np.datetime64
) -> tuple[Temperature, str]:
    """Let a temperature go on to a day as its last two weeks without rest, and say so.

    Parameters
    ----------
    temperature : Temperature
    species : Species
        For the warmth of what nobody wrote down: a rest planned without a temperature, the time
        after a rest that is all that is known.
    until : datetime64[D]

    Returns
    -------
    temperature : Temperature
        The one given, if it reaches that far.
    words : str
        What the days that are not known are taken to be.
    """
    end = temperature._ends()
    if end is None or np.datetime64(end, "D") >= until:
        return temperature, temperature.describe()
    last = np.datetime64(end, "D")
    awake = _usual_day(temperature, species, last)
    number = int((until - last) // ONE_DAY)
    mask = temperature._resting(last + 1, number)
    going_on = Continued(temperature, last + 1, awake, _rest_day(temperature, species, last))
    words = awake.describe()
    for begin, stop in runs(mask):
        start = last + 1 + begin
        warmth = going_on._hours(start, stop - begin).mean()
        words += f"; rest from {start} until {last + 1 + stop} at {warmth:.1f} °C, as planned"
    return going_on, words


def with_rests(
    plan: Temperature, habit: Habit, coldest_laying_c: float, first: np.datetime64, days: int
) -> tuple[Temperature, str]:
    """Put the rests of a habit into the seasons of a plan that have none, and say so.

    Parameters
    ----------
    plan : Temperature
    habit : Habit
    coldest_laying_c : float
        A season that is colder by itself keeps its temperature. [°C]
    first : datetime64[D]
        First of the days to come.
    days : int
        How many. [day]
    """
    words = ""
    for start, stop in without_rest(plan, habit, first, days):
        if start < first and (first - start) * 2 > stop - start:
            words += f"; no rest until {stop}, {habit.words}: it seems to be skipped"
            continue
        begin = max(start, first)
        shown = min(stop, first + days) - begin  # nothing may be known beyond
        planned = float(np.nanmean(plan._hours(begin, int(shown // ONE_DAY))))
        wintry = planned <= coldest_laying_c
        plan = plan.rest(begin, stop, None if wintry else habit.temperature_c)
        warmth = planned if wintry else habit.temperature_c
        words += f"; rest from {begin} until {stop} at {warmth:.1f} °C, {habit.words}"
    return plan, words


def without_rest(plan: Temperature, habit: Habit, first: np.datetime64, days: int) -> list[Season]:
    """Seasons of a habit, among the days from one on, in or near which a plan has too little rest.

    A rest that was begun and is broken off soon is none.
    """
    found = []
    for start, stop in habit.seasons(first, first + (days - 1)):
        season = int((stop - start) // ONE_DAY)
        near = plan._resting(start - LEEWAY_DAYS, season + 2 * LEEWAY_DAYS)
        if near.sum() < LEAST_SHARE * season:
            found.append((start, stop))
    return found


def told_without_rest(
    plan: Temperature, species: Species, habit: Habit | None, first: np.datetime64, days: int
) -> str:
    """Say which seasons of a habit a plan leaves without rest; "" if none."""
    return "".join(
        f"; no rest from {start} until {stop}, though {species.scientific_name} needs one"
        for start, stop in ([] if habit is None else without_rest(plan, habit, first, days))
    )


def _ever_rests(temperature: Temperature, until: np.datetime64, days: int) -> bool:
    """Whether some rest stands in a plan, within a year and more of the days that matter."""
    return bool(temperature._resting(until - YEARS_LOOK, days + 2 * YEARS_LOOK).any())


def _day(year: int, month_day: str) -> np.datetime64:
    """A date of a year; the 29th of February is the 1st of March where there is none."""
    month, day = map(int, month_day.split("-"))
    return np.datetime64(f"{year}-{month:02d}", "D") + (day - 1)


def _usual_day(temperature: Temperature, species: Species, last: np.datetime64) -> Temperature:
    """Mean of the last two weeks without rest; where there are none, the profile's reference."""
    if temperature._awake(last - 365, 366).any():
        return temperature.typical_day(last)
    return as_plan(species.value("development.reference_c"), "development.reference_c")


def _rest_day(temperature: Temperature, species: Species, last: np.datetime64) -> Temperature:
    """Mean of the last rest that is known, else what the profile says, else the usual day."""
    hours_c = temperature._hours(last - 365, 366)
    known = temperature._resting(last - 365, 366) & ~np.isnan(hours_c).any(axis=1)
    if known.any():
        return as_plan(float(hours_c[known].mean()), "rest")
    if species.rest.temperature_c is not None:
        return as_plan(species.rest.temperature_c, "rest.temperature_c")
    return _usual_day(temperature, species, last)
