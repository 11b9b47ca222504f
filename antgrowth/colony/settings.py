"""Read colony.toml: what a keeper says of a colony once, beside the counts and temperatures.

Every fault of the file is collected, so that a keeper meets all of them at once.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from antgrowth._core.dates import as_day
from antgrowth._core.text import near_miss
from antgrowth._core.validation import as_celsius, as_number
from antgrowth.care.nests import nest_faults
from antgrowth.care.outdoors import STAY
from antgrowth.climate.temperature import Temperature, constant, day_night
from antgrowth.errors import AntgrowthError, TemperatureError
from antgrowth.species.native_range import country_fault

__all__ = ["PLAN", "SETTINGS_FILE", "Checked", "plan_of", "read_settings"]

SETTINGS_FILE = "colony.toml"

PLAN = ("constant_c", "day_c", "night_c", "day_hours")
"""Keys that make a temperature plan: the first alone, or the others together."""

_KEYS = {
    "": (
        "name", "species", "queen_since", "queens", "hemisphere", "country", "temperature", "rest",
        "milestones", "nests", "outdoors",
    ),
    "temperature": (*PLAN, "before", "after", "tz", "unit"),
    "temperature.before": PLAN,
    "temperature.after": PLAN,
    "rest": ("start", "end", "temperature_c"),
    "outdoors": ("normals_c", "daily_range_c", "weather", "workers", "weeks", "chance"),
}  # fmt: skip
_TEXTS = ("name", "species", "temperature.tz", "outdoors.weather")
_CHOICES = {"hemisphere": ("north", "south"), "temperature.unit": ("C", "F")}
_STAY_PATHS = tuple(f"outdoors.{key}" for key in STAY)

MOST = {"outdoors.workers": 10**9, "outdoors.weeks": 52}
"""Largest number that a stay outdoors may have."""

_DATES = ("queen_since", "rest.start", "rest.end")
_NEEDED = {"": ("species",), "rest": ("start", "end")}

_BEGINNING = 'species = "lasius-niger" and queen_since = "2026-07-04"'


@dataclass
class Checked:
    """A colony.toml as parsed, and every fault found in it."""

    settings: dict[str, Any] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)

    def tables(self, key: str) -> list[Mapping[str, Any]]:
        """The tables under a key, one or several; none if there is a fault in them."""
        faulty = any(fault.startswith(key) for fault in self.faults)
        return [] if faulty else _as_list(self.settings.get(key, []))


def read_settings(folder: Path) -> Checked:
    """Read and check the colony.toml of a folder; faults are kept, not raised."""
    path = folder / SETTINGS_FILE
    if not path.is_file():
        return Checked(faults=[f"there is no such file. Write one with at least {_BEGINNING}."])
    try:
        table = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        return Checked(faults=[f"byte {error.start} is not UTF-8 text. Save it again as UTF-8."])
    except tomllib.TOMLDecodeError as error:
        return Checked(
            faults=[
                f"not a TOML file: {error}. Texts and dates stand in quotes, one key a line, such "
                f"as {_BEGINNING}; correct that place."
            ]
        )
    return Checked(table, list(_faults(table, "")))


def plan_of(table: Mapping[str, Any], where: str) -> Temperature:
    """Make the temperature plan that a table describes.

    Raises
    ------
    TemperatureError
        If the keys do not make one plan, or a value is out of range.
    """
    given = [key for key in PLAN if key in table]
    if given == ["constant_c"]:
        return constant(as_celsius(table["constant_c"], f"{where}.constant_c"))
    if given[:2] == ["day_c", "night_c"]:
        warm, cool = (as_celsius(table[key], f"{where}.{key}") for key in given[:2])
        if len(given) == 2:
            return day_night(warm, cool)
        hours = as_number(table["day_hours"])
        if not 0 < hours < 24:
            raise TemperatureError(
                f"{where}.day_hours = {table['day_hours']!r}. A day lasts more than 0 and less "
                "than 24 hours; for one temperature all the time write constant_c alone."
            )
        return day_night(warm, cool, hours)
    raise TemperatureError(
        f"{where} has {' and '.join(given) or 'no temperature'}. Allowed: constant_c alone, or "
        "day_c and night_c, with day_hours if the day does not last 14 hours. Write one of them."
    )


def _faults(table: Mapping[str, Any], place: str) -> Iterator[str]:
    """Walk a table and its tables; `place` is the table's own path, empty at the top."""
    for key, found in table.items():
        path = f"{place}.{key}" if place else key
        if key not in _KEYS[place]:
            yield (
                f"{path} = {found!r}. That key is not known.{near_miss(key, _KEYS[place])} "
                f"Allowed: {', '.join(_KEYS[place])}."
            )
        elif path == "nests":
            yield from nest_faults(found)
        elif path == "milestones":
            continue  # what may be amended depends on the species
        elif path in _KEYS:
            yield from _table_faults(found, path)
        elif fault := _value_fault(found, path):
            yield fault
    for key in _NEEDED.get(place, ()):
        if key not in table:
            example = '"lasius-niger"' if key == "species" else '"2026-11-15"'
            yield f"{place and place + '.'}{key} is missing. Add it, such as {key} = {example}."


def _table_faults(found: Any, path: str) -> Iterator[str]:
    tables = _as_list(found) if path == "rest" else [found]
    for table in tables:
        if isinstance(table, Mapping):
            yield from _faults(table, path)
        else:
            yield (
                f"{path} = {found!r}. This is a table: write a line [{path}] and its keys "
                f"({', '.join(_KEYS[path])}) below it."
            )


def _value_fault(found: Any, path: str) -> str:
    """What is wrong with one value; empty if nothing is."""
    if path in _TEXTS and not (isinstance(found, str) and found.strip()):
        return f"{path} = {found!r}. Allowed: a text in quotes. Write it."
    if path == "country":
        fault = country_fault(found)
        return fault and f"{path} = {found!r}. {fault}"
    if path == "queens" and not (type(found) is int and found >= 1):
        return f"{path} = {found!r}. Allowed: a whole number above 0. Write how many laid eggs."
    if path in _STAY_PATHS and (fault := _stay_fault(found, path)):
        return fault
    if path in _CHOICES and found not in _CHOICES[path]:
        options = _CHOICES[path]
        return (
            f"{path} = {found!r}. Allowed: {', '.join(map(repr, options))}."
            f"{near_miss(str(found), options)} Write one of them."
        )
    try:
        if path in _DATES:
            as_day(found, path)
        elif path == "rest.temperature_c":
            as_celsius(found, path)
    except AntgrowthError as error:
        return str(error)
    return ""


def _stay_fault(found: Any, path: str) -> str:
    """What is wrong with a number of a stay outdoors, as `antgrowth.outdoor_windows` takes it."""
    if path == "outdoors.chance":
        if type(found) in (int, float) and 0 < found < 1:
            return ""
        return f"{path} = {found!r}. Allowed: a probability between 0 and 1. Write it, such as 0.8."
    if type(found) is int and 1 <= found <= MOST[path]:
        return ""
    upto = f"from 1 to {MOST[path]}" if path == "outdoors.weeks" else "above 0"
    return f"{path} = {found!r}. Allowed: a whole number {upto}. Write one, without quotes."


def _as_list(found: Any) -> list[Any]:
    return found if isinstance(found, list) else [found]
