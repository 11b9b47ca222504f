"""An invented ant under the package's law, and invented weather, for the tests of the growth model.

The numbers are those of `simulators.one_ant.TYPICAL`, so that both can be held against each other.
"""

from __future__ import annotations

import numpy as np
from simulators.one_ant import BROOD_STAGES, REFERENCE_C, TYPICAL

from antgrowth.model.development_rates import Briere, RateCurve
from antgrowth.model.life_cycle import LifeCycle
from antgrowth.model.parameters import Laws, Transfer
from antgrowth.model.thermal_forcing import ThermalForcing, laying_lasts, seasons_of

DRAWN_BY_STAGE = {"days": "{}_days", "survival": "sigma_{}", "rest_survival": "rest_{}"}
DRAWN = {
    "delay": "delay_days",
    "founding_rate": "founding_rate",
    "rate_per_worker": "rate_per_worker",
    "top_rate": "top_rate",
    "eggs_eaten": "eggs_eaten",
    "places_alone": "places_alone",
    "places_per_worker": "places_per_worker",
    "places_power": "places_power",
    "pupa_care": "pupa_care",
    "life": "worker_life_days",
    "first_life": "first_life",
    "first_development": "first_development",
    "season_end": "season_days",
    "wake_days": "wake_days",
    "laying_days": "spring_laying_days",
    "fasting": "fasting",
}
"""Fields of `Laws` and their names in `TYPICAL`."""

ALL_LIVE = {"survival": [1.0, 1.0, 1.0], "life": 1e9}
CHILDLESS = {"founding_rate": 1e-12, "rate_per_worker": 0.0}
NEVER_ASLEEP = {"wake_days": -1e3, "laying_days": -1e3}
"""An ant without seasons, which has nothing to wake from after a rest."""
PLENTY = 1e9
"""Places or eggs a day that nothing ever uses up."""


def laws(draws: int = 1, **changes: object) -> Laws:
    """Laws of `TYPICAL` with some fields of `Laws` replaced; scalars are spread over the draws.

    Nothing strays from the law for weeks unless `drift` is given.
    """
    values: dict[str, object] = {
        field: [TYPICAL[name.format(stage)] for stage in BROOD_STAGES]
        for field, name in DRAWN_BY_STAGE.items()
    }
    values |= {field: TYPICAL[name] for field, name in DRAWN.items()} | {"shift_c": 0.0} | changes
    drift = np.array(np.broadcast_to(np.asarray(values.pop("drift", 0.0), float), 3))
    shape, cv = (
        float(values.pop(name, TYPICAL[known]))
        for name, known in (("life_shape", "life_shape"), ("development_cv", "pace_cv"))
    )
    arrays = {
        name: np.array(
            np.broadcast_to(
                np.asarray(value, float), (draws, 3) if name in DRAWN_BY_STAGE else (draws,)
            )
        )
        for name, value in values.items()
    }
    return Laws(**arrays, life_shape=shape, development_cv=cv, drift=drift)


def unlimited(rate: float, draws: int = 1, **changes: object) -> Laws:
    """Laws under which the queen lays steadily from day 0, and each ant goes its own way.

    No egg is eaten, every larva finds a place at once, and all workers are alike.
    """
    plain = {
        "delay": 0.0,
        "founding_rate": rate * 1e3,  # with which the top rate is reached to the last digit
        "rate_per_worker": 0.0,
        "top_rate": rate,
        "eggs_eaten": 0.0,
        "places_alone": PLENTY,
        "places_per_worker": 0.0,
        "first_life": 1.0,
        "first_development": 1.0,
    }
    return laws(draws, **(plain | changes))


def forcing(
    hours_c: np.ndarray,
    *,
    curve: RateCurve | None = None,
    laying: RateCurve | None = None,
    resting: np.ndarray | None = None,
    ageing_q10: float = TYPICAL["ageing_q10"],
    season: str = "none",
    since_spring: float = 0.0,
    transfers: tuple[Transfer, ...] = (),
) -> ThermalForcing:
    """What temperatures, shape (days, 24) [°C], mean to the invented ant."""
    p = TYPICAL
    curves = [
        curve or Briere.through(p[f"{s}_days"], REFERENCE_C, p[f"{s}_lower_c"], p[f"{s}_upper_c"])
        for s in BROOD_STAGES
    ]
    rests = np.zeros(len(hours_c), bool) if resting is None else resting
    found = ThermalForcing.of(
        hours_c,
        rests,
        tuple(curves),
        laying or Briere.through(1.0, REFERENCE_C, p["laying_lower_c"], p["laying_upper_c"]),
        reference_c=REFERENCE_C,
        ageing_q10=ageing_q10,
        heat_limit_c=p["heat_limit_c"],
        heat_loss_per_day_c=p["heat_loss"],
        seasons=seasons_of(season, rests, hours_c.mean(axis=1), since_spring),
        laying_lasts=laying_lasts(season),
    )
    return with_transfers(found, *transfers)


def with_transfers(forcing: ThermalForcing, *transfers: Transfer) -> ThermalForcing:
    """The same with ants carried in or out."""
    return ThermalForcing(**(vars(forcing) | {"transfers": transfers}))


def standing(cycle: LifeCycle, **numbers: float) -> np.ndarray:
    """State that holds so many ants and no others, of ages spread evenly, shape (size,).

    Parameters
    ----------
    cycle : LifeCycle
    numbers : float
        Of eggs, waiting, growing, first_pupae, pupae, first_workers, workers.
    """
    layout = cycle.state
    first = slice(layout.workers.start, layout.workers.start + layout.ages)
    later = slice(first.stop, layout.workers.stop)
    places = {
        "eggs": layout.row(0),
        "growing": layout.row(1),
        "first_pupae": layout.row(2),
        "pupae": layout.row(3),
        "waiting": layout.waiting,
        "first_workers": first,
        "workers": later,
    }
    state = np.zeros(layout.size)
    for name, number in numbers.items():
        place = places[name]
        state[place] = number / (place.stop - place.start)
    return state


def steady(temperature_c: float, days: int) -> np.ndarray:
    """The same temperature throughout, shape (days, 24). [°C]"""
    return np.full((days, 24), float(temperature_c))


def swing(day_c: float, night_c: float, days: int) -> np.ndarray:
    """Fourteen warm hours a day, ten cool ones, shape (days, 24). [°C]"""
    return np.tile(np.where(np.arange(24) < 14, day_c, night_c), (days, 1))


def step(before_c: float, after_c: float, day: int, days: int) -> np.ndarray:
    """One temperature before a day and another from it on, shape (days, 24). [°C]"""
    return np.vstack([steady(before_c, day), steady(after_c, days - day)])


def sine_day(mean_c: float, amplitude_c: float, hours: int = 24) -> np.ndarray:
    """A sine-shaped day at the middle of each hour, shape (1, hours). [°C]"""
    return mean_c + amplitude_c * np.sin(2 * np.pi * (np.arange(hours)[None] + 0.5) / hours)


def winter(
    before: int, rest: int, after: int, warm_c: float = 24.0, cold_c: float = 8.0
) -> tuple[np.ndarray, np.ndarray]:
    """Warm days, a cold rest and warm days again: hours (days, 24) [°C] and who rests (days,)."""
    hours = np.vstack([steady(warm_c, before), steady(cold_c, rest), steady(warm_c, after)])
    resting = np.zeros(before + rest + after, bool)
    resting[before : before + rest] = True
    return hours, resting
