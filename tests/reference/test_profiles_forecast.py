"""Every profile fits a few notes, and forecasts first workers within a plausible time.

Windows are wide on purpose: from the quickest to the slowest that keepers tell of an ant and its
relatives at the temperature of its profile (recalled, no publication).
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag

FOUNDED = "2026-07-04"
WEEKS = {
    "camponotus-pennsylvanicus": (6, 14),
    "formica-fusca": (4, 10),
    "generic-temperate": (4, 12),
    "generic-tropical": (3, 10),
    "lasius-flavus": (5, 11),
    "lasius-japonicus": (5, 10),
    "lasius-niger": (5, 10),
    "messor-barbarus": (4, 10),
    "myrmica-rubra": (6, 15),
    "oecophylla-smaragdina": (6, 14),
    "pheidole-pallidula": (3, 8),
    "solenopsis-invicta": (3, 6),
    "temnothorax-rugatulus": (6, 14),
    "tetramorium-caespitum": (4, 9),
}
"""Weeks from the flight to the first worker, for queens who found alone."""

DEPENDENT = {"linepithema-humile", "monomorium-pharaonis"}


def test_all_are_tried():
    assert set(WEEKS) | DEPENDENT == set(ag.list_species()["name"])


@pytest.mark.parametrize("name", WEEKS)
def test_first_workers(name):
    ant = ag.load_species(name)
    usual = ag.constant(ant.value("development.reference_c"))
    laying = 14 - ant.value("laying.delay_days")
    eggs = round(0.6 * laying * ant.value("laying.founding_rate"))
    start = pd.Timestamp(FOUNDED)
    notes = pd.DataFrame({"date": [start + pd.Timedelta(days=14)], "eggs": [eggs]})
    fit = ag.fit(notes, usual, ant, queen_since=FOUNDED, rng=1)
    assert fit.converged
    ahead = fit.forecast(days=200, draws=200, rng=1)
    first = (ahead.arrival(workers=1).median - start) / pd.Timedelta("7D")
    assert WEEKS[name][0] <= first <= WEEKS[name][1]
    # The lone queen's brood then grows into a colony, and its forecast stays within reason. When
    # the season is over nobody is reared, and the oldest workers of a small one die.
    frame = ahead.frame()
    workers = frame[frame["stage"] == "workers"]
    assert 2 <= workers["q50"].max() and workers["q95"].max() < 50_000
    assert np.isfinite(workers["mean"]).all()


@pytest.mark.parametrize("name", sorted(DEPENDENT))
def test_no_forecast_of_queens_who_found_with_workers(name):
    ant = ag.load_species(name)
    usual = ag.constant(ant.value("development.reference_c"))
    notes = pd.DataFrame(
        {"date": ["2026-07-04", "2026-07-25"], "workers": [6, 7], "brood": [9, 12]}
    )
    fit = ag.fit(notes, usual, ant, queens=3, rng=1)
    assert fit.converged
    with pytest.raises(
        ag.AntgrowthError, match="no forecast is made. Its queens found with workers"
    ):
        fit.forecast(days=200)
    with pytest.raises(ag.AntgrowthError, match="no forecast is made"):
        ag.compare_regimes(fit, {"24": 24, "26": 26}, days=20)
