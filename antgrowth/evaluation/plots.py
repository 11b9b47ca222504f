"""Pictures that hold a fit against its profile and against its own notes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from numpy.typing import NDArray
from scipy import special

from antgrowth._core import figures as draw
from antgrowth._core.deprecation import renamed
from antgrowth._core.figures import BLUE, GREY, ORANGE
from antgrowth._core.stages import STAGES
from antgrowth._core.stats import REACH_90
from antgrowth._core.summary import rounded
from antgrowth._core.text import counted
from antgrowth.errors import AntgrowthError
from antgrowth.evaluation.courses import REGIMES, ProfileCourses
from antgrowth.evaluation.diagnostics import Diagnostics
from antgrowth.evaluation.folds import OURS, THEN
from antgrowth.evaluation.next_count import NextCount
from antgrowth.evaluation.score_table import Backtest
from antgrowth.inference.plots import chosen_stages, draw_notes

WELL_KNOWN = 0.5
"""A parameter counts as told by the notes if they removed so much of its spread."""


def plot_parameters(diagnostics: Diagnostics, ax: Axes | None = None) -> Axes:
    """Draw each parameter before and after the notes.

    Notes
    -----
    Parameters of different units share an axis: standard deviations of the profile, from its
    middle. `Fit.summary_frame` has the numbers.
    """
    draw.check_axes(ax)
    table = diagnostics.fit.summary_frame()
    figure = None
    if ax is None:
        size = (9, 1.6 + 0.3 * len(table))
        figure, ax = plt.subplots(figsize=size, layout="constrained")
    place = np.arange(len(table))
    spread = REACH_90 * (1.0 - table["learned"])
    ax.barh(place, 2 * REACH_90, left=-REACH_90, height=0.72, color=GREY, alpha=0.3,
            label="species profile (90%)")  # fmt: skip
    ax.barh(place, 2 * spread, left=table["moved"] - spread, height=0.36, color=BLUE, alpha=0.75,
            label="this colony, given the notes (90%)")  # fmt: skip
    ink = plt.rcParams["text.color"]
    ax.plot(table["moved"], place, "o", color=ink, markersize=4, label="median")
    odd = table["parameter"].isin(diagnostics.at_bounds).to_numpy()
    if odd.any():
        ax.plot(table["moved"][odd], place[odd], "D", color=ORANGE, markersize=8, zorder=3,
                markeredgecolor=ink, label="at a bound, or far from the profile")  # fmt: skip
    for at, row in enumerate(table.to_dict("records")):
        median, low, high = rounded(row["median"], row["q05"], row["q95"])
        unit = "" if row["unit"] == "1" else f" {row['unit']}"
        ax.annotate(
            f"{median} ({low} to {high}){unit}", (1, at), xytext=(6, 0), va="center",
            xycoords=ax.get_yaxis_transform(), textcoords="offset points", fontsize="small",
            annotation_clip=False,
        )  # fmt: skip
    ax.set_yticks(place, table["parameter"])
    ax.set_ylim(len(table) - 0.4, -0.6)
    farthest = max(REACH_90, (table["moved"].abs() + spread).max()) + 0.15
    ax.set_xlim(-farthest, farthest)
    ax.set_xlabel("distance from the profile's middle [standard deviations of the profile]")
    ax.spines[["top", "right"]].set_visible(False)
    ax.tick_params(axis="y", length=0)
    ax.grid(axis="x", alpha=0.25)
    ax.set_axisbelow(True)
    told = int((table["learned"] >= WELL_KNOWN).sum())
    driven = int((table["note"] == "prior-driven").sum())
    title = f"The notes tell most about {told} of {counted(len(table), 'parameter')}"
    title += f"; {driven} are still the profile's"
    fit = diagnostics.fit
    draw.head(ax, title, f"{fit.counts.name}, before and after its notes; beside: median (90%)")
    if figure is None:
        draw.legend(ax)
    else:
        draw.legend_below(figure, [ax])
    return ax


def plot_predictive(
    diagnostics: Diagnostics, stages: Sequence[str] | None = None, ax: Any = None
) -> NDArray[np.object_]:
    """Draw the notes of each stage on what a usual count would find in like colonies."""
    fit = diagnostics.fit
    names = chosen_stages(fit, stages, "plot_predictive")
    axes = draw.panels(names) if ax is None else draw.given_axes(names, ax, "plot_predictive")
    daily, cells = diagnostics.daily, diagnostics.cells
    for panel, stage in zip(axes, names, strict=True):
        usual = daily[daily["stage"] == stage]
        draw.band(panel, usual, "q05", "q95", BLUE, alpha=0.2, label="90% of like counts")
        draw.band(panel, usual, "q25", "q75", BLUE, alpha=0.35, label="50% of like counts")
        own = cells[cells["stage"] == stage]
        rough = own[own["kind"] == "rough"]
        if len(rough):
            panel.vlines(rough["date"], rough["q05"], rough["q95"], color=BLUE, alpha=0.6,
                         linewidth=5, label="90% of rough counts")  # fmt: skip
        top = max(draw_notes(panel, fit, stage, errors=False), usual["q95"].max(), 1.0)
        missed = own[~own["held_90"]]
        if len(missed):
            panel.plot(missed["date"], missed["low"], "o", color=ORANGE, markersize=12,
                       markerfacecolor="none", markeredgewidth=2, label="outside its 90%",
                       linestyle="none", zorder=4)  # fmt: skip
        draw.style_axes(panel, 1.1 * max(top, rough["q95"].max() if len(rough) else 0.0))
        panel.set_ylabel(stage)
    held = int(cells["held_90"].sum())
    title = f"{held} of {counted(len(cells), 'note')} lie in the 90% range of like colonies"
    subtitle = (
        f"{fit.counts.name}: same law, same warmth, other luck, counted as usual. Nine in ten or "
        "more should be in; to be in is no proof, since these notes shaped the fit"
    )
    draw.head_panels(axes, ax is None, title, subtitle)
    return axes


@renamed(looks="advice")
def plot_next_count(advice: NextCount, ax: Axes | None = None) -> Axes:
    """Draw by how much looks to come should narrow a date, a line for each choice of stages.

    Parameters
    ----------
    advice : NextCount
    ax : Axes, optional
    """
    ax = draw.own_axes(ax)
    table, best = advice.visits, advice.best
    alone = table[table["stages"].map(len) == 1]
    for stage, colour, line in zip(
        STAGES, (GREY, ORANGE, BLUE, draw.RED), (":", "--", "-.", "-"), strict=True
    ):
        own = alone[alone["stages"] == (stage,)]
        ax.plot(own["date"], own["width"], line, color=colour, label=stage)
    every = table[table["stages"].map(len) == len(STAGES)]
    ax.plot(every["date"], every["width"], color=plt.rcParams["text.color"], label="all four")
    if best is not None:
        ax.plot([best["date"]], [best["width"]], "o", color=plt.rcParams["text.color"],
                label="advised")  # fmt: skip
    ax.axhline(advice.now, color=GREY, linewidth=1.0, zorder=0)
    ax.annotate("as it is known now", (1, advice.now), xycoords=ax.get_yaxis_transform(),
                xytext=(-2, 3), textcoords="offset points", ha="right",
                fontsize="small")  # fmt: skip
    draw.style_axes(ax)
    ax.set_ylim(0, 1.12 * advice.now)
    ax.set_ylabel("width of the 90 % interval [days]")
    ax.set_xlabel("date of the look")
    draw.head(ax, advice.sentence(), "By the colonies of the forecast, counted as a keeper counts")
    ax.legend(loc="lower left", fontsize="small", ncols=3, edgecolor="none")
    return ax


def plot_coverage(scores: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Draw how often 90 % ranges held later counts, by stage and by how far ahead.

    Parameters
    ----------
    scores : DataFrame
        Columns by (a stage), of (how far ahead), counts, held_90; such as
        ``calibration/real_colonies.csv`` of the data sets. Other rows are left aside.
    ax : Axes, optional
    """
    ax = draw.own_axes(ax)
    rows = scores[scores["by"].isin(STAGES)]
    horizons = list(dict.fromkeys(rows["of"]))
    place = np.arange(len(horizons))
    marks = dict(zip(STAGES, ("o", "s", "D", "^"), strict=True))
    colours = dict(zip(STAGES, (GREY, ORANGE, BLUE, draw.RED), strict=True))
    for number, stage in enumerate(STAGES):
        own = rows[rows["by"] == stage].set_index("of").reindex(horizons)
        ax.plot(
            place + 0.12 * (number - 1.5), 100.0 * own["held_90"], marks[stage],
            color=colours[stage], label=stage,
        )  # fmt: skip
    ax.axhline(90.0, color=GREY, linewidth=1.0, zorder=0)
    ax.set_xticks(place, horizons)
    ax.set(ylim=(0, 102), ylabel="counts within the 90 % range [%]", xlabel="days ahead")
    least, most = 100.0 * rows["held_90"].min(), 100.0 * rows["held_90"].max()
    draw.head(
        ax,
        f"90 % ranges held {least:.0f} to {most:.0f} % of later counts",
        f"{rows['counts'].sum():,.0f} counts, by stage and by how far ahead",
    )
    ax.legend(loc="lower left", fontsize="small", ncols=len(STAGES), edgecolor="none")
    return ax


