"""Each watch warns of its own trouble, and of nothing in a healthy log."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
from invented_species import garden_ant

import antgrowth as ag
from antgrowth.evaluation.alerts import Alerts
from antgrowth.evaluation.diagnostics import strains
from antgrowth.evaluation.innovations import Innovations

ANT = garden_ant()
QUEEN = "2026-03-01"

# Invented: about what the profile expects of a garden ant at 25 °C, woken early in the year.
HEALTHY = pd.DataFrame(
    {
        "date": pd.date_range("2026-03-10", periods=12, freq="7D").strftime("%Y-%m-%d"),
        "eggs": ["22", "51", "78", "58", "33", "38", "31", "45", "58", "84", "97", "90"],
        "larvae": ["0", "0", "first", "14", "13", "9", "12", "9", "5", "6", "11", "15"],
        "pupae": ["0", "0", "0", "2", "10", "15", "16", "11", "10", "10", "12", "16"],
        "workers": ["0", "0", "0", "0", "0", "0", "first", "7", "13", "15", "17", "19"],
    }
)


@cache
def alerts_of(cells: tuple = (), temperature_c: float = 25.0) -> Alerts:
    return fit_of(cells, temperature_c).alerts()


def fit_of(cells: tuple = (), temperature_c: float = 25.0, **options) -> ag.Fit:
    log = HEALTHY.copy()
    for row, stage, text in cells:
        log.loc[row, stage] = text
    warmth = ag.constant(temperature_c)
    return ag.fit(log, warmth, ANT, queen_since=QUEEN, rng=1, **options)


def kinds(found) -> list[str]:
    return [alert.kind for alert in found]


def test_nothing_stands_out_in_a_healthy_log():
    found = alerts_of()
    assert not len(found) and found.frame().empty
    assert "nothing stands out up to 2026-05-26" in found.summary()
    assert repr(found) == "Alerts('counts': nothing stands out)"


def test_brood_that_goes_missing():
    last = len(HEALTHY) - 1
    lost = tuple((row, stage, "1") for row in (last - 1, last) for stage in ("eggs", "larvae"))
    found = alerts_of(lost + ((last, "pupae", "1"),))
    alert = next(a for a in found if a.kind in ("brood lost", "less brood"))
    assert alert.stage == "brood"
    assert alert.date >= pd.Timestamp("2026-05-10")
    assert alert.expected[0] > 3  # more than the three that were left
    assert "mould" in alert.possible and alert.sentence().startswith(f"{alert.date:%Y-%m-%d}, ")
    assert alert.found in str(found) and "Possible" not in alert.found
    assert found.frame()["kind"].tolist() == kinds(found)


def test_laying_that_stalls():
    last = len(HEALTHY) - 1
    found = alerts_of(((last - 1, "eggs", "0"), (last, "eggs", "0")))
    assert "laying stalled" in kinds(found)
    alert = next(a for a in found if a.kind == "laying stalled")
    assert (alert.stage, alert.seen) == ("eggs", "0") and alert.expected[0] > 1


def test_a_queen_without_eggs():
    dates = ["2026-03-20", "2026-04-10", "2026-05-20"]
    log = pd.DataFrame({"date": dates, "eggs": "0"})
    late = ag.fit(log, ag.constant(25.0), ANT, queen_since=QUEEN, rng=1).alerts()
    assert "no eggs yet" in kinds(late)
    assert "80 days alone and no egg" in str(late)
    soon = ag.fit(log.head(1), ag.constant(25.0), ANT, queen_since="2026-03-16", rng=1)
    assert "no eggs yet" not in kinds(soon.alerts())


def test_larvae_overdue():
    log = HEALTHY[["date", "eggs", "larvae"]].assign(pupae="0", larvae="9", eggs="5")
    log.loc[0, "larvae"] = "0"
    found = ag.fit(log, ag.constant(25.0), ANT, queen_since=QUEEN, rng=1).alerts()
    alert = next(a for a in found if a.kind == "larvae stand still")
    assert "no pupa 70 days after the first larvae" in alert.found and "protein" in alert.possible


def test_larvae_in_the_cold():
    log = HEALTHY.head(8)
    cold = ag.constant(25.0).then("2026-04-10", ag.constant(11.0))
    alert = next(
        a
        for a in ag.fit(log, cold, ANT, queen_since=QUEEN, rng=1).alerts()
        if a.kind == "larvae stand still"
    )
    assert "below 12 °C they do not develop" in alert.found
    resting = cold.rest("2026-04-10", "2026-06-10", temperature=11.0)
    rested = ag.fit(log, resting, ANT, queen_since=QUEEN, rng=1).alerts()
    assert "larvae stand still" not in kinds(rested)


def test_larvae_that_wait_for_spring():
    # At 19 °C the first larvae come when the season of a late queen is over: they wait.
    dates = pd.date_range("2025-10-20", periods=12, freq="9D").strftime("%Y-%m-%d")
    log = pd.DataFrame({"date": dates, "larvae": ["first"] + ["7"] * 11, "pupae": "0"})
    log.loc[len(log)] = {"date": "2025-09-15", "larvae": "0", "pupae": "0"}
    cool = ag.constant(19.0)
    late = ag.fit(log, cool, ANT, queen_since="2025-08-28", rng=1)
    assert "larvae stand still" not in kinds(late.alerts())
    # The same larvae in early summer are overdue.
    log["date"] = (pd.to_datetime(log["date"]) - pd.Timedelta(days=150)).dt.strftime("%Y-%m-%d")
    early = ag.fit(log, cool, ANT, queen_since="2025-03-31", rng=1)
    assert "larvae stand still" in kinds(early.alerts())


@pytest.mark.parametrize(("since", "warned"), [("2026-04-05", True), ("2026-06-20", False)])
def test_cold_is_no_fault_once_the_season_is_over(since, warned):
    days = pd.Timestamp(since) - pd.Timestamp(QUEEN)
    log = HEALTHY.head(8).assign(
        date=lambda t: (pd.to_datetime(t["date"]) + days).dt.strftime("%Y-%m-%d")
    )
    cooled = pd.Timestamp(since) + pd.Timedelta(days=100)
    log.loc[8] = {"date": f"{cooled + pd.Timedelta(days=20):%Y-%m-%d}", "larvae": "15"}
    cold = ag.constant(25.0).then(f"{cooled:%Y-%m-%d}", ag.constant(9.0))
    found = ag.fit(log, cold, ANT, queen_since=since, rng=1).alerts()
    assert ("larvae stand still" in kinds(found)) is warned


def first_worker(
    species: str | ag.Species, warmth: float, since: str, *rows: tuple[str, str, str]
) -> ag.Fit:
    log = pd.DataFrame(rows, columns=["date", "eggs", "workers"])
    return ag.fit(log, ag.constant(warmth), species, queen_since=since, rng=1)


def soon(first: str, species) -> ag.Fit:
    """Four eggs on day 2, ten on day 7, and a first worker."""
    return first_worker(species, 24.0, "2026-07-04", ("2026-07-06", "4", ""),
                        ("2026-07-11", "10", ""), (first, "", "first"))  # fmt: skip


@pytest.mark.parametrize("first", ["2026-08-05", "2026-08-03"])  # on day 32 and 30
def test_a_first_worker_sooner_than_usual_is_believed(first):
    fit = soon(first, ANT)
    assert fit.converged and fit.estimate.dispersion < 2.5 and not len(fit.alerts())
    # The worker who was seen is there, and the forecast begins with her.
    assert fit.forecast(days=5, draws=200, rng=1).paths[:, 0, 3].mean() > 0.8


@pytest.mark.parametrize("first", ["2026-08-05", "2026-08-03"])
def test_nothing_is_made_of_her_but_what_she_is(first):
    # The real ant is known too well for it: then notes and profile are told to disagree.
    fit = soon(first, "lasius-niger")
    assert fit.converged and fit.estimate.dispersion < 2.5
    assert set(kinds(fit.alerts())) <= {"notes against the model"}


@pytest.mark.parametrize("since", ["2026-07-04", "2026-07-12", "2026-07-20", "2026-07-25"])
def test_eight_eggs_and_a_worker_a_month_later(since):
    fit = first_worker("formica-fusca", 25.0, since, ("2026-07-29", "8", ""),
                       ("2026-08-27", "", "first"))  # fmt: skip
    assert fit.converged and fit.estimate.dispersion < 2.5 and not len(fit.alerts())
    assert fit.forecast(days=5, draws=200, rng=1).paths[:, 0, 3].mean() > 0.8


def test_a_worker_that_no_colony_could_have():
    fit = first_worker(ANT, 24.0, "2026-07-04", ("2026-07-06", "4", ""),
                       ("2026-07-12", "", "2"))  # fmt: skip
    alert = next(a for a in fit.alerts() if a.kind == "notes against the model")
    assert alert.found.startswith(
        "2 workers noted on 2026-07-12, when the profile of Formica inventa lets hardly any be "
        "expected"
    )
    assert "wrong date" in alert.possible


def test_heat():
    limit = ANT.value("limits.heat_limit_c")
    hot = ag.constant(25.0).then("2026-05-10", ag.constant(limit + 3.0))
    hot = hot.then("2026-05-12", ag.constant(25.0))
    found = ag.fit(HEALTHY, hot, ANT, queen_since=QUEEN, rng=1).alerts()
    alert = next(a for a in found if a.kind == "heat damage")
    assert alert.date == pd.Timestamp("2026-05-10") and "48 hours above" in alert.found


@pytest.mark.parametrize(("row", "text"), [(9, "140"), (11, "95")])
def test_a_count_out_of_line(row, text):
    found = alerts_of(((row, "workers", text),))
    alert = next(a for a in found if a.kind == "count out of line")
    assert alert.stage == "workers" and alert.seen == text
    assert alert.expected[1] < float(text) and "slip" in alert.possible


def test_notes_that_no_colony_could_show():
    log = pd.DataFrame(
        {"date": ["2026-03-03", "2026-03-06", "2026-03-09"], "workers": ["40", "2", "60"],
         "pupae": ["1", "50", "3"]}
    )  # fmt: skip
    found = ag.fit(log, ag.constant(25.0), ANT, queen_since=QUEEN, rng=1).alerts()
    assert "notes against the model" in kinds(found)


def test_an_acquired_colony_is_watched_too():
    fit = ag.fit(HEALTHY.tail(6), ag.constant(25.0), ANT, rng=1)
    assert not len(fit.alerts())


class TestSurprises:
    def test_first_look_is_foreseen_by_the_profile_alone(self):
        fit = fit_of()
        told = Innovations.of(fit)
        best = next(b for b in fit.components if b.loss is None).estimate
        first = told.cells[told.cells["date"] == HEALTHY["date"].iloc[0]].set_index("stage")
        here = best.linearised
        doubt = np.diag(best.noise_cov + here.slopes @ here.slopes.T)[0]  # the eggs of row one
        expected = (22 - here.at_prior[0]) / np.sqrt(doubt)
        assert first.loc["eggs", "z"] == pytest.approx(expected, rel=1e-6)

    def test_misses_of_separate_looks_multiply_to_the_evidence(self):
        # One step after the other, the looks' densities make up that of the whole log.
        fit = fit_of()
        best = next(b for b in fit.components if b.loss is None).estimate
        told = Innovations.of(fit)
        assert len(told.cells) == best.sites.used[: len(fit.counts.frame)].sum()
        assert told.cells["date"].is_monotonic_increasing
        assert (told.cells["low"] <= told.cells["high"]).all() and (told.cells["low"] >= 0).all()

    def test_brood_adds_its_cells_up(self):
        told = Innovations.of(fit_of())
        last = told.brood.iloc[-1]
        assert last["text"] == "90 eggs, 15 larvae, 16 pupae"
        cells = told.cells[told.cells["date"] == last["date"]].set_index("stage")
        middle = (cells["low"] + cells["high"]).drop("workers").sum() / 2
        assert (last["low"] + last["high"]) / 2 == pytest.approx(middle, rel=0.05)


def test_a_fit_that_did_not_settle_is_no_alert_about_the_ants(monkeypatch):
    """It is told with the dates; nothing is said against notes that stray less than usual."""
    fit = ag.load_colony(ag.demo_colony("garden-ant-first-year")).fit(rng=1)
    before = [alert.kind for alert in fit.alerts()]
    calm = [replace(b, estimate=replace(b.estimate, converged=False)) for b in fit.components]
    unsettled = replace(fit, components=calm)
    assert not unsettled.converged and [alert.kind for alert in unsettled.alerts()] == before
    assert any("did not settle" in reason for reason in strains(unsettled))
