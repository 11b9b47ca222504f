"""Plans of seasons, ramps and shifts, humidity carried along, and how all of them are drawn."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from temperature_records import days_of, message, record

import antgrowth as ag
from antgrowth.climate.default_span import days_to_show
from antgrowth.climate.humidity import dew_point_c
from antgrowth.errors import TemperatureGapError

MEANS_C = [1.0, 2.0, 5.0, 9.0, 14.0, 17.0, 19.0, 18.0, 15.0, 10.0, 5.0, 2.0]  # invented


def moist(hours: int = 48, humidity: object = 60.0, start: str = "2026-07-04") -> pd.DataFrame:
    table = record(start, hours)
    table["humidity_pct"] = humidity
    return table


class TestMonthlyNormals:
    @pytest.mark.parametrize("year", [2027, 2028])  # a leap year too
    def test_each_month_has_its_mean(self, year):
        days = 366 if year == 2028 else 365
        hours = ag.monthly_normals(MEANS_C, daily_range=8).hours(f"{year}-01-01", days)
        by_day = pd.Series(hours.mean(axis=1), index=pd.date_range(f"{year}-01-01", periods=days))
        assert by_day.groupby(by_day.index.month).mean().to_numpy() == pytest.approx(
            np.array(MEANS_C), abs=2e-3
        )

    def test_days_run_in_straight_lines_without_steps(self):
        by_day = ag.monthly_normals(MEANS_C).hours("2025-01-01", 730).mean(axis=1)
        assert np.abs(np.diff(by_day)).max() < 6 / 28  # the steepest month changes by under 6 °C
        assert by_day[365:] == pytest.approx(by_day[:365])
        april = by_day[90 + 15 : 90 + 29]  # the second half, on one line
        assert np.diff(april, 2) == pytest.approx(np.zeros(12), abs=1e-12)

    def test_the_day_swings_by_its_range(self):
        hours = ag.monthly_normals([20.0] * 12, daily_range=8).hours("2027-06-01", 1)[0]
        assert hours.mean() == pytest.approx(20.0)
        assert sorted(np.argsort(hours)[-2:].tolist()) == [14, 15]  # warmest at 15:00
        assert sorted(np.argsort(hours)[:2].tolist()) == [2, 3]
        # the mean of a cosine over the hour that ends at its crest: 4 sin(15°) / 0.2618
        crest = 4 * np.sin(np.pi / 12) / (np.pi / 12)
        assert hours.max() == pytest.approx(20.0 + crest)

    def test_says_what_it_is(self):
        plan = ag.monthly_normals(MEANS_C, daily_range=8)
        assert plan.covers() == (None, None)
        assert plan.describe() == (
            "monthly means from 1.0 °C (January) to 19.0 °C (July), 8.0 °C from night to day"
        )
        assert ag.monthly_normals(MEANS_C).describe().endswith("to 19.0 °C (July)")
        assert not plan.resting("2027-01-01", 60).any()

    def test_refused(self):
        assert message(lambda: ag.monthly_normals(MEANS_C[:11])) == (
            "monthly_normals: 11 values. Give 12, one for each month from January on."
        )
        assert "monthly_normals: month 3 = 'warm'. Give a number" in message(
            lambda: ag.monthly_normals([1, 2, "warm", *MEANS_C[3:]])
        )
        assert message(lambda: ag.monthly_normals(MEANS_C, daily_range=-1)) == (
            "monthly_normals: daily_range = -1. Give a number from 0 to 40 °C, from the coolest to "
            "the warmest moment of a day."
        )


class TestRamp:
    def test_changes_evenly_over_the_days(self):
        plan = ag.constant(24).then("2027-10-15", 18, ramp_days=4)
        hours = plan.hours("2027-10-14", 7)
        assert (hours[0] == 24.0).all()
        assert hours[1:5].ravel() == pytest.approx(24 - 6 * (np.arange(96) + 0.5) / 96)
        assert (hours[5:] == 18.0).all()
        assert hours[1:5].mean() == pytest.approx(21.0)
        assert np.array_equal(plan.hours("2027-10-17", 1)[0], hours[3])
        assert plan.describe() == (
            "constant 24.0 °C; then from 2027-10-15 over 4 days to constant 18.0 °C"
        )

    def test_keeps_the_swing_of_the_day_before_while_it_fades(self):
        plan = ag.day_night(27, 21).then("2027-10-15", 10, ramp_days=10)
        swing = np.ptp(plan.hours("2027-10-15", 11), axis=1)
        assert swing[0] > 5 and swing[9] < 1.6 and swing[10] == 0

    def test_after_a_record_that_ends_the_day_before(self):
        temps = days_of("2026-07-04", "2026-11-02", 24.0)
        plan = temps.then("2026-11-03", 18, ramp_days=3)
        assert plan.hours("2026-11-02", 5)[:, 0] == pytest.approx(
            [24.0, 24 - 6 / 144, 24 - 6 * 49 / 144, 24 - 6 * 97 / 144, 18.0]
        )

    def test_from_a_rest_back_to_warmth(self):
        plan = ag.constant(24).rest("2027-11-15", "2028-02-15", 8)
        plan = plan.then("2028-02-15", 24, ramp_days=8)
        assert plan.hours("2028-02-14", 10)[[0, 1, 9], 0] == pytest.approx([8, 8 + 1 / 24, 24])
        assert plan.resting("2028-02-14", 2).tolist() == [True, False]

    def test_a_ramp_cut_short_goes_on_from_where_it_was(self):
        plan = ag.constant(24).then("2027-10-01", 14, ramp_days=10).then("2027-10-06", 24, 5)
        hours = plan.hours("2027-10-05", 2)
        assert hours[1, 0] == pytest.approx(hours[0, 0] + (24 - hours[0, 0]) * 0.5 / 120)

    def test_refused(self):
        plan = ag.constant(24)
        assert message(lambda: plan.then("2027-10-15", 18, ramp_days=-1)) == (
            "ramp_days = -1. Use a whole number >= 0."
        )
        assert "ramp_days = 1.5." in message(lambda: plan.then("2027-10-15", 18, ramp_days=1.5))
        temps = days_of("2026-07-04", "2026-07-10")
        assert "but 2026-07-15 (1 day) is needed" in message(
            lambda: temps.then("2026-07-16", 18, ramp_days=2), TemperatureGapError
        )


class TestShift:
    def test_everything_is_warmer(self):
        temps = days_of("2026-07-04", "2026-07-05", 24.0)
        warmer = temps.shift(1.5)
        assert (warmer.hours("2026-07-04", 2) == 25.5).all()
        assert warmer.covers() == temps.covers() and warmer.findings == temps.findings
        assert warmer.describe().endswith("24.0 to 24.0; all of it 1.5 °C warmer")
        assert (temps.hours("2026-07-04", 2) == 24.0).all()
        assert temps.shift(0).describe().endswith("0 °C warmer")

    def test_of_a_plan_with_a_rest(self):
        plan = ag.constant(24).rest("2027-11-15", "2027-11-17", 10).shift(-2)
        assert plan.hours("2027-11-14", 2)[:, 0].tolist() == [22.0, 8.0]
        assert plan.resting("2027-11-14", 2).tolist() == [False, True]

    @pytest.mark.parametrize("degrees", [21, -20.5, float("nan"), "warm", None])
    def test_refused(self, degrees):
        assert message(lambda: ag.constant(24).shift(degrees)) == (
            f"shift: degrees = {degrees!r}. Give a number from -20 to 20 °C: how much warmer the "
            "brood is than the sensor."
        )


class TestHumidity:
    def test_of_a_record(self):
        table = moist(humidity=50.0 + np.arange(48))
        temps = ag.read_temperature(table)
        assert temps.humidity("2026-07-04", 2).ravel() == pytest.approx(50.0 + np.arange(48))
        around = temps.humidity("2026-07-03", 4)
        assert np.isnan(around[[0, 3]]).all() and not np.isnan(around[1:3]).any()
        temps.humidity("2026-07-04", 2)[:] = 0.0
        assert temps.humidity("2026-07-04", 1)[0, 0] == 50.0

    def test_of_a_plan_is_not_known(self):
        for plan in (ag.constant(24), days_of("2026-07-04", "2026-07-05")):
            assert np.isnan(plan.humidity("2026-07-04", 2)).all()

    def test_is_carried_through_then_and_rest(self):
        temps = ag.read_temperature(moist())
        plan = ag.constant(20).then("2026-07-04", temps).then("2026-07-06", 22)
        found = plan.humidity("2026-07-03", 4)
        assert np.isnan(found[[0, 3]]).all() and (found[1:3] == 60.0).all()
        rest = temps.rest("2026-07-05", "2026-07-06", 10)
        assert np.isnan(rest.humidity("2026-07-04", 2)[1]).all()
        assert (temps.rest("2026-07-05", "2026-07-06").humidity("2026-07-04", 2) == 60).all()

    def test_a_shift_keeps_the_water(self):
        warmer = ag.read_temperature(moist()).shift(3)
        assert dew_point_c(27.0, warmer.humidity("2026-07-04", 1)) == pytest.approx(
            np.full((1, 24), float(dew_point_c(24.0, 60.0)))
        )

    def test_a_ramp_keeps_the_water(self):
        temps = ag.read_temperature(moist(24 * 10))
        plan = ag.constant(20).then("2026-07-04", temps, ramp_days=4)
        hours, humidity = plan.hours("2026-07-04", 6), plan.humidity("2026-07-04", 6)
        assert dew_point_c(hours, humidity) == pytest.approx(
            np.full((6, 24), float(dew_point_c(24.0, 60.0)))
        )


class TestDaysToShow:
    def test_of_a_record_all(self):
        first, days = days_to_show(days_of("2026-07-04", "2026-07-10"), None, None)
        assert (str(first), days) == ("2026-07-04", 7)
        assert days_to_show(days_of("2026-07-04", "2026-07-10"), "2026-07-09", None)[1] == 2

    def test_of_a_plan_around_its_changes(self):
        plan = ag.constant(24).then("2027-10-15", 18, ramp_days=12)
        plan = plan.rest("2027-11-15", "2028-02-15", 8)
        first, days = days_to_show(plan, None, None)
        last = first + days
        assert (str(first), str(last)) == ("2027-10-01", "2028-02-29")

    def test_of_an_endless_plan_from_today_until_it_repeats_itself(self):
        today = np.datetime64(pd.Timestamp.today(), "D")
        first, days = days_to_show(ag.constant(24), None, None)
        assert abs(int((first - today).astype(int))) <= 1 and days == 14
        assert days_to_show(ag.monthly_normals(MEANS_C).shift(1), None, None)[1] == 365
        assert days_to_show(ag.constant(24), "2027-01-01", None)[1] == 14

    def test_days_must_be_some(self):
        assert message(lambda: days_to_show(ag.constant(24), None, 0)) == (
            "days = 0. Use a whole number >= 1."
        )


class TestPicture:
    def test_a_plan_that_never_changes_is_one_day(self):
        ax = ag.day_night(27, 21).plot()
        assert ax.get_xlabel() == "hour of every day"
        values = ax.patches[0].get_data().values
        assert np.array_equal(values, ag.day_night(27, 21).hours("2027-01-01", 1)[0])
        assert ax.get_title(loc="left") == "24.5 °C on average (21.0 to 27.0)"
        assert ag.constant(24).plot().get_title(loc="left") == "24.0 °C throughout"

    def test_a_few_days_by_the_hour(self):
        temps = days_of("2026-07-04", "2026-07-20")
        ax = temps.plot("2026-07-05", 3)
        assert len(ax.get_lines()[0].get_ydata()) == 72

    def test_many_days_by_mean_and_range(self):
        plan = ag.day_night(26, 20).then("2027-10-15", 18, ramp_days=12)
        plan = plan.rest("2027-11-15", "2028-02-15", 8)
        ax = plan.plot()
        drawn = ax.get_lines()[0].get_ydata()
        assert drawn == pytest.approx(plan.hours("2027-10-01", 151).mean(axis=1))
        labels = ax.get_legend_handles_labels()[1]
        assert labels == ["range of each day", "mean of each day", "rest: no laying"]

    def test_a_gap_stays_open(self):
        temps = ag.read_temperature(record("2026-05-01", 24 * 60).drop(index=range(200, 300)))
        drawn = temps.plot().get_lines()[0].get_ydata()
        assert np.isnan(drawn).any() and not np.isnan(drawn).all()

    def test_into_an_axes_given(self):
        import matplotlib.pyplot as plt

        ax = plt.subplots()[1]
        assert ag.constant(24).plot(ax=ax) is ax

    def test_days_without_any_temperature(self):
        temps = days_of("2026-07-04", "2026-07-20")
        assert "temperature ends 2026-07-20 but" in message(
            lambda: temps.plot("2027-01-01", 5), TemperatureGapError
        )


class TestTitleOfThePicture:
    def test_a_rest_is_not_averaged_with_the_summer(self):
        plan = ag.constant(25).rest("2026-11-15", "2027-02-28", temperature=8)
        ax = plan.plot("2026-09-01", 300)
        assert ax.get_title(loc="left") == "25.0 °C, in the rest 8.0 °C"

    def test_steady_warmth_and_a_warm_day(self):
        assert ag.constant(25).plot().get_title(loc="left") == "25.0 °C throughout"
        day = ag.day_night(27, 21).plot()
        assert day.get_title(loc="left") == "24.5 °C on average (21.0 to 27.0)"
