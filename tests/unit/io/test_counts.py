"""Count logs: every cell form, every fault with its message, every kind of file."""

from __future__ import annotations

import builtins
import datetime
import re
import subprocess
import sys

import numpy as np
import openpyxl
import pandas as pd
import pytest

from antgrowth.errors import LogError
from antgrowth.io.counts import CountLog, read_counts

TODAY = "2026-11-25"
INF = float("inf")


def read(table: dict | pd.DataFrame, **options) -> CountLog:
    return read_counts(pd.DataFrame(table), today=TODAY, **options)


def read_text(tmp_path, text: str, *, encoding: str = "utf-8", **options) -> CountLog:
    path = tmp_path / "colony_a.csv"
    path.write_bytes(text.encode(encoding))
    return read_counts(path, today=TODAY, **options)


def faults_of(tmp_path, text: str) -> list[str]:
    with pytest.raises(LogError) as caught:
        read_text(tmp_path, text)
    return str(caught.value).split("\n")


def one_cell(text: object) -> pd.Series:
    log = read({"date": ["2026-04-01", "2026-04-02"], "workers": ["0", text]})
    return log.frame.iloc[1]


def cell_fault(text: object) -> str:
    with pytest.raises(LogError) as caught:
        one_cell(text)
    return str(caught.value)


# --- cells ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "low", "high", "kind"),
    [
        ("12", 12, 12, "exact"),
        ("12.0", 12, 12, "exact"),
        ("12,0", 12, 12, "exact"),
        ("12,00", 12, 12, "exact"),
        ("12.000000", 12, 12, "exact"),
        ("  7 ", 7, 7, "exact"),
        ("0", 0, 0, "exact"),
        ("~12", 12, 12, "rough"),
        ("~ 12,0", 12, 12, "rough"),
        ("10-15", 10, 15, "between"),
        ("10 - 15", 10, 15, "between"),
        ("10–15", 10, 15, "between"),
        ("10,0-15,0", 10, 15, "between"),
        ("10-10", 10, 10, "between"),
        ("30+", 30, INF, "at least"),
        ("30 +", 30, INF, "at least"),
        (">=30", 30, INF, "at least"),
        (">= 30", 30, INF, "at least"),
        ("≥30", 30, INF, "at least"),
        (">30", 31, INF, "at least"),
        ("<5", 0, 4, "below"),
        ("<=5", 0, 5, "below"),
        ("≤ 5", 0, 5, "below"),
        ("<1", 0, 0, "below"),
        ("first", 1, INF, "first"),
        ("First", 1, INF, "first"),
    ],
)
def test_each_cell_form(text, low, high, kind):
    cell = one_cell(text)
    assert (cell["low"], cell["high"], cell["kind"]) == (low, high, kind)
    assert cell["text"] == text.strip()


@pytest.mark.parametrize(
    ("value", "text"),
    [(12, "12"), (12.0, "12"), (np.int64(12), "12"), (np.float32(12), "12.0"), (1e6, "1000000")],
)
def test_numbers_in_a_frame_are_cells_too(value, text):
    cell = one_cell(value)
    assert cell["kind"] == "exact"
    assert cell["low"] == float(value)
    assert cell["text"] == text


@pytest.mark.parametrize("empty", ["", "  ", "nan", "NaN", None, float("nan"), pd.NA, pd.NaT])
def test_an_empty_cell_is_not_a_count(empty):
    log = read({"date": ["2026-04-01"], "eggs": ["3"], "workers": [empty]})
    assert list(log.frame["stage"]) == ["eggs"]


WHOLE = "Counts are whole numbers >= 0; leave the cell empty if you did not count."
FORMS = (
    "Write 12, ~12 (rough), 10-15, 30+ or >=30, <5 or first; "
    "leave the cell empty if you did not count."
)
SPREADSHEET_DATE = "This is a date, which spreadsheets make of a range such as 10-15"


