"""The picture of what a date hangs on: a bar for each share of its variance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.axes import Axes

from antgrowth._pictures import drawing as draw
from antgrowth._showing.words import counted
from antgrowth.plotting import BLUE, GREY, ORANGE

if TYPE_CHECKING:
    from antgrowth.sensitivity import Sensitivity

__all__ = ["plot_sensitivity"]

SHOWN = 8
"""Bars at most, before those for the rest."""


def plot_sensitivity(found: Sensitivity, ax: Axes | None = None) -> Axes:
    """Draw the shares of a date's variance, the largest above; numbers are in `frame`.

    Parameters
    ----------
    found : Sensitivity
    ax : Axes, optional

    Returns
    -------
    Axes
    """
    if ax is None:
        ax = plt.subplots(figsize=(8.4, 4.8), layout="constrained")[1]
    frame = found.frame()
    some = frame.head(SHOWN)
    rest = frame["share"].iloc[SHOWN:].sum()
    later = some["later_days"] > 0
    share = 100 * some["share"].to_numpy()
    reach = [share - 100 * some["q05"].to_numpy(), 100 * some["q95"].to_numpy() - share]
    for chosen, color, label in (
        (later, ORANGE, "more of it: a later date"),
        (~later, BLUE, "more of it: an earlier date"),
    ):
        if chosen.any():
            ax.barh(np.flatnonzero(chosen), share[chosen], color=color, alpha=0.75, label=label)
    ax.errorbar(
        share, np.arange(len(some)), xerr=np.maximum(reach, 0), fmt="none", elinewidth=1,
        color=plt.rcParams["text.color"], label="90% interval",
    )  # fmt: skip
    labels = some["parameter"].to_list()
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
