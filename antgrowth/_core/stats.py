"""Statistics that several rooms share, and the tables that tell them."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import pandas as pd

from antgrowth._core.arrays import Flags, Floats, Ints
from antgrowth._core.stages import STAGES, WORKERS

Numbers = TypeVar("Numbers", Floats, Ints)

REACH_90 = 1.645
"""Half the width of a central 90 % interval, in standard deviations."""

QUANTILES = {"q05": 0.05, "q25": 0.25, "q50": 0.5, "q75": 0.75, "q95": 0.95}
"""Shares of the draws, by the columns of tables that tell them."""


def quantiles(draws: Floats | Ints) -> dict[str, Floats]:
    """Quantiles over the first axis, by name."""
    return dict(zip(QUANTILES, np.quantile(draws, list(QUANTILES.values()), axis=0), strict=True))


def with_brood(counts: Numbers) -> Numbers:
    """Counts of each stage, the last axis, and of all brood."""
    brood = counts[..., :WORKERS].sum(axis=-1, keepdims=True)
    return np.concatenate([counts, brood], axis=-1)


def stage_frame(dates: pd.DatetimeIndex, counts: Floats | Ints) -> pd.DataFrame:
    """Long table of counts of stages and of brood, shape (draws, dates, 5): mean and quantiles."""
    names = [*STAGES, "brood"]
    columns = {"mean": counts.mean(axis=0)} | quantiles(counts)
    return pd.DataFrame(
        {
            "date": np.repeat(dates, len(names)),
            "stage": np.tile(names, len(dates)),
            **{name: column.ravel() for name, column in columns.items()},
        }
    )


def first_passage(there: Flags) -> Floats:
    """Time of first passage: the first day on which something holds, infinite where it never does.

    `there` has shape (draws, days); given is the place of the day, shape (draws,).

    Examples
    --------
    >>> first_passage(np.array([[False, True, True], [False, False, False]]))
    array([ 1., inf])
    """
    return np.where(there.any(axis=1), there.argmax(axis=1).astype(float), np.inf)
