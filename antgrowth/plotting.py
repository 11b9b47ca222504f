"""Pictures of a fit, a forecast and an arrival; their titles say what was found.

Each function takes the Axes to draw into, or makes a figure of its own, and returns the Axes. What
it draws can be had as a table: `Fit.growth_frame`, `Forecast.frame`, `Arrival.dates`. Colours are
told apart by colour-blind eyes (Okabe and Ito's set, from memory).
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib import dates as mdates
from matplotlib.axes import Axes
from matplotlib.path import Path
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray
from scipy import special

from antgrowth._render import REACH_90, share_words
from antgrowth._words import counted
from antgrowth.errors import AntgrowthError
from antgrowth.fit import Fit
from antgrowth.forecast import CONDITION, Arrival, Forecast
from antgrowth.stages import STAGES

__all__ = ["Standing", "place_in_species", "plot_arrival", "plot_fit", "plot_forecast"]

BLUE, ORANGE, GREY = "#0072B2", "#E69F00", "#999999"

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
"""English whatever the computer's language, as all else is."""

SINGULAR = {"eggs": "egg", "larvae": "larva", "pupae": "pupa", "workers": "worker"}

ARROW = Path([(0, 0), (0, 1), (-0.3, 0.7), (0, 1), (0.3, 0.7)], [1, 2, 1, 2, 2])
"""A marker that stands on a point and points up."""

UNUSUAL = 0.05
"""A colony is ahead or behind when fewer of its species than this are as far out."""


