"""Chance by day and event: counts read from quantiles, and colonies paired under several plans."""

from __future__ import annotations

import numpy as np
import pytest
from invented_ants import forcing, laws, steady
from scipy import stats

from antgrowth.model import common_random_numbers
from antgrowth.model.common_random_numbers import CommonChance, normal_quantile
from antgrowth.model.parameters import Transfer
from antgrowth.model.simulation import simulate

binomial_quantile = np.vectorize(common_random_numbers.binomial_quantile, otypes=[int])
poisson_quantile = np.vectorize(common_random_numbers.poisson_quantile, otypes=[int])

DRIFT = 0.5
"""Log-sd of the drift that a fit assumes."""


def grown(
    celsius: float, chance: object, days: int = 260, colonies: int = 600, **more: object
) -> np.ndarray:
    some = laws(colonies, **({"drift": DRIFT} | more))
    return simulate(some, forcing(steady(celsius, days)), chance)


def arrival(paths: np.ndarray, workers: int = 30) -> np.ndarray:
    """Day of the thirtieth worker, between days too."""
    there = paths[..., 3] >= workers
    assert there.any(axis=1).all()
    day, colony = there.argmax(axis=1), np.arange(len(paths))
    before, after = paths[colony, day - 1, 3], paths[colony, day, 3]
    return day - (after - workers) / (after - before)


class TestQuantiles:
    """Against scipy.stats: exact where few are expected, and within one ant where many are."""

    RNG = np.random.default_rng(1)

    def test_poisson_of_few(self):
        mean, level = np.exp(self.RNG.uniform(-7, np.log(12), 30_000)), self.RNG.random(30_000)
        assert np.array_equal(poisson_quantile(level, mean), stats.poisson.ppf(level, mean))

    @pytest.mark.parametrize(("low", "high"), [(12, 100), (100, 1e4), (1e4, 1e6)])
    def test_poisson_of_many(self, low, high):
        mean = np.exp(self.RNG.uniform(np.log(low), np.log(high), 30_000))
        level = self.RNG.random(30_000)
        off = np.abs(poisson_quantile(level, mean) - stats.poisson.ppf(level, mean))
        assert off.max() <= 1 and (off > 0).mean() < 0.012

    @pytest.mark.parametrize("most", [12, 30])
    def test_binomial_of_few(self, most):
        number = self.RNG.integers(0, most, 30_000)
        share, level = self.RNG.random((2, 30_000))
        expected = stats.binom.ppf(level, number, share)
        off = np.abs(binomial_quantile(level, number, share) - np.where(number > 0, expected, 0))
        assert off.max() <= (0 if most == 12 else 1) and (off > 0).mean() < 2e-4

    @pytest.mark.parametrize(("low", "high"), [(30, 1000), (1000, 1e6)])
    @pytest.mark.parametrize("share", [0.003, 0.2, 0.5, 0.97])
    def test_binomial_of_many(self, low, high, share):
        number = np.exp(self.RNG.uniform(np.log(low), np.log(high), 10_000)).astype(int)
        level = self.RNG.random(10_000)
        off = np.abs(
            binomial_quantile(level, number, np.full(10_000, share))
            - stats.binom.ppf(level, number, share)
        )
        assert off.max() <= 1 and (off > 0).mean() < 0.012

    @pytest.mark.parametrize("level", [0.0, 1e-15, 1 - 1e-16, 1.0])
    def test_at_the_ends(self, level):
        at = np.full(3, level)
        assert np.all(poisson_quantile(at, np.array([0.0, 3.0, 1e5])) >= 0)
        assert poisson_quantile(at, np.zeros(3)).tolist() == [0, 0, 0]
        number = np.array([0, 7, 10_000])
        found = binomial_quantile(at, number, np.array([0.5, 0.3, 0.9]))
        assert np.all(found >= 0) and np.all(found <= number)

    def test_certain_shares(self):
        level, number = np.array([0.1, 0.5, 0.9]), np.array([5, 500, 50])
        assert binomial_quantile(level, number, np.zeros(3)).tolist() == [0, 0, 0]
        assert binomial_quantile(level, number, np.ones(3)).tolist() == number.tolist()
        assert binomial_quantile(level, number, np.full(3, 1.1)).tolist() == number.tolist()

    def test_where_more_are_expected_no_fewer_come(self):
        level = np.full(400, 0.37)
        assert np.all(np.diff(poisson_quantile(level, np.linspace(0, 60, 400))) >= 0)
        share = np.linspace(0, 1, 400)
        assert np.all(np.diff(binomial_quantile(level, np.full(400, 80), share)) >= 0)

    @pytest.mark.parametrize("level", [1e-300, 1e-12, 0.03, 0.2, 0.5, 0.7, 0.99, 1 - 1e-12])
    def test_of_the_normal_law(self, level):
        assert normal_quantile(level) == pytest.approx(stats.norm.ppf(level), rel=1e-14, abs=1e-15)


