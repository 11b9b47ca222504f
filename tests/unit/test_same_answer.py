"""The same question has the same answer: in another process, and however its files are ordered."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
from pages import words_of

import antgrowth as ag
from antgrowth._core.summary import ants
from antgrowth.colony.page import Page

NOTES = pd.DataFrame({
    "date": ["2026-04-12", "2026-04-20", "2026-05-01", "2026-05-14"],
    "eggs": ["first", 48, "~50", "<40"], "larvae": ["", "", "first", 11],
    "workers": ["", 0, "", ""],
})  # fmt: skip
CHANGES = pd.DataFrame({"date": ["2026-05-02", "2026-05-10"], "stage": ["eggs", "larvae"],
                        "change": ["-2", "+3"], "reason": ["spilled", "adopted"]})  # fmt: skip
READINGS = pd.DataFrame({
    "time": pd.date_range("2026-04-04", periods=24 * 50, freq="h"),
    "temperature_c": 24 + 2 * np.sin(np.arange(24 * 50) / 4).round(2),
})  # fmt: skip


def answer(
    notes: pd.DataFrame = NOTES, changes: pd.DataFrame = CHANGES, readings: pd.DataFrame = READINGS
) -> tuple[str, np.ndarray, ag.Fit]:
    """A digest of the simulated colonies, and the numbers that they rest on."""
    log = ag.read_counts(notes, name="invented", today="2026-12-01")
    fit = ag.fit(log, ag.read_temperature(readings), "lasius-niger", queen_since="2026-04-04",
                 changes=ag.read_changes(changes, today="2026-12-01"), rng=3)  # fmt: skip
    ahead = fit.forecast(days=60, draws=60, rng=1)
    frame = fit.nest_frame().select_dtypes("number").to_numpy()
    return hashlib.sha256(ahead.paths.tobytes()).hexdigest(), frame, fit


@pytest.fixture(scope="module")
def here() -> tuple[str, np.ndarray, ag.Fit]:
    return answer()


ELSEWHERE = """
import hashlib
from unit.test_same_answer import answer
paths, frame, fit = answer()
print(paths, hashlib.sha256(frame.tobytes()).hexdigest())
"""


def elsewhere(seed: str, threads: str) -> list[str]:
    told = os.environ | {
        "PYTHONHASHSEED": seed,
        "OPENBLAS_NUM_THREADS": threads,
        "OMP_NUM_THREADS": threads,
        "PYTHONPATH": os.pathsep.join(sys.path),
    }
    code = [sys.executable, "-c", ELSEWHERE]
    return subprocess.run(code, env=told, capture_output=True, text=True, check=True).stdout.split()


def test_in_other_processes_with_other_hash_seeds(here):
    first, second = (elsewhere(seed, "1") for seed in ("0", "12345"))
    assert first == second and first[0] == here[0]


def test_with_other_numbers_of_threads(here):
    # A sum in parts has other last digits: the package lets linear algebra have one thread.
    assert elsewhere("0", "1") == elsewhere("0", "4") and elsewhere("0", "2")[0] == here[0]


@pytest.mark.parametrize("seed", [1, 2])
def test_in_another_order_of_rows_and_columns(here, seed):
    rng = np.random.default_rng(seed)

    def stirred(table: pd.DataFrame) -> pd.DataFrame:
        return table.iloc[rng.permutation(len(table)), rng.permutation(table.shape[1])]

    paths, frame, _ = answer(stirred(NOTES), stirred(CHANGES), READINGS[READINGS.columns[::-1]])
    assert paths == here[0] and np.array_equal(frame, here[1])


def test_saved_and_loaded(here, tmp_path):
    _, frame, fit = here
    fit.save(tmp_path / "fit.json")
    again = ag.load_fit(tmp_path / "fit.json")
    one, other = (some.forecast(days=60, draws=60, rng=1) for some in (fit, again))
    assert np.array_equal(one.paths, other.paths)
    assert np.array_equal(frame, again.nest_frame().select_dtypes("number").to_numpy())
    assert one.summary() == other.summary() and fit.summary() == again.summary()
    dates = [ahead.arrival(10).dates for ahead in (one, other)]
    assert np.array_equal(*dates, equal_nan=True)


def test_how_many_workers_are_there_has_one_answer(tmp_path):
    """On the page, among many colonies, in the forecast, and as what is waited for next."""
    notes = pd.DataFrame({"date": ["2026-07-20", "2026-09-30"], "eggs": [9, 20],
                          "workers": ["", "26-34"]})  # fmt: skip
    fit = ag.fit(notes, ag.constant(25), "lasius-niger", queen_since="2026-07-04", rng=4)
    ahead = fit.forecast(days=60, rng=4)
    page = Page(ag.care_plan(ahead), today_is=fit.counts.end)
    there = words_of(re.search(r'data-of="now.workers.q50">(.*?)</span>', page.today.content)[1])
    assert there == ants(ahead.workers_now)
    first = ahead.frame().query("stage == 'workers'")["q50"].iloc[0]
    assert first == ahead.workers_now
    assert page.awaited == fit.outlook.workers == (30 if ahead.workers_now < 30 else 100)
    assert re.search(rf"finding +{page.awaited} workers", ahead.summary())

    home = tmp_path / "tube"
    home.mkdir()
    notes.to_csv(home / "counts.csv", index=False)
    (home / "colony.toml").write_text(
        'species = "lasius-niger"\nqueen_since = "2026-07-04"\n[temperature]\nconstant_c = 25\n',
        encoding="utf-8",
    )
    kept = ag.fit_many([home], days=60, rng=1).kept["tube"]
    again = kept.fit.forecast(days=60, rng=kept.fit.seed)
    assert kept.workers == again.workers_now
