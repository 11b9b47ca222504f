"""What public calls take, told once for all of them: a check for each argument, with its limits.

`takes` puts the checks before a function. A check is a `Value`, or a reader such as `as_day` that
raises what is wrong. Limits are those of a colony and of a computer at home: they stand in the
message, and nobody waits for hours because of a slip of the pen.
"""

from __future__ import annotations

import functools
import inspect
import os
from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar

import numpy as np

from antgrowth._core.arrays import Floats
from antgrowth._core.text import told
from antgrowth._core.validation import (
    HIGHEST_C,
    LOWEST_C,
    MOST_ANTS,
    Value,
    as_number,
    is_text,
    is_whole,
    one_of,
    too_many,
)
from antgrowth.errors import AntgrowthError, TemperatureError

P = ParamSpec("P")
R = TypeVar("R")

Argument = Value | Callable[[Any, str], object]

LONGEST_DAYS, MOST_DRAWS = 3650, 20_000
"""How far ahead a forecast looks, and how many colonies it simulates."""

MOST_COLONY_DAYS = 4_000_000
"""Days of all simulated colonies together: about 20 seconds of work."""


def takes(**checks: Argument) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Check arguments of a function before it is called; all faults are told at once, a line each.

    Examples
    --------
    >>> @takes(days=DAYS_AHEAD)
    ... def wait(days):
    ...     return days
    >>> wait(days=9999)
    Traceback (most recent call last):
        ...
    antgrowth.errors.AntgrowthError: wait: days = 9999. Give a whole number from 1 to 3,650.
    """

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        signature = inspect.signature(function)

        @functools.wraps(function)
        def called(*args: P.args, **keywords: P.kwargs) -> R:
            try:
                given = signature.bind(*args, **keywords).arguments
            except TypeError:  # too many, too few: Python tells it best
                return function(*args, **keywords)
            faults = [
                fault
                for name, check in checks.items()
                if name in given and (fault := _fault(check, given[name], name, function.__name__))
            ]
            if faults:
                raise type(faults[0])("\n".join(map(str, faults)))
            return function(*args, **keywords)

        return called

    return decorate


def _fault(check: Argument, found: Any, name: str, caller: str) -> AntgrowthError | None:
    where = f"{caller}: {name}"
    if isinstance(check, Value):
        if check.holds(found):
            return None
        return AntgrowthError(
            f"{where} = {told(found)}. Give {check.allowed}. {check.remedy}".rstrip()
        )
    try:
        check(found, where)
    except AntgrowthError as error:
        return error
    return None


def optional(check: Argument) -> Argument:
    """The same, or None."""
    if isinstance(check, Value):
        holds = check.holds
        return Value(
            f"{check.allowed}, or None", lambda found: found is None or holds(found), check.remedy
        )
    return lambda found, where: None if found is None else check(found, where)


def instance(kind: type, made_by: str) -> Value:
    """Something of a class of this package, and what makes it."""
    return Value(
        f"the {kind.__name__} that {made_by} returns", lambda found: isinstance(found, kind)
    )


def several(kind: Any, what: str) -> Value:
    """A list or tuple of things of some kind."""
    return Value(
        what,
        lambda found: isinstance(found, list | tuple) and all(isinstance(f, kind) for f in found),
    )


def within(low: int, high: int) -> Value:
    """A whole number."""
    return Value(
        f"a whole number from {low:,} to {high:,}", lambda found: is_whole(found, low, high)
    )


def share(low: float, high: float, example: float) -> Value:
    """A number above one bound and below another."""
    return Value(
        f"a number above {low:g} and below {high:g}, such as {example:g}",
        lambda found: bool(low < as_number(found) < high),
    )


def above_0(what: str, most: float = 1e9) -> Value:
    """A number above 0, named with its unit; one so small that nobody can mean it is none."""
    return Value(what, lambda found: bool(1e-9 <= as_number(found) <= most))


def check_work(caller: str, days: int, draws: int, times: int = 1) -> None:
    """Refuse more days, draws and times together than anybody waits for."""
    if days * draws * times > MOST_COLONY_DAYS:
        several_times = f" for {times} plans" if times > 1 else ""
        raise AntgrowthError(
            f"{caller}: days = {days:,} and draws = {draws:,}{several_times}: together more than "
            f"{MOST_COLONY_DAYS:,} days of colonies. Give fewer of either."
        )


def _is_seed(found: Any) -> bool:
    return found is None or isinstance(found, np.random.Generator) or is_whole(found, 0, 2**63 - 1)


def _is_path(found: Any) -> bool:
    if not isinstance(found, str | os.PathLike):
        return False
    text = os.fspath(found)
    if not isinstance(text, str) or not text.strip() or "\0" in text:
        return False
    # What no file system of today takes: the system would tell it in words of its own.
    try:
        names = os.fsencode(text).split(os.sep.encode())
    except UnicodeEncodeError:
        return False
    return sum(map(len, names)) < 4000 and all(len(name) < 256 for name in names)


def numbers_list(found: Any, where: str) -> None:
    """Check a list or array of finite numbers."""
    if not np.isfinite(_array(found)).all() or np.ndim(found) != 1:
        raise AntgrowthError(f"{where} = {told(found)}. Give a list or array of numbers.")


def celsius_list(found: Any, where: str) -> None:
    """Check a temperature, or an array of them. [°C]"""
    values = _array(found)
    if not (values.size and ((values >= LOWEST_C) & (values <= HIGHEST_C)).all()):
        raise TemperatureError(
            f"{where} = {told(found)}. Give numbers from {LOWEST_C:.0f} to {HIGHEST_C:.0f} °C."
        )


def _array(found: Any) -> Floats:
    """What was given as an array of numbers; NaN if it is none, or more than anybody has."""
    try:
        values = np.asarray(np.nan if too_many(found) else found)
    except (ValueError, OverflowError, RecursionError):
        return np.array([np.nan])
    return values.astype(float) if values.dtype.kind in "fiu" else np.array([np.nan])


DAYS_AHEAD = within(1, LONGEST_DAYS)
COLONIES = within(1, MOST_DRAWS)
ANTS = within(1, MOST_ANTS)
QUEENS = within(1, 10_000)
HEMISPHERE = one_of("north", "south", remedy="")
AMOUNT = Value(
    f"a number from 0 to {MOST_ANTS:,}", lambda found: bool(0 <= as_number(found) <= MOST_ANTS)
)
CELSIUS = Value(
    f"a number from {LOWEST_C:.0f} to {HIGHEST_C:.0f} °C",
    lambda found: bool(LOWEST_C <= as_number(found) <= HIGHEST_C),
)
LEVEL = share(0, 1, 0.9)
FLAG = Value("True or False", lambda found: isinstance(found, bool | np.bool_))
NAME = Value("a text that is not blank", is_text)
PATH = Value("the path of a file or folder", _is_path)
SOURCE = Value(
    "the path of a file, or a table",
    lambda found: _is_path(found) or not isinstance(found, str | os.PathLike),
)
RNG = Value(
    "a whole number of at least 0 as the seed, a numpy Generator, or None for new chance each time",
    _is_seed,
)
