"""Degree-days: shapes in, shapes out, edges, and what is refused."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from temperature_records import message

from antgrowth.climate.degree_days import from_hours, single_sine


def test_numbers_arrays_and_series_alike():
    low, high = np.array([[5.0, 20.0], [0.0, 12.0]]), np.array([[30.0, 30.0], [8.0, 12.0]])
    found = single_sine(low, high, 10.0)
    one_by_one = [[float(single_sine(a, b, 10.0)) for a, b in zip(*row, strict=True)]
                  for row in zip(low, high, strict=True)]  # fmt: skip
    assert found == pytest.approx(np.array(one_by_one))
    assert found[0, 1] == 15.0 and found[1].tolist() == [0.0, 2.0]
    assert single_sine(pd.Series(low[0]), 30.0, 10.0) == pytest.approx(found[0])
    assert np.ndim(single_sine(5, 30, 10)) == 0
    assert single_sine([], [], 10.0).shape == (0,)
    assert np.isnan(single_sine([5.0, np.nan], [30.0, 30.0], 10.0)).tolist() == [False, True]


def test_a_threshold_at_an_extreme():
    assert float(single_sine(10, 30, 10)) == 10.0
    assert float(single_sine(0, 10, 10)) == 0.0


def test_a_day_above_the_upper_threshold_counts_as_if_at_it():
    assert float(single_sine(35, 40, 15, upper_c=32)) == pytest.approx(17.0)
    assert float(from_hours([36.0] * 24, 15, upper_c=32)) == 17.0


def test_by_the_hour():
    hours = np.array([[10.0] * 12 + [20.0] * 12, [30.0] * 24])
    assert from_hours(hours, 15.0).tolist() == [2.5, 15.0]
    assert from_hours(hours, 15.0, upper_c=25.0).tolist() == [2.5, 10.0]
    assert from_hours(np.stack([hours, hours]), 15.0).shape == (2, 2)
    assert np.isnan(from_hours([np.nan] * 24, 15.0))


def test_warmer_brings_never_less():
    low = np.linspace(-5, 25, 200)
    assert (np.diff(single_sine(low, low + 9, 11.0)) >= 0).all()


def test_refused():
    assert message(lambda: single_sine([5, 30, 31], [30, 5, 6], 10)) == (
        "single_sine: the highest temperature is below the lowest in 2 of 3 days, first in day 1 "
        "(5 below 30). Swap the two columns, or correct these days."
    )
    text = (
        "degree-days: upper_c = 10 is not above lower_c = 15 [°C]. Swap them, or leave the upper "
        "threshold out."
    )
    assert message(lambda: single_sine(5, 30, 15, upper_c=10)) == text
    assert message(lambda: from_hours([20.0], 15, upper_c=10)) == text
