"""Forecasts: what the colony will hold on each day, and when it reaches a number of workers."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from antgrowth._core.arguments import (
    ANTS,
    COLONIES,
    DAYS_AHEAD,
    RNG,
    check_work,
    instance,
    optional,
    takes,
)
from antgrowth._core.arrays import Floats, Ints
from antgrowth._core.pictures import picture
from antgrowth._core.random import seeded
from antgrowth._core.stages import WORKERS
from antgrowth._core.stats import stage_frame, with_brood
from antgrowth._core.summary import Report, Shown
from antgrowth._core.text import counted
from antgrowth._core.threads import on_one_thread
from antgrowth.climate.dormancy import (
    DormancySchedule,
    dormancy_schedule,
    extend_plan,
    missing_rests,
)
from antgrowth.climate.queen_heat import QueenHeat, queen_heat
from antgrowth.climate.temperature import Temperature, as_plan
from antgrowth.errors import LogError
from antgrowth.forecast.arrival import CONDITION, QUEENLESS, Arrival, check_queen_survival
from antgrowth.forecast.report import cool_words, forecast_report
from antgrowth.inference.initial_state import InitialState
from antgrowth.inference.posterior import Posterior
from antgrowth.model.common_random_numbers import CommonChance
from antgrowth.model.life_cycle import State
from antgrowth.model.parameters import Laws
from antgrowth.model.simulation import Colonies
from antgrowth.species.thermal_limits import refuse_dependent

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from antgrowth.food.plan import FoodPlan
    from antgrowth.species.profile import Species

FARTHEST_DRIFT = 3.0
"""No colony strays from the law so far: log of how many times it lays or rears as much."""


@dataclass(frozen=True, eq=False, repr=False)
class Forecast(Shown):
    """Colonies grown on from a fit, one per posterior draw.

    Attributes
    ----------
    fit : Posterior
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

    fit: Posterior
    start: pd.Timestamp
    paths: Ints = field(repr=False)
    temperature: Temperature
    assumed: str
    seed: int
    laws: Laws = field(repr=False)

    @property
    def days(self) -> int:
        """Days looked ahead. [day]"""
        found: int = self.paths.shape[1] - 1
        return found

    @property
    def draws(self) -> int:
        """Number of simulated colonies."""
        return len(self.paths)

    @cached_property
    def dates(self) -> pd.DatetimeIndex:
        """Dates of `paths`, from the last note on."""
        return pd.date_range(self.start, periods=self.days + 1)

    @property
    def workers_now(self) -> float:
        """Workers at the last note, most likely; all that tells of them has it from here."""
        return float(np.median(self.paths[:, 0, WORKERS]))

    def frame(self) -> pd.DataFrame:
        """Tell what to expect on each day.

        Returns
        -------
        DataFrame
            Columns date, stage, mean, q05, q25, q50, q75, q95; stages in life order, and "brood".
        """
        return stage_frame(self.dates, with_brood(self.paths))

    @takes(workers=ANTS)
    def arrival(self, workers: int = 30, queen_survival: float | None = None) -> Arrival:
        """When the colony first holds so many workers.

        Parameters
        ----------
        workers : int
            At least 1.
        queen_survival : float, optional
            Share of such queens that live through a year, above 0 and up to 1: an assumption of
            yours, for no count tells it. It leaves the dates as they are, which hold if the queen
            lives, and adds the chance that she does.

        Returns
        -------
        Arrival

        Raises
        ------
        AntgrowthError
            If an argument is out of range.
        """
        if queen_survival is not None:
            check_queen_survival(queen_survival)
        there = self.paths[..., WORKERS] >= workers
        first = np.where(there.any(axis=1), there.argmax(axis=1), -1)
        dates = np.full(self.draws, np.datetime64("NaT"), dtype="datetime64[D]")
        come = first >= 0
        dates[come] = np.datetime64(self.start, "D") + first[come]
        cells = self.fit.counts.frame
        as_many = cells.loc[(cells["stage"] == "workers") & (cells["low"] >= workers), "date"]
        noted = as_many.min() if len(as_many) else None
        return Arrival(
            int(workers), dates, self.start, self.days, queen_survival, self.condition, noted,
            self.heat, self.next_rest,
        )  # fmt: skip

    @cached_property
    def cool(self) -> str:
        """What a room that is cool for the brood means, in words; empty if it is not."""
        return cool_words(self)

    @property
    def next_rest(self) -> pd.Timestamp | None:
        """First day of the next rest ahead; None if there is none."""
        resting = self.temperature.resting(self.start, self.days + 1)
        begins = np.flatnonzero(resting[1:] & ~resting[:-1])
        return self.dates[begins[0] + 1] if len(begins) else None

    @property
    def next_winter(self) -> pd.Timestamp | None:
        """First day of the next rest, or else of the usual one of a species that needs it.

        None if there is none, or it lies beyond the days looked ahead.
        """
        schedule = usual_dormancy(self.fit)
        if self.next_rest is not None or schedule is None:
            return self.next_rest
        end = np.datetime64(self.start, "D")
        usual = [s for s, _ in schedule.seasons(end + 1, end + self.days) if s > end]
        return pd.Timestamp(usual[0]) if usual else None

    @cached_property
    def heat(self) -> QueenHeat | None:
        """What heat above the ceiling does to the queen; None if there is none, or no queen."""
        if self.fit.queenless:
            return None
        hours_c = self.temperature.hours(self.start + pd.Timedelta("1D"), self.days)
        housed = np.median(self.paths[:, 1:, WORKERS], axis=0) >= 1
        return queen_heat(self.fit.species, hours_c, housed, self.start)

    @property
    def condition(self) -> str:
        """Under which all of it holds: that the queen lives, or that there is none."""
        return QUEENLESS if self.fit.queenless else CONDITION

    def food(self, **options: Any) -> FoodPlan:
        """Plan what to offer, by the week; see `antgrowth.food.plan_food` for the options."""
        from antgrowth.food.planner import plan_food

        return plan_food(self, **options)

    @takes(workers=optional(ANTS))
    def plot(self, workers: int | None = 30, ax: Axes | None = None) -> Axes:
        """Draw the workers to come, with the notes; see `antgrowth.plotting.plot_forecast`."""
        return picture("forecast", "plot_forecast", self, workers=workers, ax=ax)

    def _report(self) -> Report:
        return forecast_report(self, self.condition)

    def __repr__(self) -> str:
        return (
            f"Forecast({self.fit.counts.name!r}, {self.days} days from {self.start:%Y-%m-%d}, "
            f"{self.draws} colonies, {self.condition})"
        )


