"""Damaged logs: no row that holds counts vanishes, whatever became of quotes, dates and signs."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, strategies as st
from odd import inputs, told_or_fine

import antgrowth as ag
from antgrowth.errors import AntgrowthError, LogError

COLUMNS = ("date", "eggs", "larvae", "note")
NOTES = st.sampled_from(
    ["", "fed", 'spilled a little; "x', "# of eggs", "#1", "red, light", "a\nb", "####", '"',
     'it is 5" wide', "24 °C; warm\t"]
)  # fmt: skip
DATES = st.tuples(st.integers(1, 9), st.integers(10, 28)).map(lambda d: f"2026-0{d[0]}-{d[1]}")
LOST_DATES = st.sampled_from(["####", "#", "#REF!", "#######", "#N/A", ""])


@st.composite
def damaged(draw) -> tuple[str, list[str]]:
    """A log as a hand or a spreadsheet left it, and the numbers that were counted, each unlike."""
    separator = draw(st.sampled_from(",;\t"))
    columns = draw(st.permutations(COLUMNS))
    lines, numbers = [separator.join(columns)], []
    for row in range(draw(st.integers(1, 6))):
        eggs, larvae = 1000 + 10 * row, 5000 + 10 * row
        cells = {
            "date": draw(DATES),
            "eggs": draw(st.sampled_from(["", f"{eggs}", f"~{eggs}", f"{eggs}+"])),
            "larvae": draw(st.sampled_from(["", f"{larvae}"])),
            "note": draw(NOTES),
        }
        lost = draw(st.integers(0, 7)) == 0
        cells["date"] = draw(LOST_DATES) if lost else cells["date"]
        numbers += [
            str(n) for n, text in ((eggs, cells["eggs"]), (larvae, cells["larvae"])) if text
        ]
        lines.append(separator.join(quoted(draw, cells[name], separator) for name in columns))
    at = draw(st.integers(0, len(lines) - 1))
    if at and draw(st.booleans()):
        where = draw(st.integers(0, len(lines[at])))
        stray = draw(st.sampled_from(['"', '""', "\n", separator, '"#']))
        lines[at] = lines[at][:where] + stray + lines[at][where:]
    return "\n".join(lines) + "\n", numbers


def quoted(draw, text: str, separator: str) -> str:
    """A cell in the quotes that it needs, or not quite."""
    how = draw(st.integers(0, 19))
    plain = not any(mark in text for mark in (separator, "\n", '"'))
    if plain and how < 14:
        return text
    whole = '"' + text.replace('"', '""') + '"'
    return whole if how < 18 else ('"' + text if how == 18 else text + '"')


@pytest.fixture(scope="module")
def path(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("rows") / "counts.csv"


@inputs(150, 25000)
@given(damaged())
def test_every_number_is_read_or_told(path, log):
    text, numbers = log
    path.write_bytes(text.encode())
    with told_or_fine():
        found = ag.read_counts(path, today="2027-01-01")
        digits = "".join(found.frame["text"])
        # A separator that strayed into a number leaves its digits in two cells.
        assert all(n in digits or _apart(n, text) for n in numbers)


def _apart(number: str, text: str) -> bool:
    return number not in text


def faults(path: Path, text: str) -> str:
    path.write_text(text, encoding="utf-8")
    with pytest.raises(LogError) as caught:
        ag.read_counts(path, today="2027-01-01")
    return str(caught.value)


class TestFound:
    """Files of which a row was once left out without a word."""

    def test_a_date_that_a_spreadsheet_lost_behind_a_quote(self, path):
        text = 'date,eggs,note\n2026-06-01,3,"warm\n####,4,"\n'
        assert "runs on into a line that looks like a row of its own" in faults(path, text)

    @pytest.mark.parametrize("lost", ["####", "#REF!", "#", "#N/A", "#ÜBERLAUF!"])
    def test_a_date_that_a_spreadsheet_lost(self, path, lost):
        told = faults(path, f"date,eggs\n2026-06-01,3\n{lost},4\n")
        assert told.startswith(f"counts.csv, row 3: date = {lost}. Not a date")

    def test_a_part_of_a_date_that_was_lost(self, path):
        told = faults(path, "date,eggs\n####3-18,1018\n2026-06-01,3\n")
        assert "row 2: it begins with #, as a comment does, but has cells" in told

    def test_a_comment_sign_in_a_quoted_cell(self, path):
        path.write_text('note,date,eggs\n"# old tube",2026-06-01,3\n', encoding="utf-8")
        log = ag.read_counts(path)
        assert list(log.frame["low"]) == [3.0] and list(log.notes["note"]) == ["# old tube"]

    def test_a_comment_sign_without_quotes(self, path):
        assert "begins with #" in faults(path, "note,date,eggs\n#1,2026-06-01,3\n,2026-06-02,4\n")

    def test_a_quote_that_opens_a_comment_sign(self, path):
        text = 'date;eggs\n"#2026-06-01;5\n"2026-06-02";6\n'
        assert "row 2: " in faults(path, text)

    def test_a_quote_that_closes_too_late(self, path):
        text = 'eggs,date,note,larvae\n4,2026-06-01,"#1,5000"\n'
        assert "holds what looks like cells of its own" in faults(path, text)

    def test_comments_stay_comments(self, path):
        rows = '# date,eggs: what I counted, 12 times\n# 2026-06-02,4\n"# a, b, c"\n'
        path.write_text(f"{rows}date,eggs\n{rows}2026-06-01,3\n", encoding="utf-8")
        assert len(ag.read_counts(path).frame) == 1

    @pytest.mark.parametrize("cell", ["0-9999999", "9999999", "1000001+", ">1000000", "9" * 400])
    def test_more_ants_than_a_colony_holds(self, path, cell):
        told = faults(path, f"date,eggs\n2026-06-01,{cell}\n")
        assert "Allowed: up to 1,000,000, more than a kept colony holds." in told

    def test_as_many_as_a_colony_may_hold(self, path):
        path.write_text("date,eggs\n2026-06-01,0-1000000\n", encoding="utf-8")
        assert ag.read_counts(path).frame["high"].item() == 1e6


NEEDED = {
    ag.read_counts: ("date", {"date": ["2026-06-01"], "eggs": ["5"]}),
    ag.read_changes: ("date stage change", {"date": ["2026-06-01"], "stage": ["eggs"],
                                            "change": ["+5"], "reason": ["given"]}),
    ag.read_feeds: ("date food offered_mg left_mg control_loss_mg",
                    {"date": ["2026-06-01"], "food": ["mealworm"], "offered_mg": ["50"],
                     "left_mg": ["3"], "control_loss_mg": ["1"]}),
    ag.read_temperature: ("time temperature_c", {
        "time": ["2026-06-01 08:00", "2026-06-01 14:00"], "temperature_c": ["24", "25"]}),
}  # fmt: skip


@pytest.mark.parametrize("how", ["removed", "nameless", "renamed", "a number", "header lost"])
@pytest.mark.parametrize("read", NEEDED, ids=lambda read: read.__name__)
def test_a_column_that_must_be_there(path, read, how):
    needed, cells = NEEDED[read]
    for column in needed.split():
        table = pd.DataFrame(cells)
        name = {"nameless": "", "renamed": "other", "a number": "1"}.get(how, column)
        table = table.drop(columns=column) if how == "removed" else table
        text = table.rename(columns={column: name}).to_csv(index=False)
        path.write_text(text.partition("\n")[2] if how == "header lost" else text, encoding="utf-8")
        with pytest.raises(AntgrowthError, match=r"column|there is nothing|no row"):
            read(path)
