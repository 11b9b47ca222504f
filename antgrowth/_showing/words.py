"""Small words that messages and descriptions share."""

from __future__ import annotations

from collections.abc import Iterable

__all__ = ["counted", "listed"]

_SHOWN = 20


def counted(number: int, noun: str) -> str:
    """Write a number with its noun.

    Examples
    --------
    >>> counted(1, "row"), counted(1440, "reading")
    ('1 row', '1,440 readings')
    """
    return f"{number:,} {noun}" + ("" if number == 1 else "s")


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
