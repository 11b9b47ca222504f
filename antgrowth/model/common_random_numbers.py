"""Luck: chance that stays the same for the same ant, whatever else happens.

Two simulations from one stream of random numbers part for good as soon as one of them asks for one
number more. Here each egg has luck of its own by its place in the order of laying: the hundredth
egg of a colony has the same pace, dies or lives by the same draw, and is laid after the same wait,
whether it is laid in May or in June. Colonies that grow by the same luck under two plans then
differ by the plans, and little else.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "DEATH",
    "FATE",
    "LAYING",
    "LIFE",
    "Luck",
    "PACE",
    "Queue",
    "SPELL",
    "SURVIVAL",
    "WAIT",
    "names_of",
]

Floats = NDArray[np.float64]
Names = NDArray[np.uint64]

SPELL, LAYING, FATE, WAIT, PACE = range(5)
SURVIVAL, DEATH, LIFE = 10, 20, 30
"""Purposes of chance; to the last three the stage, or the part of a packet, is added."""

STANDING = 1 << 31
"""Added to the numbers of ants that are in the nest at the start: no queen lays as many eggs."""

FEW = 5.0
"""Up to so many expected eggs a day, each is laid after a wait of its own."""

IN_TURN = 8
"""So many waits of each colony are worked out at once: seldom are more needed in a day."""


@dataclass(frozen=True)
class Luck:
    """Chance by name, purpose and day.

    Attributes
    ----------
    seed : tuple of int
    """

    seed: tuple[int, ...]

    def source(self, purpose: int, day: int = 0) -> np.random.Generator:
        """Source of chance of a purpose and day, for what has no name."""
        return np.random.default_rng((*self.seed, purpose, day))

    def chance(self, names: Names, purpose: int) -> Floats:
        """Chance of named ants, evenly spread from 0 to 1.

        Notes
        -----
        The finaliser of splitmix64 (Steele GL, Lea D, Flood CH (2014) Fast splittable pseudorandom
        number generators. OOPSLA '14, doi:10.1145/2660193.2660195; constants from memory), applied
        to the name and to a key of seed and purpose.
        """
        if purpose not in self._keys:
            sequence = np.random.SeedSequence((*self.seed, purpose))
            self._keys[purpose] = sequence.generate_state(1, np.uint64).astype(np.uint64)
        z = names * np.uint64(0x9E3779B97F4A7C15)
        z += self._keys[purpose]
        z ^= z >> np.uint64(30)
        z *= np.uint64(0xBF58476D1CE4E5B9)
        z ^= z >> np.uint64(27)
        z *= np.uint64(0x94D049BB133111EB)
        z ^= z >> np.uint64(31)
        z >>= np.uint64(11)
        return z.astype(np.float64) * 2.0**-53

    @cached_property
    def _keys(self) -> dict[int, Names]:
        return {}


def names_of(draw: NDArray[np.int64], number: NDArray[np.int64]) -> Names:
    """Name ants by their colony and their number in it."""
    return (draw.astype(np.uint64) << np.uint64(32)) | number.astype(np.uint64)


class Queue:
    """Eggs of colonies that wait to be laid, each in its turn.

    A queen fills each free place at a rate h, so that the next egg is due after an exponential wait
    of mean 1 / places. Laid in turn they make the binomial births of
    `parameters.births_of_day` exactly.
    """

    def __init__(self, luck: Luck, colonies: int) -> None:
        self.luck = luck
        self.laid = np.zeros(colonies, dtype=np.int64)
        self.due = self._wait(self._next(np.arange(colonies)))

    def lay(
        self, places: NDArray[np.int64], fill: Floats, rng: np.random.Generator
    ) -> NDArray[np.int64]:
        """Eggs of one day.

        Parameters
        ----------
        places : array of int, shape (colonies,)
            Free places.
        fill : array, shape (colonies,)
            Chance of each to be filled today.
        rng : numpy.random.Generator
            For colonies of many eggs, in which no single one matters.
        """
        many = places * fill > FEW
        eggs = np.where(many, rng.binomial(np.where(many, places, 0), fill), 0)
        who = np.flatnonzero(~many & (places > 0) & (fill > 0))
        time, ahead = -np.log1p(-fill.take(who)), np.arange(IN_TURN).astype(np.uint64)
        while who.size:
            left = (places - eggs).take(who)[:, None] - np.arange(IN_TURN)  # places, egg by egg
            wait = self._wait(self._next(who)[:, None] + ahead)
            wait[:, 0] = self.due.take(who)  # of the first egg's, some is over
            spent = np.where(left > 0, wait / np.maximum(left, 1), np.inf).cumsum(axis=1)
            laid, row = (spent <= time[:, None]).sum(axis=1), np.arange(len(who))
            eggs[who] += laid
            self.laid[who] += laid
            time -= np.where(laid > 0, spent[row, laid - 1], 0.0)
            on = laid == IN_TURN
            done, next_egg = row[~on], laid[~on]
            self.due[who[~on]] = wait[done, next_egg] - time[~on] * left[done, next_egg]
            who, time = who[on], time[on]
            self.due[who] = self._wait(self._next(who))
        self.laid[many] += eggs[many]
        return eggs

    def _next(self, draws: NDArray[np.intp]) -> Names:
        """Name the eggs that these colonies lay next."""
        return names_of(draws, self.laid.take(draws))

    def _wait(self, name: Names) -> Floats:
        """How long these eggs wait for their turn, with a single place free."""
        return -np.log1p(-self.luck.chance(name, WAIT))
