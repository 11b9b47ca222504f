"""The rows of a log with settled columns: which of them say something, and what."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from typing import Any

import pandas as pd

from antgrowth._core.dates import read_days
from antgrowth.io.cells import CellFault, is_empty
from antgrowth.io.count_rows import Skipped
from antgrowth.io.tables import Faults, Sheet, shown

Cells = dict[str, Any]
Texts = dict[str, str]
Reader = Callable[[str, Cells], Any]
"""From the text of a cell, and the cells of its row read before it, to its value."""


def filled_rows(
    sheet: Sheet, columns: Mapping[str, int], nothing: str
) -> tuple[list[tuple[int, Texts]], pd.DataFrame]:
    """Part the rows that say something from those that are skipped, with `nothing` as the reason.

    The former by row and text by column; the latter with columns row, column, text, reason.
    """
    filled, skipped = [], []
    for row, cells in sheet.rows:
        texts = {column: cells[position] for column, position in columns.items()}
        if any(texts.values()):
            filled.append((row, texts))
        else:
            skipped.append(Skipped(row, "", "", nothing))
    return filled, pd.DataFrame(skipped, columns=list(Skipped._fields))


def dated_rows(
    rows: Sequence[tuple[int, Texts]],
    readers: Mapping[str, Reader],
    latest: date,
    no_date: str,
    faults: Faults,
) -> Iterator[tuple[int, date | None, Cells | None]]:
    """Read the date and the cells of each row; what is wrong with them is added to the faults.

    Readers are called in their order, and raise `CellFault` with the remedy. No date is later than
    `latest`; `no_date` says what to write where there is none. Each row comes with its day, None if
    it cannot be read, and its cells by column, None if any cannot.
    """
    days, unreadable = read_days([texts["date"] for _, texts in rows])
    for position, ((row, texts), day) in enumerate(zip(rows, days, strict=True)):
        if is_empty(texts["date"]):
            faults.add(row, f"no date. {no_date}")
        elif day is None:
            faults.add(row, f"date = {shown(texts['date'])}. {unreadable[position]}")
        elif day > latest:
            faults.add(row, f"the date lies in the future (today is {latest}). Correct it.", day)
        cells: Cells = {}
        sound = True
        for column, read in readers.items():
            text = texts.get(column, "")
            try:
                cells[column] = read(text, cells)
            except CellFault as fault:
                sound = False
                found = f"= {shown(text)}" if text else "is empty"
                faults.add(row, f"{column} {found}. {fault}", day)
        yield row, day, cells if sound else None
