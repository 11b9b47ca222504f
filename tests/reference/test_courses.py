"""Two years of every profile beside what is known of the ant: what is out of range is named."""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.cli import main
from antgrowth.evaluation.courses import REGIMES, known_courses, profile_courses


@pytest.fixture(scope="module")
def courses():
    return profile_courses(["lasius-niger", "solenopsis-invicta", "monomorium-pharaonis"])


def test_something_is_said_of_every_profile():
    known = known_courses()
    assert set(known["profile"]) == set(ag.list_species()["name"])
    statuses = ["read", "derived", "secondary", "memory", "common practice"]
    assert known["status"].isin(statuses).all()
    assert (known["source"] != "").all()


def test_table(courses):
    table = courses.table
    assert set(table["regime"]) == set(REGIMES)
    assert (table["q05"] <= table["q50"]).all()
    assert (table["q50"] <= table["q95"]).all()
    niger = table[(table["profile"] == "lasius-niger") & (table["regime"] == REGIMES[1])]
    days = niger.set_index("quantity")["q50"]
    firsts = [f"first {stage}" for stage in ("egg", "larva", "pupa", "worker")]
    assert days[firsts].is_monotonic_increasing
    # 60 founding colonies had first workers 52 d after the first egg (Schläppi and others 2020).
    assert 45 < days["first worker"] - days["first egg"] < 60


def test_no_row_is_implausible_without_saying_so(courses):
    table, told = courses.table, courses.summary()
    known = table.dropna(subset=["low", "high"], how="all")
    outside = (known["q50"] < known["low"]) | (known["q50"] > known["high"])
    assert outside.sum() == len(courses.out_of_range) > 0
    assert told.count("OUT OF RANGE") == len(courses.out_of_range)
    for row in courses.out_of_range.to_dict("records"):
        assert f"{row['profile']}, {row['regime']}: {row['quantity']}" in told
        meets = row["q95"] >= row["low"] or not row["q05"] <= row["high"]
        assert meets or "IMPLAUSIBLE" in told
    assert (known.loc[~outside, "verdict"] == "in range").all()


def test_queens_who_found_with_workers_have_no_course(courses):
    assert courses.without == ("monomorium-pharaonis",)
    assert "NO COURSE" in courses.summary()
    assert "monomorium-pharaonis" not in set(courses.table["profile"])


def test_an_ant_that_needs_no_winter_has_none(courses):
    room = courses.workers["solenopsis-invicta", REGIMES[0]]
    assert room[330] > 1.3 * room[300], "it goes on growing in May as in winter"
    niger = courses.workers["lasius-niger", REGIMES[0]]
    assert niger[200] <= niger[120], "no worker hatches in its winter"


def test_command_prints_the_table_and_draws_it(capsys, tmp_path):
    picture = tmp_path / "courses.png"
    main(["species", "lasius-niger", "--courses", str(picture)])
    told = capsys.readouterr().out
    assert "first worker" in told
    assert "workers on day 730" in told
    assert "mature size" in told
    assert picture.stat().st_size > 10_000


def test_picture(courses):
    axes = courses.plot()
    assert [ax.get_title() for ax in axes] == list(REGIMES)
    line = axes[1].lines[0]
    workers = pd.Series(courses.workers["lasius-niger", REGIMES[1]])
    assert np.nanmax(line.get_ydata()) == workers.max()
    plt.close(axes[0].figure)
