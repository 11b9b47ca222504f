"""Make the picture that opens the README: a demo colony, its fit and its forecast.

``python datasets/make_pictures.py`` writes ``pictures/forecast.png``. It shows the forecast of
``antgrowth forecast datasets/colonies/garden-ant-first-year``, with the whole past before it.
"""

from __future__ import annotations

from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.dates import date2num
from matplotlib.figure import Figure

import antgrowth as ag
from antgrowth.forecast.plots import plot_forecast

PICTURES = Path(__file__).parent / "pictures"

SHOWN_DAYS = 115
"""Days shown after the last note. [day]"""


def draw_year(ahead: ag.Forecast, ax: Axes) -> None:
    """Draw the workers of a colony, from its lone queen to some weeks of the forecast."""
    plot_forecast(ahead, workers=30, ax=ax, past_days=ahead.fit.days)
    ax.set_xlim(right=date2num(ahead.start) + SHOWN_DAYS)


def main() -> None:
    """Write the picture and say where it is."""
    colony = ag.load_colony(ag.demo_colony("garden-ant-first-year"))
    ahead = colony.fit(rng=1).forecast(days=200, rng=1)  # as the command has it
    figure = Figure(figsize=(9, 4.6), layout="constrained")
    draw_year(ahead, figure.subplots())
    path = PICTURES / "forecast.png"
    said = ahead.arrival(workers=30).sentence()
    figure.savefig(path, dpi=120, metadata={"Title": said, "Software": None})
    print(path)


if __name__ == "__main__":
    main()
