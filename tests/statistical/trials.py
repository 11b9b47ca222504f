"""Trials of the forecast on simulated colonies whose future is known.

A trial is a colony grown by a simulator that shares no code with the package, a keeper's notes of
its beginning, and the day it really reached 30 workers. The forecast sees the notes alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from simulators.baselines import crps, log_linear_arrival, randomised_pit
from simulators.notes import Keeper, cut, days_to, numbers, write_log
from simulators.one_ant import DRIFT
from simulators.other_laws import TYPICAL_SPREAD, draw_colonies, winter

import antgrowth as ag
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.prior import Prior
from antgrowth.model.simulation import simulate

START = "2025-04-01"
"""Soon after the usual spring, so that there is a season to grow in."""
LAW = {"season": "endogenous", "since_spring": 4.0, "drift": DRIFT}
"""What `simulators.one_ant` has to be told to follow the law that the package takes Lasius niger to
have: its own timer, spring on 28 March, and the luck of the nest."""
HORIZON = 260
"""Days that a simulated colony lives; arrivals beyond are treated as never. [day]"""

# The simulators' names for the numbers of a species profile.
PROFILE_NAMES = {
    "egg_days": "development.egg.days",
    "larva_days": "development.larva.days",
    "pupa_days": "development.pupa.days",
    "sigma_egg": "survival.egg",
    "sigma_larva": "survival.larva",
    "sigma_pupa": "survival.pupa",
    "egg_lower_c": "development.egg.lower_c",
    "larva_lower_c": "development.larva.lower_c",
    "pupa_lower_c": "development.pupa.lower_c",
    "egg_upper_c": "development.egg.upper_c",
    "larva_upper_c": "development.larva.upper_c",
    "pupa_upper_c": "development.pupa.upper_c",
    "pace_cv": "development.pace_cv",
    "delay_days": "laying.delay_days",
    "founding_rate": "laying.founding_rate",
    "rate_per_worker": "laying.rate_per_worker",
    "top_rate": "laying.top_rate",
    "eggs_eaten": "rearing.eggs_eaten",
    "places_alone": "rearing.places_alone",
    "places_per_worker": "rearing.places_per_worker",
    "places_power": "rearing.places_power",
    "pupa_care": "rearing.pupa_care",
    "laying_lower_c": "laying.lower_c",
    "laying_upper_c": "laying.upper_c",
    "season_days": "season.length_days",
    "season_ends_below_c": "season.ends_below_c",
    "wake_days": "season.wake_days",
    "spring_laying_days": "season.laying_days",
    "fasting": "season.fasting",
    "rest_egg": "rest.egg_survival",
    "rest_larva": "rest.larva_survival",
    "rest_pupa": "rest.pupa_survival",
    "worker_life_days": "workers.life_days",
    "life_shape": "workers.life_shape",
    "first_life": "workers.first_life",
    "first_development": "workers.first_development",
    "ageing_q10": "workers.ageing_q10",
    "heat_limit_c": "limits.heat_limit_c",
    "heat_loss": "limits.heat_loss_per_day_c",
}


WEEKS_ON = 5
"""Counts are foreseen for so long after the last note. [week]"""

VARYING = ("_days", "sigma", "founding", "per_worker", "eaten", "places", "pupa_care")
"""Parameters that differ between simulated colonies, by a piece of their name."""


def central_values(species: ag.Species, wanted: dict[str, float]) -> dict[str, float]:
    """Central values of a species under the simulators' names.

    What a profile does not tell of the season, since it ends in another way, is as in `wanted`;
    so is what only several queens would show.
    """
    paths = {name: PROFILE_NAMES[name] for name in wanted if not name.startswith("queens")}
    return {name: wanted[name] for name in wanted.keys() - paths.keys()} | {
        name: wanted[name]
        if path.startswith("season.") and path not in species
        else species.value(path)
        for name, path in paths.items()
    }


def profile_spread(species: ag.Species, wanted: dict[str, float]) -> dict[str, float]:
    """Log-sds of colonies around a profile: the profile's own, as far as they are its colonies'.

    Survivals scatter on -log(sigma) in the simulators, for which the logit's spread stands in.
    """
    spread = {
        name: species[PROFILE_NAMES[name]].spread
        for name in wanted
        if any(piece in name for piece in VARYING) and PROFILE_NAMES[name] in species
    }
    return spread | {"all_days": species.value("development.shared_spread")}


@dataclass(frozen=True, eq=False)
class Trial:
    """One colony whose future is known: its notes, and when it reached 30 workers."""

    log: pd.DataFrame
    truth: float
    """Day of arrival, counted from the founding; 0 is the founding day."""
    counts: np.ndarray
    """True counts at the end of each day, shape (days, 4)."""
    temperature: ag.Temperature
    """What the keeper knows of the warmth, with the rests planned."""
    acquired: bool = False
    """Whether the keeper knows nothing of the colony before the first note."""

    @property
    def horizon(self) -> int:
        """Days that the colony lives; arrivals beyond are treated as never. [day]"""
        return len(self.counts)


@dataclass(frozen=True)
class Score:
    """How a forecast did on one trial."""

    truth: float
    cut: float
    """Share of the way to 30 workers that the notes cover."""
    median: float
    held_90: bool
    held_50: bool
    pit: float
    width_90: float
    crps: float
    crps_species: float
    crps_loglinear: float
    answered_loglinear: bool
    held_workers: float
    held_brood: float
    """Whether the 90 % range of the count `WEEKS_ON` held it; nan where the colony is not followed
    for so long."""


def make_trials(
    simulator: Callable[..., np.ndarray],
    central: dict[str, float],
    number: int,
    rng: np.random.Generator,
    *,
    spread: dict[str, float] | None = None,
    keeper: Keeper | None = None,
    temperature_c: float = 24.0,
    cuts: tuple[float, float] = (0.35, 0.8),
    **options: object,
) -> list[Trial]:
    """Simulate colonies and write their notes up to a fraction of the way to 30 workers."""
    hourly = np.full((HORIZON, 24), temperature_c)
    trials: list[Trial] = []
    known = ag.constant(temperature_c)
    while len(trials) < number:
        drawn = draw_colonies(central, spread or TYPICAL_SPREAD, number, rng)
        paths = simulator(drawn, hourly, number, rng, **options)
        for path, arrival in zip(paths, days_to(paths), strict=True):
            last = cut(arrival, rng.uniform(*cuts)) if np.isfinite(arrival) else 0
            log = write_log(path, START, rng, keeper, last_day=last) if last > 7 else None
            if log is not None and (log.drop(columns="date") != "").any(axis=None):
                trials.append(Trial(log, float(arrival), path, known))
    return trials[:number]


def with_winter(
    days: int, warmth_c: float, first: int, rest_days: int, rest_c: float
) -> tuple[np.ndarray, np.ndarray, ag.Temperature]:
    """Steady warmth with one cold rest: by the hour, the days of the rest, and as a plan."""
    hourly, resting = winter(np.full((days, 24), warmth_c), first, first + rest_days - 1, rest_c)
    begins, ends = (
        pd.Timestamp(START) + pd.Timedelta(days=day) for day in (first, first + rest_days)
    )
    return hourly, resting, ag.constant(warmth_c).rest(begins, ends, temperature=rest_c)


def species_average(
    species: ag.Species,
    temperature: ag.Temperature,
    rng: np.random.Generator,
    draws: int = 2000,
    horizon: int = HORIZON,
) -> np.ndarray:
    """Days of 30 workers expected of the species alone: the same forecast without the notes."""
    prior = Prior.of(species)
    history = ColonyHistory(species, temperature, pd.Timestamp(START), True, None, queens=1)
    laws = prior.laws(prior.with_round_shifts(rng.standard_normal((draws, len(prior))), 0.25))
    return days_to(simulate(laws, history.forcing(horizon), rng)[:, 1:])


def score(
    trial: Trial, species: ag.Species, average: np.ndarray, rng: np.random.Generator
) -> Score:
    """Fit and forecast one trial, beside the species average and log-linear growth."""
    forecast, last = foresee(trial, species, rng)
    arrival = forecast.arrival(workers=30)
    day = days_of(arrival, trial.horizon)
    workers, brood = counts_held(forecast, trial, last + 7 * WEEKS_ON)

    def held(level: float) -> tuple[bool, float]:
        first, final = (
            trial.horizon if end is pd.NaT else (end - pd.Timestamp(START)).days
            for end in arrival.interval(level)
        )
        return first <= trial.truth <= final, final - first

    usual = np.minimum(average[average > last], trial.horizon)
    workers_day, seen = numbers(trial.log)
    offset = (pd.Timestamp(trial.log["date"].iloc[0]) - pd.Timestamp(START)).days
    line = log_linear_arrival(workers_day + offset, seen, rng)
    return Score(
        truth=trial.truth,
        cut=last / trial.truth,
        median=float(np.median(day)),
        held_90=held(0.9)[0],
        held_50=held(0.5)[0],
        pit=randomised_pit(day, trial.truth, rng),
        width_90=held(0.9)[1],
        crps=crps(day, trial.truth, fair=True),
        crps_species=crps(usual, trial.truth, fair=True),
        crps_loglinear=crps(line.draws, trial.truth),
        answered_loglinear=bool(np.isfinite(line.day)),
        held_workers=workers,
        held_brood=brood,
    )


def foresee(
    trial: Trial, species: ag.Species, rng: np.random.Generator, draws: int = 500
) -> tuple[ag.Forecast, int]:
    """What the notes of a trial let be expected, and the day of the last note."""
    fit = ag.fit(
        trial.log,
        trial.temperature,
        species,
        queen_since=None if trial.acquired else START,
        rng=int(rng.integers(2**31)),
    )
    last = (fit.counts.end - pd.Timestamp(START)).days
    days, seed = trial.horizon - last - 1, int(rng.integers(2**31))
    # Without a rest in the plan, the colony is kept through the winter: none is to be added.
    return fit.forecast(days, trial.temperature, draws=draws, rng=seed), last


def counts_held(forecast: ag.Forecast, trial: Trial, day: int) -> tuple[float, float]:
    """Whether the 90 % ranges of workers and of all brood held what there was on a day."""
    if day >= trial.horizon:
        return np.nan, np.nan
    last = trial.horizon - forecast.paths.shape[1]
    foreseen, there = forecast.paths[:, day - last], trial.counts[day]
    held = []
    for drawn, true in ((foreseen[:, 3], there[3]), (foreseen[:, :3].sum(1), there[:3].sum())):
        low, high = np.quantile(drawn, [0.05, 0.95])
        held.append(float(low <= true <= high))
    return held[0], held[1]


def days_of(arrival: ag.Arrival, never: float) -> np.ndarray:
    """Days of arrival from the founding, and `never` where the horizon ends first."""
    days = (arrival.dates - np.datetime64(START, "D")).astype(float)
    return np.where(np.isnat(arrival.dates), never, days)


def summarise(scores: list[Score]) -> dict[str, float]:
    """Averages of a set of trials, as the studies print them."""
    table = pd.DataFrame([vars(s) for s in scores])
    return {
        "colonies": len(table),
        "held 90 %": 100 * table["held_90"].mean(),
        "held 50 %": 100 * table["held_50"].mean(),
        "PIT 90 %": 100 * (np.abs(table["pit"] - 0.5) <= 0.45).mean(),
        "width 90 % [d]": table["width_90"].median(),
        "bias [d]": (table["median"] - table["truth"]).mean(),
        "CRPS [d]": table["crps"].mean(),
        "CRPS species [d]": table["crps_species"].mean(),
        "ratio": table["crps"].mean() / table["crps_species"].mean(),
        "CRPS log-linear [d]": table["crps_loglinear"].mean(),
        "log-linear answered": 100 * table["answered_loglinear"].mean(),
        "workers held 90 %": 100 * table["held_workers"].mean(),
        "brood held 90 %": 100 * table["held_brood"].mean(),
    }
