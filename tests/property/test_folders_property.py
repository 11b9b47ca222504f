"""colony.toml and species files: whatever stands in them is told, or it can be used."""

from __future__ import annotations

import copy
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given, strategies as st
from odd import (
    CHANGES,
    Raw,
    as_toml_file,
    changed,
    inputs,
    kinds_of_places,
    nested,
    odd_toml,
    told_or_fine,
)

import antgrowth as ag
from antgrowth.errors import AntgrowthError

COLONY = {
    "name": "a", "species": "lasius-niger", "queen_since": "2026-06-04", "queens": 1,
    "hemisphere": "north", "country": "DE",
    "temperature": {"day_c": 26.0, "night_c": 20.0, "day_hours": 13.0},
    "rest": [{"start": "2026-11-15", "end": "2027-02-20", "temperature_c": 8.0}],
    "milestones": [
        {"id": "out-of-tube", "lead_days": 3,
         "triggers": [{"stage": "workers", "count": 12}, {"note": ["mould"]}]},
        {"id": "first-worker", "done": "2026-09-02"},
    ],
    "nests": [{"name": "tube", "workers": 25},
              {"name": "n", "area_cm2": 60.0, "area_per_worker_cm2": 0.5}],
    "outdoors": {"normals_c": [1, 2, 5, 9, 14, 17, 19, 18, 15, 10, 5, 2], "daily_range_c": 8,
                 "workers": 100, "weeks": 8, "chance": 0.8},
}  # fmt: skip
SPECIES = tomllib.loads(
    (files("antgrowth.datasets") / "species" / "lasius-niger.toml").read_text(encoding="utf-8")
)
MANGLED = st.sampled_from(
    ["", "x = " + "[" * 100_000 + "\n", "x = " + "{a=" * 3000 + "\n", "a." * 3000 + "a = 1\n",
     "x = " + "9" * 5000 + "\n", "x = '''\n", "x = 1979-13-01\n"]
)  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("odd") / "ants"
    path.mkdir()
    (path / "counts.csv").write_text("date,eggs\n2026-06-20,12\n2026-07-10,20\n", encoding="utf-8")
    return path


def said(folder: Path, text: str, name: str = "colony.toml") -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder if name == "colony.toml" else folder / name


@inputs(60, 8000)
@given(
    st.sampled_from(kinds_of_places(COLONY)).flatmap(st.sampled_from), CHANGES, odd_toml, MANGLED
)
def test_a_colony_file_that_was_changed(folder, place, change, value, before):
    table = copy.deepcopy(COLONY)
    changed(table, place, change, value)
    with told_or_fine():
        ag.load_colony(said(folder, before + as_toml_file(table))).summary()


@inputs(40, 8000)
@given(
    st.sampled_from(kinds_of_places(SPECIES)).flatmap(st.sampled_from), CHANGES, odd_toml, MANGLED
)
def test_a_species_file_that_was_changed(folder, place, change, value, before):
    table = copy.deepcopy(SPECIES)
    changed(table, place, change, value)
    with told_or_fine():
        ant = ag.load_species(said(folder, before + as_toml_file(table), "ant.toml"))
        ant.summary()
        low, middle, high = sorted(ant.egg_to_worker_days(25.0))
        assert 0 <= low <= middle <= high


@inputs(40, 3000)
@given(st.binary(max_size=200) | st.text('abc=[]{}".\n1#', max_size=80).map(str.encode))
def test_any_file_as_colony_or_species(folder, raw):
    for name, read in (("colony.toml", ag.load_colony), ("ant.toml", ag.load_species)):
        path = folder / name
        path.write_bytes(raw)
        with told_or_fine():
            read(folder if name == "colony.toml" else path)


def refused(folder: Path, place: tuple, value: object) -> str:
    table = copy.deepcopy(COLONY)
    changed(table, place, "another", value)
    with pytest.raises(AntgrowthError) as caught:
        ag.load_colony(said(folder, as_toml_file(table)))
    return str(caught.value)


class TestFound:
    """Values that once ended in an error of something else, or passed for sound."""

    @pytest.mark.parametrize("value", [True, "24", "２４", 10**400, Raw("nan"), [24], {"a": 1}])
    @pytest.mark.parametrize("key", ["day_c", "night_c", "day_hours"])
    def test_what_is_no_temperature(self, folder, key, value):
        assert f"temperature.{key} = " in refused(folder, ("temperature", key), value)

    @pytest.mark.parametrize(
        ("place", "value", "words"),
        [
            (("country",), ["DE"], "country = ['DE']. Allowed: the two-letter code"),
            (("country",), {"a": 1}, "country = {'a': 1}. Allowed"),
            (("queens",), 10**400, "queens = 1000"),
            (("queens",), Raw("9" * 5000), "not a TOML file"),
            (("name",), nested(300), "name = "),
            (("queen_since",), Raw("0001-01-01"), "1900 to 2199 has no such day"),
            (("queen_since",), Raw("1900-01-01"), "are 127 years. Allowed: up to 40"),
            (("queen_since",), "1900-01-01", "are 127 years. Allowed: up to 40"),
            (("nests", 0, "workers"), 10**400, "Allowed: a number above 0, up to 1,000,000."),
            (("nests", 0, "workers"), True, "Allowed: a number above 0, up to 1,000,000."),
            (("outdoors", "workers"), 10**7, "Allowed: a whole number from 1 to 1,000,000."),
            (("outdoors", "normals_c"), [10**400] * 12, "monthly_normals: month 1 = 1000"),
            (("milestones", 0, "triggers", 0, "count"), 10**400, "up to 1,000,000"),
            (("rest", 0, "temperature_c"), "8", "rest.temperature_c = '8'. Give a number"),
        ],
    )
    def test_values_that_cannot_be(self, folder, place, value, words):
        assert words in refused(folder, place, value)

    @pytest.mark.parametrize("name", ["colony.toml", "ant.toml"])
    @pytest.mark.parametrize("text", ["x = " + "[" * 100_000, "x = " + "9" * 5000])
    def test_files_that_the_parser_gives_up_on(self, folder, name, text):
        path = said(folder, text, name)
        with pytest.raises(AntgrowthError, match="not a TOML file"):
            (ag.load_colony if name == "colony.toml" else ag.load_species)(path)

    @pytest.mark.parametrize("value", [10**400, True, "24", Raw("inf")])
    def test_a_number_of_a_profile_that_is_none(self, folder, value):
        table = copy.deepcopy(SPECIES)
        table["laying"]["top_rate"]["value"] = value
        with pytest.raises(AntgrowthError, match=r"laying\.top_rate\.value = "):
            ag.load_species(said(folder, as_toml_file(table), "ant.toml"))

    def test_a_threshold_just_above_freezing(self, folder):
        table = copy.deepcopy(SPECIES)
        table["development"]["pupa"]["lower_c"]["value"] = 1e-5
        ant = ag.load_species(said(folder, as_toml_file(table), "ant.toml"))
        days, low, high = ant.egg_to_worker_days(25.0)
        assert 0 < low < days < high
