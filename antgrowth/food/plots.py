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

from antgrowth._core import figures as draw
from antgrowth._core.figures import BLUE, GREY, ORANGE
from antgrowth._core.summary import short
from antgrowth._core.text import span_words
from antgrowth.errors import AntgrowthError
from antgrowth.food.plan import threshold
from antgrowth.forecast.arrival import CONDITION, arrival_title
from antgrowth.forecast.paths import Forecast

if TYPE_CHECKING:
    from antgrowth.food.plan import FoodPlan

DAY, WEEK = pd.Timedelta(days=1), pd.Timedelta(days=7)

CUT, FAR = 1.6, 2.0
"""Beside one another, panels reach to so many times the highest box of half of the colonies, where
the others reach farther than so many times."""

HEIGHT, ROOM, ROOM_FOR_MARK = 0.88, 1.1, 1.4
"""Where in the panel of the prey its start is marked; and the height of a panel over its highest
box, without and with such a mark."""


def plot_food(plan: FoodPlan, ax: Sequence[Axes] | None = None) -> NDArray[np.object_]:
    """Draw the sugar water and the prey of each week on two Axes; see `FoodPlan.frame`."""
    axes = _axes(ax)
    draw.check_axes(*axes)
    _draw_plan(axes, plan)
    title, subtitle = _title(plan), _condition(plan.forecast)
    draw.head_panels(axes, ax is None, title, subtitle)
    return axes


def plot_beside(*plans: FoodPlan) -> NDArray[np.object_]:
    """Draw plans side by side, on the same days: Axes of shape (2, plans)."""
    figure, axes = plt.subplots(
        2, len(plans), sharex=True, squeeze=False, figsize=(1 + 6 * len(plans), 6),
        layout="constrained",
    )  # fmt: skip
    for column, plan in zip(axes.T, plans, strict=True):
        _draw_plan(column, plan)
        name, starts = plan.forecast.fit.counts.name, _title(plan).partition(", most likely")
        column[0].set_title(f"{name}\n{starts[0]}", loc="left", fontsize="medium", parse_math=False)
        for panel in column:
            _keep_in_scale(panel)
    begin, end = min(plan.dates[0] for plan in plans), max(plan.dates[-1] for plan in plans)
    axes[0, 0].set_xlim(begin, end + DAY)
    draw.head_figure(figure, "What the colonies will eat, each by its practice", _condition())
    draw.legend_below(figure, axes.ravel())
    return axes


def _keep_in_scale(panel: Axes) -> None:
    """Let the half of the colonies in the middle fill a panel, and say how far others reach."""
    high, middle = (
        max((bar.get_y() + bar.get_height() for bar in bars), default=0.0)
        for bars in panel.containers
    )
    if high > FAR * middle > 0:
        panel.set_ylim(0, CUT * middle)
        panel.annotate(
            f"1 colony of 20 up to {short(high)}", (1, 1), xycoords="axes fraction",
            xytext=(-3, -3), textcoords="offset points", ha="right", va="top", fontsize="small",
        )  # fmt: skip


def _draw_plan(axes: NDArray[np.object_], plan: FoodPlan) -> None:
    kind = plan.prey[0]
    unit = "piece" if kind.has_piece else "mg"
    frame = plan.frame()
    full = frame[frame["days"] > 0]
    items = (
        (f"{plan.percent:g} % sugar water", "µL", BLUE, "µL"),
        (kind.kind, unit, ORANGE, "pieces" if unit == "piece" else unit),
    )
    starts = plan.protein_starts
    rooms = ROOM, ROOM if starts is None or starts.reached else ROOM_FOR_MARK
    for panel, room, (item, measure, color, words) in zip(axes, rooms, items, strict=True):
        weeks = full[(full["item"] == item) & (full["unit"] == measure)]
        _draw_weeks(panel, weeks, color)
        draw.style_axes(panel, max(room * weeks["q95"].max(), 1e-9) if len(weeks) else 1.0)
        panel.yaxis.set_major_locator(MaxNLocator(nbins=5, steps=[1, 2, 2.5, 5, 10]))
        panel.set_ylabel(f"{item}\n[{words} a week]")
        _draw_quiet(panel, plan)
        panel.set_xlim(plan.dates[0], plan.dates[-1] + DAY)
    _draw_start(axes[1], plan)


def _axes(ax: Sequence[Axes] | None) -> NDArray[np.object_]:
    if ax is None:
        return draw.new_axes(2, 1, (9, 6), sharex=True)
    axes = draw.as_axes(ax)
    if len(axes) != 2:
        raise AntgrowthError(f"plot: {len(axes)} Axes. Give two, for sugar and for prey.")
    return axes


def _draw_weeks(panel: Axes, weeks: pd.DataFrame, color: str) -> None:
    """A box a week for what 90 % of the colonies need, a line for the median.

    Weeks that are not whole, at the ends and around a rest, are drawn at their daily rate.
    """
    ends = weeks["start"] + pd.to_timedelta(7 - weeks["start"].dt.day_of_week, unit="D")
    width = (ends - weeks["start"]) / DAY
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
        (plan.dates[start], plan.dates[end - 1] + DAY, str(plan.quiet[start]))
        for start, end in zip(starts, ends, strict=True)
        if plan.quiet[start]
    ]


def _draw_start(panel: Axes, plan: FoodPlan) -> None:
    """Mark when prey starts above the boxes: its 90 % interval and the median."""
    starts = plan.protein_starts
    if starts is None or starts.reached:
        return
    if not (spans := [mdates.date2num(span) for span in starts.windows()]):
        return
    ink, across = plt.rcParams["text.color"], panel.get_xaxis_transform()
    for span in spans:
        panel.plot(span, [HEIGHT, HEIGHT], color=ink, linewidth=2, transform=across)
    if pd.notna(starts.median) and len(spans) == 1:
        middle = mdates.date2num([starts.median])
        panel.plot(middle, [HEIGHT], "o", color=ink, transform=across)
    panel.annotate(
        "prey starts (90%)", (spans[0][0], HEIGHT), xycoords=across, xytext=(3, 5),
        textcoords="offset points", fontsize="small",
    )  # fmt: skip


def _title(plan: FoodPlan) -> str:
    starts = plan.protein_starts
    if starts is None:
        return "Sugar and prey from the first day"
    if starts.reached:  # long ago, perhaps, and of no interest any more
        return f"Sugar and prey, {span_words(plan.dates[0], plan.dates[-1])}"
    return f"Prey with {threshold(plan)}: {arrival_title(starts).partition(': ')[2]}"


def _condition(forecast: Forecast | None = None) -> str:
    """What the picture holds for, one colony or several, and how it is drawn."""
    holds = CONDITION if forecast is None else f"{forecast.fit.counts.name}: {forecast.condition}"
    return f"{holds}; weeks that are not whole are drawn at their daily rate"
