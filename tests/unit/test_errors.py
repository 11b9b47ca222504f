"""What a keeper sees of an error in a notebook: the line of the cell, and what to do."""

from __future__ import annotations

import nbformat
import pytest
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError

CELL = """import antgrowth as ag
table = {"date": ["2026-07-20"], "eggs": [-3]}
counts = ag.read_counts(__import__("pandas").DataFrame(table))
"""


def test_a_notebook_shows_the_message_without_the_inside():
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(CELL)])
    with pytest.raises(CellExecutionError):
        NotebookClient(notebook, timeout=60, kernel_name="python3").execute()
    (output,) = notebook.cells[0].outputs
    shown = "\n".join(output["traceback"]).splitlines()
    assert len(shown) <= 5, shown
    assert shown[0].startswith("line 3: counts = ag.read_counts(")
    assert shown[-1].startswith("LogError: counts, row 2 (2026-07-20): eggs = -3.")
