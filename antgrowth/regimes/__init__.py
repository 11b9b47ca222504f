"""Temperatures to come, tried on the same colonies with the same luck."""

from __future__ import annotations

from antgrowth.regimes.compare import compare_regimes
from antgrowth.regimes.comparison import RegimeComparison

__all__ = ["RegimeComparison", "compare_regimes"]
