"""From counts to parameters: the most probable growth law, and how sure it is.

The covariance of the counts is frozen at the current estimate, a Gauss-Newton step is taken with
one vectorised Jacobian, and the covariance, the stand-ins of bounded cells and the counting error
are renewed; a few rounds suffice. The posterior is normal around the best point (Laplace). So a
search ends where counts are expected as they were noted, and does not look for a place that would
explain how far they scatter: a law that is not quite true would be led astray by that (measured in
`tests/statistical/test_posterior.py`).

How colonies stray from the law for weeks is part of the covariance, so that many looks at one
colony are not taken for as many witnesses. Expectation and covariance are those around the `course`
on which this colony seems to have strayed. And what they tell makes the parameters surer by a part
only (`tempering_power`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar

import numpy as np
from scipy import linalg

from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.deprecation import Former
from antgrowth._core.stages import WORKERS
from antgrowth.inference.course import Course, course_asked
from antgrowth.inference.likelihood import (
    Observations,
    Sites,
    error_variance,
    log_density,
    log_probability,
    propagate,
)
from antgrowth.inference.prior import Prior
from antgrowth.model.covariance import Cells, Moments, Start, moments
from antgrowth.model.mean_field import Growth, grow
from antgrowth.model.thermal_forcing import ThermalForcing

Found = TypeVar("Found", "Estimate", "_Place")

STEP = 0.05
"""Step of the Jacobian's differences, in prior standard deviations."""

MAX_ITER = 12
"""The fit stops after so many rounds at the latest."""

TRIAL_ITER = 4
"""Rounds by which a search that begins elsewhere shows where it leads."""

FOLLOWED, HOPELESS = 2, 10.0
"""So many of these searches are followed to their ends, those that lie farther behind the best are
not. [log density]"""

FULL_STEPS = 5
"""Later rounds go half-way where they turn back, which calms a search that swings to and fro."""

RESTART_DISPERSION, RESTART_OFFSET = 1.15, 1.5
"""Dispersion from which the search begins again, and how far away. [prior standard deviations]"""

HARDLY_ANY = 0.1
"""Where less than this share of the ants noted is expected, they are unforeseen."""

BY_CHANCE = 2.0
"""They are not where chance may well have brought them: within so many standard deviations."""

UNFORESEEN = 8.0
"""What an unforeseen note costs an end of the search: as much as a miss by four standard
deviations. To the normal law it is a slip of the pen; but nobody sees ants that are not there."""

LEVERS = (
    (("development.egg.days", "development.larva.days", "development.pupa.days",
      "workers.first_development"), -1.0),
    (("development.egg.days", "development.larva.days", "development.pupa.days",
      "workers.first_development", "development.*.lower_c"), -1.0),
    (("season.length_days",), 1.0),
    (("season.ends_below_c",), -1.0),
    (("season.wake_days", "season.laying_days"), -1.0),
)  # fmt: skip
"""What brings ants about that were not foreseen: quicker brood, a later end of the season, or an
earlier spring. Each has parameters that move together, and which way."""

REACHES = np.arange(0.5, 4.1, 0.5)
"""How far levers are tried. [prior standard deviations]"""

MAX_STEP = 1.5
"""A round moves no parameter by more prior standard deviations: slopes do not hold farther."""

RELINEARISE_TOL = 0.15
"""Within so many prior standard deviations, covariances and slopes hold as they are."""

LEAST_GAIN = 0.02
"""Where a round moves little and gains less log density than this, it is the last: covariances that
are worked out anew would only carry it to and fro."""

COURSE_TOL = 0.2
"""A course that changes by less stays as it is. [standard deviations of the drift]"""

COURSE_WEIGHT = 0.2
"""So much a change of the course counts beside one of the parameters, as a search settles."""

TOL = 0.05
"""A round that moves no parameter by more than this many prior standard deviations is the last."""

WORTH_GOING_BACK = 3.0
"""A search ends where it passed rather than where it settled, if the log density there was higher
by more than this."""

TEMPERING = 0.5
"""Power to which the likelihood is taken where it makes parameters surer (assumed).

What a colony does that no law foresees is seen at all of its looks. On real colonies ranges hold as
often with 1 as with 0.5, and score alike; of simulated ones that live by other laws more days of 30
workers lie within the 90 % interval with 0.5, at the same score.
"""

