"""Imports only point down: arrays, inputs, answers, edge.

A new module must be entered in `LAYERS`, which is the one table of the package's structure.
"""

from __future__ import annotations

import ast
from pathlib import Path
from typing import NamedTuple

import pytest

import antgrowth

PACKAGE = Path(antgrowth.__file__).parent

LAYERS: dict[str, set[str]] = {
    # Words and pictures of text that every layer may use, and that use no layer.
    "common": {"errors", "stages", "_showing", "_showing.words", "_showing.render"},
    # Numpy in, numpy out, vectorised over draws.
    "arrays": {
        "rates", "clocks", "laws", "moves", "cohorts", "standing", "moments", "ensemble",
        "likelihood", "scoring", "energetics", "humidity", "degree_days", "lotka", "luck",
        "_eating", "_eating.constants",
    },
    # What the keeper has: readings, counts, changes, the ant.
    "inputs": {
        "counts", "changes", "feeds", "temperature", "species", "audit",
        "_reading", "_reading.arguments", "_reading.cells", "_reading.columns",
        "_reading.dated_log", "_reading.days", "_reading.hourly",
        "_reading.logger", "_reading.logger_columns", "_reading.looks", "_reading.rate_table",
        "_reading.rows",
        "_reading.sensor", "_reading.sheets",
        "_climate", "_climate.composed", "_climate.gaps", "_climate.normals", "_climate.plans",
        "_climate.readings", "_climate.span", "_climate.winters",
        "_profiles", "_profiles.development", "_profiles.evidence", "_profiles.form",
        "_profiles.limits",
        "_profiles.milestones", "_profiles.native", "_profiles.parameters",
        "_profiles.toml_text", "_profiles.view",
        "_showing.audit",
    },
    # Frozen results.
    "answers": {
        "prior", "setting", "notes", "inference", "hindsight", "present", "fit", "arrival",
        "forecast", "saving", "food", "colony", "backtest", "curve_fit", "placing", "losses",
        "diagnostics", "profile_table", "sensitivity",
        "_curves", "_curves.kinds", "_curves.solver", "_curves.view",
        "_eating.budget", "_eating.daily", "_eating.feeding", "_eating.intake", "_eating.meals",
        "_eating.offers", "_eating.practice", "_eating.servings", "_eating.view",
        "_judging", "_judging.baselines", "_judging.folds", "_judging.keeper",
        "_judging.replicas", "_judging.truth", "_judging.verdict",
        "_reading.colony_climate", "_reading.colony_file", "_showing.phrases",
        "alerts", "_watching", "_watching.alert", "_watching.surprises", "_watching.watches",
        "regimes", "regime_search", "growing", "_regimes", "_regimes.judging", "_regimes.search",
        "_regimes.view",
        "care", "nest", "outdoors", "_caring", "_caring.calendar", "_caring.checks",
        "_caring.milestone", "_caring.nests", "_caring.seasons", "_caring.timing",
        "_caring.triggers", "_caring.view", "_caring.weather",
    },
    # Pictures and the command line.
    "edge": {
        "report", "_reporting", "_reporting.dress", "_reporting.marks", "_reporting.new_folder",
        "_reporting.notebook", "_reporting.page",
        "plotting", "cli", "_pictures", "_pictures.care", "_pictures.diagnostics",
        "_pictures.drawing", "_pictures.food", "_pictures.regimes", "_pictures.sensitivity",
        "_pictures.temperature",
    },
    "root": {"__init__"},
}  # fmt: skip

LAZY = {
    ("fit", "plotting"),
    ("forecast", "plotting"),
    ("arrival", "plotting"),
    ("food", "_pictures.food"),
    ("diagnostics", "_pictures.diagnostics"),
    ("care", "_pictures.care"),
    ("regimes", "_pictures.regimes"),
    ("regime_search", "_pictures.regimes"),
    ("growing", "_pictures.regimes"),
    ("audit", "_pictures.temperature"),
    ("curve_fit", "_pictures.temperature"),
    ("profile_table", "_pictures.temperature"),
    ("sensitivity", "_pictures.sensitivity"),
    ("_climate.plans", "_pictures.temperature"),
}
"""Upward imports that wait inside a function: the picture of an answer, drawn when asked for."""

