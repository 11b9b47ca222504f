"""Forecasts of many months for colonies of another law: dates of 30 to 1000 workers, and counts.

Colonies lay by the clutch and are held back by care (`simulators.other_laws.care_limited`), one
kind over a winter, one without any. Notes end between a third and four fifths of the way to 30
workers.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor

import numpy as np
import pandas as pd
import pytest
from simulators.baselines import randomised_pit
from simulators.notes import Keeper, cut, days_to, write_log
from simulators.one_ant import TYPICAL
from simulators.other_laws import care_limited, draw_colony

import antgrowth as ag
from statistical.trials import START, central_values, days_of, profile_spread, with_winter

SEED = 20261128
COLONIES, AT_A_TIME = 40, 5
DAYS = 620
REST, REST_DAYS, REST_C = 185, 146, 8.0
"""First day of the winter that some of them have, its length and temperature."""
KINDS = {"over a winter": ("lasius-niger", True), "no winter": ("generic-tropical", False)}
DATES = (30, 100, 300, 1000)
COUNTS = {"brood 35 days on": (35, slice(0, 3)), "workers 180 days on": (180, slice(3, 4)),
          "workers 250 days on": (250, slice(3, 4))}  # fmt: skip


def some_colonies(kind: str, part: int) -> list[dict[str, object]]:
    """Where the truth lies among what was foreseen of some colonies, one row a question."""
    name, rests = KINDS[kind]
    species = ag.load_species(name)
    rng = np.random.default_rng((SEED, list(KINDS).index(kind), part))
    central, spread = central_values(species, TYPICAL), profile_spread(species, TYPICAL)
    warmth_c = species.value("development.reference_c") - 1.0
    plan, hourly, resting = ag.constant(warmth_c), np.full((DAYS, 24), warmth_c), None
    if rests:
        hourly, resting, plan = with_winter(DAYS, warmth_c, REST, REST_DAYS, REST_C)
    rows: list[dict[str, object]] = []
    for _ in range(AT_A_TIME):
        truth = np.inf
        while truth > 400:
            drawn = draw_colony(central, spread, rng)
            path = care_limited(drawn, hourly, 1, rng, dt=0.25, resting=resting)[0]
            truth = float(days_to(path))
        last = cut(truth, rng.uniform(0.35, 0.8))
        log = write_log(path, START, rng, Keeper(), last_day=last)
        fit = ag.fit(log, plan, species, queen_since=START, rng=1)
        now = (fit.counts.end - pd.Timestamp(START)).days
        ahead = fit.forecast(DAYS - now - 1, plan, draws=400, rng=2)
        for number in DATES:
            days = days_of(ahead.arrival(workers=number), DAYS)
            known = min(float(days_to(path, number)), DAYS)
            rows.append({"what": f"{number} workers", "pit": randomised_pit(days, known, rng)})
        for what, (later, stages) in COUNTS.items():
            if now + later < DAYS:
                found = ahead.paths[:, later, stages].sum(axis=-1)
                known = float(path[now + later, stages].sum())
                rows.append({"what": what, "pit": randomised_pit(found, known, rng)})
    return rows


@pytest.fixture(scope="module")
def held() -> pd.DataFrame:
    """Share of what was asked of each kind that lay in the 90 % range. [%]"""
    parts = range(COLONIES // AT_A_TIME)
    table = {}
    with ProcessPoolExecutor(2) as pool:
        told = {kind: [pool.submit(some_colonies, kind, part) for part in parts] for kind in KINDS}
        for kind, waited in told.items():
            found = pd.DataFrame([row for part in waited for row in part.result()])
            inside = (found["pit"] - 0.5).abs() <= 0.45
            table[kind] = 100 * inside.groupby(found["what"], sort=False).mean()
    shown = pd.DataFrame(table)
    print(
        f"\nHeld by the 90 % range [%], {COLONIES} colonies of each\n{shown.round(0).to_string()}"
    )
    return shown


@pytest.mark.slow
def test_counts_far_ahead(held):
    assert (held.loc[["workers 180 days on", "workers 250 days on"]] >= 85).all(axis=None)
    assert (held.loc["brood 35 days on"] >= 82).all()


LATE = ["300 workers", "1000 workers"]
"""Dates that are missed too often over a winter."""


@pytest.mark.slow
def test_dates_far_ahead(held):
    assert (held.loc[["30 workers", "100 workers"]] >= 85).all(axis=None)
    assert (held.loc[LATE, "no winter"] >= 85).all()


@pytest.mark.slow
@pytest.mark.xfail(
    strict=True,
    reason="78 % and 70 %, all misses too late: brood of the other law dies early in a stage and "
    "holds no place, so large colonies grow faster, and notes of small ones do not tell",
)
def test_late_dates_over_a_winter(held):
    assert (held.loc[LATE, "over a winter"] >= 85).all()