ERROR_SCALES = np.exp(np.linspace(-1.5, 1.5, 16))
ERROR_SPREAD = 0.5
"""Counting error relative to the usual: places tried, and prior log-sd (assumed)."""


@dataclass(frozen=True, eq=False, repr=False)
class Model:
    """A colony as the fit sees it: prior, forcing from day 0 on, and what was counted."""

    prior: Prior
    forcing: ThermalForcing
    observations: Observations
    # What a colony that came part-grown may have held at the start; None if it was founded.
    start: Start | None = None
    course: Course | None = None  # how it is taken to have strayed from the law, if at all

    def __repr__(self) -> str:
        return f"Model({len(self.prior)} parameters, {len(self.cells.days)} cells)"

    def along(self, course: Course | None) -> Model:
        """The same colony, straying from the law on a course."""
        return replace(self, course=course)

    @property
    def strays(self) -> Floats | None:
        """How far it strays on each morning; None if not at all."""
        return None if self.course is None else self.course.strays

    @property
    def made(self) -> Floats | float:
        """What its course made of the cells; nothing without one."""
        return 0.0 if self.course is None else self.course.made

    def makes(self, effect: Floats) -> Floats | float:
        """What its course makes of other counts, see `Course.makes`; nothing without one."""
        return 0.0 if self.course is None else self.course.makes(effect)

    def grow(self, x: Floats, days: int | None = None) -> Growth:
        """Expected growth of draws in whitened coordinates, shape (draws, parameters).

        Up to the last cell, or for so many days.
        """
        days = int(self.cells.days.max(initial=1)) if days is None else days
        start = None if self.start is None else self.start.state
        return grow(self.prior.laws(x), self.forcing, days, start, self.strays)

    @property
    def cells(self) -> Cells:
        """Cells of the log."""
        return self.observations.cells

    def expect(self, x: Floats, growth: Growth | None = None) -> Floats:
        """Cells as the keeper sees them, expected before the notes tell how the colony strays.

        Shape (draws, cells).
        """
        growth = self.grow(x) if growth is None else growth
        stages = self.cells.of(growth)
        found: Floats = (stages * self.cells.stages * self.prior.seen(x, stages[..., WORKERS])).sum(
            axis=-1
        )
        return found - self.made

    def linearise(self, x: Floats) -> Linearisation:
        """Expected cells around x."""
        steps = STEP * np.eye(len(x))
        around = np.vstack([x, x + steps, x - steps])
        growth = self.grow(around)
        expected = self.expect(around, growth)
        up, down = expected[1 : len(x) + 1], expected[len(x) + 1 :]
        return Linearisation(x, expected[0], (up - down).T / (2 * STEP), growth.take(slice(0, 1)))

    def moments(
        self, here: Linearisation, others: Cells | None = None, last: int | None = None
    ) -> Moments:
        """Second moments of seen cells by chance of growth, and of other true counts after them.

        With a `last` day, the state at that time is described as well.
        """
        seen = Cells(self.cells.days, self.cells.stages * self.shares(here))
        cells = seen if others is None else seen.joined(others)
        laws = self.prior.laws(here.x[None])
        return moments(
            laws, self.forcing, cells, start=self.start, last_day=last, strays=self.strays
        )

    def shares(self, here: Linearisation) -> Floats:
        """Share of each stage that is seen in each cell, shape (cells, 5)."""
        found: Floats = self.prior.seen(here.x[None], self.cells.of(here.growth)[..., WORKERS])[0]
        return found

    def error(self, here: Linearisation, scale: float) -> Floats:
        """Variance of counting of each cell, shape (cells,)."""
        total = self.cells.stages.sum(axis=1)
        share = (self.cells.stages * self.shares(here)).sum(axis=1) / np.where(total == 0, 1, total)
        return error_variance(here.mean + self.made, share, self.observations.rough, scale)


@dataclass(frozen=True, eq=False, repr=False)
class Linearisation:
    """What is expected of the cells around one point."""

    x: Floats  # shape (parameters,)
    mean: Floats  # expected cells at x, see `Model.expect`, shape (cells,)
    slopes: Floats  # shape (cells, parameters)
    growth: Growth  # at x

    def __repr__(self) -> str:
        return f"Linearisation({self.slopes.shape[0]} cells, {self.slopes.shape[1]} parameters)"

    @property
    def at_prior(self) -> Floats:
        """Cells expected at the prior's centre, if slopes held all the way."""
        return self.mean - self.slopes @ self.x


