"""Rests to come: planned, needed, skipped; and what a temperature goes on as."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.climate.dormancy import (
    DormancySchedule,
    add_rests,
    continue_plan,
    dormancy_schedule,
    seasons_without_rest,
)
from antgrowth.errors import TemperatureError

NIGER, OECOPHYLLA = ag.load_species("lasius-niger"), ag.load_species("oecophylla-smaragdina")


def day(text: str) -> np.datetime64:
    return np.datetime64(text, "D")


def record(first: str, *parts: tuple[int, float]) -> ag.Temperature:
    """A record by the hour: so many days at a temperature, and so on."""
    hours_c = np.concatenate([np.full(24 * days, celsius) for days, celsius in parts])
    time = pd.date_range(first, periods=len(hours_c), freq="h")
    return ag.read_temperature(pd.DataFrame({"time": time, "temperature_c": hours_c}))


SCHEDULE = DormancySchedule("10-15", "03-01", 10.0, "usual for Lasius niger")


class TestSchedule:
    def test_of_the_profile(self):
        warm = ag.constant(25)
        found = dormancy_schedule(NIGER, "north", warm, day("2026-07-04"), day("2026-09-03"))
        assert found == SCHEDULE
        unsaid = dormancy_schedule(NIGER, None, warm, day("2026-07-04"), day("2026-09-03"))
        assert (unsaid.start, unsaid.end) == ("10-15", "03-01")
        assert unsaid.words == "usual for Lasius niger in the northern hemisphere"

    def test_half_a_year_later_in_the_south(self):
        found = dormancy_schedule(
            NIGER, "south", ag.constant(25), day("2026-07-04"), day("2026-09-03")
        )
        assert (found.start, found.end) == ("04-15", "09-01")

    def test_none_is_needed(self):
        assert (
            dormancy_schedule(
                OECOPHYLLA, None, ag.constant(25), day("2026-01-01"), day("2027-01-01")
            )
            is None
        )

    def test_the_last_one_of_the_colony_itself(self):
        lived = record("2025-07-01", (150, 24.0), (80, 7.0), (60, 23.0))
        lived = lived.rest("2025-11-28", "2026-02-16")
        found = dormancy_schedule(NIGER, "south", lived, day("2025-07-01"), day("2026-04-15"))
        assert found == DormancySchedule("11-28", "02-16", 7.0, "as the rest of 2025")

    def test_a_warm_one_by_an_internal_timer_stays_warm(self):
        lived = ag.constant(22).rest("2025-10-01", "2026-01-20")
        found = dormancy_schedule(NIGER, None, lived, day("2025-07-01"), day("2026-04-15"))
        assert (found.start, found.end, found.temperature_c) == ("10-01", "01-20", 22.0)

    def test_a_short_pause_is_no_habit(self):
        lived = ag.constant(22).rest("2025-10-01", "2025-10-20")
        assert (
            dormancy_schedule(NIGER, "north", lived, day("2025-07-01"), day("2026-04-15"))
            == SCHEDULE
        )

    def test_one_that_was_on_when_the_colony_came(self):
        lived = ag.constant(24).rest("2025-11-15", "2026-03-01", 8)
        found = dormancy_schedule(NIGER, None, lived, day("2026-01-10"), day("2026-06-10"))
        assert found == DormancySchedule("11-15", "03-01", 8.0, "as the rest of 2025")
        before = dormancy_schedule(NIGER, "north", lived, day("2026-03-05"), day("2026-06-10"))
        assert before == SCHEDULE  # over before it came: not its own

    def test_a_profile_may_name_a_leap_day(self):
        leap = replace(NIGER, rest=replace(NIGER.rest, end="02-29"))
        found = dormancy_schedule(
            leap, "north", ag.constant(25), day("2026-07-04"), day("2026-09-03")
        )
        assert (found.start, found.end) == ("10-15", "03-01")

    def test_seasons(self):
        winter = (day("2026-10-15"), day("2027-03-01"))
        assert SCHEDULE.seasons(day("2026-09-03"), day("2026-10-14")) == []
        assert SCHEDULE.seasons(day("2026-09-03"), day("2026-10-15")) == [winter]
        assert SCHEDULE.seasons(day("2027-02-28"), day("2027-05-01")) == [winter]
        assert SCHEDULE.seasons(day("2027-03-01"), day("2027-05-01")) == []
        assert len(SCHEDULE.seasons(day("2026-09-03"), day("2028-12-01"))) == 3
        within = DormancySchedule("04-15", "09-01", 10.0, "")
        assert within.seasons(day("2027-01-01"), day("2027-12-31")) == [
            (day("2027-04-15"), day("2027-09-01"))
        ]

    def test_leap_days(self):
        leap = DormancySchedule("11-15", "02-29", 10.0, "")
        ends = [stop for _, stop in leap.seasons(day("2026-11-01"), day("2028-03-01"))]
        assert ends == [day("2027-03-01"), day("2028-02-29")]


def continued(lived: ag.Temperature, ant: ag.Species, until: np.datetime64):
    """A temperature that goes on, and what is said of it."""
    found = continue_plan(lived, ant, until)
    return found.temperature, found.describe()


class TestContinued:
    def test_a_plan_without_end_is_kept(self):
        plan = ag.constant(24)
        found = continue_plan(plan, NIGER, day("2030-01-01"))
        assert found.temperature is plan and found.describe() == "constant 24.0 °C"

    def test_a_record_that_reaches_is_kept(self):
        lived = record("2026-07-01", (30, 24.0))
        assert continue_plan(lived, NIGER, day("2026-07-30")).temperature is lived

    def test_a_rest_planned_for_later_stays(self):
        lived = record("2026-07-01", (90, 24.0)).rest("2026-11-15", "2027-02-15", temperature=8)
        ahead, words = continued(lived, NIGER, day("2027-06-01"))
        hours = ahead.hours("2026-07-01", 336).mean(axis=1)
        resting = ahead.resting("2026-07-01", 336)
        assert resting.sum() == 92
        assert np.all(hours[resting] == 8.0) and np.all(hours[~resting] == 24.0)
        assert words == (
            "mean of 14 days, 2026-09-15 to 2026-09-28, repeated daily: mean 24.0 °C, 24.0 to 24.0;"
            " rest from 2026-11-15 until 2027-02-15 at 8.0 °C, as planned"
        )

    def test_a_rest_planned_without_a_temperature_is_as_cool_as_the_profile_says(self):
        lived = record("2026-07-01", (90, 24.0)).rest("2026-11-15", "2027-02-15")
        ahead, words = continued(lived, NIGER, day("2027-06-01"))
        assert ahead.hours("2026-12-01", 1)[0, 0] == 10.0
        assert "until 2027-02-15 at 10.0 °C, as planned" in words

    def test_after_a_rest_it_is_as_warm_as_before(self):
        lived = record("2026-07-01", (100, 24.0), (30, 7.0)).rest("2026-10-09", "2027-02-01")
        ahead, words = continued(lived, NIGER, day("2027-06-01"))
        hours = ahead.hours("2026-10-01", 200).mean(axis=1)
        assert np.all(hours[8:123] == 7.0)  # the cellar stays as it is until the rest is over
        assert np.all(hours[123:] == 24.0)
        assert words.startswith("mean of 14 days, 2026-09-25 to 2026-10-08")

    def test_a_record_of_a_rest_alone(self):
        lived = record("2026-12-01", (30, 7.0)).rest("2026-11-01", "2027-02-01")
        ahead, words = continued(lived, NIGER, day("2027-06-01"))
        assert ahead.hours("2027-01-20", 1)[0, 0] == 7.0
        assert ahead.hours("2027-02-01", 1)[0, 0] == NIGER.value("development.reference_c")
        assert words.startswith("constant 25.0 °C; rest from 2026-12-31 until 2027-02-01")

    def test_gaps_within_the_record_are_not_filled(self):
        gappy = record("2026-07-01", (10, 24.0)).then("2026-07-20", record("2026-07-20", (5, 24.0)))
        ahead, _ = continued(gappy, NIGER, day("2026-08-30"))
        with pytest.raises(TemperatureError, match="has 1 gap"):
            ahead.hours("2026-07-01", 40)

    def test_it_describes_itself(self):
        ahead, _ = continued(record("2026-07-01", (30, 24.0)), NIGER, day("2026-09-01"))
        assert ahead.describe() == (
            "720 readings, 2026-07-01 to 2026-07-30, mean 24.0 °C, 24.0 to 24.0; then from "
            "2026-07-31 mean of 14 days, 2026-07-17 to 2026-07-30, repeated daily: mean 24.0 °C, "
            "24.0 to 24.0"
        )
        assert ahead.covers() == (pd.Timestamp("2026-07-01"), None)
        assert ahead.changes() == (day("2026-07-31"),)
        assert np.isnan(ahead.humidity("2026-07-01", 40)).all()


class TestRests:
    def put(self, plan: ag.Temperature, first: str, days: int) -> tuple[ag.Temperature, str]:
        rested, rests = add_rests(plan, SCHEDULE, 12.0, day(first), days)
        return rested, "".join(rest.words() for rest in rests)

    def test_each_season_without_one_gets_one(self):
        plan, words = self.put(ag.constant(24), "2026-09-04", 600)
        assert plan.resting("2026-09-04", 600).sum() == 137 + 138  # 2028 is a leap year
        assert plan.hours("2026-12-24", 1)[0, 0] == 10.0
        assert words.count("; rest from") == 2

    def test_a_rest_near_the_season_is_the_rest_of_it(self):
        plan = ag.constant(24).rest("2027-01-15", "2027-04-15", 5)
        assert self.put(plan, "2026-09-04", 300) == (plan, "")
        assert seasons_without_rest(plan, SCHEDULE, day("2026-09-04"), 300) == []
        spring = ag.constant(24).rest("2027-05-10", "2027-06-20", 5)
        assert len(seasons_without_rest(spring, SCHEDULE, day("2026-09-04"), 300)) == 1

    @pytest.mark.parametrize("days", [1, 8, 24])
    def test_a_pause_or_a_rest_broken_off_is_none(self, days):
        end = day("2026-10-15") + days
        plan = ag.constant(24).rest("2026-10-15", str(end), 5)
        assert len(seasons_without_rest(plan, SCHEDULE, end, 300)) == 1
        plan, words = self.put(plan, str(end), 300)
        assert words.startswith(f"; rest from {end} until 2027-03-01 at 10.0 °C")

    def test_a_cold_room_keeps_its_temperature(self):
        room = ag.monthly_normals([2, 2, 6, 10, 16, 20, 22, 21, 17, 11, 6, 3])
        plan, words = self.put(room, "2026-09-04", 300)
        assert plan.resting("2026-09-04", 300).sum() == 137
        assert plan.hours("2026-12-24", 1) == pytest.approx(room.hours("2026-12-24", 1))
        assert f"at {room.hours('2026-10-15', 137).mean():.1f} °C" in words

    def test_a_season_that_is_on_starts_now_unless_half_of_it_is_over(self):
        plan, words = self.put(ag.constant(24), "2026-11-20", 200)
        assert words == "; rest from 2026-11-20 until 2027-03-01 at 10.0 °C, usual for Lasius niger"
        plan, words = self.put(ag.constant(24), "2027-01-20", 100)
        assert words == (
            "; no rest until 2027-03-01, usual for Lasius niger: it seems to be skipped"
        )
        assert not plan.resting("2027-01-20", 100).any()


class TestTypicalDay:
    def test_days_of_rest_do_not_count(self):
        lived = record("2026-07-01", (40, 24.0), (60, 7.0), (4, 20.0))
        lived = lived.rest("2026-08-10", "2026-10-09")
        during, after = lived.typical_day("2026-09-20"), lived.typical_day("2026-10-12")
        assert during.describe().startswith("mean of 14 days, 2026-07-27 to 2026-08-09")
        assert during.hours("2027-01-01", 1).mean() == 24.0
        assert after.describe().startswith("mean of 4 days, 2026-10-09 to 2026-10-12")
        assert after.hours("2027-01-01", 1).mean() == 20.0

    def test_nothing_but_rest(self):
        lived = record("2026-11-01", (40, 7.0)).rest("2026-11-01", "2027-02-01")
        with pytest.raises(TemperatureError) as caught:
            lived.typical_day("2026-12-05")
        assert str(caught.value) == (
            "typical_day: no day without rest is known in the year before 2026-12-05. Give the "
            'temperature to come: temps.then("2027-03-01", ag.constant(24.0)).'
        )
