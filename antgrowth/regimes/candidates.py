"""Candidates for the best regime, and how soon expected growth brings them to a number of workers.

The search grows expected numbers of a few posterior draws, which makes a smooth and quick
criterion; those that come out best are then tried on whole colonies.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from antgrowth._core.arrays import Floats
from antgrowth._core.stages import WORKERS
from antgrowth.climate.temperature import Temperature, constant, day_night
from antgrowth.inference.initial_state import InitialState
from antgrowth.inference.posterior import Posterior
from antgrowth.model.life_cycle import LifeCycle
from antgrowth.model.mean_field import grow_on
from antgrowth.model.thermal_forcing import ThermalForcing
from antgrowth.regimes.limits import with_due_rests
from antgrowth.species.profile import Species
from antgrowth.species.thermal_limits import SENSOR_MARGIN_C, STANDSTILLS

DRAWS = 16
"""Posterior draws whose expected growth is followed, each from a nest that the notes allow."""

DROPS_C = (3.0, 6.0)
"""How much cooler the nights of the candidates are. [°C]"""

DAY_HOURS = 14.0


@dataclass(frozen=True)
class Candidate:
    """A plan that may be the best."""

    name: str
    day_c: float  # day_c, night_c: [°C]
    night_c: float
    safe: bool  # whether it stays far enough below the ceiling

    @property
    def plan(self) -> Temperature:
        """Its temperatures, without any rest."""
        if self.day_c == self.night_c:
            return constant(self.day_c)
        return day_night(self.day_c, self.night_c, day_hours=DAY_HOURS)

    @property
    def mean_c(self) -> float:
        """Mean of a day [°C]."""
        return (self.day_c * DAY_HOURS + self.night_c * (24 - DAY_HOURS)) / 24


def lowest_c(species: Species) -> float:
    """The temperature below which some brood stands still or nothing is laid [°C]."""
    return max(species.value(path) for path in STANDSTILLS.values())


def steady_plans(low_c: float, ceiling_c: float, step_c: float) -> list[Candidate]:
    """Steady temperatures from the ceiling down.

    Those too near to it show what the margin costs.
    """
    number = int((ceiling_c - low_c) / step_c + 1e-9) + 1
    return [
        Candidate(f"steady {c:g} °C", c, c, c <= ceiling_c - SENSOR_MARGIN_C + 1e-9)
        for c in np.round(ceiling_c - step_c * np.arange(number), 2).tolist()
    ]


def day_night_plans(low_c: float, ceiling_c: float) -> list[Candidate]:
    """Warm days with cooler nights, all of them far enough below the ceiling."""
    return [
        Candidate(f"{c:g} °C by day, {c - drop:g} by night", c, c - drop, True)
        for c in np.arange(ceiling_c - SENSOR_MARGIN_C, low_c, -1.0).round(2).tolist()
        for drop in DROPS_C
    ]


def expected_wait(fit: Posterior, plan: Temperature, workers: int, days: int) -> float:
    """Days until expected growth reaches a number of workers, the horizon standing for later.

    It goes on from nests as the notes leave them, the same for every plan; rests that the species
    needs are put into the plan.
    """
    tomorrow = np.datetime64(fit.counts.end, "D") + 1
    whole = fit.temperature.then(tomorrow, with_due_rests(fit, plan, days))
    forcing = fit.history.forcing(fit.days + days, whole)
    rng = np.random.default_rng(fit.seed)
    there = np.concatenate(
        [_workers(now, forcing, fit.days, rng) for now in fit.initial_states(DRAWS)]
    )
    first = np.where((there >= workers).any(axis=1), (there >= workers).argmax(axis=1), 0)
    draw = np.arange(len(there))
    low, high = there[draw, first - 1], there[draw, first]
    part = np.where(high > low, (workers - low) / np.where(high > low, high - low, 1.0), 1.0)
    wait = np.where(first > 0, first - 1 + part, days)
    return float(np.where(there[:, 0] >= workers, 0.0, wait).mean())


def _workers(
    now: InitialState, forcing: ThermalForcing, first: int, rng: np.random.Generator
) -> Floats:
    """Workers expected on each evening from a day on, shape (draws, days + 1)."""
    cycle = LifeCycle(now.laws, forcing, first)
    growth = grow_on(cycle, now.states(rng), first, forcing.days)
    found: Floats = growth.counts[..., WORKERS]
    return found
