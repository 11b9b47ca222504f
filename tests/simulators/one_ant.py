"""The growth law of the package, one ant at a time: the truth its fast formulas are tested against.

The law, with time in days, temperatures T in °C, and E eggs, L larvae, W workers:

- Development. A stage runs on a clock of rate r(T) / r(25 °C), so that it counts "days at 25 °C".
  r is Briere-1, T (T - lower) sqrt(upper - T) between its limits and 0 outside, or degree-day,
  max(0, T - lower). Each individual needs u x `<stage>_days` on the clock, with a u ~ Gamma(mean 1,
  CV `pace_cv`) of its own in each stage.
- Survival through a stage is `sigma_<stage>`, the loss spread over the progress p on the clock:
  P(alive at p) = sigma^p. Above `heat_limit_c` brood is lost at `heat_loss` per °C and day, the
  excess being averaged over each day. Within the first 30 days of a rest all but `rest_<stage>`
  are lost.
- Laying begins `delay_days` after day 0, at phi(T) g q(W) eggs a day, whatever brood lies there:
  q = top_rate (1 - exp(-(founding_rate + rate_per_worker W) / top_rate)), phi the Briere shape
  between the laying limits, 1 at 25 °C, and g the gate of the season for laying; Q queens lay
  Q^queens_laying_power times as much as one.
- Larvae eat eggs: each egg is eaten at the hazard `eggs_eaten` r L / (E + 30), r being the larvae's
  rate of development; by 1 - fasting (1 - g) the less when the season is over.
- Places. A hatched larva waits until one of places_alone Q^queens_care_power + places_per_worker
  ((1 + W)^power - 1) places is free. A growing larva takes one, a pupa `pupa_care` of one. Larvae
  that wait have equal chances, do not grow and die of heat and rest alone; growing larvae count
  `larva_days`.
- Season. A gate g between 0 and 1 (`Season`) closes on laying and on growing larvae and is opened
  again by a rest. Eggs and pupae go on. In a rest nobody lays, grows as a larva, or eats.
- First workers. Eggs and larvae develop 1 / `first_development` times as fast while there is no
  worker; a larva that pupates then becomes a first worker, which does the same as a pupa and lives
  `first_life` times as long.
- Workers have a Weibull life of scale `worker_life_days` and shape `life_shape` on an ageing clock
  of rate ageing_q10 ^ ((T - 25) / 10).
- Luck of the nest as a whole: laying, places and eating each have a factor of mean 1 whose
  logarithm wanders with a memory of 15, 20 and 20 days. None unless asked for.

How it departs from the package: not in the law, only in the working. The package follows numbers
by daily steps; here each individual has moments of its own, and laying, eating and places are
renewed in quarters of a day (`dt`), so that this is the finer solution. A place that becomes free
is taken at the start of the next step. Places are whole: colonies round theirs up or down at
random, so that they have the law's number on average.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from simulators.individuals import (
    EGG,
    GROWING,
    PUPA,
    WAITING,
    WORKER,
    Clock,
    Lives,
    Loss,
    Nest,
    follow,
)

REFERENCE_C = 25.0
BROOD_STAGES = ("egg", "larva", "pupa")

TYPICAL: dict[str, float] = {
    "egg_days": 13.0,
    "larva_days": 9.0,
    "pupa_days": 16.0,
    "egg_lower_c": 10.0,
    "egg_upper_c": 38.0,
    "larva_lower_c": 10.0,
    "larva_upper_c": 38.0,
    "pupa_lower_c": 10.0,
    "pupa_upper_c": 38.0,
    "pace_cv": 0.12,
    "sigma_egg": 0.90,
    "sigma_larva": 0.60,
    "sigma_pupa": 0.95,
    "heat_limit_c": 33.0,
    "heat_loss": 0.05,
    "delay_days": 5.0,
    "founding_rate": 3.0,
    "rate_per_worker": 0.25,
    "top_rate": 80.0,
    "eggs_eaten": 0.5,
    "places_alone": 14.0,
    "places_per_worker": 2.0,
    "places_power": 0.9,
    "pupa_care": 0.7,
    "laying_lower_c": 10.0,
    "laying_upper_c": 38.0,
    "season_days": 180.0,
    "season_ends_below_c": 15.0,
    "wake_days": 10.0,
    "spring_laying_days": 25.0,
    "fasting": 0.8,
    "rest_egg": 0.05,
    "rest_larva": 0.70,
    "rest_pupa": 0.05,
    "worker_life_days": 300.0,
    "life_shape": 2.0,
    "first_life": 0.6,
    "first_development": 0.92,
    "ageing_q10": 2.0,
    "queens": 1.0,
    "queens_laying_power": 0.6,
    "queens_care_power": 0.6,
}
"""An invented ant of temperate gardens; every value is assumed, for tests alone."""

SHARED_BY_ALL = tuple(name for name in TYPICAL if name.endswith("_c")) + ("ageing_q10",)
"""Parameters that shape a clock, which all colonies of a run share; the others may be arrays."""

SEASONS = ("endogenous", "exogenous", "none")

HALF_EATEN_AT = 30.0
"""Eggs at which larvae eat half as many as they could."""
END_WIDTH_DAYS, SPRING_WIDTH_DAYS = 1.5, 3.0
"""Logistic widths of the gate at the end of a season and after a rest. [day]"""
LAYS_LONGER_DAYS = 4.0
"""Where her own timer ends the season, she lays for so long after larvae stand still. [day]"""
COOL_DAYS = 10
"""Days whose mean warmth ends the season of a species that goes by it. [day]"""
REST_LOSS_DAYS = 30
"""Brood that a rest takes is lost within this many days. [day]"""
DRIFT_MEMORY_DAYS = (15.0, 20.0, 20.0)
"""Memory of the luck of laying, places and eating. [day]"""
DRIFT = (0.5, 0.5, 0.25)
"""The log-sds of these three that the package assumes."""
OLDEST_HELD = 0.5
"""Workers that are there at the start are up to this share of their life's scale old."""


