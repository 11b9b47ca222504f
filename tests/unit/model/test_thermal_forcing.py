"""What days mean to ants: rates, heat, rests, and how far the year has gone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_ants import forcing, steady, step, swing

from antgrowth.model.development_rates import Briere
from antgrowth.model.thermal_forcing import (
    AUTUMN_FROM_DAYS,
    LEAST_REST_DAYS,
    NEVER,
    REST_LOSS_DAYS,
    SHIFTS_C,
    ThermalForcing,
    seasons_of,
)

CURVE = Briere(1.0, 10, 38)
UNSHIFTED = int(np.flatnonzero(SHIFTS_C == 0)[0])


def rests(days: int, *spans: tuple[int, int]) -> np.ndarray:
    resting = np.zeros(days, bool)
    for first, end in spans:
        resting[first:end] = True
    return resting


class TestRates:
    def test_at_the_reference_a_day_is_a_day(self):
        found = forcing(steady(25, 3))
        assert found.days == 3
        assert found.development == pytest.approx(np.ones((len(SHIFTS_C), 3, 3)))
        assert found.laying == pytest.approx(np.ones((len(SHIFTS_C), 3)))
        assert found.ageing == pytest.approx(np.ones(3)) and not found.loss.any()

    def test_rates_are_averaged_over_the_day(self):
        found = forcing(swing(30, 20, 1))
        expected = (14 * CURVE(30.0) + 10 * CURVE(20.0)) / 24 / CURVE(25.0)
        assert found.development[UNSHIFTED, 0] == pytest.approx(np.full(3, expected))
        assert found.laying[UNSHIFTED, 0] == pytest.approx(expected)
        assert found.ageing[0] == pytest.approx((14 * 2**0.5 + 10 * 2**-0.5) / 24)

    @pytest.mark.parametrize("shift_c", [-5.0, -2.0, 1.0, 2.5, 5.0])
    def test_a_shift_moves_the_curve_but_keeps_the_durations_of_the_reference(self, shift_c):
        found = forcing(np.concatenate([steady(25, 1), steady(20, 1)]))
        expected = [1.0, float(CURVE(20 - shift_c) / CURVE(25 - shift_c))]
        for table in (found.development, found.laying):
            passed = found.between(table, np.array([shift_c]), slice(None)).reshape(2, -1)
            assert passed[:, 0] == pytest.approx(expected, abs=2e-3)  # half shifts: interpolated

    def test_draws_get_the_rows_of_their_shifts_for_the_days_asked(self):
        found = forcing(np.concatenate([steady(t, 1) for t in (25, 20, 15)]))
        rows = found.between(found.development, np.array([1.0, 0.0, 1.0]), slice(1, 3))
        assert rows.shape == (3, 2, 3)
        assert np.array_equal(rows[0], rows[2]) and rows[0, 0, 0] < rows[1, 0, 0]

    def test_beyond_the_last_shift_the_last_one_holds(self):
        found = forcing(steady(20, 2))
        far, last = (found.between(found.laying, np.array([s]), slice(None)) for s in (9.0, 5.0))
        assert far == pytest.approx(last)

    def test_a_shift_that_leaves_nothing_at_the_reference_is_held_back(self):
        found = forcing(steady(25, 2), curve=Briere.through(10, 25, 22, 38))
        assert np.isfinite(found.development).all()

    def test_days_of_stretches_join(self):
        whole, parts = forcing(step(24, 18, 3, 5)), [forcing(steady(24, 3)), forcing(steady(18, 2))]
        for name in ("development", "laying"):
            joined = np.concatenate([getattr(part, name) for part in parts], axis=1)
            assert getattr(whole, name) == pytest.approx(joined)

    def test_days_passed(self):
        resting = rests(4, (1, 3))
        found = forcing(np.concatenate([steady(t, 1) for t in (25, 20, 20, 25)]), resting=resting)
        cool = float(CURVE(20) / CURVE(25))
        assert found.days_passed(0) == pytest.approx([0, 1, 1 + cool, 1 + 2 * cool, 2 + 2 * cool])
        assert found.days_passed(1) == pytest.approx([0, 1, 1, 1, 2])  # larvae wait


class TestLosses:
    def test_heat_is_averaged_over_the_day_and_falls_on_all_brood(self):
        half = np.where(np.arange(24) < 12, 35.0, 20.0)[None]
        assert forcing(half).loss == pytest.approx(np.full((1, 3), 0.05 * 1.0))

    def test_a_rest_takes_its_toll_within_its_first_weeks(self):
        share = forcing(steady(8, 100), resting=rests(100, (10, 90))).rest_share
        assert share.sum() == pytest.approx(1.0)
        assert not share[:10].any() and not share[10 + REST_LOSS_DAYS :].any()

    def test_each_rest_takes_its_own_and_a_short_one_less(self):
        share = forcing(steady(8, 200), resting=rests(200, (10, 60), (100, 106))).rest_share
        assert share[:90].sum() == pytest.approx(1.0)
        assert share[90:].sum() == pytest.approx(6 / REST_LOSS_DAYS)

    def test_with_loss(self):
        calm = forcing(steady(25, 9))
        found = calm.with_loss(4, 0.75)
        assert np.exp(-found.loss[3]) == pytest.approx([0.25] * 3)
        assert np.delete(found.loss, 3, axis=0).max() == 0 and calm.loss.max() == 0
        assert isinstance(replace(found, laying=found.laying * 2), ThermalForcing)


class TestSeasons:
    def test_without_seasons_it_is_always_early_and_nobody_has_to_wake(self):
        found = forcing(steady(25, 400))
        assert np.all(found.season == -NEVER) and np.all(found.since_rest == NEVER)

    def test_the_colonys_own_timer_goes_by_days_since_spring(self):
        season, since_rest = seasons_of(
            "endogenous", rests(300, (100, 200)), np.full(300, 20.0), 120.0
        )
        assert season[[0, 99]].tolist() == [120.5, 219.5]  # at noon
        # Spring is when the rest's last day is over.
        assert season[[199, 200, 250]].tolist() == [-0.5, 0.5, 50.5]
        assert since_rest[[0, 99]].tolist() == [NEVER, NEVER]
        assert since_rest[[199, 200, 299]].tolist() == [-0.5, 0.5, 99.5]

    def test_a_short_rest_begins_no_spring(self):
        short, long = (
            seasons_of("endogenous", rests(200, (100, 100 + n)), np.full(200, 20.0), 50.0)
            for n in (LEAST_REST_DAYS - 1, LEAST_REST_DAYS)
        )
        assert short[0][150] == 200.5 and np.all(short[1] == NEVER)
        assert long[0][150] == long[1][150] == 20.5

    def test_without_a_rest_spring_comes_after_a_year(self):
        season, since_rest = seasons_of("endogenous", rests(400), np.full(400, 20.0), 0.0)
        assert season[[363, 364, 365]].tolist() == [363.5, 364.5, 0.5]
        assert np.all(since_rest == NEVER)

    def test_by_the_cool_the_season_is_as_late_as_it_was_ever_cool(self):
        mean_c = np.concatenate([np.full(50, 20.0), np.full(20, 12.0), np.full(30, 20.0)])
        season, _ = seasons_of("exogenous", rests(100), mean_c, 100.0)
        assert season[49] == pytest.approx(-20)
        assert season[54] == pytest.approx(-16)  # five of ten days
        assert season[[60, 69, 99]] == pytest.approx([-12, -12, -12])  # no second summer

    def test_a_cool_may_is_no_autumn(self):
        mean_c = np.concatenate([np.full(40, 12.0), np.full(100, 20.0)])
        season, _ = seasons_of("exogenous", rests(140), mean_c, 0.0)
        assert np.all(season[: int(AUTUMN_FROM_DAYS)] == -NEVER)
        assert season[-1] == pytest.approx(-20)

    def test_spring_makes_the_cool_of_before_forgotten(self):
        mean_c = np.concatenate([np.full(60, 10.0), np.full(200, 20.0)])
        season, _ = seasons_of("exogenous", rests(260, (20, 60)), mean_c, 150.0)
        assert season[19] == pytest.approx(-10)
        assert season[60] == -NEVER and season[-1] == pytest.approx(-20)
