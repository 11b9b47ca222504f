"""What temperatures are made of: sources, each of which tells the days it knows.

A new kind is a frozen dataclass that says which days it covers, gives those days (`known_hours`)
and describes itself; all else follows. Nothing is assumed about days that are not covered: asking
for them is an error that says how to fill them. `Temperature` is the face that keepers see.
"""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np
import pandas as pd

from antgrowth._core.arrays import Flags, Floats
from antgrowth.climate.gaps import uncovered
from antgrowth.errors import TemperatureGapError

Span = tuple[pd.Timestamp | None, pd.Timestamp | None]

ONE_DAY = np.timedelta64(1, "D")


class Source(ABC):
    """Hourly temperatures of some days, and whether the colony rests on them."""

    @abstractmethod
    def covers(self) -> Span:
        """Midnight of the first and last day with a temperature; None where there is no end.

        Days between them may still fall into a gap.
        """

    @abstractmethod
    def describe(self) -> str:
        """Say in one plain sentence what the temperature is."""

    @abstractmethod
    def known_hours(self, start: np.datetime64, days: int) -> Floats:
        """Hourly means as far as they are known, shape (days, 24), a new array; else NaN. [°C]"""

    def hours(self, start: np.datetime64, days: int) -> Floats:
        """Hourly means, shape (days, 24), all of which have to be known. [°C]"""
        hours_c = self.known_hours(start, days)
        missing = np.isnan(hours_c)
        if missing.any():
            raise TemperatureGapError(uncovered(self.covers(), start, missing))
        return hours_c

    def resting(self, start: np.datetime64, days: int) -> Flags:
        """Tell for each day whether the colony rests."""
        return np.zeros(days, bool)

    def awake(self, start: np.datetime64, days: int) -> Flags:
        """Tell for each day whether it has a temperature and is of no rest."""
        known: Flags = np.all(~np.isnan(self.known_hours(start, days)), axis=1)
        return known & ~self.resting(start, days)

    def humidity(self, start: np.datetime64, days: int) -> Floats:
        """Relative humidity by the hour, shape (days, 24); NaN where there is none. [%]"""
        return np.full((days, 24), np.nan)

    @property
    def cycle_days(self) -> int:
        """After how many days it repeats itself between its changes: 1, or 365 with seasons."""
        return 1

    def changes(self) -> tuple[np.datetime64, ...]:
        """Dates on which another temperature or a rest begins or ends, in order."""
        return ()

    def ends(self) -> pd.Timestamp | None:
        """Last day with a temperature, rests that are planned for later left aside."""
        return self.covers()[1]

    @property
    def findings(self) -> tuple[str, ...]:
        """What reading a record had to decide, one sentence each; nothing for a plan."""
        return ()


def span_of(values_c: Floats, mean_c: float | None = None) -> str:
    """Mean and range of temperatures in words."""
    mean_c = values_c.mean() if mean_c is None else mean_c
    return f"mean {mean_c:.1f} °C, {values_c.min():.1f} to {values_c.max():.1f}"
