"""DEVELOPERS.md speaks of names, units, modules and files that exist."""

from __future__ import annotations

import importlib
import re
from dataclasses import is_dataclass
from pathlib import Path

import pytest
from test_layers import LAYERS

import antgrowth
from antgrowth._profiles.parameters import PARAMETERS

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def table(heading: str) -> list[list[str]]:
    """Rows of the first table below a heading, its own heading left out."""
    (section,) = re.findall(rf"^## {heading}\n(.*?)(?=^## |\Z)", TEXT, re.MULTILINE | re.DOTALL)
    lines = re.findall(r"^\|(.*)\|$", section, re.MULTILINE)
    return [[cell.strip() for cell in line.split(" | ")] for line in lines[2:]]


GLOSSARY = [(name.strip("`"), unit, meaning) for name, unit, meaning in table("Glossary")]


def exists(name: str) -> bool:
    """Whether a dotted name is of the package: a public name, or one of a module, or below it."""
    first, *rest = name.split(".")
    found: object = antgrowth
    if first in antgrowth.__all__:
        rest = [first, *rest]
    else:
        try:
            found = importlib.import_module(f"antgrowth.{first}")
        except ModuleNotFoundError:
            return False
    for part in rest:
        if is_dataclass(found) and part in found.__dataclass_fields__:
            return part == rest[-1]
        if not hasattr(found, part):
            return False
        found = getattr(found, part)
    return True


@pytest.mark.parametrize(("name", "unit", "meaning"), GLOSSARY, ids=[row[0] for row in GLOSSARY])
def test_name_is_of_the_package(name, unit, meaning):
    assert unit and meaning
    if name in PARAMETERS:
        assert unit == PARAMETERS[name].unit
    else:
        assert exists(name), f"{name} is not in the package: correct the glossary"


def test_names_are_told_once():
    names = [name for name, *_ in GLOSSARY]
    assert len(names) == len(set(names)) > 20


def test_a_wrong_name_is_found_out():
    assert exists("Forecast.paths") and exists("laws.Laws.days") and exists("Fit.days")
    assert not exists("Forecast.path")
    assert not exists("laws.Laws.days.more")
    assert not exists("lows.Laws")


def test_layers_name_all_public_modules():
    told = {layer: set(re.findall(r"`(\w+)`", modules)) for layer, modules, _ in table("Layers")}
    public = {
        layer: {name for name in modules if not name.startswith("_")}
        for layer, modules in LAYERS.items()
    }
    assert told == {layer: names for layer, names in public.items() if names}


def test_files_it_names_are_there():
    named = re.findall(r"`\S*?((?:tests|datasets|notebooks)/[\w/.-]+|\.ci/run)`", TEXT)
    named += re.findall(r"python (\S+\.py)", TEXT)
    assert len(named) > 10
    assert [name for name in named if not (ROOT / name).exists()] == []
