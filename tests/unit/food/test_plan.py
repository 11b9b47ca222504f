"""A day's food and the food plan: amounts, practice by founding, rest, errors, views."""

from __future__ import annotations

import re
from dataclasses import replace

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.climate.humidity import deficit_kpa
from antgrowth.errors import AntgrowthError, SpeciesError
from antgrowth.food import budget, energetics
from antgrowth.food.constants import Constants
from antgrowth.food.planner import plan_food
from antgrowth.food.practice import feeding_rules
from antgrowth.food.servings import choose_prey, mixing_table, prey_kinds
from antgrowth.forecast.paths import Forecast

LASIUS, WEAVER = ag.load_species("lasius-niger"), ag.load_species("oecophylla-smaragdina")
NAMES = ("sugar_mg", "solution_ul", "honey_ul", "protein_mg", "prey_mg", "water_mg")


def eaten(workers=40, larvae=20, temperature_c=24.0, species=LASIUS, **options):
    return ag.daily_food(workers, larvae, temperature_c, species, rng=1, draws=500, **options)


class TestDailyFood:
    def test_more_workers_larvae_or_warmth_more_food(self):
        base = eaten()
        for more in (eaten(workers=60), eaten(larvae=30), eaten(temperature_c=26.0)):
            # where prey brings all the energy of growth, more larvae ask for no more sugar
            assert (more.draws["sugar_mg"] >= base.draws["sugar_mg"]).all()
            assert more.sugar_mg > base.sugar_mg
        for more in (eaten(larvae=30), eaten(temperature_c=26.0)):
            assert (more.draws["protein_mg"] > base.draws["protein_mg"]).mean() > 0.99
            assert more.prey_mg > base.prey_mg
        assert (eaten(workers=60).draws["water_mg"] > base.draws["water_mg"]).all()
        assert (eaten(queen=False).draws["sugar_mg"] < base.draws["sugar_mg"]).all()

    def test_warmth_raises_prey_faster_than_sugar_of_adults(self):
        cool, warm = eaten(temperature_c=20.0), eaten(temperature_c=26.0)
        adults = [eaten(larvae=0, temperature_c=t).sugar_mg for t in (20.0, 26.0)]
        assert warm.prey_mg / cool.prey_mg > adults[1] / adults[0] > 1

    def test_no_larvae_no_protein(self):
        food = eaten(larvae=0)
        assert not food.draws["protein_mg"].any() and not food.draws["prey_mg"].any()
        assert food.sugar_mg > 0

    def test_nobody_eats_nothing(self):
        food = eaten(workers=0, larvae=0, queen=False)
        assert all(getattr(food, name) == 0 for name in NAMES)
        assert food.lasts(50.0) == (np.inf, np.inf, np.inf)

    def test_amounts_are_one_another(self):
        food = eaten(percent=10.0)
        sugar = food.draws["sugar_mg"]
        np.testing.assert_allclose(food.draws["solution_ul"], sugar / 0.10381, rtol=1e-4)
        assert food.honey_ul == pytest.approx(food.sugar_mg / (0.8212 * 1.42), rel=0.02)
        assert food.prey_mg == pytest.approx(food.protein_mg / 0.203, rel=0.02)

    def test_ranges_hold_the_median(self):
        food = eaten()
        assert set(food.ranges) == set(NAMES)
        for name, (low, high) in food.ranges.items():
            assert 0 < low < getattr(food, name) < high
        narrow = food.interval("sugar_mg", 0.5)
        assert food.ranges["sugar_mg"][0] < narrow[0] < narrow[1] < food.ranges["sugar_mg"][1]
        line = food.frame().set_index("amount").loc["sugar_mg"]
        assert (line["q05"], line["q95"]) == pytest.approx(food.interval("sugar_mg"), rel=1e-12)
        assert line["q50"] == food.sugar_mg

    def test_same_seed_same_food(self):
        assert eaten().sugar_mg == eaten().sugar_mg
        assert ag.daily_food(1, 0, 25, LASIUS, rng=2).sugar_mg != eaten(workers=1).sugar_mg

    def test_first_workers_are_small(self):
        # The first dozen weigh less than later ones: a small colony eats less than its share.
        few, many = (eaten(workers=n, larvae=0, queen=False).sugar_mg for n in (10, 1000))
        assert few / 10 < many / 1000
        alike = [eaten(workers=n, larvae=0, queen=False, mass_mg=1.9).sugar_mg for n in (10, 1000)]
        assert alike[1] == pytest.approx(100 * alike[0])

    def test_a_drop_lasts(self):
        queen = eaten(workers=0, larvae=0)
        median, low, high = queen.lasts(50.0, of="honey")
        assert low < median < high
        assert median > 7 * 4  # weeks of food for a lone queen
        assert queen.lasts(100.0)[0] == pytest.approx(2 * median)
        assert queen.lasts(50.0, of="sugar water")[0] < median
        with pytest.raises(
            AntgrowthError, match="volume_ul = 0. Give the volume.*\n.*of = 'milk'. Give h"
        ):
            queen.lasts(0, of="milk")

    def test_too_cold_for_growth_is_no_error(self):
        food = eaten(temperature_c=10.0)
        assert food.sugar_mg > 0
        assert food.protein_mg < 0.1 * eaten().protein_mg

    def test_unknown_mass_asks_for_a_weighed_sample(self):
        with pytest.raises(SpeciesError, match="workers.mass_mg.* Weigh 20 to 50 workers together"):
            eaten(species=WEAVER)
        food = eaten(species=WEAVER, mass_mg=6.0)
        assert food.sugar_mg > 0 and not food.queen_weighed
        assert "the queen's mass is guessed" in food.summary()

    def test_queen_by_her_own_mass(self):
        # 28 mg (profile) against 1.9 mg: she alone eats like several workers
        queen = eaten(workers=0, larvae=0).sugar_mg
        worker = eaten(workers=1, larvae=0, queen=False, mass_mg=1.9).sugar_mg
        assert queen / worker == pytest.approx((28 / 1.9) ** 0.8, rel=0.05)

    def test_all_faults_at_once(self):
        with pytest.raises(AntgrowthError) as caught:
            ag.daily_food(
                -1, "x", 5, LASIUS, larval_days=0, humidity_percent=120, draws=0, rng=1
            )  # fmt: skip
        text = str(caught.value)
        for words in (
            "workers = -1. Give a number from 0 to 1,000,000.",
            "larvae = 'x'.",
            "temperature_c = 5. Give 10 to 40 °C",
            "Resting ants live on their stores",
            "larval_days = 0.",
            "humidity_percent = 120. Give 0 to 100 %.",
            "draws = 0. Give a whole number from 1 to 20,000.",
        ):
            assert words in text

    @pytest.mark.parametrize(
        ("options", "words"),
        [
            ({"percent": 0}, "percent = 0. Give the sugar of the sugar water by weight, above 0"),
            ({"percent": 80}, "percent = 80"),
            ({"prey": "criket"}, "prey = 'criket' is not known. Did you mean"),
            ({"mass_mg": -2}, "mass_mg = -2. Give the live mass of one worker, from 0.01 to 1000"),
        ],
    )
    def test_options_out_of_range(self, options, words):
        with pytest.raises(AntgrowthError, match=words):
            eaten(**options)

    def test_interval_of_what(self):
        with pytest.raises(AntgrowthError, match="name = 'sugar'. Give sugar"):
            eaten().interval("sugar")

    def test_shows_itself(self):
        food = eaten()
        assert repr(food).startswith("DailyFood(40 workers, 20 larvae at 24 °C: sugar ")
        assert str(food) == food.summary()
        for words in ("bred or pesticide-free prey only", "Mix by weight", "leftovers"):
            assert words in food.summary()
            assert words in food._repr_html_()


