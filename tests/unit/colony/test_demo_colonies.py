"""The demo colonies are what their generator makes, and what their READMEs say."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from antgrowth.datasets import make_demo_colonies as maker

import antgrowth as ag
from antgrowth import datasets

COLONIES = Path(datasets.__file__).parent / "colonies"
FOLDERS = sorted(path.name for path in COLONIES.iterdir() if path.is_dir())
COLONY_FOLDERS = sorted(
    path.parent.relative_to(COLONIES).as_posix() for path in COLONIES.rglob("colony.toml")
)


@pytest.fixture(scope="module")
def colonies() -> dict[str, ag.Colony]:
    return {name: ag.load_colony(COLONIES / name) for name in COLONY_FOLDERS}


@pytest.fixture(scope="module")
def made() -> dict[str, str]:
    return maker.generated()


def test_they_are_found_by_name():
    for name in FOLDERS:
        assert ag.demo_colony(name) == COLONIES / name


def test_an_unknown_name_is_told_the_nearest():
    with pytest.raises(ag.AntgrowthError) as caught:
        ag.demo_colony("garden-ant")
    said = str(caught.value)
    assert "no demo colony is called 'garden-ant'. Did you mean garden-ant-first-year?" in said
    assert f"Allowed: {', '.join(FOLDERS)}." in said
    with pytest.raises(ag.AntgrowthError, match="name = None. Give a text"):
        ag.demo_colony(None)


def test_generator_makes_the_same_bytes(made):
    remedy = "the growth model or the generator changed: python datasets/make_demo_colonies.py"
    for name, text in made.items():
        assert (COLONIES / name).read_bytes() == text.encode("utf-8"), f"{name}: {remedy}"


def test_every_table_is_generated(made):
    tables = {path.relative_to(COLONIES).as_posix() for path in COLONIES.rglob("*.csv")}
    assert tables == set(made)


def test_main_writes_what_is_generated(tmp_path, monkeypatch, capsys, made):
    for scenario in maker.SCENARIOS:
        (tmp_path / scenario.folder).mkdir(parents=True)
    monkeypatch.setattr(maker, "generated", lambda: made)
    monkeypatch.setattr(maker, "COLONIES", tmp_path)
    maker.main()
    printed = capsys.readouterr().out.splitlines()
    assert printed == [str(tmp_path / name) for name in made]
    for name, text in made.items():
        assert (tmp_path / name).read_bytes() == text.encode("utf-8")


def test_notes_are_those_of_the_colony():
    """The last row, counted by a keeper who errs in nothing, is within what the scenario wants."""
    from dataclasses import replace

    for scenario in maker.SCENARIOS:
        exact = maker.Keeper(
            9, 9, first=0, written=(1, 1, 1, 1), glance=0, between=0, seen=(1, 1, 1, 1), error=0
        )
        rng = np.random.default_rng(0)
        path = rng.integers(0, 40, (30, 4))
        rows = maker._notes(replace(scenario, keeper=exact), path, np.zeros(30, bool), rng)
        met = (path > 0).cumsum(axis=0) > 0
        for cells, numbers, known in zip(rows[1:], path[1:], met[1:], strict=True):
            assert cells[:4] == [str(n) if k else "" for n, k in zip(numbers, known, strict=True)]


@pytest.mark.parametrize("name", FOLDERS)
def test_readme_says_invented_and_names_every_column_and_file(name):
    text = (COLONIES / name / "README.md").read_text(encoding="utf-8")
    assert "(invented)" in text.splitlines()[0]
    assert "**Invented.**" in text
    assert "python datasets/make_demo_colonies.py" in text
    for path in (COLONIES / name).iterdir():
        assert path.name == "README.md" or f"`{path.name}`" in text
        if path.suffix == ".csv":
            with path.open(encoding="utf-8") as file:
                for column in next(csv.reader(file)):
                    assert f"`{column}`" in text


@pytest.mark.parametrize("scenario", maker.SCENARIOS, ids=lambda scenario: scenario.folder)
def test_thirty_workers_lie_ahead(colonies, scenario):
    colony = colonies[scenario.folder]
    assert colony.counts.end == pd.Timestamp(scenario.last)
    workers = colony.counts.frame.query("stage == 'workers'")
    assert (workers["low"] < 30).all()
    last = workers.iloc[-1]
    assert last["date"] == colony.counts.end
    fewest, most = scenario.workers
    assert last["low"] <= 1.3 * most and last["high"] >= fewest / 1.3  # miscounted by a third


@pytest.mark.parametrize("name", [name for name in COLONY_FOLDERS if "/" not in name])
def test_a_date_comes_of_it(colonies, name):
    ahead = colonies[name].fit(rng=1).forecast(days=150, draws=200, rng=1)
    arrival = ahead.arrival(workers=30)
    first, last = arrival.interval(0.9)
    assert ahead.start < first < arrival.median < last
    assert ahead.fit.converged


def test_garden_ant_has_a_logged_winter(colonies):
    colony = colonies["garden-ant-first-year"]
    days = (colony.counts.end - colony.queen_since).days + 1
    hours_c = colony.temperature.hours(colony.queen_since, days)
    resting = colony.temperature.resting(colony.queen_since, days)
    assert resting.sum() == 105
    winter_c = hours_c[resting].mean(axis=1)
    assert 8 <= np.median(winter_c) <= 10
    warm = hours_c[:30]
    assert (warm.max(axis=1) - warm.min(axis=1)).mean() > 4  # day and night
    assert hours_c.max() < colony.species.value("limits.founding_ceiling_c")
    assert any("interpolated" in finding for finding in colony.temperature.findings)
    kinds = set(colony.counts.frame["kind"])
    assert {"exact", "rough", "between", "first"} <= kinds
    assert len(colony.counts.notes) > 5


def test_carpenter_ant_has_no_winter_and_an_invented_profile(colonies):
    colony = colonies["warm-country-camponotus"]
    evidence = colony.species.evidence()
    assert (evidence["status"] == "assumed").all()
    assert (evidence["source"] == "assumption").all()
    assert not colony.species.rest.needed
    assert not colony.temperature.resting(colony.queen_since, 400).any()
    first = colony.counts.frame.query("kind == 'first'")
    assert set(first["stage"]) == {"eggs", "larvae", "pupae", "workers"}
    numbers = colony.counts.frame.query("stage != 'workers' and kind != 'first' and high > 0")
    assert len(numbers) <= 5


def test_garden_ant_was_fed_after_its_winter(colonies):
    feeds = colonies["garden-ant-first-year"].feeds
    frame = feeds.frame
    assert set(frame["need"]) == {"sugar", "protein"} and len(frame) > 30
    assert frame["date"].min() > pd.Timestamp("2026-02-28")
    assert frame["date"].max() < colonies["garden-ant-first-year"].counts.end
    assert 0 < frame["left_mg"].isna().mean() < 0.25  # not always weighed
    assert frame["eaten_mg"].min() <= 2 * maker.WEIGHED_MG  # little, beside what her scale errs
    assert colonies["warm-country-camponotus"].feeds is None


def test_feeds_take_no_chance_from_the_notes(made):
    from dataclasses import replace

    unfed = tuple(replace(scenario, dishes=()) for scenario in maker.SCENARIOS)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(maker, "SCENARIOS", unfed)
        others = maker.generated()
    assert set(made) - set(others) == {"garden-ant-first-year/feeds.csv"}
    assert all(made[name] == text for name, text in others.items())
