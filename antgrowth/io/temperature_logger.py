"""Read a thermometer record: the cells, the clock, and what looks wrong.

Every row that cannot be used is reported in one error. What had to be decided on the way is kept as
`findings`, one sentence each. `logger_columns` finds the columns, `hourly` averages the readings
by the hour, and `climate.temperature` holds the objects that a keeper handles.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import tzinfo
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from antgrowth._core.dates import read_days
from antgrowth._core.text import counted, listed, told
from antgrowth._core.validation import HIGHEST_C, LOWEST_C
from antgrowth.errors import TemperatureError
from antgrowth.io.hourly_means import HourTable, in_order, tabulate
from antgrowth.io.logger_columns import Cells, Rows, TableSource, as_text, load_rows
from antgrowth.io.sensor_checks import sensor_findings

_WARMEST_MEDIAN_C = 45.0  # no nest is this warm for half of the time; a room in °F always is
_YEARS = (1970, 2100)  # outside, a clock was not set or a year mistyped
_WET_SENSOR_PCT = 110.0  # sensors that got wet read somewhat above 100 %


_HALF_DAY = re.compile(r"([0-9]{1,2})((?::[0-9]{2}){1,2}(?:[.,][0-9]+)?)\s*([AaPp])\.?\s?[Mm]\.?")
_SHORT_YEAR = re.compile(r"([0-9]{1,2})([-/.])([0-9]{1,2})\2([0-9]{2})")
_SHORT_ORDERS = ((2, 0, 1), (2, 1, 0), (0, 1, 2))
"""Places of year, month and day: month first, day first, year first."""

_STEADY_DAYS = 32
"""On average the days of a record lie nearer together; where the year is misread they do not."""


@dataclass(frozen=True, eq=False)
class Record:
    """A thermometer record on the keeper's own clock."""

    name: str  # file name, or what the caller called it
    times: np.ndarray  # local wall-clock time of each reading, shape (n,), datetime64[us]
    readings_c: np.ndarray  # readings, shape (n,) [°C]
    table: HourTable  # the readings averaged by the hour
    findings: tuple[str, ...]  # what reading the record had to decide, one sentence each


def read_record(
    source: TableSource,
    *,
    tz: str | tzinfo | None,
    name: str | None,
    unit: str | None,
    bridge_days: int = 0,
) -> Record:
    """Read a thermometer record; see `antgrowth.read_temperature`."""
    if unit not in (None, "C", "F"):
        raise TemperatureError(f'read_temperature: unit = {told(unit)}. Use unit="C" or unit="F".')
    zone = _zone(tz)
    rows = load_rows(source, name)
    findings = [*rows.findings, *_check_heading(rows, unit)]
    unit = unit or rows.unit_named or "C"
    if rows.unused:
        findings.append(f"Columns not used: {listed(rows.unused)}.")
    stamps, zoned = _parse_times(rows)
    stamps, zoned = _on_the_clock(rows, stamps, zoned, zone, findings)
    readings_c = _parse_readings(rows, unit)
    humidity_pct = _parse_humidity(rows, findings)
    used = ~np.isnan(readings_c)
    for position in _places(used & np.isnat(stamps)):
        if position not in rows.problems:
            rows.add_error(position, "a reading without a time")
    rows.raise_problems()
    if not used.any():
        raise TemperatureError(f"{rows.name}: no readings. At least one row is needed.")

    unread = _places(~used & ~np.isnat(stamps))
    if unread:
        findings.append(
            f"{counted(len(unread), 'row')} without a reading not used: "
            f"{listed(rows.label(position) for position in unread)}."
        )
    if humidity_pct is not None:
        humidity_pct = humidity_pct[used]
    clock, readings_c, humidity_pct, repeats = in_order(
        stamps[used], readings_c[used], humidity_pct
    )
    local = clock
    if zoned.any():
        moments = pd.DatetimeIndex(clock).tz_localize("UTC")
        local = moments.tz_convert(zone).tz_localize(None).to_numpy().astype("datetime64[us]")
    elif zone is not None:
        findings.append(f"The times carry no time zone: they are taken as clock times in {zone}.")
    steps = np.diff(clock) / np.timedelta64(1, "h")
    table = tabulate(local, readings_c, steps, humidity_pct, bridge_days)
    if not table.hours_c.size:
        raise TemperatureError(
            f"{rows.name}: no day has a temperature. {' '.join(table.findings)} Add readings."
        )
    findings += repeats
    if not table.daily:
        findings += sensor_findings(local, readings_c)
    for array in (local, readings_c, table.hours_c, table.humidity_pct):
        if array is not None:
            array.flags.writeable = False  # a record is shared by every plan that is built on it
    return Record(rows.name, local, readings_c, table, (*findings, *table.findings))


