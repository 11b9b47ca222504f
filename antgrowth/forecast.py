"""Forecasts: what the colony will hold on each day, and when it reaches a number of workers."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._showing.render import arrival_report, forecast_report
from antgrowth.ensemble import simulate
from antgrowth.errors import AntgrowthError
from antgrowth.fit import Fit, _seeded
from antgrowth.laws import Laws
from antgrowth.stages import STAGES
from antgrowth.temperature import Temperature

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from antgrowth.food import FoodPlan

__all__ = ["Arrival", "Forecast", "forecast"]

CONDITION = "if the queen lives and stays fertile"
QUANTILES = {"q05": 0.05, "q25": 0.25, "q50": 0.5, "q75": 0.75, "q95": 0.95}


@dataclass(frozen=True, eq=False, repr=False)
class Forecast:
    """Colonies grown on from a fit, one per posterior draw.

    Attributes
    ----------
    fit : Fit
    start : Timestamp
        Date of the last note; the first entry of `paths`.
    paths : array of int, shape (draws, days + 1, 4)
        Eggs, larvae, pupae, workers at the end of each day.
    temperature : Temperature
        What the future was taken to be.
    assumed : str
        That, in a sentence.
    seed : int
    laws : Laws
        Growth laws of the colonies.
    """

    fit: Fit
    start: pd.Timestamp
    paths: NDArray[np.int64] = field(repr=False)
    temperature: Temperature
    assumed: str
    seed: int
    laws: Laws = field(repr=False)

    @property
    def days(self) -> int:
        """Days looked ahead. [day]"""
        return self.paths.shape[1] - 1

    @property
    def draws(self) -> int:
        """Number of simulated colonies."""
        return len(self.paths)

    @property
    def dates(self) -> pd.DatetimeIndex:
        """Dates of `paths`, from the last note on."""
        return pd.date_range(self.start, periods=self.days + 1)

    def frame(self) -> pd.DataFrame:
        """Tell what to expect on each day.

        Returns
        -------
        DataFrame
            Columns date, stage, mean, q05, q25, q50, q75, q95; stages in life order, and "brood".
        """
        brood = self.paths[..., :3].sum(axis=-1, keepdims=True)
        values = np.concatenate([self.paths, brood], axis=-1)
        levels = np.quantile(values, list(QUANTILES.values()), axis=0)
        names = [*STAGES, "brood"]
        columns = {"mean": values.mean(axis=0)} | dict(zip(QUANTILES, levels, strict=True))
        return pd.DataFrame(
            {
                "date": np.repeat(self.dates, len(names)),
                "stage": np.tile(names, len(self.dates)),
                **{name: column.ravel() for name, column in columns.items()},
            }
        )

    def arrival(self, workers: int = 30) -> Arrival:
        """When the colony first holds so many workers.

        Parameters
        ----------
        workers : int
            At least 1.

        Returns
        -------
        Arrival
        """
        if not (isinstance(workers, (int, np.integer)) and workers >= 1):
            raise AntgrowthError(
                f"arrival: workers = {workers!r}. Give a whole number of at least 1."
            )
        there = self.paths[..., 3] >= workers
        first = np.where(there.any(axis=1), there.argmax(axis=1), -1)
        dates = np.full(self.draws, np.datetime64("NaT"), dtype="datetime64[D]")
        come = first >= 0
        dates[come] = np.datetime64(self.start, "D") + first[come]
        return Arrival(int(workers), dates, self.start, self.days)

    def food(self, **options: Any) -> FoodPlan:
        """Plan what to offer, by the week; see `antgrowth.food.plan_food` for the options."""
        from antgrowth.food import plan_food

        return plan_food(self, **options)

    def plot(self, workers: int | None = 30, ax: Axes | None = None) -> Axes:
        """Draw the workers to come, with the notes; see `antgrowth.plotting.plot_forecast`."""
        from antgrowth.plotting import plot_forecast

        return plot_forecast(self, workers=workers, ax=ax)

    def summary(self) -> str:
        """Report in plain text: workers and brood on a few dates, and when there are 30 workers."""
        return forecast_report(self, CONDITION).as_text()

    def __str__(self) -> str:
        return self.summary()

    def _repr_html_(self) -> str:
        return forecast_report(self, CONDITION).as_html()

    def __repr__(self) -> str:
        return (
            f"Forecast({self.fit.counts.name!r}, {self.days} days from {self.start:%Y-%m-%d}, "
            f"{self.draws} colonies, {CONDITION})"
        )


@dataclass(frozen=True, eq=False, repr=False)
class Arrival:
    """When a colony first holds a number of workers, if the queen lives and stays fertile.

    Attributes
    ----------
    workers : int
        The number waited for.
    dates : array of datetime64[D], shape (draws,)
        Day of arrival in each simulated colony; NaT where the horizon ends first.
    start : Timestamp
        Date of the last note.
    horizon : int
        Days looked ahead. [day]
    """

    workers: int
    dates: NDArray[np.datetime64] = field(repr=False)
    start: pd.Timestamp
    horizon: int

    @property
    def reached(self) -> bool:
        """Whether most colonies hold as many already at the last note."""
        return bool(np.mean(self.dates == np.datetime64(self.start, "D")) > 0.5)

    @property
    def chance_never(self) -> float:
        """Chance that the horizon ends first."""
        return float(np.isnat(self.dates).mean())

    def chance_by(self, date: str | pd.Timestamp) -> float:
        """Chance of arrival on or before a date."""
        limit = np.datetime64(pd.Timestamp(date), "D")
        return float((self.dates <= limit).mean())  # NaT compares as false

    @property
    def median(self) -> pd.Timestamp:
        """Most central date; NaT when the horizon ends first in half of the colonies."""
        return self._date(self._quantile(0.5))

    def interval(self, level: float = 0.9) -> tuple[pd.Timestamp, pd.Timestamp]:
        """Central interval of dates, both days included.

        Parameters
        ----------
        level : float
            Probability of the interval, between 0 and 1.

        Returns
        -------
        first, last : Timestamp
            NaT at an end that lies beyond the horizon.

        Notes
        -----
        An arrival noted on a day happened at some moment since the day before. Quantiles are taken
        on that continuous scale and rounded to whole days, so that an interval holds what it
        promises on average, rather than more.
        """
        if not 0 < level < 1:
            raise AntgrowthError(f"interval: level = {level!r}. Give a probability, such as 0.9.")
        tail = (1.0 - level) / 2.0
        low, high = np.rint(self._quantile(tail)), np.rint(self._quantile(1.0 - tail))
        first = low + 1 if low < high else high
        return self._date(first), self._date(high)

    def _quantile(self, share: float) -> float:
        """Moment by which a share has arrived, in days after the last note; infinite if never."""
        waited = (self.dates - np.datetime64(self.start, "D")).astype(float)
        waited = np.where(np.isnat(self.dates), np.inf, waited)
        day, number = np.unique(waited, return_counts=True)
        upto = np.cumsum(number) / len(waited)
        at = int(np.searchsorted(upto, share))
        if not np.isfinite(day[at]):
            return np.inf
        before = upto[at - 1] if at else 0.0
        return float(day[at] - 1 + (share - before) / (upto[at] - before))

    def _date(self, waited: float) -> pd.Timestamp:
        if not np.isfinite(waited):
            return cast(pd.Timestamp, pd.NaT)
        return self.start + pd.Timedelta(days=int(np.ceil(waited)))

    def sentence(self, level: float = 0.9) -> str:
        """The finding in one sentence."""
        number = "1 worker" if self.workers == 1 else f"{self.workers} workers"
        if self.reached:
            return f"{number}: reached by {self.start:%Y-%m-%d}"
        first, last = self.interval(level)
        far = self.start + pd.Timedelta(days=self.horizon)
        if first is pd.NaT:
            return f"{number}: hardly before {far:%Y-%m-%d}, {CONDITION}"
        span = f"{first:%Y-%m-%d} to " + (
            f"beyond {far:%Y-%m-%d}" if last is pd.NaT else f"{last:%Y-%m-%d}"
        )
        middle = "" if self.median is pd.NaT else f", most likely about {self.median:%Y-%m-%d}"
        return f"{number}: {span} ({level:.0%} interval){middle}, {CONDITION}"

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the chance of each date; see `antgrowth.plotting.plot_arrival`."""
        from antgrowth.plotting import plot_arrival

        return plot_arrival(self, ax=ax)

    def summary(self) -> str:
        """Report in plain text: intervals of the date, and the chance that it never comes."""
        return arrival_report(self).as_text()

    def __str__(self) -> str:
        return self.summary()

    def _repr_html_(self) -> str:
        return arrival_report(self).as_html()

    def __repr__(self) -> str:
        return f"Arrival({self.sentence()})"