@dataclass(frozen=True, eq=False, repr=False)
class Estimate:
    """The most probable parameters of a colony and the normal posterior around them."""

    # Most probable point in whitened coordinates (the prior is standard normal there),
    # shape (parameters,)
    x: Floats
    cov: Floats  # posterior covariance in whitened coordinates, shape (parameters, parameters)
    linearised: Linearisation  # expected cells around x
    # Covariance of the cells by chance of growth and counting at x, shape (cells, cells)
    noise_cov: Floats
    sites: Sites  # normal observations that stand for the cells
    # error_scale, error_spread: counting error relative to the usual, and its log-sd.
    error_scale: float
    error_spread: float
    # Squared residuals over what was expected; 1 is as expected, more is more scattered.
    dispersion: float
    log_density: float  # of parameters and notes at x, to compare searches; see also `UNFORESEEN`
    rounds: int
    converged: bool
    course: Course | None = None  # how the colony seems to have strayed from the law

    scatter = Former("noise_cov")
    strain = Former("dispersion")
    tangent = Former("linearised")

    def __repr__(self) -> str:
        return f"Estimate({len(self.x)} parameters, converged={self.converged})"

    @property
    def mean(self) -> Floats:
        """Expected cells at x, shape (cells,)."""
        return self.linearised.mean

    def draw(self, number: int, rng: np.random.Generator) -> Floats:
        """Posterior draws in whitened coordinates, shape (number, parameters)."""
        root = np.linalg.cholesky(self.cov)
        return self.x + rng.standard_normal((number, len(self.x))) @ root.T


def estimate(model: Model, start: Floats | None = None) -> Estimate:
    """Find the most probable parameters, from the prior's centre or a whitened `start`.

    Where the notes are overdispersed, the search begins again elsewhere, and the most probable end
    counts: shapes that lie a brood apart can trap it. So can a first worker long before any is
    expected, for there all slopes are zero: then the search begins where she is. The estimate's
    `converged` tells whether it settled within `MAX_ITER` rounds.
    """
    best = _search(model, np.zeros(len(model.prior)) if start is None else start)
    missed = unforeseen(model.along(best.course), best.mean, best.noise_cov).any()
    if best.dispersion < RESTART_DISPERSION and not missed:
        return best
    starts = _restarts(model)
    if missed:
        starts += _where_expected(model, starts[0], best.noise_cov)
    # A few rounds tell which starts lead anywhere; only those are followed to their ends.
    tried = [_search(model, x, TRIAL_ITER) for x in starts]
    tried.sort(key=lambda e: -e.log_density)
    hopeful = [e for e in tried[:FOLLOWED] if e.log_density > best.log_density - HOPELESS]
    ends = [_search(model, e.x) for e in hopeful]
    settled = max([best, *ends], key=lambda e: e.log_density)
    return _rather(tried[0], settled)


def unforeseen(model: Model, mean: Floats, noise_cov: Floats) -> Flags:
    """Cells with ants where hardly any are expected, nor would be by chance.

    Of the shape of `mean` (..., cells); `noise_cov` is as in `Estimate`, shape (cells, cells).
    """
    seen = model.observations
    living = model.cells.stages[:, :-1].any(axis=1)
    by_chance = np.maximum(mean + BY_CHANCE * np.sqrt(np.diag(noise_cov)), 0.0)
    return living & (seen.low > by_chance) & (mean + model.made < HARDLY_ANY * seen.low)


def _where_expected(model: Model, start: Floats, noise_cov: Floats) -> list[Floats]:
    """The nearest and the farthest place on each lever that brings unforeseen ants about.

    From too near the search may fall back to where nothing is seen, from too far it may overshoot.
    """
    prior, ways = model.prior, []
    for paths, sign in LEVERS:
        places = [place for place in map(prior.place_of, paths) if place is not None]
        if places:
            way = np.zeros(len(prior))
            way[places] = sign
            ways.append(way)
    tried = start + REACHES[:, None] * np.array(ways)[:, None]
    expected = model.expect(np.vstack([start, tried.reshape(-1, len(prior))]))
    lacking = unforeseen(model, expected[0], noise_cov) & (expected < model.observations.low)
    missed = lacking.sum(axis=1)
    found = missed[1:].reshape(len(ways), -1)
    starts = []
    for places, row in zip(tried, found, strict=True):
        best = np.flatnonzero(row == row.min())
        if row.min() < missed[0]:
            starts += [places[best[0]], places[best[-1]]]
    return starts


