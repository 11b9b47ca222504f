"""What a saved fit must look like, whole, before anything is built from it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from typing import Any

import numpy as np
from scipy import linalg

from antgrowth._core.text import told
from antgrowth._core.validation import (
    FLAG,
    HIGHEST_C,
    LOWEST_C,
    TEXT,
    WORDS,
    Check,
    Table,
    Value,
    is_number,
    one_of,
    whole,
)
from antgrowth.model.growth_law import DRIFTS

LARGEST_WHITENED = 30.0
"""No parameter and no draw lies so many prior standard deviations away."""

MOST_DRAWS, MOST_DAYS = 100_000, 60_000
"""More draws or days of temperature are no fit's."""

LARGEST = 1e15
"""No number of a fit is larger."""

ROUNDING = 1e-6
"""By which sums, symmetry and variances may miss. [relative]"""


def numbers(low: float, high: float, *, null: bool = False, size: int | None = None) -> Check:
    """Check a list of numbers within bounds; with null, some may be missing."""

    def check(found: Any, where: str) -> Iterator[str]:
        if not isinstance(found, list) or (size is not None and len(found) != size):
            yield f"{where} is no list of {'numbers' if size is None else f'{size} numbers'}."
            return
        for place, item in enumerate(found):
            if not (is_number(item, low, high) or (null and item is None)):
                yield f"{where}.{place} = {told(item)}. Allowed: {low:g} to {high:g}."

    return check


def matrix(low: float, high: float) -> Check:
    """Check a list of lists of numbers, all of one length."""
    row = numbers(low, high)

    def check(found: Any, where: str) -> Iterator[str]:
        if not isinstance(found, list) or not all(isinstance(line, list) for line in found):
            yield f"{where} is no list of lists of numbers."
        elif len({len(line) for line in found}) > 1:
            yield f"{where} has rows of different length."
        else:
            for place, line in enumerate(found):
                yield from row(line, f"{where}.{place}")

    return check


def covariance(definite: bool) -> Check:
    """Check that a matrix is square, symmetric and has no variance below zero, or none of zero."""

    def check(found: Any, where: str) -> Iterator[str]:
        if faults := list(matrix(-LARGEST, LARGEST)(found, where)):
            yield from faults
            return
        if not found or len(found) != len(found[0]):
            yield f"{where} is not square."
            return
        values = np.array(found, float)
        size = np.abs(values).max()
        least = linalg.eigvalsh((values + values.T) / 2)[0]
        if not np.allclose(values, values.T, rtol=0, atol=ROUNDING * size):
            yield f"{where} is not symmetric, as a covariance is."
        elif definite and least <= 0:
            yield f"{where} is not positive definite."
        elif least < -ROUNDING * size:
            yield f"{where} has a variance below zero."

    return check


def columns(found: Any, where: str) -> Iterator[str]:
    """Check a table of texts, column by column."""
    sound = isinstance(found, dict) and all(
        isinstance(column, list) and all(isinstance(cell, str) for cell in column)
        for column in found.values()
    )
    if not sound or len({len(column) for column in found.values()}) > 1:
        yield f"{where} is no table of texts with columns of one length."


def items(check: Check, most: int) -> Check:
    """Check a list of at least one and at most so many things, each alike."""

    def checks(found: Any, where: str) -> Iterator[str]:
        if not isinstance(found, list) or not 0 < len(found) <= most:
            yield f"{where} is no list of 1 to {most:,} items."
            return
        for place, item in enumerate(found):
            yield from check(item, f"{where}.{place}")

    return checks


def or_null(check: Check) -> Check:
    """Check what may be missing."""
    return lambda found, where: () if found is None else check(found, where)


def _is_day(found: Any) -> bool:
    if not isinstance(found, str) or not re.fullmatch(r"(19|20|21)\d\d-\d\d-\d\d", found):
        return False
    try:
        date.fromisoformat(found)
    except ValueError:
        return False
    return True


def _number(low: float, high: float) -> Value:
    return Value(f"a number from {low:g} to {high:g}", lambda found: is_number(found, low, high))


def _days(found: Any, where: str) -> Iterator[str]:
    """Check temperatures: number of equal days, whether they are of a rest, and 24 hours."""
    if not (isinstance(found, list) and len(found) == 3):
        yield f"{where} is not number, rest and hours of days."
        return
    yield from whole(1, MOST_DAYS)(found[0], f"{where}.0")
    yield from FLAG(found[1], f"{where}.1")
    yield from numbers(LOWEST_C, HIGHEST_C, null=True, size=24)(found[2], f"{where}.2")


def _table(keys: dict[str, Check], *may: str) -> Table:
    """A table that has all of some keys; those named may be missing."""
    return Table(keys, needed={key: "..." for key in keys if key not in may})


