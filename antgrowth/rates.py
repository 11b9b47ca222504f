"""Development-rate curves: temperature to the share of a stage completed per day.

A curve is a small frozen object that can be called with temperatures. Rates are averaged over the
day's temperatures, never taken at the day's mean: a curve that bends makes the two differ
(`mean_daily_rate`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Briere", "DegreeDay", "RateCurve", "mean_daily_rate"]

Floats = NDArray[np.float64]


class RateCurve(Protocol):
    """What every rate curve offers; see `Briere` and `DegreeDay`."""

    lower_c: float
    """Temperature at and below which nothing develops. [°C]"""

    @property
    def upper_c(self) -> float:
        """Temperature at and above which nothing develops; infinite if the curve has none. [°C]"""

    @property
    def optimum_c(self) -> float:
        """Temperature of fastest development; infinite if the curve has none. [°C]"""

    def __call__(self, temperature_c: ArrayLike) -> Floats:
        """Share of the stage completed per day. [1/day]"""


@dataclass(frozen=True)
class DegreeDay:
    """Development in proportion to the warmth above a lower threshold.

    Parameters
    ----------
    lower_c : float
        Lower threshold. [°C]
    degree_days : float
        Warmth above the threshold that completes the stage. [°C day]

    Notes
    -----
    ``r(T) = max(0, T - lower_c) / degree_days``. Valid between the threshold and the temperatures
    at which development slows; the line itself knows no upper limit, so the heat limits of a
    species profile must guard it.

    References
    ----------
    Hartley S, Lester PJ (2003) Temperature-dependent development of the Argentine ant, Linepithema
    humile: a degree-day model. New Zealand Entomologist 26:91-100,
    doi:10.1080/00779962.2003.9722113 (DOI from memory).

    Examples
    --------
    >>> round(float(1 / DegreeDay(15.9, 445)(25.0)), 1)
    48.9
    """

    lower_c: float
    degree_days: float

    def __post_init__(self) -> None:
        if not self.degree_days > 0:
            raise ValueError(
                f"DegreeDay: degree_days = {self.degree_days}. It must be above 0 [°C day]."
            )

    @classmethod
    def through(cls, days: float, at_c: float, lower_c: float) -> DegreeDay:
        """Build the line that completes the stage in `days` at a constant `at_c`."""
        if not (at_c > lower_c and days > 0):
            raise ValueError(
                f"DegreeDay.through: days = {days} at {at_c} °C above a threshold of {lower_c} °C. "
                "The temperature must be above the threshold and days above 0."
            )
        return cls(lower_c, days * (at_c - lower_c))

    @property
    def upper_c(self) -> float:
        """Infinite: the line has no upper limit. [°C]"""
        return np.inf

    @property
    def optimum_c(self) -> float:
        """Infinite: the line has no optimum. [°C]"""
        return np.inf

    def __call__(self, temperature_c: ArrayLike) -> Floats:
        """Share of the stage completed per day, same shape as `temperature_c` [°C]. [1/day]"""
        warmth = np.asarray(temperature_c, dtype=float) - self.lower_c
        return np.maximum(warmth, 0.0) / self.degree_days


@dataclass(frozen=True)
class Briere:
    """The rate curve of Briere and others (1999), with an optimum and an upper limit.

    Parameters
    ----------
    scale : float
        The paper's ``a``. [1/(day °C^2.5)]
    lower_c, upper_c : float
        Temperatures at which development starts and stops. [°C]

    Notes
    -----
    ``r(T) = a T (T - T0) sqrt(TL - T)`` for ``T0 < T < TL``, else 0; T in °C. The optimum has a
    closed form: ``[4 TL + 3 T0 + sqrt(16 TL² + 9 T0² - 16 T0 TL)] / 10``.

    References
    ----------
    Briere JF, Pracros P, Le Roux AY, Pierre JS (1999) A novel rate model of temperature-dependent
    development for arthropods. Environmental Entomology 28:22-29 (equation and optimum from
    memory; the optimum is checked against numerical maximisation).

    Examples
    --------
    >>> round(Briere(1e-4, 10, 35).optimum_c, 6)
    29.206556
    """

    scale: float
    lower_c: float
    upper_c: float  # type: ignore[misc]  # a field here, a property of the protocol

    def __post_init__(self) -> None:
        if not (0 <= self.lower_c < self.upper_c and self.scale > 0):
            raise ValueError(
                f"Briere: scale = {self.scale}, lower_c = {self.lower_c}, upper_c = {self.upper_c}."
                " The scale must be above 0 and 0 <= lower_c < upper_c [°C]."
            )

    @classmethod
    def through(cls, days: float, at_c: float, lower_c: float, upper_c: float) -> Briere:
        """Build the curve that completes the stage in `days` at a constant `at_c`."""
        if not (lower_c < at_c < upper_c and days > 0):
            raise ValueError(
                f"Briere.through: days = {days} at {at_c} °C between {lower_c} and {upper_c} °C. "
                "The temperature must lie inside the limits and days above 0."
            )
        unit = cls(1.0, lower_c, upper_c)
        return cls(1.0 / (days * float(unit(at_c))), lower_c, upper_c)

    @property
    def optimum_c(self) -> float:
        """Temperature of fastest development. [°C]"""
        low, high = self.lower_c, self.upper_c
        root = np.sqrt(16 * high**2 + 9 * low**2 - 16 * low * high)
        return float((4 * high + 3 * low + root) / 10)

    def __call__(self, temperature_c: ArrayLike) -> Floats:
        """Share of the stage completed per day, same shape as `temperature_c` [°C]. [1/day]"""
        t = np.asarray(temperature_c, dtype=float)
        above = np.maximum(t - self.lower_c, 0.0)
        below = np.maximum(self.upper_c - t, 0.0)
        return self.scale * np.maximum(t, 0.0) * above * np.sqrt(below)


def mean_daily_rate(curve: RateCurve, hours_c: ArrayLike) -> Floats:
    """Average the rate over each day's temperatures.

    Parameters
    ----------
    curve : RateCurve
    hours_c : array, shape (..., days, hours)
        Temperatures within each day, evenly spaced. [°C]

    Returns
    -------
    array, shape (..., days)
        Share of the stage completed on each day. [1/day]

    Notes
    -----
    A swing around a mean hastens development where the curve bends upwards (cool) and delays it
    where it bends downwards (warm).

    Examples
    --------
    >>> line = DegreeDay(10, 100)
    >>> float(mean_daily_rate(line, [[0.0, 20.0]])[0])  # the mean of 10 °C alone would give 0
    0.05
    """
    return curve(hours_c).mean(axis=-1)
