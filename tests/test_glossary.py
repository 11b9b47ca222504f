"""DEVELOPERS.md speaks of names, units, rooms and files that exist."""

from __future__ import annotations

import importlib
import re
from dataclasses import is_dataclass
from pathlib import Path

import pytest
from test_layers import ORDER

import antgrowth
from antgrowth.species.parameters import PARAMETERS

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
    rest = name.split(".")
    found: object = antgrowth
    while rest[0] not in dir(found):
        try:
            found = importlib.import_module(f"{found.__name__}.{rest.pop(0)}")
        except ModuleNotFoundError:
            return False
        if not rest:
            return True
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


TERMS = sorted({term for *_, meaning in GLOSSARY for term in re.findall(r"\*([^*]+)\*", meaning)})
SOURCE = " ".join(
    path.read_text(encoding="utf-8").lower().replace("_", " ")
    for path in Path(antgrowth.__file__).parent.rglob("*.py")
)


@pytest.mark.parametrize("term", TERMS)
def test_term_is_used_by_the_code(term):
    words = re.sub(r"\s+", " ", SOURCE.replace("\n", " "))
    assert term.lower() in words, f"{term}: the code says otherwise, correct the glossary"


def test_names_are_told_once():
    names = [name for name, *_ in GLOSSARY]
    assert len(names) == len(set(names)) > 20


def test_a_wrong_name_is_found_out():
    assert exists("Forecast.paths") and exists("model.parameters.Laws.days") and exists("Fit.days")
    assert not exists("Forecast.path")
    assert not exists("model.parameters.Laws.days.more")
    assert not exists("model.lows.Laws") and not exists("lows.Laws")


def test_rooms_stand_in_their_order():
    told = [set(re.findall(r"`(\w+)`", rooms)) for rooms, _ in table("Rooms")]
    assert told == [shown for rooms in ORDER if (shown := rooms - {"__init__", "_aliases"})]


def test_files_it_names_are_there():
    named = re.findall(r"`\S*?((?:tests|datasets|notebooks)/[\w/.-]+|\.ci/run)`", TEXT)
    named += re.findall(r"python (\S+\.py)", TEXT)
    assert len(named) > 10
    assert [name for name in named if not (ROOT / name).exists()] == []
