"""Change logs: every form, every fault with its message, every kind of file."""

from __future__ import annotations

import datetime
import io
import tempfile
from dataclasses import FrozenInstanceError
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

import antgrowth
from antgrowth.errors import LogError
from antgrowth.io.changes import ChangeLog, read_changes

TODAY = "2026-11-25"
DAY = "2026-04-02"
COLUMNS = "date, stage, change and, if you like, reason"
STAGES = "Stages are eggs, larvae, pupae or cocoons, workers, queen or queens."
WHOLE = "Write a whole number of at most 7 digits with its sign, such as +30 or -6."
NOBODY = "Nobody came or went; write how many, or delete the row."
RESEMBLES = (
    "Write found_dead and no more for workers found in the refuse, which are not subtracted; "
    "for an accident use other words, and they are."
)


def read(table: dict | pd.DataFrame, **options) -> ChangeLog:
    return read_changes(pd.DataFrame(table), today=TODAY, **options)


def read_text(tmp_path, text: str, *, encoding: str = "utf-8") -> ChangeLog:
    path = tmp_path / "colony_a.csv"
    path.write_bytes(text.encode(encoding))
    return read_changes(path, today=TODAY)


def one(stage: object = "workers", change: object = "-6", reason: object = "", date=DAY):
    row = {"date": date, "stage": stage, "change": change, "reason": reason}
    return read({name: [cell] for name, cell in row.items()})


def fault_of(**cells) -> str:
    """Return the one fault of a row, without its place."""
    with pytest.raises(LogError) as caught:
        one(**cells)
    place, _, fault = str(caught.value).partition(": ")
    assert place in ("changes, row 2", f"changes, row 2 ({cells.get('date', DAY)})")
    assert "\n" not in fault
    return fault


# --- cells ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "stage"),
    [
        ("eggs", "eggs"),
        ("larvae", "larvae"),
        ("pupae", "pupae"),
        ("cocoons", "pupae"),
        ("workers", "workers"),
        (" Workers ", "workers"),
        ("queen", "queens"),
        ("queens", "queens"),
    ],
)
def test_each_stage(written, stage):
    assert list(one(stage=written).frame["stage"]) == [stage]


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("worker", " Did you mean workers?"),
        ("Wrokers", " Did you mean workers?"),
        ("egg", " Did you mean eggs?"),
        ("larva", " Did you mean larvae?"),
        ("pupa", " Did you mean pupae?"),
        ("cocoon", " Did you mean cocoons?"),
        ("queeen", " Did you mean queen?"),
        ("brood", ""),
        ("males", ""),
        ("7", ""),
    ],
)
def test_a_stage_that_is_not_known(written, meant):
    assert fault_of(stage=written) == f"stage = {written}. {STAGES}{meant}"


@pytest.mark.parametrize(
    ("written", "change"),
    [
        ("+30", 30),
        ("30", 30),
        ("-6", -6),
        ("−6", -6),
        ("- 6", -6),
        ("+30.0", 30),
        ("-6,00", -6),
        ("007", 7),
        ("1000000", 1000000),
        (30, 30),
        (-6.0, -6),
    ],
)
def test_each_change(written, change):
    assert list(one(change=written).frame["change"]) == [change]


@pytest.mark.parametrize(
    ("written", "fault"),
    [
        ("0", f"change = 0. {NOBODY}"),
        ("-0.000", f"change = -0.000. {NOBODY}"),
        ("", f"change is empty. {WHOLE}"),
        (None, f"change is empty. {WHOLE}"),
        ("2.5", f"change = 2.5. {WHOLE}"),
        ("-2,5", f"change = -2,5. {WHOLE}"),
        ("~6", f"change = ~6. {WHOLE}"),
        ("5-6", f"change = 5-6. {WHOLE}"),
        ("30+", f"change = 30+. {WHOLE}"),
        ("--6", f"change = --6. {WHOLE}"),
        ("-", f"change = -. {WHOLE}"),
        ("six", f"change = six. {WHOLE}"),
        ("12345678", f"change = 12345678. {WHOLE}"),
        (True, f"change = True. {WHOLE}"),
        ("-1.000", "change = -1.000. It can be read two ways; write -1 or -1000."),
        ("12,000", "change = 12,000. It can be read two ways; write 12 or 12000."),
    ],
)
def test_each_bad_change(written, fault):
    assert fault_of(change=written) == fault


def test_an_empty_stage():
    assert fault_of(stage="") == f"stage is empty. {STAGES}"


