"""Pictures of a fit, a forecast and an arrival; their titles say what was found.

Each function takes the Axes to draw into, or makes a figure of its own, and returns the Axes. What
it draws can be had as a table: `Fit.growth_frame`, `Fit.nest_frame`, `Forecast.frame`,
`Arrival.dates`. Colours are from Okabe and Ito's set for colour-blind eyes (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib import dates as mdates
from matplotlib.axes import Axes
from numpy.typing import NDArray

from antgrowth._pictures import drawing as draw
from antgrowth._pictures.drawing import BLUE, GREY, ORANGE
from antgrowth._showing.phrases import arrival_rest, arrival_title, day_words, horizon_of
from antgrowth._showing.render import ants, share_words
from antgrowth._showing.words import counted
from antgrowth.fit import Fit
from antgrowth.forecast import Arrival, Forecast
from antgrowth.placing import place_in_species

__all__ = ["plot_arrival", "plot_fit", "plot_forecast"]

TOTAL_HEIGHT = 1.0 / 1.35
"""Height in an Axes that stands for all simulated colonies."""


def plot_fit(
    fit: Fit,
    stages: Sequence[str] | None = None,
    ax: Axes | Sequence[Axes] | NDArray[np.object_] | None = None,
) -> NDArray[np.object_]:
    """Draw each stage's counts on what the nest probably held, and on what is usual.

    Parameters
    ----------
    fit : Fit
    stages : sequence of str, optional
        Some of "eggs", "larvae", "pupae", "workers", "brood"; the first four if not given, and
        "brood" if it was counted.
    ax : Axes or sequence of Axes, optional
        One a stage.

    Returns
    -------
    array of Axes, shape (stages,)

    Raises
    ------
    AntgrowthError
        If a stage is not known, or there is not one Axes a stage.

    Notes
    -----
    Bands are what colonies of the species are expected to hold (`Fit.growth_frame`), and what this
    nest probably held (`Fit.nest_frame`); counts stray from it by miscounting.
    """
    names = draw.chosen_stages(fit, stages, "plot_fit")
    axes = draw.panels(names) if ax is None else draw.given_axes(names, ax, "plot_fit")
    growth, nest = fit.growth_frame(), fit.nest_frame()
    for panel, stage in zip(axes, names, strict=True):
        usual = growth[(growth["stage"] == stage) & (growth["source"] == "species")]
        colony = nest[nest["stage"] == stage]
        label = f"usual for {fit.species.scientific_name} (90%)"
        draw.band(panel, usual, "q05", "q95", GREY, alpha=0.3, label=label)
        label = "this colony, given the notes (90%)"
        draw.band(panel, colony, "q05", "q95", BLUE, alpha=0.3, label=label)
        panel.plot(colony["date"], colony["q50"], color=BLUE, label="its median")
        seen = draw.draw_notes(panel, fit, stage)
        own = max(seen, colony["q95"].max(), usual["q05"].max(), 1.0)
        draw.dress(panel, 1.1 * max(own, min(usual["q95"].max(), 2 * own)))
        panel.set_ylabel(stage)
    place = place_in_species(fit)
    title = place.finding if fit.converged else f"NOT CONVERGED. {place.finding}"
    subtitle = f"{fit.counts.name}: {place.evidence(fit.species.scientific_name)}"
    if ax is None:
        draw.head_figure(axes[0].figure, title, subtitle)
        draw.legend_below(axes[0].figure, axes)
    else:
        draw.head(axes[0], title, subtitle)
        draw.legend(axes[0], axes)
    return axes


def plot_forecast(forecast: Forecast, workers: int | None = 30, ax: Axes | None = None) -> Axes:
    """Draw the workers to come, with the notes before them.

    Parameters
    ----------
    forecast : Forecast
    workers : int or None
        Number waited for: its line, the 90 % interval of its date, and limits that keep it in
        view. None draws the whole horizon without it.
    ax : Axes, optional

    Returns
    -------
    Axes
    """
    ax = _own(ax)
    table = forecast.frame()
    table = table[table["stage"] == "workers"].reset_index(drop=True)
    draw.band(ax, table, "q05", "q95", BLUE, alpha=0.2, label="90% of colonies")
    draw.band(ax, table, "q25", "q75", BLUE, alpha=0.35, label="50% of colonies")
    ax.plot(table["date"], table["q50"], color=BLUE, label="median")
    seen = 1.1 * draw.draw_notes(ax, forecast.fit, "workers")
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
    draw.dress(ax, max(top, seen, 1.0))
    _show_days(ax, forecast, shown["date"].max())
    ax.set_ylabel("workers")
    draw.legend(ax)
    draw.head(ax, title, f"{forecast.condition}; temperature: {forecast.assumed}")
    return ax


def _draw_threshold(ax: Axes, arrival: Arrival) -> None:
    ax.axhline(arrival.workers, color=ORANGE, linewidth=1.5, linestyle="--")
    ax.annotate(
        counted(arrival.workers, "worker"), (1, arrival.workers), xytext=(-2, 3), ha="right",
        xycoords=ax.get_yaxis_transform(), textcoords="offset points", fontsize="small",
    )  # fmt: skip
    first, last = arrival.interval()
    if first is not pd.NaT and not arrival.reached:
        end = horizon_of(arrival) if last is pd.NaT else last
        ax.axvspan(
            mdates.date2num(first), mdates.date2num(end), color=ORANGE, alpha=0.2, linewidth=0,
            zorder=0, label="arrival (90%)",
        )  # fmt: skip


def _show_days(ax: Axes, forecast: Forecast, last: pd.Timestamp) -> None:
    """Show the days up to the last, and as much of the past, but two months if there are."""
    ahead = last - forecast.start
    past = forecast.start - max(ahead, pd.Timedelta(days=60))
    first = max(past, forecast.fit.setting.first_day)
    pad = 0.02 * (last - first)
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
    ax = _own(ax)
    waited = (arrival.dates - np.datetime64(arrival.start, "D")).astype(float)
    waited = np.sort(waited[~np.isnat(arrival.dates)])
    each = "day"
    if len(waited):
        each = _draw_chances(ax, arrival, waited)
        _draw_interval(ax, arrival)
        _draw_with_queen(ax, arrival, np.unique(waited))
    else:
        ax.set(xlim=(arrival.start, horizon_of(arrival)), ylim=(0, 100))
        ax.annotate("no simulated colony comes so far", (0.5, 0.5), xycoords="axes fraction",
                    ha="center")  # fmt: skip
    draw.dress(ax)
    ax.set_ylabel(f"chance each {each} [%]")
    assumed = f"; dashed: with her, if {arrival.queen_assumed()}" if arrival.queen_survival else ""
    draw.head(ax, arrival_title(arrival), f"{arrival.condition}; {arrival_rest(arrival)}{assumed}")
    return ax


def _draw_chances(ax: Axes, arrival: Arrival, waited: NDArray[np.float64]) -> str:
    """Draw bars by day, week or four weeks, and the running total; return what a bar spans."""
    start, draws, span = arrival.start, len(arrival.dates), waited[-1] - waited[0]
    most = np.quantile(waited, 0.95) - np.quantile(waited, 0.05)
    widths = {1: "day", 7: "week", 28: "four weeks"}
    width = next((days for days in widths if most <= 30 * days), 28)
    edges = np.arange(waited[0], waited[-1] + width + 1, width) - 0.5
    chance = 100 * np.histogram(waited, edges)[0] / draws
    ax.bar(_at(start, edges[:-1]), chance, width=0.94 * width, align="edge", color=BLUE, alpha=0.4)
    ax.set_ylim(0, 1.35 * chance.max())
    # The running total has no axis of its own: it ends at the height that stands for all colonies.
    height = TOTAL_HEIGHT
    day, number = np.unique(waited, return_counts=True)
    total = np.cumsum(number) / draws
    across = ax.get_xaxis_transform()
    ax.plot(_at(start, day), height * total, color=ORANGE, linewidth=2, transform=across)
    shares = () if arrival.reached else (0.1, 0.5, 0.9)
    marks = {int(np.searchsorted(total, share)): share for share in shares}
    for at, share in marks.items():
        if at < len(total):
            date = start + pd.Timedelta(days=day[at])
            place = mdates.date2num(date), height * total[at]
            ax.plot(*place, "o", color=ORANGE, transform=across)
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


def _draw_with_queen(ax: Axes, arrival: Arrival, days: NDArray[np.float64]) -> None:
    """Draw the running total of colonies that come with their queen, if her survival is assumed."""
    if arrival.queen_survival is None or arrival.reached:
        return
    dates = _at(arrival.start, days)
    total = [TOTAL_HEIGHT * arrival.chance_with_queen_by(date) for date in dates]
    across = ax.get_xaxis_transform()
    ax.plot(dates, total, color=ORANGE, linewidth=2, linestyle="--", transform=across)
    solid = TOTAL_HEIGHT * arrival.chance_by(dates[-1])
    ax.annotate(
        f"{share_words(arrival.chance_with_queen_by(dates[-1]))} with her",
        (mdates.date2num(dates[-1]), solid), xycoords=across, xytext=(0, 4),
        textcoords="offset points", ha="right", va="bottom", fontsize="small",
    )  # fmt: skip


def _draw_interval(ax: Axes, arrival: Arrival) -> None:
    """Mark the 90 % interval and the median above the bars."""
    first, last = arrival.interval()
    if first is pd.NaT or arrival.reached:
        return
    end = horizon_of(arrival) if last is pd.NaT else last
    across, ink = ax.get_xaxis_transform(), plt.rcParams["text.color"]
    ends = mdates.date2num([first, end])
    ax.plot(ends, [0.9, 0.9], color=ink, linewidth=2, transform=across)
    if arrival.median is not pd.NaT:
        ax.plot(mdates.date2num(arrival.median), 0.9, "o", color=ink, transform=across)
    ax.annotate(
        "90% interval", (ends[0], 0.9), xycoords=across, xytext=(0, 4),
        textcoords="offset points", fontsize="small",
    )  # fmt: skip


def _at(start: pd.Timestamp, days: NDArray[np.float64]) -> pd.DatetimeIndex:
    return start + pd.to_timedelta(days, unit="D")


def _own(ax: Axes | None) -> Axes:
    """The Axes given, or that of a new figure."""
    return plt.subplots(figsize=(8, 4.5), layout="constrained")[1] if ax is None else ax
