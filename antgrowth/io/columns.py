"""Find the columns of a table whose names are settled beforehand."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping

from antgrowth.io.tables import Sheet, shown


def named_columns(
    sheet: Sheet,
    known: Collection[str],
    known_are: str,
    needed: Collection[str],
    optional: Collection[str] = (),
    remarks: Mapping[str, str] | None = None,
) -> dict[str, int]:
    """Map the known column names to their positions; a misspelt one is a fault, but is read.

    Misspelt, doubled and missing names are added to the sheet's faults; without a `needed` one no
    row can be read, and a `LogError` says so. Messages list the known names as `known_are`, and
    `remarks` say more of a missing one.
    """
    columns: dict[str, int] = {}
    names = [name.lower() for name in sheet.header]
    faults = []
    for position, name in enumerate(names):
        if name in columns:
            faults.append(f"there are two columns {name}. Merge them, or rename one.")
        elif name in known:
            columns[name] = position
    for name in [name for name in known if name not in columns]:
        near = difflib.get_close_matches(name, names, n=1, cutoff=0.75)
        if near:
            columns[name] = names.index(near[0])
            faults.append(
                f"column {shown(sheet.header[columns[name]])} is not known. Did you mean {name}? "
                f"Then write that; else choose a name less like it. Known are {known_are}."
            )
        elif name not in optional:
            found = ", ".join(shown(name) for name in sheet.header if name)
            more = (remarks or {}).get(name, "")
            faults.append(f"no column {name} among {found}. Name the columns {known_are}.{more}")
    for fault in faults:
        sheet.faults.add(sheet.header_row, fault)
    if not columns.keys() >= set(needed):
        sheet.faults.raise_all()
    return columns
