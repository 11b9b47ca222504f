"""The version of the package; `pyproject.toml` reads it here."""

from __future__ import annotations

__all__ = ["__version__"]

__version__ = "0.1.0"