class TestNeeds:
    def test_by_hand(self):
        """Ten first workers of 1 mg, five later ones of 2 mg, two queens of 20 mg, 8 larvae.

        16 first workers are reared: of the 8 larvae, 16 - 15 = 1 becomes a first worker.
        """
        usual = Constants.usual()
        hours_c = np.array([[20.0] * 12 + [30.0] * 12])
        one = np.ones((1, 1))
        masses = budget.Masses(2.0 * one, 1.0 * one, 20.0 * one, True)
        found = budget.needs(
            workers=15 * one, larvae=8 * one, older=15 * one, queens=np.array([2.0]),
            first=16 * one, growing=one / 20, first_development=0.8, hours_c=hours_c,
            humidity_percent=50.0, masses=masses, prey_protein=0.2, prey_energy=5.0,
            constants=usual,
        )  # fmt: skip
        power = 15 * 12 * (1 / 5) ** 0.8 + 2 * 12 * (20 / 5) ** 0.8
        warm = (2**-0.5 + 2**0.5) / 2
        assert found.adult_sugar_mg.item() == pytest.approx(power * warm * 1.8 * 0.0864 / 16.487)
        built = 7 / 20 * 2.0 + 1 / 20 / 0.8 * 1.0
        protein = built * 0.33 * 0.55 / 0.42
        assert found.protein_mg.item() == pytest.approx(protein)
        growth = built * 23 * 0.33 / 0.64 / 0.44 - 5.0 * protein / 0.2
        assert found.growth_sugar_mg.item() == pytest.approx(growth / 16.487)
        dry = deficit_kpa(hours_c, 50.0).mean()
        water = 15 * energetics.water_loss_mg(1.0, dry, usual)
        water += 2 * energetics.water_loss_mg(20.0, dry, usual)
        assert found.water_mg.item() == pytest.approx(water)


