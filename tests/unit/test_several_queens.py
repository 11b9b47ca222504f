"""Several queens in one tube: what the law does with them, and what is known of their fate."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from pages import words_of

import antgrowth as ag
from antgrowth.colony.page import Page
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.prior import Prior
from antgrowth.model.mean_field import grow


def ahead_of(species: str, queens: int) -> ag.Forecast:
    notes = pd.DataFrame({"date": ["2026-07-20"], "eggs": [9]})
    fit = ag.fit(
        notes, ag.constant(25), species, queen_since="2026-07-04", queens=queens, rng=1
    )  # fmt: skip
    return fit.forecast(days=100, draws=100, rng=1)


def self_reared(queens: int, temperature_c: float) -> np.ndarray:
    """Workers of the middle of the profile's laws, from the evening of founding to day 120."""
    ant, founded = ag.load_species("oecophylla-smaragdina"), pd.Timestamp("2026-07-04")
    history = ColonyHistory(ant, ag.constant(temperature_c), founded, True, None, queens)
    prior = Prior.of(ant)
    return grow(prior.laws(np.zeros((1, len(prior)))), history.forcing(120)).counts[0, :, 3]


@pytest.mark.parametrize(
    ("species", "lay", "told"),
    [
        ("lasius-niger", "1.9", "rear 1.9 times as much brood by themselves, both assumed."),
        ("lasius-niger", "1.9", "once there are workers all but one die"),
        ("oecophylla-smaragdina", "3.7", "rear 3.2 times as much brood by themselves. Pub"),
        ("oecophylla-smaragdina", "3.7", "3.2 times the workers of one after 68 days"),
        (
            "messor-barbarus",
            "1.9",
            "assumed. What becomes of several queens in one tube is not in this profile: of many "
            "ants all but one die. Note a lost queen in changes.csv",
        ),
    ],
)
def test_what_a_keeper_reads(species, lay, told):
    ahead = ahead_of(species, 3)
    said = ahead.summary()
    assert f"3 at the start: the law lets them lay {lay} times as much as one, and rear " in said
    assert told in said
    assert told in words_of(Page(ag.care_plan(ahead)).notes.content)


def test_one_queen_needs_no_words():
    ahead = ahead_of("lasius-niger", 1)
    assert "at the start" not in ahead.summary()
    assert "Queens: " not in words_of(Page(ag.care_plan(ahead)).notes.content)


class TestGainOfWeaverQueens:
    """Offenberg and others (2012, read): 2 to 5 queens of Oecophylla smaragdina had 3.2 times the
    workers of one after 68 days, the first of them 8 % earlier; "three" is assumed. A lone queen's
    first worker came after 54 days, as by the profile at 24 °C."""

    @pytest.fixture(scope="class", params=[24, 28])
    @classmethod
    def workers(cls, request) -> np.ndarray:
        """Of one and of three queens, as expected, shape (2, days + 1)."""
        return np.array([self_reared(queens, request.param) for queens in (1, 3)])

    def test_workers_at_day_68(self, workers):
        one, three = workers[:, 68]
        assert 2.9 < three / one < 3.7

    def test_first_worker(self, workers):
        one, three = (np.interp(0.7, path, np.arange(len(path))) for path in workers)
        assert 0.03 < 1 - three / one < 0.08
