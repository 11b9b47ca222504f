"""Colonies that break the package's law in kind, and the scatter of colonies within a species.

A forecast is only honest if its intervals hold for ants that have not read the package's law.
Three other laws put the same central numbers of a species to work:

==================  ==========================  ==========================  ======================
                    `care_limited`              `crowded`                   `room_limited`
==================  ==========================  ==========================  ======================
laying              in clutches of negative     Poisson, the less the more  Poisson, less with all
                    binomial size               eggs lie there              brood, 1 - B / K
what holds the      free nursing capacity;      crowding: all larvae grow,  room: the queen lays
colony back         pupae need none             slower in a crowd           no more than has room
more workers        hyperbola a W / (b + W)     hyperbola                   straight line, a top
eggs eaten          none                        by young larvae, a fixed    none
                                                number a day, and by the
                                                queen short of brood
season              none                        by the length of the day:   none
                                                laying fades, the youngest
                                                larvae stand still; begins
                                                with a sum of warmth
development         log-normal in each stage;   log-normal in each stage;   one gamma pace for
                    Q10, still below a limit    Q10                         life, Briere
brood deaths        early in each stage         larvae by the day, so the   even over the progress
                                                slow die more
first workers       ever rarer as the workers   as `care_limited`           laid with no worker
                    gather                                                  present
worker life         gamma                       gamma                       Weibull
==================  ==========================  ==========================  ======================

The law of the package: Poisson laying whatever brood lies there, larvae that eat eggs and wait for
places, a timer (see `one_ant`).

A founding queen that lays one clutch, pauses, and lays a second when the first brood is pupal is
reported for Formica japonica (1984, Entomological Society of Japan; author and pages unknown,
taken from the project's notes and not read again here). Every number here is assumed.

Three further breaks can be laid over `care_limited`: `losses` (unlogged misfortunes),
`overdispersion` (good and bad spells of laying, clutch-mates that share their luck) and `resting`
(a winter).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from simulators.individuals import (
    EGG,
    EGGS,
    GROWING,
    LARVAE,
    PUPA,
    PUPAE,
    WAITING,
    WORKER,
    WORKERS,
    Clock,
    Loss,
    Nest,
    follow,
    run,
)
from simulators.one_ant import (
    BROOD_STAGES,
    REFERENCE_C,
    ageing_clock,
    exponential,
    gamma_pace,
    pass_stage,
    per_colony,
    places,
    relative_rate,
    worker_death,
)

CLUTCHES_PER_DAY = 0.5
"""How often a warm queen with free care begins a clutch. [1/day]"""
CLUTCH_SIZE = 4.0
"""Negative binomial size: variance = mean + mean² / size."""
CARE_SPARE = 0.6
"""Share of care that is free when she begins clutches half as often as at most."""
CARE_FACTOR, ROOM_FACTOR, CROWD_FACTOR = 1.5, 1.25, 2.1
"""Care, room and hands for brood of the three laws, relative to those that would rear as many as
the places of the package's law do if all were always taken. They never quite are; with these, a
typical colony comes to 30 workers at about the same time (within a tenth) under all laws, by the
numbers of `one_ant.TYPICAL` as by those of Lasius niger: the laws differ in kind, not in how fast
the species is."""
DEVELOPMENT_Q10 = 2.4
"""Between 20 and 28 °C close to a Briere curve from 10 to 38 °C."""
FIRST_BROOD_FADES = 3.0
"""Workers at which an egg becomes a first worker with probability 1/e."""
SPELL_DAYS = 10.0
"""Memory of good and bad spells of laying. [day]"""
WINTER_LOSS = 0.8
"""Share of leftover eggs and pupae that a winter rest kills."""
AS_AT_WORKERS = 30
"""Laws that grow otherwise with the workers are as the package's for a queen alone and for this
many."""

LATITUDE = 50.0
"""Where the days of `crowded` colonies have their length. [°]"""
SHORT_DAY_H = (14.0, 0.3)
"""Mean and sd between colonies of the length of day below which the youngest larvae stand still."""
FADING_H = (-1.5, 1.0)
"""By so much longer are the days when laying ends, and when it begins to fade. [h]"""
SPRING_DAY_H = 11.0
"""While days lengthen, a queen who has not rested lays from this length of day on."""
STANDING_SHARE = 0.5
"""Larvae that have done less of their growth than this stand still when the days are short."""
YOUNG_SHARE = 0.35
"""Larvae eat eggs up to this share of their growth."""
SATED = 0.4
"""Eggs that a young larva eats a day, relative to what one of the package's law eats at most."""
QUEEN_EATS = 1.0
"""Eggs a day that a queen without brood but eggs eats."""
PILE = 150.0
"""Eggs at which she lays half as many."""
CROWD_POWER = 2.0
"""How steeply growth slows around the number of brood that there is care for."""
OWN_SPREAD = 0.25
"""Log-sd between `crowded` colonies of what only they have: appetite, pile, crowding, spring."""