@pytest.fixture(scope="module")
def claustral() -> Forecast:
    """A founding garden ant (invented notes), with a winter ahead."""
    notes = pd.DataFrame(
        {"date": ["2026-07-12", "2026-07-20", "2026-08-01", "2026-08-14"],
         "eggs": ["first", 9, "~10", ""], "larvae": ["", "", "first", 8]}
    )  # fmt: skip
    warmth = ag.constant(24.0).rest("2026-11-15", "2027-02-28", temperature=8.0)
    late = replace(LASIUS["season.laying_days"], value=60.0, spread=0.3)  # a queen who lays late
    ant = replace(LASIUS, numbers={**LASIUS.numbers, "season.laying_days": late})
    fit = ag.fit(notes, warmth, ant, queen_since="2026-07-04", rng=1)
    return fit.forecast(days=250, draws=300, rng=1)


@pytest.fixture(scope="module")
def sealed() -> Forecast:
    """A founding weaver ant in her tube (invented notes)."""
    notes = pd.DataFrame(
        {"date": ["2026-07-12", "2026-07-20", "2026-08-01", "2026-08-25"],
         "eggs": ["first", 12, "~20", ""], "larvae": ["", "", "first", 18],
         "pupae": ["", "", "", "first"]}
    )  # fmt: skip
    fit = ag.fit(notes, ag.constant(27.0), WEAVER, queen_since="2026-07-04", rng=1)
    return fit.forecast(days=180, draws=300, rng=1)


def rows(plan, item, unit):
    frame = plan.frame()
    return frame[(frame["item"] == item) & (frame["unit"] == unit)].set_index("week")


