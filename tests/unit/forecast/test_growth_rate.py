"""Growth rates: what they are read from, how they print, and where they warn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.errors import AntgrowthError, SpeciesError, TemperatureError

NOTES = pd.DataFrame({"date": ["2026-03-20", "2026-04-15"], "eggs": [12, 4], "larvae": ["", 9]})


@pytest.fixture(scope="module")
def curve() -> ag.GrowthRate:
    return ag.growth_rate("lasius-niger")


@pytest.fixture(scope="module")
def fit() -> ag.Fit:
    return ag.fit(NOTES, ag.constant(24), "lasius-niger", queen_since="2026-03-01", rng=1)


class TestNumbers:
    def test_frame(self, curve):
        frame = curve.frame()
        assert list(frame) == [
            "temperature_c", "rate_per_day", "q05", "q95", "doubling_days", "doubling_q05",
            "doubling_q95", "chance_grows", "above_ceiling",
        ]  # fmt: skip
        assert frame["temperature_c"].tolist() == np.arange(10, 38.25, 0.5).tolist()
        at = frame.set_index("temperature_c").loc[25.0]
        assert at["q05"] < at["rate_per_day"] < at["q95"]
        assert at["doubling_days"] == pytest.approx(np.log(2) / at["rate_per_day"])
        assert at["doubling_q05"] == pytest.approx(np.log(2) / at["q95"])
        assert frame["above_ceiling"].sum() == (frame["temperature_c"] > 29).sum()

    def test_nothing_grows_in_the_cold_and_in_the_heat(self, curve):
        frame = curve.frame().set_index("temperature_c")
        for cold_or_hot in (10.0, 11.0, 36.0, 38.0):
            assert np.isneginf(frame.loc[cold_or_hot, "rate_per_day"])
            assert np.isposinf(frame.loc[cold_or_hot, "doubling_days"])
            assert frame.loc[cold_or_hot, "chance_grows"] < 0.2
        assert frame.loc[24.0, "chance_grows"] > 0.95

    def test_warmer_is_quicker_up_to_the_optimum(self, curve):
        rate = curve.frame().set_index("temperature_c").loc[16.0:26.0, "rate_per_day"]
        assert np.all(np.diff(rate) > 0)
        assert 26 <= curve.fastest_c <= 31

    def test_a_number_or_several(self):
        one, two = ag.growth_rate("lasius-niger", 25.0), ag.growth_rate("lasius-niger", [20, 25])
        assert one.rate_per_day.shape == (1,) and two.doubling_days.shape == (2,)
        assert one.rate_per_day[0] == two.rate_per_day[1]

    def test_a_profile_by_object_or_name(self):
        by_object = ag.growth_rate(ag.load_species("lasius-niger"), 25.0)
        assert by_object.sentence() == ag.growth_rate("lasius-niger", 25.0).sentence()

    def test_of_a_fit(self, fit):
        found = ag.growth_rate(fit, 25.0)
        assert found.name == "counts" and found.species.name == "lasius-niger"
        assert found.rates.shape == (200, 1)
        assert 0 < found.rate_per_day[0] < 0.06

    def test_more_queens_bring_little_where_workers_rear_the_brood(self, fit):
        # Eggs there are enough of: what larvae lack are places, nearly all of them the workers'.
        crowded = replace(fit, history=replace(fit.history, queens=4))
        few, many = (
            ag.growth_rate(crowded, 25.0, workers=w).rate_per_day[0]
            / ag.growth_rate(fit, 25.0, workers=w).rate_per_day[0]
            for w in (30, 3000)
        )
        assert few > 1.2 and 1.0 < many < 1.1

    def test_larger_colonies_grow_more_slowly(self, fit):
        rates = [ag.growth_rate(fit, 25.0, workers=w).rate_per_day[0] for w in (30, 300, 3000)]
        assert rates[0] > rates[1] > rates[2]


class TestWords:
    def test_sentence(self, curve):
        assert curve.sentence().startswith(f"Lasius niger: fastest at {curve.fastest_c:g} °C, ")
        assert "(90% interval)" not in curve.sentence() and "90% interval)" in curve.sentence()
        assert repr(curve) == f"GrowthRate({curve.sentence()})"

    def test_no_growth(self):
        found = ag.growth_rate("oecophylla-smaragdina", 16.0)
        assert found.sentence() == "Oecophylla smaragdina: does not grow at 16 °C"
        assert "does not last" in found.summary()

    def test_a_fastest_that_is_too_warm_says_so(self):
        found = ag.growth_rate("lasius-niger", [30.0])
        assert "TOO WARM, above the ceiling of 29 °C, where queens die" in found.sentence()
        assert "fastest at 20 °C" in ag.growth_rate("lasius-niger", [20.0, 30.0]).sentence()
        assert "above the ceiling" in found.summary() and "Heat mats" in found.summary()

    def test_where_it_may_not_grow_at_all(self):
        assert "may not grow at all" in ag.growth_rate("linepithema-humile", 22.0).sentence()

    def test_html_is_the_same_report(self, curve):
        assert "doubling [day]" in curve._repr_html_() and str(curve) == curve.summary()


class TestErrors:
    @pytest.mark.parametrize("bad", [80.0, -50.0, np.nan, [20.0, 99.0]])
    def test_temperatures(self, bad):
        with pytest.raises(TemperatureError, match="Give numbers from -40 to 70 °C"):
            ag.growth_rate("lasius-niger", bad)

    def test_no_temperature(self):
        with pytest.raises(TemperatureError, match=r"temperature_c = \[\]. Give numbers from -40"):
            ag.growth_rate("lasius-niger", [])

    def test_species(self):
        with pytest.raises(SpeciesError):
            ag.growth_rate("lasius-nix", 25)
        with pytest.raises(AntgrowthError, match="species is a int"):
            ag.growth_rate(25)


class TestPicture:
    def test_what_is_drawn_is_the_table(self, curve):
        ax = curve.plot()
        (line,) = [line for line in ax.lines if line.get_label() == "median"]
        frame = curve.frame()
        inside = np.isfinite(frame["rate_per_day"]) & (frame["rate_per_day"] > 0)
        np.testing.assert_allclose(
            np.asarray(line.get_ydata())[inside], frame["rate_per_day"][inside]
        )
        title = ax.get_title(loc="left").replace("\n", " ")
        assert title.startswith(curve.sentence().partition(" (")[0])
        assert title.endswith(
            f"keep below {curve.ceiling_c - 2:g} °C, the ceiling is {curve.ceiling_c:g}"
        )
        labels = ax.get_legend_handles_labels()[1]
        assert "above the ceiling of the housed colony" in labels

    def test_one_temperature_makes_no_curve(self):
        with pytest.raises(AntgrowthError, match="Give growth_rate several"):
            ag.growth_rate("lasius-niger", 25.0).plot()

    def test_given_axes(self, curve):
        import matplotlib.pyplot as plt

        ax = plt.subplots()[1]
        assert curve.plot(ax) is ax
