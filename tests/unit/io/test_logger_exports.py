"""Files as loggers write them: all invented, after forms that are common among them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.errors import TemperatureError

TIMES = pd.date_range("2026-07-04", periods=24 * 20, freq="1h")
CELSIUS = 24 + 3 * np.sin(np.arange(len(TIMES)) * 2 * np.pi / 24)


def file(folder: Path, *above: str, form: str, cells: str = "{time},{c:.2f}") -> Path:
    rows = [
        cells.format(k=k + 1, time=time.strftime(form), c=c, f=c * 1.8 + 32)
        for k, (time, c) in enumerate(zip(TIMES, CELSIUS, strict=True))
    ]
    path = folder / "log.csv"
    path.write_text("\n".join([*above, *rows, ""]), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("above", "form", "cells"),
    [
        (
            ("Plot Title: nest", '"#","Date Time, GMT+02:00","Temp, °C","RH, %"'),
            "%m/%d/%y %I:%M:%S %p",
            "{k},{time},{c:.2f},55",
        ),
        (("Serial;0815", "Interval;60 min", "", "Datum/Uhrzeit;Temperatur [°C];Feuchte [%]"),
         "%d.%m.%Y %H:%M", "{time};{c:.2f};55"),
        (("# time,temperature (degrees Celsius)",), "%Y-%m-%d %H:%M", "{time},{c:.2f}"),
        (("Timestamp for sample,Temperature (Fahrenheit),Relative Humidity (%)",),
         "%Y-%m-%d %I:%M %p", "{time},{f:.3f},55"),
        (("device: shelf, left", "Fecha y hora,Temperatura (°C)"), "%Y/%m/%d %H:%M",
         "{time},{c:.2f}"),
        (("Date,Time,Temp (deg C),Dew Point (°C)",), "%d/%m/%Y,%I:%M:%S%p", "{time},{c:.2f},9"),
    ],
)  # fmt: skip
def test_each_is_read_as_it_comes(tmp_path, above, form, cells):
    temps = ag.read_temperature(file(tmp_path, *above, form=form, cells=cells))
    found = temps.hours("2026-07-04", 20).reshape(-1)
    assert found == pytest.approx(CELSIUS, abs=0.006)


def test_lines_above_the_headings_are_told(tmp_path):
    path = file(tmp_path, "Plot: nest", "time,temp", form="%Y-%m-%d %H:%M")
    assert ag.read_temperature(path).findings == (
        "1 line above the headings not read: Plot: nest.",
    )


def test_a_fault_names_the_row_of_the_file(tmp_path):
    path = file(tmp_path, "Plot: nest", "", "time,temp", form="%Y-%m-%d %H:%M")
    path.write_text(path.read_text().replace("2026-07-04 01:00,", "2026-07-04 01:00,warm"))
    with pytest.raises(TemperatureError, match='row 5: temperature "warm24.78" is not a number'):
        ag.read_temperature(path)


def test_a_comment_is_no_heading_where_there_is_one_without(tmp_path):
    path = file(
        tmp_path, "# date, temperature of the room", "time,temperature_c", form="%Y-%m-%d %H:%M"
    )
    assert ag.read_temperature(path).findings == ()


@pytest.mark.parametrize("days", [1, 2, 9])
def test_a_short_year_that_may_be_a_day_is_refused(tmp_path, days):
    rows = "".join(
        f"{time:%m/%d/%y %H:%M},24\n" for time in pd.date_range("2026-07-04", periods=24 * days,
                                                               freq="1h")
    )  # fmt: skip
    path = tmp_path / "log.csv"
    path.write_text("time,temp\n" + rows)
    with pytest.raises(TemperatureError, match="Not a date that can be read"):
        ag.read_temperature(path)


def test_noon_and_midnight(tmp_path):
    path = file(tmp_path, "time,temp", form="%Y-%m-%d %I:%M %p")
    hours_c = ag.read_temperature(path).hours("2026-07-04", 1)[0]
    assert hours_c[0] == pytest.approx(CELSIUS[0], abs=0.006)  # 12:00 AM
    assert hours_c[12] == pytest.approx(CELSIUS[12], abs=0.006)  # 12:00 PM


def test_a_clock_named_in_the_heading_is_moved_to_the_keepers(tmp_path):
    path = file(tmp_path, '"Time, GMT+00:00",temp', form="%Y-%m-%d %H:%M")
    as_it_stands = ag.read_temperature(path)
    assert "GMT+00:00" in as_it_stands.findings[0]
    moved = ag.read_temperature(path, tz="Europe/Berlin")
    assert moved.hours("2026-07-05", 1)[0, 2:] == pytest.approx(
        as_it_stands.hours("2026-07-05", 1)[0, :-2]
    )


class TestEmptyBattery:
    """Three days without readings, of a record that is two degrees warmer afterwards."""

    @pytest.fixture
    def table(self) -> pd.DataFrame:
        table = pd.DataFrame({"time": TIMES, "temperature_c": CELSIUS + 2 * (TIMES.day > 13)})
        gap = (table["time"] >= "2026-07-11 05:00") & (table["time"] < "2026-07-14 05:00")
        return table[~gap]

    def test_it_is_an_error_unless_it_is_bridged(self, table):
        with pytest.raises(ag.AntgrowthError, match="1 gap"):
            ag.read_temperature(table).hours("2026-07-04", 20)

    def test_the_days_on_both_sides_tell(self, table):
        temps = ag.read_temperature(table, bridge_days=3)
        middle = temps.hours("2026-07-12", 1)[0]
        by_hand = CELSIUS[:24] + 2 * (np.arange(19, 43) + 0.5) / 72
        assert middle == pytest.approx(by_hand)
        assert temps.findings == (
            "72 hours without a reading, 2026-07-11 05h to 2026-07-14 04h, bridged by the daily "
            "pattern of the days on both sides: it may have been warmer or cooler. The record is "
            "too short to tell by how much. No interval is widened for it: all allow for a sensor "
            "that is off on all days, of which these are a few.",
        )

    def test_how_far_such_a_bridge_is_off_is_told(self):
        """Against every two whole days of the record that are known, between three on each side."""
        means_c = 22 + np.random.default_rng(5).normal(0, 1.5, 60).round(1)
        times = pd.date_range("2026-07-01", periods=60 * 24, freq="h")
        table = pd.DataFrame({"time": times, "temperature_c": np.repeat(means_c, 24)})
        gone = np.isin(np.arange(60), [40, 41])
        known = np.where(gone, np.nan, means_c)
        off = [
            (known[d - 3 : d].mean() + known[d + 2 : d + 5].mean()) / 2 - known[d : d + 2].mean()
            for d in range(3, 56)
        ]
        far = np.quantile(np.abs([one for one in off if np.isfinite(one)]), 0.9)
        found = ag.read_temperature(table[~np.repeat(gone, 24)], bridge_days=3)
        assert (
            f"was off by up to {far:.1f} °C on average in nine of ten tries. No"
            in found.findings[0]
        )

    def test_a_longer_one_is_not(self, table):
        with pytest.raises(ag.AntgrowthError, match="1 gap"):
            ag.read_temperature(table, bridge_days=2).hours("2026-07-04", 20)

    def test_in_a_folder_it_is_bridged_and_told_unless_forbidden(self, table, tmp_path):
        text = 'species = "lasius-niger"\nqueen_since = "2026-07-04"\n'
        (tmp_path / "colony.toml").write_text(text)
        (tmp_path / "counts.csv").write_text("date,eggs\n2026-07-22,9\n")
        table.to_csv(tmp_path / "temperature.csv", index=False)
        assert "72 hours without a reading" in ag.load_colony(tmp_path).summary()
        (tmp_path / "colony.toml").write_text(text + "[temperature]\nbridge_days = 0\n")
        with pytest.raises(ag.AntgrowthError, match="bridge_days = 14 bridges longer gaps"):
            ag.load_colony(tmp_path)
