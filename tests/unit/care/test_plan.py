"""A plan of care: windows by each kind of trigger, checks, what passed and what was missed."""

from __future__ import annotations

import re
from dataclasses import replace

import matplotlib
import numpy as np
import pandas as pd
import pytest
from grown_ahead import COLUMNS, NOTES, START, day, fitted, growing, grown
from pages import words_of

import antgrowth as ag
from antgrowth.care.checks import Check
from antgrowth.care.plan import FOUNDING, KEEPING
from antgrowth.care.rest_season import rest_around, yearly
from antgrowth.colony.page import Page
from antgrowth.errors import AntgrowthError

matplotlib.use("Agg")

TUBE = {"name": "tube", "workers": 25}
NEXT = {"name": "next nest", "workers": 60}
FED = {"date": ["2026-08-10"], "food": ["honey"], "offered_mg": [40]}


def plan(ahead=None, **options) -> ag.CarePlan:
    return ag.care_plan(grown() if ahead is None else ahead, **options)


def own(*triggers: dict, **more) -> ag.Milestone:
    """A milestone of the keeper's own with these triggers."""
    table = {"id": "own", "title": "Own", "triggers": list(triggers)} | more
    return plan(milestones=[table])["own"]


class TestCounts:
    def test_the_window_is_that_of_the_arrival(self):
        found, arrival = plan(level=0.8)["out-of-tube"], grown().arrival(20)
        assert (found.first, found.last) == arrival.interval(0.8)
        assert found.middle == arrival.median == day(19 + 50)
        assert found.status == "coming" and not found.by_date

    def test_chance_over_time(self):
        found = plan()["out-of-tube"]
        for number in (10, 40, 69, 119, 200):
            assert found.chance_by(day(number)) == grown().arrival(20).chance_by(day(number))
        chances = plan().chances()
        mine = chances[chances["id"] == "out-of-tube"].set_index("date")["chance"]
        assert mine[day(69)] == found.chance_by(day(69)) and mine.is_monotonic_increasing

    @pytest.mark.parametrize(("stage", "value"), [("eggs", 10), ("brood", 10), ("pupae", 1)])
    def test_any_stage(self, stage, value):
        found = own({"stage": stage, "count": value})
        where = {"eggs": 0, "brood": 0, "pupae": 2}[stage]
        number = grown().paths[..., 0 if stage == "brood" else where]
        if stage == "brood":
            number = grown().paths[..., :3].sum(axis=-1)
        expected = (number >= value).any(axis=1).mean()
        assert found.chance_by(day(300)) == expected

    def test_first_of_several_triggers_in_each_colony(self):
        late = day(60).date().isoformat()
        found = own({"stage": "workers", "count": 20}, {"date": late})
        # Colonies 0 to 40 have 20 workers by day 59; the others come with the date.
        assert found.chance_by(day(59)) == 41 / 101
        assert found.chance_by(day(60)) == 1 and found.last == day(60)

    def test_seen_in_the_notes_is_passed(self):
        notes = (*NOTES, ("2026-08-20", "", "", "", "3+", ""), ("2026-08-30", "", "", "", "5", ""))
        ahead = grown(notes=notes, days=60)
        found = plan(ahead)["first-worker"]
        assert (found.status, found.on) == ("passed", pd.Timestamp("2026-08-20"))
        assert found.first is pd.NaT and not found.is_scheduled
        assert found.sentence() == "First worker: passed by 2026-08-20 (1 worker)."
        found = plan(ahead, milestones=[{"id": "five", "title": "Five", "triggers": [
            {"stage": "workers", "count": 5}]}])["five"]  # fmt: skip
        assert found.on == pd.Timestamp("2026-08-30")  # 3+ does not say that there were 5

    def test_brood_of_one_look_adds_up(self):
        # 7 eggs and 8 larvae on 14 August
        found = own({"stage": "brood", "count": 15})
        assert (found.status, found.on) == ("passed", START)
        assert own({"stage": "brood", "count": 16}).status != "passed"

    def test_most_colonies_there_already(self):
        ahead = growing(grown(), np.full(301, 30))
        found = plan(ahead)["out-of-tube"]
        assert found.status == "passed" and "most likely, though not noted" in found.reason

    def test_beyond_the_horizon(self):
        found = own({"stage": "workers", "count": 100_000})
        assert found.status == "beyond" and not found.is_scheduled
        assert found.sentence() == (
            "Own: hardly before 2027-06-10 (under 1 % chance by then; 100,000 workers)."
        )

    def test_open_end(self):
        found = own({"stage": "workers", "count": 260})  # colonies 0 to 41 within 300 days
        assert found.first == grown().arrival(260).interval()[0] and found.last is pd.NaT
        assert "to beyond 2027-06-10 (90% interval)" in found.sentence()

    def test_due_when_the_window_has_begun(self):
        ahead = growing(grown(), np.r_[np.zeros(1), np.full(300, 30)][None, :].repeat(101, 0))
        paths = ahead.paths.copy()
        paths[:30, 0, 3] = 30  # in a third of the colonies it has come
        assert plan(replace(ahead, paths=paths))["out-of-tube"].status == "due"


