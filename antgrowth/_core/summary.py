"""How results print: one report, shown as plain text or as HTML.

A report is a title, facts, one table and closing facts. Both forms are made from it, so a notebook
and a terminal never disagree. HTML brings no colours and no script: it looks as its page does.
"""

from __future__ import annotations

import html
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.text import counted

if TYPE_CHECKING:
    from antgrowth.forecast.paths import Arrival, Forecast
    from antgrowth.inference.posterior import Fit

__all__ = [
    "Report",
    "Shown",
    "ants",
    "arrival_report",
    "fit_report",
    "forecast_report",
    "held_in_sample",
    "rounded",
    "share_words",
]

Facts = tuple[tuple[str, str], ...]

GAP = "  "

REACH_90 = 1.645
"""Half the width of a central 90 % interval, in standard deviations."""

HEAVY_TAILS = 0.7
"""A tail index above this is told: the normal posterior does not fit."""

TAILS_MEAN = (
    "single parameters may lie outside their intervals more often than told; dates rest on what "
    "the counts settle together, and suffer less"
)
"""What heavy tails mean to a keeper; `tests/statistical/test_posterior.py` has the measurements."""

STRAINED = 1.25
"""Scatter of the counts, squared and relative to what was expected, that is worth telling."""

ROWS = 8
"""About as many rows as a forecast shows."""


@dataclass(frozen=True)
class Report:
    """What a result says of itself.

    Attributes
    ----------
    title : str
    facts : tuple of (label, text)
        Before the table.
    head : tuple of str
        Names of the columns.
    align : str
        A letter for each column: l is flush left, r flush right.
    rows : tuple of tuple of str
        Cells of the table; without rows there is no table.
    closing : tuple of (label, text)
        After the table.
    warning : str
        What must be read first; empty if nothing.
    """

    title: str
    facts: Facts
    head: tuple[str, ...] = ()
    align: str = ""
    rows: tuple[tuple[str, ...], ...] = ()
    closing: Facts = ()
    warning: str = ""

    def as_text(self) -> str:
        """Plain text, one line a fact or row."""
        wide = max(len(label) for label, _ in (*self.facts, *self.closing))
        lines = [self.warning] if self.warning else []
        lines += [self.title, *(f"{label:<{wide}}{GAP}{text}" for label, text in self.facts)]
        lines += self._table_lines()
        lines += [f"{label:<{wide}}{GAP}{text}" for label, text in self.closing]
        return "\n".join(lines)

    def as_html(self) -> str:
        """HTML of the same report."""
        warning = f"<p><strong>{_escape(self.warning)}</strong></p>" if self.warning else ""
        table = ""
        if self.rows:
            body = "".join(self._html_row("td", row) for row in self.rows)
            head = self._html_row("th", self.head)
            table = f"<table><thead>{head}</thead><tbody>{body}</tbody></table>"
        return (
            f"<div>{warning}<strong>{_escape(self.title)}</strong>"
            f"{_facts_html(self.facts)}{table}{_facts_html(self.closing)}</div>"
        )

    def _table_lines(self) -> Iterator[str]:
        table = [self.head, *self.rows] if self.rows else []
        widths = [max(map(len, column)) for column in zip(*table, strict=True)]
        for row in table:
            cells = (
                cell.rjust(width) if side == "r" else cell.ljust(width)
                for cell, width, side in zip(row, widths, self.align, strict=True)
            )
            yield GAP.join(cells).rstrip()

    def _html_row(self, tag: str, row: tuple[str, ...]) -> str:
        cells = (_html_cell(tag, cell, side) for cell, side in zip(row, self.align, strict=True))
        return f"<tr>{''.join(cells)}</tr>"


class Shown:
    """A result that shows itself by one report: as text where printed, as HTML in a notebook."""

    def _report(self) -> Report:
        raise NotImplementedError

    def __str__(self) -> str:
        return self._report().as_text()

    def _repr_html_(self) -> str:
        return self._report().as_html()


def _facts_html(facts: Facts) -> str:
    rows = "".join(
        f"<tr>{_html_cell('th', label, 'l')}{_html_cell('td', text, 'l')}</tr>"
        for label, text in facts
    )
    return f"<table><tbody>{rows}</tbody></table>" if rows else ""


def _html_cell(tag: str, text: str, side: str) -> str:
    place = "right" if side == "r" else "left"
    return f'<{tag} style="text-align:{place}">{_escape(text)}</{tag}>'


def _escape(text: str) -> str:
    """Escape for HTML; a `$` on its own in a span is not taken for the start of a formula."""
    return html.escape(text).replace("$", "<span>&#36;</span>")


def fit_report(fit: Fit) -> Report:
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
        f"(tail index {fit.tail_index:.2f}), "
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


def _parameter_row(row: dict) -> tuple[str, ...]:
    median, low, high = rounded(row["median"], row["q05"], row["q95"])
    return (
        row["parameter"],
        "-" if row["unit"] == "1" else row["unit"],
        median,
        f"{low} to {high}",
        f"{100 * row['learned']:.0f} %",
        row["note"],
    )


def _check(fit: Fit) -> str:
    held, exact = held_in_sample(fit)
    if not exact:
        return "no exact count to hold against the fit"
    check = f"90% intervals hold {held} of {counted(exact, 'count')} (in sample)"
    strain = fit.estimate.strain
    if strain < STRAINED:
        return check
    return f"{check}; counts lie {strain**0.5:.1f} times as far off as expected: intervals widened"


def _tails(fit: Fit) -> tuple[tuple[str, str], ...]:
    if not fit.tail_index > HEAVY_TAILS:
        return ()
    return (("tails", f"{TAILS_MEAN} (see .diagnostics())"),)


