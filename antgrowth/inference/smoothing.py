"""What the nest held on days past, given all notes.

Growth by chance and the notes are jointly normal, so what stood in the nest on any day follows from
them by conditioning: on the last day (`initial_state`) as on one between two looks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

from antgrowth._core.arrays import Floats
from antgrowth._core.stages import STAGES
from antgrowth.inference.brood_loss import MixtureComponent, allocate
from antgrowth.inference.laplace import Estimate, Linearisation, Model
from antgrowth.inference.psis import plausible_draws
from antgrowth.model.covariance import Cells
from antgrowth.model.mean_field import Growth

DAYS, DRAWS, EACH = 60, 200, 4
"""A whole past is worked out for about so many days besides those of the looks, for so many
posterior draws and nests of each."""


def stage_cells(times: NDArray[np.intp]) -> Cells:
    """All stages at some times, the stages of a time one after the other."""
    return Cells(
        np.repeat(times, len(STAGES)),
        np.tile(np.eye(len(STAGES), len(STAGES) + 1), (len(times), 1)),
    )


def condition_on(
    model: Model, best: Estimate, x: Floats, growth: Growth, others: Cells
) -> tuple[Floats, Floats]:
    """True counts that nobody noted, given those that somebody did.

    In posterior draws x (whitened), with the growth at x as far as the last of all cells. The mean
    in each draw, shape (draws, others); and the covariance by chance, the same in all draws.
    """
    chance = model.moments(_reaching(model, best, growth), others)
    joint = chance.cells
    first = len(model.cells)
    gain = gain_of(model, best, joint[:first, :first], joint[:first, first:])
    used = best.sites.used
    innovation = (best.sites.value - model.expect(x, growth))[:, used]
    mean = others.mean(growth) + innovation @ gain.T - model.makes(chance.strays[..., first:])
    return mean, joint[first:, first:] - gain @ joint[:first, first:][used]


def gain_of(model: Model, best: Estimate, own: Floats, link: Floats) -> Floats:
    """How unseen numbers answer to what was noted otherwise than expected, (others, used cells).

    `own` is the covariance of the noted cells by chance of growth, `link` that of noted and unseen.
    """
    used = best.sites.used
    counting = model.error(best.linearised, best.error_scale)[used] + best.sites.extra_variance
    noted = own[np.ix_(used, used)] + np.diag(counting)
    found: Floats = linalg.cho_solve(linalg.cho_factor(noted), link[used]).T
    return found


def _reaching(model: Model, best: Estimate, growth: Growth) -> Linearisation:
    """The best point with growth as far as the last of all cells."""
    last = growth.counts.shape[1] - 1
    return replace(best.linearised, growth=model.grow(best.x[None], last))


def smooth(
    components: Sequence[MixtureComponent],
    times: NDArray[np.intp],
    draws: int,
    each: int,
    rng: np.random.Generator,
) -> Floats:
    """What the nest may have held at past times, 1 being the end of day 0.

    Posterior draws are shared out among the components, and `each` gives so many nests: shape
    (draws * each, times, 4). A nest strays to the same side at all times: its path shows no leaps.
    """
    parts, now = [], stage_cells(times)
    for component, share in zip(components, allocate(components, draws), strict=True):
        if not share:
            continue
        x = plausible_draws(component.model, component.estimate, share, rng)
        growth = component.model.grow(x, int(times.max()))
        mean, cov = condition_on(component.model, component.estimate, x, growth, now)
        own = cov.reshape(len(times), len(STAGES), len(times), len(STAGES))
        own = own[np.arange(len(times)), :, np.arange(len(times))]
        size, axes = np.linalg.eigh(own)
        root = (axes * np.sqrt(np.maximum(size, 0.0))[:, None]) @ axes.transpose(0, 2, 1)
        chance = rng.standard_normal((share * each, len(STAGES)))
        mean = np.repeat(mean, each, axis=0).reshape(-1, len(times), len(STAGES))
        parts.append(mean + np.einsum("tij,dj->dti", root, chance))
    found: Floats = np.maximum(np.concatenate(parts), 0.0)
    return found


def each_evening(
    components: Sequence[MixtureComponent], evenings: NDArray[np.intp], rng: np.random.Generator
) -> Floats:
    """What the nest may have held on evenings in a row, to the last note: (nests, evenings, 4).

    1 is the end of day 0. A straight line between the days worked out.
    """
    visits = components[0].model.cells.days
    spacing = -(-len(evenings) // DAYS)
    times = np.union1d(evenings[::spacing], [*visits[visits >= evenings[0]], evenings[-1]])
    held = smooth(components, times, DRAWS, EACH, rng)
    place = np.interp(evenings, times, np.arange(len(times)))
    before = np.minimum(place.astype(np.intp), len(times) - 2)
    part = (place - before)[:, None]
    return held[:, before] + part * (held[:, before + 1] - held[:, before])
