"""A cool room: eggs die, larvae wait, and a keeper reads what may not finish before the winter."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest
from pages import words_of

import antgrowth as ag
from antgrowth.colony.page import Page
from antgrowth.inference.prior import forcing_of


def ahead_at(warmth_c: float, species: str = "lasius-niger") -> ag.Forecast:
    """A queen of June in a steady room, with her winter."""
    notes = pd.DataFrame({"date": ["2026-06-15", "2026-07-01"], "eggs": [0, 12]})
    room = ag.constant(warmth_c).rest("2026-10-15", "2027-03-01", 8)
    fit = ag.fit(notes, room, species, queen_since="2026-06-15", hemisphere="north", rng=1)
    return fit.forecast(days=240, draws=200, rng=1)


@pytest.fixture(scope="module")
def cool() -> ag.Forecast:
    return ahead_at(18)


def test_most_broods_at_18_degrees_do_not_finish(cool):
    late = 1 - cool.arrival(1).chance_by("2026-10-14")
    assert late > 0.5
    assert 1 - ahead_at(25).arrival(1).chance_by("2026-10-14") < 0.05


@pytest.mark.parametrize("species", ["lasius-niger", "lasius-japonicus"])
def test_larvae_wait_at_20_degrees_and_not_at_25(species):
    """Many larvae of L. japonicus did not pupate at 20 °C, none waited at 25 °C (Kamitani 2015)."""
    ant = ag.load_species(species)
    hours_c = np.repeat([[20.0], [25.0]], 24, axis=1)
    pace = forcing_of(ant, hours_c, np.zeros(2, bool)).days_passed(1)
    assert pace[1] < 0.5
    assert pace[2] - pace[1] == pytest.approx(1)


@pytest.mark.parametrize("species", ["lasius-niger", "lasius-japonicus"])
def test_eggs_disappear_at_15_degrees(species):
    """No egg of L. japonicus hatched at 15 °C, the eggs disappeared (Kamitani 2015, read)."""
    ant, days = ag.load_species(species), 50
    loss = forcing_of(ant, np.full((days, 24), 15.0), np.zeros(days, bool)).loss
    assert np.exp(-loss[:, 0].sum()) < 0.1
    assert not loss[:, 1:].any()
    assert not forcing_of(ant, np.full((5, 24), 15.0), np.ones(5, bool)).loss.any(), "a rest"
    assert not forcing_of(ant, np.full((5, 24), 21.0), np.zeros(5, bool)).loss.any()


def test_argentine_eggs_at_18_degrees():
    """Fewer than 2 % hatched at 18 °C (Abril and others 2010, read)."""
    ant = ag.load_species("linepithema-humile")
    forcing = forcing_of(ant, np.full((200, 24), 18.0), np.zeros(200, bool))
    days = int(np.searchsorted(forcing.days_passed(0), ant.value("development.egg.days")))
    hatched = ant.value("survival.egg") * np.exp(-forcing.loss[:days, 0].sum())
    assert 0.005 < hatched < 0.022


def test_what_a_keeper_reads(cool):
    late = 1 - cool.arrival(1).chance_by("2026-10-14")
    said = f"may not finish before the rest of 2026-10-15, {100 * late:.0f} %"
    assert cool.cool.startswith("COOL for the brood: 18.0 °C on average; from 20 °C down eggs die")
    assert f"{said}. How many larvae wait, and what cold costs them, is not known" in cool.cool
    assert said in cool.summary()
    plan = ag.care_plan(cool)
    assert said in plan.summary()
    told = words_of(Page(plan, workers=10).forecast.content)
    assert said in re.sub(r"\s+", " ", told)
    assert [alert.kind for alert in cool.fit.alerts()].count("too cool") == 1


def test_the_usual_winter_counts_where_none_is_planned():
    """A steady room is taken at its word, but its winter comes all the same."""
    notes = pd.DataFrame({"date": ["2026-06-25", "2026-07-10"], "eggs": [8, 20]})
    fit = ag.fit(
        notes, ag.constant(20), "lasius-niger", queen_since="2026-06-20", hemisphere="north", rng=1
    )  # fmt: skip
    ahead = fit.forecast(days=200, draws=200, rng=1)
    late = 1 - ahead.arrival(1).chance_by("2026-10-14")
    assert 0.05 < late < 0.5
    assert f"before the usual rest of 2026-10-15, {100 * late:.0f} %" in ahead.summary()


@pytest.mark.parametrize(
    ("warmth_c", "told"),
    [
        (16.5, "below 17 °C some of it stands still, or the queen does not lay"),
        (18, "up to 20 °C it takes more than twice as long as usual"),
    ],
)
def test_an_ant_of_whose_brood_in_the_cold_nothing_is_known(warmth_c, told):
    """Larvae of Oecophylla stand still below about 17 °C (Lokkers 1990, read)."""
    ahead = ahead_at(warmth_c, "oecophylla-smaragdina")
    assert f"COOL for the brood: {warmth_c:.1f} °C on average; {told}" in ahead.summary()
    assert told in ahead.fit.alerts().summary()
    assert not ahead_at(23, "oecophylla-smaragdina").cool


def test_nothing_is_said_of_a_warm_room_or_a_rest():
    warm = ahead_at(24)
    assert not warm.cool
    assert "too cool" not in [alert.kind for alert in warm.fit.alerts()]
    notes = pd.DataFrame({"date": ["2025-10-01", "2025-12-10"], "workers": [12, 12]})
    winter = ag.constant(24).rest("2025-11-01", "2026-03-01", 8)
    resting = ag.fit(notes, winter, "lasius-niger", hemisphere="north", rng=1)
    assert not resting.forecast(days=40, draws=50, rng=1).cool
    assert "too cool" not in [alert.kind for alert in resting.alerts()]
