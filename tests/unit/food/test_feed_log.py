"""Feed logs: every form, every fault with its message, every kind of file."""

from __future__ import annotations

from dataclasses import FrozenInstanceError

import numpy as np
import openpyxl
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.errors import LogError
from antgrowth.food.feed_log import FeedLog, read_feeds

TODAY = "2026-11-25"
DAY = "2026-04-02"
HEAD = "date,food,offered_mg,left_mg,control_loss_mg\n"
MASS = "Write a mass in milligrams, such as 85 or 12.5"
STRENGTH = (
    "Say how strong it is, sugar by weight, above 0 and up to 50 %, such as 20 % sugar water."
)


def read_text(tmp_path, text: str, *, encoding: str = "utf-8") -> FeedLog:
    path = tmp_path / "feeds.csv"
    path.write_bytes(text.encode(encoding))
    return read_feeds(path, today=TODAY)


def one(food="honey", offered="50", left="30", control="-2", date=DAY) -> FeedLog:
    cells = {"date": date, "food": food, "offered_mg": offered, "left_mg": left,
             "control_loss_mg": control}  # fmt: skip
    return read_feeds(pd.DataFrame({name: [cell] for name, cell in cells.items()}), today=TODAY)


def fault_of(**cells) -> str:
    """Return the one fault of a row, without its place."""
    with pytest.raises(LogError) as caught:
        one(**cells)
    place, _, fault = str(caught.value).partition(": ")
    assert place in ("feeds, row 2", f"feeds, row 2 ({cells.get('date', DAY)})")
    assert "\n" not in fault
    return fault


# --- cells ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "food", "need", "percent"),
    [
        ("20 % sugar water", "20 % sugar water", "sugar", 20),
        ("Sugar water 20%", "20 % sugar water", "sugar", 20),
        ("12,5% sugar  water", "12.5 % sugar water", "sugar", 12.5),
        ("HONEY", "honey", "sugar", np.nan),
        ("fruit fly", "fruit fly", "protein", np.nan),
        ("House Cricket", "house cricket", "protein", np.nan),
        ("seeds", "seeds", "protein", np.nan),
    ],
)
def test_foods(written, food, need, percent):
    line = one(food=written).frame.iloc[0]
    assert (line["food"], line["need"]) == (food, need)
    np.testing.assert_equal(line["sugar_percent"], percent)


@pytest.mark.parametrize("written", ["sugar water", "0 % sugar water", "80 % sugar water",
                                     "20 % sugar water 20 %", "1.2.3 % sugar water"])  # fmt: skip
def test_how_strong(written):
    assert fault_of(food=written) == f"food = {written}. {STRENGTH}"


def test_unknown_food_is_told_what_there_is():
    fault = fault_of(food="house crickets")
    assert fault.startswith("food = house crickets. Foods are 20 % sugar water (any strength), ")
    assert "honey, house cricket, small cricket, mealworm" in fault
    assert fault.endswith("Did you mean house cricket?")


@pytest.mark.parametrize(
    ("written", "mass"),
    [("31", 31.0), ("31.5", 31.5), ("31,5", 31.5), ("0", 0.0), ("0.125", 0.125)],
)
def test_masses(written, mass):
    assert one(left=written).frame["left_mg"].item() == mass


def test_eaten_is_what_neither_stayed_nor_dried_up():
    line = one(offered="60", left="31.5", control="12").frame.iloc[0]
    assert line["eaten_mg"] == 16.5
    drew_water = one(offered="50", left="30", control="−2").frame.iloc[0]
    assert drew_water["eaten_mg"] == 22.0


@pytest.mark.parametrize("empty", [{"left": ""}, {"control": ""}, {"left": "", "control": ""}])
def test_what_was_not_weighed_is_not_known_and_not_nothing(empty):
    log = one(**empty)
    assert np.isnan(log.frame["eaten_mg"].item())
    assert len(log.findings) == 1
    assert log.summary_frame()["weighed"].item() == 0


def test_below_zero_within_the_errors_of_weighing_is_kept_and_told():
    log = one(food="fruit fly", offered="20", left="17", control="5")
    assert log.frame["eaten_mg"].item() == -2.0
    assert log.findings == (
        "left and the control's loss add up to more than was offered, by up to 2.0 mg: row 2. "
        "That is within the errors of weighing, and kept as it is",
    )
    assert "by up to 2.0 mg" in log.summary()


@pytest.mark.parametrize(
    ("cells", "fault"),
    [
        ({"offered": ""}, f"offered_mg is empty. {MASS}, above 0."),
        ({"offered": "0"}, f"offered_mg = 0. {MASS}, above 0."),
        ({"offered": "-5"}, f"offered_mg = -5. {MASS}, above 0."),
        ({"offered": "a lot"}, f"offered_mg = a lot. {MASS}; leave it empty if you did not weigh."),
        ({"left": "-1"}, f"left_mg = -1. {MASS}, at least 0; leave it empty if you did not weigh."),
        ({"left": "~3"}, f"left_mg = ~3. {MASS}; leave it empty if you did not weigh."),
        ({"offered": "1.250"}, "offered_mg = 1.250. It can be read two ways; write 1.25 or 1250."),
        (
            {"offered": "40", "left": "0", "control": "41"},
            "control_loss_mg = 41, more than the 40 mg offered. The control is a portion of the "
            "same size: scale its loss to that, or correct it.",
        ),
        (
            {"offered": "40", "left": "49", "control": ""},
            "left_mg = 49, more than the 40 mg offered. Correct it; or, if the food drew water, "
            "write how much a control drew as a control_loss_mg below 0.",
        ),
        (
            {"offered": "40", "left": "36", "control": "14"},
            "left_mg = 36 and control_loss_mg = 14 add up to 10 mg more than the 40 mg offered, "
            "beyond the errors of weighing. Correct them, or leave the one you doubt empty.",
        ),
        ({"date": ""}, "no date. Write the day it was offered, such as 2026-04-02."),
        ({"date": "2027-04-02"}, f"the date lies in the future (today is {TODAY}). Correct it."),
    ],
)
def test_fault_of_a_row(cells, fault):
    assert fault_of(**cells) == fault


