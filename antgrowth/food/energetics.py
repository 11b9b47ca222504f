"""What ants burn and what their brood is built from: the equations behind the food plan.

Numpy in, numpy out; every argument may be an array, and all of them broadcast. Constants come from
``datasets/food/constants.csv``, where each stands with its source and standing. They hold for awake
ants between `COOLEST_C` and `WARMEST_C`, and not for resting or starving ones: those live for
months on less than any constant rate would allow.
"""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import ArrayLike

from antgrowth._core.arrays import Floats
from antgrowth.food.constants import Constants, table

COOLEST_C, WARMEST_C = 10.0, 40.0
"""The resting rates' dependence on temperature was measured within these limits [°C]."""

RICHEST_PERCENT = 50.0
"""Densities are tabulated up to this share of sugar by weight [%]."""

REFERENCE_MG, REFERENCE_C = 5.0, 25.0
"""The ant and the temperature for which `Constants.resting_power` stands."""

JOULE_PER_MICROWATT_DAY = 0.0864
TORR_PER_KPA = 7.50062
HOURS = 24


def warmth(temperature_c: ArrayLike, constants: Constants) -> Floats:
    """Resting power at a temperature [°C] over that at 25 °C.

    Examples
    --------
    >>> float(warmth(35.0, Constants.usual()))
    2.0
    """
    return constants.rate_q10 ** ((np.asarray(temperature_c) - REFERENCE_C) / 10.0)


def resting_power_uw(mass_mg: ArrayLike, temperature_c: ArrayLike, constants: Constants) -> Floats:
    """Power of one resting ant.

    Parameters
    ----------
    mass_mg : float or array
        Live mass. [mg]
    temperature_c : float or array
        [°C]
    constants : Constants

    Returns
    -------
    float or array
        [µW]

    Notes
    -----
    ``P = P0 (m / 5)^b Q10^((T - 25) / 10)``. Rests on ants of 1.7 to 190 mg between 10 and 40 °C;
    smaller ants are an extrapolation.

    References
    ----------
    Vogt JT, Appel AG (1999) Standard metabolic rate of the fire ant, Solenopsis invicta Buren.
    Journal of Insect Physiology 45:655-666, doi:10.1016/S0022-1910(99)00036-0; Chown SL and others
    (2007) Scaling of insect metabolic rate is inconsistent with the nutrient supply network model.
    Functional Ecology 21:282-290, doi:10.1111/j.1365-2435.2007.01245.x; and the other sources in
    ``datasets/food/resting_rates.csv``.

    Examples
    --------
    >>> float(resting_power_uw(5.0, 25.0, Constants.usual()))
    12.0
    """
    size = (np.asarray(mass_mg) / REFERENCE_MG) ** constants.mass_exponent
    return constants.resting_power * size * warmth(temperature_c, constants)


def awake_energy_j(resting_uw: ArrayLike, constants: Constants) -> Floats:
    """Energy an awake ant needs in a day [J/day], from its resting power [µW]."""
    return JOULE_PER_MICROWATT_DAY * constants.awake_factor * np.asarray(resting_uw)


def sugar_mg(energy_j: ArrayLike, constants: Constants) -> Floats:
    """Sucrose [mg] that holds an energy [J].

    Examples
    --------
    >>> usual = Constants.usual()
    >>> day = awake_energy_j(resting_power_uw(5.0, 25.0, usual), usual)
    >>> round(1000 * float(sugar_mg(day, usual)), 1)  # µg a day for an awake ant of 5 mg
    113.2
    """
    return np.asarray(energy_j) / constants.sucrose_energy


def new_workers_per_day(
    larvae: ArrayLike, progress_per_day: ArrayLike, survival: ArrayLike = 1.0
) -> Floats:
    """Workers on their way [1/day].

    Parameters
    ----------
    larvae : float or array
    progress_per_day : float or array
        Share of the larval stage passed in a day: one over its length. [1/day]
    survival : float or array
        Share of larvae that become workers. At 1, all who grow are counted, whether they live on or
        not: what they eat until then has to be offered all the same.

    Examples
    --------
    >>> float(new_workers_per_day(50, 1 / 20))
    2.5
    """
    emerging: Floats = np.asarray(larvae) * np.asarray(progress_per_day) * np.asarray(survival)
    return emerging


def body_energy_j(mass_mg: ArrayLike, constants: Constants) -> Floats:
    """Energy that the body of a worker of a live mass [mg] holds [J]."""
    return constants.tissue_energy * constants.dry_share * np.asarray(mass_mg)


def growth_protein_mg(mass_mg: ArrayLike, constants: Constants) -> Floats:
    """Protein eaten by a larva that becomes a worker.

    Parameters
    ----------
    mass_mg : float or array
        Live mass of the worker. [mg]
    constants : Constants

    Returns
    -------
    float or array
        [mg]

    Notes
    -----
    The worker's protein over the share of eaten protein that a larva keeps. That share is known of
    leaf-eating caterpillars and sawflies only.

    References
    ----------
    Schroeder LA, Malmer M (1980) Dry matter, energy and nitrogen conversion by Lepidoptera and
    Hymenoptera larvae fed leaves of black cherry. Oecologia 45:63-71 (authors from memory).

    Examples
    --------
    >>> round(float(growth_protein_mg(5.0, Constants.usual())), 2)
    2.16
    """
    held = constants.dry_share * constants.protein_share * np.asarray(mass_mg)
    return held / constants.protein_efficiency