def _zone(tz: str | tzinfo | None) -> tzinfo | None:
    if tz is None or isinstance(tz, tzinfo):
        return tz
    try:
        return ZoneInfo(tz if isinstance(tz, str) else "(no name)")
    except (KeyError, ValueError, TypeError, OSError) as error:
        raise TemperatureError(
            f"read_temperature: tz = {told(tz)} is not a time zone. Use a name such as "
            '"Europe/Berlin".'
        ) from error


def _on_the_clock(
    rows: Rows, stamps: np.ndarray, zoned: np.ndarray, zone: tzinfo | None, findings: list[str]
) -> tuple[np.ndarray, np.ndarray]:
    """Settle whose clock the times are of: UTC where they carry a zone, or their heading does."""
    if (offset := rows.offset) is not None and not zoned.any():
        if zone is None:
            findings.append(
                f'Times are taken as they stand, though their heading is "{rows.time_heading}"; '
                'with tz="Europe/Berlin" or the like they are moved to that clock.'
            )
        else:
            stamps, zoned = stamps - offset.to_timedelta64(), ~np.isnat(stamps)
    if zone is None and zoned.any():
        first = int(np.argmax(zoned))
        raise TemperatureError(
            f'{rows.name}, {rows.label(first)}: time "{list(rows.times)[first]}" carries a time '
            "zone, but a colony's log is kept by local days. Name the zone of your clock: "
            'read_temperature(..., tz="Europe/Berlin").'
        )
    return stamps, zoned


# --- the cells -------------------------------------------------------------------------------


def _check_heading(rows: Rows, unit: str | None) -> list[str]:
    if rows.unit_named == "F" and unit == "C":
        raise TemperatureError(
            f'{rows.name}: the heading "{rows.heading}" says °F, but the readings would be taken '
            'as °C. Use read_temperature(..., unit="F"), or correct the heading.'
        )
    if rows.unit_named == "F" and unit is None:
        return [f'Readings taken as °F, as their heading "{rows.heading}" says.']
    if rows.unit_named == "C" and unit == "F":
        return [f'Readings taken as °F as asked, though their heading is "{rows.heading}".']
    return []


def _parse_times(rows: Rows) -> tuple[np.ndarray, np.ndarray]:
    """Parse the times: moments (datetime64[us], UTC where zoned), and which of them are zoned."""
    column = rows.times
    if isinstance(column, pd.Series) and isinstance(column.dtype, pd.DatetimeTZDtype):
        moments = column.dt.tz_convert("UTC").dt.tz_localize(None)
        stamps, zoned = moments.to_numpy(), np.ones(len(column), bool)
    elif isinstance(column, pd.Series) and pd.api.types.is_datetime64_dtype(column.dtype):
        stamps, zoned = column.to_numpy(), np.zeros(len(column), bool)
    else:
        stamps, zoned = _parse_time_text(rows, as_text(column))
    years = stamps.astype("datetime64[Y]").astype(int) + 1970
    for position in _places(~np.isnat(stamps) & ((years < _YEARS[0]) | (years > _YEARS[1]))):
        rows.add_error(
            position,
            f"time {np.datetime_as_string(stamps[position], unit='m')} is outside the years "
            f"{_YEARS[0]} to {_YEARS[1]}",
        )
    return stamps.astype("datetime64[us]"), zoned