class TestClaustral:
    def test_prey_starts_with_the_first_workers(self, claustral):
        plan = claustral.food()
        starts = plan.protein_starts
        assert starts.workers == 1
        np.testing.assert_array_equal(starts.dates, claustral.arrival(1).dates)
        first, last = starts.interval()
        assert first <= starts.median <= last
        assert f"the first worker: {first:%Y-%m-%d} to {last:%Y-%m-%d}" in plan.summary()

    def test_nothing_before_and_both_from_then_on(self, claustral):
        plan = claustral.food()
        any_worker = np.maximum.accumulate(claustral.paths[..., 3], axis=1)[:, 1:] > 0
        fed = any_worker & (plan.quiet == "")
        np.testing.assert_array_equal(plan.offered["sugar"] > 0, fed)
        # prey only while there are larvae
        larvae = (claustral.paths[:, :-1, 1] + claustral.paths[:, 1:, 1]) > 0
        np.testing.assert_array_equal(plan.offered["protein"] > 0, fed & larvae)
        assert (plan.offered["water"] > 0)[:, plan.quiet == ""].all()

    def test_reserve_is_told(self, claustral):
        plan = claustral.food()
        low, middle, high = np.quantile(plan.reserve, [0.05, 0.5, 0.95])
        assert low < 8 < middle < 20  # first broods are of 8 to 20 workers
        assert f"enough for about {middle:.0f} first workers" in plan.summary()

    def test_winter_is_silent_and_says_why(self, claustral):
        plan = claustral.food()
        resting = (plan.dates >= "2026-11-15") & (plan.dates <= "2027-02-27")
        np.testing.assert_array_equal(plan.quiet == "rest", resting)
        for amount in plan.offered.values():
            assert not amount[:, resting].any()
        frame = plan.frame()
        winter = frame[frame["week"] == "2026-W52"]
        levels = ["q05", "q25", "q50", "q75", "q95"]
        assert winter[levels].isna().all(axis=None) and (winter["days"] == 0).all()
        assert winter["note"].str.contains("look for mould, no sugar and no prey").all()
        assert winter["note"].str.contains("lived eight months unfed").all()
        assert (frame[frame["week"] == "2026-W46"]["days"] == 6).all()
        assert "rest: water only" in plan.summary()

    def test_a_cold_spell_is_silent_too(self, claustral):
        cold = claustral.temperature.then("2026-09-01", ag.constant(9.0))
        plan = plan_food(replace(claustral, temperature=cold))
        assert set(plan.quiet[plan.dates >= "2026-09-01"]) == {"cold"}
        assert set(plan.quiet[plan.dates < "2026-09-01"]) == {""}
        assert "under 10 °C" in plan.summary()

    def test_weeks_add_up(self, claustral):
        plan = claustral.food()
        table = rows(plan, "sugar", "mg")
        assert table["days"].sum() == (plan.quiet == "").sum()
        days = np.flatnonzero(plan.dates.isocalendar()["week"] == 40)
        total = plan.offered["sugar"][:, days].sum(axis=1)
        assert table.loc["2026-W40", "q50"] == pytest.approx(np.median(total))
        assert table.loc["2026-W40", "start"] == pd.Timestamp("2026-09-28")
        shares = rows(plan, "20 % sugar water", "µL")["q50"] / table["q50"]
        assert shares.dropna().to_numpy() == pytest.approx(1 / 0.2162, rel=1e-4)

    def test_prey_follows_larvae(self, claustral):
        plan = claustral.food()
        table = rows(plan, "house cricket", "mg")
        larvae = claustral.frame().query("stage == 'larvae'").set_index("date")["q50"]
        few, many = "2026-W34", "2026-W38"  # prey begins with the first worker
        assert table.loc[many, "q50"] > 3 * table.loc[few, "q50"]
        # Larvae that wait for spring are many and eat next to nothing; after the rest they grow.
        waiting, spring = "2026-W44", "2027-W10"
        assert larvae[table.loc[waiting, "start"]] > larvae[table.loc[many, "start"]]
        assert table.loc[waiting, "q50"] < 0.01 * table.loc[many, "q50"]
        assert table.loc[spring, "q50"] > 0.5 * table.loc[many, "q50"]
        pieces = rows(plan, "house cricket", "piece")
        assert pieces.loc[many, "q50"] == pytest.approx(table.loc[many, "q50"] / 430, rel=0.03)

    def test_what_is_said_of_weeks_without_prey(self, claustral):
        notes = {row[0]: row[-1] for row in claustral.food()._report().rows}
        assert notes["2026-W33"] == "prey with the first worker"
        # In spring, before the first eggs hatch, no larvae are left; workers there are for long.
        some = [note for week, note in notes.items() if "2027-W13" <= week]
        assert "prey only if larvae grow" in some
        assert not any("first worker" in note for note in some)

    def test_shopping(self, claustral):
        plan = claustral.food()
        shop = plan.shopping(weeks=12).set_index(["item", "unit"])
        days = plan.quiet[:84] == ""
        sugar = plan.offered["sugar"][:, :84][:, days].sum(axis=1) / 1000
        assert shop.loc[("sugar", "g"), "q50"] == pytest.approx(np.median(sugar))
        assert shop.loc[("sugar", "g"), "q95"] == pytest.approx(np.quantile(sugar, 0.95))
        listed = {("honey", "g"), ("mealworm", "piece"), ("20 % sugar water", "mL")}
        assert listed <= set(shop.index)
        assert "protein" not in shop.index.get_level_values("item")
        more = plan.shopping(weeks=16).set_index(["item", "unit"])
        assert (more["q50"] >= shop["q50"]).all()

    def test_grams_a_month(self, claustral):
        shop = claustral.food().shopping(weeks=4).set_index(["item", "unit"])
        sugar = shop.loc[("sugar", "g")]
        text = claustral.food().summary()
        told = float(re.search(r"month +the first four weeks take sugar ([\d.]+) g \(", text)[1])
        # Told in one digit, as a hand can measure it.
        assert told == pytest.approx(sugar["q50"], abs=0.005) and 0.01 < told < 0.1
        assert "month " not in replace(claustral, paths=claustral.paths[:, :20]).food().summary()

    @pytest.mark.parametrize("weeks", [0, 36, 2.5, "x"])
    def test_shopping_beyond_the_forecast(self, claustral, weeks):
        with pytest.raises(AntgrowthError, match=r"reaches 35 whole weeks \(250 days\)"):
            claustral.food().shopping(weeks=weeks)

    def test_keeper_sets_the_number(self, claustral):
        plan = claustral.food(protein_from_workers=5)
        assert plan.protein_starts.workers == 5
        assert "number set by the keeper" in plan.summary()
        assert (plan.offered["protein"] <= claustral.food().offered["protein"]).all()

    def test_that_some_workers_are_gone_does_not_put_prey_off(self):
        notes = pd.DataFrame({"date": ["2026-07-20", "2026-08-30", "2026-09-10"],
                              "eggs": [9, 12, 12], "workers": [0, 30, 10]})  # fmt: skip
        gone = {"date": ["2026-09-05"], "stage": ["workers"], "change": ["-20"]}
        fit = ag.fit(notes, ag.constant(25.0), LASIUS, queen_since="2026-07-01", rng=1,
                     changes=ag.read_changes(pd.DataFrame(gone)))  # fmt: skip
        plan = fit.forecast(days=20, draws=100, rng=1).food(protein_from_workers=25)
        assert plan.protein_starts.reached
        assert np.median(plan.offered["protein"], axis=0)[0] > 0

    def test_drop_of_the_keeper(self, claustral):
        plan = claustral.food(drop_ul=20)
        drops, volume = (rows(plan, "20 % sugar water", unit)["q50"] for unit in
                         ("drop of 20 µL", "µL"))  # fmt: skip
        assert drops.dropna().to_numpy() == pytest.approx(volume.dropna().to_numpy() / 20)

    def test_same_seed_same_plan(self, claustral):
        pd.testing.assert_frame_equal(claustral.food().frame(), claustral.food().frame())
        other = claustral.food(rng=5)
        assert other.seed == 5
        assert not other.frame().equals(claustral.food().frame())

    def test_picture(self, claustral):
        plan = claustral.food()
        axes = plan.plot()
        assert len(axes) == 2
        assert axes[0].figure.get_suptitle().startswith("Prey with the first worker: ")
        assert axes[0].get_ylabel() == "20 % sugar water\n[µL a week]"
        assert axes[1].get_ylabel() == "house cricket\n[pieces a week]"
        words = [text.get_text() for ax in axes for text in ax.texts]
        assert words.count("rest: water only") == 2 and "prey starts (90%)" in words
        # whole weeks are drawn as they stand in the table
        table = rows(plan, "20 % sugar water", "µL")
        tops = {round(bar.get_y() + bar.get_height(), 6) for bar in axes[0].patches
                if hasattr(bar, "get_height")}  # fmt: skip
        assert round(table.loc["2026-W40", "q95"], 6) in tops

    def test_picture_into_given_axes(self, claustral):
        given = plt.subplots(2)[1]
        assert claustral.food().plot(given)[1] is given[1]
        with pytest.raises(AntgrowthError, match="plot: 1 Axes. Give two"):
            claustral.food().plot([given[0]])

    def test_shows_itself(self, claustral):
        plan = claustral.food()
        assert repr(plan).endswith("prey from 1 worker on)")
        assert str(plan) == plan.summary()
        for words in ("bred or pesticide-free", "Mix by weight", "tiny prey at once", "leftovers"):
            assert words in plan.summary()
            assert words in plan._repr_html_()


