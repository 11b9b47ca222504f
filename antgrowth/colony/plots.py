"""The picture of many colonies: when each holds a number of workers."""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib import dates as mdates
from matplotlib.axes import Axes

from antgrowth._core import figures as draw
from antgrowth._core.figures import BLUE, GREY, ORANGE, RED
from antgrowth._core.text import counted
from antgrowth.colony.many import ColonyFits

MARKS = {"ahead": ("^", BLUE), "on track": ("o", GREY), "behind": ("v", RED)}


def plot_colonies(colonies: ColonyFits, ax: Axes | None = None) -> Axes:
    """Draw the date of each colony with its interval, those first that move next."""
    table = colonies.table[colonies.table["first"].notna()].reset_index(drop=True)
    if ax is None:
        size = (8, 1.8 + 0.26 * max(len(table), 3))
        ax = plt.subplots(figsize=size, layout="constrained")[1]
    place = np.arange(len(table))
    for row, name in enumerate(table["colony"]):
        arrival, standing = colonies.kept[name].arrival, str(table.loc[row, "standing"])
        mark, colour = MARKS[standing]
        for span in arrival.windows():
            ax.hlines(row, *mdates.date2num(span), color=GREY, alpha=0.6, linewidth=5)
        for part in arrival.split() or (arrival,):
            if pd.notna(part.median):
                ax.plot(mdates.date2num([part.median]), [row], mark, color=colour, label=standing)
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
    handles = dict(zip(*reversed(ax.get_legend_handles_labels()), strict=True))
    ax.legend(
        handles.values(), handles.keys(), loc="upper right",
        bbox_to_anchor=(1, -0.16 - 0.1 / max(len(table), 1)), ncols=4,
        fontsize="small", frameon=False,
    )  # fmt: skip
    return ax
