"""The report of a colony folder: one page and a calendar, made by running a notebook on it."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from antgrowth.colony.folder import load_colony
from antgrowth.colony.page import Page

__all__ = ["Page", "Written", "write_report"]


@dataclass(frozen=True)
class Written:
    """Files that `write_report` has written.

    Attributes
    ----------
    page : Path
    calendar : Path or None
        None if the notebook made none: there is none for a species for research only.
    """

    page: Path
    calendar: Path | None


def write_report(
    folder: str | os.PathLike[str], *, workers: int | None = None, days: int | None = None
) -> Written:
    """Run the notebook of a colony folder and make a page of what it shows.

    Parameters
    ----------
    folder : str or path
        As `antgrowth.load_colony` reads it. Its colony.ipynb is run if there is one, else the
        notebook that `antgrowth new` writes.
    workers, days : int, optional
        In place of what the notebook's lines ``WORKERS = ...`` and ``DAYS = ...`` say, in this run.

    Returns
    -------
    Written
        report.html, which needs no other file, and care.ics, both in the folder.

    Raises
    ------
    AntgrowthError
        If the folder or its notebook cannot be read as it stands, or a cell of the notebook fails.
    """
    from antgrowth.colony import notebook as run

    home = Path(folder).expanduser()
    colony = load_colony(home)  # its faults are told at once, and not from inside a notebook
    own = home / run.NOTEBOOK_FILE
    chosen = run.own_notebook(own) if own.is_file() else run.usual_notebook(colony.species)
    chosen = run.with_values(chosen, WORKERS=workers, DAYS=days)
    page, calendar = home / run.PAGE_FILE, home / run.CALENDAR_FILE
    before = _stamp(calendar)
    page.write_text(run.page_of(run.ran(chosen, home), colony.name), encoding="utf-8")
    return Written(page, calendar if _stamp(calendar) != before else None)


def _stamp(path: Path) -> int | None:
    """When a file was last written; None if there is none. [ns]"""
    return path.stat().st_mtime_ns if path.exists() else None
