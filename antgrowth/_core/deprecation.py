"""Old names of keywords and attributes, which are taken for a while and say what to write now."""

from __future__ import annotations

import functools
import warnings
from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
R = TypeVar("R")


def renamed(**names: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Take keywords by their old names as well, with a `DeprecationWarning`: ``old="new"``.

    Examples
    --------
    >>> @renamed(temps="temperature")
    ... def warmest(temperature):
    ...     return max(temperature)
    >>> warmest(temperature=[21, 24])
    24
    """

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        @functools.wraps(function)
        def called(*args: P.args, **keywords: P.kwargs) -> R:
            for old, new in names.items():
                if old in keywords:
                    told = f"{function.__name__}: the keyword {old} is now {new}. Write {new}=..."
                    if new in keywords:
                        raise TypeError(f"{told}, and not both.")
                    warnings.warn(f"{told}", DeprecationWarning, stacklevel=2)
                    keywords[new] = keywords.pop(old)
            return function(*args, **keywords)

        return called

    return decorate


class Former:
    """Former name of an attribute: gives the value of the new one, with a `DeprecationWarning`.

    Examples
    --------
    >>> class Log:
    ...     visits = 3
    ...     looks = Former("visits")
    >>> Log.looks.new
    'visits'
    """

    def __init__(self, new: str) -> None:
        self.new = new
        self.__doc__ = f"Former name of `{new}`, which is to be used."

    def __set_name__(self, owner: type, name: str) -> None:
        self.owner, self.name = owner.__name__, name

    def __get__(self, instance: object, owner: type | None = None) -> Any:
        if instance is None:
            return self
        warnings.warn(
            f"{self.owner}: the attribute {self.name} is now {self.new}. Write .{self.new}",
            DeprecationWarning,
            stacklevel=2,
        )
        return getattr(instance, self.new)
