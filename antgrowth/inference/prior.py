"""What is believed of a colony before its counts: a species profile as prior.

A prior is a set of parameters, each normal on a scale of its own (logarithm, logit or °C). The fit
works in whitened coordinates: independent standard normals, from which the parameters follow.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from scipy import special

from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.stages import WORKERS
from antgrowth.model.development_rates import Briere
from antgrowth.model.parameters import Laws
from antgrowth.model.thermal_forcing import NEVER, ThermalForcing, laying_lasts, seasons_of
from antgrowth.species.development import BROOD_STAGES, curve_of
from antgrowth.species.parameters import PARAMETERS
from antgrowth.species.profile import Species
from antgrowth.species.thermal_limits import COLD_LIMIT

SENSOR_SPREAD_C = 0.5
"""How far a thermometer is off, or away from the brood: standard deviation (assumed). [°C]"""

DRIFT = np.array([0.5, 0.5, 0.25])
"""Log-sd by which laying, places and the eating of eggs stray from the law for weeks. Founding
colonies of Lasius niger cannot tell 0.35 from 0.5 for the first two; of simulated colonies that
live by other laws more are held with 0.5. The eating of eggs strays less: with 0.5 larvae scatter
too far and lie too high, since few eaten eggs add more larvae than many take away (larvae of those
colonies: CRPS 5.4 with 0.5, 5.1 with 0.25, as many held)."""

HALF_OVERLOOKED = 100.0
"""Workers from which on many are overlooked: at so many, half of what is overlooked of a crowd."""


@dataclass(frozen=True)
class Fitted:
    """A number of a profile that a fit learns: the one table of them is `FITTED`."""

    name: str  # as a keeper reads it
    path: str  # where the species profile holds it; a star stands for each brood stage
    field: str  # of `Laws`; empty where it concerns the keeper's counting
    column: int | None  # of that field, where it has several
    measure: str  # what tells it to a keeper


# fmt: off
FITTED = (
    Fitted("laying starts after", "laying.delay_days", "delay", None,
           "note the day of the first egg"),
    Fitted("founding laying rate", "laying.founding_rate", "founding_rate", None,
           "count the eggs every few days in the first weeks"),
    Fitted("laying rate per worker", "laying.rate_per_worker", "rate_per_worker", None,
           "count eggs and workers every week"),
    Fitted("top laying rate", "laying.top_rate", "top_rate", None,
           "count the eggs when the colony is large"),
    Fitted("eggs eaten by a larva", "rearing.eggs_eaten", "eggs_eaten", None,
           "count eggs and larvae every few days"),
    Fitted("brood reared alone", "rearing.places_alone", "places_alone", None,
           "count the first pupae"),
    Fitted("brood reared per worker", "rearing.places_per_worker", "places_per_worker", None,
           "count pupae and workers every week or two"),
    Fitted("growth of rearing", "rearing.places_power", "places_power", None,
           "count pupae and workers of a large colony"),
    Fitted("care of a pupa", "rearing.pupa_care", "pupa_care", None,
           "count the larvae while there are many pupae"),
    Fitted("egg duration", "development.egg.days", "days", 0,
           "note the first egg and the first larva"),
    Fitted("larva duration", "development.larva.days", "days", 1,
           "note the first larva and the first pupa"),
    Fitted("pupa duration", "development.pupa.days", "days", 2,
           "note the first pupa and the first worker"),
    Fitted("egg survival", "survival.egg", "survival", 0,
           "count eggs, and larvae some two weeks later"),
    Fitted("larva survival", "survival.larva", "survival", 1,
           "count larvae, and pupae some two weeks later"),
    Fitted("pupa survival", "survival.pupa", "survival", 2,
           "count pupae, and new workers some two weeks later"),
    Fitted("worker life", "workers.life_days", "life", None,
           "write down the dead workers you find"),
    Fitted("life of first workers", "workers.first_life", "first_life", None,
           "write down the dead workers you find"),
    Fitted("haste of first workers", "workers.first_development", "first_development", None,
           "note the first pupa and the first worker"),
    Fitted("curve shift", "development.*.lower_c", "shift_c", None,
           "lay the sensor beside the brood"),
    Fitted("eggs that outlive a rest", "rest.egg_survival", "rest_survival", 0,
           "count the eggs in spring"),
    Fitted("larvae that outlive a rest", "rest.larva_survival", "rest_survival", 1,
           "count the larvae before and after the rest"),
    Fitted("pupae that outlive a rest", "rest.pupa_survival", "rest_survival", 2,
           "count the pupae before and after the rest"),
    Fitted("length of the season", "season.length_days", "season_end", None,
           "note when larvae stop to pupate"),
    Fitted("cool that ends the season", "season.ends_below_c", "season_end", None,
           "note when larvae stop to pupate"),
    Fitted("larvae wake after a rest", "season.wake_days", "wake_days", None,
           "note the first pupa of spring"),
    Fitted("laying resumes after a rest", "season.laying_days", "laying_days", None,
           "note the first egg of spring"),
    Fitted("fasting of waiting larvae", "season.fasting", "fasting", None,
           "count eggs and larvae in autumn"),
    Fitted("eggs seen", "counting.seen_eggs", "", None, ""),
    Fitted("larvae seen", "counting.seen_larvae", "", None, ""),
    Fitted("workers seen of a crowd", "counting.seen_workers", "", None, ""),
)
# fmt: on
"""Every number that a fit may learn. A colony has those that its profile and its past give."""

UNUSED: dict[str, float] = {
    "delay": 0.0, "season_end": 0.0, "wake_days": -1e3, "laying_days": -1e3, "fasting": 0.0,
}  # fmt: skip
"""Values of fields that a colony has no parameter for: it laid before it was known, or its species
knows no season."""

DURATIONS = tuple(f"development.{stage}.days" for stage in BROOD_STAGES)
"""Durations share a factor: a wrong table is wrong in all of them."""


@dataclass(frozen=True)
class Parameter:
    """One parameter of a colony."""

    fitted: Fitted
    unit: str
    scale: str  # where the prior is normal: "log", "logit" or "celsius"
    centre: float  # mean on that scale
    spread: float  # standard deviation on that scale, shared factors included

    @property
    def name(self) -> str:
        """As a keeper reads it."""
        return self.fitted.name

    @property
    def path(self) -> str:
        """Where the species profile holds it."""
        return self.fitted.path

    def value(self, place: Floats) -> Floats:
        """From the parameter's scale to its unit."""
        if self.scale == "log":
            return np.exp(place)
        return special.expit(place) if self.scale == "logit" else place