class TestSealedTube:
    def test_sugar_at_once_prey_from_25_workers(self, sealed):
        plan = sealed.food(mass_mg=6.0)
        assert plan.protein_starts.workers == 25
        assert (plan.offered["sugar"] > 0).all()
        most = np.maximum.accumulate(sealed.paths[..., 3], axis=1)[:, 1:]
        assert not plan.offered["protein"][most < 25].any()
        assert plan.offered["protein"][most >= 25].any()
        first, last = plan.protein_starts.interval()
        assert f"starts with 25 workers: {first:%Y-%m-%d} to" in plan.summary()
        assert last is pd.NaT or first < last
        assert plan.reserve is None

    def test_keeper_waits_for_20(self, sealed):
        soon, late = (sealed.food(mass_mg=6.0, protein_from_workers=n) for n in (20, 30))
        assert soon.protein_starts.median < late.protein_starts.median

    def test_no_mass_asks(self, sealed):
        with pytest.raises(SpeciesError, match="give mass_mg="):
            sealed.food()

    def test_unknown_piece_asks_for_a_weighed_batch(self, sealed):
        prey = ("large fruit fly", "house cricket")
        plan = sealed.food(mass_mg=6.0, prey=prey)
        blank = rows(plan, "large fruit fly", "piece")
        assert blank["q50"].isna().all()
        assert blank["note"].str.contains("weigh 20 together").all()
        assert "large fruit fly: the mass of one is not known" in plan.summary()
        assert plan.plot()[1].get_ylabel() == "large fruit fly\n[mg a week]"
        known = sealed.food(mass_mg=6.0, prey=prey, piece_mg={"large fruit fly": 2.0})
        pieces, weight = (rows(known, "large fruit fly", unit)["q95"] for unit in ("piece", "mg"))
        assert pieces.to_numpy() == pytest.approx(weight.to_numpy() / 2.0)

    def test_seeds_for_seed_eaters(self, sealed):
        plan = sealed.food(mass_mg=6.0, prey="seeds")
        animal = sealed.food(mass_mg=6.0)
        assert (rows(plan, "seeds", "mg")["q95"] > 0).any()
        # seeds bring energy, so that growth asks for less sugar
        assert plan.offered["sugar"].sum() < animal.offered["sugar"].sum()


