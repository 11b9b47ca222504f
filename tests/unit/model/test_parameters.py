"""Parameters of the growth law: draws, and places for brood."""

from __future__ import annotations

import numpy as np
import pytest
from invented_ants import laws

from antgrowth.model.parameters import Laws


class TestDraws:
    def test_take(self):
        three = laws(3, delay=[1, 2, 3])
        assert three.take(np.array([2, 0])).delay.tolist() == [3, 1]
        assert three.take(np.array([False, True, False])).days.shape == (1, 3)
        assert (len(three), len(three.take(slice(0, 2)))) == (3, 2)

    def test_what_is_not_drawn_stays(self):
        some = laws(2, development_cv=0.2, life_shape=3.0, drift=[0.1, 0.2, 0.3])
        one = some.take(slice(1, 2))
        assert (one.development_cv, one.life_shape) == (0.2, 3.0)
        assert one.drift.tolist() == [0.1, 0.2, 0.3]

    def test_joined(self):
        both = Laws.joined([laws(2, delay=[1, 2]), laws(1, delay=7, drift=0.5)])
        assert both.delay.tolist() == [1, 2, 7] and both.survival.shape == (3, 3)
        assert both.drift.tolist() == [0, 0, 0]  # that of the first


class TestPlaces:
    def test_by_hand(self):
        some = laws(2, places_alone=[14, 9], places_per_worker=[2, 3], places_power=[0.9, 1.0])
        found = some.places(np.array([0.0, 10.0]))
        assert found == pytest.approx([14.0, 9 + 3 * 10])
        assert laws().places(np.array([7.0]))[0] == pytest.approx(14 + 2 * (8**0.9 - 1))

    def test_for_several_days_of_each_draw(self):
        some = laws(3, places_alone=[1, 2, 3])
        found = some.places(np.zeros((3, 5)))
        assert found.shape == (3, 5) and found[:, 0].tolist() == [1, 2, 3]
