"""Rate curves fitted to tables: the truth comes back, doubt is told, and every refusal by text."""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from temperature_records import message

import antgrowth as ag
from antgrowth.errors import AntgrowthError, LogError
from antgrowth.model.development_rates import Briere, DegreeDay, RateCurve, SharpeSchoolfield
from antgrowth.species.rate_fit import RateCurveFit, fit_rate_curve

WIDE_C = np.array([14.0, 16.0, 18.0, 20.0, 22.0, 25.0, 28.0, 30.0, 32.0, 33.5])
TRUTHS: dict[str, RateCurve] = {
    "degree-day": DegreeDay(13.0, 300.0),
    "briere": Briere(1e-4, 10, 35),
    "sharpe-schoolfield": SharpeSchoolfield(0.04, 14_000, 33.0, 120_000),
}


def table(curve: RateCurve, residual_sd: float = 0.0, seed: int = 3) -> pd.DataFrame:
    noise = residual_sd * np.random.default_rng(seed).standard_normal(WIDE_C.size)
    return pd.DataFrame(
        {"temperature_c": WIDE_C, "duration_days": 1 / curve(WIDE_C) / np.exp(noise)}
    )


def fault(frame: object) -> str:
    return message(lambda: fit_rate_curve(frame, name="larvae"), LogError)


class TestTruth:
    @pytest.mark.parametrize("name", TRUTHS)
    def test_a_table_without_scatter_gives_its_curve_back(self, name):
        truth = TRUTHS[name]
        fit = fit_rate_curve(table(truth), rng=1)
        assert fit.chosen == fit.best == name
        for parameter, _, value, _ in fit.fitted[name].parameters:
            assert value == pytest.approx(getattr(truth, parameter), rel=1e-4), parameter
        assert fit.rate(WIDE_C) == pytest.approx(truth(WIDE_C), rel=1e-5)

    def test_the_band_of_a_line_is_that_of_linear_regression(self):
        # Student's t with n - 2 degrees of freedom, textbook formula; 1000 draws err by some 3 %.
        frame = table(TRUTHS["degree-day"], 0.06)
        fit = fit_rate_curve(frame, rng=1).choose("degree-day")
        rate, at_c = 1 / frame["duration_days"].to_numpy(), np.array([15.0, 24.0, 33.0])
        n, centre = len(rate), WIDE_C.mean()
        slope, start = np.polyfit(WIDE_C, rate, 1)
        spread = np.sqrt(np.sum((rate - start - slope * WIDE_C) ** 2) / (n - 2))
        squares = np.sum((WIDE_C - centre) ** 2)
        reach = stats.t.ppf(0.95, n - 2) * spread * np.sqrt(1 / n + (at_c - centre) ** 2 / squares)
        low, high = fit.band(at_c)
        assert fit.rate(at_c) == pytest.approx(start + slope * at_c, rel=1e-4)
        assert high - low == pytest.approx(2 * reach, rel=0.12)
        # and of the threshold, to first order
        found = fit.summary_frame().set_index("parameter").loc["lower_c"]
        zero = -start / slope
        reach = (
            stats.t.ppf(0.95, n - 2)
            * spread
            / slope
            * np.sqrt(1 / n + (zero - centre) ** 2 / squares)
        )
        assert found["q95"] - found["q05"] == pytest.approx(2 * reach, rel=0.15)

    def test_more_scatter_gives_a_wider_band(self):
        widths = []
        for residual_sd in (0.02, 0.10):
            low, high = fit_rate_curve(table(TRUTHS["briere"], residual_sd), rng=1).band(26.0)
            widths.append(float(high - low))
        assert widths[1] > 3 * widths[0]

    def test_levels_nest(self):
        fit = fit_rate_curve(table(TRUTHS["briere"], 0.05), rng=1)
        t = np.linspace(15, 33, 7)
        narrow, wide = fit.band(t, level=0.5), fit.band(t, level=0.95)
        assert (wide[0] < narrow[0]).all() and (narrow[1] < wide[1]).all()
        assert (wide[0] >= 0).all()

    def test_a_rate_of_none_says_where_development_ends(self):
        rates = pd.DataFrame({"temperature_c": [*WIDE_C, 36.0, 38.0]})
        rates["rate_per_day"] = TRUTHS["briere"](rates["temperature_c"])
        fit = fit_rate_curve(rates, rng=1)
        assert fit.best == "briere"
        assert fit.curve.upper_c == pytest.approx(35.0, abs=1e-3)


