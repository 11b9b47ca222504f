"""From counts to a posterior of one colony's parameters, and of what its nest holds."""

from __future__ import annotations

from antgrowth.inference.laplace import (
    Estimate,
    Model,
    Tangent,
    believed,
    estimate,
)

__all__ = ["Estimate", "Model", "Tangent", "believed", "estimate"]
