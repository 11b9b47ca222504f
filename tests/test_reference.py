"""The generated reference: every public name has a page, and no docstring is hard to read."""

from __future__ import annotations

import os
import subprocess
import sys
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest

import antgrowth
from antgrowth import plotting

SCRIPT = Path(__file__).parents[1] / ".ci" / "reference.py"


@pytest.fixture(scope="module")
def reference():
    spec = spec_from_file_location("reference", SCRIPT)
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_help_tells_of_every_public_name_once_in_the_order_of_the_job(reference):
    told = [name for _, names in reference.sections() for name in names]
    assert sorted(told) == sorted(antgrowth.__all__)
    assert told.index("read_counts") < told.index("fit") < told.index("care_plan")


def test_a_name_that_help_does_not_tell_of_is_found_out(reference, monkeypatch):
    monkeypatch.setattr(antgrowth, "__all__", [*antgrowth.__all__, "untold"])
    with pytest.raises(SystemExit, match="does not tell of \\['untold'\\]"):
        reference.sections()


@pytest.mark.slow
def test_it_builds_without_a_warning(tmp_path):
    pytest.importorskip("numpydoc", reason="of the extra `dev`")
    command = [sys.executable, str(SCRIPT), str(tmp_path)]
    root = str(SCRIPT.parents[1])
    done = subprocess.run(
        command, capture_output=True, text=True, env=os.environ | {"PYTHONPATH": root}
    )
    assert done.returncode == 0 and not done.stderr, done.stderr
    pages = {page.stem for page in (tmp_path / "html" / "names").glob("*.html")}
    names = {f"antgrowth.{name}" for name in antgrowth.__all__ if name != "plotting"}
    names |= {f"antgrowth.plotting.{name}" for name in plotting.__all__}
    assert {page.removesuffix("-function") for page in pages} == names
    # `fit` and `Fit` are two pages, also where names of files know no capitals.
    assert len({page.lower() for page in pages}) == len(names)
    fit = (tmp_path / "html" / "names" / "antgrowth.Fit.html").read_text(encoding="utf-8")
    assert "Let colonies like this one grow on" in fit and "Fit.setting" not in fit