def _restarts(model: Model) -> list[Floats]:
    """Where else a search may begin.

    Eggs as early as noted, quicker and slower brood, and larvae that die or are overlooked.
    """
    prior, starts = model.prior, []
    stages = [prior.names.index(f"{stage} duration") for stage in ("egg", "larva", "pupa")]
    onset = prior.place_of("laying.delay_days")
    early = np.zeros(len(prior))
    if onset is not None:
        own = prior.parameters[onset]
        brood = model.cells.stages[:, :-1].any(axis=1) & (model.observations.low > 0)
        first = float(model.cells.days[brood].min(initial=1_000_000)) - 1.5
        # Brood first noted late may have lain there for long.
        early[onset] = min((np.log(max(first, 0.2)) - own.centre) / own.spread, 0.0)
    for quicker in (0.0, -RESTART_OFFSET, RESTART_OFFSET):
        x = early.copy()
        x[stages] += quicker
        starts.append(x)
    # Few larvae: either many of them die, or many are overlooked.
    lives, seen = (prior.names.index(name) for name in ("larva survival", "larvae seen"))
    for offset in (-RESTART_OFFSET, RESTART_OFFSET):
        x = early.copy()
        x[[lives, seen]] += offset, -offset
        starts.append(x)
    return starts


def tempering_power(dispersion: float) -> float:
    """Power to which the notes' likelihood is taken where it makes parameters surer.

    Notes more scattered than the model allows say less; less scattered ones do not say more.
    """
    return TEMPERING / max(1.0, dispersion)


def _search(model: Model, start: Floats, max_iter: int = MAX_ITER) -> Estimate:
    """Follow the steps to their end, and take the most probable point on the way.

    Steps hold the covariance fixed, so that they end where it agrees with them, which is not quite
    where the density is highest.
    """
    here = model.linearise(start)
    sites, scale, spread = Sites.start(model.observations), 1.0, ERROR_SPREAD
    chance, known_at = model.moments(here), here.x
    before, passed = np.zeros(len(start)), []
    for rounds in range(1, max_iter + 1):
        if np.abs(here.x - known_at).max() > RELINEARISE_TOL:
            chance, known_at = model.moments(here), here.x
        growth_cov = chance.cells
        predicted = growth_cov + here.slopes @ here.slopes.T
        error = model.error(here, scale)
        sites = propagate(model.observations, here.at_prior, predicted + np.diag(error), sites)
        scale, spread = _counting_error(model, here, predicted, sites)
        noise_cov = growth_cov + np.diag(model.error(here, scale))
        if rounds > 1:  # at the start the stand-ins are not yet those of the cells
            passed.append(_Place(model, here, noise_cov, sites, (scale, spread)))
        step, gain = _newton_step(model, here, noise_cov, sites)
        swings = rounds > FULL_STEPS and float(step @ before) < 0.0
        before = 0.5 * step if swings else step
        asked = course_asked(
            model.forcing.days,
            model.prior.drift,
            chance.strays[:, :, sites.used],
            sites.covariance(noise_cov),
            (sites.value - here.mean - here.slopes @ before)[sites.used],
        )
        course, strayed = asked.approached(model.course, model.prior.drift)
        if strayed > COURSE_TOL:
            model, here, chance = _on_course(model, here.x + before, course)
            known_at = here.x
        else:
            here = model.linearise(here.x + before)
        moved = max(float(np.abs(step).max()), COURSE_WEIGHT * strayed)
        if moved < TOL or (moved < 2 * TOL and gain < LEAST_GAIN):
            break
    if (here.x != known_at).any():
        chance = model.moments(here)
    noise_cov = chance.cells + np.diag(model.error(here, scale))
    end = _Place(model, here, noise_cov, sites, (scale, spread))
    best = max(passed, key=lambda place: place.log_density, default=end)
    return _rather(best, end).estimate(rounds, moved < 5 * TOL)


def _on_course(model: Model, x: Floats, course: Course) -> tuple[Model, Linearisation, Moments]:
    """The model on a course, with slopes and chance around it."""
    model = model.along(course)
    here = model.linearise(x)
    chance = model.moments(here)
    made = course.makes(chance.strays)
    return model.along(replace(course, made=made)), replace(here, mean=here.mean - made), chance


