"""Expected growth: the life cycle with every number at its expectation, for many draws at once."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from antgrowth.model.life_cycle import LifeCycle, growth_blocks
from antgrowth.model.parameters import Laws
from antgrowth.model.thermal_forcing import ThermalForcing

__all__ = ["Growth", "expected_day", "grow"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, repr=False)
class Growth:
    """Expected growth of a colony from day 0, for a number of draws.

    Attributes
    ----------
    counts : array, shape (draws, days + 1, 4)
        Expected eggs, larvae, pupae, workers at the start of each day; entry d + 1 is the end of
        day d.
    died : array, shape (draws, days + 1)
        Workers expected to have died by the start of each day.
    last : array, shape (draws, size)
        Expected states at the end; see `life_cycle.State`.
    """

    counts: Floats
    died: Floats
    last: Floats

    def __repr__(self) -> str:
        return f"Growth({self.counts.shape[0]} draws, {self.counts.shape[1]} evenings)"

    def take(self, draws: slice) -> Growth:
        """Select draws."""
        return Growth(*(getattr(self, f.name)[draws] for f in fields(Growth)))

    @property
    def brood(self) -> Floats:
        """Expected brood, shape (draws, days + 1)."""
        found: Floats = self.counts[..., :3].sum(axis=-1)
        return found


def grow(
    laws: Laws, forcing: ThermalForcing, days: int | None = None, start: Floats | None = None
) -> Growth:
    """Expected growth of colonies.

    Parameters
    ----------
    laws : Laws
        Parameters of each draw.
    forcing : ThermalForcing
    days : int, optional
        Days to grow; all days of the forcing if not given.
    start : array, shape (size,), optional
        State at the start of day 0; a queen alone if not given.

    Returns
    -------
    Growth

    Notes
    -----
    Expectations are carried through the law as if they were certain. Chance bends them little: by
    less than it scatters colonies (`tests/reference`).
    """
    days = forcing.days if days is None else days
    parts = [_grow(LifeCycle(some, forcing), days, start) for some in growth_blocks(laws)]
    return Growth(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Growth)))


def expected_day(cycle: LifeCycle, day: int, states: Floats) -> Floats:
    """Expected states after a day, ants carried included."""
    states = cycle.transition(day, states, cycle.controls(day, cycle.signals(day, states)))
    for transfer in cycle.transfers(day):
        states = cycle.carried(states, transfer)
    return cycle.undisturbed(states)


def _grow(cycle: LifeCycle, days: int, start: Floats | None) -> Growth:
    states = cycle.empty()
    if start is not None:
        states = cycle.undisturbed(np.tile(start, (len(states), 1)))
    counts, died = np.zeros((len(states), days + 1, 4)), np.zeros((len(states), days + 1))
    counts[:, 0] = cycle.state.counts(states)
    for day in range(days):
        states = expected_day(cycle, day, states)
        counts[:, day + 1] = cycle.state.counts(states)
        died[:, day + 1] = states[:, cycle.state.died.start]
    return Growth(counts, died, states)
