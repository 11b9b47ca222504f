"""The colony as it stands after the last note: whole ants, their stages and ages.

Growth by chance and the notes are jointly normal, so what stands in the nest follows from them by
conditioning. Within a stage, ages are spread as the draw's own growth expects.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, special

from antgrowth.cohorts import Standing, stand
from antgrowth.ensemble import Packets
from antgrowth.inference import Estimate, Model
from antgrowth.laws import Climate
from antgrowth.moments import Cells
from antgrowth.stages import STAGES

__all__ = ["standing_packets"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FORECAST_PACES = 4
"""Number of paces among brood of known age; fewer than in the fit, for speed."""


def standing_packets(
    model: Model,
    best: Estimate,
    x: Floats,
    climate: Climate,
    days: int,
    rng: np.random.Generator,
) -> Packets:
    """What stands in the nest at the end of the log, one colony per draw.

    Parameters
    ----------
    model : Model
    best : Estimate
    x : array, shape (draws, parameters)
        Posterior draws in whitened coordinates.
    climate : Climate
        From day 0 to beyond the log.
    days : int
        Length of the log. [day]
    rng : numpy.random.Generator
    """
    growth, standing = stand(model.prior.laws(x), climate, days, FORECAST_PACES)
    now = _stages_now(model, best, x, growth, days, rng)
    parts = [_spread_brood(now[:, stage], stage, standing, rng) for stage in range(3)]
    return Packets.joined([*parts, _spread_workers(now[:, 3], standing, rng)])


def _stages_now(model, best, x, growth, days, rng) -> Ints:
    """Whole numbers in each stage given the notes, shape (draws, 4)."""
    present = Cells(np.full(len(STAGES), days), np.eye(len(STAGES)))
    joint = model.scatter(best.x, present)
    used, cells = best.sites.used, len(model.cells)
    seen = np.flatnonzero(used)
    noise = np.diag(best.scatter)[used] - np.diag(joint)[seen] + best.sites.extra_variance
    noted = joint[np.ix_(seen, seen)] + np.diag(np.maximum(noise, 1e-6))
    link = joint[np.ix_(seen, np.arange(cells, cells + len(STAGES)))]
    gain = linalg.cho_solve(linalg.cho_factor(noted), link).T
    surprise = best.sites.value[used] - model.expect(x, growth)[:, used]
    centre = growth.counts[:, days] + surprise @ gain.T
    left = joint[cells:, cells:] - gain @ link
    sd = np.sqrt(np.maximum(np.diag(left), 1e-6))
    mixed = linalg.sqrtm(left / np.outer(sd, sd) + 1e-9 * np.eye(len(STAGES))).real
    chance = rng.standard_normal(centre.shape) @ mixed.T
    # Normal, given that no count is below zero: the smallest rounds to 0.
    floor = special.ndtr((-0.5 - centre) / sd)
    share = floor + (1.0 - floor) * special.ndtr(chance)
    value = centre + sd * special.ndtri(np.clip(share, 1e-12, 1 - 1e-12))
    return np.rint(np.maximum(value, -0.4)).astype(np.int64)


def _spread_brood(
    number: Ints, stage: int, standing: Standing, rng: np.random.Generator
) -> Packets:
    weights = standing.brood[:, :, stage]
    shape = weights.shape[1:]
    draw, place, held = _deal(number, weights.reshape(len(number), -1), rng)
    age, kind, pace = np.unravel_index(place, shape)
    return Packets(
        draw=draw,
        number=held,
        stage=np.full(len(draw), stage, dtype=np.int64),
        first=kind == 0,
        pace=standing.pace[pace],
        entered=standing.entered[draw, age, stage, kind, pace],
    )


def _spread_workers(number: Ints, standing: Standing, rng: np.random.Generator) -> Packets:
    weights = standing.workers
    draw, place, held = _deal(number, weights.reshape(len(number), -1), rng)
    day, kind = np.unravel_index(place, weights.shape[1:])
    return Packets(
        draw=draw,
        number=held,
        stage=np.full(len(draw), 3, dtype=np.int64),
        first=kind == 0,
        pace=np.ones(len(draw)),
        entered=day + 0.5,
    )


def _deal(
    number: Ints, weights: Floats, rng: np.random.Generator
) -> tuple[Ints, Ints, Ints]:
    """Deal each draw's number out over places by weight: draw, place and size of each hand."""
    # A draw that expects nobody where the notes say somebody borrows the ages of the others.
    usual = weights.mean(axis=0)
    usual = usual if usual.sum() > 0 else np.ones_like(usual)
    weights = weights + 1e-9 * usual
    chance = weights / weights.sum(axis=1, keepdims=True)
    hands = rng.multinomial(number, chance)
    draw, place = np.nonzero(hands)
    return draw, place, hands[draw, place]
