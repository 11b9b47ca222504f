"""What a stretch of days means to ants: development, laying, ageing, losses, season."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.stages import LARVAE
from antgrowth.model.development_rates import RateCurve, mean_daily_rate
from antgrowth.model.parameters import Transfer

SHIFTS_C = np.linspace(-5.0, 5.0, 11)
"""Shifts of the rate curves for which rates are tabulated; draws interpolate between. [°C]"""

REST_LOSS_DAYS = 30
"""What does not outlive a rest is lost within so many days of its beginning (assumed). [day]"""

NEVER = 1e6
"""Days since something that has not been, on scales of the season."""

LEAST_REST_DAYS = 30
"""A shorter rest is no winter, and begins no spring (assumed). [day]"""

YEAR_DAYS = 365.0

LAYING_LASTS_DAYS = 4.0
"""Where the season ends on the colony's own timer, queens lay for so long after larvae have stopped
to grow (chosen with founding colonies of Lasius niger; where the cool ends it, nothing is known of
that). [day]"""

COOL_DAYS, AUTUMN_FROM_DAYS = 10, 90.0
"""Where the cool ends the season, the mean of so many days counts, from so long after spring on
(assumed): a cool May is no autumn. [day]"""


@dataclass(frozen=True, eq=False, repr=False)
class ThermalForcing:
    """Rates and losses of each day, the season, and ants carried."""

    # Equivalent days passed on each day by egg, larva, pupa, for each of `SHIFTS_C`: days at
    # the reference temperature that bring a stage as far as the real day did,
    # shape (shifts, days, 3)
    development: Floats
    laying: Floats  # laying rate relative to the reference temperature, shape (shifts, days)
    ageing: Floats  # equivalent days aged by a worker, shape (days,)
    loss: Floats  # extra log-loss of each brood stage on each day [1/day], shape (days, 3)
    resting: Flags  # days of a rest: no laying, larvae wait, eggs and pupae are lost, shape (days,)
    # How far the year has gone at noon, on the scale of `Laws.season_end`: days since spring,
    # or minus the lowest mean of ten days since then [°C]; minus `NEVER` for ants without
    # seasons, shape (days,)
    season: Floats
    # Days since the last rest ended, at noon; `NEVER` before the first, shape (days,)
    since_rest: Floats
    care: Floats  # places that queens offer by themselves, relative to one, shape (days,)
    laying_lasts: float = 0.0  # for so long laying outlasts rearing, on the scale of `season`
    transfers: tuple[Transfer, ...] = ()  # ants carried in or out

    def __repr__(self) -> str:
        return f"ThermalForcing({len(self.resting)} days)"

    @property
    def days(self) -> int:
        """Number of days covered."""
        return len(self.ageing)

    @classmethod
    def of(
        cls,
        hours_c: Floats,
        resting: Flags,
        curves: tuple[RateCurve, RateCurve, RateCurve],
        laying: RateCurve,
        *,
        reference_c: float,
        ageing_q10: float,
        heat_limit_c: float,
        heat_loss_per_day_c: float,
        seasons: tuple[Floats, Floats] | None = None,
        laying_lasts: float = 0.0,
    ) -> ThermalForcing:
        """Work out the forcing by temperatures [°C], shape (days, hours), and the days of a rest.

        Of `curves`, the development of egg, larva and pupa, and of `laying` only the shape matters:
        durations and rates of the profile are those at `reference_c`. `ageing_q10` is the factor by
        which ageing quickens over 10 °C; brood dies at `heat_loss_per_day_c` for each °C above
        `heat_limit_c`. `seasons` are `season` and `since_rest` of `seasons_of`; an ant without
        seasons has none.
        """
        if seasons is None:
            seasons = seasons_of("none", resting, hours_c.mean(axis=1), 0.0)
        season, since_rest = seasons
        warm = hours_c[None] - SHIFTS_C[:, None, None]
        at_reference = reference_c - SHIFTS_C
        development = np.stack(
            [_relative_rate(curve, warm, at_reference) for curve in curves], axis=-1
        )
        heat = heat_loss_per_day_c * np.maximum(hours_c - heat_limit_c, 0.0).mean(axis=-1)
        return cls(
            development=development,
            laying=_relative_rate(laying, warm, at_reference),
            ageing=(ageing_q10 ** ((hours_c - reference_c) / 10)).mean(axis=-1),
            loss=np.repeat(heat[:, None], 3, axis=1),
            resting=resting,
            season=season,
            since_rest=since_rest,
            care=np.ones(len(hours_c)),
            laying_lasts=laying_lasts,
        )

    @property
    def rest_share(self) -> Floats:
        """Share of a rest's losses that falls on each day, shape (days,)."""
        run = np.zeros(self.days, dtype=int)
        for day, rests in enumerate(self.resting):
            run[day] = (run[day - 1] if day else 0) + 1 if rests else 0
        return np.where((run > 0) & (run <= REST_LOSS_DAYS), 1.0 / REST_LOSS_DAYS, 0.0)

    def days_passed(self, stage: int) -> Floats:
        """Equivalent days that a stage has passed by the start of each day, shape (days + 1,).

        At the profile's rates; stage 0 is the egg, 1 the larva, 2 the pupa.
        """
        rates = self.between(self.development[..., stage], np.zeros(1), slice(None))[0]
        return np.concatenate([[0.0], np.cumsum(rates * ~(self.resting & (stage == LARVAE)))])

    def with_loss(self, day: int, share: float) -> ThermalForcing:
        """The same with a share of all brood lost at the start of a day."""
        return replace(self, loss=self.with_losses([(day, share)]).loss[:, 0])

    def with_losses(self, losses: Sequence[tuple[int, float]]) -> ThermalForcing:
        """The same for as many draws as there are losses, each a day and a share: one each."""
        more = np.repeat(self.loss[:, None], len(losses), axis=1)
        for draw, (day, share) in enumerate(losses):
            more[day - 1, draw] += -np.log1p(-share)
        return replace(self, loss=more)

    def between(self, table: Floats, shift_c: Floats, days: slice) -> Floats:
        """Rows of `development` or `laying`, interpolated by shift: shape (draws, days, ...)."""
        rows, row_of = np.unique(shift_c, return_inverse=True)
        spot = np.interp(rows, SHIFTS_C, np.arange(len(SHIFTS_C)))
        low = np.minimum(spot.astype(np.intp), len(SHIFTS_C) - 2)
        weight = (spot - low).reshape(-1, *[1] * (table.ndim - 1))
        part = table[:, days]
        found: Floats = (part[low] * (1.0 - weight) + part[low + 1] * weight)[row_of]
        return found


