"""The notebook that makes the page of a colony: written for a keeper to change, and run.

A folder may come from somebody else. Code of a notebook in it is run only if it is asked for; the
usual notebook runs outside the folder, where no file of it can pass for a module.
"""

from __future__ import annotations

import asyncio
import os
import re
import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError
from nbconvert import HTMLExporter

from antgrowth.colony.style import styled
from antgrowth.errors import AntgrowthError
from antgrowth.species.profile import Species

NOTEBOOK_FILE, PAGE_FILE, CALENDAR_FILE = "colony.ipynb", "report.html", "care.ics"

LIMIT_SECONDS = 300
"""Longest that one cell may take. [s]"""

# What nbformat raises depends on how far it comes: no JSON, no notebook, or one without its parts.
UNREADABLE = (ValueError, KeyError, AttributeError, TypeError, nbformat.ValidationError)

NOT_RUN = (
    f"This page was made from the data of the folder alone. Its notebook {NOTEBOOK_FILE} was not "
    "run, because it is not the one that antgrowth writes: it was changed, or somebody else wrote "
    "it. A notebook is a program. If you know what it does: antgrowth report FOLDER --run-notebook"
)
"""What a page says that left a notebook aside."""

HERE = "'.'"
"""The folder, as the notebook in it says."""

INLINE = {"MPLBACKEND": "module://matplotlib_inline.backend_inline", "TQDM_DISABLE": "1"}
"""Pictures belong into the page, whatever backend the caller draws with."""

CELLS = (
    ("markdown", "<!-- `antgrowth report` runs this notebook and makes report.html of what it "
                 "shows. Change it as you like: then it is run if you say --run-notebook. -->"),
    ("code", "%config InlineBackend.figure_formats = ['retina']\n"
             "import antgrowth as ag\n"
             "from antgrowth.colony.report import Page, look_ahead\n\n"
             "WORKERS = None  # how many you wait for; None: the next of 30, 100, 300, 1000 ...\n"
             "DAYS = 300  # how far to look ahead, at least"),
    ("code", "colony = ag.load_colony('.')\n"
             "fit = colony.fit(rng=1)\n"
             "ahead = look_ahead(fit, DAYS, WORKERS)\n"
             "plan = colony.care_plan(ahead)\n"
             f"plan.to_ics('{CALENDAR_FILE}')\n"
             "page = Page(plan, WORKERS)"),
    ("code", "page.title"),
    ("markdown", "## Today"),
    ("code", "page.today"),
    ("markdown", "## Forecast"),
    ("code", "page.forecast"),
    ("code", "ahead.plot(page.awaited, ax=page.axes());"),
    ("markdown", "## Milestones"),
    ("code", "page.milestones"),
    ("code", "plan.plot();"),
    ("markdown", "## Food, next four weeks"),
    ("code", "page.food"),
    ("markdown", "## Alerts"),
    ("code", "page.alerts"),
    ("markdown", "## Model notes"),
    ("code", "page.notes"),
    ("markdown", "## Cautions"),
    ("code", "page.cautions"),
)  # fmt: skip


RESEARCH_CELLS = (
    ("markdown", "# Growth of a colony for research\n\n{caution}"),
    ("code", "%config InlineBackend.figure_formats = ['retina']\n"
             "import antgrowth as ag\n\n"
             "WORKERS = 30  # how many you wait for\n"
             "DAYS = 300  # how far to look ahead, at least"),
    ("code", "colony = ag.load_colony('.')\n"
             "fit = colony.fit(rng=1)\n"
             "ahead = fit.forecast(days=DAYS, workers=WORKERS, rng=1)"),
    ("markdown", "## What was read"),
    ("code", "colony"),
    ("markdown", "## Forecast"),
    ("code", "ahead.arrival(WORKERS)"),
    ("code", "ahead.plot(WORKERS);"),
    ("markdown", "## Fit"),
    ("code", "fit"),
    ("markdown", "## Alerts"),
    ("code", "fit.alerts()"),
)  # fmt: skip
"""For an ant that is not to be kept at home: no plan of care, no food."""


def usual_notebook(ant: Species) -> nbformat.NotebookNode:
    """The notebook of a new folder."""
    cells_of_page: tuple[tuple[str, str], ...] = CELLS
    if ant.research_only:
        cells_of_page = tuple(
            (kind, source.replace("{caution}", _as_markdown(ant.cautions[0])))
            for kind, source in RESEARCH_CELLS
        )
    make: dict[str, Callable[[str], nbformat.NotebookNode]] = {
        "markdown": nbformat.v4.new_markdown_cell,
        "code": nbformat.v4.new_code_cell,
    }
    cells = [make[kind](source) for kind, source in cells_of_page]
    for place, cell in enumerate(cells):
        cell["id"] = f"cell-{place}"  # the same file each time
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    made: nbformat.NotebookNode = nbformat.v4.new_notebook(
        cells=cells, metadata={"kernelspec": kernel}
    )
    return made


def _as_markdown(text: str) -> str:
    """Words as Markdown that shows them as they are, whatever is in them."""
    return re.sub(r"([\\`*_\[\]<>#$!|&~])", r"\\\1", " ".join(text.split()))


def is_usual(path: Path, ant: Species) -> bool:
    """Whether the notebook of a folder does what the usual one does, and no more."""
    try:
        found = own_notebook(path)
        cells = [(cell.cell_type, cell.source) for cell in found.cells]
    except (AntgrowthError, *UNREADABLE):
        return False
    return cells == [(cell.cell_type, cell.source) for cell in usual_notebook(ant).cells]


def ran_for(
    ant: Species, folder: Path, notebook_left: bool, **values: int | None
) -> nbformat.NotebookNode:
    """Run the usual notebook for a folder, from an empty one, with values as of `with_values`.

    Of a folder that has a notebook of its own, which is not run, the page says so.
    """
    notebook = with_values(usual_notebook(ant), **values)
    home = folder.resolve()
    for cell in notebook.cells:
        cell.source = cell.source.replace(f"load_colony({HERE})", f"load_colony({str(home)!r})")
        cell.source = cell.source.replace(f"'{CALENDAR_FILE}'", repr(str(home / CALENDAR_FILE)))
    if notebook_left:
        notebook.cells.insert(1, nbformat.v4.new_markdown_cell(f"> {NOT_RUN}"))
    with tempfile.TemporaryDirectory(prefix="antgrowth-") as empty:
        return ran(notebook, Path(empty))


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


def with_values(notebook: nbformat.NotebookNode, **values: int | None) -> nbformat.NotebookNode:
    """The same notebook with other numbers in the lines that set them, such as ``DAYS = 300``."""
    for name, value in values.items():
        if value is None:
            continue
        line = re.compile(rf"^{name} *=[^#\n]*", flags=re.MULTILINE)
        found = [cell for cell in notebook.cells if line.search(cell.source)]
        if not found:
            raise AntgrowthError(
                f"{NOTEBOOK_FILE}: no line sets {name}, so --{name.lower()} {value} would do "
                f"nothing. Write a line {name} = {value}, or leave the option out."
            )
        for cell in found:
            cell.source = line.sub(f"{name} = {value}  ", cell.source)
    return notebook


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


def page_of(notebook: nbformat.NotebookNode, title: str) -> str:
    """Make one page of what a notebook shows, its code left out."""
    exporter = HTMLExporter(
        template_name="basic",
        exclude_input=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
    )
    _describe_pictures(notebook)
    content, _ = exporter.from_notebook_node(notebook)
    return styled(title, content)


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
