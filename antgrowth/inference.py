"""From counts to parameters: the most probable growth law, and how sure it is.

The covariance that chance of growth gives the counts is frozen at the current estimate, a Newton
step (Fisher scoring) is taken with one vectorised Jacobian, and that covariance, the stand-ins of
bounded cells and the scale of the counting error are renewed; a few rounds suffice. The error of
counting is not frozen: where fewer ants are expected or more are seen, it is smaller. The
posterior is normal around the best point (Laplace).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

from antgrowth.cohorts import Growth, grow
from antgrowth.laws import Climate
from antgrowth.likelihood import Observations, Sites, error_variance, evidence, misfit, propagate
from antgrowth.moments import Cells, covariance, loss_effects
from antgrowth.prior import Prior

__all__ = ["Estimate", "Model", "Tangent", "estimate"]

Floats = NDArray[np.float64]

STEP = 0.05
"""Step of the Jacobian's differences, in prior standard deviations."""

ROUNDS = 12
"""The fit stops after so many rounds at the latest."""

FULL_STEPS = 5
"""Later rounds go half-way, which calms a search that swings to and fro."""

STRAINED, RESTART = 1.5, 1.5
"""Strain from which the search begins again, and how far away. [prior standard deviations]"""

FARTHEST = 1.5
"""A round moves no parameter by more prior standard deviations: slopes do not hold farther."""

STILL_THERE = 0.15
"""Within so many prior standard deviations, covariances and slopes hold as they are."""

SETTLED = 0.15
"""A round that moves less than so many posterior standard deviations, all parameters together, is
the last."""

ERROR_SCALES = np.exp(np.linspace(-1.5, 1.5, 16))
ERROR_SPREAD = 0.5
"""Counting error relative to the usual: places tried, and prior log-sd (assumed)."""


@dataclass(frozen=True, eq=False)
class Model:
    """A colony as the fit sees it: prior, climate from day 0 on, and what was counted."""

    prior: Prior
    climate: Climate
    observations: Observations

    def grow(self, x: Floats, days: int | None = None) -> Growth:
        """Expected growth of draws in whitened coordinates, shape (draws, parameters).

        Up to the last cell, or for so many days.
        """
        days = int(self.cells.days.max(initial=1)) if days is None else days
        return grow(self.prior.laws(x), self.climate, days)

    @property
    def cells(self) -> Cells:
        """Cells of the log."""
        return self.observations.cells

    def expect(self, x: Floats, growth: Growth | None = None) -> Floats:
        """Expected cells as the keeper sees them, shape (draws, cells)."""
        growth = self.grow(x) if growth is None else growth
        seen = self.prior.seen(x)
        counts = growth.counts[:, self.cells.days] * self.cells.stages
        expected = np.einsum("dcs,ds->dc", counts, seen)
        dead = self.observations.dead
        expected[:, dead] = growth.died[:, self.cells.days[dead]]
        return expected

    def tangent(self, x: Floats) -> Tangent:
        """Expected cells around x."""
        steps = STEP * np.eye(len(x))
        around = np.vstack([x, x + steps, x - steps])
        growth = self.grow(around)
        expected = self.expect(around, growth)
        nearby = expected[1:].reshape(2, len(x), -1)
        return Tangent(x, expected[0], nearby, growth.take(slice(0, 1)))

    def scatter(self, x: Floats, growth: Growth, others: Cells | None = None) -> Floats:
        """Covariance of seen cells at x by chance of growth, and of other true counts after them.

        Parameters
        ----------
        x : array, shape (parameters,)
        growth : Growth
            At x.
        others : Cells, optional

        Returns
        -------
        array, shape (cells + others, cells + others)
        """
        seen = self._seen_cells(x) if others is None else self._seen_cells(x).joined(others)
        return covariance(
            self.prior.laws(x[None]), self.climate, growth, seen, self.prior.past
        )

    def loss_effects(self, x: Floats, growth: Growth) -> Floats:
        """Change of the seen cells by a loss of all brood on each day, shape (days, cells)."""
        laws = self.prior.laws(x[None])
        return loss_effects(laws, self.climate, growth, self._seen_cells(x))

    def _seen_cells(self, x: Floats) -> Cells:
        return Cells(self.cells.days, self.cells.stages * self.prior.seen(x[None])[0])

    def error(self, x: Floats, mean: Floats, scale: float) -> Floats:
        """Variance of counting of each cell.

        Parameters
        ----------
        x : array, shape (parameters,) or (draws, parameters)
        mean : array, shape (cells,) or (draws, cells)
            Expected cells there.
        scale : float
            Counting error of this keeper relative to the usual.

        Returns
        -------
        array, shape of mean
        """
        stages = self.cells.stages
        total = stages.sum(axis=1)
        share = self.prior.seen(np.atleast_2d(x)) @ stages.T / np.where(total == 0, 1, total)
        error = error_variance(
            mean, share.reshape(mean.shape), self.observations.rough, scale
        )
        # Deaths are as good as Poisson, and told in no other cell.
        return error + np.where(self.observations.dead, np.maximum(mean, 0.0), 0.0)

    def error_slopes(self, here: Tangent, scale: float) -> Floats:
        """Change of each cell's variance of counting with the parameters, (cells, parameters)."""
        steps = STEP * np.eye(len(here.x))
        up = self.error(here.x + steps, here.nearby[0], scale)
        down = self.error(here.x - steps, here.nearby[1], scale)
        return (up - down).T / (2 * STEP)


