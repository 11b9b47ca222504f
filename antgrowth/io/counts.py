"""Count logs: what a keeper saw in the nest, and when, read without guessing and without loss."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.arguments import NAME, SOURCE, optional, takes
from antgrowth._core.dates import as_day
from antgrowth._core.deprecation import Former
from antgrowth._core.pictures import picture
from antgrowth._core.stages import STAGES
from antgrowth._core.summary import Report
from antgrowth.errors import LogError
from antgrowth.io.cells import KINDS
from antgrowth.io.count_rows import (
    COUNTED,
    Skipped,
    Visit,
    find_columns,
    ignored_columns,
    read_visits,
)
from antgrowth.io.tables import read_sheet

if TYPE_CHECKING:
    from numpy.typing import NDArray

_ONE_DAY = pd.Timedelta("1D")


LAST_ROWS = 5
"""Rows of a log that its report shows."""


@dataclass(frozen=True, eq=False)
class CountLog:
    """What was counted, and when; made by `read_counts`.

    Attributes
    ----------
    frame : DataFrame
        One row for each cell that was filled in, by date and then by stage in life order. Columns:
        `date`; `stage` (eggs, larvae, pupae, workers, brood); `low` and `high`, the least and the
        greatest number the cell allows (`high` is infinite for "at least"); `kind` (exact, rough,
        between, at least, below, first); `last_look`, for "first" only: the date of the row
        before, NaT if there is none; `text`, the cell as written; `row`, its row in the file.
    visits : DatetimeIndex, shape (n_dates,)
        Every date of the log in order, those with a note alone included.
    notes : DataFrame
        Columns `date`, `note`, `row`.
    skipped : DataFrame
        Rows of the file that hold no count and no note. Columns `row`, `column`, `text`, `reason`.
    ignored_columns : tuple of str
        Columns of the file that are neither a stage, a date nor a note.
    name : str
        Name of the colony or of the file.
    """

    frame: pd.DataFrame
    visits: pd.DatetimeIndex
    notes: pd.DataFrame
    skipped: pd.DataFrame
    ignored_columns: tuple[str, ...]
    name: str

    looks = Former("visits")

    @property
    def start(self) -> pd.Timestamp:
        """First date of the log; NaT if the log is empty."""
        return self.visits.min()

    @property
    def end(self) -> pd.Timestamp:
        """Last date of the log; NaT if the log is empty."""
        return self.visits.max()

    def __len__(self) -> int:
        """Return the number of dates."""
        return len(self.visits)

    def until(self, end: object) -> CountLog:
        """Return the log as it stood in the evening of a day.

        Parameters
        ----------
        end : str or date
            The last day to keep.

        Returns
        -------
        log : CountLog
            What had been written by then: the same as reading the file on that day.

        Raises
        ------
        LogError
            If `end` is no date.
        """
        return self.between(None, end)

    def between(self, start: object, end: object) -> CountLog:
        """Return the part of the log from one day to another, both included.

        Parameters
        ----------
        start, end : str, date or None
            First and last day to keep; None for no limit.

        Returns
        -------
        log : CountLog
            The part. A first sighting keeps the date of its last look, even if that lies before
            `start`. `skipped` stays whole: rows without a count need not have a date.

        Raises
        ------
        LogError
            If a limit is no date, or `start` lies after `end`.
        """
        first = None if start is None else pd.Timestamp(as_day(start, "start"))
        last = None if end is None else pd.Timestamp(as_day(end, "end"))
        if first is not None and last is not None and first > last:
            raise LogError(f"start {first.date()} lies after end {last.date()}. Swap them.")

        def kept(dates: pd.Series | pd.DatetimeIndex) -> np.ndarray:
            inside = np.ones(len(dates), dtype=bool)
            if first is not None:
                inside &= np.asarray(dates >= first)
            if last is not None:
                inside &= np.asarray(dates <= last)
            return inside

        return CountLog(
            frame=self.frame[kept(self.frame["date"])].reset_index(drop=True),
            visits=self.visits[kept(self.visits)],
            notes=self.notes[kept(self.notes["date"])].reset_index(drop=True),
            skipped=self.skipped,
            ignored_columns=self.ignored_columns,
            name=self.name,
        )

    def to_frame(self) -> pd.DataFrame:
        """Return the log in the form of the file it came from.

        Returns
        -------
        table : DataFrame
            One row a date; columns `date`, the four stages, `brood` and `note` if the log has
            any, with the cells as they were written and "" where nothing was counted. `read_counts`
            reads it back to the same log. (Only a part cut out by `between` loses something: if its
            first date has a first sighting, the last look before it is gone.)
        """
        cells = self.frame.pivot(index="date", columns="stage", values="text")
        stages = [stage for stage in COUNTED if stage in STAGES or stage in cells]
        table = cells.reindex(index=self.visits, columns=stages)
        if len(self.notes):
            table["note"] = self.notes.set_index("date")["note"].reindex(self.visits)
        table = table.astype(object).where(table.notna(), "")
        return table.rename_axis(index="date", columns=None).reset_index()

    def summary_frame(self) -> pd.DataFrame:
        """Return how many cells of each kind there are for each stage.

        Returns
        -------
        table : DataFrame
            Indexed by the stages that were counted, in life order; a column for each kind of
            cell that occurs, and `all`.
        """
        found = pd.crosstab(self.frame["stage"], self.frame["kind"])
        table = found.reindex(
            index=pd.Index([stage for stage in COUNTED if stage in found.index], name="stage"),
            columns=[kind for kind in KINDS if kind in found.columns],
        )
        table["all"] = table.sum(axis=1).astype(int)
        return table

    def plot(self) -> NDArray[np.object_]:
        """Draw what was noted of each stage, as it was noted.

        Returns
        -------
        array of Axes, shape (stages,)
        """
        return picture("io", "plot_counts", self)

    def summary(self) -> str:
        """Return a report in plain text: dates, gaps, counts by stage and kind, rows not used."""
        facts = [f"{label:<11} {fact}" for label, fact in self._facts()]
        table = self.summary_frame().rename_axis(index=None, columns=None)
        counts = [table.to_string()] if len(table) else []
        last = ["last rows", self._last().to_string(index=False)] if len(self) else []
        return "\n".join([f"CountLog: {self.name}", *facts, *counts, *last])

    def __str__(self) -> str:
        return self.summary()

    def __repr__(self) -> str:
        rows = f"; {_several(len(self.skipped), 'row')} skipped" if len(self.skipped) else ""
        return f"<CountLog {self.name!r}: {self._extent()}{rows}>"

    def _repr_html_(self) -> str:
        kinds = self.summary_frame().reset_index()
        counts = Report(
            f"CountLog: {self.name}", tuple(self._facts()), *_cells(kinds, "l" + "r" * 9)
        )
        last = Report("Last rows", (), *_cells(self._last(), "l" * 9)) if len(self) else None
        return f"<div>{counts.as_html()}{last.as_html() if last else ''}</div>"

    def _last(self) -> pd.DataFrame:
        """The last rows, as they were written: where a keeper looks first."""
        return self.to_frame().tail(LAST_ROWS)

    def _extent(self) -> str:
        size = f"{_several(len(self.frame), 'count')} on {_several(len(self), 'date')}"
        return f"{size}, {self.start.date()} to {self.end.date()}" if len(self) else size

    def _facts(self) -> Iterable[tuple[str, str]]:
        """Yield the lines of the report, as label and text."""
        yield "data", self._extent()
        if len(self) > 1:
            days = np.diff(self.visits) / _ONE_DAY
            longest = int(days.argmax())
            after, before = self.visits[longest].date(), self.visits[longest + 1].date()
            yield (
                "gaps",
                f"{np.median(days):.0f} days as a rule, "
                f"{days[longest]:.0f} at most ({after} to {before})",
            )
        if len(self.notes):
            yield "notes", f"{len(self.notes)} (see .notes)"
        if len(self.skipped):
            yield "skipped", f"{_several(len(self.skipped), 'row')} (see .skipped)"
        if self.ignored_columns:
            yield "left alone", f"columns {', '.join(self.ignored_columns)}"


@takes(source=SOURCE, name=optional(NAME))
def read_counts(
    source: str | os.PathLike[str] | pd.DataFrame, *, name: str | None = None, today: object = None
) -> CountLog:
    """Read a count log.

    Parameters
    ----------
    source : str, path or DataFrame
        A CSV file (comma, semicolon or tab between cells; UTF-8; lines starting with # are
        comments), an .xlsx workbook (with the extra `antgrowth[xlsx]`), or a DataFrame, which is
        not changed and may have its dates as the index. Columns: `date` and any of `eggs`,
        `larvae`, `pupae` or `cocoons` (the same stage), `workers`, `brood` (brood stages not told
        apart) and `note`, in any order and case. Other columns are left alone.
    name : str, optional
        Name of the colony; by default the file name without its ending.
    today : str or date, optional
        No count can be dated later than this; by default the present day.

    Returns
    -------
    log : CountLog
        Every row of the source is in it, or listed in its `.skipped`.

    Raises
    ------
    LogError
        If anything in the source is wrong or can be read in two ways. The message has a line for
        each fault, with its row (the header is row 1; so a DataFrame begins at row 2), what was
        found there and what to write instead.

    Notes
    -----
    A cell can be

    ==========================  ================================================================
    ``12``                      counted
    ``~12``                     rough
    ``10-15``                   between the two, both included
    ``30+``, ``>=30``, ``≥30``  at least 30
    ``>30``                     at least 31
    ``<5``                      at most 4
    ``<=5``, ``≤5``             at most 5
    ``first``                   seen for the first time: at least one now, none at the last look
    empty                       not counted, which is not 0
    ==========================  ================================================================

    Dates are year-month-day (ISO 8601; a time of day is left off). Other forms are read if they
    can be read in one way only, and if all dates of the file have the same form: 25.12.2026 with
    the day first; 13/02/2026 because there is no month 13, and then 03/04/2026 in the same
    file is 3 April. Rows may stand in any order. A row with a date and nothing else does not
    count as a look at the nest; a row with a note does.

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame(
    ...     {"date": ["2026-07-04", "2026-07-20", "2026-08-15"],
    ...      "eggs": ["first", "10-15", None],
    ...      "workers": [0, None, "first"]}
    ... )
    >>> log = read_counts(table, name="invented", today="2026-09-01")
    >>> log
    <CountLog 'invented': 4 counts on 3 dates, 2026-07-04 to 2026-08-15>
    >>> log.frame[["date", "stage", "low", "high", "kind"]]
            date    stage   low  high     kind
    0 2026-07-04     eggs   1.0   inf    first
    1 2026-07-04  workers   0.0   0.0    exact
    2 2026-07-20     eggs  10.0  15.0  between
    3 2026-08-15  workers   1.0   inf    first
    """
    latest = date.today() if today is None else as_day(today, "today")
    sheet = read_sheet(source, name)
    columns = find_columns(sheet)
    visits, skipped = read_visits(sheet, columns, latest)
    sheet.faults.raise_all()
    if not visits:
        raise LogError(
            f"{sheet.where}: no row holds a count or a note. Write a row for each day you looked."
        )
    return _log(visits, skipped, ignored_columns(sheet, columns), sheet.name)


def _log(
    visits: Sequence[Visit], skipped: Sequence[Skipped], ignored: tuple[str, ...], name: str
) -> CountLog:
    """Set the rows out as tables; looks are in order of date."""
    counted = [
        (visit, before, stage, *visit.cells[stage])
        for before, visit in zip([None, *visits], visits, strict=False)
        for stage in COUNTED
        if stage in visit.cells
    ]
    frame = pd.DataFrame(
        {
            "date": _dates(visit.day for visit, *_ in counted),
            "stage": _texts(stage for _, _, stage, *_ in counted),
            "low": np.array([cell.low for *_, cell in counted], dtype=float),
            "high": np.array([cell.high for *_, cell in counted], dtype=float),
            "kind": _texts(cell.kind for *_, cell in counted),
            "last_look": _dates(
                before.day if before is not None and cell.kind == "first" else None
                for _, before, *_, cell in counted
            ),
            "text": _texts(text for *_, text, _ in counted),
            "row": _rows(visit.row for visit, *_ in counted),
        }
    )
    noted = [visit for visit in visits if visit.note]
    notes = pd.DataFrame(
        {
            "date": _dates(visit.day for visit in noted),
            "note": _texts(visit.note for visit in noted),
            "row": _rows(visit.row for visit in noted),
        }
    )
    left_out = pd.DataFrame(
        {
            "row": _rows(line.row for line in skipped),
            "column": _texts(line.column for line in skipped),
            "text": _texts(line.text for line in skipped),
            "reason": _texts(line.reason for line in skipped),
        }
    )
    return CountLog(frame, _dates(visit.day for visit in visits), notes, left_out, ignored, name)


def _dates(days: Iterable[date | None]) -> pd.DatetimeIndex:
    # By way of whole days, which numpy reads several times faster.
    return pd.DatetimeIndex(np.array(list(days), "datetime64[D]").astype("datetime64[us]"))


def _rows(numbers: Iterable[int]) -> np.ndarray:
    return np.array(list(numbers), dtype=np.int64)


def _texts(texts: Iterable[str]) -> pd.Series:
    return pd.Series(list(texts), dtype="str")


def _several(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def _cells(
    table: pd.DataFrame, align: str
) -> tuple[tuple[str, ...], str, tuple[tuple[str, ...], ...]]:
    """Head, alignment and rows of a table as texts, as a report takes them."""
    texts = table.assign(**{c: table[c].dt.strftime("%Y-%m-%d") for c in table if c == "date"})
    rows = tuple(tuple(map(str, row)) for row in texts.to_numpy())
    return tuple(map(str, table)), align[: table.shape[1]], rows
