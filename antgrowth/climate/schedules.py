"""Plans, and how temperatures are put together: one after the other, with a rest, warmer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from antgrowth._core.text import counted
from antgrowth._core.validation import as_celsius
from antgrowth.climate.base import ONE_DAY, Span, Temperature
from antgrowth.climate.humidity import moved_humidity_pct

__all__ = [
    "Changed", "Continued", "Ramp", "Repeating", "Rest", "Shifted", "Then", "Until", "as_plan",
]  # fmt: skip


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

    @property
    def _cycle_days(self) -> int:
        return max(self.before._cycle_days, self.after._cycle_days)

    def _ends(self) -> pd.Timestamp | None:
        return self.after._ends()

    def _changes(self) -> tuple[np.datetime64, ...]:
        earlier = (day for day in self.before._changes() if day < self.day)
        later = (day for day in self.after._changes() if day > self.day)
        return (*earlier, self.day, *later)

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

    def _humidity(self, start: np.datetime64, days: int) -> np.ndarray:
        first = self._days_before(start, days)
        return np.concatenate(
            [self.before._humidity(start, first), self.after._humidity(start + first, days - first)]
        )

    def _days_before(self, start: np.datetime64, days: int) -> int:
        return min(max(int((self.day - start) // ONE_DAY), 0), days)


@dataclass(frozen=True, eq=False, repr=False)
class Changed(Temperature):
    """A temperature of which something is changed; a kind says what, all else stays as it was."""

    plan: Temperature
    """What it was."""

    def covers(self) -> Span:
        return self.plan.covers()

    @property
    def findings(self) -> tuple[str, ...]:
        return self.plan.findings

    @property
    def _cycle_days(self) -> int:
        return self.plan._cycle_days

    def _ends(self) -> pd.Timestamp | None:
        return self.plan._ends()

    def _changes(self) -> tuple[np.datetime64, ...]:
        return self.plan._changes()

    def _resting(self, start: np.datetime64, days: int) -> np.ndarray:
        return self.plan._resting(start, days)

    def _humidity(self, start: np.datetime64, days: int) -> np.ndarray:
        return self.plan._humidity(start, days)


@dataclass(frozen=True, eq=False, repr=False)
class Ramp(Changed):
    """A temperature that is reached evenly, over some days, from that of one day."""

    from_c: np.ndarray
    """Mean of each hour of the day before, shape (24,). [°C]"""
    day: np.datetime64
    """First day of the ramp."""
    days: int
    """Its length."""

    def describe(self) -> str:
        return f"over {counted(self.days, 'day')} to {self.plan.describe()}"

    def _changes(self) -> tuple[np.datetime64, ...]:
        end = self.day + self.days
        return (end, *(day for day in self.plan._changes() if day > end))

    def _hours(self, start: np.datetime64, days: int) -> np.ndarray:
        hour = np.arange(days * 24).reshape(days, 24) + int((start - self.day) // ONE_DAY) * 24
        share = np.clip((hour + 0.5) / (self.days * 24), 0.0, 1.0)
        return (1 - share) * self.from_c + share * self.plan._hours(start, days)

    def _humidity(self, start: np.datetime64, days: int) -> np.ndarray:
        known_c = self.plan._hours(start, days)
        return moved_humidity_pct(
            self.plan._humidity(start, days), known_c, self._hours(start, days)
        )


@dataclass(frozen=True, eq=False, repr=False)
class Shifted(Changed):
    """A temperature that is warmer or cooler by so much."""

    by_c: float
    """How much warmer. [°C]"""

    def describe(self) -> str:
        side = "cooler" if self.by_c < 0 else "warmer"
        return f"{self.plan.describe()}; all of it {abs(self.by_c):g} °C {side}"

    def _hours(self, start: np.datetime64, days: int) -> np.ndarray:
        return self.plan._hours(start, days) + self.by_c

    def _humidity(self, start: np.datetime64, days: int) -> np.ndarray:
        at_sensor_c = self.plan._hours(start, days)
        return moved_humidity_pct(
            self.plan._humidity(start, days), at_sensor_c, at_sensor_c + self.by_c
        )


@dataclass(frozen=True, eq=False, repr=False)
class Rest(Changed):
    """A temperature with a rest."""

    start: np.datetime64
    stop: np.datetime64
    """First day after the rest."""
    during: Temperature | None
    """Temperature of the rest; None leaves it as planned."""

    def covers(self) -> Span:
        first, last = self.plan.covers()
        if self.during is None:
            return first, last
        start, end = pd.Timestamp(self.start), pd.Timestamp(self.stop - ONE_DAY)
        return first and min(first, start), last and max(last, end)

    @property
    def findings(self) -> tuple[str, ...]:
        return self.plan.findings + (self.during.findings if self.during is not None else ())

    def describe(self) -> str:
        at = f", {self.during.describe()}" if self.during is not None else ""
        return f"{self.plan.describe()}; rest from {self.start} until {self.stop}{at}"

    def _changes(self) -> tuple[np.datetime64, ...]:
        days = self._interrupted()._changes()
        return tuple(sorted({*days, self.start, self.stop}))

    def _interrupted(self) -> Temperature:
        """The temperature alone."""
        if self.during is None:
            return self.plan
        return Then(Then(self.plan, self.start, self.during), self.stop, self.plan)

    def _hours(self, start: np.datetime64, days: int) -> np.ndarray:
        return self._interrupted()._hours(start, days)

    def _humidity(self, start: np.datetime64, days: int) -> np.ndarray:
        return self._interrupted()._humidity(start, days)

    def _resting(self, start: np.datetime64, days: int) -> np.ndarray:
        day = start + np.arange(days)
        return self.plan._resting(start, days) | ((day >= self.start) & (day < self.stop))


@dataclass(frozen=True, eq=False, repr=False)
class Continued(Changed):
    """A temperature that goes on as usual after its end; rests planned for later stay."""

    day: np.datetime64
    """First day that is not known any more."""
    awake: Temperature
    """What stands for the days that are not known."""
    asleep: Temperature
    """The same for those of a rest."""

    def covers(self) -> Span:
        return self.plan.covers()[0], None

    def _ends(self) -> pd.Timestamp | None:
        return None

    def describe(self) -> str:
        return f"{self.plan.describe()}; then from {self.day} {self.awake.describe()}"

    def _changes(self) -> tuple[np.datetime64, ...]:
        return tuple(sorted({*self.plan._changes(), self.day}))

    def _hours(self, start: np.datetime64, days: int) -> np.ndarray:
        known = self.plan._hours(start, days)
        later = start + np.arange(days) >= self.day
        resting = self._resting(start, days)
        for which, usual in ((later & ~resting, self.awake), (later & resting, self.asleep)):
            known[which] = np.where(
                np.isnan(known[which]), usual._hours(start, days)[which], known[which]
            )
        return known


@dataclass(frozen=True, eq=False, repr=False)
class Until(Changed):
    """A temperature as it was known in the evening of a day; a rest that was on ends as planned."""

    last: np.datetime64
    """The day."""

    def covers(self) -> Span:
        first, end = self.plan.covers()
        last = pd.Timestamp(self.last)
        return first, last if end is None else min(end, last)

    def _ends(self) -> pd.Timestamp | None:
        return self.covers()[1]

    def describe(self) -> str:
        return f"{self.plan.describe()}, as known on {self.last}"

    def _changes(self) -> tuple[np.datetime64, ...]:
        return tuple(day for day in self.plan._changes() if day <= self.last)

    def _hours(self, start: np.datetime64, days: int) -> np.ndarray:
        return self._known(self.plan._hours(start, days), start)

    def _humidity(self, start: np.datetime64, days: int) -> np.ndarray:
        return self._known(self.plan._humidity(start, days), start)

    def _resting(self, start: np.datetime64, days: int) -> np.ndarray:
        resting = self.plan._resting(start, days)
        later = self.plan._resting(self.last, max(int((start - self.last) // ONE_DAY) + days, 0))
        still = np.logical_and.accumulate(later)  # of the days from the last on
        coming = start + np.arange(days) > self.last
        resting[coming] = still[len(still) - int(coming.sum()) :]
        return resting

    def _known(self, values: np.ndarray, start: np.datetime64) -> np.ndarray:
        values[start + np.arange(len(values)) > self.last] = np.nan
        return values


def as_plan(value: Temperature | float, what: str) -> Temperature:
    """Take a number for a steady temperature, and a temperature as it is."""
    if isinstance(value, Temperature):
        return value
    celsius = as_celsius(value, what)
    return Repeating(np.full(24, celsius), f"constant {celsius:.1f} °C")
