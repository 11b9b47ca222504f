"""The equation of Euler and Lotka against published matrices, tables, and growth itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import lambertw

import antgrowth as ag
from antgrowth.inference.prior import Prior, forcing_of
from antgrowth.model.euler_lotka import long_run_rates, rate_of_increase
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Laws

NIGER = ag.load_species("lasius-niger")


def maternity_of(matrix: np.ndarray, ages: int) -> np.ndarray:
    """Offspring at each age of a newborn of a stage matrix: first row and survival apart."""
    fertility, survival = matrix[0].copy(), matrix.copy()
    fertility[0] = 0.0  # in the matrices here, staying in the first stage is no birth
    survival[0, 1:] = 0.0
    newborn, found = np.eye(len(matrix))[0], []
    for _ in range(ages):
        found.append(fertility @ newborn)
        newborn = survival @ newborn
    return np.array(found)


class TestMatrices:
    def test_loggerhead_turtles(self):
        # Crouse, Crowder and Caswell (1987) Ecology 68:1412-1423, table 4: lambda 0.945 (matrix as
        # on a teaching page, read; 0.945031 is the largest eigenvalue of it).
        matrix = np.zeros((7, 7))
        matrix[0, 4:] = 127, 4, 80
        for stage, stays in {1: 0.7370, 2: 0.6610, 3: 0.6907, 6: 0.8089}.items():
            matrix[stage, stage] = stays
        for stage, moves in enumerate((0.6747, 0.0486, 0.0147, 0.0518, 0.8091, 0.8091)):
            matrix[stage + 1, stage] = moves
        rate = rate_of_increase(np.arange(1, 801), maternity_of(matrix, 800))
        assert np.exp(rate) == pytest.approx(0.945031, abs=5e-7)
        assert rate == pytest.approx(-0.056538, abs=5e-7)
        assert np.exp(rate) == pytest.approx(np.abs(np.linalg.eigvals(matrix)).max(), rel=1e-9)

    def test_killer_whales(self):
        # Brault and Caswell (1993) Ecology 74:1444-1454: lambda 1.0254 (matrix from memory).
        matrix = np.array(
            [
                [0, 0.0043, 0.1132, 0],
                [0.9775, 0.9111, 0, 0],
                [0, 0.0736, 0.9534, 0],
                [0, 0, 0.0452, 0.9804],
            ]
        )
        rate = rate_of_increase(np.arange(1, 3001), maternity_of(matrix, 3000))
        assert np.exp(rate) == pytest.approx(1.025441, abs=5e-7)


class TestTables:
    def test_rice_weevil(self):
        # Birch (1948) J Anim Ecol 17:15-26, Calandra oryzae at 29 °C: R0 113.48, r 0.76 per week
        # (table from memory).
        age = np.arange(4.5, 19.0)
        alive = np.divide([87, 83, 81, 80, 79, 77, 74, 66, 59, 52, 45, 36, 29, 25, 19], 100)
        born = [20, 23, 15, 12.5, 12.5, 14, 12.5, 14.5, 11, 9.5, 2.5, 2.5, 2.5, 4, 1]
        maternity = np.multiply(alive, born)
        assert maternity.sum() == pytest.approx(113.485, abs=5e-4)
        rate = rate_of_increase(age, maternity)
        assert rate == pytest.approx(0.761984, abs=5e-7)
        assert np.log(maternity.sum()) / rate == pytest.approx(6.2097, abs=5e-5)


class TestClosedForms:
    @pytest.mark.parametrize(("age", "offspring"), [(1.0, 3.0), (10.0, 2.0), (5.0, 0.5), (2.0, 1)])
    def test_offspring_at_one_age(self, age, offspring):
        assert rate_of_increase([age], [offspring]) == pytest.approx(np.log(offspring) / age)

    def test_a_delay_and_steady_births_after_it(self):
        # r + mu = beta s exp(-r D): Lambert's W; D 40 d, beta s 0.06 a day, mean life 90 d.
        delay, births, death = 40.0, 0.06, 1 / 90
        exact = float((lambertw(delay * births * np.exp(death * delay)) / delay - death).real)
        assert exact == pytest.approx(0.01804339, abs=5e-9)
        age = np.arange(delay, 3000, 0.01) + 0.005
        maternity = births * np.exp(-death * (age - delay)) * 0.01
        assert rate_of_increase(age, maternity) == pytest.approx(exact, rel=1e-6)


def steady(temperature_c: float, days: int = 1) -> np.ndarray:
    return np.full((days, 24), temperature_c)


class TestColonies:
    """Growth by the equation of colonies, beside expected growth of colonies that places limit.

    Where places grow as workers do (a power of 1) such a colony grows at one rate for ever.
    """

    @staticmethod
    def limited(ant: ag.Species, draws: int) -> Laws:
        """Draws of a profile, made to have larvae enough and places for each worker alike."""
        prior = Prior.of(ant)
        some = prior.laws(np.random.default_rng(1).standard_normal((draws, len(prior))) * 0.5)
        return replace(
            some,
            founding_rate=np.full(draws, 50.0),
            rate_per_worker=np.full(draws, 3.0),
            top_rate=np.full(draws, 1e30),
            eggs_eaten=np.zeros(draws),
            places_power=np.ones(draws),
            places_per_worker=0.7 * some.places_per_worker,
        )

    @staticmethod
    def grown(ant: ag.Species, laws: Laws, temperature_c: float) -> np.ndarray:
        """Rate of growth of workers in the long run, shape (draws,). [1/day]"""
        days = 900
        weather = forcing_of(ant, steady(temperature_c, days), np.zeros(days, bool))
        workers = grow(laws, weather).counts[..., 3]
        return np.log(workers[:, -1] / workers[:, -201]) / 200

    @pytest.mark.parametrize("name", ["lasius-niger", "oecophylla-smaragdina"])
    @pytest.mark.parametrize("temperature_c", [22.0, 26.0])
    def test_growth_in_the_long_run_while_places_limit_it(self, name, temperature_c):
        ant = ag.load_species(name)
        laws = self.limited(ant, 3)
        slope = self.grown(ant, laws, temperature_c)
        weather = forcing_of(ant, steady(temperature_c), np.zeros(1, bool))
        rates = long_run_rates(laws, weather, 1e9)[:, 0]
        print(f"\n{name} at {temperature_c:g} °C: {rates} by the equation, {slope} grown")
        assert np.all(rates > 0.003)
        # By the day a place that falls free is given out in the next: growth is the slower for it,
        # by as much as one day among the two or three weeks that an ant holds its place. Ants that
        # are quicker than others make up for a little of it.
        assert np.all(slope < rates * 1.02)
        assert slope == pytest.approx(rates, rel=0.07)

    def test_with_heat(self):
        laws = self.limited(NIGER, 1)
        weather = forcing_of(NIGER, steady(30.0), np.zeros(1, bool))  # 1 °C above the limit
        assert weather.loss.max() > 0
        rate = long_run_rates(laws, weather, 1e9)[0, 0]
        calm = replace(weather, loss=np.zeros_like(weather.loss))
        assert rate < long_run_rates(laws, calm, 1e9)[0, 0]
        assert self.grown(NIGER, laws, 30.0)[0] == pytest.approx(rate, rel=0.07)

    def test_where_larvae_never_finish_nothing_lasts(self):
        ant = ag.load_species("oecophylla-smaragdina")
        prior = Prior.of(ant)
        laws = prior.laws(np.zeros((1, len(prior))))
        weather = forcing_of(ant, np.repeat([[16.0], [24.0]], 24, axis=1), np.zeros(2, bool))
        rates = long_run_rates(laws, weather, 100.0)
        assert np.isneginf(rates[0, 0]) and rates[0, 1] > 0
