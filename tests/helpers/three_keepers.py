"""Three keepers who do what the files of a new folder say, and no more; all of it invented."""

from __future__ import annotations

from pathlib import Path

from antgrowth.cli import main

FIRST_SIGHTINGS = """\
2026-07-10,first,,,,
2026-07-24,,first,,,
2026-08-09,,,first,,
2026-08-30,,,,first,she carries them about
"""

BOUGHT = """\
2026-08-15,,~20,~15,15,as they came
2026-08-29,,~25,~12,19,
2026-09-12,,30+,15-20,26,they wove the first leaf
"""

SECOND_YEAR = """\
2025-07-16,first,,,,
2025-08-01,14,first,,,
2025-08-22,,8,6,,
2025-09-05,,,5,first,
2025-09-28,5-10,9,,7,
2025-10-14,0,10,,8,into the cellar
2026-03-02,0,9,0,7,woken
2026-03-28,~20,8,2,7,
2026-04-25,,14,8,7,
2026-05-16,25,~20,28,11,
2026-06-06,30+,,12,29,
2026-06-27,,~30,15,33,
2026-07-18,,,~20,41,
"""

CHANGES = """\
2026-05-10,pupae,+20,adopted
2026-06-20,workers,-4,escaped
2026-07-01,workers,2,found_dead
"""


def lone_queen(home: Path) -> Path:
    """A queen of Lasius niger, of whom only first sightings were noted."""
    return _new(home / "lone queen", "lasius-niger", FIRST_SIGHTINGS, since="2026-07-06")


def bought_weavers(home: Path) -> Path:
    """Weaver ants bought with 15 workers: no founding, no logger."""
    folder = _new(home / "weavers", "oecophylla-smaragdina", "", since=None)
    for name, unwanted in (("colony.toml", "queen_since = "), ("counts.csv", "the queen sits")):
        path = folder / name
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        path.write_text("".join(line for line in lines if unwanted not in line), encoding="utf-8")
    _add(folder / "counts.csv", BOUGHT)
    return folder


def second_year(home: Path) -> Path:
    """Lasius niger in her second year: a winter, pupae adopted, workers lost."""
    folder = _new(home / "second year", "lasius-niger", SECOND_YEAR, since="2025-07-10")
    _add(folder / "changes.csv", CHANGES)
    return folder


def _new(folder: Path, species: str, rows: str, since: str | None) -> Path:
    given = [] if since is None else ["--queen-since", since]
    assert main(["new", str(folder), "--species", species, "--country", "DE", *given]) == 0
    _add(folder / "counts.csv", rows)
    return folder


def _add(path: Path, rows: str) -> None:
    with path.open("a", encoding="utf-8") as file:
        file.write(rows)
