"""What things cost: processor seconds, and in units of a yardstick that any machine can measure.

`pytest -m bench -s -n 0` prints the table and fails where a cost has grown by a third over that of
`datasets/calibration/speed.csv`; with ``ANTGROWTH_WRITE_SPEED=1`` it writes that file anew. Run it
on an idle machine. That nothing is less accurate for being quicker is what all other tests say.
"""

from __future__ import annotations

import os
import platform
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from shutil import copytree
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
import pytest
import scipy
from new_folders import made
from scipy.integrate import solve_ivp
from simulators.notes import Keeper, write_log
from simulators.one_ant import TYPICAL, simulate as one_ant

import antgrowth as ag
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.prior import Prior
from antgrowth.model.growth_law import BINS, ROWS
from antgrowth.model.life_cycle import LifeCycle
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Laws
from antgrowth.model.simulation import simulate, whole_ants
from statistical.posterior_chain import log_posterior
from statistical.trials import START, central_values

TABLE = Path(__file__).parents[2] / "datasets" / "calibration" / "speed.csv"
SLIPS = 4.0 / 3.0
EVALUATED = 24
"""So many places are enough to tell what one costs a sampler."""
CORRELATED = 40
"""Places that emcee tries for an effective draw (assumed after one long chain of ten rows, which
made 708 to 955 effective draws of 32,000 places)."""
SPECIES = ag.load_species("lasius-niger")
WARM = ag.constant(24.0)
EVERYTHING = dict.fromkeys(("eggs", "larvae", "pupae", "workers"), 1.0)


def cost(work: Callable[[], object], times: int = 5, ready: Callable[[], object] = int) -> float:
    """Median processor seconds of some runs; `ready` is done before each, and not counted."""
    taken = []
    for _ in range(times):
        ready()
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return float(np.median(taken))


def yardstick() -> None:
    """Small steps of numpy, such as the daily loop is made of."""
    rng = np.random.default_rng(1)
    state, share = rng.random((64, 120)), rng.random((64, 120))
    for _ in range(4000):
        state = 0.5 * state + 0.5 * np.exp(-share) * state[:, ::-1]


def weekly(ant: ag.Species, days: int, every: int, last: int | None = None) -> pd.DataFrame:
    """Notes of all stages of one colony of an ant."""
    rng = np.random.default_rng(5)
    path = one_ant(central_values(ant, TYPICAL), np.full((days, 24), 24.0), 1, rng, dt=0.25)[0]
    keeper = Keeper(mean_gap_days=every, written=EVERYTHING)
    return write_log(path, START, rng, keeper, last_day=days - 1).tail(last or 10_000)


def fit(notes: pd.DataFrame, ant: ag.Species = SPECIES) -> ag.Fit:
    counts = ag.read_counts(notes, today="2040-01-01")
    return ag.fit(counts, WARM, ant, queen_since=START, rng=1)


def fits_and_forecasts() -> dict[str, float]:
    """What a keeper waits for."""
    ten = weekly(SPECIES, 76, 7, last=10)
    garden = ag.load_colony(ag.demo_colony("garden-ant-first-year"))
    found = {"fit, ten rows": cost(lambda: fit(ten)), "fit, garden year": cost(garden.fit, 3)}
    fresh: list[ag.Fit] = []
    known = garden.fit(rng=1)
    found["first forecast, 1000 x 200 days"] = cost(
        lambda: fresh.pop().forecast(days=200, draws=1000, rng=1),
        ready=lambda: fresh.append(garden.fit(rng=1)),
        times=3,
    )
    known.forecast(days=200, draws=1000, rng=1)

    def what_if() -> None:
        ahead = known.forecast(days=200, temperature=ag.day_night(26, 20), draws=1000, rng=1)
        ahead.arrival(30).sentence()
        ahead.food().summary()
        ahead.plot()

    found["what-if: date, food, picture"] = cost(what_if)
    plans = {"as now": None, "23": 23, "25": 25, "26": 26, "a": ag.day_night(26, 20),
             "b": ag.day_night(25, 22)}  # fmt: skip
    found["six regimes x 1000 x 300 days"] = cost(
        lambda: ag.compare_regimes(known, plans, days=300, draws=1000, rng=1).frame(), 3
    )
    found["best regime"] = cost(lambda: ag.best_regime(known, rng=1), 3)
    found["backtest, six cutoffs"] = cost(
        lambda: ag.backtest(
            garden.counts, garden.temperature, garden.species, queen_since=garden.queen_since,
            workers=12, cutoffs=6, rng=1,
        ), 1,
    )  # fmt: skip
    found["diagnostics"] = cost(known.diagnostics, 3)
    return found


