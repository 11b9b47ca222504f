"""Findings as a keeper would say them: dates, counts and arrivals in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._showing.render import share_words
from antgrowth._showing.words import counted

if TYPE_CHECKING:
    from antgrowth.forecast import Arrival

__all__ = ["arrival_rest", "arrival_title", "count_words", "day_words", "horizon_of", "span_words"]

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
"""English whatever the computer's language, as all else is."""

SINGULAR = {"eggs": "egg", "larvae": "larva", "pupae": "pupa", "workers": "worker"}


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


def arrival_title(arrival: Arrival) -> str:
    """Write when a number of workers comes, as short as a title has to be."""
    number, year = counted(arrival.workers, "worker"), arrival.start.year
    if arrival.reached:
        return f"{number}: reached by {day_words(arrival.reached_by, year)}"
    (first, last), middle, far = arrival.interval(), arrival.median, horizon_of(arrival)
    if first is pd.NaT:
        return f"{number}: hardly before {day_words(far, year)}"
    if middle is pd.NaT:
        return (
            f"{number}: hardly before {day_words(first, year)}, "
            f"most likely after {day_words(far, first.year)}"
        )
    beyond = "beyond " if last is pd.NaT else ""
    last = far if last is pd.NaT else last
    span = span_words(first, last, year, beyond)
    return f"{number}: {span}, most likely around {day_words(middle, last.year)}"


def arrival_rest(arrival: Arrival) -> str:
    """What the interval does not tell: who is there already, or how many come after it all."""
    if arrival.reached:
        already = float(np.mean(arrival.dates == np.datetime64(arrival.start, "D")))
        return f"{share_words(already)} of simulated colonies hold as many already"
    far = day_words(horizon_of(arrival))
    return f"{share_words(arrival.chance_never)} chance that it comes only after {far}"


def horizon_of(arrival: Arrival) -> pd.Timestamp:
    """Last day looked ahead."""
    return arrival.start + pd.Timedelta(days=arrival.horizon)
