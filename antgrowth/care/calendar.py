"""A care plan as a calendar file (RFC 5545)."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import icalendar
import pandas as pd

from antgrowth._core.files import write_whole
from antgrowth.care.milestone import Milestone
from antgrowth.errors import AntgrowthError

PRODUCT = "-//antgrowth//care plan//EN"

NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "urn:antgrowth:care-plan")

EPOCH = datetime(2026, 1, 1, tzinfo=UTC)
"""Revisions are numbered by the minutes since then, and at least one up on the file before."""

ALARM_AT = timedelta(hours=9)
"""A day begins at midnight; nobody prepares a nest then."""


def uid_of(colony: str, milestone: str) -> str:
    """Name of an entry: the same for a colony and a milestone, whatever the date."""
    return f"{uuid.uuid5(NAMESPACE, f'{colony}/{milestone}')}@antgrowth"


def write_calendar(
    path: str | os.PathLike[str], name: str, as_of: pd.Timestamp, milestones: Iterable[Milestone]
) -> None:
    """Write a plan of the colony `name`, as of its last note; see `CarePlan.to_ics`."""
    target, shown = Path(path), _plain(name)
    before = _entries_before(target, shown)
    now = datetime.now(UTC).replace(microsecond=0)
    revision = _revision(now, before)
    calendar = icalendar.Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", shown)
    planned = set()
    for milestone in milestones:
        if span := _span(milestone):
            calendar.add_component(_entry(name, as_of, milestone, span, now, revision))
            planned.add(uid_of(name, milestone.id))
    for uid, entry in before.items():
        if uid not in planned:
            calendar.add_component(_cancelled(entry, now, revision))
    write_whole(target, calendar.to_ical())


def _span(milestone: Milestone) -> tuple[date, date] | None:
    """First and last day of an entry; None if it has none."""
    if milestone.is_scheduled:
        last = milestone.horizon_end if pd.isna(milestone.last) else milestone.last
        # A window that the last note lies in or behind is not moved: the past stays where it was.
        return milestone.first.date(), max(milestone.first, last).date()
    if pd.isna(milestone.on):
        return None
    # What a note asks for stays open: it is no matter of the day on which it was noted.
    last = milestone.start if milestone.is_due else milestone.on
    return milestone.on.date(), last.date()


def _entry(
    name: str,
    as_of: pd.Timestamp,
    milestone: Milestone,
    span: tuple[date, date],
    now: datetime,
    revision: int,
) -> icalendar.Event:
    first, last = span
    event = icalendar.Event()
    event.add("uid", uid_of(name, milestone.id))
    event.add("dtstamp", now)
    event.add("last-modified", now)
    event.add("sequence", revision)
    event.add("dtstart", first)
    event.add("dtend", last + timedelta(days=1))  # the day after: the end is not part of it
    state = "" if milestone.status == "coming" else f" ({milestone.status})"
    event.add("summary", _plain(f"{name}: {milestone.title}{state}"))
    event.add("description", "\n".join(map(_plain, _described(as_of, milestone))))
    event.add("categories", ["ant colony"])
    event.add("transp", "TRANSPARENT")  # a window of weeks keeps nobody busy
    event.add("status", "CONFIRMED")
    ahead = milestone.first - milestone.prepare_from if milestone.is_scheduled else None
    if milestone.status == "coming" and ahead:
        alarm = icalendar.Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", _plain(f"{name}: prepare for {milestone.title}"))
        alarm.add("trigger", ALARM_AT - ahead.to_pytimedelta())
        event.add_component(alarm)
    return event


def _plain(text: str) -> str:
    """Words on one line, without the control characters that RFC 5545 has no place for."""
    printed = "".join(letter if ord(letter) >= 32 and letter != "\x7f" else " " for letter in text)
    return " ".join(printed.split())


def _described(as_of: pd.Timestamp, milestone: Milestone) -> Iterator[str]:
    rule = milestone.rule
    yield milestone.sentence()
    if rule.action:
        yield rule.action
    # What does not hold today may well do so by then: it is to be looked at, and no verdict.
    for check in milestone.checks:
        yield str(check) if check.holds else f"{check.name}: look first; {check.text}"
    if rule.caution:
        yield f"Caution: {rule.caution}"
    yield f"As of the note of {as_of:%Y-%m-%d}; look at the colony before you act."


def _cancelled(entry: icalendar.Event, now: datetime, revision: int) -> icalendar.Event:
    """An entry of the file before that the plan no longer has."""
    event = icalendar.Event()
    for key in ("uid", "dtstart", "dtend", "summary", "transp"):
        if key in entry:
            event[key] = entry[key]
    event.add("dtstamp", now)
    event.add("sequence", revision)
    event.add("status", "CANCELLED")
    return event


def _revision(now: datetime, before: dict[str, icalendar.Event]) -> int:
    """Number of a file's revision: above all of the file that it replaces, even at once."""
    used = [int(entry.get("sequence", 0)) for entry in before.values()]
    return max(int((now - EPOCH) / timedelta(minutes=1)), max(used, default=-1) + 1)


def _entries_before(path: Path, colony: str) -> dict[str, icalendar.Event]:
    """Entries of the calendar that is to be replaced, by name; none if there is no file."""
    if not path.exists():
        return {}
    try:
        calendar = icalendar.Calendar.from_ical(path.read_bytes())
    except (ValueError, OSError):
        calendar = None
    if calendar is None or calendar.get("prodid") != PRODUCT:
        raise AntgrowthError(
            f"{path}: there is such a file already, and it is no calendar of a care plan. It is "
            "left as it is; give another path."
        )
    owner = str(calendar.get("x-wr-calname", colony))
    if owner != colony:  # replacing it would cancel all of the other colony's entries
        raise AntgrowthError(
            f"{path}: there is the calendar of another colony already, {owner!r}, and this plan is "
            f"that of {colony!r}. It is left as it is: give another path, a file for each colony, "
            "or delete it if the colony was renamed."
        )
    return {str(event["uid"]): event for event in calendar.events}
