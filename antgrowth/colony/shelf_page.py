"""One page for many colonies: who moves next, who needs a look, and all of them in one picture."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import matplotlib.pyplot as plt

from antgrowth._core import figures as draw
from antgrowth._core.arguments import PATH, takes
from antgrowth._core.files import as_path, check_replaceable, write_whole
from antgrowth._core.summary import Row, ants
from antgrowth._core.text import counted, day_words
from antgrowth.colony import html as page
from antgrowth.colony.many import ColonyFits, colony_folders, fit_many
from antgrowth.colony.style import is_page, styled
from antgrowth.errors import AntgrowthError

PAGE_FILE = "report.html"

DPI = 150


@takes(folder=PATH)
def write_shelf_report(
    folder: str | os.PathLike[str], *, workers: int | None = None, days: int | None = None
) -> Path:
    """Make one page, report.html in the folder, for all colonies whose folders lie in it.

    Number of workers whose date is told, and days to look ahead, are those of `fit_many` if not
    given.
    """
    home = as_path(folder)
    written = home / PAGE_FILE
    check_replaceable(written, is_page)
    asked = {"workers": workers, "days": days}
    folders = colony_folders(home)
    with ProcessPoolExecutor(min(os.cpu_count() or 1, len(folders) or 1)) as executor:
        colonies = fit_many(
            folders, executor=executor, rng=1, **{k: v for k, v in asked.items() if v is not None}
        )
    if not len(colonies):
        faults = "".join(f"\n  {name}: {why}" for name, why in colonies.failed.items())
        raise AntgrowthError(f"{home}: none of its colonies can be fitted.{faults}")
    number = counted(len(colonies.table), "tube or nest", "tubes and nests")
    title = f"{home.resolve().name}: {number}"
    write_whole(written, styled(title, "".join(_parts(colonies, title))), is_page)
    return written


def _parts(colonies: ColonyFits, title: str) -> Iterator[str]:
    latest = max(kept.fit.counts.end for kept in colonies.kept.values())
    yield f"<h1>{page.mark('title', title)}</h1>"
    yield page.paragraph("finding", colonies.sentence(), "finding")
    yield page.paragraph("as_of", f"Latest note: {day_words(latest)}.", "under")
    yield _picture(colonies)
    rows = [_row(row, colonies) for row in colonies.table.to_dict("records")]
    head = ("colony", "last note", "workers then", f"date of {colonies.awaited} workers",
            "standing", "look")  # fmt: skip
    yield page.table("All colonies", head, rows, "llrlll", "wide")
    yield page.paragraph(
        "condition",
        "Dates are 90 % intervals and hold if the queens live and stay fertile. A colony's own "
        "page (antgrowth report FOLDER) has food, milestones and cautions.",
        "small",
    )


def _row(row: Row, colonies: ColonyFits) -> tuple[str, ...]:
    name = str(row["colony"])
    look = page.mark(f"{name}.look", str(row["look"]))
    kept = colonies.kept.get(name)
    if kept is None:
        return page.mark(f"{name}.name", name), "", "", "", "not fitted", look
    return (
        page.mark(f"{name}.name", name),
        page.mark(f"{name}.last_note", day_words(kept.fit.counts.end)),
        page.mark(f"{name}.workers", ants(kept.workers)),
        page.mark(f"{name}.date", kept.arrival.when(short=True)),
        page.mark(f"{name}.standing", kept.species_rank.verdict),
        look,
    )


def _picture(colonies: ColonyFits) -> str:
    ax = colonies.plot()
    ax.set_title("", loc="left")  # the page has the finding above it
    figure = ax.get_figure(root=True)
    assert figure is not None  # `plot` has just made it
    what = f"When each colony holds {counted(colonies.awaited, 'worker')}, with 90 % intervals"
    image = draw.embedded(figure, what, DPI)
    plt.close(figure)
    return image
