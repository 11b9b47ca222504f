"""A keeper's log made from true daily counts: patchy, rounded, miscounted, honest.

The package assumes a counting error of one estimated scale and a detection for eggs and larvae.
Here the keeper works otherwise: each egg, larva, or worker in a crowd is overlooked by itself
(binomial), what is left is misjudged by a factor and by a little absolute slip, then rounded;
nobody sees ants where there are none. Rough cells come from glances with a much larger error,
rounded to fives or tens.

Logs are DataFrames of text with the columns date, eggs, larvae, pupae, workers, as in a file that
a keeper writes: ``12``, ``~12``, ``30+``, ``first`` or empty. Counts of a date are those of the
evening: row d of the true counts is the evening of day d.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

STAGES = ("eggs", "larvae", "pupae", "workers")
STYLES = ("counts", "workers", "sightings", "sightings and workers")


@dataclass(frozen=True)
class Keeper:
    """How a keeper looks and writes. All values assumed."""

    mean_gap_days: float = 7.0
    """Mean days between looks; single gaps run from about a third to twice that."""
    written: dict[str, float] = field(
        default_factory=lambda: {"eggs": 0.75, "larvae": 0.8, "pupae": 0.85, "workers": 0.95}
    )
    """Chance that a stage is counted at a look."""
    detection: dict[str, float] = field(default_factory=lambda: {"eggs": 0.93, "larvae": 0.96})
    """Share of a stage that is seen at all; 1 where not named."""
    seen_in_crowd: float = 0.5
    """Share of an endless crowd of workers that is seen; of few, nearly all are: of W the share
    s + (1 - s) / (1 + W / 100)."""
    error_log_sd: float = 0.08
    """Log-sd of the factor by which numbers are misjudged."""
    slip: float = 0.2
    """Sd of the absolute error, before rounding."""
    rough: float = 0.1
    """Chance that a number is a glance, written ~12."""
    rough_log_sd: float = 0.2
    """Log-sd of a glance."""
    first: float = 0.3
    """Chance that a stage's first number is written `first`."""
    at_least: float = 0.2
    """Chance that a number of at least `big` is written as 30+, 40+ ..."""
    big: int = 30
    """From where numbers may be written as 'at least'."""
    style: str = "counts"
    """One of `STYLES`. 'sightings' writes `first` for each stage once and nothing else."""


def days_to(counts: np.ndarray, workers: int = 30) -> np.ndarray:
    """Return the first day with that many workers for counts (..., days, 4); inf if never."""
    reached = counts[..., 3] >= workers
    return np.where(reached.any(axis=-1), reached.argmax(axis=-1), np.inf)


def cut(days_to_30: float, fraction: float) -> int:
    """Return the last day of notes that end at a fraction of the way to 30 workers."""
    if not np.isfinite(days_to_30):
        raise ValueError("this colony never reaches 30 workers, so its notes cannot be cut.")
    return int(np.floor(fraction * days_to_30))


def write_log(
    counts: np.ndarray,
    start: str,
    rng: np.random.Generator,
    keeper: Keeper | None = None,
    *,
    first_day: int = 0,
    last_day: int | None = None,
) -> pd.DataFrame:
    """Write the log a keeper would keep of one colony.

    Parameters
    ----------
    counts : int array, shape (days, 4)
        True counts at the end of each day.
    start : str
        ISO date of day 0.
    first_day, last_day : int
        Looks lie within these days, both included. The first is within one gap of day 0, but on
        `first_day` itself for a colony acquired part-grown (first_day > 0), counted on arrival,
        and for logs of sightings, which need a row with none before them.

    Returns
    -------
    log : DataFrame of str
        One row a look, also where every cell is empty: a look at which nothing was counted.
    """
    keeper = Keeper() if keeper is None else keeper
    if keeper.style not in STYLES:
        raise ValueError(f"style = {keeper.style!r}: allowed are {', '.join(STYLES)}.")
    last_day = len(counts) - 1 if last_day is None else min(last_day, len(counts) - 1)
    at_once = first_day > 0 or keeper.style.startswith("sightings")
    looks = _looks(keeper.mean_gap_days, first_day, last_day, at_once, rng)
    log = pd.DataFrame({"date": (pd.Timestamp(start) + pd.to_timedelta(looks, unit="D"))})
    log["date"] = log["date"].dt.strftime("%Y-%m-%d")
    for column, stage in enumerate(STAGES):
        log[stage] = _cells(counts[looks, column], stage, keeper, rng)
    return log