class TestSideBySide:
    """The two plans of this file, one claustral with a winter, one in a sealed tube."""

    def test_each_starts_at_its_own_count_with_a_date_and_interval(self, claustral, sealed):
        plans = claustral.food(), sealed.food(mass_mg=6.0, protein_from_workers=20)
        for plan, count in zip(plans, (1, 20), strict=True):
            starts = plan.protein_starts
            first, last = starts.interval(0.9)
            print(f"\nprey with {count}: {first:%Y-%m-%d} to {last:%Y-%m-%d}, {starts.median}")
            assert starts.workers == count
            assert plan.forecast.start <= first < starts.median < last <= plan.dates[-1]
            prey = rows(plan, "house cricket", "mg").set_index("start")["q95"]
            week = pd.Timedelta(days=7)
            assert (prey[prey.index + week <= first - 2 * week].fillna(0) < 1e-6).all()
            assert prey[prey.index > starts.median].max() > 0

    def test_picture(self, claustral, sealed):
        own, other = claustral.food(), sealed.food(mass_mg=6.0)
        axes = own.plot_beside(other)
        assert axes.shape == (2, 2)
        titles = [ax.get_title(loc="left") for ax in axes[0]]
        assert "Prey with the first worker: " in titles[0]
        assert "Prey with 25 workers: " in titles[1]
        assert axes[0, 0].get_xlim() == axes[1, 1].get_xlim()
        for ax in axes.ravel():  # half of the colonies fill a panel, whatever one of 20 does
            tops = [bar.get_y() + bar.get_height() for bar in ax.containers[1]]
            assert 0.35 < max(tops) / ax.get_ylim()[1] <= 1.0
        words = [[text.get_text() for ax in column for text in ax.texts] for column in axes.T]
        assert words[0].count("rest: water only") == 2 and "rest: water only" not in words[1]
        assert all("prey starts (90%)" in column for column in words)
        assert own.quiet.tolist().count("rest") == 105 and not (other.quiet == "rest").any()


class TestPractice:
    @pytest.mark.parametrize(
        ("founding", "sugar", "prey"),
        [("claustral", 1, 1), ("semi-claustral", 0, 0), ("sealed-tube", 0, 1), ("dependent", 0, 0)],
    )
    def test_by_founding(self, founding, sugar, prey):
        practice = feeding_rules(replace(LASIUS, founding=founding))
        assert (practice.sugar_from_workers, practice.protein_from_workers) == (sugar, prey)

    def test_semi_claustral_from_the_first_day(self, claustral):
        ant = replace(LASIUS, founding="semi-claustral")
        history = replace(claustral.fit.history, species=ant)
        plan = plan_food(replace(claustral, fit=replace(claustral.fit, history=history)))
        assert plan.protein_starts is None and plan.reserve is None
        assert (plan.offered["sugar"][:, 0] > 0).all()
        assert (plan.offered["protein"][:, 0] > 0).mean() > 0.9
        assert "prey      from the first day" in plan.summary()
        assert plan.plot()[0].figure.get_suptitle().startswith("Sugar and prey from the first day")

    def test_profile_and_keeper_come_first(self):
        assert feeding_rules(WEAVER).protein_from_workers == 25
        assert feeding_rules(WEAVER, 20).protein_from_workers == 20
        number = replace(WEAVER["food.protein_from_workers"], value=28)
        own = replace(WEAVER, numbers={**WEAVER.numbers, "food.protein_from_workers": number})
        assert feeding_rules(own).protein_from_workers == 28

    @pytest.mark.parametrize("number", [-1, 2.5, "many"])
    def test_not_a_number_of_workers(self, claustral, number):
        with pytest.raises(AntgrowthError, match="a whole number from 0 to 1,000,000"):
            claustral.food(protein_from_workers=number)


