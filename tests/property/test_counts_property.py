"""Count logs: nothing is lost, order does not matter, and what is written reads back the same."""

from __future__ import annotations

import datetime
import random
import tempfile
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from antgrowth._core.dates import read_days
from antgrowth.errors import LogError
from antgrowth.io.cells import KINDS, CellFault, read_cell
from antgrowth.io.counts import read_counts

quick = settings(max_examples=40, deadline=None)  # reading a table takes some milliseconds

TODAY = "2030-01-01"
COUNTED = ("eggs", "larvae", "pupae", "workers", "brood")

days = st.dates(datetime.date(2024, 1, 1), datetime.date(2029, 12, 31))
numbers = st.integers(0, 5000)
cells = st.one_of(
    numbers.map(str),
    numbers.map("{}.0".format),
    numbers.map("{},0".format),
    numbers.map("~{}".format),
    st.tuples(numbers, numbers).map(lambda pair: f"{min(pair)}-{max(pair)}"),
    numbers.map("{}+".format),
    numbers.map(">={}".format),
    numbers.map(">{}".format),
    numbers.map("<={}".format),
    st.integers(1, 5000).map("<{}".format),
)
maybe_cells = st.one_of(st.just(""), cells)
notes = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), max_size=8)


@st.composite
def tables(draw) -> pd.DataFrame:
    """Draw a log without faults, by date; some stages begin with a first sighting."""
    dates = sorted(draw(st.lists(days, min_size=1, max_size=8, unique=True)))
    size = len(dates)
    table = {"date": [day.isoformat() for day in dates]}
    for stage in draw(st.lists(st.sampled_from(COUNTED), min_size=1, unique=True)):
        column = draw(st.lists(maybe_cells, min_size=size, max_size=size))
        seen = [i for i, text in enumerate(column) if text and read_cell(text).low >= 1]
        if seen and stage != "brood" and draw(st.booleans()):
            column[seen[0]] = "first"
        table[stage] = column
    table["note"] = draw(st.lists(notes, min_size=size, max_size=size))
    if not any(text for name in table if name != "date" for text in table[name]):
        table["note"][0] = "looked"
    return pd.DataFrame(table)


def read(table):
    return read_counts(table, today=TODAY)


def assert_same_log(one, other):
    """Compare two logs in all but their row numbers."""
    for part in ("frame", "notes"):
        pd.testing.assert_frame_equal(
            getattr(one, part).drop(columns="row"), getattr(other, part).drop(columns="row")
        )
    pd.testing.assert_index_equal(one.visits, other.visits)


@quick
@given(tables())
def test_every_cell_is_used_and_every_row_has_its_place(table):
    log = read(table)
    filled = (table[[c for c in table if c in COUNTED]] != "").to_numpy().sum()
    assert len(log.frame) == filled
    assert len(log) + len(log.skipped) == len(table)
    assert len(log.notes) == (table["note"] != "").sum()
    assert (log.frame["low"] <= log.frame["high"]).all()
    assert set(log.frame["kind"]) <= set(KINDS)
    for row in log.frame.itertuples():
        assert table[row.stage].iloc[row.row - 2] == row.text


@quick
@given(tables())
def test_a_log_reads_back_the_same(table):
    log = read(table)
    assert_same_log(read(log.to_frame()), log)


@quick
@given(tables(), st.sampled_from(",;\t"))
def test_a_log_reads_back_the_same_from_a_file(table, separator):
    log = read(table)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        log.to_frame().to_csv(path, sep=separator, index=False, encoding="utf-8-sig")
        assert_same_log(read(path), log)


@quick
@given(tables(), st.randoms(use_true_random=False))
def test_the_order_of_rows_and_columns_is_irrelevant(table, shuffler: random.Random):
    rows, columns = list(range(len(table))), list(table.columns)
    shuffler.shuffle(rows)
    shuffler.shuffle(columns)
    assert_same_log(read(table.iloc[rows][columns]), read(table))


@quick
@given(tables())
def test_the_table_is_not_changed(table):
    before = table.copy(deep=True)
    read(table)
    pd.testing.assert_frame_equal(table, before)


@quick
@given(tables(), days)
def test_until_is_the_log_as_it_stood_that_day(table, day):
    whole = read(table)
    part = whole.until(day)
    written = table[table["date"] <= day.isoformat()]
    if len(part):
        assert_same_log(part, read(written))
    else:
        assert not (written.drop(columns="date") != "").to_numpy().any()
    rest = whole.between(day + datetime.timedelta(days=1), None)
    assert len(part) + len(rest) == len(whole)
    assert [*part.frame["row"], *rest.frame["row"]] == list(whole.frame["row"])


bad_cells = st.sampled_from(["-1", "2.5", "9-3", "many", "1.000", "2026-10-15", "+4", "~"])


@quick
@given(tables(), st.data())
def test_each_bad_cell_has_its_line(table, data):
    stages = [name for name in table if name in COUNTED]
    places = st.tuples(st.integers(0, len(table) - 1), st.sampled_from(stages))
    spoiled = data.draw(st.lists(places, min_size=1, max_size=6, unique=True))
    table = table.astype(object)
    for row, stage in spoiled:
        table.loc[row, stage] = data.draw(bad_cells)
    with pytest.raises(LogError) as caught:
        read(table)
    found = [line.split(" = ")[0] for line in str(caught.value).split("\n")]
    assert sorted(found) == sorted(
        f"counts, row {row + 2} ({table.loc[row, 'date']}): {stage}" for row, stage in spoiled
    )


@given(st.text(max_size=12) | st.text("0123456789-–+~<>=≥≤.,first ", max_size=10))
def test_any_text_is_a_cell_or_a_fault(text):
    try:
        cell = read_cell(text.strip())
    except CellFault as fault:
        assert str(fault)
    else:
        assert 0 <= cell.low <= cell.high
        assert cell.low == int(cell.low)


@quick
@given(st.text(max_size=200) | st.text('date,eggs;workers\n\r\t"#123-. ', max_size=200))
def test_any_file_is_a_log_or_an_error(text):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        path.write_bytes(b"date,eggs\n" + text.encode("utf-8", "surrogatepass"))
        try:
            log = read(path)
        except LogError as error:
            assert str(error).startswith("log.csv")
        else:
            assert len(log)


@given(days, st.sampled_from(["%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y"]))
def test_a_date_is_read_rightly_or_not_at_all(day, form):
    (read_day,), faults = read_days([day.strftime(form)])
    if read_day is None:
        assert day.day <= 12
        assert day.isoformat() in faults[0]
    else:
        assert read_day == day


@given(st.lists(days, min_size=1, max_size=10), st.sampled_from(["%d/%m/%Y", "%m/%d/%Y"]))
def test_a_column_of_dates_is_read_rightly_or_not_at_all(column, form):
    read_column, faults = read_days([day.strftime(form) for day in column])
    assert all(one is None or one == day for one, day in zip(read_column, column, strict=True))
    if any(day.day > 12 for day in column):
        assert not faults


@given(days, st.sampled_from(["%Y-%m-%d", "%Y/%m/%d", "%d.%m.%Y", "%Y%m%d", "%Y-%m-%dT21:30"]))
def test_a_clear_date_is_read(day, form):
    assert read_days([day.strftime(form)]) == ([day], {})
