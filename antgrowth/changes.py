"""Change logs: ants that came or went other than by birth and death, read without guessing."""

from __future__ import annotations

import difflib
import os
import re
from dataclasses import dataclass, replace
from datetime import date
from typing import NamedTuple

import pandas as pd

from antgrowth._cells import CellFault, is_empty
from antgrowth._days import as_day, read_days
from antgrowth._looks import Skipped, ignored_columns
from antgrowth._profile import near_miss
from antgrowth._render import Report
from antgrowth._sheets import Faults, Sheet, read_sheet, shown
from antgrowth._words import counted
from antgrowth.errors import LogError
from antgrowth.stages import STAGES

__all__ = ["ChangeLog", "read_changes"]

_CHANGED = (*STAGES, "queens")
_STAGE_OF_NAME = {stage: stage for stage in _CHANGED} | {"cocoons": "pupae", "queen": "queens"}
_COLUMNS = ("date", "stage", "change", "reason")
_FOUND_DEAD = "found_dead"
_SIGNED = re.compile(r"([-+−]?)\s*([0-9]{1,7})(?:[.,]([0-9]+))?")

_WHOLE = "Write a whole number of at most 7 digits with its sign, such as +30 or -6."
_NOBODY = "Nobody came or went; write how many, such as +30 or -6, or delete the row."
_STAGES_ARE = "Stages are eggs, larvae, pupae or cocoons, workers, queens."
_COLUMNS_ARE = "date, stage, change and, if you like, reason"
_NOT_QUITE_FOUND_DEAD = (
    "Write found_dead and nothing else for workers found in the refuse, which are not subtracted; "
    "for an accident, give the reason in other words, and they are."
)


class _Change(NamedTuple):
    date: date
    stage: str
    change: int
    found_dead: bool
    reason: str
    row: int


@dataclass(frozen=True, eq=False)
class ChangeLog:
    """What came and went other than by birth and death; made by `read_changes`.

    Attributes
    ----------
    frame : DataFrame
        One row for each change, by date. Columns: `date`; `stage` (eggs, larvae, pupae, workers,
        queens); `change`, how many came, below zero if they went; `found_dead`, True for workers
        found in the refuse: then `change` is how many were found, which are never to be
        subtracted; `reason`; `row`, the row of the file.
    skipped : DataFrame
        Rows of the file without date, stage, change and reason. Columns `row`, `column`, `text`,
        `reason`.
    ignored_columns : tuple of str
        Columns of the file that are none of these.
    name : str
        Name of the log or of the file.
    """

    frame: pd.DataFrame
    skipped: pd.DataFrame
    ignored_columns: tuple[str, ...]
    name: str

    def __len__(self) -> int:
        """Return the number of changes, workers found dead included."""
        return len(self.frame)

    def until(self, end: object) -> ChangeLog:
        """Return the log as it stood in the evening of a day.

        Parameters
        ----------
        end : str or date
            The last day to keep.

        Returns
        -------
        log : ChangeLog
            The part; `skipped` stays whole.

        Raises
        ------
        LogError
            If `end` is no date.
        """
        kept = self.frame["date"] <= pd.Timestamp(as_day(end, "end"))
        return replace(self, frame=self.frame[kept].reset_index(drop=True))

    def to_frame(self) -> pd.DataFrame:
        """Return the log in the form of the file it came from; `read_changes` reads it back."""
        return self.frame[list(_COLUMNS)].copy()

    def summary_frame(self) -> pd.DataFrame:
        """Return how many `came`, `went` and were `found_dead`; indexed by stage, in life order."""
        number, found = self.frame["change"], self.frame["found_dead"]
        parts = pd.DataFrame(
            {
                "came": number.where(~found & (number > 0), 0),
                "went": -number.where(~found & (number < 0), 0),
                "found_dead": number.where(found, 0),
            }
        )
        sums = parts.groupby(self.frame["stage"]).sum()
        return sums.reindex(pd.Index([s for s in _CHANGED if s in sums.index], name="stage"))

    def summary(self) -> str:
        """Return a report in plain text: dates, numbers by stage, rows and columns not used."""
        return self._report().as_text()

    def __str__(self) -> str:
        return self.summary()

    def __repr__(self) -> str:
        rows = f"; {counted(len(self.skipped), 'row')} skipped" if len(self.skipped) else ""
        return f"<ChangeLog {self.name!r}: {self._extent()}{rows}>"

    def _repr_html_(self) -> str:
        return self._report().as_html()

    def _extent(self) -> str:
        days = self.frame["date"]
        if days.empty:
            return "no changes"
        size = f"{counted(len(days), 'change')} on {counted(days.nunique(), 'date')}"
        return f"{size}, {days.min():%Y-%m-%d} to {days.max():%Y-%m-%d}"

    def _report(self) -> Report:
        facts = [("data", self._extent())]
        if len(self.skipped):
            facts.append(("skipped", f"{counted(len(self.skipped), 'row')} (see .skipped)"))
        if self.ignored_columns:
            facts.append(("left alone", f"columns {', '.join(self.ignored_columns)}"))
        rows = [tuple(map(str, row)) for row in self.summary_frame().itertuples()]
        head = ("stage", "came", "went", "found dead")
        return Report(f"ChangeLog: {self.name}", tuple(facts), head, "lrrr", tuple(rows))


