"""What is believed of a colony before its counts: a species profile as prior, and its climate.

A prior is a set of parameters, each normal on a scale of its own (logarithm, logit or °C). The fit
works in whitened coordinates: independent standard normals, from which the parameters follow.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import special

from antgrowth.model.development_rates import Briere
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Climate, Laws
from antgrowth.species.development import BROOD_STAGES, curve_of
from antgrowth.species.profile import PARAMETERS, Species

__all__ = ["Parameter", "Prior", "climate_of", "curve_of", "usual_age"]

Floats = NDArray[np.float64]

SENSOR_SPREAD_C = 0.5
"""How far a thermometer is off, or away from the brood: standard deviation (assumed). [°C]"""

AGE_SPREAD = 0.4
"""Log-sd of the age of a colony acquired part-grown, around what its size suggests (assumed)."""

SPELLS = 0.3
"""Log-sd of good and bad spells of laying (assumed): what the law leaves out, said honestly."""

OLDEST = 900
"""No colony is taken to have grown for longer before it was acquired. [day]"""


@dataclass(frozen=True)
class Parameter:
    """One parameter of a colony.

    Attributes
    ----------
    name : str
        As a keeper reads it.
    path : str
        Where the species profile holds it.
    unit : str
    scale : str
        Where the prior is normal: "log", "logit" or "celsius".
    centre : float
        Mean on that scale.
    spread : float
        Standard deviation on that scale, shared factors included.
    """

    name: str
    path: str
    unit: str
    scale: str
    centre: float
    spread: float

    def value(self, place: Floats) -> Floats:
        """From the parameter's scale to its unit."""
        if self.scale == "log":
            return np.exp(place)
        return special.expit(place) if self.scale == "logit" else place


# name, path, and the field of `Laws` (with its column) that the parameter sets
_FITTED = (
    ("laying starts after", "laying.delay_days", ("delay",)),
    ("founding laying rate", "laying.founding_rate", ("founding_rate",)),
    ("founding brood room", "laying.founding_room", ("founding_room",)),
    ("laying rate per worker", "laying.rate_per_worker", ("rate_per_worker",)),
    ("brood room per worker", "laying.room_per_worker", ("room_per_worker",)),
    ("top laying rate", "laying.top_rate", ("top_rate",)),
    ("care of a pupa", "laying.pupa_care", ("pupa_care",)),
    ("egg duration", "development.egg.days", ("days", 0)),
    ("larva duration", "development.larva.days", ("days", 1)),
    ("pupa duration", "development.pupa.days", ("days", 2)),
    ("egg survival", "survival.egg", ("survival", 0)),
    ("larva survival", "survival.larva", ("survival", 1)),
    ("pupa survival", "survival.pupa", ("survival", 2)),
    ("worker life", "workers.life_days", ("life",)),
    ("curve shift", "development.*.lower_c", ("shift_c",)),
    ("eggs seen", "counting.seen_eggs", ()),
    ("larvae seen", "counting.seen_larvae", ()),
)
_DURATIONS = slice(7, 10)


