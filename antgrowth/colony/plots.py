"""The picture of many colonies: when each holds a number of workers."""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from antgrowth._core import figures as draw
from antgrowth._core.figures import BLUE, GREY, ORANGE, RED
from antgrowth._core.text import counted
from antgrowth.colony.many import ColonyFits

__all__ = ["plot_colonies"]

MARKS = {"ahead": ("^", BLUE), "on track": ("o", GREY), "behind": ("v", RED)}


def plot_colonies(colonies: ColonyFits, ax: Axes | None = None) -> Axes:
    """Draw the date of each colony with its interval, those first that move next."""
    table = colonies.table[colonies.table["first"].notna()].reset_index(drop=True)
    if ax is None:
        size = (8, 1.8 + 0.26 * max(len(table), 3))
        ax = plt.subplots(figsize=size, layout="constrained")[1]
    horizons = [
        k.arrival.start + pd.Timedelta(days=k.arrival.horizon) for k in colonies.kept.values()
    ]
    far = max(horizons, default=pd.Timestamp.now())
    place = np.arange(len(table))
    ends = table["last"].fillna(far)
    ax.hlines(place, table["first"], ends, color=GREY, alpha=0.6, linewidth=5)
    for standing, (mark, colour) in MARKS.items():
        own = table.index[(table["standing"] == standing) & table["median"].notna()]
        if len(own):
            ax.plot(table.loc[own, "median"], own, mark, color=colour, label=standing)
    look = table.index[table["look"] != ""]
    if len(look):
        ax.plot(table.loc[look, "first"], look, "D", color=ORANGE, markersize=6,
                label="needs a look")  # fmt: skip
    draw.style_axes(ax)
    ax.set_yticks(place, table["colony"], fontsize="small", parse_math=False)
    ax.set_ylim(len(table) - 0.4, -0.6)
    ax.grid(axis="y", alpha=0.0)
    ax.grid(axis="x", alpha=0.25)
    ax.set_xlabel(f"date of {counted(colonies.awaited, 'worker')}, 90 % interval")
    told = colonies.sentence()
    draw.head(ax, told[0].upper() + told[1:], "Those that move next stand above")
    ax.legend(
        loc="upper right", bbox_to_anchor=(1, -0.16 - 0.1 / max(len(table), 1)), ncols=4,
        fontsize="small", frameon=False,
    )  # fmt: skip
    return ax