@pytest.mark.parametrize(
    ("text", "found", "remedy"),
    [
        ("-3", "-3", WHOLE),
        (-3, "-3", WHOLE),
        ("12.5", "12.5", WHOLE),
        ("12,5", "12,5", WHOLE),
        (12.5, "12.5", WHOLE),
        (".5", ".5", WHOLE),
        ("~12.5", "~12.5", WHOLE),
        ("10.5-15", "10.5-15", WHOLE),
        ("<0", "<0", WHOLE),
        ("+3", "+3", WHOLE),
        ("123456789", "123456789", "Allowed: up to 1,000,000, more than a kept colony holds."),
        ("12.000", "12.000", "It can be read two ways; write 12 or 12000."),
        ("1,000", "1,000", "It can be read two ways; write 1 or 1000."),
        ("15-10", "15-10", "The range is upside down; write 10-15 if you meant that."),
        ("2026-10-15", "2026-10-15", SPREADSHEET_DATE),
        (pd.Timestamp("2026-10-15"), "2026-10-15", SPREADSHEET_DATE),
        ("15-Oct", "15-Oct", SPREADSHEET_DATE),
        ("15. Okt", "15. Okt", SPREADSHEET_DATE),
        ("Oct 15", "Oct 15", SPREADSHEET_DATE),
        ("abc", "abc", FORMS),
        ("12 or so", "12 or so", FORMS),
        ("?", "?", FORMS),
        ("-", "-", FORMS),
        ("10-", "10-", FORMS),
        ("10-15-20", "10-15-20", FORMS),
        ("~", "~", FORMS),
        (">", ">", FORMS),
        ("first 3", "first 3", FORMS),
        (True, "True", FORMS),
        (float("inf"), "inf", FORMS),
        ("a\nb" + "c" * 60, "a b" + "c" * 34 + "...", FORMS),
    ],
)
def test_each_bad_cell(text, found, remedy):
    message = cell_fault(text)
    assert message.startswith(f"counts, row 3 (2026-04-02): workers = {found}. {remedy}")
    assert "\n" not in message


# --- first sightings -----------------------------------------------------------------------


def test_a_first_sighting_knows_the_last_look():
    log = read(
        {
            "date": ["2026-07-04", "2026-07-10", "2026-07-13", "2026-07-20"],
            "eggs": ["first", None, "4", None],
            "larvae": [None, "<5", None, "first"],
            "note": [None, None, "moved", None],
        }
    )
    firsts = log.frame[log.frame["kind"] == "first"].set_index("stage")
    assert pd.isna(firsts.loc["eggs", "last_look"])
    assert firsts.loc["larvae", "last_look"] == pd.Timestamp("2026-07-13")
    assert log.frame.loc[log.frame["kind"] != "first", "last_look"].isna().all()


@pytest.mark.parametrize("earlier", ["first", "3", "~3", "1-4", "1+", ">0"])
def test_first_after_the_stage_was_seen(earlier):
    with pytest.raises(LogError) as caught:
        read({"date": ["2026-04-05", "2026-04-02"], "larvae": ["first", earlier]})
    assert str(caught.value) == (
        f"counts, row 2 (2026-04-05): larvae = first, but row 3 (2026-04-02) has "
        f"larvae = {earlier}. Write the count, or leave the cell empty."
    )


@pytest.mark.parametrize("earlier", ["0", "0-4", "<5", ">=0", ""])
def test_first_after_a_cell_that_leaves_it_open(earlier):
    log = read({"date": ["2026-04-02", "2026-04-05"], "larvae": [earlier, "first"], "eggs": "1"})
    assert "first" in set(log.frame["kind"])


def test_brood_was_seen_when_one_of_its_stages_was():
    with pytest.raises(LogError, match=r"brood = first, but row 2 \(2026-04-02\) has eggs = 5\."):
        read({"date": ["2026-04-02", "2026-04-05"], "eggs": ["5", ""], "brood": ["", "first"]})
    log = read({"date": ["2026-04-02", "2026-04-05"], "workers": ["5", ""], "brood": ["", "first"]})
    assert len(log.frame) == 2


# --- dates ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "day"),
    [
        ("2026-04-02", "2026-04-02"),
        ("2026-4-2", "2026-04-02"),
        ("2026/04/02", "2026-04-02"),
        ("20260402", "2026-04-02"),
        (20260402, "2026-04-02"),
        ("2026-04-02T23:59", "2026-04-02"),
        ("2026-04-02 23:59:59", "2026-04-02"),
        ("2026-04-02T23:59:59.5Z", "2026-04-02"),
        ("2026-04-02T23:59+02:00", "2026-04-02"),
        ("03.04.2026", "2026-04-03"),
        ("3.4.2026 08:15", "2026-04-03"),
        ("13/02/2026", "2026-02-13"),
        ("02/13/2026", "2026-02-13"),
        ("13-02-2026", "2026-02-13"),
        ("03/03/2026", "2026-03-03"),
        (datetime.date(2026, 4, 2), "2026-04-02"),
        (datetime.datetime(2026, 4, 2, 21, 30), "2026-04-02"),
        (pd.Timestamp("2026-04-02 23:30", tz="Europe/Berlin"), "2026-04-02"),
        (pd.Period("2026-04-02", "D"), "2026-04-02"),
    ],
)
def test_each_form_of_a_date(written, day):
    log = read({"date": pd.Series([written], dtype=object), "eggs": [1]})
    assert log.start == log.end == pd.Timestamp(day)


