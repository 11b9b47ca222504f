"""What the nest's temperature was, and what it is planned to be.

A `Temperature` gives a mean for every hour of each day that it covers: a thermometer record, a
steady plan, a day and a night, or several of these one after the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo

import numpy as np

from antgrowth._core.text import counted
from antgrowth._core.validation import as_celsius, as_number
from antgrowth.climate.base import Temperature, span_of
from antgrowth.climate.monthly_normals import MONTHS, Seasons
from antgrowth.climate.record import Readings
from antgrowth.climate.schedules import Repeating, as_plan
from antgrowth.errors import TemperatureError
from antgrowth.io.temperature_logger import Source, read_record

__all__ = [
    "Temperature",
    "constant",
    "day_night",
    "monthly_normals",
    "read_temperature",
    "repeating_day",
]

_WIDEST_DAILY_RANGE_C = 40.0


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
    return as_plan(as_celsius(temperature_c, "constant: temperature_c"), "temperature_c")


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
            f"day_night: day_hours = {day_hours!r}. A day lasts more than 0 and less than 24 "
            "hours; for one temperature all the time use constant()."
        )
    if not 0 <= starts < 24:
        raise TemperatureError(
            f"day_night: day_starts = {day_starts!r}. The day starts at an hour from 0 to less "
            "than 24."
        )
    hour = np.arange(24.0)
    by_day = np.zeros(24)
    for shift in (0, -24):  # a day that runs past midnight goes on in the next morning
        began, ends = starts + shift, starts + length + shift
        by_day += np.clip(np.minimum(hour + 1, ends) - np.maximum(hour, began), 0, 1)
    return Repeating(
        night_c + (day_c - night_c) * by_day,
        f"{day_c:.1f} °C by day ({_clock(starts)}-{_clock(starts + length)}), "
        f"{night_c:.1f} °C by night",
    )


def monthly_normals(means_c: Sequence[float] | np.ndarray, daily_range: float = 0.0) -> Temperature:
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
    values = np.array(means_c, dtype=object).ravel()
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
            f"monthly_normals: daily_range = {daily_range!r}. Give a number from 0 to "
            f"{_WIDEST_DAILY_RANGE_C:.0f} °C, from the coolest to the warmest moment of a day."
        )
    return Seasons(np.array(means), range_c)


def repeating_day(hours_c: Sequence[float] | np.ndarray) -> Temperature:
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
    values = np.array(hours_c, dtype=object).ravel()
    if len(values) != 24:
        raise TemperatureError(
            f"repeating_day: {counted(len(values), 'value')}. Give 24, one for each hour from "
            "midnight on."
        )
    pattern_c = np.array(
        [as_celsius(value, f"repeating_day: hour {hour}") for hour, value in enumerate(values)]
    )
    return Repeating(pattern_c, f"the same day repeated: {span_of(pattern_c)}")


def read_temperature(
    source: Source,
    *,
    tz: str | tzinfo | None = None,
    name: str | None = None,
    unit: str = "C",
) -> Temperature:
    """Read a thermometer record.

    Parameters
    ----------
    source : path or DataFrame
        A CSV file (comma, semicolon or tab; decimal point or comma) or a table with a time column
        (time, date, datetime or timestamp, or a date and a time) and a temperature column
        (temperature_c, temperature, temp_c or temp), perhaps a humidity column (humidity,
        humidity_pct or rh; percent). It is not changed. Times are ISO 8601 or follow the rules for
        dates of a count log.
    tz : str or tzinfo, optional
        Time zone of the keeper's clock. Needed if the times carry a zone: they are converted to
        this clock. Times without a zone are taken as local clock times as they stand.
    name : str, optional
        What messages call the record; the file name if not given.
    unit : {"C", "F"}
        Unit of the readings.

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
    Readings are averaged within each clock hour. Up to 6 missing hours in a row are interpolated;
    a longer gap is an error once its days are asked for. A first or last day known for at least 6
    hours is completed by its first or last hour; with fewer hours it is not covered. If the median
    interval between readings is longer than 6 hours, each reading stands for the mean of its day,
    and a day without a reading is taken as the day before if the readings around it are at most
    36 hours apart. When clocks are put back, both readings of the repeated hour are averaged; the
    hour that is skipped in spring is interpolated. A row with an empty temperature is not used.

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
    return Readings(read_record(source, tz=tz, name=name, unit=unit))


def _clock(hour: float) -> str:
    minutes = round(hour * 60) % (24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
