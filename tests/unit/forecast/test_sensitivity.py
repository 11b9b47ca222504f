"""Sensitivity: shares that add up, by hand and on colonies that differ in one way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.errors import AntgrowthError
from antgrowth.forecast.sensitivity import FEWEST_DRAWS, _later_days, _ranks, _shares, _standard
from antgrowth.species.profile import load_species

NOTES = pd.DataFrame({"date": ["2026-07-20"], "eggs": [9]})


def fitted(species: ag.Species | str = "solenopsis-invicta") -> ag.Fit:
    # Of an ant without winter rest, whose dates no season holds up.
    log = ag.read_counts(NOTES, name="invented", today="2027-01-01")
    return ag.fit(log, ag.constant(28), species, queen_since="2026-07-04", rng=1)


@pytest.fixture(scope="module")
def fit() -> ag.Fit:
    return fitted()


@pytest.fixture(scope="module")
def found(fit) -> ag.Sensitivity:
    return ag.sensitivity(fit.forecast(days=250, draws=600, rng=2), workers=30, rng=3)


class TestShares:
    def test_of_independent_predictors_are_those_of_the_variance(self):
        rng = np.random.default_rng(1)
        x = rng.standard_normal((20_000, 3))
        y = 2 * x[:, 0] - x[:, 1] + rng.standard_normal(20_000)  # variance 4 + 1 + 1
        shares = _shares(_standard(x), _standard(y[:, None])[:, 0])
        np.testing.assert_allclose(shares, [4 / 6, 1 / 6, 0], atol=0.01)

    def test_sum_to_r2_of_the_regression_where_predictors_hang_together(self):
        rng = np.random.default_rng(2)
        x = rng.standard_normal((5000, 4)) @ rng.standard_normal((4, 4))
        y = x @ [1.0, 0.5, -1.0, 0.2] + 2 * rng.standard_normal(5000)
        x, y = _standard(x), _standard(y[:, None])[:, 0]
        rest = y - x @ np.linalg.lstsq(x, y, rcond=None)[0]
        assert _shares(x, y).sum() == pytest.approx(1 - rest.var(), abs=0.005)

    def test_twins_share_alike(self):
        rng = np.random.default_rng(3)
        first = rng.standard_normal(4000)
        x = np.stack([first, first + 0.01 * rng.standard_normal(4000)], axis=1)
        y = first + rng.standard_normal(4000)
        one, other = _shares(_standard(x), _standard(y[:, None])[:, 0])
        assert one == pytest.approx(other, abs=0.03)
        assert one + other == pytest.approx(0.5, abs=0.03)

    def test_chance_alone_explains_nothing(self):
        rng = np.random.default_rng(4)
        totals = []
        for _ in range(50):
            x, y = rng.standard_normal((400, 15)), rng.standard_normal((400, 1))
            totals.append(_shares(_standard(x), _standard(y)[:, 0]).sum())
        # Unadjusted they would sum to 15 / 400 = 3.8 %.
        assert np.mean(totals) < 0.025

    def test_ranks_of_equal_values_are_shared(self):
        assert _ranks(np.array([5.0, np.inf, 5.0, 1.0, np.inf])).tolist() == [2.5, 4.5, 2.5, 1, 4.5]

    def test_later_days_by_hand(self):
        rank = np.arange(9.0)
        waited = np.array([10, 12, 14, 0, 0, 0, 20, 25, 30.0])
        assert _later_days(rank, waited) == 25 - 12
        assert _later_days(rank, np.where(rank > 6, np.inf, waited)) == np.inf
        assert _later_days(-rank, np.where(rank > 6, np.inf, waited)) == -np.inf
        assert _later_days(rank, np.full(9, np.inf)) == 0


class TestColonies:
    def test_what_differs_alone_takes_it_all(self):
        ant = load_species("solenopsis-invicta")
        still = {path: replace(n, spread=1e-3) for path, n in ant.numbers.items()}
        still["development.shared_spread"] = replace(ant["development.shared_spread"], value=1e-3)
        still["development.larva.days"] = replace(ant["development.larva.days"], spread=0.4)
        found = ag.sensitivity(fitted(replace(ant, numbers=still)), workers=30, rng=1)
        frame = found.frame()
        top = frame.iloc[0]
        assert top["parameter"] == "larva duration" and top["later_days"] > 5
        # Besides, there is chance: in what stands in the nest now, and in what comes.
        others = frame.iloc[1:]
        others = others[~others["parameter"].str.endswith("now")]
        assert others["share"].sum() < 0.05 < 0.4 < top["share"]
        assert "larva duration" in found.sentence()
        assert "note the first larva and the first pupa" in found.sentence()

    def test_frame(self, found):
        frame = found.frame()
        assert list(frame) == [
            "parameter", "unit", "share", "q05", "q95", "later_days", "measure",
        ]  # fmt: skip
        assert frame["share"].is_monotonic_decreasing
        assert (frame["share"] >= 0).all() and frame["share"].sum() == pytest.approx(found.r2)
        assert 0.4 < found.r2 < 1
        assert (frame["q05"] <= frame["q95"]).all()
        assert frame["parameter"].is_unique and (frame["measure"] != "").all()
        days = frame.set_index("parameter")["later_days"]
        assert days["larva duration"] > 0 > days["founding laying rate"]

    def test_words(self, found):
        assert found.sentence().startswith("The date of 30 workers hangs most on ")
        assert "To know it better: " in found.sentence()
        text = str(found)
        assert text == found.summary() and "of the variance of the ranked dates" in text
        assert "<table>" in found._repr_html_()
        assert repr(found) == "Sensitivity('invented', 30 workers)"

    def test_nothing_to_measure_is_said(self, found):
        by_chance = replace(found, shares=np.full(len(found.names), 0.01))
        assert by_chance.sentence().endswith("you could measure: chance decides it")

    def test_a_fit_looks_a_year_ahead_and_the_seed_settles_it(self, fit):
        first, again = (ag.sensitivity(fit, workers=10, rng=5) for _ in range(2))
        assert first.arrival.horizon == 365
        pd.testing.assert_frame_equal(first.frame(), again.frame())

    def test_plot_shows_the_frame(self, found):
        ax = found.plot()
        frame = found.frame()
        widths = [bar.get_width() for bars in ax.containers for bar in bars
                  if hasattr(bar, "get_width")]  # fmt: skip
        shown = sorted(100 * frame["share"].head(8))
        rest = [100 * frame["share"].iloc[8:].sum(), 100 * (1 - found.r2)]
        assert sorted(widths) == pytest.approx(sorted(shown + rest))
        labels = [label.get_text() for label in ax.get_yticklabels()]
        sides = np.where(frame["later_days"] > 0, "later", "earlier")  # in words, for all eyes
        named = [f"{name}: {side}" for name, side in zip(frame["parameter"], sides, strict=True)]
        assert labels == [*named[:8], "all others", "chance and interplay"]
        assert frame["parameter"][0] in ax.get_title(loc="left")

    def test_colony_that_came_part_grown(self):
        notes = pd.DataFrame({"date": ["2026-07-04"], "workers": [8], "brood": [10]})
        fit = ag.fit(notes, ag.constant(25), "lasius-niger", rng=1)
        found = ag.sensitivity(fit.forecast(days=90, draws=400, rng=1), workers=12, rng=1)
        assert "laying starts after" not in found.names


class TestFaults:
    def test_not_a_fit(self):
        with pytest.raises(AntgrowthError, match="first argument is a str. Give a fit or a for"):
            ag.sensitivity("fit")

    def test_too_few_colonies(self, fit):
        with pytest.raises(AntgrowthError, match=f"50 simulated colonies. At least {FEWEST_DRAWS}"):
            ag.sensitivity(fit.forecast(days=30, draws=50, rng=1))

    def test_too_short_a_horizon(self, fit):
        with pytest.raises(AntgrowthError, match=r"within 30 days. .* fit.forecast\(days=60\)"):
            ag.sensitivity(fit.forecast(days=30, draws=300, rng=1))

    def test_there_already(self):
        notes = pd.DataFrame({"date": ["2026-07-20"], "workers": [20]})
        fit = ag.fit(notes, ag.constant(25), "lasius-niger", rng=1)
        with pytest.raises(AntgrowthError, match="5 workers are there already by 2026-07-20"):
            ag.sensitivity(fit.forecast(days=30, draws=300, rng=1), workers=5)
