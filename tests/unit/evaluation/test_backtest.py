"""Backtests: what counts as truth, that nothing leaks from later, and how scores are averaged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from simulators.baselines import log_linear_arrival

import antgrowth as ag
from antgrowth.errors import (
    AntgrowthError,
    LogError,
    SpeciesError,
    TemperatureError,
    TemperatureGapError,
)
from antgrowth.evaluation import folds
from antgrowth.evaluation.backtest import backtest
from antgrowth.evaluation.baselines import (
    MOST_TIMES,
    UsualColonies,
    log_linear_growth,
    species_average,
)
from antgrowth.evaluation.score_table import Backtest, summarise
from antgrowth.evaluation.targets import arrival_seen, choose_cutoffs, targets_after
from antgrowth.inference.history import ColonyHistory

QUEEN_SINCE = "2026-02-24"
NOTES = pd.DataFrame(  # an invented colony
    {
        "date": ["2026-03-10", "2026-03-20", "2026-04-01", "2026-04-12", "2026-04-24",
                 "2026-05-02", "2026-05-10", "2026-05-20"],
        "eggs": ["7", "13", "~10", "", "9", "", "8-12", "15"],
        "larvae": ["", "first", "6", "7", "", "5", "", "9"],
        "workers": ["0", "", "", "1", "4", "9", "12", "17"],
    }
)  # fmt: skip
TEMPERATURE = ag.constant(25.0)
CUTOFFS = ["2026-04-12", "2026-05-02"]
KEYS = ["cutoff", "method", "temperatures", "target", "date"]
FORESEEN = ["median", "q05", "q25", "q75", "q95"]


def read(notes=NOTES):
    return ag.read_counts(notes, name="invented", today="2027-01-01")


def run(notes=NOTES, temperature=TEMPERATURE, **options):
    options = {"workers": 12, "queen_since": QUEEN_SINCE, "draws": 60, "rng": 1} | options
    options = {"cutoffs": CUTOFFS} | options
    return backtest(read(notes), temperature, "lasius-niger", **options)


@pytest.fixture(scope="module")
def trial():
    return run()


def rows(trial, **wanted):
    table = trial.folds
    for column, value in wanted.items():
        table = table[table[column] == value]
    return table


# --- truth -----------------------------------------------------------------------------------


def log_of(workers, dates=None):
    dates = dates or [f"2026-05-{day:02d}" for day in range(1, 2 * len(workers), 2)]
    return ag.read_counts(pd.DataFrame({"date": dates, "workers": workers}), today="2027-01-01")


@pytest.mark.parametrize(
    ("workers", "first", "last"),
    [
        ([3, 8, 12, 9, 15], "2026-05-04", "2026-05-05"),  # a later drop changes nothing
        ([3, "", 12], "2026-05-02", "2026-05-05"),
        ([3, "8-12", "10+"], "2026-05-02", "2026-05-05"),  # 8-12 tells neither
        ([3, "<10", "~11"], "2026-05-04", "2026-05-05"),
        ([12, 14], "2026-02-25", "2026-05-01"),  # the queen sat alone on 24 February
    ],
)
def test_arrival_lies_between_two_looks(workers, first, last):
    seen = arrival_seen(log_of(workers), 10, pd.Timestamp(QUEEN_SINCE))
    assert seen == (pd.Timestamp(first), pd.Timestamp(last))


def test_a_first_sighting_tells_of_the_look_before():
    notes = pd.DataFrame({"date": ["2026-05-01", "2026-05-03", "2026-05-05"],
                          "eggs": [9, 9, ""], "workers": ["", "", "first"]})  # fmt: skip
    seen = arrival_seen(ag.read_counts(notes, today="2027-01-01"), 1, None)
    assert seen == (pd.Timestamp("2026-05-04"), pd.Timestamp("2026-05-05"))


def test_arrival_not_seen():
    assert arrival_seen(log_of([3, 8, 9]), 10, None) is None
    assert arrival_seen(log_of([12, 14]), 10, None) == (None, pd.Timestamp("2026-05-01"))


def targets(cutoff, ahead=100, workers=12):
    log = read()
    reached = arrival_seen(log, workers, pd.Timestamp(QUEEN_SINCE))
    return targets_after(log, pd.Timestamp(cutoff), ahead, workers, reached)


def test_targets_are_the_arrival_and_each_later_exact_count():
    arrival, *counts = targets("2026-04-24")
    assert (arrival.name, arrival.low, arrival.high, arrival.truth) == ("arrival", 9, 16, 12.5)
    assert [(t.name, t.ahead, t.truth) for t in counts] == [
        ("larvae", 8, 5), ("workers", 8, 9),
        ("workers", 16, 12),  # but not the eggs, which were counted as 8-12
        ("eggs", 26, 15), ("larvae", 26, 9), ("workers", 26, 17),
    ]  # fmt: skip
    assert [t.ahead for t in targets("2026-04-24", ahead=16)[1:]] == [8, 8, 16]


@pytest.mark.parametrize(
    ("cutoff", "ahead", "workers", "why"),
    [
        ("2026-04-24", 100, 18, "the log never shows 18 workers"),
        ("2026-05-10", 100, 12, "already noted on 2026-05-10"),
        ("2026-04-24", 15, 12, "noted on 2026-05-10, beyond the 15 days looked ahead"),
    ],
)
def test_why_an_arrival_cannot_be_scored(cutoff, ahead, workers, why):
    arrival = targets(cutoff, ahead, workers)[0]
    assert arrival.unknown == why
    assert np.isnan(arrival.truth)


def test_an_arrival_before_an_uncounted_cutoff_is_day_zero():
    log = log_of([3, "", 12], ["2026-05-01", "2026-05-10", "2026-05-11"])
    reached = arrival_seen(log, 10, None)
    arrival = targets_after(log, pd.Timestamp("2026-05-10"), 50, 10, reached)[0]
    assert (arrival.low, arrival.high) == (0, 1)


# --- cutoffs ---------------------------------------------------------------------------------


def test_cutoffs_are_spread_over_the_looks():
    log = read()
    dates = NOTES["date"].tolist()

    def chosen(number, days=None):
        return [f"{cutoff:%Y-%m-%d}" for cutoff in choose_cutoffs(log, number, None, days)]

    assert chosen(2) == [dates[2], dates[6]]
    assert chosen(3) == [dates[2], dates[4], dates[6]]
    assert chosen(50) == dates[2:7]
    assert chosen(np.int64(1)) == [dates[2]]
    assert chosen(50, days=9) == dates[4:6]  # the others wait longer for their next exact count


def test_named_cutoffs_need_not_be_looks():
    chosen = choose_cutoffs(read(), ["2026-05-03", "2026-04-02", "2026-05-03"], None, None)
    assert chosen.tolist() == [pd.Timestamp("2026-04-02"), pd.Timestamp("2026-05-03")]


def test_all_wrong_cutoffs_are_told_at_once():
    with pytest.raises(LogError) as caught:
        run(cutoffs=["2026-03-09", "2026-04-12", "2026-05-20"])
    assert str(caught.value).splitlines()[1:] == [
        "2026-03-09: the first count is of 2026-03-10.",
        "2026-05-20: no exact count follows; the last one is of 2026-05-20.",
    ]
    with pytest.raises(LogError, match=r"2026-05-10: no exact count follows within 9 days"):
        run(cutoffs=["2026-05-10"], days=9)


@pytest.mark.parametrize(
    ("options", "error", "text"),
    [
        ({"cutoffs": 0}, AntgrowthError, r"cutoffs = 0. Give at least 1"),
        ({"cutoffs": []}, AntgrowthError, r"cutoffs = \[\]. Give a whole number .* or a list"),
        ({"cutoffs": "2026-04-12"}, AntgrowthError, r"or a list of dates, such as \[\"2026-03-10"),
        ({"cutoffs": 2.0}, AntgrowthError, r"cutoffs = 2.0. Give a whole number"),
        ({"cutoffs": ["soon"]}, LogError, "cutoffs"),
        ({"workers": 0}, AntgrowthError, r"workers = 0. Give a whole number from 1 to"),
        ({"draws": 10}, AntgrowthError, r"draws = 10. Give a whole number from 20 to"),
        ({"days": 1.5}, AntgrowthError, r"days = 1.5. Give a whole number"),
        ({"days": 5, "cutoffs": 6}, LogError, "later than these and not more than 5 days"),
        (
            {"temperature": 25.0},
            TemperatureError,
            r"temperature is a float. Give what read_temperature",
        ),
        # These are the errors of the fit itself, once no cutoff can be fitted.
        ({"queen_since": "2026-03-15"}, LogError, "before queen_since"),
        ({"queens": 0}, AntgrowthError, "queens = 0"),
    ],
)
def test_wrong_input(options, error, text):
    with pytest.raises(error, match=text):
        run(**options)


def test_logs_too_short():
    with pytest.raises(LogError, match="counts on 3 dates. A backtest needs 3 to forecast from"):
        run(NOTES.iloc[:3].assign(larvae=["", "", "6"]), cutoffs=6)
    with pytest.raises(LogError, match="nothing to hold a forecast against"):
        run(NOTES.iloc[:3].assign(eggs="~9", larvae="", workers=""), cutoffs=6)
    with pytest.raises(LogError, match="nothing to hold a forecast against"):
        run(NOTES.iloc[:1])


def test_temperatures_must_cover_the_whole_log():
    until = pd.date_range("2026-03-01", "2026-05-12 23:00", freq="1h")
    record = ag.read_temperature(pd.DataFrame({"time": until, "temperature_c": 25.0}))
    with pytest.raises(TemperatureGapError, match="2026-05-12"):
        run(temperature=record)


# --- the table -------------------------------------------------------------------------------


def test_the_table_holds_every_case_of_every_method(trial):
    assert list(trial.folds) == [
        "cutoff", "method", "temperatures", "target", "date", "unit", "horizon_days",
        "truth_low", "truth", "truth_high", *FORESEEN, "crps", "covered_50", "covered_90",
        "error_days", "status", "reason",
    ]  # fmt: skip
    assert not trial.folds.duplicated(KEYS).any()
    cases = trial.folds.groupby(["method", "temperatures"]).size()
    everything = sum(len(targets(cutoff)) for cutoff in CUTOFFS)
    about_workers = sum(
        target.name in ("arrival", "workers") for cutoff in CUTOFFS for target in targets(cutoff)
    )
    assert cases.to_dict() == {
        ("antgrowth", "as known then"): everything,
        ("antgrowth", "known"): everything,
        ("species average", "as known then"): everything,
        ("species average", "known"): everything,
        ("log-linear", "not used"): about_workers,
    }
    assert trial.reached == (pd.Timestamp("2026-05-03"), pd.Timestamp("2026-05-10"))
    assert trial.cutoffs.tolist() == [pd.Timestamp(cutoff) for cutoff in CUTOFFS]


def test_scores_follow_from_truth_and_quantiles(trial):
    scored = rows(trial, status="scored")
    assert len(scored) > 30 and (scored["reason"] == "").all()
    for level, low, high in ((50, "q25", "q75"), (90, "q05", "q95")):
        held = (scored[low] <= scored["truth_high"]) & (scored["truth_low"] <= scored[high])
        assert (scored[f"covered_{level}"] == held).all()
    arrival = scored[scored["target"] == "arrival"]
    outside = np.select(
        [arrival["median"] > arrival["truth_high"], arrival["median"] < arrival["truth_low"]],
        [arrival["median"] - arrival["truth_high"], arrival["median"] - arrival["truth_low"]],
        0.0,
    )
    assert (arrival["error_days"] == outside).all()
    assert scored.loc[scored["target"] != "arrival", "error_days"].isna().all()
    assert (np.diff(scored[["q05", "q25", "median", "q75", "q95"]]) >= 0).all()


def test_a_sensible_colony_is_forecast_sensibly(trial):
    ours = rows(trial, method="antgrowth", status="scored")
    assert ours["covered_90"].mean() > 0.7
    workers = ours[ours["target"] == "workers"]
    assert ((workers["median"] - workers["truth"]).abs() / workers["truth"]).median() <= 0.35


def test_unscored_arrivals_say_why(trial):
    never = run(workers=30, cutoffs=["2026-05-02"], days=18)
    arrivals = rows(never, target="arrival")
    assert (arrivals["status"] == "no truth").all()
    assert (arrivals["reason"] == "the log never shows 30 workers").all()
    assert arrivals[["crps", "error_days", "covered_90"]].isna().to_numpy().all()
    assert "not scored: the log never shows 30 workers" in never.summary()
    assert "arrival" not in never.summary_frame()["target"].tolist()


def test_a_short_horizon_leaves_out_later_counts():
    short = run(cutoffs=["2026-05-02"], days=8)
    assert set(short.folds["horizon_days"].dropna()) == {8.0, 4.5}
    assert rows(short, target="arrival")["q95"].max() <= 8.0  # who comes later stands there


def test_same_seed_same_backtest(trial):
    pd.testing.assert_frame_equal(run().folds, trial.folds)
    one, two = (run(rng=seed, cutoffs=CUTOFFS[1:], days=20).folds["crps"] for seed in (1, 2))
    assert not np.allclose(one, two, equal_nan=True)


def test_input_is_not_changed():
    log = read()
    frame = log.frame.copy()
    backtest(log, TEMPERATURE, "lasius-niger", queen_since=QUEEN_SINCE, cutoffs=1, days=45,
             draws=20, rng=1)  # fmt: skip
    pd.testing.assert_frame_equal(log.frame, frame)


# --- no leaks --------------------------------------------------------------------------------


def foreseen(trial, **wanted):
    return rows(trial, **wanted).set_index(KEYS)[FORESEEN].sort_index()


def test_a_forecast_knows_nothing_of_later_notes(trial):
    altered = NOTES.copy()
    altered.loc[6:, ["eggs", "larvae", "workers"]] = [["2-4", "", "12"], ["1", "2", "40"]]
    other = run(altered, cutoffs=CUTOFFS[1:])
    mine = foreseen(trial, cutoff=pd.Timestamp(CUTOFFS[1]))
    assert len(mine) > 15
    pd.testing.assert_frame_equal(mine, foreseen(other))
    assert trial.folds["crps"].mean() != other.folds["crps"].mean()


def test_as_known_then_knows_nothing_of_later_temperatures(trial):
    cold = run(temperature=TEMPERATURE.then("2026-05-03", 16.0), cutoffs=CUTOFFS[1:])
    last = {"cutoff": pd.Timestamp(CUTOFFS[1])}
    for method in ("antgrowth", "species average"):
        pd.testing.assert_frame_equal(
            foreseen(cold, **last, method=method, temperatures="as known then"),
            foreseen(trial, **last, method=method, temperatures="as known then"),
        )
        known = {"method": method, "temperatures": "known", "target": "arrival"}
        slower, usual = (foreseen(t, **last, **known)["median"].item() for t in (cold, trial))
        assert slower > usual


def test_a_rest_still_to_come_is_known_only_where_temperatures_are():
    resting = run(
        temperature=TEMPERATURE.rest("2026-05-03", "2026-06-10"), cutoffs=CUTOFFS[1:], days=18
    )
    eggs = rows(resting, method="antgrowth", target="eggs").set_index("temperatures")["median"]
    assert eggs["known"] < 0.5 * eggs["as known then"]


def test_a_rest_that_is_on_ends_as_planned_and_later_ones_come_in_their_season():
    # A queen of last summer, at rest in the cellar; nothing later than the cutoff is known.
    plan = ag.constant(24.0).rest("2025-11-10", "2026-03-05", temperature=6.0)
    notes = NOTES.assign(date=pd.date_range("2025-10-01", periods=8, freq="20D"))
    fold = folds.Fold(
        log=read(notes), temperature=plan.rest("2026-03-20", "2026-04-10", temperature=5.0),
        species=ag.load_species("lasius-niger"), founded=pd.Timestamp("2025-08-01"), queens=1,
        changes=None, hemisphere="north", cutoff=pd.Timestamp("2026-01-15"), ahead=500,
        workers=12, draws=20, seed=(1, 1), usual=UsualColonies(20, (1, 2)),
    )  # fmt: skip
    then = fold._plan(folds.THEN)
    resting = pd.Series(then.resting("2026-01-16", 500), pd.date_range("2026-01-16", periods=500))
    assert resting[:"2026-03-04"].all() and not resting["2026-03-05":"2026-11-09"].any()
    assert resting["2026-11-10":"2027-03-04"].all() and not resting["2027-03-05":].any()
    assert then.hours("2026-02-01", 1) == pytest.approx(6.0, abs=0.01)  # as the rest so far
    assert then.hours("2026-04-01", 1) == pytest.approx(24.0)
    assert fold._plan(folds.KNOWN).resting("2026-04-01", 1).all()


def test_steady_temperatures_come_as_expected(trial):
    for method in ("antgrowth", "species average"):
        then, known = (
            foreseen(trial, method=method, temperatures=label).droplevel("temperatures")
            for label in ("as known then", "known")
        )
        pd.testing.assert_frame_equal(then, known)


def test_changes_to_come_are_known_only_with_the_temperatures():
    gift = pd.DataFrame({"date": ["2026-05-06"], "stage": ["workers"], "change": [20],
                         "reason": ["adopted"]})  # fmt: skip
    given = run(changes=gift, cutoffs=CUTOFFS[1:], days=18)
    workers = rows(given, method="antgrowth", target="workers", date=pd.Timestamp("2026-05-10"))
    median = workers.set_index("temperatures")["median"]
    # Of the 20 given some die within the days, and a few are overlooked.
    assert median["known"] > median["as known then"] + 12


# --- dates -----------------------------------------------------------------------------------


@pytest.mark.parametrize("cutoff", ["2026-04-24", "2026-04-27"])  # a look, and a day between two
def test_days_of_a_forecast_meet_the_dates_of_the_log(monkeypatch, cutoff):
    hatching = (pd.Timestamp("2026-05-10") - pd.Timestamp(QUEEN_SINCE)).days

    def simulate(laws, forcing, rng, *, start_day=0, states=None):
        """Return no ants until the evening of 10 May, and 40 workers from then on."""
        day = start_day - 1 + np.arange(forcing.days - start_day + 1)
        paths = np.zeros((len(laws), len(day), 4), dtype=np.int64)
        paths[:, day >= hatching, 3] = 40
        return paths

    class Hatching:
        def __init__(self, laws, chance, start_day, states):
            self.laws, self.start_day = laws, start_day

        def until(self, forcing):
            return simulate(self.laws, forcing, None, start_day=self.start_day)

    monkeypatch.setattr("antgrowth.forecast.paths.Colonies", Hatching)
    monkeypatch.setattr("antgrowth.evaluation.baselines.simulate", simulate)
    trial = run(cutoffs=[cutoff])
    wait = (pd.Timestamp("2026-05-10") - pd.Timestamp(cutoff)).days
    for method in ("antgrowth", "species average"):
        arrival = rows(trial, method=method, target="arrival")[FORESEEN]
        assert (arrival == wait).to_numpy().all()
        workers = rows(trial, method=method, target="workers").set_index("date")["median"]
        assert (workers.loc["2026-05-02"] == 0).all()
        assert (workers.loc["2026-05-10"] > 30).all()


# --- failures --------------------------------------------------------------------------------


def test_failed_folds_are_counted_not_dropped(trial, monkeypatch):
    fit = folds.fit_posterior

    def moody(log, *rest, **options):
        if log.end == pd.Timestamp("2026-05-02"):
            raise AntgrowthError("it would not settle")
        return fit(log, *rest, **options)

    monkeypatch.setattr(folds, "fit_posterior", moody)
    lame = run()
    assert len(lame.folds) == len(trial.folds)
    failed = rows(lame, status="failed")
    assert set(failed["method"]) == {"antgrowth"}
    assert (failed["reason"] == "AntgrowthError: it would not settle").all()
    assert failed["cutoff"].nunique() == 1
    assert failed[["median", "crps"]].isna().to_numpy().all()
    table = lame.summary_frame().set_index(["target", "method", "temperatures"])
    row = table.loc[("workers", "antgrowth", "known")]
    assert (row["folds"], row["failed"], row["cases"], row["answered"]) == (2, 1, 6, 4)
    assert table.loc[("workers", "species average", "known"), "failed"] == 0
    assert "antgrowth from 2026-05-02: AntgrowthError: it would not settle" in lame.summary()


def test_if_no_cutoff_can_be_fitted_the_error_is_raised(monkeypatch):
    def never(*_, **__):
        raise AntgrowthError("it would not settle")

    monkeypatch.setattr(folds, "fit_posterior", never)
    with pytest.raises(AntgrowthError, match="it would not settle"):
        run()


def test_errors_of_the_program_are_not_hidden(monkeypatch):
    def broken(*_, **__):
        raise KeyError("a slip")

    monkeypatch.setattr(folds, "fit_posterior", broken)
    with pytest.raises(KeyError):
        run()


# --- colonies acquired part-grown ------------------------------------------------------------


def test_a_colony_acquired_part_grown():
    trial = run(NOTES.iloc[3:], queen_since=None, cutoffs=CUTOFFS[1:], days=18)
    ours = rows(trial, method="antgrowth", target="workers")
    assert (ours["status"] == "scored").all()
    assert (rows(trial, method="species average", target="workers")["status"] == "scored").all()
    with pytest.raises(SpeciesError, match="its queens do not found alone"):
        backtest(read(), TEMPERATURE, "linepithema-humile", queen_since=QUEEN_SINCE, rng=1,
                 cutoffs=CUTOFFS)  # fmt: skip


# --- baselines -------------------------------------------------------------------------------


def test_log_linear_growth_follows_the_line():
    day = np.arange(-40.0, 1.0, 5.0)
    workers = np.rint(20 * np.exp(0.04 * day))
    line = log_linear_growth(day, workers, 4000, np.random.default_rng(1))
    rng = np.random.default_rng(2)
    ahead = np.median(line.counts(np.array([0.0, 10.0, 20.0]), rng), axis=0)
    assert ahead == pytest.approx(20 * np.exp(0.04 * np.array([0, 10, 20])), rel=0.05)
    wait = np.quantile(line.arrivals(60, rng), [0.05, 0.5, 0.95])
    theirs = log_linear_arrival(day, workers, rng, threshold=60, draws=4000)
    assert wait == pytest.approx([theirs.low, theirs.day, theirs.high], rel=0.1)


def test_counts_on_a_line_are_no_certainty():
    line = log_linear_growth([-20, -10, 0], [2, 4, 8], 4000, np.random.default_rng(1))
    counts = line.counts(np.array([10.0]), np.random.default_rng(2))[:, 0]
    low, high = np.quantile(counts, [0.05, 0.95])
    assert low < 12 < 20 < high
    assert counts.max() <= MOST_TIMES * 8


@pytest.mark.parametrize(
    ("day", "workers"), [([1, 2], [3, 4]), ([1, 2, 3], [0, 3, 4]), ([2, 2, 2], [3, 4, 5]), ([], [])]
)
def test_log_linear_growth_without_an_answer(day, workers):
    assert log_linear_growth(day, workers, 20, np.random.default_rng(1)) is None


def test_no_answers_are_told(trial):
    early = rows(trial, method="log-linear", cutoff=pd.Timestamp("2026-04-12"))
    assert (early["status"] == "no answer").all()
    assert (early["reason"] == "fewer than three counts of workers above 0").all()
    falling = NOTES.assign(workers=["0", "", "", "9", "7", "5", "12", "17"])
    down = rows(run(falling, cutoffs=CUTOFFS[1:], days=18), method="log-linear")
    assert down.set_index("target").loc["arrival", "reason"] == "the counts of workers do not rise"
    assert (down.loc[down["target"] == "workers", "status"] == "scored").all()


def test_a_species_that_should_be_there_already_gives_no_answer():
    slow = NOTES.assign(workers=["0"] * 7 + ["1"])
    late = run(slow, cutoffs=["2026-05-10"], workers=1, days=15, temperature=ag.constant(27.0))
    usual = rows(late, method="species average", target="arrival")
    assert (usual["status"] == "no answer").all()
    assert usual["reason"].str.contains("of 60 colonies of the profile hold fewer than 1").all()


def test_the_species_average_is_the_forecast_without_notes():
    species = ag.load_species("lasius-niger")
    history = ColonyHistory(species, TEMPERATURE, pd.Timestamp(QUEEN_SINCE), True, None, 1)
    paths = species_average(history, np.zeros(5), 60, 200, np.random.default_rng(1))
    assert paths.shape == (200, 61, 4)
    assert (paths[:, 0] == 0).all()
    one_egg = pd.DataFrame({"date": ["2026-03-01"], "workers": ["0"]})
    fit = ag.fit(one_egg, TEMPERATURE, species, queen_since=QUEEN_SINCE, rng=1)
    known = fit.forecast(days=59, draws=200, rng=1).paths
    eggs, theirs = paths[:, -1, :3].sum(axis=1), known[:, -1, :3].sum(axis=1)
    error = np.hypot(eggs.std(), theirs.std()) / np.sqrt(200)
    assert eggs.mean() == pytest.approx(theirs.mean(), abs=4 * error)


# --- averages and report ---------------------------------------------------------------------


def test_averages_by_hand():
    day = pd.Timestamp("2026-05-01")
    table = pd.DataFrame(
        [
            # method, temperatures, horizon, status, median, truth, crps, covered_50, error_days
            ("antgrowth", "as known then", 10, "scored", 5, 7, 1.0, True),
            ("antgrowth", "as known then", 40, "scored", 9, 8, 3.0, False),
            ("antgrowth", "as known then", 50, "failed", np.nan, 9, np.nan, None),
            ("log-linear", "not used", 10, "no answer", np.nan, 7, np.nan, None),
            ("log-linear", "not used", 40, "scored", 12, 8, 6.0, True),
            ("log-linear", "not used", 50, "scored", 12, 9, 5.0, False),
        ],
        columns=["method", "temperatures", "horizon_days", "status", "median", "truth", "crps",
                 "covered_50"],
    )  # fmt: skip
    table = table.assign(
        cutoff=day,
        date=day + pd.to_timedelta(table["horizon_days"], unit="D"),
        target="workers",
        unit="ant",
        covered_90=table["covered_50"],
        error_days=np.nan,
    )
    instead = {"not used": "as known then"}
    ours, line = summarise(table, False, "antgrowth", instead).to_dict("records")
    assert (ours["folds"], ours["failed"], ours["cases"], ours["answered"]) == (1, 1, 3, 2)
    assert (ours["crps"], ours["covered_50"], ours["error"], ours["bias"]) == (2.0, 0.5, 1.5, -0.5)
    assert ours["crps_ratio"] == 1.0
    assert (line["failed"], line["answered"], line["crps"], line["error"]) == (0, 2, 5.5, 3.5)
    assert line["crps_ratio"] == 3.0 / 6.0  # the one case that both answered
    split = summarise(table, True, "antgrowth", instead)
    assert split[["horizon_days", "method", "cases"]].to_numpy().tolist() == [
        ["to 14", "antgrowth", 1], ["to 14", "log-linear", 1],
        ["to 60", "antgrowth", 2], ["to 60", "log-linear", 2],
    ]  # fmt: skip


def test_summary_frame_counts_every_case(trial):
    table = trial.summary_frame()
    assert table["target"].unique().tolist() == ["arrival", "workers", "eggs", "larvae"]
    assert table["cases"].sum() == len(trial.folds)
    assert trial.summary_frame(by_horizon=True)["cases"].sum() == len(trial.folds)
    assert (table["answered"] <= table["cases"]).all()


def test_report(trial):
    text = trial.summary()
    assert text == str(trial)
    assert "12 workers first there between 2026-05-03 and 2026-05-10" in text
    assert "as far as the log tells; 60 simulated colonies each, seed 1" in text
    assert "log-linear: fewer than three counts of workers above 0" in text
    assert repr(trial) == "Backtest('invented', 12 workers, 2 cutoffs, 2026-04-12 to 2026-05-02)"
    page = trial._repr_html_()
    assert "<td" in page and "species average" in page and "<script" not in page


def test_public_names():
    assert ag.backtest is backtest and ag.Backtest is Backtest
    assert "backtest" in ag.__all__


def test_progress_bar_only_if_asked(capsys):
    run(cutoffs=CUTOFFS[1:], days=8, draws=20)
    assert capsys.readouterr().err == ""
    run(cutoffs=CUTOFFS[1:], days=8, draws=20, progress=True)
    assert "backtest: 100%" in capsys.readouterr().err


class TestPicture:
    def test_dates_are_those_of_the_folds(self, trial):
        ax = trial.plot()
        ours = rows(trial, method="antgrowth", temperatures="as known then", target="arrival")
        ours = ours[ours["status"] == "scored"]
        (middle,) = [line for line in ax.lines if line.get_label() == "its median"]
        drawn = pd.DatetimeIndex(middle.get_xdata())
        expected = pd.DatetimeIndex(ours["cutoff"] + pd.to_timedelta(ours["median"], unit="D"))
        assert len(drawn) and list(drawn.round("s")) == list(expected.round("s"))
        held = int(ours["covered_90"].sum())
        assert ax.get_title(loc="left").startswith(f"{held} of {len(ours)} dates lay in")
        assert ax.get_xlabel() == "date of 12 workers"

    def test_counts_where_the_number_never_came(self):
        trial = run(workers=40)
        ax = trial.plot()
        (seen,) = [line for line in ax.lines if line.get_label() == "counted"]
        truth = rows(trial, method="antgrowth", temperatures="as known then", target="workers")
        assert set(seen.get_ydata()) == set(truth["truth"]) and ax.get_ylabel() == "workers"

    def test_nothing_scored(self, trial):
        none = replace(trial, folds=trial.folds.assign(status="no truth"))
        with pytest.raises(AntgrowthError, match="no forecast could be scored"):
            none.plot()
