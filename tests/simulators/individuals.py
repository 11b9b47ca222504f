"""Bookkeeping for colonies of individuals: clocks, lives and the counts they add up to.

There is no biology here. Two ways of keeping the books, for two sorts of law:

- `run`: all that befalls an individual is drawn when it is laid, since nothing but the laying
  hangs on the nest-mates. Its entries and exits are written in a diary of steps to come, so that
  counting the colony costs one addition a step, however many ants there are.
- `follow`: what becomes of an individual hangs on its nest-mates (eggs are eaten, larvae wait for
  a place). Each is a row of a `Nest` until it dies. In every short step the law says how far each
  stage's clock has run in each colony; whoever reaches the end of its stage leaves it at the very
  moment within the step.

The package moves expected numbers through cohorts by the day. Here the moments are continuous, and
what the nest-mates do to each other is renewed every step (hours, not days).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

EGGS, LARVAE, PUPAE, WORKERS = range(4)
BROOD = (EGGS, LARVAE, PUPAE)

EGG, WAITING, GROWING, PUPA, WORKER = range(5)
"""Where a row of a `Nest` can be: larvae that wait are told from those that grow."""
COUNTED_AS = np.array([EGGS, LARVAE, LARVAE, PUPAE, WORKERS])


class Clock:
    """A clock that runs at a given rate in each part of a day, read exactly at any moment.

    `rate` has shape (days, parts), or (days,) where it holds all day; the reading is 0 at time 0.
    Times are in days.
    """

    def __init__(self, rate: np.ndarray) -> None:
        rate = np.asarray(rate, float)
        parts = rate[0].size
        self.times = np.arange(rate.size + 1) / parts
        self.readings = np.concatenate([[0.0], np.cumsum(rate.ravel()) / parts])

    def at(self, time: np.ndarray | float) -> np.ndarray:
        """Return the reading at a time; the last reading for times beyond the end."""
        return np.interp(time, self.times, self.readings)

    def when(self, reading: np.ndarray) -> np.ndarray:
        """Return the time at which a reading is reached; inf if it is not reached."""
        return np.interp(reading, self.readings, self.times, right=np.inf)


@dataclass(frozen=True)
class Loss:
    """A misfortune that the keeper does not write down.

    Each individual that is in one of `stages` at time `day` dies with probability `fraction`, at
    a moment spread evenly over the following `over_days`.
    """

    day: float
    fraction: float
    stages: tuple[int, ...] = BROOD
    over_days: float = 0.0


@dataclass(frozen=True, eq=False)
class Lives:
    """What became of each individual, one row each; times in days, inf where it never happened."""

    colony: np.ndarray
    """Which colony it belongs to, shape (n,)."""
    entered: np.ndarray
    """When it became an egg, larva, pupa, worker, shape (n, 4)."""
    died: np.ndarray
    """When it died, in whatever stage, shape (n,)."""
    grew: np.ndarray
    """When, as a larva, it began to grow, shape (n,)."""


class Law(Protocol):
    """How a colony lays and what becomes of its eggs."""

    def lay(
        self, start: float, end: float, counts: np.ndarray, rng: np.random.Generator
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return (colony, time laid) of a step's eggs, from counts (colonies, 4) at its start."""

    def live(
        self, colony: np.ndarray, laid: np.ndarray, workers: np.ndarray, rng: np.random.Generator
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return times of hatching, pupation, eclosion, shape (n, 3), and death, shape (n,)."""


def run(
    law: Law,
    days: int,
    colonies: int,
    rng: np.random.Generator,
    dt: float = 1 / 12,
    losses: Sequence[Loss] = (),
) -> tuple[np.ndarray, Lives]:
    """Let colonies live under a law; return counts (colonies, days, 4) at day ends, and lives."""
    steps_per_day = _steps_per_day(dt)
    steps = days * steps_per_day
    # One row a step boundary; the last row takes whatever happens after the end.
    diary = np.zeros((steps + 2, colonies * 4), np.int32)
    now = np.zeros((colonies, 4), np.int64)
    counts = np.zeros((days, colonies, 4), np.int64)
    kept: list[Lives] = []
    for step in range(steps):
        start, end = step / steps_per_day, (step + 1) / steps_per_day
        colony, laid = law.lay(start, end, now, rng)
        if colony.size:
            later, died = law.live(colony, laid, now[colony, WORKERS], rng)
            entered = np.column_stack([laid, later])
            for loss in losses:
                died = _lose(loss, entered, died, rng)
            entered[entered >= died[:, None]] = np.inf
            lives = Lives(colony, entered, died, entered[:, LARVAE])
            _write(diary, lives, step + 1, steps_per_day)
            kept.append(lives)
        now += diary[step + 1].reshape(colonies, 4)
        if (step + 1) % steps_per_day == 0:
            counts[(step + 1) // steps_per_day - 1] = now
    return counts.transpose(1, 0, 2).copy(), _joined(kept)


class Nest:
    """The individuals of many colonies, one row each, moved on by clocks that the law winds.

    A row's stage ends when the clock of its state, in its colony, has run on by its need. The
    clocks of a step are wound by `step`; they run evenly within it.
    """

    def __init__(self, colonies: int, rng: np.random.Generator) -> None:
        self.colonies, self.rng = colonies, rng
        self.start = self.end = 0.0
        self.reading = np.zeros((5, colonies))
        """What the clock of each state shows at the start of the step, shape (5, colonies)."""
        self.ahead = np.zeros((5, colonies))
        """What it will show at the end of the step."""
        self.size = 0
        self.colony = np.zeros(0, np.int64)
        self.entered = np.zeros((0, 5))
        self.died = np.zeros(0)
        self.due = np.zeros(0)
        """Reading at which the present stage is done."""
        self.fatal = np.zeros(0)
        """Reading at which it would die of the present stage; beyond `due` if it does not."""
        self.need = np.zeros(0)
        self.first = np.zeros(0, bool)
        """Whether it is one of the first workers."""
        self.pace = np.zeros(0)
        """The law's to use: what an individual keeps for life."""
        self.here = [np.zeros(0, np.int64) for _ in range(5)]
        """Rows in each state."""
        self.doomed, self.doom = np.zeros(0, np.int64), np.zeros(0)

    def counts(self) -> np.ndarray:
        """Count the rows of each state in each colony, shape (5, colonies)."""
        return np.stack(
            [np.bincount(self.colony[rows], minlength=self.colonies) for rows in self.here]
        )

    def step(self, start: float, end: float, passed: np.ndarray) -> None:
        """Begin a step in which the clocks run on by `passed`, shape (5, colonies)."""
        self.start, self.end = start, end
        self.reading = self.ahead
        self.ahead = self.reading + passed

    def lay(self, colony: np.ndarray) -> np.ndarray:
        """Add rows to colonies and return them; they are nowhere until they `enter` a state."""
        rows = np.arange(self.size, self.size + colony.size)
        self.size += colony.size
        if self.size > self.colony.size:
            more = max(1024, self.size)
            for name, blank in (
                ("colony", 0), ("entered", np.inf), ("died", np.inf), ("due", np.inf),
                ("fatal", np.inf), ("need", np.inf), ("first", False), ("pace", 1.0),
            ):  # fmt: skip
                old = getattr(self, name)
                added = np.full((more, *old.shape[1:]), blank, old.dtype)
                setattr(self, name, np.concatenate([old, added]))
        self.colony[rows] = colony
        return rows

    def enter(
        self,
        state: int,
        rows: np.ndarray,
        time: np.ndarray,
        need: np.ndarray | float = np.inf,
        fatal: np.ndarray | float = np.inf,
        done: np.ndarray | float = 0.0,
    ) -> None:
        """Let rows enter a state at moments of this step.

        `need` is what its clock has to run for the stage; `fatal` the share of what is left of it
        at which death comes, above 1 where it does not; `done` the share that lies behind.
        """
        self.entered[rows, state] = time
        reading = self._at(state, self.colony[rows], time)
        left = need * (1 - np.asarray(done))
        self.need[rows], self.due[rows] = need, reading + left
        self.fatal[rows] = np.where(np.asarray(fatal) < 1, reading + left * fatal, np.inf)
        self.here[state] = np.concatenate([self.here[state], rows])

    def leave(self, state: int, hazard: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
        """Bury those who die in a state in this step; return who completes it, and when.

        `hazard` [1/day], shape (colonies,), is what else threatens all who are there.
        """
        rows = self.here[state]
        colony, span = self.colony[rows], self.end - self.start
        event = np.minimum(self.due[rows], self.fatal[rows])
        changed = event <= self.ahead[state][colony]
        moment = np.full(rows.size, np.inf)
        which = np.flatnonzero(changed)
        begun, passed = self.reading[state], self.ahead[state] - self.reading[state]
        at = colony[which]
        moment[which] = self.start + span * np.clip((event[which] - begun[at]) / passed[at], 0, 1)
        killed = changed & (self.fatal[rows] < self.due[rows])
        if hazard is not None and hazard.any():
            since = np.maximum(self.start, self.entered[rows, state])
            with np.errstate(divide="ignore"):
                struck = since + self.rng.exponential(size=rows.size) / hazard[colony]
            hit = (struck < self.end) & (struck < moment)
            moment = np.where(hit, struck, moment)
            killed |= hit
            changed |= hit
        self.died[rows[killed]] = moment[killed]
        self.here[state] = rows[~changed]
        done = changed & ~killed
        return rows[done], np.maximum(moment[done], self.entered[rows[done], state])

    def pick(self, state: int, number: np.ndarray) -> np.ndarray:
        """Take so many rows of each colony, at random, out of a state; all if there are fewer."""
        rows = self.here[state]
        asked = number[self.colony[rows]] > 0
        among = rows[asked]
        order = np.lexsort((self.rng.random(among.size), self.colony[among]))
        among = among[order]
        colony = self.colony[among]
        rank = np.arange(among.size) - np.searchsorted(colony, colony)
        picked = among[rank < number[colony]]
        self.here[state] = np.concatenate([rows[~asked], among[rank >= number[colony]]])
        return picked

    def transfer(self, rows: np.ndarray, source: int, target: int) -> None:
        """Move rows to another state, with as much of their stage before them as there was."""
        self.here[source] = self.here[source][~np.isin(self.here[source], rows)]
        self.here[target] = np.concatenate([self.here[target], rows])
        colony = self.colony[rows]
        shift = self.reading[target][colony] - self.reading[source][colony]
        self.due[rows] += shift
        self.fatal[rows] += shift

    def progress(self, state: int, rows: np.ndarray) -> np.ndarray:
        """Share of the stage that lies behind each row at the start of the step."""
        return 1 - (self.due[rows] - self.reading[state][self.colony[rows]]) / self.need[rows]

    def lose(self, loss: Loss) -> None:
        """Doom those whom a loss of this step hits."""
        living = np.flatnonzero(
            (self.entered[: self.size, EGG] <= loss.day) & (self.died[: self.size] > loss.day)
        )
        there = (self.entered[living] <= loss.day).sum(axis=1) - 1
        hit = np.isin(COUNTED_AS[there], loss.stages)
        hit &= self.rng.random(living.size) < loss.fraction
        moment = loss.day + loss.over_days * self.rng.random(living.size)
        self.doomed = np.concatenate([self.doomed, living[hit]])
        self.doom = np.concatenate([self.doom, moment[hit]])

    def bury(self) -> None:
        """Let the doomed die whose moment lies in this step; what they did after it is undone."""
        now = self.doom < self.end
        if not now.any():
            return
        rows, moment = self.doomed[now], self.doom[now]
        self.doomed, self.doom = self.doomed[~now], self.doom[~now]
        np.minimum.at(self.died, rows, moment)
        later = self.entered[rows] > self.died[rows][:, None]
        self.entered[rows] = np.where(later, np.inf, self.entered[rows])
        self.here = [there[np.isinf(self.died[there])] for there in self.here]

    def lives(self) -> Lives:
        """What became of each."""
        entered = self.entered[: self.size]
        return Lives(
            self.colony[: self.size],
            entered[:, [EGG, WAITING, PUPA, WORKER]],
            self.died[: self.size],
            entered[:, GROWING],
        )

    def _at(self, state: int, colony: np.ndarray, time: np.ndarray) -> np.ndarray:
        span = self.end - self.start
        share = (time - self.start) / span if span > 0 else 0.0
        reading = self.reading[state][colony]
        return reading + share * (self.ahead[state][colony] - reading)


class SteppedLaw(Protocol):
    """How individuals fare in a short step, given all who are there."""

    def begin(self, nest: Nest) -> None:
        """Put in who is there at time 0."""

    def step(self, nest: Nest, start: float, end: float) -> None:
        """Wind the clocks of a step and move everyone on."""


def follow(
    law: SteppedLaw,
    days: int,
    colonies: int,
    rng: np.random.Generator,
    dt: float = 0.25,
    losses: Sequence[Loss] = (),
) -> tuple[np.ndarray, Lives]:
    """Let colonies live step by step; return counts (colonies, days, 4) at day ends, and lives."""
    steps_per_day = _steps_per_day(dt)
    nest = Nest(colonies, rng)
    law.begin(nest)
    counts = np.zeros((days, colonies, 4), np.int64)
    for step in range(days * steps_per_day):
        start, end = step / steps_per_day, (step + 1) / steps_per_day
        law.step(nest, start, end)
        for loss in losses:
            if start <= loss.day < end:
                nest.lose(loss)
        nest.bury()
        if (step + 1) % steps_per_day == 0:
            egg, waiting, growing, pupa, worker = nest.counts()
            day = (step + 1) // steps_per_day - 1
            counts[day] = np.stack([egg, waiting + growing, pupa, worker], axis=1)
    return counts.transpose(1, 0, 2).copy(), nest.lives()


def recount(lives: Lives, colonies: int, days: int) -> np.ndarray:
    """Count the living at the end of each day from their lives alone: slow, and without a diary."""
    counts = np.zeros((colonies, days, 4), np.int64)
    left = np.minimum(np.column_stack([lives.entered[:, 1:], lives.died]), lives.died[:, None])
    for day in range(days):
        there = (lives.entered <= day + 1) & (left > day + 1)
        for stage in range(4):
            counts[:, day, stage] = np.bincount(lives.colony[there[:, stage]], minlength=colonies)
    return counts


def _steps_per_day(dt: float) -> int:
    steps = round(1 / dt)
    if steps < 1 or abs(steps * dt - 1) > 1e-9:
        raise ValueError(f"dt = {dt} days: a day must hold a whole number of steps.")
    return steps


def _lose(
    loss: Loss, entered: np.ndarray, died: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    left = np.minimum(np.column_stack([entered[:, 1:], died]), died[:, None])
    there = (entered <= loss.day) & (left > loss.day)
    hit = there[:, list(loss.stages)].any(axis=1) & (rng.random(died.size) < loss.fraction)
    moment = loss.day + loss.over_days * rng.random(died.size)
    return np.where(hit, np.minimum(died, moment), died)


def _write(diary: np.ndarray, lives: Lives, first_row: int, steps_per_day: int) -> None:
    """Write entries and exits at the first step boundary at or after each event."""
    last_row = diary.shape[0] - 1
    moments = np.column_stack([lives.entered, lives.died])
    # Rounding could place an egg laid at the very start of a step one row too early.
    rows = np.clip(np.ceil(moments * steps_per_day), first_row, last_row).astype(np.int64)
    cells = lives.colony * 4
    for stage in range(4):
        left = np.minimum(rows[:, stage + 1], rows[:, 4])
        there = rows[:, stage] < left
        cell = cells[there] + stage
        np.add.at(diary, (rows[there, stage], cell), 1)
        np.add.at(diary, (left[there], cell), -1)


def _joined(kept: list[Lives]) -> Lives:
    if not kept:
        return Lives(np.zeros(0, np.int64), np.zeros((0, 4)), np.zeros(0), np.zeros(0))
    return Lives(
        np.concatenate([lives.colony for lives in kept]),
        np.concatenate([lives.entered for lives in kept]),
        np.concatenate([lives.died for lives in kept]),
        np.concatenate([lives.grew for lives in kept]),
    )
