"""The setting of a colony: its days, its queens, ants carried, and a past that nobody saw."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.errors import LogError, TemperatureGapError
from antgrowth.inference.history import FIRST_WEEK, HISTORY, QUEENS_POWER, Setting
from antgrowth.inference.prior import Prior, climate_of, usual_age
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Move

ANT = ag.load_species("lasius-niger")
NIGHT_AND_DAY = ag.day_night(28, 20)
HELD = np.array([9.0, np.nan, np.nan, 12.0, np.nan])
FOUNDED = "2026-07-04"


def changes(*rows: tuple[str, str, str] | tuple[str, str, str, str]) -> ag.ChangeLog:
    table = pd.DataFrame(
        [(*row, "")[:4] for row in rows], columns=["date", "stage", "change", "reason"]
    )
    return ag.read_changes(table, today="2027-07-01")


def founded(*rows, queens: int = 1, temperature: ag.Temperature = NIGHT_AND_DAY) -> Setting:
    log = changes(*rows) if rows else None
    return Setting.founded(ANT, temperature, pd.Timestamp(FOUNDED), log, queens)


def acquired(temperature: ag.Temperature, *rows, held: np.ndarray = HELD) -> Setting:
    log = changes(*rows) if rows else None
    return Setting.acquired(ANT, temperature, pd.Timestamp("2026-09-01"), held, log, 1)


def laying(setting: Setting, days: int = 30) -> np.ndarray:
    """Laying of each day relative to that of one queen."""
    one = founded(temperature=setting.temperature).climate(days)
    return (setting.climate(days).laying / one.laying)[5]


class TestFounded:
    def test_days_are_counted_from_the_founding(self):
        setting = founded()
        assert setting.past == 0 and setting.first_day == setting.day_zero
        assert setting.day_of(pd.Timestamp(FOUNDED)) == 0
        assert setting.day_of(pd.Timestamp("2026-08-04")) == 31

    def test_its_climate_is_that_of_the_species(self):
        found = founded().climate(12)
        expected = climate_of(ANT, NIGHT_AND_DAY.hours(FOUNDED, 12), np.zeros(12, bool))
        assert found.days == 12 and found.moves == ()
        for name in ("development", "laying", "ageing", "loss"):
            assert getattr(found, name) == pytest.approx(getattr(expected, name)), name

    def test_a_rest_stops_the_queen(self):
        plan = ag.constant(24).rest("2026-07-14", "2026-07-20", temperature=10)
        rests = founded(temperature=plan).climate(30).laying[5] == 0
        assert np.flatnonzero(rests).tolist() == list(range(10, 16))

    def test_another_temperature_for_the_future(self):
        warm = NIGHT_AND_DAY.then("2026-07-14", 28)
        now, then = founded().climate(20), founded().climate(20, warm)
        assert np.array_equal(now.ageing[:10], then.ageing[:10])
        assert np.all(then.ageing[10:] > now.ageing[10:])

    def test_days_without_a_temperature(self):
        readings = pd.DataFrame(
            {"time": pd.date_range(FOUNDED, periods=240, freq="h"), "temperature_c": 24.0}
        )
        setting = founded(temperature=ag.read_temperature(readings))
        assert setting.climate(10).days == 10
        with pytest.raises(TemperatureGapError, match="2026-07-13"):
            setting.climate(11)


class TestQueens:
    @pytest.mark.parametrize("queens", [1, 2, 5])
    def test_more_lay_more_and_less_than_in_proportion(self, queens):
        assert laying(founded(queens=queens)) == pytest.approx(np.full(30, queens**QUEENS_POWER))
        assert 0 < QUEENS_POWER < 1

    def test_one_lost_stops_laying_from_that_day_on(self):
        share = laying(founded(("2026-07-14", "queen", "-1", "died")))
        assert share.tolist() == [1.0] * 10 + [0.0] * 20

    def test_one_of_several_lost_and_another_added(self):
        share = laying(
            founded(("2026-07-14", "queens", "-1"), ("2026-07-24", "queens", "+2"), queens=2)
        )
        expected = np.repeat([2.0, 1.0, 3.0], 10) ** QUEENS_POWER
        assert share == pytest.approx(expected)

    def test_added_on_day_zero_counts_from_the_start(self):
        share = laying(founded((FOUNDED, "queen", "+1")))
        assert share == pytest.approx(np.full(30, 2**QUEENS_POWER))

    def test_as_many_lost_as_there_were(self):
        share = laying(founded(("2026-07-14", "queens", "-2"), queens=2))
        assert share[10:].tolist() == [0.0] * 20

    def test_more_lost_than_there_were(self):
        with pytest.raises(LogError) as caught:
            founded(
                ("2026-07-14", "queens", "-3"), ("2026-07-20", "queen", "+1"),
                ("2026-07-20", "queens", "-4"), queens=2,
            )  # fmt: skip
        wrong, later = str(caught.value).splitlines()
        assert wrong == (
            "changes, row 2 (2026-07-14): queens = -3, but 2 there. Write how many were lost, at "
            "most as many; if more were there from the start, say so with queens=."
        )
        assert later.startswith("changes, row 4 (2026-07-20): queens = -4, but 3 there.")

    def test_queens_are_not_carried_as_ants(self):
        assert founded(("2026-07-14", "queen", "-1")).climate(30).moves == ()


class TestMoves:
    def test_in_the_nest_on_the_evening_of_their_date(self):
        moves = (
            founded(
                ("2026-07-14", "cocoons", "+30", "adopted"),
                ("2026-07-20", "workers", "-6", "escaped"),
            )
            .climate(30)
            .moves
        )
        assert moves == (Move(11, 2, 30), Move(17, 3, -6))

    def test_each_stage(self):
        rows = [("2026-07-14", stage, "+1") for stage in ("eggs", "larvae", "pupae", "workers")]
        assert [move.stage for move in founded(*rows).climate(30).moves] == [0, 1, 2, 3]

    def test_found_dead_are_never_subtracted(self):
        assert founded(("2026-07-14", "workers", "4", "found dead")).climate(30).moves == ()

    def test_found_dead_leave_expected_growth_as_it_is(self):
        # They died as workers do in the model: taken away again, they would be missing twice.
        prior = Prior.of(ANT)
        laws = prior.laws(np.random.default_rng(2).standard_normal((3, len(prior))))
        dead = [("2026-09-20", "workers", "3", "found_dead"), ("2026-10-01", "workers", "-2")]
        untold, told, taken = (
            grow(laws, founded(*rows, temperature=ag.constant(25)).climate(100), paces=3).counts
            for rows in ([], dead[:1], dead)
        )
        assert np.array_equal(told, untold)
        assert (taken[:, -1, 3] < told[:, -1, 3]).all()

    def test_none_before_day_zero(self):
        rows = [("2026-06-30", "pupae", "+30"), ("2026-07-01", "workers", "2", "found dead"),
                ("2026-07-02", "queen", "+1"), (FOUNDED, "pupae", "+5")]  # fmt: skip
        with pytest.raises(LogError) as caught:
            founded(*rows)
        early = "dated before 2026-07-04, the day the queen sat alone (queen_since). Correct the"
        assert str(caught.value).splitlines() == [
            f"changes, row 2 (2026-06-30): {early} date, or delete the row.",
            f"changes, row 3 (2026-07-01): {early} date, or delete the row.",
            f"changes, row 4 (2026-07-02): {early} date; or delete the row, and tell with "
            "queens= how many there were at the start.",
        ]
        assert founded(rows[-1]).climate(5).moves == (Move(1, 2, 5),)

    def test_none_before_the_first_note_of_a_colony_that_came_part_grown(self):
        # Its past is simulated, but what was there at the first note is counted already.
        early = "row 2 .2026-08-31.: dated before the first note, 2026-09-01, which counts what"
        with pytest.raises(LogError, match=early):
            acquired(NIGHT_AND_DAY, ("2026-08-31", "pupae", "+30"))

    def test_only_within_the_days_asked_for(self):
        setting = founded(("2026-07-14", "pupae", "+30"), ("2026-08-20", "pupae", "+5"))
        assert [len(setting.climate(days).moves) for days in (10, 11, 47, 48)] == [0, 1, 1, 2]


class TestUnknownPast:
    def test_long_enough_for_the_usual_age_twice_over(self):
        setting = acquired(NIGHT_AND_DAY)
        assert setting.usual_age == usual_age(ANT, NIGHT_AND_DAY.hours(FOUNDED, 1)[0], HELD)
        assert setting.usual_age > 50
        assert setting.past == np.ceil(HISTORY[0] * setting.usual_age) + HISTORY[1]

    def test_its_last_day_is_that_of_the_first_note(self):
        setting = acquired(NIGHT_AND_DAY)
        assert setting.first_day == pd.Timestamp("2026-09-01")
        assert setting.day_of(setting.first_day) == setting.past - 1
        assert setting.day_zero == setting.first_day - pd.Timedelta(days=setting.past - 1)

    def test_larger_colonies_are_older_and_the_cool_takes_longer(self):
        small, large = (
            acquired(NIGHT_AND_DAY, held=np.array([np.nan] * 3 + [n, np.nan])) for n in (5, 60)
        )
        assert large.usual_age > small.usual_age + 20
        assert acquired(ag.constant(20)).usual_age > 1.3 * acquired(ag.constant(25)).usual_age

    def test_as_warm_as_the_first_week(self):
        plan = ag.day_night(26, 22).then("2026-09-08", 29)
        setting = acquired(plan)
        assert setting.past_hours(3) == pytest.approx(
            np.tile(ag.day_night(26, 22).hours("2026-09-01", 1), (3, 1))
        )
        days = setting.past + 10
        climate = setting.climate(days)
        assert climate.days == days
        ageing = climate.ageing
        assert ageing[: setting.past + FIRST_WEEK - 1] == pytest.approx(ageing[0])
        assert np.all(ageing[setting.past + FIRST_WEEK - 1 :] > 1.2 * ageing[0])

    def test_its_mean_hour_by_hour(self):
        plan = ag.day_night(26, 20).then("2026-09-04", ag.day_night(24, 22))
        hours = acquired(plan).past_hours(2)
        assert hours == pytest.approx(np.tile(plan.hours("2026-09-01", 7).mean(axis=0), (2, 1)))

    def test_a_colony_that_came_at_rest_grew_up_in_the_warm(self):
        plan = ag.constant(24).rest("2026-08-20", "2026-10-01", temperature=8)
        setting = acquired(plan, held=np.array([0.0, 15.0, 0.0, 12.0, np.nan]))
        assert np.array_equal(setting.past_hours(4), np.full((4, 24), 25.0))
        climate = setting.climate(setting.past + 40)
        here = setting.past - 1
        assert np.all(climate.laying[5, :here] == pytest.approx(1.0))
        assert not climate.laying[5, here : here + 30].any()  # the first note is of a resting day
        assert climate.laying[5, here + 30] > 0
        assert np.all(climate.development[5, here : here + 30, 1] == 0)

    @pytest.mark.parametrize("days", [1, 3])
    def test_a_record_shorter_than_a_week(self, days):
        readings = pd.DataFrame(
            {
                "time": pd.date_range("2026-09-01", periods=24 * days, freq="h"),
                "temperature_c": np.repeat([24.0, 27.0, 24.0], 24)[: 24 * days],
            }
        )
        setting = acquired(ag.read_temperature(readings))
        assert setting.past_hours(1).mean() == pytest.approx(24.0 if days == 1 else 25.0)
        assert setting.climate(setting.past + days - 1).days == setting.past + days - 1

    def test_ants_that_came_on_the_day_of_the_first_note(self):
        setting = acquired(NIGHT_AND_DAY, ("2026-09-01", "pupae", "+30"))
        assert setting.climate(setting.past).moves == (Move(setting.past, 2, 30),)