def test_more_left_than_offered_is_possible_if_the_control_drew_water_too():
    assert one(offered="40", left="52", control="-14").frame["eaten_mg"].item() == 2.0


# --- tables --------------------------------------------------------------------------------


def test_all_faults_at_once(tmp_path):
    with pytest.raises(LogError) as caught:
        read_text(tmp_path, "date,food,offered_mg,left mg,control_loss_mg\n"
                  "2026-04-02,syrup,x,1,2\n31.02.2026,honey,5,12,\n2026-04-03,honey,20,5,1\n"
                  "2026-04-03,honey,20,5,1\n")  # fmt: skip
    lines = str(caught.value).splitlines()
    assert [line.partition(":")[0] for line in lines] == [
        "feeds.csv, row 1", "feeds.csv, row 2 (2026-04-02)", "feeds.csv, row 2 (2026-04-02)",
        "feeds.csv, row 3", "feeds.csv, row 3", "feeds.csv, row 5 (2026-04-03)",
    ]  # fmt: skip
    for words in (
        "column left mg is not known. Did you mean left_mg?",
        "food = syrup.",
        "offered_mg = x.",
        "date = 31.02.2026. The calendar",
        "left_mg = 12, more than the 5 mg offered",
        "row 4 has the same date, food and masses. Delete one, or add the two portions up",
    ):
        assert words in str(caught.value)


@pytest.mark.parametrize("name", ["date", "food", "offered_mg", "left_mg", "control_loss_mg"])
def test_a_column_is_missing(tmp_path, name):
    columns = [column for column in HEAD.strip().split(",") if column != name]
    with pytest.raises(LogError, match=f"no column {name} among .* Name the columns date, food"):
        read_text(tmp_path, ",".join(columns) + "\n")


def test_doubled_column(tmp_path):
    with pytest.raises(LogError, match="there are two columns food"):
        read_text(tmp_path, HEAD.replace("left_mg", "food"))


@pytest.mark.parametrize("mark", [";", "\t"])
def test_semicolons_tabs_and_comments(tmp_path, mark):
    text = "# invented\n" + HEAD.replace(",", mark)
    text += mark.join(["02.04.2026", "honey", '"12,5"', "3", ""]) + "\n"
    log = read_text(tmp_path, text, encoding="utf-8-sig")
    assert log.frame["offered_mg"].item() == 12.5
    assert log.frame["row"].item() == 3
    assert log.name == "feeds"


def test_workbook(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "Feeds"
    book.active.append(HEAD.strip().split(","))
    book.active.append([pd.Timestamp(DAY).to_pydatetime(), "honey", 50, 30.5, None])
    book.create_sheet("shopping").append(["milk"])
    book.save(tmp_path / "feeds.xlsx")
    line = read_feeds(tmp_path / "feeds.xlsx", today=TODAY).frame.iloc[0]
    assert (line["date"], line["left_mg"]) == (pd.Timestamp(DAY), 30.5)
    assert np.isnan(line["control_loss_mg"])


def test_rows_are_sorted_and_blank_ones_told(tmp_path):
    rows = "2026-04-09,honey,20,5,1\n,,,,\n2026-04-02,honey,20,5,1\n"
    log = read_text(tmp_path, HEAD + rows)
    assert log.frame["row"].tolist() == [4, 2]
    assert log.skipped["row"].tolist() == [3]
    assert "1 row (see .skipped)" in log.summary()
    assert len(log) == 2 and len(log.until("2026-04-05")) == 1


def test_an_empty_table_holds_no_portions(tmp_path):
    log = read_text(tmp_path, HEAD)
    assert len(log) == 0 and log.findings == () and "no portions" in log.summary()


def test_to_frame_is_read_back_and_the_source_is_left_alone(tmp_path):
    table = pd.DataFrame({"date": [DAY, DAY], "food": ["honey", "sugar water 15 %"],
                          "offered_mg": [20, 60.5], "left_mg": [3, np.nan],
                          "control_loss_mg": [-1, np.nan], "mood": ["good", ""]})  # fmt: skip
    before = table.copy()
    log = read_feeds(table, today=TODAY)
    pd.testing.assert_frame_equal(table, before)
    assert log.ignored_columns == ("mood",)
    again = read_feeds(log.to_frame(), today=TODAY)
    pd.testing.assert_frame_equal(again.frame, log.frame)


def test_how_it_shows_itself():
    log = one()
    assert repr(log) == "<FeedLog 'feeds': 1 portion on 1 date, 2026-04-02 to 2026-04-02>"
    assert str(log) == log.summary() and "honey" in log._repr_html_()
    with pytest.raises(FrozenInstanceError):
        log.name = "other"
    assert ag.read_feeds is read_feeds and ag.FeedLog is FeedLog
