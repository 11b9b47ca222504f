"""Parameters of the growth law for a number of draws, and ants carried in or out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from antgrowth._core.arrays import Flags, Floats


@dataclass(frozen=True, eq=False, repr=False)
class Laws:
    """Parameters of the growth law for a number of draws; what they do is told in `growth_law`."""

    # Duration of egg, growing larva and pupa at the reference temperature [day],
    # shape (draws, 3)
    days: Floats
    survival: Floats  # share that completes each of them, eaten eggs aside, shape (draws, 3)
    delay: Floats  # from day 0 to the first egg [day], shape (draws,)
    # founding_rate, rate_per_worker, top_rate: laying rate of the queen alone, what each worker
    # adds, and the most she reaches [1/day], shape (draws,)
    founding_rate: Floats
    rate_per_worker: Floats
    top_rate: Floats
    eggs_eaten: Floats  # eggs that a larva eats where there are plenty [1/day], shape (draws,)
    # places_alone, places_per_worker, places_power: brood that the queen rears at a time; what
    # workers add, ``((1 + W)**power - 1)`` times, shape (draws,)
    places_alone: Floats
    places_per_worker: Floats
    places_power: Floats
    pupa_care: Floats  # places that a pupa takes, where a growing larva takes 1, shape (draws,)
    life: Floats  # Weibull scale of worker life at the reference temperature [day], shape (draws,)
    # first_life, first_development: life and stage durations of first workers, relative to
    # later ones, shape (draws,)
    first_life: Floats
    first_development: Floats
    rest_survival: Floats  # share of eggs, larvae and pupae that outlives a rest, shape (draws, 3)
    # Where on the season's scale (`ThermalForcing.season`) rearing and laying end,
    # shape (draws,)
    season_end: Floats
    # wake_days, laying_days: from the end of a rest to the first growth of larvae, and to the
    # first eggs [day], shape (draws,)
    wake_days: Floats
    laying_days: Floats
    fasting: Floats  # share by which larvae eat fewer eggs once the season is over, shape (draws,)
    # How much warmer than the profile's the brood's rate curves lie [°C], shape (draws,)
    shift_c: Floats
    # life_shape, development_cv: Weibull shape of worker life; coefficient of variation of a
    # stage's duration among individuals.
    life_shape: float
    development_cv: float
    # Log-sd by which laying, places and the eating of eggs stray from the law for weeks,
    # shape (3,)
    drift: Floats

    def __repr__(self) -> str:
        return f"Laws({len(self.days)} draws)"

    def __len__(self) -> int:
        return len(self.delay)

    def take(self, draws: NDArray[np.intp] | Flags | slice) -> Laws:
        """Select draws (integer or boolean index array, or slice)."""
        return Laws(**{k: v[draws] if self._drawn(k) else v for k, v in vars(self).items()})

    @classmethod
    def joined(cls, parts: Sequence[Laws]) -> Laws:
        """Draws of several laws, one after the other; what is not drawn is that of the first."""
        fields: dict[str, Any] = {
            name: np.concatenate([getattr(part, name) for part in parts])
            if parts[0]._drawn(name)
            else value
            for name, value in vars(parts[0]).items()
        }
        return cls(**fields)

    def places(self, workers: Floats, care: Floats | float = 1.0) -> Floats:
        """Brood that queens and workers rear at a time, shape of `workers` (draws first).

        Care is that of queens relative to one, a number or of shape (days,).
        """
        alone, each, power = (
            part.reshape(-1, *[1] * (workers.ndim - 1))
            for part in (self.places_alone, self.places_per_worker, self.places_power)
        )
        return alone * care + each * ((1.0 + workers) ** power - 1.0)

    @staticmethod
    def _drawn(name: str) -> bool:
        return name not in ("life_shape", "development_cv", "drift")


@dataclass(frozen=True)
class Transfer:
    """Ants carried into the nest or out of it."""

    day: int  # they are in, or gone, at the end of day ``day - 1``
    stage: int  # 0 egg, 1 larva, 2 pupa, 3 worker
    number: float  # below zero where ants were carried out
