"""Importing the package is light, silent, and changes nothing."""

from __future__ import annotations

import ast
import importlib
import inspect
import re
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

import antgrowth
from antgrowth._aliases import MOVED
from antgrowth.model import development_rates

PACKAGE = Path(antgrowth.__file__).parent

HEAVY = (
    "matplotlib",
    "numba",
    "jupyter",
    "jupyterlab",
    "notebook",
    "IPython",
    "nbformat",
    "scipy.stats",
)

EVERY_NAME = (
    "import antgrowth; "
    "public = [getattr(antgrowth, name) for name in antgrowth.__all__ if name != 'plotting']"
)


def fresh(code: str, folder: Path | None = None) -> str:
    """What a new interpreter prints, started in a folder."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        capture_output=True,
        text=True,
        timeout=120,
        cwd=folder,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout


def test_nothing_heavy_is_loaded_and_nothing_is_said():
    said = fresh(f"{EVERY_NAME}; import sys; print(*sys.modules, sep='\\n')")
    loaded = said.split()
    assert "antgrowth.inference.posterior" in loaded
    heavy = [
        m for m in loaded if m in HEAVY or m.startswith(("matplotlib.", "jupyter", "scipy.stats."))
    ]
    assert not heavy


def test_what_nobody_asks_for_is_not_loaded():
    said = fresh(
        "import antgrowth, sys\n"
        "from antgrowth import LogError\n"
        "assert not {'numpy', 'pandas', 'scipy'} & set(sys.modules)\n"
        "assert antgrowth.LogError is LogError is vars(antgrowth)['LogError']\n"
        "antgrowth.read_counts\n"
        "print(*sys.modules, sep='\\n')"
    )
    assert "antgrowth.io.counts" in said.split()
    assert not [name for name in said.split() if name.startswith(("antgrowth.model", "scipy"))]


def test_names_are_found_where_type_checkers_are_told():
    tree = ast.parse(Path(antgrowth.__file__).read_text(encoding="utf-8"))
    told = next(n for n in tree.body if isinstance(n, ast.If) and n.test.id == "TYPE_CHECKING")
    homes = {
        name.name: node.module.removeprefix("antgrowth.")
        for node in told.body for name in node.names
    }  # fmt: skip
    assert homes == antgrowth.PUBLIC
    assert set(homes) | {"plotting"} == set(antgrowth.__all__)


def test_filters_and_log_levels_are_left_alone():
    fresh(
        "import logging, warnings\n"
        "import numpy, pandas, scipy.linalg, scipy.special, tqdm\n"  # these do as they please
        "filters, level = list(warnings.filters), logging.getLogger().level\n"
        f"{EVERY_NAME}\n"
        "assert warnings.filters == filters and logging.getLogger().level == level\n"
        "assert not logging.getLogger().handlers"
    )


def test_pictures_load_on_demand():
    said = fresh(
        "import antgrowth, sys\n"
        "assert 'matplotlib' not in sys.modules\n"
        "antgrowth.plotting\n"
        "print('matplotlib' in sys.modules)"
    )
    assert said.strip() == "True"


def test_public_names_exist_and_are_sorted():
    assert list(antgrowth.__all__) == sorted(antgrowth.__all__)
    for name in antgrowth.__all__:
        assert hasattr(antgrowth, name), name


def test_the_docstring_is_the_table_of_contents():
    told = re.findall(r"(?<!`)`(?:(?:Fit|Forecast)\.)?(\w+)`(?!`)", antgrowth.__doc__)
    verbs = {"forecast", "diagnostics", "alerts", "food"}
    assert set(told) - verbs == set(antgrowth.__all__)


def test_unknown_names_are_named():
    with pytest.raises(AttributeError, match="'antgrowth' has no attribute 'grwoth'"):
        _ = antgrowth.grwoth


def test_names_that_complete_are_the_public_ones():
    assert dir(antgrowth) == antgrowth.__all__


@pytest.mark.parametrize("old", MOVED)
def test_modules_are_found_by_the_paths_they_had(old):
    module = importlib.import_module(f"antgrowth.{old}")
    assert isinstance(module, ModuleType)
    assert module is importlib.import_module(f"antgrowth.{MOVED[old]}")
    assert module.__spec__.name == module.__name__ == f"antgrowth.{MOVED[old]}"


def test_old_paths_in_each_form_of_import():
    import antgrowth.degree_days
    import antgrowth.rates as r
    from antgrowth.rates import DegreeDay

    from antgrowth import laws

    assert r is development_rates is antgrowth.rates
    assert DegreeDay is development_rates.DegreeDay
    assert laws.Laws and antgrowth.degree_days.single_sine


def test_functions_are_not_hidden_by_modules_of_their_name():
    said = fresh(
        "import antgrowth as ag\n"
        "import antgrowth.fit, antgrowth.sensitivity, antgrowth.backtest\n"
        "import antgrowth._api as module\n"
        "from antgrowth.fit import Fit, fit\n"
        "assert ag.fit is fit is module.fit and ag.Fit is Fit\n"
        "print(type(module).__name__, *(type(f).__name__\n"
        "      for f in (ag.fit, ag.sensitivity, ag.backtest)))"
    )
    assert said.split() == ["module", "function", "function", "function"]


def test_modules_are_not_hidden_by_functions_of_their_name():
    # `import antgrowth.food.plan as p` takes what the room calls `plan`: it has to be the module.
    for path in PACKAGE.rglob("*/*.py"):
        if path.name != "__init__.py":
            room = importlib.import_module(f"antgrowth.{path.parent.name}")
            module = importlib.import_module(f"{room.__name__}.{path.stem}")
            assert getattr(room, path.stem) is module, module.__name__
    hidden = [name for name in antgrowth.__all__ if (PACKAGE / f"{name}.py").exists()]
    assert hidden == ["plotting"] and inspect.ismodule(antgrowth.plotting)


def test_a_folder_of_its_name_does_not_hide_it(tmp_path):
    # As where a clone called `antgrowth` lies: a folder, but no package.
    (tmp_path / "antgrowth" / "antgrowth").mkdir(parents=True)
    (tmp_path / "antgrowth" / "antgrowth" / "__init__.py").touch()
    said = fresh("import antgrowth; print(antgrowth.__file__, antgrowth.fit.__name__)", tmp_path)
    assert said.split() == [str(PACKAGE / "__init__.py"), "fit"]


def test_tables_are_those_of_this_copy():
    datasets = importlib.import_module("antgrowth.datasets")
    assert Path(datasets.__file__).parents[1] in (PACKAGE, PACKAGE.parent)
