"""A forecast to play with: sliders for the warmth to come, and what follows from them at once.

All positions of the sliders share their colonies and their luck (`PairedForecasts`), so that what
moves on the page is moved by the temperature and by nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from types import ModuleType
from typing import Any

import numpy as np
import pandas as pd
from matplotlib import dates as mdates
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from antgrowth._core import figures as draw
from antgrowth._core.figures import BLUE, GREY, ORANGE
from antgrowth._core.stages import WORKERS
from antgrowth._core.summary import escaped, unbroken
from antgrowth._core.text import counted
from antgrowth.climate.gaps import runs
from antgrowth.climate.temperature import Temperature, day_night
from antgrowth.errors import AntgrowthError
from antgrowth.food.plan import FoodPlan, month_words, start_sentence
from antgrowth.forecast.paths import Forecast, PairedForecasts
from antgrowth.inference.posterior import Posterior
from antgrowth.regimes.comparison import gain_words
from antgrowth.regimes.limits import (
    check_limits,
    days_gained,
    first_passage_days,
    phase_of,
    with_due_rests,
)

STEP_C, COOLEST_C, HOTTEST_C = 0.5, 10.0, 34.0
"""What the sliders of temperature reach, wider than any ant should be kept: limits are told."""

CHANGE_DAYS, CHANGE_STEP = 120, 5
"""How far ahead the change may be put, and by which step. [day]"""

NUMBERS = (5, 10, 15, 20, 30, 50, 75, 100, 150, 200, 300, 500, 750, 1000, 2000, 5000, 10000)
"""Numbers to wait for."""

LEVELS = (0.05, 0.5, 0.95)

SAME = "This plan comes on the same day as now."

GREEN, PURPLE = "#009E73", "#CC79A7"
"""Of prey and sugar, of Okabe and Ito's set, from memory; the lines differ as well."""

YEAR = 366
"""A rest that begins within the horizon ends as long after it at most. [day]"""

DPI = 90


def explore(fit: Posterior, workers: int, days: int, draws: int) -> Explorer:
    """A forecast to play with; see `Fit.explore`."""
    return Explorer(fit, workers, days, draws, _widgets())


def _widgets() -> ModuleType:
    """The library of sliders, which not everybody needs."""
    try:
        import ipywidgets
    except ImportError:
        raise AntgrowthError(
            "explore: sliders need the package ipywidgets, which is not installed here. Install it "
            'with: pip install "antgrowth[widgets]", then start Jupyter anew. Without it, '
            "fit.forecast(temperature=ag.day_night(27, 21)) tells the same of one temperature."
        ) from None
    found: ModuleType = ipywidgets
    return found


