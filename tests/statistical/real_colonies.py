"""Try forecasts on counts of real colonies: how often ranges hold, and how sharp they are.

    python tests/statistical/real_colonies.py COUNTS.csv --warm 25 --rest 2016-10-27 2017-03-28

The file has the columns colony, date, eggs, larvae, pupae, workers; an empty cell was not counted.
Each colony is fitted to its counts up to each cut, and what was counted later is held against the
forecast, beside three others: what was counted last (persistence), the profile without any note,
and what the other colonies of the file held on the same day.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd

import antgrowth as ag
from antgrowth.evaluation.baselines import species_average
from antgrowth.evaluation.observation_noise import observed_counts
from antgrowth.evaluation.scoring import crps
from antgrowth.inference.laplace import ERROR_SPREAD
from antgrowth.inference.observations import held_at_first

STAGES = ("eggs", "larvae", "pupae", "workers")
HORIZONS = {"to 7 days": 7, "8 to 14": 14, "15 to 28": 28, "29 to 42": 42, "to the rest": 100,
            "after the rest": 1000}  # fmt: skip
WORKERS, DAY = 10, "day of 10 workers"
"""Beside counts, the day is scored on which so many workers are first counted."""
CUTS = ("2016-09-05", "2016-09-21", "2016-10-06")


@dataclass(frozen=True)
class Trial:
    """What all colonies of a file have in common.

    Attributes
    ----------
    counts : DataFrame
        Columns colony, date, and the stages.
    species : str or Species
    warm_c : float
        Temperature while awake. [°C]
    rest : tuple of str, or None
        First day of the rest, and the day on which it is over.
    rest_c : float
    cuts : tuple of str
    until : str
        Counts after this date are not looked at.
    founded : bool
        Whether logs begin with the founding.
    draws : int
    """

    counts: pd.DataFrame
    species: ag.Species | str
    warm_c: float
    rest: tuple[str, str] | None
    rest_c: float = 8.0
    cuts: tuple[str, ...] = CUTS
    until: str = "2017-04-30"
    founded: bool = True
    draws: int = 400

    @property
    def temperature(self) -> ag.Temperature:
        """What all colonies lived in."""
        plan = ag.constant(self.warm_c)
        if self.rest is None:
            return plan
        return plan.rest(*self.rest, temperature=self.rest_c)

    @property
    def colonies(self) -> list[str]:
        """Colonies with counts on at least ten days."""
        days = self.counts.groupby("colony")["date"].nunique()
        return sorted(days.index[days >= 10])


def one_colony(colony: str, trial: Trial) -> pd.DataFrame:
    """Score the forecasts of one colony from all cuts; a row for each later count."""
    log = trial.counts[trial.counts["colony"] == colony].dropna(subset=list(STAGES), how="all")
    parts = [_from_cut(colony, log, pd.Timestamp(cut), trial) for cut in trial.cuts]
    return pd.concat([part for part in parts if len(part)], ignore_index=True)


def _from_cut(colony: str, log: pd.DataFrame, cut: pd.Timestamp, trial: Trial) -> pd.DataFrame:
    known = log[log["date"] <= cut]
    later = log[(log["date"] > cut) & (log["date"] <= pd.Timestamp(trial.until))]
    if len(known) < 2 or later.empty:
        return pd.DataFrame()
    cells = {s: known[s].map(lambda n: "" if pd.isna(n) else str(int(n))) for s in STAGES}
    counts = ag.read_counts(known[["date", *STAGES]].assign(**cells))
    fit = ag.fit(
        counts,
        trial.temperature,
        trial.species,
        queen_since=counts.start if trial.founded else None,
        hemisphere="north",
        rng=1,
    )
    days = (later["date"].max() - counts.end).days
    rng = np.random.default_rng(2)
    ahead = fit.forecast(days=days, temperature=trial.temperature, draws=trial.draws, rng=1)
    x = fit.estimate.draw(trial.draws, rng)
    scale = fit.estimate.error_scale * np.exp(
        fit.estimate.error_spread * rng.standard_normal(trial.draws)
    )
    seen = fit.model.prior.seen(x, ahead.paths[..., 3])
    ours = observed_counts(ahead.paths, seen, scale, rng)
    usual = _profile_alone(fit, days, trial, rng)
    looks = (later["date"] - counts.end).dt.days.to_numpy()
    rest = np.inf if trial.rest is None else (pd.Timestamp(trial.rest[0]) - counts.end).days
    rest = min(rest, ours.shape[1])
    rows = _day_of(colony, cut, looks, later["workers"].to_numpy(), ours[..., 3], known, rest)
    for _, look in later.iterrows():
        step = (look["date"] - counts.end).days
        others = trial.counts[
            (trial.counts["date"] == look["date"]) & (trial.counts["colony"] != colony)
        ]
        for k, stage in enumerate(STAGES):
            true = look[stage]
            before = known[stage].dropna()
            if pd.isna(true) or before.empty:
                continue
            low, q25, q75, high = np.quantile(ours[:, step, k], [0.05, 0.25, 0.75, 0.95])
            below, same = (ours[:, step, k] < true).mean(), (ours[:, step, k] == true).mean()
            pit = below + rng.random() * same
            rows.append(
                {
                    "colony": colony, "cut": cut, "stage": stage, "ahead": step, "true": true,
                    "low": low, "high": high, "pit": pit,
                    "crps": crps(ours[:, step, k], true),
                    "persistence": abs(before.iloc[-1] - true),
                    "profile": crps(usual[:, step, k], true),
                    "others": crps(others[stage].dropna().to_numpy(float), true)
                    if others[stage].notna().any() else np.nan,
                    "strain": fit.estimate.dispersion,
                }
            )  # fmt: skip
    return pd.DataFrame(rows)


def _day_of(
    colony: str,
    cut: pd.Timestamp,
    looks: np.ndarray,
    counted: np.ndarray,
    ours: np.ndarray,
    known: pd.DataFrame,
    rest: float,
) -> list[dict[str, object]]:
    """Score the first look at which so many workers are counted, in days from the cut.

    Where that is not before the rest, it is scored as if it was when the rest begins.
    """
    looks, counted = looks[looks < rest], counted[looks < rest]
    if (known["workers"] >= WORKERS).any() or not len(looks):
        return []
    reached, there = ours[:, looks] >= WORKERS, counted >= WORKERS
    days = np.where(reached.any(axis=1), looks[reached.argmax(axis=1)], rest)
    true = looks[there.argmax()] if there.any() else rest
    # Looks come every few days, so that a day is one of few: ties count by half.
    pit = (days < true).mean() + 0.5 * (days == true).mean()
    return [
        {
            "colony": colony, "cut": cut, "stage": DAY, "ahead": true, "true": true, "pit": pit,
            "crps": crps(days, true), "persistence": np.nan, "profile": np.nan, "others": np.nan,
        }
    ]  # fmt: skip


def _profile_alone(fit: ag.Fit, days: int, trial: Trial, rng: np.random.Generator) -> np.ndarray:
    """What a keeper would count of colonies of the profile from the cut on."""
    held = held_at_first(fit.counts)
    paths = species_average(fit.history, held, fit.days + days, trial.draws, rng, trial.temperature)
    prior = fit.model.prior
    seen = prior.seen(rng.standard_normal((trial.draws, len(prior))), paths[..., 3])
    scale = np.exp(ERROR_SPREAD * rng.standard_normal(trial.draws))
    return observed_counts(paths[:, fit.days :], seen[:, fit.days :], scale, rng)


def run(trial: Trial, processes: int = 2) -> pd.DataFrame:
    """Score all colonies of a trial; a row for each later count."""
    with ProcessPoolExecutor(processes) as pool:
        parts = list(pool.map(partial(one_colony, trial=trial), trial.colonies))
    return pd.concat(parts, ignore_index=True)


def summary(rows: pd.DataFrame) -> pd.DataFrame:
    """Scores in all, by stage, and by how far ahead; what is scored is told by `by`."""
    days, rows = rows[rows["stage"] == DAY], rows[rows["stage"] != DAY]
    horizon = pd.cut(rows["ahead"], [0, *HORIZONS.values()], labels=list(HORIZONS))
    groups = {("all", "all"): rows}
    groups |= {("stage", stage): part for stage, part in rows.groupby("stage")}
    groups |= {("ahead", h): part for h, part in rows.groupby(horizon, observed=True)}
    groups |= {
        (stage, h): part
        for (stage, h), part in rows.groupby(["stage", horizon], observed=True)
    }  # fmt: skip
    if len(days):
        groups[("date", DAY)] = days
    found = []
    for (by, name), part in groups.items():
        total = part[["crps", "persistence", "profile", "others"]].sum()
        both = part.dropna(subset=["others"])
        found.append(
            {
                "by": by,
                "of": name,
                "counts": len(part),
                "held_90": part["pit"].between(0.05, 0.95).mean(),
                "held_50": part["pit"].between(0.25, 0.75).mean(),
                "crps": part["crps"].mean(),
                "over_persistence": total["crps"] / (total["persistence"] or np.nan),
                "over_profile": total["crps"] / (total["profile"] or np.nan),
                "over_others": both["crps"].sum() / (both["others"].sum() or np.nan),
            }
        )
    return pd.DataFrame(found)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("counts", type=Path)
    parser.add_argument("--species", default="lasius-niger")
    parser.add_argument("--warm", type=float, required=True, help="°C")
    parser.add_argument("--rest", nargs=2, metavar=("FIRST", "OVER"))
    parser.add_argument("--cuts", nargs="+", default=list(CUTS))
    parser.add_argument("--until", default="2017-04-30")
    parser.add_argument("--acquired", action="store_true", help="logs begin with a grown colony")
    parser.add_argument("--since", help="leave out counts before this date")
    parser.add_argument("--out", type=Path, help="write the summary there as CSV")
    asked = parser.parse_args()
    counts = pd.read_csv(asked.counts, parse_dates=["date"])
    if asked.since:
        counts = counts[counts["date"] >= pd.Timestamp(asked.since)]
    trial = Trial(
        counts,
        asked.species,
        asked.warm,
        None if asked.rest is None else tuple(asked.rest),
        cuts=tuple(asked.cuts),
        until=asked.until,
        founded=not asked.acquired,
    )
    found = summary(run(trial))
    print(found.round(2).to_string(index=False))
    if asked.out:
        found.round(4).to_csv(asked.out, index=False)


if __name__ == "__main__":
    main()
