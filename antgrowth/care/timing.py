"""When something happens in the colonies of a forecast: a date with its chances."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.arrays import Flags
from antgrowth._core.stats import first_passage
from antgrowth.forecast.arrival import Arrival
from antgrowth.forecast.paths import Forecast

NEVER: pd.Timestamp = pd.NaT  # type: ignore[assignment]
"""A date that is none; typed as the dates among which it stands."""

Dates = NDArray[np.datetime64]


@dataclass(frozen=True, eq=False)
class FirstPassage:
    """The day of an event in each colony of a forecast."""

    dates: Dates = field(repr=False)  # NaT where the horizon ends first, shape (draws,)
    start: pd.Timestamp  # date of the last note
    horizon: int  # days looked ahead [day]
    rest: pd.Timestamp | None = None  # first day of the rest ahead; None if there is none

    @property
    def median(self) -> pd.Timestamp:
        """Most central date; NaT when the horizon ends first in half of the colonies."""
        return self._arrival.median

    @property
    def now(self) -> float:
        """Share of colonies in which it has happened by the last note."""
        return self.chance_by(self.start)

    @property
    def chance_never(self) -> float:
        """Chance that the horizon ends first."""
        return self._arrival.chance_never

    def interval(self, level: float = 0.9) -> tuple[pd.Timestamp, pd.Timestamp]:
        """Central interval of dates; NaT at an end beyond the horizon."""
        return self._arrival.interval(level)

    def windows(self, level: float) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
        """The interval, or those before and after a pause, up to the horizon."""
        return self._arrival.windows(level)

    @property
    def is_split(self) -> bool:
        """Whether a pause such as a winter splits the dates."""
        return self._arrival.split() is not None

    def when(self, level: float = 0.9, short: bool = False) -> str:
        """The dates in words; see `Arrival.when`."""
        return self._arrival.when(level, short)

    def when_in_full(self, level: float = 0.9) -> str:
        """The same, with the chance of the window and the most central day."""
        return self._arrival.when_in_full(level)

    def chance_by(self, date: str | pd.Timestamp) -> float:
        """Chance that it happens on or before a date."""
        return self._arrival.chance_by(date)

    def earlier(self, days: int) -> FirstPassage:
        """So many days before, but not before the last note."""
        moved = np.maximum(self.dates - days, np.datetime64(self.start, "D"))
        return FirstPassage(
            np.where(np.isnat(self.dates), self.dates, moved), self.start, self.horizon, self.rest
        )

    def fixed(self, date: pd.Timestamp) -> FirstPassage:
        """One date for all colonies, for an event that comes by the calendar."""
        inside = date <= self.start + pd.Timedelta(days=self.horizon)
        day = np.datetime64(date, "D") if inside else np.datetime64("NaT")
        return FirstPassage(np.full(len(self.dates), day), self.start, self.horizon)

    @property
    def _arrival(self) -> Arrival:
        # Its arithmetic of dates holds for any first day; the number of workers plays no part.
        return Arrival(1, self.dates, self.start, self.horizon, rest=self.rest)


def first_passage_of(forecast: Forecast, there: Flags) -> FirstPassage:
    """First day on which something holds on the dates of a forecast: shape (draws, days + 1)."""
    dates = np.full(len(there), np.datetime64("NaT"), dtype="datetime64[D]")
    days = first_passage(there)
    come = np.isfinite(days)
    dates[come] = np.datetime64(forecast.start, "D") + days[come].astype(int)
    return FirstPassage(dates, forecast.start, forecast.days, forecast.next_rest)


def earliest(timings: list[FirstPassage]) -> FirstPassage:
    """The first of several events in each colony."""
    dates = timings[0].dates
    for timing in timings[1:]:
        dates = np.fmin(dates, timing.dates)  # NaT gives way to a date
    return replace(timings[0], dates=dates)
