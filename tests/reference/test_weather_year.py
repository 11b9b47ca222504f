"""A real year of hourly weather through reading, audit and forecast.

The record is the sample that pvlib ships, a typical meteorological year of Greensboro, North
Carolina (TMY3, station 723170), put together from several years of measurements.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag

pvlib = pytest.importorskip("pvlib")


@pytest.fixture(scope="module")
def weather() -> pd.DataFrame:
    path = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    table, _ = pvlib.iotools.read_tmy3(path, coerce_year=2025, map_variables=True)
    return pd.DataFrame(
        {
            "time": table.index,
            "temperature_c": table["temp_air"].to_numpy(),
            "humidity_pct": table["relative_humidity"].to_numpy(),
        }
    )


@pytest.fixture(scope="module")
def outdoors(weather) -> ag.Temperature:
    return ag.read_temperature(weather, tz="Etc/GMT+5", name="Greensboro")


def test_every_reading_is_in_it(weather, outdoors):
    assert len(weather) == 8760
    hours = outdoors.hours("2025-01-02", 363)
    # Readings are hourly: the mean of an hour is its reading, at the zone of the station.
    local = weather.assign(time=weather["time"].dt.tz_convert("Etc/GMT+5").dt.tz_localize(None))
    series = local.set_index("time")["temperature_c"]
    expected = series.loc["2025-01-02":"2025-12-30"].to_numpy()
    assert hours.ravel() == pytest.approx(expected)
    assert -20 < hours.min() < 0 and 30 < hours.max() < 40
    assert not any("gap" in finding for finding in outdoors.findings)


def test_audit(outdoors):
    found = outdoors.audit("lasius-niger", phase="housed", start="2025-01-02", days=363)
    frame = found.frame()
    hours = outdoors.hours("2025-01-02", 363)
    assert found.hours_above == (hours > 29.0).sum() > 100
    assert frame["hours_below_egg"].sum() == (hours < 14.0).sum()
    assert frame["hours_unknown"].sum() == 0
    assert frame["humidity_pct"].between(15, 100).all()
    assert frame["deficit_kpa"].between(0, 6).all()
    assert frame["dew_point_c"].max() < hours.max()
    assert "Above the ceiling of the housed colony" in found.verdict


def test_fit_and_forecast_in_an_unheated_room(outdoors):
    # A room that follows the weather at a distance: half of its swing around 20 °C.
    hours = outdoors.hours("2025-01-02", 363)
    time = pd.date_range("2025-01-02", periods=hours.size, freq="h")
    room = ag.read_temperature(
        pd.DataFrame({"time": time, "temperature_c": 10 + hours.ravel() / 2})
    )
    notes = pd.DataFrame(
        {
            "date": ["2025-06-28", "2025-07-20", "2025-08-14"],
            "eggs": [8, 6, ""],
            "pupae": ["", 5, ""],
            "workers": ["", "", 5],
        }
    )
    fit = ag.fit(notes, room, "lasius-niger", queen_since="2025-06-10", rng=1)
    assert fit.converged
    ahead = fit.forecast(days=130, draws=200, rng=1)  # to 2025-12-22, all within the record
    assert "; rest from 2025-10-15 until 2026-03-01, " not in ahead.assumed
    assert "; rest from 2025-10-15 until 2026-03-01 at " in ahead.assumed
    resting = ahead.temperature.resting("2025-08-15", 130)
    assert resting.sum() == 69 and resting[61:].all()
    workers = ahead.frame().query("stage == 'workers'").set_index("date")
    assert workers.loc["2025-10-01", "q50"] > 5
    assert np.isfinite(workers[["q05", "q95"]]).all(axis=None)
    beyond = fit.forecast(days=300, draws=100, rng=1)
    assert beyond.assumed.startswith("mean of 14 days, 2025-12-")
