"""The laws of growth: needs, what a climate means, and the laying law."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_ants import climate, laws, steady, step, swing
from scipy import stats

from antgrowth.model.development_rates import Briere
from antgrowth.model.parameters import (
    REST_LOSS_DAYS,
    SHIFTS_C,
    Climate,
    birth_slopes,
    births_of_day,
    pace_nodes,
)


class TestLaws:
    def test_needs_of_first_and_later_workers(self):
        needs = laws(2, days=[[10, 20, 30], [1, 2, 3]]).needs(np.array([0.5, 1.0, 2.0]))
        assert needs.shape == (2, 2, 3, 3)
        assert needs[0, 1, 2] == pytest.approx([20, 40, 60])
        assert needs[1, 0, 0] == pytest.approx(np.array([0.5, 1.0, 1.5]) * 0.92)

    def test_appetite_starts_within_a_day(self):
        some = laws(2, delay=[0.0, 2.25])
        appetite = some.appetite(climate(steady(25, 5)).clocks(some.shift_c))
        assert appetite.T == pytest.approx(np.array([[1, 1, 1, 1, 1], [0, 0, 0.75, 1, 1]]))

    def test_lives(self):
        assert laws(1, life=100).lives().tolist() == [[60.0, 100.0]]

    def test_take(self):
        three = laws(3, delay=[1, 2, 3])
        assert three.take([2, 0]).delay.tolist() == [3, 1]
        assert three.take(np.array([False, True, False])).days.shape == (1, 3)
        assert (len(three), len(three.take(slice(0, 2)))) == (3, 2)
        assert three.take([0]).pace_cv == three.pace_cv


class TestClimate:
    def test_at_the_reference_a_day_is_a_day(self):
        c = climate(steady(25, 3))
        assert c.days == 3
        assert c.development == pytest.approx(np.ones((len(SHIFTS_C), 3, 3)))
        assert c.laying == pytest.approx(np.ones((len(SHIFTS_C), 3)))
        assert c.ageing == pytest.approx(np.ones(3)) and not c.loss.any()

    def test_rates_are_averaged_over_the_day(self):
        c = climate(swing(30, 20, 1))
        curve = Briere(1.0, 10, 38)
        expected = (14 * curve(30.0) + 10 * curve(20.0)) / 24 / curve(25.0)
        assert c.development[5, 0] == pytest.approx(np.full(3, expected))
        assert c.ageing[0] == pytest.approx((14 * 2**0.5 + 10 * 2**-0.5) / 24)

    @pytest.mark.parametrize("shift_c", [-5.0, -2.0, 1.0, 2.5, 5.0])
    def test_a_shift_moves_the_curve_but_keeps_the_durations_of_the_reference(self, shift_c):
        hours = np.concatenate([steady(25, 1), steady(20, 1)])
        clocks = climate(hours).clocks(np.array([shift_c]))
        curve = Briere(1.0, 10, 38)
        passed = np.diff(clocks.stages[1].readings[0])
        expected = curve(20 - shift_c) / curve(25 - shift_c)
        assert passed == pytest.approx(
            [1.0, float(expected)], abs=2e-3
        )  # half shifts: interpolated
        assert clocks.laying[0] == pytest.approx([1.0, float(expected)], abs=2e-3)

    def test_draws_share_clocks_of_like_shifts(self):
        clocks = climate(steady(20, 4)).clocks(np.array([1.0, 0.0, 1.0]))
        assert clocks.stages[0].rows == 2
        assert clocks.laying.shape == (3, 4)
        assert np.array_equal(clocks.laying[0], clocks.laying[2])

    def test_a_shift_that_leaves_nothing_at_the_reference_is_held_back(self):
        c = climate(steady(25, 2), curve=Briere.through(10, 25, 22, 38))
        assert np.isfinite(c.development).all()

    def test_heat_is_averaged_over_the_day_and_falls_on_all_brood(self):
        half = np.where(np.arange(24) < 12, 35.0, 20.0)[None]
        assert climate(half).loss == pytest.approx(np.full((1, 3), 0.05 * 1.0))

    def test_a_rest(self):
        resting = np.zeros(100, bool)
        resting[10:90] = True
        c = climate(steady(20, 100), resting=resting, rest_survival=(0.05, 1.0, 0.2))
        assert not c.laying[:, resting].any() and c.laying[:, ~resting].all()
        assert not c.development[:, resting, 1].any()
        assert c.development[:, resting, 0].all()
        left = np.exp(-c.loss.sum(axis=0))
        assert left == pytest.approx([0.05, 1.0, 0.2])
        assert not c.loss[10 + REST_LOSS_DAYS :].any() and not c.loss[:10].any()

    def test_each_rest_takes_its_toll(self):
        resting = np.zeros(200, bool)
        resting[10:60] = resting[100:150] = True
        c = climate(steady(20, 200), resting=resting)
        assert np.exp(-c.loss.sum(axis=0))[0] == pytest.approx(0.05**2)

    def test_deadly_heat_does_not_overflow(self):
        c = climate(steady(60, 500))
        assert c.loss.sum(axis=0).max() <= 400.0 + 1e-9


class TestPaceNodes:
    @pytest.mark.parametrize("cv", [0.05, 0.12, 0.3, 0.7])
    @pytest.mark.parametrize("number", [2, 4, 8, 33])
    def test_mean_and_spread_are_exact(self, cv, number):
        nodes = pace_nodes(cv, number)
        assert nodes.shape == (number,) and np.all(np.diff(nodes) > 0)
        assert nodes.mean() == pytest.approx(1.0)
        assert nodes.std() == pytest.approx(cv)

    def test_they_follow_the_gamma_law(self):
        nodes = pace_nodes(0.2, 200)
        middle = (np.arange(200) + 0.5) / 200
        expected = stats.gamma(25, scale=1 / 25).ppf(middle)
        assert nodes[5:-5] == pytest.approx(expected[5:-5], abs=3e-3)

    def test_without_spread(self):
        assert pace_nodes(0.0, 5).tolist() == [1.0] * 5
        assert pace_nodes(0.3, 1).tolist() == [1.0]


class TestLaying:
    def births(self, brood, workers, appetite=1.0, **changes):
        room, fill = births_of_day(
            laws(**changes),
            np.array([appetite]),
            np.array([float(brood)]),
            np.array([float(workers)]),
        )
        return float(room[0]), float(fill[0])

    def test_by_hand(self):
        # Queen alone: 20 places, filled at 3/20 a day; with 10 workers 50 places at 5.5/50.
        assert self.births(0, 0) == pytest.approx((20.0, 1 - np.exp(-0.15)))
        assert self.births(30, 10) == pytest.approx((20.0, 1 - np.exp(-0.11)))
        assert self.births(30, 10, appetite=0.5)[1] == pytest.approx(1 - np.exp(-0.055))

    def test_the_top_rate(self):
        room, fill = self.births(0, 1000)
        assert (room, fill) == pytest.approx((3020.0, 1 - np.exp(-80 / 3020)))
        assert room * fill < 80

    @pytest.mark.parametrize("brood", [20, 21, 500])
    def test_no_room_no_eggs(self, brood):
        assert self.births(brood, 0)[0] == 0

    def test_a_full_day_never_overshoots_the_room(self):
        room, fill = self.births(5, 0, founding_rate=500.0, top_rate=1e4)
        assert room * fill <= 15

    def test_small_steps_agree_with_the_continuous_law(self):
        # dB/dt = q (1 - B/K) alone in the nest, stepped daily or a hundredfold finer.
        brood = 0.0
        for _ in range(10):
            room, fill = self.births(brood, 0)
            brood += room * fill
        assert brood == pytest.approx(20 * (1 - np.exp(-10 * 3 / 20)), rel=1e-12)

    @pytest.mark.parametrize("brood, workers", [(5, 0), (40, 12), (600, 290), (600, 400)])
    def test_slopes_are_the_derivatives(self, brood, workers):
        h, one = 1e-5, np.ones(1)
        found = birth_slopes(laws(), one * 0.8, one * brood, one * workers)

        def mean(b, w):
            room, fill = births_of_day(laws(), one * 0.8, one * b, one * w)
            return float(room[0] * fill[0])

        by_brood = (mean(brood + h, workers) - mean(brood - h, workers)) / (2 * h)
        by_workers = (mean(brood, workers + h) - mean(brood, workers - h)) / (2 * h)
        assert (float(found[0][0]), float(found[1][0])) == pytest.approx(
            (by_brood, by_workers), abs=1e-7
        )

    def test_slopes_are_nil_without_room(self):
        one = np.ones(1)
        assert [s.tolist() for s in birth_slopes(laws(), one, one * 25, one * 0)] == [[0.0], [0.0]]


def test_climates_of_stretches_join():
    parts = [climate(steady(24, 3)), climate(steady(18, 2))]
    whole = climate(step(24, 18, 3, 5))
    for name in ("development", "laying"):
        joined = np.concatenate([getattr(p, name) for p in parts], axis=1)
        assert getattr(whole, name) == pytest.approx(joined)
    assert isinstance(replace(whole, laying=whole.laying * 2), Climate)
