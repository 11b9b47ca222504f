"""Expected growth: its bookkeeping, its conventions of time, and what it does at the edges."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import one_day
import pytest
from invented_ants import (
    ALL_LIVE,
    CHILDLESS,
    NEVER_ASLEEP,
    forcing,
    laws,
    standing,
    steady,
    step,
    swing,
    unlimited,
    winter,
)

from antgrowth.model.life_cycle import LifeCycle
from antgrowth.model.mean_field import grow

NO_PLACES = {"places_alone": -50.0, "places_per_worker": 0.0}


class TestConventions:
    def test_shapes(self):
        growth = grow(laws(3), forcing(steady(24, 40)))
        assert growth.counts.shape == (3, 41, 4) and growth.died.shape == (3, 41)
        assert growth.brood == pytest.approx(growth.counts[..., :3].sum(axis=-1))
        assert growth.take(slice(1, 3)).counts.shape == (2, 41, 4)

    def test_the_nest_starts_empty_and_counts_are_at_the_end_of_a_day(self):
        # Three eggs a day, none lost: on the evening of day 0 there are three.
        counts = grow(unlimited(3.0, **ALL_LIVE), forcing(steady(25, 5))).counts[0]
        assert counts[:, 0] == pytest.approx([0, 3, 6, 9, 12, 15])

    def test_laying_starts_with_the_part_of_its_first_day_that_is_left(self):
        counts = grow(unlimited(4.0, delay=1.75, **ALL_LIVE), forcing(steady(25, 4))).counts[0]
        assert counts[:, 0] == pytest.approx([0, 0, 1, 5, 9])

    def test_fewer_days_are_the_beginning_of_more(self):
        weather = forcing(swing(28, 19, 80))
        some, whole = grow(laws(), weather, 50), grow(laws(), weather)
        assert np.array_equal(some.counts, whole.counts[:, :51])

    def test_the_last_state_is_where_it_goes_on(self):
        weather = forcing(swing(28, 19, 80))
        first = grow(laws(drift=0.4), weather, 50)
        cycle = LifeCycle(laws(drift=0.4), weather)
        states = first.last
        assert states[:, cycle.state.drift] == pytest.approx(np.full((1, 3), 0.08))
        for day in range(50, 80):
            states = one_day.expected_day(cycle, day, states)
        whole = grow(laws(drift=0.4), weather)
        assert states == pytest.approx(whole.last)
        assert cycle.state.counts(states)[0] == pytest.approx(whole.counts[0, -1])

    def test_from_a_start(self):
        weather = forcing(steady(25, 30))
        cycle = LifeCycle(laws(2), weather)
        start = standing(cycle, eggs=10, waiting=2, growing=3, pupae=4, workers=5)
        growth = grow(laws(2), weather, start=start)
        assert growth.counts[:, 0] == pytest.approx(np.tile([10, 5, 4, 5], (2, 1)))
        assert growth.counts[:, -1, 3].min() > 5

    def test_expectation_does_not_feel_the_drift(self):
        weather = forcing(steady(25, 90))
        calm, lively = (grow(laws(drift=sd), weather).counts for sd in (0.0, 0.6))
        assert lively == pytest.approx(calm)


class TestStay:
    """How long a stage lasts, read off expected counts when eggs are laid on one day only."""

    def stay(self, days: float, cv: float, temperature_c: float = 25.0) -> tuple[float, float]:
        """Mean and cv of the days from laying to hatching."""
        long = int(4 * days / 0.5) + 30
        some = unlimited(1.0, days=[days, 9, 9], survival=[1, 1, 1], development_cv=cv, life=1e9)
        weather = forcing(steady(temperature_c, long))
        weather = replace(weather, laying=weather.laying * (np.arange(long) == 0))
        eggs = grow(some, weather).counts[0, 1:, 0]
        share = -np.diff(np.append(eggs, 0.0) / eggs[0])
        # Laid at midday on average and done at midday: as many days as evenings between.
        days_in = np.arange(1, long + 1)
        mean = float((share * days_in).sum())
        return mean, float(np.sqrt((share * (days_in - mean) ** 2).sum() - 1 / 6) / mean)

    @pytest.mark.parametrize("cv", [0.05, 0.12, 0.3, 0.5])
    @pytest.mark.parametrize("days", [7.5, 13.0, 18.9, 24.7, 60.0])
    def test_as_told_at_the_reference(self, days, cv):
        mean, spread = self.stay(days, cv)
        assert mean == pytest.approx(days, rel=1e-3)
        # Whole steps of progress scatter by themselves: by sqrt(p (1 - p) days) / 24 steps, where
        # they take p, the broken part of the 24 / days steps a day.
        p = (24 / days) % 1
        own = np.sqrt(p * (1 - p) * days) / 24
        assert spread == pytest.approx(max(cv, own), abs=0.025)

    @pytest.mark.parametrize("days", [7.5, 13.0, 18.9, 24.7])
    def test_spread_of_the_shipped_profiles_within_a_seventh(self, days):
        assert self.stay(days, 0.12)[1] == pytest.approx(0.12, rel=0.143)

    @pytest.mark.parametrize("temperature_c", [18.0, 30.0])
    def test_at_another_temperature_by_its_rate(self, temperature_c):
        rate = float(forcing(steady(temperature_c, 1)).days_passed(0)[1])
        assert self.stay(13.0, 0.12, temperature_c)[0] == pytest.approx(13.0 / rate, rel=1e-3)

    def test_one_stage_after_the_other(self):
        some = unlimited(1.0, survival=[1, 1, 1], life=1e9)
        weather = forcing(steady(25, 140))
        weather = replace(weather, laying=weather.laying * (np.arange(140) == 0))
        counts = grow(some, weather).counts[0]
        assert counts[:, :3].sum(axis=0) == pytest.approx([13, 9, 16], rel=1e-4)
        assert counts[-1, 3] == pytest.approx(1.0, rel=1e-6)

    def test_first_brood_is_quicker(self):
        some = unlimited(1.0, survival=[1, 1, 1], life=1e9, first_development=0.8)
        weather = forcing(steady(25, 140))
        weather = replace(weather, laying=weather.laying * (np.arange(140) == 0))
        counts = grow(some, weather).counts[0]
        # The first pupae hatch before the last, whose nest-mates they then are.
        assert counts[:, :3].sum(axis=0) == pytest.approx(0.8 * np.array([13, 9, 16]), rel=2e-3)

    def test_larvae_stand_still_out_of_season_and_other_brood_goes_on(self):
        some = laws(**CHILDLESS, **ALL_LIVE, eggs_eaten=0.0, season_end=0.0)
        weather = forcing(steady(25, 90), season="endogenous", since_spring=100.0)
        start = standing(LifeCycle(some, weather), eggs=5, growing=6, pupae=7)
        last = grow(some, weather, start=start).counts[0, -1]
        assert last == pytest.approx([0, 11, 0, 7], abs=1e-6)


class TestSurvival:
    def test_through_each_stage(self):
        some = unlimited(1.0, life=1e9)
        weather = forcing(steady(25, 140))
        weather = replace(weather, laying=weather.laying * (np.arange(140) == 0))
        # Who takes longer dies a little likelier: E[s^(T / mean)] of T with this cv.
        found = grow(some, weather).counts[0, -1, 3]
        expected = np.prod([s * (1 + (0.12 * np.log(s)) ** 2 / 2) for s in (0.9, 0.6, 0.95)])
        assert found == pytest.approx(expected, rel=2e-3)
        assert expected == pytest.approx(0.9 * 0.6 * 0.95, rel=3e-3)

    def test_heat_takes_all_brood_and_no_worker(self):
        hours = steady(25, 60)
        hours[30:34] = 36.0  # 3 °C above the limit: 15 % a day
        some = laws(**CHILDLESS, **ALL_LIVE, **NO_PLACES)
        weather = forcing(hours)
        start = standing(LifeCycle(some, weather), waiting=9, workers=7)
        counts = grow(some, weather, start=start).counts[0]
        assert counts[30] == pytest.approx([0, 9, 0, 7], abs=1e-6)
        assert counts[34] == pytest.approx([0, 9 * np.exp(-0.05 * 3 * 4), 0, 7], abs=1e-6)

    def test_a_rest_leaves_the_told_shares(self):
        hours, resting = winter(20, 100, 1)
        some = laws(**CHILDLESS, life=1e9)
        weather = forcing(hours, resting=resting)
        cold = replace(weather, development=weather.development * ~resting[None, :, None])
        start = standing(LifeCycle(some, cold), eggs=40, growing=40, pupae=40)
        counts = grow(some, cold, start=start).counts[0]
        left = counts[120] / np.maximum(counts[20], 1e-9)
        assert left[:3] == pytest.approx([0.05, 0.70, 0.05], rel=1e-3)
        assert counts[50] == pytest.approx(counts[119])  # all is lost within thirty days

    def test_eggs_are_eaten_as_told(self):
        # Ten larvae without a place, forty eggs that do not hatch: dE/dt = -e L E / (E + 30).
        some = laws(**CHILDLESS, **ALL_LIVE, **NO_PLACES, days=[1e6, 9, 9])
        weather = forcing(steady(25, 20))
        start = standing(LifeCycle(some, weather), eggs=40, waiting=10)
        found, left = grow(some, weather, start=start).counts[0, :, 0], 40.0
        for day in range(1, 21):
            for _ in range(500):
                left -= 0.5 * 10 * left / (left + 30) / 500
            assert found[day] == pytest.approx(left, rel=0.01)

    def test_deadly_heat_empties_the_nest_of_brood(self):
        growth = grow(laws(), forcing(step(25, 45, 50, 120)))
        assert np.isfinite(growth.counts).all()
        assert growth.brood[0, -1] == pytest.approx(0, abs=1e-6)


class TestWorkers:
    @pytest.mark.parametrize(
        ("shape", "mean", "cv"), [(1.0, 300.0, 1.0), (2.0, 265.9, 0.523), (4.0, 271.9, 0.281)]
    )
    def test_life_of_a_weibull_mean_and_nearly_its_scatter(self, shape, mean, cv):
        # 300 g(1 + 1/k) days, and the cv of a Weibull life; whole steps of life give 0.5 for 0.523.
        some = laws(**CHILDLESS, life_shape=shape)
        weather = forcing(steady(25, 3000))
        cycle = LifeCycle(some, weather)
        newborn = np.zeros(cycle.state.size)
        newborn[cycle.state.workers.start + cycle.state.ages] = 1.0
        alive = grow(some, weather, start=newborn).counts[0, :, 3]
        share, age = -np.diff(np.append(alive, 0.0)), np.arange(1, 3002)
        found = float((share * age).sum())
        assert found == pytest.approx(mean, rel=1e-3)
        spread = np.sqrt((share * (age - found) ** 2).sum()) / found
        assert spread == pytest.approx(cv, rel=0.06)

    def alive(self, temperature_c: float = 25.0, kind: str = "workers") -> np.ndarray:
        some = laws(**CHILDLESS, first_life=0.5)
        weather = forcing(steady(temperature_c, 400))
        start = standing(LifeCycle(some, weather), **{kind: 10.0})
        return grow(some, weather, start=start).counts[0, :, 3]

    def test_in_the_warm_they_age_faster(self):
        assert self.alive(35.0)[[100, 200]] == pytest.approx(self.alive()[[200, 400]], rel=0.02)

    def test_first_workers_live_shorter(self):
        first, later = (self.alive(kind=kind) for kind in ("first_workers", "workers"))
        assert first[[100, 200]] == pytest.approx(later[[200, 400]], rel=0.02)

    def test_the_dead_are_counted(self):
        some = laws(**CHILDLESS, life=30.0)
        weather = forcing(steady(25, 60))
        growth = grow(some, weather, start=standing(LifeCycle(some, weather), workers=10))
        assert growth.died + growth.counts[..., 3] == pytest.approx(np.full((1, 61), 10.0))
        assert growth.died[0, -1] > 5


class TestPlaces:
    def full(self, **changes: object) -> np.ndarray:
        """Growing larvae and pupae of a colony with far more larvae than places."""
        some = laws(founding_rate=30.0, eggs_eaten=0.0, life=1e9, **changes)
        weather = forcing(steady(25, 60))
        cycle, states = LifeCycle(some, weather), LifeCycle(some, weather).empty()
        taken = []
        for day in range(40):
            states = one_day.expected_day(cycle, day, states)
            _, _, growing, pupae, workers = (float(part[0]) for part in cycle.state.totals(states))
            taken.append([growing + some.pupa_care[0] * pupae, workers])
        return np.array(taken)

    @pytest.mark.parametrize("care", [0.4, 1.0])
    def test_a_lone_queen_rears_as_many_as_she_can(self, care):
        taken = self.full(pupa_care=care, places_per_worker=0.0)
        full = taken[25:]
        # Places that fall free in the course of a day are given out in the next.
        assert full[:, 0].max() < 14.5 and full[:, 0].min() > 10.5

    def test_waiting_larvae_do_not_die_of_waiting(self):
        some = laws(**CHILDLESS, **NO_PLACES)
        weather = forcing(steady(25, 60))
        start = standing(LifeCycle(some, weather), waiting=12)
        assert grow(some, weather, start=start).counts[0, -1] == pytest.approx(
            [0, 12, 0, 0], abs=1e-6
        )


class TestRest:
    def test_a_winter(self):
        hours, resting = winter(80, 100, 60)
        weather = forcing(hours, resting=resting)
        counts = grow(laws(**NEVER_ASLEEP), weather).counts[0]
        assert counts[110, 0] < 0.06 * counts[80, 0]
        assert counts[179, 1] == pytest.approx(0.7 * counts[80, 1], rel=0.35)  # eggs still hatch
        assert counts[240, 3] > counts[180, 3]

    def test_what_comes_later_does_not_change_what_was(self):
        hours, resting = winter(80, 100, 60)
        rest, none = (
            grow(laws(), forcing(h, resting=r)).counts[0, :81]
            for h, r in ((hours, resting), (steady(24, 240), np.zeros(240, bool)))
        )
        assert rest == pytest.approx(none)

    def test_in_spring_the_queen_lays_late_and_larvae_grow_first(self):
        hours, resting = winter(80, 100, 60)
        weather = forcing(hours, resting=resting, season="endogenous", since_spring=120.0)
        counts = grow(laws(wake_days=8.0, laying_days=30.0), weather).counts[0]
        pupae, eggs = counts[180:, 2], counts[180:, 0]
        # Larvae of 9 days that wake after 8, at 24 °C; the queen half-way after 30.
        assert 14 < np.argmax(pupae > 0.5 * pupae.max()) < 26
        assert 20 < np.argmax(eggs > 5) < 35 and eggs[15] < 0.5


def test_draws_grow_as_they_would_alone():
    # More draws than fit into one block of the processor's cache.
    days = np.linspace(9, 18, 200)[:, None] * np.ones(3)
    some, weather = laws(200, days=days, shift_c=np.tile([0.5, -0.5], 100)), swing(27, 20, 90)
    together = grow(some, forcing(weather)).counts
    for draw in (0, 63, 64, 199):
        alone = grow(some.take(slice(draw, draw + 1)), forcing(weather)).counts[0]
        assert together[draw] == pytest.approx(alone, rel=1e-9, abs=1e-9)