class TestNotes:
    NOTED = (*NOTES, ("2026-08-20", "", "", "", "", "some Mould in the tube"))

    def test_a_note_makes_it_due_at_once(self):
        found = plan(grown(notes=self.NOTED, days=60))["out-of-tube"]
        assert (found.status, found.on) == ("due", pd.Timestamp("2026-08-20"))
        assert 'noted: "some Mould in the tube"' in found.sentence()
        assert len(found.checks) == 3

    def test_no_mould_is_no_mould(self):
        # The third note of NOTES says "no mould".
        assert plan()["out-of-tube"].status == "coming"

    @staticmethod
    def status(note: str) -> str:
        """Whether a last note makes the colony leave its tube."""
        ahead = grown()
        notes = pd.DataFrame({"date": [START], "note": [note]})
        counts = replace(ahead.fit.counts, notes=notes)
        return plan(replace(ahead, fit=replace(ahead.fit, counts=counts)))["out-of-tube"].status

    @pytest.mark.parametrize(
        "note",
        [
            "no sign of mould", "No more mould", "no visible signs of mould", "without any mould",
            "mould-free", "mould free now", "free of mould", "checked for mould, none",
            "mould: none", "not a trace of mould", "no mould and no brood, no new mould",
            "no brood or mould",
        ],
    )  # fmt: skip
    def test_no_mould_in_other_words(self, note):
        assert self.status(note) == "coming"

    @pytest.mark.parametrize(
        "note",
        [
            "mould", "no eggs, mould", "no eggs but mould", "no water because of mould",
            "no mould; water low", "could not get rid of the mould", "mould, none of it near her",
            "no mould in the cotton, but on the glass some mould", "no eggs. Mouldy cotton",
            "no longer alone, she has workers, water low", "casino mould",
        ],
    )  # fmt: skip
    def test_mould_beside_a_no(self, note):
        assert self.status(note) == "due"

    def test_done_by_the_keeper(self):
        found = plan(
            grown(notes=self.NOTED, days=60),
            milestones=[{"id": "out-of-tube", "done": "2026-08-20"}],
        )["out-of-tube"]
        assert found.status == "done" and found.sentence().endswith("done 2026-08-20.")
        assert found.rule.status == "common practice"

    def test_a_note_alone_waits(self):
        found = own({"note": ["majors"]})
        assert found.status == "not scheduled"
        assert found.reason == 'waits for a note such as "majors"'


class TestDates:
    def test_each_year_by_hemisphere(self):
        north, south = (
            plan(hemisphere=side, milestones=[{"id": "own", "title": "Own", "triggers": [
                {"date": "05-01"}]}])["own"]
            for side in ("north", "south")
        )  # fmt: skip
        assert north.first == north.last == pd.Timestamp("2027-05-01")
        assert south.first == pd.Timestamp("2026-11-01")
        assert north.chance_by("2027-04-30") == 0 and north.chance_by("2027-05-01") == 1

    def test_once(self):
        assert own({"date": "2027-01-05"}).first == pd.Timestamp("2027-01-05")
        assert own({"date": "2026-08-01"}).status == "passed"

    def test_days_of_the_southern_year(self):
        assert yearly("08-31", 2026, "south") == pd.Timestamp("2027-02-28")
        assert yearly("10-15", 2026, "south") == pd.Timestamp("2027-04-15")


