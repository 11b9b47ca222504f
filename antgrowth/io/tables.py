"""Read a table a keeper wrote (CSV, .xlsx or DataFrame) as rows of text that know where they stand.

All later reading works on text, so that a cell means the same in every kind of file. Rows carry
the number a spreadsheet shows: comments and blank lines are counted, and the header is row 1 if
nothing stands above it.
"""

from __future__ import annotations

import csv
import io
import itertools
import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pandas as pd

from antgrowth._core.files import as_path, read_raw
from antgrowth._core.text import printed
from antgrowth.errors import LogError

_DATE = re.compile(r"[0-9]{1,4}([-/.])[0-9]{1,2}\1[0-9]{1,4}")

# Spreadsheets save ##### for a column too narrow to show, #REF! and the like for a failed formula.
_SPREADSHEET_ERROR = re.compile(r"#+|#[A-ZÄÖÜ]+(?:/[0A]!?)?[!?]?")

# A cell as the rows of a log have them, and prose has not: a date, a number, a first sighting.
_LOGGED = re.compile(r"(?=.*[0-9])(?:[\W\d_]|[TZ])+|(?i:first)")


def shown(text: str) -> str:
    """Shorten a cell to what fits in a message of one line."""
    line = " ".join(text.split())
    return line if len(line) <= 40 else line[:37] + "..."


class Faults:
    """All that is wrong with one table, to be reported together: one line each, in row order."""

    def __init__(self, where: str) -> None:
        self._where = where
        self._lines: list[tuple[int, str]] = []

    def add(self, row: int, fault: str, day: date | None = None) -> None:
        """Note one fault of a row, with its day where that is known."""
        place = f"{self._where}, row {row}" + (f" ({day})" if day else "")
        self._lines.append((row, f"{place}: {fault}"))

    def raise_all(self) -> None:
        """Raise one LogError that lists every fault, if there are any."""
        if self._lines:
            in_order = sorted(self._lines, key=lambda line: line[0])
            raise LogError("\n".join(line for _, line in in_order))


@dataclass(frozen=True, eq=False)
class Sheet:
    """A table as text."""

    where: str  # what messages call the table: the file name
    name: str  # what results call it: the name given, else the file name without its ending
    header_row: int  # row number of the header
    header: tuple[str, ...]  # column names as written
    # Row number and cells, as many as the header has; surrounding blanks are taken off.
    rows: list[tuple[int, tuple[str, ...]]]
    faults: Faults  # rows that could not be split into cells; readers add what they find


def read_sheet(source: object, name: str | None = None, kind: str = "counts") -> Sheet:
    """Read a table of any accepted kind, as text.

    A text file (comma, semicolon or tab between cells, UTF-8, lines starting with # are comments),
    an .xlsx workbook, or a DataFrame, which is not changed; its index is taken as the column `date`
    if it holds dates and there is no such column. `name` is what results call the table; `kind` the
    name of a DataFrame without one, and of the sheet to read in a workbook where several are filled
    in. A `LogError` tells that there is no such file, or no table in it.
    """
    if isinstance(source, pd.DataFrame):
        where = name or kind
        faults = Faults(where)
        return _assemble(where, where, _frame_rows(source), faults)
    if not isinstance(source, str | os.PathLike):
        raise LogError(
            f"cannot read a table from {type(source).__name__}. "
            "Give the path of a .csv or .xlsx file, or a DataFrame."
        )
    path = as_path(source)
    if not path.is_file():
        raise LogError(f"{path}: there is no such file. Check the path; it starts at {Path.cwd()}.")
    faults = Faults(path.name)
    rows: Iterable[tuple[int, list[str]]]
    if path.suffix.lower() in (".xlsx", ".xlsm"):
        rows = _workbook_rows(path, kind)
    elif path.suffix.lower() in (".xls", ".ods", ".numbers"):
        raise LogError(
            f"{path.name}: {path.suffix} files are not read. Save the table as CSV or .xlsx."
        )
    else:
        rows = _text_rows(path, faults)
    return _assemble(path.name, name or path.stem, rows, faults)