def test_one_clear_date_settles_the_order_for_the_file():
    log = read({"date": ["03/04/2026", "13/02/2026", "05/05/2026"], "eggs": [3, 2, 4]})
    assert list(log.visits.strftime("%Y-%m-%d")) == ["2026-02-13", "2026-04-03", "2026-05-05"]
    log = read({"date": ["03/04/2026", "02/13/2026"], "eggs": [3, 2]})
    assert list(log.visits.strftime("%Y-%m-%d")) == ["2026-02-13", "2026-03-04"]


@pytest.mark.parametrize(
    ("dates", "message"),
    [
        (
            ["03/04/2026"],
            "row 2: date = 03/04/2026. Day and month cannot be told apart; "
            "write 2026-04-03 or 2026-03-04.",
        ),
        (
            ["2026-02-01", "03-04-2026"],
            "row 3: date = 03-04-2026. Day and month cannot be told apart; "
            "write 2026-04-03 or 2026-03-04.",
        ),
        (
            ["2026-02-01", "2026-02-02", "25.03.2026"],
            "row 4: date = 25.03.2026. It is written day.month.year, the other dates "
            "year-month-day; such a mixture may hide swapped days and months. Check them and "
            "write all as year-month-day, this one as 2026-03-25.",
        ),
        (
            ["2026-02-30"],
            "row 2: date = 2026-02-30. The calendar of 1900 to 2199 has no such day. ",
        ),
        (
            ["02.25.2026"],
            "row 2: date = 02.25.2026. The calendar of 1900 to 2199 has no such day. ",
        ),
        (
            ["13/13/2026"],
            "row 2: date = 13/13/2026. The calendar of 1900 to 2199 has no such day. ",
        ),
        (
            ["0226-04-02"],
            "row 2: date = 0226-04-02. The calendar of 1900 to 2199 has no such day. ",
        ),
        (["25.12.25"], "row 2: date = 25.12.25. Not a date that can be read. "),
        (["46114"], "row 2: date = 46114. Not a date that can be read. "),
        (
            ["soon"],
            "row 2: date = soon. Not a date that can be read. "
            "Write year-month-day, such as 2026-04-02.",
        ),
        ([""], "row 2: no date. Write the day you looked, such as 2026-04-02."),
        ([None], "row 2: no date. Write the day you looked, such as 2026-04-02."),
        (
            ["2026-11-26"],
            "row 2 (2026-11-26): the date lies in the future (today is 2026-11-25). Correct it.",
        ),
        (
            ["2026-02-01", "2026-03-01", "2026-02-01T18:00"],
            "row 4 (2026-02-01): row 2 has the same date. Make them one row.",
        ),
    ],
)
def test_each_bad_date(dates, message):
    with pytest.raises(LogError) as caught:
        read({"date": dates, "eggs": range(len(dates))})
    assert str(caught.value).startswith(f"counts, {message}")
    assert "\n" not in str(caught.value)


def test_dates_that_contradict_each_other_settle_nothing():
    with pytest.raises(LogError) as caught:
        read({"date": ["13/02/2026", "03/04/2026", "02/14/2026"], "eggs": [1, 2, 3]})
    ambiguous, mixed = str(caught.value).split("\n")
    assert ambiguous.startswith("counts, row 3: date = 03/04/2026. Day and month cannot be told")
    assert mixed.startswith("counts, row 4: date = 02/14/2026. It is written month/day/year, the")


def test_today_is_the_present_day_unless_given():
    later = datetime.date.today() + datetime.timedelta(days=2)
    table = pd.DataFrame({"date": [later], "eggs": [1]})
    with pytest.raises(LogError, match="lies in the future"):
        read_counts(table)
    assert len(read_counts(table, today=later)) == 1
    with pytest.raises(LogError, match=r"^today = 03/04/2026\. Day and month cannot be told apart"):
        read_counts(table, today="03/04/2026")
    with pytest.raises(LogError, match=r"^today = 20260101\. Not a date that can be read\."):
        read_counts(table, today=20260101)


# --- rows ----------------------------------------------------------------------------------


def test_rows_are_sorted_and_keep_their_number():
    log = read({"date": ["2026-04-03", "2026-04-01"], "workers": [2, 1], "eggs": [9, None]})
    assert list(log.frame["stage"]) == ["workers", "eggs", "workers"]
    assert list(log.frame["row"]) == [3, 2, 2]
    assert list(log.frame["low"]) == [1, 9, 2]


