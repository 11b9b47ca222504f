"""Energetics: the table of constants, draws from it, and equations that broadcast."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from antgrowth.food import energetics as e
from antgrowth.food.constants import Constants

USUAL = Constants.usual()
STATUSES = {"read", "derived", "secondary", "memory", "assumed"}


class TestTables:
    def test_constants_are_the_fields(self):
        names = [row["name"] for row in e.table("constants")]
        assert sorted(names) == sorted(field.name for field in dataclasses.fields(Constants))

    @pytest.mark.parametrize("name", ["constants", "prey"])
    def test_every_number_has_its_evidence(self, name):
        for row in e.table(name):
            assert None not in row and None not in row.values(), row
            missing = row["status"] == "missing"
            assert (row["value"] == "") == missing
            assert row["unit"] and row["note"]
            if missing:
                assert not row["source"]
                continue
            assert row["status"] in STATUSES
            assert (row["status"] == "assumed") == (row["source"] == "assumption"), row
            assert row["source"]
            value = float(row["value"])
            if row["low"] or row["high"]:
                assert float(row["low"]) < value < float(row["high"]), row
            assert 0 < value < 1 if row["unit"] == "share" else value > 0

    def test_sugar_water_is_tabulated_to_its_limit(self):
        percent = [float(row["percent_w_w"]) for row in e.table("sugar_water")]
        assert (percent[0], percent[-1]) == (0, e.RICHEST_PERCENT)
        known = [float(row["density_mg_per_ul"]) for row in e.table("sugar_water")]
        np.testing.assert_allclose(e.solution_density(percent), known, atol=1e-4)


class TestDraws:
    def test_ranges_are_held(self):
        drawn = Constants.draw(40_000, np.random.default_rng(1))
        for row in e.table("constants"):
            values = getattr(drawn, row["name"])
            if not row["low"]:
                assert values == float(row["value"])
                continue
            expected = [float(row[key]) for key in ("low", "value", "high")]
            found = np.quantile(values, [0.05, 0.5, 0.95])
            np.testing.assert_allclose(found, expected, rtol=0.02, err_msg=row["name"])
            assert (values > 0).all()
            if row["unit"] == "share":
                assert (values < 1).all()

    def test_reproducible_and_of_any_shape(self):
        first = Constants.draw((5, 1), np.random.default_rng(7))
        again = Constants.draw((5, 1), np.random.default_rng(7))
        assert first.resting_power.shape == (5, 1)
        np.testing.assert_array_equal(first.awake_factor, again.awake_factor)


class TestEquations:
    def test_broadcast_over_draws_and_days(self):
        drawn = Constants.draw((4, 1), np.random.default_rng(1))
        power = e.resting_power_uw(2.0, np.array([20.0, 25.0, 30.0]), drawn)
        assert power.shape == (4, 3)
        one = Constants(**{k: np.ravel(v)[-1] for k, v in vars(drawn).items()})
        assert power[-1, 2] == pytest.approx(e.resting_power_uw(2.0, 30.0, one))

    def test_warmth_doubles_in_ten_degrees(self):
        assert e.warmth(35.0, USUAL) == 2 * e.warmth(25.0, USUAL) == 4 * e.warmth(15.0, USUAL)

    def test_growth_sugar_is_never_negative(self):
        assert e.growth_sugar_mg(10.0, 100.0, 5.87, USUAL) == 0
        # 16.487 J beyond the prey are a milligram
        assert e.growth_sugar_mg(5.87 + 16.487, 1.0, 5.87, USUAL) == pytest.approx(1.0)

    def test_survivors_alone(self):
        assert e.new_workers_per_day(50, 1 / 20, 0.8) == pytest.approx(2.0)

    def test_richer_sugar_water_takes_less_room(self):
        volume = e.solution_ul(10.0, np.array([5.0, 10.0, 20.0, 50.0]))
        assert (np.diff(volume) < 0).all()
        # by hand: 10 mg over 10 % of 1.0381 mg/µL
        assert volume[1] == pytest.approx(10 / 0.10381, rel=1e-4)

    def test_reserve_goes_by_mass(self):
        one = e.first_workers_covered(28.0, 1.1, USUAL)
        # 28 mg x 0.5 dry x 0.46 lean x 0.54 given x 0.9 kept over 1.1 mg x 0.33 dry x 0.85 lean
        assert one == pytest.approx(28 * 0.5 * 0.46 * 0.54 * 0.9 / (1.1 * 0.33 * 0.85))
        assert e.first_workers_covered(56.0, 1.1, USUAL) == pytest.approx(2 * one)
