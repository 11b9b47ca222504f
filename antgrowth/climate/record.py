"""The temperature that a thermometer has recorded."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from antgrowth._core.arrays import Floats
from antgrowth._core.text import counted
from antgrowth.climate.gaps import runs
from antgrowth.climate.source import ONE_DAY, Source, Span, span_of
from antgrowth.io.temperature_logger import Record


@dataclass(frozen=True, eq=False, repr=False)
class Readings(Source):
    """A thermometer record."""

    record: Record  # the readings, and their means by the hour

    def covers(self) -> Span:
        first, days = self.record.table.first_day, len(self.record.table.hours_c)
        return pd.Timestamp(first), pd.Timestamp(first + (days - 1))

    @property
    def findings(self) -> tuple[str, ...]:
        return self.record.findings

    def describe(self) -> str:
        first, last = self.covers()
        table = self.record.table
        daily = ", each taken as the mean of its day" if table.daily else ""
        gaps = len(runs(np.isnan(table.hours_c).reshape(-1)))
        return (
            f"{counted(self.record.readings_c.size, 'reading')}{daily}, {first:%Y-%m-%d} to "
            f"{last:%Y-%m-%d}, {span_of(self.record.readings_c, np.nanmean(table.hours_c))}"
            + (f", with {counted(gaps, 'gap')}" if gaps else "")
        )

    def known_hours(self, start: np.datetime64, days: int) -> Floats:
        return self._part(self.record.table.hours_c, start, days)

    def humidity(self, start: np.datetime64, days: int) -> Floats:
        known = self.record.table.humidity_pct
        return super().humidity(start, days) if known is None else self._part(known, start, days)

    def _part(self, known: Floats, start: np.datetime64, days: int) -> Floats:
        """Take days out of a table by the hour; NaN where it has none."""
        part = np.full((days, 24), np.nan)
        offset = int((start - self.record.table.first_day) // ONE_DAY)
        from_, to = max(offset, 0), min(offset + days, len(known))
        if from_ < to:
            part[from_ - offset : to - offset] = known[from_:to]
        return part
