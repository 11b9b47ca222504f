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
from invented_ants import ALL_LIVE, forcing, laws, sine_day, standing, steady, swing, unlimited
from scipy import optimize, special, stats

from antgrowth.model.development_rates import Briere, DegreeDay, mean_daily_rate
from antgrowth.model.life_cycle import LifeCycle
from antgrowth.model.mean_field import grow
from antgrowth.model.simulation import simulate
from antgrowth.model.thermal_forcing import ThermalForcing

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
        # Three stages of one curve, all eggs laid during day 0, at midday on average; those who
        # come out during a day are counted in its evening, half a day late on average.
        share = np.array([28, 31, 15]) / 74  # Newell and Barber 1913, from memory
        some = unlimited(100.0, days=48.9011 * share, **ALL_LIVE)
        weather = on_the_first_day(forcing(steady(temperature_c, 200), curve=self.LINE))
        workers = grow(some, weather).counts[0, :, 3]
        arrival = (1 - workers / workers[-1]).sum()
        assert arrival - 0.5 - 0.5 == pytest.approx(days, abs=0.01)


def on_the_first_day(weather: ThermalForcing) -> ThermalForcing:
    """The same with laying on day 0 alone."""
    return replace(weather, laying=weather.laying * (np.arange(weather.days) == 0))


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

    def test_a_forcing_counts_the_same(self):
        day = forcing(sine_day(25, 6), curve=self.CURVE).development[5, 0, 0]
        assert day == pytest.approx(0.109295 / 0.118585, rel=1e-3)

    def test_a_swing_hastens_in_the_cool(self):
        cool = mean_daily_rate(self.CURVE, np.vstack([sine_day(12, 0), sine_day(12, 6)]))
        assert cool[1] > 1.5 * cool[0]


class TestQ10:
    """Duration over temperature at Q10 3.1, as read for larvae of Myrmica (Elmes & Wardlaw 1983).

    In the package only the ageing of workers goes by a Q10, so the ratios are tried there.
    """

    def test_ratios(self):
        ageing = {t: forcing(steady(t, 1), ageing_q10=3.1).ageing[0] for t in (15, 20, 24, 25)}
        assert ageing[25] / ageing[15] == pytest.approx(3.1, rel=1e-12)
        assert ageing[25] / ageing[20] == pytest.approx(1.760682, abs=5e-7)
        assert np.log10(ageing[25] / ageing[24]) == pytest.approx(0.049136, abs=5e-7)


# --- one stage after the other -------------------------------------------------------------------


class TestTimeToThirty:
    """N(t) = b s W [1 - exp(-(t - D) / W)], with b 2/d, s 0.6, D 40 d and exponential life of 90 d.

    Exact; t30 = D - W ln(1 - 30 / (b s W)). In the package who takes longer dies a little likelier,
    so that all live here, and only the product b s counts.
    """

    CASE = {"days": [10, 14, 16], "survival": [1, 1, 1], "life": 90, "life_shape": 1}

    def workers(self, days: int, **changes) -> np.ndarray:
        some = unlimited(1.2, **(self.CASE | changes))
        return grow(some, forcing(steady(25, days))).counts[0, :, 3]

    @staticmethod
    def thirty(workers: np.ndarray) -> float:
        # -ln(1 - N / 108) is a straight line of time, so interpolating it costs nothing.
        return float(
            np.interp(-np.log1p(-30 / 108), -np.log1p(-workers / 108), np.arange(len(workers)))
        )

    def test_at_a_delay_that_hardly_scatters(self):
        # Three stages of cv 0.12 make a delay of cv 0.07, as of an Erlang time of 200 steps, which
        # by the values below comes 0.04 days after the fixed one.
        # Workers age by the day: (1 - 1/90)^n for exp(-n / 90), 0.14 workers too many by then.
        found = self.thirty(self.workers(90, development_cv=0.12))
        assert found == pytest.approx(69.288016 + 0.04 - 0.14 / 0.87, abs=0.03)

    def test_ceiling(self):
        assert self.workers(1400)[-1] == pytest.approx(108, rel=5e-3)

    @pytest.mark.parametrize("k, days", [(16, 69.814803), (64, 69.427550)])
    def test_at_an_erlang_delay(self, k, days):
        # dN/dt = b s F_k(t) - N/W by quadrature: one gamma time of CV 1/sqrt(k) for all stages.
        # Stages of 10, 14 and 16 days, each of a scatter of its own, add up to that CV.
        own = k**-0.5 * 40 / np.sqrt(10**2 + 14**2 + 16**2)
        found = self.thirty(self.workers(90, development_cv=own))
        assert found == pytest.approx(days, abs=0.2)

    def test_whole_number_colonies_arrive_there_too(self):
        some = unlimited(1.2, 3000, **self.CASE)
        workers = simulate(some, forcing(steady(25, 90)), np.random.default_rng(1))[..., 3]
        assert self.thirty(workers.mean(axis=0)) == pytest.approx(69.33, abs=0.3)


