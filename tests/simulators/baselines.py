"""What a forecast has to beat, and the plain formulas that score both.

The scores are the slowest and shortest formulas there are, so that the package's fast ones can be
held against them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

HORIZON_DAYS = 365.0
"""Draws that arrive later than this after the last count, or never, stand here: scores stay
finite, and the baseline is not made to look worse than it is by a few endless draws. [day]"""


@dataclass(frozen=True, eq=False)
class Extrapolation:
    """When log-linear growth reaches a number of workers; NaN where it gives no answer."""

    day: float
    """Median arrival, on the scale of the days given. [day]"""
    low: float
    high: float
    draws: np.ndarray
    """Shape (n,); all NaN where there is no answer."""


def log_linear_arrival(
    day: np.ndarray,
    workers: np.ndarray,
    rng: np.random.Generator,
    threshold: float = 30,
    level: float = 0.9,
    draws: int = 500,
) -> Extrapolation:
    """Extrapolate a straight line through the logarithm of the workers counted.

    Counts of 0 have no logarithm and are left out. The interval is that of the regression with a
    flat prior: scaled inverse chi-square for the variance, normal coefficients, and the scatter
    of one more point about the line. No answer with fewer than three counts above 0, a slope that
    is not upward, or half of the draws not arriving in a year. Draws before the last count are
    put just after it: that one was still below the threshold.
    """
    day, workers = np.asarray(day, float), np.asarray(workers, float)
    above = workers > 0
    x, y = day[above], np.log(workers[above])
    none = Extrapolation(np.nan, np.nan, np.nan, np.full(draws, np.nan))
    if x.size < 3 or np.ptp(x) == 0:
        return none
    centre = x.mean()
    design = np.column_stack([np.ones(x.size), x - centre])
    coefficients, *_ = np.linalg.lstsq(design, y, rcond=None)
    if coefficients[1] <= 0:
        return none
    residual = y - design @ coefficients
    # Counts that lie exactly on a line would give a certainty that whole numbers do not have.
    square_sum = max(float(residual @ residual), 1e-4)
    variance = square_sum / rng.chisquare(x.size - 2, draws)
    scale = np.sqrt(variance)
    level_at_centre = coefficients[0] + scale / np.sqrt(x.size) * rng.standard_normal(draws)
    slope = coefficients[1] + scale / np.linalg.norm(x - centre) * rng.standard_normal(draws)
    target = np.log(threshold) + scale * rng.standard_normal(draws)
    last = day.max()
    with np.errstate(divide="ignore", over="ignore"):
        arrival = np.where(slope > 0, centre + (target - level_at_centre) / slope, np.inf)
    arrival = np.clip(arrival, last + 1, last + HORIZON_DAYS)
    low, median, high = np.quantile(arrival, [(1 - level) / 2, 0.5, (1 + level) / 2])
    if median >= last + HORIZON_DAYS:
        return none
    return Extrapolation(float(median), float(low), float(high), arrival)


def crps(ensemble: np.ndarray, truth: float, fair: bool = False) -> float:
    """Return mean |x_i - y| - 1/2 mean |x_i - x_j| over all pairs; NaN if any member is.

    The pairs of a `fair` score leave out i = j, so that its expectation does not depend on the
    number of members.
    """
    x = np.asarray(ensemble, float)
    pairs = np.abs(x[:, None] - x[None, :]).sum()
    return float(np.abs(x - truth).mean() - pairs / (2 * x.size * (x.size - fair)))


def coverage(truths: np.ndarray, low: np.ndarray, high: np.ndarray) -> tuple[float, float]:
    """Return the share of closed intervals that hold their truth, and its standard error.

    Cases whose interval is NaN count as misses: no answer is no cover.
    """
    truths = np.asarray(truths, float)
    held = (np.asarray(low) <= truths) & (truths <= np.asarray(high))
    share = float(held.mean())
    return share, float(np.sqrt(share * (1 - share) / held.size))


def randomised_pit(ensemble: np.ndarray, truth: float, rng: np.random.Generator) -> float:
    """Return the rank of a truth among draws, with ties split at random, within (0, 1).

    Dates are whole days, so many draws tie with the truth, and closed intervals hold too much.
    Uniform, to within the 1 / (n + 1) of one rank, if the truth is one more draw of the same kind.
    """
    x = np.asarray(ensemble, float)
    below, ties = np.count_nonzero(x < truth), np.count_nonzero(x == truth)
    return float((below + rng.random() * (ties + 1)) / (x.size + 1))


def pit_coverage(pits: np.ndarray, level: float = 0.9) -> tuple[float, float]:
    """Return the share of PITs within the central interval of a level, and its standard error."""
    held = np.abs(np.asarray(pits, float) - 0.5) <= level / 2
    share = float(held.mean())
    return share, float(np.sqrt(share * (1 - share) / held.size))