def _rather(passed: Found, settled: Found) -> Found:
    """Where a search settled, or a place that was passed if it is likelier by far."""
    return passed if passed.log_density > settled.log_density + WORTH_GOING_BACK else settled


@dataclass(frozen=True, eq=False)
class _Place:
    """A point that a search comes to; see `Estimate`."""

    model: Model
    here: Linearisation
    noise_cov: Floats
    sites: Sites
    error: tuple[float, float]

    @cached_property
    def log_density(self) -> float:
        """Of parameters and notes."""
        here, noted = self.here, self.model.observations
        return (
            log_probability(noted, here.mean, self.noise_cov)
            - 0.5 * float(here.x @ here.x)
            - UNFORESEEN * int(unforeseen(self.model, here.mean, self.noise_cov).sum())
        )

    def estimate(self, rounds: int, converged: bool) -> Estimate:
        """The normal posterior around this point."""
        x, sites = self.here.x, self.sites
        slopes, rest = whitened_residuals(self.noise_cov, sites, self.here.slopes, self.here.mean)
        exact = np.isinf(sites.precision[sites.used])
        dispersion = float(rest @ rest + x @ x + 10.0) / (max(len(rest), 1) + 10.0)
        dispersion = dispersion if exact.any() else 1.0
        return Estimate(
            x=x,
            cov=linalg.inv(tempering_power(dispersion) * slopes.T @ slopes + np.eye(len(x))),
            linearised=self.here,
            noise_cov=self.noise_cov,
            sites=sites,
            error_scale=self.error[0],
            error_spread=self.error[1],
            dispersion=dispersion,
            log_density=self.log_density,
            rounds=rounds,
            converged=converged,
            course=self.model.course,
        )


def _newton_step(
    model: Model, here: Linearisation, noise_cov: Floats, sites: Sites
) -> tuple[Floats, float]:
    """The Gauss-Newton step, shortened where a shorter one is better, and what it should gain.

    The gain is that of the log density by the whole step: half of Newton's decrement.
    """
    x = here.x
    white_slopes, whitened = whitened_residuals(noise_cov, sites, here.slopes, here.mean)
    curvature = white_slopes.T @ white_slopes + np.eye(len(x))
    step = np.asarray(np.linalg.solve(curvature, white_slopes.T @ whitened - x), float)
    longest = float(np.abs(step).max())
    gain = 0.5 * float(step @ curvature @ step)
    if longest < RELINEARISE_TOL:
        return step, gain
    step *= min(1.0, MAX_STEP / longest)
    tried = np.array([0.0, 0.0625, 0.25, 0.5, 1.0])
    places = x + tried[:, None] * step
    cost = np.empty(len(tried))
    for k, there in enumerate(model.expect(places)):
        rest = whitened_residuals(noise_cov, sites, here.slopes, there)[1]
        missed = int(unforeseen(model, there, noise_cov).sum())  # where slopes would not lead back
        cost[k] = rest @ rest + places[k] @ places[k] + 2.0 * UNFORESEEN * missed
    return float(tried[np.argmin(cost)]) * step, gain


def whitened_residuals(
    noise_cov: Floats, sites: Sites, slopes: Floats, mean: Floats
) -> tuple[Floats, Floats]:
    """Slopes and residuals of the used cells, made independent with variance 1."""
    used = sites.used
    factor = linalg.cholesky(sites.covariance(noise_cov), lower=True)
    both = np.column_stack([slopes[used], (sites.value - mean)[used]])
    white = linalg.solve_triangular(factor, both, lower=True)
    return white[:, :-1], white[:, -1]


def _counting_error(
    model: Model, here: Linearisation, predicted: Floats, sites: Sites
) -> tuple[float, float]:
    """Most probable scale of the counting error, and its log-sd."""
    if not sites.used.any():
        return 1.0, ERROR_SPREAD
    places = np.log(ERROR_SCALES)
    errors = (np.diag(model.error(here, scale)) for scale in ERROR_SCALES)
    worth = np.array([log_density(sites, here.at_prior, predicted + error) for error in errors])
    worth -= 0.5 * (places / ERROR_SPREAD) ** 2
    weight = np.exp(worth - worth.max())
    weight /= weight.sum()
    middle = float(weight @ places)
    return float(np.exp(middle)), float(np.sqrt(weight @ (places - middle) ** 2))
