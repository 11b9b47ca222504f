"""The growth law for many colonies: arrays in, arrays out, parameter draws on the first axis.

What the law says stands in `growth_law`, colony by colony; here it is laid out for draws and days.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import special

from antgrowth._core.arrays import Floats
from antgrowth._core.stages import LARVAE, WORKERS
from antgrowth.model.growth_law import (
    BINS,
    DRIFTS,
    EGG,
    LARVA,
    LAW,
    PUPA_FIRST,
    PUPA_LATER,
    ROWS,
    Conditions,
    Workspace,
)
from antgrowth.model.parameters import Laws, Transfer
from antgrowth.model.thermal_forcing import NEVER, SHIFTS_C, ThermalForcing

SEASON_ENDS_IN, SEASON_WAKES_IN = 1.5, 3.0
"""Width of the logistic curves by which a season ends and begins (assumed). [day], or [°C] where
the cool ends it"""


class State:
    """Where in a colony's state what is written: slices, for a worker's life of so many `ages`.

    `ROWS` times `BINS` of brood; waiting larvae; first workers by age, then later ones; how laying,
    places and eating stray (logarithm); workers dead so far. `ants` tells whether a place is that
    of ants, living or dead.
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


class LifeCycle:
    """The growth law for draws under a forcing.

    Of a single draw any number of states may be asked for; of several, one each. No day before
    `since` is asked for: what the season allows is not worked out for earlier ones. An expected
    course strays from the law by `strays` on the morning of each day (logarithms), of shape
    (days + 1, drifts); without them not at all.
    """

    def __init__(
        self, laws: Laws, forcing: ThermalForcing, since: int = 0, strays: Floats | None = None
    ) -> None:
        self.laws, self.forcing, self.days = laws, forcing, forcing.days
        self.state = State.of(laws)
        self.rearing, laying = _season_gates(laws, forcing, since)
        self.laying = self._laying(laying)
        self.hunger = self._hunger(self.rearing)
        self.work = Workspace.empty()
        usual = np.zeros((self.days + 1, len(DRIFTS)))
        self.strays = usual if strays is None else _plain(strays)
        self.conditions = Conditions(
            laws=_table(laws),
            development=_plain(forcing.development),
            loss=_plain(forcing.loss.reshape(forcing.days, -1, 3)),
            rest_share=_plain(forcing.rest_share),
            ageing=_plain(forcing.ageing),
            care=_plain(forcing.care),
            rearing=_plain(self.rearing),
            laying=_plain(self.laying),
            hunger=_plain(self.hunger),
        )

    def empty(self) -> Floats:
        """A queen alone, as expected: shape (draws, size)."""
        states = np.zeros((len(self.laws), self.state.size))
        return self.on_course(states)

    def on_course(self, states: Floats, day: int = 0) -> Floats:
        """The same states straying as is expected on the morning of a day.

        Without a course of its own, laying and rearing are as the law has them on average.
        """
        states[:, self.state.drift] = 0.5 * self.laws.drift**2 + self.strays[day]
        return states

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
        if stage == WORKERS:
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
            self.forcing.development[..., LARVAE], self.laws.shift_c, slice(None)
        )
        fed = 1.0 - self.laws.fasting[:, None] * (1.0 - rearing)
        return active * fed * ~self.forcing.resting


def _table(laws: Laws) -> NDArray[np.void]:
    """Laws as `growth_law` reads them."""
    table = np.zeros(len(laws), dtype=LAW)
    for name in set(table.dtype.names or ()) & set(vars(laws)):
        table[name] = getattr(laws, name)
    table["mean_life"] = laws.life * special.gamma(1.0 + 1.0 / laws.life_shape)
    table["log_survival"], table["log_rest"] = np.log(laws.survival), np.log(laws.rest_survival)
    spot = np.interp(laws.shift_c, SHIFTS_C, np.arange(len(SHIFTS_C)))
    table["shift"] = np.minimum(spot.astype(np.int64), len(SHIFTS_C) - 2)
    table["shift_part"] = spot - table["shift"]
    return table


def _plain(numbers: Floats) -> Floats:
    """The same, laid out as compiled code expects: one layout, so that it is compiled once."""
    return np.require(numbers, float, ["C", "W"])


def larval_progress(laws: Laws, forcing: ThermalForcing, since: int = 0) -> Floats:
    """Share of the larval stage that a later worker's growing larva passes a day, (draws, days).

    Of the days from `since` on.
    """
    passed = forcing.between(forcing.development[..., LARVAE], laws.shift_c, slice(since, None))
    return passed / laws.days[:, [1]] * _season_gates(laws, forcing, since)[0][:, since:]


def _season_gates(laws: Laws, forcing: ThermalForcing, since: int) -> tuple[Floats, Floats]:
    """Share to which the season allows rearing and laying, each of shape (draws, days).

    Not a number before the day `since`.
    """
    rearing, laying = np.full((2, len(laws), forcing.days), np.nan)
    awake = slice(since, None)
    rested = np.flatnonzero(forcing.since_rest[awake] < NEVER)
    gates = ((rearing, 0.0, laws.wake_days), (laying, forcing.laying_lasts, laws.laying_days))
    for found, lasts, after in gates:
        left = laws.season_end[:, None] + lasts - forcing.season[awake]
        found[:, awake] = special.expit(left / SEASON_ENDS_IN) * ~forcing.resting[awake]
        days = since + rested
        found[:, days] *= special.expit(
            (forcing.since_rest[days] - after[:, None]) / SEASON_WAKES_IN
        )
    return rearing, laying
