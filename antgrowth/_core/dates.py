"""Calendar days as keepers write them: a form is accepted only if it can be read in one way.

ISO 8601 (year-month-day) is always clear. Dots are day.month.year by custom. With slashes or
hyphens and the year last, the order of day and month is clear only if some date in the column
has a day above 12. One column uses one form: a mixture is what a spreadsheet leaves behind when it
has swapped day and month in the dates it took for its own, and left the others as text.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd

from antgrowth._core.text import told
from antgrowth.errors import LogError

_YEAR_FIRST = "year-month-day"
_DOTTED = "day.month.year"
_DAY_FIRST = "day/month/year"
_MONTH_FIRST = "month/day/year"

_TIME = r"(?:(?:T|\s+)[0-9]{1,2}:[0-9]{2}[-+:.,0-9Z]*(?:\s*[AaPp][Mm])?)?"
_PARTS = {
    "year first": re.compile(r"([0-9]{4})([-/.])([0-9]{1,2})\2([0-9]{1,2})" + _TIME),
    "compact": re.compile(r"([0-9]{4})()([0-9]{2})([0-9]{2})" + _TIME),
    "year last": re.compile(r"([0-9]{1,2})([-/.])([0-9]{1,2})\2([0-9]{4})" + _TIME),
}

_NOT_A_DATE = "Not a date that can be read. Write year-month-day, such as 2026-04-02."
FIRST_YEAR, LAST_YEAR = 1900, 2199
"""0226-04-02 is a slip of the pen, and would be a log of eighteen centuries."""

_NO_SUCH_DAY = (
    f"The calendar of {FIRST_YEAR} to {LAST_YEAR} has no such day. Write year-month-day, such as "
    "2026-04-02."
)


def read_days(texts: Sequence[str]) -> tuple[list[date | None], dict[int, str]]:
    """Read a column of dates, without surrounding blanks; a time of day is allowed and left off.

    Gives the day of each text, None where it cannot be read; and by the position of those, what is
    wrong and what to write.

    Examples
    --------
    >>> read_days(["13/02/2026", "03/04/2026"])  # 13 settles the order for the column
    ([datetime.date(2026, 2, 13), datetime.date(2026, 4, 3)], {})
    >>> read_days(["03/04/2026"])
    ([None], {0: 'Day and month cannot be told apart; write 2026-04-03 or 2026-03-04.'})
    """
    readings = [_readings(text) for text in texts]
    settled = Counter(next(iter(days)) for days in readings if days and len(days) == 1)
    usual = settled.most_common(1)[0][0] if settled else None
    contradictory = {_DAY_FIRST, _MONTH_FIRST} <= settled.keys()

    result: list[date | None] = []
    faults: dict[int, str] = {}
    for position, days in enumerate(readings):
        choices = sorted(set((days or {}).values()), reverse=True)
        day = None
        if days is None:
            faults[position] = _NOT_A_DATE
        elif not days:
            faults[position] = _NO_SUCH_DAY
        elif len(choices) > 1 and (usual not in days or contradictory):
            faults[position] = (
                f"Day and month cannot be told apart; write {choices[0]} or {choices[1]}."
            )
        elif usual is not None and usual not in days:
            faults[position] = (
                f"It is written {next(iter(days))}, the other dates {usual}; such a mixture may "
                f"hide swapped days and months. Check them and write all as year-month-day, "
                f"this one as {choices[0]}."
            )
        else:
            day = days[usual] if usual is not None else choices[0]
        result.append(day)
    return result, faults


def as_day(value: object, what: str) -> date:
    """Read one date given as an argument, which messages call `what`; a time of day is left off.

    A `LogError` tells one that is no date, or can be read in two ways.
    """
    if isinstance(value, str):
        (day,), faults = read_days([value.strip()])
        if day is None:
            raise LogError(f"{what} = {value}. {faults[0]}")
        return day
    if isinstance(value, (date, np.datetime64)) and not pd.isna(value):
        try:
            day = pd.Timestamp(value).date()
        except (ValueError, OverflowError):  # numpy counts days for longer than there are stars
            day = date.min
        if FIRST_YEAR <= day.year <= LAST_YEAR:
            return day
        raise LogError(f"{what} = {told(value)}. {_NO_SUCH_DAY}")
    raise LogError(f"{what} = {told(value)}. {_NOT_A_DATE}")


def _readings(text: str) -> dict[str, date] | None:
    """Map each form the text can be written in to the day it then means; None if it is no date.

    An empty mapping is a date in shape only, such as 31.02.2026.
    """
    for shape, pattern in _PARTS.items():
        match = pattern.fullmatch(text)
        if match:
            first, mark, second, third = match.groups()
            if shape != "year last":
                orders = {_YEAR_FIRST: (first, second, third)}
            elif mark == ".":
                orders = {_DOTTED: (third, second, first)}
            else:
                orders = {_DAY_FIRST: (third, second, first), _MONTH_FIRST: (third, first, second)}
            return {
                pattern: day
                for pattern, parts in orders.items()
                if (day := _day(*(int(part) for part in parts))) is not None
            }
    return None


def _day(year: int, month: int, day: int) -> date | None:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        return None
    try:
        return date(year, month, day)
    except ValueError:
        return None