@dataclass(frozen=True, eq=False)
class Tangent:
    """What is expected of the cells around one point.

    Attributes
    ----------
    x : array, shape (parameters,)
    mean : array, shape (cells,)
        Expected cells at x.
    nearby : array, shape (2, parameters, cells)
        Expected cells one `STEP` up and down in each parameter.
    growth : Growth
        At x.
    """

    x: Floats
    mean: Floats
    nearby: Floats
    growth: Growth

    @cached_property
    def slopes(self) -> Floats:
        """Change of the cells with the parameters, shape (cells, parameters)."""
        return (self.nearby[0] - self.nearby[1]).T / (2 * STEP)

    @property
    def at_prior(self) -> Floats:
        """Cells expected at the prior's centre, if slopes held all the way."""
        return self.mean - self.slopes @ self.x


@dataclass(frozen=True, eq=False)
class Estimate:
    """The most probable parameters of a colony and the normal posterior around them.

    Attributes
    ----------
    x : array, shape (parameters,)
        Most probable point in whitened coordinates (the prior is standard normal there).
    cov : array, shape (parameters, parameters)
        Posterior covariance in whitened coordinates.
    tangent : Tangent
        Expected cells around x.
    scatter : array, shape (cells, cells)
        Covariance of the cells by chance of growth and counting at x.
    sites : Sites
        Normal observations that stand for the cells.
    error_scale, error_spread : float
        Counting error relative to the usual, and its log-sd.
    strain : float
        Squared residuals over what was expected; 1 is as expected, more is more scattered.
    log_density : float
        Of parameters and notes at x, to compare searches.
    rounds : int
    converged : bool
    """

    x: Floats
    cov: Floats
    tangent: Tangent
    scatter: Floats
    sites: Sites
    error_scale: float
    error_spread: float
    strain: float
    log_density: float
    rounds: int
    converged: bool

    @property
    def mean(self) -> Floats:
        """Expected cells at x, shape (cells,)."""
        return self.tangent.mean

    def draw(self, number: int, rng: np.random.Generator) -> Floats:
        """Posterior draws in whitened coordinates, shape (number, parameters)."""
        root = np.linalg.cholesky(self.cov)
        return self.x + rng.standard_normal((number, len(self.x))) @ root.T


def estimate(model: Model, start: Floats | None = None) -> Estimate:
    """Find the most probable parameters.

    Where the notes strain the model, the search begins again from an earlier and from a later
    start of growth, and the most probable end counts: shapes that lie a brood apart can trap it.

    Parameters
    ----------
    model : Model
    start : array, shape (parameters,), optional
        Where to begin, in whitened coordinates; the prior's centre if not given.

    Returns
    -------
    Estimate
        Its `converged` tells whether it settled within `ROUNDS` rounds.
    """
    best = _search(model, np.zeros(len(model.prior)) if start is None else start)
    if best.strain < STRAINED and best.converged:
        return best
    onset = np.eye(len(model.prior))[0]  # the first parameter is when growth began
    others = [_search(model, shift * onset) for shift in (-RESTART, RESTART)]
    return max([best, *others], key=lambda e: e.log_density)


