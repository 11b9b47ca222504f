"""A colony that came part-grown: it begins with what was noted, and the rest is as usual."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from invented_species import garden_ant

import antgrowth as ag
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.prior import Prior
from antgrowth.inference.starting_state import COUNT_SPREAD, _cov_of, starting_state, states_of
from antgrowth.model.covariance import Start
from antgrowth.model.growth_law import BINS, EGG, LARVA, PUPA_FIRST
from antgrowth.model.life_cycle import State

ANT = garden_ant()
PRIOR = Prior.of(ANT, founded=False)
LAWS = PRIOR.laws(np.zeros((1, len(PRIOR))))
LAYOUT = State.of(LAWS)
N = np.nan
SUMMER, WINTER = "2026-07-01", "2026-12-10"


def history(
    day: str = SUMMER, plan: ag.Temperature | float = 25.0, *rows: tuple[str, str, str]
) -> ColonyHistory:
    plan = ag.constant(plan) if isinstance(plan, float) else plan
    table = pd.DataFrame(list(rows), columns=["date", "stage", "change"])
    changes = ag.read_changes(table, today="2027-07-01") if rows else None
    return ColonyHistory(ANT, plan, pd.Timestamp(day), False, changes, 1)


def start(*held: float, **where) -> Start:
    return starting_state(history(**where), np.array(held, float), PRIOR)


def counts(state: Start) -> np.ndarray:
    return LAYOUT.counts(state.state[None])[0]


def sds(state: Start) -> np.ndarray:
    """Standard deviation of eggs, larvae, pupae and workers."""
    rows = LAYOUT.stages[:4]
    return np.sqrt(np.diag(rows @ state.covariance @ rows.T))


class TestNumbers:
    @pytest.mark.parametrize(
        "held", [(40, 20, 15, 12), (3, 60, 2, 150), (0, 9, 0, 4), (0, 0, 0, 30), (500, 1, 80, 5)]
    )
    def test_stages_that_were_noted_are_as_noted(self, held):
        assert counts(start(*held, N)) == pytest.approx(held, abs=1e-9)

    @pytest.mark.parametrize("workers", [5, 12, 60, 400])
    def test_others_are_those_of_a_colony_of_that_size(self, workers):
        eggs, larvae, pupae, there = counts(start(N, N, N, workers, N))
        assert there == pytest.approx(workers)
        assert eggs > 0 and larvae > 0
        # Places for rearing are nearly all taken: 17.7 and those of the workers (the profile).
        places = LAWS.places(np.array([[float(workers)]]))[0, 0]
        assert 0.4 * places < larvae + pupae < 2.5 * places

    def test_larger_colonies_hold_more(self):
        some = [counts(start(N, N, N, workers, N)) for workers in (12, 60, 400)]
        assert np.all(np.diff(some, axis=0) > 0)

    def test_brood_in_all_is_shared_out_as_is_usual(self):
        usual, twice = counts(start(N, N, N, 60, N)), 2 * counts(start(N, N, N, 60, N))[:3].sum()
        found = counts(start(N, N, N, 60, twice))
        assert found[:3].sum() == pytest.approx(twice) and found[3] == pytest.approx(60)
        assert found[:3] / twice == pytest.approx(usual[:3] / usual[:3].sum(), rel=0.25)

    def test_a_stage_counted_beside_the_brood_in_all_keeps_its_count(self):
        found = counts(start(N, N, 10, 60, 90))
        assert found[2] == pytest.approx(10) and found[:3].sum() == pytest.approx(90)
        # More pupae than brood in all: no stage is below none.
        assert counts(start(N, N, 40, 60, 30))[:2] == pytest.approx([0, 0])

    def test_nothing_but_a_queen(self):
        assert counts(start(0, 0, 0, 0, N)) == pytest.approx(np.zeros(4))

    def test_a_cool_room_is_taken_as_it_is(self):
        # Whatever the warmth, what was noted is there.
        for plan in (18.0, 25.0, 5.0):
            assert counts(start(20, 15, 8, 12, N, plan=plan)) == pytest.approx([20, 15, 8, 12])


class TestSpread:
    def test_noted_near_their_count_and_others_wide(self):
        found = start(N, 20, N, 40, N)
        expected, noted = counts(found), np.array([False, True, False, True])
        # Beside the share, one ant: of a few, nobody knows so well.
        near = np.sqrt((COUNT_SPREAD * expected) ** 2 + 1)
        assert sds(found)[noted] == pytest.approx(near[noted])
        # Colonies that hold as many larvae and workers differ in the rest, by a third and more.
        assert np.all(sds(found)[~noted] > np.hypot(near, 0.33 * expected)[~noted])

    def test_brood_in_all_is_known_better_than_its_parts(self):
        found = start(N, N, N, 40, 90)
        rows = LAYOUT.stages[:3].sum(axis=0)
        together = np.sqrt(rows @ found.covariance @ rows)
        assert together == pytest.approx(
            np.sqrt((COUNT_SPREAD**2 * counts(found)[:3] ** 2 + 1).sum()), rel=1e-6
        )
        assert np.all(sds(found)[:3] > np.sqrt((COUNT_SPREAD * counts(found)[:3]) ** 2 + 1))

    def test_it_is_a_covariance_of_ants_alone(self):
        found = start(30, N, 8, 40, N)
        assert found.covariance == pytest.approx(found.covariance.T)
        assert np.linalg.eigvalsh(found.covariance).min() > -1e-8
        assert not found.covariance[LAYOUT.drift].any()

    def test_ages_are_unknown(self):
        # Of a hundred eggs counted it is not known how many are fresh: ages trade with each other.
        found = start(100, N, N, 40, N)
        eggs = found.covariance[LAYOUT.row(EGG), LAYOUT.row(EGG)]
        half = slice(0, BINS // 2), slice(BINS // 2, BINS)
        young, old = (found.state[LAYOUT.row(EGG)][part].sum() for part in half)
        spread = np.sqrt(eggs[half[0], half[0]].sum())
        assert young > 10 and old > 10
        assert spread > 1.2 * COUNT_SPREAD * young

    def test_a_wave_of_brood_may_have_come_more_or_less_far(self):
        # How old the pupae are on average is known less well than if each wave came at its time.
        found = start(20, 10, 15, 12, N)
        row = LAYOUT.row(PUPA_FIRST)
        there, cov = found.state[row], found.covariance[row, row]
        apart = np.arange(BINS) - there @ np.arange(BINS) / there.sum()
        in_time = _cov_of(there)
        assert apart @ cov @ apart > 1.5 * (apart @ in_time @ apart)

    def test_no_eggs_seen_beside_larvae_and_pupae(self):
        # No colony of the ant is without eggs then; it is young all the same, its pupae fresh.
        found = start(0, 6, 8, 0, N)
        there = found.state[LAYOUT.row(PUPA_FIRST)]
        assert there.sum() == pytest.approx(8, abs=0.1)  # some may be of later workers
        assert there @ np.arange(BINS) / there.sum() < 0.45 * BINS


class TestDormant:
    REST = ag.constant(24).rest("2026-11-01", "2027-03-01", temperature=8)

    @pytest.mark.parametrize("plan", [REST, 24.0])  # at rest, or warm while the season is over
    def test_there_are_but_larvae_that_wait(self, plan):
        found = start(N, N, N, 30, N, day=WINTER, plan=plan)
        eggs, larvae, pupae, workers = counts(found)
        assert (eggs, pupae) == (0, 0) and workers == pytest.approx(30) and larvae > 3
        assert found.state[LAYOUT.waiting.start] == pytest.approx(larvae)
        assert not found.state[LAYOUT.row(LARVA)].any()

    def test_larvae_that_were_counted_wait(self):
        found = start(N, 14, N, 30, N, day=WINTER, plan=self.REST)
        assert found.state[LAYOUT.waiting.start] == pytest.approx(14)

    def test_what_was_seen_in_winter_is_there_all_the_same(self):
        found = start(5, 14, 3, 30, N, day=WINTER, plan=self.REST)
        assert counts(found) == pytest.approx([5, 14, 3, 30])

    def test_brood_in_all_is_larvae_then(self):
        found = counts(start(N, N, N, 30, 22, day=WINTER, plan=self.REST))
        assert found == pytest.approx([0, 22, 0, 30])

    def test_in_season_larvae_grow(self):
        found = start(N, 14, N, 30, N)
        assert found.state[LAYOUT.row(LARVA)].sum() > found.state[LAYOUT.waiting.start]


class TestCarriedOnTheFirstDay:
    """A note counts the evening: what came or went that day is in it already."""

    def test_ants_that_came_that_day_were_not_there_before(self):
        found = start(N, N, 30, 40, N)
        came = starting_state(
            history(SUMMER, 25.0, (SUMMER, "pupae", "+20"), (SUMMER, "workers", "-5")),
            np.array([N, N, 30, 40, N]), PRIOR,
        )  # fmt: skip
        assert counts(found)[2:] == pytest.approx([30, 40])
        assert counts(came)[2:] == pytest.approx([10, 45])

    def test_none_are_owed(self):
        came = starting_state(
            history(SUMMER, 25.0, (SUMMER, "pupae", "+50")), np.array([N, N, 30, 40, N]), PRIOR
        )
        assert counts(came)[2] == pytest.approx(0.0)

    def test_the_fit_meets_the_note(self):
        notes = pd.DataFrame({"date": [SUMMER], "pupae": [30], "workers": [40]})
        changes = pd.DataFrame({"date": [SUMMER], "stage": ["pupae"], "change": [20]})
        fit = ag.fit(notes, ag.constant(25), ANT, changes=changes, rng=1)
        assert fit.converged and fit.estimate.dispersion < 1.5
        held = fit.nest_frame().set_index("stage")["q50"]
        assert held["pupae"] == pytest.approx(30, abs=4)
        assert held["workers"] == pytest.approx(40, rel=0.2)


class TestDrawnStates:
    def test_whole_ants_scattered_as_the_start_says(self):
        found = start(60, 25, N, 40, N)
        x = np.zeros((3000, len(PRIOR)))
        laws, forcing = PRIOR.laws(x), history().forcing(10)
        states = states_of(found, laws, forcing, np.random.default_rng(1))
        there = LAYOUT.counts(states)
        assert there == pytest.approx(np.rint(there), abs=1e-6) and there.min() >= 0
        assert there.mean(axis=0) == pytest.approx(counts(found), rel=0.05)
        assert there.std(axis=0) == pytest.approx(sds(found), rel=0.12)
        drift = states[:, LAYOUT.drift]
        assert drift.std(axis=0) == pytest.approx(laws.drift, rel=0.1)

    def test_the_same_chance_gives_the_same_nests(self):
        found, laws = start(N, N, N, 40, N), PRIOR.laws(np.zeros((5, len(PRIOR))))
        one, again = (
            states_of(found, laws, history().forcing(1), np.random.default_rng(4)) for _ in range(2)
        )
        assert np.array_equal(one, again)


@pytest.mark.parametrize("name", ["lasius-japonicus", "oecophylla-smaragdina", "myrmica-rubra"])
def test_of_any_species(name):
    ant = ag.load_species(name)
    prior = Prior.of(ant, founded=False)
    warm = ag.constant(ant.value("development.reference_c"))
    some = ColonyHistory(ant, warm, pd.Timestamp(SUMMER), False, None, 1)
    found = starting_state(some, np.array([N, 40, N, 50, N]), prior)
    layout = State.of(prior.laws(np.zeros((1, len(prior)))))
    eggs, larvae, pupae, workers = layout.counts(found.state[None])[0]
    assert larvae == pytest.approx(40) and workers == pytest.approx(50) and eggs > 0 and pupae > 0
