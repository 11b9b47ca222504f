"""What a keeper reads of food in warm rests, of seeds, of prey that waits, and of portions."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pages import words_of

import antgrowth as ag
from antgrowth.colony.page import Page
from antgrowth.colony.templates import write_folder
from antgrowth.food.constants import Constants
from antgrowth.food.energetics import resting_power_uw
from antgrowth.food.practice import feeding_rules
from antgrowth.food.servings import by_hand


def ahead_of(species: str, rest_c: float, last: str = "2025-12-10") -> ag.Forecast:
    """A small colony whose forecast begins in its rest, and goes on into spring."""
    warmth = ag.constant(25).rest("2025-11-15", "2026-02-15", rest_c)
    notes = pd.DataFrame({"date": ["2025-10-01", last], "workers": [12, 12], "larvae": [5, 5]})
    fit = ag.fit(notes, warmth, species, hemisphere="north", rng=1)
    return fit.forecast(days=120, draws=100, rng=1)


@pytest.fixture(scope="module")
def harvester() -> ag.Forecast:
    return ahead_of("messor-barbarus", 14)


@pytest.fixture(scope="module")
def cool() -> ag.Forecast:
    return ahead_of("messor-barbarus", 8)


class TestAWarmRest:
    def test_sugar_goes_on_and_prey_does_not(self, harvester):
        plan = harvester.food()
        resting = plan.dates < "2026-02-15"
        assert plan.warm_rest.tolist() == resting.tolist()
        assert (plan.offered["sugar"][:, resting] > 0).all()
        assert not plan.offered["protein"][:, resting].any()

    def test_what_a_keeper_reads(self, harvester):
        text = harvester.food().summary()
        assert "water only" not in text
        assert text.count("rest: sugar and water") >= 8
        assert "rest on 6 days: sugar and water" in text, "prey of the seventh stands beside it"
        assert "rest at 12 °C or warmer: sugar and water stay there" in text
        assert "219:769" in text
        page = Page(ag.care_plan(harvester), today_is=harvester.start)
        told = words_of(page.food.content)
        assert "rest at 12 °C or warmer" in told
        begins = ag.care_plan(harvester)["rest-begins"].rule.action
        assert "in a warmer one sugar water stays" in begins

    def test_a_cool_one_stays_on_water(self, cool):
        plan = cool.food()
        assert not plan.warm_rest.any()
        assert (plan.quiet[plan.dates < "2026-02-15"] == "rest").all()
        assert "rest: water only" in plan.summary()

    def test_check_of_a_step_asks_for_sugar_alone(self, harvester, cool):
        def food(ahead):
            step = next(m for m in ag.care_plan(ahead) if m.id == "rest-ends")
            return next(check for check in step.checks if check.name == "food")

        assert food(harvester).holds is None
        assert food(cool).text == "this colony rests: water only"

    def test_stores_do_not_last_eleven_weeks_at_14_degrees(self):
        """By the package's own constants: fat of a worker, over her metabolism at rest."""
        fat_j = 6.5 * 0.33 * 0.15 * 39.0  # 39 J/mg fat: textbook value, from memory
        a_day_j = 0.0864 * float(resting_power_uw(6.5, 14.0, Constants.usual()))
        assert 10 < fat_j / a_day_j < 50


class TestSeeds:
    def test_a_seed_eater_is_offered_seeds(self, harvester):
        plan = harvester.food()
        assert [prey.kind for prey in plan.prey][:2] == ["seeds", "house cricket"]
        assert "seeds, mg" in plan.summary()
        assert "Seeds: untreated small ones" in plan.summary()
        told = words_of(Page(ag.care_plan(harvester), today_is=harvester.start).food.content)
        assert "Seeds and prey" in told

    def test_others_are_not(self):
        seeds = [n for n in ag.list_species()["name"] if ag.load_species(n).eats_seeds]
        assert seeds == ["messor-barbarus"]
        assert "Seeds" not in feeding_rules(ag.load_species("lasius-niger")).advice

    def test_the_profile_keeps_it(self, tmp_path):
        from antgrowth.species.profile import species_from_mapping

        ant = ag.load_species("messor-barbarus")
        assert species_from_mapping(ant.to_mapping(), ant.name, "x").eats_seeds


class TestPreyThatWaits:
    def test_only_the_tree_dweller_waits(self):
        waits = {
            name: feeding_rules(ag.load_species(name)).protein_from_workers
            for name in ag.list_species()["name"]
        }
        late = {name: count for name, count in waits.items() if count > 1}
        assert late == {"oecophylla-smaragdina": 25}

    def test_what_speaks_against_it_stands_beside(self):
        advice = feeding_rules(ag.load_species("oecophylla-smaragdina")).advice
        assert "mould" in advice
        assert "Against waiting" in advice
        assert "Oecophylla longinoda" in advice
        assert "protein_from_workers = 1" in advice

    def test_one_key_of_colony_toml_changes_it(self, tmp_path: Path):
        folder = tmp_path / "weavers"
        write_folder(folder, "oecophylla-smaragdina", queen_since="2026-07-04")
        settings = folder / "colony.toml"
        text = settings.read_text(encoding="utf-8")
        assert "protein_from_workers = 25" in text
        assert "Against waiting" in re.sub(r"\n# ", " ", text)
        assert feeding_rules(ag.load_colony(folder).species).protein_from_workers == 25
        settings.write_text(text.replace("_workers = 25", "_workers = 1"), encoding="utf-8")
        colony = ag.load_colony(folder)
        assert feeding_rules(colony.species).protein_from_workers == 1
        assert "Prey waits" not in feeding_rules(colony.species).advice
        assert "protein_from_workers" not in (
            write_folder(tmp_path / "niger", "lasius-niger")[0].read_text(encoding="utf-8")
        )

    def test_a_key_that_is_no_number_is_refused(self, tmp_path: Path):
        folder = tmp_path / "weavers"
        write_folder(folder, "oecophylla-smaragdina", queen_since="2026-07-04")
        settings = folder / "colony.toml"
        text = settings.read_text(encoding="utf-8").replace("_workers = 25", '_workers = "soon"')
        settings.write_text(text, encoding="utf-8")
        with pytest.raises(ag.AntgrowthError, match="protein_from_workers = 'soon'"):
            ag.load_colony(folder)


@pytest.mark.parametrize(
    ("pieces", "words"),
    [
        (12.3, "12 × fruit fly"), (0.8, "1 × fruit fly"), (0.5, "1/2 of a fruit fly"),
        (0.22, "1/5 of a fruit fly"), (0.09, "1/10 of a fruit fly"),
        (0.002, "a crumb of fruit fly"),
    ],
)  # fmt: skip
def test_portions_a_hand_can_give(pieces, words):
    assert by_hand(pieces, "fruit fly") == words


def test_no_plan_asks_for_hundredths_of_a_cricket(harvester):
    pieces = [row[-2] for row in harvester.food()._report().rows]
    assert any(pieces)
    assert not re.search(r"\b0\.\d", " ".join(pieces))


def test_water_is_no_minimum():
    told = ag.daily_food(100, 50, 25.0, "lasius-niger", rng=1).summary()
    assert "at least" not in told
    assert "water lost, in part made up by the food" in told
    assert np.isfinite(ag.daily_food(100, 50, 25.0, "lasius-niger", rng=1).water_mg)
