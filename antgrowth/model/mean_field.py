"""The growth model: expected stage counts, vectorised over parameter draws.

Instead of following eggs forward, each day looks back: whoever leaves a stage today was laid at a
moment that the clocks tell, one moment for each pace. So the eggs of today are those laid since
one moment, the larvae those laid between two, and a running total of what was laid gives every
count as a difference. One pass over the days carries the laying feedback.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from antgrowth.model.parameters import Climate, Laws, births_of_day, pace_nodes
from antgrowth.model.thermal_time import Clocks
from antgrowth.model.transfers import Carried, carry

__all__ = ["Growth", "Trace", "blocks", "grow", "join", "look_back", "survive", "trace"]

Floats = NDArray[np.float64]

PACES = 8
"""Number of equally likely paces that stand for the spread among eggs."""

REST_LOSS = 0.3
"""Log-loss, between two moments when eggs of one day enter a stage, that only a rest can cause."""

AGE_GROUP_DAYS = 3
"""Workers that eclose within so many days share an age: little beside their lives. [day]"""

BLOCK = 512
"""Draws times paces worked on at once: few enough for the processor's cache."""


@dataclass(frozen=True, eq=False)
class Growth:
    """Expected growth of a colony from day 0, for a number of draws.

    Attributes
    ----------
    counts : array, shape (draws, days + 1, 4)
        Expected eggs, larvae, pupae, workers at the start of each day; entry d + 1 is the end of
        day d.
    births : array, shape (draws, days)
        Expected eggs laid on each day.
    first : array, shape (draws, days)
        Share of them that become first workers.
    died : array, shape (draws, days + 1)
        Workers of the colony's own expected to have died by the start of each day.
    midday : array, shape (draws, days, 2)
        Expected brood, the day's own eggs left out, and workers in the middle of each day: what
        laying answers to.
    """

    counts: Floats
    births: Floats
    first: Floats
    died: Floats
    midday: Floats

    def take(self, draws: slice) -> Growth:
        """Select draws."""
        return Growth(*(getattr(self, f.name)[draws] for f in fields(Growth)))

    @property
    def brood(self) -> Floats:
        """Expected brood, shape (draws, days + 1)."""
        return self.counts[..., :3].sum(axis=-1)


def look_back(laws: Laws, clocks: Clocks, times: Floats, pace: Floats) -> Floats:
    """When those were laid who finish a stage at given times.

    Parameters
    ----------
    laws : Laws
    clocks : Clocks
    times : array, shape (times,)
        Times of finishing. [day]
    pace : array, shape (paces,)

    Returns
    -------
    array, shape (times, 3, draws, 2, paces)
        Laying times [day] of those who finish egg, larva and pupa (second axis) as first and later
        workers (fourth axis). 0 where that was before day 0.
    """
    needs = laws.needs(pace)[:, None]  # draws, times, kinds, paces, stages
    laid = []
    for finished in range(3):
        moment = times[None, :, None, None]
        for stage in range(finished, -1, -1):
            clock = clocks.stages[stage]
            moment = clock.when(clock.at(moment) - needs[..., stage])
        laid.append(moment)
    return np.stack(laid).transpose(2, 0, 1, 3, 4)


@dataclass(frozen=True, eq=False)
class Survival:
    """Survival from laying to a moment, split into a factor of each end.

    A stage's loss is spread evenly over its progress, so survival from s to t is
    ``entered[s] * present[t]``: the running totals of `grow` need nothing else.

    Attributes
    ----------
    entered : array, shape (days, 4, draws, 2, paces)
        Factor of an egg laid in the middle of each day for being in each brood stage; the last is
        the whole survival to eclosion.
    present : array, shape (times, 3, draws, 2, paces)
        Factor of the time of counting.
    entered_at : array, shape (days, 4, draws, 2, paces)
        When eggs of each day enter each stage; the end of the clocks if not by then. [day]
    """

    entered: Floats
    present: Floats
    entered_at: Floats


