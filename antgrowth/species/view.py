"""How a species profile shows itself: the same table as plain text and as HTML."""

from __future__ import annotations

import textwrap
from collections import Counter
from typing import TYPE_CHECKING

from antgrowth._core.summary import escaped, html_table
from antgrowth.species.parameters import PARAMETERS, QUEENS_CARE, QUEENS_POWER, STATUSES

if TYPE_CHECKING:
    from antgrowth.species.profile import Species

HEAD = ("parameter", "unit", "value", "90% range", "status", "source")

HARMFUL = ("limits", "rest", "season")
"""Tables whose guesses can kill ants or cost a winter; they are listed first."""

WIDTH = 100
"""Of a line of text."""


def as_text(ant: Species) -> str:
    """Describe a profile in plain text: the ant, its numbers, cautions, sources."""
    table = [HEAD, *_rows(ant)]
    widths = [max(map(len, column)) for column in zip(*table, strict=True)]
    lines = [f"Species: {_title(ant)}"]
    lines += [f"{label:<10}{text}" for label, text in _facts(ant)]
    lines.append("")
    for row in table:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        lines.append("  ".join(cells).rstrip())
    lines += ["", "cautions", *(_hanging(f"- {caution}") for caution in ant.cautions)]
    if ant.sources:
        cited = (_hanging(f"{key}: {text}") for key, text in ant.sources.items())
        lines += ["", "sources", *cited]
    guesses = _still_assumed(ant)
    if guesses:
        count = sum(number.status == "assumed" for number in ant.numbers.values())
        lines += [
            "",
            f"still assumed: {count} of {len(ant.numbers)} numbers, those that can do harm first",
            *(_hanging(f"- {guess}") for guess in guesses),
        ]
    return "\n".join(lines)


def as_html(ant: Species) -> str:
    """Describe a profile in HTML: the facts and cautions open, the numbers folded."""
    facts = "<br>".join(f"{escaped(label)}: {escaped(text)}" for label, text in _facts(ant))
    numbers = html_table(HEAD, _rows(ant), "llllll", f"Numbers of {_title(ant)}")
    sources = _listed([f"{key}: {text}" for key, text in ant.sources.items()])
    guesses = _listed(_still_assumed(ant))
    return (
        f"<div><b>{escaped(_title(ant))}</b><br>{facts}"
        f"<p><b>Cautions</b></p>{_listed(list(ant.cautions))}"
        f"<details><summary>All numbers and their evidence</summary>{numbers}{sources}"
        f"<p>Still assumed, those that can do harm first:</p>{guesses}"
        "</details></div>"
    )


def _title(ant: Species) -> str:
    return f"{ant.scientific_name} ({ant.common_name})   profile {ant.name}"


def _facts(ant: Species) -> list[tuple[str, str]]:
    rest = ant.rest
    pause = "no rest needed"
    if rest.needed:
        pause = f"rest {rest.start} to {rest.end} near {rest.temperature_c:g} °C (north)"
    tally = Counter(number.status for number in ant.numbers.values())
    counted = ", ".join(f"{tally[status]} {status}" for status in STATUSES if tally[status])
    facts = [
        ("founding", f"{ant.founding}; {ant.climate}; {ant.brood}; {pause}"),
        ("season", season_words(ant)),
        ("evidence", f"{ant.grade}: of {len(ant.numbers)} numbers {counted}"),
    ]
    if ant.research_only:
        facts.append(("use", "research only: not an ant to keep at home"))
    return facts


def season_words(ant: Species) -> str:
    """When rearing ends, and how far that is known."""
    season = ant.season
    if season.ended_by is None:
        return f"never ends where it is warm enough; {season.basis}"
    told, status = ant.value(season.ended_by), ant[season.ended_by].status
    if season.kind == "endogenous":
        when = f"ends on a timer, {told:.0f} d after a rest or after {season.spring} (north)"
    else:
        when = f"ends when ten days are cooler than {told:g} °C on average"
    return f"{when}, {status}; that it does so: {season.basis}"


def _rows(ant: Species) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for path, number in ant.numbers.items():
        low, high = PARAMETERS[path].interval(number)
        reach = f"{low:.3g} to {high:.3g}" if number.spread else "held"
        value = f"{number.value:.4g}"
        rows.append((path, number.unit, value, reach, number.status, number.source))
    return rows


def _still_assumed(ant: Species) -> list[str]:
    """What nobody has measured of this ant, a line a table, with what each guess rests on."""
    tables: dict[str, list[str]] = {}
    for path, number in ant.numbers.items():
        if number.status == "assumed":
            table, _, name = path.partition(".")
            unit = "" if number.unit == "1" else f" {number.unit}"
            tables.setdefault(table, []).append(f"{name} {number.value:.4g}{unit}")
    if ant.season.status == "assumed":
        tables.setdefault("season", []).insert(0, f"kind {ant.season.kind}")
    if ant.founding != "dependent" and QUEENS_CARE not in ant:
        power = f"lay and rear as much as one times their number to the power {QUEENS_POWER:g}"
        tables["several queens"] = [power]
    order = sorted(tables, key=lambda table: (table not in HARMFUL, list(tables).index(table)))
    return [f"{table}: {', '.join(tables[table])}" for table in order]


def _hanging(text: str) -> str:
    """Break a long text into lines, all but the first set in."""
    return textwrap.fill(text, WIDTH, subsequent_indent="  ", break_on_hyphens=False,
                         break_long_words=False)  # fmt: skip


def _listed(items: list[str]) -> str:
    return "<ul>" + "".join(f"<li>{escaped(item)}</li>" for item in items) + "</ul>"