def forecast(
    fit: Fit,
    *,
    days: int = 180,
    temperature: Temperature | None = None,
    draws: int = 1000,
    rng: int | np.random.Generator | None = None,
) -> Forecast:
    """Let colonies grow on from the last note; see `Fit.forecast` for the parameters."""
    for name, value in {"days": days, "draws": draws}.items():
        if not (isinstance(value, (int, np.integer)) and value >= 1):
            raise AntgrowthError(f"forecast: {name} = {value!r}. Give a whole number above 0.")
    seed, source = _seeded(rng)
    plan, assumed = _future(fit, days, temperature)
    climate = fit.setting.climate(fit.days + days, plan)
    presents = fit.presents(draws)
    paths = [
        simulate(p.laws, climate, source, start_day=fit.days, standing=p.packets(source))
        for p in presents
    ]
    laws = Laws.joined([p.laws for p in presents])
    return Forecast(fit, fit.counts.end, np.concatenate(paths), plan, assumed, seed, laws)


def _future(fit: Fit, days: int, temperature: Temperature | None) -> tuple[Temperature, str]:
    """Temperatures from day 0 to the horizon, and what they assume of the future."""
    tomorrow = fit.counts.end + pd.Timedelta("1D")
    if temperature is not None:
        return fit.temperature.then(tomorrow, temperature), temperature.describe()
    last = fit.temperature.covers()[1]
    if last is None or last >= fit.counts.end + pd.Timedelta(days=days):
        return fit.temperature, fit.temperature.describe()
    usual = fit.temperature.typical_day(last)
    return fit.temperature.then(last + pd.Timedelta("1D"), usual), usual.describe()
