"""The kinds of temperature: a record, a repeated day, and how they are put together.

A new kind is a frozen dataclass that says which days it covers, gives those days (`_hours`) and
describes itself; all else follows. Nothing is assumed about days that are not covered: asking for
them is an error that says how to fill them.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass

import numpy as np
import pandas as pd

from antgrowth._arguments import Day, as_celsius, as_date, as_whole
from antgrowth._gaps import runs, uncovered
from antgrowth._logger import Record
from antgrowth._words import counted
from antgrowth.errors import TemperatureError, TemperatureGapError

__all__ = ["Readings", "Repeating", "Rest", "Temperature", "Then", "as_plan", "span_of"]

Span = tuple[pd.Timestamp | None, pd.Timestamp | None]

_ONE_DAY = np.timedelta64(1, "D")


class Temperature(ABC):
    """Nest temperature by the hour, for as many days as are known or planned.

    Made by `read_temperature`, `constant`, `day_night` and `repeating_day`; never changed, only
    built upon. Dates are days of the keeper's own clock.
    """

    @abstractmethod
    def covers(self) -> Span:
        """First and last day with a temperature; None where there is no end.

        Returns
        -------
        first, last : Timestamp or None
            Midnight of the day. Days between them may still fall into a gap.
        """

    @abstractmethod
    def describe(self) -> str:
        """Say in one plain sentence what the temperature is."""

    @abstractmethod
    def _hours(self, start: np.datetime64, days: int) -> np.ndarray:
        """Give hourly means [°C], shape (days, 24), in a new array; NaN where there is none."""

    def _resting(self, start: np.datetime64, days: int) -> np.ndarray:
        """Tell for each day whether the colony rests."""
        return np.zeros(days, bool)

    @property
    def findings(self) -> tuple[str, ...]:
        """What reading a record had to decide, one sentence each; nothing for a plan."""
        return ()

    def hours(self, start: Day, days: int) -> np.ndarray:
        """Hourly means from a day on.

        Parameters
        ----------
        start : date
            First day.
        days : int
            Number of days.

        Returns
        -------
        hours : array, shape (days, 24)
            Mean temperature of each hour. [°C]

        Raises
        ------
        TemperatureGapError
            If some of the days have no temperature; it names them and says what to do.

        Examples
        --------
        >>> import antgrowth as ag
        >>> ag.day_night(day=27, night=21).hours("2026-07-04", 2).shape
        (2, 24)
        """
        first, number = as_date(start, "start"), as_whole(days, "days", at_least=0)
        hours_c = self._hours(first, number)
        missing = np.isnan(hours_c)
        if missing.any():
            raise TemperatureGapError(uncovered(self.covers(), first, missing))
        return hours_c

    def resting(self, start: Day, days: int) -> np.ndarray:
        """Tell for each day from `start` on whether the colony rests and the queen lays nothing.

        Returns
        -------
        resting : bool array, shape (days,)
            True on the days of a `rest`.
        """
        return self._resting(as_date(start, "start"), as_whole(days, "days", at_least=0))

    def then(self, date: Day, other: Temperature | float) -> Temperature:
        """Continue with another temperature from a date on.

        Parameters
        ----------
        date : date
            First day of the other temperature; this one ends the day before.
        other : Temperature or number
            What follows; a number is a steady temperature. [°C]

        Raises
        ------
        TemperatureError
            If this temperature starts only after the date, or the other one ends before it.

        Examples
        --------
        >>> import antgrowth as ag
        >>> ag.constant(24).then("2027-10-15", ag.constant(18)).describe()
        'constant 24.0 °C; then from 2027-10-15 constant 18.0 °C'
        """
        day, after = as_date(date, "date"), as_plan(other, "other")
        starts, ends = self.covers()[0], after.covers()[1]
        if starts is not None and starts > pd.Timestamp(day):
            raise TemperatureError(
                f"then: the temperature starts {starts:%Y-%m-%d}, so it cannot change on {day} "
                "already. Correct the date, or use the second temperature alone."
            )
        if ends is not None and ends < pd.Timestamp(day):
            raise TemperatureError(
                f"then: the second temperature ends {ends:%Y-%m-%d}, so it cannot follow from "
                f"{day} on. Correct the date, or leave it out."
            )
        return Then(self, day, after)

    def rest(
        self, start: Day, end: Day, temperature: Temperature | float | None = None
    ) -> Temperature:
        """Add a rest, such as a winter rest, during which the queen lays nothing.

        Parameters
        ----------
        start, end : date
            First day of the rest, and the day on which it is over.
        temperature : Temperature or number, optional
            Temperature of the rest; as planned if not given. [°C]

        Raises
        ------
        TemperatureError
            If the rest ends before it starts.
        TemperatureGapError
            If the temperature given does not cover the rest.

        Examples
        --------
        >>> import antgrowth as ag
        >>> plan = ag.constant(24).rest("2027-11-15", "2028-02-15", temperature=10)
        >>> plan.hours("2027-11-14", 2)[:, 0]
        array([24., 10.])
        >>> plan.resting("2027-11-14", 2)
        array([False,  True])
        """
        first, stop = as_date(start, "start"), as_date(end, "end")
        if stop <= first:
            raise TemperatureError(
                f"rest: it starts {first} and ends {stop}. The end is the first day after the "
                "rest, later than its start."
            )
        during = None if temperature is None else as_plan(temperature, "temperature")
        if during is not None:
            during.hours(first, int((stop - first) // _ONE_DAY))  # a gap is easier to mend now
        return Rest(self, first, stop, during)

    def typical_day(self, end: Day, days: int = 14) -> Temperature:
        """Mean day of the days up to and including `end`, repeated for ever.

        Parameters
        ----------
        end : date
            Last day that counts.
        days : int
            How many days count. Fewer do if some have no temperature; the description says how
            many did.

        Returns
        -------
        plan : Temperature
            The mean by hour of the day.

        Raises
        ------
        TemperatureGapError
            If the day `end` has no temperature.

        Examples
        --------
        >>> import antgrowth as ag
        >>> ag.day_night(27, 21).typical_day("2026-07-10").describe()
        'mean of 14 days, 2026-06-27 to 2026-07-10, repeated daily: mean 24.5 °C, 21.0 to 27.0'
        """
        last, number = as_date(end, "end"), as_whole(days, "days", at_least=1)
        self.hours(last, 1)
        hours_c = self._hours(last - (number - 1), number)
        known = np.flatnonzero(~np.isnan(hours_c).any(axis=1))
        pattern_c = hours_c[known].mean(axis=0)
        first = last - (number - 1 - int(known[0]))
        period = f"{first} to {last}" if first < last else f"{last}"
        return Repeating(
            pattern_c,
            f"mean of {counted(known.size, 'day')}, {period}, repeated daily: {span_of(pattern_c)}",
        )

    def __repr__(self) -> str:
        return f"<Temperature: {self.describe()}>"


@dataclass(frozen=True, eq=False, repr=False)
class Repeating(Temperature):
    """The same day for ever."""

    pattern_c: np.ndarray
    """Mean of each hour of the day, shape (24,). [°C]"""
    words: str
    """The description."""

    def covers(self) -> Span:
        return None, None

    def describe(self) -> str:
        return self.words

    def _hours(self, start: np.datetime64, days: int) -> np.ndarray:
        return np.tile(self.pattern_c, (days, 1))


@dataclass(frozen=True, eq=False, repr=False)
class Readings(Temperature):
    """A thermometer record."""

    record: Record
    """The readings, and their means by the hour."""

    def covers(self) -> Span:
        first, days = self.record.table.first_day, len(self.record.table.hours_c)
        return pd.Timestamp(first), pd.Timestamp(first + (days - 1))

    @property
    def findings(self) -> tuple[str, ...]:
        return self.record.findings

    def describe(self) -> str:
        first, last = self.covers()
        table = self.record.table
        daily = ", each taken as the mean of its day" if table.daily else ""
        gaps = len(runs(np.isnan(table.hours_c).reshape(-1)))
        return (
            f"{counted(self.record.readings_c.size, 'reading')}{daily}, {first:%Y-%m-%d} to "
            f"{last:%Y-%m-%d}, {span_of(self.record.readings_c, np.nanmean(table.hours_c))}"
            + (f", with {counted(gaps, 'gap')}" if gaps else "")
        )

    def _hours(self, start: np.datetime64, days: int) -> np.ndarray:
        known = self.record.table.hours_c
        hours_c = np.full((days, 24), np.nan)
        offset = int((start - self.record.table.first_day) // _ONE_DAY)
        from_, to = max(offset, 0), min(offset + days, len(known))
        if from_ < to:
            hours_c[from_ - offset : to - offset] = known[from_:to]
        return hours_c


@dataclass(frozen=True, eq=False, repr=False)
class Then(Temperature):
    """One temperature until a day, another one from that day on."""

    before: Temperature
    day: np.datetime64
    """First day of `after`."""
    after: Temperature

    def covers(self) -> Span:
        return self.before.covers()[0], self.after.covers()[1]

    @property
    def findings(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(self.before.findings + self.after.findings))

    def describe(self) -> str:
        return f"{self.before.describe()}; then from {self.day} {self.after.describe()}"

    def _hours(self, start: np.datetime64, days: int) -> np.ndarray:
        first = self._days_before(start, days)
        return np.concatenate(
            [self.before._hours(start, first), self.after._hours(start + first, days - first)]
        )

    def _resting(self, start: np.datetime64, days: int) -> np.ndarray:
        first = self._days_before(start, days)
        return np.concatenate(
            [self.before._resting(start, first), self.after._resting(start + first, days - first)]
        )

    def _days_before(self, start: np.datetime64, days: int) -> int:
        return min(max(int((self.day - start) // _ONE_DAY), 0), days)


@dataclass(frozen=True, eq=False, repr=False)
class Rest(Temperature):
    """A temperature with a rest."""

    plan: Temperature
    start: np.datetime64
    stop: np.datetime64
    """First day after the rest."""
    during: Temperature | None
    """Temperature of the rest; None leaves it as planned."""

    def covers(self) -> Span:
        first, last = self.plan.covers()
        if self.during is None:
            return first, last
        start, end = pd.Timestamp(self.start), pd.Timestamp(self.stop - _ONE_DAY)
        return first and min(first, start), last and max(last, end)

    @property
    def findings(self) -> tuple[str, ...]:
        return self.plan.findings + (self.during.findings if self.during is not None else ())

    def describe(self) -> str:
        at = f", {self.during.describe()}" if self.during is not None else ""
        return f"{self.plan.describe()}; rest from {self.start} until {self.stop}{at}"

    def _hours(self, start: np.datetime64, days: int) -> np.ndarray:
        if self.during is None:
            return self.plan._hours(start, days)
        interrupted = Then(self.plan, self.start, self.during)
        return Then(interrupted, self.stop, self.plan)._hours(start, days)

    def _resting(self, start: np.datetime64, days: int) -> np.ndarray:
        day = start + np.arange(days)
        return self.plan._resting(start, days) | ((day >= self.start) & (day < self.stop))


def as_plan(value: Temperature | float, what: str) -> Temperature:
    """Take a number for a steady temperature, and a temperature as it is."""
    if isinstance(value, Temperature):
        return value
    celsius = as_celsius(value, what)
    return Repeating(np.full(24, celsius), f"constant {celsius:.1f} °C")


def span_of(values_c: np.ndarray, mean_c: float | None = None) -> str:
    """Mean and range of temperatures in words."""
    mean_c = values_c.mean() if mean_c is None else mean_c
    return f"mean {mean_c:.1f} °C, {values_c.min():.1f} to {values_c.max():.1f}"
