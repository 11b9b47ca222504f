"""The growth law, written once: what a day does to a colony.

A colony is a row of numbers, its *state*: brood by stage and progress, larvae that wait, workers by
age, and how far its laying and rearing stray from the law just now. A day is worked out in two
steps. `LifeCycle.controls` tells from what lies in the nest how many eggs are laid, how many are
eaten, and how many larvae find a place; `LifeCycle.transition` moves everybody on by these. Given
the controls the second step is linear: each ant goes its own way. The expected course
(`mean_field`), its scatter (`covariance`) and whole-number colonies (`simulation`) all come from
these two functions.

The law
-------
- A queen lays, by temperature and by the number of her workers, whatever brood lies there.
- Larvae eat eggs, which is what becomes of most of a founding queen's.
- A larva grows only where it has a *place*, of which queen and workers offer so many; pupae hold
  theirs until they hatch. Other larvae wait.
- When the season ends, larvae grow no further and the queen stops laying; pupae still hatch. What
  waits then outlives the winter, and grows first in spring.

A stage is passed through in `BINS` steps of progress. On each day brood moves on by its rate, some
more and some less, so that durations of individuals scatter by `Laws.development_cv` (a distributed
delay: Manetsch TJ (1976) IEEE Transactions on Systems, Man, and Cybernetics 6:547-553, from
memory). Workers age in so many steps as give the scatter of a Weibull life.

All is numpy in, numpy out, vectorised over parameter draws, which are the first axis. Day d covers
[d, d + 1); counts of a date are those at its end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import special

from antgrowth.model.parameters import Laws, Transfer
from antgrowth.model.thermal_forcing import ThermalForcing

__all__ = [
    "DRIFTS",
    "DRIFT_DAYS",
    "EGG",
    "LARVA",
    "PUPA_FIRST",
    "PUPA_LATER",
    "Controls",
    "LifeCycle",
    "State",
    "growth_blocks",
    "larval_progress",
]

Floats = NDArray[np.float64]

BINS = 24
"""Steps of progress through a brood stage."""

EGG, LARVA, PUPA_FIRST, PUPA_LATER = ROWS = range(4)
"""Rows of brood: eggs, growing larvae, pupae of first and of later workers."""

DRIFTS = ("laying", "places", "eating of eggs")
DRIFT_DAYS = np.array([15.0, 20.0, 20.0])
"""How long a colony strays from the law to the same side (assumed): what food, disturbance and the
queen's own habit make of it. [day]"""

SCARCE_EGGS = 30.0
"""With so many eggs in the nest larvae eat half of what they would eat of plenty (chosen with
founding colonies of Lasius niger, see the species' profile)."""

EDGE = 0.5
"""Places are given out up to the limit, give or take so many. [brood]"""

SEASON_ENDS_IN, SEASON_WAKES_IN = 1.5, 3.0
"""Width of the logistic curves by which a season ends and begins (assumed). [day], or [°C] where
the cool ends it"""

DAYS_AT_ONCE = 64
"""So many days of rates are worked out together."""


