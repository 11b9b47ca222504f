"""A day of the life cycle: steps of progress, gates of the season, controls, and who moves on."""

from __future__ import annotations

import numpy as np
import one_day
import pytest
from invented_ants import NEVER_ASLEEP, forcing, laws, standing, steady, unlimited, winter

from antgrowth.model.growth_law import (
    BINS,
    EGG,
    LARVA,
    PUPA_FIRST,
    PUPA_LATER,
    SCARCE_EGGS,
    Workspace,
    moves_of,
    settle,
)
from antgrowth.model.life_cycle import LifeCycle, State, larval_progress
from antgrowth.model.parameters import Transfer


def cycle_at(temperature_c: float = 25.0, **changes: object) -> LifeCycle:
    return LifeCycle(laws(**changes), forcing(steady(temperature_c, 3)))


def controls_of(cycle: LifeCycle, day: int = 0, whole: bool = False, **numbers: float):
    state = standing(cycle, **numbers)[None]
    state[:, cycle.state.drift] = 0.5 * cycle.laws.drift**2
    signals = one_day.signals(cycle, day, state, whole)
    return one_day.controls(cycle, day, signals, whole)


class TestState:
    def test_every_part_is_counted_once_or_is_drift(self):
        layout = State(5)
        counted = layout.stages.sum(axis=0)
        assert counted[layout.drift].tolist() == [0, 0, 0]
        assert np.delete(counted, range(*layout.drift.indices(layout.size))).tolist() == [1.0] * (
            layout.size - 3
        )

    def test_counts(self):
        cycle = cycle_at()
        state = standing(
            cycle, eggs=8, waiting=3, growing=4, first_pupae=1, pupae=2, first_workers=5, workers=6
        )[None]
        assert cycle.state.counts(state)[0] == pytest.approx([8, 7, 3, 11])
        assert [float(part[0]) for part in cycle.state.totals(state)] == pytest.approx(
            [8, 3, 4, 3, 11]
        )
        assert state @ cycle.state.stages[:4].T == pytest.approx(cycle.state.counts(state))

    @pytest.mark.parametrize(("shape", "steps"), [(1.0, 1), (2.0, 4), (4.0, 13)])
    def test_steps_of_life_scatter_like_a_weibull_life(self, shape, steps):
        # The squared cv of a Weibull life is g(1 + 2/k) / g(1 + 1/k)^2 - 1: 1, 0.273 and 0.0787.
        assert State.of(laws(life_shape=shape)).ages == steps


def moved(mean: float, cv: float) -> Workspace:
    """Moves of larvae who take so many steps a day on average."""
    work = Workspace.empty()
    work.progress[LARVA] = mean / BINS
    moves_of(LARVA, mean / BINS, cv, work)
    return work


def entered(work: Workspace) -> np.ndarray:
    """Where larvae stand in the evening who entered in the course of the day, shape (BINS,)."""
    state = np.zeros(State(1).size)
    settle(state, LARVA, LARVA, 1.0, work)
    return state[LARVA * BINS : (LARVA + 1) * BINS]