class TestRest:
    def test_season_of_the_species_with_ramps(self):
        found = plan()
        begins, ends = found["rest-begins"], found["rest-ends"]
        ramp = pd.Timedelta(days=15)
        assert begins.last - begins.first == ramp and begins.last == pd.Timestamp("2026-10-15")
        assert ends.first == pd.Timestamp("2027-03-01") and ends.last - ends.first == ramp
        assert begins.prepare_from == begins.first - pd.Timedelta(days=14)  # the profile's
        assert begins.by_date and begins.middle is pd.NaT

    def test_due_by_the_season_whatever_the_numbers(self):
        cold = ag.constant(24).rest("2026-10-20", "2027-02-10", 8.0)
        few = replace(
            growing(grown(), np.full(301, 5)), temperature=cold, start=pd.Timestamp("2026-10-10")
        )
        season, count = {"season": "rest begins"}, {"stage": "workers", "count": 50}
        for triggers in ([season], [season, count], [count, season]):
            table = {"id": "own", "title": "Own", "triggers": triggers, "ramp_days": 20}
            found = plan(few, milestones=[table])["own"]
            assert found.when() == (
                "due now, 2026-09-30 to 2026-10-20; prepare now (rest, as the forecast has it)"
            )
            assert found.is_scheduled and found.chance_by("2026-10-10") == 1

    def test_a_planned_rest_counts(self):
        cold = ag.constant(24).rest("2026-11-20", "2027-02-10", 8.0)
        ahead = fitted().forecast(days=250, temperature=cold, draws=20, rng=1)
        found = plan(ahead)
        assert found["rest-begins"].last == pd.Timestamp("2026-11-20")
        assert found["rest-ends"].first == pd.Timestamp("2027-02-10")
        assert found["rest-begins"].reason == "rest, as the forecast has it"

    def test_in_the_south_half_a_year_later(self):
        warm = replace(grown(), temperature=ag.constant(24), start=pd.Timestamp("2026-01-20"))
        season = rest_around(warm, "south")
        assert (season.begins, season.ends) == (
            pd.Timestamp("2026-04-15"), pd.Timestamp("2026-09-01"),
        )  # fmt: skip
        assert season.words == "not planned, usual for Lasius niger" and not season.planned

    @staticmethod
    def warm_from(start: str) -> ag.CarePlan:
        """The plan of a forecast that begins on another day, in a year that is never cool."""
        return plan(replace(grown(), start=pd.Timestamp(start), temperature=ag.constant(24)))

    def test_a_season_that_was_missed_says_so(self):
        found = self.warm_from("2027-08-14")["rest-begins"]
        assert (found.status, found.on) == ("missed", pd.Timestamp("2026-10-15"))
        assert found.last == pd.Timestamp("2027-10-15") and found.is_scheduled
        assert "missed about 2026-10-15, next 2027-09-30 to 2027-10-15" in found.sentence()

    def test_a_season_that_goes_on_unheeded_is_due_now(self):
        found = self.warm_from("2026-11-30")["rest-begins"]
        assert (found.status, found.on) == ("due", pd.Timestamp("2026-10-15"))
        assert "no rest is planned" in found.sentence()

    def test_none_for_a_species_without(self):
        ahead = fitted("oecophylla-smaragdina").forecast(days=30, draws=20, rng=1)
        found = plan(ahead)
        assert found.rest is None
        assert "rest-begins" not in [milestone.id for milestone in found]
        found = plan(ahead, milestones=[{"id": "r", "title": "R", "triggers": [
            {"season": "rest begins"}]}])["r"]  # fmt: skip
        assert found.reason == "no rest is planned and the species needs none"

    def test_chance_of_workers_before_it(self):
        found = plan()
        before = pd.Timestamp("2026-10-14")
        assert found.chance_before_rest(30) == grown().arrival(30).chance_by(before)
        assert found.before_rest_sentence(30).startswith(
            "30 workers before the rest season of 2026-10-15: 33 % chance"
        )  # day 61 - 29: colonies 0 to 32 of 101

    def test_no_chance_is_told_where_none_can_be(self):
        brief = fitted().forecast(days=20, draws=20, rng=1)
        with pytest.raises(AntgrowthError, match="Forecast 62 days or more"):
            plan(brief).chance_before_rest(30)
        tropical = fitted("oecophylla-smaragdina").forecast(days=30, draws=20, rng=1)
        with pytest.raises(AntgrowthError, match="no rest is planned or needed. Ask for a date"):
            plan(tropical).chance_before_rest(30)

    def test_the_rest_that_goes_on(self):
        cold = ag.constant(24).rest("2026-08-01", "2027-02-10", 8.0)
        fit = replace(fitted(), history=replace(fitted().history, temperature=cold))
        ahead = replace(grown(), fit=fit, temperature=cold)
        season = rest_around(ahead, "north")
        assert (season.begins, season.ends) == (
            pd.Timestamp("2026-08-01"), pd.Timestamp("2027-02-10"),
        )  # fmt: skip
        found = plan(ahead)
        assert found["rest-begins"].status == "passed"
        assert found["rest-ends"].first == pd.Timestamp("2027-02-10")
        with pytest.raises(AntgrowthError, match="the season has begun"):
            found.chance_before_rest(30)

    @pytest.mark.parametrize(
        ("start", "status", "first"),
        [
            ("2027-02-09", "coming", "2027-02-10"),
            ("2027-02-10", "due", "2027-02-10"),
            ("2027-02-25", "due", "2027-02-10"),  # the last of 15 days of warming
            ("2027-02-26", "coming", "2028-02-10"),
        ],
    )
    def test_warming_up_is_due_until_it_is_over(self, start, status, first):
        cold = ag.constant(24).rest("2026-11-20", "2027-02-10", 8.0)
        cold = cold.rest("2027-11-20", "2028-02-10", 8.0)
        found = plan(replace(grown(), start=pd.Timestamp(start), temperature=cold))
        ends = found["rest-ends"]
        assert (ends.status, ends.first) == (status, pd.Timestamp(first))
        assert ends.last - ends.first == pd.Timedelta(days=15)
        begins = pd.Timestamp("2026-11-20" if start == "2027-02-09" else "2027-11-20")
        assert found.rest.begins == begins


