"""The version of the package; `pyproject.toml` reads it here."""

from __future__ import annotations

__version__ = "0.1.0"
