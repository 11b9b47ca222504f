"""Small matrices on one thread: several only wait for one another, and keep other work waiting."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController

__all__ = ["on_one_thread"]

P = ParamSpec("P")
R = TypeVar("R")


@cache
def _libraries() -> ThreadpoolController:
    return ThreadpoolController()


def on_one_thread(function: Callable[P, R]) -> Callable[P, R]:
    """The same function, whose linear algebra runs on one thread while it is at work."""

    @wraps(function)
    def alone(*args: P.args, **kwargs: P.kwargs) -> R:
        with _libraries().limit(limits=1, user_api="blas"):
            return function(*args, **kwargs)

    return alone
