"""What a colony needs on each day: adults by body mass and warmth, brood by the flow of larvae.

The first workers are smaller and quicker than later ones. Ants are counted off in order of age,
workers before pupae before larvae: as many as the lone queen rears are first ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from antgrowth._core.arrays import Floats
from antgrowth._core.stages import PUPAE, WORKERS
from antgrowth._core.text import told
from antgrowth._core.validation import as_number
from antgrowth.climate.humidity import deficit_kpa
from antgrowth.errors import AntgrowthError, SpeciesError
from antgrowth.food import energetics
from antgrowth.food.constants import Constants
from antgrowth.model.life_cycle import larval_progress
from antgrowth.model.parameters import Laws
from antgrowth.model.thermal_forcing import ThermalForcing
from antgrowth.species.profile import Species

WEIGHED_SPREAD = 0.08
"""Log-sd of a mass that the keeper found by weighing a sample."""

LARVA = 1
"""Place of the larva among the stages."""


@dataclass(frozen=True, eq=False)
class Masses:
    """Live masses by draw, each of shape (draws, 1)."""

    worker: Floats  # worker, first_worker, queen: [mg]
    first_worker: Floats
    queen: Floats
    queen_weighed: bool  # False if the queen's mass is guessed from that of workers


@dataclass(frozen=True, eq=False)
class Diet:
    """What the needs of a colony depend on besides its ants and their warmth."""

    masses: Masses
    constants: Constants  # of shape (draws, 1)
    # prey_protein, prey_energy: protein share and energy [J/mg] of what larvae are reared on,
    # shape (draws, 1)
    prey_protein: Floats | float
    prey_energy: Floats | float
    humidity_percent: float  # of the air around the ants


@dataclass(frozen=True, eq=False)
class Needs:
    """What a colony needs, each of shape (draws, days)."""

    # adult_sugar_mg, growth_sugar_mg: to run workers and queens; to grow larvae beyond the
    # energy of their prey [mg/day]
    adult_sugar_mg: Floats
    growth_sugar_mg: Floats
    protein_mg: Floats  # [mg/day]
    # Lost by workers and queens through their skin; their food brings much of it [mg/day]
    water_mg: Floats


def body_masses(
    species: Species,
    mass_mg: float | None,
    constants: Constants,
    draws: int,
    rng: np.random.Generator,
) -> Masses:
    """Draw the body masses of a species, or take one that the keeper weighed. [mg]

    A weighed one holds for first workers and later ones alike. The constants are of shape
    (draws, 1). A `SpeciesError` tells that no mass is known.
    """

    def drawn(path: str) -> Floats:
        number = species[path]
        return number.value * np.exp(number.spread * rng.standard_normal((draws, 1)))

    if mass_mg is not None:
        if not 0.01 <= as_number(mass_mg) <= 1000:
            raise AntgrowthError(
                f"mass_mg = {told(mass_mg)}. Give the live mass of one worker, from 0.01 "
                "to 1000 mg: "
                "weigh 20 to 50 together and divide."
            )
        worker = float(mass_mg) * np.exp(WEIGHED_SPREAD * rng.standard_normal((draws, 1)))
        first = worker
    elif "workers.mass_mg" in species:
        worker = drawn("workers.mass_mg")
        first = drawn("workers.first_mass_mg") if "workers.first_mass_mg" in species else worker
    else:
        raise SpeciesError(
            f"{species.name}: workers.mass_mg, the live mass of a worker, is not known, and all "
            "that an ant eats follows from it. Weigh 20 to 50 workers together on a scale that "
            "shows single milligrams, divide, and give mass_mg=..., or add the number to a profile "
            "of your own."
        )
    weighed = "queen.mass_mg" in species
    queen = drawn("queen.mass_mg") if weighed else constants.queen_to_worker_mass * worker
    return Masses(worker, first, np.asarray(queen), weighed)


def first_brood(species: Species, laws: Laws) -> Floats:
    """Number of first workers that a lone queen rears, shape (draws, 1)."""
    if species.founding == "dependent":
        return np.zeros((len(laws), 1))
    reared: Floats = (laws.places_alone * laws.survival[:, 1:].prod(axis=1))[:, None]
    return reared


def needs(
    *,
    workers: Floats,
    larvae: Floats,
    older: Floats,
    queens: Floats,
    first: Floats,
    growing: Floats,
    first_development: Floats | float,
    hours_c: Floats,
    humidity_percent: float,
    masses: Masses,
    prey_protein: Floats | float,
    prey_energy: Floats | float,
    constants: Constants,
) -> Needs:
    """Work out what colonies need.

    Workers, larvae, `older`, the most ants so far that were beyond the larval stage, and `growing`,
    the share of the larval stage passed on each day: shape (draws, days). Queens: (days,). Hours
    [°C]: (days, hours). The number of `first` workers of queens alone, the relative length of
    their larval stage `first_development`, and protein share and energy [J/mg] of what larvae are
    reared on: (draws, 1), as the constants.

    Larvae that die later have eaten until then, so that none is taken off.
    """
    hours, times = np.unique(hours_c, axis=1, return_counts=True)  # a plan has few of its own
    warm = sum(n * energetics.warmth(hours[:, h], constants) for h, n in enumerate(times))
    warm = warm / hours_c.shape[1]
    small = np.minimum(workers, first)
    run = sum(
        number * energetics.resting_power_uw(mass, energetics.REFERENCE_C, constants)
        for number, mass in _adults(workers, small, queens, masses)
    )
    adult_j = energetics.awake_energy_j(warm * run, constants)

    first_larvae = np.clip(first - older, 0.0, larvae)
    # live mass of the workers that today's growth adds up to
    built = masses.worker * energetics.new_workers_per_day(larvae - first_larvae, growing)
    built = built + masses.first_worker * energetics.new_workers_per_day(
        first_larvae, growing / first_development
    )
    protein = energetics.growth_protein_mg(built, constants)
    eaten = energetics.prey_mg(protein, prey_protein)
    growth_j = energetics.growth_energy_j(built, constants)

    dry = deficit_kpa(hours_c, humidity_percent).mean(axis=1)
    water = sum(
        number * energetics.water_loss_mg(mass, dry, constants)
        for number, mass in _adults(workers, small, queens, masses)
    )
    return Needs(
        adult_sugar_mg=energetics.sugar_mg(adult_j, constants),
        growth_sugar_mg=energetics.growth_sugar_mg(growth_j, eaten, prey_energy, constants),
        protein_mg=protein,
        water_mg=np.asarray(water),
    )


def needs_along(
    species: Species,
    laws: Laws,
    counts: Floats,
    queens: Floats,
    hours_c: Floats,
    forcing: ThermalForcing,
    diet: Diet,
) -> Needs:
    """Work out what colonies need on the days they grow through.

    Counts of eggs, larvae, pupae, workers at the start of each day, and at the end of the last:
    shape (draws, days + 1, 4). Queens: (days,); hours [°C]: (days, 24). The forcing goes up to the
    last of these days.

    Larvae grow where they have a place and while the season lasts; others wait, and cost little.
    """
    middle = (counts[:, :-1] + counts[:, 1:]) / 2.0
    places = laws.places(middle[..., WORKERS], forcing.care[-len(hours_c) :])
    return needs(
        workers=middle[..., WORKERS],
        larvae=np.minimum(middle[..., LARVA], places),
        older=np.maximum.accumulate(middle[..., PUPAE] + middle[..., WORKERS], axis=1),
        queens=queens,
        first=first_brood(species, laws) * forcing.care[0],
        growing=larval_progress(laws, forcing, forcing.days - len(hours_c)),
        first_development=laws.first_development[:, None],
        hours_c=hours_c,
        humidity_percent=diet.humidity_percent,
        masses=diet.masses,
        prey_protein=diet.prey_protein,
        prey_energy=diet.prey_energy,
        constants=diet.constants,
    )


def _adults(
    workers: Floats, small: Floats, queens: Floats, masses: Masses
) -> tuple[tuple[Floats, Floats], ...]:
    """Number and live mass of all who are grown."""
    return ((workers - small, masses.worker), (small, masses.first_worker), (queens, masses.queen))
