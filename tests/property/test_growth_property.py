"""What must hold of growth whatever the colony and the weather."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_ants import climate, laws, steady

from antgrowth.model.covariance import Cells, covariance
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Laws
from antgrowth.model.simulation import simulate

DAYS = 90
few = settings(max_examples=12, deadline=None)


def within(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


@st.composite
def colonies(draw: st.DrawFn, draws: int = 1, **fixed: object) -> Laws:
    """Laws of all kinds of ants, quick and slow, prolific or not."""
    shares = st.lists(within(0.3, 1.0), min_size=3, max_size=3)
    every = lambda strategy: draw(st.lists(strategy, min_size=draws, max_size=draws))  # noqa: E731
    changes = {
        "days": every(st.lists(within(4.0, 30.0), min_size=3, max_size=3)),
        "survival": every(shares),
        "delay": every(within(0.0, 12.0)),
        "founding_rate": every(within(0.2, 15.0)),
        "founding_room": every(within(2.0, 60.0)),
        "rate_per_worker": every(within(0.0, 1.0)),
        "room_per_worker": every(within(0.0, 6.0)),
        "top_rate": every(within(1.0, 100.0)),
        "life": every(within(10.0, 600.0)),
        "shift_c": every(within(-4.0, 4.0)),
        "life_shape": draw(within(0.8, 4.0)),
        "first_life": draw(within(0.3, 1.0)),
        "first_development": draw(within(0.7, 1.0)),
        "pace_cv": draw(st.sampled_from([0.0, 0.05, 0.12, 0.3])),
    }
    return laws(draws, **(changes | fixed))


@st.composite
def weathers(draw: st.DrawFn, low_c: float = 2.0, high_c: float = 37.0) -> np.ndarray:
    """Days of changing warmth, with swings, shape (DAYS, 24). [°C]"""
    spells = draw(st.lists(within(low_c, high_c), min_size=1, max_size=5))
    swing = draw(within(0.0, 6.0)) * np.sin(2 * np.pi * np.arange(24) / 24)
    mean = np.repeat(spells, -(-DAYS // len(spells)))[:DAYS]
    return np.clip(mean[:, None] + swing, low_c, high_c)


@st.composite
def rests(draw: st.DrawFn) -> np.ndarray:
    start, length = draw(st.integers(0, DAYS)), draw(st.integers(0, DAYS))
    day = np.arange(DAYS)
    return (day >= start) & (day < start + length)


ALL_LIVE = {"survival": [1.0, 1.0, 1.0], "life": 1e12}


@few
@given(colonies(), weathers(), rests())
def test_expected_counts_are_never_negative(some, hours, resting):
    growth = grow(some, climate(hours, resting=resting))
    for values in (growth.counts, growth.births, growth.first, growth.midday):
        assert np.isfinite(values).all() and values.min() >= -1e-7
    assert growth.first.max() <= 1


@few
@given(colonies(**ALL_LIVE), weathers(high_c=32.0))
def test_expected_brood_is_never_above_the_room(some, hours):
    # Where no worker dies, room never shrinks, and the queen leaves off when it is full.
    growth = grow(some, climate(hours))
    room = some.founding_room[:, None] + some.room_per_worker[:, None] * growth.counts[..., 3]
    assert np.all(growth.brood <= room + 1e-6 + 0.02 * room)


@few
@given(colonies(), weathers())
def test_births_stay_below_the_top_rate_and_the_warmth(some, hours):
    weather = climate(hours)
    growth = grow(some, weather)
    appetite = some.appetite(weather.clocks(some.shift_c)).T
    assert np.all(growth.births <= appetite * some.top_rate[:, None] + 1e-9)


@few
@given(colonies(**ALL_LIVE), weathers(high_c=32.0))
def test_expected_ants_are_conserved(some, hours):
    growth = grow(some, climate(hours))
    laid = np.concatenate([[0.0], np.cumsum(growth.births[0])])
    assert growth.counts[0].sum(axis=1) == pytest.approx(laid, rel=1e-3, abs=1e-3)


@few
@given(colonies(draws=5), weathers(), rests(), st.integers(0, 2**31))
def test_whole_number_colonies_never_hold_less_than_nothing(some, hours, resting, seed):
    paths = simulate(some, climate(hours, resting=resting), np.random.default_rng(seed))
    assert paths.shape == (5, DAYS + 1, 4) and paths.min() >= 0


@few
@given(colonies(draws=5, **ALL_LIVE), weathers(high_c=32.0), st.integers(0, 2**31))
def test_whole_number_ants_are_conserved(some, hours, seed):
    paths = simulate(some, climate(hours), np.random.default_rng(seed))
    # Everyone moves on and nobody vanishes: the number that came so far only grows.
    for stage in range(4):
        assert np.all(np.diff(paths[..., stage:].sum(axis=-1), axis=1) >= 0)
    room = some.founding_room[:, None] + some.room_per_worker[:, None] * paths[..., 3]
    assert np.all(paths[..., :3].sum(axis=-1) <= np.ceil(room))


@few
@given(colonies(draws=3), weathers(), st.integers(0, 2**31))
def test_the_same_seed_gives_the_same_colonies(some, hours, seed):
    once, again = (simulate(some, climate(hours), np.random.default_rng(seed)) for _ in range(2))
    assert np.array_equal(once, again)


@few
@given(colonies(shift_c=0.0), within(12.0, 30.0), within(0.1, 3.0))
def test_warmer_is_never_slower_to_the_first_worker(some, cool_c, warmer_by):
    # Laying and development rise up to 31.6 °C under limits of 10 and 38; brood is lost above 33.
    warm_c = min(cool_c + warmer_by, 31.5)
    arrival = []
    for temperature_c in (cool_c, warm_c):
        weather = climate(steady(temperature_c, 300))
        workers = grow(replace(some, life=np.array([1e12])), weather).counts[0, :, 3]
        there = workers >= 0.5
        arrival.append(int(there.argmax()) if there.any() else 999)
    assert arrival[1] <= arrival[0]


@few
@given(st.lists(colonies(), min_size=1, max_size=4), weathers())
def test_a_draw_grows_alike_alone_and_among_others(several, hours):
    weather = climate(hours)
    number = 70  # more draws of 8 paces than one block takes
    turns = [several[k % len(several)] for k in range(number)]
    every = {
        name: np.concatenate([getattr(turn, name) for turn in turns])
        for name, value in vars(several[0]).items()
        if isinstance(value, np.ndarray)
    }
    together = grow(replace(several[0], **every), weather)
    for draw in {0, number - 7, number - 6, number - 1}:
        alone = grow(replace(several[0], **every).take([draw]), weather)
        assert alone.counts[0] == pytest.approx(together.counts[draw], rel=1e-9, abs=1e-9)
        assert alone.births[0] == pytest.approx(together.births[draw], rel=1e-9, abs=1e-9)


@few
@given(colonies(), weathers(), st.integers(20, DAYS))
def test_what_is_to_come_does_not_change_what_was(some, hours, day):
    other = hours.copy()
    other[day:] = 20.0
    was, is_too = (grow(some, climate(h)).counts[0, : day - 1] for h in (hours, other))
    assert was == pytest.approx(is_too, rel=0.01, abs=0.05)


@few
@given(colonies(), weathers(), rests())
def test_second_moments_are_a_covariance(some, hours, resting):
    weather = climate(hours, resting=resting)
    growth = grow(some, weather)
    days = np.repeat([30, 60, DAYS], 4)
    cov = covariance(some, weather, growth, Cells(days, np.tile(np.eye(4), (3, 1))))
    assert np.isfinite(cov).all() and cov == pytest.approx(cov.T, abs=1e-9)
    assert np.linalg.eigvalsh(cov).min() >= -1e-6 * max(1.0, np.diag(cov).max())


@few
@given(colonies(), weathers())
def test_inputs_are_left_alone(some, hours):
    before = {k: np.copy(v) for k, v in vars(some).items()}
    kept = hours.copy()
    weather = climate(hours)
    parts = {k: np.copy(v) for k, v in vars(weather).items() if isinstance(v, np.ndarray)}
    grow(some, weather)
    simulate(some, weather, np.random.default_rng(1))
    assert all(np.array_equal(getattr(some, k), v) for k, v in before.items())
    assert all(np.array_equal(getattr(weather, k), v) for k, v in parts.items())
    assert np.array_equal(hours, kept)
