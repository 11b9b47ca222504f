"""The examples of all docstrings run and print what they say."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import antgrowth

MODULES = ["antgrowth"] + [
    f"antgrowth.{found.name}"
    for found in pkgutil.iter_modules(antgrowth.__path__)
    if not found.ispkg  # data, and programs without examples
]


@pytest.mark.parametrize("name", MODULES)
def test_examples(name):
    result = doctest.testmod(importlib.import_module(name), raise_on_error=False)
    assert result.failed == 0, "see what was printed above"


def test_examples_are_found():
    found = doctest.DocTestFinder().find(importlib.import_module("antgrowth.fit"))
    assert any(test.examples for test in found)
