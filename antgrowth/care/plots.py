"""The picture of a care plan: a line of time for each milestone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import matplotlib.pyplot as plt
import pandas as pd
from matplotlib import dates as mdates
from matplotlib.axes import Axes

from antgrowth._core import figures as draw
from antgrowth._core.figures import BLUE, GREY, ORANGE
from antgrowth._core.text import day_words, span_words

if TYPE_CHECKING:
    from antgrowth.care.milestone import Milestone
    from antgrowth.care.plan import CarePlan

__all__ = ["plot_care"]


def plot_care(plan: CarePlan, ax: Axes | None = None) -> Axes:
    """Draw the windows of a plan; what is drawn is in `CarePlan.frame`.

    Parameters
    ----------
    plan : CarePlan
    ax : Axes, optional
        A figure of its own if not given.

    Returns
    -------
    Axes
    """
    draw.check_axes(ax)
    shown = [milestone for milestone in plan if milestone.is_scheduled]
    figure = None
    if ax is None:
        size = (7.5, 1.7 + 0.38 * max(len(shown), 1))
        figure, ax = plt.subplots(figsize=size, layout="constrained")
    for row, milestone in enumerate(shown):
        _draw_row(ax, row, milestone)
    draw.dress(ax)
    ax.set_yticks(range(len(shown)), [milestone.title for milestone in shown])
    ax.set_ylim(len(shown) - 0.4, -0.6)
    ax.grid(axis="y", visible=False)
    ax.grid(axis="x", alpha=0.25)
    ax.tick_params(axis="y", length=0)
    _draw_days(ax, plan, shown)
    if shown:
        draw.legend(ax) if figure is None else draw.legend_below(figure, [ax])
    else:
        ax.annotate("nothing is scheduled", (0.5, 0.5), xycoords="axes fraction", ha="center")
    ahead = plan.forecast
    draw.head(ax, _title(plan, shown), f"{ahead.fit.counts.name}: {ahead.condition}")
    return ax


def _draw_row(ax: Axes, row: int, milestone: Milestone) -> None:
    """Lead time as a line, the window as a bar, the most central day as a point."""
    last = milestone.horizon_end if pd.isna(milestone.last) else milestone.last
    first = milestone.first
    color = GREY if milestone.by_date else BLUE
    label = "by calendar or weather" if milestone.by_date else f"{milestone.level:.0%} window"
    width = max((last - first).days, 1)
    ax.barh(row, width, left=mdates.date2num(first), height=0.5, color=color, alpha=0.5,
            linewidth=0, label=label)  # fmt: skip
    if pd.isna(milestone.last):
        ax.annotate(
            "…", (mdates.date2num(last), row), xytext=(2, -2), textcoords="offset points",
            va="center",
        )  # fmt: skip
    if milestone.prepare_from < first:
        ax.plot(
            mdates.date2num([milestone.prepare_from, first]), [row, row], color=ORANGE,
            linewidth=2, label="time to prepare", solid_capstyle="butt",
        )  # fmt: skip
    if pd.notna(milestone.middle):
        ax.plot(
            mdates.date2num([milestone.middle]), [row], "o", color=BLUE, linestyle="none",
            label="most likely",
        )  # fmt: skip


def _draw_days(ax: Axes, plan: CarePlan, shown: list[Milestone]) -> None:
    """Mark the last note, and show the days from shortly before it to the last window."""
    start, far = plan.forecast.start, plan.forecast.dates[-1]
    ends = [far if pd.isna(milestone.last) else milestone.last for milestone in shown]
    begins = [milestone.prepare_from for milestone in shown]
    first, last = min([start, *begins]), max([start + pd.Timedelta(days=28), *ends])
    pad = 0.02 * (last - first)
    ax.axvline(
        mdates.date2num(start), color=plt.rcParams["text.color"], linewidth=1, linestyle=":",
        label="last note",
    )  # fmt: skip
    ax.set_xlim(mdates.date2num(first - pad), mdates.date2num(last + pad))


def _title(plan: CarePlan, shown: list[Milestone]) -> str:
    """What is due, or else what comes next, and when."""
    due = [step.title for step in plan if step.is_due]
    if due:
        return f"Due now: {', '.join(due)}"
    if not shown:
        return "Nothing is scheduled"
    nearest = shown[0]
    if pd.isna(nearest.last):
        return f"{nearest.title}: not before {day_words(nearest.first)}"
    return f"{nearest.title}: {span_words(nearest.first, nearest.last)}"
