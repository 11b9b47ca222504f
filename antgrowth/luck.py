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
        return z * 2.0**-53

    @cached_property
    def _keys(self) -> dict[int, Names]:
        return {}


def names_of(draw: NDArray[np.int64], number: NDArray[np.int64]) -> Names:
    """Name ants by their colony and their number in it."""
    return (draw.astype(np.uint64) << np.uint64(32)) | number.astype(np.uint64)


class Queue:
    """Eggs of colonies that wait to be laid, each in its turn.

    A queen fills each free place at a rate h, so that the next egg is due after an exponential wait
    of mean 1 / places. Laid in turn they make the binomial births of `laws.births_of_day` exactly.
    """

    def __init__(self, luck: Luck, colonies: int) -> None:
        self.luck, self.draws = luck, np.arange(colonies)
        self.laid = np.zeros(colonies, dtype=np.int64)
        self.due = self._wait(self.draws)

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
        going, left = np.flatnonzero(~many & (places > 0) & (fill > 0)), places.copy()
        time = -np.log1p(-fill)
        while going.size:
            ready = self.due[going] <= left[going] * time[going]
            waiting, going = going[~ready], going[ready]
            self.due[waiting] -= left[waiting] * time[waiting]
            time[going] -= self.due[going] / left[going]
            left[going] -= 1
            eggs[going] += 1
            self.laid[going] += 1
            self.due[going] = self._wait(going)
            going = going[left[going] > 0]
        self.laid[many] += eggs[many]
        return eggs

    def _wait(self, draws: NDArray[np.intp]) -> Floats:
        """How long the next egg of these colonies waits, with a single place free."""
        return -np.log1p(-self.luck.chance(names_of(draws, self.laid[draws]), WAIT))
