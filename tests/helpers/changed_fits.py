"""Fits with one thing changed, for tests of what is said about them."""

from __future__ import annotations

from dataclasses import replace

import antgrowth as ag


def with_estimate(fit: ag.Fit, **changes: object) -> ag.Fit:
    """The same fit with fields of its most probable estimate replaced."""
    first, *others = fit.components
    estimate = replace(first.estimate, **changes)  # type: ignore[arg-type]
    return replace(fit, components=[replace(first, estimate=estimate), *others])
