"""What is offered of what is needed, in days to come and in those with notes."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.stages import WORKERS
from antgrowth.food.budget import Diet, Needs, needs_along
from antgrowth.food.constants import Constants
from antgrowth.food.energetics import COOLEST_C, WARMEST_C
from antgrowth.food.feed_log import FeedLog
from antgrowth.food.feeding import PastNeeds
from antgrowth.food.practice import WARM_REST_C, FeedingRules
from antgrowth.food.servings import choose_prey
from antgrowth.inference.posterior import Posterior
from antgrowth.io.counts import CountLog

PAST_DRAWS = 200
"""Posterior draws whose growth up to the last note is held against the weighings."""


def ration_schedule(
    need: Needs,
    counts: Floats,
    rules: FeedingRules,
    quiet: NDArray[np.str_],
    most_before: float = 0.0,
) -> dict[str, Floats]:
    """What is offered of a need: nothing on quiet days, nor before it is practice.

    Practice once begun goes on, however many workers are left: of the days before these,
    `most_before` tells how many there have been.
    """
    most = np.maximum(np.maximum.accumulate(counts[..., WORKERS], axis=1)[:, 1:], most_before)
    awake = quiet == ""
    # Expected workers are no whole numbers: half of one is as good as one.
    sweet = awake & (most >= rules.sugar_from_workers - 0.5)
    meaty = awake & (most >= rules.protein_from_workers - 0.5)
    return {
        "sugar": sweet * (need.adult_sugar_mg + meaty * need.growth_sugar_mg),
        "protein": meaty * need.protein_mg,
        "water": awake * need.water_mg,
    }


def most_noted(log: CountLog) -> float:
    """The most workers that a log tells of for sure."""
    workers = log.frame.loc[log.frame["stage"] == "workers", "low"]
    return float(workers.max()) if len(workers) else 0.0


def past_budget(fit: Posterior, rules: FeedingRules, diet: Diet, draws: int) -> PastNeeds:
    """The budget of the days with notes, by so many draws.

    Of what this nest held, given all notes: what colonies like it are expected to hold may be far
    off, and its appetite would be taken for what are only more or fewer larvae.
    """
    history = fit.history
    begun = history.day_of(history.first_day)
    again = np.arange(draws) % min(PAST_DRAWS, len(fit.draws))
    x = fit.draws[:PAST_DRAWS]
    counts = fit.model.grow(x, fit.days).counts[again, begun:]
    held = fit.nests
    counts[:, -held.shape[1] :] = held[np.arange(draws) * len(held) // draws % len(held)]
    laws = fit.model.prior.laws(x).take(again)
    hours_c = history.temperature.hours(history.first_day, fit.days - begun)
    forcing = history.forcing(fit.days)
    resting = forcing.resting
    queens = history.queens_by_day(fit.days)[begun:]
    need = needs_along(history.species, laws, counts, queens, hours_c, forcing, diet)
    quiet = quiet_days(hours_c.mean(axis=1), resting)
    return PastNeeds(history.first_day, ration_schedule(need, counts, rules, quiet), quiet)


def content_of(
    log: FeedLog,
    known: Mapping[str, Floats | float],
    constants: Constants,
    shape: tuple[int, int],
    rng: np.random.Generator,
) -> dict[str, Floats | float]:
    """Sugar or protein over mass of each food of a log; prey of the plan as the plan has it."""
    content: dict[str, Floats | float] = {}
    for food, percent in log.frame.groupby("food")["sugar_percent"].first().items():
        name = str(food)
        if np.isfinite(percent):
            content[name] = percent / 100.0
        elif name == "honey":
            content[name] = constants.honey_sugars
        else:
            content[name] = (
                known[name] if name in known else choose_prey(name)[0].protein_share(shape, rng)
            )
    return content


def quiet_days(mean_c: Floats, resting: Flags) -> NDArray[np.str_]:
    """Why each day has no amounts; empty if it has."""
    return np.select(
        [resting & (mean_c < WARM_REST_C), mean_c < COOLEST_C, mean_c > WARMEST_C],
        ["rest", "cold", "heat"],
        default="",
    )