TYPICAL_SPREAD: dict[str, float] = {
    "all_days": 0.08,
    "egg_days": 0.08,
    "larva_days": 0.08,
    "pupa_days": 0.08,
    "sigma_egg": 0.3,
    "sigma_larva": 0.3,
    "sigma_pupa": 0.3,
    "delay_days": 0.4,
    "founding_rate": 0.3,
    "rate_per_worker": 0.3,
    "eggs_eaten": 0.25,
    "places_alone": 0.25,
    "places_per_worker": 0.25,
    "worker_life_days": 0.25,
}
"""Log-sds between colonies of a species; assumed. `all_days` is shared by the three stages."""


def draw_colony(
    central: Mapping[str, float], spread: Mapping[str, float], rng: np.random.Generator
) -> dict[str, float]:
    """Draw the parameters of one colony around the central values of a species.

    Each of `spread` is the log-sd of a factor of median 1. For a survival sigma the factor is on
    the loss -log(sigma), so that it stays within 0 and 1. `all_days` scales all three stages.
    """
    one = draw_colonies(central, spread, 1, rng)
    return {name: float(np.ravel(value)[0]) for name, value in one.items()}


def draw_colonies(
    central: Mapping[str, float], spread: Mapping[str, float], n: int, rng: np.random.Generator
) -> dict[str, np.ndarray | float]:
    """Draw many colonies at once: arrays of shape (n,); parameters without spread stay numbers."""
    unknown = set(spread) - set(central) - {"all_days"}
    if unknown:
        raise ValueError(f"spread of unknown parameters: {sorted(unknown)}.")
    drawn: dict[str, np.ndarray | float] = dict(central)
    for name, log_sd in spread.items():
        factor = np.exp(log_sd * rng.standard_normal(n))
        if name.startswith("sigma_"):
            drawn[name] = np.asarray(drawn[name]) ** factor
        else:
            stages = [f"{stage}_days" for stage in BROOD_STAGES] if name == "all_days" else [name]
            for stage in stages:
                drawn[stage] = drawn[stage] * factor
    return drawn


def care_limited(
    parameters: Mapping[str, float | np.ndarray],
    hourly_c: np.ndarray,
    colonies: int,
    rng: np.random.Generator,
    *,
    losses: Sequence[Loss] = (),
    overdispersion: float = 0.0,
    resting: np.ndarray | None = None,
    dt: float = 1 / 12,
) -> np.ndarray:
    """Let colonies grow under the law of this module; count them at the end of each day.

    Parameters
    ----------
    parameters, hourly_c, colonies, rng, dt
        As in `one_ant.simulate`; parameters may be arrays of shape (colonies,).
    losses : sequence of Loss
        For example ``[Loss(day=60, fraction=0.5)]`` takes half the brood on day 60.
    overdispersion : float
        Log-sd of spells of laying, and of the death rate shared by the brood of a day. 0 is none.
    resting : bool array, shape (days,), optional
        Days of winter rest, as from `winter`: no laying and no development, and leftover eggs and
        pupae mostly die.

    Returns
    -------
    counts : int array, shape (colonies, days, 4)
    """
    days = np.shape(hourly_c)[0]
    resting = np.zeros(days, bool) if resting is None else np.asarray(resting, bool)
    law = CareLimitedLaw(parameters, hourly_c, colonies, overdispersion, resting, rng)
    return run(law, days, colonies, rng, dt, [*losses, *winter_losses(resting)])[0]


