"""Searches that could be trapped, and profiles pooled from fits: do they find what is there?"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor

import numpy as np
import pandas as pd
import pytest
from simulators.notes import write_log
from simulators.one_ant import TYPICAL, simulate as one_ant
from simulators.other_laws import draw_colony

import antgrowth as ag
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.laplace import Model, _search, estimate
from antgrowth.inference.posterior import model_of
from statistical.trials import (
    LAW,
    START,
    Trial,
    central_values,
    make_trials,
    profile_spread,
    score,
    species_average,
)

SPECIES = ag.load_species("lasius-niger")
LOGS, STARTS = 200, 20
KEEPERS = 6
WARMTH_C = 24.0


def quick_log(number: int) -> Model:
    """Notes of a queen who lays at once and whose brood is quick, as the fit sees them."""
    rng = np.random.default_rng((20261127, number))
    drawn = draw_colony(central_values(SPECIES, TYPICAL), profile_spread(SPECIES, TYPICAL), rng)
    quicker = float(rng.uniform(0.65, 0.9))
    drawn |= {name: quicker * drawn[name] for name in ("egg_days", "larva_days", "pupa_days")}
    drawn["delay_days"] = float(rng.uniform(0.2, 2.0))
    last = int(rng.integers(10, 80))
    path = one_ant(drawn, np.full((last + 1, 24), WARMTH_C), 1, rng, **LAW)[0]
    counts = ag.read_counts(write_log(path, START, rng, last_day=last))
    plan, founded = ag.constant(WARMTH_C), pd.Timestamp(START)
    return model_of(counts, ColonyHistory(SPECIES, plan, founded, True, None, queens=1))


def shortfall(number: int) -> float:
    """By how much log density the fit stays behind the best of many random starts."""
    model = quick_log(number)
    rng = np.random.default_rng(number)
    found = estimate(model).log_density
    others = [
        _search(model, rng.standard_normal(len(model.prior))).log_density for _ in range(STARTS)
    ]
    return max(others) - found


@pytest.fixture(scope="module")
def behind() -> pd.Series:
    """Shortfall of each log, by its number."""
    with ProcessPoolExecutor(2) as pool:
        found = pd.Series(list(pool.map(shortfall, range(LOGS), chunksize=5)))
    print(f"\n{LOGS} logs, {STARTS} random starts each; behind by\n{found.describe().round(2)}")
    print(f"more than 3 behind: {found[found > 3].round(1).to_dict()}")
    return found


@pytest.mark.slow
def test_hardly_any_search_ends_far_behind(behind):
    """What a trap costs is some 20 to 180; see `test_laplace.TestUnforeseen`."""
    assert (behind > 3.0).mean() < 0.05 and (behind < 15.0).all()


@pytest.mark.slow
@pytest.mark.xfail(
    strict=True,
    reason="four of 200 end 3.1 to 5.0 behind, by other courses of the same colony: steps go where "
    "counts are expected as noted, not where the density is highest (`inference.laplace`)",
)
def test_no_search_ends_behind(behind):
    assert (behind <= 3.0).all()


def quick_kept(number: int, rng: np.random.Generator) -> list[Trial]:
    """Colonies of one keeper: all a fifth quicker than the profile, and alike in much else."""
    central = central_values(SPECIES, TYPICAL)
    central |= {
        "egg_days": 0.8 * central["egg_days"],
        "larva_days": 0.8 * central["larva_days"],
        "pupa_days": 0.8 * central["pupa_days"],
        "founding_rate": 0.7 * central["founding_rate"],
        "places_per_worker": 1.4 * central["places_per_worker"],
    }
    spread = {name: 0.5 * sd for name, sd in profile_spread(SPECIES, TYPICAL).items()}
    return make_trials(one_ant, central, number, rng, spread=spread, **LAW)


def pooled_scores(keeper: int) -> pd.DataFrame:
    """How new colonies of a keeper are foreseen, by how many of the known ones are pooled."""
    rng = np.random.default_rng((20261128, keeper))
    known, new = quick_kept(12, rng), quick_kept(24, rng)
    fits = [ag.fit(t.log, t.temperature, SPECIES, queen_since=START, rng=1) for t in known]
    profiles = {0: SPECIES} | {n: ag.pool(fits[:n], SPECIES).species for n in (3, 6, 12)}
    rows = []
    for pooled, species in profiles.items():
        average = species_average(species, new[0].temperature, np.random.default_rng(1), 500)
        found = [score(t, species, average, np.random.default_rng(2)) for t in new]
        rows += [
            {"pooled": pooled, "keeper": keeper, "colony": place, **vars(one)}
            for place, one in enumerate(found)
        ]
    return pd.DataFrame(rows)


@pytest.fixture(scope="module")
def new_ones() -> pd.DataFrame:
    """Scores of new colonies, by how many known ones were pooled, one row a colony.

    Which three or six are pooled matters as much as how many, so there are several keepers.
    """
    with ProcessPoolExecutor(2) as pool:
        found = pd.concat(pool.map(pooled_scores, range(KEEPERS)))
    columns = {"crps": "CRPS [d]", "crps_species": "CRPS of the profile alone [d]",
               "held_90": "held 90 %"}  # fmt: skip
    table = found.groupby("pooled")[list(columns)].mean().rename(columns=columns)
    print(f"\n{table.round(2).to_string()}")
    each = found.pivot(index=["keeper", "colony"], columns="pooled", values="crps")
    print(each.groupby("keeper").mean().round(2).to_string())
    steps = each.diff(axis=1).iloc[:, 1:]
    error = steps.std() / np.sqrt(len(steps))
    print(pd.DataFrame({"step": steps.mean(), "standard error": error}).round(2).to_string())
    return found


@pytest.mark.slow
def test_pooling_pays(new_ones):
    by = new_ones.groupby("pooled")
    crps = by["crps"].mean()
    assert crps[3] < crps[0] and crps[6] < crps[3] and crps[12] < crps[3]
    assert (by["held_90"].mean() >= 0.8).all()


@pytest.mark.slow
@pytest.mark.xfail(
    strict=True,
    reason="CRPS 5.40, 5.25, 5.11 and 5.23 d with 0, 3, 6 and 12 pooled: the last "
    "step is up by 0.12, give or take 0.12",
)
def test_each_step_of_pooling_pays(new_ones):
    assert (np.diff(new_ones.groupby("pooled")["crps"].mean()) < 0).all()
