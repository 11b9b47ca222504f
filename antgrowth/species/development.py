"""Development as a profile tells it: rate curves, and the days from egg to worker."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from antgrowth.model.development_rates import Briere, DegreeDay, RateCurve

if TYPE_CHECKING:
    from antgrowth.species.profile import Species

BROOD_STAGES = ("egg", "larva", "pupa")

STEP_C = 0.25
"""A threshold is moved by so much to see what its doubt does to a duration. [°C]"""


def curve_of(species: Species, stage: str, lower_shift_c: float = 0.0) -> RateCurve:
    """Development-rate curve of "egg", "larva" or "pupa".

    Its lower threshold may be taken to lie higher than in the profile. [°C]
    """
    at = f"development.{stage}"
    days, lower = species.value(f"{at}.days"), species.value(f"{at}.lower_c") + lower_shift_c
    reference = species.value("development.reference_c")
    if species.curves[stage] == "degree-day":
        return DegreeDay.through(days, reference, lower)
    return Briere.through(days, reference, lower, species.value(f"{at}.upper_c"))


def egg_to_worker(
    species: Species, temperature_c: float, reach: float
) -> tuple[float, float, float]:
    """Days from a laid egg to a worker, of brood that workers rear, at a constant temperature.

    With the low and high end of an interval that goes `reach` standard deviations of the logarithm
    to either side; infinite where a stage stands still. The total's logarithm is taken as normal.
    Its variance is to first order that of its parts: the doubt common to the stages, and of each
    stage that of its duration and, away from the reference temperature, that of its lower
    threshold.
    """
    durations = np.array([_days(species, stage, temperature_c) for stage in BROOD_STAGES])
    total = float(durations.sum())
    if not np.isfinite(total):
        return np.inf, np.inf, np.inf
    variance = species.value("development.shared_spread") ** 2
    for stage, share in zip(BROOD_STAGES, durations / total, strict=True):
        at = f"development.{stage}"
        lower = species.value(f"{at}.lower_c")
        # A threshold that is moved stays above 0 °C and below the reference temperature.
        down = min(STEP_C, lower)
        up = min(STEP_C, (species.value("development.reference_c") - lower) / 2)
        cooler, warmer = (
            np.log(_days(species, stage, temperature_c, shift)) for shift in (-down, up)
        )
        slope = (warmer - cooler) / (down + up)  # [1/°C]
        own = np.hypot(species[f"{at}.days"].spread, slope * species[f"{at}.lower_c"].spread)
        variance += float(share * own) ** 2
    factor = float(np.exp(reach * np.sqrt(variance)))
    return total, total / factor, total * factor


def _days(species: Species, stage: str, temperature_c: float, lower_shift_c: float = 0.0) -> float:
    rate = float(curve_of(species, stage, lower_shift_c)(temperature_c))
    return 1 / rate if rate > 0 else np.inf
