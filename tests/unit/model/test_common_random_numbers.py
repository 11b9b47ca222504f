"""Luck by day and purpose: the same days for colonies under different plans."""

from __future__ import annotations

import numpy as np
import pytest
from invented_ants import climate, laws, steady

from antgrowth.model.common_random_numbers import Luck, Queue, names_of
from antgrowth.model.simulation import simulate


def grown(celsius: float, luck: object, days: int = 150, colonies: int = 400) -> np.ndarray:
    some = laws(colonies, spells=0.3)
    return simulate(some, climate(steady(celsius, days)), luck)


def arrival(paths: np.ndarray, workers: int = 30) -> np.ndarray:
    there = paths[..., 3] >= workers
    assert there.any(axis=1).all()
    return there.argmax(axis=1)


def test_the_same_luck_makes_the_same_colonies():
    assert np.array_equal(grown(25, Luck((1,)), 60), grown(25, Luck((1,)), 60))
    assert not np.array_equal(grown(25, Luck((1,)), 60), grown(25, Luck((2,)), 60))


@pytest.mark.parametrize("seed", range(1, 9))
def test_a_longer_look_ahead_begins_alike(seed):
    short, long = (grown(25, Luck((seed,)), days) for days in (60, 90))
    # Who will not finish before the look ahead ends draws no more luck; eggs that share a fate and
    # were laid with them may notice, one stage before the end.
    assert np.array_equal(short[:, :49, :3], long[:, :49, :3])


def test_colonies_are_those_of_free_chance():
    lucky = grown(25, Luck((3,)), 110, 3000)
    free = grown(25, np.random.default_rng(3), 110, 3000)
    for day in (40, 70, 110):
        for stage in range(4):
            one, other = lucky[:, day, stage], free[:, day, stage]
            error = np.hypot(one.std(), other.std()) / np.sqrt(3000)
            assert abs(one.mean() - other.mean()) < 4 * error + 1e-9, (day, stage)
            assert one.std() == pytest.approx(other.std(), rel=0.1, abs=0.05), (day, stage)


def test_neighbours_and_days_are_independent():
    paths = grown(25, Luck((4,)), 110, 2000)
    workers = paths[:, 110, 3].astype(float)
    assert abs(np.corrcoef(workers[:-1], workers[1:])[0, 1]) < 0.08
    new = np.diff(paths[:, :20, 0], axis=1).astype(float)  # eggs only, before any hatches
    assert abs(np.corrcoef(new[:, 9], new[:, 18])[0, 1]) < 0.35  # good spells last, chance not


def test_a_degree_more_differs_by_the_degree():
    cool, warm, other = (arrival(grown(c, Luck((s,)))) for c, s in ((24, 1), (25, 1), (25, 2)))
    apart, paired = np.hypot(cool.std(), other.std()), (cool - warm).std()
    assert paired < apart / 3
    assert (cool - warm).mean() == pytest.approx(cool.mean() - other.mean(), abs=3 * apart / 20)


class TestChance:
    def test_even_and_of_its_own(self):
        names = names_of(np.repeat(np.arange(300), 300), np.tile(np.arange(300), 300))
        luck = Luck((7, 1))
        some, other = luck.chance(names, 3), luck.chance(names, 4)
        for values in (some, other, Luck((7, 2)).chance(names, 3)):
            assert 0 <= values.min() and values.max() < 1
            assert np.bincount((values * 10).astype(int)) / len(values) == pytest.approx(
                np.full(10, 0.1), abs=0.005
            )
        assert abs(np.corrcoef(some, other)[0, 1]) < 0.015
        square = some.reshape(300, 300)
        assert abs(np.corrcoef(square[:, :-1].ravel(), square[:, 1:].ravel())[0, 1]) < 0.015
        assert abs(np.corrcoef(square[:-1].ravel(), square[1:].ravel())[0, 1]) < 0.015
        assert np.array_equal(some, Luck((7, 1)).chance(names, 3))
        assert len(np.unique(some)) == len(names)

    def test_a_name_keeps_its_chance_in_any_company(self):
        names = names_of(np.arange(9), np.arange(9))
        assert np.array_equal(Luck((1,)).chance(names, 5)[4:], Luck((1,)).chance(names[4:], 5))


class TestQueue:
    @pytest.mark.parametrize(("places", "fill"), [(12, 0.15), (3, 0.9), (40, 0.1), (200, 0.3)])
    def test_a_day_has_binomial_births(self, places, fill):
        colonies = 20_000
        queue, rng = Queue(Luck((5,)), colonies), np.random.default_rng(1)
        for _ in range(3):  # on the third day waits have been carried over
            eggs = queue.lay(np.full(colonies, places), np.full(colonies, fill), rng)
        assert eggs.mean() == pytest.approx(places * fill, rel=0.02)
        assert eggs.var() == pytest.approx(places * fill * (1 - fill), rel=0.05)
        assert eggs.max() <= places
        assert queue.laid.mean() == pytest.approx(3 * places * fill, rel=0.02)

    def test_nothing_is_laid_without_room_or_appetite(self):
        queue, rng = Queue(Luck((5,)), 3), np.random.default_rng(1)
        places = np.array([0, 9, 9])
        assert queue.lay(places, np.array([0.5, 0.0, 0.9]), rng).tolist()[:2] == [0, 0]

    def test_half_a_day_twice_is_a_day(self):
        # The same waits, whether hazard comes at once or in two parts.
        whole, halves = Queue(Luck((5,)), 500), Queue(Luck((5,)), 500)
        rng, places = np.random.default_rng(1), np.full(500, 10)
        once = whole.lay(places, np.full(500, 0.3), rng)
        half = np.full(500, 1 - np.sqrt(0.7))
        first = halves.lay(places, half, rng)
        second = halves.lay(places - first, half, rng)
        assert np.array_equal(once, first + second)
