"""What change and feed logs have in common: dated rows, and what of the file was not used."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar, Self

import pandas as pd

from antgrowth._core.dates import as_day
from antgrowth._core.summary import Shown
from antgrowth._core.text import counted


@dataclass(frozen=True, eq=False, repr=False)
class DatedLog(Shown):
    """A log with a row for each happening, by date; kinds of log say what their rows hold."""

    frame: pd.DataFrame
    skipped: pd.DataFrame
    ignored_columns: tuple[str, ...]
    name: str

    item: ClassVar[str]
    columns: ClassVar[tuple[str, ...]]

    def __len__(self) -> int:
        """Return the number of rows that say something."""
        return len(self.frame)

    def until(self, end: object) -> Self:
        """Return the log as it stood in the evening of a day; `skipped` stays whole."""
        kept = self.frame["date"] <= pd.Timestamp(as_day(end, "end"))
        return replace(self, frame=self.frame[kept].reset_index(drop=True))

    def to_frame(self) -> pd.DataFrame:
        """Return the log in the form of the file it came from, to be read back."""
        return self.frame[list(self.columns)].copy()

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