class TestWeights:
    def test_a_row_with_a_wide_sd_counts_little(self):
        frame = table(TRUTHS["briere"], 0.01)
        frame["sd"] = 0.01 * frame["duration_days"]
        frame.loc[5, ["duration_days", "sd"]] *= [1.6, 60]
        weighted = fit_rate_curve(frame, rng=1)
        plain = fit_rate_curve(frame.drop(columns="sd"), rng=1)
        truth = float(TRUTHS["briere"](25.0))
        assert float(weighted.rate(25.0)) == pytest.approx(truth, rel=0.02)
        assert abs(float(plain.rate(25.0)) / truth - 1) > 0.05
        assert "weighted by sd" in weighted.summary()

    def test_only_relations_between_sd_matter(self):
        frame = table(TRUTHS["briere"], 0.03)
        frame["sd"] = 0.02 * frame["duration_days"]
        one = fit_rate_curve(frame, rng=1)
        two = fit_rate_curve(frame.assign(sd=50 * frame["sd"]), rng=1)
        assert two.summary_frame()["q05"].to_numpy() == pytest.approx(
            one.summary_frame()["q05"].to_numpy(), rel=1e-3
        )


class TestComparison:
    def test_aicc_by_hand(self):
        # n ln(S/n) + 2K + 2K(K+1)/(n-K-1) with K = 3: slope, threshold, scatter. Rates are scaled
        # by their largest, which all curves share.
        frame = table(TRUTHS["degree-day"], 0.03)
        fit = fit_rate_curve(frame, rng=1)
        rate = 1 / frame["duration_days"].to_numpy()
        squares = np.sum(((fit.choose("degree-day").curve(WIDE_C) - rate) / rate.max()) ** 2)
        n, k = 10, 3
        by_hand = n * np.log(squares / n) + 2 * k + 2 * k * (k + 1) / (n - k - 1)
        assert fit.fitted["degree-day"].aicc == pytest.approx(by_hand)

    def test_table_of_curves(self):
        found = fit_rate_curve(table(TRUTHS["briere"], 0.05), rng=1).comparison()
        assert found["curve"][0] == "briere" and found["behind"][0] == 0
        assert found["aicc"].is_monotonic_increasing
        assert found["weight"].sum() == pytest.approx(1)

    def test_few_rows_leave_curves_out_and_say_so(self):
        fit = fit_rate_curve(table(TRUTHS["degree-day"]).iloc[[2, 5, 7]], rng=1)
        assert list(fit.fitted) == ["degree-day"]
        assert fit.left_out == {
            "briere": "needs 4 rows at 4 temperatures, there are 3 at 3",
            "sharpe-schoolfield": "needs 5 rows at 5 temperatures, there are 3 at 3",
        }
        assert "the simplest: too few rows to compare curves" in fit.summary()
        assert message(lambda: fit.choose("briere"), AntgrowthError) == (
            "choose: 'briere' was not fitted. briere: needs 4 rows at 4 temperatures, there are 3 "
            "at 3. Choose one of degree-day."
        )

    def test_replicates_add_rows_but_no_temperatures(self):
        few = pd.concat([table(TRUTHS["briere"], 0.02, seed).iloc[[2, 5, 7]] for seed in range(4)])
        fit = fit_rate_curve(few, rng=1)
        assert fit.left_out["briere"] == "needs 4 rows at 4 temperatures, there are 12 at 3"

    def test_a_line_is_told_when_the_table_turns_down(self):
        fit = fit_rate_curve(table(TRUTHS["briere"]), rng=1)
        care = "rates fall at the warm end, which a straight line cannot follow"
        assert care in fit.choose("degree-day").summary()
        assert "chosen; the table supports briere more" in fit.choose("degree-day").summary()
        assert care not in fit.summary()

    def test_an_upper_limit_that_no_row_shows_is_named(self):
        rising = table(SharpeSchoolfield(0.04, 14_000, 70.0, 120_000)).iloc[:8]
        found = fit_rate_curve(rising, rng=1).choose("briere").summary_frame()
        limit = found.set_index("parameter").loc["upper_c"]
        assert limit["note"] == "at its bound: the table does not show it"
        assert limit["value"] == pytest.approx(60.0, abs=0.5)
        assert limit["q05"] == limit["q95"]  # held there
        assert found["note"].iloc[-1] == "beyond the table"  # the optimum