class TestPrey:
    def test_one_kind_a_day_and_none_twice(self):
        with pytest.raises(AntgrowthError, match="daily_food: prey = .*Name one kind"):
            eaten(prey=["mealworm", "fruit fly"])
        with pytest.raises(AntgrowthError, match="prey names 'mealworm' twice"):
            choose_prey(("mealworm", "mealworm"))

    def test_kinds(self):
        kinds = prey_kinds()
        assert {"house cricket", "mealworm", "fruit fly", "seeds"} <= set(kinds["kind"])
        known = kinds.groupby("kind")["quantity"].apply(set)
        assert (known == {"protein", "energy", "piece"}).all()
        missing = kinds[kinds["status"] == "missing"]
        assert (missing["quantity"] == "piece").all() and missing["value"].isna().all()

    @pytest.mark.parametrize(
        ("options", "words"),
        [
            ({"prey": ()}, "prey is empty. Name at least one of: house cricket"),
            ({"prey": ("mealworms",)}, "prey = 'mealworms' is not known. Did you mean mealworm?"),
            ({"piece_mg": {"seeds": 1}}, "piece_mg names 'seeds', which is not among the prey"),
            ({"piece_mg": {"mealworm": 0}}, "Give the mass of a piece above 0 mg"),
            ({"drop_ul": 0}, "drop_ul = 0. Give the volume of your drop above 0 µL."),
            ({"humidity_percent": -5}, "humidity_percent = -5. Give 0 to 100 %."),
        ],
    )
    def test_faults(self, claustral, options, words):
        with pytest.raises(AntgrowthError, match=words.replace("?", r"\?")):
            claustral.food(**options)


class TestMixing:
    def test_by_weight(self):
        table = mixing_table(200.0).set_index("percent")
        assert tuple(table.loc[20, ["sugar_g", "water_g"]]) == pytest.approx((40.0, 160.0))
        assert table.loc[20, "volume_ml"] == pytest.approx(200 / 1.081, rel=1e-4)
        assert table.loc[20, "sugar_mg_per_ul"] == pytest.approx(0.2162, abs=5e-5)

    def test_nothing_to_mix(self):
        with pytest.raises(AntgrowthError, match="total_g = 0. Give a weight above 0 g"):
            mixing_table(0)


def test_acquired_colony_is_fed_at_once():
    """A part-grown colony (invented): workers are there, so sugar and prey are too."""
    notes = pd.DataFrame(
        {"date": ["2026-05-01", "2026-05-20"], "workers": [25, 30], "larvae": [30, ""]}
    )
    fit = ag.fit(notes, ag.constant(25.0), LASIUS, rng=1)
    plan = fit.forecast(days=20, draws=100, rng=1).food()
    assert plan.reserve is None and plan.protein_starts.reached
    assert (plan.offered["sugar"][:, 0] > 0).all()
    assert plan.plot() is not None


class TestAmountsAsAPersonWritesThem:
    def test_no_millionths_in_a_table(self):
        """Larvae that the season stops eat next to nothing: told as that, numbers kept in full."""
        fit = ag.load_colony(ag.demo_colony("garden-ant-first-year")).fit(rng=1)
        plan = fit.forecast(days=150, draws=300, rng=1).food()
        tiny = plan.frame().query("0 < q50 < 0.005 and unit == 'mg'")
        assert len(tiny)
        said = plan.summary()
        assert "under 0.01" in said and not re.search(r"0\.0\d\d", said.partition("that is")[2])
        row = next(line for line in said.splitlines() if line.startswith(tiny["week"].iloc[-1]))
        assert "crumb" not in row and "no prey" in row
