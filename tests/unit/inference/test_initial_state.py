"""What stands in the nest after the last note: numbers from the notes, ages from growth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_ants import steady, swing
from invented_species import garden_ant

from antgrowth.inference.brood_loss import MixtureComponent
from antgrowth.inference.initial_state import SHIFT_GRAIN_C, InitialState, without_debts
from antgrowth.inference.laplace import Estimate, Model, estimate
from antgrowth.inference.likelihood import Observations
from antgrowth.inference.prior import Prior, forcing_of
from antgrowth.inference.smoothing import condition_on, smooth, stage_cells
from antgrowth.model.covariance import Cells
from antgrowth.model.growth_law import BINS, EGG, LARVA, PUPA_FIRST, PUPA_LATER
from antgrowth.model.life_cycle import State
from antgrowth.model.simulation import simulate

PRIOR = Prior.of(garden_ant())
LAYOUT = State.of(PRIOR.laws(np.zeros((1, len(PRIOR)))))
DRAWS = 800


def noted(*notes: tuple[int, int, float, float]) -> Observations:
    """Cells of (evening, stage, low, high)."""
    days, stages, low, high = zip(*notes, strict=True)
    cells = Cells(np.array(days), np.eye(5)[list(stages)])
    return Observations(cells, np.array(low, float), np.array(high, float), np.ones(len(days)))


def found(observations: Observations, hours: np.ndarray, last: int) -> tuple[Model, Estimate]:
    forcing = forcing_of(PRIOR.species, hours[:last], np.zeros(last, bool))
    model = Model(PRIOR, forcing, observations)
    return model, estimate(model)


def stand_after(observations: Observations, hours: np.ndarray, last: int) -> InitialState:
    model, best = found(observations, hours, last)
    return InitialState.of(model, best, best.draw(DRAWS, np.random.default_rng(1)))


def states_of(now: InitialState, seed: int = 1) -> np.ndarray:
    return now.states(np.random.default_rng(seed))


HOURS = swing(28, 20, 140)
LAST = 80
NOTES = noted(
    (20, 0, 60, 60), (35, 0, 45, 45), (35, 1, 14, 14), (50, 2, 13, 13), (60, 3, 0, 0),
    (66, 3, 1, np.inf), (80, 0, 40, 40), (80, 1, 11, 11), (80, 2, 6, 6), (80, 3, 9, 9),
)  # fmt: skip


@pytest.fixture(scope="module")
def now() -> InitialState:
    return stand_after(NOTES, HOURS, LAST)


class TestNumbers:
    def test_they_follow_the_notes_of_the_last_evening(self, now):
        held = LAYOUT.counts(states_of(now))
        # Noted 40, 11, 6, 9; one in twelve eggs and larvae is overlooked.
        assert held.mean(axis=0) == pytest.approx([43.5, 12, 6, 9.1], abs=1.5)
        assert np.all(held.std(axis=0) < [9, 3, 2, 2]) and np.all(held.std(axis=0) > 0.2)

    def test_whole_and_never_negative(self, now):
        states = states_of(now)
        assert states[:, : LAYOUT.drift.start].min() >= 0
        counts = LAYOUT.counts(states)
        assert counts == pytest.approx(np.rint(counts), abs=1e-6)

    def test_without_notes_of_the_day_they_scatter_as_growth_does(self):
        held = LAYOUT.counts(states_of(stand_after(noted((20, 0, 60, 60)), HOURS, LAST)))
        assert held[:, 3].std() > 2.0
        assert held[:, 0].mean() > 0

    def test_nothing_can_be_below_zero_where_none_were_seen(self):
        now = stand_after(noted((20, 0, 0, 0), (40, 0, 0, 0)), HOURS, 40)
        held = LAYOUT.counts(states_of(now))
        assert held.min() == 0 and np.median(held[:, 0]) <= 1

    def test_spread_takes_the_same_draws_again(self, now):
        more = now.spread(2 * DRAWS + 3)
        assert len(more.laws) == len(more.mean) == 2 * DRAWS + 3
        assert np.array_equal(more.mean[DRAWS : 2 * DRAWS], now.mean)
        assert np.array_equal(more.laws.days[-3:], now.laws.days[:3])


class TestAgainstSmoothing:
    """The last evening is worked out twice: with all ages, and by the totals of stages alone."""

    @pytest.mark.parametrize(
        "notes", [NOTES, noted((20, 0, 60, 60), (50, 1, 9, np.inf), (66, 3, 1, np.inf))]
    )
    def test_mean_and_spread_are_those_of_the_totals(self, notes):
        model, best = found(notes, HOURS, LAST)
        x = best.draw(20, np.random.default_rng(2))
        x = model.prior.with_round_shifts(x, SHIFT_GRAIN_C)
        now = InitialState.of(model, best, x)
        growth = model.grow(x, LAST)
        mean, cov = condition_on(model, best, x, growth, stage_cells(np.array([LAST])))
        assert now.counts == pytest.approx(mean, abs=1e-6)
        rows = LAYOUT.stages[:4]
        chance = rows @ now.root @ now.root.T @ rows.T
        assert chance == pytest.approx(cov, abs=1e-4 * np.diag(cov).max())

    def test_whole_ants_have_the_same_totals_as_the_smoothed_past_ends_with(self, now):
        model, best = found(NOTES, HOURS, LAST)
        component = MixtureComponent(1.0, None, model, best)
        past = smooth([component], np.array([LAST]), DRAWS, 4, np.random.default_rng(3))[:, 0]
        counts = np.concatenate([LAYOUT.counts(states_of(now, seed)) for seed in range(4)])
        error = np.hypot(past.std(axis=0), counts.std(axis=0)) / np.sqrt(DRAWS)
        assert np.abs(counts.mean(axis=0) - past.mean(axis=0)) == pytest.approx(
            np.zeros(4), abs=4 * error.max()
        )
        # Rounding to whole ants adds a twelfth to the variance.
        assert counts.std(axis=0) == pytest.approx(np.sqrt(past.var(axis=0) + 1 / 12), rel=0.1)


class TestAges:
    def test_brood_that_hatched_lately_is_young(self):
        # The first larvae were seen three days ago: none of them can be about to pupate.
        notes = noted((20, 0, 60, 60), (24, 1, 0, 0), (27, 1, 8, 8))
        states = states_of(stand_after(notes, steady(25, 60), 27))
        larvae = states[:, LAYOUT.row(LARVA)].reshape(DRAWS, BINS).mean(axis=0)
        assert larvae[: BINS // 2].sum() > 5 * larvae[BINS // 2 :].sum()

    def test_pupae_before_any_worker_are_first_workers(self):
        notes = noted((20, 0, 60, 60), (38, 2, 12, 12), (38, 3, 0, 0))
        states = states_of(stand_after(notes, steady(25, 60), 38))
        first, later = (states[:, LAYOUT.row(r)].sum() for r in (PUPA_FIRST, PUPA_LATER))
        assert first > 50 * later

    def test_what_the_nest_did_more_than_usual_is_remembered(self):
        # Twice the eggs that a queen lays: of luck and of her, and luck lasts for a while.
        many, usual = (
            stand_after(noted((8, 0, n, n), (12, 0, 2 * n, 2 * n)), steady(25, 60), 12).mean
            for n in (30, 12)
        )
        drift = slice(LAYOUT.drift.start, LAYOUT.drift.start + 1)
        assert many[:, drift].mean() > usual[:, drift].mean() + 0.1


class TestDebts:
    PAIRS = {
        "larvae": (LAYOUT.row(LARVA), LAYOUT.waiting),
        "pupae": (LAYOUT.row(PUPA_FIRST), LAYOUT.row(PUPA_LATER)),
        "workers": (
            slice(LAYOUT.workers.start, LAYOUT.workers.start + LAYOUT.ages),
            slice(LAYOUT.workers.start + LAYOUT.ages, LAYOUT.workers.stop),
        ),
    }

    @pytest.mark.parametrize("stage", PAIRS)
    @pytest.mark.parametrize(
        ("drawn", "paid"),
        [((5, 3), (5, 3)), ((9, -2), (7, 0)), ((-2, 9), (0, 7)), ((2, -9), (0, 0)),
         ((-2, -1), (0, 0)), ((0, 4), (0, 4)), ((11.4, 0.4), (11, 1)), ((0.3, 0.3), (0, 1)),
         ((0.2, 0.2), (0, 0)), ((3.6, -0.3), (3, 0))],
    )  # fmt: skip
    def test_what_one_group_lacks_the_other_gives(self, stage, drawn, paid):
        states = np.zeros((1, LAYOUT.size))
        for places, number in zip(self.PAIRS[stage], drawn, strict=True):
            states[0, places] = number / len(range(*places.indices(LAYOUT.size)))
        before = states.copy()
        after = without_debts(LAYOUT, states)
        assert np.array_equal(states, before)
        sums = [after[0, places].sum() for places in self.PAIRS[stage]]
        assert sums == pytest.approx(paid)
        others = np.ones(LAYOUT.size, bool)
        for places in self.PAIRS[stage]:
            others[places] = False
        assert not after[0, others].any()

    def test_ages_within_a_group_stay_as_they_are(self, now):
        states = np.abs(now.mean[:5])
        after = without_debts(LAYOUT, states)
        places = LAYOUT.row(LARVA)
        before, then = states[:, places], after[:, places]
        assert then / then.sum(axis=1, keepdims=True) == pytest.approx(
            before / before.sum(axis=1, keepdims=True)
        )
        assert np.array_equal(after[:, LAYOUT.row(EGG)], states[:, LAYOUT.row(EGG)])


class TestChance:
    def test_centre_and_scatter_stay_while_numbers_are_drawn_anew(self, now):
        numbers = [LAYOUT.counts(states_of(now, seed)) for seed in range(30)]
        rows = LAYOUT.stages[:4]
        sd = np.sqrt(np.diag(rows @ now.root @ now.root.T @ rows.T))
        # Rounding to whole ants adds a twelfth to the variance.
        whole = np.sqrt(sd**2 + 1 / 12)
        assert np.std(numbers, axis=0).mean(axis=0) == pytest.approx(whole, rel=0.1)
        # Of 3200 means of thirty, hardly one strays by more than 4.5 standard errors.
        away = np.abs(np.mean(numbers, axis=0) - now.counts)
        assert (away < 4.5 * whole / np.sqrt(30)).all()
        shift = now.laws.shift_c / SHIFT_GRAIN_C
        assert shift == pytest.approx(np.rint(shift), abs=1e-6)

    def test_the_same_chance_gives_the_same_nest(self, now):
        assert np.array_equal(states_of(now, 5), states_of(now, 5))
        assert not np.array_equal(states_of(now, 5), states_of(now, 6))


class TestGrowingOn:
    FORCING = forcing_of(PRIOR.species, HOURS, np.zeros(len(HOURS), bool))

    def test_a_forecast_goes_on_without_a_jump(self, now):
        states = states_of(now)
        rng = np.random.default_rng(2)
        paths = simulate(now.laws, self.FORCING, rng, start_day=LAST, states=states)
        assert paths[:, 0] == pytest.approx(LAYOUT.counts(states))
        assert paths.min() >= 0
        daily = np.diff(paths.mean(axis=0)[:4], axis=0)
        # The nest may be on its way somewhere, but the first day is like those after it.
        assert np.abs(daily[0] - daily[1:].mean(axis=0)).max() < 2.0

    def test_brood_that_came_far_too_early_does_not_stay_for_ever(self):
        # Nine pupae when hardly one was to be expected.
        last = 24
        now = stand_after(noted((last, 2, 9, 9)), steady(25, 240), last)
        states = states_of(now)
        assert np.median(LAYOUT.counts(states)[:, 2]) >= 3
        forcing = forcing_of(PRIOR.species, steady(25, 240), np.zeros(240, bool))
        childless = replace(forcing, laying=0 * forcing.laying)
        rng = np.random.default_rng(3)
        paths = simulate(now.laws, childless, rng, start_day=last, states=states)
        assert paths.min() >= 0 and np.all(np.diff(paths.sum(axis=2), axis=1) <= 0)
        assert not paths[:, -1, :3].any() and paths[:, -1, 3].mean() > 5
