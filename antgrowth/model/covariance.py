"""Second moments of the growth model: how counts scatter and hang together by chance alone.

Chance enters at three places: how many eggs are laid, what becomes of each ant, and how laying and
rearing stray from the law for weeks. The life cycle is linearised around its expected course; then
a chance change on any day shows in a later count in proportion, and what it amounts to is carried
from the counts back through the days. The cost grows in proportion to the days and to the counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from antgrowth._core.arrays import Floats
from antgrowth._core.compiled import compiled
from antgrowth.model.growth_law import (
    AFTER_WORKERS,
    DRIFT_KEPT,
    DRIFT_RENEWED,
    DRIFTS,
    Conditions,
    Controls,
    Signals,
    Workspace,
    controls,
    evening,
    forget,
    no_worker,
    ripe_eggs,
    signals,
    totals,
    work_out,
)
from antgrowth.model.life_cycle import LifeCycle, State
from antgrowth.model.mean_field import Growth
from antgrowth.model.parameters import Laws, Transfer
from antgrowth.model.thermal_forcing import ThermalForcing

NUDGE = 1e-4
"""Relative step of the differences by which the law is linearised."""

PLACED = Controls._fields.index("placed")


@dataclass(frozen=True, eq=False)
class Cells:
    """Counts to be described: when, and which stages add up in each."""

    # Times of counting: 1 is the end of day 0. At least 1 [day], shape (cells,)
    days: NDArray[np.intp]
    # Weight of eggs, larvae, pupae, workers, and workers dead so far, in the count,
    # shape (cells, 5)
    stages: Floats

    def __len__(self) -> int:
        return len(self.days)

    def mean(self, growth: Growth) -> Floats:
        """Expected counts, shape (draws, cells)."""
        found: Floats = np.einsum("dcs,cs->dc", self.of(growth), self.stages)
        return found

    def of(self, growth: Growth) -> Floats:
        """Expected stages at the time of each cell, shape (draws, cells, 5)."""
        dead = growth.died[:, self.days, None]
        return np.concatenate([growth.counts[:, self.days], dead], axis=-1)

    def joined(self, other: Cells) -> Cells:
        """These cells followed by others."""
        return Cells(
            np.concatenate([self.days, other.days]), np.concatenate([self.stages, other.stages])
        )


@dataclass(frozen=True, eq=False)
class Start:
    """What a colony may have held at the start of day 0, if that was not its founding."""

    state: Floats  # expected state, shape (size,)
    covariance: Floats  # shape (size, size)


@dataclass(frozen=True, eq=False)
class Moments:
    """How counts scatter by chance at one set of parameters."""

    cells: Floats  # covariance of true counts, shape (cells, cells)
    # Covariance of the state at the end of the last day, where asked for, shape (size, size)
    last: Floats
    link: Floats  # covariance of counts and that state, where asked for, shape (cells, size)
    # How each count would change if all brood were lost at the start of a day; row d - 1 for a
    # loss at the start of day d, which counts from time d on show, from 1 to the day before the
    # last counted, shape (days, cells)
    losses: Floats
    # How each count, and the state at the end where asked for, would change if the colony began to
    # stray on a morning, the first and after each day: shape (days + 1, drifts, cells + size)
    strays: Floats


def moments(
    laws: Laws,
    forcing: ThermalForcing,
    cells: Cells,
    *,
    start: Start | None = None,
    last_day: int | None = None,
    strays: Floats | None = None,
) -> Moments:
    """Second moments of counts, and of the state at the end.

    A single draw of the laws grows from `start`, or else from a queen alone; with `last_day` the
    state at that time (as in `Cells.days`) is described as well. The expected course strays from
    the law by `strays` on each morning, shape (forcing.days + 1, drifts).

    With x the state, u the controls and s the signals of a day, ``x' = M(u) x + births(u)``, where
    each column of M tells what becomes of one ant. A change dx becomes ``J dx`` by the evening, ``J
    = M + dx'/du du/ds ds/dx``. If v tells what a change in the evening does to the counts, ``J' v``
    tells it of the morning. The chance of a day adds ``v' Q v`` to the covariance: each ant goes
    one of several ways, and births are Poisson, so that ::

        v' Q v = v' diag(x') v - (M' v)' diag(x) (M' v) + innovations of the drift

    less what that has of the chance by which larvae find a place, of which so many are given out.
    What M' v lacks of J' v is of rank 4, as there are four controls; but for it, the second term of
    a day is the first of the day before. So only those few directions are summed up day by day. The
    only approximation is that the controls answer in a straight line, and that the deviations of
    colonies are small beside what bends it.
    """
    cycle, layout = LifeCycle(laws, forcing, strays=strays), State.of(laws)
    extra = 0 if last_day is None else layout.size
    end = int(cells.days.max(initial=1)) if last_day is None else last_day
    course = _expected_course(cycle, end, start)
    times = np.concatenate([cells.days, np.full(extra, end)])
    rows = np.concatenate([cells.stages @ layout.stages, np.eye(layout.size)[:extra]])
    # The last counts come first, so that those counted after a day are at the beginning.
    order = np.argsort(-times, kind="stable")
    place = np.argsort(order)
    later = np.searchsorted(-times[order], -np.arange(end + 1), side="left")
    value = rows[order].T.copy()  # what a change by now does to each count, shape (size, counts)
    cov, losses = np.zeros((len(times),) * 2), np.zeros((max(end - 1, 0), len(times)))
    straying = np.zeros((end + 1, len(DRIFTS), len(times)))
    drift = laws.drift**2 * DRIFT_RENEWED
    brood, ants = slice(0, layout.waiting.stop), layout.ants.astype(float)
    known = 0  # counts in which the ants of the coming morning scatter already
    for day in range(end - 1, -1, -1):
        many = later[day]
        if day + 1 < end:
            losses[day, :many] = -(course[day + 1].before[0, brood] @ value[brood, :many])
        evening, step = value[:, :many], _Step.of(cycle, day, course[day])
        if course[day].carried:
            cov[:known, :known] -= _weighed(evening[:, :known], step.left * ants)
            for transfer, there in reversed(course[day].carried):
                cov[:many, :many] += evening.T @ _unknown_ages(transfer, cycle, there) @ evening
                evening = _through(transfer, cycle, there).T @ evening
            known = 0
        straying[day + 1, :, :many] = evening[layout.drift]
        fresh = (evening.T * (step.after * ants)) @ evening[:, known:]
        cov[:many, known:many] += fresh
        cov[known:many, :known] += fresh[:known].T
        morning = step.morning(evening)
        cov[:many, :many] += _weighed(*step.chance(evening, morning, layout, drift))
        value[:, :many], known = morning, many
    if end:
        cov -= _weighed(value, course[0].before[0] * ants)
    straying[0] = value[layout.drift]
    if start is None:
        cov += (straying[0].T * laws.drift**2) @ straying[0]
    else:
        whole = start.covariance.copy()
        whole[layout.drift, layout.drift] += np.diag(laws.drift**2)
        cov += value.T @ whole @ value
    cov = (0.5 * (cov + cov.T))[np.ix_(place, place)]
    own, state = slice(0, len(cells)), slice(len(cells), None)
    return Moments(
        cov[own, own], cov[state, state], cov[own, state], losses[:, place[own]],
        straying[:, :, place],
    )  # fmt: skip


class _Day(NamedTuple):
    """A day of the expected course; arrays of shape (1, ...)."""

    # before, after: states in the morning, and in the evening before ants are carried,
    # shape (1, size)
    before: Floats
    after: Floats
    signals: Floats  # shape (signals,)
    controls: Floats  # shape (controls,)
    # Ants carried in the evening, each with the state that they found, shape (size,)
    carried: list[tuple[Transfer, Floats]]
    left: Floats  # state when they have been carried, shape (1, size)


def _expected_course(cycle: LifeCycle, days: int, start: Start | None) -> list[_Day]:
    states = cycle.empty() if start is None else cycle.on_course(start.state[None].copy())
    course = []
    for day in range(days):
        seen, given = np.empty(len(Signals._fields)), np.empty(len(Controls._fields))
        after = states.copy()
        _live_through(cycle.conditions, day, after[0], DRIFT_KEPT, seen, given, cycle.work)
        carried, left = [], after.copy()
        for transfer in cycle.transfers(day):
            carried.append((transfer, left[0].copy()))
            left = cycle.carried(left, transfer)
        course.append(_Day(states, after, seen, given, carried, left))
        states = cycle.on_course(left.copy(), day + 1)
    return course


@dataclass(frozen=True, eq=False)
class _Step:
    """A day of the life cycle around its expected course."""

    cycle: LifeCycle
    day: int
    # before, after, left: state in the morning, in the evening, and when ants have been carried
    # in or out, shape (size,)
    before: Floats
    after: Floats
    left: Floats
    controls: Floats  # shape (controls,)
    by_control: Floats  # what a change of each control makes of the evening, shape (controls, size)
    pull: Floats  # how each control answers to a change in the morning, shape (size, controls)
    asking: float  # larvae that ask for a place
    places: float  # variance of the number of places given out, if each larva got one by chance

    @classmethod
    def of(cls, cycle: LifeCycle, day: int, known: _Day) -> _Step:
        size, parts = cycle.state.size, len(known.controls)
        by_control, pull = np.empty((parts, size)), np.empty((size, parts))
        by_signal, scratch = np.empty((len(known.signals), parts)), np.empty(size)
        before = known.before[0]
        _answers(
            cycle.conditions, day, before, known.signals, known.controls, by_control, by_signal,
            pull, scratch, cycle.work,
        )  # fmt: skip
        placed = float(known.controls[PLACED])
        asking = max(-float(by_control[PLACED, cycle.state.waiting.start]), 1e-12)
        return cls(
            cycle, day, before, known.after[0], known.left[0], known.controls, by_control, pull,
            asking, asking * placed * (1.0 - placed),
        )  # fmt: skip

    def morning(self, evening: Floats) -> Floats:
        """What a change in the morning does to the counts (J' v), by what one in the evening does.

        Both of shape (size, counts).
        """
        cycle, found = self.cycle, self.pull @ (self.by_control @ evening)
        each, scratch = np.ascontiguousarray(evening), np.empty(len(evening))
        _ways_back(
            cycle.conditions, self.day, self.controls, DRIFT_KEPT, each, found, scratch,
            cycle.work,
        )  # fmt: skip
        return found

    def chance(
        self, evening: Floats, morning: Floats, layout: State, drift: Floats
    ) -> tuple[Floats, Floats]:
        """What the chance of the day adds to the covariance, but for that of ants gone on.

        `evening` and `morning` are what a change in the evening does to the counts (v), and one in
        the morning (J' v), shape (size, counts); `drift` is the variance of the innovations,
        (drifts,). Gives parts, shape (parts, counts), and their weights.
        """
        there = self.pull * (np.maximum(self.before, 0.0) * layout.ants)[:, None]
        turned = self.by_control @ evening
        shared = there.T @ morning
        shared -= 0.5 * (there.T @ self.pull) @ turned
        parts = [turned + shared, turned - shared, evening[layout.drift], turned[[PLACED]]]
        weights = [
            np.full(4, 0.5),
            np.full(4, -0.5),
            drift,
            np.full(1, -self.places / self.asking**2),
        ]
        return np.concatenate(parts), np.concatenate(weights)


@compiled
def _live_through(
    conditions: Conditions,
    day: int,
    state: Floats,
    kept: Floats,
    seen: Floats,
    given: Floats,
    work: Workspace,
) -> None:
    """Expected state of the evening in place of the morning's, and what led to it."""
    forget(work)
    known = totals(state)
    alone = no_worker(known[4], False)
    work_out(conditions, 0, day, alone, work)
    noted = signals(state, known, alone, work)
    today = controls(conditions, 0, day, noted, False)
    for part, value in enumerate(noted):
        seen[part] = value
    for part, value in enumerate(today):
        given[part] = value
    evening(conditions, 0, day, state, today, work)
    for part in range(len(kept)):
        state[len(state) - AFTER_WORKERS + part] *= kept[part]


@compiled
def _answers(
    conditions: Conditions,
    day: int,
    before: Floats,
    seen: Floats,
    given: Floats,
    by_control: Floats,
    by_signal: Floats,
    pull: Floats,
    state: Floats,
    work: Workspace,
) -> None:
    """What each control makes of the evening, and how it answers to signals and to the morning."""
    _by_control(conditions, day, before, given, by_control, state, work)
    _by_signal(conditions, day, seen, by_signal)
    _pull(conditions, day, before, by_signal, pull, state, work)


@compiled
def _by_control(
    conditions: Conditions,
    day: int,
    before: Floats,
    given: Floats,
    slopes: Floats,
    state: Floats,
    work: Workspace,
) -> None:
    """What a change of each control makes of the evening, by a small one up and down."""
    forget(work)
    for part in range(len(given)):
        usual = given[part]
        up = NUDGE * max(usual, 1e-3)
        down = min(up, usual)  # none is below zero
        for sign in (1.0, -1.0):
            given[part] = usual + up if sign > 0.0 else usual - down
            for place in range(len(state)):
                state[place] = before[place]
            today = Controls(given[0], given[1], given[2], given[3])
            work_out(conditions, 0, day, today.first, work)
            evening(conditions, 0, day, state, today, work)
            for place in range(len(state)):
                so_far = 0.0 if sign > 0.0 else slopes[part, place]
                slopes[part, place] = so_far + sign * state[place] / (up + down)
        given[part] = usual


@compiled
def _by_signal(conditions: Conditions, day: int, seen: Floats, slopes: Floats) -> None:
    """How each control answers to each signal, by a small change up and down."""
    for part in range(len(seen)):
        usual = seen[part]
        up = NUDGE * max(usual, 1.0)
        down = min(up, usual)
        for sign in (1.0, -1.0):
            seen[part] = usual + up if sign > 0.0 else usual - down
            noted = Signals(
                seen[0], seen[1], seen[2], seen[3], seen[4], seen[5], seen[6], seen[7], seen[8]
            )
            for which, value in enumerate(controls(conditions, 0, day, noted, False)):
                so_far = 0.0 if sign > 0.0 else slopes[part, which]
                slopes[part, which] = so_far + sign * value / (up + down)
        seen[part] = usual


@compiled
def _pull(
    conditions: Conditions,
    day: int,
    before: Floats,
    slopes: Floats,
    pull: Floats,
    state: Floats,
    work: Workspace,
) -> None:
    """How each control answers to each part of a state: by all the signals that it shows in.

    A worker more counts as one, and makes it less likely that there is none, on which the eggs
    about to hatch hang as well.
    """
    forget(work)
    work_out(conditions, 0, day, 0.5, work)  # with and without workers
    first = no_worker(totals(before)[4], False)
    hasty = ripe_eggs(before, 1.0, work) - ripe_eggs(before, 0.0, work)
    for place in range(len(state)):
        state[:] = 0.0
        state[place] = 1.0
        known = totals(state)
        ripe = ripe_eggs(state, first, work) - first * hasty * known[4]
        for which in range(pull.shape[1]):
            found = ripe * slopes[5, which]
            for part, value in enumerate(known):
                found += value * slopes[part, which]
            for part in range(len(DRIFTS)):
                found += state[len(state) - AFTER_WORKERS + part] * slopes[6 + part, which]
            pull[place, which] = found


@compiled
def _ways_back(
    conditions: Conditions,
    day: int,
    given: Floats,
    kept: Floats,
    value: Floats,
    found: Floats,
    state: Floats,
    work: Workspace,
) -> None:
    """Add what the ants of each place are worth in the evening: one by one, none being born."""
    forget(work)
    today = Controls(0.0, given[1], given[2], given[3])
    work_out(conditions, 0, day, today.first, work)
    for place in range(len(state)):
        state[:] = 0.0
        state[place] = 1.0
        evening(conditions, 0, day, state, today, work)
        for part in range(len(kept)):
            state[len(state) - AFTER_WORKERS + part] *= kept[part]
        for there in range(len(state)):
            share = state[there]
            if share != 0.0:
                for count in range(value.shape[1]):
                    found[place, count] += share * value[there, count]


def _weighed(parts: Floats, weights: Floats) -> Floats:
    """Sum of weighted squares of parts, shape (counts, counts)."""
    found: Floats = (parts.T * weights) @ parts
    return found


def _through(transfer: Transfer, cycle: LifeCycle, evening: Floats) -> Floats:
    """What a transfer makes of changes of the state, shape (size, size)."""
    through = np.eye(len(evening))
    if transfer.number < 0:
        places = cycle.places_of(transfer.stage, arriving=False)
        there = max(float(evening[places].sum()), 1e-12)
        left = max(1.0 + transfer.number / there, 0.0)
        # Of one ant more, one more is left, but its place in the stage is shared by all.
        spread = np.outer(evening[places], np.ones(len(places))) * (left > 0) * (1 - left) / there
        through[np.ix_(places, places)] = left * np.eye(len(places)) + spread
    return through


def _unknown_ages(transfer: Transfer, cycle: LifeCycle, there: Floats) -> Floats:
    """Covariance that comes of not knowing how old those are who were carried, (size, size).

    Those who come may be anywhere in their stage; those who leave are any of those there.
    """
    arriving = transfer.number > 0
    places = cycle.places_of(transfer.stage, arriving)
    number, total = abs(transfer.number), max(float(there[places].sum()), 1e-12)
    if arriving:
        share, spread = np.full(len(places), 1.0 / len(places)), number
    else:
        share, spread = there[places] / total, number * max(1.0 - number / total, 0.0)
    cov = np.zeros((len(there),) * 2)
    cov[np.ix_(places, places)] = spread * (np.diag(share) - np.outer(share, share))
    return cov
