"""Years of weather, made from monthly normals or from a record: how often a stay goes well."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.arrays import Floats
from antgrowth.climate.temperature import Temperature
from antgrowth.errors import TemperatureError

DAY_TO_DAY_C, PERSISTENCE, YEAR_TO_YEAR_C = 3.0, 0.7, 1.0
"""How far days stray from the usual, how much of that is left the next day, and how far whole
years stray (assumed). [°C, 1, °C]"""

YEAR = 365.25
FEWEST_DAYS = 360
"""A record has to see about a year, or it knows nothing of the other seasons. [day]"""


@dataclass(frozen=True, eq=False)
class Weather:
    """What the lowest and the highest temperature of a day usually are, and how they stray."""

    # low_c, high_c: usual lowest and highest hourly mean by day of the year [°C], shape (366,)
    low_c: Floats
    high_c: Floats
    low_sd_c: float  # low_sd_c, high_sd_c: how far days stray from them [°C]
    high_sd_c: float
    persistence: float  # correlation of one day's straying with the next one's
    basis: str  # where it comes from, in a sentence

    def years(
        self, start: pd.Timestamp, days: int, number: int, rng: np.random.Generator
    ) -> tuple[Floats, Floats]:
        """Lowest and highest temperatures of the days from a date on [°C], each (number, days)."""
        places = pd.date_range(start, periods=days).day_of_year.to_numpy() - 1
        stray = np.empty((number, days))
        stray[:, 0] = rng.standard_normal(number)
        fresh = np.sqrt(1.0 - self.persistence**2)
        for day in range(1, days):
            noise = rng.standard_normal(number)
            stray[:, day] = self.persistence * stray[:, day - 1] + fresh * noise
        year = YEAR_TO_YEAR_C * rng.standard_normal((number, 1))
        low = self.low_c[places] + self.low_sd_c * stray + year
        return low, self.high_c[places] + self.high_sd_c * stray + year


def weather_of(plan: Temperature) -> Weather:
    """Learn the weather from normals, or from a record of at least about a year.

    Of a plan without an end (`monthly_normals`), how days stray is assumed. Of a record, the usual
    course is a wave of a year and one of half a year, and straying is what is left; both are fitted
    to each day's lowest and highest hourly mean.
    """
    first, last = plan.covers()
    if first is None or last is None:
        hours_c = plan.hours("2027-01-01", 365)  # any year that is not a leap year
        low, high = (np.append(edge, edge[-1]) for edge in (hours_c.min(1), hours_c.max(1)))
        basis = (
            f"{plan.describe()}; days stray from it by {DAY_TO_DAY_C:g} °C (assumed), whole years "
            f"by {YEAR_TO_YEAR_C:g} °C (assumed)"
        )
        return Weather(low, high, DAY_TO_DAY_C, DAY_TO_DAY_C, PERSISTENCE, basis)
    dates = pd.date_range(first, last)
    hours_c = plan.known_hours(first, len(dates))
    known = ~np.isnan(hours_c).any(axis=1)
    if known.sum() < FEWEST_DAYS:
        raise TemperatureError(
            f"the weather record knows {known.sum()} days, {first:%Y-%m-%d} to {last:%Y-%m-%d}. "
            f"At least {FEWEST_DAYS} are needed, since every season has to be in it: add readings, "
            "or give monthly_normals."
        )
    places = dates.day_of_year.to_numpy()[known]
    lows, low_sd, low_keeps = _learned(hours_c[known].min(axis=1), places)
    highs, high_sd, high_keeps = _learned(hours_c[known].max(axis=1), places)
    basis = (
        f"{plan.describe()}; days stray from the usual by {low_sd:.1f} °C (lowest) and "
        f"{high_sd:.1f} °C (highest) in the record, whole years by {YEAR_TO_YEAR_C:g} °C (assumed)"
    )
    return Weather(lows, highs, low_sd, high_sd, (low_keeps + high_keeps) / 2, basis)


def _learned(edge_c: Floats, places: NDArray[np.intp]) -> tuple[Floats, float, float]:
    """Usual course, spread around it, and its persistence."""
    waves = _waves(places)
    weights = np.linalg.lstsq(waves, edge_c, rcond=None)[0]
    left = edge_c - waves @ weights
    keeps = float(np.clip(np.corrcoef(left[:-1], left[1:])[0, 1], 0.0, 0.95))
    return _waves(np.arange(1, 367)) @ weights, float(left.std()), keeps


def _waves(places: NDArray[np.intp]) -> Floats:
    angle = 2 * np.pi * places / YEAR
    parts = [np.ones(len(places))]
    for times in (1, 2):
        parts += [np.sin(times * angle), np.cos(times * angle)]
    return np.stack(parts, axis=1)
