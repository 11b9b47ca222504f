"""Which days of a temperature to look at when none are named."""

from __future__ import annotations

import numpy as np
import pandas as pd

from antgrowth._core.validation import Day, as_date, as_whole
from antgrowth.climate.source import ONE_DAY, Source

_MARGIN_DAYS = 14  # shown of an endless plan before its first change, and after its last


def days_to_show(plan: Source, start: Day | None, days: int | None) -> tuple[np.datetime64, int]:
    """Complete what is not named of a first day and a number of days, which is at least 1.

    The first day is the first covered, or a margin before the first change of a plan that has no
    beginning, or today if it has no change either. The days go to the last covered, or a margin
    beyond the last change of a plan that has no end, or as long as it takes until it repeats
    itself.
    """
    first, last = plan.covers()
    changes = plan.changes()
    if start is not None:
        begin = as_date(start, "start")
    elif first is not None:
        begin = np.datetime64(first, "D")
    elif changes:
        begin = changes[0] - _MARGIN_DAYS
    else:
        begin = np.datetime64(pd.Timestamp.today(), "D")
    if days is not None:
        return begin, as_whole(days, "days", at_least=1)
    if last is not None:
        shown = int((np.datetime64(last, "D") - begin) // ONE_DAY) + 1
    else:
        ahead = int((changes[-1] - begin) // ONE_DAY) if changes else 0
        shown = max(ahead, 0) + (plan.cycle_days if plan.cycle_days > 1 else _MARGIN_DAYS)
    return begin, max(shown, 1)
