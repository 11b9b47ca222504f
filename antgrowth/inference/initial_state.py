"""The colony as it stands after the last note: whole ants, their stages and ages.

What stands in the nest follows from growth by chance and the notes (`smoothing`). Within a stage,
ages are spread as the draw's own growth expects.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, special

from antgrowth._core.stages import STAGES
from antgrowth.inference.laplace import Estimate, Model
from antgrowth.inference.smoothing import given_notes, stage_cells
from antgrowth.model.age_structure import Places, stand
from antgrowth.model.parameters import Laws
from antgrowth.model.simulation import Packets

__all__ = ["Present"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

PACES = 3
"""Number of paces among brood of known age; fewer than in the fit, for speed."""

SHIFT_GRAIN_C = 0.25
"""Draws share clocks when their rate curves lie this close, which makes forecasts quick. [°C]"""


@dataclass(frozen=True, eq=False)
class Present:
    """Where a colony stands at the end of its log, for a number of posterior draws.

    Attributes
    ----------
    laws : Laws
        Growth laws of each draw.
    day : int
        End of the log, in days from day zero.
    centre : array, shape (draws, 4)
        Ants expected in each stage, given the notes.
    sd : array, shape (4,)
        Their standard deviation by chance.
    mixing : array, shape (4, 4)
        Turns independent standard normals into ones that hang together as the stages do.
    places : list of Places
        Ages expected in each stage.
    """

    laws: Laws
    day: int
    centre: Floats
    sd: Floats
    mixing: Floats
    places: list[Places]

    @classmethod
    def of(cls, model: Model, best: Estimate, x: Floats) -> Present:
        """Where the colony of a fit stands.

        Parameters
        ----------
        model : Model
        best : Estimate
        x : array, shape (draws, parameters)
            Posterior draws in whitened coordinates.
        """
        x = model.prior.with_round_shifts(x, SHIFT_GRAIN_C)
        laws, day = model.prior.laws(x), model.climate.days
        growth, places = stand(laws, model.climate, day, PACES)
        centre, cov = given_notes(model, best, x, growth, stage_cells(np.array([day])))
        sd = np.sqrt(np.maximum(np.diag(cov), 1e-6))
        correlation = cov / np.outer(sd, sd) + 1e-9 * np.eye(len(STAGES))
        return cls(laws, day, centre, sd, linalg.sqrtm(correlation).real, places)

    def spread(self, draws: int) -> Present:
        """So many draws, by taking the same ones several times where there are fewer."""
        again = np.arange(draws) % len(self.laws)
        places = [Places(p.number[again], p.entered[again], p.first, p.pace) for p in self.places]
        return replace(self, laws=self.laws.take(again), centre=self.centre[again], places=places)

    def packets(self, rng: np.random.Generator) -> Packets:
        """Whole ants that may stand in the nest, one colony per draw."""
        numbers = self._numbers(rng)
        return Packets.joined(
            [
                _deal(numbers[:, stage], stage, places, self.day, rng)
                for stage, places in enumerate(self.places)
            ]
        )

    def _numbers(self, rng: np.random.Generator) -> Ints:
        """Whole numbers in each stage, shape (draws, 4)."""
        chance = rng.standard_normal(self.centre.shape) @ self.mixing.T
        # Normal, given that no count is below zero: the smallest rounds to 0.
        floor = special.ndtr((-0.5 - self.centre) / self.sd)
        share = floor + (1.0 - floor) * special.ndtr(chance)
        value = self.centre + self.sd * special.ndtri(np.clip(share, 1e-12, 1 - 1e-12))
        return np.rint(np.maximum(value, -0.4)).astype(np.int64)


def _deal(number: Ints, stage: int, places: Places, day: int, rng: np.random.Generator) -> Packets:
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
        seen=np.full(len(draw), float(day)),
    )
