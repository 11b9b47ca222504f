"""The queen: dates hold if she lives, and what an assumed survival adds to them."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from grown_ahead import fitted
from pages import words_of

import antgrowth as ag
from antgrowth.colony.many import Kept
from antgrowth.colony.page import Page
from antgrowth.colony.shelf_page import _row as shelf_row
from antgrowth.errors import AntgrowthError
from antgrowth.forecast.arrival import CONDITION, YEAR, Arrival, arrival_title
from antgrowth.forecast.plots import plot_arrival
from antgrowth.inference.species_rank import place_in_species

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


class TestAPauseInTheMidst:
    """A date that a winter splits is told as two."""

    def winter(self, early: int, late: int, never: int = 0, rest: int | None = 40) -> Arrival:
        """So many colonies of 100 from day 21 to 30, from 181 to 200, and beyond the horizon."""
        waited = [
            *np.resize(np.arange(21, 31), early),
            *np.resize(np.arange(181, 201), late),
            *[np.nan] * never,
        ]
        found = arrival(waited, queen_survival=None, horizon=250)
        return replace(found, rest=None if rest is None else day(rest))

    def test_share_before_and_days_after(self):
        some = self.winter(30, 70)
        words = some.sentence()
        assert "30 workers: before the rest 30 % (2026-09-24 to 2026-10-03), else " in words
        assert "else 2027-03-04 to 2027-03-21 (90% interval of each), if the queen" in words
        assert "most likely" not in words
        assert arrival_title(some) == (
            "30 workers: before the rest 30 % (24 September to 3 October), else 4 to 21 March 2027"
        )

    @pytest.mark.parametrize("early", [50, 49, 51, 6, 94])
    def test_however_they_are_divided(self, early):
        before, after = self.winter(early, 100 - early).split()
        assert len(before.dates) == early
        assert before.dates.max() < after.dates.min()

    def test_too_few_on_one_side_are_no_second_date(self):
        assert self.winter(3, 97).split() is None
        assert "most likely about" in self.winter(3, 97).sentence()

    def test_who_never_arrives_counts_as_later(self):
        words = self.winter(40, 30, 30).sentence()
        assert "before the rest 40 %" in words
        assert f"to beyond {day(250):%Y-%m-%d}" in words

    def test_hardly_any_of_the_later_ones_arrive(self):
        few = self.winter(40, 2, 58)
        assert "(2026-09-24 to 2026-10-03), else hardly before 2027-05-11" in few.sentence()
        assert arrival_title(few).endswith("else hardly before 11 May 2027")
        plot_arrival(few)

    def test_the_picture_has_two_windows_and_no_middle(self):
        some = self.winter(30, 70)
        ax = plot_arrival(some)
        windows = [line for line in ax.lines if line.get_ydata()[0] == 0.9 == line.get_ydata()[-1]]
        assert len(windows) == 2
        said = [text.get_text() for text in ax.texts]
        assert said.count("90% of these") == 2 and not [t for t in said if t.startswith("50 %")]
        assert ax.get_xlabel() == "date of 30 workers"

    def test_one_straggler_bridges_no_winter(self):
        some = self.winter(50, 149)
        dates = np.append(some.dates, np.datetime64(day(100), "D"))
        assert replace(some, dates=dates).split() is not None

    def test_a_shelf_tells_both(self):
        """In the report, on the page, in the finding and in the picture, with one mark a side."""
        fit = fitted()
        some = replace(self.winter(30, 70), workers=30)
        kept = Kept(fit, some, place_in_species(fit), (), 5.0)
        colonies = ag.ColonyFits({"tube": kept}, {}, 30)
        assert "before the rest 30 % (2026-09-24 to 2026-10-03), else" in str(colonies)
        short = "before the rest 30 % (24 September to 3 October), else 4 to 21 March 2027"
        assert f"next to hold 30 workers: tube, {short}" in colonies.sentence()
        (row,) = colonies.table.to_dict("records")
        assert words_of(shelf_row(row, colonies)[3]) == short
        ax = colonies.plot()
        assert len(ax.collections) == 2 and len(ax.lines) == 2
        assert len(ax.get_legend().get_texts()) == 1

    def test_the_levels_are_told_of_each_side(self):
        said = self.winter(30, 70).summary()
        assert "90% before  2026-09-24" in said and "90% after  2027-03-04  2027-03-21" in said

    def test_a_thin_tail_of_latecomers_is_no_second_date(self):
        """As of ants that know no winter, of which a few are far behind."""
        rng = np.random.default_rng(3)
        waited = np.rint(np.exp(rng.normal(4.4, 0.5, 1000)))
        some = arrival(np.where(waited > 300, np.nan, waited), None, horizon=300)
        spread = np.r_[waited[waited < 180][:950], np.linspace(185, 299, 15), [np.nan] * 35]
        assert some.split() is None and arrival(spread, None, horizon=300).split() is None

    def test_of_two_winters_the_one_is_told_that_divides(self):
        waited = [*[30] * 35, *np.resize(np.arange(300, 400), 59), *np.resize([600, 610], 6)]
        assert len(arrival(waited, None).split()[0].dates) == 35

    def test_an_even_spread_is_one_date(self):
        assert arrival(np.arange(1, 201)).split() is None
        assert arrival([np.nan] * 50 + [5] * 50).split() is None

    def test_without_a_rest_it_is_a_pause(self):
        assert "before a pause 30 %" in self.winter(30, 70, rest=None).sentence()
        assert "before a pause 30 %" in self.winter(30, 70, rest=240).sentence()
        # A winter before the first of these dates does not part them: the one after it does.
        early = [*range(21, 301), *range(501, 561)]
        two_winters = replace(arrival(early, queen_survival=None), rest=day(60))
        assert "before a pause 82 %" in two_winters.sentence()

    def test_in_a_forecast_page_and_plan(self):
        """Workers that may hatch before the winter, or else in spring."""
        notes = pd.DataFrame({"date": ["2026-08-25"], "eggs": [0], "larvae": [6], "pupae": [5],
                              "workers": [5]})  # fmt: skip
        fit = ag.fit(notes, ag.constant(23).rest("2026-10-15", "2027-03-01", 8), "lasius-niger",
                     hemisphere="north", rng=1)  # fmt: skip
        ahead = fit.forecast(days=300, draws=300, rng=1)
        number = next(
            n for n in range(6, 40) if 0.1 < ahead.arrival(n).chance_by("2026-12-31") < 0.9
        )
        assert "before the rest" in ahead.arrival(number).sentence()
        plan = ag.care_plan(
            ahead,
            milestones=[{"id": "many", "title": "Many",
                         "triggers": [{"stage": "workers", "count": number}]}],
        )  # fmt: skip
        assert "before the rest" in plan["many"].sentence()
        assert pd.isna(plan["many"].middle)
        page = Page(plan, workers=number)
        assert "before the rest" in words_of(page.forecast.content)
        window = re.search(r'data-of="milestone.many.window">(.*?)</td>', page.milestones.content)
        assert words_of(window[1]) == plan["many"].span() == ahead.arrival(number).when()
        assert "before the rest" in plan.summary().partition("many")[0]
        assert "before the rest" in plan.plot().get_title(loc="left").replace("\n", " ")


def test_a_split_whose_later_dates_lie_beyond_the_horizon_is_told():
    some = arrival([*[20] * 30, *[np.nan] * 69, 195], None, horizon=200)
    assert some.split() is not None
    assert "else hardly before 2027-03-22" in some.sentence()
    assert "else hardly before 22 March" in some.when(short=True)
