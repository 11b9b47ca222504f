"""Where a species is native, by country: what decides whether a plan may speak of outdoors."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from antgrowth._core.validation import WORDS, Table, Value, each, unchecked
from antgrowth.species.evidence import evidence_faults

MEANT = {"UK": "GB", "EL": "GR"}
"""Codes in common use that ISO 3166 writes otherwise."""


@dataclass(frozen=True)
class Native:
    """Countries in parts of which a species is native."""

    # Two-letter codes of ISO 3166-1; empty if the profile does not say.
    countries: tuple[str, ...] = ()
    status: str = ""  # status, source, note: what the list rests on
    source: str = ""
    note: str = ""


def _is_country(found: Any) -> bool:
    return isinstance(found, str) and bool(re.fullmatch("[A-Z]{2}", found)) and found not in MEANT


COUNTRY = Value(
    'the two-letter code of ISO 3166-1 in capitals, such as "DE" or "AU"',
    _is_country,
    "Write it in quotes.",
    meant=MEANT,
)


_NATIVE = Table(
    {
        "countries": each(COUNTRY.fault, "country"),
        "status": unchecked,
        "source": unchecked,
        "note": WORDS,
    },
    needed={"countries": '["DE"]'},
)


def native_faults(found: Any, keys: set[str], own: bool) -> Iterator[str]:
    """Tell everything that is wrong with the table [native] of a profile; an empty one is sound."""
    if isinstance(found, Mapping) and not found:
        return
    yield from _NATIVE(found, "native")
    if isinstance(found, Mapping):
        yield from evidence_faults(found, "native", keys, own)


def native_from(table: Mapping[str, Any]) -> Native:
    """Take a table without a fault."""
    return Native(**{**table, "countries": tuple(table["countries"])}) if table else Native()