class TestChance:
    def test_each_kind_has_its_mean_and_scatter(self):
        today, many = CommonChance((1,)).on(3), 40_000
        found = {
            "binomial": (binomial_quantile(today.levels(many), 20, 0.3), 6, 4.2),
            "poisson": (poisson_quantile(today.levels(many), 7.0), 7, 7),
            "levels": (today.levels(many), 0.5, 1 / 12),
            "normal": (today.normal((many,)), 0, 1),
            "scattered": (today.scattered(12, many // 4, 4).ravel(), 3, 12 * 3 / 16),
        }
        for kind, (values, mean, variance) in found.items():
            assert values.mean() == pytest.approx(mean, abs=5 * np.sqrt(variance / many)), kind
            assert values.var() == pytest.approx(variance, rel=0.04), kind
        assert np.all(today.scattered(12, 50, 4).sum(axis=1) == 12)

    def test_a_day_has_its_own(self):
        one, again, other = (CommonChance((7,)).on(day).normal((500,)) for day in (3, 3, 4))
        assert np.array_equal(one, again)
        assert abs(np.corrcoef(one, other)[0, 1]) < 0.15
        assert abs(np.corrcoef(one[:-1], one[1:])[0, 1]) < 0.15

    def test_the_day_before_the_founding_has_one_too(self):
        assert CommonChance((7,)).on(-1).normal((3,)).shape == (3,)


class TestColonies:
    def test_the_same_chance_makes_the_same_colonies(self):
        once, again, other = (grown(25, CommonChance((s,)), 60) for s in (1, 1, 2))
        assert np.array_equal(once, again) and not np.array_equal(once, other)

    def test_a_longer_look_ahead_begins_alike(self):
        short, long = (grown(25, CommonChance((5,)), days) for days in (60, 90))
        assert np.array_equal(short, long[:, :61])

    def test_a_generator_lends_a_seed(self):
        rng = np.random.default_rng(3)
        once, then = (grown(25, rng, 60) for _ in range(2))
        again = grown(25, np.random.default_rng(3), 60)
        assert np.array_equal(once, again) and not np.array_equal(once, then)

    def test_neighbours_are_independent(self):
        workers = grown(25, CommonChance((4,)), 110, 2000)[:, 110, 3].astype(float)
        assert abs(np.corrcoef(workers[:-1], workers[1:])[0, 1]) < 0.08

    def test_what_is_carried_in_later_leaves_before_alike(self):
        some, weather = laws(50, drift=DRIFT), forcing(steady(25, 60))
        gift = forcing(steady(25, 60), transfers=(Transfer(30, 2, 9.0), Transfer(40, 3, -2.0)))
        plain, given = (simulate(some, w, CommonChance((1,))) for w in (weather, gift))
        assert np.array_equal(plain[:, :30], given[:, :30])
        assert (given - plain)[:, 55, 3].mean() > 4

    @pytest.mark.parametrize(
        ("cooler_by", "drift", "times"),
        [(0.25, DRIFT, 5.0), (1.0, DRIFT, 3.3), (3.0, DRIFT, 2.0), (1.0, 0.0, 1.75)],
    )
    def test_paired_plans_differ_by_the_plan(self, cooler_by, drift, times):
        # How much less the difference of two plans scatters than with chance of their own. What
        # strays for weeks is shared in full; single ants part company as one plan gets ahead.
        cool, warm, other = (
            arrival(grown(celsius, CommonChance((seed,)), drift=drift, colonies=500))
            for celsius, seed in ((25 - cooler_by, 1), (25, 1), (25, 2))
        )
        apart, paired = np.hypot(cool.std(), other.std()), (cool - warm).std()
        print(f"\n{cooler_by} °C cooler, drift {drift}: {apart / paired:.2f} times less scattered")
        assert paired < apart / times
        error = apart / np.sqrt(500)
        assert (cool - warm).mean() == pytest.approx(cool.mean() - other.mean(), abs=4 * error)
        assert (cool - warm).mean() > 0.5 * cooler_by