def crowded(
    parameters: Mapping[str, float | np.ndarray],
    hourly_c: np.ndarray,
    colonies: int,
    rng: np.random.Generator,
    *,
    day_of_year: int = 91,
    losses: Sequence[Loss] = (),
    resting: np.ndarray | None = None,
    dt: float = 0.25,
) -> np.ndarray:
    """Let colonies grow in crowded nests, by the calendar; count them at the end of each day.

    Parameters
    ----------
    parameters, hourly_c, colonies, rng, losses, resting, dt
        As in `care_limited`.
    day_of_year : int
        Day of the year of day 0 in the north, 1 for 1 January.

    Returns
    -------
    counts : int array, shape (colonies, days, 4)
    """
    days = np.shape(hourly_c)[0]
    resting = np.zeros(days, bool) if resting is None else np.asarray(resting, bool)
    law = CrowdedLaw(parameters, hourly_c, colonies, day_of_year, resting, rng, dt)
    return follow(law, days, colonies, rng, dt, [*losses, *winter_losses(resting)])[0]


def room_limited(
    parameters: Mapping[str, float | np.ndarray],
    hourly_c: np.ndarray,
    colonies: int,
    rng: np.random.Generator,
    *,
    losses: Sequence[Loss] = (),
    dt: float = 0.25,
) -> np.ndarray:
    """Let colonies grow that lay only as far as there is room for all brood.

    Parameters and counts as in `care_limited`, without its further breaks.
    """
    law = RoomLimitedLaw(parameters, hourly_c, colonies)
    return run(law, np.shape(hourly_c)[0], colonies, rng, dt, losses)[0]


def winter(
    hourly_c: np.ndarray, first_day: int, last_day: int, temperature_c: float = 8.0
) -> tuple[np.ndarray, np.ndarray]:
    """Return temperatures with a cold rest from first_day to last_day inclusive, and its days."""
    resting = np.zeros(len(hourly_c), bool)
    resting[first_day : last_day + 1] = True
    return np.where(resting[:, None], temperature_c, hourly_c), resting


