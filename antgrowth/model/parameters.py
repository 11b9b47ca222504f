"""The laws of growth, written once: needs, survival, laying, and what a climate means.

`mean_field` (means and second moments) and `simulation` (whole-number colonies) both build on this
module and on nothing else of each other's. Everything is numpy in, numpy out, vectorised over
parameter draws, which are always the first axis. Time is counted in days from the start of day 0;
day d covers [d, d + 1), and the counts of a date are those at the end of its day.

Three brood stages run on three clocks of their own (`thermal_time`). An egg of pace u leaves a
stage after u times the stage's duration, on that stage's clock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import special

from antgrowth.model.development_rates import RateCurve, mean_daily_rate
from antgrowth.model.thermal_time import Clock, Clocks

__all__ = [
    "Climate",
    "Laws",
    "Move",
    "birth_slopes",
    "births_of_day",
    "pace_nodes",
]

Floats = NDArray[np.float64]

SHIFTS_C = np.linspace(-5.0, 5.0, 11)
"""Shifts of the rate curves for which climates are tabulated; draws interpolate between. [°C]"""

SPELL_DAYS = 15.0
"""Memory of good and bad spells of laying, which no law of brood and warmth foresees (assumed):
what the food, the peace of the nest and the queen's own habit make of it. [day]"""

REST_LOSS_DAYS = 30
"""Leftover eggs and pupae are lost within this many days of a rest season (assumed). [day]"""


@dataclass(frozen=True, eq=False)
class Laws:
    """Parameters of the growth law for a number of draws.

    Attributes
    ----------
    days : array, shape (draws, 3)
        Duration of egg, larva and pupa at the reference temperature, at pace 1. [day]
    survival : array, shape (draws, 3)
        Share that completes each brood stage.
    delay : array, shape (draws,)
        From day 0 to the first egg. [day]
    founding_rate, founding_room : array, shape (draws,)
        Top laying rate [1/day] of the queen alone, and the brood she rears alone.
    rate_per_worker, room_per_worker : array, shape (draws,)
        What each worker adds to both. [1/day], [brood]
    top_rate : array, shape (draws,)
        Top laying rate of the mature queen. [1/day]
    pupa_care : array, shape (draws,)
        Room that a pupa takes, where an egg or a larva takes 1.
    life : array, shape (draws,)
        Weibull scale of worker life at the reference temperature. [day]
    shift_c : array, shape (draws,)
        How much warmer than the profile's the brood's rate curves lie. [°C]
    life_shape, first_life, first_development, pace_cv, spells : float
        Weibull shape; life and stage durations of first workers relative to later ones; the
        coefficient of variation of pace; the log-sd of good and bad spells of laying.
    """

    days: Floats
    survival: Floats
    delay: Floats
    founding_rate: Floats
    founding_room: Floats
    rate_per_worker: Floats
    room_per_worker: Floats
    top_rate: Floats
    pupa_care: Floats
    life: Floats
    shift_c: Floats
    life_shape: float
    first_life: float
    first_development: float
    pace_cv: float
    spells: float

    def __len__(self) -> int:
        return len(self.delay)

    def take(self, draws: NDArray[np.intp] | NDArray[np.bool_] | slice) -> Laws:
        """Select draws (integer or boolean index array, or slice)."""
        chosen: dict[str, Any] = {
            name: value[draws] if isinstance(value, np.ndarray) else value
            for name, value in vars(self).items()
        }
        return Laws(**chosen)

    @classmethod
    def joined(cls, parts: Sequence[Laws]) -> Laws:
        """Draws of several laws, one after the other; what is not drawn is that of the first."""
        fields: dict[str, Any] = {
            name: np.concatenate([getattr(part, name) for part in parts])
            if isinstance(value, np.ndarray)
            else value
            for name, value in vars(parts[0]).items()
        }
        return cls(**fields)

    def load(self, counts: Floats) -> Floats:
        """Room taken by brood, shape (draws,), from counts of shape (draws, 4). [brood]"""
        return counts[:, 0] + counts[:, 1] + self.pupa_care * counts[:, 2]

    def needs(self, pace: Floats) -> Floats:
        """Equivalent days each kind of egg needs for each stage.

        Parameters
        ----------
        pace : array, shape (paces,)

        Returns
        -------
        array, shape (draws, 2, paces, 3)
            Second axis: first workers, later workers. [equivalent day]
        """
        kind = np.array([self.first_development, 1.0])
        return self.days[:, None, None, :] * kind[None, :, None, None] * pace[None, None, :, None]

    def appetite(self, clocks: Clocks) -> Floats:
        """Laying of each day relative to the reference, 0 before it starts, shape (days, draws)."""
        laying = clocks.laying.T
        started = np.clip(np.arange(1.0, len(laying) + 1)[:, None] - self.delay, 0.0, 1.0)
        return started * laying

    def lives(self) -> Floats:
        """Weibull scale of life of first and later workers, shape (draws, 2). [equivalent day]"""
        return self.life[:, None] * np.array([self.first_life, 1.0])


