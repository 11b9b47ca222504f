"""The examples of all docstrings run and print what they say."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import antgrowth

MODULES = ["antgrowth"] + [
    found.name
    for found in pkgutil.walk_packages(antgrowth.__path__, "antgrowth.")
    if not found.name.startswith(("antgrowth.datasets", "antgrowth.notebooks"))  # no examples
]


@pytest.mark.parametrize("name", MODULES)
def test_examples(name):
    result = doctest.testmod(importlib.import_module(name), raise_on_error=False)
    assert result.failed == 0, "see what was printed above"


def test_examples_are_found():
    found = doctest.DocTestFinder().find(importlib.import_module("antgrowth._api"))
    assert any(test.examples for test in found)
