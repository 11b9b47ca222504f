"""Read tables of development by temperature: each row a temperature, and a duration or a rate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from antgrowth._core.text import listed
from antgrowth._core.validation import HIGHEST_C, LOWEST_C, MOST_DAYS
from antgrowth.errors import LogError
from antgrowth.io.tables import Faults, Sheet, read_sheet, shown

_COLUMNS_ARE = "temperature_c, one of duration_days and rate_per_day, and, if you like, sd"
_FEWEST_TEMPERATURES = 3
SHORTEST_DAYS = 0.001
"""No stage of an insect is done sooner (chosen, far below any). [day]"""
_STAGES = {
    "egg": "egg", "eggs": "egg", "larva": "larva", "larvae": "larva", "pupa": "pupa",
    "pupae": "pupa", "cocoon": "pupa", "cocoons": "pupa",
}  # fmt: skip

_Row = tuple[float, float, float, int]
"""Temperature, rate and its standard deviation, and the row of the file."""


@dataclass(frozen=True, eq=False)
class RateTable:
    """Rates of development."""

    name: str  # of the file, or as given
    # A row for each row of the file. Columns temperature_c [°C], rate_per_day [1/day],
    # sd_per_day (NaN where no sd is given) [1/day], row (its number in the file)
    frame: pd.DataFrame
    unused: tuple[str, ...]  # columns of the file that are not read

    @property
    def temperature_c(self) -> np.ndarray:
        """Temperatures, shape (n,) [°C]."""
        return self.frame["temperature_c"].to_numpy()

    @property
    def rate_per_day(self) -> np.ndarray:
        """Rates, shape (n,) [1/day]."""
        return self.frame["rate_per_day"].to_numpy()

    @property
    def range_c(self) -> tuple[float, float]:
        """Lowest and highest temperature [°C]."""
        return float(self.temperature_c.min()), float(self.temperature_c.max())

    @property
    def weights(self) -> np.ndarray:
        """Weight of each rate, 1 / sd² up to a common factor, shape (n,)."""
        sd = self.frame["sd_per_day"].to_numpy()
        if np.isnan(sd).all():
            return np.ones(len(sd))
        weights: np.ndarray = np.exp(2 * np.log(sd).mean() - 2 * np.log(sd))
        return weights


def read_rate_table(source: object, name: str | None = None) -> RateTable:
    """Read a table of development by temperature; see `antgrowth.fit_rate_curve`."""
    sheet = read_sheet(source, name, kind="rates")
    places, unused = _find_columns(sheet)
    _check_one_stage(sheet, places.pop("stage", None))
    rows = []
    for number, cells in sheet.rows:
        if any(cells):
            found = {key: cells[place] for key, place in places.items()}
            rows.append(_read_row(number, found, sheet.faults))
    sheet.faults.raise_all()
    frame = _framed(rows)
    if fault := _whole_fault(sheet.where, frame):
        raise LogError(fault)
    return RateTable(sheet.name, frame, unused)


def read_stage_tables(source: object, name: str | None = None) -> dict[str, RateTable]:
    """Read a table of several stages, told apart by its column stage: by those that have rows."""
    sheet = read_sheet(source, name, kind="rates")
    places, unused = _find_columns(sheet)
    if "stage" not in places:
        raise LogError(
            f"{sheet.where}: the columns are {', '.join(sheet.header)}. Needed besides: stage, "
            "with egg, larva or pupa in each row. Add it."
        )
    place = places.pop("stage")
    rows: dict[str, list[_Row]] = {stage: [] for stage in dict.fromkeys(_STAGES.values())}
    for number, cells in sheet.rows:
        if any(cells):
            stage = _STAGES.get(cells[place].lower())
            found = {key: cells[column] for key, column in places.items()}
            row = _read_row(number, found, sheet.faults)
            if stage is not None:
                rows[stage].append(row)
                continue
            sheet.faults.add(
                number,
                f"stage = {shown(cells[place]) or '(empty)'}. Give egg, larva or pupa; a cocoon is "
                "a pupa.",
            )
    sheet.faults.raise_all()
    frames = {stage: _framed(found) for stage, found in rows.items() if found}
    faults = [_whole_fault(f"{sheet.where}, {stage}", frame) for stage, frame in frames.items()]
    if not frames:
        faults = [f"{sheet.where}: there is no row in it. Give durations by stage and temperature."]
    if any(faults):
        raise LogError("\n".join(filter(None, faults)))
    return {
        stage: RateTable(f"{sheet.name}: {stage}", frame, unused) for stage, frame in frames.items()
    }


def _find_columns(sheet: Sheet) -> tuple[dict[str, int], tuple[str, ...]]:
    keys = [heading.strip().lower() for heading in sheet.header]
    known = ("temperature_c", "duration_days", "rate_per_day", "sd", "stage")
    places = {key: place for place, key in enumerate(keys) if key in known}
    measured = [key for key in ("duration_days", "rate_per_day") if key in places]
    twice = {key for key in known if keys.count(key) > 1}
    if "temperature_c" not in places or len(measured) != 1 or twice:
        raise LogError(
            f"{sheet.where}: the columns are {', '.join(sheet.header)}. Needed: {_COLUMNS_ARE}, "
            "each once. Rename or remove columns."
        )
    unused = (h for key, h in zip(keys, sheet.header, strict=True) if key not in known and h)
    return places, tuple(unused)


def _check_one_stage(sheet: Sheet, place: int | None) -> None:
    stages = set() if place is None else {cells[place] for _, cells in sheet.rows}
    if len(stages) > 1:
        raise LogError(
            f"{sheet.where}: the column stage holds {', '.join(sorted(stages))}. A curve belongs "
            'to one stage: give only its rows, such as table[table["stage"] == "egg"].'
        )


def _framed(rows: list[_Row]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["temperature_c", "rate_per_day", "sd_per_day", "row"])


def _number(cell: str) -> float:
    """A cell as a number, NaN if it is none."""
    try:
        return float(cell.replace(",", ".")) if cell.isascii() else np.nan
    except ValueError:
        return np.nan


def _read_row(row: int, cells: dict[str, str], faults: Faults) -> _Row:
    """Read a row as temperature, rate, sd of the rate, and its number."""
    number = {key: _number(cell) for key, cell in cells.items()}
    temperature_c = number["temperature_c"]
    if not LOWEST_C <= temperature_c <= HIGHEST_C:
        faults.add(
            row,
            f"temperature_c = {shown(cells['temperature_c']) or '(empty)'}. Give a number from "
            f"{LOWEST_C:.0f} to {HIGHEST_C:.0f} °C.",
        )
    sd, rate = number.get("sd", np.nan), number.get("rate_per_day", np.nan)
    if "duration_days" in cells:
        days = number["duration_days"]
        if not 0 < days < np.inf:
            faults.add(
                row,
                f"duration_days = {shown(cells['duration_days']) or '(empty)'}. Give a number of "
                "days above 0; where nothing developed, give rates instead: rate_per_day = 0.",
            )
            return temperature_c, np.nan, np.nan, row
        if not SHORTEST_DAYS <= days <= MOST_DAYS:
            faults.add(
                row,
                f"duration_days = {shown(cells['duration_days'])}. Give a number of days from "
                f"{SHORTEST_DAYS:g} to {MOST_DAYS:,}.",
            )
            return temperature_c, np.nan, np.nan, row
        rate, sd = 1 / days, sd / days**2  # to first order
    elif not 0 <= rate < np.inf:
        faults.add(
            row,
            f"rate_per_day = {shown(cells['rate_per_day']) or '(empty)'}. Give a number of 0 or "
            "more.",
        )
    if cells.get("sd") and not 0 < sd < np.inf:
        faults.add(row, f"sd = {shown(cells['sd'])}. Give a number above 0, or none in any row.")
    return temperature_c, rate, sd, row


def _whole_fault(where: str, frame: pd.DataFrame) -> str:
    """What is wrong with the rows taken together; empty if nothing is."""
    lacking = frame["sd_per_day"].isna()
    if lacking.any() and not lacking.all():
        rows = (f"row {row}" for row in frame["row"][lacking])
        return (
            f"{where}: {listed(rows)} without sd, the others with one. Rates are weighted by sd, "
            "so give it in each row or in none."
        )
    developing = frame["temperature_c"][frame["rate_per_day"] > 0].nunique()
    if developing < _FEWEST_TEMPERATURES:
        return (
            f"{where}: development at {developing} different temperatures. At least "
            f"{_FEWEST_TEMPERATURES} are needed for a curve. With a single duration use "
            "DegreeDay.through(days, at_c, lower_c), which takes the threshold on trust."
        )
    return ""
