"""The score table of a backtest: forecasts beside truths, averaged by method, and how it prints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.pictures import picture
from antgrowth._core.stages import BROOD
from antgrowth._core.summary import Report, Row, Shown
from antgrowth._core.text import counted, listed
from antgrowth.evaluation.folds import OURS, THEN, UNUSED
from antgrowth.evaluation.targets import Reached
from antgrowth.io.counts import CountLog

if TYPE_CHECKING:
    from matplotlib.axes import Axes

TARGETS = ("arrival", "workers", *BROOD, "brood")
"""Order of the targets: what is asked most, first."""

HORIZONS = {"to 14": 14.0, "to 30": 30.0, "to 60": 60.0, "to 120": 120.0, "beyond": np.inf}
"""Horizons that scores are split by, each with its last day. [day]"""

_CASE = ["cutoff", "target", "date"]


@dataclass(frozen=True, eq=False, repr=False)
class Backtest(Shown):
    """Forecasts from earlier looks at a log, held against what it shows later.

    Attributes
    ----------
    counts : CountLog
        The whole log.
    workers : int
        The number waited for.
    reached : tuple of Timestamp, or None
        First and last day on which it may first have been there; None if the log never shows it.
        The former is None if the first note shows it already.
    cutoffs : DatetimeIndex
        After the evening of each of them, the log was cut.
    days : int or None
        Days looked ahead from each cutoff; None if not limited, see `backtest`. [day]
    draws : int
        Simulated colonies of each forecast.
    seed : int
    folds : DataFrame
        One row for each cutoff, method, temperatures and target. Columns:

        - `cutoff`; `method` ("antgrowth", "species average", "log-linear"); `temperatures`:
          "known" (as they turned out: this leaks), "as known then" or "not used";
        - `target`: "arrival" or the stage counted; `date` of the count, or by which it had arrived;
          `unit`: "day" after the cutoff, or "ant"; `horizon_days` from the cutoff to the truth;
        - `truth_low`, `truth`, `truth_high`: an arrival is known only as between two looks, and
          `truth` is the middle (day 0: there already at the cutoff, without having been counted);
          of a count all three are the same;
        - `median`, `q05`, `q25`, `q75`, `q95` of the forecast;
        - `crps` against `truth`; `covered_50`, `covered_90`: whether the interval holds the truth
          or, of an arrival, overlaps the days on which it may have been; `error_days`: from the
          nearest of these days to the median, above 0 for a forecast too late;
        - `status`: "scored", "no answer", "failed" or "no truth"; `reason` in words.
    """

    counts: CountLog
    workers: int
    reached: Reached | None
    cutoffs: pd.DatetimeIndex
    days: int | None
    draws: int
    seed: int
    folds: pd.DataFrame = field(repr=False)

    def summary_frame(self, by_horizon: bool = False) -> pd.DataFrame:
        """Average the scores.

        Parameters
        ----------
        by_horizon : bool
            Split by how far ahead the truth lay.

        Returns
        -------
        DataFrame
            One row for each target, (horizon,) method and temperatures. Columns: those; unit;
            folds (cutoffs with a known truth); failed (folds that could not be fitted or forecast);
            cases (truths); answered (truths with a score); mean crps; covered_50, covered_90 (share
            of those answered); error (mean size) and bias (mean) of the median, of an arrival as
            `error_days`; crps_ratio: what antgrowth scores relative to this method, over the cases
            that both answered; below 1 antgrowth is better.

        Notes
        -----
        Folds of one log overlap and share its luck: their number does not stand for as many
        colonies. Closed intervals of small whole numbers hold more than they claim.
        """
        return summarise(self.folds, by_horizon, OURS, {UNUSED: THEN})

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the forecasts from each cutoff beside what came; the numbers are in `folds`."""
        return picture("evaluation", "plot_backtest", self, ax)

    def _report(self) -> Report:
        return _report(self)

    def __repr__(self) -> str:
        return (
            f"Backtest({self.counts.name!r}, {self.workers} workers, {len(self.cutoffs)} cutoffs, "
            f"{self.cutoffs[0]:%Y-%m-%d} to {self.cutoffs[-1]:%Y-%m-%d})"
        )


def summarise(
    folds: pd.DataFrame, by_horizon: bool, ours: str, instead: Mapping[str, str]
) -> pd.DataFrame:
    """Average the scores of a table of folds; see `Backtest.summary_frame`.

    The other methods are measured against `ours`; `instead` tells which temperatures of it a method
    meets that has none of its own.
    """
    known = folds[folds["status"] != "no truth"]
    our_crps = known[known["method"] == ours].set_index([*_CASE, "temperatures"])["crps"]
    meets = known["temperatures"].replace(dict(instead))
    cases = pd.MultiIndex.from_frame(known[_CASE].assign(temperatures=meets))
    known = known.assign(our_crps=our_crps.reindex(cases).to_numpy())
    keys = ["target", "method", "temperatures"]
    if by_horizon:
        known = known.assign(horizon_days=_binned(known["horizon_days"]))
        keys.insert(1, "horizon_days")
    rows = [
        dict(zip(keys, key, strict=True)) | _averages(group)
        for key, group in known.groupby(keys, sort=False, observed=True)
    ]
    columns = [*keys, *_averages(known)]
    table = pd.DataFrame(rows, columns=columns)
    order = table["target"].map(TARGETS.index)
    if by_horizon and len(table):
        order = order * len(HORIZONS) + table["horizon_days"].map(list(HORIZONS).index).astype(int)
    return table.iloc[np.argsort(order, kind="stable")].reset_index(drop=True)


