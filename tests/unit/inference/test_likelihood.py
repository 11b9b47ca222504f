"""What cells say: bounds against exact integrals, counting error and densities by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from antgrowth.inference.likelihood import (
    CARE,
    MANY,
    ROUNDING,
    SLOPPINESS,
    Observations,
    Sites,
    error_variance,
    log_density,
    log_probability,
    propagate,
)
from antgrowth.model.covariance import Cells

INF = np.inf


def seen(*bounds: tuple[float, float]) -> Observations:
    """Cells with these bounds; where and of which stage does not matter here."""
    number = len(bounds)
    low, high = np.array(bounds, float).reshape(number, 2).T
    cells = Cells(np.ones(number, int), np.tile([0.0, 0.0, 0.0, 1.0, 0.0], (number, 1)))
    return Observations(cells, low, high, np.ones(number))


def given(sites: Sites, mean: np.ndarray, cov: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance of all cells, given the sites: by adding precisions."""
    weight = np.linalg.inv(cov)
    total = np.linalg.inv(weight + np.diag(sites.precision))
    return total @ (weight @ mean + sites.precision * sites.value), total


class TestObservations:
    def test_zero_is_a_bound_and_a_number_is_exact(self):
        assert seen((3, 3), (0, 0), (2, 5), (1, INF), (0, 4)).exact.tolist() == [
            True, False, False, False, False,
        ]  # fmt: skip

    def test_take(self):
        part = seen((3, 3), (0, 0), (2, 5)).take(np.array([2, 0]))
        assert part.low.tolist() == [2, 3] and part.high.tolist() == [5, 3]
        assert len(part.cells) == len(part.rough) == 2


class TestStart:
    def test_only_exact_counts_say_something_at_first(self):
        sites = Sites.start(seen((3, 3), (2, 5), (0, 0)))
        assert sites.value.tolist() == [3, 0, 0]
        assert sites.precision.tolist() == [INF, 0, 0]
        assert sites.used.tolist() == [True, False, False]
        assert sites.extra_variance.tolist() == [0.0]


class TestErrorVariance:
    def test_by_hand(self):
        # 100 ants: 5 % + 8 % x 100/200 = 9 %, so 81; a tenth overlooked of 100 adds 10.
        assert (CARE, SLOPPINESS, MANY, ROUNDING) == (0.05, 0.08, 100.0, 0.1)
        one = np.ones(1)
        assert error_variance(100 * one, 0.9 * one, one, 1.0) == pytest.approx([0.1 + 81 + 10])
        # Rough and from a sloppy keeper: 3 x 1.5 x 9 % = 40.5 %.
        assert error_variance(100 * one, one, 3 * one, 1.5) == pytest.approx([0.1 + 40.5**2])

    def test_nothing_there(self):
        none = error_variance(np.array([0.0, -1e-9]), np.array([1.0, 0.9]), np.ones(2), 1.0)
        assert none == pytest.approx([ROUNDING, ROUNDING])

    def test_error_grows_with_the_number(self):
        mean = np.array([1.0, 10.0, 100.0, 1000.0])
        share = np.sqrt(error_variance(mean, np.ones(4), np.ones(4), 1.0)) / mean
        assert np.all(np.diff(share[1:]) > 0) and share[-1] == pytest.approx(
            0.05 + 0.08 / 1.1, rel=1e-3
        )


ONE_CELL = [
    ((0, 0), 2.0, 4.0),
    ((0, 0), 12.0, 4.0),  # surprising: six sd
    ((1, INF), 0.3, 0.5),
    ((30, INF), 12.0, 16.0),
    ((5, 8), 6.0, 9.0),
    ((5, 8), 20.0, 9.0),
    ((5, 8), -3.0, 2.0),
    ((0, 4), 5.0, 30.0),
    ((10, 15), 12.0, 400.0),
    ((1, INF), 200.0, 100.0),  # says nothing
]


