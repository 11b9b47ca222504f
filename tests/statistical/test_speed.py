"""Is it quick enough to be played with? Run alone, on an idle machine: it is marked slow."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from new_folders import made
from simulators.notes import Keeper, write_log
from simulators.one_ant import TYPICAL, simulate as one_ant

import antgrowth as ag
from antgrowth.cli import main
from statistical.trials import START, central_values

SPECIES = ag.load_species("lasius-niger")
EVERYTHING = dict.fromkeys(("eggs", "larvae", "pupae", "workers"), 1.0)


def notes(last_day: int, rows: int) -> ag.CountLog:
    """Weekly notes of all stages of one colony."""
    rng = np.random.default_rng(5)
    path = one_ant(central_values(SPECIES, TYPICAL), np.full((370, 24), 24.0), 1, rng, dt=0.25)[0]
    keeper = Keeper(mean_gap_days=7, written=EVERYTHING)
    log = write_log(path, START, rng, keeper, last_day=last_day)
    return ag.read_counts(log.tail(rows), today="2030-01-01")


def best_of(times: int, work: Callable[[], object]) -> float:
    """Seconds of the quickest of several runs."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def fit(log: ag.CountLog) -> ag.Fit:
    return ag.fit(log, ag.constant(24.0), SPECIES, queen_since=START, rng=1)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "log", "limit"),
    [("ten rows", notes(75, 10), 0.4), ("a year of weekly rows", notes(364, 60), 2.0)],
)
def test_fit(name, log, limit):
    taken = best_of(4, lambda: fit(log))
    print(f"\nfit, {name} ({len(log)} dates): {taken:.2f} s, at most {limit} s")
    assert taken <= limit


@pytest.mark.slow
def test_forecast():
    log = notes(75, 10)
    # A fit keeps where the colony stands, so each forecast here starts from a fit of its own.
    fits = [fit(log) for _ in range(4)]
    taken = best_of(4, lambda: fits.pop().forecast(days=200, draws=1000, rng=1))
    print(f"\nforecast of 1000 colonies over 200 days: {taken:.2f} s, at most 0.6 s")
    assert taken <= 0.6


@pytest.mark.slow
@pytest.mark.parametrize("name", ["garden-ant-first-year", "warm-country-camponotus"])
def test_backtest(name):
    demo = ag.load_colony(ag.demo_colony(name))
    start = time.perf_counter()
    trial = ag.backtest(
        demo.counts, demo.temperature, demo.species, queen_since=demo.queen_since, workers=12,
        changes=demo.changes, hemisphere=demo.settings.get("hemisphere"), cutoffs=6, rng=1,
    )  # fmt: skip
    taken = time.perf_counter() - start
    print(f"\nbacktest, six cutoffs in a log of {len(demo.counts)} dates: {taken:.1f} s\n{trial}")
    table = trial.summary_frame()
    assert len(trial.cutoffs) == 6 and (table["failed"] == 0).all()
    assert set(table["method"]) == {"antgrowth", "species average", "log-linear"}
    assert taken <= 8


@pytest.mark.slow
def test_comparison_of_regimes():
    plans = {
        "as now": None,
        "steady 23": 23,
        "steady 25": 25,
        "steady 26": 26,
        "26 by day": ag.day_night(26, 20),
        "25 by day": ag.day_night(25, 22),
    }
    log = notes(75, 10)
    fits = [fit(log) for _ in range(3)]
    taken = best_of(
        3, lambda: ag.compare_regimes(fits.pop(), plans, days=300, draws=1000, rng=1).frame()
    )
    print(f"\nsix regimes of 1000 colonies over 300 days, with table: {taken:.2f} s, at most 3 s")
    assert taken <= 3.0


@pytest.mark.slow
@pytest.mark.parametrize("form", ["%Y-%m-%d %H:%M", "%d.%m.%Y %H:%M"])
def test_a_year_of_minutes(tmp_path, form):
    times = pd.date_range("2026-01-01", periods=525_600, freq="min")
    wave = 24 + 3 * np.sin(np.arange(525_600) * 2 * np.pi / 1440)
    path = tmp_path / "logger.csv"
    table = pd.DataFrame({"time": times.strftime(form), "temperature_c": np.round(wave, 2)})
    table.to_csv(path, index=False)
    reading = best_of(3, lambda: ag.read_temperature(path))
    temps = ag.read_temperature(path)
    asking = best_of(3, lambda: temps.hours("2026-01-01", 365))
    print(f"\na year of minutes: read in {reading:.2f} s, at most 2 s; asked in {asking:.1e} s")
    assert reading <= 2.0
    assert asking <= 0.01


@pytest.mark.slow
def test_report(tmp_path):
    folder = made(tmp_path / "ants")
    taken = best_of(1, lambda: main(["report", str(folder)]))
    print(f"\nreport on twelve counts: {taken:.1f} s, at most 5 s")
    assert (folder / "report.html").exists()
    assert taken <= 5.0
