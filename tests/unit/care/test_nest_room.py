"""Nest room: when nests are full, when to offer the next, and what size suits."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from grown_ahead import DRAWS, day, growing, grown
from matplotlib import dates as mdates

import antgrowth as ag
from antgrowth.care.nest_room import AT_ONCE, MOVING_DAYS
from antgrowth.care.nests import published_space
from antgrowth.errors import AntgrowthError

TUBE = {"name": "tube", "workers": 25}


def room(*nests: dict) -> ag.NestRoom:
    return ag.nest_room(grown(), nests)


class TestFull:
    def test_the_date_is_that_of_the_workers(self):
        ahead = grown()
        line = room(TUBE).frame().iloc[0]
        arrival = ahead.arrival(25)
        assert (line["full_first"], line["full_last"]) == arrival.interval()
        assert line["full_median"] == arrival.median == day(24 + 50)  # colony 50 of 0 to 100
        assert line["chance"] == 1 and line["basis"] == "set by the keeper"

    def test_the_next_is_offered_a_move_before_the_earliest_date(self):
        line = room(TUBE).frame().iloc[0]
        assert line["full_first"] - line["offer_next"] == pd.Timedelta(days=MOVING_DAYS)

    def test_never_offered_before_the_last_note(self):
        line = room({"name": "vial", "workers": 2}).frame().iloc[0]
        assert line["offer_next"] == grown().start

    def test_several_in_sequence_are_full_one_after_the_other(self):
        found = room(TUBE, {"name": "small", "workers": 60}, {"name": "large", "workers": 150})
        days = found.frame()["full_median"]
        assert days.is_monotonic_increasing
        assert found.present.nest.name == "tube" and found.following.nest.name == "small"

    def test_joined_nests_add_up(self):
        found = room(TUBE, {"name": "second", "workers": 35, "joined": True})
        assert found.stages[1].low == found.stages[1].high == 60
        assert found.frame()["full_median"][1] == grown().arrival(60).median

    def test_the_present_one_is_the_first_that_is_not_full(self):
        full = growing(grown(), np.full(301, 30))
        found = ag.nest_room(full, [TUBE, {"name": "small", "workers": 60}])
        assert found.present.nest.name == "small" and found.following is None
        assert "tube (25 workers): full already by 2026-08-14." in found.sentences()
        assert "small (60 workers): hardly full before 2027-06-10" in found.sentences()[1]

    def test_beyond_the_horizon(self):
        line = room({"name": "hall", "workers": 10_000}).frame().iloc[0]
        assert line["chance"] == 0
        assert line[["full_first", "full_median", "full_last", "offer_next"]].isna().all()


class TestCapacity:
    def test_room_of_a_worker_is_the_keepers(self):
        (stage,) = room({"name": "a", "area_cm2": 60, "area_per_worker_cm2": 0.5}).stages
        assert stage.low == stage.high == 120
        assert stage.nest.basis == "set by the keeper: 0.5 cm² a worker"

    def test_unknown_room_is_the_published_range_and_named_so(self):
        (stage,) = room({"name": "a", "area_cm2": 60}).stages
        # 2 cm2 a worker of 6 mg, 0.05 one of 0.5 mg; by surface for 1.9 mg, and not 30 to 1,200.
        scaled = 60 / (2 * (1.9 / 6) ** (2 / 3)), 60 / (0.05 * (1.9 / 0.5) ** (2 / 3))
        assert (stage.low, stage.high) == pytest.approx(scaled)
        assert "scaled to workers of 1.9 mg (assumed)" in stage.nest.basis
        assert "published range of other ants" in stage.nest.basis
        assert "CERQ10, read" in stage.nest.basis and "FD97, memory" in stage.nest.basis
        assert "65 to 493" in room({"name": "a", "area_cm2": 60}).summary()

    def test_volumes_too(self):
        assert published_space("volume_cm3")[:2] == (0.002, 0.8)
        assert published_space("area_cm2")[:2] == (0.05, 2.0)
        (stage,) = room({"name": "a", "volume_cm3": 8}).stages
        assert (stage.low, stage.high) == pytest.approx(
            (8 / (0.8 * 1.9 / 0.71), 8 / (0.002 * 1.9 / 0.5))
        )

    def test_an_unknown_room_makes_wide_dates(self):
        known = room({"name": "a", "workers": 60}).stages[0].full.interval()
        guessed = room({"name": "a", "area_cm2": 10.0}).stages[0]
        held = guessed.nest.draw(2000, np.random.default_rng(1))
        assert held.min() >= 5 and held.max() <= 200
        assert np.median(held) == pytest.approx(np.sqrt(5 * 200), rel=0.1)  # even in orders
        first, last = guessed.full.interval()
        assert last - first > known[1] - known[0]

    def test_same_seed_same_dates(self):
        nests = [{"name": "a", "area_cm2": 10.0}]
        first, again = (ag.nest_room(grown(), nests).frame() for _ in range(2))
        pd.testing.assert_frame_equal(first, again)


class TestSize:
    def test_not_larger_than_three_times_the_need_at_once(self):
        # When the tube is full there are 25; 75 is allowed, 100 is too large at once.
        fine = room(TUBE, {"name": "next", "workers": 75}).stages[1]
        wide = room(TUBE, {"name": "next", "workers": 100}).stages[1]
        assert fine.need == 25 and fine.advice == ""
        assert wide.advice.startswith("Too much room at once")
        told = room(TUBE, {"name": "next", "workers": 100}).sentences()[1]
        assert told.endswith(f" {wide.advice}.")
        assert "here 25 workers). Close a part of it off at first" in wide.advice
        assert wide.advice in room(TUBE, {"name": "next", "workers": 100}).summary()

    def test_too_small(self):
        assert room(TUBE, {"name": "next", "workers": 20}).stages[1].advice.startswith("Too small")

    def test_what_comes_after_the_last(self):
        assert room(TUBE).next_size() == (50, 75) == tuple(factor * 25 for factor in AT_ONCE)
        assert "After tube: a nest for 50 to 75 workers" in room(TUBE).sentences()[-1]

    def test_need_beyond_the_horizon_is_not_known(self):
        found = room({"name": "hall", "workers": 10_000}, {"name": "next", "workers": 20_000})
        assert np.isnan(found.stages[1].need) and found.stages[1].advice == ""


class TestFaults:
    @pytest.mark.parametrize(
        ("nest", "message"),
        [
            ({"workers": 5}, "nests, table 1: name = None. Allowed: a text in quotes"),
            ({"name": "a"}, "nests a: no size. Allowed: one of workers, area_cm2, volume_cm3"),
            ({"name": "a", "workers": 5, "area_cm2": 3}, "workers and area_cm2. Allowed: one of"),
            ({"name": "a", "workers": 0}, "workers = 0. Allowed: a number above 0, up"),
            ({"name": "a", "workers": True}, "workers = True. Allowed: a number above 0,"),
            ({"name": "a", "worker": 5, "area_cm2": 5}, "worker: no such key. Did you mean work"),
            (
                {"name": "a", "workers": 5, "area_per_worker_cm2": 0.5},
                "area_per_worker_cm2: it goes with area_cm2. Add that, or remove it.",
            ),
            ({"name": "a", "workers": 5, "joined": "yes"}, "joined = 'yes'. Allowed: true or fal"),
        ],
    )
    def test_each_is_named(self, nest, message):
        with pytest.raises(AntgrowthError) as caught:
            room(nest)
        assert message in str(caught.value)

    def test_all_at_once(self):
        with pytest.raises(AntgrowthError) as caught:
            room({"name": "a", "workers": -1}, {"name": "b"})
        assert len(str(caught.value).splitlines()) == 2

    def test_none(self):
        with pytest.raises(AntgrowthError, match="nest_room: no nests. Give at least one"):
            room()

    def test_the_caller_keeps_what_was_given(self):
        nest = dict(TUBE)
        room(nest)
        assert nest == TUBE


def test_views():
    found = room(TUBE, {"name": "<b>$</b>", "workers": 60})
    assert repr(found).startswith("NestRoom(tube (25 workers): full ")
    assert "offer the next by" in found.summary() and str(found) == found.summary()
    assert "<b>$</b>" not in found._repr_html_() and "&lt;b&gt;" in found._repr_html_()
    assert len(found.stages[0].full.dates) == DRAWS


class TestPicture:
    def test_days_on_which_nests_are_full_stand_on_what_they_hold(self):
        found = room(TUBE, {"name": "small", "workers": 60})
        ax = found.plot()
        full = [line for line in ax.lines if line.get_label() == "most likely full"]
        assert [line.get_ydata()[0] for line in full] == [25, 60]
        days = [mdates.num2date(line.get_xdata()[0]).date() for line in full]
        assert days == [date.date() for date in found.frame()["full_median"]]
        assert ax.get_title(loc="left").startswith("tube is full ")

    def test_a_nest_of_unknown_room_does_not_press_the_colony(self):
        found = room(TUBE, {"name": "large", "area_cm2": 5000})
        most = found.forecast.frame().query("stage == 'workers'")["q95"].max()
        assert found.plot().get_ylim()[1] <= 1.3 * max(most, found.stages[-1].low)

    def test_full_already(self):
        found = room({"name": "vial", "workers": 1}, {"name": "tiny", "workers": 1})
        title = found.plot().get_title(loc="left")
        assert title.endswith("is full already") == (found.present.full.now > 0.5)
