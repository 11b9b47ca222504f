"""Arguments, checked once and alike; `what` is the argument's name in messages."""

from __future__ import annotations

import operator
from datetime import date

import numpy as np

from antgrowth._core.dates import as_day
from antgrowth.errors import AntgrowthError, LogError, TemperatureError

__all__ = [
    "HIGHEST_C", "LOWEST_C", "Day", "as_celsius", "as_date", "as_number", "as_whole", "check_whole",
]  # fmt: skip

Day = str | date | np.datetime64
"""A calendar date: ISO text, date, datetime, Timestamp or datetime64."""

LOWEST_C, HIGHEST_C = -40.0, 70.0
"""Nothing is kept outside these temperatures: a reading there is a fault of the sensor. [°C]"""


def as_celsius(value: object, what: str) -> float:
    """Take an argument as a temperature [°C]."""
    celsius = as_number(value)
    if not LOWEST_C <= celsius <= HIGHEST_C:
        raise TemperatureError(
            f"{what} = {value!r}. Give a number from {LOWEST_C:.0f} to {HIGHEST_C:.0f} °C; "
            "from °F it is (°F - 32) * 5 / 9."
        )
    return celsius


def as_number(value: object) -> float:
    """Take an argument as a number, NaN if it is none."""
    try:
        return float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return float("nan")


def as_date(value: Day, what: str) -> np.datetime64:
    """Take an argument as a calendar date; a time of day is left off."""
    try:
        return np.datetime64(as_day(value, what), "D")
    except LogError as error:
        raise TemperatureError(str(error)) from None


def as_whole(value: int, what: str, at_least: int) -> int:
    """Take an argument as a whole number."""
    try:
        number = operator.index(value)
    except TypeError:
        number = at_least - 1
    if number < at_least:
        raise TemperatureError(f"{what} = {value!r}. Use a whole number >= {at_least}.")
    return number


def check_whole(caller: str, **numbers: object) -> None:
    """Refuse arguments that are no whole numbers above 0."""
    for name, value in numbers.items():
        if not (isinstance(value, (int, np.integer)) and value >= 1):
            raise AntgrowthError(f"{caller}: {name} = {value!r}. Give a whole number above 0.")
