"""Clocks of equivalent days, by which brood develops, workers age and losses add up.

A clock counts *equivalent days*: days at the reference temperature that bring a stage as far as the
real day did. It is read both ways: how far it has come at a time, and when it comes so far. Arrays
are vectorised over parameter draws, which are the first axis; draws share a row of readings where
they share a clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

__all__ = ["STILL", "Clock", "Clocks"]

Floats = NDArray[np.float64]

STILL = 1e-7
"""Equivalent days that pass in the greatest cold: clocks stay invertible, and nothing develops."""

GRAIN = 0.25
"""Spacing of the readings at which a clock's days are tabulated. [equivalent day]"""


class Clock:
    """A clock of equivalent days, readable both ways.

    Parameters
    ----------
    readings : array, shape (rows, days + 1)
        Equivalent days passed by the start of each day; non-decreasing from 0.
    row_of : array of int, shape (draws,), optional
        Which row each draw goes by; not needed where one row serves all.
    """

    def __init__(self, readings: Floats, row_of: NDArray[np.intp] | None = None) -> None:
        self.rows, self.days = readings.shape[0], readings.shape[1] - 1
        self.row_of = np.zeros(1, dtype=np.intp) if row_of is None else row_of
        self.readings = readings + STILL * np.arange(self.days + 1)

    def at(self, time: Floats, draw: NDArray | None = None) -> Floats:
        """Read the clock at times up to the last. [day]

        Before day 0 the clock ran as on that day. The first axis of `time` runs over draws, unless
        `draw` names the draw of each time.
        """
        return self._look_up(self.readings, time, self._row(time, draw))

    def when(self, reading: Floats, draw: NDArray | None = None) -> Floats:
        """When a reading is reached [day]; axes as for `at`.

        The end of the last day stands for readings not reached by then, the start of day 0 for
        readings below 0.
        """
        row = self._row(reading, draw)
        last = self.readings[0, -1] if self.rows == 1 else self.readings[:, -1].take(row)
        inside = np.minimum(np.maximum(reading, 0.0), last)
        spot = self._spot_at(inside, row)
        low = self.readings.take(spot)
        part = (inside - low) / (self.readings.take(spot + 1) - low)
        time = spot - row * (self.days + 1) + part
        return np.where(reading < last, time, float(self.days))

    def _spot_at(self, reading: Floats, row: NDArray[np.intp]) -> NDArray[np.intp]:
        """Where the day on which a reading is passed stands, rows being written end to end.

        It is guessed from a table, then a step or two further.
        """
        guide, marks = self._guide
        spot = guide.take(row * marks + (reading * (1 / GRAIN)).astype(np.intp))
        for _ in range(2):
            spot = spot + (self._evenings.take(spot) <= reading)
        # In the cold a clock creeps, and the day may lie far beyond the guess.
        behind = self._evenings.take(spot) <= reading
        if behind.any():
            row = np.broadcast_to(row, reading.shape)[behind]
            found = np.searchsorted(
                self._end_to_end, reading[behind] + row * self._span, side="right"
            )
            first = row * (self.days + 1)
            spot[behind] = np.clip(found - 1, first, first + self.days - 1)
        return spot

    @cached_property
    def _guide(self) -> tuple[NDArray[np.intp], int]:
        """Where evenly spaced readings are passed, row after row, and marks in a row."""
        marks = np.arange(0.0, self.readings[:, -1].max() + GRAIN, GRAIN)
        days = [np.searchsorted(row, marks, side="right") - 1 for row in self.readings]
        first = np.arange(self.rows)[:, None] * (self.days + 1)
        return (first + np.minimum(days, self.days - 1)).ravel(), len(marks)

    @cached_property
    def _evenings(self) -> Floats:
        """Readings at the end of each day; that of the last is never passed."""
        passed = np.full_like(self.readings, np.inf)
        passed[:, : self.days - 1] = self.readings[:, 1 : self.days]
        return passed

    def before(self, time: Floats, passed: Floats, draw: NDArray | None = None) -> Floats:
        """When the clock stood by so much earlier than at a time; may be before day 0. [day]"""
        reading = self.at(time, draw) - passed
        pace = np.maximum(self.readings[:, 1].take(self._row(reading, draw)), STILL)
        return np.where(reading < 0, reading / pace, self.when(reading, draw))

    @cached_property
    def _span(self) -> float:
        return float(self.readings[:, -1].max()) + 1.0

    @cached_property
    def _end_to_end(self) -> Floats:
        """All rows as one rising sequence, in which a single search finds every day."""
        return (self.readings + self._span * np.arange(self.rows)[:, None]).ravel()

    def _look_up(self, table: Floats, place: Floats, row: NDArray[np.intp]) -> Floats:
        """Interpolate in a row of a table, at places counted in columns."""
        whole = np.minimum(np.maximum(place.astype(np.intp), 0), table.shape[1] - 2)
        spot = whole if self.rows == 1 else whole + row * table.shape[1]
        low = table.take(spot)
        return low + (place - whole) * (table.take(spot + 1) - low)

    def _row(self, like: Floats, draw: NDArray | None) -> NDArray[np.intp]:
        if self.rows == 1:
            return np.zeros(1, dtype=np.intp)
        if draw is not None:
            return self.row_of.take(draw)
        return self.row_of.reshape((-1,) + (1,) * (like.ndim - 1))


@dataclass(frozen=True, eq=False)
class Clocks:
    """The clocks of a stretch of days for a number of draws.

    Attributes
    ----------
    stages : tuple of Clock
        Development of egg, larva, pupa.
    losses : tuple of Clock
        Cumulative extra log-loss of eggs, larvae and pupae to heat and rest.
    ageing : Clock
        Ageing of workers.
    laying : array, shape (draws, days)
        Laying rate relative to the reference temperature; 0 in rest.
    """

    stages: tuple[Clock, Clock, Clock]
    losses: tuple[Clock, Clock, Clock]
    ageing: Clock
    laying: Floats
