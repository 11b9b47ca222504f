"""Say which days have no temperature, and how to give them one."""

from __future__ import annotations

import numpy as np
import pandas as pd

from antgrowth._core.text import counted, listed
from antgrowth.io.hourly_means import SHORT_GAP_HOURS


def runs(mask: np.ndarray) -> list[tuple[int, int]]:
    """Find where a mask is True without a break: the first place, and the one after the last.

    Examples
    --------
    >>> runs(np.array([True, False, True, True]))
    [(0, 1), (2, 4)]
    """
    edges = np.flatnonzero(np.diff(mask.astype(int), prepend=0, append=0))
    return [(int(start), int(stop)) for start, stop in edges.reshape(-1, 2)]


def uncovered(
    covers: tuple[pd.Timestamp | None, pd.Timestamp | None],
    start: np.datetime64,
    missing: np.ndarray,
) -> str:
    """Tell what is missing from the days asked for, one line for each remedy.

    Days that have a temperature are `covers`; asked for from `start` on, `missing` tells the hours
    without one, shape (days, 24).
    """
    dates = start + np.arange(len(missing))
    lacking = missing.any(axis=1)
    # An open end has no days beyond it: the days asked for can be its first or last as well.
    first = dates[0] if covers[0] is None else np.datetime64(covers[0], "D")
    last = dates[-1] if covers[1] is None else np.datetime64(covers[1], "D")
    early, late = lacking & (dates < first), lacking & (dates > last)
    messages = []
    if early.any():
        messages.append(
            f"temperature starts {first} but {_needed(dates[early])}. Add readings, or put a plan "
            f'before it: ag.constant(24.0).then("{first}", temps).'
        )
    if late.any():
        messages.append(
            f"temperature ends {last} but {_needed(dates[late])}. Add readings, or extend it: "
            f'temps.then("{last + 1}", ag.constant(24.0)).'
        )
    gaps = runs((missing & ~(early | late)[:, np.newaxis]).reshape(-1))
    if gaps:
        from_, to = (start + place // 24 for place in (gaps[0][0], gaps[0][1] - 1))
        midnight = start.astype("datetime64[m]")
        spans = (
            f"  {_clock(midnight + np.timedelta64(a, 'h'))} to "
            f"{_clock(midnight + np.timedelta64(b, 'h'))} ({counted(b - a, 'hour')})"
            for a, b in gaps
        )
        messages.append(
            f"temperature has {counted(len(gaps), 'gap')} in the days that are needed (only up to "
            f"{SHORT_GAP_HOURS} missing hours in a row are interpolated):\n"
            + listed(spans, "\n")
            + "\nAdd readings, or bridge each gap with a plan, the first for example: "
            f'temps.then("{from_}", ag.constant(24.0)).then("{to + 1}", temps).'
        )
    return "\n".join(messages)


def _needed(dates: np.ndarray) -> str:
    if len(dates) == 1:
        return f"{dates[0]} (1 day) is needed"
    return f"{dates[0]} to {dates[-1]} ({len(dates)} days) are needed"


def _clock(stamp: np.datetime64) -> str:
    return str(stamp).replace("T", " ")
