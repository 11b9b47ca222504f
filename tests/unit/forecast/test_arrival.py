"""The queen: dates hold if she lives, and what an assumed survival adds to them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.errors import AntgrowthError
from antgrowth.forecast.arrival import CONDITION, YEAR, Arrival
from antgrowth.forecast.plots import plot_arrival

START = pd.Timestamp("2026-09-03")


def arrival(waited, queen_survival: float | None = 0.5, horizon: int = 800) -> Arrival:
    waited = np.asarray(waited, float)
    dates = np.full(len(waited), np.datetime64("NaT"), "datetime64[D]")
    come = ~np.isnan(waited)
    dates[come] = np.datetime64(START, "D") + waited[come].astype(int)
    return Arrival(30, dates, START, horizon, queen_survival)


def day(number: int) -> pd.Timestamp:
    return START + pd.Timedelta(days=number)


@pytest.fixture(scope="module")
def forecast() -> ag.Forecast:
    notes = pd.DataFrame({"date": ["2026-07-20", "2026-09-03"], "eggs": [9, 4], "workers": [0, 4]})
    fit = ag.fit(notes, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=1)
    return fit.forecast(days=200, draws=100, rng=2)


def test_by_hand():
    # A third each after two years (a quarter of the queens live), now, and never.
    some = arrival([2 * YEAR - 0.5, 0, np.nan], queen_survival=0.5)
    assert some.chance_with_queen_by(day(0)) == pytest.approx(1 / 3)
    assert some.chance_with_queen_by(day(729)) == pytest.approx(1 / 3)
    assert some.chance_with_queen_by(day(800)) == pytest.approx((1 + 0.25) / 3, abs=1e-3)


def test_against_queens_drawn_one_by_one():
    rng = np.random.default_rng(4)
    waited = np.ceil(rng.gamma(9, 20, 200_000))
    some = arrival(waited, queen_survival=0.7)
    life = rng.exponential(-YEAR / np.log(0.7), len(waited))
    for limit in (100, 180, 400):
        drawn = (waited <= limit) & (life > waited)
        assert some.chance_with_queen_by(day(limit)) == pytest.approx(drawn.mean(), abs=0.004)


def test_dates_are_read_as_those_of_a_log():
    some = arrival(np.arange(1, 101))
    assert some.chance_by("10.09.2026") == some.chance_by("2026-09-10") == pytest.approx(0.07)
    for wrong in ("05/10/2026", 20261005, None, pd.NaT):
        with pytest.raises(AntgrowthError, match="date = "):
            some.chance_by(wrong)


def test_never_above_the_chance_if_she_lives():
    waited = [*np.arange(1, 90), *[np.nan] * 10]
    for limit in (0, 20, 60, 800):
        chances = [arrival(waited, s).chance_with_queen_by(day(limit)) for s in (0.2, 0.8, 1.0)]
        assert chances == sorted(chances)
        assert chances[-1] == pytest.approx(arrival(waited).chance_by(day(limit)))


def test_dates_stay_conditional(forecast):
    with_her, alone = forecast.arrival(8, queen_survival=0.5), forecast.arrival(8)
    assert np.array_equal(with_her.dates, alone.dates, equal_nan=True)
    assert with_her.interval(0.9) == alone.interval(0.9) and with_her.median == alone.median
    assert with_her.queen_survival == 0.5 and alone.queen_survival is None


def test_it_is_told_beside_the_condition():
    some = arrival([100] * 40, horizon=200)
    assert some.sentence() == (
        f"30 workers: 2026-12-12 to 2026-12-12 (90% interval), most likely about 2026-12-12, "
        f"{CONDITION}; 83 % chance to get there with her by 2027-03-22, assuming that 50 % of such "
        "queens live through a year"
    )
    assert some.summary().splitlines()[-2:] == [
        "queen     50 % of such queens live through a year (assumed)",
        "with her  83 % by 2026-12-12 (over 99 % if she lives), 83 % by 2027-03-22 "
        "(over 99 % if she lives)",
    ]
    assert "with her" in some._repr_html_()
    assert "98.5 % of such queens" in arrival([50] * 9, 0.985).sentence()


def test_nothing_is_told_where_nothing_is_assumed_or_left_to_wait_for():
    assert "with her" not in arrival([100] * 40, None).summary()
    assert arrival([0] * 40).sentence() == "30 workers: reached by 2026-09-03"
    assert "with her" not in arrival([0] * 40).summary()
    assert "83 %" not in arrival([np.nan] * 40).summary()
    assert "under 1 % chance to get there with her" in arrival([np.nan] * 40).sentence()


def test_the_picture_has_a_dashed_line_of_chances_with_her():
    some = arrival([*range(80, 121)], queen_survival=0.3)
    ax = plot_arrival(some)
    dashed = [line for line in ax.lines if line.get_linestyle() == "--"]
    solid = [line for line in ax.lines if len(line.get_xdata()) == 41 and line not in dashed]
    assert len(dashed) == 1
    share = dashed[0].get_ydata() / solid[0].get_ydata()
    expected = [some.chance_with_queen_by(day(d)) / some.chance_by(day(d)) for d in range(80, 121)]
    assert share == pytest.approx(expected)
    assert "dashed: with her, if 30 % of such" in " ".join(
        text.get_text().replace("\n", " ") for text in ax.texts
    )
    plain = plot_arrival(arrival([*range(80, 121)], None))
    assert not [line for line in plain.lines if line.get_linestyle() == "--"]


@pytest.mark.parametrize("share", [0, 0.0, -0.1, 1.2, 80, True, "0.8", float("nan"), (0.5, 0.9)])
def test_what_is_no_survival(forecast, share):
    with pytest.raises(AntgrowthError, match="queen_survival = .*share of such queens that live"):
        forecast.arrival(8, queen_survival=share)


def test_no_chance_without_an_assumption():
    with pytest.raises(AntgrowthError, match="nothing is assumed of the queen. Say which share"):
        arrival([5, 6], None).chance_with_queen_by(day(5))
