"""Pictures of a fit, a forecast and an arrival; their titles say what was found.

Each function takes the Axes to draw into, or makes a figure of its own, and returns the Axes. What
it draws can be had as a table: `Fit.growth_frame`, `Forecast.frame`, `Arrival.dates`. Colours are
from Okabe and Ito's set for colour-blind eyes (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib import dates as mdates
from matplotlib.axes import Axes
from numpy.typing import NDArray
from scipy import special

from antgrowth import _drawing as draw
from antgrowth._render import share_words
from antgrowth._words import counted
from antgrowth.errors import AntgrowthError
from antgrowth.fit import Fit
from antgrowth.forecast import CONDITION, Arrival, Forecast
from antgrowth.stages import STAGES

__all__ = ["Standing", "place_in_species", "plot_arrival", "plot_fit", "plot_forecast"]

BLUE, ORANGE, GREY = "#0072B2", "#E69F00", "#999999"

UNUSUAL = 0.05
"""A colony is ahead or behind when fewer of its species than this are as far out."""


@dataclass(frozen=True)
class Standing:
    """How a colony's latest count compares with what its profile expects of the species.

    Attributes
    ----------
    stage : str
        The most advanced stage that tells anything.
    date : Timestamp
    found : str
        The count in words.
    fewer, more : float
        Share of colonies expected to have fewer, and more, at the same temperatures.
    """

    stage: str
    date: pd.Timestamp
    found: str
    fewer: float
    more: float

    @property
    def verdict(self) -> str:
        """One of "on track", "ahead", "behind"."""
        if self.fewer > 1 - UNUSUAL:
            return "ahead"
        return "behind" if self.more > 1 - UNUSUAL else "on track"


def place_in_species(fit: Fit) -> Standing:
    """Compare the last count of the most advanced stage with the species.

    Parameters
    ----------
    fit : Fit

    Returns
    -------
    Standing

    Notes
    -----
    The species is 200 draws of the prior, each with a Poisson number around what the keeper would
    see of it; whole simulated colonies scatter nearly the same. A count of none compares only where
    the species expects at least one. A range counts by its nearer end, so that a colony is ahead or
    behind only if all of its range is.
    """
    frame = fit.counts.frame
    expected = fit.model.expect(fit.species_draws, fit.species_growth)[:, : len(frame)]
    expected = np.maximum(expected, 0.0)
    chosen = 0
    for stage in (*STAGES[::-1], "brood"):
        rows = np.flatnonzero(frame["stage"] == stage)
        if len(rows) and (frame["high"].iloc[rows[-1]] > 0 or expected[:, rows[-1]].mean() > 1):
            chosen = int(rows[-1])
            break
    cell, mean = frame.iloc[chosen], expected[:, chosen]
    low, high = float(cell["low"]), float(cell["high"])
    return Standing(
        stage=cell["stage"],
        date=cell["date"],
        found=draw.count_words(low, high, cell["kind"], cell["stage"]),
        fewer=float(special.pdtr(low - 1, mean).mean()) if low > 0 else 0.0,
        more=float(special.pdtrc(high, mean).mean()) if np.isfinite(high) else 0.0,
    )


def plot_fit(
    fit: Fit,
    stages: Sequence[str] | None = None,
    ax: Axes | Sequence[Axes] | NDArray[np.object_] | None = None,
) -> NDArray[np.object_]:
    """Draw each stage's counts on the fitted growth, before what is usual for the species.

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
    Bands are expected growth (`Fit.growth_frame`); counts also stray by chance and miscounting.
    """
    names = _stages(fit, stages)
    axes = _panels(names) if ax is None else _given(names, ax)
    growth = fit.growth_frame().set_index(["source", "stage"])
    for panel, stage in zip(axes, names, strict=True):
        usual, colony = growth.loc[("species", stage)], growth.loc[("colony", stage)]
        label = f"usual for {fit.species.scientific_name} (90%)"
        _band(panel, usual["date"], usual["q05"], usual["q95"], GREY, 0.3, label)
        label = "this colony, expected (90%)"
        _band(panel, colony["date"], colony["q05"], colony["q95"], BLUE, 0.3, label)
        panel.plot(colony["date"], colony["q50"], color=BLUE, label="its median")
        seen = draw.draw_notes(panel, fit, stage)
        own = max(seen, colony["q95"].max(), usual["q05"].max(), 1.0)
        draw.dress(panel, 1.1 * max(own, min(usual["q95"].max(), 2 * own)))
        panel.set_ylabel(stage)
    title, subtitle = _fit_title(fit)
    if ax is None:
        draw.head_figure(axes[0].figure, title, subtitle)
        draw.legend_below(axes[0].figure, axes)
    else:
        draw.head(axes[0], title, subtitle)
        draw.legend(axes[0], axes)
    return axes


def _stages(fit: Fit, stages: Sequence[str] | None) -> tuple[str, ...]:
    known = (*STAGES, "brood")
    if stages is None:
        return known if (fit.counts.frame["stage"] == "brood").any() else STAGES
    names = (stages,) if isinstance(stages, str) else tuple(stages)
    if not names or set(names) - set(known):
        raise AntgrowthError(
            f"plot_fit: stages = {stages!r}. Give one or more of {', '.join(known)}."
        )
    return names


def _panels(names: tuple[str, ...]) -> NDArray[np.object_]:
    """Axes of a new figure, one a stage, in two columns."""
    columns = min(len(names), 2)
    lines = -(-len(names) // columns)
    grid = plt.subplots(
        lines, columns, sharex=True, squeeze=False, layout="constrained",
        figsize=(9, 1.4 + 2.2 * lines),
    )[1].ravel()  # fmt: skip
    for spare in grid[len(names) :]:
        spare.remove()
        grid[len(names) - 2].tick_params(labelbottom=True)  # nothing under it has the dates now
    return grid[: len(names)]


def _given(names: tuple[str, ...], ax: Any) -> NDArray[np.object_]:
    axes = np.atleast_1d(np.asarray(ax, dtype=object)).ravel()
    if len(axes) != len(names):
        raise AntgrowthError(
            f"plot_fit: {len(axes)} Axes for {counted(len(names), 'stage')} "
            f"({', '.join(names)}). Give one Axes a stage, or choose stages."
        )
    return axes


def _fit_title(fit: Fit) -> tuple[str, str]:
    place = place_in_species(fit)
    title = {
        "on track": f"On track: {place.stage} within the species' usual range",
        "ahead": f"Ahead: more {place.stage} than is usual for the species",
        "behind": f"Behind: fewer {place.stage} than is usual for the species",
    }[place.verdict]
    if not fit.converged:
        title = f"NOT CONVERGED. {title}"
    subtitle = f"{fit.counts.name}: {place.found} on {draw.day_words(place.date)}"
    ant = fit.species.scientific_name
    if place.verdict == "behind":
        subtitle += f"; {share_words(place.more)} of {ant} colonies are expected to have more"
    elif place.fewer > 0:
        subtitle += f"; {share_words(place.fewer)} of {ant} colonies are expected to have fewer"
    return title, subtitle


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
    _band(ax, table["date"], table["q05"], table["q95"], BLUE, 0.2, "90% of colonies")
    _band(ax, table["date"], table["q25"], table["q75"], BLUE, 0.35, "50% of colonies")
    ax.plot(table["date"], table["q50"], color=BLUE, label="median")
    seen = 1.1 * draw.draw_notes(ax, forecast.fit, "workers")
    if workers is None:
        shown, top = table, table["q95"].max()
        title = _horizon_title(table.iloc[-1])
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
    draw.head(ax, title, f"{CONDITION}; temperature: {forecast.assumed}")
    return ax


def _draw_threshold(ax: Axes, arrival: Arrival) -> None:
    ax.axhline(arrival.workers, color=ORANGE, linewidth=1.5, linestyle="--")
    ax.annotate(
        counted(arrival.workers, "worker"), (1, arrival.workers), xytext=(-2, 3), ha="right",
        xycoords=ax.get_yaxis_transform(), textcoords="offset points", fontsize="small",
    )  # fmt: skip
    first, last = arrival.interval()
    if first is not pd.NaT and not arrival.reached:
        end = _horizon(arrival) if last is pd.NaT else last
        ax.axvspan(first, end, color=ORANGE, alpha=0.2, linewidth=0, zorder=0, label="arrival (90%)")


def _show_days(ax: Axes, forecast: Forecast, last: pd.Timestamp) -> None:
    """Show the days up to the last, and as much of the past, but two months if there are."""
    ahead = last - forecast.start
    past = forecast.start - max(ahead, pd.Timedelta(days=60))
    first = max(past, min(forecast.fit.queen_since, forecast.fit.counts.start))
    pad = 0.02 * (last - first)
    ax.set_xlim(first - pad, last + pad)


def _horizon_title(row: pd.Series) -> str:
    low, middle, high = (f"{row[level]:,.0f}" for level in ("q05", "q50", "q95"))
    return f"{low} to {high} workers on {draw.day_words(row['date'])}, about {middle} as a median"


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
    start, far = arrival.start, _horizon(arrival)
    waited = (arrival.dates - np.datetime64(start, "D")).astype(float)
    waited = np.sort(waited[~np.isnat(arrival.dates)])
    each = "day"
    if len(waited):
        each = _draw_chances(ax, start, waited, len(arrival.dates))
        _draw_interval(ax, arrival)
    else:
        ax.set(xlim=(start, far), ylim=(0, 100))
        ax.annotate("no simulated colony comes so far", (0.5, 0.5), xycoords="axes fraction", ha="center")
    draw.dress(ax)
    ax.set_ylabel(f"chance each {each} [%]")
    subtitle = (
        f"{CONDITION}; {share_words(arrival.chance_never)} chance that it comes only after "
        f"{draw.day_words(far)}"
    )
    draw.head(ax, arrival_title(arrival), subtitle)
    return ax


def _draw_chances(
    ax: Axes, start: pd.Timestamp, waited: NDArray[np.float64], draws: int
) -> str:
    """Draw bars by day, week or four weeks, and the running total; return what a bar spans."""
    span = waited[-1] - waited[0]
    width, each = next(
        ((days, name) for days, name in ((1, "day"), (7, "week")) if span <= 40 * days),
        (28, "four weeks"),
    )
    edges = np.arange(waited[0], waited[-1] + width + 1, width) - 0.5
    chance = 100 * np.histogram(waited, edges)[0] / draws
    ax.bar(
        _at(start, edges[:-1]), chance, width=0.94 * width, align="edge", color=BLUE, alpha=0.4
    )
    ax.set_ylim(0, 1.35 * chance.max())
    # The running total has no axis of its own: it ends at the height that stands for all colonies.
    height = 1.0 / 1.35
    day, number = np.unique(waited, return_counts=True)
    total = np.cumsum(number) / draws
    across = ax.get_xaxis_transform()
    ax.plot(_at(start, day), height * total, color=ORANGE, linewidth=2, transform=across)
    marks = {int(np.searchsorted(total, share)): share for share in (0.1, 0.5, 0.9)}
    for at, share in marks.items():
        if at < len(total):
            date = _at(start, day[[at]])[0]
            ax.plot(date, height * total[at], "o", color=ORANGE, transform=across)
            ax.annotate(
                f"{100 * share:.0f} % by {draw.day_words(date, date.year)}",
                (mdates.date2num(date), height * total[at]), xycoords=across, xytext=(7, -3), textcoords="offset points",
                va="top", fontsize="small",
            )  # fmt: skip
    # Room for the texts, which stand to the right of their marks.
    span = max(span, 6.0)
    texts_end = day[min(max(marks), len(day) - 1)] + 0.3 * span
    ends = _at(start, np.array([day[0] - 0.05 * span - 1, max(day[-1] + 0.05 * span, texts_end)]))
    ax.set_xlim(ends[0], ends[1])
    return each


def _draw_interval(ax: Axes, arrival: Arrival) -> None:
    """Mark the 90 % interval and the median above the bars."""
    first, last = arrival.interval()
    if first is pd.NaT or arrival.reached:
        return
    end = _horizon(arrival) if last is pd.NaT else last
    across, ink = ax.get_xaxis_transform(), plt.rcParams["text.color"]
    ax.plot([first, end], [0.9, 0.9], color=ink, linewidth=2, transform=across)
    if arrival.median is not pd.NaT:
        ax.plot(arrival.median, 0.9, "o", color=ink, transform=across)
    ax.annotate(
        "90% interval", (mdates.date2num(first), 0.9), xycoords=across, xytext=(0, 4),
        textcoords="offset points", fontsize="small",
    )  # fmt: skip


def arrival_title(arrival: Arrival) -> str:
    """Write when a number of workers comes, as short as a title has to be."""
    number, year = counted(arrival.workers, "worker"), arrival.start.year
    if arrival.reached:
        return f"{number}: reached by {draw.day_words(arrival.start, year)}"
    (first, last), middle, far = arrival.interval(), arrival.median, _horizon(arrival)
    if first is pd.NaT:
        return f"{number}: hardly before {draw.day_words(far, year)}"
    if middle is pd.NaT:
        return (
            f"{number}: hardly before {draw.day_words(first, year)}, "
            f"most likely after {draw.day_words(far, year)}"
        )
    if last is pd.NaT:
        span = f"{draw.day_words(first, year)} to beyond {draw.day_words(far, year)}"
    else:
        span = draw.span_words(first, last, year)
    return f"{number}: {span}, most likely around {draw.day_words(middle, (last if last is not pd.NaT else far).year)}"


def _horizon(arrival: Arrival) -> pd.Timestamp:
    return arrival.start + pd.Timedelta(days=arrival.horizon)


def _at(start: pd.Timestamp, days: NDArray[np.float64]) -> pd.DatetimeIndex:
    return start + pd.to_timedelta(days, unit="D")


def _band(
    ax: Axes, dates: pd.Series, low: pd.Series, high: pd.Series, color: str, alpha: float, label: str
) -> None:
    ax.fill_between(dates, low, high, color=color, alpha=alpha, linewidth=0, label=label)


def _own(ax: Axes | None) -> Axes:
    """The Axes given, or that of a new figure."""
    return plt.subplots(figsize=(8, 4.5), layout="constrained")[1] if ax is None else ax
