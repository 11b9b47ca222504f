"""Sliders move dates, growth and food; no browser is needed to move them."""

from __future__ import annotations

import re
import sys
import time

import pytest

import antgrowth as ag

ipywidgets = pytest.importorskip("ipywidgets")


@pytest.fixture(scope="module")
def fit():
    return ag.load_colony(ag.demo_colony("garden-ant-first-year")).fit(rng=1)


@pytest.fixture
def explorer(fit):
    return fit.explore(workers=100, days=120, draws=100)


def shown(explorer):
    return explorer.dates.value, explorer.picture.value, explorer.food.value


@pytest.mark.parametrize("slider, value", [("day", 27.5), ("night", 24.0)])
def test_another_temperature_changes_dates_picture_and_food(explorer, slider, value):
    before = shown(explorer)
    getattr(explorer, slider).value = value
    assert all(was != now for was, now in zip(before, shown(explorer), strict=True))


def test_the_later_the_change_the_less_it_wins(explorer):
    explorer.day.value, explorer.night.value = 27.0, 25.0
    explorer.workers.value, passage_days = 30, []
    for _, date in explorer.change.options[:7:2]:
        explorer.change.value = date
        passage_days.append(explorer.forecast.arrival(30).median)
    assert passage_days[0] < passage_days[-1] and passage_days == sorted(passage_days)


def test_another_number_changes_dates_and_the_line_and_no_food(explorer):
    before = shown(explorer)
    explorer.workers.value = 50
    after = shown(explorer)
    assert [was == now for was, now in zip(before, after, strict=True)] == [False, False, True]
    assert "50 workers" in re.sub("<.*?>", "", after[0])


def test_the_dates_are_those_of_the_same_forecast_without_sliders(explorer, fit):
    explorer.day.value, explorer.night.value = 26.0, 22.0
    same = fit.forecast(days=120, temperature=ag.day_night(26, 22), draws=100, rng=fit.seed)
    assert same.arrival(100).sentence() in re.sub("<.*?>", "", explorer.dates.value)


def test_what_must_not_be_is_told_first(explorer):
    explorer.day.value = 31.0
    assert explorer.dates.value.startswith("<div>NOT RECOMMENDED: above the ceiling")


def test_the_rest_that_is_due_stands_in_every_plan(fit):
    explorer = fit.explore(workers=100, days=180, draws=50)  # the rest begins within, ends beyond
    explorer.day.value = 26.0
    assert explorer.forecast.temperature.resting("2026-12-01", 1).all()
    assert "no rest" not in explorer.dates.value


def test_one_redraw_takes_less_than_half_a_second(fit):
    explorer = fit.explore(workers=100)
    took = []
    for warm in (25.5, 26.0, 26.5):
        begin = time.process_time()
        explorer.day.value = warm
        took.append(time.process_time() - begin)
    assert min(took) < 0.5


def test_the_picture_says_what_it_shows_to_those_who_cannot_see(explorer):
    alt = re.search('alt="([^"]*)"', explorer.picture.value)[1]
    assert "100 workers" in alt and explorer.picture.value.startswith("<img")


def test_it_shows_itself_as_a_box_of_sliders(explorer):
    assert "application/vnd.jupyter.widget-view+json" in explorer._repr_mimebundle_()
    assert repr(explorer).startswith("Explorer('garden ant, first year', ")


def test_without_the_extra_it_says_how_to_install(fit, monkeypatch):
    monkeypatch.setitem(sys.modules, "ipywidgets", None)
    with pytest.raises(ag.AntgrowthError, match=r'pip install "antgrowth\[widgets\]"'):
        fit.explore()
