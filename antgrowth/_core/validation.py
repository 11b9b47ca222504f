"""Arguments and tables of keys, checked once and alike.

An argument goes through `as_celsius`, `as_date` and the like; `what` is its name in messages. A
table of keys, as of a TOML file, is told in data: a `Table` says which keys there may be and holds
a check for each, such as a `Value`. Checks never raise: they tell every fault, a line each.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from numbers import Real
from typing import Any

import numpy as np

from antgrowth._core.dates import as_day
from antgrowth._core.text import near_miss, printed, told
from antgrowth.errors import AntgrowthError, LogError, TemperatureError

Day = str | date | np.datetime64
"""A calendar date: ISO text, date, datetime, Timestamp or datetime64."""

MOST_ANTS = 1_000_000
"""No stage of a colony that is kept holds more. [ants]"""

MOST_DAYS = 36_525
"""A hundred years: no temperature is asked for longer. [day]"""

MOST_NUMBERS = 1_000_000
"""In a list or array of numbers."""

LOWEST_C, HIGHEST_C = -40.0, 70.0
"""Nothing is kept outside these temperatures: a reading there is a fault of the sensor. [°C]"""

_MOST = sys.float_info.max

NO_NUMBERS = (bool, np.bool_, np.timedelta64)
"""What Python and numpy count among the numbers, and nobody does who gives a number."""


def as_celsius(value: object, what: str) -> float:
    """Take an argument as a temperature [°C]."""
    celsius = as_number(value)
    if not LOWEST_C <= celsius <= HIGHEST_C:
        raise TemperatureError(
            f"{what} = {told(value)}. Give a number from {LOWEST_C:.0f} to {HIGHEST_C:.0f} °C; "
            "from °F it is (°F - 32) * 5 / 9."
        )
    return celsius


def as_number(value: object) -> float:
    """Take an argument as a number, NaN if it is none: no truth, no digits in quotes."""
    if not isinstance(value, Real) or isinstance(value, NO_NUMBERS):
        return float("nan")
    try:
        return float(value)
    except OverflowError:
        return float("nan")


def as_date(value: Day, what: str) -> np.datetime64:
    """Take an argument as a calendar date; a time of day is left off."""
    try:
        return np.datetime64(as_day(value, what), "D")
    except LogError as error:
        raise TemperatureError(str(error)) from None


def as_whole(value: int, what: str, at_least: int, at_most: int = MOST_DAYS) -> int:
    """Take an argument as a whole number; if not said otherwise, of days."""
    if not is_whole(value, at_least):
        raise TemperatureError(f"{what} = {told(value)}. Use a whole number >= {at_least}.")
    if value > at_most:
        raise TemperatureError(f"{what} = {told(value)}. Use a whole number <= {at_most:,}.")
    return int(value)


def is_whole(value: Any, low: float = -np.inf, high: float = np.inf) -> bool:
    """Whether something is a whole number within bounds; True and False are none."""
    whole = isinstance(value, (int, np.integer)) and not isinstance(value, NO_NUMBERS)
    return whole and bool(low <= value <= high)


def is_number(value: Any, low: float = -_MOST, high: float = _MOST) -> bool:
    """Whether something is a finite number within bounds; True and False are none."""
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return number and bool(low <= value <= high)


def too_many(found: Any) -> bool:
    """Whether a list or array, or one in a list, is longer than any that is given on purpose.

    Made into an array, it may fill the memory.
    """
    return _is_long(found) or (isinstance(found, list | tuple) and any(map(_is_long, found)))


def _is_long(found: Any) -> bool:
    if hasattr(found, "__array__"):
        return bool(getattr(found, "size", 1) > MOST_NUMBERS)
    return isinstance(found, Sequence) and bool(found[MOST_NUMBERS:])


def is_text(value: Any) -> bool:
    """Whether something is a text that is not blank."""
    return isinstance(value, str) and bool(value.strip())


Check = Callable[[Any, str], Iterable[str]]
"""Takes what was found and where it stands; gives a line for each thing that is wrong with it."""


@dataclass(frozen=True)
class Value:
    """What one value of a table may be: a check."""

    allowed: str  # in words, as they follow "Allowed:"
    holds: Callable[[Any], bool]  # whether a value is one of those
    remedy: str = ""  # what to do, in a sentence
    options: tuple[str, ...] = ()  # spellings, one of which may have been meant
    # What is surely meant by something that is not allowed.
    meant: Mapping[str, str] = field(default_factory=dict)

    def __call__(self, found: Any, where: str) -> Iterator[str]:
        """Tell what is wrong with a value, if anything is."""
        if fault := self.fault(found):
            yield f"{where} = {told(found)}. {fault}"

    def fault(self, found: Any) -> str:
        """Say what is allowed instead of a value; empty if it is allowed itself."""
        if self.holds(found):
            return ""
        word = found if isinstance(found, str) else told(found)
        sure = self.meant.get(word)
        hint = f" Did you mean {sure}?" if sure else near_miss(word, self.options)
        return f"Allowed: {self.allowed}.{hint} {self.remedy}".rstrip()


@dataclass(frozen=True)
class Table:
    """Which keys a table may have, and a check for each: itself a check."""

    keys: Mapping[str, Check]
    # Keys that must be there, each with an example of its value.
    needed: Mapping[str, str] = field(default_factory=dict)

    def __call__(self, found: Any, where: str) -> Iterator[str]:
        """Tell everything that is wrong with a table; the one of a whole file stands at ""."""
        if not isinstance(found, Mapping):
            names = ", ".join(self.keys)
            yield (
                f"{where} = {told(found)}. This is a table: write a line [{where}] and its keys "
                f"({names}) below it."
            )
            return
        place = f"{where}." if where else ""
        for key, value in found.items():
            if key in self.keys:
                yield from self.keys[key](value, f"{place}{key}")
            else:
                hint, names = near_miss(key, self.keys), ", ".join(self.keys)
                yield f"{place}{printed(key)}: no such key.{hint} Allowed: {names}."
        for key, example in self.needed.items():
            if key not in found:
                yield f"{place}{key} is missing. Add it, such as {key} = {example}."


TEXT = Value("a text in quotes", is_text, "Write it.")

WORDS = Value("text", lambda found: isinstance(found, str), "Put it in quotes.")
"""A text that may be empty."""

FLAG = Value("true or false, without quotes", lambda found: isinstance(found, bool))


def one_of(*options: str, remedy: str = "Write one of them.") -> Value:
    """One of some words."""
    names = ", ".join(options)
    return Value(names, lambda found: isinstance(found, str) and found in options, remedy, options)


def whole(low: int, high: int | None = None, remedy: str = "") -> Value:
    """A whole number from one bound to another, or without an upper bound that matters."""
    span = f"from {low} to {high:,}" if high is not None else f"of at least {low}"
    most = np.inf if high is None else high
    return Value(f"a whole number {span}", lambda found: is_whole(found, low, most), remedy)


def each(fault: Callable[[Any], str], what: str) -> Check:
    """Check a list, of at least one `what`, item by item: `fault` tells what is wrong."""

    def check(found: Any, where: str) -> Iterator[str]:
        if not isinstance(found, list) or not found:
            yield f"{where} = {told(found)}. Allowed: a list of at least one {what}."
            return
        for item in found:
            if wrong := fault(item):
                yield f"{where}: {told(item)}. {wrong}"

    return check


def tables_of(check: Check) -> Check:
    """Check one table or a list of several, each alike."""

    def checks(found: Any, where: str) -> Iterator[str]:
        for table in found if isinstance(found, list) else [found]:
            yield from check(table, where)

    return checks


def read_by(reader: Callable[[Any, str], object]) -> Check:
    """Check by reading: what the reader raises is the fault."""

    def check(found: Any, where: str) -> Iterator[str]:
        try:
            reader(found, where)
        except AntgrowthError as error:
            yield str(error)

    return check


def unchecked(found: Any, where: str) -> Iterator[str]:
    """Leave a value to whoever reads it."""
    return iter(())
