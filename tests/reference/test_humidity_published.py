"""Vapour pressure, its deficit and the dew point against published values and another library."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest

from antgrowth.climate.humidity import deficit_kpa, dew_point_c, magnus_kpa, saturation_kpa

FAO_DIGITS = 5e-6


class TestFao56:
    # Allen and others (1998), FAO-56, equation 11: 1.705 and 3.075 kPa are read there; the other
    # digits, and the other temperatures, follow from the equation.
    @pytest.mark.parametrize(
        "at_c, kpa",
        [
            (15, 1.70535), (24.5, 3.07465), (25, 3.16778),
            (18, 2.06399), (20, 2.33828), (30, 4.24307), (28, 3.780),
        ],
    )  # fmt: skip
    def test_saturation(self, at_c, kpa):
        digits = 5e-4 if at_c == 28 else FAO_DIGITS
        assert float(saturation_kpa(at_c)) == pytest.approx(kpa, abs=digits)

    def test_example_3_mean_of_the_pressures(self):
        # From memory, recomputed as 2.390.
        assert saturation_kpa([24.5, 15.0]).mean() == pytest.approx(2.39, abs=0.005)

    def test_example_5_deficit_of_a_day(self):
        # Tmax 25 °C with 54 %, Tmin 18 °C with 82 %: 1.70 and 0.91 kPa from memory, recomputed as
        # 1.7015 and 0.9143.
        moist = saturation_kpa([25.0, 18.0]) * np.array([0.54, 0.82])
        assert moist.mean() == pytest.approx(1.7015, abs=5e-5)
        assert deficit_kpa([25.0, 18.0], [54.0, 82.0]).mean() == pytest.approx(0.9143, abs=5e-5)

    # Follow from equations 11 and 17.
    @pytest.mark.parametrize(
        "at_c, humidity_pct, kpa", [(25, 60, 1.267), (25, 80, 0.634), (28, 70, 1.134)]
    )
    def test_deficit(self, at_c, humidity_pct, kpa):
        assert float(deficit_kpa(at_c, humidity_pct)) == pytest.approx(kpa, abs=5e-4)


class TestMagnus:
    # Alduchov and Eskridge (1996): a and b read, e0 from memory; the values follow from them.
    def test_saturation(self):
        assert float(magnus_kpa(25.0)) == pytest.approx(3.16174, abs=5e-6)
        # e0 is the pressure at 0 °C, whatever a and b are.
        assert float(magnus_kpa(0.0)) == 0.61094

    @pytest.mark.parametrize("at_c, humidity_pct, dew_c", [(25, 60, 16.7), (26, 80, 22.28)])
    def test_dew_point(self, at_c, humidity_pct, dew_c):
        digits = 0.05 if humidity_pct == 60 else 0.005
        assert float(dew_point_c(at_c, humidity_pct)) == pytest.approx(dew_c, abs=digits)


class TestAgainstPsychrolib:
    # PsychroLib, a general library of psychrometrics, has the formulas of the ASHRAE Handbook.
    @pytest.fixture(autouse=True)
    def si_units(self):
        psychrolib.SetUnitSystem(psychrolib.SI)

    @pytest.mark.parametrize("at_c", [5.0, 12.0, 20.0, 25.0, 30.0, 40.0])
    def test_saturation(self, at_c):
        ashrae = psychrolib.GetSatVapPres(at_c) / 1000
        assert float(saturation_kpa(at_c)) == pytest.approx(ashrae, rel=2e-3)
        assert float(magnus_kpa(at_c)) == pytest.approx(ashrae, rel=4e-3)

    @pytest.mark.parametrize("at_c", [20.0, 25.0, 30.0, 35.0])  # dew, not frost, at 30 %
    @pytest.mark.parametrize("humidity_pct", [30.0, 60.0, 90.0])
    def test_deficit_and_dew_point(self, at_c, humidity_pct):
        full = psychrolib.GetSatVapPres(at_c) / 1000
        deficit = full - psychrolib.GetVapPresFromRelHum(at_c, humidity_pct / 100) / 1000
        assert float(deficit_kpa(at_c, humidity_pct)) == pytest.approx(deficit, rel=2e-3)
        dew = psychrolib.GetTDewPointFromRelHum(at_c, humidity_pct / 100)
        assert float(dew_point_c(at_c, humidity_pct)) == pytest.approx(dew, abs=0.1)