DAY = Value('a date, such as "2026-07-04"', _is_day)
COUNT = whole(0, 10**9)
SHARE = _number(0.0, 1.0)

COMPONENT = _table(
    {
        "probability": SHARE,
        "loss": or_null(_table({"day": COUNT, "share": SHARE, "probability": SHARE})),
        "x": numbers(-LARGEST_WHITENED, LARGEST_WHITENED),
        "cov": covariance(definite=True),
        "scatter": covariance(definite=False),
        "site_value": numbers(-LARGEST, LARGEST),
        "site_precision": numbers(0.0, LARGEST, null=True),
        "error_scale": _number(1e-6, 1e6),
        "error_spread": _number(0.0, 1e6),
        "strain": _number(0.0, LARGEST),
        "log_density": _number(-LARGEST, LARGEST),
        "rounds": COUNT,
        "converged": FLAG,
        "course": or_null(
            _table(
                {
                    "fresh": matrix(-LARGEST_WHITENED, LARGEST_WHITENED),
                    "settled": matrix(-LARGEST_WHITENED, LARGEST_WHITENED),
                    "made": numbers(-LARGEST, LARGEST),
                }
            )
        ),
    },
    "course",
)

SAVED = _table(
    {
        "format": TEXT,
        "version": COUNT,
        "antgrowth": TEXT,
        "name": WORDS,
        "counts": columns,
        "species": _table(
            {"name": TEXT, "profile": Value("a table", lambda found: isinstance(found, dict))}
        ),
        "setting": _table(
            {
                "day_zero": DAY,
                "founded": FLAG,
                "queens": whole(1, 10**6),
                "hemisphere": or_null(one_of("north", "south")),
                "changes": or_null(columns),
            },
            "hemisphere",
        ),
        "temperature": _table(
            {"first_day": DAY, "words": WORDS, "endless": FLAG, "days": items(_days, MOST_DAYS)},
            "endless",
        ),
        "beliefs": items(COMPONENT, most=2),
        "draws": items(numbers(-LARGEST_WHITENED, LARGEST_WHITENED), MOST_DRAWS),
        "drift": numbers(0.0, 3.0, size=3),
        "seed": whole(0),
        "checksum": TEXT,
    },
    "drift",
    "checksum",
)
"""The second form. Of a file of an earlier version, checksum and drift may be missing."""

PARTS = tuple(SAVED.needed)
"""What a file of this form must hold."""


def schema_faults(content: dict[str, Any]) -> Iterator[str]:
    """Tell what is wrong with a saved fit by itself."""
    faults = list(SAVED(content, ""))
    yield from faults
    if faults:
        return
    components = content["beliefs"]
    total = sum(component["probability"] for component in components)
    if abs(total - 1.0) > ROUNDING:
        yield f"beliefs: their probabilities add up to {total:g}, and not to 1."
    if not any(component["loss"] is None for component in components) or (
        len(components) == 2 and all(component["loss"] is None for component in components)
    ):
        yield "beliefs: one is of a log without a loss, and any other of one with a loss."
    kept = content["temperature"]
    if kept["first_day"] != content["setting"]["day_zero"]:
        yield f"temperature.first_day = {kept['first_day']} is not setting.day_zero."
    if sum(number for number, *_ in kept["days"]) > MOST_DAYS:
        yield f"temperature.days: more than {MOST_DAYS:,} in all."


def model_faults(content: dict[str, Any], parameters: int, cells: int, days: int) -> Iterator[str]:
    """Tell what of a saved fit, sound by itself, does not go with its notes and its species.

    They have so many parameters, cells, and days from the first to the end of the notes.
    """
    sizes = {"x": parameters, "cov": parameters}
    sizes |= dict.fromkeys(("scatter", "site_value", "site_precision"), cells)
    for place, component in enumerate(content["beliefs"]):
        for name, size in sizes.items():
            if len(component[name]) != size:
                yield f"beliefs.{place}.{name} is of {len(component[name])} and not of {size}."
        yield from _course_faults(component.get("course"), f"beliefs.{place}.course", cells, days)
        loss = component["loss"]
        if loss is not None and not 0 <= loss["day"] < days:
            yield f"beliefs.{place}.loss.day = {loss['day']} is not within the notes."
    for place, draw in enumerate(content["draws"]):
        if len(draw) != parameters:
            yield f"draws.{place} has {len(draw)} numbers and not {parameters}."


def _course_faults(
    course: dict[str, Any] | None, where: str, cells: int, days: int
) -> Iterator[str]:
    if course is None:
        return
    shapes = {
        "fresh": (days + 1, len(DRIFTS)),
        "settled": (days + 1, len(DRIFTS)),
        "made": (cells,),
    }
    for name, shape in shapes.items():
        found = np.shape(course[name])
        if found != shape:
            yield f"{where}.{name} is of {found} and not of {shape}."
