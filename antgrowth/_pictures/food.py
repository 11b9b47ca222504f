"""The picture of a food plan: sugar above, prey below, by the week."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib import dates as mdates
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from antgrowth._eating.view import threshold
from antgrowth._pictures import drawing as draw
from antgrowth._showing.phrases import arrival_title
from antgrowth.errors import AntgrowthError
from antgrowth.forecast import CONDITION
from antgrowth.plotting import BLUE, GREY, ORANGE

if TYPE_CHECKING:
    from antgrowth.food import FoodPlan

__all__ = ["plot_food"]

WEEK = pd.Timedelta(days=7)

HEIGHT = 0.8
"""Where in the panel of the prey its start is marked."""


def plot_food(plan: FoodPlan, ax: Sequence[Axes] | None = None) -> NDArray[np.object_]:
    """Draw the sugar water and the prey of each week; what is drawn is in `FoodPlan.frame`.

    Parameters
    ----------
    plan : FoodPlan
    ax : two Axes, optional
        A figure of its own if not given.

    Returns
    -------
    array of Axes, shape (2,)

    Raises
    ------
    AntgrowthError
        If there are not two Axes.
    """
    axes = _axes(ax)
    kind = plan.prey[0]
    unit = "piece" if kind.has_piece else "mg"
    frame = plan.frame()
    full = frame[frame["days"] > 0]
    items = (
        (f"{plan.percent:g} % sugar water", "µL", BLUE, "µL"),
        (kind.kind, unit, ORANGE, "pieces" if unit == "piece" else unit),
    )
    for panel, (item, measure, color, words) in zip(axes, items, strict=True):
        weeks = full[(full["item"] == item) & (full["unit"] == measure)]
        _draw_weeks(panel, weeks, color)
        draw.dress(panel, max(1.1 * weeks["q95"].max(), 1e-9) if len(weeks) else 1.0)
        panel.yaxis.set_major_locator(MaxNLocator(nbins=5, steps=[1, 2, 2.5, 5, 10]))
        panel.set_ylabel(f"{item}\n[{words} a week]")
        _draw_quiet(panel, plan)
        panel.set_xlim(plan.dates[0], plan.dates[-1] + pd.Timedelta("1D"))
    _draw_start(axes[1], plan)
    title, subtitle = _title(plan)
    if ax is None:
        draw.head_figure(axes[0].figure, title, subtitle)
        draw.legend_below(axes[0].figure, axes)
    else:
        draw.head(axes[0], title, subtitle)
        draw.legend(axes[0], axes)
    return axes


def _axes(ax: Sequence[Axes] | None) -> NDArray[np.object_]:
    if ax is None:
        return plt.subplots(2, 1, sharex=True, figsize=(9, 6), layout="constrained")[1]
    axes = np.asarray(ax, dtype=object).ravel()
    if len(axes) != 2:
        raise AntgrowthError(f"plot: {len(axes)} Axes. Give two, for sugar and for prey.")
    return axes


def _draw_weeks(panel: Axes, weeks: pd.DataFrame, color: str) -> None:
    """A box a week for what 90 % of the colonies need, a line for the median.

    Weeks that are not whole, at the ends and around a rest, are drawn at their daily rate.
    """
    ends = weeks["start"] + pd.to_timedelta(7 - weeks["start"].dt.day_of_week, unit="D")
    width = (ends - weeks["start"]) / pd.Timedelta("1D")
    whole = 7.0 / weeks["days"]
    for least, most, alpha in (("q05", "q95", 0.25), ("q25", "q75", 0.4)):
        low, high = weeks[least] * whole, weeks[most] * whole
        panel.bar(
            weeks["start"], high - low, bottom=low, width=0.9 * width, align="edge", color=color,
            alpha=alpha, linewidth=0, label=f"{90 if least == 'q05' else 50}% of colonies",
        )  # fmt: skip
    panel.hlines(
        weeks["q50"] * whole, weeks["start"], weeks["start"] + 0.9 * (ends - weeks["start"]),
        color=color, linewidth=2, label="median",
    )  # fmt: skip


def _draw_quiet(panel: Axes, plan: FoodPlan) -> None:
    """Shade the days without amounts, and say so in them."""
    for first, last, reason in _runs(plan):
        span = mdates.date2num([first, last])
        panel.axvspan(*span, color=GREY, alpha=0.25, linewidth=0)
        words = {"rest": "rest: water only", "cold": "cold: water only", "heat": "too hot"}[reason]
        if last - first >= 3 * WEEK:
            panel.annotate(
                words, (span.mean(), 0.92), xycoords=panel.get_xaxis_transform(), ha="center",
                va="top", fontsize="small",
            )  # fmt: skip


def _runs(plan: FoodPlan) -> list[tuple[pd.Timestamp, pd.Timestamp, str]]:
    """Stretches of days without amounts: first day, day after the last, reason."""
    edges = np.flatnonzero(plan.quiet[1:] != plan.quiet[:-1]) + 1
    starts = [0, *edges]
    ends = [*edges, len(plan.quiet)]
    return [
        (plan.dates[start], plan.dates[end - 1] + pd.Timedelta("1D"), str(plan.quiet[start]))
        for start, end in zip(starts, ends, strict=True)
        if plan.quiet[start]
    ]


def _draw_start(panel: Axes, plan: FoodPlan) -> None:
    """Mark when prey starts above the boxes: its 90 % interval and the median."""
    starts = plan.protein_starts
    if starts is None or starts.reached:
        return
    first, last = starts.interval()
    if first is pd.NaT:
        return
    span = mdates.date2num([first, plan.dates[-1] if last is pd.NaT else last])
    ink, across = plt.rcParams["text.color"], panel.get_xaxis_transform()
    panel.plot(span, [HEIGHT, HEIGHT], color=ink, linewidth=2, transform=across)
    if starts.median is not pd.NaT:
        middle = mdates.date2num([starts.median])
        panel.plot(middle, [HEIGHT], "o", color=ink, transform=across)
    panel.annotate(
        "prey starts (90%)", (span[0], HEIGHT), xycoords=across, xytext=(3, 5),
        textcoords="offset points", fontsize="small",
    )  # fmt: skip


def _title(plan: FoodPlan) -> tuple[str, str]:
    starts = plan.protein_starts
    title = "Sugar and prey from the first day"
    if starts is not None:
        title = f"Prey with {threshold(plan)}: {arrival_title(starts).partition(': ')[2]}"
    name = plan.forecast.fit.counts.name
    return title, f"{name}: {CONDITION}; weeks that are not whole are drawn at their daily rate"
