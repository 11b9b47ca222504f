"""Second moments of growth, against cases that can be solved and against a slow second way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_ants import climate, laws, steady, swing, unlimited

from antgrowth.model.covariance import PAST_SPELL_DAYS, PAST_SPELLS, Cells, covariance, loss_effects
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Move, birth_slopes, births_of_day

EGGS, LARVAE, PUPAE, WORKERS, BROOD = [*np.eye(4), np.array([1.0, 1.0, 1.0, 0.0])]


def cells(*pairs: tuple[int, np.ndarray]) -> Cells:
    return Cells(np.array([day for day, _ in pairs]), np.array([stages for _, stages in pairs]))


def moments(some, weather, *pairs):
    """Expected cells and their covariance."""
    chosen = cells(*pairs)
    growth = grow(some, weather)
    return chosen.mean(growth)[0], covariance(some, weather, growth, chosen)


class TestCells:
    def test_mean(self):
        growth = grow(laws(2, founding_rate=[3.0, 1.0]), climate(steady(24, 20)))
        mean = cells((5, EGGS), (20, BROOD)).mean(growth)
        assert mean.shape == (2, 2)
        assert mean[:, 0] == pytest.approx(growth.counts[:, 5, 0])
        assert mean[:, 1] == pytest.approx(growth.brood[:, 20])

    def test_joined(self):
        both = cells((5, EGGS)).joined(cells((7, WORKERS), (6, BROOD)))
        assert len(both) == 3 and both.days.tolist() == [5, 7, 6]
        assert both.stages[1].tolist() == [0, 0, 0, 1]


class TestWithoutFeedback:
    """Steady laying into boundless room: stage counts are independent and Poisson."""

    SOME = unlimited(3.0, life=40.0)
    WEATHER = climate(swing(28, 20, 110))

    def test_counts_of_one_evening_are_poisson_and_independent(self):
        evening = [(110, stage) for stage in (EGGS, LARVAE, PUPAE, WORKERS)]
        mean, cov = moments(self.SOME, self.WEATHER, *evening)
        assert np.diag(cov) == pytest.approx(mean, rel=0.015)
        assert cov - np.diag(np.diag(cov)) == pytest.approx(np.zeros((4, 4)), abs=0.02)

    def test_brood_is_the_sum_of_its_stages(self):
        evening = [(60, stage) for stage in (EGGS, LARVAE, PUPAE, BROOD)]
        cov = moments(self.SOME, self.WEATHER, *evening)[1]
        assert cov[3, 3] == pytest.approx(cov[:3, :3].sum())
        assert cov[3, :3] == pytest.approx(cov[:3, :3].sum(axis=0))

    def test_cells_may_come_in_any_order_and_twice(self):
        pairs = [(40, EGGS), (60, LARVAE), (50, BROOD), (60, LARVAE)]
        cov = moments(self.SOME, self.WEATHER, *pairs)[1]
        other = moments(self.SOME, self.WEATHER, *pairs[::-1])[1]
        assert cov == pytest.approx(other[::-1, ::-1])
        assert cov[1, 3] == pytest.approx(cov[1, 1])

    def test_two_evenings_share_the_ants_that_are_in_both(self):
        # Eggs of 13 days and a clock at 25 °C: of those of day 30, all laid in the last 7 days are
        # still eggs on day 36; each is counted then if it lives six more thirteenths of the stage.
        some = unlimited(3.0, pace_cv=0.0)
        cov = moments(some, climate(steady(25, 40)), (30, EGGS), (36, EGGS))[1]
        ages = np.arange(7) + 0.5  # of the survivors on day 30
        shared = 3.0 * (0.85 ** ((ages + 6) / 13)).sum()
        assert cov[0, 1] == pytest.approx(shared, rel=1e-3)

    def test_yesterdays_larvae_are_todays_pupae(self):
        cov = moments(self.SOME, self.WEATHER, (60, LARVAE), (75, PUPAE), (60, PUPAE))[1]
        assert cov[0, 1] > 0.5 * cov[0, 0]
        assert cov[2, 0] == pytest.approx(0, abs=0.02)


class TestWithFeedback:
    def test_the_filling_of_a_founding_nest_is_binomial(self):
        # Until something hatches or dies, each of 20 places is filled at the same rate.
        some = laws(survival=[1.0, 1.0, 1.0], delay=0.0, days=[50, 50, 50])
        mean, cov = moments(some, climate(steady(25, 10)), (4, EGGS), (10, EGGS))
        filled = 1 - np.exp(-np.array([4, 10]) * 3 / 20)
        assert mean == pytest.approx(20 * filled)
        assert np.diag(cov) == pytest.approx(20 * filled * (1 - filled))
        assert cov[0, 1] == pytest.approx(20 * filled[0] * (1 - filled[1]))

    def test_against_noise_carried_forward_from_day_to_day(self):
        # A second derivation: where the package looks back from each count, this follows the
        # covariance of all cohorts from one half day to the next.
        some = laws(
            days=[6.3, 7.4, 8.1], pace_cv=0.0, first_development=1.0, first_life=1.0, life=60.0
        )
        weather, evenings = climate(steady(25, 70)), [15, 25, 45, 70]
        growth = grow(some, weather)
        chosen = [(day, stages) for day in evenings for stages in (EGGS, LARVAE, PUPAE, WORKERS)]
        found = covariance(some, weather, growth, cells(*chosen))
        expected = carried_forward(some, growth, evenings)
        assert expected[15, 15] > 10
        assert found == pytest.approx(expected, rel=1e-3, abs=1e-3)

    def test_it_is_a_covariance(self):
        pairs = [
            (d, s) for d in (10, 30, 50, 70, 90) for s in (EGGS, LARVAE, PUPAE, WORKERS, BROOD)
        ]
        cov = moments(laws(), climate(swing(28, 19, 90)), *pairs)[1]
        assert cov == pytest.approx(cov.T)
        assert np.linalg.eigvalsh(cov).min() > -1e-6 * np.diag(cov).max()

    def test_feedback_steadies(self):
        weather = climate(steady(24, 60))
        mean, cov = moments(laws(), weather, (20, BROOD))
        assert cov[0, 0] < 0.6 * mean[0]


class TestEdges:
    def test_the_first_evening_alone(self):
        mean, cov = moments(laws(delay=0.0), climate(steady(25, 3)), (1, EGGS))
        filled = 1 - np.exp(-3 / 20)
        alive = 0.85 ** (0.5 / 13 / 0.92)
        assert mean[0] == pytest.approx(20 * filled * alive, rel=1e-3)
        assert cov[0, 0] == pytest.approx(20 * filled * alive * (1 - filled * alive), rel=1e-3)

    def test_before_anything_is_laid(self):
        cov = moments(laws(delay=9.0), climate(steady(25, 12)), (3, EGGS), (12, EGGS))[1]
        assert cov[0].tolist() == [0, 0] and cov[1, 1] > 0

    def test_part_of_a_stage_seen(self):
        # Weights scale counts; the chance of overlooking is added by the counting error.
        weather = climate(steady(24, 40))
        full = moments(laws(), weather, (30, EGGS), (40, LARVAE))[1]
        part = moments(laws(), weather, (30, 0.5 * EGGS), (40, LARVAE))[1]
        assert part == pytest.approx(full * np.array([[0.25, 0.5], [0.5, 1.0]]))

    def test_waves_of_an_unknown_past(self):
        some, weather = unlimited(2.0, survival=[1.0, 1.0, 1.0]), climate(steady(25, 30))
        growth, chosen = grow(some, weather), cells((10, EGGS))
        extra = covariance(some, weather, growth, chosen, past=10)[0, 0]
        extra -= covariance(some, weather, growth, chosen)[0, 0]
        apart = np.abs(np.subtract.outer(np.arange(10), np.arange(10)))
        assert extra == pytest.approx(
            PAST_SPELLS**2 * 4 * np.exp(-apart / PAST_SPELL_DAYS).sum(), rel=0.01
        )

    def test_heat_and_rest(self):
        resting = np.zeros(90, bool)
        resting[50:80] = True
        hours = np.vstack([swing(36, 25, 50), steady(10, 30), steady(24, 10)])
        weather = climate(hours, resting=resting)
        mean, cov = moments(laws(), weather, (49, EGGS), (79, EGGS), (90, LARVAE), (90, BROOD))
        assert np.isfinite(cov).all() and np.linalg.eigvalsh(cov).min() > -1e-8
        assert mean[1] < 0.1 * mean[0] and cov[1, 1] == pytest.approx(mean[1], rel=0.2)

    def test_with_carried_ants(self):
        weather = climate(steady(24, 40))
        with_pupae = replace(weather, moves=(Move(5, 2, 10.0),))
        cov = moments(laws(), with_pupae, (30, BROOD))[1]
        assert np.isfinite(cov).all() and cov[0, 0] > 0


class TestLossEffects:
    PAIRS = [(d, s) for d in (20, 31, 45, 60, 80) for s in (EGGS, LARVAE, PUPAE, WORKERS)]

    @pytest.mark.parametrize("day", [15, 30, 50])
    def test_a_small_loss_in_expected_growth(self, day):
        # Expected growth spreads a loss over a day. One at the start of a day lies half-way between
        # one in the course of the day before and one in the course of the day.
        weather, chosen = climate(steady(24, 80)), cells(*self.PAIRS)
        growth = grow(laws(), weather)
        slopes = []
        for spread_over in (day - 1, day):
            loss = weather.loss.copy()
            loss[spread_over] += 1e-3
            less = grow(laws(), replace(weather, loss=loss))
            slopes.append((chosen.mean(less) - chosen.mean(growth))[0] / 1e-3)
        found = loss_effects(laws(), weather, growth, chosen)[day - 1]
        # Brood missing and brood laid in its place all but cancel, and laying changes by a tenth a
        # day: the two ways differ by one part in twenty of what was lost.
        lost = growth.brood[0, day]
        assert found == pytest.approx(np.mean(slopes, axis=0), rel=0.05, abs=lost / 20)
        assert np.all(found[chosen.days < day] == 0)

    def test_brood_that_is_lost_is_missing_at_once(self):
        weather = climate(steady(24, 60))
        chosen = cells((29, BROOD), (30, BROOD), (30, WORKERS), (60, EGGS))
        growth = grow(laws(), weather)
        effect = loss_effects(laws(), weather, growth, chosen)
        assert effect.shape == (59, 4)
        assert effect[29, 0] == 0
        assert effect[29, 1] == pytest.approx(-chosen.mean(growth)[0, 1], rel=0.02)
        assert effect[29, 2] == pytest.approx(0, abs=1e-9)


def carried_forward(some, growth, evenings: list[int]) -> np.ndarray:
    """Covariance of eggs, larvae, pupae and workers on evenings, shape (4 evenings, 4 evenings)."""
    days = max(evenings)
    cov, mean, born = np.zeros((days, days)), np.zeros(days), np.arange(days) + 0.5
    edges = np.cumsum(some.days[0])
    hazard = -np.log(some.survival[0]) / some.days[0]

    def log_alive(age: np.ndarray) -> np.ndarray:
        spent = np.clip(age[:, None] - (edges - some.days[0]), 0.0, some.days[0])
        old = np.maximum(age - edges[-1], 0.0) / some.life[0]
        return -(spent * hazard).sum(axis=1) - old**some.life_shape

    def thin(time: float) -> None:
        age = np.maximum(time - born, 0.0)
        alive = np.exp(log_alive(age) - log_alive(np.maximum(age - 0.5, 0.0)))
        cov[...] = cov * np.outer(alive, alive) + np.diag(mean * alive * (1 - alive))
        mean[...] *= alive
        for row in told:
            row[...] *= alive

    told: list[np.ndarray] = []  # covariance of each count so far with today's cohorts
    result = np.zeros((4 * len(evenings), 4 * len(evenings)))
    one = np.ones(1)
    for day in range(days):
        thin(day + 0.5)
        age = np.where(born < day + 0.5, day + 0.5 - born, np.nan)
        felt = growth.midday[0, day]
        slopes = birth_slopes(some, one, one * felt[0], one * felt[1])
        answer = np.where(age < edges[-1], slopes[0], np.where(np.isnan(age), 0.0, slopes[1]))
        begun = np.clip(day + 1 - some.delay[0], 0.0, 1.0)
        fill = births_of_day(some, one * begun, one * felt[0], one * felt[1])[1][0]
        mean[day] = growth.births[0, day]
        shared = cov @ answer
        cov[day], cov[:, day] = shared, shared
        cov[day, day] = answer @ shared + mean[day] * (1 - fill)
        for row in told:
            row[day] = row @ answer
        thin(day + 1.0)
        if day + 1 in evenings:
            stage = np.searchsorted(edges, day + 1.0 - born, side="right")
            for s in range(4):
                here = ((stage == s) & (born < day + 1)).astype(float)
                k = len(told)
                for other, row in enumerate(told):
                    result[other, k] = result[k, other] = row @ here
                told.append(cov @ here)
                result[k, k] = here @ cov @ here
    return result
