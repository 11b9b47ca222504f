"""Make the pictures of the README: a demo colony, its fit, its forecast, and what they answer.

``python datasets/make_pictures.py`` writes all of them into ``pictures``; with names, some of them:
``python datasets/make_pictures.py forecast food``. The first shows the forecast of
``antgrowth forecast datasets/colonies/garden-ant-first-year``, with the whole past before it.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.dates import date2num
from matplotlib.figure import Figure

import antgrowth as ag
from antgrowth.forecast.plots import plot_forecast

PICTURES = Path(__file__).parent / "pictures"

SHOWN_DAYS = 115
"""Days shown after the last note. [day]"""

COLONY = "garden-ant-first-year"

LARGE, SMALL = 120, 70
"""Dots per inch of the picture that opens the README, and of those in its table."""


def draw_year(ahead: ag.Forecast, ax: Axes) -> None:
    """Draw the workers of a colony, from its lone queen to some weeks of the forecast."""
    plot_forecast(ahead, workers=30, ax=ax, past_days=ahead.fit.days)
    ax.set_xlim(right=date2num(ahead.start) + SHOWN_DAYS)


def forecast(ahead: ag.Forecast) -> Figure:
    """When will there be 30 workers?"""
    figure = Figure(figsize=(9, 4.6), layout="constrained")
    draw_year(ahead, figure.subplots())
    return figure


def nest(ahead: ag.Forecast) -> Figure:
    """What was probably in the nest on the days that nobody counted?"""
    return figure_of(ahead.fit.plot())


def growth(ahead: ag.Forecast) -> Figure:
    """How fast does it grow, at which temperature?"""
    return figure_of(ag.growth_rate(ahead.fit, np.arange(16, 33)).plot())


def regimes(ahead: ag.Forecast) -> Figure:
    """What does a warmer plan win, and is it safe?"""
    plans = {
        "as now": None,
        "steady 24": 24,
        "27 by day": ag.day_night(day=27, night=22),
        "steady 30": 30,
    }
    return figure_of(ag.compare_regimes(ahead.fit, plans, workers=30, rng=1).plot())


def food(ahead: ag.Forecast) -> Figure:
    """What to offer, week by week?"""
    return figure_of(ahead.food(rng=1).plot())


def count_next(ahead: ag.Forecast) -> Figure:
    """What to count next, and when, to know the date better?"""
    return figure_of(ag.next_count(ahead).plot())


def backtest(ahead: ag.Forecast) -> Figure:
    """Would earlier forecasts have been right?"""
    colony = ag.load_colony(ag.demo_colony(COLONY))
    since = colony.queen_since
    trial = ag.backtest(colony.counts, colony.temperature, colony.species, queen_since=since, rng=1)
    return figure_of(trial.plot())


DRAWN: dict[str, Callable[[ag.Forecast], Figure]] = {
    draw.__name__: draw for draw in (forecast, nest, growth, regimes, food, count_next, backtest)
}
"""By the name of the file; each says which question it answers."""


def figure_of(axes: Axes | np.ndarray) -> Figure:
    """Figure that some Axes are of."""
    return np.ravel(np.asarray(axes, object))[0].figure


def main(names: list[str]) -> None:
    """Write the pictures and say where they are."""
    matplotlib.use("Agg")
    ahead = ag.load_colony(ag.demo_colony(COLONY)).fit(rng=1).forecast(days=200, rng=1)
    said = ahead.arrival(workers=30).sentence()
    for name in names or list(DRAWN):
        path, dpi = PICTURES / f"{name}.png", LARGE if name == "forecast" else SMALL
        DRAWN[name](ahead).savefig(path, dpi=dpi, metadata={"Title": said, "Software": None})
        print(path)


if __name__ == "__main__":
    main(sys.argv[1:])
