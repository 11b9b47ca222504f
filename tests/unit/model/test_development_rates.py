"""Development-rate curves: shapes in, shapes out, and what they refuse."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from antgrowth.model.development_rates import Briere, DegreeDay, SharpeSchoolfield, mean_daily_rate

BRIERE = Briere(1e-4, 10, 35)
LINE = DegreeDay(15.9, 445)
ENZYME = SharpeSchoolfield(0.04, 14_000, 35.0, 80_000)


@pytest.fixture(params=[BRIERE, LINE, ENZYME], ids=["briere", "degree-day", "sharpe-schoolfield"])
def curve(request):
    return request.param


class TestShapes:
    def test_a_number(self, curve):
        assert np.ndim(curve(25.0)) == 0

    def test_arrays_and_series_alike(self, curve):
        celsius = np.array([[8.0, 20.0, 25.0], [30.0, 33.0, 40.0]])
        one_by_one = [[float(curve(t)) for t in row] for row in celsius]
        assert curve(celsius) == pytest.approx(np.array(one_by_one))
        assert curve(pd.Series(celsius[0])) == pytest.approx(np.array(one_by_one[0]))
        assert curve([20, 25]).shape == (2,)

    def test_empty(self, curve):
        assert curve([]).shape == (0,)

    def test_nan_stays_nan(self, curve):
        rate = curve([25.0, np.nan])
        assert rate[0] > 0 and np.isnan(rate[1])

    def test_the_input_is_left_alone(self, curve):
        celsius = np.array([-5.0, 20.0, 50.0])
        curve(celsius)
        assert celsius.tolist() == [-5.0, 20.0, 50.0]


class TestLimits:
    def test_nothing_develops_outside(self):
        outside = [-20.0, 0.0, 10.0, 35.0, 60.0]
        assert np.all(BRIERE(outside) == 0)
        assert np.all(LINE([-20.0, 0.0, 15.9]) == 0)
        assert float(LINE(60.0)) > float(LINE(30.0))

    def test_named_limits(self):
        assert (BRIERE.lower_c, BRIERE.upper_c) == (10, 35)
        assert BRIERE.lower_c < BRIERE.optimum_c < BRIERE.upper_c
        assert LINE.upper_c == LINE.optimum_c == np.inf

    def test_briere_rises_to_its_optimum_and_falls_beyond(self):
        celsius = np.linspace(10.01, 34.99, 2000)
        rising = np.diff(BRIERE(celsius)) > 0
        assert np.array_equal(rising, celsius[1:] < BRIERE.optimum_c)

    def test_an_enzyme_is_slow_in_cold_and_heat_but_never_stops(self):
        assert (ENZYME.lower_c, ENZYME.upper_c) == (-np.inf, np.inf)
        rate = ENZYME([-60.0, 0.0, 31.5, 60.0, 300.0])
        assert np.all(rate > 0) and np.all(rate[[0, 3, 4]] < 1e-3)
        celsius = np.linspace(-30, 60, 2000)
        rising = np.diff(ENZYME(celsius)) > 0
        assert np.array_equal(rising, celsius[1:] < ENZYME.optimum_c)

    def test_the_optimum_where_the_curve_is_flat(self):
        flat = SharpeSchoolfield(0.04, 14_000, 35.0, 15_500)
        near = flat.optimum_c + np.array([-0.5, 0.0, 0.5])
        assert np.argmax(flat(near)) == 1


class TestThrough:
    @pytest.mark.parametrize("days, at_c", [(13.0, 25.0), (40.0, 18.0)])
    def test_the_stage_takes_the_days_it_was_built_for(self, days, at_c):
        for curve in (Briere.through(days, at_c, 10, 38), DegreeDay.through(days, at_c, 10)):
            assert 1 / float(curve(at_c)) == pytest.approx(days, rel=1e-12)
            assert curve.lower_c == 10


class TestRefused:
    @pytest.mark.parametrize(
        "limits", [(0.0, 10, 35), (-1e-4, 10, 35), (1e-4, 35, 10), (1e-4, 20, 20), (1e-4, -1, 35)]
    )
    def test_briere(self, limits):
        with pytest.raises(ValueError, match=r"scale = .*lower_c = .*upper_c = .*must be above 0"):
            Briere(*limits)

    @pytest.mark.parametrize("degree_days", [0.0, -3.0, np.nan])
    def test_degree_day(self, degree_days):
        with pytest.raises(ValueError, match=r"degree_days = .*above 0 \[°C day\]"):
            DegreeDay(10, degree_days)

    @pytest.mark.parametrize(
        "parameters",
        [
            (0.0, 14_000, 35, 80_000),
            (0.04, -1.0, 35, 80_000),
            (0.04, 14_000, -300, 80_000),
            (0.04, 14_000, 35, 14_500),
            (0.04, 14_000, 35, np.nan),
        ],
    )
    def test_sharpe_schoolfield(self, parameters):
        with pytest.raises(ValueError, match=r"rate_at_25 = .*activation by more than 2 R TH"):
            SharpeSchoolfield(*parameters)

    @pytest.mark.parametrize("days, at_c", [(13, 10.0), (13, 38.0), (13, 5.0), (0, 25.0)])
    def test_briere_through(self, days, at_c):
        with pytest.raises(ValueError, match=r"Briere.through: days = .* between 10 and 38 °C"):
            Briere.through(days, at_c, 10, 38)

    @pytest.mark.parametrize("days, at_c", [(13, 10.0), (13, 5.0), (-1, 25.0)])
    def test_degree_day_through(self, days, at_c):
        with pytest.raises(ValueError, match=r"DegreeDay.through: days = .* threshold of 10 °C"):
            DegreeDay.through(days, at_c, 10)


class TestMeanDailyRate:
    def test_mean_of_the_rates_over_the_last_axis(self):
        hours = np.array([[[20.0, 30.0], [25.0, 25.0]], [[5.0, 5.0], [33.0, 20.0]]])
        daily = mean_daily_rate(BRIERE, hours)
        assert daily.shape == (2, 2)
        by_hand = [[(BRIERE(a) + BRIERE(b)) / 2 for a, b in draw] for draw in hours]
        assert daily == pytest.approx(np.array(by_hand))

    def test_not_the_rate_of_the_mean(self):
        # Nights below the threshold cost nothing: a swing round it develops what its mean cannot.
        assert float(LINE(15.9)) == 0
        assert mean_daily_rate(LINE, [[5.9, 25.9]])[0] == pytest.approx(5 / 445)