# --- workers found dead --------------------------------------------------------------------


@pytest.mark.parametrize("reason", ["found_dead", "found dead", "Found Dead", "FOUND_DEAD"])
@pytest.mark.parametrize("change", ["4", "+4", "-4"])
def test_found_dead(reason, change):
    frame = one(change=change, reason=reason).frame
    assert frame[["change", "found_dead", "reason"]].values.tolist() == [[4, True, "found_dead"]]


@pytest.mark.parametrize("reason", ["", "escaped", "given away", "died of heat", "killed; $5"])
def test_other_reasons_are_free(reason):
    frame = one(change="-4", reason=reason).frame
    assert frame[["change", "found_dead", "reason"]].values.tolist() == [[-4, False, reason]]


@pytest.mark.parametrize("stage", ["eggs", "larvae", "pupae", "queens"])
def test_only_workers_are_found_dead(stage):
    assert fault_of(stage=stage, reason="found dead", change="-1") == (
        f"reason = found dead. It is for workers only, and not subtracted; for {stage} use other "
        "words, such as died, with how many went, such as -1."
    )


@pytest.mark.parametrize(
    "reason",
    ["found-dead", "founddead", "fuond_dead", "found dead?", "4 found dead in the nest",
     "dead, found behind the sponge"],
)  # fmt: skip
def test_a_reason_that_resembles_found_dead_is_not_guessed_at(reason):
    assert fault_of(reason=reason) == f"reason = {reason}. {RESEMBLES}"
    assert list(one("queen", -1, reason).frame["reason"]) == [reason]


# --- dates and rows ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("date", "fault"),
    [
        ("", "no date. Write the day of the change, such as 2026-04-02."),
        ("nan", "no date. Write the day of the change, such as 2026-04-02."),
        ("May", "date = May. Not a date that can be read. Write year-month-day, such as 2026-04"),
        (
            "31.02.2026",
            "date = 31.02.2026. The calendar of 1900 to 2199 has no such day. Write year-",
        ),
        ("03/04/2026", "date = 03/04/2026. Day and month cannot be told apart; write 2026-04-03"),
        ("2026-11-26", "the date lies in the future (today is 2026-11-25). Correct it."),
    ],
)
def test_each_bad_date(date, fault):
    assert fault_of(date=date).startswith(fault)


def test_today_is_no_future():
    assert len(one(date=TODAY)) == 1
    assert len(read_changes(pd.DataFrame([[datetime.date.today(), "eggs", 1]],
                                         columns=["date", "stage", "change"]))) == 1  # fmt: skip
    with pytest.raises(LogError, match=r"^today = soon\. Not a date"):
        read_changes(pd.DataFrame(), today="soon")


def test_rows_of_a_date_stay_in_their_order():
    log = read(
        {
            "date": ["2026-04-09", "2026-04-02", "2026-04-09"],
            "stage": ["workers", "pupae", "eggs"],
            "change": ["-6", "+30", "-1"],
        }
    )
    assert list(log.frame["row"]) == [3, 2, 4]
    assert list(log.frame.dtypes.astype(str)[["date", "change", "found_dead", "row"]]) == [
        "datetime64[us]", "int64", "bool", "int64",
    ]  # fmt: skip
    assert list(log.frame) == ["date", "stage", "change", "found_dead", "reason", "row"]


@pytest.mark.parametrize(
    ("first", "again"),
    [
        ("pupae,+30,adopted", "Cocoons,30,adopted"),
        ("queen,-1,", "queens,-1,"),
        ("workers,4,found dead", "workers,-4,Found_Dead"),
    ],
)
def test_the_same_change_twice(tmp_path, first, again):
    text = f"date,stage,change,reason\n{DAY},{first}\n{DAY},eggs,1,\n{DAY},{again}\n"
    with pytest.raises(LogError) as caught:
        read_text(tmp_path, text)
    assert str(caught.value) == (
        "colony_a.csv, row 4 (2026-04-02): row 2 has the same date, stage, change and reason. "
        "Add them up in one row, or delete one if it happened once."
    )


def test_changes_that_differ_in_anything_are_several(tmp_path):
    rows = [f"{DAY},workers,4,x", f"{DAY},workers,4,y", f"{DAY},workers,-4,x", f"{DAY},eggs,4,x",
            "2026-04-03,workers,4,x", f"{DAY},workers,4,found_dead"]  # fmt: skip
    assert len(read_text(tmp_path, "date,stage,change,reason\n" + "\n".join(rows))) == 6