class TestNests:
    def test_full_and_next(self):
        found = plan(nests=[TUBE, NEXT])
        full, following = found["nest-full"], found["next-nest"]
        assert (full.first, full.last) == found.room.stages[0].full.interval()
        assert full.first - following.first == pd.Timedelta(days=14)
        assert following.prepare_from == following.first
        assert "next nest, 60 workers, joined so early that" in following.reason

    def test_without_nests(self):
        assert plan()["nest-full"].reason == "no nests are given: add [[nests]] to colony.toml"
        assert plan()["nest-full"].status == "not scheduled"

    def test_size_of_a_next_one_that_is_not_there(self):
        assert "a nest for 50 to 75 workers" in plan(nests=[TUBE])["next-nest"].reason

    def test_too_late_to_join_the_next_in_time_is_due_and_not_done(self):
        ahead = growing(grown(), np.arange(301) + 20)  # full in five days, and joining takes 14
        found = plan(ahead, nests=[TUBE, NEXT])["next-nest"]
        assert (found.status, found.on) == ("due", START)
        done = [{"id": "next-nest", "done": "2026-08-10"}]
        assert plan(ahead, nests=[TUBE, NEXT], milestones=done)["next-nest"].status == "done"


class TestOutdoors:
    MILD = ag.monthly_normals([18.0] * 12, daily_range=4)

    def test_scheduled_where_native(self):
        found = plan(weather=self.MILD, outdoors={"workers": 20, "weeks": 2}, country="DE")
        assert (found["outdoors"].first, found["outdoors"].last) == found.outdoors.windows()[0]
        assert found["outdoors"].first - found["outdoors"].prepare_from == pd.Timedelta(days=3)

    def test_not_scheduled_where_not_native(self):
        found = plan(weather=self.MILD, country="NZ")
        assert found["outdoors"].status == "not scheduled"
        assert "not known to be native to NZ" in found["outdoors"].sentence()
        assert "never release ants" in found.summary()

    def test_no_window_is_told(self):
        found = plan(weather=ag.monthly_normals([-5.0] * 12), country="DE")["outdoors"]
        assert found.reason.startswith("no window for 8 weeks with 100 workers")


