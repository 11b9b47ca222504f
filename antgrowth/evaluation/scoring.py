"""Scores of forecasts whose truth has become known: how near, how honest.

A forecast is an ensemble: a number of equally likely members. Everything here is numpy in, numpy
out. NaN members stand for "no answer" and give NaN; members that never arrive are infinite, and
have to be put at a horizon before they can be scored (`stand_at_horizon`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from antgrowth._core.arrays import Floats
from antgrowth._core.text import counted
from antgrowth.errors import AntgrowthError


def crps(ensemble: ArrayLike, truth: ArrayLike, axis: int = -1, fair: bool = True) -> Floats:
    """Continuous ranked probability score of ensembles; 0 is perfect, in the unit of the truth.

    Parameters
    ----------
    ensemble : array
        Members along `axis`.
    truth : array or float
        What came, of the shape of `ensemble` without `axis`, or broadcast to it.
    axis : int
        Where the members are.
    fair : bool
        Score the distribution that the members are drawn from, so that the expected score does not
        depend on their number. If not: score the members themselves as the whole forecast.

    Returns
    -------
    array, shape of `ensemble` without `axis`
        NaN where a member or the truth is NaN. A fair score can be a little below 0.

    Raises
    ------
    AntgrowthError
        If there are no members, or only one for a fair score, or if a number is infinite.

    Notes
    -----
    ``mean |x_i - y| - 1/2 mean |x_i - x_j|``, where the second mean is over all pairs, and for the
    fair score over pairs of two different members. The pairs are summed from the sorted members
    ``x_(1) <= ... <= x_(n)``: ``sum |x_i - x_j| over i < j = sum (2 i - n - 1) x_(i)``.

    References
    ----------
    Gneiting T, Raftery AE (2007) Strictly proper scoring rules, prediction, and estimation. Journal
    of the American Statistical Association 102:359-378. doi:10.1198/016214506000001437 (from
    memory).

    Ferro CAT (2014) Fair scores for ensemble forecasts. Quarterly Journal of the Royal
    Meteorological Society 140:1917-1923. doi:10.1002/qj.2270 (from memory).

    Examples
    --------
    >>> float(crps([0, 1, 3], truth=1, fair=False).round(3))
    0.333
    >>> crps([[0, 10], [2, 2]], truth=[4, 5])
    array([0., 3.])
    """
    members = np.moveaxis(np.asarray(ensemble, dtype=float), axis, -1)
    came = np.asarray(truth, dtype=float)
    number, needed = members.shape[-1], 2 if fair else 1
    if number < needed:
        raise AntgrowthError(
            f"crps: {counted(number, 'member')}. {'A fair' if fair else 'A'} score needs at least "
            f"{needed}; draw more."
        )
    if np.isinf(members).any() or np.isinf(came).any():
        raise AntgrowthError(
            "crps: an infinite number. Put members that never arrive at a horizon first, with "
            "stand_at_horizon, and the truth as well."
        )
    miss = np.abs(members - came[..., None]).mean(axis=-1)
    weight = 2.0 * np.arange(1, number + 1) - number - 1
    apart = np.sort(members, axis=-1) @ weight / (number * (number - fair))
    score: Floats = miss - apart
    return score


def stand_at_horizon(values: ArrayLike, horizon: float) -> Floats:
    """Put all that comes after a horizon, or never, at the horizon.

    Parameters
    ----------
    values : array
        Arrivals; infinite for never. NaN, for no answer, is kept.
    horizon : float
        As far as anyone looked, in the unit of the values.

    Notes
    -----
    Apply it to members and truth alike. Their CRPS is then the integral of the squared difference
    of the distributions up to the horizon: still a proper score, but blind to how late is late.

    Examples
    --------
    >>> stand_at_horizon([12, 300, np.inf], horizon=180)
    array([ 12., 180., 180.])
    """
    standing: Floats = np.minimum(np.asarray(values, dtype=float), horizon)
    return standing


def interval_score(low: ArrayLike, high: ArrayLike, truth: ArrayLike, level: float) -> Floats:
    """Score of central intervals: their width, and a fine for each truth outside; less is better.

    Parameters
    ----------
    low, high : array
        Ends of the intervals.
    truth : array
        What came.
    level : float
        Probability that the intervals claim, between 0 and 1.

    Returns
    -------
    array
        In the unit of the truth; NaN where an end is.

    Raises
    ------
    AntgrowthError
        If `level` is no probability, or the ends of an interval are swapped.

    Notes
    -----
    ``(high - low) + 2 / (1 - level) * distance``, with the distance from the truth to the interval.

    References
    ----------
    Gneiting T, Raftery AE (2007), section 6.2; see `crps` (from memory).

    Examples
    --------
    >>> interval_score(low=2, high=6, truth=[4, 8], level=0.9)
    array([ 4., 44.])
    """
    if not 0 < level < 1:
        raise AntgrowthError(f"interval_score: level = {level!r}. Give a probability, such as 0.9.")
    first, last, came = (np.asarray(value, dtype=float) for value in (low, high, truth))
    if (first > last).any():
        raise AntgrowthError("interval_score: a low end above its high end. Swap them.")
    distance = np.maximum(first - came, 0.0) + np.maximum(came - last, 0.0)
    score: Floats = last - first + 2.0 / (1.0 - level) * distance
    return score


def coverage(low: ArrayLike, high: ArrayLike, truth: ArrayLike) -> float:
    """Share of closed intervals that hold their truth.

    Parameters
    ----------
    low, high : array
        Ends of the intervals; NaN, for no answer, holds nothing.
    truth : array
        What came.

    Returns
    -------
    float
        From 0 to 1; NaN without any interval.

    Raises
    ------
    AntgrowthError
        If a truth is NaN: a case without a truth is no case.

    Notes
    -----
    Of whole numbers closed intervals hold more than they claim, because a truth may lie on their
    end. `randomised_pit` has no such flaw.

    Examples
    --------
    >>> coverage(low=[0, 2, np.nan], high=[5, 3, np.nan], truth=[5, 4, 1])
    0.3333333333333333
    """
    came = np.asarray(truth, dtype=float)
    if np.isnan(came).any():
        raise AntgrowthError("coverage: a truth is NaN. Leave out cases whose truth is not known.")
    held = (np.asarray(low) <= came) & (came <= np.asarray(high))
    return float(held.mean()) if held.size else float("nan")


def randomised_pit(ensemble: ArrayLike, truth: ArrayLike, rng: np.random.Generator) -> Floats:
    """Rank of each truth among its members, from 0 to 1, with ties split at random.

    Parameters
    ----------
    ensemble : array, shape (..., members)
        Infinite members are fine: only order counts.
    truth : array, shape (...)
        What came.
    rng : numpy.random.Generator

    Returns
    -------
    array, shape (...)
        Uniform between 0 and 1 if the truth is one more draw from the same distribution, also for
        whole numbers. NaN where a member or the truth is.

    Examples
    --------
    >>> rank = randomised_pit([1, 2, 3, 9], truth=5, rng=np.random.default_rng(1))
    >>> bool(3 / 5 < rank < 4 / 5)
    True
    """
    members, came = np.asarray(ensemble, dtype=float), np.asarray(truth, dtype=float)[..., None]
    below, ties = (members < came).sum(axis=-1), (members == came).sum(axis=-1)
    rank = (below + rng.random(below.shape) * (ties + 1)) / (members.shape[-1] + 1)
    return np.where(np.isnan(members).any(axis=-1) | np.isnan(came[..., 0]), np.nan, rank)
