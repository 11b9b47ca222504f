"""Every notebook runs from a clean kernel, anywhere, and is kept with what it then shows."""

from __future__ import annotations

import nbformat
import pytest
from antgrowth.notebooks.execute import executed, notebooks

NOTEBOOKS = notebooks()


def shown(notebook: nbformat.NotebookNode) -> list[list[tuple[str, ...]]]:
    """What kinds of output each cell has: streams by name, results and pictures by their forms."""
    return [
        [
            tuple(sorted(output["data"])) if "data" in output else (output.get("name", "error"),)
            for output in cell["outputs"]
        ]
        for cell in notebook.cells
        if cell["cell_type"] == "code"
    ]


def test_there_are_notebooks():
    assert [path.name for path in NOTEBOOKS][:1] == ["00_your_colony.ipynb"]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_it_runs_and_is_kept_with_its_outputs(path, tmp_path):
    fresh = executed(path, tmp_path)  # a failing cell raises
    kept = nbformat.read(path, as_version=4)
    nbformat.validate(kept)
    assert any(map(len, shown(kept))), "kept without outputs: python notebooks/execute.py"
    assert shown(kept) == shown(fresh), "kept outputs are old: python notebooks/execute.py"
    counts = [cell["execution_count"] for cell in kept.cells if cell["cell_type"] == "code"]
    assert counts == list(range(1, len(counts) + 1)), "kept outputs are not of one clean run"
    assert not list(tmp_path.iterdir()), "the notebook leaves files behind"
