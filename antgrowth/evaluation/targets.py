"""What a log shows later: the truths that forecasts from its earlier visits are held against."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from antgrowth._core.dates import as_day
from antgrowth._core.text import counted, told
from antgrowth.errors import AntgrowthError, LogError
from antgrowth.io.counts import CountLog

Reached = tuple[pd.Timestamp | None, pd.Timestamp]

FIRST_VISITS = 3
"""Dates with a count that the first cutoff rests on, unless the keeper names the cutoffs."""

_ONE_DAY = pd.Timedelta("1D")


@dataclass(frozen=True)
class Target:
    """One truth to forecast from a cutoff."""

    name: str  # "arrival" or the stage counted
    # Day of the count, or by which the colony had arrived; None if it never had.
    date: pd.Timestamp | None
    unit: str  # "day" after the cutoff, or "ant"
    ahead: float  # from the cutoff to the truth [day]
    low: float  # low, high: ends of what is known of it
    high: float
    unknown: str = ""  # why there is nothing to score; empty if there is

    @property
    def truth(self) -> float:
        """The middle of what is known."""
        return (self.low + self.high) / 2


def arrival_seen(log: CountLog, workers: int, founded: pd.Timestamp | None) -> Reached | None:
    """First and last day on which a log lets a number of workers first have been there, or None.

    From the day after the last look below, to the first look at or above; the former is None if no
    look below came before, nor a day on which it was `founded`, with no workers.
    """
    seen = log.frame[log.frame["stage"] == "workers"]
    enough = seen.loc[seen["low"] >= workers, "date"]
    if enough.empty:
        return None
    last = enough.min()
    below = seen.loc[seen["high"] < workers, "date"]
    # A first sighting says of the look before that there were none.
    visits = [*below, *seen["last_look"].dropna(), *([founded] if founded is not None else [])]
    before = [visit for visit in visits if visit < last]
    return (max(before) + _ONE_DAY if before else None), last


def choose_cutoffs(
    log: CountLog,
    cutoffs: int | Sequence[str | pd.Timestamp],
    reached: Reached | None,
    days: int | None,
) -> pd.DatetimeIndex:
    """Cutoffs as asked for, in order.

    An error tells one that leaves nothing to forecast from or to score.
    """
    exact = log.frame.loc[log.frame["kind"] == "exact", "date"]
    truths = pd.DatetimeIndex([*exact, *([reached[1]] if reached else [])]).unique().sort_values()
    visits = pd.DatetimeIndex(log.frame["date"].unique())
    if len(visits) < 2 or not (truths > visits[0]).any():
        raise LogError(
            f"{log.name}: nothing to hold a forecast against. A backtest needs a date with a count "
            "to forecast from, and a later one with an exact count (such as 12) to compare."
        )

    def can_be_scored(cutoff: pd.Timestamp) -> bool:
        far = pd.Timestamp.max if days is None else cutoff + days * _ONE_DAY
        return bool(((truths > cutoff) & (truths <= far)).any())

    if not isinstance(cutoffs, (int, np.integer)):
        return _named(log, cutoffs, visits[0], can_be_scored, truths[-1], days)
    if cutoffs < 1:
        raise AntgrowthError(
            f"backtest: cutoffs = {told(cutoffs)}. Give at least 1, or a list of dates."
        )
    usable = [visit for visit in visits[FIRST_VISITS - 1 :] if can_be_scored(visit)]
    if not usable:
        within = "" if days is None else f" and not more than {counted(days, 'day')} after it"
        raise LogError(
            f"{log.name}: counts on {counted(len(visits), 'date')}. A backtest needs "
            f"{FIRST_VISITS} to forecast from, and an exact count later than these{within}. "
            "Note more counts, or name the cutoffs yourself, such as "
            f'cutoffs=["{visits[0]:%Y-%m-%d}"].'
        )
    places = np.linspace(0, len(usable) - 1, min(cutoffs, len(usable))).round().astype(int)
    return pd.DatetimeIndex([usable[place] for place in places])


def _named(
    log: CountLog,
    cutoffs: Sequence[str | pd.Timestamp],
    first: pd.Timestamp,
    can_be_scored: Callable[[pd.Timestamp], bool],
    last: pd.Timestamp,
    days: int | None,
) -> pd.DatetimeIndex:
    """Cutoffs that the keeper named, each checked."""
    if not isinstance(cutoffs, list | tuple | pd.Index | pd.Series) or not len(cutoffs):
        raise AntgrowthError(
            f"backtest: cutoffs = {told(cutoffs)}. Give a whole number of at least 1, or a list of "
            f'dates, such as ["{first:%Y-%m-%d}"].'
        )
    days_named = [pd.Timestamp(as_day(cutoff, "cutoffs")) for cutoff in cutoffs]
    within = "" if days is None else f" within {counted(days, 'day')}"
    faults = []
    for cutoff in days_named:
        if cutoff < first:
            faults.append(f"{cutoff:%Y-%m-%d}: the first count is of {first:%Y-%m-%d}.")
        elif not can_be_scored(cutoff):
            faults.append(
                f"{cutoff:%Y-%m-%d}: no exact count follows{within}; the last one is of "
                f"{last:%Y-%m-%d}."
            )
    if faults:
        raise LogError(
            "\n".join(
                [
                    f"{log.name}: backtest cannot cut there. A cutoff has a count on it or before "
                    "it, and an exact one after it. Move these, or leave them out:",
                    *faults,
                ]
            )
        )
    return pd.DatetimeIndex(sorted(set(days_named)))


def targets_after(
    log: CountLog, cutoff: pd.Timestamp, ahead: int, workers: int, reached: Reached | None
) -> list[Target]:
    """What can be scored from a cutoff in the whole log: the arrival, and later exact counts.

    Counts beyond the days looked `ahead` are no targets; `reached` is of `arrival_seen`.
    """
    frame = log.frame[(log.frame["kind"] == "exact") & (log.frame["date"] > cutoff)]
    frame = frame[frame["date"] <= cutoff + ahead * _ONE_DAY]
    after = (frame["date"] - cutoff) / _ONE_DAY
    counts = [
        Target(stage, date, "ant", float(wait), float(number), float(number))
        for stage, date, wait, number in zip(
            frame["stage"], frame["date"], after, frame["low"], strict=True
        )
    ]
    return [_arrival_target(cutoff, ahead, workers, reached), *counts]


def _arrival_target(
    cutoff: pd.Timestamp, ahead: int, workers: int, reached: Reached | None
) -> Target:
    def not_known(date: pd.Timestamp | None, why: str) -> Target:
        return Target("arrival", date, "day", np.nan, np.nan, np.nan, why)

    if reached is None:
        return not_known(None, f"the log never shows {counted(workers, 'worker')}")
    first, last = reached
    if last <= cutoff:
        return not_known(last, f"already noted on {last:%Y-%m-%d}")
    if last > cutoff + ahead * _ONE_DAY:
        return not_known(last, f"noted on {last:%Y-%m-%d}, beyond the {ahead} days looked ahead")
    if first is None:
        return not_known(last, "no earlier look shows fewer, so nobody knows since when")
    # Day 0 stands for all before: a cutoff without a count of workers does not tell.
    low, high = max((first - cutoff) / _ONE_DAY, 0.0), (last - cutoff) / _ONE_DAY
    return Target("arrival", last, "day", (low + high) / 2, low, high)
