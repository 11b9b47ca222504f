"""What a colony that came part-grown may have held when it was first noted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from antgrowth._core.arrays import Floats
from antgrowth._core.stages import LARVAE, STAGES, WORKERS
from antgrowth._core.stats import with_brood
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.initial_state import without_debts
from antgrowth.inference.laplace import Model
from antgrowth.inference.prior import Prior, forcing_of
from antgrowth.model.covariance import Start
from antgrowth.model.life_cycle import LifeCycle, State
from antgrowth.model.mean_field import grow, grow_on
from antgrowth.model.parameters import Laws, Transfer
from antgrowth.model.simulation import whole_ants
from antgrowth.model.thermal_forcing import ThermalForcing

FIRST_WEEK = 7
"""What a colony of such a size holds is worked out at the temperatures of its first days here."""

OLDEST = 700
"""No colony is taken to have grown for longer before it was acquired. [day]"""

LIKE = 100
"""So many colonies of the species that hold about what was noted tell what else they hold."""

COUNT_SPREAD = 0.25
"""Log-sd of each stage around what was noted, or else around what such colonies hold (assumed)."""

FREEDOM = 3.0
"""Degrees of freedom of the t law by which counts lie around those of such colonies (assumed)."""

AGE_SPREAD, AGE_MEMORY = 0.7, 4.0
"""Relative scatter of the numbers at each age, and over how many steps of progress it holds
(assumed): queens lay in bouts."""


def starting_state(history: ColonyHistory, held: Floats, prior: Prior) -> Start:
    """What a colony may have held at the start of day zero.

    The first note held eggs, larvae, pupae, workers and brood, shape (5,), NaN where not known.
    Stages that were noted are near their count. Others, and all ages, are those of colonies of the
    species that grew to about what was noted; out of season there are but waiting larvae.
    """
    forcing = history.forcing(1)
    for transfer in forcing.transfers:  # the note counts the evening, and them
        held = _without(held, transfer)
    laws = prior.laws(np.zeros((1, len(prior))))
    layout = State.of(laws)
    dormant = bool(LifeCycle(laws, forcing).rearing[0, 0] < 0.5)
    states = _like_colonies(history, held, prior)
    for state, usual in zip(states, layout.counts(states), strict=True):
        _hold(state, _wanted(usual, held, dormant), layout, dormant)
    mean = states.mean(axis=0)
    cov = np.cov(states, rowvar=False, bias=True)
    for places in _places(layout):
        cov[np.ix_(places, places)] += _cov_of(mean[places])
    return Start(mean, cov)


def _hold(state: Floats, wanted: Floats, layout: State, dormant: bool) -> None:
    """Make a state hold so many of each stage, at the ages that they have in it."""
    for stage, places in enumerate(_places(layout)):
        there = state[places].sum()
        if dormant and stage == LARVAE:
            state[places] = 0.0
            state[layout.waiting] = wanted[stage]
        elif there > 1e-9:
            state[places] *= wanted[stage] / there
        else:
            state[places] = wanted[stage] / len(places)


def _without(held: Floats, transfer: Transfer) -> Floats:
    """What was there before some were carried in or out; no fewer than none."""
    before = held.copy()
    before[transfer.stage] -= transfer.number
    if transfer.stage < WORKERS:
        before[-1] -= transfer.number
    return np.maximum(before, 0.0)


def _wanted(usual: Floats, held: Floats, dormant: bool) -> Floats:
    """Eggs, larvae, pupae and workers at the start, shape (4,): as noted, and else as usual."""
    known = np.isfinite(held[:-1])
    wanted = np.where(known, held[:-1], usual)
    lives = np.array([not dormant, True, not dormant, True])
    wanted[~known & ~lives] = 0.0
    rest = ~known & lives & (np.arange(len(STAGES)) < WORKERS)
    if np.isfinite(held[-1]) and rest.any():
        left = max(held[-1] - wanted[:WORKERS][known[:WORKERS]].sum(), 0.0)
        shares = wanted[rest] + 1e-9
        wanted[rest] = left * shares / shares.sum()
    return wanted


def states_of(
    start: Start, laws: Laws, forcing: ThermalForcing, rng: np.random.Generator
) -> Floats:
    """Whole ants that may have been there at the start, one colony per draw, (draws, size)."""
    cycle = LifeCycle(laws, forcing)
    size, axes = np.linalg.eigh(start.covariance)
    chance = rng.standard_normal((len(laws), len(size))) * np.sqrt(np.maximum(size, 0.0))
    states = start.state + chance @ axes.T
    strays = rng.standard_normal((len(laws), len(laws.drift)))
    states[:, cycle.state.drift] = laws.drift * strays
    return whole_ants(cycle, without_debts(cycle.state, states))


def drawn_states(model: Model, x: Floats, rng: np.random.Generator) -> Floats:
    """The same for posterior draws of a colony that came part-grown."""
    assert model.start is not None
    return states_of(model.start, model.prior.laws(x), model.forcing, rng)


def _places(layout: State) -> list[NDArray[np.intp]]:
    """Where eggs, larvae, pupae and workers stand in a state."""
    return [np.flatnonzero(row) for row in layout.stages[:-1]]


def _cov_of(numbers: Floats) -> Floats:
    """Covariance of a stage's numbers by age: of all together, and of ages among themselves."""
    total = numbers.sum()
    apart = np.abs(np.subtract.outer(np.arange(len(numbers)), np.arange(len(numbers))))
    ages = AGE_SPREAD**2 * np.outer(numbers, numbers) * np.exp(-apart / AGE_MEMORY)
    share = numbers / total if total > 1e-9 else np.full(len(numbers), 1.0 / len(numbers))
    same_total = np.eye(len(numbers)) - np.outer(share, np.ones(len(numbers)))
    together = ((COUNT_SPREAD * total) ** 2 + 1.0) * np.outer(share, share)
    found: Floats = together + same_total @ ages @ same_total.T
    return found


