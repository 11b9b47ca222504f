"""Importing the package is light, silent, and changes nothing."""

from __future__ import annotations

import subprocess
import sys

import pytest

import antgrowth

HEAVY = ("matplotlib", "jupyter", "jupyterlab", "notebook", "IPython", "nbformat", "scipy.stats")


def fresh(code: str) -> str:
    """What a new interpreter prints."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout


def test_nothing_heavy_is_loaded_and_nothing_is_said():
    said = fresh("import antgrowth, sys; print(*sys.modules, sep='\\n')")
    loaded = said.split()
    assert "antgrowth.fit" in loaded
    heavy = [
        m for m in loaded if m in HEAVY or m.startswith(("matplotlib.", "jupyter", "scipy.stats."))
    ]
    assert not heavy


def test_filters_and_log_levels_are_left_alone():
    fresh(
        "import logging, warnings\n"
        "import numpy, pandas, scipy.linalg, scipy.special, tqdm\n"  # these do as they please
        "filters, level = list(warnings.filters), logging.getLogger().level\n"
        "import antgrowth\n"
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


def test_unknown_names_are_named():
    with pytest.raises(AttributeError, match="'antgrowth' has no attribute 'grwoth'"):
        _ = antgrowth.grwoth
