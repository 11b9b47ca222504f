"""Many colonies at once: numbers that depend on neither order nor executor."""

from __future__ import annotations

import pickle
from concurrent.futures import ProcessPoolExecutor

import numpy as np
import pytest

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