@dataclass(frozen=True)
class Move:
    """Ants carried into the nest or out of it.

    Attributes
    ----------
    day : int
        They are in, or gone, at the end of day ``day - 1``.
    stage : int
        0 egg, 1 larva, 2 pupa, 3 worker.
    number : float
        Below zero where ants were carried out.
    """

    day: int
    stage: int
    number: float


@dataclass(frozen=True, eq=False)
class Climate:
    """What a stretch of days means to ants: rates and losses day by day, and ants carried.

    Attributes
    ----------
    development : array, shape (shifts, days, 3)
        Equivalent days passed on each day by egg, larva, pupa, for each of `SHIFTS_C`.
    laying : array, shape (shifts, days)
        Laying rate relative to the reference temperature.
    ageing : array, shape (days,)
        Equivalent days aged by a worker.
    loss : array, shape (days, 3)
        Extra log-loss of each brood stage on each day. [1/day]
    moves : tuple of Move
        Ants carried in or out.
    """

    development: Floats
    laying: Floats
    ageing: Floats
    loss: Floats
    moves: tuple[Move, ...] = ()

    @property
    def days(self) -> int:
        """Number of days covered."""
        return len(self.ageing)

    @classmethod
    def of(
        cls,
        hours_c: Floats,
        resting: NDArray[np.bool_],
        curves: tuple[RateCurve, RateCurve, RateCurve],
        laying: RateCurve,
        *,
        reference_c: float,
        ageing_q10: float,
        heat_limit_c: float,
        heat_loss_per_day_c: float,
        rest_survival: tuple[float, float, float],
    ) -> Climate:
        """Work out a climate from temperatures.

        Parameters
        ----------
        hours_c : array, shape (days, hours)
            Temperatures of each day. [°C]
        resting : array of bool, shape (days,)
            Days of a rest season: no laying, larvae stand still, eggs and pupae are lost.
        curves : three RateCurve
            Development of egg, larva, pupa; only their shape matters here.
        laying : RateCurve
            Laying by temperature; only its shape matters.
        reference_c : float
            Temperature of the profile's durations and rates. [°C]
        ageing_q10 : float
            Factor by which ageing quickens over 10 °C.
        heat_limit_c, heat_loss_per_day_c : float
            Brood dies at this rate for each °C above the limit. [°C], [1/(day °C)]
        rest_survival : three floats
            Share of eggs, larvae and pupae that outlives a rest season.
        """
        warm = hours_c[None] - SHIFTS_C[:, None, None]
        at_reference = reference_c - SHIFTS_C
        development = np.stack(
            [_relative_rate(curve, warm, at_reference) for curve in curves], axis=-1
        )
        development[:, resting, 1] = 0.0
        laying_rate = _relative_rate(laying, warm, at_reference)
        laying_rate[:, resting] = 0.0
        heat = heat_loss_per_day_c * np.maximum(hours_c - heat_limit_c, 0.0).mean(axis=-1)
        loss = np.repeat(heat[:, None], 3, axis=1)
        loss[_first_days(resting)] += -np.log(rest_survival) / REST_LOSS_DAYS
        return cls(
            development=development,
            laying=laying_rate,
            ageing=(ageing_q10 ** ((hours_c - reference_c) / 10)).mean(axis=-1),
            # Beyond e^-400 nobody is left, and sums of exponentials would overflow.
            loss=loss * min(1.0, 400.0 / max(loss.sum(axis=0).max(initial=0.0), 1e-300)),
        )

    def clocks(self, shift_c: Floats) -> Clocks:
        """Wind the clocks for draws with these shifts of the rate curves, shape (draws,). [°C]"""
        rows, row_of = np.unique(shift_c, return_inverse=True)
        spot = np.interp(rows, SHIFTS_C, np.arange(len(SHIFTS_C)))
        low = np.minimum(spot.astype(np.intp), len(SHIFTS_C) - 2)
        weight = (spot - low)[:, None]
        development = self.development[low] * (1 - weight[..., None])
        development += self.development[low + 1] * weight[..., None]
        laying = self.laying[low] * (1 - weight) + self.laying[low + 1] * weight
        started = np.zeros((len(rows), self.days + 1, 3))
        np.cumsum(development, axis=1, out=started[:, 1:])
        losses = np.vstack([np.zeros(3), np.cumsum(self.loss, axis=0)])
        return Clocks(
            stages=tuple(Clock(started[..., s], row_of) for s in range(3)),  # type: ignore[arg-type]
            losses=tuple(Clock(losses[None, :, s]) for s in range(3)),  # type: ignore[arg-type]
            ageing=Clock(np.concatenate([[0.0], np.cumsum(self.ageing)])[None]),
            laying=laying[row_of],
        )


