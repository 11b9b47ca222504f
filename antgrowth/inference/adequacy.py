"""Whether a fit expects the notes that shaped it: statistics, and from where on they are told."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from antgrowth._core.stats import REACH_90

if TYPE_CHECKING:
    from antgrowth.inference.posterior import Posterior

OVERDISPERSED = 1.25
"""Scatter of the counts, squared and relative to what was expected, that is worth telling."""

CONTRADICTORY = 2.0
"""The same, from where on notes and growth law contradict each other: an alert."""

HEAVY_TAILS = 0.7
"""A tail index above this is told: the normal posterior does not fit."""

TAILS_MEAN = (
    "single parameters may lie outside their intervals more often than told; dates rest on what "
    "the counts settle together, and suffer less"
)
"""What heavy tails mean to a keeper; `tests/statistical/test_posterior.py` has the measurements."""


def held_in_sample(fit: Posterior) -> tuple[int, int]:
    """How many exact counts lie in their own 90 % interval, and how many there are.

    The interval is that of a new count in a like colony on the same day: parameters are uncertain,
    growth goes by chance, and the keeper errs. The counts have shaped the fit, so this shows a
    model that cannot follow its own data, but never that forecasts hold.
    """
    best, model = fit.estimate, fit.model.along(None)
    draws = fit.draws[: len(fit.growth.counts)]
    uncertain = model.expect(draws, fit.growth).var(axis=0)
    reach = REACH_90 * np.sqrt(np.diag(best.noise_cov) + uncertain)
    exact = model.observations.exact
    held = exact & (np.abs(model.observations.low - best.mean) <= reach)
    return int(held.sum()), int(exact.sum())
