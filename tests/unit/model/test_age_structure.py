"""Who stands in the nest on one day: as many as growth expects, and as old as the clocks say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_ants import climate, laws, steady, swing, unlimited

from antgrowth.model.age_structure import Places, stand
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Move

EGG, LARVA, PUPA, WORKER = range(4)
PACES = 3


def totals(stages: list[Places]) -> np.ndarray:
    """Ants by draw and stage."""
    return np.stack([places.number.sum(axis=1) for places in stages], axis=1)


def ages(places: Places, day: int, draw: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Days in the stage of each place that holds anybody, and how many it holds."""
    some = places.number[draw] > 1e-9
    return day - places.entered[draw][some], places.number[draw][some]


class TestNumbers:
    @pytest.mark.parametrize("day", [3, 30, 55, 75, 140])
    def test_as_many_as_growth_expects(self, day):
        weather = climate(swing(28, 19, 160))
        growth, stages = stand(laws(), weather, day, PACES)
        expected = grow(laws(), weather, day, paces=PACES)
        assert np.array_equal(growth.counts, expected.counts)
        assert len(stages) == 4
        # Within the oldest cohort the part that is still there is taken by the whole day.
        assert totals(stages) == pytest.approx(expected.counts[:, -1], rel=0.06, abs=0.35)
        for places in stages:
            assert places.number.shape == places.entered.shape
            assert places.number.shape[1:] == places.first.shape == places.pace.shape
            assert places.number.min() >= 0

    def test_draws_stand_as_they_would_alone(self):
        # More draws than fit into one block of the processor's cache.
        days = np.linspace(9, 18, 400)[:, None] * np.ones(3)
        some, weather = laws(400, days=days, shift_c=np.tile([0.5, -0.5], 200)), swing(27, 20, 90)
        together = totals(stand(some, climate(weather), 60, PACES)[1])
        for draw in (0, 211, 399):
            alone = totals(stand(some.take(np.array([draw])), climate(weather), 60, PACES)[1])
            assert together[draw] == pytest.approx(alone[0])

    def test_an_empty_nest(self):
        stages = stand(laws(delay=50.0), climate(steady(25, 90)), 20, PACES)[1]
        assert totals(stages) == pytest.approx(np.zeros((1, 4)))


class TestAges:
    """Steady laying, at 25 °C, where nobody dies: ages are spread evenly."""

    SOME = unlimited(3.0, survival=[1.0, 1.0, 1.0], life=1e9, pace_cv=0.0)

    @pytest.mark.parametrize(("stage", "need"), [(EGG, 13.0), (LARVA, 14.0), (PUPA, 16.0)])
    def test_from_new_to_done(self, stage, need):
        places = stand(self.SOME, climate(steady(25, 140)), 100, 1)[1][stage]
        age, number = ages(places, 100)
        assert age.min() == pytest.approx(0.5, abs=0.51) and age.max() <= need + 0.01
        assert np.average(age, weights=number) == pytest.approx(need / 2, abs=0.1)
        assert number == pytest.approx(np.full(len(number), 3.0), rel=1e-4)

    def test_workers_since_the_first(self):
        age, number = ages(stand(self.SOME, climate(steady(25, 140)), 100, 1)[1][WORKER], 100)
        # Eggs of the first 57 days are out: the first came on day 43.5.
        assert number.sum() == pytest.approx(3.0 * 57, rel=1e-4)
        assert np.average(age, weights=number) == pytest.approx(57 / 2, abs=1.5)
        assert age.max() == pytest.approx(57, abs=2)

    def test_the_slow_stay_longer(self):
        some = replace(self.SOME, pace_cv=0.2)
        places = stand(some, climate(steady(25, 140)), 100, PACES)[1][EGG]
        held = {
            pace: places.number[0][places.pace == pace].sum() for pace in np.unique(places.pace)
        }
        assert len(held) == PACES
        for pace, number in held.items():
            assert number == pytest.approx(3.0 * 13 * pace / PACES, abs=1.0)

    @pytest.mark.parametrize("stage", [EGG, LARVA, PUPA])
    def test_none_is_done_already(self, stage):
        weather, day = climate(swing(28, 19, 160)), 70
        some = laws(3, shift_c=[1.0, 0.0, -1.0])
        places = stand(some, weather, day, PACES)[1][stage]
        clock = weather.clocks(some.shift_c).stages[stage]
        kind = np.where(places.first, some.first_development, 1.0)
        need = some.days[:, [stage]] * kind * places.pace
        done = clock.when(clock.at(places.entered) + need)
        weight = places.number / places.number.sum()
        assert (weight * (done > day - 0.51)).sum() == pytest.approx(1.0)
        assert (weight * (places.entered <= day)).sum() == pytest.approx(1.0, abs=0.01)


