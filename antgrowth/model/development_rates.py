"""Development-rate curves: temperature to the share of a stage completed per day.

A curve is a small frozen object that can be called with temperatures. Rates are averaged over the
day's temperatures, never taken at the day's mean: a curve that bends makes the two differ
(`mean_daily_rate`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from antgrowth._core.arrays import Floats

_GAS_CAL = 1.987  # gas constant as Schoolfield and others (1981) write it [cal/(mol K)]
_ZERO_C = 273.15  # [K]
_REFERENCE_K = 25 + _ZERO_C


class RateCurve(Protocol):
    """What every rate curve offers; see `Briere`, `DegreeDay` and `SharpeSchoolfield`."""

    @property
    def lower_c(self) -> float:
        """Temperature at and below which nothing develops; minus infinite if none [°C]."""

    @property
    def upper_c(self) -> float:
        """Temperature at and above which nothing develops; infinite if the curve has none [°C]."""

    @property
    def optimum_c(self) -> float:
        """Temperature of fastest development; infinite if the curve has none [°C]."""

    def __call__(self, temperature_c: ArrayLike) -> Floats:
        """Share of the stage completed per day [1/day]."""


@dataclass(frozen=True)
class DegreeDay:
    """Development in proportion to the warmth above a lower threshold.

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

    lower_c: float  # lower threshold [°C]
    degree_days: float  # warmth above the threshold that completes the stage [°C day]

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
        """Infinite: the line has no upper limit [°C]."""
        return np.inf

    @property
    def optimum_c(self) -> float:
        """Infinite: the line has no optimum [°C]."""
        return np.inf

    def __call__(self, temperature_c: ArrayLike) -> Floats:
        """Share of the stage completed per day, same shape as `temperature_c` [1/day]."""
        warmth = np.asarray(temperature_c, dtype=float) - self.lower_c
        return np.maximum(warmth, 0.0) / self.degree_days


@dataclass(frozen=True)
class Briere:
    """The rate curve of Briere and others (1999), with an optimum and an upper limit.

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

    scale: float  # the paper's ``a`` [1/(day °C^2.5)]
    lower_c: float  # lower_c, upper_c: temperatures at which development starts and stops [°C]
    upper_c: float

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
        """Temperature of fastest development [°C]."""
        low, high = self.lower_c, self.upper_c
        root = np.sqrt(16 * high**2 + 9 * low**2 - 16 * low * high)
        return float((4 * high + 3 * low + root) / 10)

    def __call__(self, temperature_c: ArrayLike) -> Floats:
        """Share of the stage completed per day, same shape as `temperature_c` [1/day]."""
        t = np.asarray(temperature_c, dtype=float)
        above = np.maximum(t - self.lower_c, 0.0)
        below = np.maximum(self.upper_c - t, 0.0)
        found: Floats = self.scale * np.maximum(t, 0.0) * above * np.sqrt(below)
        return found


@dataclass(frozen=True)
class SharpeSchoolfield:
    """The rate curve of an enzyme that heat inactivates, after Schoolfield and others (1981).

    Notes
    -----
    ``r(T) = rate_at_25 (T / 298.15) exp[HA/R (1/298.15 - 1/T)] / (1 + exp[HH/R (1/TH - 1/T)])``
    with T in K and R = 1.987 cal/(mol K): the paper's form without inactivation by cold. It has no
    thresholds: the rate is small in cold and in heat, but never none. At `half_c` it is half of
    what the numerator gives.

    References
    ----------
    Schoolfield RM, Sharpe PJH, Magnuson CE (1981) Non-linear regression of biological
    temperature-dependent rate models based on absolute reaction-rate theory. Journal of
    Theoretical Biology 88:719-731, doi:10.1016/0022-5193(81)90246-0 (from memory). After Sharpe
    PJH, DeMichele DW (1977) Reaction kinetics of poikilotherm development. Journal of Theoretical
    Biology 64:649-670 (from memory).

    Examples
    --------
    >>> curve = SharpeSchoolfield(0.04, 14_000, 35.0, 80_000)
    >>> round(float(curve(25.0)), 8), round(curve.optimum_c, 3)
    (0.03950627, 31.505)
    """

    rate_at_25: float  # rate at 25 °C if no enzyme were inactive [1/day]
    # Enthalpy of activation, the paper's ``HA``: how steeply the rate rises [cal/mol]
    activation_cal: float
    half_c: float  # temperature at which half of the enzyme is inactive, its ``TH`` [°C]
    # Enthalpy of inactivation by heat, its ``HH``: how steeply the rate falls [cal/mol]
    inactivation_cal: float

    def __post_init__(self) -> None:
        rises = self.rate_at_25 > 0 and self.activation_cal > 0 and self.half_c > -_ZERO_C
        # Only then is there an optimum: the loss to heat must outweigh the gain.
        falls = self.inactivation_cal > self.activation_cal + 2 * _GAS_CAL * (self.half_c + _ZERO_C)
        if not (rises and falls):
            raise ValueError(
                f"SharpeSchoolfield: rate_at_25 = {self.rate_at_25}, activation_cal = "
                f"{self.activation_cal}, half_c = {self.half_c}, inactivation_cal = "
                f"{self.inactivation_cal}. Rate and activation must be above 0, and inactivation "
                "[cal/mol] above the activation by more than 2 R TH, about 1200 cal/mol."
            )

    @property
    def lower_c(self) -> float:
        """Minus infinite: the curve has no lower threshold [°C]."""
        return -np.inf

    @property
    def upper_c(self) -> float:
        """Infinite: the curve has no upper threshold [°C]."""
        return np.inf

    @property
    def optimum_c(self) -> float:
        """Temperature of fastest development [°C]."""
        # Where the derivative of log r is none, E = exp[HH/R (1/TH - 1/T)] has a closed form in T,
        # in which T weighs little: a few rounds settle it.
        half_k = self.half_c + _ZERO_C
        optimum_k, before = half_k, np.inf
        while abs(optimum_k - before) > 1e-10:
            before = optimum_k
            gain = self.activation_cal + _GAS_CAL * before
            log_inactive = np.log(gain / (self.inactivation_cal - gain))
            optimum_k = 1 / (1 / half_k - _GAS_CAL / self.inactivation_cal * log_inactive)
        return float(optimum_k - _ZERO_C)

    def __call__(self, temperature_c: ArrayLike) -> Floats:
        """Share of the stage completed per day, same shape as `temperature_c` [1/day]."""
        t = np.asarray(temperature_c, dtype=float) + _ZERO_C
        rise = self.activation_cal / _GAS_CAL * (1 / _REFERENCE_K - 1 / t)
        inactive = self.inactivation_cal / _GAS_CAL * (1 / (self.half_c + _ZERO_C) - 1 / t)
        active = special.expit(-inactive)  # 1 / (1 + exp), which does not overflow
        found: Floats = self.rate_at_25 * t / _REFERENCE_K * np.exp(rise) * active
        return found


def mean_daily_rate(curve: RateCurve, hours_c: ArrayLike) -> Floats:
    """Average the rate over each day's temperatures: share of the stage completed. [1/day]

    Hours [°C], evenly spaced within each day, have shape (..., days, hours); rates (..., days). A
    swing around a mean hastens development where the curve bends upwards (cool) and delays it where
    it bends downwards (warm).

    Examples
    --------
    >>> line = DegreeDay(10, 100)
    >>> float(mean_daily_rate(line, [[0.0, 20.0]])[0])  # the mean of 10 °C alone would give 0
    0.05
    """
    found: Floats = curve(hours_c).mean(axis=-1)
    return found
