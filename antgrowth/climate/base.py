"""What every temperature offers, whatever it is made of.

A new kind is a frozen dataclass that says which days it covers, gives those days (`_hours`) and
describes itself; all else follows. Nothing is assumed about days that are not covered: asking for
them is an error that says how to fill them. `composed` holds the kinds that are put together here,
and is imported late, since they are kinds of `Temperature` themselves.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.pictures import picture
from antgrowth._core.text import counted
from antgrowth._core.validation import Day, as_date, as_number, as_whole
from antgrowth.climate.gaps import uncovered
from antgrowth.errors import TemperatureError, TemperatureGapError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from antgrowth.climate.audit import Audit
    from antgrowth.species.profile import Species

__all__ = ["ONE_DAY", "Span", "Temperature", "span_of"]

Span = tuple[pd.Timestamp | None, pd.Timestamp | None]

ONE_DAY = np.timedelta64(1, "D")

_LONGEST_REST_DAYS = 365

_FARTHEST_SHIFT_C = 20.0  # beyond, it is another place and not the same nest


class Temperature(ABC):
    """Nest temperature by the hour, for as many days as are known or planned.

    Made by `read_temperature`, `constant`, `day_night`, `repeating_day` and `monthly_normals`;
    never changed, only built upon. Dates are days of the keeper's own clock.
    """

    @abstractmethod
    def covers(self) -> Span:
        """First and last day with a temperature; None where there is no end.

        Returns
        -------
        first, last : Timestamp or None
            Midnight of the day. Days between them may still fall into a gap.
        """

    @abstractmethod
    def describe(self) -> str:
        """Say in one plain sentence what the temperature is."""

    @abstractmethod
    def _hours(self, start: np.datetime64, days: int) -> np.ndarray:
        """Give hourly means [°C], shape (days, 24), in a new array; NaN where there is none."""

    def _resting(self, start: np.datetime64, days: int) -> np.ndarray:
        """Tell for each day whether the colony rests."""
        return np.zeros(days, bool)

    def _humidity(self, start: np.datetime64, days: int) -> np.ndarray:
        """Give the relative humidity [%], shape (days, 24); NaN where there is none."""
        return np.full((days, 24), np.nan)

    @property
    def _cycle_days(self) -> int:
        """After how many days it repeats itself between its changes: 1, or 365 with seasons."""
        return 1

    def _changes(self) -> tuple[np.datetime64, ...]:
        """Dates on which another temperature or a rest begins or ends, in order."""
        return ()

    def _ends(self) -> pd.Timestamp | None:
        """Last day with a temperature, rests that are planned for later left aside."""
        return self.covers()[1]

    @property
    def findings(self) -> tuple[str, ...]:
        """What reading a record had to decide, one sentence each; nothing for a plan."""
        return ()

    def hours(self, start: Day, days: int) -> np.ndarray:
        """Hourly means from a day on.

        Parameters
        ----------
        start : date
            First day.
        days : int
            Number of days.

        Returns
        -------
        hours : array, shape (days, 24)
            Mean temperature of each hour. [°C]

        Raises
        ------
        TemperatureGapError
            If some of the days have no temperature; it names them and says what to do.

        Examples
        --------
        >>> import antgrowth as ag
        >>> ag.day_night(day=27, night=21).hours("2026-07-04", 2).shape
        (2, 24)
        """
        first, number = as_date(start, "start"), as_whole(days, "days", at_least=0)
        hours_c = self._hours(first, number)
        missing = np.isnan(hours_c)
        if missing.any():
            raise TemperatureGapError(uncovered(self.covers(), first, missing))
        return hours_c

    def resting(self, start: Day, days: int) -> np.ndarray:
        """Tell for each day from `start` on whether the colony rests and the queen lays nothing.

        Returns
        -------
        resting : bool array, shape (days,)
            True on the days of a `rest`.
        """
        return self._resting(as_date(start, "start"), as_whole(days, "days", at_least=0))

    def humidity(self, start: Day, days: int) -> np.ndarray:
        """Relative humidity by the hour, as far as a record holds it.

        Parameters
        ----------
        start : date
            First day.
        days : int
            Number of days.

        Returns
        -------
        humidity : array, shape (days, 24)
            Mean of each hour, NaN where none was read. [%]
        """
        return self._humidity(as_date(start, "start"), as_whole(days, "days", at_least=0))

    def then(self, date: Day, other: Temperature | float, ramp_days: int = 0) -> Temperature:
        """Continue with another temperature from a date on.

        Parameters
        ----------
        date : date
            First day of the other temperature; this one ends the day before.
        other : Temperature or number
            What follows; a number is a steady temperature. [°C]
        ramp_days : int
            Over how many days, the first on `date`, it changes evenly from what the day before
            `date` was like to the other temperature; 0 changes at once.

        Raises
        ------
        TemperatureError
            If this temperature starts only after the date, or the other one ends before it.
        TemperatureGapError
            If there is a ramp, and the day before it has no temperature.

        Notes
        -----
        Cooler is not a rest: the queen lays on as her temperature curve lets her. Only `rest`
        stops her.

        Examples
        --------
        >>> import antgrowth as ag
        >>> ag.constant(24).then("2027-10-15", ag.constant(18), ramp_days=12).describe()
        'constant 24.0 °C; then from 2027-10-15 over 12 days to constant 18.0 °C'
        """
        from antgrowth.climate.schedules import Ramp, Then, as_plan

        day, after = as_date(date, "date"), as_plan(other, "other")
        ramp = as_whole(ramp_days, "ramp_days", at_least=0)
        starts, ends = self.covers()[0], after.covers()[1]
        if starts is not None and starts > pd.Timestamp(day):
            raise TemperatureError(
                f"then: the temperature starts {starts:%Y-%m-%d}, so it cannot change on {day} "
                "already. Correct the date, or use the second temperature alone."
            )
        if ends is not None and ends < pd.Timestamp(day):
            raise TemperatureError(
                f"then: the second temperature ends {ends:%Y-%m-%d}, so it cannot follow from "
                f"{day} on. Correct the date, or leave it out."
            )
        if ramp:
            after = Ramp(after, self.hours(day - 1, 1)[0], day, ramp)
        return Then(self, day, after)

    def shift(self, degrees: float) -> Temperature:
        """Make all of it warmer or cooler, for a sensor that sits away from the brood.

        Parameters
        ----------
        degrees : float
            How much warmer the brood is than the sensor, from -20 to 20; negative if cooler. [°C]

        Raises
        ------
        TemperatureError
            If it is no number from -20 to 20.

        Notes
        -----
        Humidity that was read is carried over as the same water in warmer or cooler air.

        Examples
        --------
        >>> import antgrowth as ag
        >>> ag.constant(24).shift(-1.5)
        <Temperature: constant 24.0 °C; all of it 1.5 °C cooler>
        """
        from antgrowth.climate.schedules import Shifted

        by = as_number(degrees)
        if not abs(by) <= _FARTHEST_SHIFT_C:
            raise TemperatureError(
                f"shift: degrees = {degrees!r}. Give a number from -{_FARTHEST_SHIFT_C:.0f} to "
                f"{_FARTHEST_SHIFT_C:.0f} °C: how much warmer the brood is than the sensor."
            )
        return Shifted(self, by)

    def rest(
        self, start: Day, end: Day, temperature: Temperature | float | None = None
    ) -> Temperature:
        """Add a rest, such as a winter rest, during which the queen lays nothing.

        Parameters
        ----------
        start, end : date
            First day of the rest, and the day on which it is over.
        temperature : Temperature or number, optional
            Temperature of the rest; as planned if not given. [°C]

        Raises
        ------
        TemperatureError
            If the rest ends before it starts.
        TemperatureGapError
            If the temperature given does not cover the rest.

        Examples
        --------
        >>> import antgrowth as ag
        >>> plan = ag.constant(24).rest("2027-11-15", "2028-02-15", temperature=10)
        >>> plan.hours("2027-11-14", 2)[:, 0]
        array([24., 10.])
        >>> plan.resting("2027-11-14", 2)
        array([False,  True])
        """
        from antgrowth.climate.schedules import Rest, as_plan

        first, stop = as_date(start, "start"), as_date(end, "end")
        if stop <= first:
            raise TemperatureError(
                f"rest: it starts {first} and ends {stop}. The end is the first day after the "
                "rest, later than its start."
            )
        during = None if temperature is None else as_plan(temperature, "temperature")
        if during is not None:
            during.hours(first, int((stop - first) // ONE_DAY))  # a gap is easier to mend now
        return Rest(self, first, stop, during)

    def typical_day(self, end: Day, days: int = 14) -> Temperature:
        """Mean day of the days up to and including `end`, repeated for ever.

        Parameters
        ----------
        end : date
            Last day that counts; if the colony rests on it, the last day before that rest.
        days : int
            How many days count. Days of a rest do not, nor do days without a temperature; the
            description says how many did.

        Returns
        -------
        plan : Temperature
            The mean by hour of the day.

        Raises
        ------
        TemperatureGapError
            If the day `end` has no temperature.
        TemperatureError
            If no day without rest is known within a year before it.

        Examples
        --------
        >>> import antgrowth as ag
        >>> ag.day_night(27, 21).typical_day("2026-07-10").describe()
        'mean of 14 days, 2026-06-27 to 2026-07-10, repeated daily: mean 24.5 °C, 21.0 to 27.0'
        """
        from antgrowth.climate.schedules import Repeating

        last, number = as_date(end, "end"), as_whole(days, "days", at_least=1)
        self.hours(last, 1)
        awake = np.flatnonzero(self._awake(last - _LONGEST_REST_DAYS, _LONGEST_REST_DAYS + 1))
        if not awake.size:
            raise TemperatureError(
                f"typical_day: no day without rest is known in the year before {last}. Give the "
                'temperature to come: temps.then("2027-03-01", ag.constant(24.0)).'
            )
        last = last - (_LONGEST_REST_DAYS - int(awake[-1]))
        known = np.flatnonzero(self._awake(last - (number - 1), number))
        pattern_c = self._hours(last - (number - 1), number)[known].mean(axis=0)
        first = last - (number - 1 - int(known[0]))
        period = f"{first} to {last}" if first < last else f"{last}"
        return Repeating(
            pattern_c,
            f"mean of {counted(known.size, 'day')}, {period}, repeated daily: {span_of(pattern_c)}",
        )

    def _awake(self, start: np.datetime64, days: int) -> np.ndarray:
        """Tell which days have a temperature and are of no rest."""
        known = ~np.isnan(self._hours(start, days)).any(axis=1)
        return known & ~self._resting(start, days)

    def audit(
        self,
        species: Species | str,
        phase: str,
        *,
        start: Day | None = None,
        days: int | None = None,
        humidity_band: tuple[float, float] | None = None,
        wall_cooler_by_c: float = 1.0,
    ) -> Audit:
        """Hold it against the limits of a species; see `antgrowth.climate.audit.audit`.

        Examples
        --------
        >>> import antgrowth as ag
        >>> plan = ag.day_night(day=29.5, night=21)
        >>> plan.audit("lasius-niger", phase="founding", start="2027-05-01", days=30).hours_above
        420.0
        """
        from antgrowth.climate.audit import audit

        return audit(
            self,
            species,
            phase,
            start=start,
            days=days,
            humidity_band=humidity_band,
            wall_cooler_by_c=wall_cooler_by_c,
        )

    def plot(
        self, start: Day | None = None, days: int | None = None, ax: Axes | None = None
    ) -> Axes:
        """Draw it.

        Parameters
        ----------
        start : date, optional
            First day. If not given: the first day covered, or two weeks before the first change of
            a plan; a plan that never changes is drawn as one day, or as the year from today on if
            it has seasons.
        days : int, optional
            Number of days; if not given, as far as it is known, or two weeks beyond the last
            change.
        ax : matplotlib Axes, optional
            Where to draw; a new figure if not given.

        Returns
        -------
        ax : matplotlib Axes
        """
        drawn: Axes = picture("climate", "plot_temperature")(self, start, days, ax=ax)
        return drawn

    def __repr__(self) -> str:
        return f"<Temperature: {self.describe()}>"


def span_of(values_c: np.ndarray, mean_c: float | None = None) -> str:
    """Mean and range of temperatures in words."""
    mean_c = values_c.mean() if mean_c is None else mean_c
    return f"mean {mean_c:.1f} °C, {values_c.min():.1f} to {values_c.max():.1f}"
