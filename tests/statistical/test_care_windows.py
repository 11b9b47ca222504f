"""Windows of a care plan on colonies whose future is known; run with ``pytest -m slow -s``.

The colonies grow by another law than the package's, their parameters lie around the profile of
Lasius niger, and the milestone is the one that a keeper waits for: 30 workers. Each log is read
again and again with one look more, up to its whole. The seed was fixed before the first run.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from simulators.one_ant import TYPICAL
from simulators.other_laws import care_limited

import antgrowth as ag
from statistical.trials import HORIZON, START, Trial, central_values, make_trials, profile_spread

SEED = 20260610
COLONIES, LOOKS = 40, 6
"""Colonies, and how many of the last looks are added one by one."""

SPECIES = ag.load_species("lasius-niger")
THIRTY = {"id": "thirty", "title": "30 workers", "triggers": [{"stage": "workers", "count": 30}]}


def window(trial: Trial, rows: int) -> tuple[float, float]:
    """First and last day of the milestone's window with so many rows of the log."""
    log = trial.log.iloc[:rows]
    fit = ag.fit(log, trial.temperature, SPECIES, queen_since=START, rng=1)
    # The plan is warm all year, as the simulated colonies live: no rest is to be added.
    ahead = fit.forecast(HORIZON - fit.days, trial.temperature, draws=500, rng=1)
    found = ag.care_plan(ahead, milestones=[THIRTY])["thirty"]
    days = [
        HORIZON if date is pd.NaT else (date - pd.Timestamp(START)).days for date in found.window
    ]
    return days[0], days[1]


@pytest.mark.slow
def test_windows_shorten_with_each_count_and_hold_the_day():
    rng = np.random.default_rng(SEED)
    central = central_values(SPECIES, TYPICAL)
    made = make_trials(
        care_limited, central, 3 * COLONIES, rng, spread=profile_spread(SPECIES, TYPICAL), dt=0.25,
        cuts=(0.6, 0.95),
    )  # fmt: skip
    trials = [trial for trial in made if len(trial.log) >= LOOKS + 2][:COLONIES]
    assert len(trials) == COLONIES
    rows = []
    for number, trial in enumerate(trials):
        for more in range(LOOKS):
            first, last = window(trial, len(trial.log) - LOOKS + 1 + more)
            held = first <= trial.truth <= last
            rows.append({"colony": number, "looks": more, "width": last - first, "held": held})
    table = pd.DataFrame(rows)
    by_looks = table.groupby("looks").agg(width=("width", "mean"), held=("held", "mean"))
    print(f"\nWindow of 30 workers, {COLONIES} colonies, by looks added\n{by_looks.round(3)}")
    print(f"held in all: {100 * table['held'].mean():.1f} %")
    assert (by_looks["width"].diff().dropna() < 0).all()
    assert 0.84 <= table["held"].mean() <= 0.96
