"""Pictures of care: milestones on a line of time, room in the nests, weeks outdoors."""

from __future__ import annotations

from typing import TYPE_CHECKING

import matplotlib.pyplot as plt
import pandas as pd
from matplotlib import dates as mdates
from matplotlib.axes import Axes

from antgrowth._core import figures as draw
from antgrowth._core.figures import BLUE, GREY, ORANGE
from antgrowth._core.text import counted, day_words, span_words

if TYPE_CHECKING:
    from antgrowth.care.milestone import Milestone
    from antgrowth.care.nest_room import NestRoom
    from antgrowth.care.outdoors import OutdoorWindows
    from antgrowth.care.plan import CarePlan


def plot_care(plan: CarePlan, ax: Axes | None = None) -> Axes:
    """Draw the windows of a plan; what is drawn is in `CarePlan.frame`."""
    draw.check_axes(ax)
    shown = [milestone for milestone in plan if milestone.is_scheduled]
    figure = None
    if ax is None:
        size = (9, 1.7 + 0.38 * len(shown) if shown else 0.8)
        figure, ax = plt.subplots(figsize=size, layout="constrained")
    for row, milestone in enumerate(shown):
        _draw_row(ax, row, milestone)
    draw.style_axes(ax)
    ax.set_yticks(range(len(shown)), [milestone.title for milestone in shown])
    ax.set_ylim(len(shown) - 0.4, -0.6)
    ax.grid(axis="y", visible=False)
    ax.grid(axis="x", alpha=0.25)
    ax.tick_params(axis="y", length=0)
    if shown:
        _draw_days(ax, plan, shown)
        draw.legend(ax) if figure is None else draw.legend_below(figure, [ax])
    else:
        ax.set_axis_off()  # the head says it
    ahead = plan.forecast
    draw.head(ax, _title(plan, shown), f"{ahead.fit.counts.name}: {ahead.condition}")
    return ax


