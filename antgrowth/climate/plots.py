"""Pictures of temperatures and of their audit; titles say what was found."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from matplotlib import dates as mdates
from matplotlib.axes import Axes
from numpy.typing import NDArray

from antgrowth._core import figures as draw
from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.figures import BLUE, GREY, ORANGE, RED
from antgrowth._core.text import counted
from antgrowth._core.validation import Day
from antgrowth.climate.default_span import days_to_show
from antgrowth.climate.gaps import runs
from antgrowth.climate.source import ONE_DAY
from antgrowth.climate.temperature import Temperature
from antgrowth.species.thermal_limits import PHASES, STANDSTILLS

if TYPE_CHECKING:
    from antgrowth.climate.audit import Audit

_HOURLY_DAYS = 31
"""Of so many days each hour is drawn; of more, the mean and the range of each day."""

_LONGEST_WORDS = 300
"""Of a description, which a plan of many parts makes long."""


def plot_temperature(
    plan: Temperature, start: Day | None = None, days: int | None = None, ax: Axes | None = None
) -> Axes:
    """Draw a temperature, see `Temperature.plot`; what is drawn is in `Temperature.hours`."""
    ax = draw.own_axes(ax)
    endless = plan.covers() == (None, None) and not plan.changes()
    if start is None and days is None and endless and plan.cycle_days == 1:
        hours_c = plan.known_hours(np.datetime64("2000-01-01"), 1)  # every day alike
        _draw_day(ax, hours_c[0])
        resting = np.zeros(1, bool)
    else:
        first, number = days_to_show(plan, start, days)
        hours_c = plan.known_hours(first, number)
        if np.isnan(hours_c).all():
            plan.hours(first, number)  # says what is covered, and what to do
        _draw_days(ax, first, hours_c)
        resting = plan.resting(first, number)
        _draw_rest(ax, first, resting)
        draw.style_axes(ax)
        if ax.get_legend_handles_labels()[1]:
            ax.legend(loc="best", fontsize="small", framealpha=0.85, edgecolor="none")
    ax.set_ylabel("temperature [°C]")
    low, high = np.nanmin(hours_c), np.nanmax(hours_c)
    _leave_room(ax, low, high)
    draw.head(
        ax,
        _warmth_title(hours_c, resting),
        textwrap.shorten(plan.describe(), _LONGEST_WORDS, placeholder=" ..."),
    )
    return ax


def _warmth_title(hours_c: Floats, resting: Flags) -> str:
    """How warm it is while the ants are awake, and in their rest: no mean of both."""

    def words(some: Floats) -> str:
        low, high = np.nanmin(some), np.nanmax(some)
        if high - low < 0.05:
            return f"{high:.1f} °C"
        return f"{np.nanmean(some):.1f} °C on average ({low:.1f} to {high:.1f})"

    parts = {"": ~resting, "in the rest ": resting}
    told = [f"{lead}{words(hours_c[days])}" for lead, days in parts.items()
            if days.any() and not np.isnan(hours_c[days]).all()]  # fmt: skip
    steady = len(told) == 1 and "on average" not in told[0]
    return f"{told[0]} throughout" if steady else ", ".join(told)


def _draw_day(ax: Axes, pattern_c: Floats) -> None:
    ax.stairs(pattern_c, np.arange(25), baseline=None, color=BLUE, linewidth=2)
    ax.set(xlim=(0, 24), xticks=range(0, 25, 6), xlabel="hour of every day")
    ax.spines[["top", "right"]].set_visible(False)
    ax.grid(axis="y", alpha=0.25)


def _draw_days(ax: Axes, first: np.datetime64, hours_c: Floats) -> None:
    if len(hours_c) <= _HOURLY_DAYS:
        start = first.astype("datetime64[m]")
        middles = start + np.arange(hours_c.size) * 60 + 30
        ax.plot(middles, hours_c.ravel(), color=BLUE, linewidth=1.2)
        ax.set_xlim(start, start + hours_c.size * 60)
        return
    noons = first.astype("datetime64[h]") + np.arange(len(hours_c)) * 24 + 12
    by_day = pd.DataFrame(hours_c)
    low, high = by_day.min(axis=1), by_day.max(axis=1)
    if (high - low).max() > 0.05:
        ax.fill_between(
            noons, low, high, color=BLUE, alpha=0.25, linewidth=0, label="range of each day"
        )
    ax.plot(noons, by_day.mean(axis=1), color=BLUE, label="mean of each day")
    ax.set_xlim(noons[0], noons[-1])


def _draw_rest(ax: Axes, first: np.datetime64, resting: Flags) -> None:
    for number, (begin, end) in enumerate(runs(resting)):
        start, stop = mdates.date2num([first + begin * ONE_DAY, first + end * ONE_DAY])
        label = "" if number else "rest: no laying"
        ax.axvspan(start, stop, color=GREY, alpha=0.2, linewidth=0, zorder=0, label=label)


def _leave_room(ax: Axes, low: float, high: float) -> None:
    """Show at least 2 °C, so that a steady nest does not look restless."""
    pad = max(0.08 * (high - low), (2.0 - (high - low)) / 2, 0.2)
    ax.set_ylim(low - pad, high + pad)


def plot_audit(audit: Audit, ax: Axes | None = None) -> Axes:
    """Draw an audit; what is drawn is in `Audit.frame`.

    Given Axes are for the temperatures alone; without, a new figure has all panels. Returned are
    those of the temperatures.
    """
    draw.check_axes(ax)
    frame = audit.frame()
    moist = bool(frame["humidity_pct"].notna().any())
    panels = _panels(moist) if ax is None else np.array([ax], dtype=object)
    top: Axes = panels[0]
    _draw_limits(top, audit, frame)
    _draw_rest(top, audit.start, audit.resting)
    if ax is None:
        _draw_hours(panels[1], audit, frame)
        if moist:
            _draw_air(panels[2], frame)
    for panel in panels:
        draw.style_axes(panel)
    first, last = frame["date"].iloc[0], frame["date"].iloc[-1] + pd.Timedelta("1D")
    top.set_xlim(first, last)
    subtitle = (
        f"{audit.species.scientific_name}, {audit.phase}, {counted(audit.days, 'day')}: "
        f"{textwrap.shorten(audit.plan.describe(), _LONGEST_WORDS, placeholder=' ...')}"
    )
    if ax is None:
        draw.head_figure(panels[0].figure, audit.verdict, subtitle)
        draw.legend_below(panels[0].figure, panels)
    else:
        draw.head(top, audit.verdict, subtitle)
        top.legend(loc="best", fontsize="small", framealpha=0.85, edgecolor="none")
    return top


def _panels(moist: bool) -> NDArray[np.object_]:
    heights = (2.4, 1.0, 1.0) if moist else (2.4, 1.0)
    size = (9, 1.2 + 1.4 * sum(heights))
    return draw.new_axes(len(heights), 1, size, sharex=True, height_ratios=heights)


def _draw_limits(ax: Axes, audit: Audit, frame: pd.DataFrame) -> None:
    noon = frame["date"] + pd.Timedelta("12h")
    low, high, ceiling = frame["lowest_c"], frame["highest_c"], audit.ceiling_c
    ax.fill_between(noon, low, high, color=BLUE, alpha=0.25, linewidth=0, label="range of each day")
    ax.plot(noon, frame["mean_c"], color=BLUE, label="mean of each day")
    shown = [low.min(), high.max()]
    if not np.isnan(ceiling):
        ax.axhline(ceiling, color=RED, linestyle="--", label=PHASES[audit.phase][2])
        shown.append(ceiling)
        if (high > ceiling).any():
            over = np.maximum(high, ceiling)
            ax.fill_between(
                noon, ceiling, over, color=RED, alpha=0.7, linewidth=0, label="too warm"
            )
    if not np.isnan(audit.floor_c):
        ax.axhline(audit.floor_c, color=BLUE, linestyle="--", label="coldest outdoors")
        shown.append(audit.floor_c)
    shown += _draw_standstills(ax, audit, min(shown), max(shown))
    _leave_room(ax, min(shown), max(shown))
    ax.set_ylabel("temperature [°C]")


def _draw_standstills(ax: Axes, audit: Audit, low: float, high: float) -> list[float]:
    """Draw what stops in the cold, unless it is far below all that is shown; return where."""
    stages = {stage: audit.species.value(path) for stage, path in STANDSTILLS.items()}
    drawn: list[float] = []
    labels: list[tuple[float, list[str]]] = []
    for stage, threshold in sorted(stages.items(), key=lambda item: item[1]):
        if threshold < low - 0.4 * (high - low):
            continue
        if threshold not in drawn:
            ax.axhline(threshold, color=GREY, linewidth=1, linestyle=":")
            drawn.append(threshold)
        if labels and threshold - labels[-1][0] < 0.08 * (high - low):
            labels[-1][1].append(stage)  # side by side, since one above the other would overlap
        else:
            labels.append((threshold, [stage]))
    for place, names in labels:
        ax.annotate(
            f"no {', '.join(names)}", (1, place), xycoords=ax.get_yaxis_transform(),
            xytext=(3, 0), textcoords="offset points", va="center", fontsize="small",
        )  # fmt: skip
    return drawn


def _draw_hours(ax: Axes, audit: Audit, frame: pd.DataFrame) -> None:
    """Hours beyond a limit: those too warm up, those too cold for some brood down."""
    date = frame["date"]
    some = frame[[f"hours_below_{stage}" for stage in ("egg", "larva", "pupa")]].max(axis=1)
    cold = np.where(frame["resting"], 0.0, some.fillna(0.0))
    warm = frame["hours_above_ceiling"].fillna(0.0)
    bars: dict[str, Any] = {"width": 1.0, "align": "edge", "linewidth": 0}
    ax.bar(date, warm, color=RED, alpha=0.7, label="_above", **bars)
    if cold.any():
        ax.bar(date, -cold, color=BLUE, alpha=0.5, label="too cold for some brood", **bars)
    unknown = frame["hours_unknown"]
    if unknown.any():
        ax.bar(date, unknown, bottom=warm, color=GREY, alpha=0.5, label="unknown", **bars)
    up, down = float((warm + unknown).max()), float(cold.max())
    if not up and not down:
        ax.annotate("no hour beyond a limit", (0.5, 0.5), xycoords="axes fraction", ha="center")
    ax.set_ylim(-1.1 * max(down, 0.5), 1.1 * max(up, 0.5 if down else 6.0))
    ax.yaxis.set_major_formatter(lambda value, _: f"{abs(value):.0f}")
    ax.axhline(0, color=GREY, linewidth=0.8)
    ax.set_ylabel("hours a day")


def _draw_air(ax: Axes, frame: pd.DataFrame) -> None:
    noon = frame["date"] + pd.Timedelta("12h")
    ax.plot(noon, frame["deficit_kpa"], color=ORANGE, label="vapour pressure deficit")
    wet = frame["hours_wet"] > 0
    if wet.any():
        ax.plot(
            noon[wet], np.zeros(int(wet.sum())), "|", color=BLUE, markersize=9, clip_on=False,
            label="walls wet",
        )  # fmt: skip
    ax.set_ylim(0, 1.15 * max(float(frame["deficit_kpa"].max()), 0.5))
    ax.set_ylabel("deficit [kPa]")
