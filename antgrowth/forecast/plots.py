"""Pictures of a forecast, an arrival, a growth rate and what a date hangs on.

Each function takes the Axes to draw into, or makes a figure of its own, and returns the Axes; its
title says what was found. What it draws can be had as a table, from the method `frame` or from
`Arrival.dates`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib import dates as mdates
from matplotlib.axes import Axes

from antgrowth._core import figures as draw
from antgrowth._core.arrays import Floats
from antgrowth._core.figures import BLUE, GREY, ORANGE, RED
from antgrowth._core.summary import ants, share_words
from antgrowth._core.text import counted, day_words
from antgrowth.climate.gaps import runs
from antgrowth.errors import AntgrowthError
from antgrowth.forecast.arrival import Arrival, arrival_rest, arrival_title, horizon_of
from antgrowth.forecast.paths import Forecast
from antgrowth.inference.plots import draw_notes
from antgrowth.species.thermal_limits import SENSOR_MARGIN_C

if TYPE_CHECKING:
    from antgrowth.forecast.growth_rate import GrowthRate
    from antgrowth.forecast.sensitivity import Sensitivity

GROWTH_HOLDS = "while care by workers limits growth, well fed, without rest; band 90 %"

SHOWN = 8
"""Bars of a sensitivity at most, before those for the rest."""

HELD, RESTING = RED, "#56B4E9"
"""What was probably there, and a rest: in every picture of a colony the same two colours."""

TOTAL = RED
"""Colour of the running total and its axis."""

TOTAL_HEIGHT = 1.0 / 1.35
"""Height in an Axes that stands for all simulated colonies."""


def plot_forecast(
    forecast: Forecast,
    workers: int | None = 30,
    ax: Axes | None = None,
    past_days: int | None = None,
) -> Axes:
    """Draw the workers to come, with the notes before them.

    Parameters
    ----------
    forecast : Forecast
    workers : int or None
        Number waited for: its line, the 90 % interval of its date, and limits that keep it in
        view. None draws the whole horizon without it.
    ax : Axes, optional
    past_days : int, optional
        How much of the past is shown; as much as of the time to come if not given. [day]

    Returns
    -------
    Axes
    """
    ax = draw.own_axes(ax)
    table = forecast.frame()
    table = table[table["stage"] == "workers"].reset_index(drop=True)
    draw.band(ax, table, "q05", "q95", BLUE, alpha=0.2, label="90% of colonies")
    draw.band(ax, table, "q25", "q75", BLUE, alpha=0.35, label="50% of colonies")
    ax.plot(table["date"], table["q50"], color=BLUE, label="median")
    _draw_past(ax, forecast)
    seen = 1.1 * draw_notes(ax, forecast.fit, "workers")
    if workers is None:
        shown, top = table, table["q95"].max()
        low, middle, high = (ants(table[level].iloc[-1]) for level in ("q05", "q50", "q95"))
        day = day_words(table["date"].iloc[-1])
        title = f"{low} to {high} workers on {day}, most likely around {middle}"
    else:
        arrival = forecast.arrival(workers)
        near = max(3 * workers, seen, 3 * table["q50"].iloc[0])
        soon = (table["q50"] <= near).cumprod().astype(bool)  # until it leaves the picture
        shown = table[soon]
        top = min(max(1.1 * shown["q95"].max(), 1.2 * workers), near)
        _draw_threshold(ax, arrival)
        title = arrival_title(arrival)
    draw.style_axes(ax, max(top, seen, 1.0))
    _show_days(ax, forecast, shown["date"].max(), past_days)
    _draw_rests(ax, forecast)
    ax.set_ylabel("workers")
    draw.legend(ax)
    draw.head(ax, title, f"{forecast.fit.counts.name}: {forecast.condition}")
    return ax


def _draw_past(ax: Axes, forecast: Forecast) -> None:
    """Draw what was probably in the nest, up to the last note."""
    past = forecast.fit.nest_frame()
    past = past[past["stage"] == "workers"]
    draw.band(ax, past, "q05", "q95", HELD, alpha=0.25, label="probably there (90%)")


def _draw_rests(ax: Axes, forecast: Forecast) -> None:
    """Shade the rests of the days shown, and name those that have room for it."""
    left, right = ax.get_xlim()
    first = np.datetime64(max(forecast.fit.history.first_day, _day_of(left)), "D")
    days = max(int(right - mdates.date2num(first)), 1)
    across = ax.get_xaxis_transform()
    for begin, end in runs(forecast.temperature.resting(first, days)):
        span = mdates.date2num([first + begin, first + end])
        ax.axvspan(*span, color=RESTING, alpha=0.12, linewidth=0, zorder=0)
        if span[1] - span[0] > 0.12 * (right - left):
            ax.annotate(
                "winter rest", (span.mean(), 0.04), xycoords=across, ha="center", fontsize="small"
            )


def _day_of(place: float) -> pd.Timestamp:
    return pd.Timestamp(mdates.num2date(place)).tz_localize(None).normalize()


def _draw_threshold(ax: Axes, arrival: Arrival) -> None:
    ax.axhline(arrival.workers, color=ORANGE, linewidth=1.5, linestyle="--")
    ax.annotate(
        counted(arrival.workers, "worker"), (1, arrival.workers), xytext=(-2, 3), ha="right",
        xycoords=ax.get_yaxis_transform(), textcoords="offset points", fontsize="small",
    )  # fmt: skip
    for span in [] if arrival.reached else arrival.windows():
        ax.axvspan(
            *mdates.date2num(span), color=ORANGE, alpha=0.2, linewidth=0, zorder=0,
            label="arrival (90%)",
        )  # fmt: skip


def _show_days(ax: Axes, forecast: Forecast, last: pd.Timestamp, past_days: int | None) -> None:
    """Show the days up to the last, and as much of the past, but two months if there are."""
    past = max(last - forecast.start, pd.Timedelta(days=60))
    if past_days is not None:
        past = pd.Timedelta(days=past_days)
    first = max(forecast.start - past, forecast.fit.history.first_day)
    pad = 0.02 * (last - first) if past_days is None else pd.Timedelta(0)
    ax.set_xlim(mdates.date2num(first - pad), mdates.date2num(last + pad))


def plot_arrival(arrival: Arrival, ax: Axes | None = None) -> Axes:
    """Draw the chance of each date, and of arrival by each date.

    Parameters
    ----------
    arrival : Arrival
    ax : Axes, optional

    Returns
    -------
    Axes
    """
    ax = draw.own_axes(ax)
    waited = np.sort(arrival.waited[np.isfinite(arrival.waited)])
    each = "day"
    if len(waited):
        each = _draw_chances(ax, arrival, waited)
        _draw_interval(ax, arrival)
        _draw_with_queen(ax, arrival, np.unique(waited))
    else:
        ax.set(xlim=(arrival.start, horizon_of(arrival)), ylim=(0, 100))
        ax.annotate("no simulated colony comes so far", (0.5, 0.5), xycoords="axes fraction",
                    ha="center")  # fmt: skip
    draw.style_axes(ax)
    ax.set_ylabel(f"chance each {each} [%]")
    ax.set_xlabel(f"date of {counted(arrival.workers, 'worker')}")
    assumed = f"; dashed: with her, if {arrival.queen_assumed()}" if arrival.queen_survival else ""
    draw.head(ax, arrival_title(arrival), f"{arrival.condition}; {arrival_rest(arrival)}{assumed}")
    return ax


def _draw_chances(ax: Axes, arrival: Arrival, waited: Floats) -> str:
    """Draw bars by day, week or four weeks, and the running total; return what a bar spans."""
    start, draws, span = arrival.start, len(arrival.dates), waited[-1] - waited[0]
    most = np.quantile(waited, 0.95) - np.quantile(waited, 0.05)
    widths = {1: "day", 7: "week", 28: "four weeks"}
    width = next((days for days in widths if most <= 30 * days), 28)
    edges = np.arange(waited[0], waited[-1] + width + 1, width) - 0.5
    chance = 100 * np.histogram(waited, edges)[0] / draws
    ax.bar(_at(start, edges[:-1]), chance, width=0.94 * width, align="edge", color=BLUE, alpha=0.4)
    top = chance.max() / TOTAL_HEIGHT
    ax.set_ylim(0, top)
    _percent_axis(ax, top)
    height = TOTAL_HEIGHT
    day, number = np.unique(waited, return_counts=True)
    total = np.cumsum(number) / draws
    across = ax.get_xaxis_transform()
    ax.plot(_at(start, day), height * total, color=TOTAL, linewidth=2, transform=across)
    shares: tuple[float, ...] = () if arrival.reached else (0.1, 0.5, 0.9)
    if arrival.split() is not None:
        shares = (float(total[-1]),)  # the middle of all dates is a day on which nothing happens
    marks = {int(np.searchsorted(total, share)): share for share in shares}
    for at, share in marks.items():
        if at < len(total):
            date = start + pd.Timedelta(days=day[at])
            place = mdates.date2num(date), height * total[at]
            ax.plot(*place, "o", color=TOTAL, transform=across)
            ax.annotate(
                f"{100 * share:.0f} % by {day_words(date, date.year)}", place,
                xycoords=across, xytext=(7, -3), textcoords="offset points", va="top",
                fontsize="small",
            )  # fmt: skip
    # Room for the texts, which stand to the right of their marks.
    span = max(span, 6.0)
    texts_end = day[min(max(marks, default=0), len(day) - 1)] + 0.3 * span
    ends = np.array([day[0] - 0.05 * span - 1, max(day[-1] + 0.05 * span, texts_end)])
    ax.set_xlim(*(ends + mdates.date2num(start)))
    return widths[width]


def _percent_axis(ax: Axes, top: float) -> None:
    """Give the running total an axis of its own, from 0 to 100 %, on the right."""
    whole = 100 / (TOTAL_HEIGHT * top)

    def percent(height: Any) -> Any:
        return np.asarray(height) * whole

    def height_of(share: Any) -> Any:
        return np.asarray(share) / whole

    right = ax.secondary_yaxis("right", functions=(percent, height_of))
    right.set_yticks([0, 25, 50, 75, 100])
    right.set_ylabel("chance by the date [%]", color=TOTAL)
    right.tick_params(colors=TOTAL)
    right.spines["right"].set_color(TOTAL)
    right.spines["right"].set_bounds(0, 100)


def _draw_with_queen(ax: Axes, arrival: Arrival, days: Floats) -> None:
    """Draw the running total of colonies that come with their queen, if her survival is assumed."""
    if arrival.queen_survival is None or arrival.reached:
        return
    dates = _at(arrival.start, days)
    total = [TOTAL_HEIGHT * arrival.chance_with_queen_by(date) for date in dates]
    across = ax.get_xaxis_transform()
    ax.plot(dates, total, color=TOTAL, linewidth=2, linestyle="--", transform=across)
    solid = TOTAL_HEIGHT * arrival.chance_by(dates[-1])
    ax.annotate(
        f"{share_words(arrival.chance_with_queen_by(dates[-1]))} with her",
        (mdates.date2num(dates[-1]), solid), xycoords=across, xytext=(0, 4),
        textcoords="offset points", ha="right", va="bottom", fontsize="small",
    )  # fmt: skip


def _draw_interval(ax: Axes, arrival: Arrival) -> None:
    """Mark the 90 % interval and the median above the bars; of dates that a pause splits, two."""
    if arrival.reached:
        return
    across, ink = ax.get_xaxis_transform(), plt.rcParams["text.color"]
    split = arrival.split() is not None
    for first, last in arrival.windows():
        ends = mdates.date2num([first, last])
        ax.plot(ends, [0.9, 0.9], color=ink, linewidth=2, transform=across)
        ax.annotate(
            "90% interval" if not split else "90% of these", (ends[0], 0.9), xycoords=across,
            xytext=(0, 4), textcoords="offset points", fontsize="small",
        )  # fmt: skip
    if pd.notna(arrival.median) and not split:
        ax.plot(mdates.date2num(arrival.median), 0.9, "o", color=ink, transform=across)


def _at(start: pd.Timestamp, days: Floats) -> pd.DatetimeIndex:
    return start + pd.to_timedelta(days, unit="D")


def plot_growth_rate(found: GrowthRate, ax: Axes | None = None) -> Axes:
    """Draw the long-run growth rate over the temperature; the numbers are in `GrowthRate.frame`."""
    if len(found.temperature_c) < 2:
        raise AntgrowthError("plot: one temperature makes no curve. Give growth_rate several.")
    ax = draw.own_axes(ax)
    frame = found.frame().sort_values("temperature_c")
    top = 1.1 * max(float(frame["q95"].max()), 0.005)
    floor = -0.15 * top
    t = frame["temperature_c"]
    names = ("q05", "rate_per_day", "q95")
    low, middle, high = (frame[name].clip(lower=2 * floor) for name in names)
    ax.fill_between(t, low, high, color=BLUE, alpha=0.25, linewidth=0, label="90% band")
    ax.plot(t, middle, color=BLUE, label="median")
    ax.axhline(0, color=GREY, linewidth=1)
    if np.isfinite(found.ceiling_c) and t.max() > found.ceiling_c:
        ax.axvspan(found.ceiling_c, t.max(), color=RED, alpha=0.15, linewidth=0,
                   label="above the ceiling of the housed colony")  # fmt: skip
    ax.set(xlabel="steady temperature [°C]", ylabel="growth rate [1/day]",
           xlim=(t.min(), t.max()), ylim=(floor, top))  # fmt: skip
    days = np.array([20, 30, 40, 60, 100, 200])
    right = ax.secondary_yaxis("right")
    right.set_yticks(np.log(2) / days, [f"{d}" for d in days])
    right.set_ylabel("doubling time [day]")
    ax.spines["top"].set_visible(False)
    ax.grid(axis="y", alpha=0.25)
    ax.legend(loc="upper left", fontsize="small", framealpha=0.85, edgecolor="none")
    draw.head(ax, _growth_title(found), GROWTH_HOLDS)
    return ax


def _growth_title(found: GrowthRate) -> str:
    """The finding, and where it ends being safe: nobody shall warm a nest to its fastest."""
    ceiling = found.ceiling_c
    if not np.isfinite(ceiling) or found.sentence().partition(": ")[2].startswith("TOO WARM"):
        return found.sentence()
    safe = ceiling - SENSOR_MARGIN_C
    return (
        f"{found.sentence().partition(' (')[0]}; keep below {safe:g} °C, the ceiling is {ceiling:g}"
    )


def plot_sensitivity(found: Sensitivity, ax: Axes | None = None) -> Axes:
    """Draw the shares of a date's variance, the largest above; numbers are in `frame`."""
    draw.check_axes(ax)
    if ax is None:
        ax = plt.subplots(figsize=(8.4, 4.8), layout="constrained")[1]
    frame = found.frame()
    some = frame.head(SHOWN)
    rest = frame["share"].iloc[SHOWN:].sum()
    later = some["later_days"] > 0
    share = 100 * some["share"].to_numpy()
    reach = [share - 100 * some["q05"].to_numpy(), 100 * some["q95"].to_numpy() - share]
    for chosen, color, label in (
        (later, ORANGE, "later: the more of it, the later the date"),
        (~later, BLUE, "earlier: the more of it, the earlier the date"),
    ):
        if chosen.any():
            ax.barh(np.flatnonzero(chosen), share[chosen], color=color, alpha=0.75, label=label)
    ax.errorbar(
        share, np.arange(len(some)), xerr=np.maximum(reach, 0), fmt="none", elinewidth=1,
        color=plt.rcParams["text.color"], label="90% interval",
    )  # fmt: skip
    # Words beside the names: nobody has to tell the colours apart.
    labels = [f"{name}: {'later' if late else 'earlier'}"
              for name, late in zip(some["parameter"], later, strict=True)]  # fmt: skip
    last = [("all others", 100 * rest)] if len(frame) > SHOWN else []
    last.append(("chance and interplay", 100 * max(1 - found.r2, 0)))
    places = len(some) + np.arange(len(last))
    ax.barh(places, [value for _, value in last], color=GREY, alpha=0.5)
    ax.set_yticks(np.arange(len(some) + len(last)), [*labels, *(name for name, _ in last)])
    ax.invert_yaxis()
    ax.set_xlim(0, None)
    ax.set_xlabel(f"share of the variance of the date of {found.arrival.workers} workers [%]")
    ax.spines[["top", "right"]].set_visible(False)
    ax.grid(axis="x", alpha=0.25)
    ax.set_axisbelow(True)
    ax.legend(loc="best", fontsize="small", framealpha=0.85, edgecolor="none")
    workers = counted(found.arrival.workers, "worker")
    title = f"The date of {workers} hangs most on: {frame['parameter'][0]}"
    draw.head(ax, title, f"{found.name}: {frame['measure'][0]}")
    return ax