def plot_study(study: pd.DataFrame, ax: Sequence[Axes] | None = None) -> NDArray[np.object_]:
    """Draw how forecasts of simulated colonies did, kind by kind, beside what they promise.

    Parameters
    ----------
    study : DataFrame
        A row for each kind of colony, in its column or index kind; columns colonies, held 90 %,
        CRPS [d], CRPS species [d], such as ``calibration/study.csv`` of the data sets.
    ax : two Axes, optional

    Returns
    -------
    array of Axes, shape (2,)
    """
    if ax is None:
        size = (9.5, 1.9 + 0.27 * len(study))
        axes = draw.new_axes(1, 2, size, sharey=True, width_ratios=(1.1, 1))
    else:
        axes = draw.given_axes(("held", "scores"), ax, "plot_study")
    table = study.reset_index().sort_values("held 90 %", ascending=False, kind="stable")
    held, number = table["held 90 %"].to_numpy(), table["colonies"].to_numpy()
    place, hit = np.arange(len(table)), held / 100.0 * number
    reach = [100.0 * special.betaincinv(hit + 0.5, number - hit + 0.5, q) for q in (0.05, 0.95)]
    share, score = axes
    short = reach[1] < 90.0
    share.hlines(place, *reach, color=GREY, linewidth=4, alpha=0.6,
                 label="so many colonies leave open (90%)")  # fmt: skip
    share.plot(held[~short], place[~short], "o", color=BLUE, label="held")
    share.plot(held[short], place[short], "D", color=ORANGE, label="held less than promised")
    share.axvline(90.0, color=plt.rcParams["text.color"], linewidth=1.0, label="promised")
    share.set(xlim=(0, 103), xlabel="days of 30 workers in the 90 % interval [%]")
    share.set_yticks(place, table["kind"])
    share.set_ylim(len(table) - 0.4, -0.6)
    score.hlines(place, table["CRPS [d]"], table["CRPS species [d]"], color=GREY, linewidth=1)
    score.plot(table["CRPS species [d]"], place, "|", color=GREY, markersize=11, markeredgewidth=2,
               label="error of the profile alone")  # fmt: skip
    score.plot(table["CRPS [d]"], place, "s", color=BLUE, label="error with the notes")
    score.set_xlim(left=0)
    score.set_xlabel("mean error (CRPS) [days]")
    for panel in axes:
        panel.spines[["top", "right"]].set_visible(False)
        panel.grid(axis="x", alpha=0.25)
        panel.tick_params(axis="y", length=0)
    kinds = table["kind"].ne("all").to_numpy()
    title = (
        f"{(~short & kinds).sum()} of {counted(int(kinds.sum()), 'kind')} of colonies are held as "
        "promised, as far as so few can tell"
    )
    subtitle = "Simulated colonies, by programs of other laws too"
    draw.head_panels(axes, ax is None, title, subtitle)
    return axes


