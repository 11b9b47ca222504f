"""A keeper who has it too warm reads so first, wherever he looks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from pages import words_of

import antgrowth as ag
from antgrowth.climate.queen_heat import queen_heat
from antgrowth.colony.page import Page


def fitted(warmth: ag.Temperature, species: str = "lasius-japonicus") -> ag.Fit:
    notes = pd.DataFrame({"date": ["2026-07-20", "2026-08-14"], "eggs": [9, 17], "larvae": ["", 9]})
    return ag.fit(notes, warmth, species, queen_since="2026-07-04", rng=1)


@pytest.fixture(scope="module")
def hot() -> ag.Fit:
    return fitted(ag.constant(30))


@pytest.fixture(scope="module")
def hot_ahead(hot: ag.Fit) -> ag.Forecast:
    return hot.forecast(days=60, draws=200, rng=1)


def test_queens_die_as_published() -> None:
    """All founding queens died within 50 days at 30 °C (Kamitani and others 2015, read)."""
    ant, days = ag.load_species("lasius-japonicus"), 50
    start = pd.Timestamp("2026-07-04")
    found = queen_heat(ant, np.full((days, 24), 30.0), np.zeros(days, bool), start)
    assert found is not None
    assert found.alive[-1] < 0.06
    assert found.alive[10] > 0.4, "nobody says that they died at once"
    cooler = queen_heat(ant, np.full((days, 24), 28.0), np.zeros(days, bool), start)
    assert cooler is None


def test_housed_queens_have_the_higher_ceiling() -> None:
    ant, hours_c = ag.load_species("lasius-niger"), np.full((10, 24), 28.5)
    start = pd.Timestamp("2026-07-04")
    assert queen_heat(ant, hours_c, np.ones(10, bool), start) is None
    founding = queen_heat(ant, hours_c, np.arange(10) > 4, start)
    assert founding is not None
    assert founding.hours == 5 * 24
    assert founding.alive[5] == founding.alive[-1] == pytest.approx(np.exp(-0.03 * 0.5 * 5))


def test_without_a_rate_nothing_is_said_of_deaths() -> None:
    ant = ag.load_species("lasius-niger")
    numbers = {k: v for k, v in ant.numbers.items() if "queen_loss" not in k}
    ant = replace(ant, numbers=numbers)
    found = queen_heat(ant, np.full((5, 24), 31.0), np.zeros(5, bool), pd.Timestamp("2026-07-04"))
    assert found is not None
    assert "TOO WARM" in found.words()
    assert "not known" in found.words()


def test_forecast_and_date_begin_with_it(hot_ahead: ag.Forecast) -> None:
    assert hot_ahead.summary().startswith("TOO WARM for the queen: 1,440 hours above")
    date = hot_ahead.arrival(10)
    assert date.sentence().startswith("TOO WARM for the queen")
    assert "10 workers: " in date.sentence()
    assert date.heat is not None
    assert np.exp(-0.06 * 60) < date.heat.lost < 1 - np.exp(-0.03 * 60) + 0.1
    soon = hot_ahead.arrival(1)
    assert f"of queens would live through it to {soon.median:%Y-%m-%d}" in soon.sentence()


def test_assumed_survival_of_the_queen_counts_heat_as_well(hot_ahead: ag.Forecast) -> None:
    date = hot_ahead.arrival(1, queen_survival=1.0)
    last = hot_ahead.dates[-1]
    assert date.chance_with_queen_by(last) < 0.8 * date.chance_by(last)
    cool = replace(date, heat=None)
    assert cool.chance_with_queen_by(last) == pytest.approx(cool.chance_by(last))


def test_alerts_begin_with_it(hot: ag.Fit) -> None:
    alerts = hot.alerts()
    assert alerts[0].kind == "too warm"
    assert "of queens die" in alerts[0].found
    assert "cooler now" in alerts[0].sentence()


def test_page_says_it_in_title_and_before_any_date(hot_ahead: ag.Forecast) -> None:
    page = Page(ag.care_plan(hot_ahead), workers=10)
    assert "too warm" in words_of(page.title.content)
    assert words_of(page.today.content).lstrip().startswith("Too warm for the queen")
    told = words_of(page.forecast.content)
    assert told.index("TOO WARM") < told.index("10 workers")
    assert told.count("TOO WARM") == 1
    assert words_of(page.alerts.content).lstrip().startswith("2026-07-04, too warm")


def test_care_plan_begins_with_it(hot_ahead: ag.Forecast) -> None:
    assert ag.care_plan(hot_ahead).summary().startswith("TOO WARM")


def test_regimes_begin_with_it_and_tell_what_queens_it_leaves(hot: ag.Fit) -> None:
    tried = ag.compare_regimes(
        hot, {"as it is": None, "25": 25}, workers=10, days=60, draws=60, rng=1
    )
    assert tried.sentence().startswith("TOO WARM: 'as it is' is above the ceiling")
    assert "of queens would live through it" in tried.sentence()
    alive = tried.frame().set_index("regime")["queens_alive"]
    assert alive["as it is"] < 0.2
    assert alive["25"] == 1
    best = ag.best_regime(hot, workers=5, days=90, draws=60, rng=1)
    assert best.sentence().startswith("TOO WARM: as now is above the ceiling")


def test_growth_is_fastest_where_it_is_safe() -> None:
    found = ag.growth_rate("lasius-japonicus")
    assert found.fastest_c <= 29
    assert ag.growth_rate("lasius-japonicus", 30.0).sentence().count("TOO WARM") == 1


def test_nothing_is_said_where_it_is_not_too_warm() -> None:
    cool = fitted(ag.day_night(27.5, 22), "lasius-niger")
    ahead = cool.forecast(days=60, draws=60, rng=1)
    assert "TOO WARM" not in ahead.summary() + ahead.arrival(10).sentence()
    assert "too warm" not in [alert.kind for alert in cool.alerts()]


def test_the_audit_tells_of_the_queen_too() -> None:
    plan = ag.constant(30)
    told = plan.audit("lasius-japonicus", "founding", start="2026-07-04", days=50).summary()
    assert told.startswith("TOO WARM")
    assert "TOO WARM for the queen: 1,200 hours above the ceiling of the founding nest" in told
    assert "5 % of queens would live through it to 2026-08-22" in told
