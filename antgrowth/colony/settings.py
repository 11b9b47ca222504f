"""Read colony.toml: what a keeper says of a colony once, beside the counts and temperatures.

Every fault of the file is collected, so that a keeper meets all of them at once.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from antgrowth._core.dates import as_day
from antgrowth._core.text import told
from antgrowth._core.validation import (
    TEXT,
    Check,
    Table,
    as_celsius,
    as_number,
    one_of,
    read_by,
    tables_of,
    unchecked,
    whole,
)  # fmt: skip
from antgrowth.care.nests import nest_faults
from antgrowth.care.outdoors import STAY
from antgrowth.climate.temperature import Temperature, constant, day_night
from antgrowth.errors import TemperatureError
from antgrowth.species.native_range import COUNTRY

SETTINGS_FILE = "colony.toml"

PLAN = ("constant_c", "day_c", "night_c", "day_hours")
"""Keys that make a temperature plan: the first alone, or the others together."""

_PLAN: dict[str, Check] = dict.fromkeys(PLAN, unchecked)  # what they make is told by `plan_of`

_TEMPERATURE = Table(
    _PLAN
    | {"before": Table(_PLAN), "after": Table(_PLAN)}
    | {"tz": TEXT, "unit": one_of("C", "F"), "bridge_days": whole(0, remedy="Write days.")}
)

_REST = Table(
    {"start": read_by(as_day), "end": read_by(as_day), "temperature_c": read_by(as_celsius)},
    needed=dict.fromkeys(("start", "end"), '"2026-11-15"'),
)

# How normals and weather go together is told by `weather_of`.
_WEATHER: dict[str, Check] = {"normals_c": unchecked, "daily_range_c": unchecked, "weather": TEXT}

_OUTDOORS = Table(_WEATHER | STAY)

_COLONY = Table(
    {
        "name": TEXT,
        "species": TEXT,
        "queen_since": read_by(as_day),
        "queens": whole(1, 10_000, remedy="Write how many laid eggs."),
        "hemisphere": one_of("north", "south"),
        "country": COUNTRY,
        "temperature": _TEMPERATURE,
        "rest": tables_of(_REST),
        "protein_from_workers": whole(0, remedy="Write the workers from which on prey is offered."),
        "milestones": unchecked,  # what may be amended depends on the species
        "nests": nest_faults,
        "outdoors": _OUTDOORS,
    },
    needed={"species": '"lasius-niger"'},
)

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
    except (ValueError, RecursionError) as error:  # of digits and depth as well
        return Checked(
            faults=[
                f"not a TOML file: {error}. Texts and dates stand in quotes, one key a line, such "
                f"as {_BEGINNING}; correct that place."
            ]
        )
    return Checked(table, list(_COLONY(table, "")))


def plan_of(table: Mapping[str, Any], where: str) -> Temperature:
    """Make the temperature plan that a table describes."""
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
                f"{where}.day_hours = {told(table['day_hours'])}. A day lasts more than 0 and less "
                "than 24 hours; for one temperature all the time write constant_c alone."
            )
        return day_night(warm, cool, hours)
    raise TemperatureError(
        f"{where} has {' and '.join(given) or 'no temperature'}. Allowed: constant_c alone, or "
        "day_c and night_c, with day_hours if the day does not last 14 hours. Write one of them."
    )


def _as_list(found: Any) -> list[Any]:
    return found if isinstance(found, list) else [found]