@dataclass(frozen=True, eq=False)
class Weather:
    """What the temperatures of a run mean to the ants; rates relative to those at 25 °C.

    Rates have shape (days,), or (days, parts) with any number of equal parts of a day; the other
    fields have shape (days,).
    """

    egg: np.ndarray
    larva: np.ndarray
    pupa: np.ndarray
    laying: np.ndarray
    ageing: np.ndarray
    excess_c: np.ndarray
    """By how much it was hotter than brood can bear, averaged over the day. [°C]"""
    mean_c: np.ndarray
    """Mean temperature; a season that ends by warmth goes by it. [°C]"""
    resting: np.ndarray
    """Days of a winter rest, bool."""

    @property
    def days(self) -> int:
        return len(self.mean_c)

    @classmethod
    def of(
        cls,
        hourly_c: np.ndarray,
        parameters: Mapping[str, float | np.ndarray],
        curve: str = "briere",
        resting: np.ndarray | None = None,
    ) -> Weather:
        """Work it out from nest temperatures, shape (days, 24). [°C]

        `curve` is that of all three brood stages, "briere" or "degree_days"; laying always follows
        the Briere shape.
        """
        hourly_c = np.asarray(hourly_c, float)

        def rate(what: str, shape: str) -> np.ndarray:
            lower, upper = (float(parameters[f"{what}_{end}_c"]) for end in ("lower", "upper"))
            return relative_rate(hourly_c, lower, upper, shape)

        egg, larva, pupa = (rate(stage, curve) for stage in BROOD_STAGES)
        ageing = float(parameters["ageing_q10"]) ** ((hourly_c - REFERENCE_C) / 10)
        excess = np.maximum(0.0, hourly_c - float(parameters["heat_limit_c"])).mean(axis=1)
        rests = np.zeros(len(hourly_c), bool) if resting is None else np.asarray(resting, bool)
        return cls(
            egg, larva, pupa, rate("laying", "briere"), ageing, excess, hourly_c.mean(axis=1), rests
        )

    def passed(self, rate: np.ndarray, dt: float) -> np.ndarray:
        """By how much the clock of a rate runs on in each step, shape (steps,)."""
        steps = round(self.days / dt)
        return np.diff(Clock(rate).at(np.arange(steps + 1) * dt))

    def rest_loss(self, survival: np.ndarray) -> np.ndarray:
        """Hazard [1/day] of each day by a rest that so many outlive, (days,) + survival's shape."""
        run = np.zeros(self.days)
        for day in range(self.days):
            run[day] = (run[day - 1] + 1 if day else 1) if self.resting[day] else 0
        begun = (run > 0) & (run <= REST_LOSS_DAYS)
        return np.multiply.outer(begun, -np.log(survival) / REST_LOSS_DAYS)


