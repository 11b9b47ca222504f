"""Which temperatures are too cool, comfortable and too warm for an ant, both ways."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from antgrowth._core.summary import in_words
from antgrowth.species.profile import Species
from antgrowth.species.thermal_limits import COLD_LIMIT, PHASES, SENSOR_MARGIN_C, STANDSTILLS

SLOW = 2.0
"""Cool is where brood takes more than so many times as long as at the reference (assumed)."""

GRAIN_C = 0.5


@dataclass(frozen=True)
class Comfort:
    """Temperatures of a nest that is awake, by its mean."""

    standstill_c: float  # below it some brood stands still, or the queen does not lay [°C]
    # Up to it brood takes more than twice as long as at the reference, or cold costs eggs [°C]
    cool_c: float
    # Above it a nest is within 2 °C of the ceiling, or beyond; NaN if no ceiling is known [°C]
    warm_c: float
    ceiling: str  # name of the ceiling

    def word(self, mean_c: float) -> str:
        """What a mean temperature is: too cool, cool, comfortable or too warm."""
        if mean_c < self.standstill_c:
            return "too cool"
        if mean_c <= self.cool_c:
            return "cool"
        return "too warm" if mean_c > self.warm_c else "comfortable"

    @in_words
    def sentence(self, mean_c: float) -> str:
        """The same, with the limits on both sides."""
        warm = "" if np.isnan(self.warm_c) else f", too warm above {self.warm_c:g} °C"
        return (
            f"{mean_c:.1f} °C is {self.word(mean_c)} for this ant: too cool below "
            f"{self.standstill_c:g} °C, slow up to {self.cool_c:g} °C{warm}"
        )


def comfort(ant: Species, phase: str = "housed") -> Comfort:
    """Tell what is too cool, comfortable and too warm in a phase, whose ceiling counts.

    Examples
    --------
    >>> from antgrowth.species.profile import load_species
    >>> comfort(load_species("lasius-niger")).word(24.0)
    'comfortable'
    """
    path, _, name = PHASES[phase]
    ceiling_c = ant.value(path) if path in ant else np.nan
    standstill_c = max(ant.value(path) for path in STANDSTILLS.values())
    reference_c = ant.value("development.reference_c")
    usual = ant.egg_to_worker_days(reference_c)[0]
    tried = np.arange(np.ceil(standstill_c / GRAIN_C) * GRAIN_C, reference_c, GRAIN_C)
    slow = [c for c in tried if ant.egg_to_worker_days(float(c))[0] > SLOW * usual]
    cool_c = float(max(slow, default=standstill_c))
    if COLD_LIMIT in ant:
        cool_c = max(cool_c, ant.value(COLD_LIMIT))
    return Comfort(standstill_c, cool_c, ceiling_c - SENSOR_MARGIN_C, name)


def cool_for_brood(ant: Species, mean_c: float) -> str:
    """What so cool a nest does to the brood, as far as is known; empty where it is warm enough.

    Examples
    --------
    >>> from antgrowth.species.profile import load_species
    >>> cool_for_brood(load_species("lasius-niger"), 20.0)
    'from 20 °C down eggs die, and many larvae wait for warmth'
    """
    limits = comfort(ant)
    if mean_c > limits.cool_c:
        return ""
    if COLD_LIMIT in ant:
        return f"from {limits.cool_c:g} °C down eggs die, and many larvae wait for warmth"
    if mean_c < limits.standstill_c:
        return (
            f"below {limits.standstill_c:g} °C some of it stands still, or the queen does not lay"
        )
    return f"up to {limits.cool_c:g} °C it takes more than twice as long as usual"
