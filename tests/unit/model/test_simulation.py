"""Whole-number colonies: conventions, conservation, what stands at the start, and their scatter."""

from __future__ import annotations

import numpy as np
import pytest
from invented_ants import (
    ALL_LIVE,
    CHILDLESS,
    NEVER_ASLEEP,
    forcing,
    laws,
    standing,
    steady,
    swing,
    unlimited,
    winter,
)

from antgrowth.model.life_cycle import LifeCycle
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Laws
from antgrowth.model.simulation import simulate, whole_ants
from antgrowth.model.thermal_forcing import ThermalForcing


def rng(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


def held(some: Laws, weather: ThermalForcing, **numbers: float) -> np.ndarray:
    """The same whole ants in every nest."""
    return np.tile(standing(LifeCycle(some, weather), **numbers), (len(some), 1))


class TestConventions:
    def test_whole_numbers_from_an_empty_nest(self):
        paths = simulate(laws(20, drift=0.5), forcing(swing(28, 19, 60)), rng())
        assert paths.shape == (20, 61, 4)
        assert np.issubdtype(paths.dtype, np.integer)
        assert not paths[:, 0].any() and paths.min() == 0 and paths[:, -1, 3].max() > 3

    def test_the_same_seed_gives_the_same_colonies(self):
        once, again, other = (
            simulate(laws(9, drift=0.5), forcing(steady(24, 70)), rng(s)) for s in (3, 3, 4)
        )
        assert np.array_equal(once, again) and not np.array_equal(once, other)

    def test_laid_today_counted_this_evening(self):
        eggs = simulate(unlimited(50.0, 400, **ALL_LIVE), forcing(steady(25, 3)), rng())[..., 0]
        assert eggs.mean(axis=0) == pytest.approx([0, 50, 100, 150], rel=0.02)
        assert eggs[:, 1].var() == pytest.approx(50, rel=4 * np.sqrt(2 / 400))

    def test_delay(self):
        paths = simulate(laws(2000, delay=3.5), forcing(steady(25, 6)), rng())
        assert not paths[:, :4].any()
        assert paths[:, 4, 0].mean() == pytest.approx(0.5 * 80 * -np.expm1(-3 / 80), rel=0.08)


class TestConservation:
    @pytest.mark.parametrize("hours", [steady(25, 120), swing(29, 18, 120)])
    def test_where_all_survive_everyone_moves_on_and_nobody_is_lost(self, hours):
        some = laws(30, **ALL_LIVE, eggs_eaten=0.0, drift=0.5)
        paths = simulate(some, forcing(hours), rng())
        for stage in range(4):
            reached = paths[:, :, stage:].sum(axis=2)
            assert np.all(np.diff(reached, axis=1) >= 0), stage
        assert paths[:, -1, 3].min() > 5

    def test_eaten_eggs_are_all_that_is_missing(self):
        some = laws(30, **ALL_LIVE, eggs_eaten=2.0)
        paths = simulate(some, forcing(steady(25, 90)), rng())
        for stage in range(1, 4):
            assert np.all(np.diff(paths[:, :, stage:].sum(axis=2), axis=1) >= 0), stage
        assert np.diff(paths.sum(axis=2), axis=1).min() < -2

    def test_a_lone_queen_rears_no_more_than_she_can(self):
        some = laws(200, founding_rate=40.0, places_alone=12.0, places_per_worker=0.0,
                    pupa_care=1.0, eggs_eaten=0.0)  # fmt: skip
        weather = forcing(steady(25, 45))
        cycle = LifeCycle(some, weather)
        found = simulate(some, weather, rng())
        # In this time no worker comes, so that all pupae are those of one queen; the limit is kept
        # give or take a place, and a place that falls free is taken the day after.
        assert not found[:, :30, 3].any() and cycle.days == 45
        assert found[..., 2].max() <= 14
        assert found[:, 34, 2].mean() > 8


class TestScatter:
    @pytest.mark.parametrize(("rate", "most"), [(0.5, 1.2), (3.0, 1.13), (20.0, 1.1)])
    def test_without_feedback_counts_are_nearly_poisson(self, rate, most):
        # An index of dispersion from 4000 colonies is itself 2.2 % off; the rest is what it costs
        # to draw who leaves a stage from a whole row, most where rows hold few.
        paths = simulate(unlimited(rate, 4000, life=40.0), forcing(steady(25, 90)), rng())
        now = paths[:, -1]
        ratio = now.var(axis=0) / now.mean(axis=0)
        print(f"\n{rate} eggs a day: index of dispersion {ratio.round(2)}")
        assert np.all(ratio > 0.9) and np.all(ratio < most + 0.07)
        assert ratio.mean() < most
        assert np.abs(np.corrcoef(now.T)[np.triu_indices(4, 1)]).max() < 0.13

    def test_means_without_feedback_are_exact(self):
        some = {"life": 60.0, "development_cv": 0.3}
        weather = forcing(swing(28, 20, 100))
        paths = simulate(unlimited(5.0, 6000, **some), weather, rng())
        expected = grow(unlimited(5.0, **some), weather).counts[0]
        error = paths.std(axis=0) / np.sqrt(6000)
        assert np.all(np.abs(paths.mean(axis=0) - expected) < 4.5 * error + 1e-3)

    def test_laying_strays_from_the_law_and_back(self):
        some = unlimited(200.0, 3000, **ALL_LIVE, drift=[0.5, 0, 0])
        laid = np.diff(simulate(some, forcing(steady(25, 40)), rng())[:, :, :].sum(axis=2), axis=1)
        rate = np.log(np.maximum(laid, 1) / 200.0)
        # Poisson chance adds 1/200 to the variance of the logarithm.
        assert rate.mean() == pytest.approx(-0.125, abs=0.03)
        assert rate.std(axis=0) == pytest.approx(np.full(40, np.sqrt(0.25 + 0.005)), rel=0.06)
        for apart in (1, 15, 30):
            found = np.mean([np.cov(rate[:, d], rate[:, d + apart])[0, 1] for d in range(8)])
            assert found == pytest.approx(0.25 * np.exp(-apart / 15), abs=0.02)

    def test_few_ants_bend_the_expectation_little(self):
        # Expectation is carried through the law as if it were certain. What that costs a founding
        # colony is at most 0.3 of the scatter of a single one; workers come 2 to 5 % too many.
        weather = forcing(steady(24, 110))
        paths = simulate(laws(4000), weather, rng())
        expected, sd = grow(laws(), weather).counts[0], paths.std(axis=0)
        well = paths.mean(axis=0) >= 1
        bias = (expected - paths.mean(axis=0))[well] / sd[well]
        assert np.abs(bias).max() < 0.36
        workers = expected[60:, 3] / paths[:, 60:, 3].mean(axis=0)
        assert workers.min() > 1.0 and workers.max() < 1.06

    def test_many_ants_grow_as_expected(self):
        large = {"founding_rate": 300.0, "top_rate": 8000.0, "places_alone": 1400.0,
                 "first_life": 1.0, "first_development": 1.0}  # fmt: skip
        weather = forcing(swing(28, 19, 100))
        mean = simulate(laws(300, **large), weather, rng()).mean(axis=0)
        expected = grow(laws(**large), weather).counts[0]
        many = expected > 300
        assert many.sum() > 150
        # What is left is where places run out or fall free, and larvae begin to wait or cease to.
        off = np.abs(mean / np.maximum(expected, 1) - 1)[many]
        assert off.mean() < 0.008 and off.max() < 0.045


class TestHeatAndRest:
    def test_a_winter_as_in_expected_growth(self):
        hours, resting = winter(80, 100, 60)
        weather = forcing(hours, resting=resting)
        mean = simulate(laws(2000, **NEVER_ASLEEP), weather, rng()).mean(axis=0)
        expected = grow(laws(**NEVER_ASLEEP), weather).counts[0]
        for day in (79, 85, 95, 110, 150, 180, 200, 240):
            assert mean[day] == pytest.approx(expected[day], rel=0.07, abs=0.4), day

    def test_a_season_that_ends_by_itself_as_in_expected_growth(self):
        weather = forcing(steady(24, 120), season="endogenous", since_spring=110.0)
        mean = simulate(laws(2000), weather, rng()).mean(axis=0)
        expected = grow(laws(), weather).counts[0]
        for day in (60, 70, 80, 100, 120):
            assert mean[day] == pytest.approx(expected[day], rel=0.07, abs=0.4), day
        assert mean[120, 2] < 0.3 and mean[120, 0] < 0.3

    def test_until_the_rest_all_is_as_without_it(self):
        hours, resting = winter(80, 100, 60)
        rest, none = (
            simulate(laws(50, drift=0.5), forcing(h, resting=r), rng())[:, :81]
            for h, r in ((hours, resting), (steady(24, 100), np.zeros(100, bool)))
        )
        assert np.array_equal(rest, none)

    def test_a_hot_spell_as_in_expected_growth(self):
        weather = forcing(np.vstack([steady(25, 20), swing(37, 30, 20), steady(25, 40)]))
        paths = simulate(laws(2000), weather, rng())
        off = np.abs(grow(laws(), weather).counts[0] - paths.mean(axis=0))
        assert weather.loss.sum() > 3
        # As without heat: few ants bend the expectation by a third of a colony's scatter.
        assert np.all(off <= 0.36 * paths.std(axis=0) + 0.05)

    def test_a_loss_of_brood(self):
        calm = forcing(steady(25, 60))
        before, after = (
            simulate(laws(1500), weather, rng())[:, 40]
            for weather in (calm, calm.with_loss(40, 0.7))
        )
        share = after.mean(axis=0)[:3] / before.mean(axis=0)[:3]
        # Those who enter or leave a stage on the day itself are spared the half.
        assert share == pytest.approx(np.full(3, 0.3), abs=0.06)


class TestStanding:
    WEATHER = forcing(steady(25, 100))

    def test_the_first_entry_is_what_stands(self):
        some = laws(3)
        states = held(some, self.WEATHER, eggs=4, waiting=2, growing=1, pupae=3, workers=7)
        paths = simulate(some, self.WEATHER, rng(), start_day=40, states=states)
        assert paths.shape == (3, 61, 4)
        assert paths[:, 0].tolist() == [[4, 3, 3, 7]] * 3

    def test_given_states_are_left_alone(self):
        some = laws(3)
        states = held(some, self.WEATHER, eggs=4, workers=7)
        kept = states.copy()
        simulate(some, self.WEATHER, rng(), start_day=40, states=states)
        assert np.array_equal(states, kept)

    def test_they_go_on_from_where_they_are(self):
        some = laws(2000, **ALL_LIVE, **CHILDLESS)
        cycle = LifeCycle(some, self.WEATHER)
        states = np.zeros((2000, cycle.state.size))
        states[:, cycle.state.row(3).start + 12] = 5.0  # pupae half-way of sixteen days
        paths = simulate(some, self.WEATHER, rng(), start_day=40, states=states)
        pupae = paths[..., 2].mean(axis=0)
        # Of a step of progress half is left on average, and a day begins at its start.
        assert pupae.sum() - 0.5 * 5 == pytest.approx(5 * 8, rel=0.05)
        assert np.all(paths.sum(axis=2) == 5) and not paths[:, -1, 2].any()

    def test_expected_growth_from_there_is_their_mean(self):
        some = unlimited(3.0, 4000, life=60.0)
        states = held(some, self.WEATHER, eggs=20, growing=10, pupae=12, workers=30)
        paths = simulate(some, self.WEATHER, rng(), states=states)
        expected = grow(some.take(slice(0, 1)), self.WEATHER, start=states[0]).counts[0]
        error = paths.std(axis=0) / np.sqrt(4000)
        assert np.all(np.abs(paths.mean(axis=0) - expected) < 4.5 * error + 1e-3)

    def test_old_workers_die_sooner(self):
        some = laws(4000, life=100.0, **CHILDLESS)
        cycle = LifeCycle(some, self.WEATHER)
        alive = []
        for age in (0, cycle.state.ages - 1):
            states = np.zeros((4000, cycle.state.size))
            states[:, cycle.state.workers.start + cycle.state.ages + age] = 10.0
            alive.append(simulate(some, self.WEATHER, rng(), states=states)[:, 50, 3].mean())
        # Four steps of life, of 88.6 days in all: a day's chance to take the last is 4 / 88.6.
        assert alive[1] == pytest.approx(10 * (1 - 4 / 88.62) ** 50, rel=0.06)
        assert alive[0] > 7

    def test_drift_that_stands_is_carried_on(self):
        some = unlimited(50.0, 300, **ALL_LIVE, drift=[0.3, 0, 0])
        cycle = LifeCycle(some, self.WEATHER)
        states = np.zeros((300, cycle.state.size))
        states[:, cycle.state.drift.start] = 1.0
        laid = np.diff(simulate(some, self.WEATHER, rng(), states=states).sum(axis=2), axis=1)
        early, late = laid[:, :3].mean() / 50, laid[:, 80:].mean() / 50
        assert early > 2 and late == pytest.approx(1.0, abs=0.1)

    def test_an_empty_nest(self):
        some = laws(2)
        cycle = LifeCycle(some, self.WEATHER)
        states = np.zeros((2, cycle.state.size))
        paths = simulate(some, self.WEATHER, rng(), start_day=10, states=states)
        assert paths[:, 0].sum() == 0 and paths[:, 11, 0].sum() > 0


class TestWholeAnts:
    def test_totals_are_rounded_and_places_kept(self):
        some = laws(1)
        cycle = LifeCycle(some, forcing(steady(25, 3)))
        state = standing(cycle, eggs=7.4, waiting=2.6, pupae=0.4, workers=11.5)[None]
        state[0, 0] += 0.3
        whole = whole_ants(cycle, state)
        assert cycle.state.counts(whole)[0].tolist() == pytest.approx([8, 3, 0, 12])
        eggs = cycle.state.row(0)
        assert whole[0, eggs] / 8 == pytest.approx(state[0, eggs] / state[0, eggs].sum())
        assert whole[0, cycle.state.row(2)].sum() == 0

    def test_nothing_is_below_zero(self):
        cycle = LifeCycle(laws(1), forcing(steady(25, 3)))
        state = standing(cycle, eggs=5, growing=-3, waiting=-2)[None]
        state[0, 3] = -1.0
        whole = whole_ants(cycle, state)
        assert whole[0, : cycle.state.waiting.stop].min() == 0
        assert whole[0, cycle.state.row(0)].sum() == pytest.approx(round(state[0, :24].sum()))

    def test_drift_is_left(self):
        cycle = LifeCycle(laws(1), forcing(steady(25, 3)))
        state = np.zeros((1, cycle.state.size))
        state[0, cycle.state.drift] = [-0.4, 0.2, 0.7]
        assert whole_ants(cycle, state)[0, cycle.state.drift].tolist() == [-0.4, 0.2, 0.7]


def test_first_workers_are_those_of_a_nest_without_any():
    # First workers live three days: where a worker is there already, nobody is of that kind.
    some = laws(500, first_life=0.01, life=1e3, survival=[1, 1, 1])
    weather = forcing(steady(25, 52))
    alone, helped = (
        simulate(some, weather, rng(), states=held(some, weather, workers=number))[:, -1, 3]
        for number in (0, 1)
    )
    assert helped.mean() > 12 and alone.mean() < 0.6 * helped.mean()