class TestFirst:
    def test_all_are_first_until_there_is_a_worker(self):
        stages = stand(laws(), climate(steady(25, 120)), 33, PACES)[1]
        for places in stages[:3]:
            first = places.number[0][places.first].sum()
            assert first == pytest.approx(places.number[0].sum(), rel=1e-6)

    def test_later_brood_is_not(self):
        stages = stand(laws(), climate(steady(25, 160)), 110, PACES)[1]
        eggs, workers = stages[EGG], stages[WORKER]
        assert eggs.number[0][eggs.first].sum() < 1e-3 * eggs.number[0].sum()
        assert workers.number[0][workers.first].sum() > 5


class TestCarried:
    SOME = laws(founding_rate=1e-12, rate_per_worker=0.0)

    def standing(self, some, *moves: Move, day: int = 30) -> list[Places]:
        return stand(some, replace(climate(steady(25, 120)), moves=moves), day, PACES)[1]

    def test_adopted_pupae_stand_as_pupae_and_workers(self):
        stages = self.standing(self.SOME, Move(22, PUPA, 16.0))
        # Eight of the sixteen days of a pupa are over: of eight groups, four are out.
        assert totals(stages)[0] == pytest.approx([0, 0, 7.9, 7.9], abs=0.25)
        age, number = ages(stages[PUPA], 30)
        assert age == pytest.approx(np.arange(9, 16, 2), abs=1e-3)
        assert number == pytest.approx(np.full(4, 2 * 0.95**0.5), rel=1e-3)
        assert not stages[WORKER].first[stages[WORKER].number[0] > 0.1].any()

    def test_they_stand_beside_the_colonys_own(self):
        own, both = (self.standing(laws(), *moves) for moves in ((), (Move(29, PUPA, 16.0),)))
        gained = totals(both) - totals(own)
        assert gained[0, PUPA] == pytest.approx(16 * 15.5 / 16, rel=0.1)

    def test_carried_out_leave_fewer_of_every_age(self):
        whole = self.standing(laws(), day=100)[LARVA]
        rest = self.standing(laws(), Move(100, LARVA, -5.0), day=100)[LARVA]
        places = whole.number.shape[1]
        assert rest.number.sum() == pytest.approx(whole.number.sum() - 5)
        assert rest.number[:, places:].sum() == 0
        assert rest.number[:, :places] / rest.number.sum() == pytest.approx(
            whole.number / whole.number.sum()
        )

    def test_more_carried_out_than_there_are_leaves_none(self):
        stages = self.standing(laws(), Move(30, EGG, -500.0))
        assert totals(stages)[0, EGG] == 0 and totals(stages).min() >= 0


class TestPlaces:
    ONE = Places(
        np.array([[1.0, 2.0]]), np.array([[3.0, 4.0]]), np.array([True, False]), np.array([0.9, 1])
    )
    OTHER = Places(np.array([[5.0]]), np.array([[6.0]]), np.array([False]), np.array([1.1]))

    def test_side_by_side(self):
        both = Places.side_by_side(self.ONE, self.OTHER)
        assert both.number.tolist() == [[1, 2, 5]] and both.entered.tolist() == [[3, 4, 6]]
        assert both.first.tolist() == [True, False, False] and both.pace.tolist() == [0.9, 1, 1.1]

    def test_stacked(self):
        two = Places.stacked([self.ONE, replace(self.ONE, number=self.ONE.number * 10)])
        assert two.number.tolist() == [[1, 2], [10, 20]] and two.entered.shape == (2, 2)
        assert two.first is self.ONE.first and two.pace is self.ONE.pace
