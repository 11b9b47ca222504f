"""Loops over numbers, compiled by numba: loaded with the first that runs, compiled once a computer.

Compiled code is kept in files: beside the module, or in the user's cache where that folder cannot
be written to; `NUMBA_CACHE_DIR` names another place. Compiled functions call one another.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from functools import cache, cached_property, update_wrapper
from pathlib import Path
from typing import Any, Generic, ParamSpec, TypeVar

from antgrowth._core.progress import tell

P = ParamSpec("P")
R = TypeVar("R")

HOW: dict[str, Any] = {
    "fastmath": False, "error_model": "numpy", "nogil": True, "_nrt": False, "forceinline": True,
}  # fmt: skip
"""Sums in the order they are written in, as everywhere; what is divided by zero is infinite. No
references are counted (`_nrt`), which took more time than the sums: so no array is made inside.
Functions that are called are taken in whole (`forceinline`): whether they were hung on a line more
or less, and cost up to twice the time."""

SOURCES: set[Path] = set()
"""Files of compiled functions. Numba looks at a function's own, but they call one another."""


class Compiled(Generic[P, R]):
    """A function of numbers, arrays and named tuples of them, compiled when it is first called."""

    def __init__(self, function: Callable[P, R]) -> None:
        self.function = function
        SOURCES.add(Path(function.__code__.co_filename))
        update_wrapper(self, function)

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        found: R = self._ready(*args, **kwargs)
        return found

    @cached_property
    def _dispatcher(self) -> Any:
        from numba import njit

        try:
            made = njit(cache=True, **HOW)(self.function)
        except RuntimeError:  # no folder can be written to: compiled code is not kept
            return njit(**HOW)(self.function)
        self._drop_outdated(Path(made.stats.cache_path))
        return made

    @cached_property
    def _ready(self) -> Any:
        made = self._dispatcher
        kept = made.stats.cache_path
        if kept is None or not self._kept(Path(kept)):
            _say_so()
        return made

    def _kept(self, folder: Path) -> list[Path]:
        """Indices of what is compiled."""
        code = self.function.__code__
        name = f"{Path(code.co_filename).stem}.{self.function.__qualname__}-{code.co_firstlineno}"
        return list(folder.glob(f"{name}.*.nbi"))

    def _drop_outdated(self, folder: Path) -> None:
        changed = max(path.stat().st_mtime for path in SOURCES)
        for path in self._kept(folder):
            with suppress(FileNotFoundError):  # another process may do the same just now
                if path.stat().st_mtime < changed:
                    path.unlink()

    @property
    def _numba_type_(self) -> Any:
        # Numba asks this of whatever another compiled function names.
        return self._dispatcher._numba_type_


@cache
def _say_so() -> None:
    tell("antgrowth compiles its growth law, once on this computer: some seconds, half a minute")


def compiled(function: Callable[P, R]) -> Compiled[P, R]:
    """Compile a function when it is first called; see the module."""
    return Compiled(function)
