"""An invented ant under the package's law, and invented weather, for the tests of the growth model.

The numbers are those of `simulators.one_ant.TYPICAL`, so that both can be held against each other.
"""

from __future__ import annotations

import numpy as np
from simulators.one_ant import BROOD_STAGES, REFERENCE_C, TYPICAL

from antgrowth.model.development_rates import Briere, RateCurve
from antgrowth.model.parameters import Climate, Laws


def laws(draws: int = 1, **changes: object) -> Laws:
    """Laws of `TYPICAL` with some fields of `Laws` replaced; scalars are spread over the draws."""
    p = TYPICAL
    values: dict[str, object] = {
        "days": [p[f"{stage}_days"] for stage in BROOD_STAGES],
        "survival": [p[f"sigma_{stage}"] for stage in BROOD_STAGES],
        "delay": p["delay_days"],
        "founding_rate": p["founding_rate"],
        "founding_room": p["founding_room"],
        "rate_per_worker": p["rate_per_worker"],
        "room_per_worker": p["room_per_worker"],
        "top_rate": p["top_rate"],
        "pupa_care": 1.0,
        "life": p["worker_life_days"],
        "shift_c": 0.0,
        "spells": 0.0,
    } | changes
    single = {"life_shape", "first_life", "first_development", "pace_cv", "spells"}
    shapes = {"days": (draws, 3), "survival": (draws, 3)}
    arrays = {
        name: np.array(np.broadcast_to(np.asarray(value, float), shapes.get(name, (draws,))))
        for name, value in values.items()
        if name not in single
    }
    return Laws(**arrays, **{name: float(values.get(name, p.get(name))) for name in single})


def unlimited(rate: float, draws: int = 1, **changes: object) -> Laws:
    """Laws under which the queen lays steadily from day 0, whatever else is in the nest.

    Eggs of all days are alike. The room is so large that no brood can be felt in it.
    """
    plain = {
        "delay": 0.0,
        "founding_rate": rate,
        "founding_room": 1e9,
        "rate_per_worker": 0.0,
        "room_per_worker": 0.0,
        "top_rate": 1e9,
        "first_life": 1.0,
        "first_development": 1.0,
    }
    return laws(draws, **(plain | changes))


def climate(
    hours_c: np.ndarray,
    *,
    curve: RateCurve | None = None,
    laying: RateCurve | None = None,
    resting: np.ndarray | None = None,
    rest_survival: tuple[float, float, float] = (0.05, 1.0, 0.05),
    ageing_q10: float = TYPICAL["ageing_q10"],
) -> Climate:
    """What temperatures, shape (days, 24) [°C], mean to the invented ant."""
    p = TYPICAL
    curves = [
        curve or Briere.through(p[f"{s}_days"], REFERENCE_C, p[f"{s}_lower_c"], p[f"{s}_upper_c"])
        for s in BROOD_STAGES
    ]
    return Climate.of(
        hours_c,
        np.zeros(len(hours_c), bool) if resting is None else resting,
        tuple(curves),
        laying or Briere.through(1.0, REFERENCE_C, p["laying_lower_c"], p["laying_upper_c"]),
        reference_c=REFERENCE_C,
        ageing_q10=ageing_q10,
        heat_limit_c=p["heat_limit_c"],
        heat_loss_per_day_c=p["heat_loss"],
        rest_survival=rest_survival,
    )


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
