"""Pictures of a fit, a forecast and an arrival, for Axes of your own: ``ag.plotting``.

Each function takes the Axes to draw into, or makes a figure of its own, and returns the Axes. What
it draws can be had as a table: `Fit.growth_frame`, `Fit.nest_frame`, `Forecast.frame`,
`Arrival.dates`.
"""

from __future__ import annotations

from antgrowth.evaluation.plots import plot_backtest, plot_coverage, plot_next_count, plot_study
from antgrowth.forecast.plots import plot_arrival, plot_forecast
from antgrowth.inference.plots import plot_fit
from antgrowth.io.plots import plot_counts

__all__ = [
    "plot_arrival", "plot_backtest", "plot_counts", "plot_coverage", "plot_fit", "plot_forecast",
    "plot_next_count", "plot_study",
]  # fmt: skip
