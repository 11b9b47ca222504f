"""Compiled functions: loaded late, kept in files, told about once, and never out of date."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[3]
LAW = """
from antgrowth._core.compiled import compiled

@compiled
def doubled(number: float) -> float:
    return {twice}
"""
COLONY = """
import sys
from antgrowth._core import progress
from antgrowth._core.compiled import compiled
import law

progress._looked_at = lambda: True

@compiled
def grown(number: float) -> float:
    return law_doubled(number) + 1.0

@compiled
def shrunk(number: float) -> float:
    return number - 1.0

law_doubled = law.doubled
assert "numba" not in sys.modules
print(grown(20.0), shrunk(4.0))
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "law.py").write_text(LAW.format(twice="2.0 * number"), encoding="utf-8")
    (tmp_path / "colony.py").write_text(COLONY, encoding="utf-8")
    return tmp_path


def run(folder: Path, **variables: str) -> tuple[list[float], str]:
    """Numbers that a new interpreter prints, and what it says beside."""
    usual = {name: value for name, value in os.environ.items() if name != "NUMBA_CACHE_DIR"}
    done = subprocess.run(
        [sys.executable, "-B", "-c", "import colony"],
        capture_output=True, text=True, timeout=120, cwd=folder,
        env=usual | {"PYTHONPATH": f"{PACKAGE}{os.pathsep}{folder}"} | variables,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return [float(word) for word in done.stdout.split()], done.stderr


def test_the_first_use_says_so_and_the_next_is_silent(folder):
    numbers, said = run(folder)
    assert numbers == [41.0, 3.0]
    assert said.count("\n") == 1 and "once on this computer" in said
    assert run(folder) == ([41.0, 3.0], "")


def test_what_another_file_says_counts_as_well(folder):
    # Numba alone looks at the file of the function that is called.
    run(folder)
    (folder / "law.py").write_text(LAW.format(twice="number + 100.0"), encoding="utf-8")
    numbers, said = run(folder)
    assert numbers == [121.0, 3.0] and said


def test_code_is_kept_where_it_is_told_to(folder):
    kept = folder / "elsewhere"
    run(folder, NUMBA_CACHE_DIR=str(kept))
    assert {path.name.split("-")[0] for path in kept.rglob("*.nbi")} == {
        "colony.grown", "colony.shrunk", "law.doubled",
    }  # fmt: skip
    assert not list((folder / "__pycache__").glob("*.nbi"))


def test_beside_a_folder_that_cannot_be_written_it_is_the_users_cache(folder):
    # A file in place of the folder in which code is kept.
    (folder / "__pycache__").touch()
    (folder / "home").mkdir()
    where = {"HOME": str(folder / "home"), "XDG_CACHE_HOME": str(folder / "home")}
    run(folder, **where)
    assert list((folder / "home").rglob("colony.grown-*.nbi"))
    assert run(folder, **where) == ([41.0, 3.0], "")


def test_where_nothing_can_be_written_it_is_compiled_each_time(folder):
    # A file in place of each folder in which code might be kept.
    for name in ("__pycache__", "home"):
        (folder / name).touch()
    where = {"HOME": str(folder / "home"), "XDG_CACHE_HOME": str(folder / "home")}
    for _ in range(2):
        numbers, said = run(folder, **where)
        assert numbers == [41.0, 3.0] and "compiles" in said