class TestMoves:
    @pytest.mark.parametrize("cv", [0.0, 0.05, 0.12, 0.3, 0.5])
    @pytest.mark.parametrize("mean", [0.05, 0.3, 0.96, 1.85, 3.2, 7.0])
    def test_mean_and_spread(self, mean, cv):
        work = moved(mean, cv)
        chance, far = work.step[LARVA], np.arange(BINS + 2)
        assert chance.min() >= 0 and chance.sum() == pytest.approx(1.0)
        assert not chance[work.moves[LARVA] :].any()
        assert chance @ far == pytest.approx(mean, rel=1e-9)
        variance = chance @ far**2 - mean**2
        # Whole steps scatter by p (1 - p) whatever is asked; that is between 0 and a quarter.
        asked = cv**2 * BINS * mean
        assert abs(variance - max(asked, 1 / 6)) <= 1 / 6 + 1e-9
        beyond = [chance[k + 1 :].sum() for k in range(BINS + 2)]
        assert work.beyond[LARVA] == pytest.approx(np.array(beyond), abs=1e-12)

    def test_nobody_moves_where_nothing_does(self):
        work = moved(0.0, 0.0)
        assert work.step[LARVA, :2].tolist() == [1.0, 0.0] and work.moves[LARVA] == 2
        assert entered(work).tolist() == [1.0] + [0.0] * (BINS - 1)

    def test_a_little_more_changes_little(self):
        chance = np.array([moved(mean, 0.3).step[LARVA] for mean in np.linspace(0.01, 4, 4000)])
        assert np.abs(np.diff(chance, axis=0)).max() < 0.02

    def test_who_entered_stands_anywhere_up_to_a_days_way(self):
        assert entered(moved(6.0, 0.0))[:7] == pytest.approx([1 / 6] * 6 + [0.0])

    def test_more_than_a_stage_in_a_day_counts_as_its_end(self):
        work = moved(40.0, 0.0)
        assert work.step[LARVA, BINS] == 1.0 and work.moves[LARVA] == BINS + 1
        found = entered(work)
        assert found.sum() == pytest.approx(1.0)
        assert found[-1] == pytest.approx(17 / 40)

    @pytest.mark.parametrize("mean", [22.5, 23.5, 24.0, 60.0, 1e300])
    def test_however_quick_nobody_is_lost(self, mean):
        work = moved(mean, 0.3)
        assert work.step[LARVA].sum() == pytest.approx(1.0) and work.moves[LARVA] <= BINS + 1
        assert entered(work).sum() == pytest.approx(1.0)


class TestGates:
    WINTER = winter(40, 60, 60)

    def cycle(self, season: str, since_spring: float = 150.0, **changes: object) -> LifeCycle:
        hours, resting = self.WINTER
        found = forcing(hours, resting=resting, season=season, since_spring=since_spring)
        return LifeCycle(laws(**changes), found)

    def test_the_colonys_own_season_ends_whatever_the_warmth(self):
        gate = self.cycle("endogenous").rearing[0]
        # Noon of day d is d + 150.5 days after spring, and the season of 180 days ends in a few.
        assert gate[20] > 0.99 and gate[38] < 0.01
        assert gate[29:31].mean() == pytest.approx(0.5)
        assert np.all(np.diff(gate[:40]) < 0)

    def test_rearing_and_laying_begin_again_at_their_own_time(self):
        cycle = self.cycle("endogenous")
        # The last of 60 days of rest is day 99; larvae wake 10 days later, the queen 25.
        assert cycle.rearing[0, [99, 125]] == pytest.approx([0, 1], abs=0.01)
        assert cycle.rearing[0, 109:111].mean() == pytest.approx(0.5, abs=0.01)
        assert cycle.laying[0, 124:126].mean() == pytest.approx(
            0.5 * cycle.laying[0, 159], rel=0.01
        )
        assert cycle.laying[0, 110] < 0.01 * cycle.laying[0, 159]

    def test_in_a_rest_nobody_lays_rears_or_eats(self):
        cycle = self.cycle("none", **NEVER_ASLEEP)
        for gate in (cycle.rearing, cycle.laying, cycle.hunger):
            assert not gate[0, 40:100].any() and gate[0, 6:40].min() > 0
        assert np.all(cycle.rearing[0, 100:] == 1)

    def test_the_cool_ends_the_other_kind_of_season(self):
        hours = np.vstack([steady(24, 30), steady(13, 40), steady(24, 30)])
        found = forcing(hours, season="exogenous", since_spring=120.0)
        gate = LifeCycle(laws(season_end=-15.0), found).rearing[0]
        # Ten days' mean falls by 1.1 °C a day; below 15 °C after nine cool days.
        assert gate[[29, 37, 50]] == pytest.approx([1, 0.45, 0], abs=0.25)
        assert gate[29] > 0.99 and gate[38] < 0.5 < gate[36]
        assert np.all(gate[50:] == gate[50])  # warm days in autumn begin no season

    def test_earlier_days_than_those_asked_for_are_left_out(self):
        hours, resting = self.WINTER
        weather = forcing(hours, resting=resting, season="endogenous", since_spring=150.0)
        whole, late = LifeCycle(laws(), weather), LifeCycle(laws(), weather, since=70)
        for gate in ("rearing", "laying", "hunger"):
            assert np.array_equal(getattr(late, gate)[:, 70:], getattr(whole, gate)[:, 70:])
        assert np.isnan(late.rearing[:, :70]).all()
        passed = larval_progress(laws(), weather)
        assert np.array_equal(larval_progress(laws(), weather, 70), passed[:, 70:])

    def test_fasting(self):
        cycle = self.cycle("endogenous", fasting=0.8)
        out, within = cycle.hunger[0, 39], cycle.hunger[0, 10]
        fed = [1 - 0.8 * (1 - cycle.rearing[0, day]) for day in (39, 10)]
        assert out / within == pytest.approx(fed[0] / fed[1])
        assert out == pytest.approx(0.2 * within, rel=0.01)

    def test_laying_starts_with_the_part_of_its_first_day_that_is_left(self):
        cycle = LifeCycle(laws(2, delay=[0.0, 2.25]), forcing(steady(25, 5)))
        assert cycle.laying == pytest.approx(np.array([[1, 1, 1, 1, 1], [0, 0, 0.75, 1, 1]]))

    def test_larval_progress(self):
        cycle = self.cycle("endogenous")
        found = larval_progress(cycle.laws, cycle.forcing)
        assert found[0, 0] == pytest.approx(
            cycle.rearing[0, 0] * cycle.forcing.days_passed(1)[1] / 9.0
        )
        assert not found[0, 40:100].any()


