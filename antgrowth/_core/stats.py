"""Statistics that several rooms share; arrays in, arrays out."""

from __future__ import annotations

__all__ = ["REACH_90"]

REACH_90 = 1.645
"""Half the width of a central 90 % interval, in standard deviations."""
