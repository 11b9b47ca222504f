"""Where a species is native, by country: what decides whether a plan may speak of outdoors."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from antgrowth._core.text import near_miss
from antgrowth.species.evidence import source_fault, status_fault

__all__ = ["Native", "country_fault", "native_faults", "native_from"]

KEYS = ("countries", "status", "source", "note")
_MEANT = {"UK": "GB", "EL": "GR"}
"""Codes in common use that ISO 3166 writes otherwise."""


@dataclass(frozen=True)
class Native:
    """Countries in parts of which a species is native.

    Attributes
    ----------
    countries : tuple of str
        Two-letter codes of ISO 3166-1; empty if the profile does not say.
    status, source, note : str
        What the list rests on.
    """

    countries: tuple[str, ...] = ()
    status: str = ""
    source: str = ""
    note: str = ""


def country_fault(found: Any) -> str:
    """What is wrong with a country; empty if nothing is."""
    if isinstance(found, str) and re.fullmatch("[A-Z]{2}", found) and found not in _MEANT:
        return ""
    meant = f" Did you mean {_MEANT[found]}?" if found in _MEANT else ""
    return (
        f'Allowed: the two-letter code of ISO 3166-1 in capitals, such as "DE" or "AU".{meant} '
        "Write it in quotes."
    )


def native_faults(found: Any, keys: set[str], own: bool) -> Iterator[str]:
    """Tell everything that is wrong with the table [native] of a profile; an empty one is sound."""
    if not isinstance(found, Mapping):
        yield f"native = {found!r}. Write a line [native] and below it countries, status, source."
        return
    if not found:
        return
    for key in found:
        if key not in KEYS:
            yield f"native.{key}: no such key.{near_miss(key, KEYS)} Allowed: {', '.join(KEYS)}."
    if missing := [key for key in KEYS[:3] if key not in found]:
        yield f"native: {', '.join(missing)} missing. Add them, or leave the table out."
        return
    countries = found["countries"]
    if not (isinstance(countries, list) and countries):
        yield f"native.countries = {countries!r}. Allowed: a list of at least one country."
    else:
        for country in countries:
            if fault := country_fault(country):
                yield f"native.countries: {country!r}. {fault}"
    if fault := status_fault(found["status"]):
        yield f"native.status = {found['status']!r}. {fault}"
    elif fault := source_fault(found["source"], found["status"], keys, own):
        yield f"native.source = {found['source']!r}. {fault}"
    if not isinstance(found.get("note", ""), str):
        yield f"native.note = {found['note']!r}. Allowed: text. Put it in quotes."


def native_from(table: Mapping[str, Any]) -> Native:
    """Take a table without a fault."""
    return Native(**{**table, "countries": tuple(table["countries"])}) if table else Native()
