"""Linear algebra on one thread: the same sums in the same order on every computer's cores.

With several threads a sum of floats comes in parts, whose number depends on the cores; the last
digit of a covariance then differs, and with it the axes of its square root, and whole colonies. The
matrices of a fit are small: more threads would not be faster.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController

__all__ = ["one_thread"]

P = ParamSpec("P")
R = TypeVar("R")


@functools.cache
def _libraries() -> ThreadpoolController:
    # Found once: those of numpy and scipy are loaded by now.
    import scipy.linalg  # noqa: F401

    return ThreadpoolController()


def one_thread(function: Callable[P, R]) -> Callable[P, R]:
    """Let a function do its linear algebra on one thread; afterwards all is as it was."""

    @functools.wraps(function)
    def called(*args: P.args, **keywords: P.kwargs) -> R:
        with _libraries().limit(limits=1, user_api="blas"):
            return function(*args, **keywords)

    return called
