"""Three keepers, from `antgrowth new` to `antgrowth report`: what the page tells each of them."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pandas as pd
import pytest
from three_keepers import bought_weavers, lone_queen, second_year

from antgrowth.cli import main


@pytest.fixture(scope="module")
def home(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("keepers")


def told(folder: Path, capsys) -> str:
    """What the page says, as one reads it."""
    assert main(["check", str(folder)]) == 0 and main(["report", str(folder)]) == 0
    captured = capsys.readouterr()
    assert "Traceback" not in captured.err and (folder / "care.ics").is_file()
    page = (folder / "report.html").read_text(encoding="utf-8")
    text = re.sub(r"<style>.*?</style>|<[^>]+>", " ", page, flags=re.DOTALL)
    text = " ".join(unescape(text).split())
    assert not re.search(r"\b(nan|NaT|None|inf)\b|\d e-\d", text)
    assert not re.search(r"(\b\w+ \w+ \w+\b) \1", text), "nothing is said twice in a row"
    return text


def test_a_lone_queen_of_whom_only_first_sightings_are_known(home, capsys):
    text = told(lone_queen(home), capsys)
    for said in ("on track", "first workers seen", "First worker: passed by 2026-08-30",
                 "Prey starts with the first worker: reached by 2026-08-30", "Law:",
                 "Nothing stands out", "8 counts on 5 dates"):  # fmt: skip
        assert said in text


def test_weaver_ants_bought_with_fifteen_workers(home, capsys):
    text = told(bought_weavers(home), capsys)
    for said in (
        "26 workers on 12 September 2026",
        "Temperature to come: constant 24.0 °C",
        "The mass of a worker is not known",
        "Out of the founding tube: passed",
    ):
        assert said in text
    assert "rest season" not in text.partition("Model notes")[0], "they need none"


def test_a_second_year_with_winter_adopted_pupae_and_losses(home, capsys):
    text = told(second_year(home), capsys)
    for said in ("41 workers on 18 July 2026", "40 counts on 14 dates", "rest from 2026-10-15",
                 "Nothing stands out up to 2026-07-18"):  # fmt: skip
        assert said in text
    # The page looks so far ahead that the second of the two times is not cut off as it begins.
    dates = re.search(r"100 workers ?: before the rest .*? else (\S+) to (?:beyond )?(\S+)", text)
    first, last = map(pd.Timestamp, dates.groups())
    assert last - first > pd.Timedelta(days=60)
