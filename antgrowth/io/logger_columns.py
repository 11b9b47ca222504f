"""Find and lift the columns of a thermometer record: time, temperature, humidity.

Nothing is understood here but headings; the cells stay as they are written. Each row keeps its
place, so that a fault can be told with the row's number in the file.
"""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import pandas as pd

from antgrowth._core.text import counted, listed
from antgrowth._core.validation import HIGHEST_C, LOWEST_C
from antgrowth.errors import TemperatureError

__all__ = ["Cells", "Rows", "TableSource", "as_text", "load_rows"]

TableSource = str | os.PathLike[str] | pd.DataFrame
Cells = pd.Series | list[str]

_TIME_HEADINGS = {"time", "date", "datetime", "timestamp", "localtime"}

# Headings are compared by their small letters and digits alone.
_PLACE = "(?:nest|room|air|ambient)?"
_TEMPERATURE = re.compile(
    _PLACE + "temp(?:erature)?(?:c|degc|celsius|f|degf|fahrenheit)?|celsius|fahrenheit"
)
_HUMIDITY = re.compile(_PLACE + "(?:rel|relative)?(?:humidity|hum|rh)(?:pct|percent|rh)?")


@dataclass(frozen=True, eq=False)
class Rows:
    """The columns before any cell is understood, and what is wrong with them so far."""

    name: str
    """File name, or what the caller called the record."""
    times: Cells
    readings: Cells
    humidity: Cells | None
    """None if there is no such column."""
    heading: str
    """Heading of the readings."""
    unused: tuple[str, ...]
    """Headings of the columns that are left aside."""
    first_row: int = 2
    problems: dict[int, list[str]] = field(default_factory=dict)

    @property
    def unit_named(self) -> str:
        """Unit that the heading of the readings names: "C", "F" or ""."""
        key = _key(self.heading)
        if key.endswith(("f", "fahrenheit")):
            return "F"
        return "C" if key.endswith(("c", "celsius")) else ""

    def add_error(self, position: int, problem: str) -> None:
        """Note a fault of the row at a position."""
        self.problems.setdefault(position, []).append(problem)

    def label(self, position: int) -> str:
        """Name a row as the keeper finds it in the file."""
        return f"row {position + self.first_row}"

    def raise_problems(self) -> None:
        """Raise one error for all faults noted, if there are any."""
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


class _Places(NamedTuple):
    """Where the columns stand."""

    times: list[int]
    readings: int
    humidity: int | None
    unused: tuple[str, ...]


def load_rows(source: TableSource, name: str | None) -> Rows:
    """Take the columns that matter from a file or a table."""
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


def _load_frame(frame: pd.DataFrame, name: str) -> Rows:
    headings = [str(label) for label in frame.columns]
    places = _find_columns(name, headings)
    times: Cells = frame.iloc[:, places.times[0]]
    if len(places.times) == 2:
        parts = zip(*(as_text(frame.iloc[:, place]) for place in places.times), strict=True)
        times = [" ".join(part).strip() for part in parts]
    humidity = None if places.humidity is None else frame.iloc[:, places.humidity]
    readings, heading = frame.iloc[:, places.readings], headings[places.readings]
    return Rows(name, times, readings, humidity, heading, places.unused)


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


def _load_file(path: Path, name: str) -> Rows:
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
) -> Rows:
    """Keep the cells that matter in one pass, each row in its place, also if it holds none."""
    places = _find_columns(name, headings)
    date_place, time_place, width = places.times[0], places.times[-1], len(headings)
    dates: list[str] = []
    times: list[str] = []
    readings: list[str] = []
    humidity: list[str] = []
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
        readings.append(cells[places.readings].strip())
        if places.humidity is not None:
            humidity.append(cells[places.humidity].strip())
    if len(places.times) == 2:
        times = [f"{day.strip()} {time.strip()}" for day, time in zip(dates, times, strict=True)]
    times = [time.strip() for time in times]
    return Rows(
        name,
        times,
        readings,
        None if places.humidity is None else humidity,
        headings[places.readings],
        places.unused,
        header_row + 1,
        problems,
    )


def _find_columns(name: str, headings: Sequence[str]) -> _Places:
    """Find the place of the time (or of a date and a time), of the readings and of humidity."""
    keys = [_key(heading) for heading in headings]
    times = [place for place, key in enumerate(keys) if key in _TIME_HEADINGS]
    readings = [place for place, key in enumerate(keys) if _TEMPERATURE.fullmatch(key)]
    humidity = [place for place, key in enumerate(keys) if _HUMIDITY.fullmatch(key)]
    if len(times) == 2 and {keys[place] for place in times} == {"date", "time"}:
        times.sort(key=lambda place: keys[place])
    elif len(times) != 1:
        raise TemperatureError(_wrong_columns(name, "time", len(times), headings))
    if len(readings) != 1:
        raise TemperatureError(_wrong_columns(name, "temperature", len(readings), headings))
    if len(humidity) > 1:
        raise TemperatureError(
            f"{name}: {len(humidity)} humidity columns among the headings {', '.join(headings)}. "
            "At most one can be read (humidity, humidity_pct or rh). Rename or remove columns."
        )
    used = {*times, *readings, *humidity}
    unused = (heading for place, heading in enumerate(headings) if place not in used)
    return _Places(
        times, readings[0], humidity[0] if humidity else None, tuple(h for h in unused if h.strip())
    )


def _key(heading: str) -> str:
    return re.sub(r"[^a-z0-9]", "", heading.lower())


def _wrong_columns(name: str, what: str, found: int, headings: Sequence[str]) -> str:
    count = counted(found, f"{what} column") if found else f"no {what} column"
    return (
        f"{name}: {count} among the headings {', '.join(headings) or '(none)'}. One time column "
        "(time, date, datetime or timestamp; or a date and a time) and one temperature column "
        "(temperature_c, temperature, temp_c or temp) are needed. Rename or remove columns."
    )


def as_text(column: Cells) -> list[str]:
    """Cells as text without surrounding blanks, empty where there is none."""
    if isinstance(column, list):
        return column
    return [
        "" if missing else str(cell).strip()
        for cell, missing in zip(column, column.isna(), strict=True)
    ]
