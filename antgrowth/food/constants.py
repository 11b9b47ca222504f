"""The constants of the food equations, read from ``datasets/food``, and draws from their ranges."""

from __future__ import annotations

import csv
import functools
from dataclasses import dataclass
from importlib.resources import files

import numpy as np
from scipy import special

from antgrowth._core.arrays import Floats
from antgrowth._core.stats import REACH_90


@dataclass(frozen=True, eq=False)
class Constants:
    """The constants of the equations: single values, or one value a draw."""

    resting_power: float | Floats  # power of a resting ant of 5 mg at 25 °C [µW]
    mass_exponent: float | Floats  # how resting power rises with mass
    rate_q10: float | Floats  # factor of resting power over 10 °C
    awake_factor: float | Floats  # mean power of an awake colony's ants over that of resting ants
    sucrose_energy: float | Floats  # heat of combustion [J/mg]
    # dry_share, protein_share, fat_share: dry mass of a worker over its live mass; protein and
    # fat over its dry mass.
    dry_share: float | Floats
    protein_share: float | Floats
    fat_share: float | Floats
    # protein_efficiency, energy_efficiency: protein kept by a larva over protein eaten; energy
    # kept over energy absorbed.
    protein_efficiency: float | Floats
    energy_efficiency: float | Floats
    pupal_loss: float | Floats  # dry mass lost in metamorphosis
    tissue_energy: float | Floats  # of dry insect tissue [J/mg]
    permeability: float | Floats  # water lost through the skin [µg/(h cm² Torr)]
    skin_area: float | Floats  # body surface over mass to the power 2/3 [cm²/g^(2/3)]
    queen_to_worker_mass: float | Floats  # for species whose queen was not weighed
    # queen_dry_share, queen_fat_share, queen_lean_spent, queen_to_brood: of a founding queen:
    # dry over live mass; fat over dry mass; share of the lean mass she gives up while founding;
    # share of that which becomes first workers.
    queen_dry_share: float | Floats
    queen_fat_share: float | Floats
    queen_lean_spent: float | Floats
    queen_to_brood: float | Floats
    honey_sugars: float | Floats  # sugars of honey by weight
    honey_density: float | Floats  # [mg/µL]

    @classmethod
    def usual(cls) -> Constants:
        """Every constant at its middle value."""
        return cls(**{row["name"]: float(row["value"]) for row in table("constants")})

    @classmethod
    def draw(cls, shape: int | tuple[int, ...], rng: np.random.Generator) -> Constants:
        """Draw the constants from their ranges, arrays of a shape; those without a range stay."""
        return cls(**{row["name"]: between(row, shape, rng) for row in table("constants")})


@functools.cache
def table(name: str) -> tuple[dict[str, str], ...]:
    """Rows of a table of ``datasets/food``, as texts."""
    path = files("antgrowth.datasets") / "food" / f"{name}.csv"
    return tuple(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


def between(
    row: dict[str, str], shape: int | tuple[int, ...], rng: np.random.Generator
) -> float | Floats:
    """Draw a number of a table from its range.

    The middle value is the median, `low` and `high` are the 5 % and 95 % points; in between and
    beyond, the number is normal on either side, on the scale of the logarithm, of shares the logit.
    """
    value = float(row["value"])
    if not row["low"]:
        return value
    low, high = float(row["low"]), float(row["high"])
    to, back = (special.logit, special.expit) if row["unit"] == "share" else (np.log, np.exp)
    chance = rng.standard_normal(shape)
    below, above = to(value) - to(low), to(high) - to(value)
    drawn: float | Floats = back(to(value) + chance / REACH_90 * np.where(chance < 0, below, above))
    return drawn