class TestVaryingArrivals:
    """Mean of an M_t/G/infinity queue: m(t) = int lambda(t - u) P(S > u) du.

    lambda(t) = 10 + 5 sin(2 pi t / 30) and stays of mean 20 (Eick, Massey & Whitt 1993, from
    memory; closed form and quadrature agree). Eggs stand for stays that are nearly fixed or Erlang,
    workers for exponential ones; their youth lasts one period, and what it scatters smooths lambda
    by exp(-(2 pi sd / 30)^2 / 2).
    """

    PERIOD, DAYS = 30, 360

    def laying(self, phase: float, days: int) -> ThermalForcing:
        """Days in which laying goes by lambda, `phase` days ahead, averaged over each day."""
        turn = 2 * np.pi * (np.arange(days + 1) + phase) / self.PERIOD
        mean = 10 - 5 * self.PERIOD / (2 * np.pi) * np.diff(np.cos(turn))
        weather = forcing(steady(25, days))
        return replace(weather, laying=weather.laying * mean)

    @pytest.mark.parametrize("time, mean", [(0, 177.414006), (7.5, 205.392009), (10, 215.962614)])
    def test_exponential(self, time, mean):
        some = unlimited(
            1.0, days=[10, 10, 10], survival=[1, 1, 1], development_cv=0.05, life=20, life_shape=1
        )
        workers = grow(some, self.laying(time, self.DAYS)).counts[0, self.DAYS, 3]
        # A youth of sd 1.5 days takes 5 % off the wave.
        smooth = np.exp(-((2 * np.pi * 1.5 / 30) ** 2) / 2)
        assert workers == pytest.approx(200 + smooth * (mean - 200), abs=1.0)

    @pytest.mark.parametrize("time, mean", [(0, 170.718939), (7.5, 199.499968), (10, 214.207490)])
    def test_erlang_4(self, time, mean):
        some = unlimited(1.0, days=[20, 9, 9], survival=[1, 1, 1], development_cv=0.5)
        eggs = grow(some, self.laying(time, 200)).counts[0, 200 - 200 % 30, 0]
        assert eggs == pytest.approx(mean, abs=1.0)

    @pytest.mark.parametrize("time, mean", [(0, 164.190138), (7.5, 179.325166), (10, 200.0)])
    def test_nearly_deterministic(self, time, mean):
        # Steps of progress scatter a stay of 20 days by a day and a half.
        some = unlimited(1.0, days=[20, 9, 9], survival=[1, 1, 1], development_cv=0.02)
        eggs = grow(some, self.laying(time, 120)).counts[0, 120, 0]
        assert eggs == pytest.approx(mean, abs=1.2)

    def test_counts_are_poisson(self):
        some = unlimited(1.0, 3000, days=[20, 9, 9], survival=[1, 1, 1], development_cv=0.02)
        eggs = simulate(some, self.laying(7.5, 120), np.random.default_rng(4))[:, 120, 0]
        assert eggs.mean() == pytest.approx(179.325, abs=1.2 + 4 * np.sqrt(179.3 / 3000))
        assert eggs.var() / eggs.mean() == pytest.approx(1.0, abs=4 * np.sqrt(2 / 3000) + 0.05)


