"""Weeks outdoors: weather and numbers together, and what bars them whatever the weather."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from grown_ahead import day, growing, grown

import antgrowth as ag
from antgrowth.care.outdoors import LAW
from antgrowth.climate.weather_generator import weather_of
from antgrowth.errors import AntgrowthError, TemperatureError

NORMALS = [1, 2, 5, 9, 14, 17, 19, 18, 15, 10, 5, 2]
MILD = ag.monthly_normals([18.0] * 12, daily_range=4)


def windows(weather=MILD, ahead=None, **options) -> ag.OutdoorWindows:
    options = {"workers": 50, "weeks": 4, "country": "DE"} | options
    return ag.outdoor_windows(grown() if ahead is None else ahead, weather, **options)


class TestBoth:
    def test_workers_decide_where_the_weather_is_always_mild(self):
        found = windows()
        table = found.frame()
        assert (table["chance_weather"] > 0.99).all()
        for line in table.to_dict("records"):
            there = np.mean(grown().paths[:, (line["start"] - grown().start).days, 3] >= 50)
            assert line["chance_workers"] == there
        assert table["chance"].tolist() == pytest.approx(
            (table["chance_weather"] * table["chance_workers"]).tolist()
        )

    def test_weather_decides_where_there_are_always_enough(self):
        many = growing(grown(), np.full(301, 500))
        table = windows(ag.monthly_normals(NORMALS, daily_range=8), many).frame()
        table = table.set_index(table["start"].dt.month)
        assert table.loc[1, "chance_weather"].max() < 0.05  # nights below 2 °C
        assert table.loc[5, "chance_weather"].min() > table.loc[3, "chance_weather"].max()

    def test_a_longer_stay_is_harder(self):
        plan = ag.monthly_normals(NORMALS, daily_range=8)
        short, long = (
            windows(plan, weeks=weeks).frame().set_index("start")["chance_weather"]
            for weeks in (2, 10)
        )
        assert (long <= short + 0.05).all() and long.mean() < short.mean()

    def test_windows_are_whole_weeks_that_fit(self):
        found = windows(chance=0.5)
        table = found.frame()
        fit = table[table["fits"]]
        assert found.windows()[0][0] == fit["start"].iloc[0]
        assert all(first.day_of_week == 0 and last.day_of_week == 6
                   for first, last in found.windows())  # fmt: skip
        assert (fit["chance"] >= 0.5).all() and (table["start"].dt.day_of_week == 0).all()
        assert (table["end"] - table["start"] == pd.Timedelta(days=27)).all()

    def test_rest_of_the_plan_is_no_time_for_it(self):
        plan = ag.constant(24).rest("2026-10-15", "2027-03-01", temperature=10)
        found = windows(ahead=replace(grown(), temperature=plan), chance=0.05).frame()
        assert found["resting"].any() and not (found["resting"] & found["fits"]).any()
        for line in found.to_dict("records"):
            assert line["resting"] == plan.resting(line["start"], 28).any()

    def test_no_window_is_an_answer_that_says_what_is_missing(self):
        cold = windows(ag.monthly_normals([-5.0] * 12))
        assert cold.windows() == []
        assert "Outdoors: no window for 4 weeks with 50 workers by" in cold.sentence()
        assert "it is the weather that is missing." in cold.sentence()
        few = windows(workers=100_000)
        assert few.windows() == [] and "it is the workers that are missing." in few.sentence()

    def test_same_seed_same_weeks(self):
        plan = ag.monthly_normals(NORMALS, daily_range=8)
        pd.testing.assert_frame_equal(windows(plan).frame(), windows(plan).frame())


class TestBarred:
    def test_not_native(self):
        found = windows(country="US")
        assert found.excluded == "Lasius niger is not known to be native to US"
        assert found.windows() == []
        assert found.sentence().startswith("Outdoors: not scheduled, Lasius niger is not known")

    def test_no_country(self):
        assert windows(country=None).excluded.startswith("no country is given")

    def test_research_only(self):
        argentine = ag.load_species("linepithema-humile")
        fit = replace(grown().fit, history=replace(grown().fit.history, species=argentine))
        found = windows(ahead=replace(grown(), fit=fit), country="AR")
        assert found.excluded == "Linepithema humile is for research only"

    def test_limits_not_known(self, monkeypatch):
        ant = grown().fit.species.to_mapping()
        del ant["limits"]["outdoor_low_c"], ant["limits"]["outdoor_high_c"]
        bare = ag.species.species_from_mapping(ant, "my-ant", "my-ant.toml")
        monkeypatch.setattr(type(grown().fit), "species", property(lambda _: bare))
        found = windows()
        assert found.excluded == "my-ant has no limits.outdoor_low_c and limits.outdoor_high_c"
        assert found.frame()["chance_weather"].isna().all()

    @pytest.mark.parametrize("country", ["DE", "US", None])
    def test_law_and_biosecurity_always_stand_there(self, country):
        found = windows(country=country)
        for text in LAW:
            assert text in found.summary()
        assert "never release ants" in found._repr_html_()


class TestWeather:
    def test_normals_stray_by_what_is_assumed(self):
        weather = weather_of(MILD)
        low, high = weather.years(day(1), 60, 4000, np.random.default_rng(1))
        assert low.shape == (4000, 60)
        # 18 °C, a daily wave of 4 °C, days by 3 and years by 1 °C: by hand
        assert low.mean() == pytest.approx(16.0, abs=0.1)
        assert high.mean() == pytest.approx(20.0, abs=0.1)
        assert low[:, 30].std() == pytest.approx(np.sqrt(3**2 + 1**2), rel=0.05)
        step = np.corrcoef(low[:, 10], low[:, 11])[0, 1]
        assert step == pytest.approx((9 * 0.7 + 1) / 10, abs=0.03)
        assert "(assumed)" in weather.basis

    def test_a_record_tells_its_own_course_and_straying(self):
        rng = np.random.default_rng(2)
        times = pd.date_range("2024-01-01", "2025-12-31 18:00", freq="6h")
        place = times.day_of_year.to_numpy() / 365.25
        daily = np.repeat(2.0 * rng.standard_normal(len(times) // 4 + 1), 4)[: len(times)]
        swing = np.where(times.hour == 12, 3.0, -1.0)
        celsius = 10 - 8 * np.cos(2 * np.pi * place) + daily + swing
        record = ag.read_temperature(pd.DataFrame({"time": times, "temperature_c": celsius}))
        weather = weather_of(record)
        assert weather.low_c[0] == pytest.approx(10 - 8 - 1, abs=1.0)
        assert weather.high_c[181] == pytest.approx(10 + 8 + 3, abs=1.5)
        assert weather.low_sd_c == pytest.approx(2.0, rel=0.25)
        assert weather.persistence < 0.5
        assert "in the record" in weather.basis

    def test_a_short_record_is_refused(self):
        times = pd.date_range("2026-01-01", "2026-06-30", freq="6h")
        record = ag.read_temperature(pd.DataFrame({"time": times, "temperature_c": 15.0 + 0 * 
                                                   times.hour + times.hour / 10}))  # fmt: skip
        with pytest.raises(TemperatureError) as caught:
            windows(record)
        assert "knows 181 days" in str(caught.value) or "knows 180 days" in str(caught.value)
        assert "At least 360 are needed" in str(caught.value)


class TestFaults:
    def test_all_at_once(self):
        with pytest.raises(AntgrowthError) as caught:
            windows(workers=0, weeks=60, chance=1.0, country="UK")
        text = str(caught.value)
        assert "workers = 0. Allowed: a whole number from 1 to" in text
        assert "weeks = 60. Allowed: a whole number from 1 to 52." in text
        assert "chance = 1.0. Allowed: a probability between 0 and 1. Write it" in text
        assert "Did you mean GB?" in text

    def test_a_forecast_of_a_few_days(self):
        brief = grown().fit.forecast(days=2, draws=5, rng=1)
        with pytest.raises(AntgrowthError, match="before a whole week begins. Forecast further"):
            windows(ahead=brief)


def test_views():
    found = windows(chance=0.5)
    assert repr(found).startswith("OutdoorWindows(Outdoors: a stay of 4 weeks with 50 workers may")
    assert "no hour below 2 °C or above 32 °C" in found.summary() and str(found) == found.summary()


class TestPicture:
    def test_lines_are_those_of_the_table(self):
        found = windows(chance=0.5)
        ax, table = found.plot(), found.frame()
        lines = {line.get_label(): line.get_ydata() for line in ax.lines}
        assert list(lines["both"]) == (100 * table["chance"]).tolist()
        assert list(lines["enough workers"]) == (100 * table["chance_workers"]).tolist()
        spans = [p for p in ax.patches if p.get_label() == "may begin"]
        assert len(spans) == len(found.windows()) > 0
        assert ax.get_title(loc="left").startswith("4 weeks outdoors: may begin ")

    def test_why_nothing_is_scheduled_is_its_title(self):
        excluded = windows(country="US").plot().get_title(loc="left")
        assert "not known to be native to US" in excluded.replace("\n", " ")
        none = windows(workers=5000).plot().get_title(loc="left")
        assert none == "4 weeks outdoors: no week has a chance of 80%"