def winter_losses(resting: np.ndarray) -> list[Loss]:
    """Return what each rest takes; brood stands still, so its stage is that at the start."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], resting.astype(int), [0]])))
    return [
        Loss(float(start), WINTER_LOSS, (EGGS, PUPAE), float(end - start))
        for start, end in zip(edges[::2], edges[1::2], strict=True)
    ]


class CareLimitedLaw:
    """The law tabled above, for `individuals.run`."""

    def __init__(
        self,
        parameters: Mapping[str, float | np.ndarray],
        hourly_c: np.ndarray,
        colonies: int,
        overdispersion: float,
        resting: np.ndarray,
        rng: np.random.Generator,
    ) -> None:
        self.p = p = per_colony(parameters, colonies)
        hourly_c = np.asarray(hourly_c, float)
        awake = ~resting[:, None]
        warmth = DEVELOPMENT_Q10 ** ((hourly_c - REFERENCE_C) / 10)
        self.stage_clocks = [
            Clock(warmth * (hourly_c > parameters[f"{stage}_lower_c"]) * awake)
            for stage in BROOD_STAGES
        ]
        lower, upper = float(parameters["laying_lower_c"]), float(parameters["laying_upper_c"])
        willing = np.clip((hourly_c - lower) / (REFERENCE_C - lower), 0.0, 1.0)
        self.laying_clock = Clock(willing * (hourly_c < upper) * awake)
        self.ageing_clock = ageing_clock(hourly_c, float(parameters["ageing_q10"]))

        days = len(hourly_c)
        self.spell = _spells(colonies, days, overdispersion, rng)
        # Gamma frailty of mean 1, shared by all eggs that a colony's queen lays on one day.
        variance = max(overdispersion**2, 1e-12)
        self.frailty = rng.gamma(1 / variance, variance, (colonies, days))

        egg, larva, pupa = stays(p)
        self.care_per_place = (egg + larva) / (larva + pupa)
        self.plateau = np.maximum(p["top_rate"] - p["founding_rate"], 1e-9)
        self.half_way = self.plateau / np.maximum(p["rate_per_worker"], 1e-9)
        # A gamma life with the mean and the CV of the Weibull life of the package.
        mean, cv = _weibull_mean_cv(p["life_shape"])
        self.life_mean, self.life_size = p["worker_life_days"] * mean, 1 / cv**2

    def lay(
        self, start: float, end: float, counts: np.ndarray, rng: np.random.Generator
    ) -> tuple[np.ndarray, np.ndarray]:
        p, workers = self.p, counts[:, WORKERS]
        rate = p["founding_rate"] + self.plateau * workers / (self.half_way + workers)
        capacity = CARE_FACTOR * self.care_per_place * places(p, workers)
        free = np.maximum(0.0, capacity - counts[:, EGGS] - counts[:, LARVAE])
        zeal = (free / capacity) ** 2
        zeal = zeal / (zeal + CARE_SPARE**2)
        begun = self.laying_clock.at(np.clip(p["delay_days"], start, end))
        warmth = self.laying_clock.at(end) - begun
        begins = rng.random(workers.size) < -np.expm1(-CLUTCHES_PER_DAY * warmth * zeal)
        # She does not lay more than can be tended, on average; a clutch may still overshoot.
        mean = np.minimum(rate / CLUTCHES_PER_DAY * self.spell[:, int(start)], free)
        eggs = rng.poisson(mean * rng.gamma(CLUTCH_SIZE, 1 / CLUTCH_SIZE, workers.size)) * begins
        colony = np.repeat(np.arange(workers.size), eggs)
        return colony, start + (end - start) * rng.random(colony.size)

    def live(
        self, colony: np.ndarray, laid: np.ndarray, workers: np.ndarray, rng: np.random.Generator
    ) -> tuple[np.ndarray, np.ndarray]:
        p, n = self.p, colony.size
        first = rng.random(n) < np.exp(-workers / FIRST_BROOD_FADES)
        quicker = np.where(first, p["first_development"][colony], 1.0)
        frailty = self.frailty[colony, laid.astype(int)]

        entered, died, times = laid, np.full(n, np.inf), []
        for stage, clock in zip(BROOD_STAGES, self.stage_clocks, strict=True):
            log_sd = p["pace_cv"][colony]
            pace = np.exp(log_sd * rng.standard_normal(n) - log_sd**2 / 2)
            lost = rng.random(n) >= p[f"sigma_{stage}"][colony] ** frailty
            fatal = np.where(lost, rng.beta(1.0, 3.0, n), np.inf)
            need = pace * quicker * p[f"{stage}_days"][colony]
            entered, death = pass_stage(clock, entered, need, fatal)
            died = np.minimum(died, death)
            times.append(entered)

        life = self.life_mean[colony] * np.where(first, p["first_life"][colony], 1.0)
        size = self.life_size[colony]
        died = np.minimum(
            died, worker_death(self.ageing_clock, entered, life * rng.gamma(size, 1 / size))
        )
        return np.column_stack(times), died


class CrowdedLaw:
    """The law tabled above, for `individuals.follow`."""

    def __init__(
        self,
        parameters: Mapping[str, float | np.ndarray],
        hourly_c: np.ndarray,
        colonies: int,
        day_of_year: int,
        resting: np.ndarray,
        rng: np.random.Generator,
        dt: float,
    ) -> None:
        self.p = p = per_colony(parameters, colonies)
        self.rng, self.dt = rng, dt
        hourly_c = np.asarray(hourly_c, float)
        lower, upper = float(parameters["laying_lower_c"]), float(parameters["laying_upper_c"])
        willing = np.clip((hourly_c - lower) / (REFERENCE_C - lower), 0.0, 1.0)
        quick = DEVELOPMENT_Q10 ** ((hourly_c - REFERENCE_C) / 10)
        rates = [quick * (hourly_c > parameters[f"{stage}_lower_c"]) for stage in BROOD_STAGES]
        rates += [willing * (hourly_c < upper)]
        rates += [float(parameters["ageing_q10"]) ** ((hourly_c - REFERENCE_C) / 10)]
        edges = np.arange(round(len(hourly_c) / dt) + 1) * dt
        self.passed = np.stack([np.diff(Clock(rate).at(edges)) for rate in rates])
        self.resting = resting

        def own(median: float) -> np.ndarray:
            return median * np.exp(OWN_SPREAD * rng.standard_normal(colonies))

        self.queen_eats, self.pile, self.power = own(QUEEN_EATS), own(PILE), own(CROWD_POWER)
        self.short_day = SHORT_DAY_H[0] + SHORT_DAY_H[1] * rng.standard_normal(colonies)
        year_day = day_of_year + np.arange(len(hourly_c))
        self.day_length = day_length(LATITUDE, year_day)
        self.shortening = day_length(LATITUDE, year_day + 1) < self.day_length
        # Days at 25 °C since the rest, of which rearing and laying ask a sum.
        base = float(parameters["larva_lower_c"])
        warmth = np.maximum(hourly_c.mean(axis=1) - base, 0.0) / (REFERENCE_C - base)
        self.warmth = np.full(len(hourly_c), np.inf)
        for day in range(len(hourly_c)):
            if resting[day]:
                self.warmth[day] = 0.0
            elif day:
                self.warmth[day] = self.warmth[day - 1] + warmth[day]
        self.rearing_asks = own(1.0) * p["wake_days"]
        self.laying_asks = np.maximum(own(1.0) * p["spring_laying_days"], self.rearing_asks)

        # A hyperbola, that bends at the workers where the queen's laying does.
        bend = p["top_rate"] / np.maximum(p["rate_per_worker"], 1e-9)
        gained = places(p, AS_AT_WORKERS) - p["places_alone"]
        self.bend = bend
        self.hands = CROWD_FACTOR * gained / AS_AT_WORKERS * (1 + AS_AT_WORKERS / bend)
        self.hands_alone = CROWD_FACTOR * p["places_alone"]
        mean, cv = _weibull_mean_cv(p["life_shape"])
        self.life_mean, self.life_size = p["worker_life_days"] * mean, 1 / cv**2

    def begin(self, nest: Nest) -> None:
        """A queen alone."""

    def step(self, nest: Nest, start: float, end: float) -> None:
        p, i, day, rng = self.p, round(start / self.dt), int(start), self.rng
        eggs, standing, growing, pupae, workers = nest.counts()
        awake = ~self.resting[day] & (self.warmth[day] >= self.rearing_asks)
        length = self.day_length[day]
        short = self.shortening[day] & (length < self.short_day)

        # Fewer hands to a larva, slower growth; none is turned away.
        helpers = workers / (1 + workers / self.bend)
        capacity = self.hands_alone + self.hands * helpers
        crowd = (growing + p["pupa_care"] * pupae) / capacity
        pace = awake / (1 + crowd**self.power)
        egg, larva, pupa, laying, ageing = self.passed[:, i]
        clocks = np.zeros((5, nest.colonies))
        clocks[[EGG, PUPA, WORKER]] = np.array([egg, pupa, ageing])[:, None]
        clocks[GROWING] = larva * pace
        nest.step(start, end, clocks)

        rows = nest.here[GROWING]
        early = nest.progress(GROWING, rows)
        stop = rows[(early < STANDING_SHARE) & (short | ~awake)[nest.colony[rows]]]
        nest.transfer(stop, GROWING, WAITING)
        rows = nest.here[WAITING]
        nest.transfer(rows[(awake & ~short)[nest.colony[rows]]], WAITING, GROWING)

        rate = p["founding_rate"] + p["rate_per_worker"] * helpers
        fade = (length - self.short_day - FADING_H[0]) / (FADING_H[1] - FADING_H[0])
        season = np.clip(fade, 0.0, 1.0) if self.shortening[day] else float(length > SPRING_DAY_H)
        season = season * awake * (self.warmth[day] >= self.laying_asks)
        begun = np.clip(p["delay_days"], start, end)
        warmth = laying * (end - begun) / (end - start)
        number = rng.poisson(rate * warmth * season / (1 + eggs / self.pile))
        rows = nest.lay(np.repeat(np.arange(nest.colonies), number))
        since = begun[nest.colony[rows]]
        self._develop(nest, EGG, rows, since + (end - since) * rng.random(rows.size), "egg")

        # So many eggs a day are eaten as there are mouths for, be there few or many.
        young = nest.here[GROWING]
        young = young[nest.progress(GROWING, young) < YOUNG_SHARE]
        mouths = np.bincount(nest.colony[young], minlength=nest.colonies)
        brood = standing + growing + pupae
        hungry = self.queen_eats * np.maximum(0.0, 1 - brood / p["places_alone"])
        eaten = (SATED * p["eggs_eaten"] * mouths + hungry) * larva / (end - start) * awake
        rows, time = nest.leave(EGG, eaten / np.maximum(eggs, 1))
        nest.entered[rows, WAITING] = time
        self._develop(nest, GROWING, rows, time, "larva")

        per_day = -np.log(p["sigma_larva"]) / p["larva_days"] * larva / (end - start) * awake
        rows, time = nest.leave(GROWING, per_day)
        first = rng.random(rows.size) < np.exp(-workers[nest.colony[rows]] / FIRST_BROOD_FADES)
        nest.first[rows] = first
        self._develop(nest, PUPA, rows, time, "pupa")

        rows, time = nest.leave(PUPA)
        colony = nest.colony[rows]
        life = self.life_mean[colony] * np.where(nest.first[rows], p["first_life"][colony], 1.0)
        size = self.life_size[colony]
        nest.enter(WORKER, rows, time, life * rng.gamma(size, 1 / size))
        rows, time = nest.leave(WORKER)
        nest.died[rows] = time

    def _develop(
        self, nest: Nest, state: int, rows: np.ndarray, time: np.ndarray, stage: str
    ) -> None:
        colony, n = nest.colony[rows], rows.size
        log_sd = self.p["pace_cv"][colony]
        need = np.exp(log_sd * self.rng.standard_normal(n) - log_sd**2 / 2)
        need *= self.p[f"{stage}_days"][colony]
        need *= np.where(nest.first[rows], self.p["first_development"][colony], 1.0)
        fatal = np.full(n, np.inf)
        if stage != "larva":
            lost = self.rng.random(n) >= self.p[f"sigma_{stage}"][colony]
            fatal = np.where(lost, self.rng.beta(1.0, 3.0, n), np.inf)
        nest.enter(state, rows, time, need, fatal)


class RoomLimitedLaw:
    """The law tabled above, for `individuals.run`."""

    def __init__(
        self, parameters: Mapping[str, float | np.ndarray], hourly_c: np.ndarray, colonies: int
    ) -> None:
        self.p = p = per_colony(parameters, colonies)
        hourly_c = np.asarray(hourly_c, float)

        def clock(what: str) -> Clock:
            lower, upper = (float(parameters[f"{what}_{end}_c"]) for end in ("lower", "upper"))
            return Clock(relative_rate(hourly_c, lower, upper, "briere"))

        self.stage_clocks = [clock(stage) for stage in BROOD_STAGES]
        self.laying_clock = clock("laying")
        self.ageing_clock = ageing_clock(hourly_c, float(parameters["ageing_q10"]))
        egg, larva, pupa = stays(p)
        per_place = ROOM_FACTOR * (egg + larva + pupa) / (larva + pupa)
        self.room = per_place * p["places_alone"]
        gained = places(p, AS_AT_WORKERS) - p["places_alone"]
        self.room_per_worker = per_place * gained / AS_AT_WORKERS

    def lay(
        self, start: float, end: float, counts: np.ndarray, rng: np.random.Generator
    ) -> tuple[np.ndarray, np.ndarray]:
        p, workers = self.p, counts[:, WORKERS]
        brood = counts[:, EGGS] + counts[:, LARVAE] + p["pupa_care"] * counts[:, PUPAE]
        wish = np.minimum(p["top_rate"], p["founding_rate"] + p["rate_per_worker"] * workers)
        room = self.room + self.room_per_worker * workers
        from_reading = self.laying_clock.at(np.clip(p["delay_days"], start, end))
        warmth = self.laying_clock.at(end) - from_reading
        eggs = rng.poisson(warmth * wish * np.maximum(0.0, 1 - brood / room))
        colony = np.repeat(np.arange(eggs.size), eggs)
        # More of a step's eggs fall in its warmer hours: even on the laying clock, not in time.
        reading = from_reading[colony] + warmth[colony] * rng.random(colony.size)
        return colony, self.laying_clock.when(reading)

    def live(
        self, colony: np.ndarray, laid: np.ndarray, workers: np.ndarray, rng: np.random.Generator
    ) -> tuple[np.ndarray, np.ndarray]:
        p, n = self.p, colony.size
        first = workers == 0
        pace = np.where(first, p["first_development"][colony], 1.0)
        pace = pace * gamma_pace(p["pace_cv"][colony], rng)
        entered, died, times = laid, np.full(n, np.inf), []
        for stage, clock in zip(BROOD_STAGES, self.stage_clocks, strict=True):
            fatal = exponential(np.log(1 / p[f"sigma_{stage}"][colony]), rng)
            entered, death = pass_stage(clock, entered, pace * p[f"{stage}_days"][colony], fatal)
            died = np.minimum(died, death)
            times.append(entered)
        life = p["worker_life_days"][colony] * np.where(first, p["first_life"][colony], 1.0)
        life = life * rng.weibull(p["life_shape"][colony])
        died = np.minimum(died, worker_death(self.ageing_clock, entered, life))
        return np.column_stack(times), died


def stays(p: Mapping[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return how long an egg needs a nurse as an egg, a larva and a pupa at 25 °C, on average.

    The dead need none; a pupa as much as `pupa_care` says. Each has shape (colonies,). [day]
    """
    found, alive = [], 1.0
    for stage in BROOD_STAGES:
        sigma = p[f"sigma_{stage}"]
        loss = np.maximum(-np.log(sigma), 1e-9)
        found.append(alive * p[f"{stage}_days"] * -np.expm1(-loss) / loss)
        alive = alive * sigma
    egg, larva, pupa = found
    return egg, larva, pupa * p["pupa_care"]


