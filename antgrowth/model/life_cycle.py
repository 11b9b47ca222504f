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

RATES_AT_ONCE = 4096
"""Rates of so many days are worked out together, over all draws: as fit the processor's cache."""


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
    ants : array of bool, shape (size,)
        Whether a place is that of ants, living or dead.
    size : int
    """

    def __init__(self, ages: int) -> None:
        self.ages = ages
        ends = np.cumsum([0, len(ROWS) * BINS, 1, 2 * ages, len(DRIFTS), 1]).tolist()
        parts = [slice(a, b) for a, b in zip(ends, ends[1:], strict=False)]
        self.brood, self.waiting, self.workers, self.drift, self.died = parts
        self.size = int(ends[-1])
        self.ants = np.ones(self.size, dtype=bool)
        self.ants[self.drift] = False

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
        rows = states[:, self.brood].reshape(len(states), len(ROWS), BINS) @ np.ones(BINS)
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
    due : array, shape (draws, ROWS)
        Those of whom they are, as it were: the most advanced, who are all as likely to leave, and
        of whom as many leave as of all, with as much scatter.
    half : array, shape (draws, ROWS)
        Share that lives through half a day, as they do who enter or leave a stage at midday.
    """

    staying: Floats
    leaving: Floats
    due: Floats
    half: Floats


