"""Second moments of the growth model: how counts scatter and hang together by chance alone.

Chance enters at three places: how many eggs are laid, what becomes of each ant, and how laying and
rearing stray from the law for weeks. The life cycle is linearised around its expected course; then
a chance change on any day shows in a later count in proportion, and what it amounts to is carried
from the counts back through the days. The cost grows in proportion to the days and to the counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from antgrowth.model.life_cycle import Controls, LifeCycle, State
from antgrowth.model.mean_field import Growth
from antgrowth.model.parameters import Laws, Transfer
from antgrowth.model.thermal_forcing import ThermalForcing

__all__ = ["Cells", "Moments", "Start", "moments"]

Floats = NDArray[np.float64]

NUDGE = 1e-4
"""Relative step of the differences by which the law is linearised."""


@dataclass(frozen=True, eq=False)
class Cells:
    """Counts to be described: when, and which stages add up in each.

    Attributes
    ----------
    days : array of int, shape (cells,)
        Times of counting: 1 is the end of day 0. At least 1. [day]
    stages : array, shape (cells, 5)
        Weight of eggs, larvae, pupae, workers, and workers dead so far, in the count.
    """

    days: NDArray[np.intp]
    stages: Floats

    def __len__(self) -> int:
        return len(self.days)

    def mean(self, growth: Growth) -> Floats:
        """Expected counts, shape (draws, cells)."""
        return np.einsum("dcs,cs->dc", self.of(growth), self.stages)

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
    """What a colony may have held at the start of day 0, if that was not its founding.

    Attributes
    ----------
    state : array, shape (size,)
        Expected state.
    covariance : array, shape (size, size)
    """

    state: Floats
    covariance: Floats


@dataclass(frozen=True, eq=False)
class Moments:
    """How counts scatter by chance at one set of parameters.

    Attributes
    ----------
    cells : array, shape (cells, cells)
        Covariance of true counts.
    last : array, shape (size, size)
        Covariance of the state at the end of the last day, where asked for.
    link : array, shape (cells, size)
        Covariance of counts and that state, where asked for.
    losses : array, shape (days, cells)
        How each count would change if all brood were lost at the start of a day; row d - 1 for a
        loss at the start of day d, from 1 to the last day counted.
    """

    cells: Floats
    last: Floats
    link: Floats
    losses: Floats


def moments(
    laws: Laws,
    forcing: ThermalForcing,
    cells: Cells,
    *,
    start: Start | None = None,
    last_day: int | None = None,
) -> Moments:
    """Second moments of counts, and of the state at the end.

    Parameters
    ----------
    laws : Laws
        A single draw.
    forcing : ThermalForcing
    cells : Cells
    start : Start, optional
        What there was on day 0; a queen alone if not given.
    last_day : int, optional
        If given, the state at that time (as in `Cells.days`) is described as well.

    Returns
    -------
    Moments

    Notes
    -----
    With x the state, u the controls and s the signals of a day, ``x' = M(u) x + births(u)``, where
    each column of M tells what becomes of one ant. A change dx becomes ``J dx`` by the evening,
    ``J = M + dx'/du du/ds ds/dx``. If v tells what a change in the evening does to the counts,
    ``J' v`` tells it of the morning. The chance of a day adds ``v' Q v`` to the covariance: each
    ant goes one of several ways, and births are Poisson, so that ::

        v' Q v = v' diag(x') v - (M' v)' diag(x) (M' v) + innovations of the drift

    The only approximation is that the controls answer in a straight line, and that the deviations
    of colonies are small beside what bends it.
    """
    cycle, layout = LifeCycle(laws, forcing), State.of(laws)
    extra = 0 if last_day is None else layout.size
    end = int(cells.days.max(initial=1)) if last_day is None else last_day
    courses = _expected_course(cycle, end, start)
    times = np.concatenate([cells.days, np.full(extra, end)])
    rows = np.concatenate([cells.stages @ layout.stages, np.eye(layout.size)[:extra]])
    value = np.zeros((layout.size, len(times)))
    cov, losses = np.zeros((len(times),) * 2), np.zeros((max(end - 1, 0), len(cells)))
    drift = laws.drift**2 * (1.0 - cycle.drift_kept**2)
    for day in range(end - 1, -1, -1):
        value[:, times == day + 1] = rows[times == day + 1].T
        later = np.flatnonzero(times > day)
        evening = value[:, later]
        step = _Step.of(cycle, day, courses[day])
        for transfer in cycle.transfers(day):
            evening = _through(transfer, cycle, step.after).T @ evening
        cov[np.ix_(later, later)] += step.chance(evening, layout, drift)
        value[:, later] = step.answer.T @ evening
        if day:
            brood = value[: layout.waiting.stop]
            losses[day - 1] = -(courses[day][0, : layout.waiting.stop] @ brood)[: len(cells)]
    strays = value[layout.drift]
    if start is None:
        cov += (strays.T * laws.drift**2) @ strays
    else:
        whole = start.covariance.copy()
        whole[layout.drift, layout.drift] += np.diag(laws.drift**2)
        cov += value.T @ whole @ value
    cov = 0.5 * (cov + cov.T)
    own, state = slice(0, len(cells)), slice(len(cells), None)
    return Moments(cov[own, own], cov[state, state], cov[own, state], losses)


def _expected_course(cycle: LifeCycle, days: int, start: Start | None) -> list[Floats]:
    """States in the morning of each day, without ants carried in the evening of the last."""
    states = cycle.empty() if start is None else cycle.undisturbed(start.state[None].copy())
    course = []
    for day in range(days):
        course.append(states)
        states = cycle.transition(day, states, cycle.controls(day, cycle.signals(day, states)))
        for transfer in cycle.transfers(day):
            states = cycle.carried(states, transfer)
        states = cycle.undisturbed(states)
    return course


@dataclass(frozen=True, eq=False)
class _Step:
    """A day of the life cycle around its expected course.

    Attributes
    ----------
    before, after : array, shape (size,)
        State in the morning and in the evening.
    ways : array, shape (size, size)
        What becomes of each ant, given the controls (M).
    answer : array, shape (size, size)
        What becomes of a change in the morning, controls included (J).
    """

    before: Floats
    after: Floats
    ways: Floats
    answer: Floats

    @classmethod
    def of(cls, cycle: LifeCycle, day: int, states: Floats) -> _Step:
        signals = cycle.signals(day, states)
        controls = cycle.controls(day, signals)
        after = cycle.transition(day, states, controls)[0]
        size = states.shape[1]
        each = Controls(*(np.broadcast_to(part, size) for part in controls))
        ways = cycle.transition(day, np.eye(size), each._replace(eggs=np.zeros(size))).T
        by_signal = _slopes_of_controls(cycle, day, signals)
        by_control = _slopes_of_transition(cycle, day, states, controls)
        answer = ways + by_control.T @ by_signal.T @ cycle.signal_rows(day, states)
        return cls(states[0], after, ways, answer)

    def chance(self, evening: Floats, layout: State, drift: Floats) -> Floats:
        """What the chance of the day adds to the covariance of counts, shape (counts, counts)."""
        ants = np.ones(len(self.before), dtype=bool)
        ants[layout.drift] = False
        ended = evening[ants]
        began = (self.ways.T @ evening)[ants]
        fates = (ended.T * np.maximum(self.after[ants], 0.0)) @ ended
        fates -= (began.T * np.maximum(self.before[ants], 0.0)) @ began
        strays = evening[layout.drift]
        return fates + (strays.T * drift) @ strays


def _slopes_of_controls(cycle: LifeCycle, day: int, signals: Floats) -> Floats:
    """How the controls change with each signal, shape (signals, controls)."""
    steps = NUDGE * np.maximum(1.0, np.abs(signals[0]))
    around = np.concatenate([signals + np.diag(steps), signals - np.diag(steps)])
    found = np.stack(cycle.controls(day, around), axis=-1)
    up, down = found[: len(steps)], found[len(steps) :]
    return (up - down) / (2.0 * steps[:, None])


def _slopes_of_transition(
    cycle: LifeCycle, day: int, states: Floats, controls: Controls
) -> Floats:
    """How the state of the evening changes with each control, shape (controls, size)."""
    at = np.stack(controls, axis=-1)[0]
    steps = NUDGE * np.maximum(np.abs(at), 1e-3)
    around = np.concatenate([at + np.diag(steps), at - np.diag(steps)])
    same = np.broadcast_to(states, (len(around), states.shape[1]))
    found = cycle.transition(day, same, Controls(*around.T))
    up, down = found[: len(steps)], found[len(steps) :]
    return (up - down) / (2.0 * steps[:, None])


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