def held_in_sample(fit: Fit) -> tuple[int, int]:
    """How many exact counts lie in their own 90 % interval, and how many there are.

    The interval is that of a new count in a like colony on the same day: parameters are uncertain,
    growth goes by chance, and the keeper errs. The counts have shaped the fit, so this shows a
    model that cannot follow its own data, but never that forecasts hold.
    """
    best, model = fit.estimate, fit.model
    draws = fit.draws[: len(fit.growth.counts)]
    uncertain = model.expect(draws, fit.growth).var(axis=0)
    reach = REACH_90 * np.sqrt(np.diag(best.scatter) + uncertain)
    exact = model.observations.exact
    held = exact & (np.abs(model.observations.low - best.mean) <= reach)
    return int(held.sum()), int(exact.sum())


def forecast_report(forecast: Forecast, condition: str) -> Report:
    """Report of a forecast: workers and brood on a few dates, and when there are 30 workers."""
    frame = forecast.frame()
    days = _few_days(forecast.days)
    columns = [[f"{date:%Y-%m-%d}" for date in forecast.dates[days]]]
    for stage in ("workers", "brood"):
        some = frame[frame["stage"] == stage].iloc[days]
        low, median, high = (some[level].map(ants) for level in ("q05", "q50", "q95"))
        columns += [median.to_list(), (low + " to " + high).to_list()]
    fit = forecast.fit
    return Report(
        title=f"Forecast: {fit.counts.name} ({fit.species.scientific_name})",
        facts=(
            ("span", f"{forecast.days} days from the last note, {forecast.start:%Y-%m-%d}"),
            ("warmth", forecast.assumed),
            ("holds", condition),
            ("model", f"{forecast.draws:,} simulated colonies, seed {forecast.seed}"),
        ),
        head=("evening of", "workers", "90% interval", "brood", "90% interval"),
        align="lrrrr",
        rows=tuple(zip(*columns, strict=True)),
        closing=(("finding", forecast.arrival(30).sentence()),),
    )


def arrival_report(arrival: Arrival) -> Report:
    """Report of an arrival: central intervals of its date, and the chance that it never comes."""
    far = arrival.start + pd.Timedelta(days=arrival.horizon)

    def written(date: pd.Timestamp) -> str:
        return f"after {far:%Y-%m-%d}" if date is pd.NaT else f"{date:%Y-%m-%d}"

    rows = []
    for level in (0.5, 0.8, 0.9, 0.95):
        first, last = arrival.interval(level)
        if first is not pd.NaT and not arrival.reached:
            rows.append((f"{level:.0%}", written(first), written(last)))
    horizon = f"{far:%Y-%m-%d}, {arrival.horizon} days from the last note"
    if not arrival.reached:
        horizon += f"; {share_words(arrival.chance_never)} chance of fewer workers until then"
    return Report(
        title=f"Arrival: {counted(arrival.workers, 'worker')}",
        facts=(("finding", arrival.sentence()),),
        head=("chance", "from", "to"),
        align="rll",
        rows=tuple(rows),
        closing=(("horizon", horizon), *_with_queen(arrival, far)),
    )


def _with_queen(arrival: Arrival, far: pd.Timestamp) -> Facts:
    """Chances with the assumed survival of the queen, beside those if she lives."""
    if arrival.queen_survival is None or arrival.reached:
        return ()
    assumed = f"{arrival.queen_assumed()} (assumed)"
    dates = dict.fromkeys([arrival.median, arrival.interval()[1], far])
    chances = [
        f"{share_words(arrival.chance_with_queen_by(date))} by {date:%Y-%m-%d} "
        f"({share_words(arrival.chance_by(date))} if she lives)"
        for date in dates
        if date is not pd.NaT
    ]
    return (("queen", assumed), ("with her", ", ".join(chances)))


def _few_days(days: int) -> list[int]:
    """Days to show of a forecast: the first, some at an even distance, the last."""
    steps = (1, 2, 7, 14, 28, 56, 91, 182, 364)
    step = next((step for step in steps if days <= ROWS * step), steps[-1])
    return [*range(0, days - step // 2, step), days]


def rounded(median: float, low: float, high: float) -> tuple[str, str, str]:
    """Write a value and its interval with the digits that mean something.

    Two digits of the interval's width; of the value where all is above zero and it is smaller.

    Examples
    --------
    >>> rounded(6.891, 4.620, 10.278), rounded(299.98, 143.1, 628.9)
    (('6.9', '4.6', '10.3'), ('300', '140', '630'))
    """
    size = min(high - low, median) if low > 0 else high - low
    decimals = 1 - int(np.floor(np.log10(size))) if size > 1e-9 else 2
    # adding 0.0 turns -0.0 into 0.0
    low, median, high = (round(value, decimals) + 0.0 for value in (low, median, high))
    shown = f",.{max(decimals, 0)}f"
    return f"{median:{shown}}", f"{low:{shown}}", f"{high:{shown}}"


def ants(number: float) -> str:
    """Write a number of ants: whole, and of hundreds and more two digits."""
    return f"{float(f'{number:.2g}') if number >= 100 else number:,.0f}"


def share_words(share: float) -> str:
    """Write a chance in whole percent, and never 0 or 100 % where it is only close.

    Examples
    --------
    >>> share_words(0.123), share_words(0.001), share_words(0.0)
    ('12 %', 'under 1 %', 'under 1 %')
    """
    if share < 0.005:
        return "under 1 %"  # none of some hundred draws is not never
    return "over 99 %" if share > 0.995 else f"{100 * share:.0f} %"
