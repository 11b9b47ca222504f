"""The README keeps its word: its code runs, its sentence is what comes out, its files read."""

from __future__ import annotations

import io
import re
import shutil
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.colony.settings import read_settings

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")

LEEWAY = pd.Timedelta("2D")
"""Another build of numpy may draw a date a little differently; a changed model moves it more."""


def blocks(language: str) -> list[str]:
    """Texts of the README's code blocks in a language; "" for those without."""
    fenced = re.findall(r"^```(\w*)\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)
    return [text for kind, text in fenced if kind == language]


def dates(sentence: str) -> list[pd.Timestamp]:
    found = [pd.Timestamp(text) for text in re.findall(r"\d{4}-\d\d-\d\d", sentence)]
    assert len(found) == 3, sentence
    return found


def same(sentence: str, other: str) -> bool:
    near = zip(dates(sentence), dates(other), strict=True)
    return all(abs(one - another) <= LEEWAY for one, another in near)


@pytest.fixture(scope="module")
def run(tmp_path_factory) -> tuple[dict[str, Any], str]:
    """Names and output of the README's Python, run beside a copy of the demo colony's files."""
    folder = tmp_path_factory.mktemp("keeper") / "colony"
    shutil.copytree(ag.demo_colony("garden-ant-first-year"), folder)
    (code,) = blocks("python")
    names: dict[str, Any] = {}
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(io.StringIO()) as out:
        patch.chdir(folder)
        exec(compile(code, "README.md", "exec"), names)
    return names, out.getvalue()


def test_the_sentence_is_what_comes_out(run):
    now = run[0]["ahead"].arrival(workers=30).sentence()
    assert f"{now}\n" in run[1]
    (told,) = [text for text in blocks("") if text.startswith("30 workers: ")]
    assert same(told, now), f"README.md should say: {now}."


def test_the_picture_shows_the_same(run):
    from antgrowth.datasets.make_pictures import PICTURES, draw_year
    from matplotlib.figure import Figure
    from PIL import Image

    ahead, path = run[0]["ahead"], PICTURES / "forecast.png"
    remedy = "the picture is old: python datasets/make_pictures.py"
    assert f"({path.relative_to(ROOT).as_posix()})" in README
    with Image.open(path) as picture:
        assert same(picture.text["Title"], ahead.arrival(workers=30).sentence()), remedy
    ax = Figure().subplots()
    draw_year(ahead, ax)
    assert "probably there (90%)" in ax.get_legend_handles_labels()[1]
    assert {"winter rest", "30 workers"} <= {text.get_text() for text in ax.texts}
    left, right = ax.get_xlim()
    shown = np.array([run[0]["fit"].queen_since, ahead.start], "datetime64[D]").astype(float)
    assert left == shown[0] and right > shown[1]


def test_it_shows_every_picture_that_is_made_and_no_other():
    from antgrowth.datasets.make_pictures import DRAWN, PICTURES

    shown = re.findall(r"!\[[^\]]+\]\(datasets/pictures/(\w+)\.png\)", README)
    assert sorted(shown) == sorted(DRAWN) == sorted(path.stem for path in PICTURES.glob("*.png"))
    assert shown[0] == "forecast"
    assert all((PICTURES / f"{name}.png").stat().st_size < 80_000 for name in shown)


def test_the_command_forecasts_the_same_colony(run):
    """The dates of the Python are those of the command: same files, days, draws and seeds."""
    from antgrowth.cli import _parser

    (command,) = [text for text in blocks("") if "antgrowth forecast" in text]
    words = command.split("bin/antgrowth ")[1].split()
    asked = _parser().parse_args(words)
    colony = ag.load_colony(ROOT / asked.folder)
    ahead = run[0]["ahead"]
    assert (asked.workers, asked.days, asked.draws) == (30, None, ahead.draws)
    far = ahead.fit.forecast(workers=30, draws=2, rng=1)  # as the command looks
    assert far.days == ahead.days
    assert asked.seed == ahead.seed == ahead.fit.seed
    first, days = ahead.fit.queen_since, ahead.fit.days
    assert colony.queen_since == first
    pd.testing.assert_frame_equal(colony.counts.frame, ahead.fit.counts.frame)
    for hours in ("hours", "resting"):
        mine, theirs = (getattr(t, hours) for t in (ahead.fit.temperature, colony.temperature))
        assert (mine(first, days) == theirs(first, days)).all()


def test_the_counts_shown_can_be_read(tmp_path):
    (text,) = [text for text in blocks("") if text.startswith("date,")]
    (tmp_path / "counts.csv").write_text(text, encoding="utf-8")
    log = ag.read_counts(tmp_path / "counts.csv", today="2026-12-01")
    assert set(log.frame["kind"]) == {"exact", "rough", "between", "at least", "below", "first"}
    below = log.frame[log.frame["kind"] == "below"]
    assert list(below["high"]) == [4]


def test_the_settings_shown_can_be_read(tmp_path):
    (text,) = blocks("toml")
    (tmp_path / "colony.toml").write_text(text, encoding="utf-8")
    assert not read_settings(tmp_path).faults


def test_profiles_are_as_thin_as_it_says():
    table = ag.list_species()
    shares = table["assumed"] / table["numbers"]
    assert "From a third to nearly all of the numbers in a profile are assumed" in README
    assert shares.between(1 / 3, 0.98).all(), shares


def test_it_names_every_notebook_and_every_link_leads_somewhere():
    notebooks = {f"notebooks/{path.name}" for path in (ROOT / "notebooks").glob("*.ipynb")}
    links = set(re.findall(r"\]\(([^)]+)\)", README))
    assert notebooks <= links
    assert all((ROOT / link).is_file() for link in links)
