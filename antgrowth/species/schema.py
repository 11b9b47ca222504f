"""The check of a parsed profile against what `parameters` asks for.

Every fault is collected, so that a keeper who writes a file meets all of them at once.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from antgrowth._core.text import near_miss, told
from antgrowth._core.validation import (
    FLAG,
    WORDS,
    Check,
    Table,
    Value,
    is_number,
    is_text,
    one_of,
    unchecked,
)  # fmt: skip
from antgrowth.species.evidence import evidence_faults, source_fault, status_fault
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

REST_DATES = ("rest.start", "rest.end")
SPRING = "season.spring"
SEEDS = "food.seeds"
TOGETHER = "founding_together"
AFTER_WINTER = "laying.after_winter"


def _is_month_day(found: Any) -> bool:
    if not isinstance(found, str) or not re.fullmatch(r"\d\d-\d\d", found):
        return False
    try:
        date.fromisoformat(f"2000-{found}")
    except ValueError:
        return False
    return True


def _is_spread(found: Any) -> bool:
    return is_number(found) and 0 <= found <= 10


def _are_sentences(found: Any) -> bool:
    return isinstance(found, list) and bool(found) and all(map(is_text, found))


_NAME = Value("a name in quotes", is_text, "Write it.")
_MONTH_DAY = Value(
    'month and day in quotes, such as "10-15"', _is_month_day, "Write a day of the calendar."
)

NEEDED_TEXTS: dict[str, Check] = {
    **{path: one_of(*options, remedy="Choose one.") for path, options in CHOICES.items()},
    "scientific_name": _NAME,
    "common_name": _NAME,
    "research_only": FLAG,
    "rest.needed": FLAG,
    "season.source": unchecked,  # see `evidence_faults`
    "season.status": unchecked,
    "cautions": Value(
        "a list of sentences, at least one", _are_sentences, "Say what a keeper must take care of."
    ),
}

TEXTS: dict[str, Check] = NEEDED_TEXTS | {
    **dict.fromkeys((*REST_DATES, SPRING), _MONTH_DAY),
    **dict.fromkeys(("rest.note", "season.note", TOGETHER), WORDS),
    SEEDS: FLAG,
    AFTER_WINTER: FLAG,
}
"""What is said in words, and how it is checked."""

APART = ("milestones", "native", "sources")
"""Tables with a form of their own."""

REPLACED = {
    "laying.founding_room": "rearing.places_alone",
    "laying.room_per_worker": "rearing.places_per_worker and rearing.places_power",
    "laying.pupa_care": "rearing.pupa_care",
}
"""Keys of earlier profiles, which spoke of room for all brood, eggs included."""

NUMBER_KEYS = ("value", "unit", "spread", "source", "status", "note")

KNOWN = (*PARAMETERS, *TEXTS, *APART)
TABLES = {path.rpartition(".")[0] for path in KNOWN if "." in path} | {"development"}


@dataclass
class Checked:
    """A profile table taken apart, with every fault found on the way."""

    texts: dict[str, Any] = field(default_factory=dict)
    numbers: dict[str, Number] = field(default_factory=dict)
    own_sources: dict[str, str] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)


def check_profile(table: Mapping[str, Any], citations: Mapping[str, str], own: bool) -> Checked:
    """Compare a parsed TOML table with what a profile must hold; usable only without `faults`.

    A keeper's own file may cite "own counts" and bring sources of its own beside those shipped.
    """
    checked = Checked()
    _check_sources(table.get("sources", {}), citations, own, checked)
    keys = set(citations) | set(checked.own_sources)
    for path, found in _leaves(table, "", checked.faults):
        if path in PARAMETERS:
            _check_number(PARAMETERS[path], found, keys, own, checked)
        elif path not in APART:
            _check_text(path, found, checked)
    season = table.get("season", {})
    if isinstance(season, Mapping) and {"source", "status"} <= set(season):  # else told as missing
        checked.faults += evidence_faults(season, "season", keys, own)
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
                f"{path} = {told(found)}. This is a table of numbers: write a line "
                f"[{path}] and its "
                "keys below it."
            )


def _check_sources(found: Any, citations: Mapping[str, str], own: bool, checked: Checked) -> None:
    if not isinstance(found, Mapping):
        checked.faults.append(
            f"sources = {told(found)}. Allowed: a table of citations. Write a line "
            "[sources] and below "
            'it: key = "authors (year) title".'
        )
        return
    for key, citation in found.items():
        where = f"sources.{key}"
        if not own:
            checked.faults.append(f"{where}: shipped profiles cite sources.csv. Move it there.")
        elif key in citations:
            checked.faults.append(
                f"{where}: the key is taken by {told(citations[key])}. Choose another key."
            )
        elif not isinstance(citation, str) or not citation.strip():
            checked.faults.append(
                f"{where} = {told(citation)}. Allowed: a citation in quotes. Write who, when, what."
            )
        else:
            checked.own_sources[key] = citation


def _check_number(
    parameter: Parameter, found: Any, keys: set[str], own: bool, checked: Checked
) -> None:
    path = parameter.path
    if not isinstance(found, Mapping):
        checked.faults.append(
            f"{path} = {told(found)}. Allowed: {parameter.allowed} with its evidence. Write "
            f'{{ value = ..., unit = "{parameter.unit}", spread = ..., source = "...", '
            'status = "..." }.'
        )
        return
    faults = list(_number_table(parameter)(found, path))
    needed = [key for key in NUMBER_KEYS[:5] if not (key == "spread" and parameter.held)]
    if missing := [key for key in needed if key not in found]:
        faults.append(f"{path}: {', '.join(missing)} missing. Add to the braces of this number.")
    faults += _evidence_faults(parameter, found, keys, own)
    if not faults:
        checked.numbers[path] = Number(
            float(found["value"]), float(found.get("spread", 0)), found["unit"], found["source"],
            found["status"], found.get("note", ""),
        )  # fmt: skip
    checked.faults += faults


def _number_table(parameter: Parameter) -> Table:
    """What may stand in the braces of a number; how its evidence fits is told apart."""
    return Table(
        {
            "value": Value(
                parameter.allowed,
                lambda found: is_number(found) and parameter.allows(found),
                "Correct the value.",
            ),
            "unit": Value(
                repr(parameter.unit),
                lambda found: found == parameter.unit,
                "Convert the value to that unit.",
            ),
            "spread": Value("a number from 0 to 10", _is_spread, "Correct it."),
            "source": unchecked,
            "status": unchecked,
            "note": WORDS,
        }
    )


def _evidence_faults(
    parameter: Parameter, found: Mapping[str, Any], keys: set[str], own: bool
) -> Iterator[str]:
    """Faults of status, source and spread, which depend on each other."""
    path, status = parameter.path, found.get("status")
    if "status" in found and (fault := status_fault(status)):
        yield f"{path}.status = {told(status)}. {fault}"
    if "source" in found and status in STATUSES:
        if fault := source_fault(found["source"], status, keys, own):
            yield f"{path}.source = {told(found['source'])}. {fault}"
    spread: Any = found.get("spread")
    floor = 0.0 if parameter.held else SPREAD_FLOORS.get(str(status), {}).get(parameter.scale)
    if _is_spread(spread) and floor is not None and spread < floor:
        kind = {"log": "log-sd", "logit": "logit-sd", "celsius": "°C"}[parameter.scale]
        yield (
            f"{path}.spread = {spread:g}. Allowed: at least {floor:g} ({kind}) for a number "
            f"that is {status}. Widen it, or cite better evidence."
        )


def _check_text(path: str, found: Any, checked: Checked) -> None:
    if faults := list(TEXTS[path](found, path)):
        checked.faults += faults
    else:
        checked.texts[path] = found


def _check_missing(table: Mapping[str, Any], checked: Checked) -> None:
    needed = [path for path, parameter in PARAMETERS.items() if parameter.needed]
    needed += NEEDED_TEXTS
    kind = checked.texts.get("season.kind")
    if kind is not None:
        of_kind = {known: (*SEASON_NUMBERS[known], SPRING) for known in SEASON_NUMBERS}
        of_kind["none"] = ()
        needed += of_kind[kind]
        elsewhere = dict.fromkeys(path for paths in of_kind.values() for path in paths)
        checked.faults += [
            f"{path}: given, but season.kind = {kind!r} has no such key. Remove it, "
            "or correct the "
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
    cold = [f"limits.cold_{name}" for name in ("limit_c", "loss_per_day_c")]
    if sum(path in values for path in cold) == 1:
        lone, other = sorted(cold, key=values.__contains__, reverse=True)
        checked.faults.append(f"{lone}: given without {other}. Add that, or remove it.")
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
