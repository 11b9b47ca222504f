"""Write a species profile as TOML text, its numbers as lines in braces, as a keeper would."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from antgrowth._core.arguments import PATH, takes
from antgrowth._core.files import write_new
from antgrowth.errors import SpeciesError

APART = ("native", "milestones", "sources")
"""Tables that stand after all numbers, for they are of another kind."""


def as_toml(table: Mapping[str, Any], opening: str) -> str:
    """Write a profile, as `Species.to_mapping` gives it, below a comment."""
    lines = [f"# {line}".rstrip() for line in opening.splitlines()]
    numbers = {key: found for key, found in table.items() if key not in APART}
    lines += ["", *_table_lines(numbers, ())]
    for key in APART:
        found = table.get(key)
        if isinstance(found, Mapping) and found:
            lines += _table_lines({key: found}, ())
        for entry in found if isinstance(found, list) else ():
            lines += ["", f"[[{key}]]", *(f"{_key(k)} = {_value(v)}" for k, v in entry.items())]
    return "\n".join(lines) + "\n"


@takes(path=PATH)
def save_profile(path: str | os.PathLike[str], text: str) -> Path:
    """Write the text of a profile to a new .toml file."""
    path = Path(path)
    if path.suffix != ".toml":
        raise SpeciesError(f"{path}: a profile is a .toml file. Give such a name.")
    if path.exists():
        raise SpeciesError(
            f"{path}: there is such a file, and it may hold your notes. Give another name, or "
            "remove it first."
        )
    write_new({path: text})
    return path


def as_toml_text(text: str) -> str:
    """Write a text as TOML has it, in quotes."""
    # JSON escapes all that TOML wants escaped, but for one control character.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _table_lines(table: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    """Plain keys and numbers of a table first, then the tables in it."""
    inner = {key: v for key, v in table.items() if isinstance(v, Mapping) and "value" not in v}
    plain = {key: v for key, v in table.items() if key not in inner}
    if path and plain:
        yield from ("", f"[{'.'.join(map(_key, path))}]")
    for key, found in plain.items():
        yield f"{_key(key)} = {_value(found)}"
    for key, found in inner.items():
        yield from _table_lines(found, (*path, key))


def _value(found: Any) -> str:
    if isinstance(found, bool):
        return str(found).lower()
    if isinstance(found, str):
        return as_toml_text(found)
    if isinstance(found, Mapping):
        return f"{{ {', '.join(f'{_key(key)} = {_value(v)}' for key, v in found.items())} }}"
    if isinstance(found, list | tuple):
        items = [_value(item) for item in found]
        if sum(map(len, items)) <= 80:
            return f"[{', '.join(items)}]"
        return "[\n" + "".join(f"    {item},\n" for item in items) + "]"
    return repr(found)


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)
