"""Every number can be traced: source and status beside it, every source cited, nothing left open.

The checks are functions that return their faults, and each is shown to find a fault of its kind.
"""

from __future__ import annotations

import csv
import re
from importlib.resources import files
from pathlib import Path

import pandas as pd
import pytest

from antgrowth.species.parameters import PARAMETERS, SPREAD_FLOORS
from antgrowth.species.profile import list_species, load_species

DATASETS = files("antgrowth.datasets")
SPECIES = list_species()["name"].tolist()
STATUSES = (*SPREAD_FLOORS, "missing")
UNCITED = {"assumed": "assumption", "common practice": "common practice", "missing": ""}
"""Statuses without a publication, and what stands in place of a source."""

PLACEHOLDER = re.compile(
    r"\b(todo|tbd|fixme|xxx+|lorem|placeholder|citation needed|some source|foo|bar)\b|\?\?|^\W*$",
    re.IGNORECASE,
)


def cited() -> dict[str, dict[str, str]]:
    with (DATASETS / "sources.csv").open(encoding="utf-8") as stream:
        return {row["key"]: row for row in csv.DictReader(stream)}


def value_tables() -> dict[str, pd.DataFrame]:
    """Tables of numbers beside the profiles: all that have a column of sources."""
    tables = {}
    for path in sorted(Path(str(DATASETS)).rglob("*.csv")):
        table = pd.read_csv(path, dtype=str, keep_default_na=False)
        if path.name != "sources.csv" and "source" in table:
            tables[path.relative_to(str(DATASETS)).as_posix()] = table
    return tables


def evidence_faults(table: pd.DataFrame, keys: set[str]) -> list[str]:
    """What is wrong with the columns source, status and note of a table of values."""
    faults = []
    for place, row in enumerate(table.to_dict("records")):
        where = f"{row.get('parameter', place)}"
        status, source = row["status"], row["source"]
        if status not in STATUSES:
            faults.append(f"{where}: status {status!r}")
        elif status in UNCITED:
            if source not in (UNCITED[status], "assumption"):
                faults.append(f"{where}: {status}, yet source {source!r}")
        else:
            faults += [f"{where}: source {key!r}" for key in source.split(", ") if key not in keys]
        if "note" not in row:
            continue  # the README of that folder tells how values follow
        if row["note"] and PLACEHOLDER.search(row["note"]):
            faults.append(f"{where}: note {row['note']!r}")
        if status in ("derived", "secondary", "memory", "common practice") and not row["note"]:
            faults.append(f"{where}: {status}, and no note tells how it follows")
    return faults


def used_keys(tables: list[pd.DataFrame]) -> set[str]:
    return {
        key
        for table in tables
        for source, status in zip(table["source"], table["status"], strict=True)
        if source and status not in UNCITED
        for key in source.split(", ")
    }


def citation_faults(rows: dict[str, dict[str, str]]) -> list[str]:
    faults = []
    for key, row in rows.items():
        text = row["citation"]
        if len(text) <= 20 or PLACEHOLDER.search(text) or PLACEHOLDER.search(key):
            faults.append(f"{key}: {text!r}")
        if not re.fullmatch(r"(10\.\d{4,9}/\S+)?", row["doi"] or ""):
            faults.append(f"{key}: DOI {row['doi']!r}")
    return faults


class TestProfiles:
    @pytest.mark.parametrize("name", SPECIES)
    def test_every_number_has_source_and_status(self, name):
        table = load_species(name).evidence()
        assert list(table)[:2] == ["parameter", "value"]
        assert {"unit", "source", "status"} <= set(table)
        assert evidence_faults(table, set(cited())) == []

    @pytest.mark.parametrize("name", SPECIES)
    def test_texts_hold_no_placeholder(self, name):
        ant = load_species(name)
        for text in (*ant.cautions, ant.common_name, ant.scientific_name):
            assert not PLACEHOLDER.search(text), text

    @pytest.mark.parametrize("name", SPECIES)
    def test_weak_evidence_has_a_wide_prior(self, name):
        for path, number in load_species(name).numbers.items():
            if not PARAMETERS[path].held:
                floor = SPREAD_FLOORS[number.status][PARAMETERS[path].scale]
                assert number.spread >= floor, path

    def test_the_rule_makes_weak_evidence_wider(self):
        for scale in ("log", "logit", "celsius"):
            ladder = [
                SPREAD_FLOORS[status][scale]
                for status in ("read", "derived", "secondary", "memory", "assumed")
            ]
            assert ladder == sorted(set(ladder)), scale

    def test_no_number_of_another_ant_is_called_read(self):
        # A note that speaks of a relative or of a guess goes with a weaker status.
        for name in SPECIES:
            for path, number in load_species(name).numbers.items():
                if number.status == "read":
                    assert not re.search(r"relative|assumed|recalled", number.note), (name, path)

    def test_a_number_has_the_status_of_its_weakest_input(self):
        """What rests on a guess as well is a guess, whatever else it rests on."""
        for name in SPECIES:
            for path, number in load_species(name).numbers.items():
                if number.status in ("read", "derived", "secondary", "common practice"):
                    guess = re.search(
                        r"(is|are) assumed|a guess\b|taken for 25|many is", number.note
                    )
                    assert not guess, (name, path, number.note)

    @pytest.mark.parametrize("name", SPECIES)
    def test_ceilings_lives_and_limits_are_assumed(self, name):
        ant = load_species(name)
        for path in ("limits.founding_ceiling_c", "limits.housed_ceiling_c", "limits.heat_limit_c"):
            assert ant[path].status == "assumed", path
        pooled = name == "lasius-niger"
        assert ant["workers.life_days"].status == ("pooled" if pooled else "assumed")

    def test_masses_of_the_food_plan_keep_to_the_floors_too(self):
        for name in SPECIES:
            for path, number in load_species(name).numbers.items():
                if number.spread:
                    assert number.spread >= SPREAD_FLOORS[number.status][PARAMETERS[path].scale], (
                        path
                    )

    def test_what_a_guess_rests_on_is_cited(self):
        ant = load_species("lasius-japonicus")
        assert ant["development.egg.days"].source == "assumption"
        assert {"kamitani2015", "schlaeppi2020"} <= set(ant.sources)
        assert "Peng R, Nielsen MG, Offenberg J (2013)" in cited()["peng2013"]["citation"]

    def test_survival_of_founding_carpenter_ants(self):
        """Ito (1988), as repeated: 0.75 of eggs, 0.81 of larvae, 0.92 of pupae."""
        ant = load_species("camponotus-pennsylvanicus")
        found = [ant[f"survival.{stage}"] for stage in ("egg", "larva", "pupa")]
        assert [number.value for number in found] == [0.75, 0.81, 0.92]
        assert {number.source for number in found} == {"ito1988"}

    def test_formica_is_the_quickest(self):
        """Quickest of the ants compared by Kipyatkov and Lopatina (2015), as repeated."""
        table = list_species()
        temperate = table[table["climate"] == "temperate"].set_index("name")["egg_to_worker_days"]
        assert temperate.idxmin() == "formica-fusca"


