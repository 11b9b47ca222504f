"""Whole-number colonies: the life cycle played out by chance, many colonies at once.

Each day whole numbers of ants are drawn that are laid, die, move on to the next stage, find a place
or stay. Where in a stage the others stand is known only by expectation, given when they entered
and that they are still there, so that the cost does not grow with the number of ants.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from antgrowth._core.threads import on_one_thread
from antgrowth.model.common_random_numbers import Chance, CommonChance, FreeChance
from antgrowth.model.life_cycle import (
    BINS,
    EGG,
    LARVA,
    PUPA_FIRST,
    PUPA_LATER,
    ROWS,
    LifeCycle,
    Moved,
)
from antgrowth.model.parameters import Laws, Transfer
from antgrowth.model.thermal_forcing import ThermalForcing

__all__ = ["simulate", "whole_ants"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@on_one_thread
def simulate(
    laws: Laws,
    forcing: ThermalForcing,
    rng: np.random.Generator | CommonChance,
    *,
    start_day: int = 0,
    states: Floats | None = None,
) -> Ints:
    """Let one colony per draw grow by chance.

    Parameters
    ----------
    laws : Laws
        Parameters of each colony.
    forcing : ThermalForcing
        From day 0; the colonies grow until its end.
    rng : numpy.random.Generator or CommonChance
        The latter where colonies are to be compared that grow under several plans.
    start_day : int
        Day at whose start the colonies stand; 0 is the founding.
    states : array, shape (draws, size), optional
        What is in the nests then, in whole numbers (`whole_ants`); nothing but the queen if not
        given.

    Returns
    -------
    array of int, shape (draws, days - start_day + 1, 4)
        Eggs, larvae, pupae, workers at the start of `start_day` and the end of each day after.
    """
    chance: Chance = rng if isinstance(rng, CommonChance) else FreeChance(rng)
    cycle = LifeCycle(laws, forcing)
    if states is None:
        states = np.zeros((len(laws), cycle.state.size))
        strays = laws.drift * chance.on(start_day - 1).normal((len(laws), len(laws.drift)))
        states[:, cycle.state.drift] = strays
    nests = _Nests(cycle, states)
    counts = np.empty((len(laws), forcing.days - start_day + 1, 4), dtype=np.int64)
    counts[:, 0] = nests.counts
    for step, day in enumerate(range(start_day, forcing.days), start=1):
        nests.live(day, chance.on(day))
        counts[:, step] = nests.counts
    return counts


def whole_ants(cycle: LifeCycle, states: Floats) -> Floats:
    """States whose ants are whole numbers: totals are rounded, none is below zero.

    Where they stand within a stage stays as it is, evenly spread if nothing is known of it.
    """
    layout, whole = cycle.state, states.copy()
    brood = states[:, layout.brood].reshape(len(states), len(ROWS), BINS)
    workers = states[:, layout.workers].reshape(len(states), 2, layout.ages)
    whole[:, layout.brood] = _rounded(brood).reshape(len(states), -1)
    whole[:, layout.workers] = _rounded(workers).reshape(len(states), -1)
    whole[:, layout.waiting] = np.rint(np.maximum(states[:, layout.waiting], 0.0))
    return whole


def _rounded(groups: Floats) -> Floats:
    """Groups of like ants (last axis), scaled to whole numbers in all."""
    total = np.rint(np.maximum(groups.sum(axis=-1, keepdims=True), 0.0))
    there = np.maximum(groups, 0.0)
    known = there.sum(axis=-1, keepdims=True)
    even = np.full_like(groups, 1.0 / groups.shape[-1])
    found: Floats = total * np.where(known > 1e-9, there / np.maximum(known, 1e-12), even)
    return found


class _Nests:
    """All colonies of a simulation: whole numbers, and states that add up to them."""

    def __init__(self, cycle: LifeCycle, states: Floats) -> None:
        self.cycle, self.states, layout = cycle, states.copy(), cycle.state
        draws = len(states)
        brood = states[:, layout.brood].reshape(draws, len(ROWS), BINS)
        workers = states[:, layout.workers].reshape(draws, 2, layout.ages)
        self.brood = np.rint(brood.sum(axis=-1)).astype(np.int64)
        self.waiting = np.rint(states[:, layout.waiting.start]).astype(np.int64)
        self.workers = np.rint(workers.sum(axis=-1)).astype(np.int64)
        self.fresh = cycle.laws.drift * np.sqrt(1.0 - cycle.drift_kept**2)

    @property
    def counts(self) -> Ints:
        """Eggs, larvae, pupae, workers, shape (draws, 4)."""
        eggs, growing, first, later = self.brood.T
        return np.stack(
            [eggs, growing + self.waiting, first + later, self.workers.sum(axis=-1)], axis=-1
        )

    def live(self, day: int, chance: Chance) -> None:
        """A day."""
        cycle, layout, states = self.cycle, self.cycle.state, self.states
        controls = cycle.controls(day, cycle.signals(day, states, whole=True), whole=True)
        moved = cycle.move(day, states, controls)
        staying = np.einsum("drk->dr", moved.staying)
        alive = staying + moved.leaving
        living = chance.binomial(self.brood, alive / np.maximum(self.brood, 1))
        leaving = self._leaving(living, moved, alive, chance)
        left = living - leaving
        hatched, pupating = leaving[:, EGG], leaving[:, LARVA]
        asking = chance.binomial(self.waiting, cycle.waiting_alive(day)) + hatched
        placed = chance.rounded(asking * controls.placed)
        first = np.where(controls.first > 0.5, pupating, 0)
        entering = np.stack([placed, first, pupating - first], axis=1)
        entering = np.column_stack([
            chance.poisson(controls.eggs * moved.half[:, EGG]),
            chance.binomial(entering, moved.half[:, LARVA:]),
        ])  # fmt: skip
        kept = moved.staying * (left / np.maximum(staying, 1e-12))[..., None]
        kept = cycle.enter(day, moved._replace(staying=kept), controls.first, entering)
        self.brood = left + entering
        self.waiting = asking - placed
        older = self._age(day, chance)
        older[..., 0] += leaving[:, PUPA_FIRST:]
        self.workers = self.workers + leaving[:, PUPA_FIRST:]
        states[:, layout.brood] = kept.reshape(len(states), -1)
        states[:, layout.waiting.start] = self.waiting
        states[:, layout.workers] = older.reshape(len(states), -1)
        strays = self.fresh * chance.normal((len(states), len(self.fresh)))
        states[:, layout.drift] = states[:, layout.drift] * cycle.drift_kept + strays
        for transfer in cycle.transfers(day):
            self._carry(transfer, chance)

    @staticmethod
    def _leaving(living: Ints, moved: Moved, alive: Floats, chance: Chance) -> Ints:
        """How many of the living complete their stage."""
        scale = living / np.maximum(alive, 1e-12)
        due = np.minimum(np.ceil(moved.due * scale - 1e-9), living).astype(np.int64)
        return chance.binomial(due, moved.leaving * scale / np.maximum(due, 1))

    def _age(self, day: int, chance: Chance) -> Floats:
        """Let workers die, and tell of those left how old they are, shape (draws, 2, ages)."""
        layout = self.cycle.state
        workers = self.states[:, layout.workers].reshape(len(self.states), 2, layout.ages)
        older, dying = self.cycle.aged(day, workers)
        dead = chance.binomial(self.workers, dying / np.maximum(self.workers, 1))
        self.workers = self.workers - dead
        found: Floats = older * (self.workers / np.maximum(older.sum(axis=-1), 1e-12))[..., None]
        return found

    def _carry(self, transfer: Transfer, chance: Chance) -> None:
        """Carry whole ants in, of any age, or out; out at most those who are there."""
        number = round(transfer.number)
        if number < 0:
            there = self.counts[:, transfer.stage]
            self._take(transfer.stage, np.minimum(-number, there), chance)
            return
        places = self.cycle.places_of(transfer.stage, arriving=True)
        self.states[:, places] += chance.scattered(number, len(self.states), len(places))
        if transfer.stage == 3:
            self.workers[:, 1] += number
        else:
            self.brood[:, [EGG, LARVA, PUPA_LATER][transfer.stage]] += number

    def _take(self, stage: int, number: Ints, chance: Chance) -> None:
        """Take ants of a stage out, from its groups by chance."""
        layout, states = self.cycle.state, self.states
        if stage == 3:
            groups = self.workers
        else:
            rows = [[EGG], [LARVA], [PUPA_FIRST, PUPA_LATER]][stage]
            groups = self.brood[:, rows]
            if stage == LARVA:
                groups = np.column_stack([groups, self.waiting])
        share = groups[:, 0] / np.maximum(groups.sum(axis=1), 1)
        taken = chance.binomial(number, share) if groups.shape[1] > 1 else number
        taken = np.minimum(taken, groups[:, 0])
        other = number - taken
        if groups.shape[1] > 1:  # what one group lacks is taken from the other
            lacking = np.maximum(other - groups[:, 1], 0)
            taken, other = taken + lacking, other - lacking
        left = groups - np.column_stack([taken, other])[:, : groups.shape[1]]
        factor = left / np.maximum(groups, 1)
        if stage == 3:
            self.workers = left
            parts = states[:, layout.workers].reshape(len(states), 2, layout.ages)
            states[:, layout.workers] = (parts * factor[..., None]).reshape(len(states), -1)
            return
        for place, row in enumerate(rows):
            self.brood[:, row] = left[:, place]
            states[:, layout.row(row)] *= factor[:, [place]]
        if stage == LARVA:
            self.waiting = left[:, 1]
            states[:, layout.waiting.start] = self.waiting
