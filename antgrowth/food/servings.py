"""Food as a keeper measures it out: kinds of prey by the piece, sugar water by weight."""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from antgrowth._core.arrays import Floats
from antgrowth._core.summary import rounded, short
from antgrowth._core.text import near_miss, told
from antgrowth._core.validation import as_number
from antgrowth.errors import AntgrowthError
from antgrowth.food.constants import Constants, between, table
from antgrowth.food.energetics import (
    RICHEST_PERCENT,
    honey_ul,
    prey_mg,
    solution_density,
    solution_ul,
)
from antgrowth.species.profile import Species

Shape = int | tuple[int, ...]

USUAL_PREY = ("house cricket", "mealworm", "fruit fly")
"""Kinds that a plan lists unless told otherwise; the first one is what it reckons with."""

DROP_UL = 50.0
"""Volume of a usual drop: twenty to the millilitre (common practice). [µL]"""

LEAST = 0.01
"""Amounts below this are told as that, in mg, µL or g; tables of numbers have them in full."""

PARTS = (2, 3, 4, 5, 10)
"""Parts into which a hand can cut a piece of prey."""

MIXING = (
    "Mix by weight: for 100 g of 20 % sugar water 20 g of sugar and 80 g of water. One part of "
    "sugar to four of water by volume is not 20 %: a spoon of loose sugar weighs less than a spoon "
    "of water."
)


@dataclass(frozen=True)
class Prey:
    """A kind of prey."""

    kind: str
    # What is known of its "protein", "energy" and "piece", as in ``datasets/food/prey.csv``.
    rows: Mapping[str, dict[str, str]]
    weighed_mg: float | None = None  # mass of one piece as the keeper weighed it [mg]

    @property
    def has_piece(self) -> bool:
        """Whether the mass of one piece is known."""
        return self.weighed_mg is not None or self.rows["piece"]["value"] != ""

    @property
    def remedy(self) -> str:
        """What to do if the mass of a piece is not known."""
        return f"weigh 20 together, divide, and give piece_mg={{{self.kind!r}: ...}} [mg]"

    def protein_share(self, shape: Shape, rng: np.random.Generator) -> float | Floats:
        """Protein over fresh mass, drawn from its range."""
        return between(self.rows["protein"], shape, rng)

    def energy_j_per_mg(self, shape: Shape, rng: np.random.Generator) -> float | Floats:
        """Usable energy, drawn from its range [J/mg]."""
        return between(self.rows["energy"], shape, rng)

    def piece_mg(self, shape: Shape, rng: np.random.Generator) -> float | Floats:
        """Mass of one piece, drawn from its range; needs `has_piece` [mg]."""
        if self.weighed_mg is not None:
            return self.weighed_mg
        return between(self.rows["piece"], shape, rng)


@functools.cache
def _shelf() -> dict[str, Prey]:
    """All kinds of prey, in the order of the table."""
    kinds: dict[str, dict[str, dict[str, str]]] = {}
    for row in table("prey"):
        kinds.setdefault(row["kind"], {})[row["quantity"]] = row
    return {kind: Prey(kind, rows) for kind, rows in kinds.items()}


def prey_kinds() -> pd.DataFrame:
    """List the kinds of prey a food plan knows, with what each number rests on.

    Returns
    -------
    DataFrame
        Columns kind, quantity (protein as a share of the fresh animal, energy, piece), value, low,
        high (central 90 % range), unit, source, status, note. A missing piece has to be weighed.
    """
    frame = pd.DataFrame(table("prey"))
    numbers = ["value", "low", "high"]
    frame[numbers] = frame[numbers].apply(pd.to_numeric)
    return frame


def choose_prey(
    kinds: str | Sequence[str], piece_mg: Mapping[str, float] | None = None
) -> tuple[Prey, ...]:
    """Look up kinds of prey by name; a piece may have a mass as the keeper weighed it. [mg]

    An `AntgrowthError` tells every kind that is unknown, and every mass that is not above 0.
    """
    names: list[Any] = list(kinds) if isinstance(kinds, list | tuple) else [kinds]
    weighed: Any = {} if piece_mg is None else piece_mg
    shelf = _shelf()
    if not all(isinstance(name, str) for name in names):
        raise AntgrowthError(f"prey = {told(kinds)}. Give some of: {', '.join(shelf)}.")
    if not isinstance(weighed, Mapping):
        raise AntgrowthError(f"piece_mg = {told(piece_mg)}. Give masses by kind of prey. [mg]")
    faults = [] if names else [f"prey is empty. Name at least one of: {', '.join(shelf)}."]
    faults += [
        f"prey = {told(name)} is not known.{near_miss(name, shelf)} Allowed: {', '.join(shelf)}."
        for name in names
        if name not in shelf
    ]
    faults += [f"prey names {told(name)} twice." for name in shelf if names.count(name) > 1]
    for name, mass in weighed.items():
        if not (isinstance(name, str) and name in names):
            faults.append(
                f"piece_mg names {told(name)}, which is not among the prey of the plan "
                f"({', '.join(map(str, names))}). Add it to prey, or leave it out."
            )
        elif not 0 < as_number(mass) < np.inf:
            faults.append(
                f"piece_mg[{told(name)}] = {told(mass)}. Give the mass of a piece above 0 mg."
            )
    if faults:
        raise AntgrowthError("\n".join(faults))
    return tuple(
        Prey(name, shelf[name].rows, float(weighed[name]) if name in weighed else None)
        for name in names
    )