def _search(model: Model, start: Floats) -> Estimate:
    here = model.tangent(start)
    sites, scale, spread = Sites.start(model.observations), 1.0, ERROR_SPREAD
    growth_cov, known_at = model.scatter(here.x, here.growth), here.x
    for rounds in range(1, ROUNDS + 1):
        if np.abs(here.x - known_at).max() > STILL_THERE:
            growth_cov, known_at = model.scatter(here.x, here.growth), here.x
        doubt = growth_cov + here.slopes @ here.slopes.T
        error = model.error(here.x, here.mean, scale)
        sites = propagate(model.observations, here.at_prior, doubt + np.diag(error), sites)
        scale, spread = _counting_error(model, here, doubt, sites)
        step, moved = _newton_step(model, here, growth_cov, scale, sites)
        here = model.tangent(here.x + (step if rounds <= FULL_STEPS else 0.5 * step))
        if moved < SETTLED:
            break
    x = here.x
    if np.abs(x - known_at).max() > STILL_THERE:
        growth_cov = model.scatter(x, here.growth)
    scatter = growth_cov + np.diag(model.error(x, here.mean, scale))
    told = _told(model, here, scatter, scale, sites)[0]
    strain = 1.0
    if np.isinf(sites.precision).any():  # bounds alone never strain
        squares = misfit(sites, here.mean, scatter) + float(x @ x)
        strain = (squares + 10.0) / (sites.used.sum() + 10.0)
    return Estimate(
        x=x,
        # Notes more scattered than the model allows say less, but never less than nothing.
        cov=linalg.inv(told / max(1.0, strain) + np.eye(len(x))),
        tangent=here,
        scatter=scatter,
        sites=sites,
        error_scale=scale,
        error_spread=spread,
        strain=strain,
        log_density=evidence(sites, here.mean, scatter) - 0.5 * float(x @ x),
        rounds=rounds,
        converged=moved < 5 * SETTLED,
    )


def _newton_step(
    model: Model, here: Tangent, growth_cov: Floats, scale: float, sites: Sites
) -> tuple[Floats, float]:
    """The step of Fisher scoring, shortened where a shorter one is better, and its length.

    The length is in standard deviations of the posterior.
    """
    x = here.x
    scatter = growth_cov + np.diag(model.error(x, here.mean, scale))
    told, pull = _told(model, here, scatter, scale, sites)
    step = np.asarray(np.linalg.solve(told + np.eye(len(x)), pull - x), float)
    moved = float(np.sqrt(step @ (pull - x)))
    longest = float(np.abs(step).max())
    if longest < STILL_THERE:
        return step, moved
    step *= min(1.0, FARTHEST / longest)
    tried = np.array([0.0, 0.06, 0.25, 0.5, 1.0])
    places = x + tried[:, None] * step
    means = model.expect(places)
    errors = model.error(places, means, scale)
    worth = [
        evidence(sites, mean, growth_cov + np.diag(error)) - 0.5 * float(place @ place)
        for place, mean, error in zip(places, means, errors, strict=True)
    ]
    best = float(tried[np.argmax(worth)])
    return best * step, best * moved


def _told(
    model: Model, here: Tangent, scatter: Floats, scale: float, sites: Sites
) -> tuple[Floats, Floats]:
    """What the notes tell of the parameters.

    Returns
    -------
    information : array, shape (parameters, parameters)
        Expected curvature of the notes' log density: of a normal law whose mean and whose
        counting error both hang on the parameters.
    pull : array, shape (parameters,)
        Its slope.
    """
    used = sites.used
    certainty = linalg.inv(scatter[np.ix_(used, used)] + np.diag(sites.extra_variance))
    slopes, wider = here.slopes[used], model.error_slopes(here, scale)[used]
    told = certainty @ (sites.value - here.mean)[used]
    information = slopes.T @ certainty @ slopes + 0.5 * wider.T @ certainty**2 @ wider
    pull = slopes.T @ told + 0.5 * wider.T @ (told**2 - np.diag(certainty))
    return information, pull


def _counting_error(
    model: Model, here: Tangent, doubt: Floats, sites: Sites
) -> tuple[float, float]:
    """Most probable scale of the counting error, and its log-sd."""
    if not sites.used.any():
        return 1.0, ERROR_SPREAD
    places = np.log(ERROR_SCALES)
    errors = (np.diag(model.error(here.x, here.mean, scale)) for scale in ERROR_SCALES)
    worth = np.array([evidence(sites, here.at_prior, doubt + error) for error in errors])
    worth -= 0.5 * (places / ERROR_SPREAD) ** 2
    weight = np.exp(worth - worth.max())
    weight /= weight.sum()
    middle = float(weight @ places)
    return float(np.exp(middle)), float(np.sqrt(weight @ (places - middle) ** 2))
