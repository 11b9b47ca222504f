"""What change and feed logs have in common: how their rows are read, and what was not used."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, ClassVar, Self

import pandas as pd

from antgrowth._core.dates import as_day, read_days
from antgrowth._core.summary import Shown
from antgrowth._core.text import counted
from antgrowth.io.cells import CellFault, is_empty
from antgrowth.io.count_rows import Skipped, ignored_columns
from antgrowth.io.tables import Faults, Sheet, read_sheet, shown

Cells = dict[str, Any]
Reader = Callable[[str, Cells], Any]
"""From the text of a cell, and the cells of its row read before it, to its value."""


@dataclass(frozen=True)
class Schema:
    """What a kind of log looks like as a file, and what is made of a row of it."""

    kind: str  # its name as a sheet
    columns: tuple[str, ...]  # without the first three no row can be read
    columns_are: str  # they, in words
    readers: Mapping[str, Reader]  # of cells, in the order of reading; they raise `CellFault`
    types: Mapping[str, str]  # of the frame's columns, the row's number last
    entry: Callable[[date, Cells], tuple[object, ...]]  # a row of the frame, but for its number
    no_date: str  # what to write where there is none
    nothing: str  # why a row is skipped that says nothing
    repeated: str  # what two rows share that say the same, and what to do
    optional: tuple[str, ...] = ()  # columns that may be missing
    remarks: Mapping[str, str] = field(default_factory=dict)  # what else to say of a missing one
    contradiction: Callable[[Cells], str] = lambda cells: ""  # what of a row cannot be, if any


@dataclass(frozen=True, eq=False, repr=False)
class DatedLog(Shown):
    """A log with a row for each happening, by date; kinds of log say what their rows hold."""

    frame: pd.DataFrame
    skipped: pd.DataFrame
    ignored_columns: tuple[str, ...]
    name: str

    item: ClassVar[str]
    _schema: ClassVar[Schema]

    @classmethod
    def _read(cls, source: object, name: str | None, today: object) -> Self:
        """Read a table; every fault is told at once."""
        latest = date.today() if today is None else as_day(today, "today")
        schema, sheet = cls._schema, read_sheet(source, name, kind=cls._schema.kind)
        columns = _named_columns(sheet, schema)
        filled, skipped = [], []
        for row, cells in sheet.rows:
            texts = {column: cells[position] for column, position in columns.items()}
            if any(texts.values()):
                filled.append((row, texts))
            else:
                skipped.append(Skipped(row, "", "", schema.nothing))
        entries = _entries(filled, schema, latest, sheet.faults)
        sheet.faults.raise_all()
        frame = pd.DataFrame(entries, columns=list(schema.types)).astype(dict(schema.types))
        frame = frame.sort_values(["date", "row"], ignore_index=True)
        unread = pd.DataFrame(skipped, columns=list(Skipped._fields))
        return cls(frame, unread, ignored_columns(sheet, columns), sheet.name)

    def __len__(self) -> int:
        """Return the number of rows that say something."""
        return len(self.frame)

    def until(self, end: object) -> Self:
        """Return the log as it stood in the evening of a day; `skipped` stays whole."""
        kept = self.frame["date"] <= pd.Timestamp(as_day(end, "end"))
        return replace(self, frame=self.frame[kept].reset_index(drop=True))

    def to_frame(self) -> pd.DataFrame:
        """Return the log in the form of the file it came from, to be read back."""
        return self.frame[list(self._schema.columns)].copy()

    def __repr__(self) -> str:
        rows = f"; {counted(len(self.skipped), 'row')} skipped" if len(self.skipped) else ""
        return f"<{type(self).__name__} {self.name!r}: {self._extent()}{rows}>"

    def _extent(self) -> str:
        days = self.frame["date"]
        if days.empty:
            return f"no {self.item}s"
        size = f"{counted(len(days), self.item)} on {counted(days.nunique(), 'date')}"
        return f"{size}, {days.min():%Y-%m-%d} to {days.max():%Y-%m-%d}"

    def _not_used(self) -> tuple[tuple[str, str], ...]:
        """Facts for a report: rows and columns of the file that say nothing here."""
        facts = []
        if len(self.skipped):
            facts.append(("skipped", f"{counted(len(self.skipped), 'row')} (see .skipped)"))
        if self.ignored_columns:
            facts.append(("left alone", f"columns {', '.join(self.ignored_columns)}"))
        return tuple(facts)


def _entries(
    rows: Sequence[tuple[int, dict[str, str]]], schema: Schema, latest: date, faults: Faults
) -> list[tuple[object, ...]]:
    """Read rows of text as rows of the frame; those at fault are left out."""
    entries: list[tuple[object, ...]] = []
    row_of: dict[tuple[str, ...], int] = {}
    for row, day, cells in _dated_rows(rows, schema, latest, faults):
        if cells is not None and (fault := schema.contradiction(cells)):
            faults.add(row, fault, day)
        if day is None or cells is None:
            continue
        entry = schema.entry(day, cells)
        said = tuple(map(str, entry))  # a mass that is not known is the same as another
        if said in row_of:
            faults.add(row, f"row {row_of[said]} has {schema.repeated}", day)
        row_of.setdefault(said, row)
        entries.append((*entry, row))
    return entries


def _dated_rows(
    rows: Sequence[tuple[int, dict[str, str]]], schema: Schema, latest: date, faults: Faults
) -> Iterator[tuple[int, date | None, Cells | None]]:
    """Read the date and the cells of each row; None if they cannot be read."""
    days, unreadable = read_days([texts["date"] for _, texts in rows])
    for position, ((row, texts), day) in enumerate(zip(rows, days, strict=True)):
        if is_empty(texts["date"]):
            faults.add(row, f"no date. {schema.no_date}")
        elif day is None:
            faults.add(row, f"date = {shown(texts['date'])}. {unreadable[position]}")
        elif day > latest:
            faults.add(row, f"the date lies in the future (today is {latest}). Correct it.", day)
        cells: Cells = {}
        sound = True
        for column, read in schema.readers.items():
            text = texts.get(column, "")
            try:
                cells[column] = read(text, cells)
            except CellFault as fault:
                sound = False
                found = f"= {shown(text)}" if text else "is empty"
                faults.add(row, f"{column} {found}. {fault}", day)
        yield row, day, cells if sound else None


def _named_columns(sheet: Sheet, schema: Schema) -> dict[str, int]:
    """Map the columns to their positions; a misspelt one is a fault, but is read."""
    columns: dict[str, int] = {}
    names = [name.lower() for name in sheet.header]
    faults = []
    for position, name in enumerate(names):
        if name in columns:
            faults.append(f"there are two columns {name}. Merge them, or rename one.")
        elif name in schema.columns:
            columns[name] = position
    for name in [name for name in schema.columns if name not in columns]:
        near = difflib.get_close_matches(name, names, n=1, cutoff=0.75)
        if near:
            columns[name] = names.index(near[0])
            faults.append(
                f"column {shown(sheet.header[columns[name]])} is not known. Did you mean {name}? "
                f"Then write that; else choose a name less like it. Known are {schema.columns_are}."
            )
        elif name not in schema.optional:
            found = ", ".join(shown(name) for name in sheet.header if name)
            more = schema.remarks.get(name, "")
            faults.append(
                f"no column {name} among {found}. Name the columns {schema.columns_are}.{more}"
            )
    for fault in faults:
        sheet.faults.add(sheet.header_row, fault)
    if not columns.keys() >= set(schema.columns[:3]):
        sheet.faults.raise_all()
    return columns