def usual_prey(species: Species) -> tuple[str, ...]:
    """Kinds that a species is offered where nobody says: for a seed-eater, seeds first."""
    return ("seeds", *USUAL_PREY) if species.eats_seeds else USUAL_PREY


def measured(median: float, low: float, high: float) -> tuple[str, str, str]:
    """Write an amount and its range as a person would: nobody weighs a millionth of a milligram.

    Examples
    --------
    >>> measured(3.21, 1.2, 6.9), measured(2e-8, 0.0, 3e-5), measured(0.012, 3e-5, 44.95)
    (('3.2', '1.2', '6.9'), ('under 0.01', 'under 0.01', 'under 0.01'), ('0.01', '0', '45'))
    """
    least = f"under {LEAST:g}"
    if high < LEAST:
        return (least if high else "0",) * 3
    if median >= 10 * LEAST and low >= LEAST / 10:
        return rounded(median, low, high)
    middle, top = (short(round(value, 2)) for value in (median, high))
    return least if 0.0 < median < LEAST else middle, short(round(low, 2)), top


def by_hand(pieces: float, kind: str) -> str:
    """A number of pieces as a hand can give it.

    Examples
    --------
    >>> by_hand(5.2, "fruit fly"), by_hand(0.24, "mealworm"), by_hand(0.01, "house cricket")
    ('5 × fruit fly', '1/4 of a mealworm', 'a crumb of house cricket')
    """
    if pieces >= 0.75:
        return f"{short(round(pieces))} × {kind}"
    if pieces < 0.75 / PARTS[-1]:
        return f"a crumb of {kind}"
    part = min(PARTS, key=lambda n: abs(np.log(pieces * n)))
    return f"1/{part} of a {kind}"


def as_percent(percent: object) -> float:
    """Take an argument as the strength of sugar water, by weight [%]."""
    value = as_number(percent)
    if not 0 < value <= RICHEST_PERCENT:
        raise AntgrowthError(
            f"percent = {told(percent)}. Give the sugar of the sugar water by weight, "
            "above 0 and up "
            f"to {RICHEST_PERCENT:.0f} %, such as percent=20."
        )
    return value


def mixing_table(total_g: float = 100.0) -> pd.DataFrame:
    """How to mix sugar water by weight.

    Parameters
    ----------
    total_g : float
        How much to mix. [g]

    Returns
    -------
    DataFrame
        Columns percent (sugar by weight), sugar_g, water_g, volume_ml and sugar_mg_per_ul (both at
        20 °C).

    Notes
    -----
    Parts by volume are another thing: loose sugar is about as light as its grains are coarse.

    Examples
    --------
    >>> table = mixing_table(50.0).set_index("percent")
    >>> float(table.loc[20, "sugar_g"]), round(float(table.loc[20, "sugar_mg_per_ul"]), 4)
    (10.0, 0.2162)
    """
    total = as_number(total_g)
    if not 0 < total < np.inf:
        raise AntgrowthError(f"mixing_table: total_g = {told(total_g)}. Give a weight above 0 g.")
    percent = np.arange(5, int(RICHEST_PERCENT) + 1, 5)
    density = solution_density(percent)
    return pd.DataFrame(
        {
            "percent": percent,
            "sugar_g": total * percent / 100.0,
            "water_g": total * (1.0 - percent / 100.0),
            "volume_ml": total / density,
            "sugar_mg_per_ul": percent / 100.0 * density,
        }
    )


@dataclass(frozen=True, eq=False, repr=False)
class Serving:
    """A food in the form and unit a keeper measures it in."""

    need: str  # what it serves: "sugar", "protein" or "water"
    item: str
    unit: str
    # Units for each milligram of the need; NaN if nobody can tell, shape (draws, 1)
    per_mg: float | Floats
    note: str = ""


def servings(
    percent: float,
    kinds: tuple[Prey, ...],
    shares: list[float | Floats],
    drop_ul: float | None,
    constants: Constants,
    rng: np.random.Generator,
) -> Iterator[Serving]:
    """Ways to measure out what a colony needs.

    Sugar of the sugar water by weight [%], the kinds of prey with the protein `shares` of each and
    the constants of shape (draws, 1), and the volume of a drop [µL], if that is known.
    """
    water = f"{percent:g} % sugar water"
    ul = float(solution_ul(1.0, percent))
    yield Serving("sugar", "sugar", "mg", 1.0)
    yield Serving("sugar", water, "µL", ul)
    if drop_ul is not None:
        yield Serving("sugar", water, f"drop of {drop_ul:g} µL", ul / drop_ul)
    yield Serving("sugar", "honey", "mg", 1.0 / constants.honey_sugars)
    yield Serving("sugar", "honey", "µL", honey_ul(1.0, constants))
    yield Serving("protein", "protein", "mg", 1.0)
    for kind, share in zip(kinds, shares, strict=True):
        fresh = prey_mg(1.0, share)
        yield Serving("protein", kind.kind, "mg", fresh)
        if kind.has_piece:
            shape = np.shape(fresh)
            yield Serving("protein", kind.kind, "piece", fresh / kind.piece_mg(shape, rng))
        else:
            yield Serving(
                "protein", kind.kind, "piece", np.nan, f"mass of a piece not known: {kind.remedy}"
            )
    yield Serving(
        "water", "water", "mg", 1.0, "lost through the skin; sugar water and prey bring much of it"
    )
