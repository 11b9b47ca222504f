"""Several queens in one tube: what the law does with them, and what is known of their fate."""

from __future__ import annotations

import pandas as pd
import pytest
from pages import words_of

import antgrowth as ag
from antgrowth.colony.page import Page


def ahead_of(species: str, queens: int) -> ag.Forecast:
    notes = pd.DataFrame({"date": ["2026-07-20"], "eggs": [9]})
    fit = ag.fit(
        notes, ag.constant(25), species, queen_since="2026-07-04", queens=queens, rng=1
    )  # fmt: skip
    return fit.forecast(days=100, draws=100, rng=1)


@pytest.mark.parametrize(
    ("species", "told"),
    [
        ("lasius-niger", "once there are workers all but one die"),
        ("oecophylla-smaragdina", "3.2 times the workers of one after 68 days"),
        ("messor-barbarus", "is not in this profile: of many ants all but one die"),
    ],
)
def test_what_a_keeper_reads(species, told):
    ahead = ahead_of(species, 3)
    said = ahead.summary()
    assert "3 at the start: the law lets them lay 1.9 times as much as one" in said
    assert told in said
    assert told in words_of(Page(ag.care_plan(ahead)).notes.content)


def test_one_queen_needs_no_words():
    ahead = ahead_of("lasius-niger", 1)
    assert "at the start" not in ahead.summary()
    assert "Queens: " not in words_of(Page(ag.care_plan(ahead)).notes.content)


def test_the_gain_is_held_to_what_was_published():
    """Offenberg and others (2012, read): 3.2 times the workers; the law has less, never more."""
    one, three = (ahead_of("oecophylla-smaragdina", n).paths[:, -1, 3].mean() for n in (1, 3))
    assert 1.05 < three / one < 3.2
