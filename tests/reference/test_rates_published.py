"""Rate curves and degree-days against worked values; each is named with where it comes from."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from antgrowth.climate.degree_days import from_hours, single_sine
from antgrowth.climate.temperature import monthly_normals
from antgrowth.model.development_rates import Briere, DegreeDay, SharpeSchoolfield, mean_daily_rate
from antgrowth.species.development import curve_of
from antgrowth.species.profile import load_species

BRIERE = Briere(1e-4, 10, 35)


def sine_day(mean_c: float, amplitude_c: float, steps: int = 24) -> np.ndarray:
    """Temperatures in the middle of equal steps of a sine day."""
    return mean_c + amplitude_c * np.sin(2 * np.pi * (np.arange(steps) + 0.5) / steps)


class TestDegreeDayLine:
    # 445 degree-days above 15.9 °C, egg to worker: Hartley and Lester (2003), read. The days follow
    # by division.
    @pytest.mark.parametrize("at_c, days", [(20, 108.54), (25, 48.90), (28, 36.78), (30, 31.56)])
    def test_linepithema_from_egg_to_worker(self, at_c, days):
        assert float(1 / DegreeDay(15.9, 445)(at_c)) == pytest.approx(days, abs=0.005)

    @pytest.mark.parametrize("at_c, days", [(20, 108.5), (25, 48.9), (28, 36.8)])
    def test_the_profile_keeps_that_sum(self, at_c, days):
        ant = load_species("linepithema-humile")
        total = sum(1 / float(curve_of(ant, stage)(at_c)) for stage in ("egg", "larva", "pupa"))
        assert total == pytest.approx(days, rel=0.01)


class TestBriere:
    # Closed form of the optimum: Briere and others (1999), from memory. The values were computed
    # independently, by maximisation of the curve; the parameters are invented.
    @pytest.mark.parametrize(
        "curve, optimum_c, top, at_25",
        [
            (BRIERE, 29.206556, 0.13502005, 0.11858541),
            (Briere(5e-5, 15, 38), 32.352668, 0.06670648, 0.04506939),
        ],
    )
    def test_worked_values(self, curve, optimum_c, top, at_25):
        assert curve.optimum_c == pytest.approx(optimum_c, abs=5e-7)
        assert float(curve(optimum_c)) == pytest.approx(top, abs=5e-9)
        assert float(curve(25.0)) == pytest.approx(at_25, abs=5e-9)

    def test_the_optimum_is_the_top_of_the_curve(self):
        fine = np.linspace(10, 35, 2_000_001)
        assert fine[np.argmax(BRIERE(fine))] == pytest.approx(BRIERE.optimum_c, abs=2e-5)


class TestSharpeSchoolfield:
    # Form of Schoolfield and others (1981) without inactivation by cold; worked values computed
    # independently, parameters invented.
    CURVE = SharpeSchoolfield(0.04, 14_000, 308.15 - 273.15, 80_000)

    @pytest.mark.parametrize(
        "at_c, rate",
        [(20, 0.02624968), (25, 0.03950627), (30, 0.05381828), (32, 0.05513811), (34, 0.04980727)],
    )
    def test_worked_values(self, at_c, rate):
        assert float(self.CURVE(at_c)) == pytest.approx(rate, abs=5e-9)

    def test_half_of_the_numerator_at_the_half_temperature(self):
        # By hand: at TH the denominator is 1 + exp(0) = 2.
        numerator = 0.04 * 308.15 / 298.15 * np.exp(14_000 / 1.987 * (1 / 298.15 - 1 / 308.15))
        assert float(self.CURVE(35.0)) == pytest.approx(numerator / 2, rel=1e-12)
        assert float(self.CURVE(35.0)) == pytest.approx(0.04450548, abs=5e-9)

    def test_optimum(self):
        assert self.CURVE.optimum_c == pytest.approx(31.504618, abs=5e-7)
        fine = np.linspace(20, 45, 2_500_001)
        assert fine[np.argmax(self.CURVE(fine))] == pytest.approx(self.CURVE.optimum_c, abs=2e-5)


class TestRateSummation:
    # Mean rate over a sine day of Briere(1e-4, 10, 35): quadrature, computed independently.
    @pytest.mark.parametrize(
        "mean_c, amplitude_c, share",
        [
            (25, 0, 0.118585), (25, 3, 0.116444), (25, 6, 0.109295), (25, 9, 0.093427),
            (30, 0, 0.134164), (30, 3, 0.126580), (30, 6, 0.093156), (30, 9, 0.074401),
        ],
    )  # fmt: skip
    def test_swings_around_a_warm_mean_delay(self, mean_c, amplitude_c, share):
        fine = mean_daily_rate(BRIERE, sine_day(mean_c, amplitude_c, 100_000))
        assert float(fine) == pytest.approx(share, abs=6e-7)
        # 24 hourly values, as colonies are modelled with: within 1 %, though the curve has an edge.
        hourly = mean_daily_rate(BRIERE, sine_day(mean_c, amplitude_c))
        assert float(hourly) == pytest.approx(share, rel=0.01)

    def test_swings_around_a_cool_mean_hasten(self):
        steady, swinging = (float(mean_daily_rate(BRIERE, sine_day(13, a))) for a in (0, 6))
        assert swinging > 1.2 * steady


class TestSingleSine:
    # Baskerville and Emin (1969), formula from memory; values computed, equal to quadrature.
    @pytest.mark.parametrize(
        "low, high, threshold, degree_days",
        [
            (5, 30, 10, 8.469345),
            (0, 20, 10, 10 / np.pi),  # exact
            (8, 22, 15.9, 1.796611),
            (20, 30, 15.9, 9.1),  # exact: the whole day is above
            (48, 78, 54.3, 9.952950),  # in °F
        ],
    )
    def test_worked_values(self, low, high, threshold, degree_days):
        assert float(single_sine(low, high, threshold)) == pytest.approx(degree_days, abs=5e-7)

    def test_horizontal_cutoff(self):
        assert float(single_sine(18, 36, 15, upper_c=32)) == pytest.approx(11.180515, abs=5e-7)

    @pytest.mark.parametrize("low, high, lower, upper", [(5, 30, 10, None), (12, 37, 15.9, 30)])
    def test_quadrature(self, low, high, lower, upper):
        def excess(hour: float) -> float:
            t = (low + high) / 2 + (high - low) / 2 * np.sin(2 * np.pi * hour / 24)
            return min(max(t - lower, 0.0), np.inf if upper is None else upper - lower) / 24

        area = quad(excess, 0, 24, limit=500, epsabs=1e-9)[0]
        assert float(single_sine(low, high, lower, upper)) == pytest.approx(area, abs=1e-6)


class TestDegreeDaysByTheHour:
    @pytest.mark.parametrize("low, high, lower", [(5, 30, 10), (8, 22, 15.9), (20, 30, 15.9)])
    def test_a_sine_read_by_the_hour(self, low, high, lower):
        # Means of each hour of the sine, by quadrature. They lose warmth only in the two hours that
        # cross the threshold: at most 1/8 of the steepest change within an hour, each.
        steepest = np.pi / 12 * (high - low) / 2

        def sine(hour: float) -> float:
            return (low + high) / 2 + (high - low) / 2 * np.sin(2 * np.pi * hour / 24)

        hours = [quad(sine, hour, hour + 1)[0] for hour in range(24)]
        lost = float(single_sine(low, high, lower)) - float(from_hours(hours, lower))
        assert -1e-9 <= lost <= 2 * steepest / 8 / 24

    def test_a_triangle_read_by_the_minute(self):
        # Single triangle: (Tmax - Tb)² / (2 (Tmax - Tmin)) = 20² / 50 = 8, exact.
        rising = np.linspace(5, 30, 721)
        triangle = np.r_[(rising[1:] + rising[:-1]) / 2, (rising[1:] + rising[:-1])[::-1] / 2]
        assert float(from_hours(triangle, 10.0)) == pytest.approx(8.0, abs=1e-4)

    def test_a_day_all_above_is_its_mean_less_the_threshold(self):
        # Simple average, California red scale: mean 64 °F, threshold 53 °F, 11 degree-days; UC IPM,
        # citrus, California red scale, read.
        assert float(from_hours([60.0] * 12 + [68.0] * 12, 53.0)) == pytest.approx(11.0)
        assert float(single_sine(56.0, 72.0, 53.0)) == pytest.approx(11.0)

    def test_a_month_of_normals_against_single_sine(self):
        hours = monthly_normals([15.0] * 12, daily_range=20).hours("2027-06-01", 30)
        assert from_hours(hours, 12.0) == pytest.approx(
            np.full(30, float(single_sine(5.0, 25.0, 12.0))), abs=0.02
        )


def test_q10_of_myrmica_larvae():
    # Elmes and Wardlaw (1983), read: development of Myrmica larvae quickens 3.1 times from 15 to
    # 25 °C. Without heat, the ratio of a Sharpe-Schoolfield curve is its activation alone: this HA
    # gives that Q10, and then D20/D25 = 3.1^0.5 = 1.760682 within the curvature of the law.
    span = 1 / 288.15 - 1 / 298.15
    activation = 1.987 * np.log(3.1 * 288.15 / 298.15) / span
    curve = SharpeSchoolfield(0.05, activation, 80.0, 150_000)
    assert float(curve(25) / curve(15)) == pytest.approx(3.1, rel=1e-6)
    assert float(curve(25) / curve(20)) == pytest.approx(1.760682, rel=0.02)
