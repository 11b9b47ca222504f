"""Find and lift the columns of a thermometer record: time, temperature, humidity.

Nothing is understood here but headings; the cells stay as they are written. Each row keeps its
place, so that a fault can be told with the row's number in the file.
"""

from __future__ import annotations

import csv
import io
import os
import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import NamedTuple

import pandas as pd

from antgrowth._core.text import counted, listed, printed
from antgrowth._core.validation import HIGHEST_C, LOWEST_C
from antgrowth.errors import TemperatureError

TableSource = str | os.PathLike[str] | pd.DataFrame
Cells = pd.Series | list[str]

_TIME_HEADINGS = {"time", "date", "datetime", "timestamp", "localtime"}

# Headings are compared by their small letters and digits alone.
_PLACE = "(?:nest|room|air|ambient)?"
_TEMPERATURE = re.compile(
    _PLACE + "temp(?:erature)?(?:c|degc|celsius|f|degf|fahrenheit)?|celsius|fahrenheit"
)
_HUMIDITY = re.compile(_PLACE + "(?:rel|relative)?(?:humidity|hum|rh)(?:pct|percent|rh)?")

# Words by which longer headings are known, in English, German, French, Spanish, Italian, Dutch,
# Polish and Portuguese (from memory).
_DATES = {"date", "datum", "fecha", "data", "datetime", "timestamp", "zeitstempel", "horodatage"}
_CLOCKS = {"time", "zeit", "uhrzeit", "tijd", "heure", "hora", "ora", "czas", "datetime",
           "timestamp", "zeitstempel", "horodatage"}  # fmt: skip
_WARMTH = ("temp",)
_DAMP = ("humid", "rh", "feucht", "luftfeucht", "humed", "umid", "vocht", "luchtvocht", "wilgot")
_UNITS = {"C": {"c", "degc", "celsius"}, "F": {"f", "degf", "fahrenheit"}}

_OFFSET = re.compile(r"\b(?:GMT|UTC)\s*(?:([+-])\s*([0-9]{1,2})(?::?([0-9]{2}))?)?")

_MOST_LINES_ABOVE = 60
"""Headings stand within so many lines."""


@dataclass(frozen=True, eq=False)
class Rows:
    """The columns before any cell is understood, and what is wrong with them so far."""

    name: str  # file name, or what the caller called the record
    times: Cells
    readings: Cells
    humidity: Cells | None  # None if there is no such column
    heading: str  # heading of the readings
    unused: tuple[str, ...]  # headings of the columns that are left aside
    first_row: int = 2
    problems: dict[int, list[str]] = field(default_factory=dict)
    time_heading: str = ""  # heading of the times
    findings: tuple[str, ...] = ()  # what finding the columns had to decide

    @property
    def offset(self) -> pd.Timedelta | None:
        """By how much the clock named in the heading of the times is ahead of UTC, if one is."""
        found = _OFFSET.search(self.time_heading)
        if found is None:
            return None
        sign = -1 if found[1] == "-" else 1
        return sign * pd.Timedelta(hours=int(found[2] or 0), minutes=int(found[3] or 0))

    @property
    def unit_named(self) -> str:
        """Unit that the heading of the readings names: "C", "F" or ""."""
        key, words = _key(self.heading), _words(self.heading)
        for unit, names in _UNITS.items():
            if words & names:
                return unit
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
    row, headings, delimiter = _heading_row(text, name)
    table = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    for _ in range(row):
        next(table)
    try:
        rows = _take_columns(name, table, headings, row)
    except csv.Error as error:
        raise TemperatureError(
            f"{name}: {error}. A double quote that is never closed does this; close or remove it."
        ) from error
    above = [line.strip() for line in text.splitlines()[: row - 1]]
    above = [line for line in above if line and not line.startswith("#")]
    if above:
        said = f"{counted(len(above), 'line')} above the headings not read: {listed(above)}."
        rows = replace(rows, findings=(said, *rows.findings))
    return rows


def _heading_row(text: str, name: str) -> tuple[int, list[str], str]:
    """Find the headings: number of their row, the headings, and the mark between the cells.

    Loggers write their name and settings above the headings, and some begin them with a #. The
    first row with a time and a temperature is taken, one without # before all others.
    """
    first: tuple[int, list[str], str] | None = None
    marked: tuple[int, list[str], str] | None = None
    for row, line in enumerate(io.StringIO(text), start=1):
        if not line.strip(' \t\r\n;,"'):
            continue
        comment = line.lstrip(' "').startswith("#")
        delimiter = max(";\t,", key=line.count)
        cells = next(csv.reader([line], delimiter=delimiter))
        cells = [cell.strip() for cell in cells]
        if comment:
            # "# time,..." hides the heading's first word; a column may also be called "#".
            cells[0] = cells[0].lstrip("# ")
        here = (row, cells, delimiter)
        if not comment and first is None:
            first = here
        if _are_headings(cells):
            if not comment:
                return here
            marked = marked or here
        elif row > _MOST_LINES_ABOVE:
            break
    if marked is not None and (first is None or not _are_headings(first[1])):
        return marked
    if first is None:
        raise TemperatureError(
            f"{name} is empty. Its first row names the columns: time,temperature_c."
        )
    return first


def _are_headings(cells: Sequence[str]) -> bool:
    """Whether a row names a time and a temperature; a reading names nothing."""
    try:
        _find_columns("", cells)
    except TemperatureError:
        return False
    return True


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
        " ".join(headings[place] for place in places.times),
    )


def _find_columns(name: str, headings: Sequence[str]) -> _Places:
    """Find the place of the time (or of a date and a time), of the readings and of humidity."""
    keys = [_key(heading) for heading in headings]
    times = [place for place, key in enumerate(keys) if key in _TIME_HEADINGS]
    readings = [place for place, key in enumerate(keys) if _TEMPERATURE.fullmatch(key)]
    humidity = [place for place, key in enumerate(keys) if _HUMIDITY.fullmatch(key)]
    # What is not called as usual is known by a word of its heading.
    words = [_words(heading) for heading in headings]
    times = times or [place for place, said in enumerate(words) if said & (_DATES | _CLOCKS)]
    readings = readings or [place for place, said in enumerate(words) if _names(said, _WARMTH)]
    humidity = humidity or [place for place, said in enumerate(words) if _names(said, _DAMP)]
    kinds = [(bool(words[k] & _DATES), bool(words[k] & _CLOCKS)) for k in times]
    if sorted(kinds) == [(False, True), (True, False)]:
        times.sort(key=lambda place: not words[place] & _DATES)
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


def _words(heading: str) -> set[str]:
    """Words of a heading in small letters, without accents; °C is one."""
    plain = unicodedata.normalize("NFKD", heading.replace("°", " deg")).encode("ascii", "ignore")
    return set(re.findall(r"[a-z]+", plain.decode().lower()))


def _names(words: set[str], beginnings: tuple[str, ...]) -> bool:
    return any(word.startswith(beginnings) for word in words)


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
        "" if missing else printed(cell).strip()
        for cell, missing in zip(column, column.isna(), strict=True)
    ]