VERSION = {("saving", "__init__"), ("cli", "__init__")}
"""Modules that write the version number."""


class Import(NamedTuple):
    of: str
    line: int
    inside_function: bool


def height(module: str) -> int:
    for place, names in enumerate(LAYERS.values()):
        if module in names:
            return place
    raise AssertionError(f"{module} is in no layer: enter it in LAYERS of {Path(__file__).name}.")


def imports(path: Path) -> list[Import]:
    """Modules of the package that a file imports when it runs; those for type checkers aside."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    ignored, inside = set(), set()
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and ast.unparse(node.test).endswith("TYPE_CHECKING"):
            ignored |= {id(child) for statement in node.body for child in ast.walk(statement)}
        if isinstance(node, ast.FunctionDef):
            inside |= {id(child) for child in ast.walk(node)}
    found = []
    for node in ast.walk(tree):
        if id(node) not in ignored:
            found += [Import(name, node.lineno, id(node) in inside) for name in imported(node)]
    return found


def imported(node: ast.AST) -> list[str]:
    """Modules of the package, without its name, that a statement imports."""
    names: list[str] = []
    if isinstance(node, ast.Import):
        names = [alias.name for alias in node.names]
    elif isinstance(node, ast.ImportFrom):
        assert node.level == 0, "imports are absolute"
        of = node.module or ""
        # `from antgrowth._climate import plans` imports a module, not a name of the package.
        known = set(map(name_of, MODULES))
        inner = [f"{of}.{alias.name}" for alias in node.names]
        names = [name if name.partition(".")[2] in known else of for name in inner]
    own = [name for name in names if name.split(".")[0] == "antgrowth"]
    return [name.partition(".")[2] or "__init__" for name in dict.fromkeys(own)]


def module_file(name: str) -> Path:
    return next(path for path in MODULES if name_of(path) == name)


def name_of(path: Path) -> str:
    """Dotted name of a module, without the package's: `_climate.plans`; a folder is `_climate`."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if len(parts) > 1 and parts[-1] == "__init__" else parts)


MODULES = sorted(PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_imports_point_down(path):
    upward = [
        f"{path.name}, line {found.line}: imports {found.of}"
        for found in imports(path)
        if height(found.of) > height(name_of(path))
        and (name_of(path), found.of) not in VERSION
        and not (found.inside_function and (name_of(path), found.of) in LAZY)
    ]
    assert not upward, "\n".join(upward)


def test_the_table_holds_no_module_that_is_gone():
    listed = set.union(*LAYERS.values())
    assert listed == set(map(name_of, MODULES))
    assert sum(map(len, LAYERS.values())) == len(listed), "a module is in two layers"


def test_exceptions_are_needed():
    found = {(name_of(path), i.of) for path in MODULES for i in imports(path)}
    assert found >= LAZY | VERSION


def test_an_upward_import_is_seen(tmp_path):
    # The walk itself, on a file that does everything wrong.
    path = tmp_path / "rates.py"
    path.write_text(
        "from typing import TYPE_CHECKING\n"
        "from antgrowth import fit as f\n"
        "import antgrowth.cli\n"
        "if TYPE_CHECKING:\n    from antgrowth.species import Species\n"
        "def late():\n    from antgrowth.plotting import plot_fit\n",
        encoding="utf-8",
    )
    assert [(i.of, i.inside_function) for i in imports(path)] == [
        ("fit", False), ("cli", False), ("plotting", True),
    ]  # fmt: skip
    assert height("fit") > height("species") > height("rates") > height("errors")
    with pytest.raises(AssertionError, match="in no layer"):
        height("something_new")


@pytest.mark.parametrize("name", sorted(LAYERS["arrays"]))
def test_arrays_know_no_tables(name):
    # Layer 0 is numpy in, numpy out: no pandas, no picture.
    roots = set()
    for node in ast.walk(ast.parse(module_file(name).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            roots |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            roots.add((node.module or "").split(".")[0])
    assert not roots & {"pandas", "matplotlib", "IPython"}
