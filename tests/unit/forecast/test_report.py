"""What forecasts and arrivals say of themselves: the numbers of their frames, and intervals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from pages import Page

import antgrowth as ag
from antgrowth._core.summary import ants
from antgrowth.forecast.arrival import Arrival, arrival_title
from antgrowth.forecast.report import _few_days, arrival_report, forecast_report

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
        assert text.splitlines()[1] == f"finding  {forecast.arrival(30).sentence()}"
        assert "$" not in forecast._repr_html_() and "<b>" not in forecast._repr_html_()

    @pytest.mark.parametrize("days", [1, 3, 8, 9, 60, 180, 365, 2000])
    def test_a_few_rows_whatever_the_horizon(self, days):
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


class TestTitles:
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
