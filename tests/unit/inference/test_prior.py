"""The prior: what a species profile says before any count."""

from __future__ import annotations

import numpy as np
import pytest
from invented_ants import steady
from invented_species import garden_ant

from antgrowth.inference.prior import FITTED, SENSOR_SPREAD_C, Fitted, Parameter, Prior, forcing_of
from antgrowth.model.development_rates import Briere, DegreeDay
from antgrowth.model.life_cycle import LifeCycle
from antgrowth.species.development import curve_of
from antgrowth.species.profile import list_species, load_species

ANT = garden_ant()
PRIOR = Prior.of(ANT)


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
        parameter = Parameter(Fitted("any", "any.path", "", None, ""), "", scale, 0.0, 1.0)
        assert parameter.value(np.array([place]))[0] == pytest.approx(value)


class TestCentre:
    def test_is_the_profile(self, species):
        prior = Prior.of(species)
        values = dict(zip(prior.names, prior.values(np.zeros((1, len(prior))))[0], strict=True))
        for parameter in prior.parameters:
            if parameter.name != "curve shift":
                assert values[parameter.name] == pytest.approx(species.value(parameter.path))
        assert values["curve shift"] == 0

    BY_NAME = {
        "delay": "laying.delay_days",
        "founding_rate": "laying.founding_rate",
        "rate_per_worker": "laying.rate_per_worker",
        "top_rate": "laying.top_rate",
        "eggs_eaten": "rearing.eggs_eaten",
        "places_alone": "rearing.places_alone",
        "places_per_worker": "rearing.places_per_worker",
        "places_power": "rearing.places_power",
        "pupa_care": "rearing.pupa_care",
        "life": "workers.life_days",
        "first_life": "workers.first_life",
        "first_development": "workers.first_development",
    }

    def test_laws_are_those_of_the_profile(self, species):
        prior = Prior.of(species)
        laws = prior.laws(np.zeros((2, len(prior))))
        value = species.value
        for k, stage in enumerate(("egg", "larva", "pupa")):
            assert laws.days[:, k] == pytest.approx(value(f"development.{stage}.days"))
            assert laws.survival[:, k] == pytest.approx(value(f"survival.{stage}"))
            assert laws.rest_survival[:, k] == pytest.approx(value(f"rest.{stage}_survival"))
        for field, path in self.BY_NAME.items():
            assert getattr(laws, field) == pytest.approx(value(path)), field
        if "season.length_days" in species:
            assert laws.season_end == pytest.approx(value("season.length_days"))
        for name in ("wake_days", "laying_days", "fasting"):
            if f"season.{name}" in species:
                assert getattr(laws, name) == pytest.approx(value(f"season.{name}"))
        assert (laws.life_shape, laws.development_cv) == (
            value("workers.life_shape"),
            value("development.pace_cv"),
        )
        assert len(laws) == 2


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
        shared = ANT.value("development.shared_spread")
        assert np.cov(egg, larva)[0, 1] == pytest.approx(shared**2, rel=0.1)
        assert np.cov(egg, pupa)[0, 1] == pytest.approx(shared**2, rel=0.1)
        assert egg.std() == pytest.approx(np.hypot(0.12, shared), rel=0.02)

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
        assert (
            laws.days.min() > 0
            and laws.places_alone.min() > 0
            and laws.eggs_eaten.min() > 0
            and laws.delay.min() >= 0
        )
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


