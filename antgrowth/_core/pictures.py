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
    """Find the function that draws a picture.

    Parameters
    ----------
    room : str
        The folder of the package that has it.
    name : str
        Of the function.
    module : str
        The file of the room; another than `plots.py` for pictures that are moved by hand.
    """
    found: Callable[..., Any] = getattr(import_module(f"antgrowth.{room}.{module}"), name)
    return found
