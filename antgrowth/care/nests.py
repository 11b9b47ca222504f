"""Nests as a keeper states them, and how many workers they may hold."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from antgrowth._core.arrays import Floats
from antgrowth._core.text import told
from antgrowth._core.validation import FLAG, MOST_ANTS, Table, Value, is_number, is_text, unchecked
from antgrowth.errors import AntgrowthError

SIZES = ("workers", "area_cm2", "volume_cm3")
PER_WORKER = {"area_cm2": "area_per_worker_cm2", "volume_cm3": "volume_per_worker_cm3"}
POWERS = {"area_cm2": 2.0 / 3.0, "volume_cm3": 1.0}
"""Powers of body mass by which room is taken to grow (assumed: bodies of one shape)."""

UNITS = {"area_cm2": "cm²", "volume_cm3": "cm³"}

_NAME = Value('a text in quotes, such as name = "tube"', is_text)
_SIZE = Value(
    f"a number above 0, up to {MOST_ANTS:,}",
    lambda found: is_number(found) and 0 < found <= MOST_ANTS,
)
_NEST = Table(
    {"name": unchecked} | dict.fromkeys((*SIZES, *PER_WORKER.values()), _SIZE) | {"joined": FLAG}
)


@dataclass(frozen=True)
class Nest:
    """A nest and its room.

    Attributes
    ----------
    name : str
    size : float
        In the unit of `measure`. [worker, cm² or cm³]
    measure : str
        "workers", "area_cm2" or "volume_cm3".
    low, high : float
        Workers it holds: equal if the keeper said how many, or how much room one needs; else the
        range that published figures of other ants leave. [worker]
    basis : str
        Where that comes from.
    joined : bool
        It is used together with the nests before it, and not instead of them.
    """

    name: str
    size: float
    measure: str
    low: float
    high: float
    basis: str
    joined: bool = False

    @property
    def known(self) -> bool:
        """Whether the keeper said what it holds."""
        return self.low == self.high

    def room(self) -> str:
        """Its size in words."""
        if self.measure == "workers":
            return f"{self.size:,.0f} workers"
        return f"{self.size:,g} {UNITS[self.measure]}"

    def draw(self, number: int, rng: np.random.Generator) -> Floats:
        """Capacities to reckon with, evenly over the orders of magnitude of a range. [worker]"""
        return np.exp(rng.uniform(np.log(self.low), np.log(self.high), number))


def published_space(measure: str, mass_mg: float | None = None) -> tuple[float, float, str]:
    """Room that a worker takes up, from published figures of a few other ants.

    For "area_cm2" or "volume_cm3": low and high [cm²/worker or cm³/worker], and the ants and
    sources. With a worker's live mass [mg], figures of other ants are scaled to it, floor as the
    surface of a body and volume as its mass (assumed).
    """
    rows = [row for row in _table() if f"{row['measure']}_cm" in measure]
    ants = "; ".join(f"{row['taxon']} ({row['source']}, {row['status']})" for row in rows)
    power = POWERS[measure]
    scales = [
        1.0 if mass_mg is None else (mass_mg / float(row["mass_mg"])) ** power for row in rows
    ]
    low = min(float(row["low"]) * scale for row, scale in zip(rows, scales, strict=True))
    high = max(float(row["high"]) * scale for row, scale in zip(rows, scales, strict=True))
    scaled = "" if mass_mg is None else f", scaled to workers of {mass_mg:g} mg (assumed)"
    return low, high, f"published range of other ants{scaled}: {ants}"


def nests_from(
    given: Sequence[Nest | Mapping[str, Any]], mass_mg: float | None = None
) -> tuple[Nest, ...]:
    """Take nests from tables; the mass of a worker [mg] tells how much room one takes."""
    tables = [item for item in given if not isinstance(item, Nest)]
    if faults := list(nest_faults(tables)):
        raise AntgrowthError("\n".join(faults))
    return tuple(item if isinstance(item, Nest) else _nest(item, mass_mg) for item in given)


def nest_faults(found: Any, where: str = "nests") -> Iterator[str]:
    """Tell everything that is wrong with the nests of a file."""
    if not (isinstance(found, list) and all(isinstance(entry, Mapping) for entry in found)):
        yield f"{where} = {told(found)}. Write a line [[{where}]] before the keys of each nest."
        return
    for number, entry in enumerate(found, start=1):
        name = entry.get("name")
        here = f"{where} {name}" if isinstance(name, str) else f"{where}, table {number}"
        yield from _NAME(name, f"{here}: name")
        yield from _NEST(entry, here)
        sizes = [key for key in SIZES if key in entry]
        if len(sizes) != 1:
            yield (
                f"{here}: {' and '.join(sizes) or 'no size'}. Allowed: one of {', '.join(SIZES)}. "
                "Say how many workers it holds, or how large it is."
            )
        for size, share in PER_WORKER.items():
            if share in entry and size not in entry:
                yield f"{here}.{share}: it goes with {size}. Add that, or remove it."


def _nest(table: Mapping[str, Any], mass_mg: float | None) -> Nest:
    measure = next(key for key in SIZES if key in table)
    size, joined = float(table[measure]), table.get("joined", False)
    if measure == "workers":
        return Nest(table["name"], size, measure, size, size, "set by the keeper", joined)
    if (share := table.get(PER_WORKER[measure])) is not None:
        held = size / float(share)
        basis = f"set by the keeper: {share:g} {UNITS[measure]} a worker"
        return Nest(table["name"], size, measure, held, held, basis, joined)
    least, most, basis = published_space(measure, mass_mg)
    return Nest(table["name"], size, measure, size / most, size / least, basis, joined)


@cache
def _table() -> tuple[dict[str, str], ...]:
    path = files("antgrowth.datasets") / "care" / "nest_space.csv"
    return tuple(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))
