"""Regimes side by side: pairing, violations of limits, the table, words and picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from matplotlib import dates as mdates

import antgrowth as ag
from antgrowth.errors import AntgrowthError, TemperatureError, TemperatureGapError
from antgrowth.regimes.comparison import gain_words
from antgrowth.regimes.limits import days_gained, first_passage_days, quantile_of

NOTES = pd.DataFrame({"date": ["2026-03-20", "2026-04-15"], "eggs": [12, 4], "larvae": ["", 9]})
END = pd.Timestamp("2026-04-15")
WINTER = ("2026-10-15", "2027-03-01", 10)


def fitted(species: str = "lasius-niger") -> ag.Fit:
    warmth = ag.constant(24).rest(*WINTER) if species == "lasius-niger" else ag.constant(24)
    return ag.fit(NOTES, warmth, species, queen_since="2026-03-01", rng=1)


@pytest.fixture(scope="module")
def fit() -> ag.Fit:
    return fitted()


@pytest.fixture(scope="module")
def found(fit) -> ag.RegimeComparison:
    plans = {
        "as now": None,
        "steady 23": ag.constant(23).rest(*WINTER),
        "26 by day": ag.day_night(26, 20).rest(*WINTER),
        "no winter": ag.constant(26),
        "27": ag.constant(27).rest(*WINTER),
        "31": 31,
    }
    return ag.compare_regimes(fit, plans, workers=20, days=200, draws=300, rng=1, keep_rest=False)


class TestPairing:
    def test_the_same_colonies_begin(self, found):
        starts = [ahead.paths[:, 0] for ahead in found.forecasts.values()]
        assert all(np.array_equal(starts[0], start) for start in starts)
        durations = [ahead.laws.days for ahead in found.forecasts.values()]
        assert all(np.array_equal(durations[0], days) for days in durations)

    def test_the_same_plan_is_the_same_future(self, fit):
        twice = ag.compare_regimes(fit, {"a": 24, "b": ag.constant(24)}, days=90, draws=100, rng=5)
        assert np.array_equal(*(ahead.paths for ahead in twice.forecasts.values()))
        assert twice.first == {"a": twice.first["b"], "b": twice.first["a"]}
        assert np.all(twice.gains("b")[np.isfinite(twice.gains("b"))] == 0)

    @pytest.mark.parametrize("plan", [ag.constant(25), ag.day_night(27, 20)])
    def test_differences_are_three_times_sharper_than_of_independent_runs(self, fit, plan):
        paired = ag.compare_regimes(
            fit, {"24": 24, "other": plan}, workers=20, days=150, draws=600, rng=1
        )
        alone = fit.forecast(150, plan, draws=600, rng=99)
        passage_days, other = paired.passage_days["24"], first_passage_days(alone, 20)
        gains = paired.gains("other")
        known = np.isfinite(gains)
        assert known.mean() > 0.98 and np.isfinite(other).mean() > 0.98
        passage_days, other = passage_days[np.isfinite(passage_days)], other[np.isfinite(other)]
        independent = np.sqrt((passage_days.var() + other.var()) / 600)
        row = paired.frame().iloc[1]
        assert row["gained_se"] == pytest.approx(gains[known].std() / np.sqrt(known.sum()))
        # By the present law more than four times, whatever the plan: each has luck of its own.
        assert row["gained_se"] < independent / 4
        assert row["gained_mean"] == pytest.approx(
            passage_days.mean() - other.mean(), abs=4 * independent
        )

    def test_the_seed_is_kept(self, fit):
        one, two = (
            ag.compare_regimes(fit, {"a": 24, "b": 25}, days=40, draws=50, rng=3) for _ in range(2)
        )
        assert one.seed == two.seed == 3
        assert one.frame().equals(two.frame())


class TestTable:
    def test_columns(self, found):
        frame = found.frame()
        assert list(frame) == [
            "regime", "plan", "arrival_q05", "arrival_q50", "arrival_q95", "chance_never",
            "gained_q05", "gained_q50", "gained_q95", "gained_mean", "gained_se", "chance_first",
            "rest_begins", "chance_before_rest", "hours_above_ceiling", "margin_c",
            "queens_alive", "brood_lost_to_heat", "sugar_mg", "protein_mg", "recommended",
            "warning",
        ]  # fmt: skip
        assert frame["regime"].tolist() == list(found.forecasts)

    def test_arrivals_and_gains_are_those_of_the_paths(self, found):
        frame = found.frame().set_index("regime")
        for name, ahead in found.forecasts.items():
            there = ahead.paths[..., 3] >= 20
            waited = np.where(there.any(axis=1), there.argmax(axis=1), np.inf)
            assert np.array_equal(found.passage_days[name], waited)
            assert frame.loc[name, "chance_never"] == np.isinf(waited).mean()
            middle = np.quantile(waited, 0.5, method="inverted_cdf")
            if np.isfinite(middle):
                assert frame.loc[name, "arrival_q50"] == END + pd.Timedelta(days=int(middle))
            else:
                assert name == "31" and pd.isna(frame.loc[name, "arrival_q50"])
            start = found.passage_days["as now"]
            some = np.isfinite(start) | np.isfinite(waited)
            gained = start[some] - waited[some]
            assert frame.loc[name, "gained_q50"] == np.quantile(gained, 0.5, method="inverted_cdf")

    def test_chances_of_being_first_add_up(self, found):
        chances = found.frame().set_index("regime")["chance_first"]
        safe = [name for name in found.forecasts if name not in found.warnings]
        some = np.isfinite([found.passage_days[name] for name in safe]).any(axis=0).mean()
        assert chances.sum() == pytest.approx(some) and chances.idxmax() in safe

    def test_what_is_not_recommended_is_never_first(self, found):
        chances = found.frame().set_index("regime")["chance_first"]
        assert {"27", "31", "no winter"} <= set(found.warnings)
        assert chances[list(found.warnings)].isna().all()

    def test_chance_before_the_rest(self, found, fit):
        frame = found.frame().set_index("regime")
        assert (frame["rest_begins"] == pd.Timestamp("2026-10-15")).all()
        days = (pd.Timestamp("2026-10-15") - END).days
        assert frame.loc["31", "chance_before_rest"] == (found.passage_days["31"] < days).mean()
        early = ag.constant(24).rest("2026-06-01", "2026-08-01", 10)
        soon = ag.compare_regimes(fit, {"a": early, "b": 24}, days=60, draws=50, rng=1).frame()
        assert soon["rest_begins"].tolist() == [pd.Timestamp("2026-06-01"), pd.NaT]
        assert np.isnan(soon["chance_before_rest"].iloc[1])

    def test_heat(self, found):
        frame = found.frame().set_index("regime")
        assert frame.loc["31", "hours_above_ceiling"] == 200 * 24
        assert frame.loc["31", "margin_c"] == pytest.approx(-3.0)
        assert (frame["hours_above_ceiling"].drop("31") == 0).all()
        assert (frame["brood_lost_to_heat"].drop("31") == 0).all()
        # By hand: 2 °C above the heat limit of 29 °C, 0.03 a day for each.
        brood = found.forecasts["31"].paths[..., :3].sum(axis=-1).mean(axis=0)
        lost = ((brood[1:] + brood[:-1]) / 2).sum() * (1 - np.exp(-0.06))
        assert frame.loc["31", "brood_lost_to_heat"] == pytest.approx(lost)
        assert frame.loc["31", "queens_alive"] < 0.01
        assert (frame["queens_alive"].drop("31") == 1).all()

    def test_food_until_arrival(self, found):
        frame = found.frame().set_index("regime")
        assert (frame[["sugar_mg", "protein_mg"]] > 0).all(axis=None)
        plan = found.forecasts["27"].food(rng=1).offered
        until = np.arange(200) < np.minimum(found.passage_days["27"], 200)[:, None]
        assert frame.loc["27", "protein_mg"] == pytest.approx(
            np.median((plan["protein"] * until).sum(axis=1))
        )

    def test_no_food_without_the_mass_of_a_worker(self, found):
        ant = found.fit.species
        numbers = {k: n for k, n in ant.numbers.items() if k != "workers.mass_mg"}
        light = replace(
            found.fit, history=replace(found.fit.history, species=replace(ant, numbers=numbers))
        )
        assert found.frame()["sugar_mg"].notna().all()
        assert replace(found, fit=light).frame()["sugar_mg"].isna().all()


class TestObjections:
    def test_each(self, found):
        assert list(found.warnings) == ["no winter", "27", "31"]
        assert found.warnings["no winter"] == (
            "no rest from 2026-10-15 until 2027-03-01, which Lasius niger needs"
        )
        assert found.warnings["27"] == (
            "1.0 °C below the ceiling of the founding nest, 28 °C: less than the 2 °C that a sensor"
            " may be off"
        )
        assert found.warnings["31"].startswith(
            "above the ceiling of the founding nest, 28 °C, for 4,800 hours: under 1 % of queens "
            "would live through it; no rest"
        )

    def test_what_looks_faster_is_not_recommended_and_why(self, found):
        frame = found.frame().set_index("regime")
        fastest = frame["gained_mean"].sort_values(ascending=False).index[:2].tolist()
        assert fastest == ["27", "no winter"]
        assert found.recommended == "as now"
        assert frame["recommended"].tolist() == [True] + 5 * [False]
        assert "no safe regime is sooner than 'as now'; '27' looks faster, but is not" in str(found)

    def test_without_the_other_faults_a_plan_without_winter_is_barred_all_the_same(self, fit):
        pair = {"with": ag.constant(24).rest(*WINTER), "without": 26}
        tried = ag.compare_regimes(
            fit, pair, workers=20, days=200, draws=100, rng=1, keep_rest=False
        )
        assert tried.recommended == "with"
        assert tried.sentence() == (
            "20 workers: no safe regime is sooner than 'with'; 'without' looks faster, but is not "
            "recommended: no rest from 2026-10-15 until 2027-03-01, which Lasius niger needs"
        )
        assert "it stops rearing on a timer of its own, which these dates know" in tried.summary()

    def test_rests_can_be_put_in(self, fit):
        pair = {"with": ag.constant(24).rest(*WINTER), "without": 26}
        kept = ag.compare_regimes(fit, pair, workers=20, days=200, draws=100, rng=1, keep_rest=True)
        assert not kept.warnings and kept.recommended == "without"
        assert "'without' is " in kept.sentence() and " sooner than 'with'" in kept.sentence()
        resting = kept.forecasts["without"].temperature.resting("2026-12-01", 10)
        assert resting.all()

    def test_before_the_season_there_is_nothing_to_object(self, fit):
        short = ag.compare_regimes(fit, {"24": 24, "26": 26}, days=100, draws=50, rng=1)
        assert not short.warnings

    def test_none_can_be_recommended(self, fit):
        hot = ag.compare_regimes(fit, {"30": 30, "31": 31}, days=100, draws=50, rng=1)
        assert hot.recommended is None
        assert hot.sentence().startswith(
            "TOO WARM. 30 workers: none of these regimes can be recommended; the fastest, "
        )
        assert not hot.frame()["recommended"].any()

    def test_a_plan_for_the_summer_is_compared_with_the_same_winter(self, fit):
        """Workers come in summer: nobody plans the winter to ask for a warmer July."""
        tried = ag.compare_regimes(fit, {"as now": None, "25": 25}, workers=20, days=250,
                                   draws=100, rng=1)  # fmt: skip
        assert not tried.warnings and tried.recommended == "25"
        resting = [
            ahead.temperature.resting(ahead.start, 250) for ahead in tried.forecasts.values()
        ]
        assert resting[0].any() and np.array_equal(*resting)

    def test_a_housed_colony_stands_more(self, fit):
        warm = {"24": 24, "27": 27}
        in_a_tube = ag.compare_regimes(fit, warm, days=50, draws=50, rng=1)
        housed = ag.compare_regimes(fit, warm, days=50, draws=50, rng=1, phase="housed")
        assert (in_a_tube.phase, housed.phase) == ("founding", "housed")
        assert list(in_a_tube.warnings) == ["27"] and not housed.warnings

    def test_the_phase_follows_the_workers(self):
        notes = NOTES.assign(workers=["", 9])
        fit = ag.fit(notes, ag.constant(24), "lasius-niger", queen_since="2026-02-01", rng=1)
        assert (
            ag.compare_regimes(fit, {"a": 24, "b": 25}, days=9, draws=50, rng=1).phase == "housed"
        )


class TestCurves:
    def test_each_regime_has_its_median_and_its_range(self, found):
        ax = found.plot_growth()
        lines = {line.get_label().partition(" (")[0]: line for line in ax.get_lines()}
        for name, ahead in found.forecasts.items():
            table = ahead.frame().query("stage == 'workers'")
            assert np.array_equal(lines[name].get_ydata(), table["q50"])
        assert len(ax.collections) == len(found.forecasts)
        assert lines["31"].get_linestyle() == ":" and lines["as now"].get_linestyle() == "-"
        assert "31 (not recommended)" in [t.get_text() for t in ax.get_legend().get_texts()]


class TestWords:
    def test_reports(self, found):
        text = found.summary()
        assert text.startswith("Regimes: 20 workers, counts (Lasius niger)")
        assert "NOT RECOMMENDED" in text and "recommended" in text and "Heat mats" in text
        assert "law" in replace(found, phase="outdoors").summary()
        assert "NOT RECOMMENDED" in found._repr_html_()

    def test_the_verdict_stands_beside_the_name(self, found):
        report = found._report()
        assert report.head[:2] == ("regime", "verdict")
        verdicts = {row[0]: row[1] for row in report.rows}
        assert verdicts["31"] == "NOT RECOMMENDED" and verdicts[found.recommended] == "recommended"
        page = found._repr_html_()
        assert "overflow-x:auto" in page
        assert '<span style="white-space:nowrap">2026-' in page

    def test_reports_as_a_whole(self, found):
        text = found.summary()
        assert str(found) == text and repr(found) == f"RegimeComparison({found.sentence()})"

    @pytest.mark.parametrize(
        ("gains", "words"),
        [
            (np.full(9, 4.0), "is 4 days sooner than 'now' (4 to 4 days, 90% interval)"),
            (np.full(9, -1.0), "is 1 day later than 'now' (1 to 1 days, 90% interval)"),
            (
                np.r_[np.full(4, -np.inf), np.full(5, 2.0)],
                "is 2 days sooner than 'now' (no arrival within the horizon to 2 days, "
                "90% interval)",
            ),
            (np.full(9, np.inf), "arrives where 'now' does not"),
            (np.full(9, -np.inf), "does not arrive"),
            (np.full(9, np.nan), "is neither sooner nor later than 'now' within the horizon"),
            (
                np.r_[np.full(5, 3.0), np.full(4, np.inf)],
                "is 3 days sooner than 'now' (3 days to beyond the horizon, 90% interval)",
            ),
        ],
    )
    def test_gains(self, gains, words):
        assert gain_words(gains, "now") == words

    def test_waits_without_end(self):
        reference, other = (
            np.array([5.0, np.inf, 7.0, np.inf]),
            np.array([3.0, 4.0, np.inf, np.inf]),
        )
        gains = days_gained(reference, other)
        assert gains[:3].tolist() == [2.0, np.inf, -np.inf] and np.isnan(gains[3])
        assert quantile_of(gains, 0.5) == 2.0 and np.isnan(quantile_of(np.full(3, np.nan), 0.5))


class TestErrors:
    @pytest.mark.parametrize("plans", [{}, {"a": 24}, [24, 25], None])
    def test_regimes(self, fit, plans):
        with pytest.raises(TemperatureError, match="two or more plans by name, such as"):
            ag.compare_regimes(fit, plans)

    def test_two_of_one_name(self, fit):
        with pytest.raises(TemperatureError) as caught:
            ag.compare_regimes(fit, {5: 24, "5": 25})
        assert str(caught.value) == (
            "compare_regimes: two regimes are called '5', one by a text and one by something else. "
            "Give each a name of its own, a text."
        )

    def test_a_plan_that_is_none(self, fit):
        with pytest.raises(TemperatureError, match="compare_regimes: 'b' = 'warm'. Give a number"):
            ag.compare_regimes(fit, {"a": 24, "b": "warm"})

    @pytest.mark.parametrize("name", ["workers", "days", "draws"])
    @pytest.mark.parametrize("value", [0, -2, 1.5, "9"])
    def test_numbers(self, fit, name, value):
        with pytest.raises(AntgrowthError) as caught:
            ag.compare_regimes(fit, {"a": 24, "b": 25}, **{name: value})
        most = {"workers": "1,000,000", "days": "3,650", "draws": "20,000"}[name]
        assert str(caught.value) == (
            f"compare_regimes: {name} = {value!r}. Give a whole number from 1 to {most}."
        )

    def test_reference_phase_and_name(self, fit, found):
        with pytest.raises(AntgrowthError, match="reference = 'c'. Use the name of a regime: a, b"):
            ag.compare_regimes(fit, {"a": 24, "b": 25}, reference="c")
        with pytest.raises(AntgrowthError, match="reference = \\['a'\\]. Use the name of a regime"):
            ag.compare_regimes(fit, {"a": 24, "b": 25}, reference=["a"])
        with pytest.raises(
            TemperatureError, match="phase = 'indoors'. Use one of founding, housed"
        ):
            ag.compare_regimes(fit, {"a": 24, "b": 25}, phase="indoors")
        with pytest.raises(TemperatureError, match="phase = \\['x'\\]. Use one of founding"):
            ag.compare_regimes(fit, {"a": 24, "b": 25}, phase=["x"])
        with pytest.raises(AntgrowthError, match="no regime is called 'x'. Use one of as now, st"):
            found.gains("x")

    def test_a_plan_that_ends_too_soon(self, fit):
        hours = pd.date_range("2026-04-16", "2026-05-15 23:00", freq="h")
        short = ag.read_temperature(pd.DataFrame({"time": hours, "temperature_c": 24.0}))
        with pytest.raises(
            TemperatureGapError, match="^compare_regimes: 'short': temperature ends"
        ):
            ag.compare_regimes(fit, {"a": 24, "short": short}, days=60, draws=20, rng=1)


class TestPicture:
    def test_what_is_drawn_is_the_table(self, found):
        left, right = found.plot()
        frame = found.frame()
        points = [line for line in left.lines if line.get_marker() == "o"]
        assert [line.get_xdata()[0] for line in points] == pytest.approx(
            mdates.date2num(frame["arrival_q50"].dropna()).tolist()
        )
        drawn = {line.get_ydata()[0]: line.get_xdata()[0] for line in right.lines
                 if line.get_marker() == "o"}  # fmt: skip
        for row, gained in drawn.items():
            assert gained == frame["gained_q50"].iloc[row]
        assert 0 not in drawn and {1, 2, 3, 4} <= set(drawn)
        labels = [text.get_text() for text in left.get_yticklabels()]
        assert labels[0] == "as now\n(recommended)" and labels[3] == "no winter\n(not recommended)"
        assert labels[5] == "31\n(too warm)"

    def test_given_axes(self, found):
        import matplotlib.pyplot as plt

        axes = plt.subplots(1, 2)[1]
        assert list(found.plot(axes)) == list(axes)
        with pytest.raises(AntgrowthError, match="1 Axes. Give two, for dates and for days gained"):
            found.plot(axes[:1])
