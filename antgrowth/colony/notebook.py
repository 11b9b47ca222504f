"""A notebook that a keeper has changed, run to make the page of a colony.

A folder may come from somebody else, and a notebook in it is a program: it is run only if it is
asked for. What an unchanged one shows is made without it (`cells`).
"""

from __future__ import annotations

import asyncio
import os
import subprocess
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError
from nbconvert import HTMLExporter

from antgrowth.colony.cells import NOTEBOOK_FILE
from antgrowth.errors import AntgrowthError

LIMIT_SECONDS = 300
"""Longest that one cell may take. [s]"""

# What nbformat raises depends on how far it comes: no JSON, no notebook, or one without its parts.
UNREADABLE = (ValueError, KeyError, AttributeError, TypeError, nbformat.ValidationError)

INLINE = {"MPLBACKEND": "module://matplotlib_inline.backend_inline", "TQDM_DISABLE": "1"}
"""Pictures belong into the page, whatever backend the caller draws with."""


def own_notebook(path: Path) -> nbformat.NotebookNode:
    """Read a notebook that a keeper may have changed."""
    try:
        found: nbformat.NotebookNode = nbformat.read(path, as_version=4)
    except UNREADABLE as error:
        why = (str(error).splitlines() or [""])[0]
        raise AntgrowthError(
            f"{path.name}: this is no notebook that can be read: {why.rstrip('.')}. Allowed: a "
            "notebook as Jupyter saves it. Save it there anew, or delete the file: then the usual "
            "one is run."
        ) from None
    return found


def ran(notebook: nbformat.NotebookNode, folder: Path) -> nbformat.NotebookNode:
    """Run a notebook in a folder, from a clean kernel.

    The `AntgrowthError` of a cell that fails is what the package says of the keeper's files, or
    names the cell.
    """
    client = NotebookClient(
        notebook,
        timeout=LIMIT_SECONDS,
        kernel_name="python3",
        resources={"metadata": {"path": str(folder)}},
        record_timing=False,
    )
    try:
        _execute(client)
    except CellExecutionError as error:
        if issubclass(getattr(_errors(), error.ename, Exception), AntgrowthError):
            raise AntgrowthError(error.evalue) from None
        raise AntgrowthError(
            f"{NOTEBOOK_FILE}: a cell fails with {error.ename}: {error.evalue}. Open the notebook "
            "and mend that cell, or delete the file: then the usual one is run."
        ) from None
    except (CellTimeoutError, DeadKernelError) as error:
        slow = f"a cell takes longer than {LIMIT_SECONDS} s"
        why = slow if isinstance(error, CellTimeoutError) else "the process that runs it has ended"
        raise AntgrowthError(
            f"{NOTEBOOK_FILE}: {why}. Open the notebook "
            "and run it there, or delete the file: then the usual one is run."
        ) from None
    return notebook


class _Loop(asyncio.SelectorEventLoop):
    """Events of a run that leave Ctrl-C to Python: the notebook's client would swallow it."""

    def add_signal_handler(self, *_: object) -> None:
        raise RuntimeError("signals are left to the caller")


def _execute(client: NotebookClient) -> None:
    """Run a notebook to its end, or until Ctrl-C; its process is gone afterwards."""
    # Errors of cells come back as such; what else a kernel says is no concern of a keeper.
    how: dict[str, Any] = {"env": os.environ | INLINE, "stderr": subprocess.DEVNULL}

    async def run() -> None:
        try:
            await client.async_execute(**how)
        except DeadKernelError:
            task = asyncio.current_task()
            if task is not None and task.cancelling():  # it died because it was told to
                raise asyncio.CancelledError from None
            raise

    try:
        asyncio.get_running_loop()
    except RuntimeError:
        with asyncio.Runner(loop_factory=_Loop) as runner:
            runner.run(run())
    else:  # called from a notebook
        client.execute(**how)


def page_of(notebook: nbformat.NotebookNode) -> str:
    """HTML of what a notebook shows, its code left out."""
    exporter = HTMLExporter(
        template_name="basic",
        exclude_input=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
    )
    _describe_pictures(notebook)
    content: str = exporter.from_notebook_node(notebook)[0]
    return content


def _describe_pictures(notebook: nbformat.NotebookNode) -> None:
    """Say for those who cannot see it what section a picture without words belongs to."""
    heading = "colony"
    for cell in notebook.cells:
        if cell.cell_type == "markdown" and cell.source.startswith("#"):
            heading = cell.source.lstrip("# ").splitlines()[0]
        for output in cell.get("outputs", []):
            if "image/png" in output.get("data", {}):
                output.setdefault("metadata", {}).setdefault("alt", f"Picture: {heading}")


def _errors() -> object:
    import antgrowth.errors

    return antgrowth.errors
