"""The calendar file: read back by two parsers, whole days, names that stay."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import icalendar
import pandas as pd
import pytest
import vobject
from grown_ahead import grown

import antgrowth as ag
from antgrowth.care.calendar import PRODUCT, uid_of
from antgrowth.errors import AntgrowthError

TUBE = {"name": "tube", "workers": 25}


def plan(ahead=None, **options) -> ag.CarePlan:
    return ag.care_plan(grown() if ahead is None else ahead, nests=[TUBE], **options)


def entries(path) -> dict[str, icalendar.Event]:
    calendar = icalendar.Calendar.from_ical(path.read_bytes())
    return {str(event["uid"]): event for event in calendar.walk("VEVENT")}


@pytest.fixture
def path(tmp_path):
    return tmp_path / "care.ics"


class TestReadBack:
    def test_every_scheduled_window_is_there_in_whole_days(self, path):
        found = plan()
        found.to_ics(path)
        read = entries(path)
        scheduled = [milestone for milestone in found if milestone.is_scheduled]
        assert len(scheduled) >= 5
        for milestone in scheduled:
            event = read[uid_of(found.forecast.fit.counts.name, milestone.id)]
            start, end = event["dtstart"], event["dtend"]
            assert type(start.dt) is type(end.dt) is date and start.params["VALUE"] == "DATE"
            last = found.forecast.dates[-1] if milestone.last is pd.NaT else milestone.last
            assert start.dt == milestone.first.date()
            assert end.dt == last.date() + timedelta(days=1)  # the end is not part of it
            assert milestone.title in event["summary"] and milestone.sentence() in str(
                event["description"]
            )
            assert event["transp"] == "TRANSPARENT" and event["status"] == "CONFIRMED"

    def test_another_parser_reads_the_same(self, path):
        plan().to_ics(path)
        mine = {uid: (e["dtstart"].dt, e["dtend"].dt) for uid, e in entries(path).items()}
        other = vobject.readOne(path.read_text(encoding="utf-8"))
        read = {e.uid.value: (e.dtstart.value, e.dtend.value) for e in other.vevent_list}
        assert read == mine
        assert all(type(day) is date for days in read.values() for day in days)
        assert other.prodid.value == PRODUCT and other.version.value == "2.0"
        other.validate(raiseException=True)

    def test_form_of_the_file(self, path):
        plan().to_ics(path)
        raw = path.read_bytes()
        assert raw.startswith(b"BEGIN:VCALENDAR\r\n") and raw.endswith(b"END:VCALENDAR\r\n")
        assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
        assert b"METHOD:PUBLISH" in raw

    def test_an_alarm_when_to_prepare(self, path):
        found = plan()
        found.to_ics(path)
        event = entries(path)[uid_of(found.forecast.fit.counts.name, "out-of-tube")]
        (alarm,) = event.walk("VALARM")
        assert alarm["trigger"].dt == -timedelta(days=14) + timedelta(hours=9)

    def test_cautions_and_checks_travel_with_the_entry(self, path):
        found = plan()
        found.to_ics(path)
        text = str(
            entries(path)[uid_of(found.forecast.fit.counts.name, "out-of-tube")]["description"]
        )
        assert "Caution: Check all joints" in text and "temperature: fine" in text
        assert "food: fine; this colony is not fed yet" in text

    def test_an_open_end_is_the_horizon(self, path):
        own = {"id": "own", "title": "Own", "triggers": [{"stage": "workers", "count": 260}]}
        found = plan(milestones=[own])
        found.to_ics(path)
        event = entries(path)[uid_of(found.forecast.fit.counts.name, "own")]
        assert event["dtend"].dt == grown().dates[-1].date() + timedelta(days=1)
        assert "beyond" in str(event["description"])


class TestNames:
    def test_they_stay_when_a_count_changes_the_dates(self, path):
        plan().to_ics(path)
        before = entries(path)
        paths = grown().paths.copy()
        paths[..., 3] += 10  # a later note: more workers than was thought
        paths[:, 0, 3] = 0
        later = replace(grown(), paths=paths, start=grown().start + pd.Timedelta(days=7))
        plan(later).to_ics(path)
        after = entries(path)
        assert set(before) == set(after)
        tube = uid_of(later.fit.counts.name, "out-of-tube")
        assert before[tube]["dtstart"].dt != after[tube]["dtstart"].dt
        assert after[tube]["sequence"] >= before[tube]["sequence"]
        assert after[tube]["dtstamp"].dt >= before[tube]["dtstamp"].dt

    def test_colonies_and_milestones_differ(self):
        names = {uid_of(*pair) for pair in (("a", "x"), ("a", "y"), ("b", "x"))}
        assert len(names) == 3 and uid_of("a", "x") == uid_of("a", "x")

    def test_a_later_file_is_the_newer_revision(self, path, monkeypatch):
        from antgrowth.care import calendar

        class Later(datetime):
            @classmethod
            def now(cls, tz=None):
                return datetime.now(tz) + timedelta(hours=1)

        plan().to_ics(path)
        before = entries(path)
        monkeypatch.setattr(calendar, "datetime", Later)
        plan().to_ics(path)
        for uid, event in entries(path).items():
            assert event["sequence"] - before[uid]["sequence"] == 60
            assert event["dtstamp"].dt > before[uid]["dtstamp"].dt

    def test_a_file_written_at_once_is_the_newer_revision_too(self, path):
        gone = uid_of(grown().fit.counts.name, "out-of-tube")
        revisions = []
        for milestones in ([], [{"id": "out-of-tube", "skip": True}], []):
            plan(milestones=milestones).to_ics(path)
            numbers = {event["sequence"] for event in entries(path).values()}
            assert len(numbers) == 1 and gone in entries(path)
            revisions += numbers
        assert revisions == [revisions[0], revisions[0] + 1, revisions[0] + 2]

    def test_what_is_planned_no_more_is_cancelled(self, path):
        plan().to_ics(path)
        dates = entries(path)
        plan(milestones=[{"id": "out-of-tube", "skip": True}]).to_ics(path)
        uid = uid_of(grown().fit.counts.name, "out-of-tube")
        gone = entries(path)[uid]
        assert gone["status"] == "CANCELLED" and gone["dtstart"].dt == dates[uid]["dtstart"].dt


class TestFaults:
    @pytest.mark.parametrize(
        "content", ["notes of mine", "BEGIN:VCALENDAR\r\nPRODID:-//other//EN\r\nEND:VCALENDAR\r\n"]
    )
    def test_a_file_of_another_kind_is_left_as_it_is(self, path, content):
        path.write_text(content, newline="")
        with pytest.raises(AntgrowthError, match="no calendar of a care plan. It is left as it is"):
            plan().to_ics(path)
        assert path.read_bytes() == content.encode()

    def test_the_calendar_of_another_colony_is_left_as_it_is(self, path):
        plan().to_ics(path)
        content = path.read_bytes()
        fit = grown().fit
        other = replace(fit, counts=replace(fit.counts, name="other, too"))
        with pytest.raises(AntgrowthError) as caught:
            plan(replace(grown(), fit=other)).to_ics(path)
        text = str(caught.value)
        assert f"{path}: there is the calendar of another colony already, 'counts'" in text
        assert "this plan is that of 'other, too'" in text and "give another path" in text
        assert path.read_bytes() == content
        path.unlink()
        for _ in range(2):  # its own is replaced, whatever signs are in the name
            plan(replace(grown(), fit=other)).to_ics(path)
