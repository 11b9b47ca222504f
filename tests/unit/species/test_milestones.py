"""Milestones and native countries as data: amended by id, and every fault of a file named."""

from __future__ import annotations

from importlib.resources import files

import pytest

from antgrowth.errors import SpeciesError
from antgrowth.species.milestones import (
    MilestoneRule,
    Trigger,
    amended,
    milestone_faults,
    usual_milestones,
)
from antgrowth.species.profile import list_species, load_species, species_from_mapping

LASIUS = (files("antgrowth.datasets") / "species" / "lasius-niger.toml").read_text("utf-8")
USUAL = usual_milestones("claustral", rest=True)


def profile(tmp_path, *lines: str):
    path = tmp_path / "mine.toml"
    path.write_text(LASIUS.partition("[native]")[0] + "\n".join(lines), encoding="utf-8")
    return load_species(path)


def faults(*entries: dict, keys: set[str] | None = None) -> list[str]:
    return list(milestone_faults(list(entries), USUAL, keys, own=True))


class TestUsual:
    def test_by_founding_and_rest(self):
        names = [rule.id for rule in USUAL]
        assert names == [
            "first-worker", "protein-starts", "out-of-tube", "nest-full", "next-nest",
            "rest-begins", "rest-ends", "outdoors",
        ]  # fmt: skip
        assert "rest-begins" not in [r.id for r in usual_milestones("claustral", rest=False)]
        dependent = [rule.id for rule in usual_milestones("dependent", rest=True)]
        assert "out-of-tube" not in dependent and "first-worker" not in dependent

    def test_the_tube_by_founding(self):
        def count(founding: str) -> int:
            rules = {rule.id: rule for rule in usual_milestones(founding, rest=False)}
            return rules["out-of-tube"].triggers[0].value

        assert count("claustral") == 20 and count("sealed-tube") == 25

    def test_every_one_says_what_it_rests_on(self):
        for founding in ("claustral", "semi-claustral", "sealed-tube", "dependent"):
            for rule in usual_milestones(founding, rest=True):
                assert rule.status and rule.source and rule.action, rule.id

    def test_moves_take_the_usual_time(self):
        leads = {rule.id: rule.lead_days for rule in USUAL}
        assert leads["out-of-tube"] == leads["next-nest"] == 14 and leads["outdoors"] == 3


class TestProfiles:
    def test_a_profile_without_them_has_the_usual_ones(self, tmp_path):
        ant = profile(tmp_path)
        assert ant.milestones == USUAL
        assert ant.native.countries == ()

    def test_a_profile_amends_by_id(self, tmp_path):
        ant = profile(
            tmp_path,
            "[[milestones]]", 'id = "out-of-tube"', 'triggers = [{ stage = "brood", count = 9 }]',
            'status = "read"', 'source = "own counts"',
            "[[milestones]]", 'id = "outdoors"', "skip = true",
            "[[milestones]]", 'id = "majors"', 'title = "First majors"', 'status = "assumed"',
            'source = "assumption"', 'triggers = [{ date = "05-01" }, { note = ["major"] }]',
        )  # fmt: skip
        rules = {rule.id: rule for rule in ant.milestones}
        assert rules["out-of-tube"].triggers == (Trigger("count", 9, "brood"),)
        assert rules["out-of-tube"].action == USUAL[2].action
        assert rules["out-of-tube"].status == "read"
        assert "outdoors" not in rules
        assert rules["majors"].triggers == (Trigger("date", "05-01"), Trigger("note", ("major",)))

    @pytest.mark.parametrize("name", list_species()["name"])
    def test_saved_and_read_again(self, name):
        ant = load_species(name)
        again = species_from_mapping(ant.to_mapping(), name, "again.toml")
        assert again.milestones == ant.milestones
        assert again.native == ant.native

    @pytest.mark.parametrize("name", list_species()["name"])
    def test_shipped_sources_are_kept(self, name):
        ant = load_species(name)
        for rule in (*ant.milestones, ant.native):
            if rule.status not in ("common practice", "assumed", ""):
                assert set(rule.source.split(", ")) <= set(ant.sources)

    def test_faults_of_a_profile_all_at_once(self, tmp_path):
        with pytest.raises(SpeciesError) as caught:
            profile(
                tmp_path,
                "[native]", 'countries = ["UK", "Germany"]', 'status = "memroy"', 'source = "x"',
                "[[milestones]]", 'id = "out-of-tube"', "lead_days = 400",
                "[[milestones]]", 'id = "first-worker"', 'status = "assumed"', 'source = "me"',
            )  # fmt: skip
        text = str(caught.value)
        assert "mine.toml: 6 faults\n" in text
        assert "native.countries: 'UK'. Allowed: the two-letter code" in text
        assert "Did you mean GB?" in text and "native.countries: 'Germany'" in text
        assert "native.status = 'memroy'. Allowed: read" in text and "Did you mean memory?" in text
        assert "milestones out-of-tube.lead_days = 400. Allowed: whole days from 0 to 365" in text
        assert "milestones out-of-tube: status, source missing. Say how it is known." in text
        assert "milestones first-worker.source = 'me'. Allowed for a number that is assumed" in text

    def test_native_faults(self, tmp_path):
        for line, message in (
            ('countries = ["DE"]', "native: status, source missing"),
            ('countries = []\nstatus = "assumed"\nsource = "assumption"', "at least one country"),
            ('country = "DE"', "native.country: no such key. Did you mean countries?"),
            (
                'countries = ["DE"]\nstatus = "read"\nsource = "nobody"',
                "native.source = 'nobody'. No source is called 'nobody'",
            ),
            (
                'countries = ["DE"]\nstatus = "assumed"\nsource = "assumption"\nnote = 3',
                "native.note = 3. Allowed: text",
            ),
        ):
            with pytest.raises(SpeciesError) as caught:
                profile(tmp_path, "[native]", line)
            assert message in str(caught.value)


