"""Second moments of the growth model: how counts scatter and hang together by chance alone.

Chance enters twice: which eggs are laid, and who of them lives. Laying answers to brood and workers
(the feedback), so a chance surplus today means fewer eggs tomorrow. The feedback is linearised
around expected growth; the rest is exact.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

from antgrowth.model.mean_field import PACES, Growth, look_back, survive
from antgrowth.model.parameters import (
    SPELL_DAYS,
    Climate,
    Laws,
    birth_slopes,
    births_of_day,
    pace_nodes,
)

__all__ = ["Cells", "covariance", "loss_effects"]

Floats = NDArray[np.float64]


PAST_SPELLS, PAST_SPELL_DAYS = 0.5, 10.0
"""Relative size and memory [day] of spells of laying in an unknown past (assumed)."""

AT_ONCE = 48
"""Rows that are multiplied with others at once: few births concern all of them."""

JUST_BEFORE_MIDDAY = 0.499
"""When a day's laying answers to brood and workers: before its own eggs, laid at midday. [day]"""


@dataclass(frozen=True, eq=False)
class Cells:
    """Counts to be described: when, and which stages add up in each.

    Attributes
    ----------
    days : array of int, shape (cells,)
        Times of counting: 1 is the end of day 0. At least 1. [day]
    stages : array, shape (cells, 4)
        Weight of eggs, larvae, pupae and workers in the count.
    """

    days: NDArray[np.intp]
    stages: Floats

    def __len__(self) -> int:
        return len(self.days)

    def mean(self, growth: Growth) -> Floats:
        """Expected counts, shape (draws, cells)."""
        return np.einsum("dcs,cs->dc", growth.counts[:, self.days], self.stages)

    def joined(self, other: Cells) -> Cells:
        """These cells followed by others."""
        return Cells(
            np.concatenate([self.days, other.days]), np.concatenate([self.stages, other.stages])
        )


def covariance(laws: Laws, climate: Climate, growth: Growth, cells: Cells, past: int = 0) -> Floats:
    """Covariance of true counts at one set of parameters.

    Parameters
    ----------
    laws : Laws
        A single draw.
    climate : Climate
    growth : Growth
        Expected growth at these laws.
    cells : Cells
    past : int
        Days of an unknown past, in which laying came in waves nobody saw. [day]

    Returns
    -------
    array, shape (cells, cells)

    Notes
    -----
    Births n_d, given the past, have mean ``lambda_d + beta_d dB_d + gamma_d dW_d`` and variance
    ``lambda_d (1 - fill_d)``. With A the chance that an egg of each day is counted in a row,
    X the second moments if eggs were Poisson and free of feedback, and
    ``G = diag(beta) A_B + diag(gamma) A_W`` (strictly lower triangular)::

        F     = (I - G)^-1,  Y = A F,  Theta = X - A diag(lambda) A'
        Z     = diag(beta) Theta[B] + diag(gamma) Theta[W]
        Omega = diag(lambda (1 - fill)) + Z[:, B] diag(beta) + Z[:, W] diag(gamma)
        C     = Y Omega Y' + Y Z + (Y Z)' + Theta
    """
    system = _Linearised.of(laws, climate, growth, cells)
    births, wanted = system.births, system.wanted
    thinning = system.independent - (system.chance * births) @ system.chance.T
    echo = system.answer_to(thinning)
    births_cov = np.diag(births * (1.0 - system.fill))
    births_cov += _waves(births, laws.spells, SPELL_DAYS)
    births_cov[:past, :past] += _waves(births[:past], PAST_SPELLS, PAST_SPELL_DAYS)
    births_cov += system.answer_to(echo.T).T
    reach = system.reach(system.chance[wanted])
    cross = reach @ echo[:, wanted]
    return reach @ births_cov @ reach.T + cross + cross.T + thinning[wanted, wanted]


