"""How fast a population grows in the long run: the equation of Euler and Lotka, also of colonies.

A birth of today stems from births of before: each counts by how much it gives today, and by how
much fewer births there were then. The rate at which both sides balance is that of growth.
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial import laguerre, legendre
from numpy.typing import ArrayLike, NDArray

from antgrowth.model.parameters import Climate, Laws, pace_nodes
from antgrowth.model.thermal_time import STILL

__all__ = ["long_run_rates", "rate_of_increase"]

Floats = NDArray[np.float64]

SLOWEST, FASTEST, STEP = -0.05, 0.65, 0.02
"""Rates between which colonies are looked for, and how finely at first. [1/day]"""

HALVINGS = 30
"""Steps to narrow a rate down, from `STEP` to far less than matters."""

HEAP = 1e50
"""Brood that nothing empties, as good as infinite."""

PACES = 8
"""Number of equally likely paces that stand for the spread among eggs."""


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


def long_run_rates(laws: Laws, climate: Climate) -> Floats:
    """Rate at which colonies grow while care limits them, at steady temperatures.

    Parameters
    ----------
    laws : Laws
    climate : Climate
        Each of its days stands for a temperature that goes on for ever.

    Returns
    -------
    array, shape (draws, days)
        Minus infinite where a colony dwindles by more than 5 % a day, or nothing develops. [1/day]

    Notes
    -----
    Between founding and the queen's top rate, rate and room grow with the workers W alone, and the
    law of `parameters.births_of_day` becomes ``b = f (kappa W - B)`` births a day, with brood B and
    ``f = 1 - exp(-phi q1 / kappa)`` at the laying curve's value phi. If all grows as exp(r t), an
    egg laid a time x ago counts as ``exp(-r x)``, so that ``W = b w(r)`` and ``B = b l(r)`` with
    the integrals w and l of that weight over the life of a worker and over the brood stages. Hence
    ``f (kappa w(r) - l(r)) = 1``, whose largest root is the rate: the equation of Euler and Lotka,
    in which brood is a maternity below zero, since it takes up room. As in `mean_field`, eggs of
    the day itself take no room yet. First workers are left out: they are gone by then.
    """
    equation = _Colonies(laws, climate)
    rates = np.arange(FASTEST, SLOWEST - 1e-9, -STEP)
    low = np.full(equation.shape, -np.inf)
    for rate in rates:  # from above: the first rate that does not ask for too much
        found = np.isneginf(low) & (equation.offspring(np.full(equation.shape, rate)) >= 1.0)
        low[found] = rate
    grows = np.isfinite(low)
    low = np.where(grows, low, SLOWEST)
    high = low + STEP
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        enough = equation.offspring(middle) >= 1.0
        low, high = np.where(enough, middle, low), np.where(enough, high, middle)
    return np.where(grows, 0.5 * (low + high), -np.inf)


class _Colonies:
    """What the long-run equation of colonies is made of; all arrays (draws, days, paces)."""

    def __init__(self, laws: Laws, climate: Climate) -> None:
        clocks = climate.clocks(laws.shift_c)
        pace = pace_nodes(laws.pace_cv, PACES)
        self.shape = (len(laws), climate.days)
        self.days, self.hazard = [], []
        for stage, clock in enumerate(clocks.stages):
            quick = (np.diff(clock.readings, axis=1) - STILL)[clock.row_of][..., None]
            need = laws.days[:, stage, None, None] * pace
            with np.errstate(divide="ignore"):
                days = np.where(quick > 1e-9, need / np.maximum(quick, 1e-300), np.inf)
            self.days.append(days)
            lost = -np.log(laws.survival[:, stage])[:, None, None]
            self.hazard.append(lost / days + climate.loss[None, :, stage, None])
        self.life = laws.life[:, None] / np.maximum(climate.ageing, 1e-9)
        self.ages = _LifeIntegral(laws.life_shape)
        self.fill = -np.expm1(
            -clocks.laying * (laws.rate_per_worker / laws.room_per_worker)[:, None]
        )
        self.room = laws.room_per_worker[:, None]
        pupa = laws.pupa_care[:, None, None]
        self.care = (np.ones_like(pupa), np.ones_like(pupa), pupa)

    def offspring(self, rate: Floats) -> Floats:
        """Births that a birth gives rise to, discounted at these rates, shape (draws, days)."""
        alive = np.ones((*self.shape, PACES))
        brood = np.zeros((*self.shape, PACES))
        for days, hazard, care in zip(self.days, self.hazard, self.care, strict=True):
            fades = rate[..., None] + hazard
            stuck = np.isinf(days)
            passed = fades * np.where(stuck, 0.0, days)
            through = np.where(stuck, 0.0, np.exp(-np.clip(passed, -100.0, 700.0)))
            steady = np.abs(fades) < 1e-9
            spent = np.where(steady, days, (1.0 - through) / np.where(steady, 1.0, fades))
            # Brood that never leaves a stage piles up unless it dies faster than all dwindles.
            spent = np.where(stuck & (fades <= 0), HEAP, spent)
            brood += care * alive * spent
            alive = alive * through
        workers = alive.mean(axis=-1) * self.life * self.ages(rate * self.life)
        return self.fill * (self.room * workers - (brood.mean(axis=-1) - 0.5))


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
        return np.exp(np.interp(np.arcsinh(z), self.place, self.logs))
