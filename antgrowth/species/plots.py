"""Pictures of rate curves fitted to tables; titles say what was found."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from antgrowth._core import figures as draw
from antgrowth._core.figures import BLUE, GREY
from antgrowth._core.text import counted

if TYPE_CHECKING:
    from antgrowth.species.rate_fit import RateCurveFit

DASHES = {"degree-day": "-", "briere": "--", "sharpe-schoolfield": "-."}
"""Of the curves that are not chosen."""


def plot_rate_curve(fit: RateCurveFit, ax: Axes | None = None) -> Axes:
    """Draw the chosen rate curve with its 90 % band, the other curves, and the table."""
    ax = draw.own_axes(ax)
    frame, table = fit.frame(), fit.table.frame
    t = frame["temperature_c"]
    if frame["q05"].notna().all():
        ax.fill_between(
            t, frame["q05"], frame["q95"], color=BLUE, alpha=0.25, linewidth=0, label="90% band"
        )
    for name, other in fit.fitted.items():
        if name != fit.chosen:
            ax.plot(t, other.curve(t), DASHES[name], color=GREY, linewidth=1.2, label=name)
    beyond = frame["rate_per_day"].where(frame["extrapolated"])
    ax.plot(t, beyond, color=BLUE, linestyle=":", label="extrapolated")
    ax.plot(t, frame["rate_per_day"].where(~frame["extrapolated"]), color=BLUE, label=fit.chosen)
    ax.errorbar(
        table["temperature_c"], table["rate_per_day"], yerr=table["sd_per_day"].to_numpy(),
        fmt="o", markersize=5, color=plt.rcParams["text.color"], elinewidth=1, zorder=3,
        label="table",
    )  # fmt: skip
    # A band that widens without end beyond the table must not press the rest together.
    ax.set_ylim(0, 1.25 * max(table["rate_per_day"].max(), frame["rate_per_day"].max()))
    ax.set_xlim(t.iloc[0], t.iloc[-1])
    ax.set(xlabel="temperature [°C]", ylabel="rate [1/day]")
    ax.spines[["top", "right"]].set_visible(False)
    ax.grid(axis="y", alpha=0.25)
    draw.legend(ax)
    rows = counted(len(table), "row")
    draw.head(ax, _curve_title(fit), f"{fit.table.name}: {fit.chosen} curve from {rows}")
    return ax


def plot_stage_curves(curves: Mapping[str, RateCurveFit]) -> NDArray[np.object_]:
    """Draw the rate curves of several stages side by side, on one scale."""
    size = (4.6 * len(curves) + 0.4, 4.4)
    axes = draw.new_axes(1, len(curves), size)
    for ax, fit in zip(axes, curves.values(), strict=True):
        plot_rate_curve(fit, ax=ax)
    top = max(ax.get_ylim()[1] for ax in axes)
    for ax in axes:
        ax.set_ylim(0, top)
    return axes


def _curve_title(fit: RateCurveFit) -> str:
    curve = fit.curve
    if not np.isfinite(curve.optimum_c):
        return f"Stands still below {curve.lower_c:.1f} °C"
    if fit._outside(np.array(curve.optimum_c)):
        return "The fastest temperature lies beyond the table"
    days = float(1 / curve(curve.optimum_c))
    return f"Fastest at {curve.optimum_c:.1f} °C: {days:.3g} days"
