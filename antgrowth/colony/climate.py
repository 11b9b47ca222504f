"""The temperatures of a colony folder: record, plans and rests put together, and the weather."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from antgrowth._core.dates import as_day
from antgrowth.climate.temperature import Temperature, monthly_normals, read_temperature
from antgrowth.colony.settings import PLAN, SETTINGS_FILE, Checked, plan_of
from antgrowth.errors import TemperatureError

TEMPERATURE_FILE = "temperature.csv"

RECORD_KEYS = ("before", "after", "tz", "unit", "bridge_days")

BRIDGE_DAYS = 5
"""Gaps of up to so many days in the record of a folder are bridged, and told. [day]"""

ONE_DAY = pd.Timedelta("1D")


def temperature_of(folder: Path, checked: Checked) -> Temperature:
    """Put record, plans and rests together."""
    table = next(iter(checked.tables("temperature")), {})
    logged: tuple[pd.Timestamp, pd.Timestamp] | None = None
    path, planned = folder / TEMPERATURE_FILE, [key for key in PLAN if key in table]
    record_keys = [key for key in RECORD_KEYS if key in table]
    if _has_readings(path):
        if planned:
            raise TemperatureError(
                f"{SETTINGS_FILE}: temperature.{planned[0]} is given, but there is a "
                f"{TEMPERATURE_FILE} too. For the days after its end write after = "
                "{ constant_c = 24.0 }, for those before its start before = { ... }; else remove "
                "one of the two."
            )
        temperature = _record(path, table)
        first, last = logged = _logged(temperature)
        if "before" in table:
            before = plan_of(table["before"], f"{SETTINGS_FILE}: temperature.before")
            temperature = before.then(first, temperature)
        if "after" in table:
            after = plan_of(table["after"], f"{SETTINGS_FILE}: temperature.after")
            temperature = temperature.then(last + ONE_DAY, after)
    elif record_keys:
        raise TemperatureError(
            f"{SETTINGS_FILE}: temperature.{record_keys[0]} goes with a {TEMPERATURE_FILE}, and "
            "there is none in the folder. Add it, or give constant_c, or day_c and night_c."
        )
    elif planned:
        temperature = plan_of(table, f"{SETTINGS_FILE}: temperature")
    else:
        raise TemperatureError(
            f"{TEMPERATURE_FILE}: there is no such file in the folder. Add the record, or write "
            f"into {SETTINGS_FILE} a line [temperature] and below it constant_c = 24.0, or "
            "day_c = 27.0 and night_c = 21.0."
        )
    for rest in checked.tables("rest"):
        temperature = _with_rest(temperature, rest, logged)
    return temperature


def weather_of(folder: Path, table: Mapping[str, Any] | None) -> Temperature | None:
    """Weather of the place outdoors, if the keeper speaks of it."""
    if table is None:
        return None
    given = [key for key in ("normals_c", "weather") if key in table]
    if len(given) != 1:
        raise TemperatureError(
            f"{SETTINGS_FILE}: outdoors has {' and '.join(given) or 'no weather'}. Allowed: "
            "normals_c, the 12 monthly means of the place, or weather, the file of a record. "
            "Write one of them."
        )
    if given == ["weather"] and "daily_range_c" in table:
        raise TemperatureError(
            f"{SETTINGS_FILE}: outdoors.daily_range_c goes with normals_c, but weather is given: "
            "the record tells how warm days and nights are. Remove daily_range_c, or write "
            "normals_c instead of weather."
        )
    if given == ["weather"]:
        return read_temperature(folder / table["weather"])
    means_c = table["normals_c"]
    try:
        return monthly_normals(means_c, daily_range=table.get("daily_range_c", 0.0))
    except TemperatureError as error:
        raise TemperatureError(f"{SETTINGS_FILE}: outdoors: {error}") from None


def _has_readings(path: Path) -> bool:
    """Whether a record is there: a file of a head and comments is one still to come."""
    if not path.is_file():
        return False
    lines = path.read_bytes().splitlines()
    rows = [line for line in lines if line.strip() and not line.lstrip().startswith(b"#")]
    return len(rows) > 1


def _record(path: Path, table: Mapping[str, Any]) -> Temperature:
    try:
        return read_temperature(
            path, tz=table.get("tz"), unit=table.get("unit"),
            bridge_days=table.get("bridge_days", BRIDGE_DAYS),
        )  # fmt: skip
    except TemperatureError as error:
        hint = ""
        if "tz=" in str(error) or "unit=" in str(error):
            hint = (
                f"\nIn {SETTINGS_FILE} these are keys below [temperature]: "
                'tz = "Europe/Berlin", unit = "F".'
            )
        raise TemperatureError(f"{error}{hint}") from None


def _logged(record: Temperature) -> tuple[pd.Timestamp, pd.Timestamp]:
    """First and last day of a record, which has both."""
    first, last = record.covers()
    return pd.Timestamp(first), pd.Timestamp(last)  # type: ignore[arg-type]


def _with_rest(
    temperature: Temperature,
    rest: Mapping[str, Any],
    logged: tuple[pd.Timestamp, pd.Timestamp] | None,
) -> Temperature:
    start, stop = (pd.Timestamp(as_day(rest[key], f"rest.{key}")) for key in ("start", "end"))
    where = f"{SETTINGS_FILE}: rest from {start:%Y-%m-%d} to {stop:%Y-%m-%d}"
    if stop <= start:
        raise TemperatureError(
            f"{where} has no day in it. The end is the first day after the rest: write a later one."
        )
    temperature_c = rest.get("temperature_c")
    if logged is None or temperature_c is None:
        return temperature.rest(start, stop, temperature_c)
    # Where there are readings they count; what is planned holds for the days without any.
    rested = temperature.rest(start, stop)
    first, after = logged[0], logged[1] + ONE_DAY
    for begin, end in ((start, min(stop, first)), (max(start, after), stop)):
        if begin < end:
            rested = rested.rest(begin, end, temperature_c)
    return rested
