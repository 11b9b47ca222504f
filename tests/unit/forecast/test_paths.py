"""Forecasts and arrivals: what is read off simulated colonies, and what is said of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.errors import AntgrowthError, TemperatureError, TemperatureGapError
from antgrowth.forecast.arrival import CONDITION, Arrival

START = pd.Timestamp("2026-09-03")
NOTES = pd.DataFrame(
    {
        "date": ["2026-07-20", "2026-08-14", "2026-09-03"],
        "eggs": [9, 5, 4],
        "pupae": ["", "first", 5],
        "workers": [0, "", 4],
    }
)


def fitted(temperature: ag.Temperature | None = None) -> ag.Fit:
    plan = ag.constant(25.0) if temperature is None else temperature
    log = ag.read_counts(NOTES, today="2027-07-01", name="invented")
    return ag.fit(log, plan, "lasius-niger", queen_since="2026-07-04", rng=1)


@pytest.fixture(scope="module")
def fit() -> ag.Fit:
    return fitted()


@pytest.fixture(scope="module")
def forecast(fit) -> ag.Forecast:
    return fit.forecast(days=120, draws=300, rng=2)


def record(first: str, last: str, hours_c: np.ndarray) -> ag.Temperature:
    """A thermometer record that repeats a pattern of hours."""
    time = pd.date_range(first, pd.Timestamp(last) + pd.Timedelta("23h"), freq="h")
    readings = pd.DataFrame({"time": time, "temperature_c": np.resize(hours_c, len(time))})
    return ag.read_temperature(readings)


def arrival(waited: list[float] | np.ndarray, workers: int = 30, horizon: int = 100) -> Arrival:
    """Arrivals so many days after the last note; NaN where never."""
    waited = np.asarray(waited, float)
    dates = np.full(len(waited), np.datetime64("NaT"), "datetime64[D]")
    come = ~np.isnan(waited)
    dates[come] = np.datetime64(START, "D") + waited[come].astype(int)
    return Arrival(workers, dates, START, horizon)


def day(number: int) -> pd.Timestamp:
    return START + pd.Timedelta(days=number)


class TestPlans:
    def test_a_number_is_a_steady_temperature(self, fit):
        number, plan = (fit.forecast(30, t, draws=20, rng=1) for t in (21, ag.constant(21)))
        assert number.assumed == plan.assumed and (number.paths == plan.paths).all()
        with pytest.raises(TemperatureError, match="forecast: temperature = 'warm'. Give a number"):
            fit.forecast(30, "warm")

    def test_heat_that_kills_is_told(self, fit):
        hot = fit.forecast(30, ag.constant(25).then("2026-09-10", 45), draws=20, rng=1)
        limit = fit.species.value("limits.heat_limit_c")
        assert f"; above {limit:g} °C, where brood dies, on 24 days" in hot.assumed
        assert "above" not in fit.forecast(30, 25, draws=20, rng=1).assumed


class TestReached:
    def test_it_is_told_when_as_many_were_noted_first(self, fit, forecast):
        assert forecast.arrival(4).sentence() == "4 workers: reached by 2026-09-03"
        log = pd.concat([NOTES, pd.DataFrame({"date": ["2026-09-10"], "workers": [5]})])
        later = ag.fit(ag.read_counts(log, today="2027-07-01"), ag.constant(25.0),
                       "lasius-niger", queen_since="2026-07-04", rng=1)  # fmt: skip
        found = later.forecast(30, draws=100, rng=1).arrival(4)
        assert found.reached and found.sentence() == "4 workers: reached by 2026-09-03"
        assert found.plot().get_title(loc="left") == "4 workers: reached by 3 September"


class TestQueen:
    def test_a_queen_noted_dead(self):
        log = ag.read_counts(NOTES, today="2027-07-01", name="invented")
        row = {"date": ["2026-09-01"], "stage": ["queen"], "change": ["-1"], "reason": ["died"]}
        changes = ag.read_changes(pd.DataFrame(row), today="2027-07-01")
        fit = ag.fit(log, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=1,
                     changes=changes)  # fmt: skip
        (alert,) = [alert for alert in fit.alerts() if alert.kind == "no queen"]
        assert alert.date == pd.Timestamp("2026-09-01") and "has no queen" in alert.found
        ahead = fit.forecast(60, draws=20, rng=1)
        assert ahead.arrival(30).sentence().endswith("by the changes noted there is no queen")
        assert CONDITION not in ahead.summary() + repr(ahead)
        tried = ag.compare_regimes(fit, {"as now": None, "21": 21}, days=30, draws=20, rng=1)
        assert CONDITION not in ag.care_plan(ahead).summary() + tried.summary()


class TestInterval:
    """An arrival noted on day n happened within (n - 1, n], anywhere in it alike."""

    def test_all_on_one_day(self):
        # Of one day's arrivals the middle 90 % fill most of the day, rounded to the whole of it.
        one = arrival([40] * 50)
        assert one.interval(0.9) == (day(40), day(40))
        assert one.median == day(40)
        assert one.interval(0.1) == (day(40), day(40))

    def test_one_a_day(self):
        # 0.05 x 100 = 5 days are over by the lower end: days 6 to 95 are 90 of 100.
        assert arrival(np.arange(1, 101)).interval(0.9) == (day(6), day(95))
        assert arrival(np.arange(1, 101)).interval(0.5) == (day(26), day(75))

    @pytest.mark.parametrize("level", [0.1, 0.5, 0.8, 0.9, 0.96])
    def test_against_quantiles_within_days(self, level):
        rng = np.random.default_rng(3)
        moments = np.sort(60 * rng.beta(2, 3, 400)) + 5
        found = arrival(np.ceil(moments))
        # Closed form: within a day, arrivals are spread evenly.
        edges = np.arange(0, 80)
        share = (np.ceil(moments)[:, None] <= edges).mean(axis=0)
        low, high = (np.interp(q, share, edges) for q in ((1 - level) / 2, (1 + level) / 2))
        assert found.interval(level) == (day(round(low) + 1), day(round(high)))

    def test_holds_what_it_promises_on_average(self):
        # Day 1 to 10, with 1 to 10 colonies: where the ends fall between days, rounding evens out.
        rng, held, levels = np.random.default_rng(5), [], np.linspace(0.3, 0.95, 40)
        for _ in range(40):
            waited = np.ceil(rng.gamma(9, 2, 2000))
            found = arrival(waited)
            for level in levels:
                first, last = found.interval(level)
                inside = (found.dates >= np.datetime64(first, "D")) & (
                    found.dates <= np.datetime64(last, "D")
                )
                held.append(inside.mean() - level)
        assert np.mean(held) == pytest.approx(0.0, abs=0.01)

    def test_wider_for_more(self):
        some = arrival(np.ceil(np.random.default_rng(1).gamma(9, 5, 300)))
        spans = [some.interval(level) for level in (0.2, 0.5, 0.8, 0.95)]
        for (first, last), (earlier, later) in zip(spans, spans[1:], strict=False):
            assert earlier <= first <= last <= later
        assert spans[0][0] <= some.median <= spans[0][1]

    def test_never_is_later_than_any_date(self):
        # 60 of 100 arrive, one a day: the middle is day 50; the upper end lies beyond the horizon.
        some = arrival([*range(1, 61), *[np.nan] * 40])
        first, last = some.interval(0.9)
        assert first == day(6) and last is pd.NaT
        assert some.interval(0.1) == (day(46), day(55))
        assert some.median == day(50)

    def test_hardly_any(self):
        some = arrival([10, 20, *[np.nan] * 98])
        assert some.interval(0.9) == (pd.NaT, pd.NaT) and some.median is pd.NaT
        assert some.interval(0.985)[0] == day(11)  # three quarters of day 10 are over
        none = arrival([np.nan] * 20)
        assert none.interval(0.5) == (pd.NaT, pd.NaT) and none.median is pd.NaT

    @pytest.mark.parametrize("level", [0, 1, 1.5, -0.1])
    def test_a_level_that_is_none(self, level):
        with pytest.raises(AntgrowthError) as caught:
            arrival([3, 4]).interval(level)
        assert str(caught.value) == (
            f"interval: level = {level!r}. Give a number above 0 and below 1, such as 0.9."
        )


class TestChances:
    SOME = arrival([3, 5, 5, 9, np.nan])

    def test_chance_by_a_date_holds_that_date(self):
        chances = [self.SOME.chance_by(day(n)) for n in (0, 2, 3, 4, 5, 9, 500)]
        assert chances == pytest.approx([0, 0, 0.2, 0.2, 0.6, 0.8, 0.8])
        assert self.SOME.chance_by("2026-09-08") == pytest.approx(0.6)
        assert self.SOME.chance_by("2026-09-08 17:30") == pytest.approx(0.6)

    def test_chance_never(self):
        assert self.SOME.chance_never == pytest.approx(0.2)
        assert self.SOME.chance_by("2030-01-01") + self.SOME.chance_never == pytest.approx(1)
        assert arrival([3, 4]).chance_never == 0

    @pytest.mark.parametrize(
        ("waited", "reached"),
        [
            ([0, 0, 0], True),
            ([0, 0, 4], True),
            ([0, 4], False),
            ([0, 1, 1], False),
            ([0, 0, np.nan], True),
            ([np.nan, np.nan], False),
        ],
    )
    def test_reached_where_most_hold_as_many_already(self, waited, reached):
        assert arrival(waited).reached is reached


class TestSentence:
    @pytest.mark.parametrize(
        ("waited", "sentence"),
        [
            (
                np.arange(1, 101),
                "30 workers: 2026-09-09 to 2026-12-07 (90% interval), most likely about "
                f"2026-10-23, {CONDITION}",
            ),
            (
                [*range(1, 61), *[np.nan] * 40],
                "30 workers: 2026-09-09 to beyond 2026-12-12 (90% interval), most likely about "
                f"2026-10-23, {CONDITION}",
            ),
            (
                [*range(1, 41), *[np.nan] * 60],
                f"30 workers: 2026-09-09 to beyond 2026-12-12 (90% interval), {CONDITION}",
            ),
            ([10, *[np.nan] * 39], f"30 workers: hardly before 2026-12-12, {CONDITION}"),
            ([np.nan] * 5, f"30 workers: hardly before 2026-12-12, {CONDITION}"),
            ([0, 0, 0, 7], "30 workers: reached by 2026-09-03"),
        ],
    )
    def test_each_variant(self, waited, sentence):
        some = arrival(waited)
        assert some.sentence() == sentence
        assert repr(some) == f"Arrival({sentence})"

    def test_another_level(self):
        assert (
            arrival(np.arange(1, 101))
            .sentence(0.5)
            .startswith("30 workers: 2026-09-29 to 2026-11-17 (50% interval)")
        )

    @pytest.mark.parametrize("waited", [[0, 0], [3] * 9, [np.nan] * 3])
    def test_one_worker_is_no_workers(self, waited):
        assert arrival(waited, workers=1).sentence().startswith("1 worker: ")

    def test_it_names_its_condition(self):
        assert CONDITION == "if the queen lives and stays fertile"


class TestArrivalOfForecast:
    def made(self, forecast, workers: list[list[int]]) -> ag.Forecast:
        """The forecast with the workers of each colony by day."""
        paths = np.zeros((len(workers), len(workers[0]), 4), dtype=np.int64)
        paths[..., 3] = workers
        return replace(forecast, paths=paths)

    def test_the_first_day_with_as_many(self, forecast):
        made = self.made(
            forecast, [[4, 5, 6, 5, 9], [6, 6, 6, 6, 6], [4, 4, 4, 4, 4], [0, 7, 2, 2, 2]]
        )
        found = made.arrival(workers=6)
        assert np.isnat(found.dates).tolist() == [False, False, True, False]
        waited = (found.dates - np.datetime64(START, "D")).astype(int)[[0, 1, 3]]
        assert waited.tolist() == [2, 0, 1]
        assert (found.workers, found.start, found.horizon) == (6, START, 4)

    def test_dates_agree_with_the_paths(self, forecast):
        found = forecast.arrival(30)
        assert found.dates.dtype == np.dtype("datetime64[D]") and len(found.dates) == 300
        for days in (30, 60, 100):
            ever = (forecast.paths[:, : days + 1, 3] >= 30).any(axis=1)
            assert found.chance_by(day(days)) == pytest.approx(ever.mean())

    def test_more_workers_come_later(self, forecast):
        few, many = (forecast.arrival(n) for n in (7, 10))
        assert few.median < many.median

    @pytest.mark.parametrize("workers", [0, -3, 2.5, "30", None])
    def test_a_number_that_is_none(self, forecast, workers):
        with pytest.raises(AntgrowthError) as caught:
            forecast.arrival(workers)
        assert str(caught.value) == (
            f"arrival: workers = {workers!r}. Give a whole number from 1 to 1,000,000."
        )


class TestFrame:
    def test_columns_and_rows(self, forecast):
        frame = forecast.frame()
        assert list(frame) == ["date", "stage", "mean", "q05", "q25", "q50", "q75", "q95"]
        assert len(frame) == 121 * 5
        assert frame["stage"].tolist()[:5] == ["eggs", "larvae", "pupae", "workers", "brood"]
        assert frame["date"].iloc[0] == START and frame["date"].iloc[-1] == day(120)
        assert frame["date"].nunique() == 121 == len(forecast.dates)

    def test_values_are_those_of_the_paths(self, forecast):
        frame = forecast.frame().set_index(["date", "stage"])
        there = forecast.paths[:, 70]
        assert frame.loc[(day(70), "workers"), "mean"] == pytest.approx(there[:, 3].mean())
        assert frame.loc[(day(70), "larvae"), "q25"] == np.quantile(there[:, 1], 0.25)
        brood = there[:, :3].sum(axis=1)
        assert frame.loc[(day(70), "brood"), ["q05", "q95"]].tolist() == pytest.approx(
            np.quantile(brood, [0.05, 0.95]).tolist()
        )

    def test_quantiles_rise_and_none_is_below_zero(self, forecast):
        levels = forecast.frame()[["q05", "q25", "q50", "q75", "q95"]].to_numpy()
        assert levels.min() >= 0 and np.all(np.diff(levels, axis=1) >= 0)


class TestForecast:
    def test_shape_and_start(self, fit, forecast):
        assert forecast.paths.shape == (300, 121, 4) and forecast.paths.dtype == np.int64
        assert (forecast.days, forecast.draws, forecast.start) == (120, 300, START)
        assert len(forecast.laws) == 300 and forecast.fit is fit
        # Four workers were counted on the last evening.
        assert forecast.paths[:, 0, 3].mean() == pytest.approx(4, abs=0.7)
        assert repr(forecast) == (
            f"Forecast('invented', 120 days from 2026-09-03, 300 colonies, {CONDITION})"
        )

    def test_the_same_seed_gives_the_same_colonies(self, fit, forecast):
        again = fit.forecast(days=120, draws=300, rng=2)
        assert again.seed == forecast.seed == 2
        assert np.array_equal(again.paths, forecast.paths)
        by_generator = fit.forecast(days=5, draws=20, rng=np.random.default_rng(9))
        repeated = fit.forecast(days=5, draws=20, rng=by_generator.seed)
        assert np.array_equal(by_generator.paths, repeated.paths)

    def test_the_same_question_has_the_same_answer_however_far_it_looks(self, fit, forecast):
        longer = fit.forecast(days=200, draws=300, rng=2)
        assert np.array_equal(longer.paths[:, :121], forecast.paths)

    def test_also_where_the_log_can_be_read_in_several_ways(self):
        """Each reading has colonies of its own, whose chance is not that of the others' days."""
        log = pd.DataFrame({
            "date": pd.date_range("2026-03-10", periods=8, freq="7D").strftime("%Y-%m-%d"),
            "eggs": [22, 51, 78, 58, 33, 38, 14, 20], "larvae": [0, 0, "first", 14, 13, 9, 5, 6],
            "pupae": [0, 0, 0, 2, 10, 15, 9, 7],
        })  # fmt: skip
        fit = ag.fit(log, ag.constant(25.0), "lasius-niger", queen_since="2026-03-01", rng=1)
        assert len(fit.components) > 1 and 0.02 < fit.components[0].probability < 0.98
        short, long = (fit.forecast(days=days, draws=200, rng=3) for days in (20, 50))
        assert np.array_equal(long.paths[:, :21], short.paths)

    def test_and_beside_other_plans(self, fit, forecast):
        tried = ag.compare_regimes(
            fit, {"as now": None, "21": 21}, days=90, draws=300, rng=2, keep_rest=False
        )
        assert np.array_equal(tried.forecasts["as now"].paths, forecast.paths[:, :91])

    def test_a_lone_queen_gets_a_date(self):
        """Half a year is too short for 30 workers of a queen that has just begun to lay."""
        notes = pd.DataFrame({"date": ["2026-07-20"], "eggs": ["first"]})
        fit = ag.fit(notes, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=1)
        short = fit.forecast(draws=200, rng=1)
        assert short.days == 180 and short.arrival(30).chance_never > 0.3
        far = fit.forecast(workers=30, draws=200, rng=1)
        assert far.days > 200 and far.arrival(30).chance_never <= 0.05
        assert np.array_equal(far.paths[:, :181], short.paths)

    def test_what_will_never_come_is_not_waited_for(self, fit):
        ahead = fit.forecast(workers=10**6, temperature=ag.constant(21.0), draws=20, rng=1)
        assert 365 < ahead.days <= 1095 and ahead.arrival(10**6).chance_never == 1.0

    def test_days_are_the_least(self, fit):
        assert fit.forecast(300, workers=1, draws=20, rng=1).days == 300
        assert fit.forecast(workers=1, draws=20, rng=1).days == 200

    @pytest.mark.parametrize("draws", [1, 7, 1300])
    def test_as_many_colonies_as_asked_for(self, fit, draws):
        found = fit.forecast(days=2, draws=draws, rng=1)
        assert found.draws == draws == len(found.laws)

    @pytest.mark.parametrize("name", ["days", "draws", "workers"])
    @pytest.mark.parametrize("value", [0, -1, 2.5, "90"])
    def test_numbers_that_are_none(self, fit, name, value):
        with pytest.raises(AntgrowthError) as caught:
            fit.forecast(**{name: value})
        most = {
            "days": "3,650, or None", "draws": "20,000", "workers": "1,000,000, or None",
        }[name]  # fmt: skip
        assert str(caught.value) == (
            f"forecast: {name} = {value!r}. Give a whole number from 1 to {most}."
        )


