"""What a notebook shows of results: the finding first, in whole words, and never pages of it."""

from __future__ import annotations

from dataclasses import is_dataclass

import pandas as pd
import pytest
from pages import Page, words_of

import antgrowth as ag

LONGEST = 5000
"""Letters that the line of an object may have."""


@pytest.fixture(scope="module")
def colony():
    return ag.load_colony(ag.demo_colony("garden-ant-first-year"))


@pytest.fixture(scope="module")
def fit(colony):
    return colony.fit(rng=1)


@pytest.fixture(scope="module")
def ahead(fit):
    return fit.forecast(days=120, draws=200, rng=1)


def test_a_forecast_leads_with_the_next_date(ahead):
    facts = ahead._report().facts
    assert facts[0] == ("finding", ahead.arrival(30).sentence())
    assert "30 workers" in ahead.summary().splitlines()[1]


def test_a_colony_that_has_30_is_told_of_the_next_number():
    invented = pd.DataFrame({"date": ["2026-06-01", "2026-06-20"], "workers": [45, 60]})
    found = ag.fit(invented, 25.0, "lasius-niger", rng=1).forecast(days=30, draws=50, rng=1)
    assert found._report().facts[0][1].startswith("100 workers: ")


def test_a_log_shows_its_last_rows(colony):
    last = colony.counts.to_frame().tail(5)
    html = colony.counts._repr_html_()
    for date in last["date"]:
        assert f"{date:%Y-%m-%d}" in html and f"{date:%Y-%m-%d}" in colony.counts.summary()
    assert f"{colony.counts.to_frame()['date'].iloc[3]:%Y-%m-%d}" not in html


def test_diagnostics_give_a_verdict(fit):
    assert fit.diagnostics().verdict in repr(fit.diagnostics())


def test_sentences_are_lines_of_html_that_break_between_words(ahead):
    told = ahead.arrival(30).sentence()
    assert isinstance(told, str) and words_of(told._repr_html_()) == told
    assert told._repr_html_().startswith("<div>")


def test_steps_checks_nests_and_temperatures_show_themselves(ahead):
    plan = ag.care_plan(ahead, country="DE", nests=[{"name": "tube", "workers": 25}])
    step = next(step for step in plan if step.is_scheduled)
    nest = ag.nest_room(ahead, [{"name": "tube", "workers": 25}]).stages[0]
    warm = ag.day_night(27, 21)
    for shown, words in (
        (step, step.when()), (nest, "tube (25 workers)"), (warm, "27.0 °C by day"),
        *((check, check.text) for check in step.checks),
    ):  # fmt: skip
        page = Page(shown._repr_html_())
        assert any(words in cell for cell in page.cells), type(shown).__name__


def test_nothing_prints_pages(fit, ahead):
    seen: set[int] = set()
    found: dict[str, int] = {}
    plan = ag.care_plan(ahead, country="DE", nests=[{"name": "tube", "workers": 25}])
    room = ag.nest_room(ahead, [{"name": "tube", "workers": 25}])

    def look(value: object, path: str) -> None:
        if id(value) in seen or not is_dataclass(value):
            return
        seen.add(id(value))
        found[path] = len(repr(value))
        for name, inner in vars(value).items():
            look(inner, f"{path}.{name}")
            if isinstance(inner, list | tuple):
                for one in inner[:3]:
                    look(one, f"{path}.{name}[]")

    for value in (fit, ahead, plan, room, fit.alerts(), fit.diagnostics(), ahead.arrival(30)):
        look(value, type(value).__name__)
    assert len(found) > 20
    assert {path: size for path, size in found.items() if size > LONGEST} == {}
