"""The kinds of rate curve that a table can be fitted with: coordinates, bounds, starting points.

A fit moves in coordinates that know no forbidden place inside their bounds (logarithms of what must
be positive); the parameters of a curve follow from them.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np

from antgrowth._core.arrays import Floats
from antgrowth.io.rate_tables import RateTable
from antgrowth.model.development_rates import Briere, DegreeDay, RateCurve, SharpeSchoolfield

Bounds = tuple[list[float], list[float]]

_WARMEST_LIMIT_C = 60.0  # no insect develops above
_LOG_RATE = (-40.0, 10.0)  # wide enough for any unit rate
_LEAST_GAP_CAL = 1500.0  # see SharpeSchoolfield: below, its curve would have no optimum


class Kind(Protocol):
    """A kind of curve."""

    name: str
    parameters: tuple[tuple[str, str], ...]  # name and unit of each

    def to_parameters(self, coordinates: Floats) -> Floats:
        """From coordinates, shape (..., p), to parameters of the same shape."""

    def build(self, parameters: Floats) -> RateCurve:
        """Make the curve of parameters, shape (p,); ValueError if there is none."""

    def bounds(self, table: RateTable) -> Bounds:
        """Lowest and highest coordinates."""

    def starts(self, table: RateTable) -> list[list[float]]:
        """Some coordinates to start from."""


class _DegreeDayKind:
    name = "degree-day"
    parameters: tuple[tuple[str, str], ...] = (("lower_c", "°C"), ("degree_days", "°C day"))

    def to_parameters(self, coordinates: Floats) -> Floats:
        lower_c, log_sum = np.moveaxis(coordinates, -1, 0)
        return np.stack([lower_c, np.exp(log_sum)], axis=-1)

    def build(self, parameters: Floats) -> RateCurve:
        return DegreeDay(*parameters.tolist())

    def bounds(self, table: RateTable) -> Bounds:
        return [-40.0, -10.0], [_best_c(table) - 0.1, 40.0]

    def starts(self, table: RateTable) -> list[list[float]]:
        lower_c, degree_days = _rising_line(table)
        return [[lower_c, float(np.log(degree_days))]]


class _BriereKind:
    name = "briere"
    parameters: tuple[tuple[str, str], ...] = (
        ("scale", "1/(day °C^2.5)"),
        ("lower_c", "°C"),
        ("upper_c", "°C"),
    )

    def to_parameters(self, coordinates: Floats) -> Floats:
        log_scale, lower_c, upper_c = np.moveaxis(coordinates, -1, 0)
        return np.stack([np.exp(log_scale), lower_c, upper_c], axis=-1)

    def build(self, parameters: Floats) -> RateCurve:
        return Briere(*parameters.tolist())

    def bounds(self, table: RateTable) -> Bounds:
        best_c = _best_c(table)
        lowest = [_LOG_RATE[0], 0.0, best_c + 0.01]
        return lowest, [_LOG_RATE[1], best_c - 0.1, _WARMEST_LIMIT_C]

    def starts(self, table: RateTable) -> list[list[float]]:
        best_c, best = _best_c(table), table.rate_per_day.max()
        lower_c = float(np.clip(_rising_line(table)[0], 0.5, best_c - 1))
        found = []
        for above in (2.0, 6.0, 15.0):
            shape = Briere(1.0, lower_c, best_c + above)
            found.append([float(np.log(best / shape(best_c))), lower_c, best_c + above])
        return found


class _SharpeSchoolfieldKind:
    name = "sharpe-schoolfield"
    parameters: tuple[tuple[str, str], ...] = (
        ("rate_at_25", "1/day"),
        ("activation_cal", "cal/mol"),
        ("half_c", "°C"),
        ("inactivation_cal", "cal/mol"),
    )

    def to_parameters(self, coordinates: Floats) -> Floats:
        log_rate, log_activation, half_c, log_gap = np.moveaxis(coordinates, -1, 0)
        activation = np.exp(log_activation)
        inactivation = activation + _LEAST_GAP_CAL + np.exp(log_gap)
        return np.stack([np.exp(log_rate), activation, half_c, inactivation], axis=-1)

    def build(self, parameters: Floats) -> RateCurve:
        return SharpeSchoolfield(*parameters.tolist())

    def bounds(self, table: RateTable) -> Bounds:
        lowest = [_LOG_RATE[0], np.log(1e3), float(table.temperature_c.min()), np.log(1e3)]
        return lowest, [_LOG_RATE[1], np.log(1e5), _WARMEST_LIMIT_C, np.log(1e6)]

    def starts(self, table: RateTable) -> list[list[float]]:
        best_c, best = _best_c(table), table.rate_per_day.max()
        found = []
        for activation, gap, above in ((14e3, 60e3, 3.0), (20e3, 150e3, 1.0), (10e3, 30e3, 8.0)):
            half_c = best_c + above
            shape = SharpeSchoolfield(1.0, activation, half_c, activation + _LEAST_GAP_CAL + gap)
            log_rate = float(np.log(best / shape(best_c)))
            found.append([log_rate, float(np.log(activation)), half_c, float(np.log(gap))])
        return found


KINDS: tuple[Kind, ...] = (_DegreeDayKind(), _BriereKind(), _SharpeSchoolfieldKind())
"""All kinds, from the fewest parameters to the most."""


def _best_c(table: RateTable) -> float:
    """Temperature of the fastest rate [°C]."""
    return float(table.temperature_c[np.argmax(table.rate_per_day)])


def _rising_line(table: RateTable) -> tuple[float, float]:
    """Threshold [°C] and sum [°C day] of a straight line through the rates up to the fastest."""
    t, rate = table.temperature_c, table.rate_per_day
    kept = (t <= _best_c(table)) & (rate > 0)
    slope = 0.0
    if np.unique(t[kept]).size > 1:
        slope = float(np.polyfit(t[kept], rate[kept], 1)[0])
    slope = max(slope, 0.01 * rate.max())  # a table that only falls still gets a start
    return float(t[kept].mean() - rate[kept].mean() / slope), 1 / slope
