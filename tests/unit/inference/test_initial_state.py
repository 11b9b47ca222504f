"""What stands in the nest after the last note: numbers from the notes, ages from growth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_ants import steady, swing

from antgrowth.inference.initial_state import SHIFT_GRAIN_C, Present
from antgrowth.inference.laplace import Model, estimate
from antgrowth.inference.likelihood import Observations
from antgrowth.inference.prior import Prior, climate_of
from antgrowth.model.covariance import Cells
from antgrowth.model.simulation import Packets, simulate
from antgrowth.species.profile import load_species

PRIOR = Prior.of(load_species("lasius-niger"))
DRAWS = 800


def noted(*notes: tuple[int, int, float, float]) -> Observations:
    """Cells of (evening, stage, low, high)."""
    days, stages, low, high = zip(*notes, strict=True)
    cells = Cells(np.array(days), np.eye(4)[list(stages)])
    return Observations(cells, np.array(low, float), np.array(high, float), np.ones(len(days)))


def stand_after(observations: Observations, hours: np.ndarray, last: int, seed: int = 1):
    """Packets that stand on the last evening, the laws of their colonies and a longer climate."""
    resting = np.zeros(len(hours), bool)
    model = Model(PRIOR, climate_of(PRIOR.species, hours[:last], resting[:last]), observations)
    best = estimate(model)
    rng = np.random.default_rng(seed)
    present = Present.of(model, best, best.draw(DRAWS, rng))
    return present.packets(rng), present.laws, climate_of(PRIOR.species, hours, resting)


def totals(packets: Packets) -> np.ndarray:
    """Ants by colony and stage."""
    held = np.zeros((DRAWS, 4), dtype=int)
    np.add.at(held, (packets.draw, packets.stage), packets.number)
    return held


HOURS = swing(28, 20, 140)
LAST = 80
NOTES = noted(
    (30, 0, 14, 14), (30, 1, 6, 6), (45, 2, 7, 7), (66, 3, 0, 0), (70, 3, 1, np.inf),
    (80, 0, 12, 12), (80, 1, 6, 6), (80, 2, 4, 4), (80, 3, 9, 9),
)  # fmt: skip


@pytest.fixture(scope="module")
def standing() -> tuple[Packets, object, object]:
    return stand_after(NOTES, HOURS, LAST)


class TestNumbers:
    def test_they_follow_the_notes_of_the_last_evening(self, standing):
        held = totals(standing[0])
        # Noted 12, 6, 4, 9; one in twelve eggs and larvae is overlooked.
        assert held.mean(axis=0) == pytest.approx([13.0, 6.5, 4, 9], abs=1.2)
        assert np.all(held.std(axis=0) < 2.5) and np.all(held.std(axis=0) > 0.2)

    def test_whole_and_never_negative(self, standing):
        packets = standing[0]
        assert packets.number.min() >= 1 and np.issubdtype(packets.number.dtype, np.integer)
        assert set(packets.stage.tolist()) <= {0, 1, 2, 3}

    def test_without_notes_of_the_day_they_scatter_as_growth_does(self):
        held = totals(stand_after(noted((20, 0, 10, 10)), HOURS, LAST)[0])
        assert held[:, 3].std() > 2.0
        assert held[:, 0].mean() > 0

    def test_nothing_can_be_below_zero_where_none_were_seen(self):
        held = totals(stand_after(noted((20, 0, 0, 0), (40, 0, 0, 0)), HOURS, 40)[0])
        assert held.min() == 0 and np.median(held[:, 0]) <= 1


class TestAges:
    def test_all_were_there_on_the_last_evening(self, standing):
        packets = standing[0]
        assert np.all(packets.seen == LAST)
        assert packets.entered.min() >= 0

    def test_most_entered_before_and_will_be_done_after(self, standing):
        packets, laws, climate = standing
        clocks = climate.clocks(laws.shift_c)
        need = laws.needs(np.ones(1))[:, ::-1, 0]
        for stage in range(3):
            some = packets.where(packets.stage == stage)
            clock = clocks.stages[stage]
            done = clock.when(
                clock.at(some.entered, some.draw)
                + some.pace * need[some.draw, some.first.astype(int), stage],
                some.draw,
            )
            assert np.average(some.entered <= LAST, weights=some.number) > 0.995
            assert np.average(done > LAST, weights=some.number) > 0.99

    def test_first_workers_only_from_the_time_without_workers(self, standing):
        packets = standing[0]
        eggs, workers = packets.stage == 0, packets.stage == 3
        assert np.average(packets.first[eggs], weights=packets.number[eggs]) < 0.2
        assert np.average(packets.first[workers], weights=packets.number[workers]) > 0.9

    def test_paces_are_spread(self, standing):
        packets = standing[0]
        brood = packets.stage < 3
        assert np.average(packets.pace[brood], weights=packets.number[brood]) == pytest.approx(
            1, abs=0.06
        )
        assert len(np.unique(packets.pace[brood])) > 2


class TestChance:
    def test_centre_and_scatter_stay_while_numbers_are_drawn_anew(self):
        model = Model(PRIOR, climate_of(PRIOR.species, HOURS[:LAST], np.zeros(LAST, bool)), NOTES)
        best = estimate(model)
        x = best.draw(DRAWS, np.random.default_rng(1))
        present = Present.of(model, best, x)
        assert present.centre.shape == (DRAWS, 4) and present.day == LAST
        numbers = [totals(present.packets(np.random.default_rng(s))) for s in range(30)]
        scatter = np.std(numbers, axis=0).mean(axis=0)
        # Rounding to whole ants adds a twelfth to the variance.
        assert scatter == pytest.approx(np.sqrt(present.sd**2 + 1 / 12), rel=0.1)
        assert np.mean(numbers, axis=0) == pytest.approx(present.centre, abs=2.0)
        assert present.mixing @ present.mixing.T == pytest.approx(
            (present.mixing @ present.mixing.T).T
        )
        assert np.diag(present.mixing @ present.mixing.T) == pytest.approx(np.ones(4), abs=1e-3)
        shift = present.laws.shift_c / SHIFT_GRAIN_C
        assert shift == pytest.approx(np.rint(shift), abs=1e-6)


class TestGrowingOn:
    def test_a_forecast_goes_on_without_a_jump(self, standing):
        packets, laws, climate = standing
        rng = np.random.default_rng(2)
        paths = simulate(laws, climate, rng, start_day=LAST, standing=packets)
        assert np.array_equal(paths[:, 0], totals(packets))
        assert paths.min() >= 0
        mean = paths.mean(axis=0)
        assert np.abs(np.diff(mean[:4], axis=0)).max() < 2.0

    def test_brood_that_came_far_too_early_does_not_stay_for_ever(self):
        # Nine pupae when one was hardly to be expected: they borrow their ages from other draws.
        last = 29
        packets, laws, climate = stand_after(noted((last, 2, 9, 9)), steady(25, 120), last)
        assert np.median(totals(packets)[:, 2]) >= 3
        childless = replace(climate, laying=0 * climate.laying)
        rng = np.random.default_rng(3)
        paths = simulate(laws, childless, rng, start_day=last, standing=packets)
        assert paths.min() >= 0 and np.all(np.diff(paths.sum(axis=2), axis=1) <= 0)
        assert not paths[:, -1, :3].any() and paths[:, -1, 3].mean() > 5

    def test_the_same_chance_gives_the_same_nest(self):
        once, again = (stand_after(noted((20, 0, 9, 9)), HOURS, 20, seed=5)[0] for _ in range(2))
        for name, value in vars(once).items():
            assert np.array_equal(value, getattr(again, name)), name
