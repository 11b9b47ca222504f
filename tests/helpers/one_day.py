"""A day of the growth law by itself, for several colonies: what growing does day after day."""

from __future__ import annotations

import numpy as np

from antgrowth.model import growth_law
from antgrowth.model.growth_law import DRIFT_KEPT, Controls, Signals
from antgrowth.model.life_cycle import LifeCycle
from antgrowth.model.mean_field import grow_on


def signals(cycle: LifeCycle, day: int, states: np.ndarray, whole: bool = False) -> np.ndarray:
    """What `controls` look at, shape (draws, signals); ants may come in whole numbers."""
    found = []
    for one, state in enumerate(states):
        known = growth_law.totals(state)
        alone = growth_law.no_worker(known[4], whole)
        growth_law.work_out(cycle.conditions, draw_of(cycle, one), day, alone, cycle.work)
        found.append(growth_law.signals(state, known, alone, cycle.work))
    return np.array(found)


def controls(cycle: LifeCycle, day: int, signals: np.ndarray, whole: bool = False) -> Controls:
    """What a day's life hangs on, each of shape (draws,)."""
    found = [
        growth_law.controls(
            cycle.conditions, draw_of(cycle, one), day, Signals(*map(float, seen)), whole
        )
        for one, seen in enumerate(signals)
    ]
    return Controls(*np.array(found).T)


def transition(cycle: LifeCycle, day: int, states: np.ndarray, controls: Controls) -> np.ndarray:
    """Expected states after a day, shape (draws, size); linear in the states."""
    then = np.array(states, dtype=float, order="C")
    for one, state in enumerate(then):
        draw, today = draw_of(cycle, one), Controls(*(float(part[one]) for part in controls))
        growth_law.work_out(cycle.conditions, draw, day, today.first, cycle.work)
        growth_law.evening(cycle.conditions, draw, day, state, today, cycle.work)
    then[:, cycle.state.drift] *= DRIFT_KEPT
    return then


def expected_day(cycle: LifeCycle, day: int, states: np.ndarray) -> np.ndarray:
    """Expected states after a day, ants carried included."""
    return grow_on(cycle, states, day, day + 1).last


def draw_of(cycle: LifeCycle, one: int) -> int:
    """The draw of one of several states: all have the only one, or each its own."""
    if one == 0 or len(cycle.laws) > 1:
        growth_law.forget(cycle.work)
    return one if len(cycle.laws) > 1 else 0