def long_logs() -> dict[str, float]:
    """Years of notes, and the page of a folder."""
    formica = ag.load_species("formica-fusca")
    weeks = weekly(formica, 456, 8)
    found = {f"fit, {len(weeks)} looks in 15 months": cost(lambda: fit(weeks, formica), 1)}
    months = five_years()
    with ProcessPoolExecutor(1, get_context("spawn")) as fresh:
        found["fit, five years of monthly rows"], mib = fresh.submit(fit_alone, months).result()
    print(f"five years of monthly rows: at most {mib:.0f} MiB in all")
    with TemporaryDirectory() as place:
        short = made(Path(place) / "short")
        found["report page, twelve rows"] = page(short)
        year = Path(place) / "year"
        copytree(ag.demo_colony("garden-ant-first-year"), year)
        found["report page, garden year"] = page(year)
        long = made(Path(place) / "long", "formica-fusca", rows="", plans="")
        text = (long / "colony.toml").read_text(encoding="utf-8")
        (long / "colony.toml").write_text(text.replace("2026-07-04", START), encoding="utf-8")
        weeks.to_csv(long / "counts.csv", index=False)
        found[f"report page, {len(weeks)} looks"] = page(long)
    return found


def five_years() -> pd.DataFrame:
    """Monthly notes of one colony that rests in winter."""
    plan = resting_years(5)
    history = ColonyHistory(SPECIES, plan, pd.Timestamp(START), True, None, queens=1)
    prior, rng = Prior.of(SPECIES), np.random.default_rng(4)
    path = simulate(prior.laws(np.zeros((1, len(prior)))), history.forcing(1800), rng)[0, 1:]
    return write_log(path, START, rng, Keeper(mean_gap_days=30, written=EVERYTHING))


def resting_years(number: int) -> ag.Temperature:
    """Warmth with a rest from October to March in each year."""
    plan, first = WARM, int(START[:4])
    for year in range(first, first + number):
        plan = plan.rest(f"{year}-10-15", f"{year + 1}-03-15", temperature=8)
    return plan


def fit_alone(notes: pd.DataFrame) -> tuple[float, float]:
    """Processor seconds of a fit in a process of its own, and the memory it took at most [MiB]."""
    counts, plan = ag.read_counts(notes, today="2040-01-01"), resting_years(5)
    taken = cost(lambda: ag.fit(counts, plan, SPECIES, queen_since=START, rng=1), 1)
    return taken, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def page(folder: Path) -> float:
    """Processor seconds until a folder's page is made, by the command."""

    def used() -> float:
        children = resource.getrusage(resource.RUSAGE_CHILDREN)
        return children.ru_utime + children.ru_stime

    def run() -> float:
        before = used()
        command = [sys.executable, "-m", "antgrowth", "report", str(folder)]
        subprocess.run(command, check=True, capture_output=True)
        return used() - before

    return float(np.median([run() for _ in range(3)]))


MEAN = "mean growth, 1000 laws x 365 days"
SIZE, IMPORT = "cost of 50,000 workers over 30", "import over numpy and pandas"


def growth() -> dict[str, float]:
    """The growth law alone."""
    laws, history, rng = drawn_laws()
    forcing = history.forcing(365)
    return {
        MEAN: cost(lambda: grow(laws, forcing), 3),
        "1000 colonies x 120 days": cost(lambda: simulate(laws, history.forcing(120), rng), 3),
    }


def drawn_laws() -> tuple[Laws, ColonyHistory, np.random.Generator]:
    """Laws of 1000 draws of the profile, the history of a queen, and chance."""
    history = ColonyHistory(SPECIES, WARM, pd.Timestamp(START), True, None, queens=1)
    prior, rng = Prior.of(SPECIES), np.random.default_rng(2)
    x = prior.with_round_shifts(rng.standard_normal((1000, len(prior))), 0.25)
    return prior.laws(x), history, rng


def ratios(seconds: dict[str, float]) -> dict[str, float]:
    """How many times as long others take for the same."""

    def chain() -> None:
        # 3 x 24 steps of brood and a pool of workers, by an adaptive solver.
        rate = 24.0 / np.repeat([19.0, 9.0, 25.0], 24)
        solve_ivp(
            lambda _, y: np.append(
                np.append(6.0, rate[:-1] * y[:-2]) - rate * y[:-1], rate[-1] * y[-2] - y[-1] / 290
            ),
            (0, 365), np.zeros(73), rtol=1e-2, atol=1e-2,
        )  # fmt: skip

    garden = ag.load_colony(ag.demo_colony("garden-ant-first-year"))
    rows = pd.read_csv(ag.demo_colony("garden-ant-first-year") / "counts.csv", dtype=str,
                       keep_default_na=False)  # fmt: skip
    where = {"queen_since": garden.queen_since, "hemisphere": "north", "rng": 1}

    def whole(notes: pd.DataFrame) -> ag.Fit:
        return ag.fit(notes, garden.temperature, garden.species, **where)

    before = whole(rows.iloc[:-2])
    return {
        **colonies_at_once(),
        **sampled(),
        "solve_ivp over mean growth, 1000 laws": 1000 * cost(chain, 3) / seconds[MEAN],
        "a fit over its update by two looks": cost(lambda: whole(rows), 3)
        / cost(lambda: before.update(rows), 3),
    }


