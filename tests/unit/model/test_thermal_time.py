"""Clocks of equivalent days, read both ways."""

from __future__ import annotations

import numpy as np
import pytest

from antgrowth.model.thermal_time import Clock


def clock(*rates: list[float]) -> Clock:
    """A clock of some rates a day, a row for each list."""
    return Clock(np.array([np.concatenate([[0.0], np.cumsum(row)]) for row in rates]))


class TestClock:
    def test_reads_between_days(self):
        assert clock([2.0, 1.0, 3.0]).at(np.array([0.0, 0.5, 1.0, 1.5, 3.0])) == pytest.approx(
            [0.0, 1.0, 2.0, 2.5, 6.0], abs=1e-5
        )

    def test_turned_round_it_gives_the_time_back(self):
        rng = np.random.default_rng(1)
        rates = np.exp(rng.normal(0, 1.5, 60))
        time = rng.uniform(0, 60, 500)
        c = clock(list(rates))
        assert c.when(c.at(time)) == pytest.approx(time, abs=1e-6)

    def test_a_winter_is_crossed_at_once(self):
        # Ten days at rate 1, a hundred at nil, ten more: nothing is finished in between.
        c = clock([1.0] * 10 + [0.0] * 100 + [1.0] * 10)
        assert c.when(np.array([9.0, 9.99, 10.01, 11.0])) == pytest.approx(
            [9.0, 9.99, 110.01, 111.0], abs=2e-3
        )

    def test_beyond_both_ends(self):
        c = clock([1.0] * 5)
        assert c.when(np.array([-3.0, 0.0, 5.1, 99.0])).tolist() == [0.0, 0.0, 5.0, 5.0]

    def test_rows_go_by_their_draws(self):
        readings = np.array([[0.0, 1.0, 2.0, 3.0], [0.0, 2.0, 4.0, 6.0]])
        c = Clock(readings, np.array([1, 0, 1]))
        time = np.full((3, 2), 1.5)
        assert c.at(time)[:, 0] == pytest.approx([3.0, 1.5, 3.0], abs=1e-5)
        assert c.when(np.full((3, 2), 2.5))[:, 1] == pytest.approx([1.25, 2.5, 1.25], abs=1e-5)
        # Of named draws, in any order and number.
        assert c.at(np.full(4, 1.0), np.array([1, 1, 0, 2])) == pytest.approx(
            [1, 1, 2, 2], abs=1e-5
        )
        assert c.when(np.full(2, 2.0), np.array([0, 1])) == pytest.approx([1.0, 2.0], abs=1e-5)

    def test_each_row_ends_on_its_own(self):
        c = Clock(np.array([[0.0, 1.0, 2.0], [0.0, 5.0, 10.0]]), np.array([0, 1]))
        assert c.when(np.array([4.0, 4.0])).tolist() == pytest.approx([2.0, 0.8], abs=1e-5)

    def test_before_goes_back_beyond_the_founding(self):
        c = clock([2.0, 1.0, 1.0])
        back = c.before(np.array([2.0, 2.0]), np.array([0.5, 7.0]))
        assert back == pytest.approx([1.5, -2.0], abs=1e-5)  # 3 - 7 = -4, at the first day's 2
