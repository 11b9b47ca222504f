"""Search the temperature regime that is soonest at a safe distance from what is too warm."""

from __future__ import annotations

import numpy as np
import pandas as pd

from antgrowth._core.arguments import ANTS, COLONIES, DAYS_AHEAD, RNG, instance, takes
from antgrowth._core.progress import each
from antgrowth._core.validation import as_celsius
from antgrowth.climate.temperature import Temperature, constant
from antgrowth.errors import AntgrowthError, SpeciesError, TemperatureError
from antgrowth.inference.posterior import Posterior
from antgrowth.regimes.best import AS_NOW, PRACTICE, BestRegime
from antgrowth.regimes.candidates import (
    Candidate,
    day_night_plans,
    expected_wait,
    lowest_c,
    steady_plans,
)
from antgrowth.regimes.compare import DAYS, compared
from antgrowth.regimes.limits import phase_of
from antgrowth.species.thermal_limits import PHASES, SENSOR_MARGIN_C

FINALISTS = 2
"""So many of the soonest are tried on whole colonies, and the soonest with cooler nights."""

DRAWS = 400
"""Colonies on which each finalist is tried."""


@takes(
    fit=instance(Posterior, "ag.fit"), workers=ANTS, days=DAYS_AHEAD,
    draws=COLONIES, rng=RNG,
)  # fmt: skip
def best_regime(
    fit: Posterior,
    *,
    workers: int = 30,
    ceiling_c: float | None = None,
    phase: str | None = None,
    days: int = DAYS,
    draws: int = DRAWS,
    rng: int | np.random.Generator | None = None,
) -> BestRegime:
    """Search for the steady or day-and-night temperature that brings workers soonest, safely.

    Parameters
    ----------
    fit : Posterior
    workers : int
        The number waited for.
    ceiling_c : float, optional
        A lower ceiling than that of the profile for the phase, which is taken if not given. What
        goes on now and the practice value are held against it as well. [°C]
    phase : {"founding", "housed", "outdoors"}, optional
        Whose ceiling counts. If not given, "founding" while no worker is expected at the last note,
        else "housed".
    days : int
        How far to look ahead. [day]
    draws : int
        Colonies on which the finalists are tried.
    rng : int, numpy.random.Generator or None
        Seed or source of chance.

    Returns
    -------
    BestRegime

    Raises
    ------
    TemperatureError
        If `ceiling_c` is above that of the profile, or leaves no room to search.
    SpeciesError
        If the profile has no ceiling for the phase and none is given.
    AntgrowthError
        If the colony holds as many workers already, or is not expected to in time.

    Notes
    -----
    Steady temperatures are searched from where some brood stands still to the ceiling, and days of
    14 hours with nights 3 and 6 °C cooler; only what stays 2 °C below the ceiling may be
    recommended, since a sensor may be off by as much. A species that needs a rest has it in each
    candidate, at its usual time or as the colony had it before; one that was due and is more than
    half over at the last note is skipped, and then no candidate is recommended. Expected growth of
    a few posterior draws finds the finalists, whole colonies decide among them. Sooner is all that
    counts here: what heat does to a queen over months is known of few ants. The ceilings stand for
    it.

    For heat mats see `constant`.

    Examples
    --------
    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> notes = pd.DataFrame({"date": ["2026-03-20", "2026-04-15"], "eggs": [12, 4],
    ...                       "larvae": ["", 9]})
    >>> fit = ag.fit(notes, ag.constant(24), "lasius-niger", queen_since="2026-03-01", rng=1)
    >>> found = ag.best_regime(fit, workers=10, days=120, draws=100, rng=1)
    >>> found.name, found.range_c
    ('steady 26 °C', (16.0, 28.0))
    """
    held = phase_of(fit, phase, draws, "best_regime")
    ceiling = _ceiling(fit, held, ceiling_c)
    low = lowest_c(fit.species)
    if not ceiling - SENSOR_MARGIN_C > low:
        raise TemperatureError(
            f"best_regime: {SENSOR_MARGIN_C:g} °C below a ceiling of {ceiling:g} °C there is no "
            f"room above {low:g} °C, where some brood of {fit.species.name} stands still. Give a "
            "higher ceiling_c."
        )
    steady = _tried(fit, steady_plans(low, ceiling, 1.0), workers, days)
    if steady and min(wait for _, wait in steady) <= 0:
        raise AntgrowthError(
            f"best_regime: the colony is expected to hold {workers} workers already. Ask for more."
        )
    others = _tried(fit, day_night_plans(low, ceiling), workers, days)
    top = min((c for c in steady if c[0].safe), key=lambda c: c[1])[0].day_c
    between = [c for c in steady_plans(low, ceiling, 0.5) if abs(abs(c.day_c - top) - 0.5) < 0.1]
    table = _table([*steady, *others, *_tried(fit, between, workers, days)])
    safe = table[table["safe"]]
    if safe["wait_days"].min() >= days:
        raise AntgrowthError(
            f"best_regime: under no safe plan are {workers} workers expected within {days} days. "
            "Look further ahead, or ask for fewer."
        )
    practice = _practice(fit, held)
    plans: dict[str, Temperature | float | None] = {AS_NOW: None}
    nights = safe[safe["night_c"] < safe["day_c"]]
    finalists = pd.concat([safe.head(FINALISTS), nights.head(1)]).drop_duplicates("regime")
    for row in finalists.to_dict("records"):
        plans[row["regime"]] = Candidate(row["regime"], row["day_c"], row["night_c"], True).plan
    if practice is not None:
        plans[PRACTICE] = constant(practice)
    comparison = compared(
        fit,
        plans,
        workers=workers,
        days=days,
        reference=AS_NOW,
        phase=held,
        keep_rest=True,
        draws=draws,
        rng=rng,
        ceiling_c=ceiling,
    )
    return BestRegime(fit, held, ceiling, (low, ceiling), table, comparison, practice)


def _ceiling(fit: Posterior, phase: str, given: float | None) -> float:
    ant, (path, _, name) = fit.species, PHASES[phase]
    known = ant.value(path) if path in ant else None
    if given is None:
        if known is None:
            raise SpeciesError(
                f"best_regime: {ant.name} has no {path}. Give ceiling_c, the warmest that is safe."
            )
        return known
    ceiling = as_celsius(given, "best_regime: ceiling_c")
    if known is not None and ceiling > known:
        raise TemperatureError(
            f"best_regime: ceiling_c = {ceiling:g} °C is above the {name} of {ant.scientific_name},"
            f" {known:g} °C. Refused, since it can kill the colony: give {known:g} or less, or "
            "leave it out. If you know better, write it into a profile of your own."
        )
    return ceiling


def _practice(fit: Posterior, phase: str) -> float | None:
    path = f"limits.{phase}_practice_c"
    return fit.species.value(path) if path in fit.species else None


def _tried(
    fit: Posterior, candidates: list[Candidate], workers: int, days: int
) -> list[tuple[Candidate, float]]:
    return each(lambda c: (c, expected_wait(fit, c.plan, workers, days)), candidates, "best_regime")


def _table(tried: list[tuple[Candidate, float]]) -> pd.DataFrame:
    rows = [
        {
            "regime": c.name,
            "day_c": c.day_c,
            "night_c": c.night_c,
            "mean_c": c.mean_c,
            "wait_days": wait,
            "safe": c.safe,
        }
        for c, wait in tried
    ]
    # Of plans that are as soon, the coolest comes first.
    return pd.DataFrame(rows).sort_values(["wait_days", "mean_c"], ignore_index=True)
