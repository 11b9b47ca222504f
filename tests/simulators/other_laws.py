"""Colonies that break the package's law in kind, and the scatter of colonies within a species.

A forecast is only honest if its intervals hold for ants that have not read the package's law.
`care_limited` is another law from end to end, with the same central numbers put to work in it:

==================  ============================  ============================================
                    law of the package            `care_limited`
==================  ============================  ============================================
laying              egg by egg, Poisson           in clutches of negative binomial size
what holds it back  all brood, in a straight      free nursing capacity: pupae need none, so a
                    line, 1 - B / K               second clutch follows the first pupae; the
                                                  queen waits for room, then lays many at once
more workers        straight line, then a top     hyperbola a W / (b + W)
development         one gamma pace for life,      log-normal in each stage, independent between
                    Briere or degree-days         stages; Q10, standing still below a limit
brood deaths        even over the progress        early in each stage
first workers       laid with no worker present   ever rarer as the workers gather
worker life         Weibull                       gamma
laying and warmth   Briere                        straight to 25 °C, then level, then nothing
==================  ============================  ============================================

A founding queen that lays one clutch, pauses, and lays a second when the first brood is pupal is
reported for Formica japonica (1984, Entomological Society of Japan; author and pages unknown,
taken from the project's notes and not read again here). Every number here is assumed.

Three further breaks can be laid over it: `losses` (unlogged misfortunes), `overdispersion`
(good and bad spells of laying, clutch-mates that share their luck) and `resting` (a winter).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from simulators.individuals import EGGS, LARVAE, PUPAE, WORKERS, Clock, Loss, run
from simulators.one_ant import (
    BROOD_STAGES,
    REFERENCE_C,
    ageing_clock,
    pass_stage,
    per_colony,
    worker_death,
)

CLUTCHES_PER_DAY = 0.5
"""How often a warm queen with free care begins a clutch. [1/day]"""
CLUTCH_SIZE = 4.0
"""Negative binomial size: variance = mean + mean² / size."""
CARE_SPARE = 0.6
"""Share of care that is free when she begins clutches half as often as at most.

So reluctant a queen brings a typical colony to 30 workers when the package's law does (day 110 at
24 °C under the profile of Lasius niger): the laws differ in kind, not in how fast the species is.
At 0.25 the same numbers make colonies a tenth faster than their profile says."""
DEVELOPMENT_Q10 = 2.4
"""Between 20 and 28 °C close to a Briere curve from 10 to 38 °C."""
FIRST_BROOD_FADES = 3.0
"""Workers at which an egg becomes a first worker with probability 1/e."""
SPELL_DAYS = 10.0
"""Memory of good and bad spells of laying. [day]"""
WINTER_LOSS = 0.8
"""Share of leftover eggs and pupae that a winter rest kills."""

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
    "founding_room": 0.25,
    "rate_per_worker": 0.3,
    "room_per_worker": 0.25,
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

        # Her founding clutch fills the room of the package's law, when none of it is pupal yet.
        # Later brood is a mixture, of which only the share in the egg and larva needs care.
        young = p["egg_days"] + p["larva_days"]
        self.care_per_worker = p["room_per_worker"] * young / (young + p["pupa_days"])
        self.plateau = np.maximum(p["top_rate"] - p["founding_rate"], 1e-9)
        self.half_way = self.plateau / np.maximum(p["rate_per_worker"], 1e-9)
        # Stages vary independently: this much each, for the same scatter of the age at eclosion.
        stage_days = np.stack([p[f"{stage}_days"] for stage in BROOD_STAGES])
        spread = stage_days.sum(axis=0) / np.sqrt((stage_days**2).sum(axis=0))
        self.stage_log_sd = p["pace_cv"] * spread
        # A gamma life with the mean and the CV of the Weibull life of the package.
        mean, cv = _weibull_mean_cv(p["life_shape"])
        self.life_mean, self.life_size = p["worker_life_days"] * mean, 1 / cv**2

    def lay(
        self, start: float, end: float, counts: np.ndarray, rng: np.random.Generator
    ) -> tuple[np.ndarray, np.ndarray]:
        p, workers = self.p, counts[:, WORKERS]
        rate = p["founding_rate"] + self.plateau * workers / (self.half_way + workers)
        capacity = p["founding_room"] + self.care_per_worker * workers
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
            log_sd = self.stage_log_sd[colony]
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