def read_changes(
    source: str | os.PathLike[str] | pd.DataFrame,
    *,
    name: str | None = None,
    today: object = None,
) -> ChangeLog:
    """Read a change log: brood adopted, workers escaped or given away, queens lost or added.

    Parameters
    ----------
    source : str, path or DataFrame
        A table of any kind that `read_counts` reads, with dates written in the same ways. Columns:
        `date`, `stage`, `change` and, if there is one, `reason`, in any order and case. Other
        columns are left alone. The names of the columns alone will do: no changes.
    name : str, optional
        Name of the log; by default the file name without its ending.
    today : str or date, optional
        No change can be dated later than this; by default the present day.

    Returns
    -------
    log : ChangeLog
        Every row of the source is in it, or listed in its `.skipped`.

    Raises
    ------
    LogError
        If anything in the source is wrong or can be read in two ways. The message has a line for
        each fault, with its row, what was found there and what to write instead.

    Notes
    -----
    A stage is eggs, larvae, pupae or cocoons (the same stage), workers, queen or queens. A change
    is a whole number, not 0: ``+30`` or ``30`` came, ``-6`` went. A date may have several rows, if
    they differ. The reason is free text, except for ``found_dead``: workers found in the refuse,
    where ``4`` and ``-4`` both mean that four were found. They died as workers of the model do, so
    they are never subtracted.

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame(
    ...     {"date": ["2026-08-01", "2026-08-20", "2026-08-20"],
    ...      "stage": ["cocoons", "workers", "workers"],
    ...      "change": ["+30", "-6", "4"],
    ...      "reason": ["adopted", "escaped", "found dead"]}
    ... )
    >>> print(read_changes(table, name="invented", today="2026-09-01"))
    ChangeLog: invented
    data  3 changes on 2 dates, 2026-08-01 to 2026-08-20
    stage    came  went  found dead
    pupae      30     0           0
    workers     0     6           4
    """
    latest = date.today() if today is None else as_day(today, "today")
    sheet = read_sheet(source, name, kind="changes")
    columns = _find_columns(sheet)
    changes, skipped = _read_rows(sheet, columns, latest)
    sheet.faults.raise_all()
    frame = pd.DataFrame(sorted(changes), columns=list(_Change._fields)).astype(
        {
            "date": "datetime64[us]",
            "stage": "str",
            "change": "int64",
            "found_dead": "bool",
            "reason": "str",
            "row": "int64",
        }
    )
    frame = frame.sort_values(["date", "row"], ignore_index=True)
    left_out = pd.DataFrame(skipped, columns=list(Skipped._fields)).astype({"row": "int64"})
    return ChangeLog(frame, left_out, ignored_columns(sheet, columns), sheet.name)


def _find_columns(sheet: Sheet) -> dict[str, int]:
    """Map the known column names to their positions; only `reason` may be missing."""
    columns: dict[str, int] = {}
    names = [name.lower() for name in sheet.header]

    def blame(fault: str) -> None:
        sheet.faults.add(sheet.header_row, fault)

    for position, name in enumerate(names):
        if name in columns:
            blame(f"there are two columns {name}. Merge them, or rename one.")
        elif name in _COLUMNS:
            columns[name] = position
    for wanted in [name for name in _COLUMNS if name not in columns]:
        near = difflib.get_close_matches(wanted, names, n=1, cutoff=0.75)
        if near:  # read all the same, so that bad cells are reported in the same go
            columns[wanted] = names.index(near[0])
            blame(
                f"column {shown(sheet.header[columns[wanted]])} is not known. Did you mean "
                f"{wanted}? Then write that; else choose a name less like it. "
                f"Known are {_COLUMNS_ARE}."
            )
        elif wanted != "reason":
            found = ", ".join(shown(name) for name in sheet.header if name)
            blame(f"no column {wanted} among {found}. Name the columns {_COLUMNS_ARE}.")
    if not columns.keys() >= {"date", "stage", "change"}:
        sheet.faults.raise_all()
    return columns


def _read_rows(
    sheet: Sheet, columns: dict[str, int], latest: date
) -> tuple[list[_Change], list[Skipped]]:
    """Read every row; what is wrong with one is added to the faults of the sheet."""
    changes: list[_Change] = []
    skipped: list[Skipped] = []
    filled = []
    for row, cells in sheet.rows:
        texts = {column: cells[position] for column, position in columns.items()}
        if any(texts.values()):
            filled.append((row, texts))
        else:
            skipped.append(Skipped(row, "", "", "no date, no stage, no change and no reason"))
    days = _read_dates(filled, latest, sheet.faults)
    seen: dict[tuple[object, ...], int] = {}
    for (row, texts), day in zip(filled, days, strict=True):
        stage = number = None
        reason = texts.get("reason", "")
        column = "stage"
        try:
            stage = _stage(texts["stage"])
        except CellFault as fault:
            sheet.faults.add(row, f"{_said('stage', texts)}. {fault}", day)