def simulate(
    parameters: Mapping[str, float | np.ndarray],
    hourly_c: np.ndarray | Weather,
    colonies: int,
    rng: np.random.Generator,
    *,
    dt: float = 0.25,
    curve: str = "briere",
    resting: np.ndarray | None = None,
    season: str = "none",
    since_spring: float = 0.0,
    drift: tuple[float, float, float] = (0.0, 0.0, 0.0),
    held: np.ndarray | None = None,
    losses: Sequence[Loss] = (),
    pace_for_life: bool = False,
) -> np.ndarray:
    """Let colonies grow and count them at the end of each day.

    Parameters
    ----------
    parameters : mapping
        The names of `TYPICAL`, all of them. Each a number, or an array of shape (colonies,) but
        for those of `SHARED_BY_ALL`.
    hourly_c : array, shape (days, 24), or Weather
        Nest temperature [°C], or what it means to the ants; then `curve` and `resting` are unused.
    dt : float
        Step in which laying, eating and places are renewed; a day holds a whole number. [day]
    curve : {"briere", "degree_days"}
        Development-rate curve of all three stages. Laying always follows the Briere shape.
    resting : bool array, shape (days,), optional
        Days of winter rest.
    season : {"none", "endogenous", "exogenous"}
        How the season ends, see `Season`.
    since_spring : float
        Days from the last spring to time 0; below 0 where it is still to come. [day]
    drift : three floats
        Log-sd of the luck of laying, places and eating; `DRIFT` is what the package assumes.
    held : int array, shape (4,) or (colonies, 4), optional
        Eggs, larvae, pupae and workers there at time 0, of ages spread evenly. As many larvae grow
        as find places. None is a first worker. `delay_days` still counts from day 0.
    losses : sequence of Loss
        Unlogged losses; none in the law itself.
    pace_for_life : bool
        Whether an ant that is slow as an egg is as slow as a larva and a pupa, which breaks the
        law.

    Returns
    -------
    counts : int array, shape (colonies, days, 4)
        Eggs, larvae, pupae and workers at time d + 1 for day d.
    """
    return simulate_lives(
        parameters, hourly_c, colonies, rng, dt=dt, curve=curve, resting=resting, season=season,
        since_spring=since_spring, drift=drift, held=held, losses=losses,
        pace_for_life=pace_for_life,
    )[0]  # fmt: skip


def simulate_lives(
    parameters: Mapping[str, float | np.ndarray],
    hourly_c: np.ndarray | Weather,
    colonies: int,
    rng: np.random.Generator,
    *,
    dt: float = 0.25,
    curve: str = "briere",
    resting: np.ndarray | None = None,
    season: str = "none",
    since_spring: float = 0.0,
    drift: tuple[float, float, float] = (0.0, 0.0, 0.0),
    held: np.ndarray | None = None,
    losses: Sequence[Loss] = (),
    pace_for_life: bool = False,
) -> tuple[np.ndarray, Lives]:
    """Do as `simulate` and also return the life of every individual."""
    if isinstance(hourly_c, Weather):
        weather = hourly_c
    else:
        weather = Weather.of(hourly_c, parameters, curve, resting)
    p = per_colony(parameters, colonies)
    gate = Season(season, p, weather, since_spring)
    law = OneAntLaw(p, weather, gate, Drift(drift, colonies, dt, rng), rng, dt, pace_for_life, held)
    return follow(law, weather.days, colonies, rng, dt, losses)