def _relative_rate(curve: RateCurve, warm: Floats, at_reference: Floats) -> Floats:
    """Rate by (shift, day) over the rate at the reference temperature under the same shift."""
    scale = curve(at_reference)
    if not np.all(scale > 0):
        # A shift may push the reference below the threshold; hold the last shift that works.
        scale = np.maximum(scale, scale[scale > 0].min(initial=np.inf))
    return mean_daily_rate(curve, warm) / scale[:, None]


def _first_days(resting: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The first `REST_LOSS_DAYS` days of each rest season."""
    run = np.zeros(len(resting), dtype=int)
    for day, rests in enumerate(resting):
        run[day] = (run[day - 1] if day else 0) + 1 if rests else 0
    return (run > 0) & (run <= REST_LOSS_DAYS)


def pace_nodes(cv: float, number: int) -> Floats:
    """Equally likely paces with mean 1 and the given coefficient of variation.

    Pace is gamma distributed; each node is the mean of one equally likely slice, stretched so that
    the nodes' variance is exact.

    Returns
    -------
    array, shape (number,)
    """
    if cv == 0 or number == 1:
        return np.ones(number)
    shape = cv**-2
    edges = special.gammaincinv(shape, np.linspace(0, 1, number + 1))
    means = np.diff(special.gammainc(shape + 1, edges)) * number
    return 1.0 + (means - 1.0) * (cv / means.std())


def births_of_day(
    laws: Laws, appetite: Floats, brood: Floats, workers: Floats
) -> tuple[Floats, Floats]:
    """Eggs laid in one day, given brood and workers in the middle of it.

    Parameters
    ----------
    laws : Laws
    appetite : array, shape (draws,)
        Laying relative to the reference temperature and to a queen who has started.
    brood, workers : array, shape (draws,)
        At midday, the day's own eggs left out.

    Returns
    -------
    room : array, shape (draws,)
        Free places for brood, ``K - B`` or 0.
    fill : array, shape (draws,)
        Chance that a free place is filled today. Mean births are ``room * fill``.

    Notes
    -----
    The queen lays at the rate ``appetite q(W) (1 - B/K)`` with room for brood ``K = K0 + kappa W``
    and top rate ``q(W) = min(q_max, q0 + q1 W)``: each free place is filled at the rate
    ``appetite q / K``. Solving this within the day gives a chance of
    ``1 - exp(-appetite q / K)`` for each place, which no length of step can overshoot, and
    binomial births, which are steadier than Poisson ones.
    """
    capacity = laws.founding_room + laws.room_per_worker * workers
    rate = np.minimum(laws.top_rate, laws.founding_rate + laws.rate_per_worker * workers)
    return np.maximum(capacity - brood, 0.0), -np.expm1(-appetite * rate / capacity)


def birth_slopes(
    laws: Laws, appetite: Floats, brood: Floats, workers: Floats
) -> tuple[Floats, Floats]:
    """How mean births of a day change with one more brood and with one more worker.

    Parameters and shapes as for `births_of_day`, whose derivatives these are; both are 0 when there
    is no room.
    """
    capacity = laws.founding_room + laws.room_per_worker * workers
    asked = laws.founding_rate + laws.rate_per_worker * workers
    rate = np.minimum(laws.top_rate, asked)
    gain = np.where(asked < laws.top_rate, laws.rate_per_worker, 0.0)
    empty = np.exp(-appetite * rate / capacity)
    change = appetite * (gain - rate * laws.room_per_worker / capacity) / capacity
    has_room = brood < capacity
    by_brood = np.where(has_room, empty - 1.0, 0.0)
    by_workers = laws.room_per_worker * (1.0 - empty) + (capacity - brood) * empty * change
    return by_brood, np.where(has_room, by_workers, 0.0)