@pytest.fixture(scope="module")
def fit() -> RateCurveFit:
    return fit_rate_curve(table(TRUTHS["briere"], 0.02), name="pupae", rng=1)


class TestExtrapolation:
    def test_within_the_table_nothing_is_said(self, fit):
        assert fit.caution([14.0, 33.5]) == ""
        fit.rate([14.0, 33.5])

    def test_outside_it_is(self, fit):
        text = (
            "pupae: extrapolated at 8 to 40 °C, since the table has 14 to 33.5 °C only. There the "
            "shape of the curve decides, not what was measured."
        )
        assert fit.caution([8.0, 20.0, 40.0]) == text
        with pytest.warns(UserWarning, match="extrapolated at 40 °C, since"):
            fit.rate(40.0)
        with pytest.warns(UserWarning, match="extrapolated at 8 °C, since"):
            fit.band(8.0)

    def test_the_table_of_the_curve_marks_it(self, fit):
        frame = fit.frame()
        assert frame["extrapolated"].equals(~frame["temperature_c"].between(14, 33.5))
        assert frame["extrapolated"].any()
        given = fit.frame([20.0, 50.0])
        assert given["rate_per_day"][0] == float(fit.rate(20.0))
        assert given["days"][0] == pytest.approx(1 / given["rate_per_day"][0])
        assert given["days"][1] == np.inf
        low, high = fit.band(20.0)
        assert given.loc[0, ["q05", "q95"]].tolist() == pytest.approx([float(low), float(high)])


