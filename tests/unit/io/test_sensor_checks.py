"""What looks wrong with a sensor is told; humidity is read, and every refusal by its text."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from temperature_records import csv, message, record

from antgrowth.climate.temperature import read_temperature


def wavy(hours: int = 96, every: str = "1h") -> pd.DataFrame:
    table = record("2026-07-04", hours, every=every)
    hour = table["time"].dt.hour + table["time"].dt.minute / 60
    return table.assign(temperature_c=np.round(24 + 3 * np.cos((hour - 15) * np.pi / 12), 2))


class TestSpikes:
    def test_a_wave_has_none(self):
        assert read_temperature(wavy()).findings == ()

    @pytest.mark.parametrize("size", [9.0, -9.0])
    def test_one_reading(self, size):
        table = wavy()
        table.loc[30, "temperature_c"] += size
        temps = read_temperature(table)
        celsius = table["temperature_c"][30]
        assert temps.findings == (
            "Possible spikes, 5 °C or more off the readings just before and after: 2026-07-05 "
            f"06:00 ({celsius:.1f} °C). They are used as they are: empty these cells if the sensor "
            "failed or was handled.",
        )
        assert temps.hours("2026-07-05", 1)[0, 6] == celsius

    def test_two_readings_in_a_row(self):
        table = wavy(every="10min")
        table.loc[[100, 101], "temperature_c"] = [38.0, 40.0]
        (finding,) = read_temperature(table).findings
        assert "2026-07-04 16:40 (38.0 °C), 2026-07-04 16:50 (40.0 °C)." in finding

    def test_a_lasting_step_is_none(self):
        table = wavy(every="10min")
        table.loc[100:130, "temperature_c"] += 8.0  # five hours of heating
        assert read_temperature(table).findings == ()

    def test_a_heater_that_runs_for_three_readings_is_none(self):
        table = wavy(every="10min")
        table.loc[100:102, "temperature_c"] += 8.0
        assert read_temperature(table).findings == ()

    def test_readings_far_apart_do_not_tell(self):
        table = record("2026-07-04", 24 * 5, every="3h")
        table["temperature_c"] = 20.0
        table.loc[8, "temperature_c"] = 30.0
        found = read_temperature(table.iloc[:14]).findings
        assert found and not any("spike" in finding for finding in found)

    def test_very_short_records(self):
        short = pd.DataFrame(
            {"time": ["2026-07-04 00:00", "2026-07-04 06:00"], "temperature_c": [20.0, 40.0]}
        )
        assert not any("spike" in finding for finding in read_temperature(short).findings)


class TestStuck:
    def test_the_same_reading_for_days(self):
        table = wavy(24 * 10)
        table.loc[40:100, "temperature_c"] = 23.4
        (finding,) = read_temperature(table).findings
        assert finding == (
            "The reading stays the same for 48 hours or longer 1 time: 2026-07-05 16:00 to "
            "2026-07-08 04:00 (23.4 °C for 60 hours). It is used as it is: empty these cells if "
            "the sensor was stuck; a steady nest read in whole degrees looks the same."
        )

    def test_less_than_two_days_is_not_told(self):
        table = wavy(24 * 10)
        table.loc[40:87, "temperature_c"] = 23.4
        assert read_temperature(table).findings == ()

    def test_a_keepers_own_daily_notes_are_not_told(self):
        notes = record("2026-07-04 08:00", 24 * 40, every="24h", celsius=24.0)
        assert not any("stays the same" in f for f in read_temperature(notes).findings)


class TestHumidity:
    @pytest.mark.parametrize(
        "heading", ["humidity", "Humidity (%)", "RH [%]", "humidity_pct", "relative humidity", "rh"]
    )
    def test_headings(self, tmp_path, heading):
        rows = "".join(f"2026-07-04 {hour:02d}:00;24;{60 + hour / 2}\n" for hour in range(24))
        path = csv(tmp_path, f"time;temperature_c;{heading}\n{rows}".replace(".", ","))
        temps = read_temperature(path)
        assert temps.humidity("2026-07-04", 1)[0] == pytest.approx(60 + np.arange(24) / 2)
        assert temps.findings == ()

    def test_is_averaged_within_the_hour_and_bridged_like_temperature(self):
        table = wavy(48, every="30min").assign(humidity=[40.0, 50.0] * 47 + [40.0])
        table.loc[20:25, "humidity"] = np.nan  # three hours
        temps = read_temperature(table)
        assert temps.humidity("2026-07-04", 1)[0] == pytest.approx(np.full(24, 45.0))
        assert temps.findings == ("Humidity of 3 hours interpolated.",)

    def test_a_long_gap_stays_unknown(self):
        table = wavy(48).assign(humidity=60.0)
        table.loc[20:29, "humidity"] = np.nan
        temps = read_temperature(table)
        assert np.isnan(temps.humidity("2026-07-04", 2).ravel()).nonzero()[0].tolist() == list(
            range(20, 30)
        )
        assert temps.findings == ("Humidity is not known for 10 of 48 hours.",)
        assert not np.isnan(temps.hours("2026-07-04", 2)).any()

    def test_one_reading_a_day(self):
        table = record("2026-07-04 08:00", 24 * 4 + 1, every="24h").assign(rh=[50, 60, 70, 80, 90])
        temps = read_temperature(table)
        assert temps.humidity("2026-07-04", 5)[:, [0, 23]].tolist() == [
            [float(rh)] * 2 for rh in (50, 60, 70, 80, 90)
        ]

    def test_readings_of_one_moment_are_averaged(self):
        table = wavy(48).assign(rh=60.0)
        again = table.iloc[[5, 7]].assign(rh=[70.0, np.nan])
        found = read_temperature(pd.concat([table, again])).humidity("2026-07-04", 1)[0]
        assert found[[4, 5, 7]].tolist() == [60.0, 65.0, 60.0]

    def test_a_column_without_any_is_unknown(self):
        temps = read_temperature(wavy(48).assign(humidity=np.nan))
        assert np.isnan(temps.humidity("2026-07-04", 2)).all()
        assert temps.findings == ()

    def test_on_the_keepers_clock(self):
        table = wavy(72).assign(rh=np.arange(72.0))
        table["time"] = table["time"].dt.tz_localize("UTC")
        temps = read_temperature(table, tz="Europe/Berlin")
        assert temps.humidity("2026-07-05", 1)[0, 0] == 22.0  # midnight of summer time

    def test_wet_sensors(self):
        table = wavy(48).assign(humidity=60.0)
        table.loc[[3, 9], "humidity"] = [100.4, 104.0]
        temps = read_temperature(table)
        assert temps.humidity("2026-07-04", 1)[0, [3, 9]].tolist() == [100.0, 100.0]
        assert temps.findings == (
            "Humidity read 2 times above 100 %, up to 104.0 %, as wet sensors do: taken as 100 %.",
        )

    def test_bad_rows_are_listed_with_the_others(self):
        table = wavy(48).astype({"temperature_c": object}).assign(humidity="60")
        table.loc[3, "humidity"] = "damp"
        table.loc[[9, 11], "humidity"] = ["-4", "250"]
        table.loc[11, "temperature_c"] = "warm"
        text = message(lambda: read_temperature(table))
        assert text.startswith("temperature table: 3 of 48 rows cannot be used")
        assert '  row 5: humidity "damp" is not a number\n' in text
        assert "  row 11: humidity -4 % is outside 0 to 100 %\n" in text
        assert (
            '  row 13: temperature "warm" is not a number; humidity 250 % is outside 0 to 100 %\n'
        ) in text

    def test_shares_are_refused(self):
        assert message(lambda: read_temperature(wavy(48).assign(rh=0.6))) == (
            "temperature table: humidity is 0.6 at most, which looks like a share. Give percent, 0 "
            "to 100: multiply the column by 100, or remove it."
        )

    def test_two_columns(self):
        table = wavy(48).assign(rh=60.0, humidity=60.0)
        assert message(lambda: read_temperature(table)) == (
            "temperature table: 2 humidity columns among the headings time, temperature_c, rh, "
            "humidity. At most one can be read (humidity, humidity_pct or rh). Rename or remove "
            "columns."
        )


class TestHeadings:
    def test_columns_that_are_not_read_are_named(self):
        table = wavy(48).assign(battery=3.1, note="")
        assert read_temperature(table).findings == ("Columns not used: battery, note.",)

    @pytest.mark.parametrize(
        "heading",
        ["Nest temperature (°C)", "celsius", "temperature_degC", "Air temp", "TempCelsius"],
    )
    def test_common_headings(self, heading):
        table = wavy(48).rename(columns={"temperature_c": heading})
        assert read_temperature(table).describe().startswith("48 readings")

    @pytest.mark.parametrize("heading", ["Fahrenheit", "temp degF", "room temperature (°F)"])
    def test_headings_that_say_fahrenheit(self, heading):
        table = wavy(48).rename(columns={"temperature_c": heading})
        asked = message(lambda: read_temperature(table, unit="C"))
        assert f'the heading "{heading}" says °F' in asked
        first, *_ = read_temperature(table).findings
        assert first == f'Readings taken as °F, as their heading "{heading}" says.'
