"""How a comparison of regimes, and the best of them, print."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.summary import Report, share_words
from antgrowth.regimes.limits import level_of
from antgrowth.species.thermal_limits import HEAT_CAUTION, OUTDOORS_CAUTION

if TYPE_CHECKING:
    from antgrowth.regimes.comparison import RegimeComparison
    from antgrowth.regimes.search import BestRegime

__all__ = ["best_report", "comparison_report", "gain_words", "whole_days"]

Floats = NDArray[np.float64]


def gain_words(gains: Floats, reference: str) -> str:
    """How much sooner or later a regime is than the reference, with its interval.

    Examples
    --------
    >>> gain_words(np.arange(1.0, 101.0), "now")
    "is 50 days sooner than 'now' (5 to 95 days, 90% interval)"
    """
    low, middle, high = (level_of(gains, level) for level in (0.05, 0.5, 0.95))
    if np.isnan(middle):
        return f"is neither sooner nor later than {reference!r} within the horizon"
    if middle < 0:
        low, middle, high = -high, -middle, -low
        side = "later"
    else:
        side = "sooner"
    if np.isinf(middle):
        return f"arrives where {reference!r} does not" if side == "sooner" else "does not arrive"
    return f"is {whole_days(middle)} {side} than {reference!r} ({_span(low, high)}, 90% interval)"


def whole_days(number: float) -> str:
    """Write days, whole.

    Examples
    --------
    >>> whole_days(1.2), whole_days(12.4)
    ('1 day', '12 days')
    """
    rounded = round(number)
    return f"{rounded} day" if abs(rounded) == 1 else f"{rounded} days"


def _span(low: float, high: float) -> str:
    if np.isfinite([low, high]).all():
        return f"{low:.0f} to {high:.0f} days"
    first = f"{low:.0f} days" if np.isfinite(low) else "no arrival within the horizon"
    return f"{first} to " + (f"{high:.0f} days" if np.isfinite(high) else "beyond the horizon")


def _bound(number: float) -> str:
    if np.isfinite(number):
        return f"{number:.0f}"
    return "beyond" if number > 0 else "never"


def comparison_report(found: RegimeComparison) -> Report:
    """Report of a comparison: a row a regime, then what speaks against some of them."""
    frame = found.frame()
    start, ant = found.fit.counts.end, found.fit.species
    held = next(iter(found.judged.values()))
    return Report(
        title=f"Regimes: {found.workers} workers, {found.fit.counts.name} ({ant.scientific_name})",
        facts=(
            ("finding", found.sentence()),
            ("span", f"{found.days} days from the last note, {start:%Y-%m-%d}; reference: "
             f"{found.reference}"),
            ("limits", f"{found.phase}: {held.ceiling} {held.ceiling_c:g} °C"),
            ("holds", found.condition),
        ),
        head=(
            "regime", "most likely", "90% interval", "days gained", "90% interval", "first",
            "before rest", "h too warm", "brood lost", "sugar", "protein", "",
        ),
        align="lllrrrrrrrrl",
        rows=tuple(_row(row, found.reference) for row in frame.to_dict("records")),
        closing=tuple(_closing(found)),
    )  # fmt: skip


def _row(row: dict, reference: str) -> tuple[str, ...]:
    known = not np.isnan(row["gained_q50"]) and row["regime"] != reference
    gain = (f"{_bound(row['gained_q05'])} to {_bound(row['gained_q95'])}") if known else ""
    before = row["chance_before_rest"]
    verdict = "recommended" if row["recommended"] else "NOT RECOMMENDED" if row["warning"] else ""
    lost, protein = row["brood_lost_to_heat"], row["protein_mg"]
    return (
        row["regime"],
        _date(row["arrival_q50"]),
        f"{_date(row['arrival_q05'])} to {_date(row['arrival_q95'])}",
        _signed(row["gained_q50"]) if known else "",
        gain,
        share_words(row["chance_first"]),
        "" if np.isnan(before) else share_words(before),
        "" if np.isnan(row["hours_above_ceiling"]) else f"{row['hours_above_ceiling']:,.0f}",
        "0" if lost == 0 else f"{lost:,.1f}",
        *("" if np.isnan(mg) else f"{mg / 1000:,.2g} g" for mg in (row["sugar_mg"], protein)),
        verdict,
    )


def _signed(number: float) -> str:
    return f"{number:+.0f}" if np.isfinite(number) else "arrives" if number > 0 else "never"


def _date(date: pd.Timestamp) -> str:
    return "later" if date is pd.NaT else f"{date:%Y-%m-%d}"


def _closing(found: RegimeComparison) -> Iterator[tuple[str, str]]:
    for name, why in found.warnings.items():
        yield "warning", f"{name}: {why}"
    if any(held.unrested for held in found.judged.values()):
        yield (
            "rest",
            (
                "an ant that needs a winter and is kept awake stops rearing of its own accord or "
                "declines, which no date here knows"
            ),
        )
    yield "food", "median until there are as many workers, or to the horizon"
    yield (
        "law" if found.phase == "outdoors" else "care",
        (OUTDOORS_CAUTION if found.phase == "outdoors" else HEAT_CAUTION),
    )


def best_report(found: BestRegime) -> Report:
    """Report of a search: the best, how flat it is, and the finalists side by side."""
    below = comparison_report(found.comparison)
    low, high = found.range_c
    rests = ", each with its rest" if found.rests else ""
    if found.unrested:
        rests = ", without the rest that is due and more than half over"
    return Report(
        title=f"Best regime: {found.comparison.workers} workers, {found.fit.counts.name} "
        f"({found.fit.species.scientific_name})",
        facts=(
            ("finding", found.sentence()),
            ("flatness", found.flatness()),
            ("practice", found.practice()),
            ("searched", f"{len(found.candidates)} plans between {low:g} and {high:g} °C"
             f"{rests}; only those are recommended that "
             f"stay at least 2 °C below the ceiling, {found.ceiling_c:g} °C"),
            ("holds", found.comparison.condition),
        ),
        head=below.head,
        align=below.align,
        rows=below.rows,
        closing=below.closing,
    )  # fmt: skip