class TestLinearChain:
    """k equal stages of rate k / tau one after the other: an Erlang time, CV 1 / sqrt(k). Exact.

    The package passes a stage of that CV in 24 steps; its times have the same mean and scatter, and
    nearly the same shape.
    """

    @pytest.mark.parametrize(
        "k, quantiles, off",
        [
            (4, [13.663, 36.721, 77.537], 0.14),
            (16, [25.090, 39.170, 57.743], 0.03),
            (25, [27.811, 39.468, 54.004], 0.02),
        ],
    )
    def test_quantiles_of_a_development_of_mean_40_days(self, k, quantiles, off):
        some = unlimited(1.0, days=[40, 9, 9], survival=[1, 1, 1], development_cv=k**-0.5)
        eggs = grow(some, on_the_first_day(forcing(steady(25, 250)))).counts[0, 1:, 0]
        found = np.interp([0.05, 0.5, 0.95], 1 - eggs / eggs[0], np.arange(250.0))
        assert found == pytest.approx(quantiles, rel=off)
        expected = stats.gamma(k, scale=40 / k).ppf([0.05, 0.5, 0.95])
        assert quantiles == pytest.approx(expected, rel=1e-3)


class TestExponentialGrowth:
    """Births in proportion to workers: r + mu = beta s exp(-r D), so that
    r = -mu + W(D beta s exp(mu D)) / D with Lambert's W; beta 0.1, s 0.6, D 40, mu 1/90. Exact.
    """

    def rate(self, days: int = 1300, **changes) -> float:
        case = {
            "days": [10, 14, 16],
            "survival": [1, 1, 1],
            "life": 90,
            "life_shape": 1,
            "founding_rate": 1e-3,
            "rate_per_worker": 0.1 * 0.6,
            "top_rate": 1e15,
            "development_cv": 0.05,
        }
        workers = grow(unlimited(1.0, **(case | changes)), forcing(steady(25, days)))
        workers = workers.counts[0, :, 3]
        return float(np.log(workers[-1] / workers[-101]) / 100)

    def test_at_a_fixed_delay(self):
        closed = -1 / 90 + special.lambertw(40 * 0.06 * np.exp(40 / 90)).real / 40
        assert closed == pytest.approx(0.01804339, abs=5e-9)
        # Workers of the morning tell the day's eggs, half a day late: 41 days for 40 or so.
        late = -1 / 90 + special.lambertw(40.5 * 0.06 * np.exp(40.5 / 90)).real / 40.5
        assert self.rate() == pytest.approx(closed, rel=0.012)
        assert self.rate() == pytest.approx(late, rel=4e-3)

    def test_at_an_erlang_delay(self):
        # r + mu = beta s (1 + r D / k)^-k with k = 16, by root finding: 0.01826157.
        own = 16**-0.5 * 40 / np.sqrt(10**2 + 14**2 + 16**2)
        assert self.rate(development_cv=own) == pytest.approx(0.01826157, rel=0.012)
        assert self.rate(development_cv=own) > self.rate()