def plot_courses(courses: ProfileCourses) -> NDArray[np.object_]:
    """Draw the median of the workers of each profile over two years, a panel for either regime."""
    figure, axes = plt.subplots(1, 2, figsize=(12, 5.5), sharey=True, layout="constrained")
    names = list(dict.fromkeys(name for name, _ in courses.workers))
    for ax, regime in zip(axes, REGIMES, strict=True):
        for place, name in enumerate(names):
            workers = courses.workers[name, regime]
            style = ("-", "--", ":")[place // 7 % 3]
            ax.plot(np.where(workers >= 1, workers, np.nan), style, label=name)
        ax.set(title=regime, yscale="log", xlabel="days from the founding")
    axes[0].set_ylabel("workers, median")
    draw.legend_below(figure, axes)
    return np.asarray(axes)


def plot_backtest(trial: Backtest, ax: Axes | None = None) -> Axes:
    """Draw what each cutoff forecast beside what came; the numbers are in `Backtest.folds`.

    Parameters
    ----------
    trial : Backtest
    ax : Axes, optional

    Returns
    -------
    Axes

    Raises
    ------
    AntgrowthError
        If nothing was scored.

    Notes
    -----
    By the temperatures as known then. Of a number of workers that came: dates, a row a cutoff.
    Else the counts of the workers, or of what else was counted, each from the last cutoff before.
    """
    ax = draw.own_axes(ax)
    folds = trial.folds
    ours = folds[(folds["method"] == OURS) & (folds["temperatures"] == THEN)]
    ours = ours[ours["status"] == "scored"]
    if not len(ours):
        raise AntgrowthError("plot: no forecast could be scored, see `folds` for the reasons.")
    dated = ours[ours["target"] == "arrival"]
    if len(dated):
        held = _draw_trial_dates(ax, trial, dated)
        what, number = "dates", len(dated)
    else:
        stage = next(s for s in reversed(STAGES) if (ours["target"] == s).any())
        counts = ours[ours["target"] == stage].sort_values("cutoff").groupby("date").tail(1)
        held = _draw_trial_counts(ax, counts, stage)
        what, number = f"counts of {stage}", len(counts)
    cut = "; cut at the last day looked ahead" if len(dated) else ""
    draw.legend(ax)
    draw.head(
        ax, f"{held} of {number} {what} lay in their 90% interval",
        f"{trial.counts.name}: forecast from earlier looks, by what was known then{cut}",
    )  # fmt: skip
    return ax


def _draw_trial_dates(ax: Axes, trial: Backtest, rows: pd.DataFrame) -> int:
    """Intervals of the date, a row a cutoff, and the days on which it may have come."""
    rows = rows.reset_index(drop=True)
    ends = {name: rows["cutoff"] + pd.to_timedelta(rows[name], unit="D")
            for name in ("q05", "median", "q95", "truth_low", "truth_high")}  # fmt: skip
    place = np.arange(len(rows))
    ax.hlines(place, ends["q05"], ends["q95"], color=BLUE, alpha=0.5, linewidth=6,
              label="forecast (90%)")  # fmt: skip
    ax.plot(ends["median"], place, "o", color=BLUE, label="its median")
    ax.plot(rows["cutoff"], place, "|", color=GREY, markersize=12, label="cutoff")
    first, last = ends["truth_low"].min(), ends["truth_high"].max()
    ax.axvspan(first, max(last, first + pd.Timedelta(days=1)), color=ORANGE, alpha=0.4,
               linewidth=0, label="when it came", zorder=0)  # fmt: skip
    draw.style_axes(ax)
    ax.set_yticks(place, [f"from {cut:%Y-%m-%d}" for cut in rows["cutoff"]])
    ax.set_ylim(len(rows) - 0.4, -0.6)
    ax.grid(axis="y", visible=False)
    ax.grid(axis="x", alpha=0.25)
    ax.set_xlabel(f"date of {counted(trial.workers, 'worker')}")
    return int(rows["covered_90"].sum())


def _draw_trial_counts(ax: Axes, rows: pd.DataFrame, stage: str) -> int:
    """Intervals of the counts to come on their dates, and what was counted."""
    ax.vlines(rows["date"], rows["q05"], rows["q95"], color=BLUE, alpha=0.5, linewidth=6,
              label="forecast (90%)")  # fmt: skip
    ax.plot(rows["date"], rows["truth"], "o", color=plt.rcParams["text.color"], label="counted")
    draw.style_axes(ax, 1.1 * max(rows["q95"].max(), rows["truth"].max(), 1.0))
    ax.set_ylabel(stage)
    return int(rows["covered_90"].sum())
