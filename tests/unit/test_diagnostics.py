"""The tail diagnostic of a fit."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.diagnostics import tail_index_of


@pytest.mark.parametrize("shape", [0.3, 0.7, 1.2])
def test_shape_of_a_pareto_law_is_found(shape):
    # Pareto of index 1/shape by its quantiles; its tail has exactly this shape.
    chance = (np.arange(20_000) + 0.5) / 20_000
    assert tail_index_of(-shape * np.log1p(-chance)) == pytest.approx(shape, abs=0.06)


def test_equal_weights_have_no_tail():
    assert tail_index_of(np.zeros(500)) == 0.0


def test_few_draws_tell_nothing():
    assert np.isnan(tail_index_of(np.zeros(50)))


def test_weights_of_any_size_are_taken():
    draws = np.random.default_rng(1).exponential(0.5, 2000)
    assert tail_index_of(draws + 5000) == pytest.approx(tail_index_of(draws))


def test_a_log_that_says_little_leaves_a_normal_posterior():
    notes = pd.DataFrame({"date": ["2026-07-20"], "eggs": ["~9"]})
    fit = ag.fit(notes, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=3)
    assert fit.tail_index < 0.7