class TestStillAssumed:
    @pytest.mark.parametrize("name", SPECIES)
    def test_the_page_of_a_species_ends_with_it(self, name):
        ant = load_species(name)
        end = ant.summary().partition("\nstill assumed: ")[2]
        assumed = [path for path, number in ant.numbers.items() if number.status == "assumed"]
        assert end.startswith(f"{len(assumed)} of {len(ant.numbers)} numbers")
        told = re.sub(r"\s+", " ", end)
        for path in assumed:
            assert path.partition(".")[2] in told, path
        assert told.index("limits: ") < told.index("development: ")
        several = "several queens: lay and rear as much as one times their number to the power 0.6"
        unknown = ant.founding != "dependent" and "rearing.queens_power" not in ant
        assert (several in told) == unknown
        assert "Still assumed" in ant._repr_html_()


class TestTables:
    @pytest.mark.parametrize("name", value_tables())
    def test_every_row_has_source_and_status(self, name):
        table = value_tables()[name]
        assert evidence_faults(table, set(cited())) == []


class TestSources:
    def test_all_are_used(self):
        used = used_keys(list(value_tables().values()))
        used |= {key for name in SPECIES for key in load_species(name).sources}
        assert used == set(cited())

    def test_all_are_complete(self):
        assert citation_faults(cited()) == []

    def test_keys_stand_once_and_in_order(self):
        with (DATASETS / "sources.csv").open(encoding="utf-8") as stream:
            rows = list(csv.reader(stream))
        assert rows[0] == ["key", "citation", "doi", "standing"]
        assert {len(row) for row in rows} == {4}
        keys = [row[0] for row in rows[1:]]
        assert keys == sorted(set(keys))

    def test_notes_name_sources_that_exist(self):
        keys = set(cited())
        undated = "camp_sec|pharaoh_sec|airag|fireanttw"
        named = re.compile(rf"\(((?:[A-Z]{{2,}}|[a-z]+)\d{{2,4}}|{undated})\b")
        for name in SPECIES:
            for path, number in load_species(name).numbers.items():
                assert set(named.findall(number.note)) <= keys, (name, path)


class TestChecksFindFaults:
    ROW = {"parameter": "x", "source": "JN75", "status": "read", "note": ""}

    @pytest.mark.parametrize(
        ("change", "fault"),
        [
            ({"source": ""}, "source ''"),
            ({"source": "JN75, nobody"}, "source 'nobody'"),
            ({"status": ""}, "status ''"),
            ({"status": "surely"}, "status 'surely'"),
            ({"status": "assumed"}, "assumed, yet source 'JN75'"),
            ({"status": "derived"}, "derived, and no note"),
            ({"status": "memory", "note": "TODO find it"}, "note 'TODO find it'"),
            ({"status": "memory", "note": "??"}, "note '??'"),
        ],
    )
    def test_of_a_number(self, change, fault):
        (found,) = evidence_faults(pd.DataFrame([self.ROW | change]), {"JN75"})
        assert fault in found
        assert evidence_faults(pd.DataFrame([self.ROW]), {"JN75"}) == []

    @pytest.mark.parametrize(
        "change",
        [{"citation": "tbd, to be found later on"}, {"citation": "Roe"}, {"doi": "doi:10.1/x"}],
    )
    def test_of_a_citation(self, change):
        row = {"citation": "Roe J (2030) A long enough title", "doi": "", "standing": ""}
        assert citation_faults({"roe2030": row}) == []
        assert len(citation_faults({"roe2030": row | change})) == 1

    def test_of_a_source_that_nobody_uses(self):
        assert used_keys([pd.DataFrame([self.ROW])]) != {"JN75", "idle"}
