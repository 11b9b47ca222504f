"""The check of a parsed profile against what `parameters` asks for.

Every fault is collected, so that a keeper who writes a file meets all of them at once.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from antgrowth._core.text import near_miss
from antgrowth.species.evidence import source_fault, status_fault
from antgrowth.species.milestones import milestone_faults, usual_milestones
from antgrowth.species.native_range import native_faults
from antgrowth.species.parameters import (
    CHOICES,
    PARAMETERS,
    SEASON_NUMBERS,
    SPREAD_FLOORS,
    STATUSES,
    Number,
    Parameter,
)

__all__ = ["REST_DATES", "SPRING", "Checked", "check_profile"]

NAMES = ("scientific_name", "common_name")
FLAGS = ("research_only", "rest.needed")
REST_DATES = ("rest.start", "rest.end")
SPRING = "season.spring"
SEASON_EVIDENCE = ("season.source", "season.status")
LISTS = ("cautions",)
OPTIONAL_TEXTS = ("rest.note", "season.note")
APART = ("milestones", "native", "sources")
"""Tables with a form of their own."""

REPLACED = {
    "laying.founding_room": "rearing.places_alone",
    "laying.room_per_worker": "rearing.places_per_worker and rearing.places_power",
    "laying.pupa_care": "rearing.pupa_care",
}
"""Keys of earlier profiles, which spoke of room for all brood, eggs included."""

NUMBER_KEYS = ("value", "unit", "spread", "source", "status", "note")

KNOWN = (
    *PARAMETERS, *CHOICES, *NAMES, *FLAGS, *REST_DATES, SPRING, *SEASON_EVIDENCE, *LISTS,
    *OPTIONAL_TEXTS, *APART,
)  # fmt: skip
TABLES = {path.rpartition(".")[0] for path in KNOWN if "." in path} | {"development"}


@dataclass
class Checked:
    """A profile table taken apart, with every fault found on the way."""

    texts: dict[str, Any] = field(default_factory=dict)
    numbers: dict[str, Number] = field(default_factory=dict)
    own_sources: dict[str, str] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)


def check_profile(table: Mapping[str, Any], citations: Mapping[str, str], own: bool) -> Checked:
    """Compare a parsed TOML table with what a profile must hold.

    Parameters
    ----------
    table : mapping
        The parsed file.
    citations : mapping
        Shipped sources: key to citation.
    own : bool
        A keeper's own file, which may cite "own counts" and bring sources of its own.

    Returns
    -------
    Checked
        Usable only if `faults` is empty.
    """
    checked = Checked()
    _check_sources(table.get("sources", {}), citations, own, checked)
    keys = set(citations) | set(checked.own_sources)
    for path, found in _leaves(table, "", checked.faults):
        if path in PARAMETERS:
            _check_number(PARAMETERS[path], found, keys, own, checked)
        elif path not in APART:
            _check_text(path, found, checked)
    checked.faults += _season_faults(table.get("season", {}), keys, own)
    _check_missing(table, checked)
    _check_order(checked)
    checked.faults += native_faults(table.get("native", {}), keys, own)
    usual = usual_milestones(str(table.get("founding")), bool(checked.texts.get("rest.needed")))
    checked.faults += milestone_faults(table.get("milestones", []), usual, keys, own)
    return checked


def _leaves(table: Mapping[str, Any], prefix: str, faults: list[str]) -> Iterator[tuple[str, Any]]:
    """Walk the table down to the known keys; note the unknown ones."""
    for key, found in table.items():
        path = f"{prefix}{key}"
        if path in KNOWN:
            yield path, found
        elif path in REPLACED:
            faults.append(
                f"{path}: replaced by {REPLACED[path]}. Places are for larvae being reared and for "
                "pupae, not for eggs. Convert it; a shipped profile shows the form."
            )
        elif path not in TABLES:
            faults.append(
                f"{path}: not a key of a species profile."
                f"{near_miss(path, [*KNOWN, *TABLES])} Correct the spelling, or remove it."
            )
        elif isinstance(found, Mapping):
            yield from _leaves(found, f"{path}.", faults)
        else:
            faults.append(
                f"{path} = {found!r}. This is a table of numbers: write a line [{path}] and its "
                "keys below it."
            )


def _check_sources(found: Any, citations: Mapping[str, str], own: bool, checked: Checked) -> None:
    if not isinstance(found, Mapping):
        checked.faults.append(
            f"sources = {found!r}. Allowed: a table of citations. Write a line [sources] and below "
            'it: key = "authors (year) title".'
        )
        return
    for key, citation in found.items():
        where = f"sources.{key}"
        if not own:
            checked.faults.append(f"{where}: shipped profiles cite sources.csv. Move it there.")
        elif key in citations:
            checked.faults.append(
                f"{where}: the key is taken by {citations[key]!r}. Choose another key."
            )
        elif not isinstance(citation, str) or not citation.strip():
            checked.faults.append(
                f"{where} = {citation!r}. Allowed: a citation in quotes. Write who, when, what."
            )
        else:
            checked.own_sources[key] = citation


def _check_number(
    parameter: Parameter, found: Any, keys: set[str], own: bool, checked: Checked
) -> None:
    path, faults = parameter.path, []
    if not isinstance(found, Mapping):
        checked.faults.append(
            f"{path} = {found!r}. Allowed: {parameter.allowed} with its evidence. Write "
            f'{{ value = ..., unit = "{parameter.unit}", spread = ..., source = "...", '
            'status = "..." }.'
        )
        return
    for key in found:
        if key not in NUMBER_KEYS:
            faults.append(
                f"{path}.{key}: not a key of a number.{near_miss(key, NUMBER_KEYS)} "
                f"Allowed: {', '.join(NUMBER_KEYS)}."
            )
    needed = [key for key in NUMBER_KEYS[:5] if not (key == "spread" and parameter.held)]
    if missing := [key for key in needed if key not in found]:
        faults.append(f"{path}: {', '.join(missing)} missing. Add to the braces of this number.")
    value: Any = found.get("value")
    unit = found.get("unit", parameter.unit)
    if "value" in found and not (_is_number(value) and parameter.allows(value)):
        faults.append(f"{path}.value = {value!r}. Allowed: {parameter.allowed}. Correct the value.")
    if unit != parameter.unit:
        faults.append(
            f"{path}.unit = {unit!r}. Allowed: {parameter.unit!r}. Convert the value to that unit."
        )
    faults += _evidence_faults(parameter, found, keys, own)
    if not isinstance(found.get("note", ""), str):
        faults.append(f"{path}.note = {found['note']!r}. Allowed: text. Put it in quotes.")
    if not faults:
        checked.numbers[path] = Number(
            float(value), float(found.get("spread", 0)), unit, found["source"], found["status"],
            found.get("note", ""),
        )  # fmt: skip
    checked.faults += faults


def _evidence_faults(
    parameter: Parameter, found: Mapping[str, Any], keys: set[str], own: bool
) -> Iterator[str]:
    """Faults of status, source and spread, which depend on each other."""
    path, status = parameter.path, found.get("status")
    if "status" in found and (fault := status_fault(status)):
        yield f"{path}.status = {status!r}. {fault}"
    if "source" in found and status in STATUSES:
        if fault := source_fault(found["source"], status, keys, own):
            yield f"{path}.source = {found['source']!r}. {fault}"
    if "spread" in found:
        spread = found["spread"]
        floor = 0.0 if parameter.held else SPREAD_FLOORS.get(str(status), {}).get(parameter.scale)
        if not _is_number(spread) or not 0 <= spread <= 10:
            yield f"{path}.spread = {spread!r}. Allowed: a number from 0 to 10. Correct it."
        elif floor is not None and spread < floor:
            kind = {"log": "log-sd", "logit": "logit-sd", "celsius": "°C"}[parameter.scale]
            yield (
                f"{path}.spread = {spread:g}. Allowed: at least {floor:g} ({kind}) for a number "
                f"that is {status}. Widen it, or cite better evidence."
            )


def _check_text(path: str, found: Any, checked: Checked) -> None:
    fault = ""
    if path in CHOICES and found not in CHOICES[path]:
        options = CHOICES[path]
        fault = f"Allowed: {', '.join(options)}.{near_miss(str(found), options)} Choose one."
    elif path in NAMES and not (isinstance(found, str) and found.strip()):
        fault = "Allowed: a name in quotes. Write it."
    elif path in FLAGS and not isinstance(found, bool):
        fault = "Allowed: true or false, without quotes. Write one of them."
    elif path in (*REST_DATES, SPRING) and not _is_month_day(found):
        fault = 'Allowed: month and day in quotes, such as "10-15". Write a day of the calendar.'
    elif path in OPTIONAL_TEXTS and not isinstance(found, str):
        fault = "Allowed: text. Put it in quotes."
    elif path in LISTS and not (
        isinstance(found, list) and found and all(isinstance(x, str) and x.strip() for x in found)
    ):
        fault = "Allowed: a list of sentences, at least one. Say what a keeper must take care of."
    if fault:
        checked.faults.append(f"{path} = {found!r}. {fault}")
    else:
        checked.texts[path] = found


def _season_faults(found: Any, keys: set[str], own: bool) -> Iterator[str]:
    """Faults of what the kind of season rests on."""
    if not isinstance(found, Mapping) or not {"source", "status"} <= set(found):
        return  # named as missing
    if fault := status_fault(found["status"]):
        yield f"season.status = {found['status']!r}. {fault}"
    elif fault := source_fault(found["source"], found["status"], keys, own):
        yield f"season.source = {found['source']!r}. {fault}"


def _check_missing(table: Mapping[str, Any], checked: Checked) -> None:
    needed = [path for path, parameter in PARAMETERS.items() if parameter.needed]
    needed += [*CHOICES, *NAMES, *FLAGS, *SEASON_EVIDENCE, *LISTS]
    kind = checked.texts.get("season.kind")
    if kind is not None:
        of_kind = {known: (*SEASON_NUMBERS[known], SPRING) for known in SEASON_NUMBERS}
        of_kind["none"] = ()
        needed += of_kind[kind]
        elsewhere = dict.fromkeys(path for paths in of_kind.values() for path in paths)
        checked.faults += [
            f"{path}: given, but season.kind = {kind!r} has no such key. Remove it, or correct the "
            "kind."
            for path in elsewhere
            if path not in of_kind[kind] and _has(table, path)
        ]
    rest = ("rest.temperature_c", *REST_DATES)
    rests = checked.texts.get("rest.needed")
    if rests:
        needed += rest
    elif rests is False:
        checked.faults += [
            f"{path}: given, but rest.needed = false. Remove it, or write needed = true."
            for path in rest
            if _has(table, path)
        ]
    for path in needed:
        if not _has(table, path):
            told = ""
            if path in PARAMETERS:
                told = f" ({PARAMETERS[path].meaning}; {PARAMETERS[path].allowed})"
            elif path in CHOICES:
                told = f" (one of: {', '.join(CHOICES[path])})"
            checked.faults.append(f"{path}: missing{told}. Add it.")


def _check_order(checked: Checked) -> None:
    """Find what is sound alone and contradicts something else."""
    kind = checked.texts.get("season.kind")
    if kind not in (None, "none") and checked.texts.get("rest.needed") is False:
        checked.faults.append(
            f"season.kind = {kind!r}, but rest.needed = false. A season that has ended begins "
            'again only after a rest: write needed = true with its dates, or kind = "none".'
        )
    values = {path: number.value for path, number in checked.numbers.items()}
    reference = "development.reference_c"
    rising: list[tuple[str, ...]] = [
        (f"{part}.lower_c", reference, f"{part}.upper_c")
        for part in ("development.egg", "development.larva", "development.pupa", "laying")
    ]
    rising += [
        ("limits.founding_ceiling_c", "limits.housed_ceiling_c"),
        ("limits.outdoor_low_c", "limits.outdoor_high_c"),
        ("laying.founding_rate", "laying.top_rate"),
    ]
    for paths in rising:
        for low, high in zip(paths, paths[1:], strict=False):
            if low not in values or high not in values or values[low] < values[high]:
                continue
            if reference not in paths and values[low] == values[high]:
                continue  # equal ceilings or rates make sense, equal thresholds do not
            checked.faults.append(
                f"{low} = {values[low]:g} is not below {high} = {values[high]:g}. "
                "Correct one of them."
            )


def _has(table: Mapping[str, Any], path: str) -> bool:
    here: Any = table
    for key in path.split("."):
        # A table of the wrong kind has been named already; do not name its keys as well.
        if not isinstance(here, Mapping):
            return True
        if key not in here:
            return False
        here = here[key]
    return True


def _is_number(found: Any) -> bool:
    return isinstance(found, int | float) and not isinstance(found, bool)


def _is_month_day(found: Any) -> bool:
    if not isinstance(found, str) or not re.fullmatch(r"\d\d-\d\d", found):
        return False
    try:
        date.fromisoformat(f"2000-{found}")
    except ValueError:
        return False
    return True