class Explorer:
    """Sliders, and the dates, growth and food that follow from where they stand, in HTML.

    Temperature by day and by night [°C], the first day of both, the number waited for.
    """

    def __init__(
        self, fit: Posterior, workers: int, days: int, draws: int, widgets: ModuleType
    ) -> None:
        self.fit, self.days = fit, days
        self._pairing = PairedForecasts.of(fit, draws, fit.seed)
        self._phase = phase_of(fit, None, draws, "explore")
        self._figure, self._axes = _canvas()
        self._drawn: list[Any] = []
        self._build(workers, widgets)
        self.redraw()

    def _build(self, workers: int, widgets: ModuleType) -> None:
        """Make the sliders, at the warmth that goes on now, and what stands below them."""
        now = self.as_now.temperature.known_hours(self._first, 1)[0]
        warm, cool = (round(float(t) / STEP_C) * STEP_C for t in (now.max(), now.min()))
        look = {"continuous_update": False, "style": {"description_width": "9em"}}
        look["layout"] = widgets.Layout(width="min(30em, 95%)")
        reach = {"min": COOLEST_C, "max": HOTTEST_C, "step": STEP_C, "readout_format": ".1f"}
        self.day = widgets.FloatSlider(warm, description="by day, °C", **reach, **look)
        self.night = widgets.FloatSlider(cool, description="by night, °C", **reach, **look)
        ahead = range(0, min(CHANGE_DAYS, self.days - 1) + 1, CHANGE_STEP)
        begins = [pd.Timestamp(self._first) + pd.Timedelta(days=n) for n in ahead]
        self.change = widgets.SelectionSlider(
            options=[(f"{d:%Y-%m-%d}", d) for d in begins], description="from", **look
        )
        self.workers = widgets.SelectionSlider(
            options=sorted({*NUMBERS, workers}), value=workers, description="workers", **look
        )
        self.dates, self.picture, self.food = (widgets.HTML() for _ in range(3))
        sliders = (self.day, self.night, self.change, self.workers)
        for slider in sliders:
            slider.observe(lambda _: self.redraw(), names="value")
        self.box = widgets.VBox([*sliders, self.dates, self.picture, self.food])

    @property
    def _first(self) -> np.datetime64:
        """The first day to come."""
        return np.datetime64(self.fit.counts.end, "D") + 1

    @cached_property
    def as_now(self) -> Forecast:
        """What is to be expected if nothing is changed, with the rest that the species needs."""
        lived = self.fit.temperature
        plan = None if lived.ends() is not None else with_due_rests(self.fit, lived, self.days)
        return self._pairing.forecast(self.days, plan)

    def _plan(self) -> Temperature:
        """The temperature that the sliders say, with the rests of what goes on now."""
        now = self.as_now.temperature
        warmth = day_night(self.day.value, self.night.value)
        plan = now.then(self.change.value, warmth)
        for begin, end in runs(now.resting(self._first, self.days + YEAR)):
            plan = plan.rest(self._first + begin, self._first + end, now)
        return plan

    def redraw(self) -> None:
        """Work it out again for the sliders as they stand."""
        self.forecast = self._pairing.forecast(self.days, self._plan())
        plan = self.forecast.food()
        lines = self._date_lines()
        self.dates.value = _told(lines)
        self.food.value = _told(_food_lines(plan))
        self._draw(plan)
        told = f"Growth and food: {' '.join(lines)}"
        self.picture.value = draw.embedded(self._figure, told, DPI, "max-width:100%")

    def _date_lines(self) -> list[str]:
        """What speaks against the plan first, then the date and what the change wins."""
        held, number = check_limits(self.forecast, self._phase), self.workers.value
        date = replace(self.forecast.arrival(number), heat=None)  # the heat is told before it
        passage_days = [first_passage_days(ahead, number) for ahead in (self.as_now, self.forecast)]
        gained = days_gained(*passage_days)
        against = [f"NOT RECOMMENDED: {held.words}."] if held.excluded else []
        won = f"This plan {gain_words(gained, 'as now')}." if np.any(gained) else SAME
        return [*against, f"{date.sentence()}.", won]

    def _draw(self, food: FoodPlan) -> None:
        """Draw growth beside that of now, and the food of each day under it."""
        for artist in self._drawn:
            artist.remove()
        growth, below = self._axes
        number = self.workers.value
        now, plan = (
            np.quantile(ahead.paths[..., WORKERS], LEVELS, axis=0)
            for ahead in (self.as_now, self.forecast)
        )
        x = mdates.date2num(self.forecast.dates)
        top = max(1.6 * number, 1.2 * now[1, 0])
        amounts = np.quantile(food.offered["protein"], LEVELS, axis=0)
        sugar = np.quantile(food.offered["sugar"], LEVELS, axis=0)
        begins = mdates.date2num(self.change.value)
        self._drawn = [
            growth.fill_between(x, *plan[[0, 2]], color=BLUE, alpha=0.25, linewidth=0),
            *growth.plot(x, plan[1], color=BLUE, label="this plan (90% of colonies)"),
            *growth.plot(x, now[1], color=GREY, linestyle="--", label="as now, median"),
            growth.axhline(number, color=ORANGE, linestyle=":", linewidth=1.5),
            growth.annotate(f"{number} workers", (x[0], number), xytext=(2, 3),
                            textcoords="offset points", fontsize="small"),
            *(ax.axvline(begins, color=GREY, linewidth=1) for ax in self._axes),
            below.fill_between(x[1:], *amounts[[0, 2]], color=GREEN, alpha=0.2, linewidth=0),
            *below.plot(x[1:], amounts[1], color=GREEN, label="protein of prey"),
            below.fill_between(x[1:], *sugar[[0, 2]], color=PURPLE, alpha=0.2, linewidth=0),
            *below.plot(x[1:], sugar[1], color=PURPLE, linestyle="--", label="sugar"),
        ]  # fmt: skip
        growth.set(xlim=(x[0], x[-1]), ylim=(0, top))
        below.set_ylim(0, 1.05 * max(amounts[2].max(), sugar[2].max(), 1e-3))
        for ax in self._axes:
            ax.legend(loc="upper left", fontsize="small", framealpha=0.85, edgecolor="none")

    def _repr_mimebundle_(self, **options: Any) -> Any:
        return self.box._repr_mimebundle_(**options)

    def __repr__(self) -> str:
        return (
            f"Explorer({self.fit.counts.name!r}, {self.day.value:g} °C by day, "
            f"{self.night.value:g} °C by night from {self.change.value:%Y-%m-%d}, "
            f"{counted(self.workers.value, 'worker')})"
        )


def _canvas() -> tuple[Figure, Sequence[Axes]]:
    """A figure that is drawn over and over: no layout is sought anew, which takes half the time."""
    figure = Figure(figsize=(8, 4.6))
    FigureCanvasAgg(figure)
    growth, below = figure.subplots(
        2, 1, sharex=True, height_ratios=(2, 1),
        gridspec_kw={"left": 0.08, "right": 0.98, "top": 0.97, "bottom": 0.11, "hspace": 0.12},
    )  # fmt: skip
    draw.style_axes(growth)
    draw.style_axes(below)
    below.yaxis.set_major_locator(MaxNLocator(4))
    growth.set_ylabel("workers")
    below.set_ylabel("food [mg/day]")
    return figure, (growth, below)


def _told(lines: Sequence[str]) -> str:
    return "".join(f"<div>{unbroken(escaped(line))}</div>" for line in lines)


def _food_lines(plan: FoodPlan) -> list[str]:
    """The first four weeks, and when prey starts."""
    starts = plan.protein_starts
    prey = [] if starts is None or starts.reached else [f"Prey {start_sentence(plan)}."]
    return [f"Food: {text}." for text in month_words(plan)] + prey
