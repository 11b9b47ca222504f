"""Things that nobody should give, and what must hold whatever is given.

Each example of a property counts itself by `tried`, and the end of a test run prints their number.
"""

from __future__ import annotations

import contextlib
import datetime
import decimal
import json
import time
from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
from hypothesis import settings, strategies as st

from antgrowth.errors import AntgrowthError

LONGEST_SECONDS = 20.0

COUNT = {"tried": 0}


def inputs(usual: int, searched: int) -> settings:
    """So many examples each time, and so many where new ones are searched for."""
    searching = not settings.default.derandomize
    return settings(max_examples=searched if searching else usual, deadline=None)


@contextlib.contextmanager
def told_or_fine() -> Iterator[None]:
    """What goes wrong is told by the package, in words, and nobody waits for long."""
    COUNT["tried"] += 1
    begun = time.monotonic()
    try:
        yield
    except AntgrowthError as error:
        assert str(error).strip(), "an error without a word"
    assert time.monotonic() - begun < LONGEST_SECONDS


def nested(depth: int) -> list[Any]:
    found: list[Any] = []
    for _ in range(depth):
        found = [found]
    return found


ODD: tuple[Any, ...] = (
    None, True, False, "", " ", "x", "x" * 5000, "a\0b", "９", "12", "~nobody/x", -1, 0, 1, 0.5,
    2.5, float("nan"), float("inf"), -float("inf"), 1e308, 5e-324, 10**9, 10**30, 10**60, 10**400,
    10**5000, -(10**60), np.array([1, 2]), np.array([]), np.array(["a"]), np.array(3),
    np.float32(2), np.int64(3), np.bool_(True), [], [None], ["x"], [1.0] * 30, {}, {"a": 1},
    {"x": None}, {1: 2}, (), object(), b"x", pd.NaT, pd.NA, pd.Timestamp.min, pd.Timestamp.max,
    pd.Timestamp("2026-07-01", tz="UTC"), datetime.date.min, datetime.date.max,
    datetime.date(1900, 1, 1), np.datetime64("NaT"), np.datetime64(10**12, "D"), 1j,
    decimal.Decimal("NaN"), decimal.Decimal(2), pd.DataFrame(), pd.Series([1, 2]), set(), len, int,
    nested(2000), "2026-13-45", "9999-12-31", "0001-01-01", "2026-07-01", "/", range(3),
)  # fmt: skip

odd = st.one_of(
    st.sampled_from(ODD),
    st.integers(),
    st.floats(),
    st.text(max_size=12),
    st.lists(st.none() | st.integers() | st.text(max_size=3), max_size=4),
    st.dates(),
)


class Raw(str):
    """A value as it stands in a TOML file, such as a date without quotes."""


ODD_TOML: tuple[Any, ...] = (
    True, False, "", [], {}, 0, -1, 1, 2, 0.5, 99, 1e300, -1e300, 1e-300, 10**30, 10**400,
    10**6 + 1, Raw("9" * 5000), Raw("0x" + "f" * 400), Raw("1e400"), "x", "24", "２４", "9" * 60,
    [1], [[1]], ["x"], [True], {"a": 1}, {"value": 1}, "2026-13-01", "9999-12-31", "1900-01-01",
    "0001-01-01", Raw("0001-01-01"), Raw("1900-01-01"), Raw("9999-12-31"), Raw("nan"), Raw("inf"),
    Raw("-inf"), Raw("1979-05-27T07:32:00"), Raw("07:32:00"), nested(300), "<script>", "a\nb",
    "\u202e", "DE", ["DE"], [["DE"]],
)  # fmt: skip

odd_toml = st.sampled_from(ODD_TOML) | st.integers() | st.text(max_size=8)


def as_toml_value(found: Any) -> str:
    if isinstance(found, Raw):
        return str(found)
    if isinstance(found, bool):
        return str(found).lower()
    if isinstance(found, str):
        return json.dumps(found).replace("\x7f", "\\u007f")
    if isinstance(found, dict):
        return (
            "{" + ", ".join(f"{json.dumps(k)} = {as_toml_value(v)}" for k, v in found.items()) + "}"
        )
    if isinstance(found, list):
        return "[" + ", ".join(map(as_toml_value, found)) + "]"
    return repr(found)


def as_toml_file(table: dict[str, Any]) -> str:
    return "".join(f"{json.dumps(key)} = {as_toml_value(value)}\n" for key, value in table.items())


def places(tree: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place of a tree of tables and lists."""
    if isinstance(tree, dict):
        inner = list(tree.items())
    else:
        inner = list(enumerate(tree)) if isinstance(tree, list) else []
    for key, value in inner:
        yield (*at, key)
        yield from places(value, (*at, key))


def kinds_of_places(tree: Any) -> list[list[tuple[Any, ...]]]:
    """Places that differ by their number in a list only, together: each kind is as likely."""
    kinds: dict[tuple[Any, ...], list[tuple[Any, ...]]] = {}
    for place in places(tree):
        kinds.setdefault(tuple(k if isinstance(k, str) else 0 for k in place), []).append(place)
    return list(kinds.values())


def changed(tree: Any, place: tuple[Any, ...], change: str, value: Any) -> None:
    """Change a tree at one place: what stands there is removed, doubled or another value."""
    holder = tree
    for key in place[:-1]:
        holder = holder[key]
    key = place[-1]
    if change == "removed":
        del holder[key]
    elif change == "doubled" and isinstance(holder, list):
        holder.append(holder[key])
    elif change == "doubled":
        holder["of no use"] = holder[key]
    elif change == "scaled" and isinstance(holder[key], float):
        holder[key] *= value if isinstance(value, int) and abs(value) < 10**9 else -1.0
    else:
        holder[key] = value


CHANGES = st.sampled_from(["removed", "doubled", "scaled", "another", "another", "another"])