class TestFood:
    def test_prey_starts_with_the_food_plan(self):
        found = plan()["protein-starts"]
        assert (found.first, found.last) == grown().food().protein_starts.interval()

    def test_from_the_first_day(self):
        ant = fitted().species.to_mapping()
        ant["founding"] = "semi-claustral"
        forager = ag.species.species_from_mapping(ant, "forager", "forager.toml")
        fit = replace(fitted(), history=replace(fitted().history, species=forager))
        found = plan(replace(grown(), fit=fit))["protein-starts"]
        assert found.status == "passed" and "prey from the first day" in found.sentence()


class TestChecks:
    def test_temperature_within_limits(self):
        (check,) = [c for c in plan()["out-of-tube"].checks if c.name == "temperature"]
        assert check.holds and "founding ceiling 28 °C" in check.text

    @pytest.mark.parametrize(
        ("celsius", "words"),
        [(29.0, "above the founding ceiling of 28 °C"), (11.0, "at which larvae stand still")],
    )
    def test_temperature_out_of_limits(self, celsius, words):
        warm = grown().fit.temperature.then("2026-08-15", celsius)
        found = plan(replace(grown(), temperature=warm))["first-worker"]
        (check,) = [c for c in found.checks if c.name == "temperature"]
        assert check.holds is False and words in check.text and found.ready is False

    def test_out_of_the_tube_another_ceiling_holds(self):
        warm = grown().fit.temperature.then("2026-08-15", 28.5)
        moved = [{"id": "out-of-tube", "done": "2026-08-10"}]
        found = plan(replace(grown(), temperature=warm), milestones=moved, nests=[TUBE, NEXT])
        (check,) = [c for c in found["next-nest"].checks if c.name == "temperature"]
        assert check.holds and "housed ceiling 29 °C" in check.text

    def test_after_the_move_that_is_planned_too(self):
        warm = grown().fit.temperature.then("2026-08-15", 28.5)
        ahead = replace(grown(), temperature=warm)
        moved = plan(ahead)["out-of-tube"].last
        for days, phase in ((0, "founding"), (1, "housed")):
            date = f"{moved + pd.Timedelta(days=days):%Y-%m-%d}"
            table = {"id": "own", "title": "Own", "triggers": [{"date": date}]}
            found = plan(ahead, milestones=[table | {"checks": ["temperature"]}])
            (check,) = found["own"].checks
            assert f"{phase} ceiling" in check.text and check.holds is (phase == "housed")
            assert "founding ceiling" in found["out-of-tube"].checks[0].text

    @staticmethod
    def warming(last_step: str, celsius: float, days: int = 300) -> Check:
        """The check of the end of a rest after which it gets warm in two steps."""
        plan_c = ag.constant(24).rest("2026-11-20", "2027-02-10", 8.0)
        plan_c = plan_c.then("2027-02-10", 8.0).then("2027-02-17", 11.0).then(last_step, celsius)
        ahead = fitted().forecast(days=days, temperature=plan_c, draws=20, rng=1)
        return plan(ahead)["rest-ends"].checks[0]

    def test_warming_in_steps_has_to_be_warm_at_its_end(self):
        fine = self.warming("2027-02-25", 24.0)  # the last of the 15 days
        assert fine.holds and fine.text.startswith("8.0 to 24.0 °C planned in the window")
        late = self.warming("2027-02-26", 24.0)
        assert late.holds is False and "at its end still a mean below 16 °C" in late.text
        assert self.warming("2027-02-25", 30.0).holds is False  # the ceiling holds on every day
        unseen = self.warming("2027-02-25", 24.0, days=190)
        assert unseen.holds is None and "the forecast ends before it is warm" in unseen.text

    def test_beyond_the_forecast_nothing_is_known(self):
        brief = fitted().forecast(days=20, draws=20, rng=1)
        (check, _) = plan(brief)["rest-ends"].checks
        assert check.holds is None and "beyond the forecast" in check.text

    def test_alerts(self, monkeypatch):
        (check,) = [c for c in plan()["out-of-tube"].checks if c.name == "alerts"]
        assert check.holds is True
        old, recent = (_Alert(START - pd.Timedelta(days=days)) for days in (60, 5))
        monkeypatch.setattr("antgrowth.care.planner.find_alerts", lambda _: [old])
        (check,) = [c for c in plan()["out-of-tube"].checks if c.name == "alerts"]
        assert check.holds is True
        monkeypatch.setattr("antgrowth.care.planner.find_alerts", lambda _: [old, recent])
        (check,) = [c for c in plan()["out-of-tube"].checks if c.name == "alerts"]
        assert check.holds is False and check.text == "brood lost (2026-08-09): see the alerts"
        assert "alerts: NOT FINE;" in plan().summary()

    def test_food(self):
        def food(feeds, workers: int) -> tuple[bool | None, str]:
            ahead = growing(grown(), np.full(301, workers))
            found = plan(ahead, feeds=feeds)["rest-begins"]
            (check,) = [c for c in found.checks if c.name == "food"]
            return check.holds, check.text

        def log(**changes):
            table = pd.DataFrame(FED | changes)
            return ag.read_feeds(table.assign(left_mg="", control_loss_mg=""), today="2027-01-01")

        assert food(None, 5) == (None, "no feeds were given")
        empty = log().until("2026-01-01")
        assert food(empty, 5) == (None, "feeds.csv holds no portion")
        assert food(log(), 5) == (False, "no protein noted in the 14 days before the last note")
        old = log(date=["2026-07-31"])
        assert (
            food(old, 5)[1] == "no sugar and no protein noted in the 14 days before the last note"
        )
        both = log(date=["2026-08-10"] * 2, food=["honey", "fruit fly"], offered_mg=[40, 5])
        assert food(both, 5) == (
            True,
            "sugar and protein noted in the 14 days before the last note",
        )
        for feeds in (log(), empty, None):  # a lone queen needs no log of food
            assert food(feeds, 0) == (True, "this colony is not fed yet")

    def test_in_a_rest_no_food_is_missing(self):
        def food(rest_from: str) -> tuple[bool | None, str]:
            cold = ag.constant(24).rest(rest_from, "2027-02-10", 8.0)
            ahead = replace(growing(grown(), np.full(301, 30)), temperature=cold)
            found = plan(ahead, feeds=feeds)["rest-ends"]
            (check,) = [c for c in found.checks if c.name == "food"]
            return check.holds, check.text

        table = pd.DataFrame(FED | {"date": ["2026-07-20"]})
        feeds = ag.read_feeds(table.assign(left_mg="", control_loss_mg=""), today="2027-01-01")
        assert food("2026-08-14") == (True, "this colony rests: water only")
        assert food("2026-08-15")[0] is False


