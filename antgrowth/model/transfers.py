"""Ants carried in or out: adopted brood, workers given away or escaped.

They are no growth, but they live, develop and die like others, make work for the nurses and help
with it. Their age within the stage is not known and is spread evenly. Ants carried out are counted
as fewer: what they would have become is taken away as well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from antgrowth.model.parameters import Laws, Move
from antgrowth.model.thermal_time import Clocks

__all__ = ["Carried", "carry"]

Floats = NDArray[np.float64]

AGES = 8
"""Number of equally likely ages that stand for those of carried ants."""

OLDEST_WORKER = 0.5
"""Carried workers are up to this share of their life old (assumed)."""


@dataclass(frozen=True, eq=False)
class Carried:
    """Ants carried in or out, by age; the last axis runs over moves times ages.

    Attributes
    ----------
    day : array, shape (carried,)
        When they were carried. [day]
    number : array, shape (carried,)
        How many; below zero where carried out.
    stage : array of int, shape (carried,)
        0 egg, 1 larva, 2 pupa, 3 worker, when carried.
    entered : array, shape (draws, 4, carried)
        When they entered each stage, after the last day if not by then; those before the stage
        they came in are not used. [day]
    share : array, shape (draws, 4, carried)
        Share that lives to enter each stage, of those carried.
    laws : Laws
    clocks : Clocks
    """

    day: Floats
    number: Floats
    stage: NDArray[np.intp]
    entered: Floats
    share: Floats
    laws: Laws
    clocks: Clocks

    def alive(self, stage: int, time: Floats) -> Floats:
        """Expected number in a stage at times [day], shape (draws, times, carried)."""
        began = np.maximum(self.entered[:, stage], self.day)[:, None]
        here = (self.stage <= stage) & (time[:, None] >= began)
        if stage < 3:
            here &= time[:, None] < self.entered[:, stage + 1][:, None]
            clock, loss = self.clocks.stages[stage], self.clocks.losses[stage]
            hazard = -np.log(self.laws.survival[:, stage]) / self.laws.days[:, stage]
            now = np.minimum(time, clock.days)[None, :, None]
            lost = hazard[:, None, None] * (clock.at(now) - clock.at(np.maximum(began, 0.0)))
            living = np.exp(-lost - (loss.at(now) - loss.at(np.maximum(began, 0.0))))
        else:
            ageing, life = self.clocks.ageing, self.laws.life[:, None, None]
            age = ageing.at(np.minimum(time, ageing.days)[None, :, None]) - ageing.at(
                self.entered[:, 3][:, None]
            )
            then = ageing.at(began) - ageing.at(self.entered[:, 3][:, None])
            shape = self.laws.life_shape
            living = np.exp((then / life) ** shape - (np.maximum(age, then) / life) ** shape)
        return np.where(here, self.number * self.share[:, stage][:, None] * living, 0.0)

    def counts(self, days: int) -> Floats:
        """Expected ants at the start of each day, shape (days + 1, draws, 4)."""
        time = np.arange(days + 1.0)
        stages = [self.alive(stage, time).sum(axis=-1).T for stage in range(4)]
        return np.stack(stages, axis=-1)


def carry(laws: Laws, clocks: Clocks, moves: tuple[Move, ...]) -> Carried:
    """Follow ants carried in or out.

    Parameters
    ----------
    laws : Laws
    clocks : Clocks
    moves : tuple of Move
    """
    age = (np.arange(AGES) + 0.5) / AGES
    day = np.repeat([float(move.day) for move in moves], AGES)
    number = np.repeat([move.number / AGES for move in moves], AGES)
    stage = np.repeat([move.stage for move in moves], AGES)
    age = np.tile(age, len(moves))
    draws, end = len(laws), np.full((len(laws), 1), float(clocks.stages[0].days))
    entered = np.broadcast_to(day, (draws, 4, len(day))).copy()
    share = np.ones((draws, 4, len(day)))
    ageing, back = clocks.ageing, OLDEST_WORKER * laws.life[:, None] * age
    old = ageing.before(day[None] + np.zeros((draws, 1)), back)
    entered[:, 3] = np.where(stage == 3, old, entered[:, 3])
    for s in range(3):
        clock, loss, need = clocks.stages[s], clocks.losses[s], laws.days[:, [s]]
        starts = stage == s
        entered[:, s] = np.where(
            starts, clock.before(day[None] + np.zeros((draws, 1)), need * age), entered[:, s]
        )
        began = np.maximum(entered[:, s], day)
        ready = clock.at(entered[:, s]) + need
        done = np.maximum(clock.when(ready), began)
        passed = (clock.at(done) - clock.at(began)) / need
        lost = -np.log(laws.survival[:, [s]]) * passed + loss.at(done) - loss.at(began)
        before = stage <= s
        # Whoever is not ready when the clock ends has entered nothing by then.
        done = np.where(ready <= clock.at(end), done, end + 1.0)
        entered[:, s + 1] = np.where(before, done, entered[:, s + 1])
        share[:, s + 1] = np.where(before, share[:, s] * np.exp(-lost), share[:, s + 1])
    return Carried(day, number, stage, entered, share, laws, clocks)