class TestControls:
    def test_laying_whatever_brood_lies_there(self):
        cycle = cycle_at(delay=0.0)
        assert controls_of(cycle).eggs[0] == pytest.approx(80 * (1 - np.exp(-3 / 80)))
        full = controls_of(cycle, eggs=500, waiting=99, growing=50, pupae=99)
        assert full.eggs[0] == controls_of(cycle).eggs[0]
        assert controls_of(cycle, workers=40).eggs[0] == pytest.approx(80 * (1 - np.exp(-13 / 80)))

    def test_laying_rises_by_the_worker_far_below_the_top_and_never_above_it(self):
        # 80 (1 - exp(-(3 + W / 4) / 80)); with a top that is far off, 3 + W / 4
        laid = controls_of(cycle_at(delay=0.0), workers=100).eggs[0]
        assert laid == pytest.approx(80 * (1 - np.exp(-28 / 80)))
        laid = controls_of(cycle_at(delay=0.0, top_rate=1e9), workers=8).eggs[0]
        assert laid == pytest.approx(3 + 0.25 * 8)
        assert 79.9 < controls_of(cycle_at(delay=0.0), workers=5000).eggs[0] <= 80.0

    def test_nothing_is_eaten_without_larvae(self):
        assert controls_of(cycle_at(), eggs=30).uneaten[0] == 1.0

    def test_few_larvae_eat_as_much_as_the_law_says(self):
        # e L E / (E + 30) eggs a day: a twentieth of a larva of each kind, 30 eggs.
        cycle = cycle_at(days=[1e6, 9, 9])
        found = controls_of(cycle, eggs=30, waiting=0.05, growing=0.05).uneaten[0]
        assert 30 * (1 - found) == pytest.approx(0.5 * 0.1 * 0.5, rel=1e-2)
        assert SCARCE_EGGS == 30.0

    def test_many_larvae_as_the_same_law_by_the_hour(self):
        # dE/dt = -e L E / (E + 30), in a thousand steps.
        left = 40.0
        for _ in range(1000):
            left -= 0.5 * 60 * left / (left + 30) / 1000
        found = controls_of(cycle_at(days=[1e6, 9, 9]), eggs=40, waiting=40, growing=20).uneaten[0]
        assert 40 * found == pytest.approx(left, rel=0.01)

    def test_eggs_that_are_laid_or_hatch_meanwhile_count_half(self):
        # As many eggs are laid as are eaten and hatch: all day there are as many as in the morning.
        cycle = cycle_at(delay=0.0, founding_rate=1e9, top_rate=5.0)
        state = standing(cycle, eggs=26, waiting=4)[None]
        ripe = one_day.signals(cycle, 0, state)[0, 5]
        eaten = (5.0 - ripe) / 26  # the hazard that leaves the number of eggs as it is
        larvae = eaten * (26 + 30) / 0.5
        state[0, cycle.state.waiting] = larvae
        found = -np.log(one_day.controls(cycle, 0, one_day.signals(cycle, 0, state)).uneaten[0])
        assert ripe > 2 and found == pytest.approx(eaten, rel=5e-3)

    def test_cool_larvae_eat_less(self):
        warm, cool = (
            -np.log(
                controls_of(cycle_at(temperature_c=t, days=[1e6, 9, 9]), eggs=1e4, waiting=5)[1]
            )
            for t in (25, 15)
        )
        rate = float(np.diff(forcing(steady(15, 1)).days_passed(1))[0])
        assert cool == pytest.approx(rate * warm, rel=1e-3)

    def test_places_are_taken_by_growing_larvae_and_pupae(self):
        cycle = cycle_at()
        # Of 14 places, 5 are taken by larvae and 0.7 by each of four pupae: 6.2 are left, and
        # they are asked for by so many that all are given.
        found = controls_of(cycle, waiting=500, growing=5, pupae=3, first_pupae=1)
        assert 500 * found.placed[0] == pytest.approx(14 - 5 - 0.7 * 4, rel=0.01)

    def test_where_there_are_plenty_everyone_gets_one(self):
        assert controls_of(cycle_at(), waiting=2).placed[0] > 0.99
        assert controls_of(cycle_at(places_alone=1e9), waiting=2).placed[0] == 1.0

    @pytest.mark.parametrize("over", [0.0, 5.0, 500.0])
    def test_where_there_is_none_nobody_does(self, over):
        found = controls_of(cycle_at(), waiting=50, growing=14 + over).placed[0]
        assert 0 <= 50 * found < 0.36  # the limit is kept give or take a half

    def test_places_grow_with_workers(self):
        found = controls_of(cycle_at(), waiting=1e4, workers=30).placed[0] * 1e4
        assert found == pytest.approx(14 + 2 * (31**0.9 - 1), rel=0.01)

    def test_eggs_about_to_hatch_ask_as_well(self):
        cycle = cycle_at()
        few = controls_of(cycle, waiting=10, growing=8).placed[0]
        more = controls_of(cycle, eggs=400, waiting=10, growing=8).placed[0]
        # Of eggs of 13 days at even ages 400 / 13 hatch, a little more of the quick first ones.
        asking = 10 + 400 / 13 / 0.92
        assert more == pytest.approx(1 - np.exp(-6 / asking), rel=0.02) and more < few / 2

    @pytest.mark.parametrize(("workers", "expected"), [(0, 1.0), (0.7, np.exp(-0.7)), (9, 1e-4)])
    def test_first_workers_are_those_reared_without_any(self, workers, expected):
        found = controls_of(cycle_at(), workers=workers).first[0]
        assert found == pytest.approx(expected, rel=1e-6, abs=1e-4 if workers == 9 else 0)

    def test_of_whole_ants_there_is_one_or_none(self):
        cycle = cycle_at()
        assert controls_of(cycle, whole=True).first[0] == 1.0
        assert controls_of(cycle, whole=True, workers=1).first[0] == 0.0

    def test_drift_multiplies_laying_places_and_eating(self):
        cycle = cycle_at(drift=[0.3, 0.4, 0.5], delay=0.0)
        state = standing(cycle, eggs=50, waiting=200, growing=2, workers=3)[None]
        usual = np.array([[0.5 * sd**2 for sd in (0.3, 0.4, 0.5)]])
        found = []
        for strays in (np.zeros(3), np.log([1.5, 0.5, 0.2])):
            state[:, cycle.state.drift] = usual + strays
            found.append(one_day.controls(cycle, 0, one_day.signals(cycle, 0, state)))
        calm, lively = found
        assert lively.eggs[0] == pytest.approx(1.5 * calm.eggs[0])
        limit = float(cycle.laws.places(np.array([3.0]))[0])
        asking = 200 + float(one_day.signals(cycle, 0, state)[0, 5])
        given = [-np.log1p(-c.placed[0]) * asking for c in found]
        assert given == pytest.approx([limit - 2, 0.5 * limit - 2], rel=1e-3)
        assert np.log(lively.uneaten[0]) == pytest.approx(0.2 * np.log(calm.uneaten[0]), rel=0.25)


