"""A keeper's folder, and the page made of it."""

from __future__ import annotations

from antgrowth.colony.folder import Colony, demo_colony, load_colony

__all__ = ["Colony", "demo_colony", "load_colony"]
