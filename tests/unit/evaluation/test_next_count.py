"""What a look to come should tell of a date."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth._core.stages import STAGES

NOTES = pd.DataFrame(  # an invented colony
    {
        "date": ["2026-07-20", "2026-08-14", "2026-09-03"],
        "eggs": ["52", "~33", "30"],
        "larvae": ["", "12", ""],
        "pupae": ["", "first", "11"],
        "workers": ["0", "0", "6"],
    }
)


@pytest.fixture(scope="module")
def ahead() -> ag.Forecast:
    notes = ag.read_counts(NOTES, today="2027-07-01", name="invented")
    fit = ag.fit(notes, ag.constant(24.0), "generic-tropical", queen_since="2026-07-01", rng=1)
    return fit.forecast(days=360, temperature=ag.constant(24.0), draws=400, rng=1)


@pytest.fixture(scope="module")
def advice(ahead) -> ag.NextCount:
    return ag.next_count(ahead, workers=30)


def test_every_day_and_choice_of_stages_is_weighed(ahead, advice):
    table = advice.frame()
    first, last = ahead.arrival(30).interval()
    days = table["date"].nunique()
    assert len(table) == days * (2 ** len(STAGES) - 1)
    assert table["date"].min() == ahead.start + pd.Timedelta("1D")
    assert table["date"].max() <= first
    assert advice.now == (last - first).days + 1
    assert table["width"].between(0, advice.now).all()
    assert table["narrowing"].to_numpy() == pytest.approx(1 - table["width"] / advice.now)


def test_more_that_is_counted_tells_more(advice):
    table = advice.frame().set_index(["date", "stages"])["width"].unstack()
    for stage in STAGES:
        assert (table[STAGES] <= table[(stage,)] * 1.02).all()


def test_counting_what_brings_the_workers_tells_most_at_once(advice):
    """Tomorrow's workers are known nearly; the brood that will hatch is not."""
    first = advice.frame().query("date == date.min()").set_index("stages")["narrowing"]
    assert first[STAGES] > 0.02
    assert first[("eggs", "larvae", "pupae")] > 0.5 * first[STAGES]


def test_the_advice_is_the_look_worth_most(advice):
    best, table = advice.best, advice.frame()
    assert best is not None
    assert best["worth"] == table["worth"].max()
    said = advice.sentence()
    assert (
        said.startswith("Count ") and f"from {advice.now:.0f} to {best['width']:.0f} days" in said
    )
    assert said in str(advice) and said in repr(advice)


def test_a_founding_queen_is_left_alone():
    """Before the first workers a look has to be worth far more."""
    notes = ag.read_counts(NOTES.iloc[:1], today="2027-07-01", name="invented")
    fit = ag.fit(notes, ag.constant(24.0), "lasius-niger", queen_since="2026-07-01", rng=1)
    ahead = fit.forecast(days=360, temperature=ag.constant(24.0), draws=400, rng=1)
    advice = ag.next_count(ahead, workers=5, days=14)
    assert advice.frame()["with_workers"].max() < 0.1
    assert (advice.frame()["cost"] > 0.15).all()
    if advice.best is None:
        assert "A founding queen is best left alone" in advice.sentence()
    else:
        assert advice.best["narrowing"] > 0.25


def test_where_a_winter_splits_the_dates_one_side_counts():
    notes = ag.read_counts(NOTES, today="2027-07-01", name="invented")
    fit = ag.fit(notes, ag.constant(24.0), "lasius-niger", queen_since="2026-07-01", rng=1)
    ahead = fit.forecast(days=400, draws=400, rng=1)
    arrival = ahead.arrival(25)
    before, after = arrival.split()
    assert len(before.dates) > len(after.dates)
    advice = ag.next_count(ahead, workers=25, days=20)
    first, last = arrival.windows()[0]
    assert advice.now == (last - first).days + 1
    first, last = arrival.interval()
    assert advice.now < 0.3 * (last - first).days
    assert advice.frame()["width"].between(0, advice.now * (1 + 1e-9)).all()
    assert "if it comes before the pause in its dates" in advice.sentence()


def test_few_simulated_colonies_tell_nothing(ahead):
    few = ahead.fit.forecast(days=360, temperature=ag.constant(24.0), draws=20, rng=1)
    table = ag.next_count(few, workers=30, days=3).frame()
    assert (table.loc[table["stages"] == STAGES, "narrowing"] == 0).all()


def test_what_cannot_be_narrowed_is_told(ahead):
    with pytest.raises(ag.AntgrowthError, match="reached by"):
        ag.next_count(ahead, workers=1)
    with pytest.raises(ag.AntgrowthError, match="Forecast farther"):
        ag.next_count(ahead, workers=100_000)


def test_the_picture_draws_the_table(advice):
    ax = advice.plot()
    lines = {line.get_label(): line for line in ax.get_lines()}
    own = advice.frame().query("stages == @stages", local_dict={"stages": ("workers",)})
    assert np.array_equal(lines["workers"].get_ydata(), own["width"])
    assert "".join(ax.get_title(loc="left").split()) == "".join(advice.sentence().split())
