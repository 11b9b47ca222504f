"""What a fit says of itself: the numbers of its frame, in text and in HTML, and its warnings."""

from __future__ import annotations

import dataclasses
import re

import pandas as pd
import pytest
from changed_fits import with_estimate
from pages import Page

import antgrowth as ag
from antgrowth.inference.adequacy import HEAVY_TAILS, held_in_sample
from antgrowth.inference.report import fit_report

NOTES = pd.DataFrame(
    {
        "date": ["2026-07-12", "2026-07-20", "2026-08-01", "2026-08-14", "", "2026-09-03"],
        "eggs": ["first", 48, "~50", "", "", "25-45"],
        "larvae": ["", "", "first", 11, "", ""],
        "workers": ["", 0, "", "", "", 4],
    }
)
NAUGHTY = "<b>A</b> & $x$"


@pytest.fixture(scope="module")
def fit() -> ag.Fit:
    log = ag.read_counts(NOTES, today="2027-01-01", name=NAUGHTY)
    return ag.fit(log, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=7)


def test_lines(fit):
    lines = fit.summary().splitlines()
    assert lines[0] == f"Fit: {NAUGHTY} (Lasius niger)"
    assert [line.split()[0] for line in lines[1:4]] == ["finding", "date", "learned"]
    assert lines[2].partition("  ")[2].strip() == fit.outlook.sentence()
    start = next(k for k, line in enumerate(lines) if line.startswith("data "))
    lines = [" ".join(line.split()) for line in lines[start:]]
    assert lines[0] == (
        "data 8 counts on 5 dates, 2026-07-12 to 2026-09-03; 1 row skipped (see .counts.skipped)"
    )
    assert re.fullmatch(
        rf"model {len(fit.model.prior)} parameters, 1,000 draws \(tail index [\d.]+\), seed 7; "
        r"counting error [\d.]+ times the usual \([\d.]+ to [\d.]+\)",
        lines[1],
    )
    assert lines[2].split() == [
        "parameter", "unit", "median", "90%", "interval", "learned", "note",
    ]  # fmt: skip
    check, *tails = lines[3 + len(fit.summary_frame()) :]
    assert re.match(r"check 90% intervals hold \d of 4 counts \(in sample\)", check)
    assert bool(tails) == (fit.pareto_k > HEAVY_TAILS) and len(tails) < 2
    assert str(fit) == fit.summary()


def test_the_date_it_leads_with_is_that_of_a_forecast_of_the_same_seed(fit):
    again = fit.forecast(300, rng=7, workers=30).arrival(30)
    assert fit.outlook.workers == 30
    assert fit.outlook.interval() == again.interval()


def test_in_a_notebook_the_parameters_are_folded_away(fit):
    page = fit._repr_html_()
    assert f"<details><summary>{len(fit.model.prior)} parameters</summary>" in page
    assert page.index("On track") < page.index("<details>")


def test_table_holds_what_the_frame_holds(fit):
    rows = fit_report(fit).rows
    frame = fit.summary_frame()
    assert [row[0] for row in rows] == list(frame["parameter"])
    assert [row[5] for row in rows] == list(frame["note"])
    for row, (_, truth) in zip(rows, frame.iterrows(), strict=True):
        low, high = (float(text.replace(",", "")) for text in row[3].split(" to "))
        step = 0.051 * (truth["q95"] - truth["q05"])
        assert float(row[2].replace(",", "")) == pytest.approx(truth["median"], abs=step)
        assert (low, high) == pytest.approx((truth["q05"], truth["q95"]), abs=step)
        assert float(row[4].removesuffix(" %")) == pytest.approx(100 * truth["learned"], abs=0.51)
    assert {row[1] for row in rows} >= {"-", "day", "°C"}  # "1" is no unit


def test_html_is_escaped_and_has_the_same_table(fit):
    page = fit._repr_html_()
    assert "&lt;b&gt;A&lt;/b&gt; &amp; <span>&#36;</span>x<span>&#36;</span>" in page
    assert "$" not in page
    parsed = Page(page)
    assert not set(parsed.tags) & {"b", "script", "style"}
    assert "color" not in page
    report = fit_report(fit)
    for row in report.rows:
        at = parsed.cells.index(row[0])
        assert tuple(parsed.cells[at : at + len(row)]) == row


def test_a_fit_that_did_not_settle_says_so_first(fit):
    lost = with_estimate(fit, converged=False)
    assert lost.summary().startswith("NOT CONVERGED: the numbers still moved after ")
    assert lost.summary().splitlines()[1].startswith("Fit: ")
    assert "NOT CONVERGED" in lost._repr_html_()
    assert "NOT CONVERGED" not in fit.summary()


def test_counts_outside_their_interval_are_not_held(fit):
    held, exact = held_in_sample(fit)
    assert exact == 4  # two numbers of eggs, one rough; larvae; workers; 0 is a bound
    assert held >= 3
    here = dataclasses.replace(fit.estimate.linearised, mean=fit.estimate.mean + 1000)
    assert held_in_sample(with_estimate(fit, linearised=here)) == (0, 4)


def test_check_without_exact_counts_and_with_strain(fit):
    strained = with_estimate(fit, dispersion=2.25).summary().splitlines()[-1]
    assert strained.endswith("counts lie 1.5 times as far off as expected: intervals widened")
    vague = pd.DataFrame({"date": ["2026-07-20"], "eggs": ["45-75"]})
    fit = ag.fit(vague, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=1)
    assert ("check", "no exact count to hold against the fit") in fit_report(fit).closing
