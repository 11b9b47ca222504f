"""Whole-number colonies: conventions, conservation, standing ants, and their scatter."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_ants import climate, laws, steady, swing, unlimited

from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Move
from antgrowth.model.simulation import Packets, simulate

ALL_LIVE = {"survival": [1.0, 1.0, 1.0], "life": 1e9}
CHILDLESS = {"founding_rate": 1e-12, "rate_per_worker": 0.0}


def rng(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


def packets(colonies: int, stage: int, number: int, entered: float, seen: float) -> Packets:
    """One packet in each colony."""
    every = np.arange(colonies)
    return Packets(
        draw=every,
        number=np.full(colonies, number),
        stage=np.full(colonies, stage),
        first=np.zeros(colonies, bool),
        pace=np.ones(colonies),
        entered=np.full(colonies, entered),
        seen=np.full(colonies, seen),
    )


class TestConventions:
    def test_whole_numbers_from_an_empty_nest(self):
        paths = simulate(laws(20), climate(swing(28, 19, 60)), rng())
        assert paths.shape == (20, 61, 4)
        assert np.issubdtype(paths.dtype, np.integer)
        assert not paths[:, 0].any() and paths.min() == 0 and paths[:, -1, 3].max() > 3

    def test_the_same_seed_gives_the_same_colonies(self):
        once, again, other = (simulate(laws(9), climate(steady(24, 70)), rng(s)) for s in (3, 3, 4))
        assert np.array_equal(once, again) and not np.array_equal(once, other)

    def test_laid_today_counted_this_evening(self):
        eggs = simulate(unlimited(50.0, 400, **ALL_LIVE), climate(steady(25, 3)), rng())[..., 0]
        assert eggs.mean(axis=0) == pytest.approx([0, 50, 100, 150], rel=0.02)

    def test_eggs_hatch_when_their_clock_says(self):
        some = unlimited(30.0, 50, days=[2.2, 50, 50], pace_cv=0.0, **ALL_LIVE)
        paths = simulate(some, climate(steady(25, 6)), rng())
        # An egg of midday hatches 2.2 days on: there on the second evening after its own.
        assert not paths[:, 2, 1].any()
        assert np.array_equal(paths[:, 3, 1], paths[:, 1, 0])

    def test_delay(self):
        paths = simulate(laws(2000, delay=3.5), climate(steady(25, 6)), rng())
        assert not paths[:, :4].any()
        assert paths[:, 4, 0].mean() == pytest.approx(20 * (1 - np.exp(-0.5 * 0.15)), rel=0.06)


class TestConservation:
    @pytest.mark.parametrize("hours", [steady(25, 120), swing(29, 18, 120)])
    def test_where_all_survive_everyone_moves_on_and_nobody_is_lost(self, hours):
        paths = simulate(laws(30, **ALL_LIVE), climate(hours), rng())
        for stage in range(4):
            reached = paths[:, :, stage:].sum(axis=2)
            assert np.all(np.diff(reached, axis=1) >= 0), stage

    def test_the_nest_of_a_lone_queen_is_never_overfull(self):
        some = laws(200, founding_rate=40.0, founding_room=12.0, room_per_worker=0.0)
        paths = simulate(some, climate(steady(25, 100)), rng())
        assert paths[..., :3].sum(axis=2).max() <= 12


class TestFates:
    @pytest.mark.parametrize("rate", [4.0, 7.0, 9.0, 13.0, 500.0])
    def test_however_eggs_share_fates_the_mean_is_that_of_expected_growth(self, rate):
        # A quick pace must not get more eggs than a slow one, nor an early death more workers.
        some = {"survival": [0.9, 1.0, 1.0], "life": 60.0, "pace_cv": 0.3}
        weather, colonies = climate(steady(25, 80)), int(12_000 / min(rate, 30.0))
        mean = simulate(unlimited(rate, colonies, **some), weather, rng())[:, -1].mean(axis=0)
        expected = grow(unlimited(rate, **some), weather, paces=32).counts[0, -1]
        assert mean == pytest.approx(expected, rel=0.012)


class TestScatter:
    """Without feedback, counts are Poisson but for the fates that many eggs share."""

    @pytest.mark.parametrize("rate", [2.0, 4.0])
    def test_few_eggs_have_fates_of_their_own(self, rate):
        n = 4000
        paths = simulate(unlimited(rate, n, life=40.0), climate(steady(25, 90)), rng())[:, -1]
        ratio = paths.var(axis=0) / paths.mean(axis=0)
        assert ratio == pytest.approx(np.ones(4), abs=5 * np.sqrt(2 / n))
        assert np.corrcoef(paths.T)[np.triu_indices(4, 1)] == pytest.approx(
            np.zeros(6), abs=4 / np.sqrt(n)
        )

    def test_many_eggs_scatter_no_less_and_hardly_more(self):
        paths = simulate(unlimited(60.0, 1500, life=40.0), climate(steady(25, 90)), rng())[:, -1]
        ratio = paths.var(axis=0) / paths.mean(axis=0)
        assert np.all(ratio > 0.8) and np.all(ratio < 2.0)

    def test_deaths_come_by_progress(self):
        some = unlimited(5.0, 800, days=[20, 50, 50], survival=[0.2, 1, 1], pace_cv=0.0)
        eggs = simulate(some, climate(steady(25, 20)), rng())[:, -1, 0].mean()
        alive = (0.2 ** ((np.arange(20) + 0.5) / 20)).sum() * 5.0
        assert eggs == pytest.approx(alive, rel=0.02)


class TestHeatAndRest:
    """Heat and rest kill when they come: not before, and not when the stage's clock next moves."""

    def rest(self) -> tuple[np.ndarray, np.ndarray]:
        resting = np.zeros(240, bool)
        resting[80:180] = True
        return np.vstack([steady(24, 80), steady(8, 100), steady(24, 60)]), resting

    def test_a_winter_as_in_expected_growth(self):
        hours, resting = self.rest()
        weather = climate(hours, resting=resting)
        mean = simulate(laws(1500), weather, rng()).mean(axis=0)
        expected = grow(laws(), weather).counts[0]
        for day in (79, 85, 95, 110, 150, 180, 200, 240):
            assert mean[day] == pytest.approx(expected[day], rel=0.06, abs=0.4), day

    def test_until_the_rest_all_is_as_without_it(self):
        hours, resting = self.rest()
        rest, none = (
            simulate(laws(2000), climate(h, resting=r), rng()).mean(axis=0)[:81]
            for h, r in ((hours, resting), (steady(24, 100), np.zeros(100, bool)))
        )
        assert rest[60:] == pytest.approx(none[60:], rel=0.03, abs=0.1)

    def test_a_hot_spell_as_in_expected_growth(self):
        weather = climate(np.vstack([steady(25, 20), swing(37, 30, 20), steady(25, 40)]))
        mean = simulate(laws(1500), weather, rng()).mean(axis=0)
        expected = grow(laws(), weather).counts[0]
        assert weather.loss.sum() > 3
        assert mean[10:] == pytest.approx(expected[10:], rel=0.06, abs=0.15)