class Season:
    """The gate on laying and rearing, and when it closes and opens.

    "endogenous": closes `season_days` after spring, by the colony's own timer, and for laying
    `LAYS_LONGER_DAYS` later. "exogenous": closes when the mean of `COOL_DAYS` days, all of this
    season, first falls below `season_ends_below_c` from above. Either way it opens after a rest, at
    `wake_days` after its end for rearing and at `spring_laying_days` for laying. "none": it is
    always open, but for a rest itself.
    """

    def __init__(
        self, kind: str, p: Mapping[str, np.ndarray], weather: Weather, since_spring: float
    ) -> None:
        if kind not in SEASONS:
            raise ValueError(f"season = {kind!r}: allowed are {', '.join(SEASONS)}.")
        self.kind, self.p, self.resting = kind, p, weather.resting
        days = weather.days
        self.spring = np.full(days, -since_spring)
        """Day of the last spring, for each day."""
        self.woken = np.zeros(days, bool)
        """Whether that spring ended a rest of this run."""
        self.cooled = np.full(days, np.inf)
        """Day since which it has been too cool, inf where it has not."""
        limit, begin, was_warm = float(np.ravel(p["season_ends_below_c"])[0]), 0, False
        for day in range(days):
            if day:
                self.spring[day], self.woken[day] = self.spring[day - 1], self.woken[day - 1]
                self.cooled[day] = self.cooled[day - 1]
                if self.resting[day - 1] and not self.resting[day]:
                    self.spring[day], self.woken[day], self.cooled[day] = day, True, np.inf
                    begin, was_warm = day, False
            if day - begin >= COOL_DAYS and np.isinf(self.cooled[day]):
                mean = weather.mean_c[day - COOL_DAYS : day].mean()
                if mean < limit and was_warm:
                    self.cooled[day] = day
                was_warm |= mean >= limit

    def gates(self, time: float) -> tuple[np.ndarray, np.ndarray]:
        """How open it is for laying and for rearing, 0 to 1, each of shape (colonies,)."""
        p, day = self.p, int(time)
        ones = np.ones_like(p["season_days"])
        if self.resting[day]:
            return 0 * ones, 0 * ones
        if self.kind == "none":
            return ones, ones
        tau = time - self.spring[day]
        if self.kind == "endogenous":
            left = p["season_days"] - tau
            lay = expit((left + LAYS_LONGER_DAYS) / END_WIDTH_DAYS)
            rear = expit(left / END_WIDTH_DAYS)
        else:
            lay = rear = expit((self.cooled[day] - time) / END_WIDTH_DAYS) * ones
        if self.woken[day]:
            lay = lay * expit((tau - p["spring_laying_days"]) / SPRING_WIDTH_DAYS)
            rear = rear * expit((tau - p["wake_days"]) / SPRING_WIDTH_DAYS)
        return lay, rear


class Drift:
    """The luck of laying, places and eating: factors of mean 1 that wander with a memory."""

    def __init__(
        self, log_sd: tuple[float, float, float], colonies: int, dt: float, rng: np.random.Generator
    ) -> None:
        self.log_sd, self.rng = np.array(log_sd)[:, None], rng
        self.keep = np.exp(-dt / np.array(DRIFT_MEMORY_DAYS))[:, None]
        self.level = rng.standard_normal((3, colonies))

    def step(self) -> np.ndarray:
        """Return the factors of a step, shape (3, colonies), and wander on."""
        factor = np.exp(self.log_sd * self.level - self.log_sd**2 / 2)
        if self.log_sd.any():
            shock = self.rng.standard_normal(self.level.shape)
            self.level = self.keep * self.level + np.sqrt(1 - self.keep**2) * shock
        return factor


