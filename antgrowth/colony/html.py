"""Pieces of HTML that say where each number and sentence comes from.

Whatever the page tells of a colony stands in an element with a `data-of`, the name of what it is,
so that a test (and a reader with doubts) can hold it against the objects it was taken from.
"""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from antgrowth._core.summary import UNSEEN, WHOLE, escaped


@dataclass(frozen=True)
class Section:
    """A part of the page, shown by a notebook as HTML."""

    content: str

    def _repr_html_(self) -> str:
        return f'<div class="part">{self.content}</div>'

    def __repr__(self) -> str:
        return f"Section({len(self.content):,} characters of HTML)"


def mark(of: str, text: str) -> str:
    """A value or a sentence, and the name of what it is; empty if there is nothing to say."""
    whole = WHOLE.sub(r'<span class="whole">\g<0></span>', escaped(text))
    return text and f'<span data-of="{html.escape(of)}">{whole}</span>'


def spread(of: str, middle: str, low: str, high: str) -> str:
    """A most likely value and its range, which is left out where it holds one value only."""
    if low == high:
        return mark(f"{of}.q50", middle)
    ends = f"{mark(f'{of}.q05', low)} to {mark(f'{of}.q95', high)}"
    return f'{mark(f"{of}.q50", middle)} <small class="whole">({ends})</small>'


def paragraph(of: str, text: str, kind: str = "") -> str:
    """A sentence on its own."""
    style = f' class="{kind}"' if kind else ""
    return f"<p{style}>{mark(of, text)}</p>"


def listing(of: str, texts: Iterable[str]) -> str:
    """Sentences of one kind, numbered from 0 in their names."""
    items = (f"<li>{mark(f'{of}.{place}', text)}</li>" for place, text in enumerate(texts))
    return f"<ul>{''.join(items)}</ul>"


def table(
    caption: str, head: Sequence[str], rows: Iterable[Sequence[str]], align: str, look: str = ""
) -> str:
    """A table of cells that are HTML already, with an l or r a column for where it is flush.

    The caption is read out to those who cannot see. A "wide" table stands on a phone as a list.
    """
    kinds = ["" if side == "l" else ' class="number"' for side in align]
    top = "".join(
        f'<th scope="col"{kind}>{escaped(name)}</th>'
        for name, kind in zip(head, kinds, strict=True)
    )
    body = "".join(
        # The name of a column goes with each cell: on a phone a row stands as a list.
        "<tr>"
        + "".join(
            f'<td{kind} data-column="{html.escape(name)}">{cell and f"<span>{cell}</span>"}</td>'
            for cell, name, kind in zip(row, head, kinds, strict=True)
        )
        + "</tr>"
        for row in rows
    )
    style = f' class="{look}"' if look else ""
    unseen = f'<caption style="{UNSEEN}">{escaped(caption)}</caption>'
    return f"<table{style}>{unseen}<thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"
