"""Temperatures to come, tried on the same colonies with the same luck."""

from __future__ import annotations

from antgrowth.regimes.comparison import (
    RegimeComparison,
    compare_regimes,
)

__all__ = ["RegimeComparison", "compare_regimes"]