def _binned(horizon_days: pd.Series) -> pd.Series:
    names, ends = np.array(list(HORIZONS)), np.array(list(HORIZONS.values()))
    return pd.Series(names[np.searchsorted(ends, horizon_days)], index=horizon_days.index)


def _averages(group: pd.DataFrame) -> dict[str, object]:
    scored = group[group["status"] == "scored"]
    both = scored[scored["our_crps"].notna()]
    miss = scored["error_days"].fillna(scored["median"] - scored["truth"])
    nothing_to_compare = both.empty or both["crps"].sum() == 0
    return {
        "unit": group["unit"].iloc[0] if len(group) else "",
        "folds": group["cutoff"].nunique(),
        "failed": group.loc[group["status"] == "failed", "cutoff"].nunique(),
        "cases": len(group),
        "answered": len(scored),
        "crps": scored["crps"].mean(),
        "covered_50": scored["covered_50"].astype(float).mean(),
        "covered_90": scored["covered_90"].astype(float).mean(),
        "error": miss.abs().mean(),
        "bias": miss.mean(),
        "crps_ratio": np.nan if nothing_to_compare else both["our_crps"].sum() / both["crps"].sum(),
    }


def _report(trial: Backtest) -> Report:
    """Report of a backtest: what was cut where, the scores of each method, and what failed."""
    return Report(
        title=f"Backtest: {trial.counts.name}",
        facts=(
            ("cutoffs", ", ".join(f"{cutoff:%Y-%m-%d}" for cutoff in trial.cutoffs)),
            ("ahead", _ahead(trial)),
            ("arrival", _arrival_words(trial)),
        ),
        head=(
            "target",
            "method",
            "temperatures",
            "answered",
            "CRPS",
            "in 50%",
            "in 90%",
            "error",
            "relative",
        ),
        align="lllrrrrrr",
        rows=tuple(_row(row) for row in trial.summary_frame().to_dict("records")),
        closing=_closing(trial.folds),
    )


def _ahead(trial: Backtest) -> str:
    far = "as far as the log tells" if trial.days is None else counted(trial.days, "day")
    return f"{far}; {trial.draws:,} simulated colonies each, seed {trial.seed}"


def _arrival_words(trial: Backtest) -> str:
    waited = counted(trial.workers, "worker")
    if trial.reached is None:
        return f"not scored: the log never shows {waited}"
    first, last = trial.reached
    if first is None:
        return f"not scored: {waited} or more from the first count on, {last:%Y-%m-%d}"
    return f"{waited} first there between {first:%Y-%m-%d} and {last:%Y-%m-%d}"


def _row(row: Row) -> tuple[str, ...]:
    answered = row["answered"]

    def held(share: float) -> str:
        return f"{round(share * answered)} of {answered}" if answered else ""

    return (
        row["target"],
        row["method"],
        row["temperatures"],
        f"{answered} of {row['cases']}",
        f"{_short(row['crps'])} {row['unit']}" if answered else "",
        held(row["covered_50"]),
        held(row["covered_90"]),
        f"{_short(row['error'])} {row['unit']}" if answered else "",
        "" if row["method"] == "antgrowth" else _short(row["crps_ratio"]),
    )


def _short(number: float) -> str:
    """Two digits, which is more than a few folds can settle."""
    if np.isnan(number):
        return ""
    return f"{number:,.0f}" if abs(number) >= 10 else f"{number:.2g}"


def _closing(folds: pd.DataFrame) -> tuple[tuple[str, str], ...]:
    closing = [
        ("CRPS", "like an error, but of the whole forecast: 0 is perfect, and less is better"),
        ("relative", "CRPS of antgrowth over this one's where both answered: below 1 is better"),
        ("known", "these forecasts knew how warm it would be, as no keeper can"),
        ("mind", "cutoffs of one colony share its luck: a few of them settle little"),
    ]
    failed = folds[folds["status"] == "failed"].drop_duplicates(["cutoff", "method", "reason"])
    if len(failed):
        texts = [
            f"{row.method} from {row.cutoff:%Y-%m-%d}: {row.reason}" for row in failed.itertuples()
        ]
        closing.append(("failed", listed(texts, "; ")))
    abstained = folds[folds["status"] == "no answer"].drop_duplicates(["method", "reason"])
    if len(abstained):
        texts = [f"{row.method}: {row.reason}" for row in abstained.itertuples()]
        closing.append(("no answer", listed(texts, "; ")))
    return tuple(closing)