def _assemble(
    where: str, name: str, numbered: Iterable[tuple[int, list[str]]], faults: Faults
) -> Sheet:
    """Find the header, and bring every row below it to the header's length."""
    rows = [(row, [cell.strip() for cell in cells]) for row, cells in numbered]
    while rows and not rows[-1][1]:  # blank lines at the end are no rows
        rows.pop()
    while rows and not any(rows[0][1]):
        rows.pop(0)
    if not rows:
        faults.raise_all()
        raise LogError(f"{where}: there is nothing in it. The first row must name the columns.")
    header_row, header = rows.pop(0)
    width = len(header)
    whole = []
    for row, cells in rows:
        if any(cells[width:]):
            faults.add(
                row,
                f"{len(cells)} cells under {width} column names. "
                "Put a cell that holds the separating mark in double quotes.",
            )
        else:
            padded = cells + [""] * (width - len(cells))
            whole.append((row, tuple(padded[:width])))
    return Sheet(where, name, header_row, tuple(header), whole, faults)


def _text_rows(path: Path, faults: Faults) -> Iterator[tuple[int, list[str]]]:
    try:
        text = read_raw(path).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        place = error.object[: error.start].count(b"\n") + 1
        raise LogError(
            f'{path.name}: line {place} is not UTF-8 text. Save the file again as "CSV UTF-8".'
        ) from None
    lines = iter(io.StringIO(text, newline=""))
    separator, width = "", 0
    # A record takes as many lines as it needs (a quoted note may hold several) and is one row.
    for row, line in enumerate(lines, start=1):
        if not line.strip():
            yield row, []
            continue
        if _is_comment(line, separator):
            if separator and _is_doubtful(line, separator):
                faults.add(
                    row,
                    "it begins with #, as a comment does, but has cells as a row of the log. Write "
                    "its date again, or put a note that begins with # into double quotes; else "
                    "delete the row.",
                )
            continue
        separator = separator or _separator(line)
        record = csv.reader(
            itertools.chain([line], lines), delimiter=separator, skipinitialspace=True, strict=True
        )
        try:
            cells = next(record)
        except csv.Error:
            faults.add(
                row,
                "the double quotes do not match, so the row has no clear end. "
                'Close each quote; a quotation mark inside a quoted cell is written "".',
            )
            continue
        width = width or len(cells)
        if len(cells) < width and any(_holds_cells(cell, separator) for cell in cells):
            faults.add(
                row,
                "a cell in double quotes holds what looks like cells of its own. Close the quote "
                "where the cell ends.",
            )
            continue
        if any(_holds_a_row(cell, separator) for cell in cells):
            faults.add(
                row,
                "a cell in double quotes runs on into a line that looks like a row of its own. "
                "Close the quote before the line ends.",
            )
            continue
        yield row, cells


def _is_comment(line: str, separator: str) -> bool:
    """Tell a comment from a row whose date a spreadsheet lost, such as `#####;12;3`.

    A spreadsheet puts a comment that holds the separating mark into quotes: then it is the whole
    line. Any other cell in quotes that begins with # belongs to a row.
    """
    first, *others = _split(line, separator)
    if not first.startswith("#"):
        return False
    if line.lstrip().startswith('"'):
        return not any(others)
    if not separator:  # the header is still to come
        return True
    return not (_SPREADSHEET_ERROR.fullmatch(first) and any(others))


def _is_doubtful(line: str, separator: str) -> bool:
    """Tell whether a comment looks like a row of the log that is no row put out of use.

    A row with its date after the # is one that a keeper does not want to be read.
    """
    first, *others = _split(line, separator)
    meant = _DATE.match(first.lstrip("# "))
    return not meant and any(_LOGGED.fullmatch(cell.strip(' "')) for cell in others)


