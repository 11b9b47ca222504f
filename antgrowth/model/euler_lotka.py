"""How fast a population grows in the long run: the equation of Euler and Lotka, also of colonies.

A birth of today stems from births of before: each counts by how much it gives today, and by how
much fewer births there were then. The rate at which both sides balance is that of growth.
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial import laguerre, legendre
from numpy.typing import ArrayLike

from antgrowth._core.arrays import Floats
from antgrowth.model.parameters import Laws
from antgrowth.model.thermal_forcing import ThermalForcing

SLOWEST, FASTEST, STEP = -0.05, 0.65, 0.02
"""Rates between which colonies are looked for, and how finely at first. [1/day]"""

HALVINGS = 30
"""Steps to narrow a rate down, from `STEP` to far less than matters."""

HEAP = 1e50
"""Brood that nothing empties, as good as infinite."""


def rate_of_increase(age: ArrayLike, maternity: ArrayLike) -> float:
    """Rate at which a population grows in the long run.

    Parameters
    ----------
    age : array, shape (ages,)
        Above 0, in any unit of time.
    maternity : array, shape (ages,)
        Offspring that a newborn can expect to have at each age: survival to it times fertility
        there, not below 0.

    Returns
    -------
    float
        Per unit of time; minus infinite if there is no offspring.

    Raises
    ------
    ValueError
        If an age is not above 0, or a maternity is below 0.

    Notes
    -----
    The root r of ``sum(maternity * exp(-r * age)) = 1``, which is unique. The population grows by
    the factor ``exp(r)`` in a unit of time.

    References
    ----------
    Euler L (1760) and Lotka AJ (1907), as in Birch LC (1948) The intrinsic rate of natural increase
    of an insect population. Journal of Animal Ecology 17:15-26, doi:10.2307/1605 (from memory).

    Examples
    --------
    >>> round(rate_of_increase([10.0], [2.0]), 6)  # two offspring at the age of ten: ln 2 / 10
    0.069315
    """
    x, m = np.asarray(age, dtype=float), np.asarray(maternity, dtype=float)
    if not (np.all(x > 0) and np.all(m >= 0)):
        raise ValueError("rate_of_increase: ages must be above 0, and maternity not below 0.")
    x, m = x[m > 0], m[m > 0]
    if not x.size:
        return -np.inf
    # With all offspring at its first or its last age, growth would be faster or slower than it is.
    sides = np.log(m.sum()) / x
    low, high = float(sides.min()), float(sides.max())
    while high - low > 1e-13 * max(1.0, abs(low)):
        middle = 0.5 * (low + high)
        if not low < middle < high:
            break
        grows = np.exp(np.log(m) - middle * x).sum() > 1.0
        low, high = (middle, high) if grows else (low, middle)
    return 0.5 * (low + high)


def long_run_rates(laws: Laws, forcing: ThermalForcing, workers: float) -> Floats:
    """Growth rates of colonies of a size while places limit them, at steady temperatures. [1/day]

    Each day of the forcing stands for a temperature that goes on for ever: shape (draws, days).
    Places grow more slowly than workers where their power is below 1. Minus infinite where a colony
    dwindles by more than 5 % a day, or nothing develops.

    A colony of W workers has ``k = R(W) / W`` places for each. If all grows as exp(r t), an ant
    that took its place a time x ago counts as ``exp(-r x)``: of f larvae a day that get one, the
    places taken are ``f l(r)`` and the workers ``f w(r)``, with the integrals l and w of that
    weight over the stages that hold a place and over the life of a worker. All places are taken
    when ``k w(r) / l(r) = 1``, whose largest root is the rate: the equation of Euler and Lotka,
    with places for births. First workers are left out, and so are queens who lay too little.
    """
    equation = _Colonies(laws, forcing, workers)
    rates = np.arange(FASTEST, SLOWEST - 1e-9, -STEP)
    low = np.full(equation.shape, -np.inf)
    for rate in rates:  # from above: the first rate that does not ask for too much
        found = np.isneginf(low) & (equation.filled(np.full(equation.shape, rate)) >= 1.0)
        low[found] = rate
    grows = np.isfinite(low)
    low = np.where(grows, low, SLOWEST)
    high = low + STEP
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        enough = equation.filled(middle) >= 1.0
        low, high = np.where(enough, middle, low), np.where(enough, high, middle)
    return np.where(grows, 0.5 * (low + high), -np.inf)


class _Colonies:
    """What the long-run equation of colonies is made of; all arrays (draws, days)."""

    def __init__(self, laws: Laws, forcing: ThermalForcing, workers: float) -> None:
        self.shape = (len(laws), forcing.days)
        quick = forcing.between(forcing.development, laws.shift_c, slice(None))
        self.days, self.hazard = [], []
        for stage in (1, 2):  # larvae with a place, and pupae
            with np.errstate(divide="ignore"):
                days = laws.days[:, [stage]] / np.maximum(quick[..., stage], 1e-300)
            days = np.where(quick[..., stage] > 1e-9, days, np.inf)
            self.days.append(days)
            lost = -np.log(laws.survival[:, [stage]])
            self.hazard.append(lost / days + forcing.loss[None, :, stage])
        self.life = laws.life[:, None] / np.maximum(forcing.ageing, 1e-9)
        self.ages = _LifeIntegral(laws.life_shape)
        self.places = laws.places(np.full((len(laws), 1), workers), forcing.care) / workers
        self.care = (np.ones((len(laws), 1)), laws.pupa_care[:, None])

    def filled(self, rate: Floats) -> Floats:
        """Places there are over those taken, if all grows at these rates, shape (draws, days)."""
        alive, taken = np.ones(self.shape), np.zeros(self.shape)
        for days, hazard, care in zip(self.days, self.hazard, self.care, strict=True):
            fades = rate + hazard
            stuck = np.isinf(days)
            passed = fades * np.where(stuck, 0.0, days)
            through = np.where(stuck, 0.0, np.exp(-np.clip(passed, -100.0, 700.0)))
            steady = np.abs(fades) < 1e-9
            spent = np.where(steady, days, (1.0 - through) / np.where(steady, 1.0, fades))
            # Brood that never leaves a stage piles up unless it dies faster than all dwindles.
            spent = np.where(stuck & (fades <= 0), HEAP, spent)
            taken += care * alive * spent
            alive = alive * through
        workers = alive * self.life * self.ages(rate * self.life)
        return self.places * workers / np.maximum(taken, 1e-300)


class _LifeIntegral:
    """The integral over y of ``exp(-z y - y**shape)``, from a table.

    Below its first z the first value stands: with a shape near 1 the integral would not be finite.
    """

    LOWEST, LOWEST_FLAT, TURN, HIGHEST = -40.0, -0.9, 2.0, 1e6

    def __init__(self, shape: float) -> None:
        node, weight = legendre.leggauss(200)
        lowest = self.LOWEST if shape >= 1.5 else self.LOWEST_FLAT
        low = np.linspace(lowest, self.TURN, 3000)[:, None]
        end = np.full_like(low, 60.0 ** (1 / shape) + 1.0)
        while (more := end**shape + low * end < 60.0).any():  # until next to nothing is left
            end[more] *= 1.5
        y = end * (node + 1) / 2
        power = -low * y - y**shape
        top = power.max(axis=1, keepdims=True)
        below = top[:, 0] + np.log((np.exp(power - top) * weight * end / 2).sum(axis=1))
        node, weight = laguerre.laggauss(60)
        high = np.geomspace(self.TURN, self.HIGHEST, 1500)[:, None]
        above = (np.exp(-((node / high) ** shape)) * weight).sum(axis=1) / high[:, 0]
        self.place = np.arcsinh(np.concatenate([low[:-1, 0], high[:, 0]]))
        # More than e^300 days is as good as for ever.
        self.logs = np.minimum(np.concatenate([below[:-1], np.log(above)]), 300.0)

    def __call__(self, z: Floats) -> Floats:
        found: Floats = np.exp(np.interp(np.arcsinh(z), self.place, self.logs))
        return found
