"""Fast growth against one ant at a time: expected counts, their scatter, whole-number colonies.

`simulators.one_ant` gives every egg its own birth time, pace and moment of death and shares no code
with the package. What sets the two apart, beside chance:

- Laying answers to room and workers by a bent law. Expected growth carries expectations through it
  as if they were certain, which overstates the few eggs laid while the first workers come by some
  3 to 5 %, and the three larvae and pupae that they become by 6 to 7 %: a tenth of the scatter of
  a single colony. Where numbers are large it vanishes (`TestLargeNumbers`).
- Eggs of a day share their middle moment; eight paces stand for all, which costs up to 3 % where
  numbers change fastest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from invented_ants import climate, laws, steady, step, swing
from scipy.special import gamma
from simulators import one_ant
from simulators.one_ant import TYPICAL

from antgrowth.inference.prior import Prior, climate_of
from antgrowth.model.covariance import Cells, covariance
from antgrowth.model.mean_field import grow
from antgrowth.model.simulation import simulate
from antgrowth.species.profile import load_species

COLONIES, DAYS = 4000, 110
WEATHER = {
    "steady 24 °C": steady(24, DAYS),
    "28 °C by day, 19 by night": swing(28, 19, DAYS),
    "24 °C, from day 50 on 19": step(24, 19, 50, DAYS),
}
EVENINGS = np.array([20, 35, 50, 65, 80, 110])


@dataclass(frozen=True)
class Truth:
    """Colonies grown one ant at a time, and the weather they had."""

    hours_c: np.ndarray
    counts: np.ndarray
    """Shape (colonies, days, 4), at the end of each day."""

    @property
    def mean(self) -> np.ndarray:
        return self.counts.mean(axis=0)

    @property
    def sd(self) -> np.ndarray:
        return self.counts.std(axis=0)

    def cells(self) -> tuple[Cells, np.ndarray, np.ndarray]:
        """Cells with at least three ants expected, their values (colonies, cells) and means."""
        cells = Cells(np.repeat(EVENINGS, 4), np.tile(np.eye(4), (len(EVENINGS), 1)))
        values = self.counts[:, EVENINGS - 1].reshape(len(self.counts), -1)
        enough = values.mean(axis=0) >= 3
        return Cells(cells.days[enough], cells.stages[enough]), values[:, enough], enough


@pytest.fixture(scope="module", params=WEATHER)
def truth(request) -> Truth:
    hours = WEATHER[request.param]
    return Truth(
        hours, one_ant.simulate(TYPICAL, hours, COLONIES, np.random.default_rng(1), dt=0.25)
    )


def worst(found: np.ndarray, truth: Truth, share: float, of_sd: float = 0.0) -> str:
    """Counts of at least three that are farther off than allowed; nothing if all is well.

    Allowed: a share of the count, or so many sd of a single colony, and what chance does to the
    mean of the simulated colonies (three standard errors).
    """
    chance = 3 * truth.sd / np.sqrt(len(truth.counts))
    allowed = np.maximum(share * truth.mean, of_sd * truth.sd) + chance
    off = (np.abs(found - truth.mean) > allowed) & (truth.mean >= 3)
    return "; ".join(
        f"day {d}, stage {s}: {found[d, s]:.2f}, one ant at a time {truth.mean[d, s]:.2f}"
        for d, s in np.argwhere(off)
    )


class TestExpectedGrowth:
    def test_chance_is_small(self, truth):
        error = truth.sd / np.sqrt(COLONIES) / np.maximum(truth.mean, 1e-9)
        assert error[truth.mean >= 3].max() < 0.01

    def test_means(self, truth):
        growth = grow(laws(), climate(truth.hours_c))
        assert not worst(growth.counts[0, 1:], truth, share=0.03, of_sd=0.12)

    def test_workers_alone_are_within_three_percent(self, truth):
        found = grow(laws(), climate(truth.hours_c)).counts[0, 1:]
        assert not worst(found * [0, 0, 0, 1] + truth.mean * [1, 1, 1, 0], truth, share=0.025)

    def test_days_of_the_first_workers(self, truth):
        found = grow(laws(), climate(truth.hours_c)).counts[0, 1:, 3]
        days = np.arange(1, DAYS + 1)
        for number in (5, 10, 15):
            expected = np.interp(number, truth.mean[:, 3], days)
            assert np.interp(number, found, days) == pytest.approx(expected, abs=0.6)

    def test_scatter(self, truth):
        cells, values, _ = truth.cells()
        growth = grow(laws(), climate(truth.hours_c))
        cov = covariance(laws(), climate(truth.hours_c), growth, cells)
        sd = np.sqrt(np.diag(cov))
        # An sd from 4000 colonies is itself 1.1 % off; the feedback is made straight.
        assert len(cells) > 15
        assert sd / values.std(axis=0) == pytest.approx(np.ones(len(cells)), abs=0.05 + 3 * 0.011)
        assert np.mean(sd / values.std(axis=0)) == pytest.approx(1.0, abs=0.02)

    def test_correlations(self, truth):
        cells, values, _ = truth.cells()
        growth = grow(laws(), climate(truth.hours_c))
        cov = covariance(laws(), climate(truth.hours_c), growth, cells)
        found = cov / np.sqrt(np.outer(np.diag(cov), np.diag(cov)))
        difference = found - np.corrcoef(values.T)
        # Chance alone: 1 / sqrt(4000) = 0.016.
        assert np.sqrt(np.mean(difference**2)) < 0.03
        assert np.abs(difference).max() < 0.12


class TestWholeNumberColonies:
    @pytest.fixture(scope="class")
    @classmethod
    def paths(cls, truth) -> np.ndarray:
        return simulate(laws(COLONIES), climate(truth.hours_c), np.random.default_rng(2))[:, 1:]

    def test_means(self, truth, paths):
        assert not worst(paths.mean(axis=0), truth, share=0.02)

    def test_scatter_and_correlations(self, truth, paths):
        _, values, enough = truth.cells()
        found = paths[:, EVENINGS - 1].reshape(COLONIES, -1)[:, enough]
        ratio = found.std(axis=0) / values.std(axis=0)
        assert ratio == pytest.approx(np.ones(enough.sum()), abs=0.06)
        assert ratio.mean() == pytest.approx(1.0, abs=0.025)
        difference = np.corrcoef(found.T) - np.corrcoef(values.T)
        assert np.sqrt(np.mean(difference**2)) < 0.025

    def test_day_of_the_tenth_worker(self, truth, paths):
        def quantiles(counts: np.ndarray) -> np.ndarray:
            there = counts[..., 3] >= 10
            day = np.where(there.any(axis=1), there.argmax(axis=1), DAYS)
            return np.quantile(day, [0.1, 0.5, 0.9])

        assert quantiles(paths) == pytest.approx(quantiles(truth.counts), abs=1.5)


class TestLargeNumbers:
    """A queen a thousand times as fertile: chance and with it the bend of the law play no part."""

    SCALE = 1000.0
    LARGE = {
        "founding_rate": 3.0 * SCALE,
        "founding_room": 20.0 * SCALE,
        "top_rate": 80.0 * SCALE,
        "first_development": 1.0,
        "first_life": 1.0,
    }

    def test_means(self):
        hours = swing(28, 19, 100)
        true = one_ant.simulate(TYPICAL | self.LARGE, hours, 4, np.random.default_rng(3), dt=1 / 24)
        mean = true.mean(axis=0)
        # Eight paces come in eight steps, which shows where numbers change by a tenth a day.
        for paces, share in ((8, 0.05), (40, 0.03)):
            found = grow(laws(**self.LARGE), climate(hours), paces=paces).counts[0, 1:]
            well = mean >= 3 * self.SCALE
            assert found[well] == pytest.approx(mean[well], rel=share), paces


class TestHeat:
    def test_a_hot_spell(self):
        hours = np.vstack([steady(25, 20), swing(36, 29, 15), steady(25, 45)])
        counts = one_ant.simulate(TYPICAL, hours, 3000, np.random.default_rng(4), dt=0.25)
        true = Truth(hours, counts)
        expected = grow(laws(), climate(hours)).counts[0, 1:]
        assert not worst(expected, true, share=0.03, of_sd=0.12)
        paths = simulate(laws(3000), climate(hours), np.random.default_rng(5))[:, 1:]
        assert not worst(paths.mean(axis=0), true, share=0.025)


class TestFromALoneQueenToThousands:
    """One central profile at its reference temperature, from the founding to 5,000 workers."""

    PRIOR = Prior.of(load_species("lasius-niger"))
    LAWS = PRIOR.laws(np.zeros((1, len(PRIOR))))

    @pytest.fixture(scope="class")
    @classmethod
    def growth(cls):
        hours = steady(25, 800)
        weather = climate_of(cls.PRIOR.species, hours, np.zeros(800, bool))
        return grow(cls.LAWS, weather)

    def test_founding_clutch_fits_her_room(self, growth):
        workers = growth.counts[0, :, 3]
        alone = workers < 0.05
        load = self.LAWS.load(growth.counts[0, alone])
        room = float(self.LAWS.founding_room[0])
        assert 0.5 * room < load.max() <= room * 1.01

    def test_she_pauses_until_she_has_help(self, growth):
        workers = growth.counts[0, :, 3]
        before, after = np.flatnonzero(workers < 0.5).max(), np.argmax(workers >= 20)
        assert growth.births[0, before - 8 : before].max() < 0.45 * growth.births[0, :20].max()
        assert growth.births[0, after] > 2 * growth.births[0, before]

    def test_it_gets_there(self, growth):
        assert growth.counts[0, :, 3].max() > 5000

    def rate(self, growth, low: float, high: float) -> float:
        """Mean growth rate of all ants while workers go from one number to another. [1/day]"""
        workers, total = growth.counts[0, :, 3], growth.counts[0].sum(axis=1)
        start, end = np.argmax(workers >= low), np.argmax(workers >= high)
        return float(np.log(total[end] / total[start]) / (end - start))

    def test_while_care_limits_it_grows_at_a_steady_rate(self, growth):
        # The top rate is reached at (80 - 3) / 0.25 = 308 workers.
        first, then = self.rate(growth, 20, 70), self.rate(growth, 70, 250)
        assert first > 0.01 and then == pytest.approx(first, rel=0.2)

    def test_at_her_top_rate_growth_slows_down(self, growth):
        seasons = [(70, 250), (500, 1500), (1500, 3000), (3000, 5000)]
        rates = [self.rate(growth, *season) for season in seasons]
        assert np.all(np.diff(rates) < 0) and rates[-1] < 0.3 * rates[0]

    def test_births_never_exceed_her_top_rate(self, growth):
        top = float(self.LAWS.top_rate[0])
        assert growth.births[0].max() <= top
        assert growth.births[0, -1] > 0.9 * top

    def test_the_ceiling_is_that_of_little(self, growth):
        longer = grow(
            self.LAWS,
            climate_of(self.PRIOR.species, steady(25, 1800), np.zeros(1800, bool)),
            paces=2,
        )
        survival = self.LAWS.survival[0].prod()
        mean_life = self.LAWS.life[0] * gamma(1 + 1 / self.LAWS.life_shape)
        ceiling = longer.births[0, -1] * survival * mean_life
        assert longer.counts[0, -1, 3] == pytest.approx(ceiling, rel=0.02)
