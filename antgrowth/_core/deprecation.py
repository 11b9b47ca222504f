"""Old names of keywords, which are taken for a while and say what to write instead."""

from __future__ import annotations

import functools
import warnings
from collections.abc import Callable
from typing import ParamSpec, TypeVar

__all__ = ["renamed"]

P = ParamSpec("P")
R = TypeVar("R")


def renamed(**names: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Take keywords by their old names as well, with a `DeprecationWarning`.

    Parameters
    ----------
    **names : str
        The new name of each old one.

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