@dataclass(frozen=True, eq=False, repr=False)
class Prior:
    """Prior of a colony's parameters."""

    parameters: tuple[Parameter, ...]
    # Lower triangular; whitened coordinates x stand for ``centre + factor @ x``,
    # shape (parameters, parameters)
    factor: Floats
    species: Species
    # Log-sd by which laying, places and the eating of eggs stray from the law, shape (3,)
    drift: Floats = field(default_factory=lambda: DRIFT)

    def __repr__(self) -> str:
        return f"Prior({len(self)} parameters)"

    @classmethod
    def of(cls, species: Species, founded: bool = True) -> Prior:
        """Read the prior from a species profile.

        A colony that is not known since it was founded laid before day 0.
        """
        shared = species.value("development.shared_spread")
        parameters, own = [], []
        for fitted in FITTED:
            if not _applies(fitted, species, founded):
                continue
            unit, scale, centre, spread = _belief(species, fitted.path)
            total = float(np.hypot(spread, shared if fitted.path in DURATIONS else 0.0))
            parameters.append(Parameter(fitted, unit, scale, centre, total))
            own.append(spread)
        together = np.array([shared if p.path in DURATIONS else 0.0 for p in parameters])
        cov = np.diag(np.square(own)) + np.outer(together, together)
        return cls(tuple(parameters), np.linalg.cholesky(cov), species)

    def __len__(self) -> int:
        return len(self.parameters)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the parameters, in order."""
        return tuple(p.name for p in self.parameters)

    def place_of(self, path: str) -> int | None:
        """Where the parameter of a path stands; None if the colony has none."""
        paths = [p.path for p in self.parameters]
        return paths.index(path) if path in paths else None

    def values(self, x: Floats) -> Floats:
        """Parameters in their units, shape (draws, parameters), from whitened coordinates."""
        place = np.array([p.centre for p in self.parameters]) + x @ self.factor.T
        return np.stack([p.value(place[:, k]) for k, p in enumerate(self.parameters)], axis=1)

    def laws(self, x: Floats) -> Laws:
        """Growth laws of draws given in whitened coordinates, shape (draws, parameters)."""
        values = self.values(x)
        parts: dict[str, Any] = {name: np.full(len(x), value) for name, value in UNUSED.items()}
        for place, parameter in enumerate(self.parameters):
            fitted, found = parameter.fitted, values[:, place]
            if fitted.path == "season.ends_below_c":
                found = -found  # the season's scale rises as it cools
            if fitted.column is not None:
                parts.setdefault(fitted.field, np.empty((len(x), 3)))[:, fitted.column] = found
            elif fitted.field:
                parts[fitted.field] = found
        return Laws(
            **parts,
            life_shape=self.species.value("workers.life_shape"),
            development_cv=self.species.value("development.pace_cv"),
            drift=self.drift,
        )

    def with_round_shifts(self, x: Floats, grain_c: float) -> Floats:
        """The same draws with their curve shifts rounded to so many °C."""
        k = self.names.index("curve shift")
        rounded = x.copy()
        rounded[:, k] = np.rint(x[:, k] * self.factor[k, k] / grain_c) * grain_c / self.factor[k, k]
        return rounded

    def seen(self, x: Floats, workers: Floats) -> Floats:
        """Share of each stage that the keeper sees, of x (draws, parameters): of a crowd fewer.

        Of eggs, larvae, pupae, workers, and dead workers: shape (draws, ..., 5), as workers have
        it.
        """
        values = self.values(x)
        shares = np.ones((*workers.shape, 5))
        around = (-1, *[1] * (workers.ndim - 1))
        for stage, path in enumerate(("seen_eggs", "seen_larvae")):
            shares[..., stage] = values[:, self.place_of(f"counting.{path}")].reshape(around)
        least = values[:, self.place_of("counting.seen_workers")].reshape(around)
        shares[..., WORKERS] = least + (1.0 - least) / (
            1.0 + np.maximum(workers, 0.0) / HALF_OVERLOOKED
        )
        return shares


def _applies(fitted: Fitted, species: Species, founded: bool) -> bool:
    """Whether a colony of a species has a parameter."""
    if fitted.path == "laying.delay_days":
        return founded
    if not fitted.path.startswith("season."):
        return True
    kind = species.season.kind
    only = {"season.length_days": "endogenous", "season.ends_below_c": "exogenous"}
    return kind != "none" and only.get(fitted.path, kind) == kind


def _belief(species: Species, path: str) -> tuple[str, str, float, float]:
    """Unit, scale, centre and own spread of a path."""
    if "*" in path:
        # One shift stands for the mean of three uncertain thresholds and a sensor off the brood.
        lows = [species[path.replace("*", stage)] for stage in BROOD_STAGES]
        own = np.linalg.norm([low.spread for low in lows]) / len(lows)
        return "°C", "celsius", 0.0, float(np.hypot(own, SENSOR_SPREAD_C))
    number = species[path]
    scale = PARAMETERS[path].scale
    centre = number.value
    if scale != "celsius":
        centre = float(np.log(centre) if scale == "log" else special.logit(centre))
    return number.unit, scale, centre, number.spread


def forcing_of(
    species: Species,
    hours_c: Floats,
    resting: Flags,
    since_spring: float | None = None,
    since_rest: float = NEVER,
) -> ThermalForcing:
    """What hours [°C], of shape (days, 24), and days of a rest mean to a species.

    `since_spring` and `since_rest` are the days since the last spring and since the last rest
    ended, on the first day; without the former the ant is taken to have no season.
    """
    value = species.value
    reference = value("development.reference_c")
    kind = "none" if since_spring is None else species.season.kind
    forcing = ThermalForcing.of(
        hours_c,
        resting,
        tuple(curve_of(species, stage) for stage in BROOD_STAGES),  # type: ignore[arg-type]
        Briere.through(1.0, reference, value("laying.lower_c"), value("laying.upper_c")),
        reference_c=reference,
        ageing_q10=value("workers.ageing_q10"),
        heat_limit_c=value("limits.heat_limit_c"),
        heat_loss_per_day_c=value("limits.heat_loss_per_day_c"),
        seasons=seasons_of(kind, resting, hours_c.mean(axis=1), since_spring or 0.0, since_rest),
        laying_lasts=laying_lasts(kind),
    )
    if COLD_LIMIT not in species:
        return forcing
    deficit = np.maximum(value(COLD_LIMIT) - hours_c.mean(axis=1), 0.0) * ~resting
    eggs = value("limits.cold_loss_per_day_c") * deficit[:, None] * [1.0, 0.0, 0.0]
    return replace(forcing, loss=forcing.loss + eggs)
