"""Change logs: ants that came or went other than by birth and death, read without guessing."""

from __future__ import annotations

import difflib
import os
import re
from dataclasses import dataclass
from datetime import date

import pandas as pd

from antgrowth._core.arguments import NAME, SOURCE, optional, takes
from antgrowth._core.stages import STAGES
from antgrowth._core.summary import Report
from antgrowth._core.text import near_miss
from antgrowth._core.validation import MOST_ANTS
from antgrowth.io.cells import CellFault
from antgrowth.io.event_log import Cells, DatedLog, Schema

_CHANGED = (*STAGES, "queens")
_STAGE_OF_NAME = {stage: stage for stage in _CHANGED} | {"cocoons": "pupae", "queen": "queens"}
_FOUND_DEAD = "found_dead"
_SIGNED = re.compile(r"([-+−]?)\s*([0-9]{1,7})(?:[.,]([0-9]+))?")
_STAGES_ARE = f"{', '.join(STAGES)}, queen or queens".replace("pupae", "pupae or cocoons")
_WHOLE = "Write a whole number of at most 7 digits with its sign, such as +30 or -6."


def _stage(text: str) -> str:
    name = text.lower()
    if name not in _STAGE_OF_NAME:
        raise CellFault(f"Stages are {_STAGES_ARE}.{near_miss(name, _STAGE_OF_NAME)}")
    return _STAGE_OF_NAME[name]


def _number(text: str) -> int:
    match = _SIGNED.fullmatch(text)
    sign, digits, decimals = match.groups(default="") if match else ("", "", "")
    if not digits or decimals.strip("0"):
        raise CellFault(_WHOLE)
    if int(digits) > MOST_ANTS:
        raise CellFault(f"Allowed: up to {MOST_ANTS:,}, more than a kept colony holds. Correct it.")
    if int(digits) == 0:
        raise CellFault("Nobody came or went; write how many, or delete the row.")
    if len(decimals) == 3:  # 12.000 is twelve in one country and twelve thousand in another
        raise CellFault(f"It can be read two ways; write {sign}{digits} or {sign}{digits}000.")
    return -int(digits) if sign in ("-", "−") else int(digits)


def _reason(text: str, stage: str | None) -> str:
    reason = text.lower()
    if re.fullmatch(r"found[_\s]+dead", reason):
        if stage not in ("workers", None):
            raise CellFault(
                f"It is for workers only, and not subtracted; for {stage} use other words, such as "
                "died, with how many went, such as -1."
            )
        return _FOUND_DEAD
    # Words that only resemble it would take the same dead away twice, here and in the model.
    both = {"found", "dead"} <= set(re.split(r"[\W\d_]+", reason))
    alike = difflib.get_close_matches(reason, [_FOUND_DEAD], cutoff=0.8)
    if stage == "workers" and (both or alike):
        raise CellFault(
            "Write found_dead and no more for workers found in the refuse, which are not "
            "subtracted; for an accident use other words, and they are."
        )
    return text


def _entry(day: date, cells: Cells) -> tuple[object, ...]:
    found_dead = cells["reason"] == _FOUND_DEAD
    number = abs(cells["change"]) if found_dead else cells["change"]
    return day, cells["stage"], number, found_dead, cells["reason"]


_SCHEMA = Schema(
    kind="changes",
    columns=("date", "stage", "change", "reason"),
    columns_are="date, stage, change and, if you like, reason",
    readers={
        "stage": lambda text, cells: _stage(text),
        "change": lambda text, cells: _number(text),
        "reason": lambda text, cells: _reason(text, cells.get("stage")),
    },
    types={
        "date": "datetime64[us]",
        "stage": "str",
        "change": "int64",
        "found_dead": "bool",
        "reason": "str",
        "row": "int64",
    },
    entry=_entry,
    no_date="Write the day of the change, such as 2026-04-02.",
    nothing="no date and no change",
    repeated="the same date, stage, change and reason. Add them up in one row, or delete one if it "
    "happened once.",
    optional=("reason",),
)


@dataclass(frozen=True, eq=False, repr=False)
class ChangeLog(DatedLog):
    """What came and went other than by birth and death; made by `read_changes`.

    Attributes
    ----------
    frame : DataFrame
        A row for each change, by date. Columns: `date`; `stage` (eggs, larvae, pupae, workers,
        queens); `change`, how many came, below zero if they went; `found_dead`, True for workers
        found in the refuse: then `change` is how many, and must not be added or subtracted;
        `reason`; `row`, its row in the file.
    skipped : DataFrame
        Rows of the file that hold no change. Columns `row`, `column`, `text`, `reason`.
    ignored_columns : tuple of str
        Columns of the file that are not read.
    name : str
        Name of the log or of the file.
    """

    item = "change"
    _schema = _SCHEMA

    def summary_frame(self) -> pd.DataFrame:
        """Return how many `came`, `went` and were `found_dead`; indexed by stage, in life order."""
        number, found = self.frame["change"], self.frame["found_dead"]
        came, went = number.where(~found, 0).clip(lower=0), -number.where(~found, 0).clip(upper=0)
        parts = pd.DataFrame({"came": came, "went": went, "found_dead": number.where(found, 0)})
        sums = parts.groupby(self.frame["stage"]).sum()
        return sums.loc[[stage for stage in _CHANGED if stage in sums.index]]

    def _report(self) -> Report:
        facts = (("data", self._extent()), *self._not_used())
        rows = tuple(tuple(map(str, row)) for row in self.summary_frame().itertuples())
        head = ("stage", "came", "went", "found dead")
        return Report(f"ChangeLog: {self.name}", facts, head, "lrrr", rows)


@takes(source=SOURCE, name=optional(NAME))
def read_changes(
    source: str | os.PathLike[str] | pd.DataFrame, *, name: str | None = None, today: object = None
) -> ChangeLog:
    """Read a change log: brood adopted, workers escaped or given away, queens lost or added.

    Parameters
    ----------
    source : str, path or DataFrame
        A table of a kind that `read_counts` reads, its dates written in the same ways. Columns:
        `date`, `stage`, `change` and, if you like, `reason`; others are left alone. A table
        without rows holds no changes.
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
        If anything is wrong or can be read in two ways; a line for each fault.

    Notes
    -----
    A stage is eggs, larvae, pupae or cocoons (the same), workers, queen or queens. A change is a
    whole number: ``+30`` or ``30`` came, ``-6`` went. The reason is free text, but ``found_dead``
    are workers found in the refuse, ``4`` or ``-4`` if four: they died as workers do in the
    model, so they are never subtracted.

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame({"date": ["2026-08-01", "2026-08-20"], "stage": ["cocoons", "workers"],
    ...                       "change": ["+30", "-4"], "reason": ["adopted", "found dead"]})
    >>> print(read_changes(table, name="invented", today="2026-09-01"))
    ChangeLog: invented
    data  2 changes on 2 dates, 2026-08-01 to 2026-08-20
    stage    came  went  found dead
    pupae      30     0           0
    workers     0     0           4
    """
    return ChangeLog._read(source, name, today)
