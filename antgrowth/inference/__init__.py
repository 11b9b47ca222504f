"""From counts to a posterior of one colony's parameters, and of what its nest holds."""

from __future__ import annotations

from antgrowth.inference.laplace import Estimate, Linearisation, Model, estimate, tempering_power

__all__ = ["Estimate", "Model", "Linearisation", "tempering_power", "estimate"]