def test_rows_without_content_are_listed(tmp_path):
    log = read_text(
        tmp_path,
        "date,eggs,workers,note,temp\n2026-04-01,1,,,\n,,,,\n\n2026-04-05,,,,\n,,,,21\n"
        "2026-04-09,,,cleaned,\n\n\n",
    )
    assert log.skipped.to_dict("list") == {
        "row": [3, 4, 5, 6],
        "column": ["", "", "date", ""],
        "text": ["", "", "2026-04-05", ""],
        "reason": [
            "no date, no count and no note",
            "no date, no count and no note",
            "a date, but no count and no note",
            "no date, no count and no note",
        ],
    }
    assert list(log.visits.strftime("%m-%d")) == ["04-01", "04-09"]


def test_a_date_with_nothing_else_is_no_look():
    log = read({"date": ["2026-04-01", "2026-04-05", "2026-04-09"], "workers": ["0", "", "first"]})
    assert log.frame["last_look"].iloc[-1] == pd.Timestamp("2026-04-01")


def test_a_note_alone_is_a_look():
    log = read(
        {
            "date": ["2026-04-01", "2026-04-05", "2026-04-09"],
            "workers": ["0", "", "first"],
            "note": ["", "dark in there", None],
        }
    )
    assert len(log) == 3
    assert log.notes.to_dict("records") == [
        {"date": pd.Timestamp("2026-04-05"), "note": "dark in there", "row": 3}
    ]
    assert log.frame["last_look"].iloc[-1] == pd.Timestamp("2026-04-05")
    with pytest.raises(LogError, match=r"^counts, row 2: no date\."):
        read({"date": [""], "eggs": [""], "note": ["when was that?"]})


def test_a_prefilled_calendar_may_run_on_into_the_future():
    log = read({"date": ["2026-11-20", "2027-01-01"], "eggs": [1, None]})
    assert list(log.skipped["row"]) == [3]


# --- columns -------------------------------------------------------------------------------


def test_columns_in_any_case_order_and_spacing(tmp_path):
    log = read_text(tmp_path, " Workers , EGGS,Date ,Note, Temp \n3,4,2026-04-01,ok,21\n")
    assert list(log.frame["stage"]) == ["eggs", "workers"]
    assert log.ignored_columns == ("Temp",)
    assert list(log.notes["note"]) == ["ok"]


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("egg", "eggs"),
        ("egs", "eggs"),
        ("Larva", "larvae"),
        ("larve", "larvae"),
        ("pupa", "pupae"),
        ("pupea", "pupae"),
        ("cocoon", "cocoons"),
        ("coccoons", "cocoons"),
        ("worker", "workers"),
        ("wrokers", "workers"),
        ("broods", "brood"),
        ("notes", "note"),
    ],
)
def test_a_misspelt_column(written, meant):
    with pytest.raises(LogError) as caught:
        read({"date": ["2026-04-01"], "eggs" if meant != "eggs" else "workers": [1], written: [2]})
    assert str(caught.value).startswith(
        f"counts, row 1: column {written} is not known. Did you mean {meant}? Then write that; "
    )


def test_a_misspelt_date_is_reported_with_the_rows_below_it():
    with pytest.raises(LogError) as caught:
        read({"dates": ["2026-04-01"], "eggs": [-1]})
    header, cell = str(caught.value).split("\n")
    assert "column dates is not known. Did you mean date?" in header
    assert cell == f"counts, row 2 (2026-04-01): eggs = -1. {WHOLE}"


@pytest.mark.parametrize(
    "name",
    ["temperature", "humidity", "queen", "queens", "food", "feeding", "dead workers", "majors",
     "new workers", "nest", "week", "comment", "photo", "males"],
)  # fmt: skip
def test_other_columns_are_left_alone(name):
    log = read({"date": ["2026-04-01"], "eggs": [1], name: ["what you like, -3, 15-10"]})
    assert log.ignored_columns == (name,)
    assert len(log.frame) == 1


def test_nameless_columns(tmp_path):
    log = read_text(tmp_path, "date,eggs,,\n2026-04-01,1,,x\n")
    assert log.ignored_columns == ("column 4",)


def test_the_same_column_twice(tmp_path):
    (fault,) = faults_of(tmp_path, "date,eggs,Eggs\n2026-04-01,1,2\n")
    assert fault == "colony_a.csv, row 1: there are two columns eggs. Merge them, or rename one."


def test_cocoons_are_pupae():
    log = read({"date": ["2026-04-01", "2026-04-02"], "cocoons": [4, ""], "pupae": ["", "5+"]})
    assert list(log.frame["stage"]) == ["pupae", "pupae"]
    assert list(log.frame["low"]) == [4, 5]
    with pytest.raises(LogError) as caught:
        read({"date": ["2026-04-01"], "cocoons": [4], "pupae": [5]})
    assert str(caught.value) == (
        "counts, row 2 (2026-04-01): pupae = 5 and cocoons = 4. "
        "They are one stage; fill in one of the two."
    )


