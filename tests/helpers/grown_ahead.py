"""Forecasts whose colonies grow by a rule that can be reckoned by hand."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd

import antgrowth as ag
from antgrowth.forecast.paths import Forecast

DRAWS = 101
START = pd.Timestamp("2026-08-14")
NOTES = (
    ("2026-07-04", "0", "0", "0", "0", "the queen sits alone"),
    ("2026-07-20", "9", "", "", "", ""),
    ("2026-08-14", "7", "8", "", "0", "no mould"),
)
COLUMNS = ["date", "eggs", "larvae", "pupae", "workers", "note"]


@cache
def fitted(species: str = "lasius-niger", notes: tuple = NOTES) -> ag.Fit:
    since = "2026-07-04" if notes[0][4] == "0" else None  # else the colony came part-grown
    table = pd.DataFrame(notes, columns=COLUMNS)
    return ag.fit(table, ag.constant(24.0), species, queen_since=since, rng=1)


@cache
def grown(species: str = "lasius-niger", notes: tuple = NOTES, days: int = 300) -> Forecast:
    """Colony i has its first worker i days after the last note, and one more each day."""
    ahead = fitted(species, notes).forecast(days=days, draws=DRAWS, rng=1)
    since = np.arange(days + 1) - np.arange(DRAWS)[:, None]
    paths = np.zeros_like(ahead.paths)
    paths[..., 0] = 10
    paths[..., 3] = np.maximum(since + 1, 0)
    paths[:, 0, 3] = 0  # none is there yet, whatever the colony
    return replace(ahead, paths=paths)


def growing(ahead: Forecast, workers: np.ndarray) -> Forecast:
    """The same forecast with workers of your own, shape (days + 1,) or (draws, days + 1)."""
    paths = ahead.paths.copy()
    paths[..., 3] = workers
    return replace(ahead, paths=paths)


def day(number: int) -> pd.Timestamp:
    """So many days after the last note."""
    return START + pd.Timedelta(days=number)
