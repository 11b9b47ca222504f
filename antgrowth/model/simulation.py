"""Whole-number colonies: the life cycle played out by chance, many colonies at once.

Each day whole numbers of ants are drawn that are laid, die, move on to the next stage, find a place
or stay. Where in a stage the others stand is known only by expectation, given when they entered
and that they are still there, so that the cost does not grow with the number of ants.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from antgrowth._core.arrays import Floats, Ints
from antgrowth._core.compiled import compiled
from antgrowth._core.stages import STAGES, WORKERS
from antgrowth._core.threads import on_one_thread
from antgrowth.model.common_random_numbers import CommonChance, binomial_quantile, poisson_quantile
from antgrowth.model.growth_law import (
    BINS,
    DRIFT_KEPT,
    DRIFT_RENEWED,
    DRIFTS,
    EGG,
    LARVA,
    PUPA_FIRST,
    PUPA_LATER,
    ROWS,
    WAITING,
    Conditions,
    Workspace,
    age,
    ages_of,
    all_staying,
    controls,
    enter,
    forget,
    move,
    no_worker,
    signals,
    totals,
    waiting_alive,
    work_out,
)
from antgrowth.model.life_cycle import LifeCycle, State
from antgrowth.model.parameters import Laws, Transfer
from antgrowth.model.thermal_forcing import ThermalForcing


@on_one_thread
def simulate(
    laws: Laws,
    forcing: ThermalForcing,
    rng: np.random.Generator | CommonChance,
    *,
    start_day: int = 0,
    states: Floats | None = None,
) -> Ints:
    """Let one colony per draw grow by chance, from `start_day` to the end of the forcing.

    `states`, shape (draws, size), are what is in the nests at the start, in whole numbers
    (`whole_ants`); nothing but the queen if not given. `CommonChance` is for colonies that are to
    be compared under several plans; of a generator, a seed is drawn. Eggs, larvae, pupae, workers
    at the start of `start_day` and the end of each day after: shape
    (draws, days - start_day + 1, 4).
    """
    chance = rng if isinstance(rng, CommonChance) else CommonChance((int(rng.integers(2**62)),))
    return Colonies(laws, chance, start_day, states).until(forcing)


class Colonies:
    """Colonies that grow by chance, as far as they are asked to; see `simulate`."""

    def __init__(
        self, laws: Laws, chance: CommonChance, start_day: int = 0, states: Floats | None = None
    ) -> None:
        self.laws, self.chance, self.start_day = laws, chance, start_day
        if states is None:
            layout = State.of(laws)
            states = np.zeros((len(laws), layout.size))
            strays = laws.drift * chance.on(start_day - 1).normal((len(laws), len(laws.drift)))
            states[:, layout.drift] = strays
        self.nests = _Nests(laws, states)
        self.counts = self.nests.counts[:, None]

    def until(self, forcing: ThermalForcing) -> Ints:
        """Counts from the start to the end of a forcing.

        It must be the same on days that the colonies have seen.
        """
        lived = self.start_day + self.counts.shape[1] - 1
        counts = np.empty((len(self.laws), forcing.days - lived, len(STAGES)), dtype=np.int64)
        cycle = LifeCycle(self.laws, forcing, lived)
        for step, day in enumerate(range(lived, forcing.days)):
            self.nests.live(cycle, day, self.chance.on(day))
            counts[:, step] = self.nests.counts
        self.counts = np.concatenate([self.counts, counts], axis=1)
        return self.counts


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


class _Whole(NamedTuple):
    """Ants in whole numbers, of all colonies of a simulation."""

    brood: Ints  # shape (draws, ROWS)
    waiting: Ints  # shape (draws,)
    workers: Ints  # first and later ones, shape (draws, 2)


EVENTS = (4, 4, 1, 1, 1, 3, 2)
"""Of the fields of `_Levels`, how many numbers a colony needs a day."""


class _Levels(NamedTuple):
    """Chance of a day, evenly spread from 0 to 1 but for the last; as the fields of `_Whole`."""

    living: Floats
    leaving: Floats
    waiting: Floats
    placed: Floats
    laid: Floats
    entering: Floats
    dying: Floats
    strays: Floats

    @classmethod
    def of(cls, chance: CommonChance, draws: int) -> _Levels:
        """Drawn always in the same order: each event has its own, whatever comes to pass."""
        level, columns = chance.levels(draws * sum(EVENTS)), []
        for events, end in zip(EVENTS, np.cumsum(EVENTS) * draws, strict=True):
            part = level[end - events * draws : end]
            columns.append(part.reshape(draws, events) if events > 1 else part)
        return cls._make([*columns, chance.normal((draws, len(DRIFTS)))])


class _Nests:
    """All colonies of a simulation: whole numbers, and states that add up to them."""

    def __init__(self, laws: Laws, states: Floats) -> None:
        self.layout = layout = State.of(laws)
        self.fresh = laws.drift * np.sqrt(DRIFT_RENEWED)
        self.states = np.array(states, dtype=float, order="C")
        draws = len(states)
        brood = states[:, layout.brood].reshape(draws, len(ROWS), BINS)
        workers = states[:, layout.workers].reshape(draws, 2, layout.ages)
        self.brood = np.rint(brood.sum(axis=-1)).astype(np.int64)
        self.waiting = np.rint(states[:, layout.waiting.start]).astype(np.int64)
        self.workers = np.rint(workers.sum(axis=-1)).astype(np.int64)

    @property
    def counts(self) -> Ints:
        """Eggs, larvae, pupae, workers, shape (draws, 4)."""
        eggs, growing, first, later = self.brood.T
        return np.stack(
            [eggs, growing + self.waiting, first + later, self.workers.sum(axis=-1)], axis=-1
        )

    def live(self, cycle: LifeCycle, day: int, chance: CommonChance) -> None:
        """A day."""
        levels = _Levels.of(chance, len(self.states))
        ants = _Whole(self.brood, self.waiting, self.workers)
        _live(cycle.conditions, day, self.states, ants, levels, cycle.work)
        drift = self.states[:, self.layout.drift]
        self.states[:, self.layout.drift] = drift * DRIFT_KEPT + self.fresh * levels.strays
        for transfer in cycle.transfers(day):
            self._carry(cycle, transfer, chance)

    def _carry(self, cycle: LifeCycle, transfer: Transfer, chance: CommonChance) -> None:
        """Carry whole ants in, of any age, or out; out at most those who are there."""
        number = round(transfer.number)
        if number < 0:
            there = self.counts[:, transfer.stage]
            self._take(transfer.stage, np.minimum(-number, there), chance)
            return
        places = cycle.places_of(transfer.stage, arriving=True)
        self.states[:, places] += chance.scattered(number, len(self.states), len(places))
        if transfer.stage == WORKERS:
            self.workers[:, 1] += number
        else:
            self.brood[:, [EGG, LARVA, PUPA_LATER][transfer.stage]] += number

    def _take(self, stage: int, number: Ints, chance: CommonChance) -> None:
        """Take ants of a stage out, from its groups by chance."""
        layout, states = self.layout, self.states
        if stage == WORKERS:
            groups = self.workers
        else:
            rows = [[EGG], [LARVA], [PUPA_FIRST, PUPA_LATER]][stage]
            groups = self.brood[:, rows]
            if stage == LARVA:
                groups = np.column_stack([groups, self.waiting])
        share = groups[:, 0] / np.maximum(groups.sum(axis=1), 1)
        taken = number.copy()
        if groups.shape[1] > 1:
            _drawn(chance.levels(len(number)), number, share, taken)
        taken = np.minimum(taken, groups[:, 0])
        other = number - taken
        if groups.shape[1] > 1:  # what one group lacks is taken from the other
            lacking = np.maximum(other - groups[:, 1], 0)
            taken, other = taken + lacking, other - lacking
        left = groups - np.column_stack([taken, other])[:, : groups.shape[1]]
        factor = left / np.maximum(groups, 1)
        if stage == WORKERS:
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


@compiled
def _drawn(level: Floats, number: Ints, share: Floats, found: Ints) -> None:
    for draw in range(len(number)):
        found[draw] = binomial_quantile(level[draw], number[draw], share[draw])


@compiled
def _live(
    conditions: Conditions, day: int, states: Floats, ants: _Whole, levels: _Levels, work: Workspace
) -> None:
    """A day in all colonies: each ant lives, moves on or stays by chance."""
    for draw in range(len(states)):
        state = states[draw]
        forget(work)
        known = totals(state)
        alone = no_worker(known[4], True)
        work_out(conditions, draw, day, alone, work)
        today = controls(conditions, draw, day, signals(state, known, alone, work), True)
        move(state, today, work)
        for row in range(len(ROWS)):
            work.leaving[row] = _leave(draw, row, ants, levels, work)
        hatched, pupating = int(work.leaving[EGG]), int(work.leaving[LARVA])
        asking = hatched + binomial_quantile(
            levels.waiting[draw], ants.waiting[draw], waiting_alive(conditions, draw, day)
        )
        placed = int(np.floor(asking * today.placed + levels.placed[draw]))
        first = pupating if alone > 0.5 else 0
        laid = poisson_quantile(levels.laid[draw], today.eggs * work.half[EGG])
        for row, entering in enumerate((laid, placed, first, pupating - first)):
            if row != EGG:
                level = levels.entering[draw, row - 1]
                entering = binomial_quantile(level, entering, work.half[row])
            enter(state, row, float(entering), alone, work)
            ants.brood[draw, row] += entering
        ants.waiting[draw] = asking - placed
        state[WAITING] = asking - placed
        for kind in range(2):
            _age(conditions, draw, day, kind, state, ants, levels, work.leaving[PUPA_FIRST + kind])


@compiled
def _leave(draw: int, row: int, ants: _Whole, levels: _Levels, work: Workspace) -> int:
    """How many of a row complete their stage; where the others stand is as expected."""
    there = ants.brood[draw, row]
    staying = all_staying(row, work)
    alive = staying + work.leaving[row]
    living = binomial_quantile(levels.living[draw, row], there, alive / max(there, 1))
    scale = living / max(alive, 1e-12)
    due = min(int(np.ceil(min(work.due[row] * scale, 1e15) - 1e-9)), living)
    chance = work.leaving[row] * scale / max(due, 1)
    leaving = binomial_quantile(levels.leaving[draw, row], due, chance)
    left = living - leaving
    for place in range(BINS):
        work.staying[row, place] *= left / max(staying, 1e-12)
    ants.brood[draw, row] = left
    return leaving


@compiled
def _age(
    conditions: Conditions,
    draw: int,
    day: int,
    kind: int,
    state: Floats,
    ants: _Whole,
    levels: _Levels,
    hatched: float,
) -> None:
    """Let first or later workers die, and tell of those left how old they are."""
    ages = ages_of(state)
    youngest, there = WAITING + 1 + kind * ages, ants.workers[draw, kind]
    dying = age(conditions, draw, day, kind, state)
    left = there - binomial_quantile(levels.dying[draw, kind], there, dying / max(there, 1))
    older = 0.0
    for place in range(youngest, youngest + ages):
        older += state[place]
    for place in range(youngest, youngest + ages):
        state[place] *= left / max(older, 1e-12)
    state[youngest] += hatched
    ants.workers[draw, kind] = left + int(hatched)
