"""Where a colony stands among its species: on track, ahead or behind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import special

from antgrowth._core.stages import STAGES
from antgrowth._core.summary import share_words
from antgrowth._core.text import count_words, day_words
from antgrowth.inference.posterior import Posterior

UNUSUAL = 0.05
"""A colony is ahead or behind when fewer of its species than this are as far out."""


@dataclass(frozen=True)
class SpeciesRank:
    """How a colony's latest count compares with what its profile expects of the species."""

    stage: str  # the most advanced stage that tells anything
    date: pd.Timestamp
    found: str  # the count in words
    # fewer, more: share of colonies expected to have fewer, and more, at the same temperatures.
    fewer: float
    more: float

    @property
    def verdict(self) -> str:
        """One of "on track", "ahead", "behind"."""
        if self.fewer > 1 - UNUSUAL:
            return "ahead"
        return "behind" if self.more > 1 - UNUSUAL else "on track"

    @property
    def finding(self) -> str:
        """The verdict in a sentence."""
        return {
            "on track": f"On track: {self.stage} within the species' usual range",
            "ahead": f"Ahead: more {self.stage} than is usual for the species",
            "behind": f"Behind: fewer {self.stage} than is usual for the species",
        }[self.verdict]

    def evidence(self, ant: str) -> str:
        """What the verdict rests on, with the ant called by a name."""
        share, than = (self.more, "more") if self.verdict == "behind" else (self.fewer, "fewer")
        found = f"{self.found} on {day_words(self.date)}"
        if share == 0:
            return found
        return f"{found}; {share_words(share)} of {ant} colonies are expected to have {than}"


def place_in_species(fit: Posterior) -> SpeciesRank:
    """Compare the last count of the most advanced stage with the species.

    The species is 200 draws of the prior, each with a Poisson number around what the keeper would
    see of it; whole simulated colonies scatter nearly the same. A count of none compares only where
    the species expects at least one. A range counts by its nearer end, so that a colony is ahead or
    behind only if all of its range is.
    """
    frame = fit.counts.frame
    expected = fit.model.along(None).expect(fit.species_draws, fit.species_growth)[:, : len(frame)]
    expected = np.maximum(expected, 0.0)
    chosen = 0
    for stage in (*STAGES[::-1], "brood"):
        rows = np.flatnonzero(frame["stage"] == stage)
        if len(rows) and (frame["high"].iloc[rows[-1]] > 0 or expected[:, rows[-1]].mean() > 1):
            chosen = int(rows[-1])
            break
    cell, mean = frame.iloc[chosen], expected[:, chosen]
    low, high = float(cell["low"]), float(cell["high"])
    return SpeciesRank(
        stage=cell["stage"],
        date=cell["date"],
        found=count_words(low, high, cell["kind"], cell["stage"]),
        fewer=float(special.pdtr(low - 1, mean).mean()) if low > 0 else 0.0,
        more=float(special.pdtrc(high, mean).mean()) if np.isfinite(high) else 0.0,
    )
