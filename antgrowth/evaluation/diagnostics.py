"""How far a fit can be trusted: does its posterior hold, and does it expect its own notes?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.deprecation import Former
from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report, Shown
from antgrowth._core.text import counted, listed
from antgrowth.evaluation.posterior_predictive import COLUMNS, posterior_predictive
from antgrowth.inference.adequacy import CONTRADICTORY, HEAVY_TAILS, OVERDISPERSED, TAILS_MEAN
from antgrowth.inference.psis import (
    WEIGHED,
    effective_sample_size,
    log_weights,
    pareto_k_of,
    tail_error,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from antgrowth.inference.posterior import Posterior

COLONIES = 400
"""Like colonies that are counted."""

FEWEST_WORTH = 10.0
"""Draws that are worth fewer do not carry an interval (assumed)."""

FAR = "FAR FROM THE PROFILE"

NO_BOUND = "no parameter at a bound or far from the profile"


@dataclass(frozen=True, eq=False, repr=False)
class Diagnostics(Shown):
    """How far a fit can be trusted; made by `Fit.diagnostics`.

    Attributes
    ----------
    fit : Posterior
    weighed : int
        Posterior draws held against the true posterior.
    effective_sample_size : float
        What they are worth: so many draws of the true posterior tell as much.
    pareto_k, tail_error : float
        How much heavier the tails of the true posterior are, and the standard error of that.
    daily : DataFrame
        For each day of the log and stage, what a usual count would find in a like colony: date,
        stage, mean, q05, q25, q50, q75, q95. Parameters are uncertain, growth goes by chance, and
        the keeper overlooks and errs.
    cells : DataFrame
        The cells of the log with what was expected of each, rough ones as rough: the columns of
        `CountLog.frame`, q05 to q95, held_50, held_90 (whether that interval meets the cell).
    """

    fit: Posterior
    weighed: int
    effective_sample_size: float
    pareto_k: float
    tail_error: float
    daily: pd.DataFrame = field(repr=False)
    cells: pd.DataFrame = field(repr=False)

    effective_draws = Former("effective_sample_size")
    tail_index = Former("pareto_k")

    @property
    def strains(self) -> tuple[str, ...]:
        """Why dates of this fit are to be taken with care; none if nothing speaks against them."""
        return _strains(self.fit, self.effective_sample_size, self.weighed)

    @property
    def verdict(self) -> str:
        """Whether the fit can follow its notes, in a sentence."""
        if self.strains:
            return f"take dates with care: {'; '.join(self.strains)}"
        return "the fit follows its notes"

    @property
    def at_bounds(self) -> dict[str, str]:
        """Parameters that the notes push to a bound, or far from the profile, and where to."""
        table = self.fit.summary_frame()
        told = table[~table["note"].isin(["", "prior-driven"])]
        return dict(zip(told["parameter"], told["note"], strict=True))

    @property
    def heavy_tails(self) -> bool:
        """Whether single parameters may lie outside their intervals more often than told."""
        return self.pareto_k > HEAVY_TAILS

    def summary_frame(self) -> pd.DataFrame:
        """Tell how many cells of the log are expected by the fit.

        Returns
        -------
        DataFrame
            A row for each stage noted: stage, cells, held_50, held_90 (numbers of cells). Whole
            numbers in closed intervals are held more often than the level says.
        """
        parts = self.cells.groupby("stage")
        table = parts[["held_50", "held_90"]].sum()
        table.insert(0, "cells", parts.size())
        noted = [stage for stage in COLUMNS if stage in table.index]
        return table.loc[noted].reset_index()

    def plot_parameters(self, ax: Axes | None = None) -> Axes:
        """Draw each parameter before and after the notes; `Fit.summary_frame` has the numbers."""
        return picture("evaluation", "plot_parameters", self, ax=ax)

    def plot_predictive(
        self, stages: Sequence[str] | None = None, ax: Axes | Sequence[Axes] | None = None
    ) -> NDArray[np.object_]:
        """Draw the notes of each stage on what a like colony would have shown; see `daily`."""
        return picture("evaluation", "plot_predictive", self, stages=stages, ax=ax)

    def __repr__(self) -> str:
        held = int(self.cells["held_90"].sum())
        return (
            f"Diagnostics({self.fit.counts.name!r}, {self.verdict}; {held} of "
            f"{counted(len(self.cells), 'cell')} in 90%, tail index {self.pareto_k:.2f})"
        )

    def _report(self) -> Report:
        best = self.fit.estimate
        settled = "in" if best.converged else "NOT SETTLED after"
        dispersion = f"{best.dispersion**0.5:.1f} times as far off as expected"
        if best.dispersion >= OVERDISPERSED:
            dispersion += ": intervals widened by as much"
        bounds = [f"{name}: {note}" for name, note in self.at_bounds.items()]
        table = self.summary_frame().to_dict("records")
        return Report(
            title=f"Diagnostics: {self.fit.counts.name} ({self.fit.species.scientific_name})",
            facts=(
                ("verdict", self.verdict),
                ("search", f"{settled} {counted(best.rounds, 'round')}"),
                ("bounds", listed(bounds, "; ") or NO_BOUND),
                ("draws", f"{self.weighed} weighed, worth {self.effective_sample_size:.0f}"),
                ("tails", self._tails()),
                ("counts", dispersion),
            ),
            head=("stage", "cells", "in 50%", "in 90%"),
            align="lrrr",
            rows=tuple(
                (row["stage"], *(str(row[name]) for name in ("cells", "held_50", "held_90")))
                for row in table
            ),
            closing=(
                (
                    "mind",
                    "these notes have shaped the fit: this finds a model that cannot follow them, "
                    "and never shows that dates hold; a backtest can (ag.backtest)",
                ),
            ),
        )

    def _tails(self) -> str:
        if np.isnan(self.pareto_k):
            return "too few draws to tell"
        finding = TAILS_MEAN if self.heavy_tails else "the normal posterior serves"
        return (
            f"index {self.pareto_k:.2f}, give or take {self.tail_error:.2f} "
            f"(fine up to {HEAVY_TAILS}): {finding}"
        )


def strains(fit: Posterior) -> tuple[str, ...]:
    """Why dates of a fit are to be taken with care; see `Diagnostics.strains`."""
    weights = log_weights(fit.model, fit.estimate, fit.draws[:WEIGHED])
    return _strains(fit, effective_sample_size(weights), len(weights))


def _strains(fit: Posterior, worth: float, weighed: int) -> tuple[str, ...]:
    best, table = fit.estimate, fit.summary_frame()
    far = table.loc[table["note"] == FAR, "parameter"]
    found = []
    if not fit.converged:
        found.append("the fit did not settle")
    if len(far):
        found.append(f"{listed(far)} lies far from what the profile of the species lets expect")
    if worth < FEWEST_WORTH:
        found.append(f"of {weighed} draws only {worth:.0f} fit the notes: the interval is rough")
    if best.dispersion > CONTRADICTORY:
        off = best.dispersion**0.5
        found.append(f"the notes stray {off:.1f} times as far from any growth as usual")
    return tuple(found)


def diagnose(fit: Posterior) -> Diagnostics:
    """Check a fit; see `Fit.diagnostics`."""
    weights = log_weights(fit.model, fit.estimate, fit.draws[:WEIGHED])
    index = pareto_k_of(weights)
    daily, cells = posterior_predictive(fit, COLONIES, fit.seed)
    return Diagnostics(
        fit=fit,
        weighed=len(weights),
        effective_sample_size=effective_sample_size(weights),
        pareto_k=index,
        tail_error=tail_error(index, len(weights)),
        daily=daily,
        cells=cells,
    )