def test_without_a_date_or_a_stage(tmp_path):
    no_date, no_stage = faults_of(tmp_path, "when,ants\n2026-04-01,3\n")
    known = "Name the columns date and any of eggs, larvae, pupae or cocoons, workers, brood, note."
    assert no_date == f"colony_a.csv, row 1: no column date among when, ants. {known}"
    assert no_stage == f"colony_a.csv, row 1: no stage to count among when, ants. {known}"


# --- files ---------------------------------------------------------------------------------


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_separators_byte_order_mark_and_line_ends(tmp_path, separator, encoding, line_end):
    rows = ["date|eggs|workers|note", "2026-04-01|≥30|~2|für später", "2026-04-02|10–15||"]
    text = line_end.join(rows).replace("|", separator)
    log = read_text(tmp_path, text, encoding=encoding)
    assert list(log.frame["text"]) == ["≥30", "~2", "10–15"]
    assert list(log.notes["note"]) == ["für später"]
    assert log.name == "colony_a"


def test_semicolons_with_decimal_commas(tmp_path):
    log = read_text(tmp_path, "date;eggs;workers;note\n01.04.2026;12,0;~3,0;one, two\n")
    assert list(log.frame["low"]) == [12, 3]
    assert list(log.notes["note"]) == ["one, two"]


def test_comments_and_quotes(tmp_path):
    log = read_text(
        tmp_path,
        '# written by torch light, "mostly"\n\ndate,eggs,note\n'
        '2026-04-01,3,"a ""big"" one,\nover two lines"\n'
        '# nothing on the 2nd\n"# nor on the 3rd, either"\n2026-04-04, 5, "x"\n',
    )
    assert list(log.frame["row"]) == [4, 7]
    assert log.notes["note"].iloc[0] == 'a "big" one,\nover two lines'
    assert len(log.skipped) == 0


def test_a_date_lost_by_the_spreadsheet_is_no_comment(tmp_path):
    faults = faults_of(tmp_path, "date;eggs\n########;3\n#REF!;4\n# a note; set apart\n")
    assert [fault.split(". ")[0] for fault in faults] == [
        "colony_a.csv, row 2: date = ########",
        "colony_a.csv, row 3: date = #REF!",
    ]


def test_too_many_cells(tmp_path):
    (fault,) = faults_of(tmp_path, "date,eggs,note\n2026-04-01,3,warm, dry\n")
    assert fault == (
        "colony_a.csv, row 2: 4 cells under 3 column names. "
        "Put a cell that holds the separating mark in double quotes."
    )
    assert len(read_text(tmp_path, "date,eggs,note\n2026-04-01,3,,,,\n2026-04-02,4\n")) == 2


def test_an_unclosed_quote(tmp_path):
    (fault,) = faults_of(tmp_path, 'date,eggs,note\n2026-04-01,3,"warm\n2026-04-02,4,\n')
    assert fault.startswith("colony_a.csv, row 2: the double quotes do not match, so the row has")


def test_a_quote_that_would_swallow_a_row(tmp_path):
    text = 'date,eggs,note\n2026-04-01,3,"warm\n2026-04-02,4,dry"\n2026-04-03,-5,\n'
    swallowed, after = faults_of(tmp_path, text)
    assert swallowed == (
        "colony_a.csv, row 2: a cell in double quotes runs on into a line that looks like a row of "
        "its own. Close the quote before the line ends."
    )
    assert after.startswith("colony_a.csv, row 3 (2026-04-03): eggs = -5.")
    log = read_text(tmp_path, 'date,eggs,note\n2026-04-01,3,"warm\n2026-04-02 was dry, too"\n')
    assert len(log) == 1


def test_text_that_is_not_utf8(tmp_path):
    with pytest.raises(LogError, match=r"^colony_a\.csv: line 2 is not UTF-8 text\. Save the fi"):
        read_text(tmp_path, "date,eggs,note\n2026-04-01,2,ä\n", encoding="latin-1")


@pytest.mark.parametrize("text", ["", "\n\n", "# only a comment\n", ",,\n"])
def test_an_empty_file(tmp_path, text):
    (fault,) = faults_of(tmp_path, text)
    assert fault == "colony_a.csv: there is nothing in it. The first row must name the columns."


@pytest.mark.parametrize("text", ["date,eggs\n", "date,eggs\n2026-04-01,\n,\n"])
def test_a_file_without_a_look(tmp_path, text):
    (fault,) = faults_of(tmp_path, text)
    assert fault == (
        "colony_a.csv: no row holds a count or a note. Write a row for each day you looked."
    )