class TestOneBound:
    @pytest.mark.parametrize("bounds, mean, variance", ONE_CELL)
    def test_against_the_integral(self, bounds, mean, variance):
        mean, cov = np.array([mean]), np.array([[variance]])
        sites = propagate(seen(bounds), mean, cov, Sites.start(seen(bounds)), sweeps=60)
        found = given(sites, mean, cov)
        low = -INF if bounds[0] == 0 else bounds[0] - 0.5
        sd = np.sqrt(variance)
        exact = stats.truncnorm((low - mean) / sd, (bounds[1] + 0.5 - mean) / sd, mean, sd)
        assert found[0][0] == pytest.approx(exact.mean()[0], abs=2e-4 * sd)
        assert found[1][0, 0] == pytest.approx(exact.var()[0], rel=2e-3)

    def test_a_bound_that_says_nothing_leaves_all_as_it_was(self):
        mean, cov = np.array([5.0]), np.array([[4.0]])
        sites = propagate(seen((0, INF)), mean, cov, Sites.start(seen((0, INF))))
        centre, spread = given(sites, mean, cov)
        assert centre == pytest.approx(mean) and spread == pytest.approx(cov)

    def test_the_usual_sweeps_come_within_a_sixteenth(self):
        # Each sweep goes half-way; a fit sweeps anew in each of its rounds.
        few, many = (
            propagate(
                seen((5, 8)),
                np.array([10.0]),
                np.array([[9.0]]),
                Sites.start(seen((5, 8))),
                sweeps=n,
            ).precision[0]
            for n in (4, 60)
        )
        assert few / many == pytest.approx(15 / 16, rel=1e-3)


class TestBoundsTogether:
    MEAN = np.array([4.0, 7.0])
    COV = np.array([[6.0, 3.5], [3.5, 9.0]])

    @pytest.mark.parametrize(
        "bounds", [((0, 0), (5, 9)), ((3, INF), (0, 4)), ((1, INF), (1, INF)), ((2, 4), (10, 12))]
    )
    def test_two_against_the_double_integral(self, bounds):
        observed = seen(*bounds)
        sites = propagate(observed, self.MEAN, self.COV, Sites.start(observed), sweeps=60)
        centre, spread = given(sites, self.MEAN, self.COV)
        x, y = np.linspace(-12, 24, 1801), np.linspace(-12, 30, 2101)
        density = stats.multivariate_normal(self.MEAN, self.COV).pdf(
            np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1)
        )
        for axis, (values, (low, high)) in enumerate(zip((x, y), bounds, strict=True)):
            inside = (values > (low - 0.5 if low else -INF)) & (values < high + 0.5)
            density *= inside[:, None] if axis == 0 else inside[None, :]
        density /= density.sum()
        for axis, values in enumerate((x, y)):
            along = density.sum(axis=1 - axis)
            exact = along @ values
            variance = along @ (values - exact) ** 2
            assert centre[axis] == pytest.approx(exact, abs=0.06 * np.sqrt(variance) + 0.01)
            assert spread[axis, axis] == pytest.approx(variance, rel=0.06)

    def test_a_bound_and_an_exact_count(self):
        # Given the count, the bounded cell is a cut normal; the count stays what it is.
        observed = seen((9, 9), (0, 5))
        sites = propagate(observed, self.MEAN, self.COV, Sites.start(observed), sweeps=60)
        assert sites.value[0] == 9 and sites.precision[0] == INF
        gain = self.COV[0, 1] / self.COV[0, 0]
        middle, sd = 7 + gain * (9 - 4), np.sqrt(9 - gain * 3.5)
        cut = stats.truncnorm(-INF, (5.5 - middle) / sd, middle, sd)
        precision = 1 / sd**2 + sites.precision[1]
        assert (middle / sd**2 + sites.precision[1] * sites.value[1]) / precision == pytest.approx(
            cut.mean(), abs=1e-3
        )
        assert 1 / precision == pytest.approx(cut.var(), rel=2e-3)

    def test_without_bounds_nothing_is_touched(self):
        start = Sites.start(seen((9, 9), (3, 3)))
        assert propagate(seen((9, 9), (3, 3)), self.MEAN, self.COV, start) is start

    def test_the_given_sites_are_left_alone(self):
        start = Sites.start(seen((0, 0), (5, 9)))
        propagate(seen((0, 0), (5, 9)), self.MEAN, self.COV, start)
        assert start.precision.tolist() == [0, 0]


