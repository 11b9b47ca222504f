"""Milestones of a colony as data: which ones, what triggers them, what must hold first.

Three files speak of them, in this order: the usual ones by the way a queen founds, the species
profile, and the keeper's colony.toml. Each amends by id what the one before it says.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

import pandas as pd

from antgrowth._core.dates import as_day
from antgrowth._core.stages import STAGES
from antgrowth._core.text import near_miss, told
from antgrowth._core.validation import (
    FLAG,
    MOST_ANTS,
    WORDS,
    Check,
    Table,
    Value,
    each,
    is_text,
    is_whole,
    read_by,
    unchecked,
)  # fmt: skip
from antgrowth.species.evidence import evidence_faults

CHECKS = ("temperature", "alerts", "food")
"""What a milestone may ask to hold first."""

SEASONS = ("rest begins", "rest ends", "outdoors")
COUNTED = (*STAGES, "brood")

_TEXTS = ("title", "action", "caution", "status", "source", "note")
_DAYS = ("lead_days", "ramp_days")
_CHOICES = {"season": SEASONS, "nest": ("full", "next"), "food": ("protein",)}
_FORMS = (
    '{ stage = "workers", count = 20 }, { date = "05-01" }, { season = "rest begins" }, '
    '{ nest = "full" }, { food = "protein" }, { note = ["mould"] }'
)
LONGEST_DAYS = 365


@dataclass(frozen=True)
class Trigger:
    """What makes a milestone due."""

    kind: str  # "count", "date", "season", "nest", "food" or "note"
    # A number of ants; "2027-05-01", or "05-01" for each year (northern hemisphere in a
    # profile); one of `SEASONS`; "full" or "next"; "protein"; words of a note.
    value: Any
    stage: str = ""  # what is counted, only for "count"


@dataclass(frozen=True)
class MilestoneRule:
    """One milestone as a profile states it."""

    id: str  # stays the same for good: calendars find their entries by it
    title: str
    triggers: tuple[Trigger, ...]  # it is due with the first of them
    action: str = ""  # what to do
    checks: tuple[str, ...] = ()  # what must hold first, of `CHECKS`
    lead_days: int = 0  # time to prepare [day]
    ramp_days: int = 0  # days over which the temperature is changed in steps [day]
    caution: str = ""
    status: str = "set by the keeper"  # status, source, note: what it rests on
    source: str = "the keeper"
    note: str = ""
    done: str = ""  # day on which the keeper did it, year-month-day; empty if that is not told


def usual_milestones(founding: str, rest: bool) -> tuple[MilestoneRule, ...]:
    """Milestones that a colony has if its profile says nothing of them.

    By the species' way of founding, and whether it needs a rest season.
    """
    chosen = [
        {key: value for key, value in entry.items() if key not in ("founding", "rest")}
        for entry in _usual_entries()
        if founding in entry.get("founding", (founding,)) and (rest or not entry.get("rest"))
    ]
    return amended((), chosen)


def amended(
    rules: Sequence[MilestoneRule], entries: Iterable[Mapping[str, Any]], by: str = ""
) -> tuple[MilestoneRule, ...]:
    """Change, add and leave out milestones, by id.

    Entries are tables without a fault, see `milestone_faults`; `by` says whose they are where they
    give no status themselves: the evidence of a rule stays if it is empty.
    """
    found = {rule.id: rule for rule in rules}
    for entry in entries:
        name = entry["id"]
        if entry.get("skip"):
            found.pop(name, None)
            continue
        changes: dict[str, Any] = {key: entry[key] for key in (*_DAYS, *_TEXTS) if key in entry}
        if "checks" in entry:
            changes["checks"] = tuple(entry["checks"])
        if "triggers" in entry:
            changes["triggers"] = tuple(_trigger(found) for found in entry["triggers"])
        if "done" in entry:
            changes["done"] = as_day(entry["done"], "done").isoformat()
        if by and "status" not in entry and set(entry) - {"id", "done"}:
            changes |= {"status": f"set by {by}", "source": by, "note": ""}
        known = found.get(name)
        found[name] = replace(known, **changes) if known else MilestoneRule(id=name, **changes)
    return tuple(found.values())


def as_entries(
    rules: Sequence[MilestoneRule], usual: Sequence[MilestoneRule]
) -> list[dict[str, Any]]:
    """Tables that make `rules` out of the usual ones again, in full."""
    entries = []
    for rule in rules:
        entry = {
            name: list(value) if isinstance(value, tuple) else value
            for name, value in vars(rule).items()
            if name not in ("triggers", "done")
        }
        entries.append(entry | {"triggers": [_plain(trigger) for trigger in rule.triggers]})
    kept = {rule.id for rule in rules}
    entries += [{"id": rule.id, "skip": True} for rule in usual if rule.id not in kept]
    return entries


def milestone_faults(
    found: Any, before: Sequence[MilestoneRule], keys: set[str] | None, own: bool
) -> Iterator[str]:
    """Tell everything that is wrong with the milestones of a file, which amend those `before`.

    `keys` are citations known, None in a colony.toml, which gives no evidence; `own` is a file of
    the keeper's.
    """
    if not (isinstance(found, list) and all(isinstance(entry, Mapping) for entry in found)):
        yield f"milestones = {told(found)}. Write a line [[milestones]] before the keys of each."
        return
    known, seen = {rule.id for rule in before}, set()
    for number, entry in enumerate(found, start=1):
        name = entry.get("id")
        if not (isinstance(name, str) and re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name)):
            yield (
                f"milestones, table {number}: id = {told(name)}. Allowed: small letters, "
                "digits and "
                'hyphens. Write one that stays for good, such as id = "out-of-tube".'
            )
            continue
        where = f"milestones {name}"
        if name in seen:
            yield f"{where}: the id stands twice. Give each milestone one table."
        seen.add(name)
        yield from _entry_faults(entry, where, name in known, sorted(known))
        if "done" in entry:
            yield from _done_faults(entry["done"], where, of_colony=keys is None)
        if keys is not None and not entry.get("skip"):
            yield from evidence_faults(entry, where, keys, own)


def _entry_faults(
    entry: Mapping[str, Any], where: str, is_known: bool, known: list[str]
) -> Iterator[str]:
    yield from _MILESTONE(entry, where)
    if entry.get("skip") is True and not is_known:
        yield (
            f"{where}.skip: there is no such milestone to leave out."
            f"{near_miss(entry['id'], known)} Allowed: {', '.join(known) or 'none'}."
        )
    missing = [key for key in ("title", "triggers") if key not in entry]
    if missing and not is_known and not entry.get("skip"):
        yield (
            f"{where}: {', '.join(missing)} missing, and no milestone of that id is known."
            f"{near_miss(entry['id'], known)} Known: {', '.join(known)}. Correct the id, "
            "or add what is missing."
        )


def _done_faults(found: Any, where: str, of_colony: bool) -> Iterator[str]:
    if not of_colony:
        yield f"{where}.done: only a colony has done something. Move it to colony.toml."
        return
    yield from read_by(as_day)(found, f"{where}.done")


def _trigger_fault(found: Any) -> str:
    """What is wrong with one trigger; empty if nothing is."""
    keys = set(found) if isinstance(found, Mapping) else set()
    if keys == {"stage", "count"}:
        if found["stage"] not in COUNTED:
            return f"Allowed stages: {', '.join(COUNTED)}.{near_miss(str(found['stage']), COUNTED)}"
        if not is_whole(found["count"], 1, MOST_ANTS):
            return f"Allowed: a count that is a whole number of at least 1, up to {MOST_ANTS:,}."
    elif keys == {"date"}:
        if not _is_date(found["date"]):
            return 'Allowed: "2027-05-01", or "05-01" for each year. Write it in quotes.'
    elif keys == {"note"}:
        words = found["note"]
        if not (isinstance(words, list) and words and all(is_text(word) for word in words)):
            return 'Allowed: a list of words to find in your notes, such as ["mould"].'
    elif len(keys) == 1 and (kind := next(iter(keys))) in _CHOICES:
        if found[kind] not in _CHOICES[kind]:
            options = _CHOICES[kind]
            return f"Allowed: {', '.join(options)}.{near_miss(str(found[kind]), options)}"
    else:
        return f"Allowed: one of {_FORMS}. Write one of these forms."
    return ""


_DURATION = Value(
    f"whole days from 0 to {LONGEST_DAYS}",
    lambda found: is_whole(found, 0, LONGEST_DAYS),
    "Correct it.",
)

_MILESTONE_KEYS: dict[str, Check] = {
    "id": unchecked,  # told by its number, before it has a name
    "skip": FLAG,
    "triggers": each(_trigger_fault, f"of {_FORMS}"),
    "checks": Value(
        f"a list of {', '.join(CHECKS)}",
        lambda found: isinstance(found, list) and all(check in CHECKS for check in found),
    ),
}

_MILESTONE = Table(
    _MILESTONE_KEYS
    | dict.fromkeys(_DAYS, _DURATION)
    | dict.fromkeys(_TEXTS, WORDS)
    | {"done": unchecked}
)


def _trigger(found: Mapping[str, Any]) -> Trigger:
    if "stage" in found:
        return Trigger("count", found["count"], found["stage"])
    ((kind, value),) = found.items()
    return Trigger(kind, tuple(value) if isinstance(value, list) else value)


def _plain(trigger: Trigger) -> dict[str, Any]:
    if trigger.kind == "count":
        return {"stage": trigger.stage, "count": trigger.value}
    value = trigger.value
    return {trigger.kind: list(value) if isinstance(value, tuple) else value}


@cache
def _usual_entries() -> tuple[dict[str, Any], ...]:
    raw = (files("antgrowth.datasets") / "care" / "milestones.toml").read_bytes()
    return tuple(tomllib.loads(raw.decode("utf-8"))["milestones"])


def _is_date(found: Any) -> bool:
    if not isinstance(found, str) or not re.fullmatch(r"(\d{4}-)?\d\d-\d\d", found):
        return False
    try:
        pd.Timestamp(found if len(found) > 5 else f"2000-{found}")
    except ValueError:
        return False
    return True