def thin(log: pd.DataFrame, every: int = 2) -> pd.DataFrame:
    """Keep every second row, from the first; `first` cells stay true, as all before were none."""
    return log.iloc[::every].reset_index(drop=True)


def numbers(log: pd.DataFrame, stage: str = "workers") -> tuple[np.ndarray, np.ndarray]:
    """Return (day since the first row, number) of the exact and rough cells of a stage."""
    text = log[stage].str.removeprefix("~")
    counted = text.str.fullmatch(r"\d+")
    dates = pd.to_datetime(log["date"])
    day = ((dates - dates.iloc[0]) / pd.Timedelta("1D")).to_numpy()
    return day[counted], text[counted].astype(float).to_numpy()


def _looks(
    mean_gap: float, first_day: int, last_day: int, at_once: bool, rng: np.random.Generator
) -> np.ndarray:
    day = first_day if at_once else first_day + int(rng.integers(0, max(1, round(mean_gap))))
    looks = []
    while day <= last_day:
        looks.append(day)
        gap = mean_gap * rng.gamma(5.0, 1 / 5.0)
        day += max(1, round(min(gap, 2 * mean_gap)))
    return np.array(looks, int)


def _cells(true: np.ndarray, stage: str, keeper: Keeper, rng: np.random.Generator) -> list[str]:
    """Return one stage's cells at the looks."""
    share = np.full(true.size, keeper.detection.get(stage, 1.0))
    if stage == "workers":
        share *= keeper.seen_in_crowd + (1 - keeper.seen_in_crowd) / (1 + true / 100)
    seen = rng.binomial(true, share)
    count = _misjudged(seen, keeper.error_log_sd, keeper.slip, rng)
    glance = _misjudged(seen, keeper.rough_log_sd, 2 * keeper.slip, rng)
    # The first look that met any; every earlier look met none, whether counted or not. On the
    # very first row nothing shows that there was none before, so it is never called `first`.
    present = np.flatnonzero(seen > 0)
    debut = int(present[0]) if present.size else 0

    cells = [""] * true.size
    if keeper.style.startswith("sightings") and debut > 0:
        cells[debut] = "first"
    if keeper.style == "sightings" or (keeper.style != "counts" and stage != "workers"):
        return cells
    for look in range(true.size):
        if rng.random() >= keeper.written[stage] or cells[look]:
            continue
        if look == debut > 0 and rng.random() < keeper.first:
            cells[look] = "first"
        elif seen[look] >= keeper.big and rng.random() < keeper.at_least:
            # She stopped counting there, so that many there surely were.
            cells[look] = f"{seen[look] // 10 * 10}+"
        elif glance[look] > 0 and rng.random() < keeper.rough:
            cells[look] = f"~{_rounded(int(glance[look]))}"
        else:
            cells[look] = str(count[look])
    return cells


def _misjudged(
    seen: np.ndarray, log_sd: float, slip: float, rng: np.random.Generator
) -> np.ndarray:
    """Miscount what is seen: none stays none, and those that are there are never counted away."""
    factor = np.exp(log_sd * rng.standard_normal(seen.size))
    number = np.rint(seen * factor + slip * rng.standard_normal(seen.size)).astype(int)
    return np.where(seen > 0, np.maximum(1, number), 0)


def _rounded(number: int) -> int:
    """Round as people do: small numbers as they are, then to fives, then to tens."""
    step = 1 if number < 10 else 5 if number < 50 else 10
    return round(number / step) * step
