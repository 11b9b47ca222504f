"""The profiles against published colonies; the table is printed with ``pytest -s`` on this file."""

from __future__ import annotations

import re
from importlib.resources import files

import numpy as np
import pytest
from reference.published_colonies import PREDICTIONS, comparison, published, report, verdict

README = (files("antgrowth.datasets") / "published" / "README.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def table():
    return comparison()


def test_table(table):
    print(f"\n{report(table)}")
    assert np.isfinite(table["q50"]).all()
    assert (table["q05"] <= table["q50"]).all() and (table["q50"] <= table["q95"]).all()


def test_enough_rows_and_enough_independent():
    rows = published()
    assert rows["id"].is_unique and set(rows["id"]) == set(PREDICTIONS)
    assert set(rows["helped"]) == {"yes", "no"}
    assert len(rows) >= 10 and (rows["helped"] == "no").sum() >= 6
    assert (rows["low"].notna() | rows["high"].notna()).all()
    both = rows.dropna(subset=["low", "high"])
    assert (both["low"] <= both["high"]).all()


def test_a_profile_reproduces_what_built_it(table):
    helped = table[table["helped"] == "yes"]
    assert helped.loc[helped["verdict"] != "hit", "id"].tolist() == []


def test_the_readme_tells_every_miss(table):
    told = set(re.findall(r"`([\w-]+)`", README.partition("## What they say")[2]))
    assert told == set(table.loc[table["verdict"] == "miss", "id"])


@pytest.mark.parametrize(
    ("published_range", "predicted", "expected"),
    [
        ((50, 60), (40, 50, 70), "hit"),
        ((50, 60), (40, 45, 52), "touch"),
        ((50, 60), (10, 20, 49), "miss"),
        ((38, 38), (37, 39, 40), "hit"),
        ((10, np.nan), (5, 12, 30), "hit"),
        ((10, np.nan), (5, 8, 30), "touch"),
        ((10, np.nan), (5, 8, 9), "miss"),
        ((np.nan, 2), (0, 1, 5), "hit"),
    ],
)
def test_verdict(published_range, predicted, expected):
    assert verdict(*published_range, *predicted) == expected
