"""How fitted rate curves print."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from antgrowth._core.summary import Report, Row, rounded
from antgrowth._core.text import counted

if TYPE_CHECKING:
    from antgrowth.species.rate_fit import RateCurveFit

__all__ = ["curve_report"]

_EXACT = 1e-6  # of a value: an interval narrower than this is rounding


def curve_report(fit: RateCurveFit) -> Report:
    """Report of fitted rate curves: the table, the chosen curve, and how the others compare."""
    table = fit.table
    lowest, highest = fit.table.range_c
    weighted = ", weighted by sd" if table.frame["sd_per_day"].notna().all() else ""
    unused = f"; columns not used: {', '.join(table.unused)}" if table.unused else ""
    facts = [
        ("data", f"{counted(len(table.frame), 'row')}, {lowest:g} to {highest:g} °C{weighted}"
         f"{unused}"),
        ("curve", f"{fit.chosen}, {_verdict(fit)}"),
    ]  # fmt: skip
    return Report(
        title=f"Rate curve: {table.name}",
        facts=tuple(facts),
        head=("parameter", "unit", "value", "90% interval", "note"),
        align="llrrl",
        rows=tuple(_row(row) for row in fit.summary_frame().to_dict("records")),
        closing=tuple(_closing(fit)),
    )


def _verdict(fit: RateCurveFit) -> str:
    if fit.chosen != fit.best:
        return f"chosen; the table supports {fit.best} more"
    compared = sum(np.isfinite(fitted.aicc) for fitted in fit.fitted.values())
    if not compared:
        return "the simplest: too few rows to compare curves"
    return "best supported" if compared > 1 else "the only one that so few rows can support"


def _closing(fit: RateCurveFit) -> list[tuple[str, str]]:
    closing = []
    for row in fit.comparison().to_dict("records"):
        if row["curve"] != fit.chosen:
            behind = row["aicc"] - fit.fitted[fit.chosen].aicc
            aicc = f"AICc {behind:+.1f}" if np.isfinite(behind) else "AICc needs more rows"
            scatter = f"scatter {row['scatter_per_day']:.2g} 1/day"
            closing.append((row["curve"], f"{aicc}, {scatter}"))
    closing += [(name, f"not fitted: {why}") for name, why in fit.left_out.items()]
    t, rate = fit.table.temperature_c, fit.table.rate_per_day
    if fit.chosen == "degree-day" and rate[t == t.max()].mean() < rate.max():
        closing.append(("care", "rates fall at the warm end, which a straight line cannot follow"))
    return closing


def _row(row: Row) -> tuple[str, ...]:
    value, low, high = row["value"], row["q05"], row["q95"]
    if high - low > _EXACT * abs(value):
        text, *ends = rounded(value, low, high)
        interval = " to ".join(ends)
    else:  # held at a bound, without scatter, or unknown
        text, interval = f"{value:.6g}", "-"
    return row["parameter"], row["unit"], text, interval, row["note"]