def _split(line: str, separator: str) -> list[str]:
    try:
        cells = next(csv.reader([line.strip()], delimiter=separator or ",", strict=True), [""])
    except csv.Error:
        cells = line.split(separator or ",")
    return [cell.strip() for cell in cells]


def _holds_a_row(cell: str, separator: str) -> bool:
    """Tell whether an unclosed quote has swallowed a row: no note may make a count vanish."""
    begins, *goes_on = cell.splitlines() or [""]
    if "\n" in cell and _holds_cells(begins, separator):
        return True
    for line in goes_on:
        first, *others = (part.strip(' \t"') for part in line.split(separator))
        if _SPREADSHEET_ERROR.fullmatch(first) or (_DATE.match(first) and _LOGGED.fullmatch(first)):
            return True
        if others and any(map(_LOGGED.fullmatch, (first, *others))):
            return True
    return False


def _holds_cells(cell: str, separator: str) -> bool:
    """Tell whether a quote that closes too late has swallowed cells of its own row."""
    parts = cell.split(separator)
    return len(parts) > 1 and any(_LOGGED.fullmatch(part.strip(' "')) for part in parts)


def _separator(header: str) -> str:
    return max(";\t,", key=header.count)


def _workbook_rows(path: Path, kind: str) -> list[tuple[int, list[str]]]:
    try:
        from openpyxl import load_workbook
    except ModuleNotFoundError:
        raise LogError(
            f"{path.name}: .xlsx files need the package openpyxl. "
            'Run pip install "antgrowth[xlsx]", or save the sheet as CSV.'
        ) from None

    content = read_raw(path)
    try:
        book = load_workbook(io.BytesIO(content))
    except Exception as error:  # openpyxl lets zip, XML and key errors through as they come
        raise LogError(
            f"{path.name}: not a workbook that can be read ({type(error).__name__}). "
            "Save it again as .xlsx, or as CSV."
        ) from error
    filled = [
        sheet.title
        for sheet in book.worksheets
        if any(value is not None for row in sheet.values for value in row)
    ]
    named = [title for title in filled if title.strip().lower() == kind]
    titles = named or filled
    if len(titles) > 1:
        raise LogError(
            f"{path.name}: {len(titles)} sheets are filled in ({', '.join(titles)}). "
            f'Name the one to be read "{kind}".'
        )
    if not titles:
        return []
    grid = [list(row) for row in book[titles[0]].iter_rows()]
    values = [[cell.value for cell in row] for row in grid]
    if any(cell.data_type == "f" for row in grid for cell in row):
        # Take a formula's stored result; without one the formula itself shows up as a bad cell,
        # where None would pass for a cell left empty.
        results = load_workbook(io.BytesIO(content), data_only=True)[titles[0]].values
        values = [
            [formula if result is None else result for formula, result in zip(*pair, strict=True)]
            for pair in zip(values, results, strict=True)
        ]
    return [
        (row, [_text(value) for value in cells] if any(v is not None for v in cells) else [])
        for row, cells in enumerate(values, start=1)
    ]


def _frame_rows(frame: pd.DataFrame) -> Iterator[tuple[int, list[str]]]:
    header = [str(column) for column in frame.columns]
    columns: list[Iterable[object]] = [frame.iloc[:, i] for i in range(len(header))]
    index = frame.index
    holds_days = str(index.name).strip().lower() == "date" or not pd.api.types.is_numeric_dtype(
        index.dtype
    )
    if holds_days and "date" not in [column.strip().lower() for column in header]:
        header.insert(0, "date")
        columns.insert(0, index)
    yield 1, header
    for row, cells in enumerate(zip(*columns, strict=True), start=2):
        yield row, [_text(cell) for cell in cells]


def _text(value: Any) -> str:
    """Write a cell's value as a keeper would have typed it."""
    if isinstance(value, str):
        return value
    if value is None or (pd.api.types.is_scalar(value) and pd.isna(value)):
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, datetime) and value.time() == datetime.min.time():
        return value.date().isoformat()
    return printed(value)
