"""What holds for every plan, however it is put together."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from temperature_records import days_of

import antgrowth as ag
from antgrowth.climate.temperature import Temperature

START = np.datetime64("2027-01-01")
CELSIUS = st.floats(5, 35).map(lambda value: round(value, 2))
DATES = st.integers(1, 300).map(lambda day: START + day)

SIMPLE = st.one_of(
    CELSIUS.map(ag.constant),
    st.builds(ag.day_night, CELSIUS, CELSIUS, st.floats(1, 23)),
    st.builds(ag.monthly_normals, st.lists(CELSIUS, min_size=12, max_size=12), st.floats(0, 15)),
    st.just(days_of("2027-01-01", "2027-12-31", 22.0)),
)


def grown(plans: st.SearchStrategy[Temperature]) -> st.SearchStrategy[Temperature]:
    return st.one_of(
        st.builds(lambda a, day, b, n: a.then(day, b, n), plans, DATES, plans, st.integers(0, 30)),
        st.builds(lambda a, day, n: a.rest(day, day + n, 9.0), plans, DATES, st.integers(1, 90)),
        st.builds(lambda a, by: a.shift(by), plans, st.floats(-3, 3)),
    )


PLANS = st.recursive(SIMPLE, grown, max_leaves=4)


@settings(max_examples=60, deadline=None)
@given(PLANS, st.integers(0, 320), st.integers(0, 20), st.integers(0, 20))
def test_days_are_the_same_whichever_way_they_are_asked_for(plan, day, first, then):
    whole = plan.hours(START + day, first + then)
    parts = [plan.hours(START + day, first), plan.hours(START + day + first, then)]
    assert np.array_equal(whole, np.concatenate(parts))
    resting = [plan.resting(START + day, first), plan.resting(START + day + first, then)]
    assert np.array_equal(plan.resting(START + day, first + then), np.concatenate(resting))


@settings(max_examples=60, deadline=None)
@given(SIMPLE, DATES, SIMPLE, st.integers(1, 40))
def test_a_ramp_stays_between_what_it_joins(before, day, after, days):
    ramp = before.then(day, after, ramp_days=days).hours(day, days)
    from_c, to_c = before.hours(day - 1, 1), after.hours(day, days)
    assert (ramp >= np.minimum(from_c, to_c) - 1e-9).all()
    assert (ramp <= np.maximum(from_c, to_c) + 1e-9).all()
    beyond = before.then(day, after, ramp_days=days).hours(day + days, 2)
    assert np.array_equal(beyond, after.hours(day + days, 2))


@settings(max_examples=40, deadline=None)
@given(PLANS, st.floats(-5, 5))
def test_a_shift_is_undone_by_its_opposite(plan, by):
    assert plan.shift(by).shift(-by).hours(START, 40) == pytest.approx(plan.hours(START, 40))


@settings(max_examples=40, deadline=None)
@given(st.lists(CELSIUS, min_size=12, max_size=12), st.floats(0, 15))
def test_normals_keep_the_mean_of_every_month(means, daily_range):
    hours = ag.monthly_normals(means, daily_range).hours("2027-01-01", 365)
    months = (START + np.arange(365)).astype("datetime64[M]").astype(int)
    for month in range(12):
        found = hours[months == months[0] + month].mean()
        assert found == pytest.approx(means[month], abs=0.05)
