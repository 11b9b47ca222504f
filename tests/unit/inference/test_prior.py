"""The prior: what a species profile says before any count."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_ants import steady

from antgrowth.inference.prior import (
    AGE_SPREAD,
    SENSOR_SPREAD_C,
    Parameter,
    Prior,
    climate_of,
    curve_of,
    usual_age,
)
from antgrowth.model.development_rates import Briere, DegreeDay
from antgrowth.model.mean_field import grow
from antgrowth.species.profile import list_species, load_species

LASIUS = load_species("lasius-niger")
PRIOR = Prior.of(LASIUS)


@pytest.fixture(params=list_species()["name"])
def species(request):
    return load_species(request.param)


class TestParameter:
    @pytest.mark.parametrize(
        "scale, place, value",
        [
            ("log", np.log(13), 13.0),
            ("logit", 0.0, 0.5),
            ("logit", np.log(4), 0.8),
            ("celsius", -1.5, -1.5),
        ],
    )
    def test_value(self, scale, place, value):
        parameter = Parameter("any", "any.path", "", scale, 0.0, 1.0)
        assert parameter.value(np.array([place]))[0] == pytest.approx(value)


class TestCentre:
    def test_is_the_profile(self, species):
        prior = Prior.of(species)
        values = dict(zip(prior.names, prior.values(np.zeros((1, len(prior))))[0], strict=True))
        for parameter in prior.parameters:
            if parameter.name != "curve shift":
                assert values[parameter.name] == pytest.approx(species.value(parameter.path))
        assert values["curve shift"] == 0

    def test_laws_are_those_of_the_profile(self, species):
        prior = Prior.of(species)
        laws = prior.laws(np.zeros((2, len(prior))))
        value = species.value
        for k, stage in enumerate(("egg", "larva", "pupa")):
            assert laws.days[:, k] == pytest.approx(value(f"development.{stage}.days"))
            assert laws.survival[:, k] == pytest.approx(value(f"survival.{stage}"))
        assert laws.delay == pytest.approx(value("laying.delay_days"))
        assert laws.room_per_worker == pytest.approx(value("laying.room_per_worker"))
        assert laws.life == pytest.approx(value("workers.life_days"))
        assert (laws.life_shape, laws.pace_cv) == (
            value("workers.life_shape"),
            value("development.pace_cv"),
        )
        assert len(laws) == 2

    def test_seen(self):
        assert PRIOR.seen(np.zeros((3, len(PRIOR)))) == pytest.approx(
            np.tile([0.92, 0.92, 1.0, 1.0], (3, 1))
        )


class TestSpread:
    DRAWS = np.random.default_rng(1).standard_normal((40_000, len(PRIOR)))

    def place(self, name: str) -> np.ndarray:
        """Draws of a parameter on the scale where its prior is normal."""
        k = PRIOR.names.index(name)
        parameter = PRIOR.parameters[k]
        value = PRIOR.values(self.DRAWS)[:, k]
        if parameter.scale == "celsius":
            return value
        return np.log(value) if parameter.scale == "log" else np.log(value / (1 - value))

    @pytest.mark.parametrize("k", range(len(PRIOR)))
    def test_each_is_as_wide_as_it_says(self, k):
        parameter = PRIOR.parameters[k]
        assert self.place(parameter.name).std() == pytest.approx(parameter.spread, rel=0.02)
        assert self.place(parameter.name).mean() == pytest.approx(parameter.centre, abs=0.02)

    def test_a_wrong_table_is_wrong_in_all_its_durations(self):
        egg, larva, pupa = (self.place(f"{s} duration") for s in ("egg", "larva", "pupa"))
        shared = LASIUS.value("development.shared_spread")
        assert np.cov(egg, larva)[0, 1] == pytest.approx(shared**2, rel=0.1)
        assert np.cov(egg, pupa)[0, 1] == pytest.approx(shared**2, rel=0.1)
        assert egg.std() == pytest.approx(np.hypot(0.2, shared), rel=0.02)

    def test_nothing_else_hangs_together(self):
        others = [n for n in PRIOR.names if not n.endswith("duration")]
        correlation = np.corrcoef([self.place(n) for n in [*others, "egg duration"]])
        assert np.abs(correlation - np.eye(len(others) + 1)).max() < 0.03

    def test_shift_stands_for_three_thresholds_and_the_sensor(self):
        expected = np.sqrt((2.0**2 + 2.5**2 + 2.5**2) / 9 + SENSOR_SPREAD_C**2)
        assert PRIOR.parameters[PRIOR.names.index("curve shift")].spread == pytest.approx(expected)

    def test_draws_stay_where_they_make_sense(self, species):
        prior = Prior.of(species)
        laws = prior.laws(np.random.default_rng(2).standard_normal((5000, len(prior))))
        assert laws.days.min() > 0 and laws.founding_room.min() > 0 and laws.delay.min() >= 0
        assert laws.survival.min() > 0 and laws.survival.max() < 1


class TestRoundShifts:
    def test_only_the_shift_changes_and_by_half_a_grain_at_most(self):
        x = np.random.default_rng(3).standard_normal((200, len(PRIOR)))
        before = x.copy()
        rounded = PRIOR.with_round_shifts(x, 0.25)
        assert np.array_equal(x, before)
        shift = PRIOR.laws(rounded).shift_c
        assert shift / 0.25 == pytest.approx(np.rint(shift / 0.25), abs=1e-9)
        assert np.abs(shift - PRIOR.laws(x).shift_c).max() <= 0.125 + 1e-9
        k = PRIOR.names.index("curve shift")
        assert np.array_equal(np.delete(rounded, k, axis=1), np.delete(x, k, axis=1))


class TestUnknownPast:
    PAST = Prior.of(LASIUS, past=200, usual_age=80.0)

    def test_age_takes_the_place_of_the_delay(self):
        assert self.PAST.names[0] == "age at first note"
        assert self.PAST.values(np.zeros((1, len(PRIOR))))[0, 0] == pytest.approx(80)
        assert self.PAST.laws(np.zeros((1, len(PRIOR)))).delay == pytest.approx(200 - 80)
        shared = LASIUS.value("development.shared_spread")
        assert self.PAST.parameters[0].spread == pytest.approx(np.hypot(AGE_SPREAD, shared))

    def test_an_age_beyond_the_past_starts_with_it(self):
        x = np.zeros((1, len(PRIOR)))
        x[0, 0] = 6.0
        assert self.PAST.laws(x).delay.tolist() == [0.0]

    def test_a_slow_table_makes_it_older(self):
        draws = np.random.default_rng(1).standard_normal((20_000, len(PRIOR)))
        values = self.PAST.values(draws)
        age, egg = np.log(values[:, 0]), np.log(values[:, PRIOR.names.index("egg duration")])
        shared = LASIUS.value("development.shared_spread")
        assert np.cov(age, egg)[0, 1] == pytest.approx(shared**2, rel=0.15)

    def test_usual_age_finds_the_day_of_what_was_held(self):
        climate = climate_of(LASIUS, steady(25, 200), np.zeros(200, bool))
        some = replace(PRIOR.laws(np.zeros((1, len(PRIOR)))), delay=np.zeros(1))
        counts = grow(some, climate, paces=4).counts[0]
        for day in (30, 70, 130):
            held = np.append(counts[day], np.nan)
            assert usual_age(LASIUS, steady(25, 1)[0], held) == day
        only_workers = np.array([np.nan] * 3 + [counts[130, 3], np.nan])
        assert usual_age(LASIUS, steady(25, 1)[0], only_workers) == pytest.approx(130, abs=1)

    def test_it_takes_longer_in_the_cool(self):
        held = np.array([np.nan, np.nan, np.nan, 30.0, np.nan])
        cool, warm = (usual_age(LASIUS, steady(t, 1)[0], held) for t in (20, 25))
        assert cool > 1.3 * warm


class TestClimateOf:
    def test_reference_days(self, species):
        reference = species.value("development.reference_c")
        climate = climate_of(species, steady(reference, 4), np.zeros(4, bool))
        assert climate.development[5] == pytest.approx(np.ones((4, 3)))
        assert climate.laying[5] == pytest.approx(np.ones(4))
        assert climate.ageing == pytest.approx(np.ones(4))

    def test_heat_limit_and_rest_come_from_the_profile(self):
        resting = np.arange(60) >= 10
        climate = climate_of(LASIUS, np.vstack([steady(32, 10), steady(8, 50)]), resting)
        assert climate.loss[0] == pytest.approx(np.full(3, 0.03 * 2))
        assert np.exp(-climate.loss[10:].sum(axis=0)) == pytest.approx([0.05, 1.0, 0.05])

    def test_curves(self):
        assert isinstance(curve_of(LASIUS, "egg"), Briere)
        assert 1 / float(curve_of(LASIUS, "larva")(25.0)) == pytest.approx(15)
        argentine = load_species("linepithema-humile")
        assert isinstance(curve_of(argentine, "pupa"), DegreeDay)
        total = sum(1 / float(curve_of(argentine, s)(28.0)) for s in ("egg", "larva", "pupa"))
        assert total == pytest.approx(445 / (28 - 15.9), rel=0.02)
