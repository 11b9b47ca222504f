"""The fit: what it does with no news, with plenty, and with news it did not expect."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_ants import steady, swing
from invented_species import garden_ant

from antgrowth.inference.initial_state import InitialState
from antgrowth.inference.laplace import WORTH_GOING_BACK, Estimate, Model, estimate, unforeseen
from antgrowth.inference.likelihood import Observations, error_variance
from antgrowth.inference.prior import Prior, forcing_of
from antgrowth.model.covariance import Cells
from antgrowth.model.life_cycle import State
from antgrowth.model.simulation import simulate

PRIOR = Prior.of(garden_ant())
EGGS, LARVAE, PUPAE, WORKERS, DEAD = np.eye(5)


def noted(*notes: tuple[int, np.ndarray, float, float]) -> Observations:
    """Cells of (evening, stages, low, high)."""
    days, stages, low, high = zip(*notes, strict=True)
    cells = Cells(np.array(days), np.array(stages))
    return Observations(cells, np.array(low, float), np.array(high, float), np.ones(len(days)))


def model(observations: Observations, hours: np.ndarray | None = None) -> Model:
    last = int(observations.cells.days.max())
    hours = steady(25, last) if hours is None else hours
    return Model(PRIOR, forcing_of(PRIOR.species, hours, np.zeros(len(hours), bool)), observations)


def missed(m: Model, found: Estimate) -> np.ndarray:
    """Cells that are unforeseen where a search ended."""
    return unforeseen(m.along(found.course), found.mean, found.noise_cov)


def rich(x: np.ndarray, seed: int = 3) -> Observations:
    """What a keeper who looks twice a week, and sees what the parameters say, notes of a colony."""
    hours = swing(28, 20, 120)
    forcing = forcing_of(PRIOR.species, hours, np.zeros(len(hours), bool))
    rng = np.random.default_rng(seed)
    counts = simulate(PRIOR.laws(x[None]), forcing, rng)[0]
    seen = rng.binomial(counts, PRIOR.seen(x[None], counts[None, :, 3].astype(float))[0, :, :4])
    slip = np.rint(seen * np.exp(0.05 * rng.standard_normal(seen.shape)))
    evenings = np.arange(4, 121, 4)
    notes = [(day, np.eye(5)[s], slip[day, s], slip[day, s]) for day in evenings for s in range(4)]
    return noted(*notes)


class TestModel:
    MODEL = model(noted((20, EGGS, 9, 9), (60, WORKERS, 5, 5), (60, LARVAE, 3, 8)))

    def test_expect_is_what_grows_and_is_seen(self):
        x = np.zeros((1, len(PRIOR)))
        growth = self.MODEL.grow(x)
        expected = self.MODEL.expect(x)
        assert growth.counts.shape == (1, 61, 4) and expected.shape == (1, 3)
        assert expected[0] == pytest.approx(
            [
                0.92 * growth.counts[0, 20, 0],
                growth.counts[0, 60, 3] * (0.37 + 0.63 / (1 + growth.counts[0, 60, 3] / 100)),
                0.92 * growth.counts[0, 60, 1],
            ]
        )

    def test_the_dead_are_counted_over_all_days_so_far(self):
        seen = noted((60, WORKERS, 5, 5), (60, DEAD, 1, np.inf))
        expected = model(seen).expect(np.zeros((1, len(PRIOR))))
        assert expected[0, 1] == pytest.approx(
            self.MODEL.grow(np.zeros((1, len(PRIOR)))).died[0, 60]
        )

    @pytest.mark.parametrize("seed", [None, 8])
    def test_jacobian_against_one_sided_differences(self, seed):
        x = np.zeros(len(PRIOR))
        if seed:
            x = 0.7 * np.random.default_rng(seed).standard_normal(len(PRIOR))
        here = self.MODEL.linearise(x)
        mean, slopes = here.mean, here.slopes
        assert mean == pytest.approx(self.MODEL.expect(x[None])[0])
        h = 0.02
        forward = ((self.MODEL.expect(x + h * np.eye(len(x))) - mean) / h).T
        backward = ((mean - self.MODEL.expect(x - h * np.eye(len(x)))) / h).T
        size = np.abs(slopes).max(axis=1, keepdims=True)
        assert np.all(np.abs(slopes - 0.5 * (forward + backward)) < 0.03 * size)
        # One side alone differs more where growth has a kink: a delay of a whole number of days.
        assert np.all(np.abs(slopes - forward) < 0.15 * size)

    def test_what_an_evening_cannot_know(self):
        here = self.MODEL.linearise(np.zeros(len(PRIOR)))
        slopes = dict(zip(PRIOR.names, here.slopes.T, strict=True))
        assert slopes["pupa duration"][0] == pytest.approx(0, abs=1e-9)  # eggs of day 20
        assert slopes["larvae seen"][:2] == pytest.approx([0, 0], abs=1e-9)
        assert slopes["egg duration"][1] < 0  # slower eggs, fewer workers on day 60
        assert slopes["eggs seen"][0] > 0

    def test_moments_of_other_counts_come_after_the_cells(self):
        here = self.MODEL.linearise(np.zeros(len(PRIOR)))
        others = Cells(np.array([60, 60]), np.array([EGGS, WORKERS]))
        joint, own = self.MODEL.moments(here, others), self.MODEL.moments(here)
        assert joint.cells.shape == (5, 5)
        assert joint.cells[:3, :3] == pytest.approx(own.cells)
        # Of the true workers of that evening so many are seen, and what is seen scatters as they.
        share = self.MODEL.shares(here)[1, 3]
        assert 0.9 < share < 1
        assert joint.cells[1, 1] == pytest.approx(share**2 * joint.cells[4, 4])
        assert joint.cells[1, 4] == pytest.approx(share * joint.cells[4, 4])

    def test_error_of_overlooked_eggs(self):
        here = replace(self.MODEL.linearise(np.zeros(len(PRIOR))), mean=np.full(3, 50.0))
        shares, error = self.MODEL.shares(here), self.MODEL.error(here, 1.0)
        assert shares[0, 0] == pytest.approx(0.92)
        overlooked = (1 - shares[0, 0]) * 50, (1 - shares[1, 3]) * 50
        assert error[0] - error[1] == pytest.approx(overlooked[0] - overlooked[1])
        assert error[0] == pytest.approx(
            error_variance(np.full(1, 50.0), np.full(1, 0.92), np.ones(1), 1.0)[0]
        )


class TestNoNews:
    def test_the_posterior_is_the_prior(self):
        found = estimate(model(noted((30, EGGS, 0, np.inf), (60, WORKERS, 0, np.inf))))
        assert found.converged
        assert found.x == pytest.approx(np.zeros(len(PRIOR)), abs=1e-4)
        assert found.cov == pytest.approx(np.eye(len(PRIOR)), abs=1e-4)
        assert found.error_scale == pytest.approx(1.0, abs=0.05)

    def test_as_expected_narrows_without_moving(self):
        expected = model(noted((60, WORKERS, 1, 1))).expect(np.zeros((1, len(PRIOR))))[0, 0]
        found = estimate(model(noted((60, WORKERS, expected, expected))))
        assert found.converged and np.abs(found.x).max() < 0.15
        assert np.linalg.eigvalsh(found.cov).min() < 0.6
        assert np.linalg.eigvalsh(found.cov).max() == pytest.approx(1.0, abs=1e-6)


TRUTH = 0.8 * np.random.default_rng(11).standard_normal(len(PRIOR))


@pytest.fixture(scope="module")
def found() -> Estimate:
    return estimate(model(rich(TRUTH), swing(28, 20, 120)))


def assert_same_nest(some: Estimate, other: Estimate) -> None:
    """Both ends are as probable, and what is in the nest is the same within its scatter."""
    assert abs(some.log_density - other.log_density) < WORTH_GOING_BACK
    m, counts = model(rich(TRUTH), swing(28, 20, 120)), []
    for end in (some, other):
        x = np.vstack([end.x, end.draw(200, np.random.default_rng(1))])
        here = InitialState.of(m.along(end.course), end, x)
        counts.append(here.counts)
    chance = np.linalg.norm(State.of(here.laws).stages[:4] @ here.root, axis=1)
    sd = np.hypot(chance, counts[1].std(axis=0))
    assert np.abs((counts[0][0] - counts[1][0]) / sd).max() < 1.0


class TestPlentyOfNews:
    def test_it_settles(self, found):
        # Luck that lasts for weeks leaves some directions flat, along which parameters and the
        # colony's course trade: but from where it ended the search does not go to another nest.
        assert found.converged
        again = estimate(model(rich(TRUTH), swing(28, 20, 120)).along(found.course), found.x)
        assert_same_nest(again, found)

    def test_the_truth_lies_where_the_posterior_says(self, found):
        # Squared distance in units of the posterior: chi-square of 29, 39 is its 0.9 quantile.
        away = found.x - TRUTH
        assert away @ np.linalg.solve(found.cov, away) < 39

    def test_the_onset_and_durations_are_learned(self, found):
        # Log-sds on the parameters' own scales, where the profile has 0.8, 0.19, 0.21 and 0.19.
        sd = dict(zip(PRIOR.names, np.sqrt(np.diag(PRIOR.factor @ found.cov @ PRIOR.factor.T)),
                      strict=True))  # fmt: skip
        assert sd["laying starts after"] < 0.36
        for name in ("egg duration", "larva duration", "pupa duration"):
            assert sd[name] < 0.17, name
        assert sd["egg duration"] < 0.1125 and sd["pupa duration"] < 0.1125
        sd = dict(zip(PRIOR.names, np.sqrt(np.diag(found.cov)), strict=True))
        assert sd["top laying rate"] > 0.9  # a young colony cannot tell
        assert sd["length of the season"] > 0.99  # nor what has not been yet
        # From the first egg to the first worker best of all: what one stage gets too much, or the
        # first brood in haste, another lacks.
        paths = [f"development.{stage}.days" for stage in ("egg", "larva", "pupa")]
        values = PRIOR.values(np.stack([found.x, TRUTH]))
        days = values[:, [PRIOR.place_of(path) for path in paths]].sum(axis=1)
        days *= values[:, PRIOR.place_of("workers.first_development")]
        assert days[0] == pytest.approx(days[1], rel=0.12)

    def test_its_scatter_is_as_expected(self, found):
        assert 0.4 < found.dispersion < 1.6
        assert 0.5 < found.error_scale < 2.0

    def test_from_another_start_it_finds_the_same(self, found):
        # Or one as good: a pupa that takes longer and first workers in more haste look alike, as do
        # more places and a colony that rears more than usual for the time being.
        for seed in (5, 6, 7):
            start = 0.5 * np.random.default_rng(seed).standard_normal(len(PRIOR))
            assert_same_nest(estimate(model(rich(TRUTH), swing(28, 20, 120)), start), found)

    def test_draws_follow_the_posterior(self, found):
        draws = found.draw(20_000, np.random.default_rng(1))
        assert draws.shape == (20_000, len(PRIOR))
        assert draws.mean(axis=0) == pytest.approx(found.x, abs=0.04)
        assert np.cov(draws.T) == pytest.approx(found.cov, abs=0.05)


class TestBounds:
    def expected(self) -> float:
        return float(model(noted((70, WORKERS, 1, 1))).expect(np.zeros((1, len(PRIOR))))[0, 0])

    def workers_after(self, *notes) -> float:
        m = model(noted(*notes))
        return float(m.grow(estimate(m).x[None]).counts[0, 70, 3])

    def test_at_least_lifts_and_none_lowers(self):
        usual = self.expected()
        assert self.workers_after((70, WORKERS, 2 * usual, np.inf)) > 1.3 * usual
        assert self.workers_after((70, WORKERS, 0, usual / 4)) < 0.7 * usual

    def test_a_wide_range_says_less_than_a_number(self):
        number, span = (
            estimate(model(noted((70, WORKERS, *bounds)))).cov for bounds in ((14, 14), (7, 28))
        )
        assert np.trace(number) < np.trace(span) < len(PRIOR)

    def test_a_first_sighting_dates_the_stage(self):
        early = estimate(model(noted((16, LARVAE, 0, 0), (19, LARVAE, 1, np.inf))))
        late = estimate(model(noted((26, LARVAE, 0, 0), (29, LARVAE, 1, np.inf))))
        place = PRIOR.names.index("egg duration")
        days = PRIOR.values(np.stack([early.x, late.x]))[:, place]
        assert days[1] > days[0] + 2


class TestContradiction:
    def test_notes_that_disagree_widen_and_never_beyond_the_prior(self):
        calm = estimate(model(noted(*[(d, WORKERS, 12, 12) for d in range(66, 72)])))
        wild = estimate(
            model(
                noted(
                    *[(d, WORKERS, n, n) for d, n in zip(range(66, 72), (2, 60) * 3, strict=True)]
                )
            )
        )
        assert wild.dispersion > 1.5 > calm.dispersion
        assert wild.error_scale > 1.5 * calm.error_scale
        assert np.trace(wild.cov) > np.trace(calm.cov)
        assert np.linalg.eigvalsh(wild.cov).max() <= 1 + 1e-9


class TestUnforeseen:
    """A first worker long before any is expected: all slopes are zero, and she was ignored."""

    @staticmethod
    def record(first: int, looked_before: bool) -> Observations:
        """Four eggs on day 2, ten on day 7, and a first worker; all on the evenings of these."""
        look = [(first, WORKERS, 0, 0)] if looked_before else []
        return noted(
            (3, EGGS, 4, 4), (8, EGGS, 10, 10), (8, WORKERS, 0, 0), *look,
            (first + 1, WORKERS, 1, np.inf),
        )  # fmt: skip

    @pytest.mark.parametrize("first", [30, 32, 36, 40, 44, 48])
    @pytest.mark.parametrize("looked_before", [False, True])
    def test_she_is_expected_where_she_was_seen(self, first, looked_before):
        m = model(self.record(first, looked_before), steady(24, first + 1))
        found = estimate(m)
        assert found.converged and found.dispersion < 2.5
        assert not missed(m, found).any()
        # The evening before there was none; or she is one of few quick ones, well before her time.
        least = 0.1 if looked_before else 0.3 if first == 30 else 0.5
        made = found.course.made[-1] if found.course else 0.0
        assert found.mean[-1] + made > least

    def test_the_quicker_she_came_the_less_probable(self):
        found = [
            estimate(model(self.record(first, False), steady(24, first + 1))).log_density
            for first in (30, 36, 42, 48)
        ]
        assert np.all(np.diff(found) > 0.3)

    def test_eggs_first_noted_late_may_have_lain_there_for_long(self):
        # A quick larva, on a day on which eggs are noted for the first time.
        m = model(noted((5, LARVAE, 0, 0), (14, EGGS, 50, np.inf), (14, LARVAE, 1, np.inf)))
        assert m.expect(np.zeros((1, len(PRIOR))))[0, 2] < 0.01
        found = estimate(m)
        assert not missed(m, found).any()
        assert found.log_density > -8.0 and abs(found.x).max() < 2.0

    def test_eggs_long_after_the_season_lengthen_it(self):
        hours = steady(25, 120)
        forcing = forcing_of(PRIOR.species, hours, np.zeros(120, bool), 140.0)
        notes = noted((20, EGGS, 60, 60), (85, EGGS, 25, 25), (100, EGGS, 20, 20))
        m = Model(PRIOR, forcing, notes)
        assert m.expect(np.zeros((1, len(PRIOR))))[0, 2] < 0.1  # by the profile it ended long ago
        found = estimate(m)
        assert not missed(m, found).any()
        length = PRIOR.values(found.x[None])[0, PRIOR.place_of("season.length_days")]
        assert length > 140 + 75

    def test_what_no_colony_can_do_stays_unforeseen(self):
        m = model(noted((3, EGGS, 4, 4), (6, WORKERS, 5, 5)), steady(24, 10))
        found = estimate(m)
        assert missed(m, found).tolist() == [False, True]

    def test_the_dead_are_no_ghosts(self):
        m = model(noted((3, EGGS, 4, 4), (6, DEAD, 2, np.inf)), steady(24, 10))
        assert unforeseen(m, np.zeros(2), np.eye(2)).tolist() == [True, False]

    def test_what_may_come_by_chance_is_no_ghost(self):
        m = model(noted((60, EGGS, 40, 40)), steady(24, 70))
        for sd, alone in ((15.0, True), (25.0, False)):
            assert unforeseen(m, np.array([1.0]), np.diag([sd**2])).tolist() == [alone]