class TestLittlesLaw:
    """In a steady state, number = arrivals x share that stays x mean stay."""

    def steady_state(self, rate: float, days: int, **changes) -> np.ndarray:
        return grow(unlimited(rate, **changes), forcing(steady(25, days))).counts[0, -1]

    @pytest.mark.parametrize("shape", [1.0, 2.0, 4.0])
    def test_workers_of_weibull_life(self, shape):
        counts = self.steady_state(2.0, 900, life=60, life_shape=shape)
        mean_life = 60 * special.gamma(1 + 1 / shape)
        assert counts[3] == pytest.approx(2.0 * 0.9 * 0.6 * 0.95 * mean_life, rel=4e-3)

    def test_brood_lost_on_the_way(self):
        # Losses thin a stage out evenly over its progress: the mean stay of an egg is the integral
        # of 0.9^p over 13 days, (1 - 0.9) / -ln 0.9 of them.
        stay = [
            (1 - s) / -np.log(s) * d for s, d in zip((0.9, 0.6, 0.95), (13, 9, 16), strict=True)
        ]
        reach = np.array([1, 0.9, 0.9 * 0.6])
        counts = self.steady_state(3.0, 120)
        assert counts[:3] == pytest.approx(3.0 * reach * stay, rel=4e-3)

    def test_in_a_swinging_day(self):
        # On the stage's clock a day counts more or less than one; the stay is as much shorter.
        weather = forcing(swing(30, 18, 200))
        day = weather.development[5, 0, 0]
        laid = float(weather.laying[5, 0]) * 3.0
        stay = (1 - 0.9) / -np.log(0.9) * 13 / day
        assert grow(unlimited(3.0), weather).counts[0, -1, 0] == pytest.approx(
            laid * stay, rel=3e-3
        )

    def test_order_of_magnitude_of_a_fire_ant_colony(self):
        # 1500 eggs a day that live 62 days as workers, 93 000 (Cassill 2011 for the identity; both
        # inputs are weak extension figures; field colonies hold 50 000 to 240 000).
        counts = self.steady_state(1500.0, 900, survival=[1, 1, 1], life=62, life_shape=1)
        assert counts[3] == pytest.approx(93_000, rel=2e-3)

    def test_whole_number_colonies(self):
        some = unlimited(3.0, 1500, life=30)
        paths = simulate(some, forcing(steady(25, 160)), np.random.default_rng(1))
        mean_life = 30 * special.gamma(1.5)
        assert paths[:, 120:, 3].mean() == pytest.approx(
            3.0 * 0.9 * 0.6 * 0.95 * mean_life, rel=0.01
        )

    @pytest.mark.parametrize("care", [0.3, 0.7, 1.0])
    def test_places_that_are_always_taken(self, care):
        # 14 places, and far more larvae than find one. If f places are given out a day, larvae
        # hold f l of them and pupae f 0.6 care p, l and p being their mean stays. A place that
        # falls free in a day is given out in the next, so that one day's places are empty:
        # 14 = f (l + 0.6 care p + 1).
        some = laws(
            founding_rate=30.0, delay=0.0, eggs_eaten=0.0, places_per_worker=0.0, pupa_care=care,
            life=1e9, first_development=1.0,
        )  # fmt: skip
        counts = grow(some, forcing(steady(25, 400))).counts[0, :, 3]
        larva, pupa = ((1 - s) / -np.log(s) * d for s, d in ((0.6, 9.0), (0.95, 16.0)))
        given = 14 / (larva + care * 0.6 * pupa + 1)
        found = (counts[-1] - counts[-201]) / 200
        assert found == pytest.approx(given * 0.6 * 0.95, rel=0.015)


class TestEatenEggs:
    """dE/dt = q - e L E / (E + 30): with L larvae that never grow, E* = 30 q / (e L - q). Exact."""

    @pytest.mark.parametrize("larvae, eggs", [(10, 45.0), (16, 18.0), (40, 90 / 17)])
    def test_eggs_there_are(self, larvae, eggs):
        some = unlimited(
            3.0, days=[1e6, 9, 9], survival=[1, 1, 1], eggs_eaten=0.5, places_alone=-50.0
        )
        weather = forcing(steady(25, 300))
        start = standing(LifeCycle(some, weather), waiting=larvae)
        found = grow(some, weather, start=start).counts[0, -1]
        assert found[:2] == pytest.approx([eggs, larvae], rel=0.02)

    def test_more_than_they_can_eat_piles_up(self):
        some = unlimited(
            6.0, days=[1e6, 9, 9], survival=[1, 1, 1], eggs_eaten=0.5, places_alone=-50.0
        )
        weather = forcing(steady(25, 400))
        start = standing(LifeCycle(some, weather), waiting=10)
        eggs = grow(some, weather, start=start).counts[0, :, 0]
        # 6 a day are laid and at most 5 eaten: dE/dt comes down to 1 + 150 / (E + 30).
        assert eggs[400] - eggs[399] == pytest.approx(1 + 150 / (eggs[400] + 30), rel=0.02)