def test_sources_that_cannot_be_read(tmp_path):
    with pytest.raises(LogError, match=r"nowhere\.csv: there is no such file\. Check the path; it"):
        read_counts(tmp_path / "nowhere.csv")
    with pytest.raises(LogError, match=r"there is no such file\."):
        read_counts(tmp_path)
    with pytest.raises(LogError, match=r"^cannot read a table from list\. Give the path of a \.cs"):
        read_counts([1, 2])  # type: ignore[arg-type]
    (tmp_path / "old.ods").write_bytes(b"x")
    with pytest.raises(LogError, match=r"^old\.ods: \.ods files are not read\. Save the table as"):
        read_counts(str(tmp_path / "old.ods"))


# --- workbooks -----------------------------------------------------------------------------


def workbook(tmp_path, *sheets: tuple[str, list[list[object]]]):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets:
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    path = tmp_path / "colony_x.xlsx"
    book.save(path)
    return path


def test_a_workbook(tmp_path):
    path = workbook(
        tmp_path,
        (
            "Tabelle1",
            [
                ["Date", "eggs", "workers", "note"],
                [datetime.datetime(2026, 4, 1), 12, "~3", None],
                [],
                [datetime.date(2026, 4, 9), 14.0, "first", "cleaned"],
                [None, None, None, None],
            ],
        ),
        ("Tabelle2", []),
    )
    with pytest.raises(LogError, match=r"^colony_x\.xlsx, row 4 \(2026-04-09\): workers = first"):
        read_counts(path, today=TODAY)
    book = openpyxl.load_workbook(path)
    book["Tabelle1"]["C2"] = 0
    book.save(path)
    log = read_counts(path, today=TODAY)
    assert log.name == "colony_x"
    assert list(log.frame["text"]) == ["12", "0", "14", "first"]
    assert list(log.frame["row"]) == [2, 2, 4, 4]
    assert list(log.skipped["row"]) == [3]


def test_a_range_that_a_workbook_took_for_a_date(tmp_path):
    rows = [["date", "eggs"], ["2026-04-01", datetime.datetime(2026, 10, 15)]]
    with pytest.raises(LogError, match=r"row 2 \(2026-04-01\): eggs = 2026-10-15\. This is a date"):
        read_counts(workbook(tmp_path, ("counts", rows)), today=TODAY)


def test_swapped_dates_that_a_workbook_half_understood(tmp_path):
    rows = [
        ["date", "eggs"],
        [datetime.datetime(2026, 3, 4), 1],
        [datetime.datetime(2026, 5, 4), 2],
        ["13/04/2026", 3],
    ]
    with pytest.raises(LogError, match=r"row 4: date = 13/04/2026\. It is written day/month/year"):
        read_counts(workbook(tmp_path, ("counts", rows)), today=TODAY)


def test_a_formula_without_a_stored_result_is_not_an_empty_cell(tmp_path):
    path = workbook(tmp_path, ("counts", [["date", "eggs"], ["2026-04-01", "=3+4"]]))
    with pytest.raises(LogError, match=r"row 2 \(2026-04-01\): eggs = =3\+4\. Write 12, ~12"):
        read_counts(path, today=TODAY)


def test_which_sheet_is_read(tmp_path):
    rows = [["date", "eggs"], ["2026-04-01", 3]]
    log = read_counts(workbook(tmp_path, ("Food", [["x"]]), (" Counts", rows)), today=TODAY)
    assert len(log) == 1
    with pytest.raises(LogError) as caught:
        read_counts(workbook(tmp_path, ("Food", [["x"]]), ("2026", rows)), today=TODAY)
    assert str(caught.value) == (
        'colony_x.xlsx: 2 sheets are filled in (Food, 2026). Name the one to be read "counts".'
    )
    with pytest.raises(LogError, match=r"^colony_x\.xlsx: there is nothing in it\."):
        read_counts(workbook(tmp_path, ("Food", [])), today=TODAY)


def test_a_broken_workbook(tmp_path):
    (tmp_path / "broken.xlsx").write_bytes(b"date,eggs\n2026-04-01,3\n")
    with pytest.raises(LogError, match=r"^broken\.xlsx: not a workbook that can be read \(BadZip"):
        read_counts(tmp_path / "broken.xlsx")