class TestReading:
    def test_forms_of_the_same_table(self, tmp_path):
        frame = table(TRUTHS["briere"], 0.02)
        before = frame.copy(deep=True)
        expected = fit_rate_curve(frame, rng=1).curve
        pd.testing.assert_frame_equal(frame, before)
        path = tmp_path / "pupae.csv"
        frame.to_csv(path, index=False, sep=";", decimal=",")
        from_file = fit_rate_curve(path, rng=1)
        assert from_file.table.name == "pupae"
        rates = pd.DataFrame({"temperature_c": WIDE_C, "rate_per_day": 1 / frame["duration_days"]})
        shuffled = frame.sample(frac=1, random_state=2)
        for other in (from_file, fit_rate_curve(rates, rng=1), fit_rate_curve(shuffled, rng=1)):
            assert other.curve.upper_c == pytest.approx(expected.upper_c, rel=1e-5)

    def test_a_seed_gives_the_same_band_again(self):
        frame = table(TRUTHS["briere"], 0.02)
        one, two = fit_rate_curve(frame, rng=4), fit_rate_curve(frame, rng=4)
        assert one.seed == 4 and one.band(25.0) == two.band(25.0)
        unseeded = fit_rate_curve(frame)
        assert fit_rate_curve(frame, rng=unseeded.seed).band(25.0) == unseeded.band(25.0)

    def test_columns_that_are_not_read_are_named(self):
        frame = table(TRUTHS["briere"]).assign(species="invented", stage="pupa")
        assert "columns not used: species" in fit_rate_curve(frame, rng=1).summary()

    def test_all_bad_rows_at_once(self):
        frame = pd.DataFrame(
            {"temperature_c": [18, "warm", 22, 25, 90], "duration_days": [0, 40, "", 22, -3]}
        )
        assert fault(frame) == (
            "larvae, row 2: duration_days = 0. Give a number of days above 0; where nothing "
            "developed, give rates instead: rate_per_day = 0.\n"
            "larvae, row 3: temperature_c = warm. Give a number from -40 to 70 °C.\n"
            "larvae, row 4: duration_days = (empty). Give a number of days above 0; where nothing "
            "developed, give rates instead: rate_per_day = 0.\n"
            "larvae, row 6: temperature_c = 90. Give a number from -40 to 70 °C.\n"
            "larvae, row 6: duration_days = -3. Give a number of days above 0; where nothing "
            "developed, give rates instead: rate_per_day = 0."
        )
        rates = pd.DataFrame({"temperature_c": [18, 20], "rate_per_day": [-1, "x"], "sd": [0, ""]})
        text = fault(rates)
        assert "row 2: rate_per_day = -1. Give a number of 0 or more." in text
        assert "row 2: sd = 0. Give a number above 0, or none in any row." in text
        assert "row 3: rate_per_day = x. Give" in text

    def test_sd_in_some_rows(self):
        frame = table(TRUTHS["briere"]).assign(sd=1.0)
        frame.loc[[2, 4], "sd"] = np.nan
        assert fault(frame) == (
            "larvae: row 4, row 6 without sd, the others with one. Rates are weighted by sd, so "
            "give it in each row or in none."
        )

    @pytest.mark.parametrize(
        "columns", [["temp", "duration_days"], ["temperature_c"],
                    ["temperature_c", "duration_days", "rate_per_day"],
                    ["temperature_c", "duration_days", "Duration_days"]],
    )  # fmt: skip
    def test_columns_that_do_not_fit(self, columns):
        assert fault(pd.DataFrame([[20.0] * len(columns)], columns=columns)) == (
            f"larvae: the columns are {', '.join(columns)}. Needed: temperature_c, one of "
            "duration_days and rate_per_day, and, if you like, sd, each once. Rename or remove "
            "columns."
        )

    def test_several_stages(self):
        frame = table(TRUTHS["briere"]).assign(stage=["egg", "larva"] * 5)
        assert fault(frame) == (
            "larvae: the column stage holds egg, larva. A curve belongs to one stage: give only "
            'its rows, such as table[table["stage"] == "egg"].'
        )

    def test_too_few_temperatures(self):
        frame = pd.DataFrame({"temperature_c": [20, 20, 24], "rate_per_day": [0.1, 0.1, 0]})
        assert fault(frame) == (
            "larvae: development at 1 different temperatures. At least 3 are needed for a curve. "
            "With a single duration use DegreeDay.through(days, at_c, lower_c), which takes the "
            "threshold on trust."
        )

    def test_level(self, fit):
        assert message(lambda: fit.band(20.0, level=90), AntgrowthError) == (
            "band: level = 90. Give a number above 0 and below 1, such as 0.9."
        )


class TestPrinted:
    def test_summary_and_html(self):
        fit = ag.fit_rate_curve(table(TRUTHS["briere"], 0.02), name="pupae <b>", rng=1)
        text = fit.summary()
        assert text == str(fit)
        assert "curve               briere, best supported\n" in text
        assert "optimum_c" in text and "degree-day" in text
        assert "pupae &lt;b&gt;" in fit._repr_html_()
        assert repr(fit) == "RateCurveFit('pupae <b>', briere from 10 rows)"

    def test_parameters_as_numbers(self, fit):
        found = fit.summary_frame()
        assert found["parameter"].tolist() == ["scale", "lower_c", "upper_c", "optimum_c"]
        assert (found["q05"] < found["value"]).all() and (found["value"] < found["q95"]).all()

    def test_picture(self, fit):
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            ax = fit.plot()
        lines = {line.get_label(): line for line in ax.get_lines()}
        drawn = lines["briere"].get_xydata()
        drawn = drawn[~np.isnan(drawn[:, 1])]
        assert drawn[:, 1] == pytest.approx(fit.rate(drawn[:, 0]))
        assert {"degree-day", "sharpe-schoolfield", "extrapolated"} <= set(lines)
        optimum_c = fit.curve.optimum_c
        days = float(1 / fit.rate(optimum_c))
        assert ax.get_title(loc="left") == f"Fastest at {optimum_c:.1f} °C: {days:.3g} days"