DAYS = 180
"""How far a forecast looks ahead where nobody says. [day]"""

FARTHER = (200, 400, 730, 1095)
"""How far one looks that waits for a number of workers, until there are as many. [day]"""

COME = 0.95
"""Share of colonies that have to be there for the end of the interval to be known."""

HARDLY = 0.02
"""A share that comes within a whole year, below which a date is no more waited for."""


@takes(
    fit=instance(Posterior, "ag.fit"), days=optional(DAYS_AHEAD), workers=optional(ANTS),
    draws=COLONIES, rng=RNG,
)  # fmt: skip
@on_one_thread
def forecast(
    fit: Posterior,
    *,
    days: int | None = None,
    workers: int | None = None,
    temperature: Temperature | float | None = None,
    draws: int = 1000,
    rng: int | np.random.Generator | None = None,
) -> Forecast:
    """Let colonies grow on from the last note; see `Fit.forecast` for the parameters.

    A colony, day and event has its own chance (`common_random_numbers`): with one seed the days
    that two forecasts have in common are the same, however far they look, and so are they in a
    comparison of regimes.
    """
    first = max(0 if days is None else days, FARTHER[0]) if workers else days or DAYS
    check_work("forecast", first, draws)
    refuse_dependent(fit.species)
    growing = PairedForecasts.of(fit, draws, seeded(rng)[0]).under(temperature)
    ahead = growing.until(first)
    if workers is None:
        return ahead
    reach = None if temperature is None else as_plan(temperature, "temperature").ends()
    for farther in FARTHER[1:]:
        beyond = reach is not None and fit.counts.end + pd.Timedelta(days=farther) > reach
        if farther <= ahead.days or beyond or _settled(ahead, workers):
            continue
        check_work("forecast", farther, draws)
        ahead = growing.until(farther)
    return ahead