def test_rows_without_a_change_are_listed(tmp_path):
    log = read_text(tmp_path, f"date,stage,change,who\n\n{DAY},eggs,3,\n,,,me\n,,,\n")
    assert log.skipped.to_dict("list") == {
        "row": [2, 4, 5],
        "column": [""] * 3,
        "text": [""] * 3,
        "reason": ["no date and no change"] * 3,
    }
    assert log.ignored_columns == ("who",)
    assert repr(log) == (
        "<ChangeLog 'colony_a': 1 change on 1 date, 2026-04-02 to 2026-04-02; 3 rows skipped>"
    )


def test_all_faults_at_once(tmp_path):
    text = "date;stage;changes;reason\n;worker;0;\n2026-13-01;eggs;5;\n2036-04-02;;x;found-dead\n"
    with pytest.raises(LogError) as caught:
        read_text(tmp_path, text)
    assert str(caught.value).split("\n") == [
        "colony_a.csv, row 1: column changes is not known. Did you mean change? Then write that; "
        f"else choose a name less like it. Known are {COLUMNS}.",
        "colony_a.csv, row 2: no date. Write the day of the change, such as 2026-04-02.",
        f"colony_a.csv, row 2: stage = worker. {STAGES} Did you mean workers?",
        f"colony_a.csv, row 2: change = 0. {NOBODY}",
        "colony_a.csv, row 3: date = 2026-13-01. The calendar of 1900 to 2199 has no such day. "
        "Write year-month-day, such as 2026-04-02.",
        "colony_a.csv, row 4 (2036-04-02): the date lies in the future (today is 2026-11-25). "
        "Correct it.",
        f"colony_a.csv, row 4 (2036-04-02): stage is empty. {STAGES}",
        f"colony_a.csv, row 4 (2036-04-02): change = x. {WHOLE}",
    ]


# --- columns and files ---------------------------------------------------------------------


def test_columns_in_any_case_and_order():
    table = {"Who": ["me"], " REASON": ["fled"], "Change": [-2], "Stage": ["eggs"], "Date": [DAY]}
    log = read(table)
    assert log.frame.drop(columns="date").values.tolist() == [["eggs", -2, False, "fled", 2]]
    assert log.ignored_columns == ("Who",)


@pytest.mark.parametrize(
    ("written", "meant"),
    [("dates", "date"), ("Stages", "stage"), ("chnage", "change"), ("reasons", "reason")],
)
def test_a_misspelt_column(written, meant):
    table = {"date": [DAY], "stage": ["eggs"], "change": [1], "reason": [""]}
    with pytest.raises(LogError) as caught:
        read(pd.DataFrame(table).rename(columns={meant: written}))
    assert str(caught.value) == (
        f"changes, row 1: column {written} is not known. Did you mean {meant}? Then write that; "
        f"else choose a name less like it. Known are {COLUMNS}."
    )


def test_columns_that_are_missing_or_doubled():
    with pytest.raises(LogError) as caught:
        read(pd.DataFrame([["x", "y", "z"]], columns=["when", "stage", "Stage"]))
    found = f"among when, stage, Stage. Name the columns {COLUMNS}."
    assert str(caught.value).split("\n") == [
        "changes, row 1: there are two columns stage. Merge them, or rename one.",
        f"changes, row 1: no column date {found}",
        f"changes, row 1: no column change {found}",
    ]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_separators_and_byte_order_mark(tmp_path, separator, encoding):
    text = "date|stage|change|reason\n01.04.2026|pupae|+30|für später\n02.04.2026|workers|−6\n"
    log = read_text(tmp_path, text.replace("|", separator), encoding=encoding)
    assert list(log.frame["change"]) == [30, -6]
    assert list(log.frame["reason"]) == ["für später", ""]
    assert log.name == "colony_a"