@dataclass(frozen=True, eq=False)
class _Rates:
    """What some days in a row do to brood, whatever lies in the nest.

    Attributes
    ----------
    first_day : int
    step : array, shape (days, draws, ROWS, moves)
        Chance to move on by 0, 1, 2, ... steps of progress, in a nest with workers.
    entry : array, shape (days, draws, ROWS, BINS)
        Where those stand in the evening who entered a row in the course of the day.
    living : array, shape (days, draws, ROWS)
        Share of eggs (uneaten), growing larvae and pupae that lives through the day.
    alone_step, alone_entry, alone_living : arrays, shape (days, draws, 2, ...)
        By how much these differ for eggs and larvae in a nest without workers.
    waiting : array, shape (days, draws)
        The same as `living` of larvae that wait.
    """

    first_day: int
    step: Floats
    entry: Floats
    living: Floats
    alone_step: Floats
    alone_entry: Floats
    alone_living: Floats
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
        self.laying = self._laying(laying)
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

    def signals(self, day: int, states: Floats, whole: bool = False) -> Floats:
        """What `controls` look at, shape (draws, signals).

        Eggs, waiting larvae, growing larvae, pupae, workers, eggs about to hatch, and drift. Ants
        may come in whole numbers, see `controls`.
        """
        seen = [*self.state.totals(states)]
        ripe = self._ripe(day, states, _no_workers(seen[-1], whole))
        return np.column_stack([*seen, ripe, states[:, self.state.drift]])

    def signal_rows(self, day: int, states: Floats) -> Floats:
        """How signals change with each part of a state, shape (signals, size), at one state."""
        eye = np.eye(self.state.size)
        rows = self.signals(day, eye).T
        first = _no_workers(states[:, self.state.workers].sum(axis=-1), False)
        rows[5] = self._ripe(day, eye, np.broadcast_to(first, len(eye)))
        alone, helped = (self._ripe(day, states, np.full(1, part)) for part in (1.0, 0.0))
        rows[5, self.state.workers] -= first * (alone - helped)
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
        laid = self.laying[:, day] * laws.laying_rate(workers) * drift[:, 0]
        limit = laws.places(workers) * drift[:, 1]
        free = EDGE * np.logaddexp(0.0, (limit - growing - laws.pupa_care * pupae) / EDGE)
        asking = np.maximum(waiting + ripe, 1e-6)
        placed = self.rearing[:, day] * -np.expm1(-free / asking)
        hunger = self.hunger[:, day] * laws.eggs_eaten * drift[:, 2] * (waiting + growing)
        spared = np.exp(-0.5 * hunger / (eggs + SCARCE_EGGS))
        at_noon = (eggs - 0.5 * np.minimum(ripe, eggs)) * spared + 0.5 * laid
        eaten = hunger / (at_noon + SCARCE_EGGS)  # as a hazard on each egg
        return Controls(laid, np.exp(-eaten), placed, _no_workers(workers, whole))

    def move(self, day: int, states: Floats, controls: Controls) -> Moved:
        """Let brood develop and die for a day."""
        rates, at = self._rates_of(day)
        draws, moves = len(states), rates.step.shape[-1]
        share = np.empty((draws, len(ROWS), moves))
        share[...] = rates.step[at]
        share[:, :2] += controls.first[:, None, None] * rates.alone_step[at]
        lasting = np.empty((draws, len(ROWS)))
        lasting[...] = rates.living[at]
        lasting[:, :2] += controls.first[:, None] * rates.alone_living[at]
        lasting[:, EGG] *= controls.uneaten
        half = np.sqrt(lasting)
        brood = states[:, self.state.brood].reshape(draws, len(ROWS), BINS)
        alive = np.zeros((draws, len(ROWS), BINS + moves - 1))
        np.multiply(brood, lasting[..., None], out=alive[..., moves - 1 :])
        windows = np.lib.stride_tricks.sliding_window_view(alive, moves, axis=2)
        staying = (windows @ share[..., ::-1, None])[..., 0]
        ready = _beyond(share)[..., :BINS]  # chance to leave, from the last place backwards
        last = brood[..., : -1 - ready.shape[-1] : -1] * ready
        leaving = np.einsum("drk->dr", last) * half
        sure = np.einsum("drk,drk->dr", last, ready) * half
        return Moved(staying, leaving, leaving**2 / np.maximum(sure, 1e-300), half)

    def enter(self, day: int, moved: Moved, first: Floats, entering: Floats) -> Floats:
        """Brood of the evening: those who stayed, and those who entered a row meanwhile.

        Parameters
        ----------
        day : int
        moved : Moved
        first : array, shape (draws,)
            `Controls.first`.
        entering : array, shape (draws, ROWS)
            New eggs, larvae with a place, pupae of first and of later workers, of those who are
            there in the evening.

        Returns
        -------
        array, shape (draws, ROWS, BINS)
        """
        rates, at = self._rates_of(day)
        arrived = entering[..., None] * rates.entry[at]
        alone = entering[:, :2] * first[:, None]
        arrived[:, :2] += alone[..., None] * rates.alone_entry[at]
        brood = moved.staying.copy()
        brood[..., : arrived.shape[-1]] += arrived
        return brood

    def waiting_alive(self, day: int) -> Floats:
        """Share of waiting larvae that live through a day, shape (draws,)."""
        rates, at = self._rates_of(day)
        found: Floats = rates.waiting[at]
        return found

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
        entering = np.stack([controls.eggs, placed, first, pupating - first], axis=1)
        brood = self.enter(day, moved, controls.first, entering * moved.half)
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

    def _laying(self, laying: Floats) -> Floats:
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
        found: Floats = np.minimum(
            self.state.ages * self.forcing.ageing[:, None] / lives[:, None], 1.0
        )
        return found

    def _ripe(self, day: int, states: Floats, first: Floats) -> Floats:
        """Eggs that would hatch today if all lived, shape (draws,)."""
        rates, at = self._rates_of(day)
        step = rates.step[at, :, EGG] + first[:, None] * rates.alone_step[at, :, EGG]
        ready = _beyond(step)[:, :BINS]
        last = states[:, self.state.row(EGG)][:, : -1 - ready.shape[1] : -1]
        found: Floats = np.einsum("dk,dk->d", last, np.broadcast_to(ready, last.shape))
        return found

    def _rates_of(self, day: int) -> tuple[_Rates, int]:
        """Rates that include those of a day, and its place in them."""
        days = max(RATES_AT_ONCE // len(self.laws), 1)
        start = day - day % days
        if self._rates is None or self._rates.first_day != start:
            self._rates = self._work_out(slice(start, min(start + days, self.days)))
        return self._rates, day - start

    def _work_out(self, days: slice) -> _Rates:
        laws, forcing = self.laws, self.forcing
        development = forcing.between(forcing.development, laws.shift_c, days)
        progress = development / laws.days[:, None]
        progress[..., LARVA] *= self.rearing[:, days]
        progress = progress.swapaxes(0, 1)  # days first: they are asked for one by one
        haste = 1.0 / laws.first_development[:, None]
        # Eggs, larvae and pupae of later workers; then those of first ones, quicker.
        kinds = np.concatenate([progress, progress * haste], axis=-1)
        step = _moves(BINS * kinds, laws.development_cv * BINS * np.sqrt(kinds))
        entry = _since_entering(step)
        rest = np.log(laws.rest_survival) * self._rest_loss[days, None, None]
        lasting = rest - forcing.loss[days].reshape(rest.shape[0], -1, 3)
        living = np.exp(np.log(np.tile(laws.survival, 2)) * kinds + np.tile(lasting, 2))
        rows, usual, alone = [0, 1, 5, 2], [0, 1], [3, 4]
        return _Rates(
            first_day=days.start,
            step=step[:, :, rows],
            entry=entry[:, :, rows],
            living=living[:, :, rows],
            alone_step=step[:, :, alone] - step[:, :, usual],
            alone_entry=entry[:, :, alone] - entry[:, :, usual],
            alone_living=living[:, :, alone] - living[:, :, usual],
            waiting=np.exp(lasting[..., LARVA]),
        )


def larval_progress(laws: Laws, forcing: ThermalForcing) -> Floats:
    """Share of the larval stage that a later worker's growing larva passes a day, (draws, days)."""
    passed = forcing.between(forcing.development[..., 1], laws.shift_c, slice(None))
    return passed / laws.days[:, [1]] * _season_gates(laws, forcing)[0]


def growth_blocks(laws: Laws, size: int = 256) -> Iterator[Laws]:
    """Split draws into blocks that fit the processor's cache."""
    for start in range(0, len(laws), size):
        yield laws.take(slice(start, start + size))


def _no_workers(workers: Floats, whole: bool) -> Floats:
    """Chance that there is no worker, see `LifeCycle.controls`."""
    return (workers < 0.5).astype(float) if whole else np.exp(-np.maximum(workers, 0.0))


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
    back = np.minimum(apart, mean)
    ahead = np.maximum(apart, variance / np.maximum(back, 1e-12))
    size = int(np.ceil((mean + ahead).max(initial=0.0))) + 2
    whole = np.arange(size)
    chance = np.zeros((*mean.shape, size))
    slow, quick = (variance / np.maximum(side * (back + ahead), 1e-12) for side in (back, ahead))
    for weight, distance in (
        (slow, mean - back), (np.maximum(1.0 - slow - quick, 0.0), mean), (quick, mean + ahead),
    ):  # fmt: skip
        beside = np.maximum(1.0 - np.abs(distance[..., None] - whole), 0.0)
        chance += weight[..., None] * beside
    return chance


def _beyond(step: Floats) -> Floats:
    """Chance of 1, 2, ... steps or more, shape (..., moves - 1)."""
    return step[..., 1:] @ np.tri(step.shape[-1] - 1)


def _since_entering(step: Floats) -> Floats:
    """Where those stand in the evening who entered at any time of the day, shape (..., places).

    In proportion to the chance of a longer step: on a walk that begins so, each place is passed
    with the same chance, and a stage lasts as many days on average as it should (a stationary
    renewal process, Cox DR (1962) Renewal Theory, from memory). Nobody is done on the same day.
    """
    beyond = _beyond(step)
    mean = beyond.sum(axis=-1, keepdims=True)
    entry = beyond / np.maximum(mean, 1e-12)
    entry[..., :1] += mean <= 1e-12  # where nothing moves
    if entry.shape[-1] > BINS:
        entry[..., BINS - 1] += entry[..., BINS:].sum(axis=-1)
    found: Floats = entry[..., :BINS]
    return found