def _draw_row(ax: Axes, row: int, milestone: Milestone) -> None:
    """Lead time as a line, the window as a bar, the most central day as a point."""
    first = milestone.first
    spans = _windows(milestone)
    last = spans[-1][1]
    color = GREY if milestone.by_date else BLUE
    label = "by calendar or weather" if milestone.by_date else f"{milestone.level:.0%} window"
    for begin, end in spans:
        ax.barh(row, max((end - begin).days, 1), left=mdates.date2num(begin), height=0.5,
                color=color, alpha=0.5, linewidth=0, label=label)  # fmt: skip
    beyond = "beyond " if pd.isna(milestone.last) else ""
    told = [span_words(*span, milestone.start.year) for span in spans[:-1]]
    told.append(span_words(*spans[-1], milestone.start.year, beyond))
    ax.annotate(
        " or ".join(told), (mdates.date2num(last), row), xytext=(5, 0), va="center",
        textcoords="offset points", fontsize="small",
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


def _windows(milestone: Milestone) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Its window; one that runs through a winter is two, as it is told."""
    last = milestone.horizon_end if pd.isna(milestone.last) else milestone.last
    two = [] if milestone.timing is None else milestone.timing.windows(milestone.level)
    return two if len(two) > 1 else [(milestone.first, last)]


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
    room = 0.24 * (last - first)  # for the dates beside the last bars
    ax.set_xlim(mdates.date2num(first - pad), mdates.date2num(last + room))


def _title(plan: CarePlan, shown: list[Milestone]) -> str:
    """What is due, or else what comes next, and when."""
    due = [step.title for step in plan if step.is_due]
    if due:
        return f"Due now: {', '.join(due)}"
    if not shown:
        return "Nothing is scheduled"
    nearest = shown[0]
    return f"{nearest.title}: {nearest.span(short=True)}"


def plot_nest_room(room: NestRoom, ax: Axes | None = None) -> Axes:
    """Draw the workers to come, and how many each nest holds, as `NestRoom.frame` has it."""
    ax = draw.own_axes(ax)
    table = room.forecast.frame()
    table = table[table["stage"] == "workers"]
    draw.band(ax, table, "q05", "q95", BLUE, alpha=0.2, label="workers, 90% of colonies")
    ax.plot(table["date"], table["q50"], color=BLUE, label="median")
    across, ink = ax.get_yaxis_transform(), plt.rcParams["text.color"]
    for stage in room.stages:
        ax.axhspan(stage.low, stage.high, color=ORANGE, alpha=0.25, linewidth=1.2)
        ax.annotate(
            f"{stage.nest.name} is full", (0.01, stage.low), xycoords=across, xytext=(0, 3),
            textcoords="offset points", fontsize="small", parse_math=False,
        )  # fmt: skip
        middle = stage.full.median
        if pd.notna(middle) and stage.full.now <= 0.5:
            place = mdates.date2num(middle), (stage.low * stage.high) ** 0.5
            ax.plot(*place, "o", color=ink, label="most likely full", zorder=3)
    # A nest of which nobody knows what it holds is wide: the colony fills the picture.
    reach = max(table["q95"].max(), *(stage.low for stage in room.stages))
    draw.style_axes(ax, 1.25 * reach)
    ax.set_xlim(*mdates.date2num([table["date"].iloc[0], table["date"].iloc[-1]]))
    ax.set_ylabel("workers")
    handles = dict(zip(*reversed(ax.get_legend_handles_labels()), strict=True))
    ax.legend(handles.values(), handles.keys(), loc="upper right", fontsize="small",
              framealpha=0.85, edgecolor="none")  # fmt: skip
    ahead = room.forecast
    draw.head(ax, _room_title(room), f"{ahead.fit.counts.name}: {ahead.condition}")
    return ax


def _room_title(room: NestRoom) -> str:
    """When the nest in use is full, and from when the next has to be open."""
    nest, full = room.present.nest.name, room.present.full
    if full.now > 0.5:
        return f"{nest} is full already"
    if pd.isna(room.present.offer_next):
        return f"{nest} is hardly full before {day_words(room.forecast.dates[-1])}"
    by = day_words(room.present.offer_next)
    return f"{nest} is full {full.when(short=True)}; the next by {by}"


def plot_outdoors(found: OutdoorWindows, ax: Axes | None = None) -> Axes:
    """Draw how a stay outdoors would go that begins in each week; see `OutdoorWindows.frame`."""
    ax = draw.own_axes(ax)
    table = found.frame()
    for column, line, color, label in (
        ("chance_weather", "--", ORANGE, "weather within the limits"),
        ("chance_workers", "-.", BLUE, "enough workers"),
        ("chance", "-", plt.rcParams["text.color"], "both"),
    ):
        ax.plot(table["start"], 100 * table[column], line, color=color, label=label)
    across = ax.get_yaxis_transform()
    ax.axhline(100 * found.chance, color=GREY, linewidth=1)
    ax.annotate(
        "wanted", (1, 100 * found.chance), xycoords=across, xytext=(-2, 3),
        textcoords="offset points", ha="right", fontsize="small",
    )  # fmt: skip
    for first, last in found.windows():
        ax.axvspan(*mdates.date2num([first, last]), color=BLUE, alpha=0.15, linewidth=0,
                   label="may begin")  # fmt: skip
    draw.style_axes(ax)
    ax.set(ylim=(-2, 103), ylabel="chance [%]")
    ax.set_xlabel(f"first day of a stay of {counted(found.weeks, 'week')}")
    ax.legend(loc="best", fontsize="small", framealpha=0.85, edgecolor="none")
    name = found.forecast.fit.counts.name
    draw.head(ax, _stay_title(found), f"{name}: {found.weather.basis}")
    return ax


def _stay_title(found: OutdoorWindows) -> str:
    """When a stay may begin, or why none is scheduled."""
    stay = f"{counted(found.weeks, 'week')} outdoors"
    if found.excluded:
        return f"{stay}: not scheduled, {found.excluded}"
    spans = [span_words(first, last, found.forecast.start.year) for first, last in found.windows()]
    if not spans:
        return f"{stay}: no week has a chance of {found.chance:.0%}"
    return f"{stay}: may begin {' or '.join(spans)}"
