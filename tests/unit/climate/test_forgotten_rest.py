"""A rest that nobody noted is asked for, with the days on which the record shows one."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from invented_species import garden_ant

import antgrowth as ag
from antgrowth.climate.forgotten_rest import forgotten_rests

ANT = garden_ant()
SINCE, UNTIL = np.datetime64("2025-07-19"), np.datetime64("2026-05-24")


def winter(coldest_c: float) -> ag.Temperature:
    """A cold room from the middle of November to the end of February, with one mild day."""
    cold = ag.constant(coldest_c).then("2026-01-10", 17.0).then("2026-01-11", coldest_c)
    return ag.constant(24.0).then("2025-11-15", cold).then("2026-03-01", 24.0)


def missed(lived: ag.Temperature, since=SINCE, until=UNTIL, species=ANT, hemisphere="north"):
    return forgotten_rests(species, hemisphere, lived, since, until)


def test_a_winter_of_the_record_is_proposed_with_its_dates():
    (rest,) = missed(winter(9.0))
    begin, end = rest.proposed
    assert abs(begin - np.datetime64("2025-11-15")) <= np.timedelta64(3, "D")
    assert abs(end - np.datetime64("2026-03-01")) <= np.timedelta64(3, "D")
    assert 8.5 < rest.temperature_c < 10.5
    assert f"the temperatures show one from {begin} to {end}, at 9.1 °C" in rest.found()
    assert f'temperature.rest("{begin}", "{end}")' in rest.remedy()


def test_a_warm_winter_is_told_with_the_usual_season():
    (rest,) = missed(ag.constant(24.0))
    assert rest.seen is None and rest.proposed == rest.season
    assert "the temperatures given show none either" in rest.found()


def test_a_rest_that_is_noted_is_not_asked_for():
    assert missed(winter(9.0).rest("2025-11-15", "2026-03-01")) == ()


@pytest.mark.parametrize(
    ("since", "until"), [("2026-02-01", "2026-08-01"), ("2025-07-19", "2025-11-20")]
)
def test_a_season_hardly_begun_or_over_before_the_notes_is_none(since, until):
    assert missed(ag.constant(24.0), np.datetime64(since), np.datetime64(until)) == ()


def test_an_ant_without_winter_needs_none():
    assert missed(ag.constant(26.0), species=ag.load_species("generic-tropical")) == ()


def test_on_the_other_side_of_the_world_the_season_is_that_of_winter_there():
    (rest,) = missed(
        ag.constant(24.0), np.datetime64("2026-01-10"), np.datetime64("2026-11-20"), ANT, "south"
    )
    assert pd.Timestamp(rest.season[0]).month == 4


def test_fit_and_alerts_say_so_before_anything_else():
    """The demo colony lost nothing: its winter was not noted."""
    colony = ag.load_colony(ag.demo_colony("garden-ant-first-year"))
    record = ag.read_temperature(ag.demo_colony("garden-ant-first-year") / "temperature.csv")
    fit = ag.fit(
        colony.counts, record, colony.species, queen_since=colony.queen_since, hemisphere="north",
        rng=1,
    )  # fmt: skip
    first, *others = fit.alerts()
    assert first.kind == "rest not noted" and "2025-11-1" in first.sentence()
    winter = [alert for alert in others if alert.date < pd.Timestamp("2026-05-01")]
    assert not any(alert.kind in ("brood lost", "less brood") for alert in winter)
    assert fit.summary().startswith("REST NOT NOTED: ")
    assert "REST NOT NOTED" in repr(fit)


def test_the_check_of_a_folder_says_so(tmp_path):
    home = ag.demo_colony("garden-ant-first-year")
    for name in ("counts.csv", "temperature.csv"):
        (tmp_path / name).write_bytes((home / name).read_bytes())
    text = (home / "colony.toml").read_text().partition("[rest]")[0]
    (tmp_path / "colony.toml").write_text(text)
    assert "none is noted from 2025-10-15 to 2026-03-01" in ag.load_colony(tmp_path).summary()
