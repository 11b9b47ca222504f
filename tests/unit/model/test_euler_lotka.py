"""The equation of Euler and Lotka: what any root must obey, and the integral over a life."""

from __future__ import annotations

import numpy as np
import pytest
from invented_ants import forcing, laws, steady
from scipy.integrate import quad
from scipy.special import gamma

import antgrowth as ag
from antgrowth.inference.prior import Prior
from antgrowth.model.euler_lotka import _LifeIntegral, long_run_rates, rate_of_increase


class TestRateOfIncrease:
    def test_it_balances(self):
        rng = np.random.default_rng(1)
        for _ in range(20):
            age, maternity = np.sort(rng.uniform(1, 90, 30)), rng.gamma(0.5, 0.3, 30)
            rate = rate_of_increase(age, maternity)
            assert (maternity * np.exp(-rate * age)).sum() == pytest.approx(1.0, rel=1e-9)

    def test_of_one_offspring_it_is_none(self):
        assert rate_of_increase([3, 4, 9], [0.2, 0.3, 0.5]) == pytest.approx(0.0, abs=1e-9)

    def test_none_at_all(self):
        assert rate_of_increase([3, 4], [0, 0]) == -np.inf
        assert rate_of_increase([], []) == -np.inf

    @pytest.mark.parametrize(("age", "maternity"), [([0, 1], [1, 1]), ([1, 2], [1, -1])])
    def test_what_makes_no_sense(self, age, maternity):
        with pytest.raises(ValueError, match="ages must be above 0, and maternity not below 0"):
            rate_of_increase(age, maternity)


class TestLifeIntegral:
    @pytest.mark.parametrize("shape", [1.5, 2.0, 3.0])
    @pytest.mark.parametrize("z", [-3.0, -0.5, 0.0, 0.7, 1.9, 2.1, 9.0, 60.0])
    def test_quadrature(self, shape, z):
        exact = quad(lambda y: np.exp(-z * y - y**shape), 0, 30, limit=500, points=[0.1, 2.0])[0]
        assert _LifeIntegral(shape)(np.array(z)) == pytest.approx(exact, rel=2e-4)

    @pytest.mark.parametrize("z", [-0.5, 0.0, 1.0, 4.0])
    def test_a_life_without_ageing(self, z):
        assert _LifeIntegral(1.0)(np.array(z)) == pytest.approx(1 / (1 + z), rel=2e-4)

    def test_mean_life(self):
        assert _LifeIntegral(2.0)(np.array(0.0)) == pytest.approx(gamma(1.5), rel=2e-5)

    def test_a_flat_shape_has_no_end_below(self):
        assert np.isfinite(_LifeIntegral(1.0)(np.array(-30.0)))


class TestLongRun:
    def rate(self, temperature_c: float = 25.0, workers: float = 50.0, **changes: object) -> float:
        weather = forcing(steady(temperature_c, 1))
        return float(long_run_rates(laws(**changes), weather, workers)[0, 0])

    def test_more_care_and_survival_are_quicker_and_long_durations_slower(self):
        usual = self.rate()
        assert usual > 0
        assert self.rate(places_per_worker=3.0) > usual
        assert self.rate(places_power=0.95) > usual
        assert self.rate(pupa_care=0.4) > usual
        assert self.rate(survival=[0.9, 0.8, 0.98]) > usual
        assert self.rate(life=500.0) > usual
        assert self.rate(days=[13.0, 14.0, 20.0]) < usual

    def test_what_eggs_do_and_what_the_queen_lays_do_not_count(self):
        assert self.rate(
            founding_rate=30.0, rate_per_worker=0.0, top_rate=1.0, eggs_eaten=9.0,
            days=[99.0, 9.0, 16.0], survival=[0.1, 0.6, 0.95],
        ) == self.rate()  # fmt: skip

    def test_large_colonies_grow_more_slowly_where_places_fall_behind(self):
        small, large = (self.rate(workers=number) for number in (30, 3000))
        assert large < 0.9 * small
        alike = [
            self.rate(workers=number, places_power=1.0, places_alone=0.0) for number in (30, 3000)
        ]
        assert alike[0] == pytest.approx(alike[1])

    def test_the_equation_by_quadrature(self):
        # R(W) / W w(r) / l(r) = 1 with the integrals over stages and over a Weibull life.
        rate, some = self.rate(), laws()
        hazard = -np.log([0.6, 0.95]) / [9, 16]
        larva = quad(lambda x: np.exp(-(rate + hazard[0]) * x), 0, 9)[0]
        pupated = np.exp(-(rate + hazard[0]) * 9)
        pupa = pupated * quad(lambda x: np.exp(-(rate + hazard[1]) * x), 0, 16)[0]
        hatched = pupated * np.exp(-(rate + hazard[1]) * 16)
        life = quad(lambda x: np.exp(-rate * x - (x / 300) ** 2), 0, 3000, limit=200)[0]
        places = float(some.places(np.array([50.0]))[0]) / 50
        assert places * hatched * life / (larva + 0.7 * pupa) == pytest.approx(1.0, rel=1e-3)

    def test_no_survival_to_speak_of(self):
        assert self.rate(survival=[1.0, 1e-60, 1e-60]) == -np.inf

    def test_a_draw_of_its_own_is_what_it_is_among_others(self):
        prior = Prior.of(ag.load_species("lasius-niger"))
        draws = prior.laws(np.random.default_rng(3).standard_normal((5, len(prior))))
        weather = forcing(np.repeat([[18.0], [26.0]], 24, axis=1))
        together = long_run_rates(draws, weather, 80.0)
        alone = np.concatenate(
            [long_run_rates(draws.take(slice(k, k + 1)), weather, 80.0) for k in range(5)]
        )
        assert together == pytest.approx(alone)