class State:
    """Where in a colony's state what is written.

    Parameters
    ----------
    ages : int
        Steps of a worker's life.

    Attributes
    ----------
    brood, waiting, workers, drift, died : slice
        `ROWS` times `BINS` of brood; waiting larvae; first workers by age, then later ones; how
        laying, places and eating stray (logarithm); workers dead so far.
    size : int
    """

    def __init__(self, ages: int) -> None:
        self.ages = ages
        ends = np.cumsum([0, len(ROWS) * BINS, 1, 2 * ages, len(DRIFTS), 1]).tolist()
        parts = [slice(a, b) for a, b in zip(ends, ends[1:], strict=False)]
        self.brood, self.waiting, self.workers, self.drift, self.died = parts
        self.size = int(ends[-1])

    @classmethod
    def of(cls, laws: Laws) -> State:
        """Layout for laws: life in so many steps scatters like a Weibull life of their shape."""
        first, second = special.gamma(1.0 + np.array([1.0, 2.0]) / laws.life_shape)
        return cls(max(round(1.0 / (second / first**2 - 1.0)), 1))

    def row(self, stage: int) -> slice:
        """Where a row of brood stands."""
        return slice(stage * BINS, (stage + 1) * BINS)

    def totals(self, states: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Eggs, waiting larvae, growing larvae, pupae and workers, each of shape (draws,)."""
        rows = states[:, self.brood].reshape(len(states), len(ROWS), BINS).sum(axis=-1)
        pupae = rows[:, PUPA_FIRST] + rows[:, PUPA_LATER]
        workers = states[:, self.workers].sum(axis=-1)
        return rows[:, EGG], states[:, self.waiting.start], rows[:, LARVA], pupae, workers

    def counts(self, states: Floats) -> Floats:
        """Eggs, larvae, pupae, workers, shape (draws, 4)."""
        eggs, waiting, growing, pupae, workers = self.totals(states)
        return np.stack([eggs, waiting + growing, pupae, workers], axis=-1)

    @property
    def stages(self) -> Floats:
        """What of a state adds up to eggs, larvae, pupae, workers and the dead, shape (5, size)."""
        rows = np.zeros((5, self.size))
        rows[0, self.row(EGG)] = 1.0
        rows[1, self.row(LARVA)] = rows[1, self.waiting] = 1.0
        rows[2, self.row(PUPA_FIRST)] = rows[2, self.row(PUPA_LATER)] = 1.0
        rows[3, self.workers] = 1.0
        rows[4, self.died] = 1.0
        return rows


class Controls(NamedTuple):
    """What a day's life hangs on; arrays of shape (draws,).

    Attributes
    ----------
    eggs : array
        Expected eggs laid.
    uneaten : array
        Share of eggs that no larva eats.
    placed : array
        Share of waiting larvae that find a place.
    first : array
        Share of larvae pupating that become first workers: those reared without any worker.
    """

    eggs: Floats
    uneaten: Floats
    placed: Floats
    first: Floats


class Moved(NamedTuple):
    """Brood after a day, before anybody enters a stage.

    Attributes
    ----------
    staying : array, shape (draws, ROWS, BINS)
    leaving : array, shape (draws, ROWS)
        Those who have completed the stage.
    """

    staying: Floats
    leaving: Floats


@dataclass(frozen=True, eq=False)
class _Rates:
    """What some days in a row do to brood of each stage, whatever lies in the nest.

    Attributes
    ----------
    first_day : int
    step : array, shape (draws, days, 2, 3, moves)
        Chance to move on by 0, 1, 2, ... steps of progress; among first workers, later ones.
    entry : array, shape (draws, days, 2, 3, BINS)
        Where those stand in the evening who entered a stage in the course of the day.
    living : array, shape (draws, days, 3)
        Share of eggs (uneaten), growing larvae and pupae that live through the day.
    waiting : array, shape (draws, days)
        The same of larvae that wait.
    """

    first_day: int
    step: Floats
    entry: Floats
    living: Floats
    waiting: Floats


class LifeCycle:
    """The growth law for draws under a forcing.

    Parameters
    ----------
    laws : Laws
    forcing : ThermalForcing
    """

    def __init__(self, laws: Laws, forcing: ThermalForcing) -> None:
        self.laws, self.forcing, self.days = laws, forcing, forcing.days
        self.state = State.of(laws)
        self.drift_kept = np.exp(-1.0 / DRIFT_DAYS)
        rearing, laying = _season_gates(laws, forcing)
        self.rearing = rearing
        self.appetite = self._appetite(laying)
        self.hunger = self._hunger(rearing)
        self.ageing = self._ageing()
        self._rest_loss = forcing.rest_share
        self._rates: _Rates | None = None

    def empty(self) -> Floats:
        """A queen alone, as expected: shape (draws, size)."""
        states = np.zeros((len(self.laws), self.state.size))
        return self.undisturbed(states)

    def undisturbed(self, states: Floats) -> Floats:
        """The same states with laying and rearing as the law has them on average."""
        states[:, self.state.drift] = 0.5 * self.laws.drift**2
        return states

    def signals(self, day: int, states: Floats) -> Floats:
        """What `controls` look at, shape (draws, signals); linear in the states.

        Eggs, waiting larvae, growing larvae, pupae, workers, eggs about to hatch, and drift.
        """
        seen = [*self.state.totals(states)]
        first = np.exp(-np.maximum(seen[-1], 0.0))
        return np.column_stack([*seen, self._ripe(day, states, first), states[:, self.state.drift]])

    def signal_rows(self, day: int, states: Floats) -> Floats:
        """The same as a matrix at one state: what of a state each adds up, shape (signals, size)."""
        eye = np.eye(self.state.size)
        rows = self.signals(day, eye).T
        first = np.exp(-np.maximum(states[:, self.state.workers].sum(axis=-1), 0.0))
        rows[5] = self._ripe(day, eye, np.broadcast_to(first, len(eye)))
        return rows

    def controls(self, day: int, signals: Floats, whole: bool = False) -> Controls:
        """What a day's life hangs on.

        Parameters
        ----------
        day : int
        signals : array, shape (draws, signals)
        whole : bool
            Ants come in whole numbers: a colony has a worker or has none. Where their number is an
            expectation, the chance of none is that of a Poisson number.
        """
        laws = self.laws
        eggs, waiting, growing, pupae, workers, ripe = np.maximum(signals[:, :6], 0.0).T
        drift = np.exp(signals[:, 6:] - 0.5 * laws.drift**2)
        laid = self.appetite[:, day] * laws.laying_rate(workers) * drift[:, 0]
        limit = laws.places(workers) * drift[:, 1]
        free = EDGE * np.logaddexp(0.0, (limit - growing - laws.pupa_care * pupae) / EDGE)
        asking = np.maximum(waiting + ripe, 1e-6)
        placed = self.rearing[:, day] * -np.expm1(-free / asking)
        eaten = self.hunger[:, day] * laws.eggs_eaten * drift[:, 2]
        eaten = eaten * (waiting + growing) / (eggs + SCARCE_EGGS)  # as a hazard on each egg
        first = (workers < 0.5).astype(float) if whole else np.exp(-workers)
        return Controls(laid, np.exp(-eaten), placed, first)

    def move(self, day: int, states: Floats, controls: Controls) -> Moved:
        """Let brood develop and die for a day."""
        rates, at = self._rates_of(day)
        step, living = rates.step[:, at], rates.living[:, at]
        draws, moves = len(states), step.shape[-1]
        first = controls.first[:, None]
        share = np.empty((draws, len(ROWS), moves))
        share[:, :2] = step[:, 1, :2] + first[..., None] * (step[:, 0, :2] - step[:, 1, :2])
        share[:, PUPA_FIRST], share[:, PUPA_LATER] = step[:, 0, 2], step[:, 1, 2]
        alive = np.zeros((draws, len(ROWS), BINS + 2 * (moves - 1)))
        inner = alive[..., moves - 1 : moves - 1 + BINS]
        inner[...] = states[:, self.state.brood].reshape(draws, len(ROWS), BINS)
        inner[:, EGG] *= (living[:, 0] * controls.uneaten)[:, None]
        inner[:, LARVA] *= living[:, 1, None]
        inner[:, PUPA_FIRST:] *= living[:, 2, None, None]
        windows = np.lib.stride_tricks.sliding_window_view(alive, moves, axis=2)
        moved = np.einsum("drkj,drj->drk", windows, share[..., ::-1])
        return Moved(moved[..., :BINS], moved[..., BINS:].sum(axis=-1))

    def enter(
        self, day: int, staying: Floats, first: Floats, entering: tuple[Floats, ...]
    ) -> Floats:
        """Add those who enter a row in the course of a day to those staying.

        Parameters
        ----------
        day : int
        staying : array, shape (draws, ROWS, BINS)
        first : array, shape (draws,)
            `Controls.first`.
        entering : arrays, shape (draws,)
            New eggs, larvae with a place, pupae of first and of later workers.
        """
        rates, at = self._rates_of(day)
        entry, part = rates.entry[:, at], first[:, None, None]
        brood = entry[:, 1, :2] + part * (entry[:, 0, :2] - entry[:, 1, :2])
        then = staying.copy()
        then[:, EGG] += entering[EGG][:, None] * brood[:, 0]
        then[:, LARVA] += entering[LARVA][:, None] * brood[:, 1]
        then[:, PUPA_FIRST] += entering[PUPA_FIRST][:, None] * entry[:, 0, 2]
        then[:, PUPA_LATER] += entering[PUPA_LATER][:, None] * entry[:, 1, 2]
        return then

    def waiting_alive(self, day: int) -> Floats:
        """Share of waiting larvae that live through a day, shape (draws,)."""
        rates, at = self._rates_of(day)
        return rates.waiting[:, at]

    def aged(self, day: int, workers: Floats) -> tuple[Floats, Floats]:
        """Workers a day older, and how many died; shapes (draws, 2, ages) and (draws, 2)."""
        gone = workers * self.ageing[:, day, :, None]
        older = workers - gone
        older[..., 1:] += gone[..., :-1]
        return older, gone[..., -1]

    def transition(self, day: int, states: Floats, controls: Controls) -> Floats:
        """Expected states after a day, shape (draws, size); linear in the states."""
        layout, draws = self.state, len(states)
        moved = self.move(day, states, controls)
        hatched, pupating = moved.leaving[:, EGG], moved.leaving[:, LARVA]
        asking = states[:, layout.waiting.start] * self.waiting_alive(day) + hatched
        placed = controls.placed * asking
        first = controls.first * pupating
        brood = self.enter(
            day, moved.staying, controls.first, (controls.eggs, placed, first, pupating - first)
        )
        workers = states[:, layout.workers].reshape(draws, 2, layout.ages)
        older, dying = self.aged(day, workers)
        older[..., 0] += moved.leaving[:, PUPA_FIRST:]
        then = np.empty_like(states)
        then[:, layout.brood] = brood.reshape(draws, -1)
        then[:, layout.waiting.start] = asking - placed
        then[:, layout.workers] = older.reshape(draws, -1)
        then[:, layout.drift] = states[:, layout.drift] * self.drift_kept
        then[:, layout.died.start] = states[:, layout.died.start] + dying.sum(axis=-1)
        return then

    def transfers(self, day: int) -> list[Transfer]:
        """Ants carried in or out by the end of a day."""
        return [t for t in self.forcing.transfers if t.day == day + 1]

    def carried(self, states: Floats, transfer: Transfer) -> Floats:
        """States after a transfer: added at any age, or taken from all ages alike.

        No more are taken than there are.
        """
        places = self.places_of(transfer.stage, transfer.number > 0)
        if transfer.number > 0:
            states[:, places] += transfer.number / places.size
            return states
        there = states[:, places].sum(axis=1, keepdims=True)
        states[:, places] *= np.maximum(1.0 + transfer.number / np.maximum(there, 1e-12), 0.0)
        return states

    def places_of(self, stage: int, arriving: bool) -> NDArray[np.intp]:
        """Where ants of a stage stand; those who come are growing, of later workers, and young."""
        layout = self.state
        if stage == 3:
            if arriving:
                start = layout.workers.start + layout.ages
                return np.arange(start, start + (layout.ages + 1) // 2)
            return np.arange(layout.workers.start, layout.workers.stop)
        rows = [[layout.row(EGG)], [layout.row(LARVA)], [layout.row(PUPA_LATER)]][stage]
        if not arriving:
            rows += [[], [layout.waiting], [layout.row(PUPA_FIRST)]][stage]
        return np.concatenate([np.arange(row.start, row.stop) for row in rows])

    def _appetite(self, laying: Floats) -> Floats:
        """Laying of each day relative to the reference, shape (draws, days)."""
        warmth = self.forcing.between(self.forcing.laying, self.laws.shift_c, slice(None))
        started = np.clip(np.arange(1.0, self.days + 1) - self.laws.delay[:, None], 0.0, 1.0)
        return warmth * started * laying

    def _hunger(self, rearing: Floats) -> Floats:
        """Eating of each day relative to a larva in season, at the reference (draws, days)."""
        active = self.forcing.between(
            self.forcing.development[..., 1], self.laws.shift_c, slice(None)
        )
        fed = 1.0 - self.laws.fasting[:, None] * (1.0 - rearing)
        return active * fed * ~self.forcing.resting

    def _ageing(self) -> Floats:
        """Chance of first and later workers to take the next step of life, (draws, days, 2)."""
        mean = self.laws.life * special.gamma(1.0 + 1.0 / self.laws.life_shape)
        lives = np.stack([mean * self.laws.first_life, mean], axis=1)
        return np.minimum(self.state.ages * self.forcing.ageing[:, None] / lives[:, None], 1.0)

    def _ripe(self, day: int, states: Floats, first: Floats) -> Floats:
        """Eggs that would hatch today if all lived, shape (draws,)."""
        rates, at = self._rates_of(day)
        later, quick = rates.step[:, at, 1, EGG], rates.step[:, at, 0, EGG]
        step = later + first[:, None] * (quick - later)
        beyond = step[:, ::-1].cumsum(axis=1)[:, ::-1][:, 1:]  # chance of so many steps or more
        reach = min(beyond.shape[1], BINS)
        last = states[:, self.state.row(EGG)][:, ::-1][:, :reach]
        return np.einsum("dk,dk->d", last, np.broadcast_to(beyond[:, :reach], last.shape))

    def _rates_of(self, day: int) -> tuple[_Rates, int]:
        """Rates that include those of a day, and its place in them."""
        start = day - day % DAYS_AT_ONCE
        if self._rates is None or self._rates.first_day != start:
            self._rates = self._work_out(slice(start, min(start + DAYS_AT_ONCE, self.days)))
        return self._rates, day - start

    def _work_out(self, days: slice) -> _Rates:
        laws, forcing = self.laws, self.forcing
        development = forcing.between(forcing.development, laws.shift_c, days)
        progress = development / laws.days[:, None]
        progress[..., LARVA] *= self.rearing[:, days]
        kinds = np.stack([1.0 / laws.first_development, np.ones(len(laws))], axis=1)
        quick = progress[:, :, None] * kinds[:, None, :, None]  # draws, days, kinds, stages
        rest = np.log(laws.rest_survival)[:, None] * self._rest_loss[days, None]
        lasting = rest - forcing.loss[days]
        step = _moves(BINS * quick, laws.development_cv * BINS * np.sqrt(quick))
        return _Rates(
            first_day=days.start,
            step=step,
            entry=_padded(_since_entering(step), BINS),
            living=np.exp(np.log(laws.survival)[:, None] * progress + lasting),
            waiting=np.exp(lasting[..., LARVA]),
        )


def larval_progress(laws: Laws, forcing: ThermalForcing) -> Floats:
    """Share of the larval stage that a later worker's growing larva passes a day, (draws, days)."""
    passed = forcing.between(forcing.development[..., 1], laws.shift_c, slice(None))
    return passed / laws.days[:, [1]] * _season_gates(laws, forcing)[0]


def growth_blocks(laws: Laws, size: int = 64) -> Iterator[Laws]:
    """Split draws into blocks that fit the processor's cache."""
    for start in range(0, len(laws), size):
        yield laws.take(slice(start, start + size))


def _season_gates(laws: Laws, forcing: ThermalForcing) -> tuple[Floats, Floats]:
    """Share to which the season allows rearing and laying, each of shape (draws, days)."""
    going = special.expit((laws.season_end[:, None] - forcing.season) / SEASON_ENDS_IN)
    going = going * ~forcing.resting
    awake = [
        special.expit((forcing.since_rest - after[:, None]) / SEASON_WAKES_IN)
        for after in (laws.wake_days, laws.laying_days)
    ]
    return going * awake[0], going * awake[1]


def _moves(mean: Floats, spread: Floats) -> Floats:
    """Chance to move by 0, 1, 2, ... steps, shape (..., moves).

    Three distances, the mean and one to each side, stand for all; each is split between the whole
    numbers beside it, which scatters by a sixth on average and counts towards the spread. Nobody
    moves back: where the mean is small, the far side is farther off, and the near one likelier.
    """
    variance = np.maximum(spread**2 - 1.0 / 6.0, 0.0)
    apart = np.sqrt(3.0 * variance)
    back = np.maximum(np.minimum(apart, mean), 1e-12)
    ahead = np.maximum(np.maximum(apart, variance / back), 1e-12)
    size = int(np.ceil((mean + ahead).max(initial=0.0))) + 2
    whole = np.arange(size)
    chance = np.zeros((*mean.shape, size))
    slow, quick = variance / (back * (back + ahead)), variance / (ahead * (back + ahead))
    for weight, distance in (
        (slow, mean - back), (1.0 - slow - quick, mean), (quick, mean + ahead),
    ):  # fmt: skip
        beside = np.maximum(1.0 - np.abs(np.maximum(distance, 0.0)[..., None] - whole), 0.0)
        chance += weight[..., None] * beside
    return chance


def _since_entering(step: Floats) -> Floats:
    """Where those stand in the evening who entered at any time of the day, shape (..., places).

    In proportion to the chance of a longer step: on a walk that begins so, each place is passed
    with the same chance, and a stage lasts as many days on average as it should (a stationary
    renewal process, Cox DR (1962) Renewal Theory, from memory).
    """
    beyond = step[..., ::-1].cumsum(axis=-1)[..., -2::-1]
    mean = beyond.sum(axis=-1, keepdims=True)
    still = np.arange(beyond.shape[-1]) == 0
    return np.where(mean > 1e-12, beyond / np.maximum(mean, 1e-12), still)


def _padded(chance: Floats, size: int) -> Floats:
    """The same over so many steps; farther ones count as the last."""
    found = chance.shape[-1]
    if found <= size:
        return np.pad(chance, [(0, 0)] * (chance.ndim - 1) + [(0, size - found)])
    short = chance[..., :size].copy()
    short[..., -1] += chance[..., size:].sum(axis=-1)
    return short
