"""Names of the package are the field's terms: those that gave way to one do not come back."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pandas as pd
import pytest

import antgrowth as ag
from antgrowth._core.deprecation import Former

PACKAGE = Path(ag.__file__).parent

RETIRED = {
    "abstention, prediction": "silence silent Outlook",
    "age structure, laying times": "stand Places look_back",
    "common random numbers": "luck Pairing",
    "constraint check, violations, excluded": "judging objection objections barred",
    "dispersion, likelihood tempering power": "strain STRAINED BELIEVED believed",
    "dormancy schedule, extend plan": "winters Habit habit rest_habit foreseen go_on",
    "feedback, propagator": "answer_to echo",
    "first-passage time": "Timing waits waits_of first_days",
    "history of the colony": "Setting setting _queens",
    "individual development-time factor": "pace pace_nodes spells",
    "innovations, detectors, posterior predictive": "surprises watches watch replicas",
    "linearise, covariances, whitened residuals": "tangent Tangent scatter doubt white_rest",
    "mixture component, allocate": "Belief belief beliefs deal_out",
    "observations, observation model": "as_counted",
    "pareto k, effective sample size": "tail_index tail_index_of effective_draws",
    "percentile within species": "placing Placing",
    "portions, needs to date": "meal meals meals_of Past",
    "schema, style, add error": "saved_form form_faults dress blame",
    "smoothing, initial state": "hindsight given_notes Present",
    "super-individuals, cohort limits, event ledger": "Packets FATES CROWD diary",
    "tol, max_iter, restart_offset": "SETTLED STILL_THERE ROUNDS RESTART",
    "visits": "looks",
}
"""Names that gave way, by what the field says."""

GONE = {name for names in RETIRED.values() for name in names.split()}


def identifiers(source: str) -> set[str]:
    """Names that a source binds, reads or takes as keywords, but for former names that it tells."""
    tree, found, told = ast.parse(source), set(), set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and called(node.value) == "Former":
            told.update(node.targets)
        if called(node) == "renamed":
            told.update(node.keywords)
    for node in set(ast.walk(tree)) - told:
        for field in ("id", "attr", "arg", "name", "asname"):
            if isinstance(name := getattr(node, field, None), str):
                found.add(name.rpartition(".")[2])
    return found


def called(node: ast.AST) -> str:
    return getattr(node.func, "id", "") if isinstance(node, ast.Call) else ""


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: p.stem)
def test_names_that_gave_way_stay_away(path):
    back = identifiers(path.read_text(encoding="utf-8")) & GONE
    assert not back


def test_a_name_that_came_back_is_seen():
    back = "def f(looks):\n    return x.setting\n"
    assert identifiers(back) & GONE == {"looks", "setting"}
    assert not identifiers('class A:\n    looks = Former("visits")\n') & GONE
    assert not identifiers('@renamed(looks="visits")\ndef f(visits): ...\n') & GONE


def test_attributes_that_were_public_are_taken_and_told():
    log = ag.read_counts(pd.DataFrame({"date": ["2026-07-20"], "eggs": [9]}))
    with pytest.warns(DeprecationWarning, match=r"CountLog: the attribute looks is now visits\. W"):
        assert log.looks is log.visits


def test_each_former_name_leads_to_one_that_is_there():
    # A class's fields and properties are its own; what it is called by then is read from its file.
    found = 0
    for path in PACKAGE.rglob("*.py"):
        source = path.read_text(encoding="utf-8")
        for old, new in re.findall(r'^    (\w+) = Former\("(\w+)"\)$', source, re.MULTILINE):
            found += 1
            assert old in GONE | {"practice"}, old
            assert re.search(rf"^    (?:def )?{new}\b", source, re.MULTILINE), f"{path}: {new}"
    assert found >= 15 and ag.CountLog.looks.new == "visits" and isinstance(ag.Fit.setting, Former)
