"""Reports: text and HTML say the same, nothing is left unescaped, digits mean something."""

from __future__ import annotations

import dataclasses
import re
from html.parser import HTMLParser

import numpy as np
import pandas as pd
import pytest
from changed_fits import with_estimate

import antgrowth as ag
from antgrowth._core.summary import (
    Report,
    ants,
    arrival_report,
    fit_report,
    forecast_report,
    held_in_sample,
    rounded,
    share_words,
)
from antgrowth._core.text import count_words, day_words, span_words
from antgrowth.forecast.arrival import arrival_title
from antgrowth.forecast.paths import Arrival

NOTES = pd.DataFrame(
    {
        "date": ["2026-07-12", "2026-07-20", "2026-08-01", "2026-08-14", "", "2026-09-03"],
        "eggs": ["first", 9, "~10", "", "", "5-8"],
        "larvae": ["", "", "first", 8, "", ""],
        "workers": ["", 0, "", "", "", 4],
    }
)
NAUGHTY = "<b>A</b> & $x$"


@pytest.fixture(scope="module")
def fit() -> ag.Fit:
    log = ag.read_counts(NOTES, today="2027-01-01", name=NAUGHTY)
    return ag.fit(log, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=7)


@pytest.fixture(scope="module")
def forecast(fit):
    return fit.forecast(days=150, draws=300, rng=1)


def arrival(days, workers: int = 30, horizon: int = 100, start: str = "2026-09-03") -> Arrival:
    """An arrival so many days after the start in each draw; NaN is never."""
    days = np.asarray(days, float)
    dates = np.full(len(days), np.datetime64("NaT"), dtype="datetime64[D]")
    come = ~np.isnan(days)
    dates[come] = np.datetime64(start, "D") + days[come].astype(int)
    return Arrival(workers, dates, pd.Timestamp(start), horizon)


