"""The setting of a colony: its days, what they mean to its species, and what was done to it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.stages import STAGES
from antgrowth.climate.temperature import Temperature
from antgrowth.inference.prior import climate_of, usual_age
from antgrowth.io.tables import Faults
from antgrowth.model.parameters import Climate, Move
from antgrowth.species.profile import Species

if TYPE_CHECKING:
    from antgrowth.io.changes import ChangeLog

__all__ = ["Setting"]

Floats = NDArray[np.float64]

QUEENS_POWER = 0.6
"""Laying grows with the number of queens to this power: less than in proportion, as seen in
Solenopsis invicta (Tschinkel 1993) and Linepithema humile (Abril 2008); the power is assumed."""

FIRST_WEEK = 7
"""A colony's unknown past is taken to have been as warm as its first days here. [day]"""

HISTORY = (2.0, 40)
"""Days simulated before the first note: so many times the usual age, and so many more. [day]"""


@dataclass(frozen=True, eq=False)
class Setting:
    """Where a colony lives and what was done to it.

    Attributes
    ----------
    species : Species
    temperature : Temperature
    day_zero : Timestamp
        First day of growth: the founding, or the start of an unknown past.
    past : int
        Days of an unknown past; its last is the day of the first note. 0 for a founded colony.
    usual_age : float
        Age that a colony of this species usually has at such a first note (if past > 0). [day]
    changes : ChangeLog or None
        Ants carried in or out, queens lost or added.
    queens : int
        Queens at the start.
    hemisphere : "north", "south" or None
        Where it lives, which tells the season of its rest; None if not said.

    Raises
    ------
    LogError
        If a change is dated before the first day, or more queens are lost than there are.
    """

    species: Species
    temperature: Temperature
    day_zero: pd.Timestamp
    past: int
    usual_age: float
    changes: ChangeLog | None
    queens: int
    hemisphere: str | None = None

    def __post_init__(self) -> None:
        if self.changes is not None:
            _check(self.changes, self)

    @classmethod
    def founded(
        cls,
        species: Species,
        temperature: Temperature,
        queen_since: pd.Timestamp,
        changes: ChangeLog | None,
        queens: int,
    ) -> Setting:
        """Setting of a colony known since its founding."""
        return cls(species, temperature, queen_since, 0, 0.0, changes, queens)

    @classmethod
    def acquired(
        cls,
        species: Species,
        temperature: Temperature,
        first_note: pd.Timestamp,
        held: Floats,
        changes: ChangeLog | None,
        queens: int,
    ) -> Setting:
        """Setting of a colony that came part-grown.

        Parameters
        ----------
        held : array, shape (5,)
            Eggs, larvae, pupae, workers and brood at the first note; NaN where not known.
        """
        setting = cls(species, temperature, first_note, 1, 1.0, changes, queens)
        age = usual_age(species, setting.past_hours(1)[0], held)
        past = int(np.ceil(HISTORY[0] * age)) + HISTORY[1]
        start = first_note - pd.Timedelta(days=past - 1)
        return replace(setting, day_zero=start, past=past, usual_age=age)

    def day_of(self, date: pd.Timestamp) -> int:
        """Days from day zero to a date."""
        return int((date - self.day_zero) / pd.Timedelta("1D"))

    def past_hours(self, days: int) -> Floats:
        """Temperatures of so many days of the unknown past, shape (days, 24). [°C]"""
        self.temperature.hours(self.first_day, 1)  # the rest of the week may not be known yet
        week = self.temperature.known_hours(self.first_day, FIRST_WEEK)
        known = np.nanmean(week, axis=0)
        reference = self.species.value("development.reference_c")
        grows = known.mean() > 0.5 * (reference + self.species.value("laying.lower_c"))
        # A colony met in its rest grew up in something warmer, which nobody wrote down.
        return np.tile(known if grows else np.full(24, reference), (days, 1))

    @cached_property
    def first_day(self) -> pd.Timestamp:
        """First day whose temperature is known: day zero, or the day of the first note."""
        return self.day_zero + pd.Timedelta(days=max(self.past - 1, 0))

    def climate(self, days: int, temperature: Temperature | None = None) -> Climate:
        """What the first so many days mean to the colony.

        Parameters
        ----------
        days : int
        temperature : Temperature, optional
            In place of the setting's own, such as one that goes on into the future.
        """
        temperature = self.temperature if temperature is None else temperature
        before = max(self.past - 1, 0)
        known = temperature.hours(self.first_day, days - before)
        resting = temperature.resting(self.first_day, days - before)
        climate = climate_of(
            self.species,
            np.concatenate([self.past_hours(before), known]) if before else known,
            np.concatenate([np.zeros(before, bool), resting]),
        )
        return replace(
            climate,
            laying=climate.laying * self._queens(days) ** QUEENS_POWER,
            moves=self._moves(days),
        )

    def _queens(self, days: int) -> Floats:
        """Number of queens on each day, shape (days,)."""
        number = np.full(days, float(self.queens))
        if self.changes is not None:
            frame = self.changes.frame
            for _, change in frame[frame["stage"] == "queens"].iterrows():
                number[self.day_of(change["date"]) :] += change["change"]
        return number

    def queens_left(self, days: int) -> int:
        """Number of queens at the end of so many days, by the changes noted."""
        return int(self._queens(days)[-1])

    def _moves(self, days: int) -> tuple[Move, ...]:
        if self.changes is None:
            return ()
        frame = self.changes.frame
        frame = frame[frame["stage"].isin(STAGES) & ~frame["found_dead"]]
        moves = [
            Move(self.day_of(change["date"]) + 1, STAGES.index(change["stage"]), change["change"])
            for _, change in frame.iterrows()
        ]
        return tuple(move for move in moves if move.day <= days)


def _check(changes: ChangeLog, setting: Setting) -> None:
    """Refuse changes that would have to be left out, or that cannot have been."""
    faults = Faults(changes.name)
    there = setting.queens
    for change in changes.frame.to_dict("records"):
        day, row, number = change["date"].date(), change["row"], change["change"]
        of_queens = change["stage"] == "queens"
        if change["date"] < setting.first_day:
            faults.add(row, _too_early(setting, of_queens), day)
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


def _too_early(setting: Setting, of_queens: bool) -> str:
    """What to do about a change before the first day."""
    first = f"{setting.first_day:%Y-%m-%d}"
    if setting.past:
        fault = f"dated before the first note, {first}, which counts what the nest then held. "
    else:
        fault = f"dated before {first}, the day the queen sat alone (queen_since). "
    remedy = ", or delete the row."
    if of_queens:
        remedy = "; or delete the row, and tell with queens= how many there were at the start."
    return f"{fault}Correct the date{remedy}"
