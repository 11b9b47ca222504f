"""Public calls: whatever stands in an argument is told by the package, soon."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, strategies as st
from odd import ODD, inputs, nested, odd, told_or_fine

import antgrowth as ag
from antgrowth._core.arguments import optional, share, takes, within
from antgrowth.errors import AntgrowthError

NOTES = pd.DataFrame({"date": ["2026-06-20", "2026-07-10"], "eggs": [12, 30]})
RATES = pd.DataFrame({"temperature_c": [15, 20, 25, 30], "duration_days": [60, 35, 22, 18]})
CHANGES = pd.DataFrame({"date": ["2026-07-01"], "stage": ["eggs"], "change": [-1]})
FEEDS = pd.DataFrame({"date": ["2026-07-01"], "food": ["mealworm"], "offered_mg": [60],
                      "left_mg": [3], "control_loss_mg": [1]})  # fmt: skip
READINGS = pd.DataFrame(
    {"time": pd.date_range("2026-06-01", periods=48, freq="h"), "temperature_c": 24.0}
)
THREE_DAYS = np.timedelta64(3, "D")
"""Counts as a whole number in numpy."""
ENDLESS = range(10**12)
"""As an array it fills any memory."""
GARDEN = "garden-ant-first-year"
Call = tuple[Callable[..., Any], dict[str, Any]]


@pytest.fixture(scope="session")
def small() -> ag.Fit:
    return ag.fit(NOTES, ag.constant(25.0), "lasius-niger", queen_since="2026-06-04", rng=1)


@pytest.fixture(scope="module", autouse=True)
def elsewhere(tmp_path_factory) -> Iterator[None]:
    """A folder of its own: some of the odd paths can be written to."""
    with contextlib.chdir(tmp_path_factory.mktemp("odd")):
        yield


@pytest.fixture(scope="session")
def calls(small, tmp_path_factory) -> dict[str, Call]:
    """Each public call with arguments that are right, and small."""
    home = tmp_path_factory.mktemp("calls")
    ahead, plan = small.forecast(days=40, draws=20, rng=1), ag.day_night(26, 20)
    arrival, care, log = ahead.arrival(3, 0.8), ag.care_plan(ahead), ag.read_counts(NOTES)
    food, day = ahead.food(), ag.daily_food(10, 5, 24, "lasius-niger", draws=50, rng=1)
    rates, ant = ag.fit_rate_curve(RATES, rng=1), ag.load_species("lasius-niger")
    longer = small.forecast(days=120, draws=40, rng=1)
    garden = ag.load_colony(ag.demo_colony(GARDEN))
    regimes = ag.compare_regimes(small, {"a": 24.0, "b": 25.0}, workers=3, days=9, draws=9, rng=1)
    some = {"start": "2026-06-01", "days": 3}
    plots = {"arrival": arrival, "care": care, "rates": rates, "forecast": ahead, "food": food}
    return {
        "load_fit": (ag.load_fit, {"path": "x"}),
        "load_colony": (ag.load_colony, {"folder": "x"}),
        "load_species": (ag.load_species, {"name_or_path": "lasius-niger"}),
        "demo_colony": (ag.demo_colony, {"name": GARDEN}),
        "fit_many": (ag.fit_many, {
            "colonies": {"a": "x"}, "workers": 3, "days": 20, "executor": None, "rng": 1}),
        "compare_colonies": (ag.compare_colonies, {
            "first": longer, "second": longer, "workers": 3, "temperature_c": 24.0}),
        "next_count": (ag.next_count, {"forecast": longer, "workers": 5, "days": 2}),
        "constant": (ag.constant, {"temperature_c": 24}),
        "day_night": (ag.day_night, {"day": 26, "night": 20, "day_hours": 14, "day_starts": 8}),
        "monthly_normals": (ag.monthly_normals, {"means_c": [1] * 12, "daily_range": 3}),
        "repeating_day": (ag.repeating_day, {"hours_c": [20] * 24}),
        "read_counts": (ag.read_counts, {"source": NOTES, "name": "x", "today": "2026-12-01"}),
        "read_changes": (ag.read_changes, {"source": "x", "name": "x", "today": "2026-12-01"}),
        "read_feeds": (ag.read_feeds, {"source": FEEDS, "name": "x", "today": "2026-12-01"}),
        "read_temperature": (
            ag.read_temperature, {"source": READINGS, "tz": None, "name": "x", "unit": "C",
                                  "bridge_days": 1}),
        "fit": (ag.fit, {
            "counts": NOTES, "temperature": plan, "species": "lasius-niger",
            "queen_since": "2026-06-04", "queens": 1, "changes": None, "hemisphere": None,
            "rng": 1, "start": None}),
        "backtest": (ag.backtest, {
            "counts": NOTES, "temperature": plan, "species": "x", "workers": 3,
            "queen_since": None, "queens": 1, "cutoffs": 1, "days": 20, "draws": 50, "rng": 1,
            "changes": None, "progress": False}),
        "care_plan": (ag.care_plan, {
            "forecast": ahead, "milestones": (), "nests": (), "weather": None, "outdoors": None,
            "feeds": None, "hemisphere": None, "country": None, "level": 0.9}),
        "daily_food": (ag.daily_food, {
            "workers": 10, "larvae": 5, "temperature_c": 24, "species": ant, "queen": True,
            "mass_mg": None, "larval_days": None, "percent": 20.0, "prey": "house cricket",
            "humidity_percent": 60, "draws": 50, "rng": 1}),
        "fit_rate_curve": (ag.fit_rate_curve, {"table": RATES, "name": "x", "rng": 1}),
        "growth_rate": (
            ag.growth_rate, {"species": ant, "temperature_c": 24.0, "workers": 30, "rng": 1}),
        "nest_room": (ag.nest_room, {"forecast": ahead, "nests": [{"name": "a", "workers": 9}]}),
        "outdoor_windows": (ag.outdoor_windows, {
            "forecast": ahead, "weather": ag.monthly_normals([15] * 12), "workers": 5, "weeks": 2,
            "chance": 0.8, "country": "DE", "rng": 1}),
        "pool": (ag.pool, {"fits": [small, small], "species": None, "name": "x", "source": "x",
                           "citation": "x"}),
        "profile_from_table": (ag.profile_from_table, {
            "table": RATES.assign(stage="egg"), "name": "my-ant", "scientific_name": "My ant",
            "like": "generic-temperate", "common_name": None, "source": "own counts", "rng": 1,
            "citation": None}),
        "sensitivity": (ag.sensitivity, {"of": ahead, "workers": 5, "rng": 1}),
        "best_regime": (ag.best_regime, {
            "fit": None, "workers": 3, "ceiling_c": 26, "phase": None, "days": 9, "draws": 9}),
        "compare_regimes": (ag.compare_regimes, {
            "fit": small, "regimes": {"a": 24.0, "b": 25.0}, "workers": 3, "days": 9,
            "reference": None, "phase": None, "keep_rest": False, "draws": 9, "rng": 1}),
        "Fit.forecast": (
            small.forecast, {"days": 10, "temperature": 24.0, "draws": 10, "rng": 1}),
        "Fit.initial_states": (small.initial_states, {"draws": 10}),
        "Fit.save": (small.save, {"path": home / "fit.json"}),
        "Fit.update": (small.update, {"new_counts": NOTES}),
        "Fit.explore": (small.explore, {"workers": 5, "days": 9, "draws": 9}),
        "Fit.plot": (small.plot, {"stages": ["eggs"]}),
        "Forecast.arrival": (ahead.arrival, {"workers": 5, "queen_survival": 0.8}),
        "Forecast.food": (ahead.food, {
            "percent": 20.0, "prey": "mealworm", "piece_mg": None, "drop_ul": None,
            "protein_from_workers": None, "mass_mg": None, "humidity_percent": 60.0,
            "feeds": None, "scale_mg": 1.0, "rng": 1}),
        "Arrival.interval": (arrival.interval, {"level": 0.9}),
        "Arrival.chance_by": (arrival.chance_by, {"date": "2026-09-10"}),
        "Arrival.chance_with_queen_by": (arrival.chance_with_queen_by, {"date": "2026-09-10"}),
        "Arrival.sentence": (arrival.sentence, {"level": 0.9}),
        "Arrival.when": (arrival.when, {"level": 0.9, "short": True}),
        "Arrival.when_in_full": (arrival.when_in_full, {"level": 0.9}),
        "Arrival.windows": (arrival.windows, {"level": 0.9}),
        "CarePlan.before_rest_sentence": (care.before_rest_sentence, {"workers": 5}),
        "CarePlan.to_ics": (care.to_ics, {"path": home / "care.ics"}),
        "CarePlan.chance_before_rest": (care.chance_before_rest, {"workers": 5}),
        "Milestone.span": (care.milestones[0].span, {"short": True}),
        "PooledProfile.save": (ag.pool([small, small]).save, {"path": home / "own.toml"}),
        "RegimeComparison.gains": (regimes.gains, {"name": "a"}),
        "RegimeComparison.mean_wait": (regimes.mean_wait, {"name": "a"}),
        "RegimeComparison.plot": (regimes.plot, {"axes": None}),
        "Milestone.chance_by": (care.milestones[0].chance_by, {"date": "2026-09-10"}),
        "ChangeLog.until": (ag.read_changes(CHANGES).until, {"end": "2026-07-20"}),
        "FeedLog.until": (ag.read_feeds(FEEDS).until, {"end": "2026-07-20"}),
        "Colony.care_plan": (garden.care_plan, {"forecast": ahead, "level": 0.9}),
        "Colony.fit": (garden.fit, {"rng": 1}),
        "Diagnostics.plot_predictive": (
            small.diagnostics().plot_predictive, {"stages": ["eggs"], "ax": None}),
        "CountLog.between": (log.between, {"start": "2026-06-20", "end": "2026-07-20"}),
        "CountLog.until": (log.until, {"end": "2026-07-20"}),
        "DailyFood.interval": (day.interval, {"name": "sugar_mg", "level": 0.9}),
        "DailyFood.lasts": (day.lasts, {"volume_ul": 20.0, "of": "honey"}),
        "FoodPlan.shopping": (food.shopping, {"weeks": 2}),
        "FoodPlan.plot_beside": (lambda other: food.plot_beside(other), {"other": food}),
        "RateCurveFit.band": (rates.band, {"temperature_c": [20.0], "level": 0.9}),
        "RateCurveFit.caution": (rates.caution, {"temperature_c": [20.0]}),
        "RateCurveFit.rate": (rates.rate, {"temperature_c": [20.0]}),
        "RateCurveFit.frame": (rates.frame, {"temperature_c": [20.0]}),
        "RateCurveFit.choose": (rates.choose, {"name": "x"}),
        "Species.egg_to_worker_days": (
            ant.egg_to_worker_days, {"temperature_c": 25.0, "level": 0.9}),
        "Species.value": (ant.value, {"path": "laying.top_rate"}),
        "Temperature.audit": (plan.audit, {
            "species": ant, "phase": "founding", "humidity_band": None, "wall_cooler_by_c": 1.0}
            | some),
        "Temperature.awake": (plan.awake, some),
        "Temperature.plot": (plan.plot, some | {"ax": None}),
        "Temperature.hours": (plan.hours, some),
        "Temperature.humidity": (plan.humidity, some),
        "Temperature.known_hours": (plan.known_hours, some),
        "Temperature.resting": (plan.resting, some),
        "Temperature.rest": (
            plan.rest, {"start": "2026-06-01", "end": "2026-07-01", "temperature": 8.0}),
        "Temperature.shift": (plan.shift, {"degrees": 1.0}),
        "Temperature.then": (plan.then, {"date": "2026-06-01", "other": 24.0, "ramp_days": 2}),
        "Temperature.typical_day": (plan.typical_day, {"end": "2026-06-20", "days": 3}),
        **{f"{name}.plot": (one.plot, {"ax": None}) for name, one in plots.items()},
    }  # fmt: skip


SLOW = {"fit", "Fit.plot", "best_regime", "compare_regimes", "arrival.plot", "care.plot",
        "rates.plot", "forecast.plot", "food.plot", "FoodPlan.plot_beside"}  # fmt: skip
"""Calls that take a tenth of a second or more where the argument is right after all."""


def tried(calls: dict[str, Call], name: str, value: object, at: int) -> None:
    call, arguments = calls[name]
    argument = list(arguments)[at % len(arguments)]
    with told_or_fine():
        call(**arguments | {argument: value})
    plt.close("all")


@pytest.mark.filterwarnings("ignore::UserWarning")  # of temperatures beyond a table of rates
@inputs(120, 16000)
@given(call=st.integers(0, 999), value=odd, at=st.integers(0, 12))
def test_any_argument(calls, call, value, at):
    quick = sorted(calls.keys() - SLOW)
    tried(calls, quick[call % len(quick)], value, at)


@pytest.mark.filterwarnings("ignore::UserWarning")
@inputs(20, 600)
@given(name=st.sampled_from(sorted(SLOW)), value=st.sampled_from(ODD), at=st.integers(0, 12))
def test_any_argument_of_slow_calls(calls, name, value, at):
    tried(calls, name, value, at)


class TestFound:
    """Calls that once ended in an error of something else, or never."""

    @pytest.mark.parametrize(
        ("name", "change", "words"),
        [
            ("Arrival.interval", {"level": None}, "interval: level = None. Give a number above 0"),
            ("Forecast.food", {"prey": 0}, "prey = 0. Give some of: "),
            ("Forecast.food", {"piece_mg": 3}, "piece_mg = 3. Give masses by kind"),
            ("care_plan", {"forecast": None}, "care_plan: forecast = None. Give the Forecast that"),
            ("load_fit", {"path": None}, "load_fit: path = None. Give the path of a file"),
            ("load_species", {"name_or_path": ["x"]}, "name_or_path = ['x']. Give the path"),
            ("load_colony", {"folder": "x" * 5000}, "load_colony: folder = 'xxx"),
            ("Fit.forecast", {"days": 10**30}, "Give a whole number from 1 to 3,650"),
            ("Fit.forecast", {"draws": 10**30}, "Give a whole number from 1 to 20,000."),
            (
                "Fit.forecast",
                {"days": 3650, "draws": 20_000},
                "more than 4,000,000 days of colonies",
            ),
            (
                "Fit.forecast",
                {"rng": nested(2000)},
                "rng = something of type list that is too long",
            ),
            ("Fit.initial_states", {"draws": 10**9}, "from 1 to 20,000"),
            ("Temperature.hours", {"days": 10**9}, "Use a whole number <= 36,525."),
            ("constant", {"temperature_c": "24"}, "temperature_c = '24'. Give a number from -40"),
            ("constant", {"temperature_c": True}, "temperature_c = True. Give a number from -40"),
            ("fit", {"start": [1.0, 2.0]}, "fit: start has 2 numbers. Give "),
            ("fit", {"queens": 10**400}, "fit: queens = 1000"),
            ("fit", {"queen_since": "1950-01-01"}, "are 77 years. Allowed: up to 40"),
            ("growth_rate", {"workers": 10**400}, "from 1 to 1,000,000"),
            ("nest_room", {"nests": np.array([1])}, "Give a list of nests"),
            ("daily_food", {"queen": "yes"}, "daily_food: queen = 'yes'. Give True or False."),
            ("FoodPlan.plot_beside", {"other": 3}, "Give what Forecast.food returns"),
            ("forecast.plot", {"ax": []}, "ax = []. Give Axes of matplotlib"),
            ("Arrival.when", {"short": np.array([1, 2])}, "when: short = array([1, 2]). Give True"),
            ("Milestone.span", {"short": pd.NA}, "span: short = <NA>. Give True or False."),
            ("Arrival.interval", {"level": THREE_DAYS}, "interval: level = np.timedelta64(3,'D')"),
            ("Fit.forecast", {"days": THREE_DAYS}, "Give a whole number from 1 to 3,650"),
            ("Forecast.arrival", {"queen_survival": THREE_DAYS}, "queen_survival = np.timedelta64"),
            ("Colony.fit", {"rng": THREE_DAYS}, "rng = np.timedelta64(3,'D'). Give a whole"),
            ("fit", {"temperature": 10**400}, "fit: temperature = 1000"),
            ("fit", {"temperature": np.complex128(1j)}, "fit: temperature = np.complex128(1j)."),
            ("Fit.plot", {"stages": [np.array([1, 2])]}, "stages = [array([1, 2])]. Give one or"),
            ("Fit.plot", {"stages": [ENDLESS]}, "stages = [range(0, 1000000000000)]. Give one"),
            ("Diagnostics.plot_predictive", {"ax": [None]}, "ax = None. Give Axes of matplotlib"),
            ("Diagnostics.plot_predictive", {"ax": ENDLESS}, "ax = range(0, 1000000000000). Give"),
            ("RegimeComparison.plot", {"axes": ENDLESS}, "ax = range(0, 1000000000000). Give"),
            ("food.plot", {"ax": ENDLESS}, "ax = range(0, 1000000000000). Give Axes"),
            ("RateCurveFit.rate", {"temperature_c": ENDLESS}, "range(0, 1000000000000). Give num"),
            ("RateCurveFit.band", {"temperature_c": [ENDLESS]}, "Give numbers from -40 to 70 °C"),
            ("growth_rate", {"temperature_c": np.broadcast_to(0.0, 10**11)}, "Give numbers from"),
            ("fit", {"start": ENDLESS}, "fit: start = range(0, 1000000000000). Give a list"),
            ("monthly_normals", {"means_c": ENDLESS}, "monthly_normals: 1 value. Give 12"),
            ("repeating_day", {"hours_c": ENDLESS}, "repeating_day: 1 value. Give 24"),
            ("read_temperature", {"tz": np.broadcast_to(0.0, 10**11)}, "is not a time zone"),
            ("Temperature.audit", {"humidity_band": ENDLESS}, "humidity_band = range(0, 10000"),
            ("PooledProfile.save", {"path": None}, "path = None. Give the path of a file"),
            ("Forecast.food", {"piece_mg": {pd.NA: 1.0}}, "piece_mg names <NA>, which is not"),
            ("care_plan", {"outdoors": {10**5000: 1.0}}, "type int that is too long to show: no"),
            (
                "compare_regimes",
                {"regimes": {10**5000: 24.0, "b": "x"}},
                "compare_regimes: 'b' = 'x'",
            ),
            (
                "fit_rate_curve",
                {"table": RATES.assign(duration_days=1e308)},
                "from 0.001 to 36,525",
            ),
            ("fit_rate_curve", {"table": RATES.assign(duration_days=5e-324)}, "from 0.001 to 36,"),
            ("fit_many", {"colonies": "x" * 5000}, "fit_many: colonies = 'xxx"),
            ("fit_many", {"colonies": np.array(3)}, "fit_many: colonies = array(3). Give at"),
            ("fit_many", {"colonies": ENDLESS}, "fit_many: 0 is no colony. Give at least one"),
            ("fit_many", {"executor": True}, "fit_many: executor = True. Give an Executor"),
        ],
    )
    def test_arguments_that_cannot_be(self, calls, name, change, words):
        call, arguments = calls[name]
        with pytest.raises(AntgrowthError) as caught:
            call(**arguments | change)
        assert words in str(caught.value)

    @pytest.mark.parametrize("cell", [10**5000, nested(2000)], ids=["digits", "lists"])
    def test_cells_that_cannot_be_written(self, calls, cell):
        for name, argument, table, column in (
            ("Fit.update", "new_counts", NOTES, "eggs"),
            ("Forecast.food", "feeds", FEEDS, "offered_mg"),
            ("fit_rate_curve", "table", RATES, "duration_days"),
            ("read_temperature", "source", READINGS, "temperature_c"),
        ):
            call, arguments = calls[name]
            odd_table = table.assign(**{column: pd.Series([cell] * len(table), dtype=object)})
            with pytest.raises(AntgrowthError, match="something of type (int|list) that"):
                call(**arguments | {argument: odd_table})

    def test_a_table_of_rates_has_a_row_for_each_temperature(self, calls):
        frame = calls["RateCurveFit.frame"][0]
        assert list(frame([[15.0, 20.0]])["temperature_c"]) == [15.0, 20.0]

    def test_notes_that_no_colony_comes_to(self):
        notes = pd.DataFrame({"date": ["2026-06-20", "2026-07-10"], "eggs": [12, 999_999]})
        fit = ag.fit(notes, ag.constant(25), "lasius-niger", queen_since="2026-06-04", rng=1)
        with pytest.raises(AntgrowthError, match="no colony of Lasius niger comes to hold"):
            fit.forecast(days=5, draws=5, rng=1)

    @pytest.mark.parametrize("days", [5e-324, 1e-310, 1e-12])
    def test_a_stage_that_lasts_no_time(self, calls, days):
        call, arguments = calls["daily_food"]
        with pytest.raises(AntgrowthError, match="larval_days = .*Give the length"):
            call(**arguments | {"larval_days": days})

    def test_a_profile_is_no_list(self):
        with pytest.raises(TypeError, match="not iterable"):
            list(ag.load_species("lasius-niger"))


class TestTakes:
    """The check of arguments itself."""

    @staticmethod
    def call(*args: Any, **keywords: Any) -> tuple:
        @takes(days=within(1, 9), level=optional(share(0, 1, 0.5)))
        def ask(days, level=None, *, other=0):
            return days, level, other

        return ask(*args, **keywords)

    def test_what_is_right_goes_through(self):
        assert self.call(3) == (3, None, 0)
        assert self.call(days=9, level=0.5, other="x") == (9, 0.5, "x")

    def test_all_faults_at_once(self):
        with pytest.raises(AntgrowthError) as caught:
            self.call(10, level=1)
        assert str(caught.value) == (
            "ask: days = 10. Give a whole number from 1 to 9.\n"
            "ask: level = 1. Give a number above 0 and below 1, such as 0.5, or None."
        )

    @pytest.mark.parametrize("wrong", [(), (1, 2, 3), partial(dict, day=3)])
    def test_too_many_and_too_few_are_told_by_python(self, wrong):
        with pytest.raises(TypeError, match=r"ask\(\)"):
            self.call(**wrong()) if callable(wrong) else self.call(*wrong)
