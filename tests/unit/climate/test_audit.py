"""Temperatures against the limits of a species, by hand-worked hours, and every message by text."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from temperature_records import days_of, message, record

import antgrowth as ag
from antgrowth.climate.audit import Audit
from antgrowth.climate.humidity import deficit_kpa, dew_point_c
from antgrowth.errors import SpeciesError, TemperatureGapError
from antgrowth.inference.prior import forcing_of
from antgrowth.species.profile import Species, load_species, species_from_mapping
from antgrowth.species.thermal_limits import HEAT_CAUTION, PHASES

# Lasius niger as shipped: ceilings 28 (founding) and 29 °C (housed), heat limit 30 °C, eggs stand
# still below 14 °C, larvae below 12, pupae below 11, no laying below 12.
LASIUS = "lasius-niger"


def audit(plan: ag.Temperature, phase: str = "founding", days: int = 10, **more) -> Audit:
    return plan.audit(LASIUS, phase, start="2027-05-01", days=days, **more)


def with_outdoor_limits(low: float, high: float) -> Species:
    ant = load_species(LASIUS).to_mapping()
    number = {"unit": "°C", "source": "assumption", "status": "assumed"}
    ant["limits"] |= {
        "outdoor_low_c": {"value": low, **number},
        "outdoor_high_c": {"value": high, **number},
    }
    return species_from_mapping(ant, "my-ant", "my-ant.toml")


def outdoors_unknown() -> Species:
    ant = load_species(LASIUS).to_mapping()
    del ant["limits"]["outdoor_low_c"], ant["limits"]["outdoor_high_c"]
    return species_from_mapping(ant, "my-ant", "my-ant.toml")


class TestCeilings:
    def test_phases_have_their_own(self):
        plan = ag.constant(28.5)
        assert audit(plan, "founding").hours_above == 240
        assert audit(plan, "housed").hours_above == 0
        assert audit(plan, "founding").ceiling_c == 28 and audit(plan, "housed").ceiling_c == 29

    def test_at_the_ceiling_is_not_above_it(self):
        found = audit(ag.constant(28))
        assert found.hours_above == 0 and found.margin_c == 0
        assert found.frame()["hours_near_ceiling"].tolist() == [24.0] * 10

    def test_hours_by_day(self):
        plan = ag.day_night(day=29.5, night=21).then("2027-05-04", 27)
        frame = audit(plan, days=5).frame()
        assert frame["hours_above_ceiling"].tolist() == [14, 14, 14, 0, 0]
        assert frame["hours_near_ceiling"].tolist() == [0, 0, 0, 24, 24]
        assert frame["highest_c"].tolist() == [29.5] * 3 + [27.0] * 2
        assert frame["lowest_c"].tolist() == [21.0] * 3 + [27.0] * 2
        assert frame["mean_c"][0] == pytest.approx((14 * 29.5 + 10 * 21) / 24)
        assert frame["date"].tolist() == list(pd.date_range("2027-05-01", periods=5))

    def test_a_weaver_ant_in_a_closed_tube_at_31_degrees(self):
        found = ag.constant(31).audit("oecophylla-smaragdina", phase="founding")
        assert found.hours_above == 24 * found.days > 0
        assert found.verdict == (
            "Above the ceiling of the founding nest, 26.0 °C, for 336 hours, by up to 5.0 °C."
        )
        assert found.summary().startswith("TOO WARM\n")

    def test_verdicts(self):
        assert audit(ag.constant(25)).verdict == (
            "At least 3.0 °C below the ceiling of the founding nest, 28.0 °C."
        )
        assert audit(ag.constant(27)).verdict == (
            "Within 1.0 °C of the ceiling of the founding nest, 28.0 °C: a sensor that errs, or "
            "sits away from the brood, can hide that it is passed."
        )
        assert audit(ag.constant(28).then("2027-05-02", 29), days=2).verdict == (
            "Above the ceiling of the founding nest, 28.0 °C, for 24 hours, by up to 1.0 °C."
        )

    def test_brood_lost_to_heat_is_that_of_the_growth_model(self):
        plan = ag.day_night(33, 26)
        frame = audit(plan, days=3).frame()
        hours_c, awake = plan.hours("2027-05-01", 3), np.zeros(3, bool)
        loss = forcing_of(load_species(LASIUS), hours_c, awake).loss
        assert frame["heat_loss"].to_numpy() == pytest.approx(1 - np.exp(-loss[:, 1]))
        assert frame["heat_loss"][0] == pytest.approx(1 - np.exp(-0.03 * 4 * 14 / 24))
        assert frame["hours_above_heat_limit"].tolist() == [14.0] * 3


class TestCold:
    def test_stages_stand_still_each_below_its_own_threshold(self):
        frame = audit(ag.constant(11.5), days=1).frame().iloc[0]
        below = [frame[f"hours_below_{what}"] for what in ("egg", "larva", "pupa", "laying")]
        assert below == [24, 24, 0, 24]
        at_threshold = audit(ag.constant(14), days=1).frame().iloc[0]
        assert at_threshold["hours_below_egg"] == 0

    def test_a_rest_is_cold_on_purpose(self):
        plan = ag.constant(24).rest("2027-05-03", "2027-05-06", 8)
        found = audit(plan, days=8)
        assert found.frame()["resting"].tolist() == [False] * 2 + [True] * 3 + [False] * 3
        assert found.frame()["hours_below_egg"].sum() == 72
        text = found.summary()
        assert "3 days of rest" in text
        assert "egg stands still below                  14.0      0     0\n" in text


class TestOutdoors:
    def test_without_a_limit_nothing_is_called_safe(self):
        found = ag.constant(45).audit(outdoors_unknown(), "outdoors", start="2027-05-01", days=10)
        assert np.isnan(found.hours_above) and np.isnan(found.ceiling_c)
        assert found.frame()["hours_above_ceiling"].isna().all()
        assert found.verdict == (
            "What is too warm outdoors is not known: my-ant has no limits.outdoor_high_c."
        )
        assert "not in the profile" in found.summary()
        assert "never release ants" in found.summary()

    def test_with_limits(self):
        ant = with_outdoor_limits(-5, 35)
        plan = ag.constant(-8).then("2027-05-02", 20).then("2027-05-03", 36)
        found = plan.audit(ant, "outdoors", start="2027-05-01", days=3)
        assert found.frame()["hours_below_floor"].tolist() == [24, 0, 0]
        assert found.frame()["hours_above_ceiling"].tolist() == [0, 0, 24]
        assert "below the coldest outdoors" in found.summary()
        assert np.isnan(plan.audit(ant, "housed", start="2027-05-01", days=3).floor_c)

    def test_limits_the_wrong_way_round(self):
        with pytest.raises(SpeciesError, match="limits.outdoor_low_c = 30 is not below limits.out"):
            with_outdoor_limits(30, 20)


class TestGaps:
    def test_unknown_hours_are_counted_as_such(self):
        table = record("2027-05-01", 24 * 4, celsius=29.0).drop(index=range(20, 60))
        frame = ag.read_temperature(table).audit(LASIUS, "founding").frame()
        assert frame["hours_unknown"].tolist() == [4, 24, 12, 0]
        assert frame["hours_above_ceiling"].fillna(-1).tolist() == [20, -1, 12, 24]
        assert frame["mean_c"].isna().tolist() == [False, True, False, False]

    def test_the_summary_says_so(self):
        table = record("2027-05-01", 24 * 4, celsius=29.0).drop(index=range(20, 60))
        text = ag.read_temperature(table).audit(LASIUS, "founding").summary()
        assert "4 days; 40 hours without a temperature, not counted" in text
        assert "for 56 hours, by up to 1.0 °C" in text

    def test_days_that_are_not_covered_at_all(self):
        temps = days_of("2026-07-04", "2026-07-10")
        assert "temperature ends 2026-07-10 but 2027-05-01 to 2027-05-10 (10 days)" in message(
            lambda: audit(temps), TemperatureGapError
        )

    def test_a_record_is_audited_whole(self):
        found = days_of("2026-07-04", "2026-07-10").audit(LASIUS, "housed")
        assert (str(found.start), found.days) == ("2026-07-04", 7)


class TestAir:
    @pytest.fixture
    def damp(self) -> ag.Temperature:
        table = record("2027-05-01", 48, celsius=25.0)
        table["humidity"] = [40.0] * 12 + [60.0] * 12 + [98.0] * 24
        return ag.read_temperature(table)

    def test_by_hand(self, damp):
        frame = damp.audit(LASIUS, "founding", humidity_band=(50, 90)).frame()
        assert frame["humidity_pct"].tolist() == [50.0, 98.0]
        assert frame["hours_outside_band"].tolist() == [12.0, 24.0]
        by_hand = [(deficit_kpa(25, 40) + deficit_kpa(25, 60)) / 2, deficit_kpa(25, 98)]
        assert frame["deficit_kpa"].tolist() == pytest.approx([float(kpa) for kpa in by_hand])
        dew = [float(dew_point_c(25, humidity)) for humidity in (60, 98)]
        assert frame["dew_point_c"].tolist() == pytest.approx(dew)

    def test_walls_get_wet_that_are_cooler_than_the_dew_point(self, damp):
        # 98 % at 25 °C is a dew point of 24.66 °C; 60 % one of 16.7 °C, 8.3 °C below the air.
        for cooler, wet in ((0.3, [0, 0]), (0.4, [0, 24]), (8.2, [0, 24]), (8.4, [12, 24])):
            frame = damp.audit(LASIUS, "founding", wall_cooler_by_c=cooler).frame()
            assert frame["hours_wet"].tolist() == wet, cooler

    def test_summary(self, damp):
        text = damp.audit(LASIUS, "founding", humidity_band=(50, 90)).summary()
        assert "humidity 40 to 98 %; vapour pressure deficit 0.06 to 1.58 kPa by day" in text
        assert "outside 50 to 90 % for 36 hours" in text
        assert "wet for 24 hours on 1 day, if the coolest is 1 °C cooler than the air" in text

    def test_not_known(self):
        found = audit(ag.constant(24))
        assert found.frame()[["humidity_pct", "hours_wet", "deficit_kpa"]].isna().all(axis=None)
        assert "humidity is not known" in found.summary()

    def test_no_band_no_hours_outside(self, damp):
        assert damp.audit(LASIUS, "founding").frame()["hours_outside_band"].isna().all()


class TestAsked:
    def test_the_caution_on_heat_mats_is_always_there(self):
        for phase in ("founding", "housed"):
            assert HEAT_CAUTION in audit(ag.constant(24), phase).summary()

    def test_a_profile_or_its_name(self):
        plan = ag.day_night(30, 20)
        loaded = plan.audit(load_species(LASIUS), "founding", start="2027-05-01", days=10)
        assert audit(plan).frame().equals(loaded.frame())

    def test_nothing_is_changed(self):
        temps = days_of("2026-07-04", "2026-07-10")
        temps.audit(LASIUS, "housed").hours_c[:] = 99.0
        assert (temps.hours("2026-07-04", 7) == 24.0).all()

    def test_refused(self):
        plan = ag.constant(24)
        assert message(lambda: plan.audit(LASIUS, "winter")) == (
            f"audit: phase = 'winter'. Use one of {', '.join(PHASES)}."
        )
        for band in ((60,), (80, 60), (-1, 60), (50, 101), 60, ("dry", "wet")):
            assert message(lambda band=band: audit(plan, humidity_band=band)) == (
                f"audit: humidity_band = {band!r}. Give the lowest and the highest, 0 to 100 %, "
                "such as (50, 80)."
            )
        assert message(lambda: audit(plan, wall_cooler_by_c=-1)) == (
            "audit: wall_cooler_by_c = -1. Give a number from 0 to 20 °C."
        )

    def test_prints(self):
        found = audit(ag.constant(29.5))
        assert str(found) == found.summary()
        assert repr(found) == "Audit(lasius-niger, founding, 10 days, 240 hours above the ceiling)"
        assert "<strong>TOO WARM</strong>" in found._repr_html_()
        row = "above the ceiling of the founding nest  28.0    240    10  2027-05-01, 24 hours"
        assert row in found.summary()


class TestPicture:
    def test_temperatures_limits_and_hours(self):
        plan = ag.day_night(29.5, 13).rest("2027-05-05", "2027-05-07", 8)
        found = audit(plan)
        top = found.plot()
        labels = top.get_legend_handles_labels()[1]
        assert {"ceiling of the founding nest", "too warm", "rest: no laying"} <= set(labels)
        hours = top.figure.axes[1]
        heights = [bar.get_height() for bar in hours.patches if bar.get_height() > 0]
        warm = found.frame()["hours_above_ceiling"]
        assert heights == warm[warm > 0].tolist()
        cold = [-bar.get_height() for bar in hours.patches if bar.get_height() < 0]
        assert cold == [10.0] * 8  # eggs, on the nights outside the rest
        assert len(top.figure.axes) == 2

    def test_air_has_its_panel_where_it_is_known(self):
        table = record("2027-05-01", 24 * 5, celsius=25.0).assign(humidity=98.0)
        table.loc[100, "temperature_c"] = 25.5
        top = ag.read_temperature(table).audit(LASIUS, "founding").plot()
        air = top.figure.axes[2]
        assert {"vapour pressure deficit", "walls wet"} == set(air.get_legend_handles_labels()[1])

    def test_into_an_axes_given_and_without_a_ceiling(self):
        import matplotlib.pyplot as plt

        ax = plt.subplots()[1]
        found = ag.constant(20).audit(outdoors_unknown(), "outdoors", start="2027-05-01", days=10)
        assert found.plot(ax) is ax
        assert found.verdict.split(":")[0] in ax.get_title(loc="left").replace("\n", " ")
