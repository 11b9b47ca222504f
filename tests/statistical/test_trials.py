"""The forecast on colonies whose future is known; run with ``pytest -m slow -s tests/statistical``.

The colonies grow by another law than the package's (`simulators.other_laws.care_limited`); their
parameters lie around the profile of Lasius niger. The seeds were fixed before the first run.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from simulators.notes import thin
from simulators.one_ant import TYPICAL, simulate as one_ant
from simulators.other_laws import care_limited

import antgrowth as ag
from statistical.trials import (
    HORIZON,
    START,
    Score,
    central_values,
    days_of,
    make_trials,
    profile_spread,
    score,
    species_average,
    summarise,
)

SEEDS = (20260301, 20260302, 20260303)
COLONIES = 90
SPECIES = ag.load_species("lasius-niger")
CENTRAL = central_values(SPECIES, TYPICAL)
SPREAD = profile_spread(SPECIES, TYPICAL)


def run(simulator, seed: int, colonies: int, temperature_c: float = 24.0) -> list[Score]:
    # Trials have a source of chance of their own: they stay the same whatever the package draws.
    rng, own = np.random.default_rng(seed), np.random.default_rng(seed + 1)
    average = species_average(SPECIES, ag.constant(temperature_c), own)
    trials = make_trials(
        simulator, CENTRAL, colonies, rng, spread=SPREAD, temperature_c=temperature_c, dt=0.25
    )
    return [score(trial, SPECIES, average, own) for trial in trials]


def show(title: str, rows: dict[str, dict[str, float]]) -> None:
    print(f"\n{title}\n{pd.DataFrame(rows).T.round(2).to_string()}")


@pytest.mark.slow
def test_intervals_hold_under_another_law():
    scores = {seed: run(care_limited, seed, COLONIES) for seed in SEEDS}
    found = {f"seed {seed}": summarise(some) for seed, some in scores.items()}
    show("Laying by another law, 90 colonies a seed, notes to 35-80 % of the way", found)
    for numbers in found.values():
        assert 84 <= numbers["held 90 %"] <= 96
        assert 38 <= numbers["held 50 %"] <= 62
        assert numbers["ratio"] <= 0.5


@pytest.mark.slow
def test_thinning_the_notes_widens_the_interval():
    """Where notes reach far enough to tell something of the growth still to come.

    Cut earlier, both logs leave more of it to the profile, and chance decides more often which
    interval is wider: of notes to 35-80 % of the way, about 80 % of the pairs widened.
    """
    rng = np.random.default_rng(20260304)
    trials = make_trials(one_ant, CENTRAL, 40, rng, spread=SPREAD, dt=0.25, cuts=(0.65, 0.95))
    wider = []
    for trial in trials:
        widths = []
        # Both logs end on the same look: what thins is the notes, not how far they reach.
        rows = trial.log.iloc[::-1].reset_index(drop=True)
        for log in (trial.log, thin(rows).iloc[::-1].reset_index(drop=True)):
            fit = ag.fit(log, ag.constant(24.0), SPECIES, queen_since=START, rng=1)
            days = HORIZON - fit.days
            arrival = fit.forecast(days, ag.constant(24.0), draws=4000, rng=1).arrival(workers=30)
            # Dates are whole days: the arrivals of a day are spread over it, or many widths tie.
            low, high = np.quantile(spread_over_days(days_of(arrival, HORIZON)), [0.05, 0.95])
            widths.append(high - low)
        wider.append(widths[1] > widths[0])
    print(f"\nThinned to every second row: wider in {sum(wider)} of {len(wider)}")
    assert np.mean(wider) >= 0.85


def spread_over_days(days: np.ndarray) -> np.ndarray:
    """The same arrivals, spread evenly over the day before the evening at which they showed."""
    place = np.random.default_rng(1).random(len(days))
    return days - place


def test_a_few_colonies_of_the_packages_own_law():
    """A quick look at every run of the tests; the study proper is the slow one."""
    found = summarise(run(one_ant, seed=7, colonies=16))
    assert found["held 90 %"] >= 60  # 16 colonies: about two standard errors are 15 points
    assert found["ratio"] < 0.8
