"""Pictures of a fit: what was noted, and what the nest probably held."""

from __future__ import annotations

from collections.abc import Sequence

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.path import Path
from numpy.typing import NDArray

from antgrowth._core import figures as draw
from antgrowth._core.figures import BLUE, GREY
from antgrowth._core.stages import STAGES
from antgrowth._core.stats import REACH_90
from antgrowth._core.text import told
from antgrowth.errors import AntgrowthError
from antgrowth.inference.posterior import Posterior
from antgrowth.inference.species_rank import place_in_species

ARROW = np.array([(-0.4, 0), (0.4, 0), (0, 0), (0, 1), (-0.35, 0.65), (0, 1), (0.35, 0.65)])
STROKES = (Path.MOVETO, Path.LINETO) * 2 + (Path.MOVETO, Path.LINETO, Path.LINETO)
"""A marker that stands on its point and points up, and how its corners are joined."""


def plot_fit(
    fit: Posterior,
    stages: Sequence[str] | None = None,
    ax: Axes | Sequence[Axes] | NDArray[np.object_] | None = None,
) -> NDArray[np.object_]:
    """Draw each stage's counts on what the nest probably held, and on what is usual.

    Parameters
    ----------
    fit : Posterior
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
    names = chosen_stages(fit, stages, "plot_fit")
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
        seen = draw_notes(panel, fit, stage)
        own = max(seen, colony["q95"].max(), usual["q05"].max(), 1.0)
        draw.style_axes(panel, 1.1 * max(own, min(usual["q95"].max(), 2 * own)))
        panel.set_ylabel(stage)
    place = place_in_species(fit)
    title = place.finding if fit.converged else f"NOT CONVERGED. {place.finding}"
    subtitle = f"{fit.counts.name}: {place.evidence(fit.species.scientific_name)}"
    draw.head_panels(axes, ax is None, title, subtitle)
    return axes


def chosen_stages(fit: Posterior, stages: Sequence[str] | None, caller: str) -> tuple[str, ...]:
    """Stages to draw: those asked for; else the four, and "brood" if it was counted."""
    known = (*STAGES, "brood")
    if stages is None:
        return known if (fit.counts.frame["stage"] == "brood").any() else STAGES
    names = [stages] if isinstance(stages, str) else stages
    if (
        isinstance(names, list | tuple)
        and names
        and all(isinstance(name, str) and name in known for name in names)
    ):
        return tuple(names)
    raise AntgrowthError(
        f"{caller}: stages = {told(stages)}. Give one or more of {', '.join(known)}."
    )


def draw_notes(ax: Axes, fit: Posterior, stage: str, errors: bool = True) -> float:
    """Draw what was noted of a stage; return the greatest number drawn.

    A count is a point with its 90 % counting error (unless `errors` are left out), hollow where it
    was rough; a range is a bar; an at-least count points up; a first sighting is a star, with a
    dotted line from the last look.
    """
    frame, best = fit.counts.frame, fit.estimate
    variance = fit.model.error(best.linearised, best.error_scale)[: len(frame)]
    # None is a bound, not a number that errs either way.
    reach = np.where((frame["low"] > 0) & errors, REACH_90 * np.sqrt(variance), 0.0)
    cells = frame.assign(reach=reach)
    cells = cells[cells["stage"] == stage]
    ink = plt.rcParams["text.color"]
    style = {"color": ink, "zorder": 3, "linestyle": "none"}

    def of(*kinds: str) -> pd.DataFrame:
        return cells[cells["kind"].isin(kinds)]

    for kind, fill, label in (("exact", ink, "counted"), ("rough", "none", "roughly counted")):
        some = of(kind)
        if len(some):
            down = np.minimum(some["reach"], some["low"])  # nobody counts fewer than none
            ax.errorbar(
                some["date"], some["low"], yerr=[down, some["reach"]] if errors else None,
                marker="o", markersize=5, markerfacecolor=fill, elinewidth=1, label=label, **style,
            )  # fmt: skip
    some = of("between", "below")
    if len(some):
        half = (some["high"] - some["low"]) / 2
        ax.errorbar(
            some["date"], some["low"] + half, yerr=half, elinewidth=3, capsize=4, alpha=0.7,
            label="noted as a range", **style,
        )  # fmt: skip
    some = of("at least")
    if len(some):
        style |= {"markerfacecolor": "none", "markeredgewidth": 1.3}
        ax.plot(some["date"], some["low"], marker=Path(ARROW, STROKES), markersize=26, **style)
        middle = Path(ARROW - (0, 0.5), STROKES)  # in a legend, beside its text
        ax.plot([], [], marker=middle, markersize=12, label="at least", **style)
    some = of("first")
    for since in some[["last_look", "date"]].dropna().to_numpy():
        ax.plot(since, [0, 1], color=ink, linewidth=1, linestyle=":", zorder=3)
    if len(some):
        ax.plot(some["date"], some["low"], marker="*", markersize=9, label="first seen", **style)
    tops = np.where(np.isfinite(cells["high"]), cells["high"], 1.15 * cells["low"])
    errs = np.where(cells["kind"].isin(["exact", "rough"]), cells["reach"], 0.0)
    return float(np.max(tops + errs, initial=0.0))
