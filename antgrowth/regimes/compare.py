"""Try temperature regimes on one colony: the same parameters, nests and luck for each of them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from antgrowth._core.arguments import (
    ANTS,
    COLONIES,
    DAYS_AHEAD,
    FLAG,
    RNG,
    check_work,
    instance,
    takes,
)
from antgrowth._core.progress import each
from antgrowth._core.random import seeded
from antgrowth._core.text import printed, told
from antgrowth.climate.temperature import Temperature, as_plan
from antgrowth.errors import AntgrowthError, TemperatureError, TemperatureGapError
from antgrowth.forecast.paths import Forecast, PairedForecasts
from antgrowth.inference.posterior import Posterior
from antgrowth.regimes.comparison import RegimeComparison
from antgrowth.regimes.limits import check_limits, phase_of, with_due_rests

DAYS, DRAWS = 300, 1000


@takes(
    fit=instance(Posterior, "ag.fit"), workers=ANTS, days=DAYS_AHEAD,
    keep_rest=FLAG, draws=COLONIES, rng=RNG,
)  # fmt: skip
def compare_regimes(
    fit: Posterior,
    regimes: Mapping[str, Temperature | float | None],
    *,
    workers: int = 30,
    days: int = DAYS,
    reference: str | None = None,
    phase: str | None = None,
    keep_rest: bool = True,
    draws: int = DRAWS,
    rng: int | np.random.Generator | None = None,
) -> RegimeComparison:
    """Try temperature regimes on a colony, from the day after its last note on.

    Parameters
    ----------
    fit : Posterior
    regimes : mapping of str to Temperature, number or None
        Plans by a name of yours, at least two; a number is a steady temperature [°C], None what a
        forecast takes by default.
    workers : int
        The number waited for.
    days : int
        How far to look ahead. [day]
    reference : str, optional
        The regime that the others are compared with; the first if not given.
    phase : {"founding", "housed", "outdoors"}, optional
        Whose limits count. If not given, "founding" while no worker is expected at the last note,
        else "housed".
    keep_rest : bool
        Put the rest that the species needs into each plan that has none, so that what goes on now
        and a plan for some months are compared with the same winter. False takes plans as they are.
    draws : int
        Colonies of each regime.
    rng : int, numpy.random.Generator or None
        Seed or source of chance.

    Returns
    -------
    RegimeComparison

    Raises
    ------
    AntgrowthError
        If an argument is out of range.
    TemperatureGapError
        If a plan ends too soon.

    Notes
    -----
    Each colony has the same parameters, the same nest on the day of the last note, and the same
    luck on each later day in every regime (`common_random_numbers.Luck`), so that differences show
    with far fewer colonies than two independent runs would need. A plan that passes the ceiling of
    the phase, comes within 2 °C of it (a sensor may err by as much), or has no rest in a season in
    which the species needs one, is shown with the objection and never recommended. Brood lost to
    heat is what dies above the heat limit of the profile; what heat does to queens is known of few
    ants, and no date knows it.

    For heat mats see `constant`.

    Examples
    --------
    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> notes = pd.DataFrame({"date": ["2026-03-20", "2026-04-15"], "eggs": [12, 4],
    ...                       "larvae": ["", 9]})
    >>> fit = ag.fit(notes, ag.constant(24), "lasius-niger", queen_since="2026-03-01", rng=1)
    >>> tried = ag.compare_regimes(fit, {"steady 23": 23, "25": 25, "31": 31}, workers=10,
    ...                            days=120, draws=200, rng=1)
    >>> tried.recommended, list(tried.warnings)
    ('25', ['31'])
    """
    return compared(
        fit, regimes, workers=workers, days=days, reference=reference, phase=phase,
        keep_rest=keep_rest, draws=draws, rng=rng,
    )  # fmt: skip


def compared(
    fit: Posterior,
    regimes: Mapping[str, Temperature | float | None],
    *,
    workers: int,
    days: int,
    reference: str | None,
    phase: str | None,
    keep_rest: bool,
    draws: int,
    rng: int | np.random.Generator | None,
    ceiling_c: float | None = None,
) -> RegimeComparison:
    """`compare_regimes`, with a ceiling of the keeper's own that no regime may come near."""
    plans = _plans(regimes)
    check_work("compare_regimes", days, draws, len(plans))
    first = next(iter(plans)) if reference is None else reference
    if not (isinstance(first, str) and first in plans):
        raise AntgrowthError(
            f"compare_regimes: reference = {told(reference)}. Use the name of a regime: "
            f"{', '.join(plans)}."
        )
    seed = seeded(rng)[0]
    held = phase_of(fit, phase, draws, "compare_regimes")
    pairing = PairedForecasts.of(fit, draws, seed)

    def grown(name: str) -> Forecast:
        plan = plans[name]
        if plan is None and fit.temperature.ends() is None:
            plan = fit.temperature  # taken at its word, it would skip the rest that others have
        kept = with_due_rests(fit, plan, days) if keep_rest and plan is not None else plan
        try:
            return pairing.forecast(days, kept)
        except TemperatureGapError as gap:
            raise TemperatureGapError(f"compare_regimes: {told(name)}: {gap}") from None

    forecasts = dict(zip(plans, each(grown, list(plans), "compare_regimes"), strict=True))
    judged = {name: check_limits(ahead, held, ceiling_c) for name, ahead in forecasts.items()}
    return RegimeComparison(fit, int(workers), held, first, forecasts, judged, seed)


def _plans(regimes: Mapping[str, Temperature | float | None]) -> dict[str, Temperature | None]:
    if not isinstance(regimes, Mapping) or len(regimes) < 2:
        raise TemperatureError(
            "compare_regimes: regimes must be two or more plans by name, such as "
            '{"steady 24": 24, "27 by day": ag.day_night(27, 21)}.'
        )
    plans: dict[str, Temperature | None] = {}
    for key, plan in regimes.items():
        name = printed(key)
        if name in plans:
            raise TemperatureError(
                f"compare_regimes: two regimes are called {name!r}, one by a text and one by "
                "something else. Give each a name of its own, a text."
            )
        plans[name] = None if plan is None else as_plan(plan, f"compare_regimes: {told(key)}")
    return plans
