"""Chance that colonies under several plans share, so that they differ by the plans and little else.

Two simulations that draw from one stream of random numbers part for good as soon as one of them
asks for one number more. Here every colony, day and event has a number of its own, evenly spread
from 0 to 1, and counts are read from it by their quantiles: with the same number, a colony in which
more is laid on average lays more, and never less by chance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from antgrowth._core.arrays import Floats, Ints
from antgrowth._core.compiled import compiled

FEW = 12.0
"""Up to so many expected, quantiles are summed up one by one; beyond, a normal law bent by its
skewness (Cornish and Fisher) errs by less than one ant in a hundred."""

MOST = 200
"""No quantile that is summed up lies beyond."""

NEAR = np.array([
    2.5090809287301226727e3, 3.3430575583588128105e4, 6.7265770927008700853e4,
    4.5921953931549871457e4, 1.3731693765509461125e4, 1.9715909503065514427e3,
    1.3314166789178437745e2, 3.3871328727963666080e0,
])  # fmt: skip
NEAR_BELOW = np.array([
    5.2264952788528545610e3, 2.8729085735721942674e4, 3.9307895800092710610e4,
    2.1213794301586595867e4, 5.3941960214247511077e3, 6.8718700749205790830e2,
    4.2313330701600911252e1, 1.0,
])  # fmt: skip
FAR = np.array([
    7.74545014278341407640e-4, 2.27238449892691845833e-2, 2.41780725177450611770e-1,
    1.27045825245236838258e0, 3.64784832476320460504e0, 5.76949722146069140550e0,
    4.63033784615654529590e0, 1.42343711074968357734e0,
])  # fmt: skip
FAR_BELOW = np.array([
    1.05075007164441684324e-9, 5.47593808499534494600e-4, 1.51986665636164571966e-2,
    1.48103976427480074590e-1, 6.89767334985100004550e-1, 1.67638483018380384940e0,
    2.05319162663775882187e0, 1.0,
])  # fmt: skip
REMOTE = np.array([
    2.01033439929228813265e-7, 2.71155556874348757815e-5, 1.24266094738807843860e-3,
    2.65321895265761230930e-2, 2.96560571828504891230e-1, 1.78482653991729133580e0,
    5.46378491116411436990e0, 6.65790464350110377720e0,
])  # fmt: skip
REMOTE_BELOW = np.array([
    2.04426310338993978564e-15, 1.42151175831644588870e-7, 1.84631831751005468180e-5,
    7.86869131145613259100e-4, 1.48753612908506148525e-2, 1.36929880922735805310e-1,
    5.99832206555887937690e-1, 1.0,
])  # fmt: skip
"""Coefficients of `normal_quantile`: around the middle, farther out, and in the tails."""


@dataclass
class CommonChance:
    """Chance by day and order of events, the same for every plan."""

    seed: tuple[int, ...]
    rng: np.random.Generator | None = None  # of the present day

    def on(self, day: int) -> CommonChance:
        """Chance of a day; -1 is the day before the founding."""
        return CommonChance(self.seed, np.random.default_rng((*self.seed, day + 1)))

    @property
    def _source(self) -> np.random.Generator:
        return np.random.default_rng(self.seed) if self.rng is None else self.rng

    def levels(self, *shape: int) -> Floats:
        """Numbers from 0 to 1."""
        return self._source.random(shape)

    def scattered(self, number: int, draws: int, places: int) -> Ints:
        """So many, each at any of the places, for every draw: shape (draws, places)."""
        return self._source.multinomial(number, np.full(places, 1.0 / places), size=draws)

    def normal(self, shape: tuple[int, ...]) -> Floats:
        """Standard normal numbers."""
        return self._source.standard_normal(shape)


@compiled
def binomial_quantile(level: float, number: int, share: float) -> int:
    """Smallest count that a binomial number exceeds with no more chance than 1 - level.

    The share is clipped to 0 to 1.
    """
    share = min(max(share, 0.0), 1.0)
    if number <= 0 or share == 0.0:
        return 0
    rare = share <= 0.5  # of the other kind there are fewer to sum up
    chance = share if rare else 1.0 - share
    level = level if rare else 1.0 - level
    mean = number * chance
    found = 0
    if level <= 1.0 - mean:  # the chance of none is no less (Bernoulli)
        found = 0
    elif mean >= FEW:
        found = bent_normal(level, mean, mean * (1.0 - chance), 1.0 - 2.0 * chance)
    elif mean > 0.0:
        odds = chance / (1.0 - chance)
        some = (1.0 - chance) ** number
        below = some
        while below < level and found < MOST and (found == 0 or some > 1e-15):
            found += 1
            some *= (number - found + 1) / found * odds
            below += some
    found = min(max(found, 0), number)
    return found if rare else number - found


@compiled
def poisson_quantile(level: float, mean: float) -> int:
    """Smallest count that a Poisson number exceeds with no more chance than 1 - level."""
    if not mean > 0.0 or level <= 1.0 - mean:  # the chance of none is no less
        return 0
    if mean >= FEW:
        return max(bent_normal(level, mean, mean, 1.0), 0)
    found, some = 0, np.exp(-mean)
    below = some
    while below < level and found < MOST and (found == 0 or some > 1e-15):
        found += 1
        some *= mean / found
        below += some
    return found


@compiled
def bent_normal(level: float, mean: float, variance: float, skew: float) -> int:
    """Quantile by the normal law, bent by the third moment ``skew * variance``."""
    z = normal_quantile(min(max(level, 1e-12), 1.0 - 1e-12))
    place = mean + np.sqrt(variance) * z + skew * (z**2 - 1.0) / 6.0
    return int(np.ceil(place - 0.5))


@compiled
def normal_quantile(level: float) -> float:
    """Quantile of the standard normal law.

    References
    ----------
    Wichura MJ (1988) Algorithm AS 241: the percentage points of the normal distribution. Applied
    Statistics 37:477-484, routine PPND16 (from memory, and held against `scipy.special.ndtri`).
    """
    q = level - 0.5
    if abs(q) <= 0.425:
        r = 0.180625 - q * q
        return q * ratio(r, NEAR, NEAR_BELOW)
    r = np.sqrt(-np.log(min(level, 1.0 - level)))
    far = ratio(r - 1.6, FAR, FAR_BELOW) if r <= 5.0 else ratio(r - 5.0, REMOTE, REMOTE_BELOW)
    return far if q > 0.0 else -far


@compiled
def ratio(r: float, above: Floats, below: Floats) -> float:
    """Ratio of two polynomials, coefficients from the highest power down."""
    top = bottom = 0.0
    for power in range(len(above)):
        top = top * r + above[power]
        bottom = bottom * r + below[power]
    return top / bottom