def _like_colonies(history: ColonyHistory, held: Floats, prior: Prior) -> Floats:
    """States of colonies of the species when they hold about what was found, (colonies, size).

    Colonies are drawn from the prior, and met on any day since their founding: the likelier the
    nearer they come to what was found. So both how far a wave of brood has come and what lies
    between the waves are known no better than they can be.
    """
    hours = _first_week(history)
    forcing = forcing_of(history.species, np.tile(hours, (OLDEST, 1)), np.zeros(OLDEST, bool))
    laws = prior.laws(np.random.default_rng(0).standard_normal((LIKE, len(prior))))
    counts = grow(laws, forcing).counts[:, 1:]
    expected = with_brood(counts)
    # On the scale of square roots, chance scatters counts alike whether they are few or many.
    variance = 0.25 + (0.5 * COUNT_SPREAD) ** 2 * held
    misfit = (np.sqrt(expected) - np.sqrt(held)) ** 2 / variance
    # A stage that no colony holds so, overlooked or lost, must not outweigh the rest.
    likelihood = np.nanprod((1.0 + misfit / FREEDOM) ** (-0.5 * (FREEDOM + 1.0)), axis=-1)
    weight = likelihood.ravel().cumsum()
    levels = (np.arange(LIKE) + 0.5) / LIKE * weight[-1]
    draw, day = np.unravel_index(np.searchsorted(weight, levels), likelihood.shape)
    cycle = LifeCycle(laws.take(draw), forcing)
    states, found, now = cycle.empty(), np.empty((LIKE, cycle.state.size)), 0
    for until in np.unique(day) + 1:
        states, now = grow_on(cycle, states, now, int(until)).last, int(until)
        found[day + 1 == until] = states[day + 1 == until]
    found[:, cycle.state.drift] = 0.0
    return found


def _first_week(history: ColonyHistory) -> Floats:
    """Temperatures of a usual day before the first note, shape (24,). [°C]"""
    species, start = history.species, np.datetime64(history.day_zero, "D")
    week = history.temperature.known_hours(start, FIRST_WEEK)
    known = np.nanmean(week, axis=0)
    reference = species.value("development.reference_c")
    grows = known.mean() > 0.5 * (reference + species.value("laying.lower_c"))
    # A colony met in its rest grew up in something warmer, which nobody wrote down.
    return known if grows else np.full(24, reference)