class TestTransition:
    def test_linear_given_the_controls(self):
        cycle = cycle_at(drift=0.3)
        rng = np.random.default_rng(1)
        one, other = rng.random((2, 1, cycle.state.size)) * 5
        controls = controls_of(cycle, eggs=20, waiting=4, workers=1)._replace(eggs=np.zeros(1))
        both = one_day.transition(cycle, 0, 2 * one + other, controls)
        parts = 2 * one_day.transition(cycle, 0, one, controls) + one_day.transition(
            cycle, 0, other, controls
        )
        assert both == pytest.approx(parts)

    def test_where_all_live_everybody_is_somewhere(self):
        cycle = LifeCycle(laws(survival=[1, 1, 1]), forcing(steady(25, 2)))
        state = standing(
            cycle, eggs=8, waiting=3, growing=4, first_pupae=1, pupae=2, first_workers=5, workers=6
        )[None]
        controls = one_day.controls(cycle, 0, one_day.signals(cycle, 0, state))
        then = one_day.transition(cycle, 0, state, controls._replace(uneaten=np.ones(1)))
        everybody = cycle.state.stages.sum(axis=0)
        assert then @ everybody == pytest.approx(state @ everybody + controls.eggs)
        assert then[0, cycle.state.died.start] > 0 and then.min() >= 0

    def test_a_day_kills_by_the_progress_made(self):
        cycle = cycle_at(first_development=1.0)
        state = np.zeros((1, cycle.state.size))
        state[0, [0, BINS, 3 * BINS]] = 1.0  # young: nobody moves on
        controls = controls_of(cycle)._replace(eggs=np.zeros(1), placed=np.zeros(1))
        then = one_day.transition(cycle, 0, state, controls)
        rows = then[0, cycle.state.brood].reshape(4, BINS).sum(axis=1)
        expected = [0.9 ** (1 / 13), 0.6 ** (1 / 9), 0, 0.95 ** (1 / 16)]
        assert rows == pytest.approx(expected)

    def test_first_brood_is_quicker_and_dies_no_less_for_it(self):
        cycle = cycle_at(first_development=0.8)
        state = np.zeros((2, cycle.state.size))
        state[0, PUPA_FIRST * BINS] = state[1, PUPA_LATER * BINS] = 1.0
        controls = controls_of(cycle)._replace(eggs=np.zeros(1), placed=np.zeros(1))
        then = one_day.transition(
            cycle, 0, state, type(controls)(*(np.repeat(c, 2) for c in controls))
        )
        alive = then[:, cycle.state.brood].sum(axis=1)
        assert alive == pytest.approx([0.95 ** (1 / 16 / 0.8), 0.95 ** (1 / 16)])
        place = then[:, cycle.state.brood].reshape(2, 4, BINS)[[0, 1], [2, 3]] @ np.arange(BINS)
        assert place[0] / alive[0] == pytest.approx(place[1] / alive[1] / 0.8)

    def test_who_enters_or_leaves_faces_half_a_day(self):
        cycle = cycle_at(survival=[0.01, 1, 1], first_development=1.0, delay=0.0)
        state = np.zeros((1, cycle.state.size))
        state[0, BINS - 1] = 1.0  # an egg in its last step, which hatches today for certain
        controls = controls_of(cycle)._replace(placed=np.zeros(1), uneaten=np.full(1, 0.5))
        then = one_day.transition(cycle, 0, state, controls)
        day = 0.5 * 0.01 ** (1 / 13)
        ready = float(one_day.signals(cycle, 0, state)[0, 5])
        stayed = (1 - ready) * day
        assert then[0, cycle.state.waiting.start] == pytest.approx(ready * day**0.5)
        assert then[0, cycle.state.row(EGG)].sum() == pytest.approx(
            stayed + controls.eggs[0] * day**0.5
        )

    def test_draws_go_their_own_way(self):
        some = laws(3, days=[[9, 9, 9], [13, 14, 16], [20, 20, 20]], shift_c=[1.0, 0.0, -1.0])
        cycle = LifeCycle(some, forcing(steady(21, 4)))
        state = np.tile(standing(cycle, eggs=9, growing=5, pupae=5, workers=3), (3, 1))
        controls = one_day.controls(cycle, 2, one_day.signals(cycle, 2, state))
        together = one_day.transition(cycle, 2, state, controls)
        for draw in range(3):
            alone = LifeCycle(some.take(slice(draw, draw + 1)), cycle.forcing)
            mine = type(controls)(*(part[[draw]] for part in controls))
            assert one_day.transition(alone, 2, state[[draw]], mine)[0] == pytest.approx(
                together[draw]
            )


