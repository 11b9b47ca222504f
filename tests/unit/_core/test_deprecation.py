"""Keywords that have a new name are taken by the old one, which is told."""

from __future__ import annotations

import inspect

import pandas as pd
import pytest

import antgrowth as ag
from antgrowth._core.deprecation import renamed

NOTES = pd.DataFrame({"date": ["2026-07-20"], "eggs": [9]})


@renamed(temps="temperature")
def both(counts, temperature, *, days=1):
    """Return what it was given."""
    return counts, temperature, days


def test_the_old_name_is_taken_and_told():
    with pytest.warns(DeprecationWarning, match="both: the keyword temps is now temperature"):
        assert both(1, temps=2, days=3) == (1, 2, 3)


def test_the_new_name_and_places_say_nothing():
    # Warnings are errors here.
    assert both(1, temperature=2) == both(1, 2) == (1, 2, 1)


def test_not_both():
    with pytest.raises(TypeError, match="Write temperature=..., and not both"):
        both(1, temps=2, temperature=2)


def test_signature_and_docstring_are_those_of_the_function():
    assert list(inspect.signature(both).parameters) == ["counts", "temperature", "days"]
    assert both.__doc__ == "Return what it was given."
    assert list(inspect.signature(ag.backtest).parameters)[:2] == ["counts", "temperature"]


def test_a_backtest_takes_its_old_keyword():
    with pytest.warns(DeprecationWarning, match="backtest: the keyword temps is now temperature"):
        with pytest.raises(ag.TemperatureError, match="backtest: temperature is a int"):
            ag.backtest(NOTES, temps=24, species="lasius-niger")
