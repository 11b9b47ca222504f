"""The page of a colony as the cells of a notebook, and what they show when they are run here.

A folder holds them as a notebook, for a keeper to change. As long as it is not changed no kernel is
needed to run them: the page is there in half the time.
"""

from __future__ import annotations

import ast
import html
import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from antgrowth._core import figures as draw
from antgrowth.errors import AntgrowthError
from antgrowth.species.profile import Species

NOTEBOOK_FILE, PAGE_FILE, CALENDAR_FILE = "colony.ipynb", "report.html", "care.ics"

SHARPNESS = 2
"""Pictures are drawn for screens with so many dots a point."""

NOT_RUN = (
    f"This page was made from the data of the folder alone. Its notebook {NOTEBOOK_FILE} was not "
    "run, because it is not the one that antgrowth writes: it was changed, or somebody else wrote "
    "it. A notebook is a program. If you know what it does: antgrowth report FOLDER --run-notebook"
)
"""What a page says that left a notebook aside."""

HERE = "'.'"
"""The folder, as the notebook in it says."""

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


@dataclass
class Cell:
    """A cell of a notebook, named as in the notebook format."""

    cell_type: str  # "markdown" or "code"
    source: str


def usual_cells(ant: Species) -> list[Cell]:
    """The cells of the notebook of a new folder."""
    if not ant.research_only:
        return [Cell(*cell) for cell in CELLS]
    caution = _as_markdown(ant.cautions[0])
    return [Cell(kind, text.replace("{caution}", caution)) for kind, text in RESEARCH_CELLS]


def as_notebook(ant: Species) -> str:
    """The notebook of a new folder, as its file has it: the same each time."""
    cells = []
    for place, cell in enumerate(usual_cells(ant)):
        ran: dict[str, Any] = (
            {"execution_count": None, "outputs": []} if cell.cell_type == "code" else {}
        )
        lines = cell.source.splitlines(keepends=True)
        cells.append(
            {"cell_type": cell.cell_type, "id": f"cell-{place}", "metadata": {}, "source": lines}
            | ran
        )
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    notebook = {
        "cells": cells, "metadata": {"kernelspec": kernel}, "nbformat": 4, "nbformat_minor": 5,
    }  # fmt: skip
    return json.dumps(notebook, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def _as_markdown(text: str) -> str:
    """Words as Markdown that shows them as they are, whatever is in them."""
    return re.sub(r"([\\`*_\[\]<>#$!|&~])", r"\\\1", " ".join(text.split()))


def is_usual(path: Path, ant: Species) -> bool:
    """Whether the notebook of a folder does what the usual one does, and no more."""
    try:
        found = json.loads(path.read_bytes())
        cells = [Cell(cell["cell_type"], "".join(cell["source"])) for cell in found["cells"]]
    except (ValueError, KeyError, TypeError, RecursionError):
        return False
    return cells == usual_cells(ant)


def set_values(cells: Iterable[Any], **values: int | None) -> None:
    """Write other numbers into the lines of cells that set them, such as ``DAYS = 300``."""
    cells = list(cells)
    for name, value in values.items():
        if value is None:
            continue
        line = re.compile(rf"^{name} *=[^#\n]*", flags=re.MULTILINE)
        found = [cell for cell in cells if line.search(cell.source)]
        if not found:
            raise AntgrowthError(
                f"{NOTEBOOK_FILE}: no line sets {name}, so --{name.lower()} {value} would do "
                f"nothing. Write a line {name} = {value}, or leave the option out."
            )
        for cell in found:
            cell.source = line.sub(f"{name} = {value}  ", cell.source)


def shown_for(ant: Species, folder: Path, notebook_left: bool, **values: int | None) -> str:
    """What the usual cells show of a folder, with values as of `set_values`.

    Of a folder that has a notebook of its own, which is not run, the page says so.
    """
    cells = usual_cells(ant)
    set_values(cells, **values)
    home = folder.resolve()
    for cell in cells:
        cell.source = cell.source.replace(f"load_colony({HERE})", f"load_colony({str(home)!r})")
        cell.source = cell.source.replace(f"'{CALENDAR_FILE}'", repr(str(home / CALENDAR_FILE)))
    if notebook_left:
        cells.insert(1, Cell("markdown", f"> {NOT_RUN}"))
    return shown(cells)


def shown(cells: Sequence[Cell]) -> str:
    """Run the usual cells one after the other; what they show, as HTML."""
    names: dict[str, Any] = {}
    parts = (_shown(cell, names) for cell in cells)
    return "\n".join(f'<div class="cell">\n{part}\n</div>' for part in parts if part)


def _shown(cell: Cell, names: dict[str, Any]) -> str:
    import matplotlib.pyplot as plt

    if cell.cell_type == "markdown":
        return _prose(cell.source)
    before = set(plt.get_fignums())
    value = _run(cell.source, names)
    drawn = [plt.figure(number) for number in plt.get_fignums() if number not in before]
    parts = [] if value is None else [_as_html(value)]
    for figure in drawn:
        dots = int(SHARPNESS * figure.dpi)
        parts.append(draw.embedded(figure, draw.in_words(figure), dots, tight=True))
        plt.close(figure)
    return "\n".join(parts)


def _run(source: str, names: dict[str, Any]) -> Any:
    """Run code of this package; the value of the last line, if it is to be shown."""
    lines = (line for line in source.splitlines() if not line.startswith("%"))
    program = ast.parse("\n".join(lines))
    last = program.body[-1]
    if isinstance(last, ast.Expr):
        program.body.pop()
    exec(compile(program, NOTEBOOK_FILE, "exec"), names)
    if not isinstance(last, ast.Expr):
        return None
    value = eval(compile(ast.Expression(last.value), NOTEBOOK_FILE, "eval"), names)
    return None if source.endswith(";") else value


def _as_html(value: Any) -> str:
    """A value as a notebook would show it."""
    if hasattr(value, "_repr_html_"):
        return str(value._repr_html_())
    return f"<pre>{html.escape(repr(value))}</pre>"


def _prose(text: str) -> str:
    """Markdown of the usual cells as HTML: headings, paragraphs, and words set apart."""
    parts = []
    for block in text.split("\n\n"):
        marks, _, words = block.partition(" ")
        if block.startswith("<!--"):
            continue
        level = len(marks) if set(marks) == {"#"} else 0
        plain = words if level or marks == ">" else block
        told = html.escape(re.sub(r"\\(.)", r"\1", plain))
        if level:
            parts.append(f"<h{level}>{told}</h{level}>")
        else:
            around = "blockquote" if marks == ">" else "p"
            parts.append(f"<{around}>{told}</{around}>")
    return "\n".join(parts)