class TestCarried:
    @pytest.mark.parametrize("stage", range(4))
    def test_in_and_out(self, stage):
        cycle = cycle_at()
        state = standing(
            cycle, eggs=8, waiting=3, growing=4, first_pupae=1, pupae=2, first_workers=5, workers=6
        )[None]
        before = cycle.state.counts(state)[0]
        for number in (5.0, -2.0, -99.0):
            then = cycle.carried(state.copy(), Transfer(1, stage, number))
            after = cycle.state.counts(then)[0]
            expected = max(before[stage] + number, 0.0)
            assert after[stage] == pytest.approx(expected, abs=1e-9) and then.min() >= 0
            assert np.delete(after, stage) == pytest.approx(np.delete(before, stage))

    def test_taken_from_all_alike(self):
        cycle = cycle_at()
        state = standing(cycle, waiting=3, growing=9)[None]
        then = cycle.carried(state.copy(), Transfer(1, 1, -4.0))
        assert then[0, cycle.state.waiting.start] == pytest.approx(2)
        assert then[0, cycle.state.row(LARVA)] == pytest.approx(np.full(BINS, 6 / BINS))

    def test_who_comes_is_grown_up_to_half_and_of_later_workers(self):
        cycle = cycle_at()
        empty = np.zeros((1, cycle.state.size))
        pupae = cycle.carried(empty.copy(), Transfer(1, 2, 24.0))
        assert pupae[0, cycle.state.row(PUPA_LATER)] == pytest.approx(np.ones(BINS))
        workers = cycle.carried(empty.copy(), Transfer(1, 3, 6.0))[0, cycle.state.workers]
        assert workers.reshape(2, -1) == pytest.approx(np.array([[0] * 4, [3, 3, 0, 0]]))

    def test_on_their_day_only(self):
        days = forcing(steady(25, 9), transfers=(Transfer(3, 0, 1.0), Transfer(3, 1, 2.0)))
        cycle = LifeCycle(laws(), days)
        assert [len(cycle.transfers(day)) for day in range(5)] == [0, 0, 2, 0, 0]


def test_rates_do_not_hang_on_the_days_asked_for_before():
    many = unlimited(3.0, 3000, shift_c=0.5)
    weather = forcing(np.vstack([steady(t, 1) for t in (15, 25, 20, 30, 18, 22)]))
    one = LifeCycle(many.take(slice(0, 1)), weather)
    several = LifeCycle(many, weather)
    for day in (5, 0, 3):
        state = np.tile(standing(one, eggs=5, growing=4), (3000, 1))
        assert one_day.signals(several, day, state)[7] == pytest.approx(
            one_day.signals(one, day, state[:1])[0]
        )
