"""Read a thermometer record: the columns, the cells, the clock.

Every row that cannot be used is reported in one error. What had to be decided on the way is kept as
`findings`, one sentence each. `_hourly` then averages the readings by the hour, and `temperature`
holds the objects that a keeper handles.
"""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from antgrowth._arguments import HIGHEST_C, LOWEST_C
from antgrowth._days import read_days
from antgrowth._hourly import HourTable, in_order, tabulate
from antgrowth._words import counted, listed
from antgrowth.errors import TemperatureError

__all__ = ["Record", "Source", "read_record"]

Source = str | os.PathLike[str] | pd.DataFrame

_WARMEST_MEDIAN_C = 45.0  # no nest is this warm for half of the time; a room in °F always is
_YEARS = (1970, 2100)  # outside, a clock was not set or a year mistyped

_TIME_HEADINGS = {"time", "date", "datetime", "timestamp"}
_TEMPERATURE_HEADINGS = {
    "temperature": "",
    "temp": "",
    "temperaturec": "C",
    "tempc": "C",
    "temperaturef": "F",
    "tempf": "F",
}
"""Letters of an accepted heading, and the unit it names."""


@dataclass(frozen=True, eq=False)
class Record:
    """A thermometer record on the keeper's own clock."""

    name: str
    """File name, or what the caller called it."""
    times: np.ndarray
    """Local wall-clock time of each reading, shape (n,), datetime64[us]."""
    readings_c: np.ndarray
    """Readings, shape (n,). [°C]"""
    table: HourTable
    """The readings averaged by the hour."""
    findings: tuple[str, ...]
    """What reading the record had to decide, one sentence each."""


@dataclass(frozen=True, eq=False)
class _Rows:
    """The two columns before any cell is understood, and what is wrong with them so far."""

    name: str
    times: pd.Series | list[str]
    readings: pd.Series | list[str]
    heading: str
    first_row: int = 2
    problems: dict[int, list[str]] = field(default_factory=dict)

    def blame(self, position: int, problem: str) -> None:
        self.problems.setdefault(position, []).append(problem)

    def label(self, position: int) -> str:
        return f"row {position + self.first_row}"

    def raise_problems(self) -> None:
        if self.problems:
            lines = (
                f"  {self.label(position)}: {'; '.join(self.problems[position])}"
                for position in sorted(self.problems)
            )
            raise TemperatureError(
                f"{self.name}: {len(self.problems)} of {counted(len(self.times), 'row')} cannot "
                "be used (the row of headings is row 1).\n" + listed(lines, "\n") + "\n"
                "Times are written 2026-07-04 15:00 or 04.07.2026 15:00; readings are numbers, "
                f"{LOWEST_C:.0f} to {HIGHEST_C:.0f} °C. Correct these rows, or empty the "
                "temperature cell where the sensor failed."
            )


def read_record(source: Source, *, tz: str | tzinfo | None, name: str | None, unit: str) -> Record:
    """Read a thermometer record; see `antgrowth.read_temperature`."""
    if unit not in ("C", "F"):
        raise TemperatureError(f'read_temperature: unit = {unit!r}. Use unit="C" or unit="F".')
    zone = _zone(tz)
    rows = _load(source, name)
    findings = _check_heading(rows, unit)
    stamps, zoned = _parse_times(rows)
    if zone is None and zoned.any():
        first = int(np.argmax(zoned))
        raise TemperatureError(
            f'{rows.name}, {rows.label(first)}: time "{list(rows.times)[first]}" carries a time '
            "zone, but a colony's log is kept by local days. Name the zone of your clock: "
            'read_temperature(..., tz="Europe/Berlin").'
        )
    readings_c = _parse_readings(rows, unit)
    used = ~np.isnan(readings_c)
    for position in _places(used & np.isnat(stamps)):
        if position not in rows.problems:
            rows.blame(position, "a reading without a time")
    rows.raise_problems()
    if not used.any():
        raise TemperatureError(f"{rows.name}: no readings. At least one row is needed.")

    unread = _places(~used & ~np.isnat(stamps))
    if unread:
        findings.append(
            f"{counted(len(unread), 'row')} without a reading not used: "
            f"{listed(rows.label(position) for position in unread)}."
        )
    clock, readings_c, repeats = in_order(stamps[used], readings_c[used])
    local = clock
    if zoned.any():
        moments = pd.DatetimeIndex(clock).tz_localize("UTC")
        local = moments.tz_convert(zone).tz_localize(None).to_numpy().astype("datetime64[us]")
    elif zone is not None:
        findings.append(f"The times carry no time zone: they are taken as clock times in {zone}.")
    table = tabulate(local, readings_c, np.diff(clock) / np.timedelta64(1, "h"))
    if not table.hours_c.size:
        raise TemperatureError(
            f"{rows.name}: no day has a temperature. {' '.join(table.findings)} Add readings."
        )
    for array in (local, readings_c, table.hours_c):
        array.flags.writeable = False  # a record is shared by every plan that is built on it
    return Record(rows.name, local, readings_c, table, (*findings, *repeats, *table.findings))


