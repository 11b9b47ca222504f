"""The growth law of the package, one ant at a time: the truth its fast formulas are tested against.

The law, with time in days and temperatures T in °C:

- Development. A stage runs on a clock of rate r(T) / r(25 °C), so that it counts "days at 25 °C".
  r is Briere-1, T (T - lower) sqrt(upper - T) between its limits and 0 outside, or degree-day,
  max(0, T - lower). Each egg has a pace u ~ Gamma(mean 1, CV `pace_cv`) for its whole youth and
  finishes a stage after u x `<stage>_days` on that stage's clock.
- Survival through a stage is `sigma_<stage>`, the loss spread over the progress p on the clock:
  P(alive at p) = sigma^p. Above `heat_limit_c` brood is lost at `heat_loss` per °C and day, the
  excess being averaged over each day.
- First workers. An egg laid while there is no worker needs `first_development` times as long and
  lives `first_life` times as long.
- Workers have a Weibull life of scale `worker_life_days` and shape `life_shape` on an ageing clock
  of rate ageing_q10 ^ ((T - 25) / 10).
- Laying begins `delay_days` after day 0, at phi(T) q(W) max(0, 1 - B / K) eggs a day, with
  q = min(top_rate, founding_rate + rate_per_worker W), K = founding_room + room_per_worker W and
  phi the Briere shape between the laying limits, 1 at 25 °C. B is all brood, W all workers.

How it departs from the package: not in the law, only in the working. The package follows mean
numbers of daily cohorts over a few pace nodes, or draws binomial numbers from them; here each egg
has an exact birth time, pace, moment of death, and each worker its own life. The one approximation
is that laying sees the counts at the start of each step of `dt` days.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from simulators.individuals import WORKERS, Clock, Lives, Loss, run

REFERENCE_C = 25.0
BROOD_STAGES = ("egg", "larva", "pupa")

TYPICAL: dict[str, float] = {
    "egg_days": 13.0,
    "larva_days": 14.0,
    "pupa_days": 16.0,
    "egg_lower_c": 10.0,
    "egg_upper_c": 38.0,
    "larva_lower_c": 10.0,
    "larva_upper_c": 38.0,
    "pupa_lower_c": 10.0,
    "pupa_upper_c": 38.0,
    "pace_cv": 0.12,
    "sigma_egg": 0.85,
    "sigma_larva": 0.90,
    "sigma_pupa": 0.95,
    "heat_limit_c": 33.0,
    "heat_loss": 0.05,
    "delay_days": 5.0,
    "founding_rate": 3.0,
    "founding_room": 20.0,
    "rate_per_worker": 0.25,
    "room_per_worker": 3.0,
    "top_rate": 80.0,
    "laying_lower_c": 10.0,
    "laying_upper_c": 38.0,
    "worker_life_days": 300.0,
    "life_shape": 2.0,
    "first_life": 0.6,
    "first_development": 0.92,
    "ageing_q10": 2.0,
}
"""An invented ant of temperate gardens; every value is assumed, for tests alone."""

SHARED_BY_ALL = tuple(name for name in TYPICAL if name.endswith("_c")) + ("ageing_q10",)
"""Parameters that shape a clock, which all colonies of a run share; the others may be arrays."""


def simulate(
    parameters: Mapping[str, float | np.ndarray],
    hourly_c: np.ndarray,
    colonies: int,
    rng: np.random.Generator,
    *,
    dt: float = 1 / 12,
    curve: str = "briere",
    losses: Sequence[Loss] = (),
    own_pace_by_stage: bool = False,
    pupa_care: float = 1.0,
) -> np.ndarray:
    """Let colonies grow from a lone queen and count them at the end of each day.

    Parameters
    ----------
    parameters : mapping
        The names of `TYPICAL`, all of them. Each a number, or an array of shape (colonies,) but
        for those of `SHARED_BY_ALL`.
    hourly_c : array, shape (days, 24)
        Nest temperature. [°C]
    curve : {"briere", "degree_days"}
        Development-rate curve of all three stages. Laying always follows the Briere shape.
    losses : sequence of Loss
        Unlogged losses; none in the law itself.
    own_pace_by_stage : bool
        Whether an ant that is slow as an egg may be quick as a pupa, which breaks the law: each
        stage has a pace of its own, with the same CV.
    pupa_care : float
        Share of an egg's or larva's room that a pupa takes up.

    Returns
    -------
    counts : int array, shape (colonies, days, 4)
        Eggs, larvae, pupae and workers at time d + 1 for day d.
    """
    return simulate_lives(
        parameters, hourly_c, colonies, rng, dt=dt, curve=curve, losses=losses,
        own_pace_by_stage=own_pace_by_stage, pupa_care=pupa_care,
    )[0]  # fmt: skip


def simulate_lives(
    parameters: Mapping[str, float | np.ndarray],
    hourly_c: np.ndarray,
    colonies: int,
    rng: np.random.Generator,
    *,
    dt: float = 1 / 12,
    curve: str = "briere",
    losses: Sequence[Loss] = (),
    own_pace_by_stage: bool = False,
    pupa_care: float = 1.0,
) -> tuple[np.ndarray, Lives]:
    """Do as `simulate` and also return the life of every individual."""
    law = OneAntLaw(parameters, hourly_c, colonies, curve, own_pace_by_stage, pupa_care)
    return run(law, np.shape(hourly_c)[0], colonies, rng, dt, losses)


class OneAntLaw:
    """The law written out above, for `individuals.run`."""

    def __init__(
        self,
        parameters: Mapping[str, float | np.ndarray],
        hourly_c: np.ndarray,
        colonies: int,
        curve: str,
        own_pace_by_stage: bool = False,
        pupa_care: float = 1.0,
    ) -> None:
        p = per_colony(parameters, colonies)
        self.own_pace_by_stage, self.pupa_care = own_pace_by_stage, pupa_care
        hourly_c = np.asarray(hourly_c, float)
        self.p = p
        self.stage_clocks = [
            Clock(
                relative_rate(
                    hourly_c,
                    float(parameters[f"{stage}_lower_c"]),
                    float(parameters[f"{stage}_upper_c"]),
                    curve,
                )
            )
            for stage in BROOD_STAGES
        ]
        self.laying_clock = Clock(
            relative_rate(
                hourly_c,
                float(parameters["laying_lower_c"]),
                float(parameters["laying_upper_c"]),
                "briere",
            )
        )
        self.ageing_clock = ageing_clock(hourly_c, float(parameters["ageing_q10"]))
        excess = np.maximum(0.0, hourly_c - float(parameters["heat_limit_c"])).mean(axis=1)
        self.heat_clock = Clock(np.repeat(excess[:, None], 24, axis=1))

    def lay(
        self, start: float, end: float, counts: np.ndarray, rng: np.random.Generator
    ) -> tuple[np.ndarray, np.ndarray]:
        p = self.p
        workers = counts[:, WORKERS]
        brood = counts @ np.array([1.0, 1.0, self.pupa_care, 0.0])
        wish = np.minimum(p["top_rate"], p["founding_rate"] + p["rate_per_worker"] * workers)
        room = p["founding_room"] + p["room_per_worker"] * workers
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
        quicker = np.where(first, p["first_development"][colony], 1.0)
        pace = gamma_pace(p["pace_cv"][colony], rng)

        entered, died, times = laid, np.full(n, np.inf), []
        for stage, clock in zip(BROOD_STAGES, self.stage_clocks, strict=True):
            # P(alive at progress p) = sigma^p, so death comes at an exponential progress.
            fatal = exponential(np.log(1 / p[f"sigma_{stage}"][colony]), rng)
            need = pace * quicker * p[f"{stage}_days"][colony]
            entered, death = pass_stage(clock, entered, need, fatal)
            died = np.minimum(died, death)
            times.append(entered)
            if self.own_pace_by_stage:
                pace = gamma_pace(p["pace_cv"][colony], rng)

        life = p["worker_life_days"][colony] * np.where(first, p["first_life"][colony], 1.0)
        life = life * rng.weibull(p["life_shape"][colony])
        died = np.minimum(died, worker_death(self.ageing_clock, entered, life))

        scorch = exponential(p["heat_loss"][colony], rng)
        scorched = self.heat_clock.when(self.heat_clock.at(laid) + scorch)
        died = np.where(scorched < entered, np.minimum(died, scorched), died)
        return np.column_stack(times), died


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
