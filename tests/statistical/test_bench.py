"""What things cost: processor seconds, and in units of a yardstick that any machine can measure.

`pytest -m bench -s -n 0` prints the table and fails where a cost has grown by a third over that of
`datasets/calibration/speed.csv`; with ``ANTGROWTH_WRITE_SPEED=1`` it writes that file anew. Run it
on an idle machine. That nothing is less accurate for being quicker is what all other tests say.
"""

from __future__ import annotations

import os
import platform
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import scipy
from scipy.integrate import solve_ivp
from simulators.notes import Keeper, write_log
from simulators.one_ant import TYPICAL, simulate as one_ant

import antgrowth as ag
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.prior import Prior
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Laws
from antgrowth.model.simulation import simulate
from statistical.trials import START, central_values

TABLE = Path(__file__).parents[2] / "datasets" / "calibration" / "speed.csv"
SLIPS = 4.0 / 3.0
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
    """Years of notes."""
    formica = ag.load_species("formica-fusca")
    weeks = weekly(formica, 456, 8)
    found = {f"fit, {len(weeks)} looks in 15 months": cost(lambda: fit(weeks, formica), 1)}
    return found


MEAN = "mean growth, 1000 laws x 365 days"


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
    """How many times as long others take for the same; these may not fall."""
    _, history, rng = drawn_laws()
    prior = Prior.of(SPECIES)
    laws = prior.laws(np.zeros((1000, len(prior))))
    central = central_values(SPECIES, TYPICAL)
    hours = np.full((120, 24), 24.0)
    ours = cost(lambda: simulate(laws, history.forcing(120), rng), 3)
    ants = 50 * cost(lambda: one_ant(central, hours, 20, rng, dt=0.25), 3)

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
        "one ant at a time over 1000 colonies, 30 workers": ants / ours,
        "solve_ivp over mean growth, 1000 laws": 1000 * cost(chain, 3) / seconds[MEAN],
        "a fit over its update by two looks": cost(lambda: whole(rows), 3)
        / cost(lambda: before.update(rows), 3),
    }


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
    rows.append({"what": "import over numpy and pandas", "times": importing()})
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
    slower = now.index[now["yardsticks"] > SLIPS * kept["yardsticks"]]
    assert not len(slower), f"slower by a third: {list(slower)}"
