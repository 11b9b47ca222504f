"""Water in the air: shapes, limits and the laws that tie the functions together."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from antgrowth.climate.humidity import (
    deficit_kpa,
    dew_point_c,
    magnus_kpa,
    moved_humidity_pct,
    saturation_kpa,
)


def test_numbers_arrays_and_series_alike():
    t, humidity = np.array([[18.0, 22.0], [25.0, 30.0]]), np.array([[40.0, 55.0], [70.0, 99.0]])
    for law in (deficit_kpa, dew_point_c):
        one_by_one = [
            [float(law(a, b)) for a, b in zip(*row, strict=True)]
            for row in zip(t, humidity, strict=True)
        ]
        assert law(t, humidity) == pytest.approx(np.array(one_by_one))
        assert law(pd.Series(t[0]), 50.0).shape == (2,)
        assert law([], []).shape == (0,)
        assert np.isnan(law(np.nan, 50.0)) and np.isnan(law(25.0, np.nan))
    assert saturation_kpa(t).shape == t.shape


def test_saturated_air_lacks_nothing_and_is_at_its_dew_point():
    t = np.linspace(-10, 45, 12)
    assert deficit_kpa(t, 100.0) == pytest.approx(np.zeros(12), abs=1e-12)
    assert dew_point_c(t, 100.0) == pytest.approx(t, abs=1e-9)
    assert deficit_kpa(t, 0.0) == pytest.approx(saturation_kpa(t))


def test_air_without_water_has_no_dew_point():
    assert dew_point_c([25.0, 25.0], [0.0, 60.0])[0] == -np.inf


def test_the_dew_point_is_where_the_same_water_saturates():
    dew = dew_point_c(26.0, 63.0)
    assert float(magnus_kpa(dew)) == pytest.approx(0.63 * float(magnus_kpa(26.0)), rel=1e-12)
    assert float(moved_humidity_pct(63.0, 26.0, dew)) == pytest.approx(100.0)


def test_moved_air_keeps_its_water():
    there = moved_humidity_pct(60.0, 22.0, 27.0)
    assert float(there) < 60.0
    assert float(dew_point_c(27.0, there)) == pytest.approx(float(dew_point_c(22.0, 60.0)))
    assert float(moved_humidity_pct(there, 27.0, 22.0)) == pytest.approx(60.0)
    assert float(moved_humidity_pct(80.0, 25.0, 15.0)) == 100.0  # and the rest is on the wall


def test_the_two_approximations_agree():
    t = np.linspace(0, 45, 46)
    assert magnus_kpa(t) == pytest.approx(saturation_kpa(t), rel=3e-3)
