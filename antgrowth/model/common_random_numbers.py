"""Chance that colonies under several plans share, so that they differ by the plans and little else.

Two simulations that draw from one stream of random numbers part for good as soon as one of them
asks for one number more. Here every colony, day and event has a number of its own, evenly spread
from 0 to 1, and counts are read from it by their quantiles: with the same number, a colony in which
more is laid on average lays more, and never less by chance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

__all__ = ["Chance", "CommonChance", "FreeChance", "binomial_quantile", "poisson_quantile"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FEW = 12.0
"""Up to so many expected, quantiles are summed up one by one; beyond, a normal law bent by its
skewness (Cornish and Fisher) errs by less than one ant in a hundred."""


class FreeChance:
    """Chance from one stream: the quickest, where plans are not compared.

    Parameters
    ----------
    rng : numpy.random.Generator
    """

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng

    def on(self, day: int) -> FreeChance:
        """Chance of a day."""
        return self

    def binomial(self, number: Ints, share: Floats) -> Ints:
        """How many of each number, each with a share as its chance."""
        return self.rng.binomial(number, np.clip(share, 0.0, 1.0))

    def poisson(self, mean: Floats) -> Ints:
        """Whole numbers of these means."""
        return self.rng.poisson(mean)

    def rounded(self, number: Floats) -> Ints:
        """Numbers rounded up or down, so that their mean is kept."""
        return np.floor(number + self.rng.random(number.shape)).astype(np.int64)

    def scattered(self, number: int, draws: int, places: int) -> Ints:
        """So many, each at any of the places, for every draw: shape (draws, places)."""
        return self.rng.multinomial(number, np.full(places, 1.0 / places), size=draws)

    def normal(self, shape: tuple[int, ...]) -> Floats:
        """Standard normal numbers."""
        return self.rng.standard_normal(shape)


@dataclass
class CommonChance:
    """Chance by day and order of events, the same for every plan.

    Attributes
    ----------
    seed : tuple of int
    rng : numpy.random.Generator or None
        Of the present day.
    """

    seed: tuple[int, ...]
    rng: np.random.Generator | None = None

    def on(self, day: int) -> CommonChance:
        """Chance of a day; -1 is the day before the founding."""
        return CommonChance(self.seed, np.random.default_rng((*self.seed, day + 1)))

    @property
    def _source(self) -> np.random.Generator:
        return np.random.default_rng(self.seed) if self.rng is None else self.rng

    def binomial(self, number: Ints, share: Floats) -> Ints:
        """How many of each number, each with a share as its chance."""
        return binomial_quantile(self._source.random(number.shape), number, share)

    def poisson(self, mean: Floats) -> Ints:
        """Whole numbers of these means."""
        return poisson_quantile(self._source.random(mean.shape), mean)

    def rounded(self, number: Floats) -> Ints:
        """Numbers rounded up or down, so that their mean is kept."""
        return np.floor(number + self._source.random(number.shape)).astype(np.int64)

    def scattered(self, number: int, draws: int, places: int) -> Ints:
        """So many, each at any of the places, for every draw: shape (draws, places)."""
        return self._source.multinomial(number, np.full(places, 1.0 / places), size=draws)

    def normal(self, shape: tuple[int, ...]) -> Floats:
        """Standard normal numbers."""
        return self._source.standard_normal(shape)


Chance = FreeChance | CommonChance


def binomial_quantile(level: Floats, number: Ints, share: Floats) -> Ints:
    """Smallest count that a binomial number exceeds with no more chance than 1 - level.

    Parameters
    ----------
    level : array
        From 0 to 1, same shape as the others.
    number : array of int
    share : array
        Clipped to 0 to 1.

    Returns
    -------
    array of int
        From 0 to number.
    """
    share = np.clip(share, 0.0, 1.0)
    rare = share <= 0.5  # of the other kind there are fewer to sum up
    level = np.where(rare, level, 1.0 - level)
    chance = np.where(rare, share, 1.0 - share)
    mean = number * chance
    found = _bent_normal(level, np.asarray(mean, float), mean * (1.0 - chance), 1.0 - 2.0 * chance)
    few = np.flatnonzero((mean < FEW) & (mean > 0))
    odds = chance.flat[few] / (1.0 - chance.flat[few])
    among = number.flat[few]
    found.flat[few] = _summed(
        level.flat[few],
        np.exp(among * np.log1p(-chance.flat[few])),
        lambda k, who: (among[who] - k + 1) / k * odds[who],
    )
    found = np.clip(np.where(mean > 0, found, 0), 0, number)
    return np.where(rare, found, number - found)


def poisson_quantile(level: Floats, mean: Floats) -> Ints:
    """Smallest count that a Poisson number exceeds with no more chance than 1 - level.

    Parameters
    ----------
    level : array
        From 0 to 1, same shape as `mean`.
    mean : array
    """
    found = _bent_normal(level, mean, mean, np.ones_like(mean))
    few = np.flatnonzero((mean < FEW) & (mean > 0))
    expected = mean.flat[few]
    found.flat[few] = _summed(level.flat[few], np.exp(-expected), lambda k, who: expected[who] / k)
    return np.maximum(np.where(mean > 0, found, 0), 0)


def _bent_normal(level: Floats, mean: Floats, variance: Floats, skew: Floats) -> Ints:
    """Quantiles by the normal law, bent by the third moment ``skew * variance``."""
    z = special.ndtri(np.clip(level, 1e-12, 1.0 - 1e-12))
    place = mean + np.sqrt(variance) * z + skew * (z**2 - 1.0) / 6.0
    found: Ints = np.ceil(place - 0.5).astype(np.int64)
    return found


def _summed(level: Floats, none: Floats, ratio: object) -> Ints:
    """Quantiles by summing up chances, from that of none, each from the one before by a ratio."""
    found = np.zeros(len(level), dtype=np.int64)
    chance, below = none.copy(), none.copy()
    who = np.flatnonzero(below < level)
    k = 0
    while who.size and k < 200:
        k += 1
        chance[who] *= ratio(k, who)  # type: ignore[operator]
        below[who] += chance[who]
        found[who] = k
        who = who[(below[who] < level[who]) & (chance[who] > 1e-15)]
    return found