def test_a_workbook_without_openpyxl(tmp_path, monkeypatch):
    path = workbook(tmp_path, ("counts", [["date", "eggs"], ["2026-04-01", 3]]))
    real_import = builtins.__import__

    def without_openpyxl(name, *args, **kwargs):
        if name.partition(".")[0] == "openpyxl":
            raise ModuleNotFoundError(name)
        return real_import(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", without_openpyxl)
    remedy = r'need the package openpyxl\. Run pip install "antgrowth\[xlsx\]", or save the sheet'
    with pytest.raises(LogError, match=remedy):
        read_counts(path, today=TODAY)


# --- frames --------------------------------------------------------------------------------


def test_a_frame_is_not_changed():
    table = pd.DataFrame(
        {"Date ": ["2026-04-03", "2026-04-01"], "eggs": [3.0, np.nan], "workers": ["~2", "first"]},
        index=[7, 3],
    )
    table.loc[7, "workers"] = None
    before = table.copy(deep=True)
    read(table)
    pd.testing.assert_frame_equal(table, before)


@pytest.mark.parametrize(
    "index",
    [
        pd.DatetimeIndex(["2026-04-01", "2026-04-05"]),
        pd.DatetimeIndex(["2026-04-01 21:00", "2026-04-05 22:00"], tz="Europe/Berlin"),
        pd.Index(["2026-04-01", "2026-04-05"]),
        pd.PeriodIndex(["2026-04-01", "2026-04-05"], freq="D"),
        pd.Index([20260401, 20260405], name="Date"),
    ],
)
def test_dates_in_the_index(index):
    log = read(pd.DataFrame({"eggs": [1, None]}, index=index).assign(workers=[None, 2]))
    assert list(log.visits.strftime("%Y-%m-%d")) == ["2026-04-01", "2026-04-05"]
    assert list(log.frame["row"]) == [2, 3]


def test_plain_row_numbers_are_not_dates():
    with pytest.raises(LogError, match=r"^counts, row 1: no column date among eggs\."):
        read({"eggs": [1, 2]})


def test_the_name_of_a_frame():
    table = {"date": ["2026-04-01"], "eggs": [1]}
    assert read(table).name == "counts"
    assert read(table, name="B2").name == "B2"
    with pytest.raises(LogError, match=r"^B2, row 2 \(2026-04-01\): eggs = x\."):
        read({"date": ["2026-04-01"], "eggs": ["x"]}, name="B2")


# --- all faults at once --------------------------------------------------------------------

TEN_FAULTS = """date,eggs,larva,pupae,cocoons,workers,note
2026-04-01,12,,,,2,
2026-04-02,,,,,-3,
2026-04-03,12.5,,,,,
2026-04-04,,15-10,,,,
,7,,,,,
31.02.2026,7,,,,,
03/04/2026,7,,,,,
2026-04-01,9,,,,,
2036-04-09,9,,,,,
2026-04-10,,,3,4,first,
"""


def test_ten_faults_and_more_in_one_error(tmp_path):
    faults = faults_of(tmp_path, TEN_FAULTS)
    expected = [
        "row 1: column larva is not known. Did you mean larvae?",
        f"row 3 (2026-04-02): workers = -3. {WHOLE}",
        f"row 4 (2026-04-03): eggs = 12.5. {WHOLE}",
        "row 5 (2026-04-04): larvae = 15-10. The range is upside down;",
        "row 6: no date.",
        "row 7: date = 31.02.2026. The calendar of 1900 to 2199 has no such day.",
        "row 8: date = 03/04/2026. Day and month cannot be told apart;",
        "row 9 (2026-04-01): row 2 has the same date.",
        "row 10 (2036-04-09): the date lies in the future",
        "row 11 (2026-04-10): pupae = 3 and cocoons = 4. They are one stage;",
        "row 11 (2026-04-10): workers = first, but row 2 (2026-04-01) has workers = 2.",
    ]
    for fault, start in zip(faults, expected, strict=True):
        assert fault.startswith(f"colony_a.csv, {start}")


# --- the log -------------------------------------------------------------------------------


@pytest.fixture
def log() -> CountLog:
    return read(
        {
            "date": ["2026-07-04", "2026-07-10", "2026-07-13", "2026-08-02", "2026-08-09", ""],
            "eggs": ["first", "10-15", "", "~20", "", ""],
            "workers": ["0", "", "", "", "first", ""],
            "note": ["", "", "costs $5 & <more>", "", "", ""],
            "temp": ["", "", "", "", "", ""],
        },
        name="A $1 <b>",
    )


def test_types(log):
    dtypes = {column: dtype.kind for column, dtype in log.frame.dtypes.items()}
    assert dtypes["date"] == dtypes["last_look"] == log.visits.dtype.kind == "M"
    assert dtypes["low"] == dtypes["high"] == "f"
    assert dtypes["row"] == "i"
    with pytest.raises(AttributeError):
        log.name = "other"


def test_length_and_limits(log):
    assert len(log) == 5
    assert (log.start, log.end) == (pd.Timestamp("2026-07-04"), pd.Timestamp("2026-08-09"))


def test_repr(log):
    assert repr(log) == (
        "<CountLog 'A $1 <b>': 5 counts on 5 dates, 2026-07-04 to 2026-08-09; 1 row skipped>"
    )


def test_summary(log):
    assert str(log) == log.summary()
    assert log.summary().split("\n") == [
        "CountLog: A $1 <b>",
        "data        5 counts on 5 dates, 2026-07-04 to 2026-08-09",
        "gaps        6 days as a rule, 20 at most (2026-07-13 to 2026-08-02)",
        "notes       1 (see .notes)",
        "skipped     1 row (see .skipped)",
        "left alone  columns temp",
        "         exact  rough  between  first  all",
        "eggs         0      1        1      1    3",
        "workers      1      0        0      1    2",
        "last rows",
        *log.to_frame().tail(5).to_string(index=False).split("\n"),
    ]


def test_summary_frame(log):
    table = log.summary_frame()
    assert list(table.index) == ["eggs", "workers"]
    assert table.loc["eggs", "all"] == 3
    assert table["all"].sum() == len(log.frame)


def test_html_is_escaped(log):
    page = log._repr_html_()
    assert "A <span>&#36;</span>1 &lt;b&gt;" in page
    assert "$" not in page
    assert "<b>" not in page
    assert re.search(r">eggs</td><td[^>]*>0</td>", page)


def test_between_includes_both_ends(log):
    part = log.between("2026-07-10", datetime.date(2026, 8, 2))
    assert list(part.visits.strftime("%m-%d")) == ["07-10", "07-13", "08-02"]
    assert list(part.frame["text"]) == ["10-15", "~20"]
    assert len(part.notes) == 1
    assert len(log.between(None, None)) == 5
    assert len(log.between(np.datetime64("2026-07-11"), None)) == 3


def test_a_part_keeps_the_last_look(log):
    part = log.between("2026-08-09", None)
    assert part.frame["last_look"].iloc[0] == pd.Timestamp("2026-08-02")


def test_until(log):
    assert list(log.until("2026-07-12").frame["text"]) == ["first", "0", "10-15"]
    assert log.until(log.end).frame.equals(log.frame)


def test_an_empty_part_says_so(log):
    part = log.until("2026-01-01")
    assert len(part) == 0
    assert part.start is pd.NaT
    assert repr(part) == "<CountLog 'A $1 <b>': 0 counts on 0 dates; 1 row skipped>"
    assert "0 counts on 0 dates" in part.summary()
    assert "0 counts on 0 dates" in part._repr_html_()
    assert len(part.to_frame()) == 0


def test_bad_limits(log):
    with pytest.raises(LogError, match=r"^start 2026-08-01 lies after end 2026-07-01\. Swap them"):
        log.between("2026-08-01", "2026-07-01")
    with pytest.raises(LogError, match=r"^end = 03/04/2026\. Day and month cannot be told apart"):
        log.until("03/04/2026")
    with pytest.raises(LogError, match=r"^end = NaT\. Not a date that can be read\."):
        log.until(pd.NaT)


def test_to_frame_has_the_form_of_the_file(log):
    table = log.to_frame()
    assert list(table.columns) == ["date", "eggs", "larvae", "pupae", "workers", "note"]
    assert list(table["eggs"]) == ["first", "10-15", "", "~20", ""]
    assert list(table["larvae"]) == [""] * 5
    assert "brood" in read({"date": ["2026-07-04"], "brood": ["3+"]}).to_frame()


def test_reading_counts_needs_little():
    code = (
        "import sys; from antgrowth.io.counts import read_counts; "
        "unwanted = ('matplotlib', 'IPython', 'scipy.stats', 'openpyxl'); "
        "print([name for name in unwanted if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


class TestPicture:
    LOG = pd.DataFrame(
        {
            "date": ["2026-07-04", "2026-07-20", "2026-08-02", "2026-08-20"],
            "eggs": ["0", "12", "~10", "5-9"],
            "workers": ["0", "", "first", "3+"],
        }
    )

    def test_every_cell_is_drawn_as_it_was_written(self):
        axes = read_counts(self.LOG, today="2027-01-01").plot()
        assert [ax.get_ylabel() for ax in axes] == ["eggs", "workers"]
        eggs, workers = (
            {line.get_label(): list(line.get_ydata()) for line in ax.lines} for ax in axes
        )
        assert eggs == {"counted": [0, 12], "roughly counted": [10]}
        assert workers == {"counted": [0], "first seen": [1], "at least": [3]}
        ((low, high),) = [path.vertices[:, 1] for path in axes[0].collections[0].get_paths()]
        assert (low, high) == (5, 9)

    def test_an_empty_log_is_refused(self):
        log = read_counts(self.LOG, today="2027-01-01").between("2026-07-05", "2026-07-06")
        with pytest.raises(LogError, match="no count in the log"):
            log.plot()
