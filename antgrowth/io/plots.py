"""The picture of a count log: what was noted, and as how certain."""

from __future__ import annotations

from typing import TYPE_CHECKING

import matplotlib.pyplot as plt
import numpy as np
from numpy.typing import NDArray

from antgrowth._core import figures as draw
from antgrowth._core.stages import STAGES
from antgrowth._core.text import counted, span_words
from antgrowth.errors import LogError

if TYPE_CHECKING:
    from antgrowth.io.counts import CountLog

MARKS = {
    "exact": ("o", "full", "counted"), "rough": ("o", "none", "roughly counted"),
    "at least": ("^", "none", "at least"), "first": ("*", "full", "first seen"),
}  # fmt: skip
"""Mark, filling and name of each kind of cell that is one number."""


def plot_counts(log: CountLog) -> NDArray[np.object_]:
    """Draw the cells of a log, a panel a stage; the numbers are in `CountLog.frame`.

    Parameters
    ----------
    log : CountLog

    Returns
    -------
    array of Axes, shape (stages,)

    Raises
    ------
    LogError
        If the log holds no count.
    """
    frame = log.frame
    if not len(frame):
        raise LogError(f"{log.name}: no count in the log. Note at least one stage on one date.")
    names = tuple(name for name in (*STAGES, "brood") if (frame["stage"] == name).any())
    axes, ink = draw.panels(names), plt.rcParams["text.color"]
    for ax, stage in zip(axes, names, strict=True):
        own = frame[frame["stage"] == stage]
        for kind, (mark, fill, label) in MARKS.items():
            some = own[own["kind"] == kind]
            if len(some):
                ax.plot(some["date"], some["low"], mark, color=ink, label=label,
                        markerfacecolor=ink if fill == "full" else "none")  # fmt: skip
        wide = own[own["kind"].isin(["between", "below"])]
        if len(wide):
            ax.vlines(wide["date"], wide["low"], wide["high"], color=ink, alpha=0.7, linewidth=3,
                      label="noted as a range")  # fmt: skip
        tops = own["high"].where(np.isfinite(own["high"]), own["low"])
        draw.style_axes(ax, 1.1 * max(float(tops.max()), 1.0))
        ax.set_ylabel(stage)
    days = span_words(log.start, log.end)
    draw.head_figure(
        axes[0].figure, f"{counted(len(frame), 'count')} on {counted(len(log), 'day')}, {days}",
        f"{log.name}: as it was written",
    )  # fmt: skip
    draw.legend_below(axes[0].figure, axes)
    return axes
