"""Pictures of regimes: side by side, and the best of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import matplotlib.pyplot as plt
import numpy as np
from matplotlib import dates as mdates
from matplotlib.axes import Axes
from numpy.typing import NDArray

from antgrowth._core import figures as draw
from antgrowth._core.arrays import Floats
from antgrowth._core.figures import BLUE, GREY, ORANGE, RED
from antgrowth.errors import AntgrowthError
from antgrowth.regimes.limits import quantile_of
from antgrowth.species.thermal_limits import SENSOR_MARGIN_C

if TYPE_CHECKING:
    from antgrowth.regimes.best import BestRegime
    from antgrowth.regimes.comparison import RegimeComparison

CURVES = (BLUE, "#009E73", "#CC79A7", "#56B4E9", ORANGE, "#F0E442")
"""Colours of growth curves, of Okabe and Ito's set (from memory); red is not recommended."""

VIEW = 3.0
"""Growth is shown up to so many times the number waited for."""

COLD_END = 1.9
"""Waits are shown up to so many times the shortest one."""

LONG_NAME = 26
"""Names of regimes are broken into lines of so many letters."""

BESIDE_C = 0.12
"""A bar stands so far beside the point it belongs to. [°C]"""


def plot_comparison(
    found: RegimeComparison, axes: Sequence[Axes] | NDArray[np.object_] | None = None
) -> NDArray[np.object_]:
    """Draw arrivals and days gained on two Axes, a row a regime; see `RegimeComparison.frame`."""
    names = list(found.forecasts)
    panels, reach = _two(axes, len(names)), _reach(found)
    start = float(mdates.date2num(found.fit.counts.end))
    for row, name in enumerate(names):
        color = RED if found.judged[name].excluded else BLUE
        _draw_span(panels[0], row, found.passage_days[name], color, start, found.days)
        if name != found.reference:
            _draw_span(panels[1], row, found.gains(name), color, 0.0, reach)
    panels[1].axvline(0, color=GREY, linewidth=1)
    for panel in panels:
        panel.set_ylim(len(names) - 0.5, -0.5)
        panel.set_yticks(range(len(names)), [_label(found, name) for name in names])
        panel.spines[["top", "right"]].set_visible(False)
        panel.grid(axis="x", alpha=0.25)
        panel.set_axisbelow(True)
    for text in panels[0].get_yticklabels():
        text.set_parse_math(False)
    locator = mdates.AutoDateLocator(minticks=3, maxticks=6)
    panels[0].xaxis.set_major_locator(locator)
    year = ["", "%Y", "%Y", "%Y", "%Y", "%Y"]
    panels[0].xaxis.set_major_formatter(mdates.ConciseDateFormatter(locator, offset_formats=year))
    panels[0].set_xlabel(f"date of {found.workers} workers")
    panels[1].set_xlabel(f"days sooner than {found.reference!r}", parse_math=False)
    subtitle = (
        f"{found.fit.counts.name}: line 90 % of colonies, bar 50 %, point median; orange: not "
        f"recommended; {found.condition}"
    )
    title = found.sentence().partition("; ")[0]
    if axes is None:
        draw.head_figure(panels[0].figure, title, subtitle)
    else:
        draw.head(panels[0], title, subtitle)
    return panels


def plot_growth_curves(found: RegimeComparison, ax: Axes | None = None) -> Axes:
    """Draw the growth of each regime over one another, with its range.

    Notes
    -----
    Lines are medians, bands hold half of the colonies; what is not recommended is dotted and red.
    The numbers are in `Forecast.frame` of `RegimeComparison.forecasts`.
    """
    ax = draw.own_axes(ax)
    colors = iter(CURVES * len(found.forecasts))
    top, highest = VIEW * found.workers, 0.0
    for name, ahead in found.forecasts.items():
        excluded = found.judged[name].excluded
        color = RED if excluded else next(colors)
        table = ahead.frame()
        table = table[table["stage"] == "workers"]
        mark = {found.recommended: " (recommended)"}.get(name, " (not recommended)" * excluded)
        draw.band(ax, table, "q25", "q75", color, alpha=0.15)
        ax.plot(
            table["date"], table["q50"], color=color, linestyle=":" if excluded else "-",
            linewidth=2.2 if name == found.recommended else 1.5, label=f"{name}{mark}",
        )  # fmt: skip
        highest = max(highest, table["q75"].max())
    ax.axhline(found.workers, color=GREY, linewidth=1.2, linestyle="--")
    draw.style_axes(ax, max(min(top, 1.1 * highest), 1.2 * found.workers))
    first = found.forecasts[found.reference]
    ax.set_xlim(*mdates.date2num([first.dates[0], first.dates[-1]]))
    ax.set_ylabel("workers")
    draw.legend(ax)
    title = found.sentence().partition("; ")[0]
    draw.head(
        ax, title, f"{found.fit.counts.name}: medians, bands of half of the colonies; dashed: "
        f"{found.workers} workers; {found.condition}",
    )  # fmt: skip
    return ax


def _two(axes: Sequence[Axes] | NDArray[np.object_] | None, rows: int) -> NDArray[np.object_]:
    if axes is None:
        size = (9, 1.9 + 0.5 * rows)
        return draw.new_axes(1, 2, size, sharey=True, width_ratios=(1.2, 1))
    given = draw.as_axes(axes)
    if len(given) != 2:
        raise AntgrowthError(f"plot: {len(given)} Axes. Give two, for dates and for days gained.")
    return given


def _reach(found: RegimeComparison) -> float:
    """Most days gained or lost that are drawn: what is too warm must not press the rest."""
    ends = [
        quantile_of(found.gains(name), level)
        for name in found.forecasts
        for level in (0.05, 0.25, 0.5, 0.75, 0.95)
        if not found.judged[name].margin_c < 0
    ]
    finite = np.abs([end for end in ends if np.isfinite(end)])
    return float(max(1.3 * finite.max(initial=0.0), 10.0))