def survive(laws: Laws, clocks: Clocks, days: int, times: Floats, pace: Floats) -> Survival:
    """Survival factors of eggs laid on each day and of each time of counting.

    Parameters
    ----------
    laws, clocks, pace
        As for `look_back`.
    days : int
        Laying days 0 to days - 1.
    times : array, shape (times,)
        Times of counting. [day]
    """
    needs = laws.needs(pace)[:, None]
    lost = -np.log(laws.survival)[:, None, None, None, :]
    counting = times[None, :, None, None]
    moment: Floats = np.arange(0.5, days)[None, :, None, None]
    survived: Floats = np.zeros(needs.shape[:1] + (days,) + needs.shape[2:4])  # log, stages before
    entered, present, entered_at = [], [], []
    for stage in range(3):
        clock, loss, need = clocks.stages[stage], clocks.losses[stage], needs[..., stage]
        hazard = lost[..., stage] / need  # per equivalent day
        entered.append(np.exp(survived + hazard * clock.at(moment) + loss.at(moment)))
        present.append(np.exp(-hazard * clock.at(counting) - loss.at(counting)))
        entered_at.append(np.broadcast_to(moment, survived.shape))
        done = clock.when(clock.at(moment) + need)
        survived = survived - lost[..., stage] - (loss.at(done) - loss.at(moment))
        moment = done
    entered.append(np.exp(survived))
    return Survival(
        entered=np.stack(entered).transpose(2, 0, 1, 3, 4),
        present=np.stack(present).transpose(2, 0, 1, 3, 4),
        entered_at=np.stack([*entered_at, moment]).transpose(2, 0, 1, 3, 4),
    )


def grow(laws: Laws, climate: Climate, days: int | None = None, paces: int = PACES) -> Growth:
    """Expected growth of colonies founded at the start of day 0.

    Parameters
    ----------
    laws : Laws
        Parameters of each draw.
    climate : Climate
    days : int, optional
        Days to grow; all days of the climate if not given.
    paces : int
        Number of equally likely paces that stand for the spread among eggs.

    Returns
    -------
    Growth

    Notes
    -----
    Expectations are carried through the laying law as if brood and workers were certain. First
    workers come from eggs laid before the colony has a worker: their expected share is
    ``exp(-W)``, the chance of none when workers are Poisson.
    """
    days = climate.days if days is None else days
    pace = pace_nodes(laws.pace_cv, paces)
    return join([trace(some, climate, days, pace).growth for some in blocks(laws, paces)])


