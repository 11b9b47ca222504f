"""The colony as it stands after the last note: whole ants, their ages, and its drift.

The state of that evening and the notes are jointly normal, so that it follows by conditioning: of
brood and workers of every age alike, and of what has made the colony lay or rear more than usual.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from antgrowth._core.arrays import Floats
from antgrowth.inference.laplace import Estimate, Model
from antgrowth.inference.smoothing import gain_of
from antgrowth.model.growth_law import LARVA, PUPA_FIRST, PUPA_LATER
from antgrowth.model.life_cycle import LifeCycle, State
from antgrowth.model.parameters import Laws
from antgrowth.model.simulation import whole_ants
from antgrowth.model.thermal_forcing import ThermalForcing

SHIFT_GRAIN_C = 0.25
"""Draws share rates when their rate curves lie this close, which makes forecasts quick. [°C]"""


@dataclass(frozen=True, eq=False)
class InitialState:
    """Where a colony stands at the end of its log, for a number of posterior draws."""

    laws: Laws  # growth laws of each draw
    forcing: ThermalForcing  # up to the end of the log
    mean: Floats  # state expected given the notes; see `life_cycle.State`, shape (draws, size)
    # Turns independent standard normals into what chance leaves open of it, shape (size, size)
    root: Floats

    @classmethod
    def of(cls, model: Model, best: Estimate, x: Floats) -> InitialState:
        """Where the colony of a fit stands, by posterior draws in whitened coordinates."""
        x = model.prior.with_round_shifts(x, SHIFT_GRAIN_C)
        laws, day = model.prior.laws(x), model.forcing.days
        growth = model.grow(x, day)
        at_best = replace(best.linearised, growth=model.grow(best.x[None], day))
        chance = model.moments(at_best, last=day)
        gain = gain_of(model, best, chance.cells, chance.link)
        used = best.sites.used
        innovation = (best.sites.value - model.expect(x, growth))[:, used]
        size, axes = np.linalg.eigh(chance.last - gain @ chance.link[used])
        root = axes * np.sqrt(np.maximum(size, 0.0))
        told = innovation @ gain.T
        mean = growth.last + told - model.makes(chance.strays[..., len(model.cells) :])
        drift = State.of(laws).drift
        mean[:, drift] = told[:, drift]  # before the notes, it may stray to either side
        return cls(laws, model.forcing, mean, root)

    @property
    def counts(self) -> Floats:
        """Ants expected in each stage, shape (draws, 4)."""
        return State.of(self.laws).counts(self.mean)

    def spread(self, draws: int) -> InitialState:
        """So many draws, by taking the same ones several times where there are fewer."""
        again = np.arange(draws) % len(self.laws)
        return replace(self, laws=self.laws.take(again), mean=self.mean[again])

    def states(self, rng: np.random.Generator) -> Floats:
        """Whole ants that may be in the nest, one colony per draw, shape (draws, size)."""
        chance = rng.standard_normal(self.mean.shape) @ self.root.T
        cycle = LifeCycle(self.laws, self.forcing)
        return whole_ants(cycle, without_debts(cycle.state, self.mean + chance))


def without_debts(layout: State, states: Floats) -> Floats:
    """Drawn states in which neither group of a stage is below zero, and both are whole.

    Larvae grow or wait, pupae and workers are first ones or later ones; the notes know them
    together. What chance or rounding takes too much from one group the other has to give, so that
    the stage holds what was drawn of it, rounded. Shape (draws, size).
    """
    middle = layout.workers.start + layout.ages
    groups = (
        (layout.row(LARVA), layout.waiting),
        (layout.row(PUPA_FIRST), layout.row(PUPA_LATER)),
        (slice(layout.workers.start, middle), slice(middle, layout.workers.stop)),
    )
    paid = states.copy()
    for pair in groups:
        there = [states[:, places].sum(axis=1) for places in pair]
        total = np.rint(np.maximum(there[0] + there[1], 0.0))
        first = np.rint(np.clip(there[0], 0.0, total))
        # Where only one group is there, there is none to take a part of.
        first = np.where(there[1] <= 0, total, np.where(there[0] <= 0, 0.0, first))
        for places, own, wanted in zip(pair, there, (first, total - first), strict=True):
            paid[:, places] *= np.where(own > 0, wanted / np.where(own > 0, own, 1.0), 0.0)[:, None]
    return paid