class _Alert:
    def __init__(self, date):
        self.date, self.kind = date, "brood lost"

    def sentence(self):
        return f"{self.date:%Y-%m-%d}: brood lost"


class TestPlan:
    def test_in_the_order_of_time_and_the_unscheduled_last(self):
        found = plan(nests=[TUBE])
        days = [m.on if m.on is not pd.NaT else m.first for m in found]
        known = [date for date in days if date is not pd.NaT]
        assert known == sorted(known) and days[: len(known)] == known
        assert len(found) == len(list(found)) == len(found.frame())

    def test_the_table_says_what_the_milestones_say(self):
        found = plan(nests=[TUBE], country="DE")
        for line, milestone in zip(found.frame().to_dict("records"), found, strict=True):
            assert line["id"] == milestone.id and line["status"] == milestone.status
            for name, date in (("first", milestone.first), ("last", milestone.last)):
                assert line[name] is date or line[name] == date or date is pd.NaT
            assert line["evidence"]

    def test_keepers_amendments(self):
        changes = [
            {"id": "out-of-tube", "triggers": [{"stage": "workers", "count": 12}], "lead_days": 5},
            {"id": "outdoors", "skip": True},
        ]
        found = plan(milestones=changes)
        tube = found["out-of-tube"]
        assert (tube.first, tube.last) == grown().arrival(12).interval()
        assert tube.first - tube.prepare_from == pd.Timedelta(days=5)
        assert tube.row()["evidence"] == "set by the keeper, the keeper"
        with pytest.raises(KeyError, match="'outdoors'; there are"):
            found["outdoors"]

    def test_cautions_begin_with_the_law(self):
        for found in (plan(), plan(country="NZ")):
            texts = found.cautions()
            assert texts[0].startswith("Law") and len(set(texts)) == len(texts)
            assert any("never release" in text.lower() for text in texts)
            assert any("thermostat" in text for text in texts)

    def test_faults_all_at_once(self):
        with pytest.raises(AntgrowthError) as caught:
            plan(
                milestones=[{"id": "outdoor", "skip": True}], hemisphere="east", country="uk",
                level=1, outdoors={"weeks": 3},
            )  # fmt: skip
        text = str(caught.value)
        assert text.startswith("care_plan: milestones outdoor.skip: there is no such milestone")
        assert "hemisphere = 'east'. Allowed: north, south." in text
        assert "country = 'uk'. Allowed: the two-letter code" in text
        assert "level = 1. Give a probability" in text
        assert "outdoors goes with weather" in text

    @pytest.mark.parametrize(
        ("options", "message"),
        [
            ({"weather": 20}, "weather = 20. Give the temperatures of the place through the year"),
            ({"nests": 5}, "nests = 5. Give a list of tables, such as"),
            ({"nests": TUBE}, "nests = {'name': 'tube', 'workers': 25}. Give a list of tables"),
            ({"milestones": 5}, "milestones = 5. Give a list of tables, such as"),
            ({"milestones": "outdoors"}, "milestones = 'outdoors'. Give a list of tables"),
            ({"milestones": [5]}, "milestones = [5]. Write a line [[milestones]]"),
            (
                {"outdoors": {"foo": 1}, "weather": TestOutdoors.MILD},
                "outdoors.foo: no such key. Allowed: workers, weeks, chance.",
            ),
            ({"outdoors": {"week": 1}}, "outdoors.week: no such key. Did you mean weeks? Allowed:"),
            ({"outdoors": 4}, 'outdoors = 4. Give a table of the stay, such as {"weeks": 4}.'),
        ],
    )
    def test_arguments_of_another_kind(self, options, message):
        with pytest.raises(AntgrowthError) as caught:
            plan(**options)
        assert str(caught.value).startswith(f"care_plan: {message}")

    def test_views(self):
        found = plan(nests=[TUBE])
        assert repr(found).startswith("CarePlan('") and "scheduled from 2026-08-14 on" in repr(
            found
        )
        assert "prepare from" in found.summary() and str(found) == found.summary()
        assert found._repr_html_().startswith("<div>")
        assert len(found.sentences()) == len(found)
        assert repr(found["nest-full"]) == f"Milestone({found['nest-full'].sentence()})"

    def test_prepare_now(self):
        assert "; prepare now" in plan(
            milestones=[{"id": "out-of-tube", "lead_days": 120}]
        )["out-of-tube"].sentence()  # fmt: skip

    def test_hemisphere_is_that_of_the_fit(self):
        fit = replace(fitted(), history=replace(fitted().history, hemisphere="south"))
        found = plan(replace(grown(), fit=fit))
        assert found.hemisphere == "south"

    @staticmethod
    def recorded(hemisphere: str | None) -> ag.Forecast:
        """A forecast that puts in the rest of the species, for it has a record and no plan."""
        days = pd.date_range("2026-07-01", "2026-08-14", freq="12h")
        record = ag.read_temperature(pd.DataFrame({"time": days, "temperature_c": 24.0}))
        notes = pd.DataFrame(NOTES, columns=COLUMNS)
        fit = ag.fit(notes, record, "lasius-niger", queen_since="2026-07-04", rng=1,
                     hemisphere=hemisphere)  # fmt: skip
        return fit.forecast(days=300, draws=20, rng=1)

    def test_a_hemisphere_against_the_forecasts_own_rest(self):
        for said, asked, words in (
            (None, "south", "names none"),
            ("south", "north", "the southern"),
        ):
            ahead = self.recorded(said)
            with pytest.raises(AntgrowthError) as caught:
                plan(ahead, hemisphere=asked)
            text = str(caught.value)
            assert f"hemisphere = {asked!r}. The forecast is from a fit" in text and words in text
            assert f"Say fit(hemisphere={asked!r}) and forecast anew" in text
            begins = "2026-10-15" if said is None else "2027-04-15"
            assert f"rests from {begins} until" in text and "usual for Lasius niger" in text
            plan(ahead, hemisphere=said or "north")
            assert plan(ahead).rest.begins == pd.Timestamp(begins)

    def test_a_hemisphere_beside_a_rest_of_the_keepers_own(self):
        cold = ag.constant(24).rest("2027-05-01", "2027-08-10", 8.0)
        ahead = fitted().forecast(days=300, temperature=cold, draws=20, rng=1)
        assert plan(ahead, hemisphere="south").rest.begins == pd.Timestamp("2027-05-01")


