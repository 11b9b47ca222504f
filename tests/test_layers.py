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
    "common": {"errors", "stages", "_words", "_render"},
    # Numpy in, numpy out, vectorised over draws.
    "arrays": {
        "rates", "laws", "moves", "cohorts", "standing", "moments", "ensemble", "likelihood",
        "scoring", "energetics", "humidity", "degree_days", "_constants",
    },
    # What the keeper has: readings, counts, changes, the ant.
    "inputs": {
        "counts", "changes", "temperature", "species", "audit",
        "_arguments", "_audit_view", "_cells", "_composed", "_days", "_gaps", "_hourly", "_limits",
        "_logger", "_logger_columns", "_looks", "_normals", "_parameters", "_plans", "_profile",
        "_rate_table", "_readings", "_sensor", "_sheets", "_span", "_species_view",
    },
    # Frozen results.
    "answers": {
        "prior", "setting", "notes", "inference", "present", "fit", "forecast", "saving", "food",
        "colony", "backtest", "curve_fit", "placing", "losses", "diagnostics",
        "_baselines", "_budget", "_colony_file", "_curve_kinds", "_curve_solver", "_curve_view",
        "_daily_food", "_feeding", "_folds", "_food_view", "_phrases", "_servings", "_truth",
        "_verdict",
    },
    # Pictures and the command line.
    "edge": {"plotting", "cli", "_drawing", "_plot_food", "_plot_temperature"},
    "root": {"__init__"},
}  # fmt: skip

LAZY = {
    ("fit", "plotting"),
    ("forecast", "plotting"),
    ("food", "_plot_food"),
    ("audit", "_plot_temperature"),
    ("curve_fit", "_plot_temperature"),
    ("_plans", "_plot_temperature"),
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
        names = [node.module or ""]
        if node.module == "antgrowth":
            known = {path.stem for path in PACKAGE.glob("*.py")}
            names = [f"antgrowth.{a.name}" if a.name in known else "antgrowth" for a in node.names]
    own = [name.split(".") for name in names if name.split(".")[0] == "antgrowth"]
    return [parts[1] if len(parts) > 1 else "__init__" for parts in own]


MODULES = sorted(PACKAGE.glob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.stem)
def test_imports_point_down(path):
    upward = [
        f"{path.name}, line {found.line}: imports {found.of}"
        for found in imports(path)
        if height(found.of) > height(path.stem)
        and (path.stem, found.of) not in VERSION
        and not (found.inside_function and (path.stem, found.of) in LAZY)
    ]
    assert not upward, "\n".join(upward)


def test_the_table_holds_no_module_that_is_gone():
    listed = set.union(*LAYERS.values())
    assert listed == {path.stem for path in MODULES}
    assert sum(map(len, LAYERS.values())) == len(listed), "a module is in two layers"


def test_exceptions_are_needed():
    found = {(path.stem, i.of) for path in MODULES for i in imports(path)}
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
    for node in ast.walk(ast.parse((PACKAGE / f"{name}.py").read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            roots |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            roots.add((node.module or "").split(".")[0])
    assert not roots & {"pandas", "matplotlib", "IPython"}
