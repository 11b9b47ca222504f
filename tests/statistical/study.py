"""The calibration study: forecasts of many kinds of colony, most of which break the model's law.

`python tests/statistical/study.py` runs it (about half an hour) and writes the tables of
`datasets/calibration`, which the notebook on trust in forecasts shows. `test_calibration.py` runs
the same study and holds it to its limits.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path
from unittest import mock

import numpy as np
import pandas as pd

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from simulators.baselines import crps, randomised_pit
from simulators.individuals import Loss
from simulators.notes import Keeper, cut, days_to, write_log
from simulators.one_ant import TYPICAL, simulate as one_ant
from simulators.other_laws import care_limited, crowded, draw_colony, room_limited

import antgrowth as ag
from antgrowth.inference.prior import Prior
from statistical.trials import (
    LAW,
    PROFILE_NAMES,
    START,
    Score,
    Trial,
    central_values,
    days_of,
    foresee,
    profile_spread,
    score,
    species_average,
    summarise,
    with_winter,
)

SEED = 20261101
COLONIES = 60
WARMTH_C = 24.0
DAYS = 260
REST_DAYS, REST_C = 60, 8.0
START_DAY = pd.Timestamp(START).day_of_year
SPECIES = ag.load_species("lasius-niger")

Draw = dict[str, float]


@dataclass(frozen=True)
class Kind:
    """A kind of colony, how it is noted, and what the keeper believes of its species."""

    name: str
    grow: Callable[[Draw, np.ndarray, np.random.Generator], np.ndarray]
    """From a colony's parameters and hourly temperatures to counts, shape (days, 4)."""
    breaks: str
    """What it breaks of the package's law; empty for a kind that obeys it."""
    keeper: Keeper = field(default_factory=Keeper)
    durations: float = 1.0
    """How much too long the profile's durations are."""
    rests: bool = False
    acquired: bool = False


def by_one_ant(**options: bool) -> Callable[[Draw, np.ndarray, np.random.Generator], np.ndarray]:
    return lambda drawn, hourly, rng: one_ant(
        drawn, hourly, 1, rng, resting=resting(hourly), **LAW, **options
    )[0]


def by_other_law(
    law: Callable[..., np.ndarray], **options: float
) -> Callable[[Draw, np.ndarray, np.random.Generator], np.ndarray]:
    return lambda drawn, hourly, rng: law(drawn, hourly, 1, rng, dt=0.25, **options)[0]


