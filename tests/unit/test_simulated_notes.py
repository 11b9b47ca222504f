"""Simulated keepers write true logs, and the baselines and scores are what they claim to be."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from simulators import baselines, notes


def rng(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


TRUE = np.column_stack([np.maximum(0, np.arange(200) - lag) for lag in (4, 20, 34, 50)])


def test_a_log_is_text_and_its_first_cells_are_true():
    firsts = 0
    for seed in range(40):
        log = notes.write_log(TRUE, "2026-07-04", rng(seed))
        assert list(log.columns) == ["date", *notes.STAGES]
        day = (pd.to_datetime(log["date"]) - pd.Timestamp("2026-07-04")).dt.days.to_numpy()
        assert np.all(np.diff(day) >= 1) and day[0] < 7
        for column, stage in enumerate(notes.STAGES):
            assert log[stage].str.fullmatch(r"(~?\d+|\d+\+|first|)").all()
            assert log[stage].ne("first").iloc[0]
            for row in np.flatnonzero(log[stage] == "first"):
                firsts += 1
                assert TRUE[day[row], column] > 0
                earlier = log[stage].iloc[:row]
                assert earlier.isin(["", "0"]).all()
                # At most one or two overlooked eggs: detection is 0.93.
                assert TRUE[day[row - 1], column] <= 2
            least = log[stage].str.endswith("+")
            said = log[stage][least].str.rstrip("+").astype(int).to_numpy()
            assert np.all(said >= 30) and np.all(said <= TRUE[day[least], column])
    assert firsts > 20
    assert log.equals(notes.write_log(TRUE, "2026-07-04", rng(39)))


def test_counting_error_detection_gaps_and_styles():
    flat = np.full((40_000, 4), 100)
    log = notes.write_log(flat, "1900-01-01", rng(), notes.Keeper(rough=0.0, at_least=0.0))
    for stage, seen in {"eggs": 93, "larvae": 96, "pupae": 100, "workers": 75}.items():
        _, number = notes.numbers(log, stage)
        assert number.mean() == pytest.approx(seen, rel=0.01)
        assert np.std(number) > 0.07 * seen
    assert 40_000 / len(log) == pytest.approx(7.0, rel=0.03)

    def cells(style: str) -> pd.DataFrame:
        return notes.write_log(TRUE, "2026-07-04", rng(), notes.Keeper(style=style))

    sightings = cells("sightings")[list(notes.STAGES)]
    assert (sightings == "first").sum().eq(1).all()
    assert sightings.isin(["", "first"]).all(axis=None)
    workers = cells("workers")
    assert workers[["eggs", "larvae", "pupae"]].eq("").all(axis=None)
    assert notes.numbers(workers)[1].max() > 100
    both = cells("sightings and workers")
    assert (both["eggs"] == "first").sum() == 1 and len(notes.numbers(both)[0]) > 5
    assert notes.thin(both)["date"].tolist() == both["date"].tolist()[::2]
    with pytest.raises(ValueError, match="allowed are"):
        cells("haiku")

    assert notes.days_to(TRUE) == 80 and notes.days_to(TRUE[:60]) == np.inf
    last = notes.cut(80.0, 0.55)
    cut = notes.write_log(TRUE, "2026-07-04", rng(), last_day=last)
    assert last == 44 and cut["date"].max() <= "2026-08-17"
    assert notes.write_log(TRUE, "2026-07-04", rng(), first_day=60)["date"].min() == "2026-09-02"
    with pytest.raises(ValueError, match="never reaches"):
        notes.cut(np.inf, 0.5)


def test_log_linear_growth_is_extrapolated_and_decline_is_not():
    day = np.arange(0, 50, 7.0)
    answer = baselines.log_linear_arrival(day, 2 * np.exp(0.04 * day), rng())
    assert answer.day == pytest.approx(np.log(15) / 0.04, abs=0.5)
    assert answer.low < answer.day < answer.high
    noisy = 2 * np.exp(0.04 * day + 0.2 * rng(3).standard_normal(day.size))
    wide = baselines.log_linear_arrival(day, noisy, rng())
    assert wide.high - wide.low > 3 * (answer.high - answer.low)
    for none in ([0, 0, 0, 5], [9, 8, 7, 6], [4, 4, 4, 4]):
        answer = baselines.log_linear_arrival(day[:4], np.array(none), rng())
        assert np.isnan(answer.day) and np.isnan(answer.low) and np.isnan(answer.draws).all()


def test_scores_have_their_closed_forms():
    assert baselines.crps(np.array([0.0, 4.0]), 1.0) == pytest.approx(2 - 1)
    assert baselines.crps(np.array([0.0, 4.0]), 1.0, fair=True) == pytest.approx(2 - 2)
    draws = stats.norm.ppf((np.arange(1000) + 0.5) / 1000)
    normal = 0.7 * (2 * stats.norm.cdf(0.7) - 1) + 2 * stats.norm.pdf(0.7) - 1 / np.sqrt(np.pi)
    assert baselines.crps(draws, 0.7) == pytest.approx(normal, abs=0.002)

    low = np.array([0.0, 0.0, np.nan, 2.0])
    assert baselines.coverage(np.ones(4), low, low + 1) == (0.5, 0.25)
    whole = rng().poisson(3.0, (4000, 20))
    pits = [baselines.randomised_pit(row[1:], row[0], rng(i)) for i, row in enumerate(whole)]
    assert stats.kstest(pits, "uniform").pvalue > 0.001
    share, error = baselines.pit_coverage(np.array(pits))
    assert abs(share - 0.9) < 4 * error