def _zone(tz: str | tzinfo | None) -> tzinfo | None:
    if tz is None or isinstance(tz, tzinfo):
        return tz
    try:
        return ZoneInfo(tz)
    except (KeyError, ValueError, TypeError, OSError) as error:
        raise TemperatureError(
            f'read_temperature: tz = {tz!r} is not a time zone. Use a name such as "Europe/Berlin".'
        ) from error


# --- the columns -----------------------------------------------------------------------------


def _load(source: Source, name: str | None) -> _Rows:
    if isinstance(source, pd.DataFrame):
        return _load_frame(source, name or "temperature table")
    if not isinstance(source, str | os.PathLike):
        raise TemperatureError(
            f"read_temperature: got a {type(source).__name__}. Give the path of a CSV file, or a "
            "DataFrame with the columns time and temperature_c."
        )
    path = Path(source).expanduser()
    if not path.is_file():
        raise TemperatureError(
            f"{path}: there is no such file. Check the path; it starts at {Path.cwd()}."
        )
    return _load_file(path, name or path.name)


def _load_frame(frame: pd.DataFrame, name: str) -> _Rows:
    time_columns, column = _find_columns(name, [str(label) for label in frame.columns])
    readings, heading = frame.iloc[:, column], str(frame.columns[column])
    if len(time_columns) == 2:
        parts = zip(*(_as_text(frame.iloc[:, place]) for place in time_columns), strict=True)
        return _Rows(name, [" ".join(part).strip() for part in parts], readings, heading)
    return _Rows(name, frame.iloc[:, time_columns[0]], readings, heading)