class OneAntLaw:
    """The law written out above, for `individuals.follow`."""

    def __init__(
        self,
        p: Mapping[str, np.ndarray],
        weather: Weather,
        season: Season,
        drift: Drift,
        rng: np.random.Generator,
        dt: float = 0.25,
        pace_for_life: bool = False,
        held: np.ndarray | None = None,
    ) -> None:
        self.p, self.weather, self.season, self.drift = p, weather, season, drift
        self.rng, self.dt, self.pace_for_life = rng, dt, pace_for_life
        self.passed = {
            name: weather.passed(getattr(weather, name), dt)
            for name in (*BROOD_STAGES, "laying", "ageing")
        }
        self.rest_loss = [weather.rest_loss(p[f"rest_{stage}"]) for stage in BROOD_STAGES]
        colonies = p["egg_days"].size
        self.rounding = rng.random(colonies)
        """Places are whole; each colony rounds them up or down in a way of its own."""
        self.held = np.zeros((colonies, 4), int)
        if held is not None:
            self.held[:] = held

    def begin(self, nest: Nest) -> None:
        p, colonies = self.p, np.arange(nest.colonies)
        for stage, state in enumerate((EGG, WAITING, PUPA, WORKER)):
            rows = nest.lay(np.repeat(colonies, self.held[:, stage]))
            nest.entered[rows, :state] = 0.0
            time, done = np.zeros(rows.size), self.rng.random(rows.size)
            if state == WORKER:
                age = OLDEST_HELD * done
                scale, shape = p["worker_life_days"][nest.colony[rows]], p["life_shape"]
                # Those that died younger are not here: the rest of a Weibull life given its age.
                k = shape[nest.colony[rows]]
                life = (age**k + self.rng.exponential(size=rows.size)) ** (1 / k)
                nest.enter(WORKER, rows, time, scale * (life - age))
            elif state == WAITING:
                nest.enter(WAITING, rows, time)
            else:
                self._develop(nest, state, rows, time, done)
        pupae, workers = self.held[:, 2], self.held[:, 3]
        places = self.places(workers) - p["pupa_care"] * pupae
        grown = nest.pick(WAITING, np.floor(places + self.rounding).astype(int))
        self._develop(nest, GROWING, grown, np.zeros(grown.size), self.rng.random(grown.size))

    def step(self, nest: Nest, start: float, end: float) -> None:
        p, i, day = self.p, round(start / self.dt), int(start)
        eggs, waiting, growing, pupae, workers = nest.counts()
        lay_gate, rear_gate = self.season.gates((start + end) / 2)
        lucky_laying, lucky_places, lucky_eating = self.drift.step()
        awake = not self.weather.resting[day]

        quicker = np.where(workers == 0, 1 / p["first_development"], 1.0)
        clocks = np.zeros((5, nest.colonies))
        clocks[EGG] = self.passed["egg"][i] * quicker
        clocks[GROWING] = self.passed["larva"][i] * quicker * rear_gate
        clocks[PUPA] = self.passed["pupa"][i]
        clocks[WORKER] = self.passed["ageing"][i]
        nest.step(start, end, clocks)
        loss = [
            p["heat_loss"] * self.weather.excess_c[day] + by_rest[day] for by_rest in self.rest_loss
        ]

        begun = np.clip(p["delay_days"], start, end)
        warmth = self.passed["laying"][i] * (end - begun) / (end - start)
        rate = laying_rate(p, workers) * lucky_laying * lay_gate * warmth
        number = self.rng.poisson(rate)
        rows = nest.lay(np.repeat(np.arange(nest.colonies), number))
        since = begun[nest.colony[rows]]
        laid = since + (end - since) * self.rng.random(rows.size)
        if self.pace_for_life:
            nest.pace[rows] = gamma_pace(p["pace_cv"][nest.colony[rows]], self.rng)
        self._develop(nest, EGG, rows, laid)

        activity = self.passed["larva"][i] / (end - start) * awake
        appetite = p["eggs_eaten"] * activity * lucky_eating * (1 - p["fasting"] * (1 - rear_gate))
        mouths = appetite * (waiting + growing)
        # The hazard at half time: with fewer eggs, each of them is in greater danger.
        halfway = eggs * np.exp(-0.5 * (end - start) * mouths / (eggs + HALF_EATEN_AT))
        eaten = mouths / (halfway + HALF_EATEN_AT)
        rows, time = nest.leave(EGG, loss[0] + eaten)
        nest.enter(WAITING, rows, time)

        nest.leave(WAITING, loss[1])
        free = self.places(workers) * lucky_places - growing - p["pupa_care"] * pupae
        free = np.where(rear_gate >= 0.5, np.floor(free + self.rounding), 0.0)
        rows = nest.pick(WAITING, free.astype(int))
        self._develop(nest, GROWING, rows, np.maximum(start, nest.entered[rows, WAITING]))

        rows, time = nest.leave(GROWING, loss[1])
        nest.first[rows] = workers[nest.colony[rows]] == 0
        self._develop(nest, PUPA, rows, time)

        rows, time = nest.leave(PUPA, loss[2])
        colony = nest.colony[rows]
        scale = np.where(nest.first[rows], p["first_life"][colony], 1.0)
        scale = scale * p["worker_life_days"][colony]
        nest.enter(WORKER, rows, time, scale * self.rng.weibull(p["life_shape"][colony]))
        # The end of that stage is the end of life.
        rows, time = nest.leave(WORKER)
        nest.died[rows] = time

    def places(self, workers: np.ndarray) -> np.ndarray:
        """Places for growing larvae and pupae, shape (colonies,)."""
        return places(self.p, workers)

    def _develop(
        self,
        nest: Nest,
        state: int,
        rows: np.ndarray,
        time: np.ndarray,
        done: np.ndarray | float = 0.0,
    ) -> None:
        """Let brood begin a stage, and draw how long it takes and whether it is survived."""
        p, colony = self.p, nest.colony[rows]
        stage = {EGG: "egg", GROWING: "larva", PUPA: "pupa"}[state]
        pace = nest.pace[rows] if self.pace_for_life else gamma_pace(p["pace_cv"][colony], self.rng)
        need = pace * p[f"{stage}_days"][colony]
        if state == PUPA:
            need = need * np.where(nest.first[rows], p["first_development"][colony], 1.0)
        # P(alive at progress p) = sigma^p, so death comes at an exponential progress.
        fatal = exponential(np.log(1 / p[f"sigma_{stage}"][colony]), self.rng)
        nest.enter(state, rows, time, need, fatal / (1 - np.asarray(done)), done)


