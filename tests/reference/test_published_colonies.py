"""The profiles against published colonies; the table is printed with ``pytest -s`` on this file."""

from __future__ import annotations

import re
from importlib.resources import files

import numpy as np
import pytest
from reference.published_colonies import (
    PREDICTIONS,
    comparison,
    log_score,
    published,
    report,
    verdict,
)
from scipy import stats

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
    # Six months of growth from guesses of food and warmth span a hundredfold: no hit.
    assert helped.loc[helped["verdict"] != "hit", "id"].tolist() == ["fire-six-months"]
    assert helped.set_index("id").loc["fire-six-months", "verdict"] == "vague"


def test_width_and_score_stand_beside_each_verdict(table):
    told = report(table)
    assert "width" in told
    assert "score" in told
    vague = table[table["verdict"] == "vague"]
    assert (vague["width"] > 30).all()
    assert table.loc[table["width"] > 30, "q95"].lt(1).sum() == (table["width"] > 30).sum() - len(
        vague
    )
    assert table.set_index("id").loc["pharaoh-38-days", "log_score"] > 0


def test_a_narrow_prediction_that_holds_scores_above_a_wide_one():
    """Against the density of a log-normal by scipy."""
    wide, narrow = (log_score(95, 105, 100 / f, 100, 100 * f) for f in (50, 2))
    assert narrow > wide
    off = log_score(150, 150, 50, 100, 200)
    spread = np.log(2) / 1.645
    by_scipy = stats.norm.logpdf(np.log(1.5), scale=spread)
    assert off == pytest.approx(by_scipy)


def test_the_readme_tells_every_miss(table):
    told = set(
        re.findall(r"`([\w-]+)`", README.partition("## What they say")[2].partition("\n## ")[0])
    )
    assert told == set(table.loc[table["verdict"].isin(["miss", "vague"]), "id"])


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
        ((50, 60), (59, 500, 22_375), "vague"),
        ((0, 0.02), (0.001, 0.016, 0.06), "hit"),
    ],
)
def test_verdict(published_range, predicted, expected):
    assert verdict(*published_range, *predicted) == expected
