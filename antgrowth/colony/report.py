"""The report of a colony folder: one page and a calendar, made by the cells of its notebook."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from antgrowth._core.arguments import FLAG, PATH, takes
from antgrowth._core.files import as_path, check_replaceable, write_whole
from antgrowth.colony.cells import (
    CALENDAR_FILE,
    NOTEBOOK_FILE,
    PAGE_FILE,
    is_usual,
    set_values,
    shown_for,
)
from antgrowth.colony.folder import load_colony
from antgrowth.colony.page import Page as Page, look_ahead as look_ahead  # notebooks' imports
from antgrowth.colony.style import is_page, styled


@dataclass(frozen=True)
class Written:
    """Files that `write_report` has written."""

    page: Path
    # None if the notebook made none: there is none for a species for research only.
    calendar: Path | None
    notebook_left: bool = False  # whether the folder's own notebook was not run


@takes(folder=PATH, run_notebook=FLAG)
def write_report(
    folder: str | os.PathLike[str],
    run_notebook: bool = False,
    *,
    workers: int | None = None,
    days: int | None = None,
) -> Written:
    """Make the page of a colony folder, and its calendar.

    With `run_notebook` its colony.ipynb is run, whatever is in it. Otherwise it is the notebook
    that `antgrowth new` writes: the folder's own is a program, and may be somebody else's. Workers
    and days stand in place of what the lines ``WORKERS = ...`` and ``DAYS = ...`` say, in this run.

    Written are report.html, which needs no other file, and care.ics, both in the folder; a page
    that is there is replaced whole, if it was written so before. If the folder or its notebook
    cannot be read as it stands, a cell fails, or a page cannot be written, an `AntgrowthError` says
    so.
    """
    home = as_path(folder)
    colony = load_colony(home)  # its faults are told at once, and not from inside a notebook
    own = home / NOTEBOOK_FILE
    page, calendar = home / PAGE_FILE, home / CALENDAR_FILE
    before = _stamp(calendar)
    check_replaceable(page, is_page)
    left = False
    if own.is_file() and run_notebook:
        # Loaded here: it takes longer to load than the usual page to be made.
        from antgrowth.colony import notebook as run

        chosen = run.own_notebook(own)
        set_values(chosen.cells, WORKERS=workers, DAYS=days)
        content = run.page_of(run.ran(chosen, home))
    else:
        left = own.is_file() and not is_usual(own, colony.species)
        content = shown_for(colony.species, home, left, WORKERS=workers, DAYS=days)
    write_whole(page, styled(colony.name, content), is_page)
    return Written(page, calendar if _stamp(calendar) != before else None, left)


def _stamp(path: Path) -> int | None:
    """When a file was last written; None if there is none. [ns]"""
    return path.stat().st_mtime_ns if path.exists() else None