def growth_energy_j(mass_mg: ArrayLike, constants: Constants) -> Floats:
    """Energy a larva takes up to become a worker of a live mass [mg], its pupal rest included [J].

    Notes
    -----
    Body energy before the loss of metamorphosis, over the share of the energy absorbed that a larva
    keeps. An upper value: whole colonies were measured to need less.

    References
    ----------
    Peakin GJ, Nielsen MG, Skyberg N (1989) Respiration during the metamorphosis of sexuals in
    Lasius flavus. Physiological Entomology, doi:10.1111/j.1365-3032.1989.tb00953.x

    Examples
    --------
    >>> round(float(growth_energy_j(1.0, Constants.usual())), 1)
    27.0
    """
    at_its_heaviest = body_energy_j(mass_mg, constants) / (1.0 - constants.pupal_loss)
    return at_its_heaviest / constants.energy_efficiency


def prey_mg(protein_mg: ArrayLike, protein_share: ArrayLike) -> Floats:
    """Fresh prey [mg] that holds so much protein [mg]."""
    fresh_mg: Floats = np.asarray(protein_mg) / np.asarray(protein_share)
    return fresh_mg


def growth_sugar_mg(
    growth_j: ArrayLike, prey: ArrayLike, prey_energy: ArrayLike, constants: Constants
) -> Floats:
    """Sugar that growth needs beyond what its prey brings [mg].

    Parameters
    ----------
    growth_j : float or array
        Energy of growth. [J]
    prey : float or array
        Fresh prey eaten. [mg]
    prey_energy : float or array
        Usable energy of the prey. [J/mg]
    constants : Constants
    """
    left = np.asarray(growth_j) - np.asarray(prey_energy) * np.asarray(prey)
    return sugar_mg(np.maximum(left, 0.0), constants)


def solution_density(percent: ArrayLike) -> Floats:
    """Density of sugar water at 20 °C [mg/µL], from sugar by weight [%], 0 to `RICHEST_PERCENT`.

    Notes
    -----
    A cubic through the tabulated values of the CRC Handbook, which it meets within 0.0001.

    Examples
    --------
    >>> round(float(solution_density(20.0)), 3)
    1.081
    """
    return np.polyval(_density_cubic(), np.asarray(percent, dtype=float))


@functools.cache
def _density_cubic() -> Floats:
    rows = table("sugar_water")
    percent, density = (
        np.array([float(row[column]) for row in rows])
        for column in ("percent_w_w", "density_mg_per_ul")
    )
    return np.polyfit(percent, density, 3)


def solution_ul(sugar: ArrayLike, percent: ArrayLike) -> Floats:
    """Volume of sugar water [µL] that holds so much sugar [mg].

    Parameters
    ----------
    sugar : float or array
        [mg]
    percent : float or array
        Sugar by weight, above 0 and up to `RICHEST_PERCENT`. [%]
    """
    return np.asarray(sugar) / (np.asarray(percent) / 100.0 * solution_density(percent))


def honey_ul(sugar: ArrayLike, constants: Constants) -> Floats:
    """Volume of honey [µL] that holds so much sugar [mg].

    Examples
    --------
    >>> round(float(honey_ul(58.3, Constants.usual())))
    50
    """
    return np.asarray(sugar) / (constants.honey_sugars * constants.honey_density)


def water_loss_mg(mass_mg: ArrayLike, deficit_kpa: ArrayLike, constants: Constants) -> Floats:
    """Water one ant loses through its skin in a day.

    Parameters
    ----------
    mass_mg : float or array
        Live mass. [mg]
    deficit_kpa : float or array
        Vapour pressure deficit, see `antgrowth.climate.humidity.deficit_kpa`. [kPa]
    constants : Constants

    Returns
    -------
    float or array
        [mg/day]

    Notes
    -----
    ``C k (m / 1000)^(2/3) VPD``, with C and k of desert ants: others lose more.
    """
    area = constants.skin_area * (np.asarray(mass_mg) / 1000.0) ** (2.0 / 3.0)
    torr = TORR_PER_KPA * np.asarray(deficit_kpa)
    return constants.permeability * area * torr * HOURS / 1000.0


def first_workers_covered(
    queen_mg: ArrayLike, worker_mg: ArrayLike, constants: Constants
) -> Floats:
    """First workers that the reserve of a queen who eats nothing is enough for.

    Parameters
    ----------
    queen_mg, worker_mg : float or array
        Live mass of the newly mated queen, and of one first worker. [mg]
    constants : Constants

    Notes
    -----
    Counts lean mass, of which a queen has less to give than of fat: what she gives up, less a small
    loss, over the lean mass of a worker.

    References
    ----------
    Keller L, Passera L (1989) Size and fat content of gynes in relation to the mode of colony
    founding in ants. Oecologia 80:236-240; Tschinkel WR (1993) Resource allocation, brood
    production and cannibalism during colony founding in the fire ant. Behavioral Ecology and
    Sociobiology 33:209-223.
    """
    lean = np.asarray(queen_mg) * constants.queen_dry_share * (1.0 - constants.queen_fat_share)
    given = lean * constants.queen_lean_spent * constants.queen_to_brood
    return given / (np.asarray(worker_mg) * constants.dry_share * (1.0 - constants.fat_share))