def loss_effects(laws: Laws, climate: Climate, growth: Growth, cells: Cells) -> Floats:
    """How each count would change if all brood were lost at the start of a day.

    Parameters
    ----------
    laws, climate, growth, cells
        As for `covariance`.

    Returns
    -------
    array, shape (days, cells)
        Row d - 1 for a loss at the start of day d, d from 1 to the last day counted.

    Notes
    -----
    Of the brood present on the day, those are missing later who would have been counted; the
    room they leave is answered by more laying, in the linearised law.
    """
    loss_days = np.arange(1, int(cells.days.max(initial=1)))
    brood = Cells(loss_days, np.tile([1.0, 1.0, 1.0, 0.0], (len(loss_days), 1)))
    system = _Linearised.of(laws, climate, growth, brood.joined(cells))
    first = system.wanted.start
    missing = -system.independent[first : first + len(loss_days)]  # loss days, rows
    missing = np.where(system.times[None, :] < loss_days[:, None], 0.0, missing)
    laid = system.answer_to(missing.T)  # change of births on each day, for each loss day
    counted = slice(first + len(loss_days), None)
    return missing[:, counted] + (system.reach(system.chance[counted]) @ laid).T


@dataclass(frozen=True, eq=False)
class _Linearised:
    """Growth by chance around what is expected, with laying that answers in a straight line.

    Rows are brood, then workers, at midday of each day but the first, then the cells.
    """

    times: Floats
    chance: Floats
    independent: Floats
    births: Floats
    fill: Floats
    by_brood: Floats
    by_workers: Floats

    @classmethod
    def of(cls, laws: Laws, climate: Climate, growth: Growth, cells: Cells) -> _Linearised:
        last = int(cells.days.max(initial=1))
        times, stages = _rows(last, cells, float(laws.pupa_care[0]))
        chance, independent = _independent(laws, climate, growth, times, stages)
        appetite = laws.appetite(climate.clocks(laws.shift_c))[:last, 0]
        brood, workers = growth.midday[0, :last].T
        fill = births_of_day(laws, appetite, brood, workers)[1]
        slopes = birth_slopes(laws, appetite, brood, workers)
        return cls(times, chance, independent, growth.births[0, :last], fill, *slopes)

    @property
    def brood(self) -> slice:
        return slice(0, len(self.births) - 1)

    @property
    def workers(self) -> slice:
        return slice(len(self.births) - 1, 2 * (len(self.births) - 1))

    @property
    def wanted(self) -> slice:
        return slice(2 * (len(self.births) - 1), None)

    def answer_to(self, rows: Floats) -> Floats:
        """How births of each day answer at once to changes of the rows, shape (days, ...).

        The first day's laying sees an empty nest and answers to nothing.
        """
        answer = np.zeros((len(self.births), rows.shape[1]))
        answer[1:] = self.by_brood[1:, None] * rows[self.brood]
        answer[1:] += self.by_workers[1:, None] * rows[self.workers]
        return answer

    def reach(self, chance: Floats) -> Floats:
        """What one more birth on each day changes in the end, echoes in later laying included."""
        echoes = np.eye(len(self.births)) - self.answer_to(self.chance)
        return linalg.solve_triangular(echoes.T, chance.T, lower=False, unit_diagonal=True).T


def _waves(births: Floats, spread: float, memory_days: float) -> Floats:
    """Covariance of births by spells of so much relative spread, shape (days, days)."""
    apart = np.abs(np.subtract.outer(np.arange(len(births)), np.arange(len(births))))
    return spread**2 * np.outer(births, births) * np.exp(-apart / memory_days)


def _rows(last: int, cells: Cells, pupa_care: float) -> tuple[Floats, Floats]:
    """Times and stages of what laying answers to on each day but the first, then of the cells."""
    midday = np.arange(1, last) + JUST_BEFORE_MIDDAY
    brood, workers = np.array([1.0, 1.0, pupa_care, 0.0]), np.array([0.0, 0.0, 0.0, 1.0])
    stages = np.repeat([brood, workers], last - 1, axis=0)
    return np.concatenate([midday, midday, cells.days]), np.vstack([stages, cells.stages])


