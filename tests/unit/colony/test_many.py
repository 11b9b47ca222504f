"""Many colonies at once: numbers that depend on neither order nor executor."""

from __future__ import annotations

import os
import pickle
import time
from concurrent.futures import Executor, ProcessPoolExecutor

import numpy as np
import pandas as pd
import pytest
from simulators.notes import Keeper, write_log
from simulators.one_ant import DRIFT, TYPICAL, simulate
from spent import of_this_process

import antgrowth as ag

FOLDERS = {
    "garden": ag.demo_colony("garden-ant-first-year"),
    "carpenter": ag.demo_colony("warm-country-camponotus"),
    "nowhere": "no/such/folder",
}


@pytest.fixture(scope="module")
def many() -> ag.ColonyFits:
    return ag.fit_many(FOLDERS, days=120, rng=3)


def test_each_is_fitted_and_a_failure_is_told(many):
    assert list(many) == ["carpenter", "garden"] and len(many) == 2
    assert isinstance(many["garden"], ag.Fit)
    assert "no such folder" in many.failed["nowhere"]
    table = many.frame().set_index("colony")
    assert table.loc["nowhere", "look"] == many.failed["nowhere"]
    assert table["median"].dropna().is_monotonic_increasing
    assert "1 could not be fitted" in many.sentence()


def test_neither_order_nor_processes_change_a_number(many):
    turned = dict(reversed(FOLDERS.items()))
    with ProcessPoolExecutor(2) as executor:
        again = ag.fit_many(turned, days=120, executor=executor, rng=3)
    assert again.frame().equals(many.frame())
    assert np.array_equal(again["garden"].draws, many["garden"].draws)


def test_a_cluster_gives_the_same(many):
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        again = ag.fit_many(FOLDERS, days=120, executor=client.get_executor(), rng=3)
    assert again.frame().equals(many.frame())


def test_a_fit_travels_light(many):
    for name in many:
        fit = many[name]
        fit.forecast(days=60, draws=200, rng=1)
        packed = pickle.dumps(fit)
        assert len(packed) <= 200_000
        back = pickle.loads(packed)
        assert np.array_equal(
            back.forecast(days=60, draws=200, rng=1).paths,
            fit.forecast(days=60, draws=200, rng=1).paths,
        )


def test_names_are_wanted_once():
    with pytest.raises(ag.AntgrowthError, match="two colonies are called 'a'"):
        ag.fit_many(["one/a", "two/a"])
    with pytest.raises(ag.AntgrowthError, match="there is no colony"):
        ag.fit_many({})
    for wrong in (None, 3, [None], {"a": 5}):
        with pytest.raises(ag.AntgrowthError, match="fit_many: .* Give at least one"):
            ag.fit_many(wrong)


def test_the_picture_has_a_row_for_each(many):
    ax = many.plot()
    assert [t.get_text() for t in ax.get_yticklabels()] == ["carpenter", "garden"]


START, LAST_DAY = "2026-04-01", 72


def shelf_of(number: int) -> dict[str, ag.Colony]:
    """Invented colonies of about 8 to 12 looks each, all kept alike."""
    rng, warmth = np.random.default_rng(20261128), ag.constant(24.0)
    grown = simulate(
        TYPICAL, np.full((LAST_DAY + 1, 24), 24.0), number, rng,
        season="endogenous", since_spring=4.0, drift=DRIFT,
    )  # fmt: skip
    ant, shelf = ag.load_species("lasius-niger"), {}
    for place, counts in enumerate(grown):
        looks = rng.integers(8, 13)
        keeper = Keeper(mean_gap_days=LAST_DAY / looks)
        log = write_log(counts, START, rng, keeper)
        name = f"tube {place}"
        notes = ag.read_counts(log.head(12), today="2026-12-01", name=name)
        since = pd.Timestamp(START)
        shelf[name] = ag.Colony(name, notes, warmth, ant, since, 1, None, None, None, {})
    return shelf


@pytest.mark.slow
class TestTwoHundred:
    """What two processes win on a shelf of 200 invented colonies: minutes."""

    COLONIES = 200

    def test_two_processes_give_the_same_in_half_the_time(self):
        shelf = shelf_of(self.COLONIES)
        distributed = pytest.importorskip("distributed")
        idle = os.getloadavg()[0] < 0.3 and len(os.sched_getaffinity(0)) >= 2
        ag.fit_many({"first": shelf["tube 0"]}, rng=1)  # whatever has to be loaded or compiled
        rows, found = [], {}
        found["one"], row = self.timed("one after the other", shelf, None)
        rows.append(row)
        with ProcessPoolExecutor(2) as executor:
            found["pool"], row = self.timed("ProcessPoolExecutor(2)", shelf, executor)
        rows.append(row)
        with (
            distributed.LocalCluster(
                n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
            ) as cluster,
            distributed.Client(cluster) as client,
        ):
            found["cluster"], row = self.timed("local cluster, 2 workers", shelf,
                                               client.get_executor(pure=False))  # fmt: skip
        rows.append(row)
        table = pd.DataFrame(rows).set_index("work")
        table["ratio"] = table["seconds"].iloc[0] / table["seconds"]
        print(f"\n{len(shelf)} colonies, cores {'idle' if idle else 'busy'}; load now "
              f"{os.getloadavg()[0]:.1f}\n{table.round(2).to_string()}")  # fmt: skip
        assert not found["one"].failed and len(found["one"]) == len(shelf)
        for other in ("pool", "cluster"):
            assert found[other].frame().equals(found["one"].frame())
            assert all(np.array_equal(found[other][n].draws, found["one"][n].draws) for n in shelf)
        assert (table["compiled"] == 0).all()  # what is compiled once is loaded by all
        assert (table["peak_mb"] < 1000).all()
        if idle:
            assert (table["ratio"].iloc[1:] >= 1.7).all()

    @staticmethod
    def timed(work: str, shelf: dict, executor: Executor | None) -> tuple[ag.ColonyFits, dict]:
        """The fits, and what they took; seconds of processors are those of the work alone."""

        def state() -> list[tuple[int, float, float, int]]:
            if executor is None:
                return [of_this_process()]
            return [task.result() for task in [executor.submit(of_this_process, n)
                                               for n in range(8)]]  # fmt: skip

        before, begun = state(), time.perf_counter()
        fits = ag.fit_many(shelf, executor=executor, rng=3)
        seconds, after = time.perf_counter() - begun, state()
        spent = sum({pid: cpu for pid, cpu, *_ in after}.values())
        spent -= sum({pid: cpu for pid, cpu, *_ in before}.values())
        return fits, {
            "work": work, "processes": len({pid for pid, *_ in after}), "seconds": seconds,
            "processor_seconds": spent, "peak_mb": max(peak for *_, peak, _ in after),
            "compiled": sum({pid: anew for pid, *_, anew in after}.values()),
        }  # fmt: skip