# Fit ------------------------------------------------------------------------------------------


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
    The species is 200 draws of the prior, each with a Poisson number around what it expects the
    keeper to see; whole simulated colonies scatter nearly the same. A count of none compares only
    where the species expects at least one. A range counts by its nearer end, so that a colony is
    ahead or behind only if all of its range is.
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
    cell = frame.iloc[chosen]
    low, high = float(cell["low"]), float(cell["high"])
    mean = expected[:, chosen]
    fewer = special.pdtr(low - 1, mean).mean() if low > 0 else 0.0
    more = special.pdtrc(high, mean).mean() if np.isfinite(high) else 0.0
    return Standing(cell["stage"], cell["date"], _count_words(cell), float(fewer), float(more))


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
        If a stage is not known, or the Axes are not one a stage.

    Notes
    -----
    Bands are expected growth (`Fit.growth_frame`); counts also stray by chance and miscounting.
    """
    names = _stages(fit, stages)
    axes, own = _axes_for(names, ax)
    growth = fit.growth_frame().set_index(["source", "stage"])
    for panel, stage in zip(axes, names, strict=True):
        usual, colony = growth.loc[("species", stage)], growth.loc[("colony", stage)]
        panel.fill_between(
            usual["date"], usual["q05"], usual["q95"], color=GREY, alpha=0.3, linewidth=0,
            label=f"usual for {fit.species.scientific_name} (90%)",
        )  # fmt: skip
        panel.fill_between(
            colony["date"], colony["q05"], colony["q95"], color=BLUE, alpha=0.3, linewidth=0,
            label="this colony, expected (90%)",
        )  # fmt: skip
        panel.plot(colony["date"], colony["q50"], color=BLUE, label="median")
        seen = _draw_notes(panel, fit, stage)
        top = max(seen, colony["q95"].max(), usual["q05"].max(), 1.0)
        _dress(panel, 1.15 * max(top, min(usual["q95"].max(), 2 * top)))
        panel.set_ylabel(stage)
    title, subtitle = _fit_title(fit)
    if own:
        _head_figure(axes[0].figure, title, subtitle)
        _legend_below(axes)
    else:
        _head(axes[0], title, subtitle)
        axes[0].legend(*_legend(axes), loc="upper left", fontsize="small", frameon=False)
    return axes


def _stages(fit: Fit, stages: Sequence[str] | None) -> tuple[str, ...]:
    known = (*STAGES, "brood")
    if stages is None:
        return known if (fit.counts.frame["stage"] == "brood").any() else STAGES
    names = (stages,) if isinstance(stages, str) else tuple(stages)
    unknown = [name for name in names if name not in known]
    if unknown or not names:
        raise AntgrowthError(
            f"plot_fit: stages = {stages!r}. Give one or more of {', '.join(known)}."
        )
    return names


def _axes_for(names: tuple[str, ...], ax: Any) -> tuple[NDArray[np.object_], bool]:
    """Axes for the stages, and whether their figure was made here."""
    if ax is not None:
        axes = np.atleast_1d(np.asarray(ax, dtype=object)).ravel()
        if len(axes) != len(names):
            raise AntgrowthError(
                f"plot_fit: {len(axes)} Axes for {len(names)} stages ({', '.join(names)}). "
                "Give one Axes a stage, or choose stages."
            )
        return axes, False
    columns = 1 if len(names) == 1 else 2
    lines = -(-len(names) // columns)
    figure, grid = plt.subplots(
        lines, columns, sharex=True, squeeze=False, layout="constrained",
        figsize=(9, 1.7 + 2.1 * lines),
    )  # fmt: skip
    axes = grid.ravel()
    for spare in axes[len(names) :]:
        spare.remove()
        axes[len(names) - 2].tick_params(labelbottom=True)  # the panel above has none below it
    return axes[: len(names)], True


def _fit_title(fit: Fit) -> tuple[str, str]:
    place = place_in_species(fit)
    title = {
        "on track": f"On track: {place.stage} within the species' usual range",
        "ahead": f"Ahead: more {place.stage} than is usual for the species",
        "behind": f"Behind: fewer {place.stage} than is usual for the species",
    }[place.verdict]
    if not fit.converged:
        title = f"NOT CONVERGED. {title}"
    subtitle = f"{fit.counts.name}: {place.found} on {_day(place.date, place.date.year)}"
    ant = fit.species.scientific_name
    if place.verdict == "behind":
        subtitle += f"; {share_words(place.more)} of {ant} are expected to have more by then"
    elif place.fewer > 0:
        subtitle += f"; {share_words(place.fewer)} of {ant} are expected to have fewer by then"
    return title, subtitle


# Forecast -------------------------------------------------------------------------------------


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
    dates, fit = table["date"], forecast.fit
    for low, high, alpha, level in (("q05", "q95", 0.22, "90%"), ("q25", "q75", 0.35, "50%")):
        ax.fill_between(
            dates, table[low], table[high], color=BLUE, alpha=alpha, linewidth=0,
            label=f"{level} of colonies",
        )  # fmt: skip
    ax.plot(dates, table["q50"], color=BLUE, label="median")
    seen = _draw_notes(ax, fit, "workers")
    if workers is None:
        last, top = len(table) - 1, table["q95"].max()
        title = _horizon_title(table.iloc[-1])
    else:
        arrival = forecast.arrival(workers)
        beyond = np.flatnonzero(table["q50"] > 3 * workers)
        last = int(beyond[0]) if len(beyond) and not arrival.reached else len(table) - 1
        top = min(max(table["q95"][: last + 1].max(), 1.2 * workers), 3 * workers)
        _draw_threshold(ax, arrival)
        title = _arrival_title(arrival)
    _dress(ax, max(top, 1.15 * seen, 1.0))
    shown = (dates[last] - forecast.start) / pd.Timedelta("1D")
    past = min(fit.days, max(60.0, shown))
    pad = pd.Timedelta(days=0.02 * (shown + past))
    ax.set_xlim(forecast.start - pd.Timedelta(days=past) - pad, dates[last] + pad)
    ax.set_ylabel("workers")
    ax.legend(loc="upper left", frameon=False, fontsize="small")
    _head(ax, title, f"{CONDITION}; temperature: {forecast.assumed}")
    return ax


def _draw_threshold(ax: Axes, arrival: Arrival) -> None:
    ax.axhline(arrival.workers, color=ORANGE, linewidth=1.2, linestyle="--")
    ax.annotate(
        counted(arrival.workers, "worker"), (1, arrival.workers), xytext=(-4, 3), ha="right",
        xycoords=ax.get_yaxis_transform(), textcoords="offset points", fontsize="small",
    )  # fmt: skip
    first, last = arrival.interval()
    if first is not pd.NaT and not arrival.reached:
        end = arrival.start + pd.Timedelta(days=arrival.horizon) if last is pd.NaT else last
        ax.axvspan(first, end, color=ORANGE, alpha=0.2, linewidth=0, label="arrival, 90% interval")


def _horizon_title(row: pd.Series) -> str:
    low, middle, high = (f"{row[level]:,.0f}" for level in ("q05", "q50", "q95"))
    return f"{low} to {high} workers by {_day(row['date'], None)}, most likely around {middle}"


# Arrival --------------------------------------------------------------------------------------


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
    start, far = arrival.start, arrival.start + pd.Timedelta(days=arrival.horizon)
    waited = (arrival.dates - np.datetime64(start, "D")).astype(float)
    waited = np.sort(waited[~np.isnat(arrival.dates)])
    if len(waited):
        span = waited[-1] - waited[0]
        width, each = next(
            ((days, name) for days, name in ((1, "day"), (7, "week")) if span <= 45 * days),
            (28, "four weeks"),
        )
        edges = np.arange(waited[0], waited[-1] + width + 1, width) - 0.5
        number, _ = np.histogram(waited, edges)
        ax.bar(
            _at(start, edges[:-1]), 100 * number / len(arrival.dates), width=0.92 * width,
            align="edge", color=BLUE, alpha=0.6, label=f"chance each {each}",
        )  # fmt: skip
        ax.set_ylabel(f"chance each {each} [%]")
        _draw_running_total(ax, start, waited, len(arrival.dates))
    else:
        ax.set_xlim(start, far)
        ax.set_ylabel("chance each day [%]")
    first, last = arrival.interval()
    _dress(ax, None)
    _head(
        ax,
        _arrival_title(arrival),
        f"{CONDITION}; chance that it takes longer than to {_day(far, start.year)}: "
        f"{share_words(arrival.chance_never)}",
    )
    return ax