def colonies_at_once() -> dict[str, float]:
    """One ant at a time over 1000 colonies, up to some numbers of workers; and what size costs."""
    ant, rng = ag.load_species("solenopsis-invicta"), np.random.default_rng(6)
    warm_c = ant.value("development.reference_c")
    plan = ag.constant(warm_c)
    history = ColonyHistory(ant, plan, pd.Timestamp(START), True, None, queens=1)
    prior, forcing = Prior.of(ant), history.forcing(300)
    laws = prior.laws(np.zeros((1000, len(prior))))
    workers = grow(laws.take(slice(0, 1)), forcing).counts[0, :, 3]
    central = central_values(ant, TYPICAL)
    found = {}
    for number, colonies in ((30, 20), (300, 4), (5000, 1)):
        days = int(np.argmax(workers >= number))
        hours, until = np.full((days, 24), warm_c), history.forcing(days)
        ants = cost(lambda: one_ant(central, hours, colonies, rng, dt=0.25), 1)  # noqa: B023
        ours = cost(lambda: simulate(laws, until, rng), 3)  # noqa: B023
        name = f"one ant at a time over 1000 colonies, {number} workers"
        found[name] = 1000 / colonies * ants / ours
    cycle = LifeCycle(laws, forcing)

    def held(number: float) -> float:
        states = np.zeros((1000, cycle.state.size))
        states[:, cycle.state.workers] = number / (2 * cycle.state.ages)
        states[:, cycle.state.brood] = number / (len(ROWS) * BINS)
        there = whole_ants(cycle, states)
        return cost(lambda: simulate(laws, history.forcing(100), rng, states=there), 3)

    return found | {SIZE: held(50_000) / held(30)}


def sampled() -> dict[str, float]:
    """A general-purpose sampler over a fit and 1000 of its draws, for 1000 effective ones."""
    found = {}
    garden = ag.load_colony(ag.demo_colony("garden-ant-first-year"))
    ten = weekly(SPECIES, 76, 7, last=10)
    for name, work in (("ten rows", lambda: fit(ten)), ("garden year", lambda: garden.fit(rng=1))):
        known, rng = work(), np.random.default_rng(7)
        places = known.estimate.draw(EVALUATED, rng)
        tried = np.column_stack([places, np.zeros(EVALUATED)])
        one = cost(lambda: log_posterior(known, tried), 1) / EVALUATED  # noqa: B023
        ours = cost(lambda: work().estimate.draw(1000, rng), 3)  # noqa: B023
        found[f"emcee over the posterior, {name}"] = 1000 * CORRELATED * one / ours
    return found


def importing() -> float:
    """Seconds to import antgrowth over those to import numpy and pandas."""

    def taken(what: str) -> float:
        program = (
            f"import time; t = time.process_time(); import {what}; print(time.process_time() - t)"
        )
        run = [sys.executable, "-c", program]
        return float(
            np.median([float(subprocess.run(run, capture_output=True, check=True).stdout)
                       for _ in range(5)])
        )  # fmt: skip

    return taken("antgrowth") / taken("numpy, pandas")


@pytest.mark.bench
def test_nothing_has_become_slower():
    unit = cost(yardstick)
    seconds = fits_and_forecasts() | long_logs() | growth()
    rows = [
        {"what": name, "seconds": taken, "yardsticks": taken / unit, "times": np.nan}
        for name, taken in seconds.items()
    ]
    rows += [{"what": name, "times": value} for name, value in ratios(seconds).items()]
    rows.append({"what": IMPORT, "times": importing()})
    table = pd.DataFrame(rows)
    machine = (
        f"{platform.machine()}, Python {platform.python_version()}, numpy {np.__version__}, "
        f"scipy {scipy.__version__}, pandas {pd.__version__}; yardstick {unit:.3f} s"
    )
    print(f"\n{machine}\n{table.round(3).to_string(index=False)}")
    if os.environ.get("ANTGROWTH_WRITE_SPEED"):
        table.assign(machine=machine).round(4).to_csv(TABLE, index=False)
    kept = pd.read_csv(TABLE).set_index("what")
    now = table.set_index("what").reindex(kept.index)
    slower = now["yardsticks"] > SLIPS * kept["yardsticks"]
    dearer = now["times"] / kept["times"]
    dearer = dearer.where(now.index.isin([SIZE, IMPORT]), 1.0 / dearer)  # others: times quicker
    fallen = dearer > SLIPS
    slipped = now.index[slower | fallen]
    assert not len(slipped), f"slower by a third: {list(slipped)}"
