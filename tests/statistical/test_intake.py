"""Intervals of the intake factor hold the truth as often as they say."""

from __future__ import annotations

import numpy as np
import pandas as pd

import antgrowth as ag
from antgrowth.food.feeding import Feeding, PastNeeds
from antgrowth.food.intake import APPETITE, APPETITE_SPREAD, INTAKE_SPREAD

COLONIES, DAYS, DRAWS = 120, 60, 300
SUGAR = 0.2
FIRST = pd.Timestamp("2026-01-01")


def portion(eaten_mg: float, offered: float, dries: float, rng: np.random.Generator):
    """Masses as weighed: the ants eat at one moment of the drying, then it goes on.

    The sugar stays; water dries up as that of the control does but for a fifth, until it is gone.
    """
    lost = dries * offered
    own, early = lost * np.exp(0.2 * rng.standard_normal() - 0.02), rng.random()
    sugar = SUGAR * offered
    water = max(offered - sugar - early * own, 0.0)
    share = max(1.0 - eaten_mg * SUGAR / sugar, 0.0)
    left = sugar * share + max(water * share - (1.0 - early) * own, 0.0)
    weighed = [max(round(mass + rng.standard_normal()), 0) for mass in
               (offered, left, offered, offered - lost)]  # fmt: skip
    return weighed[0], weighed[1], weighed[2] - weighed[3]


def one_colony(rng: np.random.Generator) -> float:
    """How many of its standard deviations the truth lies off what was learned."""
    strays = 0.35 * rng.standard_normal((DRAWS, 1))
    needed = np.linspace(1.0, 1.6, DAYS) * np.exp(strays)
    truth = rng.integers(DRAWS)  # the budget of one draw is the true one
    own = INTAKE_SPREAD * rng.standard_normal()
    scatter = APPETITE * np.exp(APPETITE_SPREAD * rng.standard_normal())
    size, dries = rng.choice([1.5, 4.0]), rng.uniform(0.1, 0.4)
    rows = []
    for day in range(0, DAYS, 2):
        need = needed[truth, day : day + 2].sum() / SUGAR
        wants = need * np.exp(own + scatter * rng.standard_normal())
        offered = max(round(size * need), 4)
        date = FIRST + pd.Timedelta(days=day)
        rows.append((date, "20 % sugar water", *portion(wants, offered, dries, rng)))
    columns = ["date", "food", "offered_mg", "left_mg", "control_loss_mg"]
    log = ag.read_feeds(pd.DataFrame(rows, columns=columns))
    past = PastNeeds(FIRST, {"sugar": needed, "protein": needed}, np.full(DAYS, ""))
    found = Feeding.of(log, past, {"20 % sugar water": SUGAR}, 1.0, rng).intakes["sugar"]
    factor = own + strays[truth, 0] - np.median(strays)
    return float((factor - found.centre) / found.sd)


def test_ninety_percent_intervals_hold_the_truth():
    off = np.array([one_colony(np.random.default_rng(seed)) for seed in range(COLONIES)])
    held = float((np.abs(off) < 1.645).mean())
    print(f"\n{COLONIES} colonies: {held:.1%} of 90 % intervals hold the truth; it lies "
          f"{off.mean():+.2f} sd off, spread {off.std():.2f}")  # fmt: skip
    # Four standard errors of a share of 0.9 are 11 percent.
    assert 0.79 < held
    assert abs(off.mean()) < 0.5
    assert 0.75 < off.std() < 1.3
