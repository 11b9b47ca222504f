"""Ants carried in or out: their ages, their fate worked out by hand, and what they take along."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_ants import climate, laws, steady, swing, unlimited

from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Climate, Laws, Move
from antgrowth.model.simulation import simulate
from antgrowth.model.transfers import AGES, OLDEST_WORKER, Carried, carry

EGG, LARVA, PUPA, WORKER = range(4)
AGE = (np.arange(AGES) + 0.5) / AGES
DAYS, SIGMA, LIFE = (13.0, 14.0, 16.0), (0.85, 0.90, 0.95), 300.0


def carried(weather: Climate, *moves: Move, some: Laws | None = None) -> Carried:
    some = laws() if some is None else some
    return carry(some, weather.clocks(some.shift_c), moves)


def by_hand(day: float, stage: int, number: float, time: float) -> np.ndarray:
    """Eggs, larvae, pupae and workers at a time, at a steady 25 °C: each age group on its own."""
    found = np.zeros(4)
    for age in AGE:
        here, entered, alive = stage, day, number / AGES
        progress = age if stage < WORKER else 0.0
        worker_age = OLDEST_WORKER * LIFE * age if stage == WORKER else 0.0
        while here < WORKER and time >= entered + DAYS[here] * (1 - progress):
            alive *= SIGMA[here] ** (1 - progress)
            entered, progress, here = entered + DAYS[here] * (1 - progress), 0.0, here + 1
        waited = time - entered
        if here < WORKER:
            alive *= SIGMA[here] ** (waited / DAYS[here])
        else:
            alive *= np.exp((worker_age / LIFE) ** 2 - ((worker_age + waited) / LIFE) ** 2)
        found[here] += alive
    return found


class TestByHand:
    @pytest.mark.parametrize("stage", range(4))
    def test_every_stage_through_all_that_follow(self, stage):
        counts = carried(climate(steady(25, 100)), Move(10, stage, 80.0)).counts(99)
        assert counts.shape == (100, 1, 4)
        assert not counts[:10].any()
        for day in (10, 11, 17, 24, 31, 40, 60, 99):
            assert counts[day, 0] == pytest.approx(by_hand(10, stage, 80.0, day), rel=1e-4), day

    def test_all_are_there_on_the_day_they_come(self):
        moves = [Move(3, stage, 10.0 + stage) for stage in range(4)]
        counts = carried(climate(swing(28, 19, 9)), *moves).counts(9)
        assert counts[3, 0] == pytest.approx([10, 11, 12, 13])

    def test_several_moves_add_up(self):
        weather, one, two = climate(swing(28, 19, 60)), Move(5, PUPA, 30.0), Move(20, LARVA, 7.0)
        both = carried(weather, one, two).counts(60)
        parts = carried(weather, one).counts(60) + carried(weather, two).counts(60)
        assert both == pytest.approx(parts)

    def test_each_draw_by_its_own_law(self):
        some = laws(3, days=[[9, 9, 9], [13, 14, 16], [20, 20, 20]], shift_c=[1.0, 0.0, -1.0])
        weather, move = climate(swing(27, 20, 80)), Move(10, EGG, 40.0)
        together = carried(weather, move, some=some).counts(80)
        for draw in range(3):
            alone = carried(weather, move, some=some.take(slice(draw, draw + 1))).counts(80)
            assert together[:, draw] == pytest.approx(alone[:, 0])


class TestAges:
    def test_spread_evenly_over_the_stage(self):
        found = carried(climate(steady(25, 40)), Move(20, PUPA, 8.0))
        assert 20 - found.entered[0, PUPA] == pytest.approx(16 * AGE, rel=1e-4)
        assert found.entered[0, WORKER] == pytest.approx(20 + 16 * (1 - AGE), rel=1e-4)

    def test_they_may_have_entered_before_the_colony_began(self):
        found = carried(climate(steady(25, 40)), Move(1, PUPA, 8.0))
        assert found.entered[0, PUPA] == pytest.approx(1 - 16 * AGE, abs=1e-4)
        assert found.counts(40)[[1, 40], 0].sum(axis=1) == pytest.approx(
            [8.0, by_hand(1, PUPA, 8.0, 40).sum()], rel=1e-4
        )

    def test_workers_are_up_to_half_a_life_old(self):
        found = carried(climate(steady(25, 40)), Move(20, WORKER, 8.0))
        assert (20 - found.entered[0, WORKER]) / LIFE == pytest.approx(0.5 * AGE)

    def test_in_the_cool_the_same_age_took_longer(self):
        warm, cool = (
            20 - carried(climate(steady(t, 40)), Move(20, PUPA, 8.0)).entered[0, PUPA]
            for t in (25, 18)
        )
        assert np.all(cool > 1.5 * warm)


class TestHeat:
    def weather(self, first: int, last: int) -> Climate:
        hours = steady(25, 40)
        hours[first:last] = 36.0  # 3 °C above the limit: 15 % a day
        return climate(hours)

    def test_before_they_came_does_not_harm_them(self):
        found = carried(self.weather(0, 5), Move(10, PUPA, 80.0)).counts(39)
        assert found[39, 0] == pytest.approx(by_hand(10, PUPA, 80.0, 39), rel=1e-4)

    def test_after_they_came_kills_brood_and_no_workers(self):
        late = carried(self.weather(30, 35), Move(30, LARVA, 80.0)).counts(39)
        calm = carried(climate(steady(25, 40)), Move(30, LARVA, 80.0)).counts(39)
        heat = 1 - late[31, 0].sum() / calm[31, 0].sum()
        assert heat == pytest.approx(1 - np.exp(-0.05 * 3), rel=0.05)
        workers = carried(self.weather(30, 35), Move(30, WORKER, 80.0)).counts(39)
        assert workers[39, 0, WORKER] > 0.97 * 80


class TestAgainstWholeColonies:
    """The same ants, in whole numbers and by chance; nobody else is in the nest."""

    NOBODY = {"founding_rate": 1e-12, "rate_per_worker": 0.0}

    @pytest.mark.parametrize("stage", range(4))
    def test_days_spent_in_each_stage(self, stage):
        weather = replace(climate(swing(28, 19, 90)), moves=(Move(8, stage, 24.0),))
        paths = simulate(laws(400, **self.NOBODY), weather, np.random.default_rng(1))[:, 8:]
        evenings = paths.sum(axis=1) - 0.5 * (paths[:, 0] + paths[:, -1])
        # Expected growth moves the ants on in eight groups: compared at all hours, not at evenings.
        expected = carried(weather, *weather.moves)
        hours = 8 + (np.arange(82 * 24) + 0.5) / 24
        days = [expected.alive(s, hours).sum() / 24 for s in range(4)]
        assert evenings.mean(axis=0) == pytest.approx(days, rel=0.005, abs=2.0)
        assert paths[:, -1].mean(axis=0) == pytest.approx(
            expected.counts(90)[-1, 0], rel=0.01, abs=0.05
        )


class TestCarriedOut:
    def test_the_opposite_of_carried_in(self):
        weather = climate(swing(28, 19, 60))
        into = carried(weather, Move(10, LARVA, 9.0)).counts(60)
        out = carried(weather, Move(10, LARVA, -9.0)).counts(60)
        assert out == pytest.approx(-into)

    def test_they_take_their_future_along(self):
        # Steady laying that answers to nobody: whatever is missing later went out with the larvae.
        some, calm = unlimited(3.0), climate(steady(25, 100))
        less = replace(calm, moves=(Move(50, LARVA, -12.0),))
        missing = (grow(some, calm).counts - grow(some, less).counts)[0]
        for day in (49, 50, 60, 75, 100):
            assert missing[day] == pytest.approx(
                by_hand(50, LARVA, 12.0, day) if day >= 50 else np.zeros(4), rel=1e-3, abs=1e-6
            ), day
        # Twelve larvae of any age would have become 12 x 0.95 x mean of 0.9^p workers.
        assert missing[85, WORKER] == pytest.approx(12 * 0.95 * 0.1 / -np.log(0.9), rel=0.02)

    def test_so_they_do_in_whole_colonies(self):
        some, calm = unlimited(3.0, 1500), climate(steady(25, 90))
        less = replace(calm, moves=(Move(50, LARVA, -12.0),))
        before, after = (
            simulate(some, weather, np.random.default_rng(seed))[:, [60, 90]].mean(axis=0)
            for seed, weather in enumerate((calm, less))
        )
        expected = [by_hand(50, LARVA, 12.0, day) for day in (60, 90)]
        # Two means of 1500 Poisson numbers of up to 80: their difference scatters by 0.3.
        assert before - after == pytest.approx(np.array(expected), abs=1.0)

    def test_a_colony_that_gave_pupae_away_has_fewer_workers_and_refills(self):
        calm = climate(steady(25, 120))
        less = replace(calm, moves=(Move(36, PUPA, -6.0),))
        before, after = (grow(laws(), weather).counts[0] for weather in (calm, less))
        assert before[36, PUPA] > 6
        assert before[56, WORKER] - after[56, WORKER] == pytest.approx(6 * 0.97, rel=0.05)
        assert before[36, :3].sum() - after[36, :3].sum() == pytest.approx(6, rel=0.1)
        assert after[39, EGG] > before[39, EGG] + 0.5  # into the room that they left
