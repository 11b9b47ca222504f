"""Scores: rows worked by hand, closed forms, a slow second formula and another library."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import scoringrules
from scipy import special
from simulators import baselines

from antgrowth.errors import AntgrowthError
from antgrowth.evaluation.scoring import (
    coverage,
    crps,
    interval_score,
    randomised_pit,
    stand_at_horizon,
)


def normal_crps(truth):
    """CRPS of the standard normal distribution (Gneiting & Raftery 2007, from memory)."""
    density = np.exp(-0.5 * truth**2) / np.sqrt(2 * np.pi)
    return truth * (2 * special.ndtr(truth) - 1) + 2 * density - 1 / np.sqrt(np.pi)


# --- CRPS ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("members", "truth", "whole", "fair"),
    [
        # mean |x - y| = (1 + 0 + 2) / 3; pairs apart by 1, 3, 2: 6 of 9 / 2 * 2, and of 6
        ([0, 1, 3], 1, 1 - 12 / 18, 1 - 12 / 12),
        ([3, 1, 0], 1, 1 - 12 / 18, 1 - 12 / 12),
        ([2, 2], 5, 3, 3),
        ([0, 10], 4, 5 - 20 / 8, 5 - 20 / 4),
        ([0, 10], 10, 5 - 20 / 8, 5 - 20 / 4),
        # outside of all members; pairs apart by 1, 2, 3, 1, 2, 1: 10
        ([1, 2, 3, 4], 6, 3.5 - 20 / 32, 3.5 - 20 / 24),
    ],
)
def test_crps_by_hand(members, truth, whole, fair):
    assert crps(members, truth, fair=False) == pytest.approx(whole, abs=1e-12)
    assert crps(members, truth) == pytest.approx(fair, abs=1e-12)


def test_one_member_scores_its_error():
    assert crps([7.0], 4.0, fair=False) == 3.0
    with pytest.raises(AntgrowthError, match="1 member. A fair score needs at least 2; draw"):
        crps([7.0], 4.0)
    with pytest.raises(AntgrowthError, match=r"0 members. A score needs at least 1"):
        crps([], 4.0, fair=False)


@pytest.mark.parametrize("fair", [True, False])
def test_crps_equals_the_slow_formula(fair):
    rng = np.random.default_rng(1)
    for number in (2, 3, 10, 77):
        members = rng.gamma(2.0, 5.0, number).round()  # with ties
        truth = float(rng.gamma(2.0, 5.0))
        assert crps(members, truth, fair=fair) == pytest.approx(
            baselines.crps(members, truth, fair=fair), abs=1e-10
        )


@pytest.mark.parametrize(("fair", "estimator"), [(True, "fair"), (False, "nrg")])
def test_crps_equals_another_library(fair, estimator):
    rng = np.random.default_rng(2)
    members, truth = rng.lognormal(3.0, 1.0, (50, 21)), rng.lognormal(3.0, 1.0, 50)
    theirs = scoringrules.crps_ensemble(truth, members, estimator=estimator)
    assert crps(members, truth, fair=fair) == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize("truth", [-2.0, 0.0, 0.7, 3.0])
def test_crps_of_many_members_is_that_of_their_distribution(truth):
    evenly = special.ndtri((np.arange(20_000) + 0.5) / 20_000)
    assert crps(evenly, truth, fair=False) == pytest.approx(normal_crps(truth), abs=2e-4)


def test_only_the_fair_score_does_not_depend_on_the_number_of_members():
    rng = np.random.default_rng(3)
    members = rng.standard_normal((40_000, 3))
    fair, whole = (crps(members, 0.7, fair=is_fair) for is_fair in (True, False))
    error = fair.std() / np.sqrt(len(fair))
    assert fair.mean() == pytest.approx(normal_crps(0.7), abs=4 * error)
    # Three members as the whole forecast lose E|x - x'| / 6 more, with E|x - x'| = 2 / sqrt(pi).
    assert whole.mean() == pytest.approx(normal_crps(0.7) + 1 / np.sqrt(np.pi) / 3, abs=4 * error)


def test_the_right_distribution_scores_best():
    rng = np.random.default_rng(4)
    truth = rng.standard_normal(4000)
    right, narrow, wide, off = (
        crps(shift + scale * rng.standard_normal((4000, 30)), truth).mean()
        for shift, scale in ((0, 1), (0, 0.4), (0, 2.5), (0.8, 1))
    )
    assert right < min(narrow, wide, off) - 0.03


def test_crps_takes_any_axis_and_broadcasts():
    members = np.arange(24.0).reshape(2, 4, 3) ** 1.5
    truth = np.array([[3.0, 1.0, 40.0], [2.0, 90.0, 5.0]])
    across = crps(members, truth, axis=1)
    assert across.shape == (2, 3)
    assert across[1, 2] == pytest.approx(baselines.crps(members[1, :, 2], 5.0, fair=True))
    assert crps(members, 5.0, axis=1)[1, 2] == across[1, 2]


def test_crps_takes_a_series():
    assert crps(pd.Series([0, 1, 3]), 1, fair=False) == pytest.approx(1 / 3)
    assert crps(np.zeros((0, 5)), np.zeros(0)).shape == (0,)


def test_no_answer_scores_nan():
    scores = crps([[1.0, np.nan, 2.0], [1.0, 2.0, 3.0], [1.0, 2.0, 3.0]], [1.0, np.nan, 2.0])
    assert np.isnan(scores).tolist() == [True, True, False]


@pytest.mark.parametrize(("members", "truth"), [([1.0, np.inf], 3.0), ([1.0, 2.0], np.inf)])
def test_infinite_numbers_are_sent_to_the_horizon(members, truth):
    with pytest.raises(AntgrowthError, match="infinite number.*stand_at_horizon"):
        crps(members, truth)


def test_input_stays_as_it_is():
    members = np.array([3.0, 1.0, 2.0])
    crps(members, 1.0)
    stand_at_horizon(members, 1.5)
    assert members.tolist() == [3.0, 1.0, 2.0]


# --- never -----------------------------------------------------------------------------------


def test_never_stands_at_the_horizon():
    stood = stand_at_horizon([12, 181, np.inf, np.nan, 180], 180)
    assert np.array_equal(stood, [12, 180, 180, np.nan, 180], equal_nan=True)


def test_at_a_horizon_the_crps_is_its_integral_up_to_there():
    members, truth, horizon = np.array([3.0, 8.0, 30.0, np.inf]), 5.0, 20.0
    day = np.arange(0, horizon, 1e-3) + 5e-4
    arrived = (members[:, None] <= day).mean(axis=0)
    integral = ((arrived - (truth <= day)) ** 2).sum() * 1e-3
    stood = stand_at_horizon(members, horizon)
    assert crps(stood, stand_at_horizon(truth, horizon), fair=False) == pytest.approx(integral)
    # A truth that never comes either: whoever said so for sure is right.
    assert crps(np.full(4, horizon), stand_at_horizon(np.inf, horizon)) == 0.0


# --- intervals -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("truth", "level", "score"),
    [(4, 0.9, 4), (2, 0.9, 4), (6, 0.9, 4), (8, 0.9, 4 + 20 * 2), (-1, 0.5, 4 + 4 * 3)],
)
def test_interval_score_by_hand(truth, level, score):
    assert interval_score(2, 6, truth, level) == pytest.approx(score)


def test_interval_score_equals_another_library():
    rng = np.random.default_rng(5)
    low, high, truth = rng.normal(-1, 0.2, 40), rng.normal(1, 0.2, 40), rng.normal(0, 2, 40)
    theirs = scoringrules.interval_score(truth, low, high, 0.2)
    assert interval_score(low, high, truth, 0.8) == pytest.approx(theirs)


def test_the_true_quantiles_score_best():
    truth = np.random.default_rng(6).standard_normal(20_000)
    right, narrow, wide = (interval_score(-z, z, truth, 0.9).mean() for z in (1.645, 1.1, 2.4))
    assert right < min(narrow, wide) - 0.1


def test_interval_score_of_wrong_input():
    assert np.isnan(interval_score([1, np.nan], [2, np.nan], 1.5, 0.9)).tolist() == [False, True]
    with pytest.raises(AntgrowthError, match=r"level = 90. Give a probability"):
        interval_score(1, 2, 1.5, 90)
    with pytest.raises(AntgrowthError, match="low end above its high end. Swap them"):
        interval_score([1, 3], [2, 2], 1.5, 0.9)


def test_coverage():
    assert coverage([0, 2, 4, 1], [5, 3, 6, 1], [5, 4, 4, 1]) == 0.75
    assert coverage([0, np.nan], [5, np.nan], [3, 3]) == 0.5
    assert np.isnan(coverage([], [], []))
    assert coverage(pd.Series([0, 2]), pd.Series([5, 3]), pd.Series([1, 2])) == 1.0
    with pytest.raises(AntgrowthError, match="a truth is NaN. Leave out"):
        coverage([0, 1], [5, 6], [3, np.nan])


# --- PIT -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("truth", "low", "high"),
    [(0, 0, 1 / 5), (2, 1 / 5, 4 / 5), (3, 3 / 5, 4 / 5), (1.5, 1 / 5, 2 / 5)],
)
def test_pit_lies_within_its_rank(truth, low, high):
    rng = np.random.default_rng(7)
    ranks = randomised_pit(np.tile([1, 2, 2, np.inf], (2000, 1)), np.full(2000, truth), rng)
    assert low <= ranks.min() < low + 0.01
    assert high - 0.01 < ranks.max() <= high


def test_pit_of_whole_numbers_is_uniform_where_closed_intervals_hold_too_much():
    rng = np.random.default_rng(8)
    counts = rng.poisson(2.0, (6000, 20))
    members, truth = counts[:, 1:], counts[:, 0]
    ranks = randomised_pit(members, truth, rng)
    assert np.histogram(ranks, 10, (0, 1))[0] == pytest.approx(600, abs=4.5 * np.sqrt(540))
    low, high = np.quantile(members, [0.25, 0.75], axis=1)
    assert coverage(low, high, truth) > 0.6
    inside = (np.abs(ranks - 0.5) < 0.25).mean()
    assert inside == pytest.approx(0.5, abs=4 * np.sqrt(0.25 / 6000))


def test_pit_of_a_single_truth_and_of_no_answer():
    rank = randomised_pit([1, 2, 3], 2.5, np.random.default_rng(9))
    assert rank.shape == () and 0.5 < rank < 0.75
    ranks = randomised_pit([[1, np.nan], [1, 2]], [1, np.nan], np.random.default_rng(9))
    assert np.isnan(ranks).all()
