"""What the nest's temperature was, and what it is planned to be.

A `Temperature` gives a mean for every hour of each day that it covers: a thermometer record, a
steady plan, a day and a night, or several of these one after the other. It is the face of a
`Source`: it takes dates as keepers write them, and every way to build upon it starts here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.arguments import NAME, SOURCE, optional, takes
from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report
from antgrowth._core.text import counted, told
from antgrowth._core.validation import Day, as_celsius, as_date, as_number, as_whole, too_many
from antgrowth.climate.audit import Audit, audit
from antgrowth.climate.monthly_normals import MONTHS, Seasons
from antgrowth.climate.record import Readings
from antgrowth.climate.schedules import Layer, Ramp, Repeating, Rest, Shifted, Then, steady
from antgrowth.climate.source import ONE_DAY, span_of
from antgrowth.errors import TemperatureError
from antgrowth.io.logger_columns import TableSource
from antgrowth.io.temperature_logger import read_record
from antgrowth.species.profile import Species

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_WIDEST_DAILY_RANGE_C = 40.0

_LONGEST_REST_DAYS = 365

_FARTHEST_SHIFT_C = 20.0  # beyond, it is another place and not the same nest


@dataclass(frozen=True, eq=False, repr=False)
class Temperature(Layer):
    """Nest temperature by the hour, for as many days as are known or planned.

    Made by `read_temperature`, `constant`, `day_night`, `repeating_day` and `monthly_normals`;
    never changed, only built upon. Dates are days of the keeper's own clock.
    """

    def hours(self, start: Day, days: int) -> Floats:
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
        return self.source.hours(*_span(start, days))

    def known_hours(self, start: Day, days: int) -> Floats:
        """Hourly means from a day on, as far as they are known.

        Returns
        -------
        hours : array, shape (days, 24)
            As of `hours`; NaN where there is no temperature. [°C]
        """
        return self.source.known_hours(*_span(start, days))

    def resting(self, start: Day, days: int) -> Flags:
        """Tell for each day from `start` on whether the colony rests and the queen lays nothing.

        Returns
        -------
        resting : bool array, shape (days,)
            True on the days of a `rest`.
        """
        return self.source.resting(*_span(start, days))

    def humidity(self, start: Day, days: int) -> Floats:
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
        return self.source.humidity(*_span(start, days))

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
        day, after = as_date(date, "date"), as_plan(other, "other").source
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
        return Temperature(Then(self.source, day, after))

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
        by = as_number(degrees)
        if not abs(by) <= _FARTHEST_SHIFT_C:
            raise TemperatureError(
                f"shift: degrees = {told(degrees)}. Give a number from -{_FARTHEST_SHIFT_C:.0f} to "
                f"{_FARTHEST_SHIFT_C:.0f} °C: how much warmer the brood is than the sensor."
            )
        return Temperature(Shifted(self.source, by))

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
        first, stop = as_date(start, "start"), as_date(end, "end")
        if stop <= first:
            raise TemperatureError(
                f"rest: it starts {first} and ends {stop}. The end is the first day after the "
                "rest, later than its start."
            )
        during = None if temperature is None else as_plan(temperature, "temperature").source
        if during is not None:
            during.hours(first, int((stop - first) // ONE_DAY))  # a gap is easier to mend now
        return Temperature(Rest(self.source, first, stop, during))

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
        last, number = as_date(end, "end"), as_whole(days, "days", at_least=1)
        self.hours(last, 1)
        awake = np.flatnonzero(self.source.awake(last - _LONGEST_REST_DAYS, _LONGEST_REST_DAYS + 1))
        if not awake.size:
            raise TemperatureError(
                f"typical_day: no day without rest is known in the year before {last}. Give the "
                'temperature to come: temps.then("2027-03-01", ag.constant(24.0)).'
            )
        last = last - (_LONGEST_REST_DAYS - int(awake[-1]))
        known = np.flatnonzero(self.source.awake(last - (number - 1), number))
        pattern_c = self.source.known_hours(last - (number - 1), number)[known].mean(axis=0)
        first = last - (number - 1 - int(known[0]))
        period = f"{first} to {last}" if first < last else f"{last}"
        words = f"mean of {counted(known.size, 'day')}, {period}, repeated daily"
        return Temperature(Repeating(pattern_c, f"{words}: {span_of(pattern_c)}"))

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
        return picture("climate", "plot_temperature", self, start, days, ax=ax)

    def __repr__(self) -> str:
        return f"<Temperature: {self.describe()}>"

    def _repr_html_(self) -> str:
        first, last = self.covers()
        known = [f"{word} {day:%Y-%m-%d}" for word, day in (("from", first), ("to", last)) if day]
        facts = (("warmth", self.describe()), ("known", " ".join(known) or "on every day"))
        return Report("Temperature", facts).as_html()


def constant(temperature_c: float) -> Temperature:
    """Make a steady temperature.

    Parameters
    ----------
    temperature_c : float
        Nest temperature. [°C]

    Raises
    ------
    TemperatureError
        If it is not a number from -40 to 70.

    Notes
    -----
    Heat mats need care: a thermostat, residual-current protection, nothing folded or covered, no
    water near mains; heat only a part of the nest, so that the ants can choose.
    `Temperature.audit` holds a plan against the limits of a species.

    Examples
    --------
    >>> import antgrowth as ag
    >>> ag.constant(24)
    <Temperature: constant 24.0 °C>
    """
    return Temperature(steady(as_celsius(temperature_c, "constant: temperature_c")))


def day_night(
    day: float, night: float, day_hours: float = 14, day_starts: float = 8
) -> Temperature:
    """Make a plan with one temperature by day and another by night.

    Parameters
    ----------
    day, night : float
        Nest temperatures. [°C]
    day_hours : float
        Length of the day, more than 0 and less than 24; an hour in which the temperature switches
        gets the mean over that hour. [h]
    day_starts : float
        When the day starts, from 0 to less than 24. [h]

    Raises
    ------
    TemperatureError
        If a value is out of range.

    Notes
    -----
    For heat mats see `constant`.

    Examples
    --------
    >>> import antgrowth as ag
    >>> ag.day_night(day=27, night=21)
    <Temperature: 27.0 °C by day (08:00-22:00), 21.0 °C by night>
    """
    day_c, night_c = as_celsius(day, "day_night: day"), as_celsius(night, "day_night: night")
    length, starts = as_number(day_hours), as_number(day_starts)
    if not 0 < length < 24:
        raise TemperatureError(
            f"day_night: day_hours = {told(day_hours)}. A day lasts more than 0 and less than 24 "
            "hours; for one temperature all the time use constant()."
        )
    if not 0 <= starts < 24:
        raise TemperatureError(
            f"day_night: day_starts = {told(day_starts)}. The day starts at an hour from 0 to less "
            "than 24."
        )
    hour = np.arange(24.0)
    by_day = np.zeros(24)
    for shift in (0, -24):  # a day that runs past midnight goes on in the next morning
        began, ends = starts + shift, starts + length + shift
        by_day += np.clip(np.minimum(hour + 1, ends) - np.maximum(hour, began), 0, 1)
    words = f"{day_c:.1f} °C by day ({_clock(starts)}-{_clock(starts + length)}), "
    return Temperature(
        Repeating(night_c + (day_c - night_c) * by_day, f"{words}{night_c:.1f} °C by night")
    )


def monthly_normals(means_c: Sequence[float] | Floats, daily_range: float = 0.0) -> Temperature:
    """Make a plan of seasons, such as a room or a climate, from the mean of each month.

    Parameters
    ----------
    means_c : sequence of float, length 12
        Mean temperature of each month, January first. [°C]
    daily_range : float
        Difference between the warmest and the coolest moment of a day, 0 to 40. [°C]

    Raises
    ------
    TemperatureError
        If there are not 12 numbers from -40 to 70, or the daily range is out of range.

    Notes
    -----
    The day's mean runs in straight lines between mid-months, which are placed so that each month
    has the mean given. Within a day, a sine wave is warmest at 15:00 (assumed). Normals are those
    of a usual year: real weather strays from them by several degrees.

    Examples
    --------
    >>> import antgrowth as ag
    >>> ag.monthly_normals([1, 2, 5, 9, 14, 17, 19, 18, 15, 10, 5, 2], daily_range=8)
    <Temperature: monthly means from 1.0 °C (January) to 19.0 °C (July), 8.0 °C from night to day>
    """
    values = _row(means_c)
    if len(values) != MONTHS:
        raise TemperatureError(
            f"monthly_normals: {counted(len(values), 'value')}. Give 12, one for each month from "
            "January on."
        )
    means = [
        as_celsius(value, f"monthly_normals: month {month}")
        for month, value in enumerate(values, start=1)
    ]
    range_c = as_number(daily_range)
    if not 0 <= range_c <= _WIDEST_DAILY_RANGE_C:
        raise TemperatureError(
            f"monthly_normals: daily_range = {told(daily_range)}. Give a number from 0 to "
            f"{_WIDEST_DAILY_RANGE_C:.0f} °C, from the coolest to the warmest moment of a day."
        )
    return Temperature(Seasons(np.array(means), range_c))


def repeating_day(hours_c: Sequence[float] | Floats) -> Temperature:
    """Make a plan that repeats one day.

    Parameters
    ----------
    hours_c : sequence of float, length 24
        Mean temperature of each hour, from midnight on. [°C]

    Raises
    ------
    TemperatureError
        If there are not 24 numbers from -40 to 70.

    Examples
    --------
    >>> import antgrowth as ag
    >>> ag.repeating_day([20] * 12 + [26] * 12)
    <Temperature: the same day repeated: mean 23.0 °C, 20.0 to 26.0>
    """
    values = _row(hours_c)
    if len(values) != 24:
        raise TemperatureError(
            f"repeating_day: {counted(len(values), 'value')}. Give 24, one for each hour from "
            "midnight on."
        )
    pattern_c = np.array(
        [as_celsius(value, f"repeating_day: hour {hour}") for hour, value in enumerate(values)]
    )
    return Temperature(Repeating(pattern_c, f"the same day repeated: {span_of(pattern_c)}"))


@takes(source=SOURCE, name=optional(NAME), unit=optional(NAME))
def read_temperature(
    source: TableSource,
    *,
    tz: str | tzinfo | None = None,
    name: str | None = None,
    unit: str | None = None,
    bridge_days: int = 0,
) -> Temperature:
    """Read a thermometer record.

    Parameters
    ----------
    source : path or DataFrame
        A CSV file (comma, semicolon or tab; decimal point or comma) or a table with a time column
        (time, date, datetime or timestamp, or a date and a time) and a temperature column
        (temperature_c, temperature, temp_c or temp), perhaps a humidity column (humidity,
        humidity_pct or rh; percent); longer headings of loggers are understood by their words, in
        some languages. Lines above the headings are left aside. It is not changed. Times are
        ISO 8601 or follow the rules for dates of a count log, with AM and PM or without.
    tz : str or tzinfo, optional
        Time zone of the keeper's clock. Needed if the times carry a zone: they are converted to
        this clock. Times without a zone are taken as local clock times as they stand.
    name : str, optional
        What messages call the record; the file name if not given.
    unit : {"C", "F"}, optional
        Unit of the readings; if not given, as the heading says, or else °C.
    bridge_days : int
        Gaps of up to so many days, as an empty battery leaves them, are filled by the daily pattern
        of the three days on both sides; `findings` say which. [day]

    Returns
    -------
    temperature : Temperature
        Its `findings` say what had to be decided.

    Raises
    ------
    TemperatureError
        If there are rows that cannot be read (all are listed, with their row numbers), readings
        outside -40 to 70 °C or 0 to 100 % (wet sensors up to 110 are taken as 100), or readings
        that only make sense in °F.

    Notes
    -----
    Readings are averaged within each clock hour. Up to 6 missing hours in a row are interpolated; a
    longer gap is an error once its days are asked for, unless it is bridged. A first or last day
    known for at least 6 hours is completed by its first or last hour; with fewer hours it is not
    covered. If the median interval between readings is longer than 6 hours, each reading stands for
    the mean of its day, and a day without a reading is taken as the day before if the readings
    around it are at most 36 hours apart. When clocks are put back, both readings of the repeated
    hour are averaged; the hour that is skipped in spring is interpolated. A row with an empty
    temperature is not used.

    Readings that stand out by 5 °C or more from those just before and after, and readings that stay
    the same for 48 hours or longer, are used and reported. Humidity is averaged like temperature,
    but stays unknown where none was read for more than 6 hours.

    Examples
    --------
    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> readings = pd.DataFrame({
    ...     "time": pd.date_range("2026-07-04", periods=96, freq="30min"),
    ...     "temperature_c": [24.0, 25.0] * 48,
    ... })
    >>> ag.read_temperature(readings)
    <Temperature: 96 readings, 2026-07-04 to 2026-07-05, mean 24.5 °C, 24.0 to 25.0>
    """
    return Temperature(Readings(read_record(
                source, tz=tz, name=name, unit=unit,
                bridge_days=as_whole(bridge_days, "bridge_days", at_least=0),
            )
        )
    )  # fmt: skip


def _clock(hour: float) -> str:
    minutes = round(hour * 60) % (24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def as_plan(value: Temperature | float, what: str) -> Temperature:
    """Take a number for a steady temperature, and a temperature as it is."""
    if isinstance(value, Temperature):
        return value
    return Temperature(steady(as_celsius(value, what)))


def _row(given: Any) -> NDArray[np.object_]:
    """What was given as a row of values, of which there may be one."""
    return np.array([None] if too_many(given) else given, dtype=object).ravel()


def _span(start: Day, days: int) -> tuple[np.datetime64, int]:
    return as_date(start, "start"), as_whole(days, "days", at_least=0)