def _label(found: RegimeComparison, name: str) -> str:
    """The name, and what the keeper must know of it at a glance."""
    lines = draw._wrapped(name, LONG_NAME, 1.0)
    if found.judged[name].margin_c < 0:
        return f"{lines}\n(too warm)"
    if found.judged[name].excluded:
        return f"{lines}\n(not recommended)"
    return f"{lines}\n(recommended)" if name == found.recommended else lines


def _draw_span(ax: Axes, row: int, values: Floats, color: str, start: float, reach: float) -> None:
    """Draw a median and two intervals; an end that lies beyond what is shown is an arrow."""
    levels = [quantile_of(values, level) for level in (0.05, 0.25, 0.5, 0.75, 0.95)]
    if np.isnan(levels[2]):
        return
    low, quarter, middle, most, high = (
        float(np.clip(value, -reach, reach)) + start for value in levels
    )
    ax.plot([low, high], [row, row], color=color, linewidth=1.5, solid_capstyle="butt")
    ax.plot([quarter, most], [row, row], color=color, linewidth=6, alpha=0.6,
            solid_capstyle="butt")  # fmt: skip
    if abs(levels[2]) <= reach:
        ax.plot([middle], [row], "o", color=plt.rcParams["text.color"], markersize=5, zorder=3)
    for value, place, mark in ((levels[0], low, "<"), (levels[4], high, ">")):
        if abs(value) > reach:
            ax.plot([place], [row], mark, color=color, markersize=7)


def plot_best(found: BestRegime, ax: Axes | None = None) -> Axes:
    """Draw the wait over the temperature; the numbers are in `BestRegime.candidates`."""
    figure = None
    if ax is None:
        figure, ax = plt.subplots(figsize=(8, 5), layout="constrained")
    draw.check_axes(ax)
    table = found.candidates.sort_values("mean_c")
    steady = table[table["day_c"] == table["night_c"]]
    safe = steady[steady["safe"]]
    ax.plot(steady["mean_c"], steady["wait_days"], color=GREY, linewidth=1.2, zorder=1)
    ax.plot(safe["mean_c"], safe["wait_days"], "o-", color=BLUE, markersize=4, label="steady")
    swings = table[table["day_c"] > table["night_c"]]
    for (drop, some), mark in zip(
        swings.groupby((swings["day_c"] - swings["night_c"]).round(1)), "^s", strict=False
    ):
        ax.plot(
            some["mean_c"], some["wait_days"], mark, color=ORANGE, markersize=4,
            label=f"nights {drop:g} °C cooler", alpha=0.8,
        )  # fmt: skip
    limit = found.ceiling_c - SENSOR_MARGIN_C
    ax.axvspan(limit, found.ceiling_c, color=RED, alpha=0.15, linewidth=0,
               label="within what a sensor may be off")  # fmt: skip
    ax.axvline(found.ceiling_c, color=RED, linestyle="--", label=f"ceiling, {found.phase}")
    best = table[table["regime"] == found.name].iloc[0].to_dict()
    ink = plt.rcParams["text.color"]
    ax.plot(best["mean_c"], best["wait_days"], "*", color=ink, markersize=13, label="best",
            zorder=4)  # fmt: skip
    if found.practice_c is not None:
        ax.axvline(found.practice_c, color=ink, linestyle=":", linewidth=1, label="usual practice")
    ax.set(xlabel="mean temperature [°C]", ylabel=f"days until {found.comparison.workers} workers")
    shown = table[table["wait_days"] < found.comparison.days]
    low = min(float(shown["mean_c"].min()), limit - 2)
    ax.set_xlim(low - 0.5, found.ceiling_c + 0.5)
    _draw_range(ax, found, float(best["mean_c"]))
    _draw_next(ax, found, float(best["wait_days"]))
    # The cold end is far off and of no interest: what is nearly as soon as the best fills the axis.
    soonest = float(best["wait_days"])
    ax.set_ylim(0.6 * soonest, min(1.05 * float(shown["wait_days"].max()), COLD_END * soonest))
    ax.spines[["top", "right"]].set_visible(False)
    ax.grid(axis="y", alpha=0.25)
    draw.legend(ax) if figure is None else draw.legend_below(figure, [ax])
    title = found.sentence().partition("; ")[0]
    told = "; ".join(filter(None, [found.lead(), found.flatness()]))
    draw.head(ax, title, f"{found.fit.counts.name}: {told}")
    return ax


def _draw_next(ax: Axes, found: BestRegime, best_days: float) -> None:
    """How much later than the best the next is, which is known far better than either wait."""
    if found.next_name is None:
        return
    low, high = (best_days + quantile_of(found.ahead_of_next(), level) for level in (0.05, 0.95))
    if np.isfinite([low, high]).all():
        mean_c = found.candidates.set_index("regime")["mean_c"][found.next_name]
        ax.vlines(mean_c + BESIDE_C, low, high, color=BLUE, linewidth=3, zorder=3,
                  label="the next, beside the best (90%)")  # fmt: skip


def _draw_range(ax: Axes, found: BestRegime, mean_c: float) -> None:
    """How uncertain the wait itself is: half of the colonies under the best regime."""
    passage_days = found.comparison.passage_days[found.name]
    low, high = (quantile_of(passage_days, level) for level in (0.25, 0.75))
    if np.isfinite(low):
        top = high if np.isfinite(high) else found.comparison.days
        ax.vlines(mean_c, low, top, color=plt.rcParams["text.color"], alpha=0.5, linewidth=3,
                  label="half of the colonies, at the best")  # fmt: skip
