"""Worked values that follow from mathematics alone, each with where it comes from beside it.

They were worked out apart from the package: closed forms evaluated by hand or by quadrature, and a
few published tables. The package is driven through the same doors as in a fit, with laws chosen so
that its growth becomes the case at hand. Other rate curves, and degree-days from daily extremes,
are in `test_rates_published`; matrix models are not in the package.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_ants import climate, laws, sine_day, steady, swing, unlimited
from scipy import optimize, special, stats

from antgrowth.model.development_rates import Briere, DegreeDay, mean_daily_rate
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Climate, pace_nodes
from antgrowth.model.simulation import simulate

# --- rate curves ---------------------------------------------------------------------------------


class TestBriere:
    """Briere and others (1999), equation 1 and its optimum, both from memory; values computed."""

    @pytest.mark.parametrize(
        "curve, optimum_c, at_optimum, at_25",
        [
            (Briere(1e-4, 10, 35), 29.206556, 0.13502005, 0.11858541),
            (Briere(5e-5, 15, 38), 32.352668, 0.06670648, 0.04506939),
        ],
    )
    def test_optimum_and_rates(self, curve, optimum_c, at_optimum, at_25):
        assert curve.optimum_c == pytest.approx(optimum_c, abs=5e-7)
        assert float(curve(curve.optimum_c)) == pytest.approx(at_optimum, abs=5e-9)
        assert float(curve(25.0)) == pytest.approx(at_25, abs=5e-9)
        found = optimize.minimize_scalar(
            lambda t: -float(curve(t)), bounds=(20, 34.9), method="bounded", options={"xatol": 1e-8}
        )
        assert found.x == pytest.approx(curve.optimum_c, abs=1e-4)


class TestDegreeDays:
    """Linepithema humile, egg to worker: 445 degree-days above 15.9 °C (Hartley & Lester 2003)."""

    LINE = DegreeDay(15.9, 445)

    @pytest.mark.parametrize(
        "temperature_c, days", [(20, 108.54), (25, 48.90), (28, 36.78), (30, 31.56)]
    )
    def test_days_to_worker(self, temperature_c, days):
        assert 1 / float(self.LINE(temperature_c)) == pytest.approx(days, abs=0.005)

    @pytest.mark.parametrize("temperature_c, days", [(20, 108.54), (28, 36.78)])
    def test_a_cohort_takes_as_long(self, temperature_c, days):
        # Three stages of one curve, all eggs laid during day 0. Counted every evening, they seem to
        # arrive half a day late on average, and were laid half a day into the record.
        share = np.array([28, 31, 15]) / 74  # Newell and Barber 1913, from memory
        some = unlimited(
            100.0, days=48.9011 * share, survival=[1, 1, 1], pace_cv=0.0, life=1e9, life_shape=1
        )
        weather = climate(steady(temperature_c, 130), curve=self.LINE)
        weather = replace(weather, laying=weather.laying * (np.arange(130) == 0))
        workers = grow(some, weather).counts[0, :, 3]
        arrival = (1 - workers / workers[-1]).sum()
        assert arrival - 0.5 - 0.5 == pytest.approx(days, abs=0.006)


class TestRateSummation:
    """Mean of a Briere rate (a 1e-4, 10 to 35 °C) over a sine-shaped day, by quadrature.

    The effect is Kaufmann's: a swing hastens where the curve bends upwards, delays where it bends
    downwards.
    """

    CURVE = Briere(1e-4, 10, 35)

    @pytest.mark.parametrize(
        "mean_c, amplitude_c, rate",
        [
            (25, 0, 0.118585), (25, 3, 0.116444), (25, 6, 0.109295), (25, 9, 0.093427),
            (30, 0, 0.134164), (30, 3, 0.126580), (30, 6, 0.093156), (30, 9, 0.074401),
        ],
    )  # fmt: skip
    def test_daily_development(self, mean_c, amplitude_c, rate):
        fine = mean_daily_rate(self.CURVE, sine_day(mean_c, amplitude_c, 24 * 240))
        assert fine[0] == pytest.approx(rate, abs=2e-6)
        hourly = mean_daily_rate(self.CURVE, sine_day(mean_c, amplitude_c))
        assert hourly[0] == pytest.approx(rate, rel=0.01)

    def test_a_climate_counts_the_same(self):
        day = climate(sine_day(25, 6), curve=self.CURVE).development[5, 0, 0]
        assert day == pytest.approx(0.109295 / 0.118585, rel=1e-3)

    def test_a_swing_hastens_in_the_cool(self):
        cool = mean_daily_rate(self.CURVE, np.vstack([sine_day(12, 0), sine_day(12, 6)]))
        assert cool[1] > 1.5 * cool[0]


class TestQ10:
    """Duration over temperature at Q10 3.1, as read for larvae of Myrmica (Elmes & Wardlaw 1983).

    In the package only the ageing of workers goes by a Q10, so the ratios are tried there.
    """

    def test_ratios(self):
        ageing = {t: climate(steady(t, 1), ageing_q10=3.1).ageing[0] for t in (15, 20, 24, 25)}
        assert ageing[25] / ageing[15] == pytest.approx(3.1, rel=1e-12)
        assert ageing[25] / ageing[20] == pytest.approx(1.760682, abs=5e-7)
        assert np.log10(ageing[25] / ageing[24]) == pytest.approx(0.049136, abs=5e-7)


# --- one stage after the other -------------------------------------------------------------------


class TestTimeToThirty:
    """N(t) = b s W [1 - exp(-(t - D) / W)], with b 2/d, s 0.6, D 40 d and exponential life of 90 d.

    Exact; t30 = D - W ln(1 - 30 / (b s W)). The package lets workers of three days share an age,
    which costs a quarter of an hour.
    """

    CASE = {"days": [10, 14, 16], "survival": [0.8, 0.75, 1.0], "life": 90, "life_shape": 1}

    def workers(self, days: int, paces: int = 1, **changes) -> np.ndarray:
        some = unlimited(2.0, **(self.CASE | {"pace_cv": 0.0} | changes))
        return grow(some, climate(steady(25, days)), paces=paces).counts[0, :, 3]

    @staticmethod
    def thirty(workers: np.ndarray) -> float:
        # -ln(1 - N / 108) is a straight line of time, so interpolating it costs nothing.
        return float(
            np.interp(-np.log1p(-30 / 108), -np.log1p(-workers / 108), np.arange(len(workers)))
        )

    def test_at_a_fixed_delay(self):
        assert self.thirty(self.workers(90)) == pytest.approx(69.288016, abs=0.015)

    def test_ceiling(self):
        assert self.workers(1400)[-1] == pytest.approx(108, rel=1e-4)

    @pytest.mark.parametrize("k, days", [(4, 69.715989), (16, 69.814803), (64, 69.427550)])
    def test_at_an_erlang_delay(self, k, days):
        # dN/dt = b s F_k(t) - N/W by quadrature: one pace for all stages, gamma with CV 1/sqrt(k).
        workers = self.workers(90, paces=256, pace_cv=k**-0.5)
        assert self.thirty(workers) == pytest.approx(days, abs=0.015)

    @pytest.mark.parametrize("paces", [4, 8])
    def test_few_paces_are_enough(self, paces):
        # At the spread of the shipped species, 0.12, the fit's 8 paces cost minutes.
        few, many = (self.thirty(self.workers(90, paces=n, pace_cv=0.12)) for n in (paces, 64))
        assert few == pytest.approx(many, abs=0.02)

    def test_whole_number_colonies_arrive_there_too(self):
        some = unlimited(2.0, 3000, **self.CASE, pace_cv=0.0)
        workers = simulate(some, climate(steady(25, 90)), np.random.default_rng(1))[..., 3]
        assert self.thirty(workers.mean(axis=0)) == pytest.approx(69.288, abs=0.3)


class TestVaryingArrivals:
    """Mean of an M_t/G/infinity queue: m(t) = int lambda(t - u) P(S > u) du.

    lambda(t) = 10 + 5 sin(2 pi t / 30) and stays of mean 20 (Eick, Massey & Whitt 1993, from
    memory; closed form and quadrature agree). Eggs stand for stays that are fixed or Erlang,
    workers for exponential ones; their youth lasts one period, which changes nothing.
    """

    PERIOD, DAYS = 30, 360

    def laying(self, phase: float, days: int) -> Climate:
        """A climate in which laying goes by lambda, `phase` days ahead, averaged over each day."""
        turn = 2 * np.pi * (np.arange(days + 1) + phase) / self.PERIOD
        mean = 10 - 5 * self.PERIOD / (2 * np.pi) * np.diff(np.cos(turn))
        weather = climate(steady(25, days))
        return replace(weather, laying=weather.laying * mean)

    @pytest.mark.parametrize("time, mean", [(0, 177.414006), (7.5, 205.392009), (10, 215.962614)])
    def test_exponential(self, time, mean):
        some = unlimited(
            1.0, days=[10, 10, 10], survival=[1, 1, 1], pace_cv=0.0, life=20, life_shape=1
        )
        workers = grow(some, self.laying(time, self.DAYS), paces=1).counts[0, self.DAYS, 3]
        # Workers of three days share an age: (3 d / 20 d)^2 / 24 of them.
        assert workers == pytest.approx(mean, rel=3e-3)
        assert workers / mean == pytest.approx(1 - (3 / 20) ** 2 / 24, abs=1.2e-3)

    @pytest.mark.parametrize("time, mean", [(0, 170.718939), (7.5, 199.499968), (10, 214.207490)])
    def test_erlang_4(self, time, mean):
        some = unlimited(1.0, days=[20, 9, 9], survival=[1, 1, 1], pace_cv=0.5)
        eggs = grow(some, self.laying(time, 120), paces=128).counts[0, 120, 0]
        assert eggs == pytest.approx(mean, rel=1e-3)

    @pytest.mark.parametrize("time, mean", [(0, 164.190138), (7.5, 179.325166), (10, 200.0)])
    def test_deterministic(self, time, mean):
        some = unlimited(1.0, days=[20, 9, 9], survival=[1, 1, 1], pace_cv=0.0)
        eggs = grow(some, self.laying(time, 120), paces=1).counts[0, 120, 0]
        assert eggs == pytest.approx(mean, rel=1e-5)

    def test_counts_are_poisson(self):
        some = unlimited(1.0, 3000, days=[20, 9, 9], survival=[1, 1, 1], pace_cv=0.0)
        eggs = simulate(some, self.laying(7.5, 120), np.random.default_rng(4))[:, 120, 0]
        assert eggs.mean() == pytest.approx(179.325, abs=4 * np.sqrt(179.3 / 3000))
        assert eggs.var() / eggs.mean() == pytest.approx(1.0, abs=4 * np.sqrt(2 / 3000))


class TestLinearChain:
    """k equal stages of rate k / tau one after the other: an Erlang time, CV 1 / sqrt(k). Exact."""

    @pytest.mark.parametrize(
        "k, quantiles",
        [
            (4, [13.663, 36.721, 77.537]),
            (16, [25.090, 39.170, 57.743]),
            (25, [27.811, 39.468, 54.004]),
        ],
    )
    def test_quantiles_of_a_development_of_mean_40_days(self, k, quantiles):
        # Eggs of day 0 hatch at 800 days times their pace, beside which a day is next to nothing;
        # each of 256 paces stands for 0.4 % of them.
        some = unlimited(1.0, days=[800, 9, 9], survival=[1, 1, 1], pace_cv=k**-0.5)
        weather = climate(steady(25, 1800))
        weather = replace(weather, laying=weather.laying * (np.arange(1800) == 0))
        eggs = grow(some, weather, paces=256).counts[0, 1:, 0]
        found = np.interp([0.05, 0.5, 0.95], 1 - eggs / eggs[0], np.arange(1.0, 1801)) - 0.5
        assert found * 40 / 800 == pytest.approx(quantiles, rel=0.01)

    @pytest.mark.parametrize("k", [4, 25])
    def test_nodes_stand_for_equal_shares(self, k):
        nodes = 40 * pace_nodes(k**-0.5, 400)
        expected = stats.gamma(k, scale=40 / k).ppf((np.arange(400) + 0.5) / 400)
        assert np.interp([0.05, 0.5, 0.95], (np.arange(400) + 0.5) / 400, nodes) == pytest.approx(
            np.interp([0.05, 0.5, 0.95], (np.arange(400) + 0.5) / 400, expected), rel=2e-3
        )


class TestExponentialGrowth:
    """Births in proportion to workers: r + mu = beta s exp(-r D), so that
    r = -mu + W(D beta s exp(mu D)) / D with Lambert's W; beta 0.1, s 0.6, D 40, mu 1/90. Exact.
    """

    def rate(self, paces: int = 1, days: int = 1300, **changes) -> float:
        some = unlimited(
            1e-3,
            **(
                {
                    "days": [10, 14, 16],
                    "survival": [0.8, 0.75, 1.0],
                    "life": 90,
                    "life_shape": 1,
                    "rate_per_worker": 0.1,
                    "founding_room": 1e15,
                    "top_rate": 1e15,
                    "pace_cv": 0.0,
                }
                | changes
            ),
        )
        workers = grow(some, climate(steady(25, days)), paces=paces).counts[0, :, 3]
        return float(np.log(workers[-1] / workers[-101]) / 100)

    def test_at_a_fixed_delay(self):
        closed = -1 / 90 + special.lambertw(40 * 0.06 * np.exp(40 / 90)).real / 40
        assert closed == pytest.approx(0.01804339, abs=5e-9)
        found = self.rate()
        assert found == pytest.approx(closed, rel=1e-4)
        assert np.log(2) / found == pytest.approx(38.4156, abs=0.005)

    @pytest.mark.parametrize("k, rate", [(4, 0.01890487), (16, 0.01826157)])
    def test_at_an_erlang_delay(self, k, rate):
        # r + mu = beta s (1 + r D / k)^-k, by root finding.
        assert self.rate(paces=64, pace_cv=k**-0.5) == pytest.approx(rate, rel=1e-3)


class TestLittlesLaw:
    """In a steady state, number = arrivals x share that stays x mean stay."""

    def steady_state(self, rate: float, days: int, **changes) -> np.ndarray:
        return grow(unlimited(rate, **changes), climate(steady(25, days))).counts[0, -1]

    @pytest.mark.parametrize("shape", [1.0, 2.0, 4.0])
    def test_workers_of_weibull_life(self, shape):
        counts = self.steady_state(2.0, 900, life=60, life_shape=shape)
        mean_life = 60 * special.gamma(1 + 1 / shape)
        assert counts[3] == pytest.approx(2.0 * 0.85 * 0.9 * 0.95 * mean_life, rel=1e-3)

    def test_brood_lost_on_the_way(self):
        # Losses thin a stage out evenly over its progress: the mean stay of an egg is the integral
        # of 0.85^p over 13 days, (1 - 0.85) / -ln 0.85 of them.
        stay = [
            (1 - s) / -np.log(s) * d for s, d in zip((0.85, 0.9, 0.95), (13, 14, 16), strict=True)
        ]
        reach = np.array([1, 0.85, 0.85 * 0.9])
        counts = self.steady_state(3.0, 100)
        assert counts[:3] == pytest.approx(3.0 * reach * stay, rel=2e-3)

    def test_in_a_swinging_day(self):
        # On the stage's clock a day counts more or less than one; the stay is as much shorter.
        hours = swing(30, 18, 200)
        weather = climate(hours)
        day = weather.development[5, 0, 0]
        laid = float(weather.laying[5, 0]) * 3.0
        stay = (1 - 0.85) / -np.log(0.85) * 13 / day
        assert grow(unlimited(3.0), weather).counts[0, -1, 0] == pytest.approx(
            laid * stay, rel=2e-3
        )

    def test_order_of_magnitude_of_a_fire_ant_colony(self):
        # 1500 eggs a day that live 62 days as workers, 93 000 (Cassill 2011 for the identity; both
        # inputs are weak extension figures; field colonies hold 50 000 to 240 000).
        counts = self.steady_state(1500.0, 900, survival=[1, 1, 1], life=62, life_shape=1)
        assert counts[3] == pytest.approx(93_000, rel=1e-3)

    def test_whole_number_colonies(self):
        some = unlimited(3.0, 1500, life=30)
        paths = simulate(some, climate(steady(25, 160)), np.random.default_rng(1))
        mean_life = 30 * special.gamma(1.5)
        assert paths[:, 120:, 3].mean() == pytest.approx(
            3.0 * 0.85 * 0.9 * 0.95 * mean_life, rel=0.01
        )


def test_filling_a_nest_without_losses():
    # dB/dt = q (1 - B / K): B = K [1 - exp(-q t / K)] (exact), q 3/d, K 20, from day 5 on.
    some = laws(survival=[1, 1, 1], days=[60, 60, 60])
    eggs = grow(some, climate(steady(25, 40))).counts[0, :, 0]
    time = np.maximum(np.arange(41) - 5.0, 0.0)
    assert eggs == pytest.approx(20 * (1 - np.exp(-3 * time / 20)), rel=2e-6)
