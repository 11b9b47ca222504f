"""Unnoted losses of brood: found where they happened, and not where they did not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from invented_species import garden_ant
from simulators import one_ant
from simulators.individuals import BROOD, Loss as TrueLoss
from statistical.trials import central_values

import antgrowth as ag
from antgrowth.inference.brood_loss import (
    EVERY_DAYS,
    Loss,
    MixtureComponent,
    components,
    scan,
    with_loss,
)
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.laplace import Model, estimate
from antgrowth.inference.observations import observations_of
from antgrowth.inference.prior import Prior

ANT = garden_ant()
START = "2026-03-01"
DAYS, LOST_ON, SHARE = 75, 46, 0.8
SEEDS = range(6)
"""Taken in order, and none left out."""

STAGES = ("eggs", "larvae", "pupae", "workers")


def colony(seed: int, *losses: TrueLoss) -> np.ndarray:
    """A colony of the species, one ant at a time, shape (days, 4)."""
    central = central_values(ANT, one_ant.TYPICAL)
    rng = np.random.default_rng(seed)
    return one_ant.simulate(central, np.full((DAYS, 24), 25.0), 1, rng, dt=0.25, losses=losses)[0]


def history() -> ColonyHistory:
    return ColonyHistory(ANT, ag.constant(25.0), pd.Timestamp(START), True, None, 1)


def model(counts: np.ndarray, every: int = 5) -> Model:
    """A keeper who counts well, each few days, and notes what is seen of eggs and larvae."""
    looks = np.arange(4, len(counts), every)
    table = pd.DataFrame(counts[looks], columns=STAGES)
    table.insert(0, "date", pd.Timestamp(START) + pd.to_timedelta(looks, unit="D"))
    log = ag.read_counts(table, today="2027-01-01")
    forcing = history().forcing(history().day_of(log.end) + 1)
    return Model(Prior.of(ANT), forcing, observations_of(log, history()))


@pytest.fixture(scope="module")
def calm() -> list[list[MixtureComponent]]:
    return [components(model(colony(seed))) for seed in SEEDS]


@pytest.fixture(scope="module")
def robbed() -> list[list[MixtureComponent]]:
    lost = TrueLoss(float(LOST_ON), SHARE, BROOD)
    return [components(model(colony(seed, lost))) for seed in SEEDS]


class TestScan:
    def test_a_colony_without_a_loss_is_hardly_suspected(self, calm):
        doubts = [1 - sum(b.probability for b in found if b.loss is None) for found in calm]
        assert np.mean(doubts) < 0.2 and np.median(doubts) < 0.1, doubts

    def test_most_of_the_brood_gone_is_noticed(self, robbed):
        found = [readings[0] for readings in robbed]
        assert all(component.loss is not None for component in found)
        assert all(component.probability > 0.9 for component in found)

    def test_on_the_day_and_by_as_much(self, robbed):
        losses = [readings[0].loss for readings in robbed]
        # Looks are five days apart.
        assert all(abs(loss.day - LOST_ON) <= 5 for loss in losses), losses
        shares = np.array([loss.share for loss in losses])
        assert np.all(np.abs(shares - SHARE) < 0.25) and np.mean(shares) == pytest.approx(
            SHARE, abs=0.12
        )

    def test_believing_in_the_loss_explains_the_notes(self, robbed):
        for with_it, *others in robbed:
            for without in others:
                assert with_it.estimate.log_density > without.estimate.log_density + 2

    def test_a_log_too_short_to_tell(self):
        # The evening of the founding: there is nothing that could have been lost.
        alone = ag.read_counts(pd.DataFrame({"date": [START], "eggs": ["0"]}), today="2027-01-01")
        whole = model(colony(0))
        m = replace(whole, observations=observations_of(alone, history()))
        assert scan(m, estimate(m)) is None
        (only,) = components(m)
        assert only.loss is None and only.probability == 1.0
        assert only.model.forcing is m.forcing and only.model.observations is m.observations

    def test_only_days_with_brood_to_lose_are_tried(self):
        m = model(colony(0))
        best = estimate(m)
        found = scan(m, best)
        brood = best.linearised.growth.brood[0]
        first = int((brood >= 1).argmax())
        assert first <= found.day < int(m.cells.days.max())
        assert (found.day - first) % EVERY_DAYS == 0
        assert 0.05 <= found.share <= 0.95


class TestBeliefs:
    def test_the_most_probable_first_and_all_add_up(self, calm, robbed):
        for found in (*calm, *robbed):
            chances = [component.probability for component in found]
            assert sum(chances) == pytest.approx(1.0)
            assert chances == sorted(chances, reverse=True) and 1 <= len(chances) <= 2

    def test_each_has_the_forcing_it_believes_in(self, robbed):
        for component in (b for found in robbed for b in found):
            extra = component.model.forcing.loss.sum()
            expected = 0.0 if component.loss is None else -3 * np.log1p(-component.loss.share)
            assert extra == pytest.approx(expected)


class TestWithLoss:
    def test_brood_of_the_day_falls_by_the_share_and_workers_stay(self):
        m = model(colony(0))
        changed = with_loss(m, Loss(day=46, share=0.6, probability=1.0))
        x = np.zeros((1, len(m.prior)))
        before, after = m.grow(x).counts[0], changed.grow(x).counts[0]
        assert after[45] == pytest.approx(before[45], rel=0.02)
        assert after[46, 1:3] == pytest.approx(0.4 * before[46, 1:3], rel=0.12)
        # Eggs laid in the course of the day meet less of the loss.
        assert 0.4 < after[46, 0] / before[46, 0] < 0.55
        # Only those who would have left their cocoons that day are missing among the workers.
        assert before[45, 3] < after[46, 3] < before[46, 3]
        assert after[60, 3] < 0.8 * before[60, 3]

    def test_the_model_itself_is_not_changed(self):
        m = model(colony(0))
        loss = m.forcing.loss.copy()
        changed = with_loss(m, Loss(day=46, share=0.6, probability=1.0))
        assert np.array_equal(m.forcing.loss, loss)
        assert changed.observations is m.observations and changed.prior is m.prior
        added = changed.forcing.loss - loss
        assert np.flatnonzero(added.any(axis=1)).tolist() == [45]
        assert added[45] == pytest.approx(np.full(3, -np.log(0.4)))
