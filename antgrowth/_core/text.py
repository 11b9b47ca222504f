"""Words that messages, reports and pictures share: lists, counts and dates in plain words."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import TYPE_CHECKING

from antgrowth._core.stages import SINGULAR

if TYPE_CHECKING:
    import pandas as pd

_SHOWN = 20

_TOLD = 120
"""Letters of a value that a message repeats."""

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
"""English whatever the computer's language, as all else is."""


def counted(number: int, noun: str, plural: str = "") -> str:
    """Write a number with its noun, whose plural is said where it does not end in s.

    Examples
    --------
    >>> counted(1, "row"), counted(1440, "reading")
    ('1 row', '1,440 readings')
    """
    return f"{number:,} {noun if number == 1 else plural or f'{noun}s'}"


def listed(items: Iterable[str], separator: str = ", ") -> str:
    """Join items into one text; of more than 20, the first 20 and how many more there are.

    Examples
    --------
    >>> listed(["row 3", "row 8"])
    'row 3, row 8'
    """
    texts = list(items)
    if len(texts) > _SHOWN:
        texts = [*texts[:_SHOWN], f"and {len(texts) - _SHOWN} more"]
    return separator.join(texts)


def told(value: object) -> str:
    """Write a value as code has it, on one line and not too long, whatever it is.

    Examples
    --------
    >>> told("tube"), told([1.5, None]), len(told("x" * 500))
    ("'tube'", '[1.5, None]', 120)
    """
    try:
        line = " ".join(repr(value).split())
    except (ValueError, RecursionError):  # thousands of digits, or of lists in lists
        return f"something of type {type(value).__name__} that is too long to show"
    return line if len(line) <= _TOLD else line[: _TOLD - 3] + "..."


def printed(value: object) -> str:
    """Write a value as print has it, or as `told` does where that cannot be."""
    try:
        return str(value)
    except (ValueError, RecursionError):  # as there
        return told(value)


def near_miss(found: object, known: Iterable[str]) -> str:
    """Suggest the known spelling nearest to `found`, as a sentence; empty if none is near."""
    near = difflib.get_close_matches(printed(found), list(known), n=1, cutoff=0.6)
    return f" Did you mean {near[0]}?" if near else ""


def count_words(low: float, high: float, kind: str, stage: str) -> str:
    """Write a cell in words.

    Examples
    --------
    >>> count_words(4, 4, "exact", "workers"), count_words(5, 8, "between", "eggs")
    ('4 workers', '5 to 8 eggs')
    """
    if kind == "first":
        return f"first {stage} seen"
    if kind == "between":
        return f"{low:,.0f} to {high:,.0f} {stage}"
    number = high if kind == "below" else low
    noun = SINGULAR.get(stage, stage) if number == 1 else stage
    lead = {"rough": "about ", "at least": "at least ", "below": "at most "}.get(kind, "")
    return f"{lead}{number:,.0f} {noun}"


def day_words(date: pd.Timestamp, year: int | None = None) -> str:
    """Write a date as a keeper says it; the year only where it is not the one given.

    Examples
    --------
    >>> import pandas as pd
    >>> day_words(pd.Timestamp("2026-04-03"), 2026), day_words(pd.Timestamp("2026-04-03"))
    ('3 April', '3 April 2026')
    """
    day = f"{date.day} {MONTHS[date.month - 1]}"
    return day if date.year == year else f"{day} {date.year}"


def span_words(
    first: pd.Timestamp, last: pd.Timestamp, year: int | None = None, beyond: str = ""
) -> str:
    """Write a span of days, as short as it can be; a word may stand before its end.

    Examples
    --------
    >>> import pandas as pd
    >>> span_words(pd.Timestamp("2027-04-03"), pd.Timestamp("2027-04-19"), 2027)
    '3 to 19 April'
    """
    if first == last and not beyond:
        return day_words(last, year)
    if first.year != last.year:
        return f"{day_words(first)} to {beyond}{day_words(last)}"
    short = first.month == last.month and not beyond
    begin = f"{first.day}" if short else day_words(first, first.year)
    return f"{begin} to {beyond}{day_words(last, year)}"
