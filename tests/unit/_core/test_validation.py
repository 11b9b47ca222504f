"""Tables of keys: every fault is told, where it stands, what was found and what is allowed."""

from __future__ import annotations

import numpy as np
import pytest

from antgrowth._core.validation import (
    FLAG,
    TEXT,
    WORDS,
    Table,
    Value,
    as_celsius,
    as_whole,
    each,
    is_number,
    is_whole,
    one_of,
    read_by,
    tables_of,
    unchecked,
    whole,
)
from antgrowth.errors import TemperatureError

SOUND = Value("a colour", lambda found: found in ("red", "blue"), "Choose one.", ("red", "blue"))
INNER = Table({"lid": FLAG, "warm_c": read_by(as_celsius)}, needed={"lid": "true"})
TABLE = Table(
    {"name": TEXT, "colour": SOUND, "box": INNER, "boxes": tables_of(INNER), "more": unchecked}
)


def faults(found: object, check=TABLE, where: str = "") -> list[str]:
    return list(check(found, where))


def test_nothing_wrong():
    box = {"lid": True, "warm_c": 24}
    assert faults({"name": "a", "colour": "red", "box": box, "boxes": [box, box], "more": 1}) == []
    assert faults({}) == []


def test_each_fault_at_its_place_in_the_order_of_the_file():
    found = {"colour": "rad", "boxes": [{"lid": 1}, {"warm_c": 99}], "nme": 1, "name": " "}
    assert faults(found) == [
        "colour = 'rad'. Allowed: a colour. Did you mean red? Choose one.",
        "boxes.lid = 1. Allowed: true or false, without quotes.",
        "boxes.warm_c = 99. Give a number from -40 to 70 °C; from °F it is (°F - 32) * 5 / 9.",
        "boxes.lid is missing. Add it, such as lid = true.",
        "nme: no such key. Did you mean name? Allowed: name, colour, box, boxes, more.",
        "name = ' '. Allowed: a text in quotes. Write it.",
    ]


def test_what_is_no_table():
    (fault,) = faults({"box": 5})
    assert fault == (
        "box = 5. This is a table: write a line [box] and its keys (lid, warm_c) below it."
    )


def test_what_is_surely_meant_comes_before_what_is_spelled_alike():
    code = Value("a code", lambda found: found == "GB", options=("UA",), meant={"UK": "GB"})
    assert code.fault("UK") == "Allowed: a code. Did you mean GB?"
    assert code.fault("GB") == ""


def test_lists():
    colours = each(SOUND.fault, "colour")
    assert faults(["red", "blue"], colours, "x") == []
    for empty in ([], "red", None):
        assert faults(empty, colours, "x") == [
            f"x = {empty!r}. Allowed: a list of at least one colour."
        ]
    assert faults(["red", 5], colours, "x") == ["x: 5. Allowed: a colour. Choose one."]


def test_words():
    assert faults("", WORDS, "x") == [] and len(faults(3, WORDS, "x")) == 1
    assert one_of("C", "F").fault("K") == "Allowed: C, F. Write one of them."
    assert one_of("C", "F").fault("F") == ""


@pytest.mark.parametrize("value", [True, np.True_, 1.0, "1", None, 0, 53])
def test_no_whole_number_within_bounds(value):
    assert whole(1, 52).fault(value) == "Allowed: a whole number from 1 to 52."


@pytest.mark.parametrize("value", [1, 52, np.int64(7)])
def test_whole_numbers_within_bounds(value):
    assert whole(1, 52).fault(value) == "" and whole(1).fault(value) == ""
    assert as_whole(value, "x", at_least=1) == value


def test_true_is_no_number():
    assert not is_whole(True) and not is_number(True) and is_number(1.5)
    with pytest.raises(TemperatureError, match="days = True. Use a whole number >= 0"):
        as_whole(True, "days", at_least=0)
