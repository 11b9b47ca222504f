"""Plans, and how temperatures are put together: one after the other, with a rest, warmer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from antgrowth._arguments import as_celsius
from antgrowth._plans import ONE_DAY, Span, Temperature
from antgrowth._words import counted
from antgrowth.humidity import moved_humidity_pct

__all__ = ["Ramp", "Repeating", "Rest", "Shifted", "Then", "as_plan"]


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
        return min(max(int((self.day - start) // ONE_DAY), 0), days)


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
        start, end = pd.Timestamp(self.start), pd.Timestamp(self.stop - ONE_DAY)
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
