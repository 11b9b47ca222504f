"""Degree-days: how much warmth above a threshold a day brings.

From readings by the hour where there are any; from the day's lowest and highest temperature, as
weather services print them, by a single sine.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from antgrowth._core.arrays import Floats
from antgrowth.errors import TemperatureError


def single_sine(
    low_c: ArrayLike, high_c: ArrayLike, lower_c: float, upper_c: float | None = None
) -> Floats:
    """Degree-days of days whose temperature swings as a sine between two extremes.

    Parameters
    ----------
    low_c, high_c : float or array
        Lowest and highest temperature of each day. [°C]
    lower_c : float
        Threshold of development. [°C]
    upper_c : float, optional
        Threshold above which more warmth brings no more (horizontal cut-off). [°C]

    Returns
    -------
    degree_days : array of the common shape
        NaN where a temperature is NaN. [°C day]

    Raises
    ------
    TemperatureError
        If the highest temperature of a day is below its lowest, or the thresholds are not in order.

    Notes
    -----
    With ``M`` the middle and ``W`` half the range of the day, and ``θ = asin((lower_c - M) / W)``:
    ``[(M - lower_c)(π/2 - θ) + W cos θ] / π`` where the sine crosses the threshold, ``M - lower_c``
    on days all above it, 0 on days all below. With an upper threshold, the degree-days above that
    are taken off. Any unit will do if all temperatures share it.

    References
    ----------
    Baskerville GL, Emin P (1969) Rapid estimation of heat accumulation from maximum and minimum
    temperatures. Ecology 50:514-517, doi:10.2307/1933912 (formula and DOI from memory; checked
    against quadrature).

    Examples
    --------
    >>> round(float(single_sine(5.0, 30.0, lower_c=10.0)), 6)
    8.469345
    """
    _check_thresholds(lower_c, upper_c)
    low, high = np.broadcast_arrays(np.asarray(low_c, dtype=float), np.asarray(high_c, dtype=float))
    if (high < low).any():
        bad = np.flatnonzero((high < low).ravel())
        raise TemperatureError(
            f"single_sine: the highest temperature is below the lowest in {bad.size} of {low.size} "
            f"days, first in day {bad[0]} ({high.flat[bad[0]]:g} below {low.flat[bad[0]]:g}). "
            "Swap the two columns, or correct these days."
        )
    above = _sine_above(low, high, lower_c)
    return above if upper_c is None else above - _sine_above(low, high, upper_c)


def from_hours(hours_c: ArrayLike, lower_c: float, upper_c: float | None = None) -> Floats:
    """Degree-days from temperatures by the hour.

    Parameters
    ----------
    hours_c : array, shape (..., days, hours)
        Temperatures within each day, evenly spaced, such as `Temperature.hours`. [°C]
    lower_c : float
        Threshold of development. [°C]
    upper_c : float, optional
        Threshold above which more warmth brings no more (horizontal cut-off). [°C]

    Returns
    -------
    degree_days : array, shape (..., days)
        [°C day]

    Raises
    ------
    TemperatureError
        If the thresholds are not in order.

    Examples
    --------
    >>> import antgrowth as ag
    >>> from_hours(ag.day_night(day=27, night=21, day_hours=12).hours("2026-07-04", 2), 22.0)
    array([2.5, 2.5])
    """
    _check_thresholds(lower_c, upper_c)
    hours = np.asarray(hours_c, dtype=float)
    most = np.inf if upper_c is None else upper_c - lower_c
    degrees: Floats = np.clip(hours - lower_c, 0.0, most).mean(axis=-1)
    return degrees


def _check_thresholds(lower_c: float, upper_c: float | None) -> None:
    if upper_c is not None and not upper_c > lower_c:
        raise TemperatureError(
            f"degree-days: upper_c = {upper_c} is not above lower_c = {lower_c} [°C]. Swap them, "
            "or leave the upper threshold out."
        )


def _sine_above(low: Floats, high: Floats, threshold_c: float) -> Floats:
    """Mean excess of a sine over a threshold."""
    middle, swing = (high + low) / 2, (high - low) / 2
    crosses = (low < threshold_c) & (threshold_c < high)
    theta = np.arcsin(np.where(crosses, threshold_c - middle, 0.0) / np.where(crosses, swing, 1.0))
    crossing = ((middle - threshold_c) * (np.pi / 2 - theta) + swing * np.cos(theta)) / np.pi
    return np.where(crosses, crossing, np.maximum(middle - threshold_c, 0.0))
