"""Make the picture that opens the README: a demo colony, its fit and its forecast.

``python datasets/make_pictures.py`` writes ``pictures/forecast.png``. It shows the forecast of
``antgrowth forecast datasets/colonies/garden-ant-first-year``, with the whole past before it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.dates import date2num
from matplotlib.figure import Figure

import antgrowth as ag
from antgrowth._core.figures import legend

PICTURES = Path(__file__).parent / "pictures"

SHOWN_DAYS = 115
"""Days shown after the last note. [day]"""

HELD, RESTING = "#D55E00", "#56B4E9"
"""Two colours that a forecast's own picture leaves free, and colour-blind eyes tell apart."""


def draw_year(ahead: ag.Forecast, ax: Axes) -> None:
    """Draw the workers of a colony, from its lone queen to some weeks of the forecast."""
    ahead.plot(workers=30, ax=ax)
    past = ahead.fit.nest_frame().query("stage == 'workers'")
    ax.fill_between(
        past["date"], past["q05"], past["q95"], color=HELD, linewidth=0, alpha=0.25,
        label="probably there (90%)",
    )  # fmt: skip
    dates = pd.DatetimeIndex(past["date"])
    rest = dates[np.asarray(ahead.fit.temperature.resting(dates[0], len(dates)))]
    ax.axvspan(date2num(rest[0]), date2num(rest[-1]), color=RESTING, alpha=0.12, linewidth=0)
    middle = rest[len(rest) // 2]
    ax.annotate("winter rest", (date2num(middle), 2), ha="center", fontsize="small")
    ax.set_xlim(date2num(dates[0]), date2num(ahead.start) + SHOWN_DAYS)
    legend(ax)  # anew, with what came on top


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
