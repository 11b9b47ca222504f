"""Is a look worth what is promised of it? Counts are made, fitted, and forecast again."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor

import numpy as np
import pandas as pd
import pytest
from simulators.notes import Keeper
from simulators.one_ant import TYPICAL, simulate as one_ant

import antgrowth as ag
from antgrowth._core.stages import STAGES
from antgrowth.evaluation.next_count import likely_window, window_days
from statistical.trials import LAW, START, Trial, central_values, make_trials, profile_spread

SPECIES = ag.load_species("lasius-niger")
COLONIES = 60
DAYS = 500
"""From the founding to the end of all forecasts: the summer after the winter lies within. [day]"""


def obtained(trial: Trial, look: pd.Series, side: int, rng: np.random.Generator) -> float:
    """Width of the interval after a look was really made, on the same side of a winter. [day]"""
    day = (look["date"] - pd.Timestamp(START)).days
    row = {"date": f"{look['date']:%Y-%m-%d}"} | dict.fromkeys(STAGES, "")
    keeper, true = Keeper(), trial.counts[day]
    for place, stage in enumerate(STAGES):
        if stage not in look["stages"]:
            continue
        share = keeper.detection.get(stage, 1.0)
        if stage == "workers":
            share = keeper.seen_in_crowd
            share += (1.0 - share) / (1.0 + true[place] / 100.0)
        seen = rng.binomial(true[place], share) * np.exp(
            keeper.error_log_sd * rng.standard_normal()
        )
        row[stage] = str(round(seen))
    log = pd.concat([trial.log, pd.DataFrame([row])], ignore_index=True)
    fit = ag.fit(log, trial.temperature, SPECIES, queen_since=START, rng=1)
    arrival = fit.forecast(DAYS - day, trial.temperature, rng=1).arrival(30)
    return window_days((arrival.split() or (arrival,))[side])


def one(number: int) -> dict[str, float] | None:
    """The advised look and a random one of a colony: promised and obtained widths."""
    rng = np.random.default_rng((20261129, number))
    central, spread = central_values(SPECIES, TYPICAL), profile_spread(SPECIES, TYPICAL)
    trial = make_trials(one_ant, central, 1, rng, spread=spread, **LAW)[0]
    fit = ag.fit(trial.log, trial.temperature, SPECIES, queen_since=START, rng=1)
    ahead = fit.forecast(
        DAYS - (fit.counts.end - pd.Timestamp(START)).days, trial.temperature, rng=1
    )
    try:
        looks = ag.next_count(ahead)
    except ag.AntgrowthError:
        return None  # the date is not found, or there already
    table = looks.frame()
    alone = table[table["stages"].map(len) == 1]
    some = alone.iloc[int(rng.integers(len(alone)))]
    best = table.iloc[int(table["worth"].argmax())]
    arrival = ahead.arrival(30)
    split = arrival.split()
    side = -1 if split and len(likely_window(arrival).dates) == len(split[1].dates) else 0
    return {
        "now": looks.now,
        "split": float(split is not None),
        "advised": float(looks.best is not None),
        "promised": best["width"],
        "obtained": obtained(trial, best, side, rng),
        "promised_random": some["width"],
        "obtained_random": obtained(trial, some, side, rng),
    }


@pytest.mark.slow
def test_looks_are_worth_what_is_promised():
    with ProcessPoolExecutor(2) as pool:
        rows = [row for row in pool.map(one, range(COLONIES)) if row is not None]
    found = pd.DataFrame(rows).dropna()
    print(f"\n{found.describe().round(1).to_string()}")
    promised = (found["now"] - found["promised"]).mean()
    narrowed = (found["now"] - found["obtained"]).mean()
    told = found[found["advised"] > 0]
    better = (told["obtained"] <= told["obtained_random"]).mean()
    print(f"narrowed by {narrowed:.1f} days, promised {promised:.1f}; better {better:.0%}")
    assert len(found) >= 0.7 * COLONIES
    assert 0.8 <= narrowed / promised <= 1.2
    assert better >= 0.7
