"""A folder may come from anyone: it runs no code unasked, and its words are shown as words."""

from __future__ import annotations

import html
import os
import signal
import subprocess
import sys
import time
import tomllib
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import icalendar
import nbformat
import pytest
from new_folders import made

import antgrowth as ag
from antgrowth.cli import main
from antgrowth.colony.cells import as_notebook, is_usual, shown, usual_cells
from antgrowth.colony.notebook import page_of
from antgrowth.colony.report import write_report
from antgrowth.errors import AntgrowthError

WORDS = (
    "<script>alert(1)</script>", "=cmd|' /C calc'!A0", "two\nlines", "\u202eturned\u202c",
    "BEGIN:VEVENT\r\nEND:VCALENDAR", '"><img src=x onerror=alert(1)>', "$x$ & `y` \\",
)  # fmt: skip
NAME = " ".join(WORDS)


def toml(text: str) -> str:
    return '"' + "".join(f"\\u{ord(c):04x}" if c in '"\\' or not c.isprintable() else c
                         for c in text) + '"'  # fmt: skip


def leave_a_mark(folder: Path) -> str:
    return f"open({str(folder / 'ran')!r}, 'w').close()"


class Elements(HTMLParser):
    """What a page is made of: its elements, their attributes, and the text between them."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.names: set[str] = set()
        self.sources: list[str] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.names |= {name for name, _ in attrs}
        self.sources += [value for name, value in attrs if name in ("src", "href")]

    def handle_data(self, data):
        self.text += data


@pytest.fixture(scope="module")
def foreign(tmp_path_factory) -> Path:
    """A folder that tries everything: a notebook, modules of known names, words that are code."""
    folder = made(tmp_path_factory.mktemp("foreign") / "ants", plans="")
    settings = folder / "colony.toml"
    text = settings.read_text(encoding="utf-8").replace('name = "ants"', f"name = {toml(NAME)}")
    assert tomllib.loads(text)["name"] == NAME
    settings.write_text(text, encoding="utf-8")
    counts = folder / "counts.csv"
    note = '"' + NAME.replace('"', '""').replace("\n", " ").replace("\r", " ") + '"'
    counts.write_text(counts.read_text(encoding="utf-8") + f"2026-10-09,,,,,{note}\n",
                      encoding="utf-8", newline="")  # fmt: skip
    mark = leave_a_mark(folder)
    for module in ("numpy", "pandas", "antgrowth", "matplotlib", "sitecustomize", "ipython_config"):
        (folder / f"{module}.py").write_text(f"{mark}\n", encoding="utf-8")
    (folder / "matplotlibrc").write_text("text.usetex: True\n", encoding="utf-8")
    code = nbformat.v4.new_code_cell(f"{mark}\nprint('I was run')")
    nbformat.write(nbformat.v4.new_notebook(cells=[code]), folder / "colony.ipynb")
    return folder


@pytest.fixture(scope="module")
def page(foreign) -> str:
    found = write_report(foreign)
    assert found.notebook_left and found.calendar is not None
    return found.page.read_text(encoding="utf-8")


class TestNotebook:
    def test_no_code_of_the_folder_is_run(self, foreign, page):
        assert not (foreign / "ran").exists()
        assert "I was run" not in page
        assert "made from the data of the folder alone" in page
        assert 'data-of="arrival"' in page and "<img" in page  # it is a whole page all the same

    def test_the_command_says_it(self, tmp_path, capsys):
        folder = made(tmp_path / "ants")
        book = folder / "colony.ipynb"
        changed = book.read_text(encoding="utf-8").replace("DAYS = 300", "DAYS = 30")
        book.write_text(changed, encoding="utf-8")
        capsys.readouterr()
        assert main(["report", str(folder)]) == 0
        assert (
            f"not run: colony.ipynb, which was changed or written by something else; the page is "
            f"made from the data alone. To run it: antgrowth report {folder} --run-notebook\n"
        ) in capsys.readouterr().out

    def test_it_is_run_if_asked_for(self, tmp_path):
        folder = made(tmp_path / "ants")
        code = nbformat.v4.new_code_cell(f"{leave_a_mark(folder)}\nprint('I was run')")
        nbformat.write(nbformat.v4.new_notebook(cells=[code]), folder / "colony.ipynb")
        found = write_report(folder, run_notebook=True)
        assert (folder / "ran").exists() and not found.notebook_left
        assert "I was run" in found.page.read_text(encoding="utf-8")

    def test_the_usual_one_is_known(self, tmp_path):
        ant, path = ag.load_species("lasius-niger"), tmp_path / "colony.ipynb"
        path.write_text(as_notebook(ant), encoding="utf-8")
        book = nbformat.read(path, as_version=4)
        assert is_usual(path, ant)
        assert not is_usual(path, ag.load_species("solenopsis-invicta"))
        book.cells[0]["outputs"] = []
        book.cells[1].outputs = [nbformat.v4.new_output("stream", text="seen")]
        path.write_text(nbformat.writes(book), encoding="utf-8")
        assert is_usual(path, ant)  # run in Jupyter, it is the same program
        for change in (
            lambda cells: cells[1].update(source=cells[1].source + "\n1"),
            lambda cells: cells.append(nbformat.v4.new_code_cell("1")),
            lambda cells: cells.pop(),
            lambda cells: cells[0].update(cell_type="code", outputs=[], execution_count=None),
        ):
            other = nbformat.reads(as_notebook(ant), as_version=4)
            change(other.cells)
            path.write_text(nbformat.writes(other), encoding="utf-8")
            assert not is_usual(path, ant)
        for odd in (
            b"\xff",
            b"[" * 100_000,
            b"[]",
            b'{"cells": [1]}',
            b'{"cells": [{"source": 1}]}',
        ):
            path.write_bytes(odd)
            assert not is_usual(path, ant)

    def test_a_caution_of_a_profile_is_no_html(self):
        ant = ag.load_species("solenopsis-invicta")
        assert ant.research_only
        words = "Law: <script>alert(1)</script> ![x](http://example.org/x.png) $x$ `y`"
        odd = replace(ant, cautions=(words,))
        as_run = page_of(nbformat.reads(as_notebook(odd), as_version=4))
        assert "<script>" not in as_run and "<img" not in as_run
        assert html.escape("<script>alert(1)</script>") in as_run
        told = shown(usual_cells(odd)[:1])
        assert told.count("<") == 6  # a part, a heading and a paragraph
        assert html.escape(words) in told


class TestWords:
    def test_on_the_page(self, page):
        read = Elements(page)
        assert "script" not in read.tags and not any(name.startswith("on") for name in read.names)
        assert all(source.startswith("data:") for source in read.sources)
        assert read.text.count(WORDS[0]) >= 2 and WORDS[1] in read.text and WORDS[5] in read.text
        # A mark that turns the direction of writing ends with the element it stands in.
        assert "[data-of] { unicode-bidi: isolate; }" in page

    def test_in_the_calendar(self, foreign, page):
        raw = (foreign / "care.ics").read_bytes()
        calendar = icalendar.Calendar.from_ical(raw)
        assert raw.count(b"BEGIN:VCALENDAR") == 1
        lines = raw.replace(b"\r\n ", b"").split(b"\r\n")
        assert lines.count(b"BEGIN:VEVENT") == len(calendar.walk("VEVENT")) > 3
        assert "<script>alert(1)</script>" in str(calendar["x-wr-calname"])

    def test_in_tables(self, foreign, tmp_path, page):
        out = tmp_path / "out"
        assert main(["forecast", str(foreign), "--draws", "20", "--days", "20",
                     "--out", str(out)]) == 0  # fmt: skip
        for name in ("forecast.csv", "arrival.csv"):
            text = (out / name).read_text(encoding="utf-8")
            # Numbers, dates and names of stages: no cell that a spreadsheet could run.
            assert not any(
                cell[:1] in "=@+\t" for cell in text.replace("\n", ",").split(",") if cell
            )
            assert "cmd" not in text

    def test_a_log_gives_notes_back_as_they_were(self, foreign):
        note = ag.load_colony(foreign).counts.to_frame()["note"].iloc[-1]
        assert "=cmd|' /C calc'!A0" in note and "\u202e" in note

    def test_a_folder_of_an_odd_name(self, tmp_path):
        folder = tmp_path / 'two\nlines "and" \\ more'
        assert main(["new", str(folder), "--species", "lasius-niger"]) == 0
        assert ag.load_colony(folder).name == folder.name


class TestNothingIsOverwritten:
    @pytest.mark.parametrize("name", ["forecast.png", "forecast.csv", "arrival.csv"])
    def test_of_a_forecast(self, tmp_path, capsys, name):
        folder, out = made(tmp_path / "ants"), tmp_path / "out"
        out.mkdir()
        (out / name).write_text("my own", encoding="utf-8")
        asked = ["forecast", str(folder), "--draws", "20", "--days", "20", "--out", str(out)]
        assert main(asked) == 1
        assert f"{name}: there is a file of that name which antgrowth did not write" in (
            capsys.readouterr().err
        )
        assert [path.name for path in out.iterdir()] == [name]
        assert (out / name).read_text(encoding="utf-8") == "my own"
        (out / name).unlink()
        assert main(asked) == main(asked) == 0  # an earlier forecast is replaced

    def test_of_a_page(self, tmp_path, capsys):
        folder = made(tmp_path / "ants")
        (folder / "report.html").write_text("my own", encoding="utf-8")
        assert main(["report", str(folder)]) == 1
        assert "report.html: there is a file of that name" in capsys.readouterr().err
        assert not (folder / "care.ics").exists()

    def test_of_a_folder_in_use(self, tmp_path):
        (tmp_path / "feeds.csv").write_text("my own", encoding="utf-8")
        assert main(["new", str(tmp_path), "--species", "lasius-niger"]) == 1
        assert [path.name for path in tmp_path.iterdir()] == ["feeds.csv"]

    def test_of_a_profile(self, tmp_path):
        fit = ag.profile_from_table
        with pytest.raises(AntgrowthError):
            fit(tmp_path / "none.csv", name="x", scientific_name="x")


def children_of(pid: int) -> set[int]:
    """Processes below one, by the table of the system."""
    table = subprocess.run(["ps", "-eo", "pid=,ppid="], capture_output=True, text=True, check=True)
    pairs = [tuple(map(int, line.split())) for line in table.stdout.splitlines()]
    found, more = set(), {pid}
    while more:
        more = {child for child, parent in pairs if parent in more} - found
        found |= more
    return found


def running(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().split()[2] != "Z"
    except OSError:
        return False


class TestStopped:
    """Ctrl-C, by the signal that a terminal sends."""

    @pytest.fixture
    def folder(self, tmp_path) -> Path:
        return made(tmp_path / "ants")

    def started(self, *arguments: str) -> subprocess.Popen:
        code = "import antgrowth.__main__ as c, sys; print('up', flush=True); sys.exit(c.main())"
        command = subprocess.Popen(
            [sys.executable, "-c", code, *arguments], stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True, start_new_session=True, env=os.environ,
        )  # fmt: skip
        assert command.stdout is not None and command.stdout.readline() == "up\n"
        return command

    def stopped(self, command: subprocess.Popen) -> None:
        os.killpg(command.pid, signal.SIGINT)
        _, errors = command.communicate(timeout=60)
        assert command.returncode == 130
        assert errors == "\nantgrowth: stopped; files are as they were or whole\n"

    @pytest.mark.parametrize("after", [0.0, 0.02, 0.05, 0.2, 0.5, 1.5])
    def test_a_forecast(self, folder, after):
        before = sorted(folder.iterdir())
        command = self.started("forecast", str(folder), "--draws", "20000", "--days", "200")
        time.sleep(after)
        self.stopped(command)
        assert sorted(folder.iterdir()) == before

    def test_little_is_loaded_before_it_is_told(self):
        code = "import sys; import antgrowth.__main__; print(*sys.modules)"
        home = os.environ | {"PYTHONPATH": str(Path(ag.__file__).parents[1])}
        told = subprocess.run(
            [sys.executable, "-S", "-c", code], capture_output=True, text=True, check=True, env=home
        )
        loaded = set(told.stdout.split())
        assert "antgrowth.__main__" in loaded
        assert not loaded & {"typing", "pathlib", "argparse", "tempfile", "antgrowth.cli"}

    @pytest.mark.parametrize("after", [0.3, 2.0])
    def test_a_report(self, folder, after):
        before = sorted(folder.iterdir())
        command = self.started("report", str(folder))
        time.sleep(after)
        self.stopped(command)
        assert [path for path in sorted(folder.iterdir()) if path.name != "care.ics"] == before

    def test_a_report_while_its_notebook_runs(self, folder):
        before = sorted(folder.iterdir())
        command = self.started("report", str(folder), "--run-notebook")
        until = time.monotonic() + 60
        while not (below := children_of(command.pid)) and time.monotonic() < until:
            time.sleep(0.05)
        assert below
        time.sleep(1.0)
        below |= children_of(command.pid)
        self.stopped(command)
        until = time.monotonic() + 20
        while any(map(running, below)) and time.monotonic() < until:
            time.sleep(0.1)
        assert not any(map(running, below))  # the notebook's own process as well
        assert [path for path in sorted(folder.iterdir()) if path.name != "care.ics"] == before