class TestStanding:
    def test_the_first_entry_is_what_stands(self):
        weather = climate(steady(25, 60))
        standing = Packets.joined([packets(3, 0, 4, 38.0, 40.0), packets(3, 3, 7, 10.0, 40.0)])
        paths = simulate(laws(3), weather, rng(), start_day=40, standing=standing)
        assert paths.shape == (3, 21, 4)
        assert paths[:, 0].tolist() == [[4, 0, 0, 7]] * 3

    def test_they_go_on_from_where_they_are(self):
        some = laws(2, pace_cv=0.0, **ALL_LIVE, **CHILDLESS)
        standing = packets(2, 1, 5, entered=33.5, seen=40.0)  # a larva's 14 days end at 47.5
        paths = simulate(some, climate(steady(25, 80)), rng(), start_day=40, standing=standing)
        assert paths[0, 7].tolist() == [0, 5, 0, 0]
        assert paths[0, 8].tolist() == [0, 0, 5, 0]
        assert paths[0, 23].tolist() == [0, 0, 5, 0] and paths[0, 24].tolist() == [0, 0, 0, 5]

    def test_they_die_only_of_what_is_still_to_come(self):
        some = laws(4000, survival=[0.5, 1, 1], life=1e9, **CHILDLESS)
        standing = packets(4000, 0, 1, entered=40 - 13 * 0.75, seen=40.0)
        paths = simulate(some, climate(steady(25, 60)), rng(), start_day=40, standing=standing)
        assert paths[:, -1].sum(axis=1).mean() == pytest.approx(0.5**0.25, abs=0.03)

    def test_old_workers_die_as_their_age_suggests(self):
        some = laws(5000, life=50.0, **CHILDLESS)
        standing = packets(5000, 3, 1, entered=-20.0, seen=40.0)  # 60 days old: may be before day 0
        paths = simulate(some, climate(steady(25, 50)), rng(), start_day=40, standing=standing)
        assert paths[:, -1, 3].mean() == pytest.approx(np.exp(1.2**2 - 1.4**2), abs=0.02)

    def test_the_overdue_move_on_the_first_day(self):
        some = laws(1, pace_cv=0.0, **ALL_LIVE, **CHILDLESS)
        for stage in range(3):
            standing = packets(1, stage, 5, entered=1.0, seen=40.0)
            paths = simulate(some, climate(steady(25, 44)), rng(), start_day=40, standing=standing)
            assert np.all(paths.sum(axis=2) == 5)
            assert paths[0, 1, stage + 1] == 5, stage

    @pytest.mark.parametrize("start", [45, 90, 139])
    def test_whenever_a_winter_forecast_begins_nobody_appears_twice(self, start):
        hours = np.vstack([steady(24, 40), steady(8, 100), steady(24, 60)])
        resting = np.zeros(200, bool)
        resting[40:140] = True
        standing = Packets.joined(
            [packets(300, stage, 2, e, float(start)) for stage in range(3) for e in (30.0, 39.9)]
        )
        some = laws(300, life=1e9, **CHILDLESS)
        paths = simulate(
            some, climate(hours, resting=resting), rng(), start_day=start, standing=standing
        )
        total = paths.sum(axis=2)
        assert np.all(np.diff(total, axis=1) <= 0) and paths.min() >= 0
        assert not paths[:, -1, :3].any() and paths[:, -1, 3].any()

    def test_empty_nest(self):
        standing = packets(2, 0, 0, 5.0, 10.0)
        paths = simulate(laws(2), climate(steady(25, 20)), rng(), start_day=10, standing=standing)
        assert paths[:, 0].sum() == 0 and paths[:, -1, 0].sum() > 0

    def test_where_and_joined(self):
        both = Packets.joined([packets(2, 0, 4, 1.0, 1.0), packets(2, 3, 7, 2.0, 2.0)])
        workers = both.where(both.stage == 3)
        assert workers.number.tolist() == [7, 7] and workers.entered.tolist() == [2.0, 2.0]


