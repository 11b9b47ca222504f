"""How a fit prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from antgrowth._core.stats import REACH_90
from antgrowth._core.summary import Report, Row, rounded
from antgrowth._core.text import counted
from antgrowth.inference.adequacy import HEAVY_TAILS, OVERDISPERSED, TAILS_MEAN, held_in_sample

if TYPE_CHECKING:
    from antgrowth.inference.posterior import Posterior


def fit_report(fit: Posterior) -> Report:
    """Report of a fit: what it rests on, what was learned, and whether it holds its own counts."""
    log, best = fit.counts, fit.estimate
    data = (
        f"{counted(len(log.frame), 'count')} on {counted(len(log), 'date')}, "
        f"{log.start:%Y-%m-%d} to {log.end:%Y-%m-%d}"
    )
    if len(log.skipped):
        data += f"; {counted(len(log.skipped), 'row')} skipped (see .counts.skipped)"
    reach = np.exp(REACH_90 * best.error_spread)
    error, low, high = rounded(best.error_scale, best.error_scale / reach, best.error_scale * reach)
    model = (
        f"{counted(len(fit.model.prior), 'parameter')}, {counted(len(fit.draws), 'draw')} "
        f"(tail index {fit.pareto_k:.2f}), "
        f"seed {fit.seed}; counting error {error} times the usual ({low} to {high})"
    )
    warning = (
        f"NOT CONVERGED: the numbers still moved after {counted(best.rounds, 'round')}, so do not "
        "rely on them. Look for a slip in the notes, or for a profile closer to this ant."
    )
    return Report(
        title=f"Fit: {log.name} ({fit.species.scientific_name})",
        facts=(("data", data), ("model", model)),
        head=("parameter", "unit", "median", "90% interval", "learned", "note"),
        align="llrrrl",
        rows=tuple(_parameter_row(row) for row in fit.summary_frame().to_dict("records")),
        closing=(("check", _check(fit)), *_tails(fit)),
        warning="" if fit.converged else warning,
    )


def _parameter_row(row: Row) -> tuple[str, ...]:
    median, low, high = rounded(row["median"], row["q05"], row["q95"])
    return (
        row["parameter"],
        "-" if row["unit"] == "1" else row["unit"],
        median,
        f"{low} to {high}",
        f"{100 * row['learned']:.0f} %",
        row["note"],
    )


def _check(fit: Posterior) -> str:
    held, exact = held_in_sample(fit)
    if not exact:
        return "no exact count to hold against the fit"
    check = f"90% intervals hold {held} of {counted(exact, 'count')} (in sample)"
    dispersion = fit.estimate.dispersion
    if dispersion < OVERDISPERSED:
        return check
    return (
        f"{check}; counts lie {dispersion**0.5:.1f} times as far off as expected: intervals widened"
    )


def _tails(fit: Posterior) -> tuple[tuple[str, str], ...]:
    if not fit.pareto_k > HEAVY_TAILS:
        return ()
    return (("tails", f"{TAILS_MEAN} (see .diagnostics())"),)