class TestKeepers:
    def test_the_keeper_amends_without_evidence(self):
        rules = amended(USUAL, [{"id": "out-of-tube", "lead_days": 5}], by="the keeper")
        rule = next(rule for rule in rules if rule.id == "out-of-tube")
        assert (rule.lead_days, rule.status) == (5, "set by the keeper")
        assert [r.id for r in rules] == [r.id for r in USUAL]
        assert next(r for r in rules if r.id == "next-nest").status == "common practice"

    def test_a_milestone_of_their_own(self):
        rules = amended(
            (), [{"id": "show", "title": "Show", "triggers": [{"date": "2027-05-01"}]}], by="me"
        )
        assert rules == (
            MilestoneRule("show", "Show", (Trigger("date", "2027-05-01"),), status="set by me",
                          source="me"),
        )  # fmt: skip

    def test_nothing_wrong(self):
        assert not faults(
            {"id": "outdoors", "skip": True},
            {"id": "next-nest", "triggers": [{"nest": "next"}], "checks": ["food"]},
            {"id": "a-1", "title": "A", "triggers": [{"season": "rest ends"}, {"food": "protein"}]},
        )

    @pytest.mark.parametrize(
        ("entry", "message"),
        [
            ({"title": "x"}, "milestones, table 1: id = None. Allowed: small letters, digits"),
            ({"id": "Out of tube"}, "id = 'Out of tube'. Allowed: small letters"),
            ({"id": "out-of-tub"}, "title, triggers missing, and no milestone of that id is known"),
            ({"id": "outdoor", "skip": True}, "skip: there is no such milestone to leave out. Did"),
            ({"id": "outdoors", "skip": "yes"}, "skip = 'yes'. Allowed: true or false"),
            ({"id": "outdoors", "leaddays": 1}, "leaddays: no such key. Did you mean lead_days?"),
            ({"id": "outdoors", "lead_days": True}, "lead_days = True. Allowed: whole days"),
            ({"id": "outdoors", "lead_days": 1.5}, "lead_days = 1.5. Allowed: whole days"),
            ({"id": "outdoors", "title": 3}, "title = 3. Allowed: text. Put it in quotes."),
            ({"id": "outdoors", "checks": "food"}, "checks = 'food'. Allowed: a list of"),
            ({"id": "outdoors", "checks": ["foot"]}, "checks = ['foot']. Allowed: a list of"),
            ({"id": "outdoors", "triggers": []}, "triggers = []. Allowed: a list of at least one"),
            ({"id": "outdoors", "triggers": [{"stage": "ants", "count": 1}]}, "Allowed stages: eg"),
            ({"id": "outdoors", "triggers": [{"stage": "eggs", "count": 0}]}, "a whole number of"),
            ({"id": "outdoors", "triggers": [{"stage": "eggs"}]}, "Allowed: one of { stage"),
            ({"id": "outdoors", "triggers": [{"date": "2027-02-30"}]}, 'Allowed: "2027-05-01"'),
            ({"id": "outdoors", "triggers": [{"season": "winter"}]}, "Allowed: rest begins, rest"),
            ({"id": "outdoors", "triggers": [{"note": "mould"}]}, "Allowed: a list of words"),
            ({"id": "outdoors", "triggers": ["mould"]}, "Allowed: one of { stage"),
        ],
    )
    def test_each_fault_is_named(self, entry, message):
        (fault,) = faults(entry)
        assert message in fault

    def test_not_tables(self):
        (fault,) = milestone_faults({"id": "x"}, USUAL, None, own=True)
        assert "Write a line [[milestones]]" in fault

    def test_twice(self):
        (fault,) = faults({"id": "outdoors"}, {"id": "outdoors"})
        assert "the id stands twice" in fault