def _settled(ahead: Forecast, workers: int) -> bool:
    """Whether a date is there, or clearly will not come: hardly any came within a year."""
    arrival = ahead.arrival(workers)
    if arrival.chance_never <= 1 - COME:
        return True
    a_year_ago = ahead.dates[-1] - pd.Timedelta(days=365)
    if a_year_ago <= ahead.start:
        return False
    return 1 - arrival.chance_never - arrival.chance_by(a_year_ago) < HARDLY


@dataclass(frozen=True, eq=False)
class PairedForecasts:
    """Colonies that begin alike and meet the same chance on every day, whatever the temperature.

    Forecasts of one pairing differ by their temperatures and little else.
    """

    fit: Posterior
    laws: Laws  # growth laws of the colonies, one a draw
    states: Floats  # what is in their nests in the evening of the last note, shape (draws, size)
    seed: int

    @classmethod
    @on_one_thread
    def of(cls, fit: Posterior, draws: int, seed: int) -> PairedForecasts:
        """So many colonies, as the notes leave them."""
        refuse_dependent(fit.species)
        now, source = _possible(fit, draws), np.random.default_rng(seed)
        states = np.concatenate([n.states(source) for n in now])
        return cls(fit, Laws.joined([n.laws for n in now]), states, seed)

    def under(self, temperature: Temperature | float | None) -> GrowingForecast:
        """The colonies under a plan; see `Fit.forecast`."""
        colonies = Colonies(self.laws, CommonChance((self.seed,)), self.fit.days, self.states)
        return GrowingForecast(self, temperature, colonies)

    def forecast(self, days: int, temperature: Temperature | float | None) -> Forecast:
        """Let them grow on under a plan; see `Fit.forecast`."""
        return self.under(temperature).until(days)


@dataclass(frozen=True, eq=False)
class GrowingForecast:
    """Colonies that grow on under a plan, as far as one looks."""

    begun: PairedForecasts
    temperature: Temperature | float | None
    colonies: Colonies

    @on_one_thread
    def until(self, days: int) -> Forecast:
        """A forecast over so many days, no fewer than the one before."""
        fit = self.begun.fit
        plan, assumed = _future(fit, days, self.temperature)
        paths = self.colonies.until(fit.history.forcing(fit.days + days, plan))
        return Forecast(fit, fit.counts.end, paths, plan, assumed, self.begun.seed, self.begun.laws)


def _possible(fit: Posterior, draws: int) -> list[InitialState]:
    """Where the colony stands, if any colony of its species can.

    It cannot if it would have to lay or rear some twenty times as much as the law has it.
    """
    now = fit.initial_states(draws)
    far = max(
        float(np.median(np.abs(n.mean[:, State.of(n.laws).drift]), axis=0).max()) for n in now
    )
    if far > FARTHEST_DRIFT:
        raise LogError(
            f"{fit.counts.name}: no colony of {fit.species.scientific_name} comes to hold what the "
            "notes say, by far. Check numbers, dates and species, then fit again."
        )
    return now


def usual_dormancy(fit: Posterior) -> DormancySchedule | None:
    """When in the year the colony of a fit rests; None if its species needs no rest."""
    since, until = (np.datetime64(d, "D") for d in (fit.history.day_zero, fit.counts.end))
    return dormancy_schedule(fit.species, fit.history.hemisphere, fit.temperature, since, until)


def _future(
    fit: Posterior, days: int, temperature: Temperature | float | None
) -> tuple[Temperature, str]:
    """Temperatures from day 0 to the horizon, and what they assume of the future."""
    ant, usual, until = fit.species, usual_dormancy(fit), np.datetime64(fit.counts.end, "D")
    if temperature is None:
        ahead = extend_plan(fit.temperature, ant, usual, until, days)
        return ahead.temperature, ahead.describe()
    temperature = as_plan(temperature, "forecast: temperature")
    plan, words = fit.temperature.then(until + 1, temperature), temperature.describe()
    words += "".join(r.words() for r in missing_rests(plan, ant, usual, until + 1, days))
    return plan, words + _told_too_hot(plan, ant, until + 1, days)


def _told_too_hot(plan: Temperature, ant: Species, first: np.datetime64, days: int) -> str:
    """Say on how many days a plan kills; "" if on none."""
    limit = ant.value("limits.heat_limit_c")
    hot = int((plan.known_hours(first, days) > limit).any(axis=1).sum())
    return f"; above {limit:g} °C, where brood dies, on {counted(hot, 'day')}" if hot else ""
