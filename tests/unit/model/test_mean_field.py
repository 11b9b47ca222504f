"""Expected growth: its bookkeeping, its conventions of time, and what it does at the edges."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_ants import climate, laws, steady, step, swing, unlimited

from antgrowth.model.mean_field import grow, look_back, survive
from antgrowth.model.parameters import Move

IMMORTAL = {"survival": [1.0, 1.0, 1.0], "life": 1e9}


class TestConventions:
    def test_shapes(self):
        growth = grow(laws(3), climate(steady(24, 40)), paces=4)
        assert growth.counts.shape == (3, 41, 4)
        assert growth.births.shape == growth.first.shape == (3, 40)
        assert growth.midday.shape == (3, 40, 2)
        assert growth.died.shape == (3, 41)
        assert growth.brood == pytest.approx(growth.counts[..., :3].sum(axis=-1))

    def test_the_nest_starts_empty_and_counts_are_at_the_end_of_a_day(self):
        # Three eggs a day, none lost: on the evening of day 0 there are three.
        counts = grow(unlimited(3.0, **IMMORTAL), climate(steady(25, 5))).counts[0]
        assert counts[:, 0] == pytest.approx([0, 3, 6, 9, 12, 15], rel=1e-6)

    def test_eggs_are_laid_all_day(self):
        # Eggs that take 2.5 days: on the evening of day 2 half of the first day's have hatched.
        some = unlimited(2.0, days=[2.5, 50, 50], pace_cv=0.0, **IMMORTAL)
        counts = grow(some, climate(steady(25, 6))).counts[0]
        assert counts[:, 1] == pytest.approx([0, 0, 0, 1, 3, 5, 7], abs=1e-5)

    def test_laying_starts_with_the_part_of_its_first_day_that_is_left(self):
        counts = grow(unlimited(4.0, delay=1.75, **IMMORTAL), climate(steady(25, 4))).counts[0]
        assert counts[:, 0] == pytest.approx([0, 0, 1, 5, 9], rel=1e-6)

    def test_births_answer_to_midday(self):
        growth = grow(laws(), climate(steady(24, 90)))
        own_eggs = growth.births[0]  # but for the few that die within half a day
        expected = 0.5 * (growth.brood[0, :-1] + growth.brood[0, 1:] - own_eggs)
        assert growth.midday[0, :, 0] == pytest.approx(expected, abs=0.02)
        workers = growth.counts[0, :, 3]
        assert growth.midday[0, :, 1] == pytest.approx(0.5 * (workers[1:] + workers[:-1]))

    def test_fewer_days_are_the_beginning_of_more(self):
        weather = climate(swing(28, 19, 80))
        some, whole = grow(laws(), weather, 50), grow(laws(), weather)
        assert some.counts == pytest.approx(whole.counts[:, :51], rel=1e-6, abs=1e-9)


class TestLookBack:
    def test_one_stage_after_the_other(self):
        some = laws(days=[5, 7, 9], first_development=0.5)
        clocks = climate(steady(25, 40)).clocks(some.shift_c)
        laid = look_back(some, clocks, np.array([10.0, 30.0]), np.array([1.0, 1.2]))
        assert laid.shape == (2, 3, 1, 2, 2)
        later = laid[:, :, 0, 1]
        assert later[1, :, 0] == pytest.approx([25, 18, 9], abs=1e-4)
        assert later[1, :, 1] == pytest.approx([24, 15.6, 4.8], abs=1e-4)
        assert later[0, :, 0] == pytest.approx([5, 0, 0], abs=1e-4)  # before day 0 stands 0
        assert laid[1, :, 0, 0, 0] == pytest.approx([27.5, 24, 19.5], abs=1e-4)

    def test_each_stage_runs_on_its_own_clock(self):
        # Larvae stand still in rest, eggs and pupae go on.
        resting = np.zeros(60, bool)
        resting[20:40] = True
        some = laws(days=[5, 7, 9])
        clocks = climate(steady(25, 60), resting=resting).clocks(some.shift_c)
        laid = look_back(some, clocks, np.array([50.0]), np.ones(1))[0, :, 0, 1, 0]
        # The pupa since 41 hatched 27 days before, 20 of them in rest.
        assert laid == pytest.approx([45, 38, 9], abs=1e-3)


class TestSurvive:
    def test_a_share_of_the_progress_is_a_power_of_the_survival(self):
        some = laws(days=[10, 20, 30], survival=[0.5, 0.8, 0.9])
        clocks = climate(steady(25, 100)).clocks(some.shift_c)
        times = np.array([5.5, 20.5, 45.5])
        factors = survive(some, clocks, 1, times, np.ones(1))
        chance = factors.entered[0, :3, 0, 1, 0] * factors.present[[0, 1, 2], [0, 1, 2], 0, 1, 0]
        # Laid at 0.5: half an egg, half a larva, half a pupa on the way.
        assert chance == pytest.approx([0.5**0.5, 0.5 * 0.8**0.5, 0.5 * 0.8 * 0.9**0.5], rel=1e-5)
        assert factors.entered[0, 3, 0, 1, 0] == pytest.approx(0.5 * 0.8 * 0.9, rel=1e-5)
        assert factors.entered_at[0, :, 0, 1, 0] == pytest.approx([0.5, 10.5, 30.5, 60.5], abs=1e-4)

    def test_heat_comes_on_top(self):
        some = laws(survival=[1.0, 1.0, 1.0])
        hours = np.vstack([steady(25, 5), steady(35, 3), steady(25, 40)])
        clocks = climate(hours).clocks(some.shift_c)
        factors = survive(some, clocks, 1, np.array([5.0, 8.0, 9.0]), np.ones(1))
        alive = factors.entered[0, 0, 0, 1, 0] * factors.present[:, 0, 0, 1, 0]
        assert alive == pytest.approx(np.exp([0.0, -0.05 * 2 * 3, -0.05 * 2 * 3]), rel=1e-4)

    def test_not_done_by_the_end_of_the_clocks(self):
        some = laws()
        clocks = climate(steady(25, 20)).clocks(some.shift_c)
        entered_at = survive(some, clocks, 1, np.ones(1), np.ones(1)).entered_at[0, :, 0, 1, 0]
        assert entered_at == pytest.approx([0.5, 13.5, 20.0, 20.0], abs=1e-4)


class TestGrow:
    def test_nobody_is_lost_where_all_survive(self):
        some = laws(**IMMORTAL)
        growth = grow(some, climate(swing(28, 19, 150)))
        total = growth.counts[0].sum(axis=1)
        assert total[1:] == pytest.approx(np.cumsum(growth.births[0]), rel=1e-4)

    def test_the_dead_and_the_living_are_those_who_eclosed(self):
        weather = climate(steady(25, 150))
        plain = {"rate_per_worker": 0.0, "room_per_worker": 0.0, "first_development": 1.0}
        mortal, immortal = (
            grow(laws(life=30.0, **plain), weather),
            grow(laws(life=1e9, **plain), weather),
        )
        assert immortal.died == pytest.approx(np.zeros((1, 151)), abs=1e-9)
        assert np.all(np.diff(mortal.died[0]) >= -1e-9) and mortal.died[0, -1] > 5
        # Nothing but death tells the two colonies apart: room and rate do not answer to workers.
        assert mortal.counts[0, :, 3] + mortal.died[0] == pytest.approx(immortal.counts[0, :, 3])

    def test_brood_never_exceeds_the_room_of_a_lone_queen(self):
        growth = grow(laws(founding_rate=20.0), climate(steady(25, 36)))
        assert growth.counts[0, :, 3].max() < 0.05
        assert growth.brood[0].max() <= 20.1

    def test_first_workers_are_those_of_the_time_without_workers(self):
        growth = grow(laws(), climate(steady(25, 80)))
        assert growth.first[0, :30] == pytest.approx(np.ones(30))
        assert growth.first[0, -1] < 1e-3
        assert growth.first == pytest.approx(np.exp(-growth.midday[..., 1]))

    def test_a_winter_stops_laying_and_larvae_wait(self):
        hours = np.vstack([steady(24, 80), steady(8, 100), steady(24, 60)])
        resting = np.zeros(240, bool)
        resting[80:180] = True
        growth = grow(laws(), climate(hours, resting=resting))
        counts = growth.counts[0]
        assert not growth.births[0, 80:180].any()
        assert counts[80:181, 1] == pytest.approx(np.full(101, counts[80, 1]), rel=0.02)
        assert counts[180, 0] == pytest.approx(0.05 * counts[80, 0], rel=0.05)
        assert growth.births[0, 180] > 1 and counts[240, 3] > counts[180, 3]

    def test_what_comes_later_does_not_change_what_was(self):
        hours = np.vstack([steady(24, 80), steady(8, 100), steady(24, 60)])
        resting = np.zeros(240, bool)
        resting[80:180] = True
        rest, none = (
            grow(laws(), climate(h, resting=r)).counts[0, :81]
            for h, r in ((hours, resting), (steady(24, 240), np.zeros(240, bool)))
        )
        assert rest == pytest.approx(none, rel=0.02, abs=0.02)

    def test_before_a_cold_spell_without_rest_all_is_as_without_it(self):
        cold, warm = (
            grow(laws(), climate(h)).counts[0, :61]
            for h in (np.vstack([steady(24, 60), steady(11, 60)]), steady(24, 120))
        )
        assert cold == pytest.approx(warm, abs=0.05)

    def test_deadly_heat_empties_the_nest_of_brood(self):
        growth = grow(laws(), climate(step(25, 45, 50, 120)))
        assert np.isfinite(growth.counts).all()
        assert growth.brood[0, -1] == pytest.approx(0, abs=1e-6)

    def test_pace_spreads_the_first_workers(self):
        def spread(cv: float) -> float:
            growth = grow(unlimited(3.0, pace_cv=cv), climate(steady(25, 80)), paces=16)
            first, tenth = np.interp([0.5, 10], growth.counts[0, :, 3], np.arange(81))
            return tenth - first

        assert spread(0.3) > spread(0.12) > spread(0.0)

    def test_more_paces_change_little(self):
        weather = climate(swing(28, 19, 150))
        few, many = grow(laws(), weather, paces=8).counts, grow(laws(), weather, paces=40).counts
        well = many > 3
        assert few[well] == pytest.approx(many[well], rel=0.035)


class TestCarried:
    def moved(self, days: int, *moves: Move, temperature_c: float = 25.0, **changes):
        weather = replace(climate(steady(temperature_c, days)), moves=moves)
        return grow(laws(founding_rate=1e-9, rate_per_worker=0.0, **changes), weather).counts[0]

    def test_adopted_pupae_become_workers(self):
        counts = self.moved(60, Move(day=10, stage=2, number=16.0), survival=[1, 1, 1], life=1e9)
        assert counts[9].tolist() == pytest.approx([0, 0, 0, 0], abs=1e-6)
        assert counts[10] == pytest.approx([0, 0, 16, 0], abs=1e-6)
        # Of any age within the 16 days of a pupa: half are out after eight.
        assert counts[18] == pytest.approx([0, 0, 8, 8], abs=1e-4)
        assert counts[27] == pytest.approx([0, 0, 0, 16], abs=1e-4)

    def test_losses_on_the_way_fit_the_progress_still_to_make(self):
        counts = self.moved(60, Move(day=10, stage=2, number=100.0), survival=[1, 1, 0.5], life=1e9)
        # Progress still to make is spread evenly over 0 to 1: the mean of 0.5^p.
        assert counts[-1, 3] == pytest.approx(100 * 0.5 / np.log(2), rel=2e-3)

    def test_workers_given_away_are_gone(self):
        counts = self.moved(
            40, Move(day=5, stage=3, number=20.0), Move(day=15, stage=3, number=-8.0), life=1e9
        )
        assert counts[[4, 5, 14, 15, 40], 3] == pytest.approx([0, 20, 20, 12, 12], abs=1e-4)