def blocks(laws: Laws, paces: int) -> Iterator[Laws]:
    """Split draws into blocks that fit the processor's cache."""
    size = max(BLOCK // paces, 1)
    for start in range(0, len(laws), size):
        yield laws.take(slice(start, start + size))


def join(parts: list[Growth]) -> Growth:
    """Put the growth of several blocks together."""
    return Growth(*(np.concatenate([getattr(b, f.name) for b in parts]) for f in fields(Growth)))


@dataclass(frozen=True, eq=False)
class Trace:
    """Growth of a block of draws, and what it went through on the way.

    Attributes
    ----------
    growth : Growth
    laid : array, shape (3, draws, 2, paces)
        When those were laid who finish egg, larva and pupa at the end. [day]
    factors : Survival
    workers : array, shape (draws, 2, groups)
        Expected workers alive at the end, by kind and time of eclosion.
    eclosed : array, shape (groups,)
        Those times. [day]
    carried : Carried or None
        Ants carried in or out.
    """

    growth: Growth
    laid: Floats
    factors: Survival
    workers: Floats
    eclosed: Floats
    carried: Carried | None


def trace(laws: Laws, climate: Climate, days: int, pace: Floats) -> Trace:
    """Grow a block of draws; see `grow`.

    Parameters
    ----------
    laws, climate, days
        As for `grow`.
    pace : array, shape (paces,)
        Equally likely paces.
    """
    paces, clocks, moves = len(pace), climate.clocks(laws.shift_c), climate.moves
    ends = np.arange(1.0, days + 1)
    factors = survive(laws, clocks, days, ends, pace)
    laid = _take_sides(look_back(laws, clocks, ends, pace), factors, clocks, ends)
    totals = _Totals(laid, days)
    alive = _WorkersAlive(laws, clocks, days)
    appetite = laws.appetite(clocks)
    carried = carry(laws, clocks, moves) if moves else None
    counts = np.zeros((days + 1, len(laws), 4)) if carried is None else carried.counts(days)
    births, first = np.zeros((days, len(laws))), np.zeros((days, len(laws)))
    died = np.zeros((days + 1, len(laws)))
    before = np.zeros((len(laws), 2))
    midday = np.zeros((days, len(laws), 2))
    for day in range(days):
        then = counts[day + 1]
        totals.begin(day)
        entered, left = totals.passed(day)
        then[:, :3] += np.einsum("sdkp,sdkp->ds", factors.present[day], entered[:3] - left)
        finished = entered[3].sum(axis=-1)
        living = alive.at_end_of(day, finished - before)
        before = finished
        then[:, 3] += living
        died[day + 1] = finished.sum(axis=1) - living
        # Laying answers to the nest of midday: half a day late would add up over generations.
        there = np.maximum(counts[day : day + 2], 0.0).mean(axis=0)  # more may be carried out
        brood, workers = laws.load(there), there[:, 3]
        room, fill = births_of_day(laws, appetite[day], brood, workers)
        births[day], first[day] = room * fill, np.exp(-workers)
        midday[day] = np.stack([brood, workers], axis=-1)
        kinds = births[day] * np.array([first[day], 1.0 - first[day]]) / paces
        eggs = factors.entered[day] * kinds.T[None, :, :, None]
        totals.add(day, eggs)
        then[:, 0] += (factors.present[day, 0] * eggs[0]).sum(axis=(1, 2))
    growth = Growth(counts.transpose(1, 0, 2), births.T, first.T, died.T, midday.transpose(1, 0, 2))
    return Trace(growth, laid[-1], factors, alive.by_age(days - 1), alive.middle, carried)


def _take_sides(laid: Floats, factors: Survival, clocks: Clocks, times: Floats) -> Floats:
    """Let all eggs of a day enter a stage before a rest, or all after it, as the middle one does.

    They share one survival, and few outlive a rest: those who had entered before it would be
    taken for as many as it takes to leave that few.
    """
    for stage in range(1, 3):
        loss, passed = clocks.losses[stage], laid[:, stage - 1]
        if loss.readings[0, -1] > REST_LOSS:
            entered = np.take_along_axis(
                factors.entered_at[:, stage], passed.astype(np.intp), axis=0
            )
            apart = np.abs(loss.at(entered) - loss.at(times)[:, None, None, None]) > REST_LOSS
            laid[:, stage - 1] = np.where(apart, np.rint(passed), passed)
    return np.minimum.accumulate(laid, axis=1)  # nobody leaves a stage before entering it


class _Totals:
    """Running totals of eggs laid, weighted by survival into each stage; read between days.

    Births are spread evenly over their day, so a total is a straight line within a day.
    """

    def __init__(self, laid: Floats, days: int) -> None:
        self.totals = np.zeros((days + 1, 4, *laid.shape[2:]))
        self.day_size, stage_size = self.totals[0].size, self.totals[0, 0].size
        # Who is in a stage was laid before `laid` of the stage before and after `laid` of its own.
        place = np.arange(stage_size).reshape(laid.shape[2:])
        self.entering = self._spots(laid, np.arange(1, 4), stage_size, place)
        self.leaving = self._spots(laid, np.arange(3), stage_size, place)
        self.part = laid - np.floor(laid)

    def _spots(
        self, laid: Floats, totals: NDArray, stage_size: int, place: NDArray
    ) -> NDArray[np.intp]:
        offset = totals[:, None, None, None] * stage_size + place
        return laid.astype(np.intp) * self.day_size + offset

    def begin(self, day: int) -> None:
        self.totals[day + 1] = self.totals[day]

    def add(self, day: int, weighted: Floats) -> None:
        self.totals[day + 1] += weighted

    def passed(self, day: int) -> tuple[Floats, Floats]:
        """Weighted eggs that have entered egg, larva, pupa, worker and left the first three."""
        entered = np.empty(self.totals.shape[1:])
        entered[0] = self.totals[day + 1, 0]
        entered[1:] = self._read(self.entering[day], self.part[day])
        return entered, self._read(self.leaving[day], self.part[day])

    def _read(self, spots: NDArray[np.intp], part: Floats) -> Floats:
        low = self.totals.take(spots)
        return low + part * (self.totals.take(spots + self.day_size) - low)


class _WorkersAlive:
    """Workers alive out of those eclosed so far, by Weibull life on the ageing clock.

    Those of a few days in a row share an age, that of the middle of their days.
    """

    def __init__(self, laws: Laws, clocks: Clocks, days: int) -> None:
        self.age = clocks.ageing.readings[0]
        groups = -(-days // AGE_GROUP_DAYS)
        self.middle = np.minimum((np.arange(groups) + 0.5) * AGE_GROUP_DAYS, days - 0.5)
        self.eclosed_at = clocks.ageing.at(self.middle[None])[0]
        self.eclosed = np.zeros((len(laws), 2, groups))
        self.life = laws.lives()[:, :, None]
        self.shape = laws.life_shape
        self.first: int | None = None

    def at_end_of(self, day: int, eclosed: Floats) -> Floats:
        """Workers alive after so many (draws, 2) eclosed on a day, shape (draws,)."""
        group = day // AGE_GROUP_DAYS
        self.eclosed[:, :, group] += eclosed
        if self.first is None and eclosed.any():
            self.first = group
        if self.first is None:
            return np.zeros(len(self.life))
        return self.by_age(day, self.first).sum(axis=(1, 2))

    def by_age(self, day: int, first: int = 0) -> Floats:
        """Alive at the end of a day by age group, from group `first` on: draws, 2, groups."""
        group = day // AGE_GROUP_DAYS + 1
        age = np.maximum(self.age[day + 1] - self.eclosed_at[first:group], 0.0)
        return self.eclosed[:, :, first:group] * np.exp(-((age / self.life) ** self.shape))
