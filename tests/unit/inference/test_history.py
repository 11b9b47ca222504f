"""The history of a colony: its days, its season, its queens, and ants carried."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from invented_species import garden_ant

import antgrowth as ag
from antgrowth.errors import LogError, TemperatureGapError
from antgrowth.inference.history import FOUNDING_SEASON_DAYS, ColonyHistory
from antgrowth.inference.prior import Prior, forcing_of
from antgrowth.model.life_cycle import LifeCycle
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Transfer
from antgrowth.model.thermal_forcing import NEVER
from antgrowth.species.parameters import QUEENS_CARE, QUEENS_LAY, QUEENS_POWER, Number

ANT = garden_ant()
NIGHT_AND_DAY = ag.day_night(28, 20)
FOUNDED = "2026-07-04"


def changes(*rows: tuple[str, str, str] | tuple[str, str, str, str]) -> ag.ChangeLog:
    table = pd.DataFrame(
        [(*row, "")[:4] for row in rows], columns=["date", "stage", "change", "reason"]
    )
    return ag.read_changes(table, today="2027-07-01")


def founded(*rows, queens: int = 1, temperature: ag.Temperature = NIGHT_AND_DAY) -> ColonyHistory:
    log = changes(*rows) if rows else None
    return ColonyHistory(ANT, temperature, pd.Timestamp(FOUNDED), True, log, queens)


def acquired(*rows) -> ColonyHistory:
    log = changes(*rows) if rows else None
    return ColonyHistory(ANT, NIGHT_AND_DAY, pd.Timestamp("2026-09-01"), False, log, 1)


def laying(history: ColonyHistory, days: int = 30) -> np.ndarray:
    """Laying of each day relative to that of one queen."""
    one = founded(temperature=history.temperature).forcing(days)
    return (history.forcing(days).laying / one.laying)[5]


class TestFounded:
    def test_days_are_counted_from_the_founding(self):
        history = founded()
        assert history.first_day == history.day_zero
        assert history.day_of(pd.Timestamp(FOUNDED)) == 0
        assert history.day_of(pd.Timestamp("2026-08-04")) == 31

    def test_its_forcing_is_that_of_the_species(self):
        found = founded().forcing(12)
        since = founded().since_spring
        expected = forcing_of(ANT, NIGHT_AND_DAY.hours(FOUNDED, 12), np.zeros(12, bool), since)
        assert found.days == 12 and found.transfers == ()
        for name in ("development", "laying", "ageing", "loss", "season", "since_rest"):
            assert getattr(found, name) == pytest.approx(getattr(expected, name)), name

    def test_a_rest_is_told(self):
        plan = ag.constant(24).rest("2026-07-14", "2026-07-20", temperature=10)
        resting = founded(temperature=plan).forcing(30).resting
        assert np.flatnonzero(resting).tolist() == list(range(10, 16))

    def test_another_temperature_for_the_future(self):
        warm = NIGHT_AND_DAY.then("2026-07-14", 28)
        now, then = founded().forcing(20), founded().forcing(20, warm)
        assert np.array_equal(now.ageing[:10], then.ageing[:10])
        assert np.all(then.ageing[10:] > now.ageing[10:])

    def test_days_without_a_temperature(self):
        readings = pd.DataFrame(
            {"time": pd.date_range(FOUNDED, periods=240, freq="h"), "temperature_c": 24.0}
        )
        history = founded(temperature=ag.read_temperature(readings))
        assert history.forcing(10).days == 10
        with pytest.raises(TemperatureGapError, match="2026-07-13"):
            history.forcing(11)


class TestQueens:
    @pytest.mark.parametrize("queens", [1, 2, 5])
    def test_more_lay_more_and_less_than_in_proportion(self, queens):
        assert laying(founded(queens=queens)) == pytest.approx(np.full(30, queens**QUEENS_POWER))
        assert 0 < QUEENS_POWER < 1

    def test_care_follows_as_far_as_the_profile_knows(self):
        lost = ("2026-07-14", "queens", "-3")
        care = founded(lost, queens=3).forcing(30).care
        # Nobody lays in an orphaned nest; what it holds, its workers rear.
        assert care == pytest.approx(np.repeat([3**QUEENS_POWER, 1.0], [10, 20]))
        known = {
            path: Number(power, 0.0, "1", "assumption", "assumed")
            for path, power in ((QUEENS_LAY, 1.5), (QUEENS_CARE, 1.0))
        }
        ant = replace(ANT, numbers=ANT.numbers | known)
        some = replace(founded(queens=3), species=ant)
        assert laying(some) == pytest.approx(np.full(30, 3**1.5))
        assert some.forcing(30).care == pytest.approx(np.full(30, 3.0))
        assert np.all(founded().forcing(30).care == 1.0)

    def test_the_power_assumed_lies_among_those_of_fire_ants(self):
        """Tschinkel (1993, read): brood of a queen falls exponentially with the number of queens,
        and that of all is largest with 4 to 7: n exp((1 - n) / k), k of 4 to 7."""
        for queens in (3, 4, 5):
            few, many = (queens * np.exp((1 - queens) / most) for most in (4, 7))
            assert few < queens**QUEENS_POWER < many

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
        assert founded(("2026-07-14", "queen", "-1")).forcing(30).transfers == ()


class TestTransfers:
    def test_in_the_nest_on_the_evening_of_their_date(self):
        transfers = (
            founded(
                ("2026-07-14", "cocoons", "+30", "adopted"),
                ("2026-07-20", "workers", "-6", "escaped"),
            )
            .forcing(30)
            .transfers
        )
        assert transfers == (Transfer(11, 2, 30), Transfer(17, 3, -6))

    def test_each_stage(self):
        rows = [("2026-07-14", stage, "+1") for stage in ("eggs", "larvae", "pupae", "workers")]
        assert [transfer.stage for transfer in founded(*rows).forcing(30).transfers] == [0, 1, 2, 3]

    def test_found_dead_are_never_subtracted(self):
        assert founded(("2026-07-14", "workers", "4", "found dead")).forcing(30).transfers == ()

    def test_found_dead_leave_expected_growth_as_it_is(self):
        # They died as workers do in the model: taken away again, they would be missing twice.
        prior = Prior.of(ANT)
        laws = prior.laws(np.random.default_rng(2).standard_normal((3, len(prior))))
        dead = [("2026-09-20", "workers", "3", "found_dead"), ("2026-11-01", "workers", "-2")]
        untold, told, taken = (
            grow(laws, founded(*rows, temperature=ag.constant(25)).forcing(140)).counts
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
        assert founded(rows[-1]).forcing(5).transfers == (Transfer(1, 2, 5),)

    def test_none_before_the_first_note_of_a_colony_that_came_part_grown(self):
        # What was there at the first note is counted already.
        early = "row 2 .2026-08-31.: dated before the first note, 2026-09-01, which counts what"
        with pytest.raises(LogError, match=early):
            acquired(("2026-08-31", "pupae", "+30"))

    def test_only_within_the_days_asked_for(self):
        history = founded(("2026-07-14", "pupae", "+30"), ("2026-08-20", "pupae", "+5"))
        assert [len(history.forcing(days).transfers) for days in (10, 11, 47, 48)] == [0, 1, 1, 2]


class TestSeason:
    """Days since spring on day zero: 28 March for this ant, half a year later in the south."""

    LENGTH = ANT.value("season.length_days")

    def since(self, day: str, founded: bool, where: str | None = None, ant=ANT) -> float:
        return ColonyHistory(
            ant, NIGHT_AND_DAY, pd.Timestamp(day), founded, None, 1, where
        ).since_spring

    @pytest.mark.parametrize(
        ("day", "north", "south"),
        [("2026-03-28", 0, 181), ("2026-04-28", 31, 212), ("2026-07-29", 123, 304),
         ("2026-09-28", 184, 0), ("2027-01-26", 304, 120)],
    )  # fmt: skip
    def test_a_colony_that_came_part_grown_has_the_season_of_the_year(self, day, north, south):
        assert self.since(day, False) == self.since(day, False, "north") == north
        assert self.since(day, False, "south") == south

    @pytest.mark.parametrize(
        ("day", "north", "south"),
        [("2026-05-28", 61, 140), ("2026-08-14", 139, 0), ("2026-09-20", 140, 0),
         ("2026-11-28", 140, 61), ("2027-01-26", 140, 120)],
    )  # fmt: skip
    def test_a_founding_queen_has_a_season_however_late_she_founds(self, day, north, south):
        assert self.LENGTH - FOUNDING_SEASON_DAYS == 140
        assert self.since(day, True) == self.since(day, True, "north") == north
        assert self.since(day, True, "south") == south

    @pytest.mark.parametrize("founded_here", [True, False])
    def test_who_is_woken_early_begins_the_year(self, founded_here):
        # A queen of last summer, woken at the end of February: no season of last year is over.
        for day in ("2027-01-27", "2027-02-25", "2027-03-27"):
            assert self.since(day, founded_here) == 0
        for day in ("2026-07-30", "2026-09-27"):
            assert self.since(day, founded_here, "south") == 0
        history = ColonyHistory(
            ANT, ag.constant(24), pd.Timestamp("2027-02-25"), founded_here, None, 1
        )
        prior = Prior.of(ANT, founded_here)
        cycle = LifeCycle(prior.laws(np.zeros((1, len(prior)))), history.forcing(240))
        open_days = (cycle.rearing[0] > 0.5).sum()
        assert open_days == pytest.approx(self.LENGTH, abs=1)

    def rested(self, founded: bool, *rest: str) -> ColonyHistory:
        plan = ag.constant(24).rest(*rest, temperature=8) if rest else ag.constant(24)
        return ColonyHistory(ANT, plan, pd.Timestamp("2027-05-10"), founded, None, 1)

    def test_the_recorded_rest_of_a_colony_that_came_part_grown_counts(self):
        history = self.rested(False, "2026-11-01", "2027-04-10")
        assert history.since_spring == history.since_rest == 30
        forcing = history.forcing(3)
        assert list(forcing.season) == list(forcing.since_rest) == [30.5, 31.5, 32.5]

    def test_without_one_its_rest_ended_with_the_last_spring(self):
        history = self.rested(False)
        assert history.since_spring == history.since_rest == 43  # since 28 March

    def test_some_cold_days_are_no_rest(self):
        assert self.rested(False, "2027-04-01", "2027-04-20").since_rest == 43

    def test_a_queen_alone_waits_for_nothing_but_her_own_delay(self):
        assert self.rested(True, "2026-11-01", "2027-04-10").since_rest == NEVER

    def test_who_still_rests_is_not_woken(self):
        plan = ag.constant(24).rest("2026-12-01", "2027-03-10", temperature=8)
        history = ColonyHistory(ANT, plan, pd.Timestamp("2027-02-25"), False, None, 1)
        assert history.since_spring == 334

    def test_only_where_the_season_is_the_colonys_own(self):
        # An ant whose season ends with the cool needs no such leave: cool is cool for her as well.
        by_cool = ag.load_species("lasius-japonicus")
        assert by_cool.season.kind == "exogenous"
        for founded_here in (True, False):
            days = self.since("2026-12-01", founded_here, ant=by_cool)
            assert (
                days
                == (pd.Timestamp("2026-12-01") - pd.Timestamp(f"2026-{by_cool.season.spring}")).days
            )

    def test_an_ant_without_seasons(self):
        ant = ag.load_species("oecophylla-smaragdina")
        assert ant.season.kind == "none" and self.since("2026-12-01", True, ant=ant) == 0.0
        history = ColonyHistory(ant, ag.constant(28), pd.Timestamp(FOUNDED), True, None, 1)
        assert (history.forcing(400).season == -NEVER).all()

    def test_the_forcing_counts_on_from_there_and_a_rest_begins_anew(self):
        plan = ag.constant(24).rest("2026-10-15", "2027-03-01", temperature=8)
        history = founded(temperature=plan)
        forcing = history.forcing(300)
        ended = history.day_of(pd.Timestamp("2027-03-01"))
        begun = history.day_of(pd.Timestamp("2026-10-15"))
        assert forcing.season[begun - 1] == history.since_spring + begun - 0.5  # at noon
        assert forcing.season[ended] == forcing.since_rest[ended] == 0.5
        assert forcing.since_rest[begun] == NEVER
