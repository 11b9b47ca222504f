"""The fit of a colony's notes: what it accepts, what it learns, and what it remembers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from invented_species import garden_ant
from simulators import one_ant
from simulators.notes import days_to, write_log
from statistical.trials import central_values

import antgrowth as ag
from antgrowth.errors import (
    AntgrowthError,
    LogError,
    SpeciesError,
    TemperatureError,
    TemperatureGapError,
)
from antgrowth.inference.posterior import _note
from antgrowth.model.life_cycle import State

ANT = garden_ant()
WARM = ag.constant(25.0)
FOUNDED = "2026-04-04"
NOTES = {
    "date": ["2026-04-20", "2026-05-01", "2026-05-14", "2026-06-03"],
    "eggs": [48, "~50", 30, ""],
    "larvae": ["", "first", 11, 6],
    "workers": ["", "", 0, 7],
}
ADOPTED = {"date": ["2026-04-18"], "stage": ["pupae"], "change": [20], "reason": ["adopted"]}


def table(columns: dict[str, list]) -> pd.DataFrame:
    return pd.DataFrame(columns)


def fitted(notes: dict[str, list] | pd.DataFrame = NOTES, plan=WARM, ant=ANT, **how) -> ag.Fit:
    return ag.fit(pd.DataFrame(notes), plan, ant, **({"queen_since": FOUNDED, "rng": 1} | how))


def arrival(fit: ag.Fit, workers: int = 30, days: int = 200, draws: int = 200) -> ag.Arrival:
    return fit.forecast(days=days, draws=draws, rng=1).arrival(workers)


@pytest.fixture(scope="module")
def fit() -> ag.Fit:
    return fitted()


class TestFaults:
    def test_a_temperature_that_is_none(self):
        for wrong, kind in ((True, "bool"), (None, "NoneType"), ([25.0], "list")):
            with pytest.raises(TemperatureError) as caught:
                fitted(plan=wrong)
            assert str(caught.value) == (
                f"fit: temperature is a {kind}. Give a number of °C, the path of a record, or what "
                "read_temperature, constant or day_night return, for example ag.constant(24.0)."
            )

    def test_a_number_and_a_file_are_temperatures(self, tmp_path):
        days = pd.date_range("2026-03-01", "2026-10-01", freq="1D")
        path = tmp_path / "temperature.csv"
        pd.DataFrame({"time": days, "temperature_c": 25.0}).to_csv(path, index=False)
        steady, number, file = (fitted(plan=plan) for plan in (ag.constant(25.0), 25, path))
        assert np.array_equal(steady.draws, number.draws)
        assert np.allclose(steady.draws, file.draws)
        with pytest.raises(TemperatureError, match="fit: temperature = 99"):
            fitted(plan=99)

    @pytest.mark.parametrize("queens", [0, -1, 1.5, "2", None])
    def test_queens_that_are_none(self, queens):
        with pytest.raises(AntgrowthError) as caught:
            fitted(queens=queens)
        assert str(caught.value) == (
            f"fit: queens = {queens!r}. Give a whole number from 1 to 10,000."
        )

    def test_a_log_without_a_count(self):
        log = ag.read_counts(table({"date": ["2026-04-20"], "eggs": [""], "note": ["quiet"]}))
        with pytest.raises(LogError) as caught:
            ag.fit(log, WARM, ANT, queen_since=FOUNDED)
        assert str(caught.value) == (
            f"{log.name}: no count in the log. Note at least one stage on one date."
        )

    def test_a_log_that_begins_before_the_founding(self):
        with pytest.raises(LogError) as caught:
            fitted(queen_since="2026-04-21")
        assert "the first note is of 2026-04-20, before queen_since = 2026-04-21." in str(
            caught.value
        )
        assert str(caught.value).endswith("Notes begin on that day or later; check both dates.")
        assert fitted(queen_since="2026-04-20").queen_since == pd.Timestamp("2026-04-20")

    def test_the_founding_day_is_read_as_dates_of_a_log_are(self):
        assert fitted(queen_since="04.04.2026").queen_since == pd.Timestamp("2026-04-04")
        for wrong in ("05/04/2026", "2026-04", 20260404, "someday", pd.NaT):
            with pytest.raises(LogError) as caught:
                fitted(queen_since=wrong)
            assert str(caught.value).startswith("fit: queen_since = ")

    @pytest.mark.parametrize("rng", [-1, 1.7, "a", True])
    def test_a_seed_that_is_none(self, rng):
        with pytest.raises(AntgrowthError) as caught:
            ag.fit(ag.read_counts(table({"date": ["2026-04-20"], "eggs": [9]})), WARM, ANT,
                   queen_since=FOUNDED, rng=rng)  # fmt: skip
        assert str(caught.value).startswith(
            f"fit: rng = {rng!r}. Give a whole number of at least 0"
        )

    def test_a_queen_that_does_not_found_alone(self):
        dependent = replace(ANT, name="invented-raider", founding="dependent")
        with pytest.raises(SpeciesError) as caught:
            fitted(ant=dependent)
        assert str(caught.value) == (
            "invented-raider: its queens do not found alone, so queen_since has no meaning. "
            "Leave it out and begin the log with what the nest held."
        )
        held = {"date": ["2026-06-01"], "workers": [12]}
        assert fitted(held, ant=dependent, queen_since=None).queen_since is None

    def test_temperatures_that_do_not_cover_the_log(self):
        readings = pd.DataFrame(
            {"time": pd.date_range(FOUNDED, periods=24 * 40, freq="h"), "temperature_c": 25.0}
        )
        with pytest.raises(TemperatureGapError, match="ends 2026-05-13.*2026-05-14 to 2026-06-03"):
            fitted(plan=ag.read_temperature(readings))

    def test_a_species_that_is_not_known(self):
        with pytest.raises(SpeciesError):
            fitted(ant="lasius-nigre")


class TestForms:
    def test_tables_paths_and_logs_are_the_same(self, fit, tmp_path):
        path = tmp_path / "notes.csv"
        table(NOTES).to_csv(path, index=False)
        for form in (str(path), ag.read_counts(table(NOTES))):
            again = ag.fit(form, WARM, ANT, queen_since=FOUNDED, rng=1)
            assert np.array_equal(again.draws, fit.draws)

    def test_the_callers_table_is_not_changed(self):
        notes = table(NOTES)
        ag.fit(notes, WARM, ANT, queen_since=FOUNDED)
        pd.testing.assert_frame_equal(notes, table(NOTES))

    def test_order_of_rows_does_not_matter(self, fit):
        shuffled = table(NOTES).iloc[[2, 0, 3, 1]]
        assert fitted(shuffled).estimate.x == pytest.approx(fit.estimate.x)

    @pytest.mark.parametrize("rng", [1, np.random.default_rng(4), None])
    def test_a_seed_is_kept_and_repeats_the_draws(self, rng):
        notes = {"date": ["2026-04-20"], "eggs": [9]}
        some = fitted(notes, rng=rng)
        assert rng != 1 or some.seed == 1
        assert np.array_equal(fitted(notes, rng=some.seed).draws, some.draws)
        assert not np.array_equal(fitted(notes, rng=some.seed + 1).draws, some.draws)


class TestResult:
    def test_what_it_remembers(self, fit):
        assert fit.converged and fit.species is ANT and fit.temperature is WARM
        assert fit.queen_since == pd.Timestamp(FOUNDED) and fit.days == 61
        assert fit.draws.shape == (1000, len(fit.model.prior))
        assert repr(fit).endswith("invented-ant, 8 counts on 4 dates)")

    def test_draws_are_shared_out_among_beliefs(self, fit):
        for draws in (1, 10, 1000):
            assert sum(len(p.laws) for p in fit.initial_states(draws)) == draws
        assert fit.initial_states(10) is fit.initial_states(10)

    def test_species_draws_are_the_prior(self, fit):
        assert fit.species_draws.shape == (200, len(fit.model.prior))
        assert fit.species_draws.mean() == pytest.approx(0, abs=0.06)
        assert fit.species_growth.counts.shape == fit.growth.counts.shape == (200, 62, 4)

    def test_summary_frame(self, fit):
        frame = fit.summary_frame()
        assert tuple(frame["parameter"]) == fit.model.prior.names
        assert np.all(frame["q05"] < frame["median"]) and np.all(frame["median"] < frame["q95"])
        assert frame["learned"].between(0, 1).all()
        line = frame.set_index("parameter").loc["egg duration"]
        assert line["prior_median"] == pytest.approx(ANT.value("development.egg.days"))
        top = frame.set_index("parameter").loc["top laying rate"]
        assert top["note"] == "prior-driven" and top["learned"] < 0.1

    @pytest.mark.parametrize(
        ("scale", "median", "learned", "moved", "note"),
        [
            ("logit", 0.995, 0.5, 0.1, "AT UPPER BOUND"),
            ("logit", 0.005, 0.5, 3.0, "AT LOWER BOUND"),
            ("log", 0.995, 0.5, 0.1, ""),
            ("log", 12.0, 0.5, -2.6, "FAR FROM THE PROFILE"),
            ("log", 12.0, 0.05, 0.1, "prior-driven"),
        ],
    )
    def test_notes_on_parameters(self, scale, median, learned, moved, note):
        assert _note(scale, median, learned, moved) == note


class TestSparseNotes:
    """Whatever was written gives a date, and an honest one."""

    def test_first_sightings_alone(self):
        found = fitted(
            {
                "date": [FOUNDED, "2026-04-12", "2026-05-01", "2026-05-15", "2026-06-03"],
                "eggs": ["", "first", "", "", ""],
                "larvae": ["", "", "first", "", ""],
                "pupae": ["", "", "", "first", ""],
                "workers": ["", "", "", "", "first"],
                "note": ["alone in her tube", "", "", "", ""],
            }
        )
        when = arrival(found)
        assert found.converged and when.chance_never < 0.3
        assert pd.Timestamp("2026-06-20") < when.median < pd.Timestamp("2027-01-01")

    @pytest.mark.parametrize(
        "row", [{"eggs": [9]}, {"eggs": ["first"]}, {"workers": [0]}, {"brood": ["10-15"]}]
    )
    def test_a_single_row(self, row):
        found = fitted({"date": ["2026-04-20"]} | row)
        when = arrival(found)
        assert found.converged
        first, last = when.interval(0.5)
        assert pd.Timestamp("2026-06-01") < first < when.median
        assert last is pd.NaT or when.median < last

    def test_workers_alone(self):
        found = fitted({"date": ["2026-05-20", "2026-06-03", "2026-06-20"], "workers": [0, 4, 9]})
        when = arrival(found)
        assert found.converged and when.chance_never < 0.05
        assert pd.Timestamp("2026-07-01") < when.median < pd.Timestamp("2026-10-15")
        assert arrival(found, 5).reached

    def test_more_notes_narrow_the_date(self, fit):
        def width(some: ag.Fit) -> int:
            first, last = arrival(some).interval(0.5)
            return (last - first).days

        assert width(fit) < width(fitted({"date": ["2026-04-20"], "eggs": [9]}))


class TestAgainstTruth:
    def test_a_colony_grown_one_ant_at_a_time(self):
        # The profile's own ant: the true date lies within the 98 % interval in all three colonies.
        rng = np.random.default_rng(7)
        hours = np.full((200, 24), 25.0)
        central = central_values(ANT, one_ant.TYPICAL)
        paths = one_ant.simulate(central, hours, 3, rng, dt=0.25)
        for path, truth in zip(paths, days_to(paths), strict=True):
            log = write_log(path, FOUNDED, rng, last_day=int(0.6 * truth))
            first, last = arrival(fitted(log), days=200).interval(0.98)
            true_date = pd.Timestamp(FOUNDED) + pd.Timedelta(days=int(truth))
            assert first <= true_date <= last


class TestAcquired:
    """Colonies that came part-grown: their first note is where they stand."""

    HELD = {
        "date": ["2026-06-01", "2026-06-15", "2026-06-29"],
        "eggs": [15, 14, ""],
        "larvae": [10, 12, 11],
        "pupae": [8, 9, ""],
        "workers": [12, 16, 21],
    }

    @pytest.fixture(scope="class")
    @classmethod
    def acquired(cls) -> ag.Fit:
        return fitted(cls.HELD, queen_since=None)

    def test_the_past_is_unknown_and_its_first_day_the_first_note(self, acquired):
        assert acquired.queen_since is None and acquired.converged
        assert acquired.history.day_zero == pd.Timestamp("2026-06-01") and acquired.days == 29
        assert "laying starts after" not in acquired.model.prior.names
        assert acquired.model.start is not None

    def test_it_begins_with_what_it_held(self, acquired):
        start, layout = acquired.model.start, State.of(acquired.model.prior.laws(np.zeros((1, 28))))
        assert layout.counts(start.state[None])[0] == pytest.approx([15, 10, 8, 12])

    def test_growth_passes_through_the_notes(self, acquired):
        frame = acquired.growth_frame().query("source == 'colony' and stage == 'workers'")
        assert frame["date"].iloc[0] == pd.Timestamp("2026-06-01")
        middle = frame.set_index("date")["q50"]
        for date, workers in (("2026-06-01", 12), ("2026-06-15", 16), ("2026-06-29", 21)):
            assert middle[pd.Timestamp(date)] == pytest.approx(workers, rel=0.25)

    def test_it_gives_a_date(self, acquired):
        when = arrival(acquired)
        assert pd.Timestamp("2026-07-03") < when.median < pd.Timestamp("2026-08-20")

    def test_a_single_row_and_one_day_of_temperatures_do_too(self):
        readings = pd.DataFrame(
            {"time": pd.date_range("2026-06-01", periods=24, freq="h"), "temperature_c": 25.0}
        )
        held = {"date": ["2026-06-01"], "workers": [12]}
        found = fitted(held, ag.read_temperature(readings), queen_since=None)
        when = found.forecast(days=200, temperature=ag.constant(25), rng=1).arrival(workers=30)
        assert found.converged and when.chance_never < 0.1
        assert pd.Timestamp("2026-06-05") < when.median < pd.Timestamp("2026-10-01")

    def test_acquired_at_rest(self):
        plan = ag.constant(25).rest("2026-11-15", "2027-02-15", temperature=8)
        held = {"date": ["2026-12-01"], "eggs": [0], "larvae": [14], "pupae": [0], "workers": [12]}
        log = ag.read_counts(pd.DataFrame(held), today="2028-01-01")
        found = ag.fit(log, plan, ANT, rng=1)
        ahead = found.forecast(days=180, draws=200, rng=1).frame().set_index(["stage", "date"])
        eggs, pupae = ahead.loc["eggs"], ahead.loc["pupae"]
        assert eggs.loc["2027-02-14", "q95"] <= 1 and eggs["mean"].iloc[-1] > 3
        # Larvae that waited pupate first; eggs come weeks later.
        first = {
            name: stage.index[stage["q50"] >= 1].min()
            for name, stage in {
                "eggs": eggs.loc["2027-02-15":],
                "pupae": pupae.loc["2027-02-15":],
            }.items()
        }
        assert first["pupae"] + pd.Timedelta(days=14) < first["eggs"]


class TestQueensAndChanges:
    def test_two_queens_fill_a_nest_sooner(self):
        notes = {"date": ["2026-04-20"], "workers": [0]}
        one, two = (fitted(notes, queens=queens).model.grow(np.zeros((1, 29))) for queens in (1, 2))
        assert two.counts[0, -1, 0] > 1.15 * one.counts[0, -1, 0]

    def test_a_queen_lost_ends_growth(self, fit):
        changes = table({"date": ["2026-06-02"], "stage": ["queen"], "change": [-1]})
        alone = fitted(changes=changes)
        # The brood she left still makes thirty workers of some; fifty of hardly any.
        assert arrival(alone, 50).chance_never > 0.85 and arrival(fit, 50).chance_never < 0.05
        assert alone.forecast(days=120, draws=50, rng=1).paths[:, -1, :3].max() == 0

    def test_adopted_pupae_are_not_taken_for_growth(self, fit):
        more = dict(NOTES, workers=["", "", 0, 14])
        changes = table(
            {"date": ["2026-05-14"], "stage": ["cocoons"], "change": ["+10"], "reason": ["adopted"]}
        )
        told, untold = fitted(more, changes=changes), fitted(more)
        # Told of them, the fit learns of its queen what it learned without them.
        assert np.abs(told.estimate.x - fit.estimate.x).max() < 0.6
        assert untold.estimate.dispersion > told.estimate.dispersion
        assert np.linalg.norm(untold.estimate.x) > np.linalg.norm(told.estimate.x)

    def test_adopted_pupae_bring_the_date_nearer(self):
        notes = {"date": ["2026-04-20"], "eggs": [9]}
        helped, alone = fitted(notes, changes=table(ADOPTED)), fitted(notes)
        assert arrival(helped, 20).median < arrival(alone, 20).median - pd.Timedelta(days=15)

    def test_changes_as_a_log_a_table_or_a_path(self, tmp_path):
        changes, notes = table(ADOPTED), {"date": ["2026-04-20"], "eggs": [9]}
        changes.to_csv(tmp_path / "changes.csv", index=False)
        read = ag.read_changes(changes)
        for form in (changes, str(tmp_path / "changes.csv"), read):
            kept = fitted(notes, changes=form).history.changes
            pd.testing.assert_frame_equal(kept.frame, read.frame)

    def test_found_dead_inform_the_life_of_workers(self):
        notes = {"date": ["2026-06-20"], "workers": [6]}
        dead = table(
            {
                "date": ["2026-06-10", "2026-06-18"],
                "stage": ["workers"] * 2,
                "change": [2, 3],
                "reason": ["found dead"] * 2,
            }
        )
        lives = [
            some.summary_frame().set_index("parameter").loc["worker life", "median"]
            for some in (fitted(notes), fitted(notes, changes=dead))
        ]
        assert lives[1] < 0.9 * lives[0]


class TestUpdate:
    MORE = {
        "date": [*NOTES["date"], "2026-06-20", "2026-07-04"],
        "eggs": [*NOTES["eggs"], 60, 75],
        "larvae": [*NOTES["larvae"], 8, "12"],
        "workers": [*NOTES["workers"], 13, 16],
    }

    def test_a_warm_start_ends_where_a_fresh_fit_does(self, fit):
        updated, fresh = fit.update(table(self.MORE)), fitted(self.MORE)
        assert updated.converged and len(updated.counts) == 6
        sd = np.sqrt(np.diag(fresh.estimate.cov))
        assert np.abs((updated.estimate.x - fresh.estimate.x) / sd).max() < 0.3
        assert np.sqrt(np.diag(updated.estimate.cov)) == pytest.approx(sd, rel=0.1)
        # Ends of 90 % intervals of 200 draws are settled to no more than a tenth of their width.
        (first, last), again = (
            arrival(some, draws=2000).interval(0.9) for some in (fresh, updated)
        )
        for one, other in zip((first, last), again, strict=True):
            assert abs((one - other).days) <= 0.1 * (last - first).days

    def test_it_keeps_the_setting(self):
        notes = {"date": ["2026-04-20"], "eggs": [9]}
        some = fitted(notes, changes=table(ADOPTED), queens=2)
        updated = some.update(table(notes | {"workers": [0]}))
        assert updated.queen_since == some.queen_since and updated.seed == some.seed
        assert updated.history.queens == 2 and updated.history.changes is some.history.changes
        assert len(some.counts.frame) == 1  # the fit itself stays as it was

    def test_an_acquired_colony_stays_one(self):
        held = {"date": ["2026-06-01", "2026-06-15"], "workers": [12, 16]}
        some = fitted({name: cells[:1] for name, cells in held.items()}, queen_since=None)
        updated = some.update(table(held))
        assert updated.queen_since is None
        assert updated.history.day_zero == some.history.day_zero
