"""Feed logs: what was offered and what was left of it, read without guessing."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from antgrowth._core.arguments import NAME, SOURCE, optional, takes
from antgrowth._core.summary import Report
from antgrowth._core.text import counted, listed, near_miss
from antgrowth.food.constants import table
from antgrowth.food.energetics import RICHEST_PERCENT
from antgrowth.io.cells import CellFault, is_empty
from antgrowth.io.event_log import Cells, DatedLog, Schema

_MASSES = ("offered_mg", "left_mg", "control_loss_mg")
_SUGAR_WATER = re.compile(
    r"(?:(?P<before>[0-9.,]+)\s*%\s*)?sugar\s*water(?:\s*(?P<after>[0-9.,]+)\s*%)?"
)
_NUMBER = re.compile(r"([-+−]?)\s*([0-9]{1,7})(?:[.,]([0-9]+))?")
_MASS = "Write a mass in milligrams, such as 85 or 12.5"

SLACK_MG, SLACK_SHARE = 6.0, 0.2
"""What is left and what a control lost may exceed what was offered by so much, or by this share of
it: weighings stray, and no portion dries up just as its control does (assumed)."""


def _food(text: str) -> tuple[str, str, float]:
    """Read a food: its proper name, the need it serves, and the percent of sugar water."""
    name = " ".join(text.lower().split())
    kinds = list(dict.fromkeys(row["kind"] for row in table("prey")))
    if name == "honey":
        return name, "sugar", np.nan
    if name in kinds:
        return name, "protein", np.nan
    if match := _SUGAR_WATER.fullmatch(name):
        given = [part for part in match.groups() if part]
        try:
            percent = float(given[0].replace(",", ".")) if len(given) == 1 else np.nan
        except ValueError:
            percent = np.nan
        if not 0 < percent <= RICHEST_PERCENT:
            raise CellFault(
                "Say how strong it is, sugar by weight, above 0 and up to "
                f"{RICHEST_PERCENT:.0f} %, such as 20 % sugar water."
            )
        return f"{percent:g} % sugar water", "sugar", percent
    raise CellFault(
        f"Foods are 20 % sugar water (any strength), honey, {', '.join(kinds)}."
        f"{near_miss(name, ['honey', 'sugar water', *kinds])}"
    )


def _offered(text: str) -> float:
    mass = _mass(text)
    if not mass > 0:  # NaN, if nothing is written
        raise CellFault(f"{_MASS}, above 0.")
    return mass


def _left(text: str) -> float:
    mass = _mass(text)
    if mass < 0:
        raise CellFault(f"{_MASS}, at least 0; leave it empty if you did not weigh.")
    return mass


def _mass(text: str) -> float:
    """Read a mass [mg]; NaN if the cell is empty."""
    if is_empty(text):
        return np.nan
    match = _NUMBER.fullmatch(text)
    if not match:
        raise CellFault(f"{_MASS}; leave it empty if you did not weigh.")
    sign, digits, decimals = match.groups(default="")
    # 1.250 is a little in one country and much in another.
    if len(decimals) == 3 and digits.strip("0"):
        raise CellFault(
            f"It can be read two ways; write {sign}{digits}.{decimals[:2]} or "
            f"{sign}{digits}{decimals}."
        )
    mass = float(f"{digits}.{decimals or 0}")
    return -mass if sign in ("-", "−") else mass


def _contradiction(cells: dict[str, Any]) -> str:
    """What is impossible about the masses of one portion; empty if nothing is."""
    offered, left, dried = (cells[column] for column in _MASSES)
    excess, slack = left + dried - offered, max(SLACK_MG, SLACK_SHARE * offered)
    if dried > offered:
        return (
            f"control_loss_mg = {dried:g}, more than the {offered:g} mg offered. The control is a "
            "portion of the same size: scale its loss to that, or correct it."
        )
    if left > offered + slack and not dried < 0:
        return (
            f"left_mg = {left:g}, more than the {offered:g} mg offered. Correct it; or, if the "
            "food drew water, write how much a control drew as a control_loss_mg below 0."
        )
    if excess > slack:
        return (
            f"left_mg = {left:g} and control_loss_mg = {dried:g} add up to {excess:g} mg more than "
            f"the {offered:g} mg offered, beyond the errors of weighing. Correct them, or leave "
            "the one you doubt empty."
        )
    return ""


def _entry(day: date, cells: Cells) -> tuple[object, ...]:
    offered, left, dried = (cells[column] for column in _MASSES)
    return day, *cells["food"], offered, left, dried, offered - left - dried


_SCHEMA = Schema(
    kind="feeds",
    columns=("date", "food", *_MASSES),
    columns_are="date, food, offered_mg, left_mg and control_loss_mg",
    readers={
        "food": lambda text, cells: _food(text),
        "offered_mg": lambda text, cells: _offered(text),
        "left_mg": lambda text, cells: _left(text),
        "control_loss_mg": lambda text, cells: _mass(text),
    },
    types={
        "date": "datetime64[us]",
        "food": "str",
        "need": "str",
        "sugar_percent": "float64",
        **dict.fromkeys((*_MASSES, "eaten_mg"), "float64"),
        "row": "int64",
    },
    entry=_entry,
    no_date="Write the day it was offered, such as 2026-04-02.",
    nothing="no date and no food",
    repeated="the same date, food and masses. Delete one, or add the two portions up in one row.",
    remarks=dict.fromkeys(_MASSES[1:], " Its cells may be empty."),
    contradiction=_contradiction,
)


@dataclass(frozen=True, eq=False, repr=False)
class FeedLog(DatedLog):
    """What a colony was offered and what it left; made by `read_feeds`.

    Attributes
    ----------
    frame : DataFrame
        A row for each portion, by date. Columns: `date` it was offered; `food`; `need` it serves
        ("sugar" or "protein"); `sugar_percent` of sugar water by weight, else NaN; `offered_mg`,
        `left_mg`, `control_loss_mg` as written, NaN where empty; `eaten_mg`, offered less left less
        the control's loss, NaN where one of them is not known; `row`, its row in the file. Masses
        are of the food as it was offered, water and all. A small colony's `eaten_mg` can be below
        zero by the errors of weighing: it is kept so, for to cut it at zero would let such errors
        pass as appetite.
    skipped : DataFrame
        Rows of the file that hold no portion. Columns `row`, `column`, `text`, `reason`.
    ignored_columns : tuple of str
        Columns of the file that are not read.
    name : str
        Name of the log or of the file.
    """

    item = "portion"
    _schema = _SCHEMA

    @property
    def findings(self) -> tuple[str, ...]:
        """What is odd or missing, in sentences."""
        return tuple(_findings(self.frame))

    def summary_frame(self) -> pd.DataFrame:
        """Return by food: `portions`, `offered_mg`, and of those `weighed` what was `eaten_mg`."""
        by_food = self.frame.groupby("food", sort=False)
        return pd.DataFrame(
            {
                "portions": by_food.size(),
                "weighed": by_food["eaten_mg"].count(),
                "offered_mg": by_food["offered_mg"].sum(),
                "eaten_mg": by_food["eaten_mg"].sum(),
            }
        )

    def _report(self) -> Report:
        findings = (("", finding) for finding in self.findings)
        facts = (("data", self._extent()), *findings, *self._not_used())
        rows = tuple(
            (str(line.Index), str(line.portions), str(line.weighed), f"{line.offered_mg:.1f}",
             f"{line.eaten_mg:.1f}" if line.weighed else "")
            for line in self.summary_frame().itertuples()
        )  # fmt: skip
        head = ("food", "portions", "weighed", "offered, mg", "eaten of those weighed, mg")
        return Report(f"FeedLog: {self.name}", facts, head, "lrrrr", rows)


@takes(source=SOURCE, name=optional(NAME))
def read_feeds(
    source: str | os.PathLike[str] | pd.DataFrame, *, name: str | None = None, today: object = None
) -> FeedLog:
    """Read a feed log: what was offered, what was left of it, and what a control lost.

    Parameters
    ----------
    source : str, path or DataFrame
        A table of a kind that `read_counts` reads, its dates written in the same ways. Columns:
        `date`, `food`, `offered_mg`, `left_mg` and `control_loss_mg`; others are left alone. A
        table without rows holds no portions.
    name : str, optional
        Name of the log; by default the file name without its ending.
    today : str or date, optional
        No portion can be dated later than this; by default the present day.

    Returns
    -------
    log : FeedLog
        Every row of the source is in it, or listed in its `.skipped`.

    Raises
    ------
    LogError
        If anything is wrong or can be read in two ways; a line for each fault.

    Notes
    -----
    A food is ``20 % sugar water`` (or ``sugar water 20 %``; sugar by weight), ``honey``, or a kind
    of prey that `antgrowth.food.prey_kinds` lists. A row is one portion, dated by the day it was
    offered. Write down every portion of a need, the unweighed ones with their cells after
    `offered_mg` empty: a portion is taken to have fed the colony until the next one.

    The control is a second portion of the same size, beside the first where no ant reaches it:
    `control_loss_mg` is what it lost by drying, below zero if it drew water, as honey does. Write 0
    only if you know that it lost nothing. An empty cell means that nobody weighed: then what was
    eaten is not known.

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame({"date": ["2026-08-01", "2026-08-03"],
    ...                       "food": ["20 % sugar water", "fruit fly"], "offered_mg": [60, 8],
    ...                       "left_mg": [31.5, 4.5], "control_loss_mg": [12, 1.5]})
    >>> print(read_feeds(table, name="invented", today="2026-09-01"))
    FeedLog: invented
    data  2 portions on 2 dates, 2026-08-01 to 2026-08-03
    food              portions  weighed  offered, mg  eaten of those weighed, mg
    20 % sugar water         1        1         60.0                        16.5
    fruit fly                1        1          8.0                         2.0
    """
    return FeedLog._read(source, name, today)


def _findings(frame: pd.DataFrame) -> list[str]:
    found = []
    below = frame[frame["eaten_mg"] < 0]
    if len(below):
        rows = listed(f"row {row}" for row in below["row"])
        found.append(
            f"left and the control's loss add up to more than was offered, by up to "
            f"{-below['eaten_mg'].min():.1f} mg: {rows}. That is within the errors of weighing, "
            "and kept as it is"
        )
    unweighed = int(frame["left_mg"].isna().sum())
    if unweighed:
        found.append(f"what was left of {counted(unweighed, 'portion')} was not weighed")
    bare = int((frame["control_loss_mg"].isna() & frame["left_mg"].notna()).sum())
    if bare:
        found.append(
            f"{counted(bare, 'portion')} without a control: how much dried up is not known, nor "
            "how much was eaten"
        )
    return found
