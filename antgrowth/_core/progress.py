"""Work that takes its time: a bar that shows how far it is, and an interrupt that says so.

A bar appears after two seconds, in a notebook and in a terminal; in a pipe, a file or a page that
is made of a notebook (which sets tqdm's own TQDM_DISABLE) there is none.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Sequence
from typing import Any, TypeVar

T = TypeVar("T")
R = TypeVar("R")

DELAY_SECONDS = 2.0


class Interrupted(KeyboardInterrupt):
    """Work that was stopped from the keyboard; a notebook tells it in one line."""

    def _render_traceback_(self) -> list[str]:
        return [f"Interrupted: {self}"]


def each(
    function: Callable[[T], R], items: Sequence[T], what: str, show: bool | None = None
) -> list[R]:
    """Work on items one after the other, and show how far it is.

    There is a bar, named by `what`, from the first moment on with `show`, and as the module says
    without. `Interrupted` tells that it was stopped from the keyboard: nothing that was there
    before is changed by it.
    """
    done: list[R] = []
    bar = _bar(items, what, show)
    try:
        for item in bar:
            done.append(function(item))
    except KeyboardInterrupt:
        raise Interrupted(
            f"{what} stopped after {len(done)} of {len(items)}; nothing is kept of it, and all "
            "that was there before is as it was."
        ) from None
    finally:
        if hasattr(bar, "close"):
            bar.close()
    return done


def _bar(items: Sequence[T], what: str, show: bool | None) -> Iterable[T]:
    notebook, asked = hasattr(_shell(), "kernel"), bool(show)
    if show is None:
        show = _looked_at()
    if not show:
        return items
    look: dict[str, Any] = {"desc": what, "leave": asked, "delay": 0 if asked else DELAY_SECONDS}
    found: Iterable[T] = _kind(notebook)(items, **look)
    return found


def _shell() -> Any:
    """The shell of IPython, if this is one; it is never loaded for that."""
    loaded = sys.modules.get("IPython")
    return loaded.get_ipython() if loaded else None


def _kind(notebook: bool) -> Any:
    """A bar of widgets in a notebook that has them, else one of text; none warns."""
    if notebook:
        try:
            import ipywidgets  # noqa: F401
        except ImportError:
            pass
        else:
            from tqdm.notebook import tqdm as of_widgets

            return of_widgets
    from tqdm import tqdm

    return tqdm


def tell(sentence: str) -> None:
    """Say what takes its time, where somebody looks and no bar can show it."""
    if _looked_at():
        print(sentence, file=sys.stderr, flush=True)


def _looked_at() -> bool:
    """Whether somebody looks, in a notebook or at a terminal, and wants to know."""
    notebook = hasattr(_shell(), "kernel")
    return not os.environ.get("TQDM_DISABLE") and (notebook or sys.stderr.isatty())
