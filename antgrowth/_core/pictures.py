"""The one place from which pictures are loaded, and only when one is drawn.

A result draws itself by a method, and its picture is drawn from that result: `plots.py` of a room
imports the results, and no result imports `plots.py`. So matplotlib waits until it is needed, and
the imports of the package point one way.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any


def picture(room: str, name: str, module: str = "plots") -> Callable[..., Any]:
    """Find the function of a room that draws a picture, by its name.

    It stands in `plots.py`, or in a module of its own for pictures that are moved by hand.
    """
    found: Callable[..., Any] = getattr(import_module(f"antgrowth.{room}.{module}"), name)
    return found
