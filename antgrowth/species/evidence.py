"""What a profile may say of how a value is known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from antgrowth._core.text import near_miss, told
from antgrowth.species.parameters import STATUSES

UNSOURCED = {"assumed": "assumption", "common practice": "common practice"}
"""Statuses that have no publication behind them, and what their `source` must then say."""

OWN_COUNTS = "own counts"
"""The source of what a keeper measured; only for a keeper's own file."""


def status_fault(status: Any) -> str:
    """What is wrong with a status; empty if nothing is."""
    if status in STATUSES:
        return ""
    return (
        f"Allowed: {', '.join(STATUSES)}.{near_miss(str(status), STATUSES)} "
        "Say how the value is known."
    )


def source_fault(source: Any, status: str, keys: set[str], own: bool) -> str:
    """What is wrong with a source beside a sound status; empty if nothing is.

    `keys` are citations known; a keeper's `own` file may cite "own counts".
    """
    if not isinstance(source, str) or not source.strip():
        return "Allowed: a source key in quotes. Say where the value comes from."
    if status in UNSOURCED:
        if source != UNSOURCED[status]:
            return (
                f'Allowed for a number that is {status}: "{UNSOURCED[status]}". If a publication '
                "supports it, say so with another status, or in the note."
            )
        return ""
    if source in UNSOURCED.values():
        return f"That goes with another status than {told(status)}. Make source and status agree."
    if source == OWN_COUNTS:
        if not own:
            return "Shipped profiles rest on publications. Cite one."
        if status not in ("read", "pooled"):
            return 'It goes with status = "read" or "pooled". Correct the status.'
        return ""
    strange = [key for key in source.split(", ") if key not in keys]
    if not strange:
        return ""
    remedy = (
        f'Use "{OWN_COUNTS}" for what you measured, or add the citation under [sources].'
        if own
        else "Add it to sources.csv."
    )
    return (
        f"No source is called {', '.join(map(repr, strange))}."
        f"{near_miss(strange[0], keys)} Allowed: keys of sources, separated by a comma and "
        f"a blank. {remedy}"
    )


def evidence_faults(
    entry: Mapping[str, Any], where: str, keys: set[str], own: bool
) -> Iterator[str]:
    """Tell what is wrong with status and source of a table that must have both."""
    if missing := [key for key in ("status", "source") if key not in entry]:
        yield f"{where}: {', '.join(missing)} missing. Say how it is known."
    elif fault := status_fault(entry["status"]):
        yield f"{where}.status = {told(entry['status'])}. {fault}"
    elif fault := source_fault(entry["source"], entry["status"], keys, own):
        yield f"{where}.source = {told(entry['source'])}. {fault}"
