"""How often healthy colonies are warned about, and how soon a loss of brood is noticed."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from simulators.individuals import Loss
from simulators.notes import Keeper, cut, days_to, write_log
from simulators.one_ant import TYPICAL, simulate as one_ant
from simulators.other_laws import care_limited, draw_colony

import antgrowth as ag
from statistical.trials import HORIZON, START, central_values, profile_spread

SEED = 20261102
COLONIES = 60
SPECIES = ag.load_species("lasius-niger")


def twins(simulator, rng: np.random.Generator):
    """Logs of a healthy colony, whole and up to some day, and of its twin that lost half its brood.

    The twin's log ends with the second look after the loss; so does the shorter healthy log.
    """
    central = central_values(SPECIES, TYPICAL)
    spread = profile_spread(SPECIES, TYPICAL)
    hourly = np.full((HORIZON, 24), 24.0)
    while True:
        drawn, seed = draw_colony(central, spread, rng), int(rng.integers(2**31))
        path = simulator(drawn, hourly, 1, np.random.default_rng(seed), dt=0.25)[0]
        arrival = float(days_to(path))
        if not np.isfinite(arrival):
            continue
        day = int(rng.uniform(0.3, 0.7) * arrival)
        robbed = simulator(
            drawn, hourly, 1, np.random.default_rng(seed), dt=0.25, losses=[Loss(day, 0.5)]
        )[0]
        seed = int(rng.integers(2**31))
        whole, lost = (
            write_log(
                counts, START, np.random.default_rng(seed), Keeper(), last_day=cut(arrival, 0.9)
            )
            for counts in (path, robbed)
        )
        looks = (pd.to_datetime(whole["date"]) - pd.Timestamp(START)) / pd.Timedelta("1D")
        after = np.flatnonzero(looks >= day)
        noted = (whole.iloc[: after[1] + 1, 1:] != "").any(axis=None) if len(after) > 1 else False
        if noted:
            yield whole, whole.iloc[: after[1] + 1], lost.iloc[: after[1] + 1]


def rates(simulator, seed: int) -> dict[str, float]:
    """Shares of colonies with at least one alert. [%]"""
    pairs = twins(simulator, np.random.default_rng(seed))
    warned = []
    for _, logs in zip(range(COLONIES), pairs, strict=False):
        fits = (ag.fit(log, ag.constant(24.0), SPECIES, queen_since=START, rng=1) for log in logs)
        warned.append([len(fit.alerts()) > 0 for fit in fits])
    whole, short, lost = 100 * np.mean(warned, axis=0)
    return {"healthy, whole log": whole, "healthy, cut": short, "half lost, two looks on": lost}


@pytest.fixture(scope="module")
def found() -> pd.DataFrame:
    """Rates under the package's law and under another, one row a law."""
    rows = {
        "the package's law": rates(one_ant, SEED),
        "clutches, another law": rates(care_limited, SEED + 1),
    }
    table = pd.DataFrame(rows).T
    print(f"\nColonies with an alert [%], {COLONIES} of each\n{table.round(0).to_string()}")
    return table


@pytest.mark.slow
def test_healthy_colonies_are_left_alone(found):
    """Rough cells and missing stages are in all logs.

    Queens of the other law lay by the clutch, which looks like losses and recoveries: there, more
    false alarms are the price of noticing anything.
    """
    own, other = found.to_dict("records")
    assert own["healthy, whole log"] <= 5 and own["healthy, cut"] <= 5
    assert other["healthy, whole log"] <= 15


@pytest.mark.slow
@pytest.mark.xfail(
    strict=True,
    reason="two looks after half the brood is lost, 38 % and 42 % are noticed: real colonies stray "
    "so far from the law by themselves that half a brood is often no surprise",
)
def test_losses_are_noticed(found):
    own, other = found.to_dict("records")
    assert own["half lost, two looks on"] >= 70
    assert other["half lost, two looks on"] >= 50
