"""What temperatures do to a colony, against one ant at a time and against limits that are known.

`simulators.one_ant` follows every egg by the hour and shares no code with the package.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from invented_ants import forcing, laws
from simulators import one_ant
from simulators.one_ant import TYPICAL

import antgrowth as ag
from antgrowth.errors import TemperatureError
from antgrowth.inference.prior import Prior, forcing_of
from antgrowth.model.common_random_numbers import CommonChance
from antgrowth.model.mean_field import grow
from antgrowth.model.simulation import simulate

COLONIES = 250


def sine_days(mean_c: float, amplitude_c: float, days: int) -> np.ndarray:
    """Hourly means of a sine day, warmest in the afternoon."""
    edges = np.cos(2 * np.pi * (np.arange(25) - 15) / 24 + np.pi / 2)
    wave = -np.diff(edges) * 24 / (2 * np.pi)
    return np.tile(mean_c + amplitude_c * wave, (days, 1))


def median_day(paths: np.ndarray, workers: int = 30) -> float:
    """Day on which half of the colonies have as many workers, from paths (colonies, days, 4)."""
    there = paths[..., 3] >= workers
    assert there.any(axis=1).mean() > 0.9
    return float(np.median(np.where(there.any(axis=1), there.argmax(axis=1), np.inf)))


@pytest.mark.parametrize(
    ("mean_c", "amplitude_c", "days", "hastens"),
    [(17.0, 6.0, 300, True), (30.5, 5.0, 220, False)],
    ids=["cool", "warm"],
)
def test_swings_hasten_in_the_cool_and_delay_in_the_warm(mean_c, amplitude_c, days, hastens):
    ours, theirs = [], []
    for swing_c in (0.0, amplitude_c):
        hours_c = sine_days(mean_c, swing_c, days)
        rng = np.random.default_rng(1)
        theirs.append(median_day(one_ant.simulate(TYPICAL, hours_c, COLONIES, rng)))
        paths = simulate(laws(1000), forcing(hours_c), CommonChance((1,)))[:, 1:]
        ours.append(median_day(paths))
    print(f"\n{mean_c:g} ± {amplitude_c:g} °C: one ant {theirs}, package {ours}")
    assert (theirs[1] < theirs[0]) is hastens and (ours[1] < ours[0]) is hastens
    assert abs(theirs[1] - theirs[0]) > 3  # it matters
    for one, other in zip(ours, theirs, strict=True):
        # In the cool a stage takes so long that its steps of progress scatter it by themselves,
        # which costs the package some days of two hundred.
        assert one == pytest.approx(other, abs=max(2.0, 0.02 * other))


class TestOecophylla:
    ANT = ag.load_species("oecophylla-smaragdina")
    NOTES = pd.DataFrame({"date": ["2026-03-20", "2026-04-15"], "eggs": [12, 9],
                          "larvae": ["", 9]})  # fmt: skip

    @pytest.fixture(scope="class")
    @classmethod
    def fit(cls) -> ag.Fit:
        return ag.fit(cls.NOTES, ag.constant(23), cls.ANT, queen_since="2026-03-01", rng=1)

    def test_at_16_degrees_larvae_never_finish(self):
        days = 500
        prior = Prior.of(self.ANT)
        laws = prior.laws(np.zeros((1, len(prior))))
        growth = grow(laws, forcing_of(self.ANT, np.full((days, 24), 16.0), np.zeros(days, bool)))
        assert growth.counts[0, :, 2:].max() < 1e-9
        found = ag.growth_rate(self.ANT, 16.0)
        assert found.frame()["chance_grows"][0] < 0.5
        assert found.sentence().endswith("does not grow at 16 °C")
        # The loop: eggs laid at 22 °C hatch, and in 16 °C no larva becomes a pupa.
        rng = np.random.default_rng(2)
        hours_c = np.concatenate([np.full((20, 24), 22.0), np.full((300, 24), 16.0)])
        ours = {"larva_lower_c": 17.0, "egg_lower_c": 10.0, "laying_lower_c": 15.0}
        paths = one_ant.simulate(TYPICAL | ours, hours_c, 20, rng, dt=0.5)
        assert paths[:, 60:, 1].mean() > 3 and paths[..., 2:].max() == 0

    def test_31_degrees_in_a_founding_tube_are_refused(self, fit):
        assert ag.constant(31).audit(self.ANT, "founding", days=10).margin_c == -5.0
        with pytest.raises(TemperatureError, match="Refused, since it can kill the colony"):
            ag.best_regime(fit, ceiling_c=31)
        tried = ag.compare_regimes(fit, {"23": 23, "31": 31}, workers=5, days=150, draws=100, rng=1)
        assert tried.phase == "founding"
        assert tried.frame().set_index("regime")["gained_q50"]["31"] > 0  # it looks faster
        assert tried.recommended == "23" and "31" in tried.warnings

    def test_the_best_regime(self, fit):
        found = ag.best_regime(fit, workers=10, days=300, draws=150, rng=1)
        low, high = found.range_c
        assert (low, high) == (17.0, 26.0)
        assert low < found.night_c <= found.day_c < high
        assert found.day_c <= found.ceiling_c - 2.0
        assert found.practice_c == 23.0 and "23 °C is usual" in found.summary()
        assert not found.rests


def test_a_plan_without_winter_that_looks_faster_is_not_recommended():
    notes = pd.DataFrame({"date": ["2026-08-20", "2026-09-15"], "eggs": [12, 4],
                          "larvae": ["", 9]})  # fmt: skip
    fit = ag.fit(notes, ag.constant(24), "lasius-japonicus", queen_since="2026-08-01", rng=1)
    tried = ag.compare_regimes(
        fit,
        {
            "with its winter": ag.constant(25).rest("2026-11-01", "2027-02-15", temperature=8),
            "warm through the winter": ag.constant(25),
        },
        workers=30,
        draws=200,
        keep_rest=False,
        rng=1,
    )
    table = tried.frame().set_index("regime")
    # Its season ends when autumn cools: kept warm it goes on, unlike ants on a timer of their own.
    assert table.loc["warm through the winter", "gained_q50"] > 30
    assert table["recommended"].tolist() == [True, False]
    assert "looks faster, but is not recommended: no rest from 2026-10-15" in tried.sentence()
    assert "which Lasius japonicus needs" in tried.sentence()
    best = ag.best_regime(fit, workers=30, draws=60, rng=1)
    # constant(24) has no winter, and gets one as all the others do.
    for name, ahead in best.comparison.forecasts.items():
        assert ahead.temperature.resting("2026-10-15", 137).all(), name