@dataclass(frozen=True, eq=False)
class Prior:
    """Prior of a colony's parameters.

    Attributes
    ----------
    parameters : tuple of Parameter
    factor : array, shape (parameters, parameters)
        Lower triangular; whitened coordinates x stand for ``centre + factor @ x``.
    species : Species
    past : int
        Days of an unknown past before the first note; 0 for a colony known since its founding.
    """

    parameters: tuple[Parameter, ...]
    factor: Floats
    species: Species
    past: int = 0

    @classmethod
    def of(cls, species: Species, past: int = 0, usual_age: float = 1.0) -> Prior:
        """Read the prior from a species profile.

        Parameters
        ----------
        species : Species
        past : int
            Days of an unknown past before the first note. [day]
        usual_age : float
            Age of the colony, since its first egg, that such a first note suggests. [day]
        """
        shared = species.value("development.shared_spread")
        parameters, own = [], []
        for place, (name, path, _) in enumerate(_FITTED):
            common = shared if _DURATIONS.start <= place < _DURATIONS.stop else 0.0
            parameter, spread = _believe(species, name, path, common)
            if past and path == "laying.delay_days":
                # What is unknown is not when laying began after the flight, but how long ago.
                spread = AGE_SPREAD
                centre, total = float(np.log(usual_age)), float(np.hypot(spread, shared))
                parameter = Parameter("age at first note", "", "day", "log", centre, total)
            parameters.append(parameter)
            own.append(spread)
        cov = np.diag(np.square(own))
        together = np.zeros(len(own))  # a wrong table is wrong in all its durations
        together[_DURATIONS] = shared
        if past:
            together[0] = shared  # and in the age that goes with what was found
        cov += np.outer(together, together)
        return cls(tuple(parameters), np.linalg.cholesky(cov), species, past)

    def __len__(self) -> int:
        return len(self.parameters)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the parameters, in order."""
        return tuple(p.name for p in self.parameters)

    def values(self, x: Floats) -> Floats:
        """Parameters in their units, shape (draws, parameters), from whitened coordinates."""
        place = np.array([p.centre for p in self.parameters]) + x @ self.factor.T
        return np.stack([p.value(place[:, k]) for k, p in enumerate(self.parameters)], axis=1)

    def laws(self, x: Floats) -> Laws:
        """Growth laws of draws given in whitened coordinates, shape (draws, parameters)."""
        values = self.values(x)
        parts: dict[str, Any] = {
            "days": np.empty((len(x), 3)),
            "survival": np.empty((len(x), 3)),
        }
        for place, (_, _, target) in enumerate(_FITTED):
            match target:
                case (str(name), int(column)):
                    parts[name][:, column] = values[:, place]
                case (str(name),):
                    parts[name] = values[:, place]
        if self.past:
            parts["delay"] = np.maximum(self.past - parts["delay"], 0.0)
        held = self.species.value
        return Laws(
            **parts,
            life_shape=held("workers.life_shape"),
            first_life=held("workers.first_life"),
            first_development=held("workers.first_development"),
            pace_cv=held("development.pace_cv"),
            spells=SPELLS,
        )

    def with_round_shifts(self, x: Floats, grain_c: float) -> Floats:
        """The same draws with their curve shifts rounded to so many °C."""
        k = self.names.index("curve shift")
        rounded = x.copy()
        rounded[:, k] = np.rint(x[:, k] * self.factor[k, k] / grain_c) * grain_c / self.factor[k, k]
        return rounded

    def seen(self, x: Floats) -> Floats:
        """Share of eggs, larvae, pupae, workers that the keeper sees, shape (draws, 4)."""
        shares = np.ones((len(x), 4))
        shares[:, :2] = self.values(x)[:, -2:]
        return shares


def _believe(species: Species, name: str, path: str, shared: float) -> tuple[Parameter, float]:
    """Parameter of a path, and the spread that is its own."""
    if "*" in path:
        # One shift stands for the mean of three uncertain thresholds and a sensor off the brood.
        lows = [species[path.replace("*", stage)] for stage in BROOD_STAGES]
        own = np.linalg.norm([low.spread for low in lows]) / len(lows)
        spread = float(np.hypot(own, SENSOR_SPREAD_C))
        return Parameter(name, path, "°C", "celsius", 0.0, spread), spread
    number = species[path]
    scale = PARAMETERS[path].scale
    centre = number.value
    if scale != "celsius":
        centre = float(np.log(centre) if scale == "log" else special.logit(centre))
    total = float(np.hypot(number.spread, shared))
    return Parameter(name, path, number.unit, scale, centre, total), number.spread


def climate_of(species: Species, hours_c: Floats, resting: NDArray[np.bool_]) -> Climate:
    """What temperatures mean to a species.

    Parameters
    ----------
    species : Species
    hours_c : array, shape (days, 24)
        Temperatures of each day. [°C]
    resting : array of bool, shape (days,)
        Days of a rest season.
    """
    value = species.value
    reference = value("development.reference_c")
    return Climate.of(
        hours_c,
        resting,
        tuple(curve_of(species, stage) for stage in BROOD_STAGES),  # type: ignore[arg-type]
        Briere.through(1.0, reference, value("laying.lower_c"), value("laying.upper_c")),
        reference_c=reference,
        ageing_q10=value("workers.ageing_q10"),
        heat_limit_c=value("limits.heat_limit_c"),
        heat_loss_per_day_c=value("limits.heat_loss_per_day_c"),
        rest_survival=(value("rest.egg_survival"), 1.0, value("rest.pupa_survival")),
    )


def usual_age(species: Species, hours_c: Floats, held: Floats) -> float:
    """Age at which a colony of a species usually holds what was found.

    Parameters
    ----------
    species : Species
    hours_c : array, shape (24,)
        Temperatures of every day of its growth. [°C]
    held : array, shape (5,)
        Eggs, larvae, pupae, workers and brood found; NaN where not known.

    Returns
    -------
    float
        Since the first egg; at least 5. [day]
    """
    climate = climate_of(species, np.tile(hours_c, (OLDEST, 1)), np.zeros(OLDEST, bool))
    laws = Prior.of(species).laws(np.zeros((1, len(_FITTED))))
    counts = grow(replace(laws, delay=np.zeros(1)), climate, paces=4).counts[0]
    expected = np.column_stack([counts, counts[:, :3].sum(axis=1)])
    # On the scale of square roots, chance scatters counts alike whether they are few or many.
    misfit = np.nansum((np.sqrt(expected) - np.sqrt(held)) ** 2, axis=1)
    return float(max(int(misfit.argmin()), 5))
