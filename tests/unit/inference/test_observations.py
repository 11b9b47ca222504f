"""What a keeper's notes say to the growth model: cells become bounds on evenings."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.errors import LogError
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.likelihood import ROUGH, Observations
from antgrowth.inference.observations import held_at_first, observations_of

ANT = ag.load_species("lasius-niger")
DAYS = {"2026-07-04": 1, "2026-07-20": 17, "2026-08-01": 29, "2026-08-14": 42}
"""Dates of the logs below, and their evenings in days from the founding on 4 July."""

STAGES = {
    "eggs": [1, 0, 0, 0, 0],
    "larvae": [0, 1, 0, 0, 0],
    "pupae": [0, 0, 1, 0, 0],
    "workers": [0, 0, 0, 1, 0],
    "brood": [1, 1, 1, 0, 0],
}
DEAD = [0, 0, 0, 0, 1]


def read(cells: dict[str, list], dates: list[str] | None = None) -> ag.CountLog:
    rows = max(len(column) for column in cells.values())
    table = pd.DataFrame({"date": (dates or list(DAYS))[:rows]} | cells)
    return ag.read_counts(table, today="2027-07-01", name="invented")


def history(
    day_zero: str, changes: ag.ChangeLog | None = None, founded: bool = True
) -> ColonyHistory:
    return ColonyHistory(ANT, ag.constant(25), pd.Timestamp(day_zero), founded, changes, 1)


def founded(log: ag.CountLog, changes: ag.ChangeLog | None = None) -> Observations:
    return observations_of(log, history("2026-07-04", changes))


def told(seen: Observations) -> list[tuple[int, list[float], float, float]]:
    """Evening, stages and bounds of each cell."""
    cells = zip(seen.cells.days, seen.cells.stages, seen.low, seen.high, strict=True)
    return [(int(day), stages.tolist(), low, high) for day, stages, low, high in cells]


def test_nobody_leaves_before_any_was_seen():
    log = read({"eggs": [0, 9, "", 9], "workers": ["", "", "", "first"]})
    rows = {"date": ["2026-07-15", "2026-08-10"], "stage": "workers", "change": ["-5", "-1"]}
    changes = ag.read_changes(pd.DataFrame(rows), name="changes.csv", today="2027-07-01")
    with pytest.raises(LogError) as caught:
        founded(log, changes)
    assert str(caught.value) == (
        "changes.csv, row 2 (2026-07-15): workers = -5, but invented has the first of them on "
        "2026-08-14 and none at the look of 2026-07-20. Correct the date or the stage, or delete "
        "the row."
    )
    rows["change"] = ["+5", "-1"]
    founded(log, ag.read_changes(pd.DataFrame(rows), today="2027-07-01"))


class TestCells:
    @pytest.mark.parametrize(
        ("written", "low", "high", "error"),
        [
            ("12", 12, 12, 1.0),
            ("0", 0, 0, 1.0),
            ("~12", 12, 12, ROUGH),
            ("10-15", 10, 15, 1.0),
            ("30+", 30, np.inf, 1.0),
            (">=30", 30, np.inf, 1.0),
            (">30", 31, np.inf, 1.0),
            ("<5", 0, 4, 1.0),
            ("<=5", 0, 5, 1.0),
        ],
    )
    def test_each_kind(self, written, low, high, error):
        seen = founded(read({"eggs": ["", written]}))
        assert told(seen) == [(17, STAGES["eggs"], low, high)]
        assert seen.rough.tolist() == [error]

    @pytest.mark.parametrize("column", STAGES)
    def test_each_column(self, column):
        assert told(founded(read({column: ["", "7"]}))) == [(17, STAGES[column], 7, 7)]

    def test_only_a_number_is_exact_and_none_is_a_bound(self):
        seen = founded(read({"eggs": ["0", "12", "~12", "10-15"]}))
        assert seen.exact.tolist() == [False, True, True, False]

    def test_counts_are_of_the_evening_and_empty_cells_say_nothing(self):
        seen = founded(read({"eggs": ["3", "", "9", ""], "workers": ["", "", "", "2"]}))
        assert told(seen) == [
            (1, STAGES["eggs"], 3, 3), (29, STAGES["eggs"], 9, 9), (42, STAGES["workers"], 2, 2),
        ]  # fmt: skip

    def test_the_first_note_of_an_acquired_colony_is_its_first_evening(self):
        seen = observations_of(read({"workers": ["12"]}), history("2026-07-04", founded=False))
        assert told(seen) == [(1, STAGES["workers"], 12, 12)]


class TestFirstSightings:
    def test_one_now_and_none_at_the_last_look(self):
        seen = founded(read({"eggs": ["4", "9", ""], "larvae": ["", "", "first"]}))
        assert told(seen)[2:] == [
            (29, STAGES["larvae"], 1, np.inf), (17, STAGES["larvae"], 0, 0),
        ]  # fmt: skip
        assert seen.rough.tolist() == [1.0] * 4

    def test_a_look_with_a_note_alone_is_a_look(self):
        seen = founded(read({"note": ["", "nothing new", ""], "larvae": ["", "", "first"]}))
        assert told(seen) == [(29, STAGES["larvae"], 1, np.inf), (17, STAGES["larvae"], 0, 0)]

    @pytest.mark.parametrize(("written", "low", "high"), [("0", 0, 0), ("<2", 0, 1)])
    def test_a_last_look_that_was_counted_speaks_for_itself(self, written, low, high):
        seen = founded(read({"larvae": ["", written, "first"]}))
        assert told(seen) == [
            (17, STAGES["larvae"], low, high), (29, STAGES["larvae"], 1, np.inf),
        ]  # fmt: skip

    def test_another_stage_counted_at_the_last_look_does_not(self):
        seen = founded(read({"eggs": ["", "9", ""], "larvae": ["", "", "first"]}))
        assert (17, STAGES["larvae"], 0, 0) in told(seen)

    def test_without_a_look_before_there_is_no_none(self):
        assert told(founded(read({"eggs": ["first"]}))) == [(1, STAGES["eggs"], 1, np.inf)]

    def test_a_last_look_before_the_first_known_day_says_nothing_of_it(self):
        log = read({"note": ["alone", ""], "eggs": ["", "first"]}).between("2026-07-10", None)
        assert told(observations_of(log, history("2026-07-10"))) == [
            (11, STAGES["eggs"], 1, np.inf)
        ]

    def test_several_on_one_day(self):
        seen = founded(read({"note": ["", "look", ""], "eggs": ["", "", "first"],
                             "workers": ["", "", "first"]}))  # fmt: skip
        assert sorted(day for day, *_ in told(seen)) == [17, 17, 29, 29]


class TestFoundDead:
    LOG = read({"workers": ["", "5", "8", "9"]})

    def changes(self, *rows: tuple[str, str, str, str]) -> ag.ChangeLog:
        table = pd.DataFrame(list(rows), columns=["date", "stage", "change", "reason"])
        return ag.read_changes(table, today="2027-07-01")

    def test_so_many_at_least_have_died_by_then(self):
        changes = self.changes(
            ("2026-07-25", "workers", "3", "found dead"),
            ("2026-08-05", "workers", "-2", "found dead"),
            ("2026-08-14", "workers", "1", "found dead"),
        )
        seen = founded(self.LOG, changes)
        assert told(seen)[3:] == [
            (22, DEAD, 3, np.inf), (33, DEAD, 5, np.inf), (42, DEAD, 6, np.inf),
        ]  # fmt: skip
        assert seen.rough.tolist() == [1.0] * 6

    def test_they_come_after_first_sightings(self):
        log = read({"note": ["", "look", ""], "workers": ["", "", "first"]})
        seen = founded(log, self.changes(("2026-08-01", "workers", "1", "found dead")))
        assert seen.cells.stages.tolist() == [STAGES["workers"], STAGES["workers"], DEAD]

    def test_after_the_last_note_they_wait_for_the_next(self):
        changes = self.changes(("2026-08-15", "workers", "3", "found dead"))
        assert len(founded(self.LOG, changes).low) == 3

    def test_other_changes_are_no_observations(self):
        changes = self.changes(
            ("2026-07-25", "workers", "-3", "escaped"), ("2026-07-25", "pupae", "+9", "adopted")
        )
        assert len(founded(self.LOG, changes).low) == 3


class TestHeldAtFirst:
    def test_numbers_and_the_middle_of_ranges(self):
        log = read(
            {"eggs": ["10-15", "2"], "larvae": ["~8", ""], "pupae": ["<5", ""], "workers": ["", 9]}
        )
        assert held_at_first(log) == pytest.approx([12.5, 8, 2, np.nan, np.nan], nan_ok=True)

    def test_at_least_counts_as_that_many(self):
        log = read({"workers": ["30+"], "brood": ["first"]})
        assert held_at_first(log) == pytest.approx([np.nan] * 3 + [30, 1], nan_ok=True)
