"""The colony as it stands after the last note: whole ants, their stages and ages.

Growth by chance and the notes are jointly normal, so what stands in the nest follows from them by
conditioning. Within a stage, ages are spread as the draw's own growth expects.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, special

from antgrowth.ensemble import Packets
from antgrowth.inference import Estimate, Model
from antgrowth.laws import Climate
from antgrowth.moments import Cells
from antgrowth.stages import STAGES
from antgrowth.standing import Places, stand

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
    growth, stages = stand(model.prior.laws(x), climate, days, FORECAST_PACES)
    now = _stages_now(model, best, x, growth, days, rng)
    return Packets.joined(
        [_deal(now[:, stage], stage, places, days, rng) for stage, places in enumerate(stages)]
    )


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


def _deal(
    number: Ints, stage: int, places: Places, days: int, rng: np.random.Generator
) -> Packets:
    """Deal each draw's number in a stage out over its places, by what they are expected to hold."""
    # A draw that expects nobody where the notes say somebody borrows the ages of the others.
    usual = places.number.mean(axis=0)
    usual = usual / usual.sum() if usual.sum() > 1e-200 else np.ones_like(usual)
    weights = places.number + 1e-9 * usual
    hands = rng.multinomial(number, weights / weights.sum(axis=1, keepdims=True))
    draw, place = np.nonzero(hands)
    return Packets(
        draw=draw,
        number=hands[draw, place],
        stage=np.full(len(draw), stage, dtype=np.int64),
        first=places.first[place],
        pace=places.pace[place],
        entered=places.entered[draw, place],
        seen=np.full(len(draw), float(days)),
    )
