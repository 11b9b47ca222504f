"""Reading thermometer records: forms that are accepted, and every message by its text."""

from __future__ import annotations

import datetime
import re

import numpy as np
import pandas as pd
import pytest
from temperature_records import csv, iso, message, record

from antgrowth.climate.temperature import read_temperature

# --- files -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "heading",
    [
        "time,temperature_c",
        "Date,Temperature",
        "DATETIME, temp ",
        "timestamp,Temp_C",
        "Time,Temperature (°C)",
        "date time,temp [°C]",
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1"])
def test_headings(tmp_path, heading, encoding):
    rows = "".join(f"2026-07-04 {hour:02d}:00,{20 + hour / 10}\n" for hour in range(24))
    temps = read_temperature(csv(tmp_path, f"{heading}\n{rows}", encoding))
    assert temps.hours("2026-07-04", 1)[0] == pytest.approx(20 + np.arange(24) / 10)
    assert temps.findings == ()


@pytest.mark.parametrize(
    "row",
    [
        "2026-07-{day:02d} {hour:02d}:00;{celsius}",
        "2026-07-{day:02d}T{hour:02d}:00:00.000;{celsius}",
        "{day:02d}.07.2026 {hour:02d}:00;{celsius}",
        "{day}.7.2026 {hour}:00;{celsius}",
        "2026/07/{day:02d} {hour:02d}:00; {celsius} ",
        '"2026-07-{day:02d} {hour:02d}:00";"{celsius}"',
    ],
)
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_semicolons_decimal_commas_and_forms_of_dates(tmp_path, row, newline):
    rows = [
        row.format(day=day, hour=hour, celsius=f"{20 + hour / 10:.1f}".replace(".", ","))
        for day in (4, 5)
        for hour in range(24)
    ]
    temps = read_temperature(csv(tmp_path, newline.join(["time;temperature_c", *rows, ""])))
    assert temps.hours("2026-07-04", 2) == pytest.approx(np.tile(20 + np.arange(24) / 10, (2, 1)))
    assert temps.findings == ()


def test_date_and_time_in_two_columns(tmp_path):
    rows = "".join(f"{hour:02d}:00,04.07.2026,24.5,ok\n" for hour in range(24))
    path = csv(tmp_path, f"time,date,temperature_c,note\n{rows}")
    assert iso(read_temperature(path).covers()) == ["2026-07-04", "2026-07-04"]
    frame = pd.read_csv(path)
    assert iso(read_temperature(frame).covers()) == ["2026-07-04", "2026-07-04"]


def test_comments_and_blank_lines_count_as_rows(tmp_path):
    rows = "".join(f"2026-07-04 {hour:02d}:00,24\n" for hour in range(24))
    text = f"# an invented record, for show\n\ntime,temperature_c\n{rows}\n# moved\n2026-07-05,x\n"
    assert message(lambda: read_temperature(csv(tmp_path, text))) == (
        "logger.csv: 1 of 27 rows cannot be used (the row of headings is row 1).\n"
        '  row 30: temperature "x" is not a number\n'
        "Times are written 2026-07-04 15:00 or 04.07.2026 15:00; readings are numbers, -40 to "
        "70 °C. Correct these rows, or empty the temperature cell where the sensor failed."
    )


def test_all_bad_rows_are_listed(tmp_path):
    rows = [
        "2026-07-04 00:00,24",
        "03/04/2026 01:00,24",
        "yesterday,24",
        "2026-07-04 03:00,warm",
        "2026-07-04 04:00,85",
        "2026-07-04 25:00,cold",
        ",24",
        "2026-07-04 07:00,24,5",
        "2026-02-30 08:00,24",
        "2026,24",
        "now,24",
        "1926-07-04,24",
        "2026-07-04 12:00,-127",
        "2026-07-04 13:00,inf",
    ]
    path = csv(tmp_path, "\n".join(["time,temperature_c", *rows]))
    text = message(lambda: read_temperature(path))
    assert text.startswith(
        "logger.csv: 13 of 14 rows cannot be used (the row of headings is row 1).\n"
    )
    lines = text.splitlines()[1:-1]
    expected = [
        r'row 3: time "03/04/2026 01:00": Day and month cannot be told apart; write .*',
        r'row 4: time "yesterday": Not a date that can be read.*',
        r'row 5: temperature "warm" is not a number',
        r"row 6: temperature 85.0 °C is outside -40 to 70 °C",
        r'row 7: time "2026-07-04 25:00": The time of day cannot be read; write it as 15:00.; '
        r'temperature "cold" is not a number',
        r"row 8: a reading without a time",
        r"row 9: 3 fields under 2 headings \(decimal commas need semicolons between the fields\)",
        r'row 10: time "2026-02-30 08:00": The calendar .*',
        r'row 11: time "2026": Not a date.*',
        r'row 12: time "now": Not a date.*',
        r"row 13: time 1926-07-04T00:00 is outside the years 1970 to 2100",
        r"row 14: temperature -127.0 °C is outside -40 to 70 °C",
        r"row 15: temperature inf °C is outside -40 to 70 °C",
    ]
    assert len(lines) == len(expected)
    for line, pattern in zip(lines, expected, strict=True):
        assert re.fullmatch("  " + pattern, line)


def test_only_the_first_bad_rows_are_shown():
    table = record("2026-07-04", 48)
    table["temperature_c"] = ["error"] * 23 + ["24.0"] * 25
    text = message(lambda: read_temperature(table))
    assert text.startswith("temperature table: 23 of 48 rows")
    assert text.count(' "error" is not a number') == 20
    assert "\n  row 2: " in text
    assert "\nand 3 more\n" in text


def test_rows_without_a_reading_are_reported(tmp_path):
    rows = [f"2026-07-04 {hour:02d}:00,24" for hour in range(24)]
    rows[5], rows[6], rows[7] = "2026-07-04 05:00,", "2026-07-04 06:00", "2026-07-04 07:00,NaN"
    temps = read_temperature(csv(tmp_path, "\n".join(["time,temperature_c", *rows])))
    assert temps.findings[0] == "3 rows without a reading not used: row 7, row 8, row 9."
    assert temps.describe().startswith("21 readings")


def test_missing_values_of_a_table_are_no_readings():
    table = record("2026-07-04", 48)
    table.loc[[3, 4], "temperature_c"] = np.nan
    assert read_temperature(table).findings[0] == (
        "2 rows without a reading not used: row 5, row 6."
    )
    table.loc[9, "time"] = pd.NaT
    assert "  row 11: a reading without a time\n" in message(lambda: read_temperature(table))


def test_numbers_are_no_times():
    table = pd.DataFrame({"time": [46207.5, 46208.5], "temperature_c": [24.0, 24.0]})
    assert 'row 2: time "46207.5": Not a date' in message(lambda: read_temperature(table))
    assert "2 of 2 rows" in message(lambda: read_temperature(table.astype({"time": int})))


def test_dates_of_any_python_kind():
    days = [datetime.date(2026, 7, 4), pd.Timestamp("2026-07-05"), "2026-07-06"]
    table = pd.DataFrame({"date": days, "temp": [24, 25, 26]}, dtype=object)
    assert read_temperature(table).hours("2026-07-04", 3)[:, 0].tolist() == [24.0, 25.0, 26.0]


def test_columns_that_cannot_be_found(tmp_path):
    needed = (
        "One time column (time, date, datetime or timestamp; or a date and a time) and one "
        "temperature column (temperature_c, temperature, temp_c or temp) are needed. Rename or "
        "remove columns."
    )
    headless = csv(tmp_path, "2026-07-04 15:00,24.5\n")
    assert message(lambda: read_temperature(headless)) == (
        f"logger.csv: no time column among the headings 2026-07-04 15:00, 24.5. {needed}"
    )
    both = pd.DataFrame(columns=["time", "temp", "temperature"])
    assert message(lambda: read_temperature(both)) == (
        f"temperature table: 2 temperature columns among the headings time, temp, temperature. "
        f"{needed}"
    )
    twice = pd.DataFrame(columns=["time", "timestamp", "temp"])
    assert "2 time columns among" in message(lambda: read_temperature(twice))
    assert "no time column among the headings (none)." in message(
        lambda: read_temperature(pd.DataFrame())
    )


def test_sources_that_cannot_be_read(tmp_path):
    assert message(lambda: read_temperature(csv(tmp_path, "\n\n"))) == (
        "logger.csv is empty. Its first row names the columns: time,temperature_c."
    )
    assert message(lambda: read_temperature(csv(tmp_path, "time,temp\n"))) == (
        "logger.csv: no readings. At least one row is needed."
    )
    assert "logger.csv: no readings." in message(
        lambda: read_temperature(csv(tmp_path, "time,temp\n2026-07-04,\n"))
    )
    assert "logger.csv is not a text file that can be read (a workbook?)." in message(
        lambda: read_temperature(csv(tmp_path, "time,temp\n", "utf-16"))
    )
    assert "there is no such file. Check the path; it starts at" in message(
        lambda: read_temperature(tmp_path / "nothing.csv")
    )
    assert message(lambda: read_temperature([24.0])) == (
        "read_temperature: got a list. Give the path of a CSV file, or a DataFrame with the "
        "columns time and temperature_c."
    )
    endless = 'time,temp\n2026-07-04,"24\n' + "2026-07-05,24\n" * 10_000
    assert "A double quote that is never closed does this; close or remove it." in message(
        lambda: read_temperature(csv(tmp_path, endless))
    )


def test_the_name_is_used_in_messages(tmp_path):
    path = csv(tmp_path, "time,temp\nnever,24\n")
    assert message(lambda: read_temperature(path, name="shelf")).startswith("shelf: 1 of 1 row ")
    assert message(lambda: read_temperature(str(path))).startswith("logger.csv: 1 of 1 row ")


# --- units -----------------------------------------------------------------------------------


def test_fahrenheit_is_refused_until_it_is_named():
    table = record("2026-07-04", 48, celsius=75.2)
    assert message(lambda: read_temperature(table)) == (
        "temperature table: half of the readings are 75.2 or more, too warm for a nest in °C. If "
        'the logger writes °F: read_temperature(..., unit="F").'
    )
    temps = read_temperature(table, unit="F")
    assert temps.hours("2026-07-04", 2) == pytest.approx(np.full((2, 24), 24.0))
    assert temps.findings == (
        'Readings taken as °F as asked, though their heading is "temperature_c".',
    )
    assert table["temperature_c"].iloc[0] == 75.2


def test_a_heading_that_names_its_unit():
    table = record("2026-07-04", 48, celsius=75.2).rename(columns={"temperature_c": "Temp (°F)"})
    assert message(lambda: read_temperature(table, unit="C")) == (
        'temperature table: the heading "Temp (°F)" says °F, but the readings would be taken as '
        '°C. Use read_temperature(..., unit="F"), or correct the heading.'
    )
    assert read_temperature(table).describe().endswith("mean 24.0 °C, 24.0 to 24.0")
    assert read_temperature(table, unit="F").describe().endswith("mean 24.0 °C, 24.0 to 24.0")
    assert read_temperature(table, unit="F").findings == ()
    assert message(lambda: read_temperature(table, unit="K")) == (
        'read_temperature: unit = \'K\'. Use unit="C" or unit="F".'
    )


# --- care with what is given, and speed ------------------------------------------------------


@pytest.mark.parametrize("as_text", [False, True])
def test_the_table_given_is_not_changed(as_text):
    table = record("2026-07-04", 48).sample(frac=1, random_state=1)
    if as_text:
        table = table.astype(str)
        table["temperature_c"] = table["temperature_c"].str.replace(".", ",")
    before = table.copy(deep=True)
    temps = read_temperature(table)
    temps.hours("2026-07-04", 2)[:] = -1.0
    pd.testing.assert_frame_equal(table, before)
    table["temperature_c"] = 0.0
    assert (temps.hours("2026-07-04", 2) == 24.0).all()


@pytest.mark.parametrize("form", ["%Y-%m-%d %H:%M", "%d.%m.%Y %H:%M"])
def test_a_year_of_minutes_is_read(tmp_path, form):
    stamps = pd.date_range("2026-01-01", periods=525_600, freq="min").strftime(form)
    wave = np.round(24 + 3 * np.sin(np.arange(525_600) * 2 * np.pi / 1440), 2)
    rows = (f"{stamp},{celsius}" for stamp, celsius in zip(stamps, wave.tolist(), strict=True))
    path = csv(tmp_path, "time,temperature_c\n" + "\n".join(rows))
    temps = read_temperature(path)
    assert temps.describe() == (
        "525,600 readings, 2026-01-01 to 2026-12-31, mean 24.0 °C, 21.0 to 27.0"
    )
    assert temps.hours("2026-01-01", 365)[200] == pytest.approx(
        wave[:1440].reshape(24, 60).mean(axis=1)
    )
