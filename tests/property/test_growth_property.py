"""What must hold of growth whatever the colony and the weather."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import one_day
import pytest
from hypothesis import given, settings, strategies as st
from invented_ants import ALL_LIVE, forcing, laws, steady

from antgrowth.model.common_random_numbers import CommonChance
from antgrowth.model.covariance import Cells, moments
from antgrowth.model.life_cycle import LifeCycle
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Laws, Transfer
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
        "days": every(st.lists(within(4.0, 40.0), min_size=3, max_size=3)),
        "survival": every(shares),
        "rest_survival": every(st.lists(within(0.01, 1.0), min_size=3, max_size=3)),
        "delay": every(within(0.0, 12.0)),
        "founding_rate": every(within(0.2, 15.0)),
        "rate_per_worker": every(within(0.0, 1.0)),
        "top_rate": every(within(1.0, 100.0)),
        "eggs_eaten": every(within(0.0, 5.0)),
        "places_alone": every(within(0.5, 60.0)),
        "places_per_worker": every(within(0.0, 6.0)),
        "places_power": every(within(0.5, 1.1)),
        "pupa_care": every(within(0.1, 2.0)),
        "life": every(within(10.0, 600.0)),
        "first_life": every(within(0.3, 1.0)),
        "first_development": every(within(0.7, 1.0)),
        "season_end": every(within(20.0, 250.0)),
        "wake_days": every(within(1.0, 30.0)),
        "laying_days": every(within(1.0, 60.0)),
        "fasting": every(within(0.0, 1.0)),
        "shift_c": every(within(-4.0, 4.0)),
        "life_shape": draw(within(0.8, 4.0)),
        "development_cv": draw(st.sampled_from([0.02, 0.05, 0.12, 0.3, 0.5])),
        "drift": draw(st.sampled_from([0.0, 0.5])),
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
def years(draw: st.DrawFn) -> dict[str, object]:
    """A rest somewhere, and a kind of season."""
    start, length = draw(st.integers(0, DAYS)), draw(st.integers(0, DAYS))
    day = np.arange(DAYS)
    return {
        "resting": (day >= start) & (day < start + length),
        "season": draw(st.sampled_from(["endogenous", "exogenous", "none"])),
        "since_spring": draw(within(0.0, 300.0)),
    }


@st.composite
def transfers(draw: st.DrawFn) -> tuple[Transfer, ...]:
    one = st.builds(
        Transfer,
        st.integers(1, DAYS),
        st.integers(0, 3),
        st.integers(-30, 30).filter(bool).map(float),
    )
    return tuple(draw(st.lists(one, max_size=3)))


@few
@given(colonies(), weathers(), years(), transfers())
def test_expected_counts_are_never_negative(some, hours, year, carried):
    growth = grow(some, forcing(hours, **year, transfers=carried))
    for values in (growth.counts, growth.died, growth.last[:, :-1]):
        assert np.isfinite(values).all() and values.min() >= -1e-9
    assert np.all(np.diff(growth.died, axis=1) >= -1e-9)


@few
@given(colonies(**ALL_LIVE, eggs_eaten=0.0), weathers(high_c=32.0))
def test_expected_ants_are_conserved(some, hours):
    weather = forcing(hours)
    cycle, counts = LifeCycle(some, weather), grow(some, weather).counts[0]
    states, laid = cycle.empty(), 0.0
    for day in range(DAYS):
        laid += float(one_day.controls(cycle, day, one_day.signals(cycle, day, states)).eggs[0])
        states = one_day.expected_day(cycle, day, states)
        assert counts[day + 1].sum() == pytest.approx(laid, rel=1e-6, abs=1e-6)


@few
@given(colonies(), weathers(), years())
def test_each_day_is_a_day_of_the_law(some, hours, year):
    """Shares are shares, nobody lays above the top rate, and a closed gate lets nobody through."""
    weather = forcing(hours, **year)
    cycle = LifeCycle(some, weather)
    states = cycle.empty()
    for day in range(DAYS):
        controls = one_day.controls(cycle, day, one_day.signals(cycle, day, states))
        for share in controls[1:]:
            assert 0.0 <= share[0] <= 1.0
        assert 0.0 <= controls.eggs[0] <= cycle.laying[0, day] * some.top_rate[0] + 1e-9
        if weather.resting[day]:
            assert controls.eggs[0] == controls.placed[0] == 0.0 and controls.uneaten[0] == 1.0
        states = one_day.expected_day(cycle, day, states)


@few
@given(colonies(**ALL_LIVE), weathers(high_c=32.0))
def test_expected_brood_in_care_is_not_above_the_places(some, hours):
    # Where no worker dies places never become fewer; they are given out give or take a place, and
    # larvae turn to pupae, which may take twice as much.
    weather = forcing(hours)
    cycle = LifeCycle(some, weather)
    states = cycle.empty()
    for day in range(DAYS):
        states = one_day.expected_day(cycle, day, states)
        _, _, growing, pupae, workers = cycle.state.totals(states)
        limit = some.places(workers)
        assert growing + np.minimum(some.pupa_care, 1.0) * pupae <= limit * 1.03 + 2.0


@few
@given(colonies(draws=5), weathers(), years(), transfers(), st.integers(0, 2**31))
def test_whole_number_colonies_never_hold_less_than_nothing(some, hours, year, carried, seed):
    weather = forcing(hours, **year, transfers=carried)
    for chance in (np.random.default_rng(seed), CommonChance((seed,))):
        paths = simulate(some, weather, chance)
        assert paths.shape == (5, DAYS + 1, 4) and paths.min() >= 0


@few
@given(colonies(draws=5, **ALL_LIVE, eggs_eaten=0.0), weathers(high_c=32.0), st.integers(0, 2**31))
def test_whole_number_ants_are_conserved(some, hours, seed):
    paths = simulate(some, forcing(hours), np.random.default_rng(seed))
    # Everyone moves on and nobody vanishes: the number that came so far only grows.
    for stage in range(4):
        assert np.all(np.diff(paths[..., stage:].sum(axis=-1), axis=1) >= 0)


@few
@given(colonies(draws=5, founding_rate=1e-12, rate_per_worker=0.0), weathers(), years(),
       st.integers(0, 2**31))  # fmt: skip
def test_nobody_comes_from_nowhere(some, hours, year, seed):
    weather = forcing(hours, **year, transfers=(Transfer(1, 0, 20.0), Transfer(1, 2, 10.0)))
    paths = simulate(some, weather, np.random.default_rng(seed))
    assert np.all(paths[:, 1].sum(axis=-1) == 30)
    assert np.all(np.diff(paths[:, 1:].sum(axis=-1), axis=1) <= 0)
    for stage in range(4):
        assert np.all(np.diff(paths[:, 1:, : stage + 1].sum(axis=-1), axis=1) <= 0)


@few
@given(colonies(draws=3), weathers(), years(), st.integers(0, 2**31))
def test_the_same_seed_gives_the_same_colonies(some, hours, year, seed):
    weather = forcing(hours, **year)
    for make in (np.random.default_rng, lambda s: CommonChance((s,))):
        once, again = (simulate(some, weather, make(seed)) for _ in range(2))
        assert np.array_equal(once, again)


@few
@given(colonies(shift_c=0.0), within(12.0, 30.0), within(0.1, 3.0))
def test_warmer_is_never_slower_to_the_first_worker(some, cool_c, warmer_by):
    # Laying and development rise up to 31.6 °C under limits of 10 and 38; brood is lost above 33.
    warm_c = min(cool_c + warmer_by, 31.5)
    arrival = []
    for temperature_c in (cool_c, warm_c):
        weather = forcing(steady(temperature_c, 300))
        # Larvae that eat eggs make an early brood a small one.
        calm = replace(some, life=np.array([1e12]), eggs_eaten=np.zeros(1))
        workers = grow(calm, weather).counts[0, :, 3]
        there = workers >= 0.3
        arrival.append(int(there.argmax()) if there.any() else 999)
    assert arrival[1] <= arrival[0]


@few
@given(st.lists(colonies(life_shape=2.0, development_cv=0.12, drift=0.0), min_size=1, max_size=4),
       weathers(), years())  # fmt: skip
def test_a_draw_grows_alike_alone_and_among_others(several, hours, year):
    weather = forcing(hours, **year)
    number = 70  # more draws than one block takes
    every = Laws.joined([several[k % len(several)] for k in range(number)])
    together = grow(every, weather)
    for draw in {0, number - 7, number - 6, number - 1}:
        alone = grow(every.take(np.array([draw])), weather)
        assert alone.counts[0] == pytest.approx(together.counts[draw], rel=1e-9, abs=1e-9)
        assert alone.last[0] == pytest.approx(together.last[draw], rel=1e-9, abs=1e-9)


@few
@given(colonies(), weathers(), years(), st.integers(20, DAYS))
def test_what_is_to_come_does_not_change_what_was(some, hours, year, day):
    other = hours.copy()
    other[day:] = 20.0
    was, is_too = (grow(some, forcing(h, **year)).counts[0, : day + 1] for h in (hours, other))
    assert was == pytest.approx(is_too, rel=1e-12)


@few
@given(colonies(), weathers(), years(), transfers())
def test_second_moments_are_a_covariance(some, hours, year, carried):
    weather = forcing(hours, **year, transfers=carried)
    days = np.repeat([30, 60, DAYS], 5)
    told = moments(some, weather, Cells(days, np.tile(np.eye(5), (3, 1))), last_day=DAYS)
    whole = np.block([[told.cells, told.link], [told.link.T, told.last]])
    assert np.isfinite(whole).all() and np.array_equal(told.cells, told.cells.T)
    assert np.linalg.eigvalsh(whole).min() >= -1e-6 * max(1.0, np.diag(whole).max())
    assert np.isfinite(told.losses).all()


@few
@given(colonies(), weathers(), years())
def test_inputs_are_left_alone(some, hours, year):
    before = {k: np.copy(v) for k, v in vars(some).items()}
    kept = hours.copy()
    weather = forcing(hours, **year, transfers=(Transfer(9, 2, 5.0), Transfer(20, 3, -2.0)))
    parts = {k: np.copy(v) for k, v in vars(weather).items() if isinstance(v, np.ndarray)}
    cycle = LifeCycle(some, weather)
    start = cycle.empty()[0] + 1.0
    grow(some, weather, start=start)
    simulate(some, weather, np.random.default_rng(1), states=start[None])
    moments(some, weather, Cells(np.array([9]), np.eye(5)[:1]))
    assert np.array_equal(start, cycle.empty()[0] + 1.0)
    assert all(np.array_equal(getattr(some, k), v) for k, v in before.items())
    assert all(np.array_equal(getattr(weather, k), v) for k, v in parts.items())
    assert np.array_equal(hours, kept)
