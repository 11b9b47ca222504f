"""Food never falls as a colony grows or warms, and follows its larvae."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

import antgrowth as ag
from antgrowth.food import energetics as e
from antgrowth.food.intake import learn_intake

AMOUNTS = ("sugar_mg", "protein_mg", "prey_mg", "water_mg")
numbers = st.integers(0, 3000)
warmth = st.floats(12.0, 27.0)
"""Growth slows in the heat of some species, so that warmer is more only up to here. [°C]"""


def eaten(workers, larvae, temperature_c):
    return ag.daily_food(workers, larvae, temperature_c, "lasius-niger", draws=40, rng=1).draws


def never_less(more, base, names=AMOUNTS):
    for name in names:
        assert (more[name] >= base[name] * (1 - 1e-12)).all(), name


@settings(max_examples=25, deadline=None)
@given(workers=numbers, more=numbers, larvae=numbers, temperature_c=warmth)
def test_more_workers_more_food(workers, more, larvae, temperature_c):
    base, grown = (eaten(n, larvae, temperature_c) for n in (workers, workers + more))
    # Beside more workers, fewer larvae are first ones: those are smaller, but quicker.
    never_less(grown, base, ("water_mg",))
    if not larvae:
        never_less(grown, base)
        assert more == 0 or (grown["sugar_mg"] > base["sugar_mg"]).all()


@settings(max_examples=25, deadline=None)
@given(workers=numbers, more=numbers, larvae=numbers, temperature_c=warmth)
def test_more_larvae_more_food(workers, more, larvae, temperature_c):
    base, grown = (eaten(workers, n, temperature_c) for n in (larvae, larvae + more))
    never_less(grown, base)
    if not larvae:
        assert not base["protein_mg"].any() and not base["prey_mg"].any()


@settings(max_examples=25, deadline=None)
@given(workers=numbers, larvae=numbers, temperature_c=warmth, warmer=st.floats(0.0, 4.0))
def test_warmer_more_sugar_for_adults(workers, larvae, temperature_c, warmer):
    base, warm = (eaten(workers, 0, c) for c in (temperature_c, temperature_c + warmer))
    never_less(warm, base)
    if temperature_c + warmer <= 25.0:
        never_less(eaten(workers, larvae, temperature_c + warmer),
                   eaten(workers, larvae, temperature_c))  # fmt: skip


@given(sugar=st.floats(0.0, 1e6), percent=st.floats(0.5, 50.0), stronger=st.floats(1.0, 2.0))
def test_stronger_sugar_water_is_less_of_it(sugar, percent, stronger):
    strong = min(percent * stronger, e.RICHEST_PERCENT)
    assert e.solution_ul(sugar, strong) <= e.solution_ul(sugar, percent) * (1 + 1e-9)


@settings(max_examples=30, deadline=None)
@given(
    eaten_mg=st.lists(st.floats(1.0, 10.0), min_size=1, max_size=8),
    ratio=st.floats(1.02, 1.5),
    up=st.booleans(),
)
def test_more_eaten_is_a_larger_factor(eaten_mg, ratio, up):
    """All meals by one ratio: one larger meal alone may be an odd one, a sign of wild appetite."""
    needed = 5.0 * np.exp(0.3 * np.random.default_rng(1).standard_normal((100, 1)))
    needed = np.repeat(needed, len(eaten_mg), axis=1)
    meals = np.array(eaten_mg)
    still = np.full(len(meals), 0.1)
    gone = np.zeros(len(meals), bool)
    gone[0] = up

    def factor(eaten: np.ndarray) -> float:
        rng = np.random.default_rng(2)
        return learn_intake("sugar", needed, eaten, still, 0.05 * still, gone, rng).centre

    assert factor(ratio * meals) > factor(meals)


@pytest.fixture(scope="module")
def fits():
    notes = pd.DataFrame({"date": ["2026-05-01", "2026-05-20"], "workers": [25, 30],
                          "larvae": [30, ""]})  # fmt: skip
    return ag.fit(notes, ag.constant(22.0), "lasius-niger", rng=1)


def test_a_warmer_plan_is_a_larger_one(fits):
    totals = []
    for temperature_c in (16.0, 19.0, 22.0, 25.0):
        plan = fits.forecast(
            days=40, temperature=ag.constant(temperature_c), draws=200, rng=1
        ).food()
        totals.append([np.median(plan.offered[need].sum(axis=1)) for need in ("sugar", "protein")])
    assert (np.diff(totals, axis=0) > 0).all()
