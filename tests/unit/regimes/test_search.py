"""The best regime: what is searched, what is refused, and what is said of it."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.errors import AntgrowthError, SpeciesError, TemperatureError
from antgrowth.regimes.candidates import day_night_plans, expected_wait, lowest_c, steady_plans

NOTES = pd.DataFrame({"date": ["2026-03-20", "2026-04-15"], "eggs": [12, 4], "larvae": ["", 9]})


@pytest.fixture(scope="module")
def fit() -> ag.Fit:
    warmth = ag.constant(23).rest("2026-10-15", "2027-03-01", 10)
    return ag.fit(NOTES, warmth, "lasius-niger", queen_since="2026-03-01", rng=1)


@pytest.fixture(scope="module")
def found(fit) -> ag.BestRegime:
    return ag.best_regime(fit, workers=15, days=220, draws=120, rng=1)


@pytest.fixture(scope="module")
def cool(fit) -> ag.BestRegime:
    return ag.best_regime(fit, workers=10, days=150, draws=100, ceiling_c=23, rng=1)


class TestCandidates:
    def test_steady(self):
        plans = steady_plans(14.0, 28.0, 1.0)
        assert [c.day_c for c in plans] == np.arange(28.0, 13.5, -1.0).tolist()
        assert [c.safe for c in plans] == [False, False] + [True] * 13
        assert plans[0].plan.describe() == "constant 28.0 °C" and plans[3].mean_c == 25.0

    def test_day_and_night_are_all_safe(self):
        plans = day_night_plans(14.0, 28.0)
        assert max(c.day_c for c in plans) == 26.0 and min(c.day_c for c in plans) > 14.0
        assert {round(c.day_c - c.night_c, 1) for c in plans} == {3.0, 6.0}
        some = plans[0]
        assert some.name == "26 °C by day, 23 by night"
        assert some.mean_c == pytest.approx(some.plan.hours("2026-01-01", 1).mean())

    def test_where_some_brood_stands_still(self):
        assert lowest_c(ag.load_species("lasius-niger")) == 16.0
        assert lowest_c(ag.load_species("oecophylla-smaragdina")) == 17.0

    def test_expected_growth_orders_plans_as_colonies_do(self, fit):
        plans = {"20": 20, "22": 22, "24": 24, "26": 26, "27 by day": ag.day_night(26, 20)}
        tried = ag.compare_regimes(fit, plans, workers=15, days=250, draws=300, rng=1,
                                   keep_rest=True)  # fmt: skip
        passage_days = {name: tried.mean_wait(name) for name in plans}
        expected = {
            name: expected_wait(
                fit, plan if isinstance(plan, ag.Temperature) else ag.constant(plan), 15, 250
            )  # fmt: skip
            for name, plan in plans.items()
        }
        assert sorted(passage_days, key=passage_days.get) == sorted(expected, key=expected.get)
        for name in plans:  # a degree is worth as many days
            gained = passage_days["24"] - passage_days[name]
            assert expected["24"] - expected[name] == pytest.approx(gained, rel=0.3, abs=1.5)


class TestFound:
    def test_far_enough_below_the_ceiling_and_inside_the_range(self, found):
        assert found.range_c == (16.0, 28.0) and found.ceiling_c == 28.0
        assert found.range_c[0] < found.night_c <= found.day_c <= found.ceiling_c - 2.0
        warmest = found.plan.hours("2026-04-16", 220).max()
        assert warmest <= found.ceiling_c - 2.0

    def test_no_safe_candidate_is_sooner(self, found):
        table = found.candidates
        best = table.set_index("regime").loc[found.name, "wait_days"]
        safe = table[table["safe"]]
        assert best <= safe["wait_days"].min() + 1.0
        assert table["wait_days"].is_monotonic_increasing
        assert (safe["day_c"] <= 26.0).all() and len(table) > 30

    def test_each_has_its_rest(self, found):
        assert found.rests
        for ahead in found.comparison.forecasts.values():
            assert ahead.temperature.resting("2026-10-15", 30).all()
        assert not found.comparison.warnings

    def test_practice_stands_beside_it(self, found):
        assert found.practice_c == 25.0
        assert found.practice().startswith("25 °C is usual: ")
        assert "usual practice" in found.frame()["regime"].tolist()
        unknown = replace(found, practice_c=None)
        assert unknown.practice() == (
            "no temperature usual for founding colonies is known of this species"
        )

    def test_near_best_and_flatness(self, found):
        near = found.near()
        assert near["safe"].all() and found.name in near["regime"].tolist()
        assert near["wait_days"].max() <= near["wait_days"].min() + 2.0
        words = found.flatness()
        assert words.startswith(f"{len(near)} of {len(found.candidates)} plans ")
        steady = found.candidates[found.candidates["day_c"] == found.candidates["night_c"]]
        passage_days = steady.set_index("day_c")["wait_days"]
        assert f"2 °C cooler costs {round(passage_days[24.0] - passage_days[26.0])} days" in words
        assert "the margin sets this best, not the ants" in words

    def test_how_sure_it_is_that_the_best_is_better_than_the_next(self, found):
        """Told in words and drawn: by the difference on the same colonies, not by two dates."""
        waits, tried = found.comparison.passage_days, found._tried
        assert found.next_name in tried and found.next_name != found.name
        order = sorted(tried, key=found.comparison.mean_wait)
        assert [found.name, found.next_name] == order[:2]
        days = waits[found.next_name] - waits[found.name]
        both = days[np.isfinite(days)]
        low, middle, high = np.quantile(both, [0.05, 0.5, 0.95], method="inverted_cdf")
        assert f"({low:.0f} to {high:.0f} days, 90% interval)" in found.lead() or middle < 0
        assert (
            f"the sooner of the two in {100 * np.mean(days > 0):.0f} %, the later" in found.lead()
        )
        assert f"next        {found.lead()}" in re.sub("  +", " " * 8, found.summary())
        ax = found.plot()
        (bar,) = [c for c in ax.collections if c.get_label().startswith("the next, beside")]
        ends = bar.get_segments()[0][:, 1]
        assert ends[1] - ends[0] == pytest.approx(high - low)
        assert np.ptp(ends) < np.subtract(*np.quantile(waits[found.name], [0.95, 0.05]))

    def test_words(self, found):
        assert found.sentence().startswith(f"15 workers: {found.name} is best, about 2026-")
        assert " sooner than 'as now' (" in found.sentence()
        text = found.summary()
        for part in ("flatness", "practice", "searched", "each with its rest", "Heat mats"):
            assert part in text
        assert repr(found) == f"BestRegime({found.sentence()})"
        assert "flatness" in found._repr_html_() and str(found) == text

    def test_picture(self, found):
        ax = found.plot()
        (steady,) = [line for line in ax.lines if line.get_label() == "steady"]
        table = found.candidates.sort_values("mean_c")
        safe = table[(table["day_c"] == table["night_c"]) & table["safe"]]
        assert list(steady.get_xdata()) == safe["mean_c"].tolist()
        assert list(steady.get_ydata()) == safe["wait_days"].tolist()
        (star,) = [line for line in ax.lines if line.get_label() == "best"]
        assert star.get_xdata()[0] == table.set_index("regime").loc[found.name, "mean_c"]
        low, high = ax.get_ylim()
        assert low > 0 and low < star.get_ydata()[0] < high <= 2 * star.get_ydata()[0]
        assert ax.get_legend() is None and len(ax.figure.legends) == 1  # it hides nothing
        assert "half of the colonies, at the best" in ax.get_legend_handles_labels()[1]
        assert {"ceiling, founding", "usual practice"} <= set(ax.get_legend_handles_labels()[1])


class TestALowerCeiling:
    def test_what_it_forbids_is_not_recommended(self, cool):
        assert cool.comparison.recommended == cool.name
        assert cool.comparison.warnings == {
            "as now": "0.0 °C below the ceiling given, 23 °C: less than the 2 °C that a sensor may "
            "be off",
            "usual practice": "above the ceiling given, 23 °C, for 3,600 hours",
        }
        frame = cool.frame().set_index("regime")
        assert frame["recommended"].tolist() == [name == cool.name for name in frame.index]
        assert frame.loc["usual practice", ["margin_c", "hours_above_ceiling"]].tolist() == [
            -2.0, 3600.0
        ]  # fmt: skip
        assert "founding: ceiling given 23 °C" in cool.comparison.summary()

    def test_practice_that_is_sooner_is_called_so(self, cool):
        passage_days = cool.comparison.passage_days
        gained = passage_days[cool.name] - passage_days["usual practice"]
        sooner = np.median(gained[np.isfinite(gained)])
        assert sooner > 5
        assert cool.practice() == (
            f"25 °C is usual: {sooner:.0f} days sooner than the best, but above the ceiling given, "
            "23 °C, for 3,600 hours"
        )
        free = replace(cool.comparison.judged["as now"], violations=())
        judged = dict.fromkeys(cool.comparison.forecasts, free)
        allowed = replace(cool, comparison=replace(cool.comparison, judged=judged))
        assert allowed.practice() == f"25 °C is usual: {sooner:.0f} days sooner than the best"

    def test_that_of_the_profile_keeps_its_name(self, fit):
        same = ag.best_regime(fit, workers=10, days=120, draws=50, ceiling_c=28, rng=1)
        limits = "founding: ceiling of the founding nest 28 °C"
        assert not same.comparison.warnings and limits in same.comparison.summary()

    def test_it_counts_where_the_profile_has_none(self, fit):
        numbers = {k: n for k, n in fit.species.numbers.items() if "founding_ceil" not in k}
        bare = replace(fit.history, species=replace(fit.species, numbers=numbers))
        found = ag.best_regime(
            replace(fit, history=bare), workers=10, days=120, draws=50, ceiling_c=24, rng=1
        )
        assert found.comparison.warnings["usual practice"].startswith("above the ceiling given, 24")


class TestARestHalfOver:
    """At midwinter the rest of a colony kept awake is skipped, and nothing is recommended."""

    @pytest.fixture(scope="class")
    @staticmethod
    def awake() -> ag.BestRegime:
        notes = NOTES.assign(date=["2025-09-20", "2026-01-10"])
        fit = ag.fit(notes, ag.constant(24), "lasius-niger", queen_since="2025-09-01", rng=1)
        return ag.best_regime(fit, workers=10, days=90, draws=50, rng=1)

    def test_the_finding_says_so(self, awake):
        lacking = "no rest from 2025-10-15 until 2026-03-01, which Lasius niger needs"
        assert awake.comparison.recommended is None
        assert f"workers: {awake.name} is soonest, " in awake.sentence()
        assert awake.sentence().endswith(f"; not recommended: {lacking}")

    def test_nor_is_a_rest_claimed(self, awake):
        assert awake.unrested and not awake.rests
        assert "each with its rest" not in awake.summary()
        assert ", without the rest that is due and more than half over; only" in awake.summary()

    def test_before_the_season_none_is_claimed_nor_missed(self, cool):
        assert not cool.rests and not cool.unrested
        assert "°C; only those are recommended" in cool.summary()


class TestErrors:
    def test_too_warm_is_refused(self, fit):
        with pytest.raises(TemperatureError) as caught:
            ag.best_regime(fit, ceiling_c=31)
        assert str(caught.value) == (
            "best_regime: ceiling_c = 31 °C is above the ceiling of the founding nest of Lasius "
            "niger, 28 °C. Refused, since it can kill the colony: give 28 or less, or leave it out."
            " If you know better, write it into a profile of your own."
        )

    @pytest.mark.parametrize("name", ["workers", "days", "draws"])
    @pytest.mark.parametrize("value", [0, -1, 1.5, "5"])
    def test_numbers(self, fit, name, value):
        with pytest.raises(AntgrowthError) as caught:
            ag.best_regime(fit, **{name: value})
        most = {"workers": "1,000,000", "days": "3,650", "draws": "20,000"}[name]
        assert str(caught.value) == (
            f"best_regime: {name} = {value!r}. Give a whole number from 1 to {most}."
        )

    def test_no_such_phase(self, fit):
        with pytest.raises(TemperatureError, match="best_regime: phase = \\['x'\\]. Use one of"):
            ag.best_regime(fit, phase=["x"])

    def test_no_room(self, fit):
        with pytest.raises(
            TemperatureError, match="there is no room above 16 °C, where some brood"
        ):
            ag.best_regime(fit, ceiling_c=15)

    def test_no_ceiling(self, fit):
        with pytest.raises(SpeciesError, match="has no limits.outdoor_high_c. Give ceiling_c"):
            numbers = {k: n for k, n in fit.species.numbers.items() if "outdoor" not in k}
            bare = replace(fit.species, numbers=numbers)
            ag.best_regime(
                replace(fit, history=replace(fit.history, species=bare)), phase="outdoors"
            )

    def test_too_far_to_come(self, fit):
        with pytest.raises(AntgrowthError, match="under no safe plan are 30 workers expected with"):
            ag.best_regime(fit, workers=30, days=20)

    def test_there_already(self):
        notes = NOTES.assign(workers=["", 9])
        fit = ag.fit(notes, ag.constant(24), "lasius-niger", queen_since="2026-02-01", rng=1)
        assert (fit.forecast(days=5, draws=100, rng=1).paths[:, 0, 3] >= 2).mean() > 0.5
        with pytest.raises(AntgrowthError, match="hold 2 workers already. Ask for more"):
            ag.best_regime(fit, workers=2, days=30)

    @pytest.mark.parametrize("bad", ["warm", 99])
    def test_a_ceiling_that_is_none(self, fit, bad):
        with pytest.raises(TemperatureError, match="best_regime: ceiling_c"):
            ag.best_regime(fit, ceiling_c=bad)
