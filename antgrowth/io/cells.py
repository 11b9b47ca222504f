"""The grammar of one cell of a count log: what may be written, and what it says of the number."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import NamedTuple

from antgrowth._core.validation import MOST_ANTS

KINDS = ("exact", "rough", "between", "at least", "below", "first")
"""What a cell can be, from the most to the least it tells."""


class Cell(NamedTuple):
    """What one cell says: the number lies in [low, high], both ends included."""

    low: float
    high: float
    kind: str


class CellFault(Exception):
    """A cell that says nothing a count log can hold; the message is the remedy."""


_NUMBER = r"([0-9]+(?:[.,][0-9]+)?)"

# Numbers arrive as floats, already known to be whole and not negative.
_FORMS: tuple[tuple[re.Pattern[str], Callable[..., Cell]], ...] = tuple(
    (re.compile(pattern), meaning)
    for pattern, meaning in (
        (_NUMBER, lambda n: Cell(n, n, "exact")),
        (rf"~\s*{_NUMBER}", lambda n: Cell(n, n, "rough")),
        (rf"{_NUMBER}\s*[-–]\s*{_NUMBER}", lambda low, high: Cell(low, high, "between")),
        (rf"{_NUMBER}\s*\+", lambda n: Cell(n, math.inf, "at least")),
        (rf"(?:>=|≥)\s*{_NUMBER}", lambda n: Cell(n, math.inf, "at least")),
        (rf">\s*{_NUMBER}", lambda n: Cell(n + 1, math.inf, "at least")),
        (rf"(?:<=|≤)\s*{_NUMBER}", lambda n: Cell(0.0, n, "below")),
        (rf"<\s*{_NUMBER}", lambda n: Cell(0.0, n - 1, "below")),
        ("(?i:first)", lambda: Cell(1.0, math.inf, "first")),
    )
)

_ANY_NUMBER = re.compile(r"[-+−]?\s*[0-9]*[.,]?[0-9]+")
_WHOLE_NUMBERS = "Counts are whole numbers >= 0; leave the cell empty if you did not count."
_ALL_FORMS = (
    "Write 12, ~12 (rough), 10-15, 30+ or >=30, <5 or first; "
    "leave the cell empty if you did not count."
)

# What spreadsheets make of "10-15": 2026-10-15, 15-Oct, 15. Okt, Oct 15.
_MONTH = r"(?:jan|feb|mar|mär|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[a-zä]*\.?"
_DATE_LIKE = re.compile(
    rf"[0-9]{{4}}-[0-9]{{2}}-[0-9]{{2}}.*|[0-9]+[-. ]+{_MONTH}.*|{_MONTH}[-. ]+[0-9]+",
    re.IGNORECASE,
)


def is_empty(text: str) -> bool:
    """Tell whether a cell was left empty, which means not counted (and is not 0)."""
    return text.lower() in ("", "nan", "nat")


def read_cell(text: str) -> Cell:
    """Read one cell that is not empty, without surrounding blanks.

    Gives the least and the greatest number that it allows, and its kind. A `CellFault` tells one
    that says nothing that a count can be, and what can be written.

    Examples
    --------
    >>> read_cell("10-15")
    Cell(low=10.0, high=15.0, kind='between')
    >>> read_cell(">30")
    Cell(low=31.0, high=inf, kind='at least')
    """
    for pattern, meaning in _FORMS:
        match = pattern.fullmatch(text)
        if match:
            cell = meaning(*(_whole(number) for number in match.groups()))
            break
    else:
        raise CellFault(_remedy(text))
    if cell.high < 0:
        raise CellFault(_WHOLE_NUMBERS)
    if max(cell.low, cell.high if math.isfinite(cell.high) else 0.0) > MOST_ANTS:
        raise CellFault(f"Allowed: up to {MOST_ANTS:,}, more than a kept colony holds. Correct it.")
    if cell.low > cell.high:
        raise CellFault(
            f"The range is upside down; write {cell.high:.0f}-{cell.low:.0f} if you meant that."
        )
    return cell


def _whole(number: str) -> float:
    """Read a whole number; `12.0` and `12,0` are whole too, as spreadsheets write them."""
    digits, _, decimals = number.replace(",", ".").partition(".")
    if decimals.strip("0"):
        raise CellFault(_WHOLE_NUMBERS)
    if len(decimals) == 3:  # 12.000 is twelve in one country and twelve thousand in another
        raise CellFault(f"It can be read two ways; write {digits} or {digits}000.")
    return min(float(digits), 10.0 * MOST_ANTS)  # of hundreds of digits only infinity is left


def _remedy(text: str) -> str:
    if _ANY_NUMBER.fullmatch(text):
        return _WHOLE_NUMBERS
    if _DATE_LIKE.fullmatch(text):
        return (
            "This is a date, which spreadsheets make of a range such as 10-15: "
            "give the column the format Text and write the cell again."
        )
    return _ALL_FORMS