class TestCarried:
    def carried(self, *moves: Move, **changes) -> tuple[np.ndarray, np.ndarray]:
        weather = replace(climate(steady(25, 60)), moves=moves)
        paths = simulate(laws(1500, **changes), weather, rng()).mean(axis=0)
        return paths, grow(laws(**changes), weather).counts[0]

    def test_adopted_pupae(self):
        mean, expected = self.carried(Move(10, 2, 16.0), **CHILDLESS)
        # Expected growth lets them eclose in eight equal groups.
        assert mean == pytest.approx(expected, abs=16 / 8 / 2 + 0.1)
        assert mean[[10, 30], [2, 3]] == pytest.approx(expected[[10, 30], [2, 3]], rel=0.01)

    def test_workers_in_and_out_make_room_for_brood_or_take_it(self):
        mean, expected = self.carried(Move(20, 3, 30.0), Move(30, 3, -12.0))
        assert np.diff(mean[:, 3])[[19, 29]] == pytest.approx([30, -12], abs=0.3)
        assert mean[:, 0] == pytest.approx(expected[:, 0], rel=0.08, abs=0.3)
        assert mean[:50, 3] == pytest.approx(expected[:50, 3], rel=0.02, abs=0.1)

    @pytest.mark.parametrize("stage", range(4))
    def test_ants_adopted_on_the_last_evening_are_counted(self, stage):
        mean, expected = self.carried(Move(60, stage, 16.0), **CHILDLESS)
        assert mean[60, stage] == 16 and expected[60, stage] == pytest.approx(16)

    @pytest.mark.parametrize("stage", range(3))
    def test_what_is_ahead_does_not_matter(self, stage):
        """Adopted brood that is not ready on the last day was once counted a stage too far."""
        short, long = (
            replace(climate(steady(25, days)), moves=(Move(50, stage, 16.0),)) for days in (60, 90)
        )
        now, then = (grow(laws(**CHILDLESS), weather).counts[0, :61] for weather in (short, long))
        assert now == pytest.approx(then, abs=1e-9)

    def test_more_carried_out_than_there_are_leaves_none(self):
        paths, expected = self.carried(Move(20, 3, 5.0), Move(30, 3, -50.0), **CHILDLESS)
        assert paths.min() == 0 and not paths[31:, 3].any()