def robbed(drawn: Draw, hourly: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    loss = Loss(float(rng.uniform(25.0, 70.0)), 0.5)
    return one_ant(drawn, hourly, 1, rng, losses=[loss], **LAW)[0]


def wintering(drawn: Draw, hourly: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    return care_limited(drawn, hourly, 1, rng, dt=0.25, resting=resting(hourly))[0]


def resting(hourly: np.ndarray) -> np.ndarray:
    """Days of the rest that `trials` plans, shape (days,)."""
    return (hourly == REST_C).all(axis=1)


WORKERS_ONLY = Keeper(style="workers")

KINDS = (
    Kind("the package's law", by_one_ant(), ""),
    Kind("workers counted alone", by_one_ant(), "", keeper=WORKERS_ONLY),
    Kind("first sightings and workers", by_one_ant(), "",
         keeper=Keeper(style="sightings and workers")),
    Kind("acquired part-grown", by_one_ant(), "past unknown", acquired=True),
    Kind("a pace for life", by_one_ant(pace_for_life=True), "a pace for each stage"),
    Kind("care-limited laying", by_other_law(care_limited), "laying, rearing, season, deaths"),
    Kind("room for all brood", by_other_law(room_limited), "laying, rearing, season"),
    Kind("crowded, by the calendar", by_other_law(crowded, day_of_year=START_DAY),
         "laying, eating, rearing, season, deaths"),
    Kind("durations 25 % too long", by_one_ant(), "the species profile", durations=1.25),
    Kind("durations 50 % too long", by_one_ant(), "the species profile", durations=1.5),
    Kind("half the brood lost, unlogged", robbed, "survival"),
    Kind("a winter rest ahead", wintering, "laying, rearing, season, deaths", rests=True),
    Kind("the package's law, a rest ahead", by_one_ant(), "", rests=True),
    Kind("scattered counts", by_other_law(care_limited, overdispersion=0.4),
         "laying, rearing, season, deaths, luck", keeper=Keeper(error_log_sd=0.2, slip=0.5)),
)  # fmt: skip


def study(kind: Kind, colonies: int = COLONIES, seed: int = SEED) -> pd.DataFrame:
    """Scores of one kind, one row a colony."""
    # Kinds have colonies of their own, so that the luck of a few is not seen in all of them.
    place = KINDS.index(kind)
    rng, own = np.random.default_rng((seed, place)), np.random.default_rng((seed + 1, place))
    species = with_durations(SPECIES, kind.durations)
    rows = []
    averages: dict[str, np.ndarray] = {}
    for trial, drawn in trials(kind, colonies, rng):
        told = trial.temperature.describe()
        if told not in averages:
            averages[told] = species_average(
                species, trial.temperature, own, draws=800, horizon=trial.horizon
            )
        row = vars(score(trial, species, averages[told], own))
        row["crps_known"] = np.nan if kind.breaks else crps_known(trial, drawn, own)
        rows.append(row)
    return pd.DataFrame(rows)


def trials(kind: Kind, colonies: int, rng: np.random.Generator) -> list[tuple[Trial, Draw]]:
    """Colonies of a kind with their notes, and the parameters that made them."""
    central = central_values(SPECIES, TYPICAL)
    spread = profile_spread(SPECIES, TYPICAL)
    found: list[tuple[Trial, Draw]] = []
    while len(found) < colonies:
        drawn = draw_colony(central, spread, rng)
        hourly, temperature = np.full((DAYS, 24), WARMTH_C), ag.constant(WARMTH_C)
        if kind.rests:
            first = int(rng.integers(60, 100))
            hourly, _, temperature = with_winter(
                DAYS + REST_DAYS + 20, WARMTH_C, first, REST_DAYS, REST_C
            )
        path = kind.grow(drawn, hourly, rng)
        arrival = float(days_to(path))
        if not np.isfinite(arrival):
            continue
        last, first = cut(arrival, rng.uniform(0.35, 0.8)), 0
        if kind.acquired:
            # Bought with its first workers or a little before, and noted for a while.
            first = cut(arrival, rng.uniform(0.35, 0.55))
            last = cut(arrival, rng.uniform(0.6, 0.85))
        log = write_log(path, START, rng, kind.keeper, first_day=first, last_day=last)
        if len(log) and (log.drop(columns="date") != "").any(axis=None):
            found.append((Trial(log, arrival, path, temperature, kind.acquired), drawn))
    return found


def with_durations(species: ag.Species, factor: float) -> ag.Species:
    """The profile with all durations multiplied: a wrong table."""
    paths = [f"development.{stage}.days" for stage in ("egg", "larva", "pupa")]
    changed = {p: replace(species[p], value=factor * species[p].value) for p in paths}
    return replace(species, numbers={**species.numbers, **changed})


def with_spreads(species: ag.Species, spreads: dict[str, float]) -> ag.Species:
    """The profile with other prior spreads."""
    changed = {path: replace(species[path], spread=spread) for path, spread in spreads.items()}
    return replace(species, numbers={**species.numbers, **changed})


def crps_known(trial: Trial, drawn: Draw, rng: np.random.Generator) -> float:
    """Score of the forecast that knows the colony's parameters: nothing but chance is left."""
    sure = {
        path: replace(SPECIES[path], value=float(drawn[name]), spread=1e-3)
        for name, path in PROFILE_NAMES.items()
        if path in SPECIES
    }
    keeper = Keeper()
    seen = keeper.detection | {"workers": keeper.seen_in_crowd}
    for stage, share in seen.items():
        path = f"counting.seen_{stage}"
        sure[path] = replace(SPECIES[path], value=share, spread=1e-3)
    shared = "development.shared_spread"
    sure[shared] = replace(SPECIES[shared], value=1e-3)
    species = replace(SPECIES, numbers={**SPECIES.numbers, **sure})
    with mock.patch("antgrowth.inference.prior.SENSOR_SPREAD_C", 1e-3):
        arrival = foresee(trial, species, rng)[0].arrival(workers=30)
    return crps(days_of(arrival, trial.horizon), trial.truth, fair=True)


def table(scores: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """One row a kind, and one of all colonies together."""
    everything = {**scores, "all": pd.concat(scores.values())}
    names = list(Score.__dataclass_fields__)
    rows = []
    for name, frame in everything.items():
        known = frame.dropna(subset="crps_known")
        row = summarise([Score(**r) for r in frame[names].to_dict("records")])
        ratio = known["crps"].mean() / known["crps_known"].mean() if len(known) else np.nan
        answered = frame["answered_loglinear"]
        line = frame.loc[answered, "crps"].mean() / frame.loc[answered, "crps_loglinear"].mean()
        rows.append({"kind": name, **row, "ratio log-linear": line, "ratio known": ratio})
    return pd.DataFrame(rows)


RANKED_DAYS, RANKED_WORKERS = 600, (10, 30, 100, 300)
"""How long colonies live whose ranks are taken, and whose dates are ranked."""


def ranks(colonies: int = 200, seed: int = SEED + 7) -> pd.DataFrame:
    """Simulation-based calibration: rank of each true parameter, and of dates, among the draws.

    Parameters are drawn from the prior itself, so that ranks are uniform where prior, growth law,
    counting and inference are all right. The keeper here sees as the prior draws it, and writes for
    100 days; a rest follows. A date that was noted has no rank. A sensor off the brood, which the
    one-ant simulator does not have, is left out.

    References
    ----------
    Talts S et al. (2018) Validating Bayesian inference algorithms with simulation-based
    calibration, arXiv:1804.06788 (from memory).
    """
    rng, start = np.random.default_rng(seed), pd.Timestamp(START)
    sure = {f"development.{stage}.lower_c": 1e-3 for stage in ("egg", "larva", "pupa")}
    species = with_spreads(SPECIES, sure)
    hourly, rests, plan = with_winter(RANKED_DAYS, WARMTH_C, 185, 116, REST_C)
    rows: list[dict[str, float]] = []
    with mock.patch("antgrowth.inference.prior.SENSOR_SPREAD_C", 1e-3):
        prior = Prior.of(species)
        while len(rows) < colonies:
            x = rng.standard_normal((1, len(prior)))
            path = one_ant(as_simulated(prior, x), hourly, 1, rng, resting=rests, **LAW)[0]
            log = write_log(path, START, rng, keeper_of(prior, x), last_day=100)
            fit = ag.fit(log, plan, species, queen_since=START, rng=1)
            place = (fit.draws @ prior.factor.T < x @ prior.factor.T).mean(axis=0)
            last = (fit.counts.end - start).days
            ahead = fit.forecast(RANKED_DAYS - last - 1, plan, draws=400, rng=1)
            dates = {
                f"day of {workers} workers": randomised_pit(
                    days_of(ahead.arrival(workers), RANKED_DAYS), min(true, RANKED_DAYS), rng
                )
                for workers in RANKED_WORKERS
                if (true := days_to(path, workers)) > last
            }
            rows.append(dict(zip(prior.names, place, strict=True)) | dates)
    return pd.DataFrame(rows).drop(columns="curve shift")


def keeper_of(prior: Prior, x: np.ndarray) -> Keeper:
    """A keeper who overlooks as much as a draw of the prior has it."""
    values = dict(zip([p.path for p in prior.parameters], prior.values(x)[0], strict=True))
    seen = {stage: values[f"counting.seen_{stage}"] for stage in ("eggs", "larvae")}
    return Keeper(detection=seen, seen_in_crowd=values["counting.seen_workers"])


def as_simulated(prior: Prior, x: np.ndarray) -> Draw:
    """Parameters of one prior draw under the simulator's names."""
    values = dict(zip([p.path for p in prior.parameters], prior.values(x)[0], strict=True))
    drawn = central_values(SPECIES, TYPICAL)
    return drawn | {name: values[path] for name, path in PROFILE_NAMES.items() if path in values}


def by_number(number: int) -> pd.DataFrame:
    """Scores of a kind by its place among `KINDS`, for processes that cannot be given one."""
    return study(KINDS[number], COLONIES)


def main() -> None:
    home = Path(__file__).parents[2] / "datasets" / "calibration"
    home.mkdir(exist_ok=True)
    found = {}
    with ProcessPoolExecutor(2) as pool:
        told = pool.submit(ranks)
        for kind, scores in zip(KINDS, pool.map(by_number, range(len(KINDS))), strict=True):
            found[kind.name] = scores
            line = table({kind.name: scores}).iloc[:1].round(2)
            print(line.to_string(index=False), flush=True)
            table(found).round(3).to_csv(home / "study.csv", index=False)
        told.result().round(3).to_csv(home / "ranks.csv", index=False)


if __name__ == "__main__":
    main()
