"""The history of a colony: its days, what they mean to its species, and what was done to it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from antgrowth._core.arrays import Floats
from antgrowth._core.stages import STAGES
from antgrowth._core.text import told
from antgrowth.climate.temperature import Temperature
from antgrowth.errors import AntgrowthError
from antgrowth.inference.prior import forcing_of
from antgrowth.io.tables import Faults
from antgrowth.model.parameters import Transfer
from antgrowth.model.thermal_forcing import LEAST_REST_DAYS, NEVER, YEAR_DAYS, ThermalForcing
from antgrowth.species.parameters import QUEENS_CARE, QUEENS_LAY, QUEENS_POWER
from antgrowth.species.profile import Species

if TYPE_CHECKING:
    from antgrowth.io.changes import ChangeLog

FOUNDING_SEASON_DAYS = 45.0
"""However late in the year a queen founds, she lays and rears for about so long (assumed; founding
Lasius niger of middle August reared until the end of September)."""

EARLY_SPRING_DAYS = 60
"""A colony that is kept warm so soon before the usual spring was woken early: its season begins
with its history (assumed). [day]"""


@dataclass(frozen=True, eq=False)
class ColonyHistory:
    """Where a colony lives and what was done to it.

    Raises
    ------
    AntgrowthError
        If the number of queens or the hemisphere is none.
    LogError
        If a change is dated before day zero, or more queens are lost than there are.
    """

    species: Species
    temperature: Temperature
    day_zero: pd.Timestamp  # first day known: the founding, or the day of the first note
    founded: bool  # whether the queen sat alone on day zero; else the colony came part-grown
    changes: ChangeLog | None  # ants carried in or out, queens lost or added
    queens: int  # queens at the start
    hemisphere: str | None = None  # where it lives, which tells the season; None if not said

    def __post_init__(self) -> None:
        whole = isinstance(self.queens, (int, np.integer)) and not isinstance(self.queens, bool)
        if not (whole and self.queens >= 1):
            raise AntgrowthError(
                f"fit: queens = {told(self.queens)}. Give a whole number of at least 1."
            )
        if self.hemisphere not in (None, "north", "south"):
            raise AntgrowthError(
                f"fit: hemisphere = {told(self.hemisphere)}. Use 'north' or 'south'."
            )
        if self.changes is not None:
            _check(self.changes, self)

    @property
    def first_day(self) -> pd.Timestamp:
        """First day whose temperature is known."""
        return self.day_zero

    def day_of(self, date: pd.Timestamp) -> int:
        """Days from day zero to a date."""
        return int((date - self.day_zero) / pd.Timedelta("1D"))

    def forcing(self, days: int, temperature: Temperature | None = None) -> ThermalForcing:
        """What the first so many days mean to the colony.

        Another temperature, such as one that goes on into the future, may stand in place of its
        own.
        """
        temperature = self.temperature if temperature is None else temperature
        queens = self.queens_by_day(days)
        forcing = forcing_of(
            self.species,
            temperature.hours(self.day_zero, days),
            temperature.resting(self.day_zero, days),
            self.since_spring,
            self.since_rest,
        )
        return replace(
            forcing,
            laying=forcing.laying * gain_of_queens(self.species, QUEENS_LAY, queens),
            # What an orphaned nest holds, its workers go on to rear.
            care=gain_of_queens(self.species, QUEENS_CARE, np.maximum(queens, 1.0)),
            transfers=self._transfers(days),
        )

    @property
    def since_spring(self) -> float:
        """Days since the last spring, on day zero; 0 for an ant without seasons.

        The spring of a colony that came part-grown is the end of its rest, if the temperature
        record holds one. A queen of last summer who was woken in February or March has had her
        rest, though nobody wrote it down: the year that counts for her is the one that begins.
        """
        season = self.species.season
        if season.spring is None:
            return 0.0
        recorded = None if self.founded else self._awake_for()
        if recorded is not None:
            return recorded
        later = pd.DateOffset(months=6 if self.hemisphere == "south" else 0)
        springs = [
            pd.Timestamp(f"{self.day_zero.year + back}-{season.spring}") + later
            for back in (-2, -1, 0, 1)
        ]
        soon = (min(s for s in springs if s > self.day_zero) - self.day_zero).days
        if soon <= EARLY_SPRING_DAYS and not self.temperature.resting(self.day_zero, 1)[0]:
            return 0.0
        since = float((self.day_zero - max(s for s in springs if s <= self.day_zero)).days)
        if self.founded and season.kind == "endogenous":
            length = self.species.value("season.length_days")
            since = min(since, max(length - FOUNDING_SEASON_DAYS, 0.0))
        return since

    @property
    def since_rest(self) -> float:
        """Days since the last rest ended, on day zero; `NEVER` where none counts.

        A colony that came part-grown has outlived winters: the rest of the temperature record, or
        else one that ended with the last spring. When one was woken before spring nobody knows.
        """
        if self.founded or self.species.season.spring is None:
            return NEVER
        recorded = self._awake_for()
        return recorded if recorded is not None else self.since_spring or NEVER

    def _awake_for(self) -> float | None:
        """Days since a rest that the temperature record holds before day zero, if it holds one."""
        year = int(YEAR_DAYS)
        nights = np.flatnonzero(
            self.temperature.resting(self.day_zero - pd.DateOffset(days=year), year + 1)
        )
        if nights.size < LEAST_REST_DAYS or nights[-1] == year:  # none, or not over
            return None
        return float(year - 1 - nights[-1])

    def queens_by_day(self, days: int) -> Floats:
        """Number of queens on each day, shape (days,)."""
        number = np.full(days, float(self.queens))
        if self.changes is not None:
            frame = self.changes.frame
            for _, change in frame[frame["stage"] == "queens"].iterrows():
                number[self.day_of(change["date"]) :] += change["change"]
        return number

    def queens_left(self, days: int) -> int:
        """Number of queens at the end of so many days, by the changes noted."""
        return int(self.queens_by_day(days)[-1])

    def _transfers(self, days: int) -> tuple[Transfer, ...]:
        if self.changes is None:
            return ()
        frame = self.changes.frame
        frame = frame[frame["stage"].isin(STAGES) & ~frame["found_dead"]]
        transfers = [
            Transfer(
                self.day_of(change["date"]) + 1, STAGES.index(change["stage"]), change["change"]
            )
            for _, change in frame.iterrows()
        ]
        return tuple(t for t in transfers if t.day <= days)


def gain_of_queens(species: Species, path: str, queens: Floats | float) -> Any:
    """What so many queens lay (`QUEENS_LAY`) or rear (`QUEENS_CARE`), relative to one alone."""
    return queens ** (species.value(path) if path in species else QUEENS_POWER)


def _check(changes: ChangeLog, history: ColonyHistory) -> None:
    """Refuse changes that would have to be left out, or that cannot have been."""
    faults = Faults(changes.name)
    there = history.queens
    for change in changes.frame.to_dict("records"):
        day, row, number = change["date"].date(), change["row"], change["change"]
        of_queens = change["stage"] == "queens"
        if change["date"] < history.day_zero:
            faults.add(row, _too_early(history, of_queens), day)
        elif of_queens and there + number < 0:
            faults.add(
                row,
                f"queens = {number}, but {there} there. Write how many were lost, at most as many; "
                "if more were there from the start, say so with queens=.",
                day,
            )
        elif of_queens:
            there += number
    faults.raise_all()


def _too_early(history: ColonyHistory, of_queens: bool) -> str:
    """What to do about a change before the first day."""
    first = f"{history.day_zero:%Y-%m-%d}"
    if not history.founded:
        fault = f"dated before the first note, {first}, which counts what the nest then held. "
    else:
        fault = f"dated before {first}, the day the queen sat alone (queen_since). "
    remedy = ", or delete the row."
    if of_queens:
        remedy = "; or delete the row, and tell with queens= how many there were at the start."
    return f"{fault}Correct the date{remedy}"
