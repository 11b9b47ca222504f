"""Run the notebooks from a clean kernel and keep their outputs.

``python notebooks/execute.py`` does so for all that lie beside this file; names of notebooks choose
some. What differs from run to run without meaning anything is left out, so that a notebook that
says the same as before stays the same file.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import nbformat
from nbclient import NotebookClient

HERE = Path(__file__).parent

LIMIT_SECONDS = 120
"""Longest that one cell may take. [s]"""


def notebooks() -> list[Path]:
    """List the notebooks, in order of their numbers."""
    return sorted(HERE.glob("*.ipynb"))


def executed(path: Path, folder: Path) -> nbformat.NotebookNode:
    """Run a notebook from a clean kernel.

    Parameters
    ----------
    path : Path
        The notebook; the file is not changed.
    folder : Path
        Where its kernel starts.

    Returns
    -------
    notebook : NotebookNode
        With its outputs.

    Raises
    ------
    nbclient.exceptions.CellExecutionError
        If a cell fails.
    """
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook,
        timeout=LIMIT_SECONDS,
        kernel_name="python3",
        resources={"metadata": {"path": str(folder)}},
        record_timing=False,
        coalesce_streams=True,
    )
    # Pictures belong into the notebook, whatever backend the caller draws with.
    inline = {"MPLBACKEND": "module://matplotlib_inline.backend_inline", "TQDM_DISABLE": "1"}
    client.execute(env=os.environ | inline)
    notebook.metadata["language_info"] = {"name": "python"}  # leaves out the version of Python
    return notebook


def main(names: list[str]) -> None:
    """Run notebooks by name, or all, and write them back."""
    for path in [HERE / name for name in names] or notebooks():
        nbformat.write(executed(path, HERE), path)
        print(path)


if __name__ == "__main__":
    main(sys.argv[1:])