def _independent(
    laws: Laws, climate: Climate, growth: Growth, times: Floats, stages: Floats
) -> tuple[Floats, Floats]:
    """Chance of an egg being counted, and second moments without feedback.

    Parameters
    ----------
    times : array, shape (rows,)
        As `_rows` puts them. [day]
    stages : array, shape (rows, 4)
        Weight of eggs, larvae, pupae and workers in each row.

    Returns
    -------
    chance : array, shape (rows, days)
        That an egg of each day is counted in each row.
    moments : array, shape (rows, rows)
        Expected number of eggs counted in both rows (weighted).
    """
    rows, days = len(times), int(times.max())
    cells = rows - 2 * (days - 1)
    clocks = climate.clocks(laws.shift_c)
    pace = pace_nodes(laws.pace_cv, PACES)
    moments_of_counting, which = np.unique(times, return_inverse=True)
    laid = look_back(laws, clocks, moments_of_counting, pace)[:, :, 0]
    factors = survive(laws, clocks, days, moments_of_counting, pace)
    born = np.arange(days) + 0.5
    births = growth.births[0, :days]
    share = np.stack([growth.first[0, :days], 1.0 - growth.first[0, :days]]) / PACES
    age = clocks.ageing.at(moments_of_counting[None])[0]
    chance, moments = np.zeros((rows, days)), np.zeros((rows, rows))
    for kind in range(2):
        some = np.flatnonzero(share[kind] > 1e-9)
        if not len(some):
            continue
        weight = share[kind, some]
        entered, present = factors.entered[some, :, 0, kind], factors.present[:, :, 0, kind]
        age_then = clocks.ageing.at(factors.entered_at[None, some, 3, 0, kind])[0]
        here = np.zeros((rows, len(some), PACES))
        counted = np.zeros_like(here)
        before = born[some, None] <= moments_of_counting[:, None, None]
        before = np.broadcast_to(before, (len(before), len(some), PACES))
        for stage in range(4):
            after = np.zeros_like(before)
            if stage < 3:
                after = born[some, None] <= laid[:, None, stage, kind]
            # Few eggs of all days are in a stage at once: only those are looked at.
            rows_of_stage = np.flatnonzero(stages[:, stage])
            place, birth, k = np.nonzero((before & ~after)[which[rows_of_stage]])
            row = rows_of_stage[place]
            time, part = which[row], stages[row, stage]
            if stage < 3:
                alive = present[time, stage, k]
            else:
                lived = (age[time] - age_then[birth, k]) / laws.lives()[0, kind]
                alive = np.exp(-(np.maximum(lived, 0.0) ** laws.life_shape))
            here[row, birth, k] += part
            counted[row, birth, k] += part * entered[birth, stage, k] * alive
            before = after
        chance[:, some] += counted.sum(axis=-1) * weight
        weighted = here * (births[some] * weight)[:, None]
        moments += _met_again(weighted, counted, cells)
    earlier = times[:, None] <= times[None, :]
    return chance, np.where(earlier, moments, moments.T)


def _met_again(weighted: Floats, counted: Floats, cells: int) -> Floats:
    """Number of eggs expected in a row and in a later one, shape (rows, rows).

    Parameters
    ----------
    weighted, counted : array, shape (rows, births, paces)
    cells : int
        The last so many rows are cells, in any order; others as in `_rows`.

    Notes
    -----
    Neighbouring rows hold ants that were born about the same time: some at once are multiplied
    with these births alone. Rows of brood come in the order of time, then those of workers, and no
    worker is brood again. Pairs of a row and an earlier one are left 0, or in part so.
    """
    number = len(weighted)
    weighted, counted = weighted.reshape(number, -1), counted.reshape(number, -1)
    met = np.zeros((number, number))
    edges = [*range(0, number - cells, AT_ONCE), number - cells, number]
    for first, last in itertools.pairwise(edges):
        rows, later = slice(first, last), slice(first if last < number else 0, None)
        born = np.flatnonzero(weighted[rows].any(axis=0))
        if len(born):
            births = slice(born[0], born[-1] + 1)
            met[rows, later] = weighted[rows, births] @ counted[later, births].T
    return met
