"""Linear algebra on one thread: the same sums in the same order on every computer's cores.

With several threads a sum of floats comes in parts, whose number depends on the cores; the last
digit of a covariance then differs, and with it the axes of its square root, and whole colonies. The
matrices of a fit are small: several threads only wait for one another, and keep other work waiting.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController

P = ParamSpec("P")
R = TypeVar("R")


@cache
def _libraries() -> ThreadpoolController:
    import scipy.linalg  # noqa: F401  # its library is found only where it is loaded

    return ThreadpoolController()


def on_one_thread(function: Callable[P, R]) -> Callable[P, R]:
    """The same function, whose linear algebra runs on one thread while it is at work."""

    @wraps(function)
    def alone(*args: P.args, **kwargs: P.kwargs) -> R:
        with _libraries().limit(limits=1, user_api="blas"):
            return function(*args, **kwargs)

    return alone
