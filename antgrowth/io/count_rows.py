"""Read the rows of a count log: which columns are stages, what each row says, what contradicts."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from antgrowth._core.dates import read_days
from antgrowth._core.stages import BROOD, STAGES
from antgrowth.io.cells import Cell, CellFault, is_empty, read_cell
from antgrowth.io.tables import Faults, Sheet, shown

COUNTED = (*STAGES, "brood")
"""What a log can count: the stages in life order, and brood whose stages are not told apart."""

_STAGE_OF_COLUMN = {stage: stage for stage in COUNTED} | {"cocoons": "pupae"}
_COLUMNS = ("date", *_STAGE_OF_COLUMN, "note")
_ALLOWED = "date and any of eggs, larvae, pupae or cocoons, workers, brood, note"


class Visit(NamedTuple):
    """One row of the file that holds a count or a note; cells carry their text as written."""

    row: int
    day: date
    cells: dict[str, tuple[str, Cell]]
    note: str


class Skipped(NamedTuple):
    """One row of the file that holds neither."""

    row: int
    column: str
    text: str
    reason: str


def find_columns(sheet: Sheet) -> dict[str, int]:
    """Map the known column names to their positions; there have to be a date and a stage.

    Misspelt and doubled names are added to the sheet's faults. A misspelt column is read all the
    same, so that its bad cells are reported in the same go.
    """
    names = [name.lower() for name in sheet.header]
    columns: dict[str, int] = {}
    for position, name in enumerate(names):
        if name in columns:
            _add_header_error(sheet, f"there are two columns {name}. Merge them, or rename one.")
        elif name in _COLUMNS:
            columns[name] = position
    # Where date and note are in place, names like "data" or "notes" are free for other use.
    wanted = [name for name in _COLUMNS if name in _STAGE_OF_COLUMN or name not in columns]
    for position, name in enumerate(names):
        # A name much longer than the stage is no slip: "dead workers" is another thing.
        alike = [known for known in wanted if abs(len(known) - len(name)) <= 2]
        near = difflib.get_close_matches(name, alike, n=1, cutoff=0.75)
        if near and name not in _COLUMNS:
            columns.setdefault(near[0], position)
            _add_header_error(
                sheet,
                f"column {shown(sheet.header[position])} is not known. Did you mean {near[0]}? "
                f"Then write that; else choose a name less like it. Known are {_ALLOWED}.",
            )
    complete = True
    found = ", ".join(shown(name) for name in sheet.header if name)
    for needed, there in (
        ("no column date", "date" in columns),
        ("no stage to count", not columns.keys().isdisjoint(_STAGE_OF_COLUMN)),
    ):
        if not there:
            complete = False
            _add_header_error(sheet, f"{needed} among {found}. Name the columns {_ALLOWED}.")
    if not complete:
        sheet.faults.raise_all()
    return columns


def _add_header_error(sheet: Sheet, fault: str) -> None:
    sheet.faults.add(sheet.header_row, fault)


def ignored_columns(sheet: Sheet, columns: dict[str, int]) -> tuple[str, ...]:
    """Name the columns that are left alone; nameless ones only if something stands in them."""
    return tuple(
        name or f"column {position + 1}"
        for position, name in enumerate(sheet.header)
        if position not in columns.values()
        and (name or any(cells[position] for _, cells in sheet.rows))
    )


def read_visits(
    sheet: Sheet, columns: dict[str, int], latest: date
) -> tuple[list[Visit], list[Skipped]]:
    """Read every row of a count log, dated `latest` or before.

    Gives the rows with a count or a note, by date, and those without, as they stand. All that is
    wrong with rows is added to the sheet's faults.
    """
    dates = [cells[columns["date"]] for _, cells in sheet.rows]
    dated = [position for position, text in enumerate(dates) if not is_empty(text)]
    read, unreadable = read_days([dates[position] for position in dated])
    days = dict(zip(dated, read, strict=True))
    reasons = {dated[position]: reason for position, reason in unreadable.items()}

    visits: list[Visit] = []
    skipped: list[Skipped] = []
    for position, (row, texts) in enumerate(sheet.rows):
        day = days.get(position)
        note = texts[columns["note"]] if "note" in columns else ""
        filled = {
            column: texts[columns[column]]
            for column in _STAGE_OF_COLUMN
            if column in columns and not is_empty(texts[columns[column]])
        }
        cells = _read_cells(filled, row, day, sheet.faults)
        if position in reasons:
            sheet.faults.add(row, f"date = {shown(dates[position])}. {reasons[position]}")
        elif not filled and not note:
            if day is None:
                skipped.append(Skipped(row, "", "", "no date, no count and no note"))
            else:
                reason = "a date, but no count and no note"
                skipped.append(Skipped(row, "date", dates[position], reason))
        elif day is None:
            sheet.faults.add(row, "no date. Write the day you looked, such as 2026-04-02.")
        else:
            visits.append(Visit(row, day, cells, note))

    visits.sort(key=lambda visit: (visit.day, visit.row))
    _check_days(visits, latest, sheet.faults)
    _check_first_sightings(visits, sheet.faults)
    return visits, skipped


def _read_cells(
    filled: dict[str, str], row: int, day: date | None, faults: Faults
) -> dict[str, tuple[str, Cell]]:
    """Read the cells of one row that were filled in, from column names to stages."""
    if {"pupae", "cocoons"} <= filled.keys():
        faults.add(
            row,
            f"pupae = {shown(filled['pupae'])} and cocoons = {shown(filled['cocoons'])}. "
            "They are one stage; fill in one of the two.",
            day,
        )
    cells = {}
    for column, text in filled.items():
        try:
            cells[_STAGE_OF_COLUMN[column]] = text, read_cell(text)
        except CellFault as fault:
            faults.add(row, f"{column} = {shown(text)}. {fault}", day)
    return cells


def _check_days(visits: Sequence[Visit], latest: date, faults: Faults) -> None:
    row_of_day: dict[date, int] = {}
    for row, day, *_ in visits:
        if day > latest:
            faults.add(row, f"the date lies in the future (today is {latest}). Correct it.", day)
        if day in row_of_day:
            faults.add(row, f"row {row_of_day[day]} has the same date. Make them one row.", day)
        row_of_day.setdefault(day, row)


def _check_first_sightings(visits: Sequence[Visit], faults: Faults) -> None:
    """Find a cell `first` of a stage that had been seen before; looks are in order of date."""
    seen: dict[str, Visit] = {}
    for visit in visits:
        for stage, (text, cell) in visit.cells.items():
            # Whoever has seen eggs has seen brood.
            same = (stage, *BROOD) if stage == "brood" else (stage,)
            earlier = next((name for name in same if name in seen), None)
            if cell.kind == "first" and earlier is not None:
                row, day, cells, _ = seen[earlier]
                fault = (
                    f"{stage} = {text}, but row {row} ({day}) has {earlier} = {cells[earlier][0]}. "
                    "Write the count, or leave the cell empty."
                )
                faults.add(visit.row, fault, visit.day)
        for stage, (_, cell) in visit.cells.items():
            if cell.low >= 1:
                seen.setdefault(stage, visit)
