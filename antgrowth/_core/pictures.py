"""The one place from which pictures are loaded, and only when one is drawn.

A result draws itself by a method, and its picture is drawn from that result: `plots.py` of a room
imports the results, and no result imports `plots.py`. So matplotlib waits until it is needed, and
the imports of the package point one way.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any, TypeVar

T = TypeVar("T")


def picture(room: str, name: str, *about: Any, module: str = "plots", **how: Any) -> T:  # type: ignore[type-var]  # only the method that asks knows of what type
    """Draw by the function of a room that has this name, loaded now.

    It stands in `plots.py`, or in a module of its own for pictures that are moved by hand.
    """
    drawn: T = getattr(import_module(f"antgrowth.{room}.{module}"), name)(*about, **how)
    return drawn