class TestPicture:
    def test_windows_drawn_are_those_of_the_table(self):
        found = plan(nests=[TUBE])
        ax = found.plot()
        rows = [milestone for milestone in found if milestone.is_scheduled]
        assert [text.get_text() for text in ax.get_yticklabels()] == [m.title for m in rows]
        bars = [patch for patch in ax.patches if patch.get_height() == 0.5]
        for bar, milestone in zip(bars, rows, strict=True):
            begin = matplotlib.dates.num2date(bar.get_x()).date()
            assert begin == milestone.first.date()
            last = found.forecast.dates[-1] if milestone.last is pd.NaT else milestone.last
            assert bar.get_width() == max((last - milestone.first).days, 1)
        said = [text.get_text() for text in ax.texts]
        assert said[0] == "19 August to 17 November" and len(said) == len(rows) + 1
        assert ax.get_title(loc="left") == "First worker: 19 August to 17 November"

    def test_a_window_through_a_winter_is_two(self):
        found = plan(nests=[TUBE])
        milestone = next(step for step in found if step.timing is not None and step.is_scheduled)
        start = np.datetime64(found.forecast.start, "D")
        dates = start + np.resize([21, 25, 30, 181, 190, 200], 300).astype(int)
        late = replace(milestone.timing, dates=dates, rest=None, horizon=300)
        split = replace(milestone, timing=late, window=late.interval(0.9), middle=pd.NaT)
        found = replace(found, milestones=(split,))
        bars = [patch for patch in found.plot().patches if patch.get_height() == 0.5]
        assert len(bars) == 2 and max(bar.get_width() for bar in bars) < 40

    def test_into_an_axes_given_and_with_nothing_to_show(self):
        import matplotlib.pyplot as plt

        ax = plt.subplots()[1]
        names = [milestone.id for milestone in plan()]
        found = plan(milestones=[{"id": name, "skip": True} for name in names])
        assert found.plot(ax) is ax and ax.get_title(loc="left") == "Nothing is scheduled"
        assert plan().plot(plt.subplots()[1]).get_legend() is not None