class Page(HTMLParser):
    """Collects tags, and the text as a reader sees it."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.cells: list[str] = []
        self.open: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.open.append(tag)
        if tag in ("td", "th"):
            self.cells.append("")

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "td" in self.open or "th" in self.open:
            self.cells[-1] += data


REPORT = Report(
    title="Title",
    facts=(("data", "a fact"),),
    head=("name", "number"),
    align="lr",
    rows=(("first", "1"), ("second", "1,000")),
    closing=(("conclusion", "the end"),),
)


class TestReport:
    def test_text_is_aligned(self):
        assert REPORT.as_text().splitlines() == [
            "Title",
            "data        a fact",
            "name    number",
            "first        1",
            "second   1,000",
            "conclusion  the end",
        ]

    def test_warning_comes_first(self):
        warned = dataclasses.replace(REPORT, warning="STOP")
        assert warned.as_text().splitlines()[:2] == ["STOP", "Title"]
        assert warned.as_html().index("STOP") < warned.as_html().index("Title")

    def test_html_holds_the_same_cells(self):
        page = Page(REPORT.as_html())
        assert page.open == []
        assert page.cells == [
            "data", "a fact", "name", "number", "first", "1", "second", "1,000",
            "conclusion", "the end",
        ]  # fmt: skip
        assert REPORT.as_html().count("text-align:right") == 3

    def test_without_rows_there_is_no_table(self):
        bare = dataclasses.replace(REPORT, rows=(), closing=())
        assert bare.as_text() == "Title\ndata  a fact"
        assert bare.as_html().count("<table>") == 1

    def test_a_row_of_wrong_length_is_an_error(self):
        with pytest.raises(ValueError, match="zip"):
            dataclasses.replace(REPORT, rows=(("one",),)).as_text()


@pytest.mark.parametrize(
    ("values", "shown"),
    [
        ((6.891, 4.620, 10.278), ("6.9", "4.6", "10.3")),
        ((0.9912, 0.97, 0.9989), ("0.991", "0.970", "0.999")),
        ((299.98, 143.1, 628.9), ("300", "140", "630")),
        ((80.0, 35.1, 182.1), ("80", "35", "182")),
        ((0.25, 0.02, 3.0), ("0.25", "0.02", "3.00")),
        ((-0.001, -2.374, 2.374), ("0.0", "-2.4", "2.4")),
        ((1.0, 1.0, 1.0), ("1.00", "1.00", "1.00")),
        ((41234.0, 30111.0, 60222.0), ("41,000", "30,000", "60,000")),
    ],
)
def test_digits_follow_the_interval(values, shown):
    assert rounded(*values) == shown


def test_numbers_of_ants_and_chances():
    assert [ants(n) for n in (0.0, 4.5, 99.4, 104.0, 634.1, 1249.0)] == [
        "0", "4", "99", "100", "630", "1,200",
    ]  # fmt: skip
    assert [share_words(s) for s in (0.0, 0.004, 0.006, 0.5, 0.994, 0.996, 1.0)] == [
        "under 1 %", "under 1 %", "1 %", "50 %", "99 %", "over 99 %", "over 99 %",
    ]  # fmt: skip


class TestFit:
    def test_lines(self, fit):
        lines = fit.summary().splitlines()
        assert lines[0] == f"Fit: {NAUGHTY} (Lasius niger)"
        assert lines[1] == (
            "data   8 counts on 5 dates, 2026-07-12 to 2026-09-03; "
            "1 row skipped (see .counts.skipped)"
        )
        assert re.fullmatch(
            r"model  17 parameters, 1,000 draws \(tail index [\d.]+\), seed 7; "
            r"counting error [\d.]+ times the usual \([\d.]+ to [\d.]+\)",
            lines[2],
        )
        assert lines[3].split() == [
            "parameter", "unit", "median", "90%", "interval", "learned", "note",
        ]  # fmt: skip
        assert len(lines) == 4 + len(fit.summary_frame()) + 1
        assert re.fullmatch(r"check  90% intervals hold \d of 4 counts \(in sample\)", lines[-1])
        assert str(fit) == fit.summary()

    def test_table_holds_what_the_frame_holds(self, fit):
        rows = fit_report(fit).rows
        frame = fit.summary_frame()
        assert [row[0] for row in rows] == list(frame["parameter"])
        assert [row[5] for row in rows] == list(frame["note"])
        for row, (_, truth) in zip(rows, frame.iterrows(), strict=True):
            low, high = (float(text.replace(",", "")) for text in row[3].split(" to "))
            step = 0.051 * (truth["q95"] - truth["q05"])
            assert float(row[2].replace(",", "")) == pytest.approx(truth["median"], abs=step)
            assert (low, high) == pytest.approx((truth["q05"], truth["q95"]), abs=step)
            assert float(row[4].removesuffix(" %")) == pytest.approx(
                100 * truth["learned"], abs=0.51
            )
        assert {row[1] for row in rows} >= {"-", "day", "°C"}  # "1" is no unit

    def test_html_is_escaped_and_has_the_same_table(self, fit):
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

    def test_a_fit_that_did_not_settle_says_so_first(self, fit):
        lost = with_estimate(fit, converged=False)
        assert lost.summary().startswith("NOT CONVERGED: the numbers still moved after ")
        assert lost.summary().splitlines()[1].startswith("Fit: ")
        assert "NOT CONVERGED" in lost._repr_html_()
        assert "NOT CONVERGED" not in fit.summary()

    def test_counts_outside_their_interval_are_not_held(self, fit):
        held, exact = held_in_sample(fit)
        assert exact == 4  # two numbers of eggs, one rough; larvae; workers; 0 is a bound
        assert held >= 3
        here = dataclasses.replace(fit.estimate.tangent, mean=fit.estimate.mean + 1000)
        assert held_in_sample(with_estimate(fit, tangent=here)) == (0, 4)

    def test_check_without_exact_counts_and_with_strain(self, fit):
        strained = with_estimate(fit, strain=2.25).summary().splitlines()[-1]
        assert strained.endswith("counts lie 1.5 times as far off as expected: intervals widened")
        vague = pd.DataFrame({"date": ["2026-07-20"], "eggs": ["5-9"]})
        fit = ag.fit(vague, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=1)
        assert fit.summary().endswith("no exact count to hold against the fit")


class TestForecast:
    def test_rows_are_those_of_the_frame(self, forecast):
        report = forecast_report(forecast, "if all goes well")
        frame = forecast.frame()
        for row in report.rows:
            for place, stage in ((1, "workers"), (3, "brood")):
                truth = frame[(frame["date"] == row[0]) & (frame["stage"] == stage)].iloc[0]
                assert row[place] == ants(truth["q50"])
                assert row[place + 1] == f"{ants(truth['q05'])} to {ants(truth['q95'])}"
        assert [row[0] for row in report.rows] == [
            "2026-09-03", "2026-10-01", "2026-10-29", "2026-11-26", "2026-12-24", "2027-01-31",
        ]  # fmt: skip

    def test_text_and_html(self, forecast):
        text = str(forecast)
        assert text == forecast.summary()
        assert text.startswith(f"Forecast: {NAUGHTY} (Lasius niger)\n")
        assert "if the queen lives and stays fertile" in text
        assert "constant 25.0 °C" in text
        assert "300 simulated colonies, seed 1" in text
        assert text.splitlines()[-1] == f"finding  {forecast.arrival(30).sentence()}"
        assert "$" not in forecast._repr_html_() and "<b>" not in forecast._repr_html_()

    @pytest.mark.parametrize("days", [1, 3, 8, 9, 60, 180, 365, 2000])
    def test_a_few_rows_whatever_the_horizon(self, days):
        from antgrowth._core.summary import _few_days

        shown = _few_days(days)
        assert shown[0] == 0 and shown[-1] == days
        assert shown == sorted(set(shown)) and 2 <= len(shown) <= 10


class TestArrival:
    def test_intervals_by_hand(self):
        # 200 colonies, one a day from day 1 to 200; day 1 is 4 September
        report = arrival_report(arrival(np.arange(1, 201), horizon=240))
        assert report.rows == (
            ("50%", "2026-10-24", "2027-01-31"),  # days 51 to 150
            ("80%", "2026-09-24", "2027-03-02"),  # days 21 to 180
            ("90%", "2026-09-14", "2027-03-12"),  # days 11 to 190
            ("95%", "2026-09-09", "2027-03-17"),  # days 6 to 195
        )
        assert report.closing[0][1] == (
            "2027-05-01, 240 days from the last note; under 1 % chance of fewer workers until then"
        )

    def test_what_lies_beyond_the_horizon(self):
        some = arrival([*[50.0] * 10, *[np.nan] * 30])
        report = arrival_report(some)
        assert {row[2] for row in report.rows} == {"after 2026-12-12"}
        assert "75 % chance of fewer workers until then" in some.summary()
        assert arrival_report(arrival([np.nan] * 40)).rows == ()

    def test_reached_already(self):
        there = arrival([0.0] * 40, workers=2)
        assert there.summary().splitlines() == [
            "Arrival: 2 workers",
            "finding  2 workers: reached by 2026-09-03",
            "horizon  2026-12-12, 100 days from the last note",
        ]
        assert str(there) == there.summary()
        assert Page(there._repr_html_()).cells[1] == "2 workers: reached by 2026-09-03"


class TestPhrases:
    @pytest.mark.parametrize(
        ("first", "last", "year", "words"),
        [
            ("2027-04-03", "2027-04-19", 2027, "3 to 19 April"),
            ("2027-04-03", "2027-04-19", 2026, "3 to 19 April 2027"),
            ("2027-03-28", "2027-04-19", 2027, "28 March to 19 April"),
            ("2027-03-28", "2027-04-19", 2026, "28 March to 19 April 2027"),
            ("2026-12-20", "2027-01-14", 2026, "20 December 2026 to 14 January 2027"),
            ("2027-04-10", "2027-04-10", 2027, "10 April"),
            ("2026-04-10", "2027-04-10", 2026, "10 April 2026 to 10 April 2027"),
        ],
    )
    def test_spans(self, first, last, year, words):
        assert span_words(pd.Timestamp(first), pd.Timestamp(last), year) == words

    def test_days(self):
        assert day_words(pd.Timestamp("2026-09-03"), 2026) == "3 September"
        assert day_words(pd.Timestamp("2026-09-03"), 2027) == "3 September 2026"

    @pytest.mark.parametrize(
        ("days", "words"),
        [
            ([0.0] * 40, "reached by 3 September"),
            ([10.0] * 40, "13 September, most likely around 13 September"),
            (
                np.repeat([10.0, 20.0, 24.0], [5, 30, 5]),
                "13 to 27 September, most likely around 23 September",
            ),
            ([np.nan] * 40, "hardly before 12 December"),
            (
                [*[50.0] * 10, *[np.nan] * 30],
                "hardly before 23 October, most likely after 12 December",
            ),
            (
                [*[50.0] * 30, *[np.nan] * 10],
                "23 October to beyond 12 December, most likely around 23 October",
            ),
        ],
    )
    def test_arrivals(self, days, words):
        assert arrival_title(arrival(days)) == f"30 workers: {words}"

    def test_arrivals_name_years_once(self):
        late = arrival(np.linspace(100, 140, 41), start="2026-09-03", horizon=200)
        title = arrival_title(late)
        assert title == (
            "30 workers: 14 December 2026 to 19 January 2027, most likely around 1 January"
        )
        assert arrival_title(arrival([10.0] * 9, workers=1)).startswith("1 worker: ")

    @pytest.mark.parametrize(
        ("cell", "words"),
        [
            ((4, 4, "exact", "workers"), "4 workers"),
            ((1, 1, "exact", "larvae"), "1 larva"),
            ((12, 12, "rough", "eggs"), "about 12 eggs"),
            ((5, 8, "between", "pupae"), "5 to 8 pupae"),
            ((30, np.inf, "at least", "workers"), "at least 30 workers"),
            ((0, 4, "below", "eggs"), "at most 4 eggs"),
            ((1, np.inf, "first", "workers"), "first workers seen"),
            ((1, 1, "exact", "brood"), "1 brood"),
        ],
    )
    def test_cells(self, cell, words):
        assert count_words(*cell) == words
