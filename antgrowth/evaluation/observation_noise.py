"""The observation model: what a keeper would count of true numbers."""

from __future__ import annotations

import numpy as np

from antgrowth._core.arrays import Floats, Ints
from antgrowth._core.stages import STAGES
from antgrowth._core.stats import with_brood
from antgrowth.inference.likelihood import ROUNDING, error_variance


def observed_counts(true: Ints, shares: Floats, scale: Floats, rng: np.random.Generator) -> Floats:
    """Count true numbers as a keeper does: some overlooked, what is left misjudged.

    True eggs, larvae, pupae, workers have shape (draws, visits, 4); `shares` of them are seen,
    (draws, visits, 4 or 5), of which what comes after the workers is not used; `scale` is the
    counting error relative to the usual, (draws,) or (draws, visits). Counts have shape
    (draws, visits, 5): the last is all brood, counted at once.
    """
    noticed = with_brood(rng.binomial(true, shares[..., : len(STAGES)]).astype(float))
    scale = scale[:, None] if scale.ndim == 1 else scale
    error = np.broadcast_to(scale[..., None], noticed.shape)
    # A factor for the error, so that none stays none; whole ants bring the rounding by themselves.
    variance = error_variance(noticed, np.ones(1), error, scale=1.0) - ROUNDING
    log_sd = np.sqrt(np.log1p(variance / np.maximum(noticed, 1.0) ** 2))
    counts: Floats = np.rint(noticed * np.exp(log_sd * rng.standard_normal(noticed.shape)))
    return counts
