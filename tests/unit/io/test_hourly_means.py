"""From readings to hours and days: gaps, edges, zones, by hand-worked numbers."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from temperature_records import csv, iso, message, record

from antgrowth.climate.temperature import Temperature, read_temperature
from antgrowth.errors import TemperatureGapError

# --- from readings to hours ------------------------------------------------------------------


def test_readings_are_averaged_within_the_clock_hour():
    table = record("2026-07-04", 48, every="10min")
    table["temperature_c"] = 20.0 + table["time"].dt.hour + table["time"].dt.minute / 60
    row = read_temperature(table).hours("2026-07-04", 1)[0]
    assert row == pytest.approx(20.0 + np.arange(24) + 25 / 60)  # 0, 10, ... 50 minutes


def test_short_gaps_are_interpolated_and_longer_ones_are_not():
    table = record("2026-07-04", 72)
    table["temperature_c"] = 20.0 + np.arange(72) / 10
    temps = read_temperature(table.drop(index=[30, 31, 32, 33, 34, 35]))
    assert temps.hours("2026-07-05", 1)[0] == pytest.approx(22.4 + np.arange(24) / 10)
    assert temps.findings == ("6 hours without a reading interpolated, in 1 gap of up to 6 hours.",)
    temps = read_temperature(table.drop(index=[30, 31, 32, 33, 34, 35, 36]))
    assert "2026-07-05 06:00 to 2026-07-05 13:00 (7 hours)" in message(
        lambda: temps.hours("2026-07-05", 1), TemperatureGapError
    )
    assert temps.findings == ()


def test_readings_every_six_hours_are_joined():
    table = record("2026-07-04", 24 * 4, every="6h")
    table["temperature_c"] = 20.0 + np.arange(len(table))
    temps = read_temperature(table)
    assert temps.hours("2026-07-04", 1)[0] == pytest.approx(20.0 + np.arange(24) / 6)
    assert iso(temps.covers()) == ["2026-07-04", "2026-07-07"]


def test_a_first_and_last_day_read_in_part_are_completed():
    table = record("2026-07-04 15:00", 9 + 24 + 6)
    table["temperature_c"] = 20.0 + np.arange(39) / 10
    temps = read_temperature(table)
    assert iso(temps.covers()) == ["2026-07-04", "2026-07-06"]
    hours = temps.hours("2026-07-04", 3)
    assert (hours[0, :16] == 20.0).all()
    assert hours[0, 16] == pytest.approx(20.1)
    assert hours[2, 5:] == pytest.approx(23.8)
    assert temps.findings == (
        "2026-07-04 is read from 15:00 on; the hours before are taken as that.",
        "2026-07-06 is read until 06:00; the hours after are taken as the last.",
    )


def test_a_first_and_last_day_hardly_read_are_not_covered():
    temps = read_temperature(record("2026-07-04 19:00", 5 + 24 + 5))
    assert iso(temps.covers()) == ["2026-07-05", "2026-07-05"]
    assert temps.findings == (
        "2026-07-04 is known for 5 hours, fewer than 6, so it is not covered.",
        "2026-07-06 is known for 5 hours, fewer than 6, so it is not covered.",
    )
    assert "temperature starts 2026-07-05 but 2026-07-04 (1 day) is needed." in message(
        lambda: temps.hours("2026-07-04", 2), TemperatureGapError
    )


def test_a_record_of_a_few_hours_covers_nothing():
    assert message(lambda: read_temperature(record("2026-07-04 19:00", 5))) == (
        "temperature table: no day has a temperature. 2026-07-04 is known for 5 hours, fewer "
        "than 6, so it is not covered. Add readings."
    )


def test_one_reading_a_day_is_the_mean_of_the_day():
    table = record("2026-07-04 08:00", 24 * 9 + 1, every="24h")
    table["temperature_c"] = 20.0 + np.arange(10)
    temps = read_temperature(table)
    assert iso(temps.covers()) == ["2026-07-04", "2026-07-13"]
    hours = temps.hours("2026-07-04", 10)
    assert np.array_equal(hours, np.repeat(20.0 + np.arange(10)[:, None], 24, axis=1))
    assert temps.describe() == (
        "10 readings, each taken as the mean of its day, 2026-07-04 to 2026-07-13, "
        "mean 24.5 °C, 20.0 to 29.0"
    )
    assert temps.findings == (
        "Readings are mostly more than 6 hours apart, so each stands for the mean of its day.",
    )


def test_a_few_readings_a_day_are_averaged():
    table = record("2026-07-04", 24 * 3, every="8h")
    table["temperature_c"] = [20.0, 26.0, 23.0] * 3
    assert (read_temperature(table).hours("2026-07-04", 3) == 23.0).all()


def test_a_daily_record_is_held_for_36_hours_at_most():
    def noted(*stamps: str) -> Temperature:
        celsius = 20.0 + np.arange(len(stamps))
        return read_temperature(pd.DataFrame({"time": stamps, "temperature_c": celsius}))

    held = noted("2026-07-04 08:00", "2026-07-05 20:00", "2026-07-07 08:00", "2026-07-08 08:00")
    assert held.hours("2026-07-04", 5)[:, 3].tolist() == [20.0, 21.0, 21.0, 22.0, 23.0]
    assert "1 day without a reading taken as the day before: 2026-07-06." in held.findings
    gap = noted("2026-07-04 08:00", "2026-07-05 20:00", "2026-07-07 09:00", "2026-07-08 08:00")
    assert "2026-07-06 00:00 to 2026-07-07 00:00 (24 hours)" in message(
        lambda: gap.hours("2026-07-04", 5), TemperatureGapError
    )
    single = noted("2026-07-04")
    assert iso(single.covers()) == ["2026-07-04", "2026-07-04"]


def test_row_order_does_not_matter():
    table = record("2026-07-04", 72)
    table["temperature_c"] = 20.0 + np.arange(72) / 10
    shuffled = table.sample(frac=1, random_state=1)
    straight, crooked = read_temperature(table), read_temperature(shuffled)
    assert np.array_equal(straight.hours("2026-07-04", 3), crooked.hours("2026-07-04", 3))
    assert crooked.findings == ()


def test_repeated_times_are_averaged_and_reported():
    table = record("2026-07-04", 48)
    again = pd.DataFrame(
        {"time": [table["time"][3], table["time"][5]], "temperature_c": [26.0, 24.0]}
    )
    temps = read_temperature(pd.concat([table, again]))
    assert temps.hours("2026-07-04", 1)[0, [3, 5]].tolist() == [25.0, 24.0]
    assert temps.findings == (
        "2 times read more than once, 1 of them with different readings, which were averaged: "
        "2026-07-04 03:00:00, 2026-07-04 05:00:00.",
    )
    assert temps.describe().startswith("48 readings")
    assert temps.then("2026-07-06", temps.typical_day("2026-07-05")).findings == temps.findings


# --- zones and clock changes -----------------------------------------------------------------


def zoned(first: str, last: str) -> pd.DataFrame:
    times = pd.date_range(first, last, freq="30min", tz="UTC")
    return pd.DataFrame({"time": times, "temperature_c": np.arange(len(times)) / 10 + 10})


def test_a_zone_needs_the_zone_of_the_clock():
    table = zoned("2026-07-04", "2026-07-06")
    assert message(lambda: read_temperature(table)) == (
        'temperature table, row 2: time "2026-07-04 00:00:00+00:00" carries a time zone, but a '
        "colony's log is kept by local days. Name the zone of your clock: "
        'read_temperature(..., tz="Europe/Berlin").'
    )
    assert "read_temperature: tz = 'Berlin' is not a time zone." in message(
        lambda: read_temperature(table, tz="Berlin")
    )


@pytest.mark.parametrize("form", ["%Y-%m-%dT%H:%M:%SZ", "%Y-%m-%d %H:%M:%S+00:00", None])
def test_zoned_times_move_to_the_clock(form):
    table = zoned("2026-07-03 22:00", "2026-07-05 21:30")
    expected = 10.05 + np.arange(48) / 5
    if form:
        table["time"] = table["time"].dt.strftime(form)
    temps = read_temperature(table, tz="Europe/Berlin")  # two hours ahead in summer
    assert iso(temps.covers()) == ["2026-07-04", "2026-07-05"]
    assert temps.hours("2026-07-04", 2).reshape(-1) == pytest.approx(expected)
    assert temps.findings == ()


def test_offsets_may_differ_from_row_to_row():
    table = zoned("2026-03-28 23:00", "2026-03-30 21:30")
    local = table["time"].dt.tz_convert("Europe/Berlin")
    table["time"] = [stamp.isoformat() for stamp in local]
    assert table["time"].str[-6:].unique().tolist() == ["+01:00", "+02:00"]
    assert iso(read_temperature(table, tz="Europe/Berlin").covers()) == ["2026-03-29", "2026-03-30"]


def test_the_hour_skipped_in_spring_is_interpolated():
    temps = read_temperature(zoned("2026-03-28 23:00", "2026-03-29 21:30"), tz="Europe/Berlin")
    row = temps.hours("2026-03-29", 1)[0]
    assert row[[1, 2, 3]] == pytest.approx([10.25, 10.35, 10.45])  # 02:00 does not exist
    assert temps.findings == ("1 hour without a reading interpolated, in 1 gap of up to 6 hours.",)


def test_the_hour_repeated_in_autumn_is_averaged():
    temps = read_temperature(zoned("2026-10-24 22:00", "2026-10-25 22:30"), tz="Europe/Berlin")
    row = temps.hours("2026-10-25", 1)[0]
    assert row[[1, 3]] == pytest.approx([10.25, 10.85])
    assert row[2] == pytest.approx(10.55)  # four readings, 10.4 to 10.7
    assert temps.findings == ()


def test_times_without_a_zone_are_clock_times():
    temps = read_temperature(record("2026-07-04", 48), tz="Europe/Berlin")
    assert iso(temps.covers()) == ["2026-07-04", "2026-07-05"]
    assert temps.findings == (
        "The times carry no time zone: they are taken as clock times in Europe/Berlin.",
    )


def test_zoned_and_other_times_do_not_mix(tmp_path):
    path = csv(tmp_path, "time,temp\n2026-07-04T10:00Z,24\n2026-07-04 11:00,24\n")
    assert '  row 3: time "2026-07-04 11:00" has no time zone, but others have one\n' in message(
        lambda: read_temperature(path, tz="Europe/Berlin")
    )