def test_a_workbook(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "counts"
    book.active.append(["date", "eggs"])
    sheet = book.create_sheet("changes")
    sheet.append(["date", "stage", "change", "reason"])
    sheet.append([datetime.datetime(2026, 4, 1), "pupae", 30, "adopted"])
    sheet.append(["2026-04-02", "workers", "-4", "found dead"])
    book.save(tmp_path / "colony_x.xlsx")
    log = read_changes(tmp_path / "colony_x.xlsx", today=TODAY)
    assert list(log.frame["change"]) == [30, 4]
    assert list(log.frame["found_dead"]) == [False, True]


def test_a_table_without_rows_holds_no_changes(tmp_path):
    log = read_text(tmp_path, "date,stage,change\n")
    assert len(log) == len(log.skipped) == len(log.until(DAY)) == len(read(log.to_frame())) == 0
    assert log.frame.dtypes.equals(one().frame.dtypes)
    assert repr(log) == "<ChangeLog 'colony_a': no changes>"
    assert log.summary() == "ChangeLog: colony_a\ndata  no changes"
    with pytest.raises(LogError, match=r"^colony_a\.csv: there is nothing in it\. The first row"):
        read_text(tmp_path, "")


def test_the_name_and_the_table_itself():
    table = pd.DataFrame({"stage": ["eggs"], "change": [1]}, index=pd.DatetimeIndex([DAY]))
    before = table.copy(deep=True)
    assert read(table).name == "changes"
    assert read(table, name="B2").name == "B2"
    pd.testing.assert_frame_equal(table, before)


# --- the log -------------------------------------------------------------------------------


def invented() -> ChangeLog:
    text = (
        "date,stage,change,reason,who\n2026-04-01,cocoons,+30,adopted,a\n"
        "2026-04-09,workers,-6,escaped,a\n2026-04-09,workers,3,<given> for $1,b\n"
        "2026-04-20,workers,-4,found dead,a\n2026-05-01,queen,-1,died,a\n,,,,\n"
    )
    return read(pd.read_csv(io.StringIO(text), dtype="str"), name="invented & co")


def test_the_report():
    log = invented()
    assert str(log) == log.summary()
    assert log.summary().split("\n") == [
        "ChangeLog: invented & co",
        "data        5 changes on 4 dates, 2026-04-01 to 2026-05-01",
        "skipped     1 row (see .skipped)",
        "left alone  columns who",
        "stage    came  went  found dead",
        "pupae      30     0           0",
        "workers     3     6           4",
        "queens      0     1           0",
    ]
    assert log.summary_frame().loc["workers"].to_dict() == {"came": 3, "went": 6, "found_dead": 4}
    page = log._repr_html_()
    assert "invented &amp; co" in page
    assert '<td style="text-align:right">30</td>' in page


def test_until_is_the_log_as_it_stood_that_day():
    log = invented()
    assert [len(log.until(day)) for day in ("2026-03-31", "2026-04-09", "2026-06-01")] == [0, 3, 5]
    assert log.until("2026-04-09").name == log.name
    assert len(log) == 5
    with pytest.raises(LogError, match=r"^end = soon\. Not a date that can be read\."):
        log.until("soon")


def test_it_is_public_and_frozen():
    assert antgrowth.read_changes is read_changes
    assert antgrowth.ChangeLog is ChangeLog
    with pytest.raises(FrozenInstanceError):
        invented().name = "other"  # type: ignore[misc]


# --- round trip ----------------------------------------------------------------------------

days = st.dates(datetime.date(2024, 1, 1), datetime.date(2026, 11, 25))
stages = st.sampled_from(["eggs", "larvae", "pupae", "cocoons", "workers", "queen", "queens"])
sizes = st.integers(-5000, 5000).filter(bool)
reasons = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), max_size=8)
rows = st.one_of(
    st.tuples(days, stages, sizes, reasons.filter(lambda text: "found" not in text.lower())),
    st.tuples(days, st.just("workers"), sizes, st.sampled_from(["found dead", "found_dead"])),
)


def change_of(row: tuple) -> tuple:
    day, stage, number, reason = row
    stage = {"cocoons": "pupae", "queen": "queens"}.get(stage, stage)
    found_dead = reason in ("found dead", "found_dead")
    return day, stage, abs(number) if found_dead else number, "found_dead" if found_dead else reason


@settings(max_examples=40, deadline=None)
@given(st.lists(rows, max_size=8, unique_by=change_of), st.sampled_from(",;\t"))
def test_a_log_reads_back_the_same(written, separator):
    names = ["date", "stage", "change", "reason"]
    log = read(pd.DataFrame(written, columns=names))
    frame = log.frame.drop(columns="row")
    changes = [(row.date.date(), row.stage, row.change, row.reason) for row in frame.itertuples()]
    assert changes == sorted(map(change_of, written), key=lambda change: change[0])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        log.to_frame().to_csv(path, sep=separator, index=False, encoding="utf-8-sig")
        from_file = read_changes(path, today=TODAY)
    for again in (read(log.to_frame()), from_file):
        pd.testing.assert_frame_equal(again.frame.drop(columns="row"), frame)
