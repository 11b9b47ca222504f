"""Temperatures: plans by arithmetic, and every message by its text."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd
import pytest
from temperature_records import days_of, iso, message, record

from antgrowth.climate.temperature import constant, day_night, read_temperature, repeating_day
from antgrowth.errors import TemperatureGapError

# --- plans -----------------------------------------------------------------------------------


def test_constant():
    plan = constant(24)
    assert plan.hours("2026-07-04", 3).shape == (3, 24)
    assert (plan.hours("2026-07-04", 3) == 24.0).all()
    assert plan.hours("2026-07-04", 0).shape == (0, 24)
    assert plan.covers() == (None, None)
    assert plan.describe() == "constant 24.0 °C"
    assert repr(plan) == "<Temperature: constant 24.0 °C>"
    assert plan.findings == ()


def test_changing_what_hours_returned_changes_no_plan():
    for plan in (constant(24), days_of("2026-07-04", "2026-07-05")):
        plan.hours("2026-07-04", 2)[:] = 0.0
        assert (plan.hours("2026-07-04", 2) == 24.0).all()


def test_day_night():
    plan = day_night(27, 21)
    expected = np.where((np.arange(24) >= 8) & (np.arange(24) < 22), 27.0, 21.0)
    assert np.array_equal(plan.hours("2026-07-04", 2), [expected, expected])
    assert plan.describe() == "27.0 °C by day (08:00-22:00), 21.0 °C by night"


def test_day_night_switches_within_an_hour():
    row = day_night(27, 21, day_hours=1.75, day_starts=8.5).hours("2026-07-04", 1)[0]
    assert row[7] == 21.0
    assert row[8] == 24.0  # half an hour of each
    assert row[9] == 27.0
    assert row[10] == pytest.approx(22.5)  # a quarter of an hour by day
    assert row[11] == 21.0


def test_day_night_switches_on_and_off_within_one_hour():
    row = day_night(27, 21, day_hours=0.5, day_starts=8.25).hours("2026-07-04", 1)[0]
    assert row[8] == 24.0
    assert (np.delete(row, 8) == 21.0).all()


def test_day_night_past_midnight():
    plan = day_night(27, 21, day_hours=8.5, day_starts=20)
    row = plan.hours("2026-07-04", 1)[0]
    assert np.flatnonzero(row == 27.0).tolist() == [0, 1, 2, 3, 20, 21, 22, 23]
    assert row[4] == 24.0
    assert plan.describe() == "27.0 °C by day (20:00-04:30), 21.0 °C by night"


@pytest.mark.parametrize("hours", [0, 24, -1, float("nan"), "long"])
def test_day_night_needs_a_day_and_a_night(hours):
    assert message(lambda: day_night(27, 21, day_hours=hours)) == (
        f"day_night: day_hours = {hours!r}. A day lasts more than 0 and less than 24 hours; for "
        "one temperature all the time use constant()."
    )


def test_day_night_starts_within_the_day():
    assert message(lambda: day_night(27, 21, day_starts=24)) == (
        "day_night: day_starts = 24. The day starts at an hour from 0 to less than 24."
    )


def test_repeating_day():
    plan = repeating_day(range(10, 34))
    assert np.array_equal(plan.hours("2026-07-04", 2), [np.arange(10, 34)] * 2)
    assert plan.describe() == "the same day repeated: mean 21.5 °C, 10.0 to 33.0"
    assert message(lambda: repeating_day([20.0] * 23)) == (
        "repeating_day: 23 values. Give 24, one for each hour from midnight on."
    )
    assert "repeating_day: hour 3 = nan." in message(
        lambda: repeating_day([20.0] * 3 + [np.nan] + [20.0] * 20)
    )


@pytest.mark.parametrize("value", [75, -41, float("nan"), float("inf"), None, "warm"])
def test_temperatures_out_of_range(value):
    assert message(lambda: constant(value)) == (
        f"constant: temperature_c = {value!r}. Give a number from -40 to 70 °C; from °F it is "
        "(°F - 32) * 5 / 9."
    )
    assert "day_night: day = " in message(lambda: day_night(value, 21))
    assert "day_night: night = " in message(lambda: day_night(27, value))


@pytest.mark.parametrize(
    "start",
    [
        datetime.date(2027, 10, 14),
        datetime.datetime(2027, 10, 14),
        pd.Timestamp("2027-10-14"),
        np.datetime64("2027-10-14"),
        np.datetime64("2027-10-14T00:00:00"),
        "2027-10-14",
    ],
)
def test_any_kind_of_date(start):
    plan = constant(24).then("2027-10-15", constant(18))
    assert plan.hours(start, np.int64(2))[:, 0].tolist() == [24.0, 18.0]


def test_wrong_arguments():
    plan = constant(24)
    assert message(lambda: plan.hours("2026-07-04", 1.5)) == (
        "days = 1.5. Use a whole number >= 0."
    )
    assert message(lambda: plan.hours("2026-07-04", -1)) == "days = -1. Use a whole number >= 0."
    assert "start = soon." in message(lambda: plan.hours("soon", 1))
    assert "start = 5." in message(lambda: plan.hours(5, 1))
    assert "date = 03/04/2026." in message(lambda: plan.then("03/04/2026", plan))
    assert "days = 0. Use a whole number >= 1." == message(
        lambda: plan.typical_day("2026-07-04", days=0)
    )
    assert "other = 'cold'." in message(lambda: plan.then("2026-07-04", "cold"))


# --- one after the other ---------------------------------------------------------------------


def test_then_changes_on_the_date():
    plan = constant(24).then("2027-10-15", constant(18)).then("2027-10-17", day_night(27, 21))
    hours = plan.hours("2027-10-13", 6)
    assert hours[:, 0].tolist() == [24.0, 24.0, 18.0, 18.0, 21.0, 21.0]
    assert hours[:, 12].tolist() == [24.0, 24.0, 18.0, 18.0, 27.0, 27.0]
    assert plan.describe() == (
        "constant 24.0 °C; then from 2027-10-15 constant 18.0 °C; then from 2027-10-17 "
        "27.0 °C by day (08:00-22:00), 21.0 °C by night"
    )
    assert plan.covers() == (None, None)


def test_then_nested_on_the_right_is_the_same():
    a, b, c = constant(24), constant(18), constant(12)
    left = a.then("2027-10-15", b).then("2027-10-17", c)
    right = a.then("2027-10-15", b.then("2027-10-17", c))
    assert np.array_equal(left.hours("2027-10-13", 6), right.hours("2027-10-13", 6))
    assert left.describe() == right.describe()


@pytest.mark.parametrize("start", ["2027-10-10", "2027-10-14", "2027-10-15", "2027-10-20"])
def test_then_from_any_start(start):
    plan = constant(24).then("2027-10-15", constant(18))
    days = pd.date_range(start, periods=4)
    expected = np.where(days < pd.Timestamp("2027-10-15"), 24.0, 18.0)
    assert np.array_equal(plan.hours(start, 4)[:, 7], expected)


def test_then_takes_a_number():
    assert constant(24).then("2027-10-15", 18).hours("2027-10-15", 1)[0, 0] == 18.0


def test_a_record_continued_by_a_plan():
    plan = days_of("2026-07-04", "2026-11-02", 24.1).then("2026-11-03", constant(18))
    assert plan.describe() == (
        "2,928 readings, 2026-07-04 to 2026-11-02, mean 24.1 °C, 24.1 to 24.1; then from "
        "2026-11-03 constant 18.0 °C"
    )
    assert iso(plan.covers()) == ["2026-07-04", None]
    assert plan.hours("2026-11-02", 2)[:, 0].tolist() == [24.1, 18.0]


def test_then_refuses_dates_that_leave_one_of_the_two_without_a_day():
    temps = days_of("2026-07-04", "2026-07-10")
    assert message(lambda: temps.then("2025-07-11", constant(18))) == (
        "then: the temperature starts 2026-07-04, so it cannot change on 2025-07-11 already. "
        "Correct the date, or use the second temperature alone."
    )
    assert message(lambda: constant(18).then("2026-07-11", temps)) == (
        "then: the second temperature ends 2026-07-10, so it cannot follow from 2026-07-11 on. "
        "Correct the date, or leave it out."
    )


# --- rest ------------------------------------------------------------------------------------


def test_rest():
    plan = constant(24).rest("2027-11-15", "2027-11-17", temperature=10)
    assert plan.hours("2027-11-14", 4)[:, 0].tolist() == [24.0, 10.0, 10.0, 24.0]
    assert plan.resting("2027-11-14", 4).tolist() == [False, True, True, False]
    assert plan.describe() == (
        "constant 24.0 °C; rest from 2027-11-15 until 2027-11-17, constant 10.0 °C"
    )


def test_rest_at_the_planned_temperature():
    plan = constant(24).rest("2027-11-15", "2027-11-17")
    assert (plan.hours("2027-11-14", 4) == 24.0).all()
    assert plan.resting("2027-11-14", 4).tolist() == [False, True, True, False]
    assert plan.describe() == "constant 24.0 °C; rest from 2027-11-15 until 2027-11-17"


def test_rest_with_a_plan_of_its_own():
    plan = constant(24).rest("2027-11-15", "2027-11-17", day_night(12, 8))
    assert plan.hours("2027-11-15", 1)[0, [0, 12]].tolist() == [8.0, 12.0]


def test_rests_add_up_and_end_with_the_plan_they_belong_to():
    plan = (
        constant(24)
        .rest("2027-11-15", "2027-11-16", 10)
        .rest("2027-11-18", "2027-11-20", 12)
        .then("2027-11-19", constant(26))
    )
    assert plan.resting("2027-11-14", 6).tolist() == [False, True, False, False, True, False]
    assert plan.hours("2027-11-14", 6)[:, 0].tolist() == [24.0, 10.0, 24.0, 24.0, 12.0, 26.0]


def test_nothing_rests_without_rest():
    for plan in (constant(24), days_of("2026-07-04", "2026-07-05")):
        assert plan.resting("2026-07-04", 2).tolist() == [False, False]
        assert plan.resting("2026-07-04", 2).dtype == bool


def test_rest_covers_days_that_the_record_does_not():
    temps = days_of("2026-07-04", "2026-11-14")
    assert iso(temps.rest("2026-11-15", "2026-12-01").covers()) == ["2026-07-04", "2026-11-14"]
    plan = temps.rest("2026-11-15", "2026-12-01", temperature=10)
    assert iso(plan.covers()) == ["2026-07-04", "2026-11-30"]
    assert plan.hours("2026-11-14", 17)[[0, 1, 16], 0].tolist() == [24.0, 10.0, 10.0]
    assert message(lambda: plan.hours("2026-11-30", 2), TemperatureGapError) == (
        "temperature ends 2026-11-30 but 2026-12-01 (1 day) is needed. Add readings, or extend "
        'it: temps.then("2026-12-01", ag.constant(24.0)).'
    )


def test_rest_that_cannot_be():
    assert message(lambda: constant(24).rest("2027-11-15", "2027-11-15")) == (
        "rest: it starts 2027-11-15 and ends 2027-11-15. The end is the first day after the "
        "rest, later than its start."
    )
    short = days_of("2027-11-15", "2027-11-20", 10.0)
    assert "temperature ends 2027-11-20 but 2027-11-21 to 2027-11-30 (10 days)" in message(
        lambda: constant(24).rest("2027-11-15", "2027-12-01", short), TemperatureGapError
    )


# --- days that are not covered ---------------------------------------------------------------


def test_days_after_the_record():
    temps = days_of("2026-04-01", "2026-05-01")
    text = (
        "temperature ends 2026-05-01 but 2026-05-02 to 2026-06-10 (40 days) are needed. "
        'Add readings, or extend it: temps.then("2026-05-02", ag.constant(24.0)).'
    )
    assert message(lambda: temps.hours("2026-04-20", 52), TemperatureGapError) == text
    mended = temps.then("2026-05-02", constant(24.0))
    assert mended.hours("2026-04-20", 52).shape == (52, 24)


def test_days_long_after_the_record():
    temps = days_of("2026-04-01", "2026-05-01")
    assert message(lambda: temps.hours("2026-08-01", 2), TemperatureGapError) == (
        "temperature ends 2026-05-01 but 2026-08-01 to 2026-08-02 (2 days) are needed. "
        'Add readings, or extend it: temps.then("2026-05-02", ag.constant(24.0)).'
    )


def test_days_before_the_record():
    temps = days_of("2026-05-01", "2026-05-10")
    assert message(lambda: temps.hours("2026-04-20", 12), TemperatureGapError) == (
        "temperature starts 2026-05-01 but 2026-04-20 to 2026-04-30 (11 days) are needed. "
        'Add readings, or put a plan before it: ag.constant(24.0).then("2026-05-01", temps).'
    )
    mended = constant(20.0).then("2026-05-01", temps)
    assert mended.hours("2026-04-30", 2)[:, 0].tolist() == [20.0, 24.0]


def test_every_lack_is_reported_at_once():
    table = record("2026-05-01", 24 * 10)
    temps = read_temperature(table.drop(index=range(62, 105)))
    text = message(lambda: temps.hours("2026-04-30", 12), TemperatureGapError)
    assert text == (
        "temperature starts 2026-05-01 but 2026-04-30 (1 day) is needed. Add readings, or put a "
        'plan before it: ag.constant(24.0).then("2026-05-01", temps).\n'
        "temperature ends 2026-05-10 but 2026-05-11 (1 day) is needed. Add readings, or extend "
        'it: temps.then("2026-05-11", ag.constant(24.0)).\n'
        "temperature has 1 gap in the days that are needed (only up to 6 missing hours in a row "
        "are interpolated):\n"
        "  2026-05-03 14:00 to 2026-05-05 09:00 (43 hours)\n"
        "Add readings, or bridge each gap with a plan, the first for example: "
        'temps.then("2026-05-03", ag.constant(24.0)).then("2026-05-06", temps).'
    )


def test_the_remedy_for_a_gap_is_one():
    table = record("2026-05-01", 24 * 10)
    temps = read_temperature(table.drop(index=range(62, 105)))
    mended = temps.then("2026-05-03", constant(20.0)).then("2026-05-06", temps)
    assert mended.hours("2026-05-01", 10)[:, 0].tolist() == [24.0] * 2 + [20.0] * 3 + [24.0] * 5


def test_a_gap_matters_only_when_its_days_are_asked_for():
    table = record("2026-05-01", 24 * 10)
    temps = read_temperature(table.drop(index=range(62, 105)))
    assert temps.describe().endswith("24.0 to 24.0, with 1 gap")
    assert temps.hours("2026-05-01", 2).shape == (2, 24)
    assert temps.hours("2026-05-06", 5).shape == (5, 24)
    assert "2026-05-03 14:00 to 2026-05-04 00:00 (10 hours)" in message(
        lambda: temps.hours("2026-05-02", 2), TemperatureGapError
    )


def test_many_gaps_are_listed_but_not_all():
    table = record("2026-05-01", 24 * 30)
    temps = read_temperature(table[~table["time"].dt.hour.between(8, 15)])
    text = message(lambda: temps.hours("2026-05-01", 30), TemperatureGapError)
    assert "temperature has 30 gaps" in text
    assert text.count("(8 hours)") == 20
    assert "and 10 more" in text


def test_a_gap_between_record_and_plan():
    plan = days_of("2026-05-01", "2026-05-10").then("2026-05-13", constant(20))
    text = message(lambda: plan.hours("2026-05-09", 10), TemperatureGapError)
    assert "  2026-05-11 00:00 to 2026-05-13 00:00 (48 hours)\n" in text
    assert 'temps.then("2026-05-11", ag.constant(24.0)).then("2026-05-13", temps)' in text


# --- typical day -----------------------------------------------------------------------------


def test_typical_day_is_the_mean_by_hour():
    table = record("2026-07-01", 24 * 20)
    day = table["time"].dt.day
    table["temperature_c"] = 20.0 + table["time"].dt.hour / 10 + day / 100
    plan = read_temperature(table).typical_day("2026-07-18", days=3)
    assert plan.hours("2030-01-01", 2) == pytest.approx(np.tile(20.17 + np.arange(24) / 10, (2, 1)))
    assert plan.covers() == (None, None)
    assert plan.describe() == (
        "mean of 3 days, 2026-07-16 to 2026-07-18, repeated daily: mean 21.3 °C, 20.2 to 22.5"
    )
    assert "mean of 14 days, 2026-07-05 to 2026-07-18" in (
        read_temperature(table).typical_day("2026-07-18").describe()
    )


def test_typical_day_of_a_short_record_and_across_a_gap():
    table = record("2026-05-01", 24 * 10)
    temps = read_temperature(table.drop(index=range(62, 105)))
    assert (
        temps.typical_day("2026-05-02")
        .describe()
        .startswith("mean of 2 days, 2026-05-01 to 2026-05-02, repeated daily")
    )
    assert temps.typical_day("2026-05-01").describe().startswith("mean of 1 day, 2026-05-01, ")
    assert (
        temps.typical_day("2026-05-08")
        .describe()
        .startswith("mean of 5 days, 2026-05-01 to 2026-05-08, repeated daily")
    )


def test_typical_day_of_a_day_without_temperature():
    temps = days_of("2026-05-01", "2026-05-10")
    for end in ("2026-05-11", "2026-04-30"):
        with pytest.raises(TemperatureGapError, match=f"but {end} \\(1 day\\) is needed"):
            temps.typical_day(end)


def test_typical_day_across_a_change_of_plan():
    plan = constant(20).then("2026-05-08", constant(27)).typical_day("2026-05-14", days=14)
    assert plan.hours("2026-06-01", 1)[0] == pytest.approx(np.full(24, 23.5))
