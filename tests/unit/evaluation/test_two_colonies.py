"""Which of two colonies does better."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag


def forecast(workers: list[int], name: str) -> ag.Forecast:
    notes = pd.DataFrame({"date": ["2026-08-20", "2026-09-20", "2026-10-20"], "workers": workers})
    log = ag.read_counts(notes, today="2027-07-01", name=name)  # invented
    fit = ag.fit(log, ag.constant(25.0), "generic-tropical", queen_since="2026-07-01", rng=1)
    return fit.forecast(days=200, temperature=ag.constant(25.0), draws=300, rng=1)


@pytest.fixture(scope="module")
def quick() -> ag.Forecast:
    return forecast([6, 22, 55], "quick")


@pytest.fixture(scope="module")
def slow() -> ag.Forecast:
    return forecast([2, 5, 9], "slow")


def test_the_quicker_one_is_told(quick, slow):
    found = ag.compare_colonies(quick, slow, workers=60)
    assert found.sooner > 0.95
    assert found.sentence().startswith("quick needs fewer days to 60 workers as kept")
    assert "rests on" in str(found) and "20 October 2026" in str(found)


def test_the_other_way_round_it_is_the_same(quick, slow):
    one, other = (ag.compare_colonies(*pair, workers=60) for pair in ((quick, slow), (slow, quick)))
    assert one.sooner == pytest.approx(1 - other.sooner)
    assert one.quicker == pytest.approx(1 - other.quicker)


def test_a_colony_beside_itself_is_open(slow):
    found = ag.compare_colonies(slow, slow, workers=30)
    assert found.sooner == 0.5 and found.quicker == 0.5
    assert found.sentence().startswith("Open which needs fewer days")
    assert found.names == ("slow (first)", "slow (second)")


def test_the_table_counts_days_from_the_founding(quick, slow):
    found = ag.compare_colonies(quick, slow, workers=60)
    ages = (quick.arrival(60).dates - np.datetime64("2026-07-01", "D")).astype(float)
    assert found.frame().loc[0, "age_median"] == pytest.approx(np.median(ages), abs=1)


def test_a_number_that_is_not_reached_is_told(quick, slow):
    with pytest.raises(ag.AntgrowthError, match="Forecast farther"):
        ag.compare_colonies(quick, slow, workers=50_000)
