"""A year of temperatures from the mean of each month."""

from __future__ import annotations

import calendar
from dataclasses import dataclass

import numpy as np

from antgrowth._core.arrays import Floats
from antgrowth.climate.source import Source, Span

MONTHS = 12

_WARMEST_HOUR = 15.0


@dataclass(frozen=True, eq=False, repr=False)
class Seasons(Source):
    """Every year alike: straight lines between mid-months, and a wave within each day.

    The lines keep the mean of each month. In line with its neighbours a mid-month lies at the mean
    of its month; at a summer's peak it must lie above, since the lines fall away to both sides.
    """

    means_c: Floats  # mean of each month, January first, shape (12,) [°C]
    daily_range_c: float  # from the coolest to the warmest moment of a day [°C]

    def covers(self) -> Span:
        return None, None

    def describe(self) -> str:
        cold, warm = int(np.argmin(self.means_c)), int(np.argmax(self.means_c))
        daily = f", {self.daily_range_c:.1f} °C from night to day" if self.daily_range_c else ""
        return (
            f"monthly means from {self.means_c[cold]:.1f} °C ({calendar.month_name[cold + 1]}) to "
            f"{self.means_c[warm]:.1f} °C ({calendar.month_name[warm + 1]}){daily}"
        )

    @property
    def cycle_days(self) -> int:
        return 365

    def known_hours(self, start: np.datetime64, days: int) -> Floats:
        hour = np.arange(24) + 0.5
        angle = 2 * np.pi / 24
        # The mean of a wave over an hour swings a little less than the wave itself.
        wave = np.cos((hour - _WARMEST_HOUR) * angle) * np.sin(angle / 2) / (angle / 2)
        hours_c: Floats = self._day_means(start, days)[:, None] + self.daily_range_c / 2 * wave
        return hours_c

    def _day_means(self, start: np.datetime64, days: int) -> Floats:
        day = start + np.arange(days)
        month = day.astype("datetime64[M]")
        length = ((month + 1).astype("datetime64[D]") - month.astype("datetime64[D]")).astype(int)
        place = ((day - month.astype("datetime64[D]")).astype(int) + 0.5) / length
        month_of_year = month.astype(int) % MONTHS
        towards = np.where(place < 0.5, month_of_year - 1, month_of_year + 1) % MONTHS
        share = np.abs(place - 0.5)
        middles = self._middles_c()
        means_c: Floats = (1 - share) * middles[month_of_year] + share * middles[towards]
        return means_c

    def _middles_c(self) -> Floats:
        """Temperatures of mid-months with which each month has its mean."""
        # Along two straight lines, a month is 3/4 its own middle and 1/8 that of each neighbour.
        share = np.eye(MONTHS) * 0.75
        share += (np.roll(np.eye(MONTHS), 1, axis=0) + np.roll(np.eye(MONTHS), -1, axis=0)) / 8
        return np.linalg.solve(share, self.means_c).astype(float)
