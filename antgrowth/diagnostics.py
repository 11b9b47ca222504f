"""How far a fit can be trusted: does its posterior hold, and does it expect its own notes?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import linalg

from antgrowth._judging.replicas import COLUMNS, replicated
from antgrowth._showing.render import HEAVY_TAILS, STRAINED, TAILS_MEAN, Report, Shown
from antgrowth._showing.words import counted, listed
from antgrowth.inference import Estimate, Model, believed

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from antgrowth.fit import Fit

__all__ = [
    "Diagnostics",
    "diagnose",
    "effective_draws",
    "log_weights",
    "tail_error",
    "tail_index",
    "tail_index_of",
]

Floats = NDArray[np.float64]

FEWEST = 20
"""A tail of fewer weights tells nothing."""

WEIGHED = 400
"""Draws whose weights are worked out."""

COLONIES = 400
"""Like colonies that are counted."""

NO_BOUND = "no parameter at a bound or far from the profile"


@dataclass(frozen=True, eq=False, repr=False)
class Diagnostics(Shown):
    """How far a fit can be trusted; made by `Fit.diagnostics`.

    Attributes
    ----------
    fit : Fit
    weighed : int
        Posterior draws held against the true posterior.
    effective_draws : float
        What they are worth: so many draws of the true posterior tell as much.
    tail_index, tail_error : float
        How much heavier the tails of the true posterior are, and the standard error of that.
    daily : DataFrame
        For each day of the log and stage, what a usual count would find in a like colony: date,
        stage, mean, q05, q25, q50, q75, q95. Parameters are uncertain, growth goes by chance, and
        the keeper overlooks and errs.
    cells : DataFrame
        The cells of the log with what was expected of each, rough ones as rough: the columns of
        `CountLog.frame`, q05 to q95, held_50, held_90 (whether that interval meets the cell).
    """

    fit: Fit
    weighed: int
    effective_draws: float
    tail_index: float
    tail_error: float
    daily: pd.DataFrame = field(repr=False)
    cells: pd.DataFrame = field(repr=False)

    @property
    def at_bounds(self) -> dict[str, str]:
        """Parameters that the notes push to a bound, or far from the profile, and where to."""
        table = self.fit.summary_frame()
        told = table[~table["note"].isin(["", "prior-driven"])]
        return dict(zip(told["parameter"], told["note"], strict=True))

    @property
    def heavy_tails(self) -> bool:
        """Whether single parameters may lie outside their intervals more often than told."""
        return self.tail_index > HEAVY_TAILS

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
        from antgrowth._pictures.diagnostics import plot_parameters

        return plot_parameters(self, ax=ax)

    def plot_predictive(
        self, stages: Sequence[str] | None = None, ax: Axes | Sequence[Axes] | None = None
    ) -> NDArray[np.object_]:
        """Draw the notes of each stage on what a like colony would have shown; see `daily`."""
        from antgrowth._pictures.diagnostics import plot_predictive

        return plot_predictive(self, stages=stages, ax=ax)

    def summary(self) -> str:
        """Report in plain text: posterior, bounds, and notes held by stage."""
        return self._report().as_text()

    def __repr__(self) -> str:
        return (
            f"Diagnostics({self.fit.counts.name!r}, {int(self.cells['held_90'].sum())} of "
            f"{counted(len(self.cells), 'cell')} in 90%, tail index {self.tail_index:.2f})"
        )

    def _report(self) -> Report:
        best = self.fit.estimate
        settled = "in" if best.converged else "NOT SETTLED after"
        strain = f"{best.strain**0.5:.1f} times as far off as expected"
        if best.strain >= STRAINED:
            strain += ": intervals widened by as much"
        bounds = [f"{name}: {note}" for name, note in self.at_bounds.items()]
        table = self.summary_frame().to_dict("records")
        return Report(
            title=f"Diagnostics: {self.fit.counts.name} ({self.fit.species.scientific_name})",
            facts=(
                ("search", f"{settled} {counted(best.rounds, 'round')}"),
                ("bounds", listed(bounds, "; ") or NO_BOUND),
                ("draws", f"{self.weighed} weighed, worth {self.effective_draws:.0f}"),
                ("tails", self._tails()),
                ("counts", strain),
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
        if np.isnan(self.tail_index):
            return "too few draws to tell"
        finding = TAILS_MEAN if self.heavy_tails else "the normal posterior serves"
        return (
            f"index {self.tail_index:.2f}, give or take {self.tail_error:.2f} "
            f"(fine up to {HEAVY_TAILS}): {finding}"
        )


def diagnose(fit: Fit) -> Diagnostics:
    """Check a fit; see `Fit.diagnostics`."""
    weights = log_weights(fit.model, fit.estimate, fit.draws[:WEIGHED])
    index = tail_index_of(weights)
    daily, cells = replicated(fit, COLONIES, fit.seed)
    return Diagnostics(
        fit=fit,
        weighed=len(weights),
        effective_draws=effective_draws(weights),
        tail_index=index,
        tail_error=tail_error(index, len(weights)),
        daily=daily,
        cells=cells,
    )


def tail_index(model: Model, best: Estimate, x: Floats) -> float:
    """How much heavier the true posterior's tails are than the normal one's.

    Parameters
    ----------
    model : Model
    best : Estimate
    x : array, shape (draws, parameters)
        Posterior draws in whitened coordinates.

    Returns
    -------
    float
        Below 0.5 the normal posterior serves well; above 0.7 single parameters may lie outside
        their intervals more often than told. A diagnostic alone: draws are not re-weighted, which
        made forecasts worse in trials.

    Notes
    -----
    Of the `log_weights`. Of a few hundred draws it is known to about 0.2, see `tail_error`.
    """
    return tail_index_of(log_weights(model, best, x))


def log_weights(model: Model, best: Estimate, x: Floats) -> Floats:
    """True over normal posterior density of draws, as logarithms, up to a constant.

    Parameters
    ----------
    model : Model
    best : Estimate
    x : array, shape (draws, parameters)
        Draws of the normal posterior in whitened coordinates.

    Returns
    -------
    array, shape (draws,)

    Notes
    -----
    The true density is that with the counts' covariance as at the most probable point: what is
    weighed is how far the expected counts bend, which a normal posterior takes to be straight.
    """
    used = best.sites.used
    total = best.scatter[np.ix_(used, used)] + np.diag(best.sites.extra_variance)
    factor = linalg.cholesky(total, lower=True)
    rest = (best.sites.value - model.expect(x))[:, used]
    white = linalg.solve_triangular(factor, rest.T, lower=True)
    root = linalg.cholesky(best.cov, lower=True)
    apart = x - best.x
    away = linalg.solve_triangular(root, apart.T, lower=True)
    # At the best point notes pull as hard as the profile. A fit widens its posterior on purpose, a
    # strained one the more: that is no fault of the tails.
    misfit = 0.5 * (white**2).sum(axis=0) + apart @ best.x
    told = believed(best.strain) * misfit
    return np.asarray(0.5 * (away**2).sum(axis=0) - told - 0.5 * (apart**2).sum(axis=1))


def effective_draws(log_weights: Floats) -> float:
    """How many draws of equal weight tell as much as these.

    Parameters
    ----------
    log_weights : array, shape (draws,)

    Examples
    --------
    >>> import numpy as np
    >>> effective_draws(np.zeros(100)), effective_draws(np.log([1.0, 1.0, 1e-9]))
    (100.0, 2.0)

    References
    ----------
    Kish L (1965) Survey sampling. Wiley (from memory).
    """
    weights = np.exp(log_weights - log_weights.max())
    return round(float(weights.sum() ** 2 / (weights**2).sum()), 6)


def tail_error(index: float, draws: int) -> float:
    """Standard error of a tail index from so many draws.

    Parameters
    ----------
    index : float
    draws : int

    Notes
    -----
    ``(1 + index) / sqrt(tail)``: that of the most probable shape of a Pareto law.

    References
    ----------
    Smith RL (1985) Maximum likelihood estimation in a class of nonregular cases. Biometrika
    72:67-90, doi:10.1093/biomet/72.1.67 (from memory).
    """
    return float((1.0 + index) / np.sqrt(_tail_of(draws)))


def tail_index_of(log_weights: Floats) -> float:
    """Shape of the generalised Pareto law of the largest weights.

    Parameters
    ----------
    log_weights : array, shape (draws,)

    Returns
    -------
    float
        NaN with fewer than a hundred draws.

    References
    ----------
    Zhang J, Stephens MA (2009) A new and efficient estimation method for the generalized Pareto
    distribution. Technometrics 51:316-325, doi:10.1198/tech.2009.08017. Vehtari A, Simpson D,
    Gelman A, Yao Y, Gabry J (2024) Pareto smoothed importance sampling. JMLR 25(72) (both from
    memory).

    Examples
    --------
    >>> import numpy as np
    >>> heavy = -0.7 * np.log(1 - (np.arange(2000) + 0.5) / 2000)  # a Pareto law of shape 0.7
    >>> round(tail_index_of(heavy), 1)
    0.7
    """
    number = len(log_weights)
    tail = _tail_of(number)
    if tail < FEWEST:
        return float("nan")
    weights = np.sort(np.exp(log_weights - log_weights.max()))
    beyond = weights[-tail:] - weights[-tail - 1]
    if beyond[-1] <= 0:
        return 0.0
    tried = 30 + int(np.sqrt(tail))
    quartile = beyond[int(tail / 4 + 0.5) - 1]
    theta = 1 / beyond[-1] + (1 - np.sqrt(tried / (np.arange(tried) + 0.5))) / (3 * quartile)
    shape = np.log1p(-theta[:, None] * beyond).mean(axis=1)
    score = tail * (np.log(-theta / shape) - shape - 1)
    share = 1 / np.exp(score - score[:, None]).sum(axis=1)
    best = float(share @ theta / share.sum())
    return float(np.log1p(-best * beyond).mean())


def _tail_of(draws: int) -> int:
    """How many of the largest weights make the tail."""
    return int(min(draws / 5, 3 * np.sqrt(draws)))