class TestLogDensity:
    def test_against_the_multivariate_normal(self):
        rng = np.random.default_rng(2)
        root = rng.normal(size=(5, 5))
        mean, cov = rng.normal(5, 2, 5), root @ root.T + np.eye(5)
        precision = np.array([INF, 0.5, 0.0, INF, 2.0])
        sites = Sites(rng.normal(5, 2, 5), precision)
        used = precision > 0
        total = cov[np.ix_(used, used)] + np.diag([0.0, 2.0, 0.0, 0.5])
        expected = stats.multivariate_normal(mean[used], total).logpdf(sites.value[used])
        assert log_density(sites, mean, cov) == pytest.approx(expected)

    def test_it_prefers_what_was_expected(self):
        sites = Sites(np.array([5.0]), np.array([INF]))
        near, far = (log_density(sites, np.array([m]), np.ones((1, 1))) for m in (5.0, 8.0))
        assert near - far == pytest.approx(4.5)


class TestLogProbability:
    MEAN = np.array([4.0, 7.0, 12.0])
    COV = np.array([[6.0, 3.5, 1.0], [3.5, 9.0, 2.0], [1.0, 2.0, 16.0]])

    def test_exact_counts_have_their_density(self):
        observed = seen((5, 5), (6, 6), (15, 15))
        expected = stats.multivariate_normal(self.MEAN, self.COV).logpdf([5, 6, 15])
        assert log_probability(observed, self.MEAN, self.COV) == pytest.approx(expected)

    @pytest.mark.parametrize(
        "bounds", [(0, 0), (1, INF), (30, INF), (5, 8), (0, 40), (0, INF)]
    )  # fmt: skip
    def test_one_bound_has_its_mass(self, bounds):
        observed = seen(bounds)
        mean, cov = self.MEAN[:1], self.COV[:1, :1]
        low = -INF if bounds[0] == 0 else bounds[0] - 0.5
        law = stats.norm(4, np.sqrt(6))
        expected = law.logsf(low) if bounds[1] == INF else np.log(
            law.cdf(bounds[1] + 0.5) - law.cdf(low)
        )  # fmt: skip
        assert log_probability(observed, mean, cov) == pytest.approx(expected, abs=1e-6)

    @pytest.mark.parametrize(
        "bounds",
        [((0, 0), (5, 9), (12, 12)), ((3, INF), (0, 4), (20, 20)), ((1, INF), (1, INF), (9, 9)),
         ((2, 4), (10, 12), (8, 8))],
    )  # fmt: skip
    def test_two_bounds_and_a_count_against_the_double_integral(self, bounds):
        observed = seen(*bounds)
        gain = self.COV[:2, 2] / self.COV[2, 2]
        middle = self.MEAN[:2] + gain * (bounds[2][0] - self.MEAN[2])
        left = self.COV[:2, :2] - np.outer(gain, self.COV[2, :2])
        low = np.array([-40.0 if b[0] == 0 else b[0] - 0.5 for b in bounds[:2]])
        high = np.array([min(b[1] + 0.5, 60.0) for b in bounds[:2]])
        law = stats.multivariate_normal(middle, left)
        mass = (
            law.cdf(high) - law.cdf([low[0], high[1]]) - law.cdf([high[0], low[1]]) + law.cdf(low)
        )
        expected = stats.norm(12, 4).logpdf(bounds[2][0]) + np.log(mass)
        assert log_probability(observed, self.MEAN, self.COV) == pytest.approx(expected, abs=0.05)

    def test_a_bound_kept_with_ease_costs_nothing(self):
        # An expectation far above an at-least count is no worse for it.
        observed = seen((1, INF))
        near, far = (
            log_probability(observed, np.array([m]), np.array([[4.0]])) for m in (5.0, 500.0)
        )
        assert near < far == pytest.approx(0.0, abs=1e-9)


def test_the_yardstick_agrees_with_plain_quadrature():
    # scipy's cut normal against an integral, so that the tests above stand on two legs.
    cut = stats.truncnorm(-INF, (0.5 - 2) / 2, 2, 2)
    mass = integrate.quad(stats.norm(2, 2).pdf, -30, 0.5)[0]
    first = integrate.quad(lambda z: z * stats.norm(2, 2).pdf(z), -30, 0.5)[0] / mass
    assert cut.mean() == pytest.approx(first)