def _parse_time_text(rows: Rows, text: list[str]) -> tuple[np.ndarray, np.ndarray]:
    stamps, zoned = _parse_iso(text)
    if any(text[position] for position in _places(np.isnat(stamps))):
        # Not ISO throughout: read the dates by the same rules as those of a count log.
        parts = [cell.partition("T" if "T" in cell[8:11] else " ") for cell in text]
        faults: dict[str, str] = {}

        def days_of(dates: list[str]) -> np.ndarray:
            days, wrong = read_days(dates)
            faults.update((dates[place], fault) for place, fault in wrong.items())
            return np.array([day or "NaT" for day in days], "datetime64[us]")

        some_day = "2000-01-01"
        text_days = _whole_years([part[0] for part in parts])
        parts = [(day, *part[1:]) for day, part in zip(text_days, parts, strict=True)]
        days = _by_distinct(text_days, days_of)
        codes, hours = pd.factorize(np.array([part[2] for part in parts], dtype=object))
        clock = [_by_24_hours(hour) for hour in hours]
        times, zones = _parse_iso([f"{some_day} {hour}" if hour else some_day for hour in clock])
        stamps = days + (times[codes] - np.datetime64(some_day))
        zoned = zones[codes] & ~np.isnat(stamps)
        for position in _places(np.isnat(stamps)):
            if text[position]:
                fault = faults.get(
                    parts[position][0], "The time of day cannot be read; write it as 15:00."
                )
                rows.add_error(position, f'time "{text[position]}": {fault}')
    if zoned.any():
        for position in _places(~np.isnat(stamps) & ~zoned):
            rows.add_error(
                position, f'time "{text[position]}" has no time zone, but others have one'
            )
    return stamps, zoned


def _by_24_hours(text: str) -> str:
    """Write a time of day with AM or PM by 24 hours; any other as it is."""
    found = _HALF_DAY.fullmatch(text.strip())
    if found is None or not 1 <= int(found[1]) <= 12:
        return text
    hour = int(found[1]) % 12 + (12 if found[3].lower() == "p" else 0)
    return f"{hour:02d}{found[2]}"


def _whole_years(texts: list[str]) -> list[str]:
    """Write years of two digits in full, if the days of the record allow one order only.

    With two digits any of the three numbers may be the year. An order is possible if each text is a
    day in it, and the days follow one another as those of a record do; of two that are possible
    none is taken, and the dates stay as they are, to be refused.
    """
    distinct = list(dict.fromkeys(texts))
    found = [_SHORT_YEAR.fullmatch(text) for text in distinct]
    if not found or not all(found):
        return texts
    parts = [(m[1], m[3], m[4]) for m in found if m is not None]
    possible = []
    for order in _SHORT_ORDERS:
        written = [
            "20{}-{}-{}".format(*(part[place].zfill(2) for place in order)) for part in parts
        ]
        days, faults = read_days(written)
        known = sorted(day for day in days if day is not None)
        if not faults and (known[-1] - known[0]).days <= _STEADY_DAYS * len(known):
            possible.append(dict(zip(distinct, written, strict=True)))
    return [possible[0][text] for text in texts] if len(possible) == 1 else texts


def _by_distinct(text: list[str], parse: Callable[[list[str]], np.ndarray]) -> np.ndarray:
    """Parse each distinct text once: a year of minutes holds few days, and few temperatures."""
    codes, distinct = pd.factorize(np.array(text, dtype=object))
    return parse(list(distinct))[codes]