@pytest.fixture(scope="module")
def recorded() -> ag.Fit:
    """A fit whose record ends after two warmer weeks, four days after the last note."""
    cool = record("2026-07-04", "2026-08-24", np.array([22.0]))
    warm = record("2026-08-25", "2026-09-07", np.repeat([24.0, 28.0], 12))
    return fitted(cool.then("2026-08-25", warm))


class TestFuture:
    """What the time to come is taken to be."""

    def test_a_plan_without_end_goes_on(self, fit):
        ahead = fit.forecast(days=40, draws=20, rng=1)  # to 2026-10-13, before the rest
        assert ahead.assumed == "constant 25.0 °C"
        assert ahead.temperature is fit.temperature

    def test_a_rest_that_the_species_needs(self, recorded):
        ahead = recorded.forecast(days=280, draws=300, rng=1)
        assert ahead.assumed.endswith(
            "; rest from 2026-10-15 until 2027-03-01 at 10.0 °C, usual for Lasius niger in the "
            "northern hemisphere"
        )
        resting = ahead.temperature.resting(START, 280)
        assert np.flatnonzero(resting)[[0, -1]].tolist() == [42, 178]
        assert ahead.paths[:, 41, 0].mean() > 3
        # In its last week, leftover eggs and pupae are mostly lost; awake again, she lays in May.
        assert ahead.paths[:, 178, [0, 2]].sum() < 0.3 * ahead.paths[:, 41, [0, 2]].sum()
        assert ahead.paths[:, -1, 0].mean() > ahead.paths[:, 178, 0].mean()

    def test_a_plan_without_end_is_taken_at_its_word(self, fit, forecast):
        assert forecast.assumed == (
            "constant 25.0 °C; no rest from 2026-10-15 until 2027-03-01, though Lasius niger needs "
            "one"
        )
        assert not forecast.temperature.resting(START, 200).any()

    def test_a_rest_of_the_southern_hemisphere(self):
        cool = record("2026-07-04", "2026-09-07", np.array([25.0]))
        south = ag.fit(NOTES, cool, "lasius-niger", queen_since="2026-07-04",
                       hemisphere="south", rng=1)  # fmt: skip
        ahead = south.forecast(days=250, draws=20, rng=1)
        assert ahead.assumed.endswith(
            "; rest from 2027-04-15 until 2027-09-01 at 10.0 °C, usual for Lasius niger"
        )
        with pytest.raises(AntgrowthError, match="fit: hemisphere = 'east'. Give north, south"):
            ag.fit(NOTES, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04",
                   hemisphere="east", rng=1)  # fmt: skip

    def test_a_record_ends_and_its_last_two_weeks_go_on(self, recorded):
        ahead = recorded.forecast(days=40, draws=20, rng=1)
        assert ahead.assumed == (
            "mean of 14 days, 2026-08-25 to 2026-09-07, repeated daily: mean 26.0 °C, 24.0 to 28.0"
        )
        hours = ahead.temperature.hours("2026-09-01", 43)
        assert hours == pytest.approx(np.tile(np.repeat([24.0, 28.0], 12), (43, 1)))
        assert ahead.temperature.hours("2026-08-01", 1) == pytest.approx(np.full((1, 24), 22.0))

    def test_a_record_that_reaches_far_enough_is_taken_as_it_is(self, recorded):
        ahead = recorded.forecast(days=4, draws=20, rng=1)
        assert ahead.temperature is recorded.temperature
        assert ahead.assumed == recorded.temperature.describe()
        assert recorded.forecast(days=5, draws=20, rng=1).assumed.startswith("mean of 14 days")

    def test_a_plan_of_ones_own_from_the_day_after_the_last_note(self, recorded):
        ahead = recorded.forecast(days=60, temperature=ag.constant(21), draws=20, rng=1)
        assert ahead.assumed == (
            "constant 21.0 °C; no rest from 2026-10-15 until 2027-03-01, though Lasius niger needs "
            "one"
        )
        assert not ahead.temperature.resting("2026-09-03", 300).any()
        hours = ahead.temperature.hours("2026-09-03", 2).mean(axis=1)
        assert hours == pytest.approx([26, 21])

    def test_warmer_is_sooner(self, fit):
        cool, warm = (
            fit.forecast(days=200, temperature=ag.constant(c), draws=200, rng=1).arrival(10)
            for c in (21, 27)
        )
        # More than ten have to wait for another summer, as it is without a rest for ever.
        assert (warm.median - START).days < 0.7 * (cool.median - START).days

    def test_a_rest_that_is_planned(self, fit):
        plan = ag.constant(24).rest("2026-10-01", "2027-02-01", temperature=10)
        ahead = fit.forecast(days=100, temperature=plan, draws=200, rng=1)
        assert "rest from 2026-10-01 until 2027-02-01" in ahead.assumed
        before, after = np.median(ahead.paths[:, [25, -1], 0], axis=0)
        assert before > 10 and after < 0.1 * before  # most of the eggs do not outlive it

    def test_a_plan_that_ends_too_soon(self, fit):
        short = record("2026-09-01", "2026-10-01", np.array([24.0]))
        with pytest.raises(TemperatureGapError, match="2026-10-02"):
            fit.forecast(days=60, temperature=short, draws=20, rng=1)
