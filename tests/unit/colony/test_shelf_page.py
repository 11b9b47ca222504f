"""One page for a folder of colonies."""

from __future__ import annotations

import re
import shutil
from html import unescape

import pytest

import antgrowth as ag
from antgrowth.cli import main
from antgrowth.colony.shelf_page import write_shelf_report


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    home = tmp_path_factory.mktemp("keeper") / "shelf"
    for tube in ("tube-1", "tube-4"):
        shutil.copytree(ag.demo_colony("breeders-shelf") / tube, home / tube)
    broken = home / "tube-9"
    shutil.copytree(home / "tube-1", broken)
    (broken / "counts.csv").write_text("date,workers\nyesterday,3\n", encoding="utf-8")
    return home


def test_the_command_writes_one_page_for_all(shelf, capsys):
    assert main(["report", str(shelf), "--days", "120"]) == 0
    page = shelf / "report.html"
    assert f"written: {page}" in capsys.readouterr().out
    text = unescape(re.sub(r"<[^>]+>", " ", page.read_text(encoding="utf-8")))
    for told in ("tube-1", "tube-4", "tube-9", "not fitted", "yesterday", "1 could not be fitted",
                 "last note 39 days before the others'", "if the queens live"):  # fmt: skip
        assert told in text
    assert '<img alt="When each colony holds 30 workers' in page.read_text(encoding="utf-8")
    assert not list(shelf.glob("tube-*/report.html"))


def test_a_page_of_somebody_else_is_not_replaced(shelf):
    page = shelf / "report.html"
    page.write_text("<p>mine</p>", encoding="utf-8")
    with pytest.raises(ag.AntgrowthError):
        write_shelf_report(shelf)
    assert page.read_text(encoding="utf-8") == "<p>mine</p>"
    page.unlink()


def test_none_that_can_be_fitted_is_told(tmp_path, shelf):
    shutil.copytree(shelf / "tube-9", tmp_path / "tube-9")
    with pytest.raises(ag.AntgrowthError, match="none of its colonies can be fitted"):
        write_shelf_report(tmp_path)
    with pytest.raises(ag.AntgrowthError, match="there is no colony"):
        write_shelf_report(tmp_path / "tube-9")
