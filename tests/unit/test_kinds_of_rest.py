"""A rest is of several kinds: cautions, care plan, regimes and page speak of the ant's own."""

from __future__ import annotations

import pandas as pd
import pytest
from pages import words_of

import antgrowth as ag
from antgrowth.colony.page import Page
from antgrowth.species.profile import species_from_mapping
from antgrowth.species.view import season_words

RESTING = [n for n in ag.list_species()["name"] if ag.load_species(n).rest.needed]


def rest_caution(ant: ag.Species) -> str:
    return next(text for text in ant.cautions if text.startswith("Rest"))


@pytest.mark.parametrize("name", RESTING)
def test_the_caution_is_of_the_kind_and_says_what_is_assumed(name):
    ant = ag.load_species(name)
    text = rest_caution(ant)
    assert ("on a timer of its own" in text) == (ant.season.kind == "endogenous")
    assert ("cool days end its season" in text.lower()) == (ant.season.kind == "exogenous")
    hedge = {"memory": "recalled", "assumed": "assumed", "derived": "worked out"}
    assert hedge[ant.season.status] in text


def test_what_happens_without_a_rest_by_kind():
    niger, japonicus = (ag.load_species(f"lasius-{n}").season for n in ("niger", "japonicus"))
    assert niger.without_rest.startswith("it stops rearing on a timer of its own")
    assert japonicus.without_rest.startswith("warm days keep its season open")
    assert "kamitani2015" in japonicus.without_rest
    messor = ag.load_species("messor-barbarus")
    assert "(assumed)" in messor.season.without_rest
    assert season_words(messor).endswith("that it does so: assumed")


@pytest.fixture(scope="module")
def autumn() -> ag.Fit:
    """A small colony of late summer under a plan without end and without any rest."""
    notes = pd.DataFrame(
        {"date": ["2026-07-20", "2026-09-10"], "eggs": [9, 3], "larvae": ["", 12],
         "workers": ["", 5]}
    )  # fmt: skip
    return ag.fit(
        notes, ag.constant(26), "lasius-niger", queen_since="2026-07-04", hemisphere="north", rng=1
    )


class TestAsNowHasItsRestToo:
    def test_best_is_not_months_later_than_what_goes_on(self, autumn):
        best = ag.best_regime(autumn, workers=20, days=330, draws=100, rng=1)
        now = best.comparison.forecasts["as now"]
        assert now.temperature.resting("2026-12-01", 10).all()
        assert (
            "as now" not in best.comparison.warnings
            or "no rest" not in (best.comparison.warnings["as now"])
        )
        assert abs(best.frame().set_index("regime").loc[best.name, "gained_mean"]) < 60
        assert "endogenous season: derived, schlaeppi2020, kipyatkov2001" in best.summary()

    def test_compare_keeps_it_only_where_asked(self, autumn):
        plans = {"now": None, "24": 24}
        kept = ag.compare_regimes(autumn, plans, days=120, draws=50, keep_rest=True, rng=1)
        assert kept.forecasts["now"].temperature.resting("2026-12-01", 5).all()
        assert not kept.warnings
        bare = ag.compare_regimes(autumn, plans, days=120, draws=50, keep_rest=False, rng=1)
        assert set(bare.warnings) == {"now", "24"}
        assert "without a rest: it stops rearing on a timer of its own" in bare.summary()


def test_care_plan_and_page_name_the_season(autumn):
    plan = ag.care_plan(autumn.forecast(days=60, draws=50, rng=1))
    words = season_words(autumn.species)
    days = autumn.species.value("season.length_days")
    assert words.startswith(f"ends on a timer, {days:g} d")
    assert words in plan.summary()
    assert words in words_of(Page(plan).notes.content)


class TestWhoLaysAfterTheFirstWinter:
    def test_only_where_the_species_does(self):
        late = [n for n in ag.list_species()["name"] if ag.load_species(n).lays_after_winter]
        assert late == ["myrmica-rubra"]
        ant = ag.load_species("myrmica-rubra")
        assert "before their first winter" in rest_caution(ant)
        assert species_from_mapping(ant.to_mapping(), ant.name, "x").lays_after_winter

    @pytest.mark.parametrize(("name", "told"), [("myrmica-rubra", True), ("lasius-niger", False)])
    def test_alert_of_a_queen_without_eggs(self, name, told):
        dates = [f"2026-{month:02d}-15" for month in range(4, 10)]
        notes = pd.DataFrame({"date": dates, "eggs": [0] * len(dates)})
        fit = ag.fit(
            notes, ag.constant(24), name, queen_since="2026-04-01", hemisphere="north", rng=1
        )
        (alert,) = [alert for alert in fit.alerts() if alert.kind == "no eggs yet"]
        assert ("first winter" in alert.possible) is told