def laying_rate(p: Mapping[str, np.ndarray], workers: np.ndarray) -> np.ndarray:
    """Eggs a day at 25 °C in the season, shape (colonies,)."""
    wish = p["founding_rate"] + p["rate_per_worker"] * workers
    one = -p["top_rate"] * np.expm1(-wish / p["top_rate"])
    return one * p["queens"] ** p["queens_laying_power"]


def places(p: Mapping[str, np.ndarray], workers: np.ndarray) -> np.ndarray:
    """Places for growing larvae and pupae by number of workers, shape (colonies,)."""
    alone = p["places_alone"] * p["queens"] ** p["queens_care_power"]
    return alone + p["places_per_worker"] * ((1 + workers) ** p["places_power"] - 1)


def relative_rate(
    temperature_c: np.ndarray, lower_c: float, upper_c: float, curve: str
) -> np.ndarray:
    """Return the rate at a temperature over the rate at 25 °C."""

    def shape(t: np.ndarray) -> np.ndarray:
        if curve == "degree_days":
            return np.maximum(0.0, t - lower_c)
        if curve == "briere":
            inside = (t > lower_c) & (t < upper_c)
            return np.where(inside, t * (t - lower_c) * np.sqrt(np.maximum(0.0, upper_c - t)), 0.0)
        raise ValueError(f"curve = {curve!r}: allowed are 'briere' and 'degree_days'.")

    return shape(np.asarray(temperature_c, float)) / shape(np.asarray(REFERENCE_C))


def ageing_clock(hourly_c: np.ndarray, q10: float) -> Clock:
    """Return the clock of workers' age, in days at 25 °C."""
    return Clock(q10 ** ((hourly_c - REFERENCE_C) / 10))


def per_colony(
    parameters: Mapping[str, float | np.ndarray], colonies: int
) -> dict[str, np.ndarray]:
    """Spread each parameter over the colonies; names must be exactly those of `TYPICAL`."""
    if set(parameters) != set(TYPICAL):
        missing, unknown = set(TYPICAL) - set(parameters), set(parameters) - set(TYPICAL)
        raise ValueError(f"parameters missing: {sorted(missing)}; unknown: {sorted(unknown)}.")
    return {name: np.broadcast_to(value, (colonies,)) for name, value in parameters.items()}


def gamma_pace(cv: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Draw a pace of mean 1 for each individual; exactly 1 where its CV is 0."""
    variance = np.maximum(cv**2, 1e-12)
    return np.where(cv > 0, rng.gamma(1 / variance, variance), 1.0)


def exponential(rate: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Draw exponential waits; inf where the rate is 0."""
    with np.errstate(divide="ignore"):
        return rng.exponential(size=rate.size) / rate


def pass_stage(
    clock: Clock, entered: np.ndarray, need: np.ndarray, fatal: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return when each leaves a stage alive and when it dies there, inf where it does not.

    `fatal` is the share of `need` done when death would come; above 1 the stage is survived.
    """
    reading = clock.at(entered)
    here, lost = np.isfinite(entered), fatal < 1
    done = np.where(here & ~lost, clock.when(reading + need), np.inf)
    death = np.where(here & lost, clock.when(reading + need * np.minimum(fatal, 1)), np.inf)
    return done, death


def worker_death(clock: Clock, eclosed: np.ndarray, life: np.ndarray) -> np.ndarray:
    """Return when each worker dies of age; inf for those that never eclose."""
    return np.where(np.isfinite(eclosed), clock.when(clock.at(eclosed) + life), np.inf)