class TestWhatAColonyHas:
    """Which numbers a fit may learn depends on the species' season and on what is known."""

    SEASON = {
        "endogenous": {"season.length_days", "season.wake_days", "season.laying_days",
                       "season.fasting"},
        "exogenous": {"season.ends_below_c", "season.wake_days", "season.laying_days",
                      "season.fasting"},
        "none": set(),
    }  # fmt: skip

    def test_each_season_has_its_own(self, species):
        paths = {p.path for p in Prior.of(species).parameters if p.path.startswith("season.")}
        assert paths == self.SEASON[species.season.kind]

    def test_all_kinds_are_among_the_shipped(self):
        kinds = {load_species(name).season.kind for name in list_species()["name"]}
        assert kinds == set(self.SEASON)

    def test_all_else_is_the_same_for_all(self, species):
        paths = [p.path for p in Prior.of(species).parameters if not p.path.startswith("season.")]
        assert paths == [f.path for f in FITTED if not f.path.startswith("season.")]

    def test_a_colony_that_came_part_grown_laid_before(self, species):
        prior, acquired = Prior.of(species), Prior.of(species, founded=False)
        assert [n for n in prior.names if n != "laying starts after"] == list(acquired.names)
        assert acquired.place_of("laying.delay_days") is None
        laws = acquired.laws(np.random.default_rng(1).standard_normal((3, len(acquired))))
        assert laws.delay.tolist() == [0.0, 0.0, 0.0]

    def test_an_ant_without_seasons_is_always_awake(self):
        ant = load_species("oecophylla-smaragdina")
        prior = Prior.of(ant)
        cool = np.vstack([steady(28, 100), steady(19, 200)])
        rests = np.arange(300) >= 260
        forcing = forcing_of(ant, cool, rests, 0.0)
        cycle = LifeCycle(prior.laws(np.zeros((1, len(prior)))), forcing)
        assert cycle.rearing[0, :260] == pytest.approx(1.0)
        assert not cycle.rearing[0, 260:].any()  # but in a rest nobody rears

    def test_a_season_that_ends_with_the_cool_ends_at_its_temperature(self):
        ant = load_species("lasius-japonicus")
        prior = Prior.of(ant)
        ends = ant.value("season.ends_below_c")
        laws = prior.laws(np.zeros((1, len(prior))))
        assert laws.season_end == pytest.approx(-ends)
        autumn = np.repeat(np.linspace(ends + 10, ends - 5, 150)[:, None], 24, axis=1)
        forcing = forcing_of(ant, autumn, np.zeros(150, bool), 100.0)
        closed = int((LifeCycle(laws, forcing).rearing[0] < 0.5).argmax())
        assert autumn[closed - 9 : closed + 1].mean() == pytest.approx(ends, abs=0.11)


class TestSeen:
    """Of a crowd of workers some are overlooked: s + (1 - s) / (1 + W / 100)."""

    X = np.zeros((2, len(PRIOR)))

    def test_eggs_larvae_pupae_a_few_workers_and_the_dead(self):
        shares = PRIOR.seen(self.X, np.zeros(2))
        assert shares == pytest.approx(np.tile([0.92, 0.92, 1.0, 1.0, 1.0], (2, 1)))

    @pytest.mark.parametrize(
        ("workers", "share"), [(0, 1.0), (100, 0.685), (182, 0.5934), (1e9, 0.37), (-1.0, 1.0)]
    )
    def test_of_a_crowd(self, workers, share):
        # s = 0.37, so that of 182 workers 59 % are seen.
        assert PRIOR.seen(self.X, np.full(2, float(workers)))[:, 3] == pytest.approx(
            share, abs=1e-4
        )

    def test_for_many_draws_and_looks_at_once(self):
        x = np.random.default_rng(4).standard_normal((5, len(PRIOR)))
        workers = np.arange(15.0).reshape(5, 3) * 20
        together = PRIOR.seen(x, workers)
        assert together.shape == (5, 3, 5)
        for draw in range(5):
            for look in range(3):
                alone = PRIOR.seen(x[[draw]], workers[draw, [look]])
                assert together[draw, look] == pytest.approx(alone[0])

    def test_what_is_seen_of_a_growing_colony_never_falls(self):
        workers = np.linspace(0, 5000, 400)
        seen = workers * PRIOR.seen(np.zeros((400, len(PRIOR))), workers)[:, 3]
        assert np.all(np.diff(seen) > 0)


class TestForcingOf:
    def test_reference_days(self, species):
        reference = species.value("development.reference_c")
        forcing = forcing_of(species, steady(reference, 4), np.zeros(4, bool))
        assert forcing.development[5] == pytest.approx(np.ones((4, 3)))
        assert forcing.laying[5] == pytest.approx(np.ones(4))
        assert forcing.ageing == pytest.approx(np.ones(4))

    def test_heat_limit_and_rest_come_from_the_profile(self):
        resting = np.arange(60) >= 10
        forcing = forcing_of(ANT, np.vstack([steady(32, 10), steady(8, 50)]), resting)
        assert forcing.loss[0] == pytest.approx(np.full(3, 0.03 * 2))
        assert not forcing.loss[10:].any()
        kept = np.exp(np.log(PRIOR.laws(np.zeros((1, len(PRIOR)))).rest_survival[0])
                      * forcing.rest_share.sum())  # fmt: skip
        assert kept == pytest.approx([0.05, 0.7, 0.05])

    def test_curves(self):
        assert isinstance(curve_of(ANT, "egg"), Briere)
        assert 1 / float(curve_of(ANT, "larva")(25.0)) == pytest.approx(7.5)
        argentine = load_species("linepithema-humile")
        assert isinstance(curve_of(argentine, "pupa"), DegreeDay)
        total = sum(1 / float(curve_of(argentine, s)(28.0)) for s in ("egg", "larva", "pupa"))
        assert total == pytest.approx(445 / (28 - 15.9), rel=0.02)