def day_length(latitude: float, day_of_year: np.ndarray) -> np.ndarray:
    """Return the hours between sunrise and sunset, by the plain formula of the sunset angle.

    cos(angle) = -tan(latitude) tan(declination), with a declination of -23.44° cos(360° (d + 10) /
    365) (textbook formula, from memory; refraction and the orbit's shape left out).
    """
    turn = 2 * np.pi * (np.asarray(day_of_year) + 10) / 365
    declination = -np.radians(23.44) * np.cos(turn)
    angle = np.arccos(np.clip(-np.tan(np.radians(latitude)) * np.tan(declination), -1, 1))
    return 24 / np.pi * angle


def _spells(colonies: int, days: int, log_sd: float, rng: np.random.Generator) -> np.ndarray:
    """Draw a daily laying multiplier of mean 1 that wanders with a memory of `SPELL_DAYS`."""
    memory = np.exp(-1 / SPELL_DAYS)
    shock = rng.standard_normal((days, colonies))
    level = np.empty((days, colonies))
    level[0] = shock[0]
    for day in range(1, days):
        level[day] = memory * level[day - 1] + np.sqrt(1 - memory**2) * shock[day]
    return np.exp(log_sd * level - log_sd**2 / 2).T


def _weibull_mean_cv(shape: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    from scipy.special import gamma

    mean = gamma(1 + 1 / shape)
    return mean, np.sqrt(gamma(1 + 2 / shape) / mean**2 - 1)
