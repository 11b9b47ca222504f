"""Ants for research only: fits and forecasts, but no plan of keeping, and the law's caution."""

from __future__ import annotations

import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.errors import AntgrowthError

NOTES = {
    "solenopsis-invicta": ({"date": ["2026-07-20"], "eggs": [12]}, "2026-07-04"),
    "monomorium-pharaonis": ({"date": ["2026-07-20"], "workers": [8], "brood": [12]}, None),
    "linepithema-humile": ({"date": ["2026-07-20"], "workers": [6], "brood": [9]}, None),
}


def test_these_are_all():
    table = ag.list_species()
    assert set(table.loc[table["research_only"], "name"]) == set(NOTES)


@pytest.mark.parametrize("name", NOTES)
def test_law_comes_first(name):
    caution = ag.load_species(name).cautions[0]
    assert caution.startswith("Research only: ")
    assert "Your local authority decides; ask it first." in caution
    for law in ("1143/2014", "Wildlife and Countryside Act", "PPQ 526", "Biosecurity Plan"):
        assert law in caution


@pytest.mark.parametrize("name", NOTES)
def test_no_outdoor_milestone(name):
    assert "outdoors" not in {rule.id for rule in ag.load_species(name).milestones}


def test_forecast_but_neither_care_plan_nor_shopping_list():
    name = "solenopsis-invicta"  # of the others not even forecasts are made
    notes, since = NOTES[name]
    fit = ag.fit(pd.DataFrame(notes), ag.constant(27), name, queen_since=since, rng=1)
    ahead = fit.forecast(days=60, draws=50, rng=1)
    assert len(ahead.frame())
    with pytest.raises(AntgrowthError, match=rf"{name}\) is for research only, so no care plan is"):
        ag.care_plan(ahead)
    food = ahead.food(rng=1)
    with pytest.raises(AntgrowthError, match=r"no shopping list is made .* ask it first"):
        food.shopping(weeks=2)
    assert len(food.frame()) and "shopping" not in food.summary()


def test_others_get_both():
    notes = pd.DataFrame({"date": ["2026-07-20"], "eggs": [9]})
    fit = ag.fit(notes, ag.constant(25), "lasius-niger", queen_since="2026-07-04", rng=1)
    ahead = fit.forecast(days=60, draws=50, rng=1)
    assert len(ag.care_plan(ahead).frame())
    assert len(ahead.food(rng=1).shopping(weeks=2))
