"""Pieces of HTML that say where each number and sentence comes from.

Whatever the page tells of a colony stands in an element with a `data-of`, the name of what it is,
so that a test (and a reader with doubts) can hold it against the objects it was taken from.
"""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

__all__ = ["Section", "listing", "mark", "paragraph", "table"]


@dataclass(frozen=True)
class Section:
    """A part of the page, shown by a notebook as HTML."""

    content: str

    def _repr_html_(self) -> str:
        return f'<div class="part">{self.content}</div>'

    def __repr__(self) -> str:
        return f"Section({len(self.content):,} characters of HTML)"


def mark(of: str, text: str) -> str:
    """A value or a sentence, and the name of what it is."""
    return f'<span data-of="{_safe(of)}">{_safe(text)}</span>'


def paragraph(of: str, text: str, kind: str = "") -> str:
    """A sentence on its own."""
    style = f' class="{kind}"' if kind else ""
    return f"<p{style}>{mark(of, text)}</p>"


def listing(of: str, texts: Iterable[str]) -> str:
    """Sentences of one kind, numbered from 0 in their names."""
    items = (f"<li>{mark(f'{of}.{place}', text)}</li>" for place, text in enumerate(texts))
    return f"<ul>{''.join(items)}</ul>"


def table(head: Sequence[str], rows: Iterable[Sequence[str]], numbers: int) -> str:
    """A table of cells that are HTML already; its last `numbers` columns are flush right."""
    plain = len(head) - numbers
    kinds = ["" if place < plain else ' class="number"' for place in range(len(head))]
    top = "".join(f"<th{kind}>{_safe(name)}</th>" for name, kind in zip(head, kinds, strict=True))
    body = "".join(
        # The name of a column goes with each cell: on a phone a row stands as a list.
        "<tr>"
        + "".join(
            f'<td{kind} data-column="{_safe(name)}">{cell and f"<span>{cell}</span>"}</td>'
            for cell, name, kind in zip(row, head, kinds, strict=True)
        )
        + "</tr>"
        for row in rows
    )
    return f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def _safe(text: str) -> str:
    return html.escape(text, quote=True).replace("$", "&#36;")