def seasons_of(
    kind: str, resting: Flags, mean_c: Floats, since_spring: float, since_rest: float = NEVER
) -> tuple[Floats, Floats]:
    """How far the year has gone on each day, and how long ago the last rest ended.

    As `ThermalForcing` has them. The season of a kind ends on the colony's own timer
    ("endogenous"), when autumn cools ("exogenous") or never ("none"). Rests and daily means [°C]
    have shape (days,); `since_spring` and `since_rest` are the days since the last spring and since
    the last rest ended, at the start of day 0.

    A rest of `LEAST_REST_DAYS` begins a new spring when it ends. Without one, a new spring comes
    after a year, as the colony's own (assumed).
    """
    spring, rested = np.empty(len(resting)), np.empty(len(resting))
    passed, after, slept = since_spring - 0.5, since_rest - 0.5, 0  # at noon of the day before
    for day, rests in enumerate(resting):
        slept = slept + 1 if rests else 0
        if slept >= LEAST_REST_DAYS:
            passed = after = -0.5
        else:
            passed, after = (passed + 1.0) % YEAR_DAYS, min(after + 1.0, NEVER)
        spring[day], rested[day] = passed, after
    if kind == "none":
        return np.full(len(resting), -NEVER), rested
    if kind == "endogenous":
        return spring, rested
    total = np.concatenate([[0.0], np.cumsum(mean_c)])
    first = np.maximum(np.arange(len(mean_c)) + 1 - COOL_DAYS, 0)
    week = (total[1:] - total[first]) / (np.arange(len(mean_c)) + 1 - first)
    season, coolest = np.empty(len(mean_c)), np.inf
    for day, since in enumerate(spring):
        coolest = min(coolest, week[day]) if since >= AUTUMN_FROM_DAYS else np.inf
        season[day] = -min(coolest, NEVER)
    return season, rested


def laying_lasts(kind: str) -> float:
    """For how long laying outlasts rearing where a season of a kind ends, on its scale."""
    return LAYING_LASTS_DAYS if kind == "endogenous" else 0.0


def _relative_rate(curve: RateCurve, warm: Floats, at_reference: Floats) -> Floats:
    """Rate by (shift, day) over the rate at the reference temperature under the same shift."""
    scale = curve(at_reference)
    if not np.all(scale > 0):
        # A shift may push the reference below the threshold; hold the last shift that works.
        scale = np.maximum(scale, scale[scale > 0].min(initial=np.inf))
    return mean_daily_rate(curve, warm) / scale[:, None]