class TestCautionsOfKeeping:
    def plan(self, workers: int) -> ag.CarePlan:
        notes = pd.DataFrame({"date": ["2026-07-20"], "eggs": [9], "workers": [workers]})
        since = {} if workers else {"queen_since": "2026-07-04"}
        fit = ag.fit(notes, ag.constant(24), "lasius-niger", hemisphere="north", rng=1, **since)
        return ag.care_plan(fit.forecast(days=40, draws=50, rng=1))

    def test_each_has_a_source_or_is_called_common_practice(self):
        for text in (*KEEPING, *FOUNDING):
            assert "common practice" in text or re.search(r"\b(19|20)\d\d\b", text), text

    def test_barriers_humidity_and_mould_are_on_page_and_plan(self):
        told = self.plan(12)
        page = words_of(Page(told).cautions.content)
        for lead in ("Barriers and lids: ", "Humidity: ", "Mould: "):
            assert lead in told.summary()
            assert lead in page
        assert "50 to 80 %" in page

    def test_a_lone_queen_is_not_disturbed_and_may_fail(self):
        alone, housed = (" ".join(self.plan(number).cautions()) for number in (0, 12))
        assert "A queen who is disturbed eats her brood" in alone
        assert "A founding that fails: many do." in alone
        assert "a fifth to a half (common practice, not counted)" in alone
        assert "founding that fails" not in housed

    def test_the_law_stays_first(self):
        assert self.plan(0).cautions()[0].startswith("Law")