def _read_text(path: Path, name: str) -> str:
    content = path.read_bytes()
    if b"\0" in content[:1000]:
        raise TemperatureError(
            f"{name} is not a text file that can be read (a workbook?). Save it as CSV UTF-8."
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("latin-1")  # only ° in a heading differs, and that is not compared


def _load_file(path: Path, name: str) -> _Rows:
    text = _read_text(path, name)
    lines = (line for line in io.StringIO(text) if line.strip() and not line.startswith("#"))
    delimiter = max(";\t,", key=next(lines, "").count)
    table = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        for header_row, headings in enumerate(table, start=1):
            if any(heading.strip() for heading in headings) and not headings[0].startswith("#"):
                return _take_columns(name, table, headings, header_row)
    except csv.Error as error:
        raise TemperatureError(
            f"{name}: {error}. A double quote that is never closed does this; close or remove it."
        ) from error
    raise TemperatureError(f"{name} is empty. Its first row names the columns: time,temperature_c.")


def _take_columns(
    name: str, table: Iterator[list[str]], headings: list[str], header_row: int
) -> _Rows:
    """Keep the cells that matter in one pass, each row in its place, also if it holds none."""
    places, column = _find_columns(name, headings)
    date_place, time_place, width = places[0], places[-1], len(headings)
    dates: list[str] = []
    times: list[str] = []
    readings: list[str] = []
    problems: dict[int, list[str]] = {}
    for cells in table:
        if len(cells) != width or cells[0][:1] == "#":
            surplus = any(cell.strip() for cell in cells[width:])
            if cells and cells[0][:1] == "#":
                cells = []
            elif surplus:
                problems[len(times)] = [
                    f"{len(cells)} fields under {width} headings (decimal commas need semicolons "
                    "between the fields)"
                ]
                cells = []
            cells = cells + [""] * width
        dates.append(cells[date_place])
        times.append(cells[time_place])
        readings.append(cells[column].strip())
    if len(places) == 2:
        times = [f"{day.strip()} {time.strip()}" for day, time in zip(dates, times, strict=True)]
    times = [time.strip() for time in times]
    return _Rows(name, times, readings, headings[column], header_row + 1, problems)


def _find_columns(name: str, headings: Sequence[str]) -> tuple[list[int], int]:
    """Find the place of the time (or of a date and a time), and that of the readings."""
    keys = [_key(heading) for heading in headings]
    times = [place for place, key in enumerate(keys) if key in _TIME_HEADINGS]
    readings = [place for place, key in enumerate(keys) if key in _TEMPERATURE_HEADINGS]
    if len(times) == 2 and {keys[place] for place in times} == {"date", "time"}:
        times.sort(key=lambda place: keys[place])
    elif len(times) != 1:
        raise TemperatureError(_wrong_columns(name, "time", len(times), headings))
    if len(readings) != 1:
        raise TemperatureError(_wrong_columns(name, "temperature", len(readings), headings))
    return times, readings[0]


def _key(heading: str) -> str:
    return re.sub(r"[^a-z0-9]", "", heading.lower())


def _wrong_columns(name: str, what: str, found: int, headings: Sequence[str]) -> str:
    count = counted(found, f"{what} column") if found else f"no {what} column"
    return (
        f"{name}: {count} among the headings {', '.join(headings) or '(none)'}. One time column "
        "(time, date, datetime or timestamp; or a date and a time) and one temperature column "
        "(temperature_c, temperature, temp_c or temp) are needed. Rename or remove columns."
    )


def _check_heading(rows: _Rows, unit: str) -> list[str]:
    said = _TEMPERATURE_HEADINGS[_key(rows.heading)]
    if said == "F" and unit == "C":
        raise TemperatureError(
            f'{rows.name}: the heading "{rows.heading}" says °F, but the readings would be taken '
            'as °C. Use read_temperature(..., unit="F"), or correct the heading.'
        )
    if said == "C" and unit == "F":
        return [f'Readings taken as °F as asked, though their heading is "{rows.heading}".']
    return []


# --- the cells -------------------------------------------------------------------------------


def _as_text(column: pd.Series | list[str]) -> list[str]:
    if isinstance(column, list):
        return column
    return [
        "" if missing else str(cell).strip()
        for cell, missing in zip(column, column.isna(), strict=True)
    ]


def _parse_times(rows: _Rows) -> tuple[np.ndarray, np.ndarray]:
    """Parse the times: moments (datetime64[us], UTC where zoned), and which of them are zoned."""
    column = rows.times
    if isinstance(column, pd.Series) and isinstance(column.dtype, pd.DatetimeTZDtype):
        moments = column.dt.tz_convert("UTC").dt.tz_localize(None)
        stamps, zoned = moments.to_numpy(), np.ones(len(column), bool)
    elif isinstance(column, pd.Series) and pd.api.types.is_datetime64_dtype(column.dtype):
        stamps, zoned = column.to_numpy(), np.zeros(len(column), bool)
    else:
        stamps, zoned = _parse_time_text(rows, _as_text(column))
    years = stamps.astype("datetime64[Y]").astype(int) + 1970
    for position in _places(~np.isnat(stamps) & ((years < _YEARS[0]) | (years > _YEARS[1]))):
        rows.blame(
            position,
            f"time {np.datetime_as_string(stamps[position], unit='m')} is outside the years "
            f"{_YEARS[0]} to {_YEARS[1]}",
        )
    return stamps.astype("datetime64[us]"), zoned


def _parse_time_text(rows: _Rows, text: list[str]) -> tuple[np.ndarray, np.ndarray]:
    stamps, zoned = _parse_iso(text)
    if any(text[position] for position in _places(np.isnat(stamps))):
        # Not ISO throughout: read the dates by the same rules as those of a count log.
        parts = [cell.partition("T" if "T" in cell[8:11] else " ") for cell in text]
        dates = list(dict.fromkeys(part[0] for part in parts if part[0]))
        days, faults = read_days(dates)
        iso_dates = {date: str(day) for date, day in zip(dates, days, strict=True) if day}
        fault_of = {dates[place]: fault for place, fault in faults.items()}
        stamps, zoned = _parse_iso(
            [iso_dates.get(day, "") + mark + hour for day, mark, hour in parts]
        )
        for position in _places(np.isnat(stamps)):
            if text[position]:
                fault = fault_of.get(
                    parts[position][0], "The time of day cannot be read; write it as 15:00."
                )
                rows.blame(position, f'time "{text[position]}": {fault}')
    if zoned.any():
        for position in _places(~np.isnat(stamps) & ~zoned):
            rows.blame(position, f'time "{text[position]}" has no time zone, but others have one')
    return stamps, zoned


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


def _parse_readings(rows: _Rows, unit: str) -> np.ndarray:
    """Parse the readings [°C]; NaN where there is none."""
    column = rows.readings
    if isinstance(column, pd.Series) and pd.api.types.is_numeric_dtype(column.dtype):
        numbers = column.to_numpy(dtype=float, na_value=np.nan)
    else:
        numbers = _parse_numbers(rows, pd.Series(_as_text(column), dtype=object))
    if unit == "F":
        numbers = (numbers - 32.0) * 5.0 / 9.0
    median = np.median(numbers[~np.isnan(numbers)]) if not np.isnan(numbers).all() else 0.0
    if median > _WARMEST_MEDIAN_C and unit == "C":
        raise TemperatureError(
            f"{rows.name}: half of the readings are {median:.1f} or more, too warm for a nest in "
            '°C. If the logger writes °F: read_temperature(..., unit="F").'
        )
    for position in _places((numbers < LOWEST_C) | (numbers > HIGHEST_C)):
        rows.blame(
            position,
            f"temperature {numbers[position]:.1f} °C is outside {LOWEST_C:.0f} to "
            f"{HIGHEST_C:.0f} °C",
        )
    return numbers


def _parse_numbers(rows: _Rows, text: pd.Series) -> np.ndarray:
    numbers = pd.to_numeric(text, errors="coerce").to_numpy(dtype=float, copy=True)
    unread = np.isnan(numbers)
    if unread.any():
        points = text[unread].str.replace(",", ".", regex=False)
        numbers[unread] = pd.to_numeric(points, errors="coerce").to_numpy(dtype=float)
    for position in _places(np.isnan(numbers)):
        if text[position].lower() not in ("", "nan"):
            rows.blame(position, f'temperature "{text[position]}" is not a number')
    return numbers


def _places(mask: np.ndarray) -> list[int]:
    return np.flatnonzero(mask).tolist()