def _parse_iso(text: list[str]) -> tuple[np.ndarray, np.ndarray]:
    # The full year must stand first: the parser by itself would take "now" or "2026" for a date.
    dated = np.fromiter((len(cell) >= 8 and cell[:4].isdigit() for cell in text), bool, len(text))
    marked = np.fromiter(
        ("+" in cell or cell[-1:] in "Zz" or "-" in cell[10:] for cell in text), bool, len(text)
    )
    stamps = np.full(len(text), np.datetime64("NaT"), "datetime64[us]")
    cells = pd.Series(text, dtype=object)
    for zoned in (False, True):
        alike = dated & (marked == zoned)
        if alike.any():
            moments = pd.to_datetime(cells[alike], format="ISO8601", errors="coerce", utc=zoned)
            stamps[alike] = moments.dt.tz_localize(None).to_numpy().astype("datetime64[us]")
    return stamps, marked & ~np.isnat(stamps)


def _parse_readings(rows: Rows, unit: str) -> np.ndarray:
    """Parse the readings [°C]; NaN where there is none."""
    numbers = _parse_numbers(rows, rows.readings, "temperature")
    if unit == "F":
        numbers = (numbers - 32.0) * 5.0 / 9.0
    median = np.median(numbers[~np.isnan(numbers)]) if not np.isnan(numbers).all() else 0.0
    if median > _WARMEST_MEDIAN_C and unit == "C":
        raise TemperatureError(
            f"{rows.name}: half of the readings are {median:.1f} or more, too warm for a nest in "
            '°C. If the logger writes °F: read_temperature(..., unit="F").'
        )
    for position in _places((numbers < LOWEST_C) | (numbers > HIGHEST_C)):
        rows.add_error(
            position,
            f"temperature {numbers[position]:.1f} °C is outside {LOWEST_C:.0f} to "
            f"{HIGHEST_C:.0f} °C",
        )
    return numbers


def _parse_humidity(rows: Rows, findings: list[str]) -> np.ndarray | None:
    """Parse the relative humidity [%], NaN where there is none; None without such a column."""
    if rows.humidity is None:
        return None
    numbers = _parse_numbers(rows, rows.humidity, "humidity")
    known = numbers[~np.isnan(numbers)]
    if known.size and 0 < known.max() <= 1:
        raise TemperatureError(
            f"{rows.name}: humidity is {known.max():g} at most, which looks like a share. Give "
            "percent, 0 to 100: multiply the column by 100, or remove it."
        )
    for position in _places((numbers < 0) | (numbers > _WET_SENSOR_PCT)):
        rows.add_error(position, f"humidity {numbers[position]:g} % is outside 0 to 100 %")
    wet = known[(known > 100) & (known <= _WET_SENSOR_PCT)]
    if wet.size:
        findings.append(
            f"Humidity read {counted(wet.size, 'time')} above 100 %, up to {wet.max():.1f} %, as "
            "wet sensors do: taken as 100 %."
        )
    return np.where(numbers > 100, 100.0, numbers)


def _parse_numbers(rows: Rows, column: Cells, what: str) -> np.ndarray:
    """Parse numbers with a decimal point or comma; NaN where a cell is empty."""
    if isinstance(column, pd.Series) and pd.api.types.is_numeric_dtype(column.dtype):
        return column.to_numpy(dtype=float, na_value=np.nan)
    text = as_text(column)
    numbers = _by_distinct(text, _numbers)
    for position in _places(np.isnan(numbers)):
        if text[position].lower() not in ("", "nan"):
            rows.add_error(position, f'{what} "{text[position]}" is not a number')
    return numbers


def _numbers(texts: list[str]) -> np.ndarray:
    points = pd.Series(texts, dtype=object).str.replace(",", ".", regex=False)
    return pd.to_numeric(points, errors="coerce").to_numpy(dtype=float)


def _places(mask: np.ndarray) -> list[int]:
    return np.flatnonzero(mask).tolist()
