"""Probability of a count log, given the growth model's mean and covariance.

True counts are taken as jointly normal. A keeper's cell is a true count seen imperfectly: part of
the eggs and larvae is overlooked, and counting errs more the more there is to count. Ranges,
at-least cells, zeros and first sightings only say between which bounds a count lies; expectation
propagation turns each into the normal observation that says the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, special

from antgrowth._core.arrays import Flags, Floats
from antgrowth.model.covariance import Cells

ROUNDING = 0.1
"""Variance of a count near zero that the normal law cannot see; keeps 0, 0, 1 honest. [ants²]"""

CARE, SLOPPINESS, MANY = 0.05, 0.08, 100.0
"""Relative counting error at the usual scale: 5 % of a few, towards 13 % of several hundred
(assumed; the scale is estimated from the log)."""

SETTLING_SWEEPS, SETTLING_TOL = 40, 1e-6
"""Sweeps after which stand-ins no longer move, as each goes half of the way; and by which part of
their precision they may move and are still taken to have settled."""

ROUGH = 3.0
"""How many times the usual error a rough cell carries (assumed)."""


@dataclass(frozen=True, eq=False)
class Observations:
    """What a log says, cell by cell; arrays of shape (cells,) unless told otherwise."""

    cells: Cells  # day and stages of each cell
    low: Floats  # low, high: bounds of the count; equal where it was counted exactly [ants]
    high: Floats
    rough: Floats  # counting error relative to a usual cell

    @property
    def exact(self) -> Flags:
        """Cells that give one number; 0 counts as a bound, for it can hide what is to come."""
        found: Flags = (self.low == self.high) & (self.high > 0)
        return found

    def bounds(self, chosen: NDArray[Any]) -> tuple[Floats, Floats]:
        """Between which true values a bounded cell lies: half an ant around its numbers."""
        low, high = self.low[chosen], self.high[chosen]
        return np.where(low <= 0, -np.inf, low - 0.5), high + 0.5

    def take(self, chosen: NDArray[Any]) -> Observations:
        """Select cells (boolean or integer array)."""
        cells = Cells(self.cells.days[chosen], self.cells.stages[chosen])
        return Observations(cells, self.low[chosen], self.high[chosen], self.rough[chosen])


@dataclass(frozen=True, eq=False)
class Sites:
    """Normal observations that stand for the cells; arrays of shape (cells,)."""

    value: Floats  # what would have been counted
    precision: Floats  # one over the extra variance this stands with; infinite for an exact count

    @classmethod
    def start(cls, seen: Observations) -> Sites:
        """Exact counts as they are, and nothing known yet from bounds."""
        exact = seen.exact
        return cls(np.where(exact, seen.low, 0.0), np.where(exact, np.inf, 0.0))

    @property
    def used(self) -> Flags:
        """Cells that say anything."""
        return self.precision > 0

    @property
    def extra_variance(self) -> Floats:
        """Variance of each used site beyond that of the cell."""
        return 1.0 / self.precision[self.used]

    def covariance(self, cov: Floats) -> Floats:
        """Covariance of the used sites, shape (used, used), by that of all cells."""
        found: Floats = cov[np.ix_(self.used, self.used)] + np.diag(self.extra_variance)
        return found


def error_variance(mean: Floats, seen: Floats, rough: Floats, scale: float) -> Floats:
    """Variance of counting, cell by cell: shape (cells,).

    By the expected counts [ants], the share of them that the keeper sees, the counting error of
    each relative to a usual cell, and that of this keeper relative to the usual.
    """
    mean = np.maximum(mean, 0.0)
    relative = scale * rough * (CARE + SLOPPINESS * mean / (mean + MANY))
    return ROUNDING + (relative * mean) ** 2 + (1.0 - seen) * mean


def propagate(
    seen: Observations, mean: Floats, cov: Floats, sites: Sites, sweeps: int = 4
) -> Sites:
    """Improve the normal stand-ins of bounded cells by expectation propagation.

    `mean` and `cov` are what is expected of the cells before looking: growth, uncertain parameters
    and counting. A cell bounded by low and high stands for ``low - 1/2 < z < high + 1/2``. All
    sites of a sweep are renewed together, half-way each time.

    References
    ----------
    Minka TP (2001) Expectation propagation for approximate Bayesian inference. Proceedings of UAI
    17:362-369 (from memory).
    """
    bounded = np.flatnonzero(~seen.exact)
    if not len(bounded):
        return sites
    return _swept(seen, bounded, _given_exact(mean, cov, sites, bounded), sites, sweeps)


def _swept(
    seen: Observations,
    bounded: NDArray[Any],
    given: tuple[Floats, Floats],
    sites: Sites,
    sweeps: int,
) -> Sites:
    """The stand-ins of bounded cells after some sweeps, or when they have settled."""
    low, high = seen.bounds(bounded)
    value, precision = sites.value.copy(), sites.precision.copy()
    for _ in range(sweeps):
        before = precision[bounded], value[bounded]
        cavity, held, fine = _without_own(*given, *before)
        inside, width, _ = _truncated(cavity, 1.0 / held, low, high)
        wanted = np.maximum(1.0 / width - held, 1e-8)
        renewed = 0.5 * before[0] + 0.5 * wanted
        # Natural parameters are averaged, not values: they are what adds up.
        pull = 0.5 * before[0] * before[1]
        pull += 0.5 * (inside / width - cavity * held)
        precision[bounded] = np.where(fine, renewed, before[0])
        value[bounded] = np.where(fine, pull / renewed, before[1])
        if (np.abs(renewed - before[0]) <= SETTLING_TOL * renewed).all():
            break
    return Sites(value, precision)


def log_probability(seen: Observations, mean: Floats, cov: Floats) -> float:
    """Log probability of notes under a normal expectation of the cells, as they are counted.

    Density of the exact counts times the probability of the bounds given them. By expectation
    propagation: the density of the stand-ins, each scaled so that it has the mass of what it stands
    for (Rasmussen CE, Williams CKI 2006, Gaussian Processes for Machine Learning, section 3.6; from
    memory). With the stand-ins' own density alone, a bound that is kept by a wide margin would
    count against an expectation.
    """
    sites, bounded = Sites.start(seen), np.flatnonzero(~seen.exact)
    if not len(bounded):
        return log_density(sites, mean, cov) if sites.used.any() else 0.0
    given = _given_exact(mean, cov, sites, bounded)
    sites = _swept(seen, bounded, given, sites, SETTLING_SWEEPS)
    told = log_density(sites, mean, cov) if sites.used.any() else 0.0
    cavity, held, _ = _without_own(*given, sites.precision[bounded], sites.value[bounded])
    log_mass = _truncated(cavity, 1.0 / held, *seen.bounds(bounded))[2]
    used = sites.used[bounded]
    spread = 1.0 / held[used] + 1.0 / sites.precision[bounded][used]
    rest = sites.value[bounded][used] - cavity[used]
    stand_in = -0.5 * (rest**2 / spread + np.log(2 * np.pi * spread))
    return told + float(log_mass.sum() - stand_in.sum())


def _given_exact(
    mean: Floats, cov: Floats, sites: Sites, bounded: NDArray[Any]
) -> tuple[Floats, Floats]:
    """Mean and covariance of bounded cells, given the exact ones."""
    exact = np.isinf(sites.precision)
    if not exact.any():
        return mean[bounded], cov[np.ix_(bounded, bounded)]
    link = cov[np.ix_(exact, bounded)]
    gain = linalg.cho_solve(linalg.cho_factor(cov[np.ix_(exact, exact)]), link).T
    centre = mean[bounded] + gain @ (sites.value - mean)[exact]
    return centre, cov[np.ix_(bounded, bounded)] - gain @ link


def _without_own(
    mean: Floats, cov: Floats, precision: Floats, value: Floats
) -> tuple[Floats, Floats, Flags]:
    """Mean and precision of bounded cells, given all sites but their own, and where they exist.

    From their mean and covariance given the exact cells, and from their own sites.
    """
    known = np.linalg.solve(np.eye(len(mean)) + cov * precision, cov)
    centre = mean + known @ (precision * (value - mean))
    spread = np.maximum(np.diag(known), 1e-9)
    held = 1.0 / spread - precision
    fine = held > 1e-9
    held = np.where(fine, held, 1.0)
    return (centre / spread - precision * value) / held, held, fine


def _truncated(
    mean: Floats, variance: Floats, low: Floats, high: Floats
) -> tuple[Floats, Floats, Floats]:
    """Mean and variance of normal variables cut to between low and high, and the log mass there."""
    sd = np.sqrt(variance)
    a, b = (low - mean) / sd, (high - mean) / sd
    flip = a > 0  # work in the lower tail, where log_ndtr is exact
    a, b = np.where(flip, -b, a), np.where(flip, -a, b)
    log_mass = special.log_ndtr(b) + np.log1p(-np.exp(special.log_ndtr(a) - special.log_ndtr(b)))
    at_a = np.exp(-0.5 * a**2 - log_mass) / np.sqrt(2 * np.pi)
    at_b = np.exp(-0.5 * b**2 - log_mass) / np.sqrt(2 * np.pi)
    shift = at_a - at_b
    with np.errstate(invalid="ignore"):
        edges = np.where(np.isfinite(a), a * at_a, 0.0) - np.where(np.isfinite(b), b * at_b, 0.0)
    narrowed = np.clip(1.0 + edges - shift**2, 1e-6, 1.0 - 1e-9)
    return mean + np.where(flip, -shift, shift) * sd, variance * narrowed, log_mass


def log_density(sites: Sites, mean: Floats, cov: Floats) -> float:
    """Log density of the sites' values under a normal expectation of the cells."""
    used = sites.used
    factor = linalg.cholesky(sites.covariance(cov), lower=True)
    white = linalg.solve_triangular(factor, (sites.value - mean)[used], lower=True)
    return float(
        -0.5 * white @ white - np.log(np.diag(factor)).sum() - 0.5 * len(white) * np.log(2 * np.pi)
    )
