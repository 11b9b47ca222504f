"""Expected growth: the life cycle with every number at its expectation, for many draws at once."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from antgrowth._core.arrays import Floats
from antgrowth._core.compiled import compiled
from antgrowth._core.stages import STAGES, WORKERS
from antgrowth.model.growth_law import (
    AFTER_WORKERS,
    DRIFTS,
    Conditions,
    Workspace,
    controls,
    evening,
    forget,
    no_worker,
    signals,
    totals,
    work_out,
)
from antgrowth.model.life_cycle import LifeCycle
from antgrowth.model.parameters import Laws
from antgrowth.model.thermal_forcing import ThermalForcing


@dataclass(frozen=True, eq=False, repr=False)
class Growth:
    """Expected growth of a colony from day 0, for a number of draws."""

    # Expected eggs, larvae, pupae, workers at the start of each day; entry d + 1 is the end of
    # day d, shape (draws, days + 1, 4)
    counts: Floats
    died: Floats  # workers expected to have died by the start of each day, shape (draws, days + 1)
    last: Floats  # expected states at the end; see `life_cycle.State`, shape (draws, size)

    def __repr__(self) -> str:
        return f"Growth({self.counts.shape[0]} draws, {self.counts.shape[1]} evenings)"

    def take(self, draws: slice) -> Growth:
        """Select draws."""
        return Growth(*(getattr(self, f.name)[draws] for f in fields(Growth)))

    @property
    def brood(self) -> Floats:
        """Expected brood, shape (draws, days + 1)."""
        found: Floats = self.counts[..., :WORKERS].sum(axis=-1)
        return found


def grow(
    laws: Laws,
    forcing: ThermalForcing,
    days: int | None = None,
    start: Floats | None = None,
    strays: Floats | None = None,
) -> Growth:
    """Expected growth of colonies, of a queen alone or of a `start` of shape (size,), on its days.

    Expectations are carried through the law as if they were certain. Chance bends them little: by
    less than it scatters colonies (`tests/reference`).
    """
    days = forcing.days if days is None else days
    cycle = LifeCycle(laws, forcing, strays=strays)
    states = cycle.empty()
    if start is not None:
        states = cycle.on_course(np.tile(start, (len(states), 1)))
    return grow_on(cycle, states, 0, days)


def grow_on(cycle: LifeCycle, states: Floats, first: int, last: int) -> Growth:
    """Expected growth from the start of one day to that of another, ants carried included.

    Entry 0 is the start of the first day, with the states given, of shape (draws, size).
    """
    states = np.array(states, dtype=float, order="C")
    counts = np.zeros((len(states), last - first + 1, len(STAGES)))
    died = np.zeros(counts.shape[:2])
    counts[:, 0] = cycle.state.counts(states)
    died[:, 0] = states[:, cycle.state.died.start]
    carried = {t.day for t in cycle.forcing.transfers if first < t.day <= last}
    since = first
    for until in sorted(carried | {last}):
        _grow(cycle.conditions, cycle.strays, first, since, until, states, counts, died, cycle.work)
        for transfer in cycle.transfers(until - 1):
            states = cycle.carried(states, transfer)
            counts[:, until - first] = cycle.state.counts(states)
        since = until
    return Growth(counts, died, states)


@compiled
def _grow(
    conditions: Conditions,
    strays: Floats,
    origin: int,
    first: int,
    last: int,
    states: Floats,
    counts: Floats,
    died: Floats,
    work: Workspace,
) -> None:
    """Let states grow from the start of a day to that of another; entry 0 is of the origin."""
    for draw in range(len(states)):
        state = states[draw]
        drift = len(state) - AFTER_WORKERS
        forget(work)
        known = totals(state)
        for day in range(first, last):
            alone = no_worker(known[4], False)
            work_out(conditions, draw, day, alone, work)
            today = controls(conditions, draw, day, signals(state, known, alone, work), False)
            evening(conditions, draw, day, state, today, work)
            for part in range(len(DRIFTS)):
                usual = 0.5 * conditions.laws[draw].drift[part] ** 2
                state[drift + part] = usual + strays[day + 1, part]
            known = totals(state)
            then = day + 1 - origin
            counts[draw, then, 0] = known[0]
            counts[draw, then, 1] = known[1] + known[2]
            counts[draw, then, 2] = known[3]
            counts[draw, then, 3] = known[4]
            died[draw, then] = state[len(state) - 1]
