"""How results print: one report, shown as plain text or as HTML.

A report is a title, facts, one table and closing facts. Both forms are made from it, so a notebook
and a terminal never disagree. HTML brings no colours and no script: it looks as its page does.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import Any, ParamSpec

import numpy as np

Facts = tuple[tuple[str, str], ...]

P = ParamSpec("P")

Row = Mapping[Hashable, Any]
"""A row of a table by column, as `DataFrame.to_dict("records")` gives it."""

GAP = "  "

UNSEEN = "position:absolute;clip-path:inset(50%);width:1px;height:1px;overflow:hidden"
"""Read out to those who cannot see, to whom a table without a caption is one of many."""

WHOLE = re.compile(r"\d{4}-\d{2}-\d{2}|\d[\d.,]* (?:%|°C|µL|mL|mg|g|workers?)(?!\w)")
"""What no line is broken in: a date, a number with its unit."""


@dataclass(frozen=True)
class Report:
    """What a result says of itself."""

    title: str
    facts: Facts  # before the table
    head: tuple[str, ...] = ()  # names of the columns
    align: str = ""  # a letter for each column: l is flush left, r flush right
    rows: tuple[tuple[str, ...], ...] = ()  # cells of the table; without rows there is no table
    closing: Facts = ()  # after the table
    warning: str = ""  # what must be read first; empty if nothing
    # What the table is called where HTML shows it only when asked for; empty if always.
    folded: str = ""

    def as_text(self) -> str:
        """Plain text, one line a fact or row."""
        wide = max(len(label) for label, _ in (*self.facts, *self.closing))
        lines = [self.warning] if self.warning else []
        lines += [self.title, *(f"{label:<{wide}}{GAP}{text}" for label, text in self.facts)]
        lines += self._table_lines()
        lines += [f"{label:<{wide}}{GAP}{text}" for label, text in self.closing]
        return "\n".join(lines)

    def as_html(self) -> str:
        """HTML of the same report."""
        warning = f"<p><strong>{escaped(self.warning)}</strong></p>" if self.warning else ""
        table = ""
        if self.rows:
            table = html_table(self.head, self.rows, self.align, self.title)
        if table and self.folded:
            table = f"<details><summary>{escaped(self.folded)}</summary>{table}</details>"
        return (
            f"<div>{warning}{_facts_html(self.facts, self.title)}{table}"
            f"{_facts_html(self.closing)}</div>"
        )

    def _table_lines(self) -> Iterator[str]:
        table = [self.head, *self.rows] if self.rows else []
        widths = [max(map(len, column)) for column in zip(*table, strict=True)]
        for row in table:
            cells = (
                cell.rjust(width) if side == "r" else cell.ljust(width)
                for cell, width, side in zip(row, widths, self.align, strict=True)
            )
            yield GAP.join(cells).rstrip()


class Shown:
    """A result that shows itself by one report: as text where printed, as HTML in a notebook."""

    def _report(self) -> Report:
        raise NotImplementedError

    def summary(self) -> str:
        """Report in plain text: what was found, what it rests on, and what to take care of."""
        return self._report().as_text()

    def __str__(self) -> str:
        return self._report().as_text()

    def _repr_html_(self) -> str:
        return self._report().as_html()


def html_table(head: Sequence[str], rows: Iterable[Sequence[str]], align: str, caption: str) -> str:
    """A table of plain texts, with an l or r a column for where it is flush."""

    def line(tag: str, row: Sequence[str]) -> str:
        cells = (_html_cell(tag, cell, side) for cell, side in zip(row, align, strict=True))
        return f"<tr>{''.join(cells)}</tr>"

    body = "".join(line("td", row) for row in rows)
    unseen = f'<caption style="{UNSEEN}">{escaped(caption)}</caption>'
    table = f"<table>{unseen}<thead>{line('th', head)}</thead><tbody>{body}</tbody></table>"
    # What is wider than the page is moved within it, and nothing is cut off.
    return f'<div style="overflow-x:auto">{table}</div>'


def _facts_html(facts: Facts, title: str = "") -> str:
    rows = "".join(
        f"<tr>{_html_cell('th', label, 'l', 'row')}{_html_cell('td', text, 'l')}</tr>"
        for label, text in facts
    )
    head = f"<strong>{escaped(title)}</strong>" if title else ""
    if not rows:
        return head
    if title:
        head = f'<caption style="caption-side:top;text-align:left">{head}</caption>'
    return f"<table>{head}<tbody>{rows}</tbody></table>"


def _html_cell(tag: str, text: str, side: str, scope: str = "col") -> str:
    place = "right" if side == "r" else "left"
    heads = f' scope="{scope}"' if tag == "th" else ""
    return f'<{tag}{heads} style="text-align:{place}">{unbroken(escaped(text))}</{tag}>'


def unbroken(escaped: str) -> str:
    """Keep dates and numbers with their units on one line."""
    return WHOLE.sub(r'<span style="white-space:nowrap">\g<0></span>', escaped)


class Sentence(str):
    """A finding in words: text as any other, and in a notebook a line that breaks between words."""

    def _repr_html_(self) -> str:
        return f"<div>{unbroken(escaped(self))}</div>"


def in_words(method: Callable[P, str]) -> Callable[P, Sentence]:
    """Let a method that tells a finding return a `Sentence`."""

    @wraps(method)
    def told(*args: P.args, **keywords: P.kwargs) -> Sentence:
        return Sentence(method(*args, **keywords))

    return told


def escaped(text: str) -> str:
    """Escape for HTML; a `$` on its own in a span is not taken for the start of a formula.

    For what stands between tags. Inside an attribute nobody looks for formulas, and `html.escape`
    of the standard library serves.
    """
    return html.escape(text).replace("$", "<span>&#36;</span>")


def rounded(median: float, low: float, high: float) -> tuple[str, str, str]:
    """Write a value and its interval with the digits that mean something.

    Two digits of the interval's width; of the value where all is above zero and it is smaller.

    Examples
    --------
    >>> rounded(6.891, 4.620, 10.278), rounded(299.98, 143.1, 628.9)
    (('6.9', '4.6', '10.3'), ('300', '140', '630'))
    """
    size = min(high - low, median) if low > 0 else high - low
    decimals = 1 - int(np.floor(np.log10(size))) if size > 1e-9 else 2
    # adding 0.0 turns -0.0 into 0.0
    low, median, high = (round(value, decimals) + 0.0 for value in (low, median, high))
    shown = f",.{max(decimals, 0)}f"
    return f"{median:{shown}}", f"{low:{shown}}", f"{high:{shown}}"


def ants(number: float) -> str:
    """Write a number of ants: whole, and of hundreds and more two digits."""
    return f"{float(f'{number:.2g}') if number >= 100 else number:,.0f}"


def short(number: float) -> str:
    """Write a number with two digits that mean something.

    Examples
    --------
    >>> short(1234.0), short(0.01234)
    ('1,200', '0.012')
    """
    return f"{float(f'{number:.2g}'):,g}"


def share_words(share: float) -> str:
    """Write a chance in whole percent, and never 0 or 100 % where it is only close.

    Examples
    --------
    >>> share_words(0.123), share_words(0.001), share_words(0.0)
    ('12 %', 'under 1 %', 'under 1 %')
    """
    if share < 0.005:
        return "under 1 %"  # none of some hundred draws is not never
    return "over 99 %" if share > 0.995 else f"{100 * share:.0f} %"
