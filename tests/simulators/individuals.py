"""Bookkeeping for colonies of individuals: clocks, lives and the counts they add up to.

There is no biology here. A law (`one_ant`, `other_laws`) says how many eggs are laid in a short
step, given the counts at its start, and what becomes of each egg. All that befalls an individual
is drawn when it is laid; its entries and exits are then written in a diary of steps to come, so
that counting the colony costs one addition a step, however many ants there are.

The package moves expected numbers through cohorts by the day. Here times are continuous, and the
feedback of brood and workers on laying is renewed every step (two hours by default), so that the
brood hardly overshoots the room there is for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

EGGS, LARVAE, PUPAE, WORKERS = range(4)
BROOD = (EGGS, LARVAE, PUPAE)


class Clock:
    """A clock that runs at a given rate in each hour, read exactly at any moment.

    `hourly_rate` has shape (days, 24); the reading is 0 at time 0. Times are in days.
    """

    def __init__(self, hourly_rate: np.ndarray) -> None:
        rate = np.asarray(hourly_rate, float).ravel()
        self.times = np.arange(rate.size + 1) / 24
        self.readings = np.concatenate([[0.0], np.cumsum(rate) / 24])

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
    steps_per_day = round(1 / dt)
    if steps_per_day < 1 or abs(steps_per_day * dt - 1) > 1e-9:
        raise ValueError(f"dt = {dt} days: a day must hold a whole number of steps.")
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
            lives = Lives(colony, entered, died)
            _write(diary, lives, step + 1, steps_per_day)
            kept.append(lives)
        now += diary[step + 1].reshape(colonies, 4)
        if (step + 1) % steps_per_day == 0:
            counts[(step + 1) // steps_per_day - 1] = now
    return counts.transpose(1, 0, 2).copy(), _joined(kept)


def recount(lives: Lives, colonies: int, days: int) -> np.ndarray:
    """Count the living at the end of each day from their lives alone: slow, and without a diary."""
    counts = np.zeros((colonies, days, 4), np.int64)
    left = np.minimum(np.column_stack([lives.entered[:, 1:], lives.died]), lives.died[:, None])
    for day in range(days):
        there = (lives.entered <= day + 1) & (left > day + 1)
        for stage in range(4):
            counts[:, day, stage] = np.bincount(lives.colony[there[:, stage]], minlength=colonies)
    return counts


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
        return Lives(np.zeros(0, np.int64), np.zeros((0, 4)), np.zeros(0))
    return Lives(
        np.concatenate([lives.colony for lives in kept]),
        np.concatenate([lives.entered for lives in kept]),
        np.concatenate([lives.died for lives in kept]),
    )
