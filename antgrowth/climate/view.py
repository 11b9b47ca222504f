"""How an audit prints."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.summary import Report
from antgrowth._core.text import counted
from antgrowth.species.thermal_limits import HEAT_CAUTION, OUTDOORS_CAUTION, PHASES, STANDSTILLS

if TYPE_CHECKING:
    from antgrowth.climate.audit import Audit

__all__ = ["audit_report"]


def audit_report(audit: Audit) -> Report:
    """Report of an audit: the limits, the hours beyond them, the air, and cautions."""
    frame = audit.frame()
    last = audit.start + (audit.days - 1)
    unknown = int(frame["hours_unknown"].sum())
    span = f"{audit.start} to {last}, {counted(audit.days, 'day')}"
    if unknown:
        span += f"; {counted(unknown, 'hour')} without a temperature, not counted"
    rests = int(audit.resting.sum())
    if rests:
        span += f"; {counted(rests, 'day')} of rest"
    warm = f"mean {np.nanmean(audit.hours_c):.1f} °C, {np.nanmin(audit.hours_c):.1f} to "
    facts = (
        ("days", span),
        ("warmth", f"{warm}{np.nanmax(audit.hours_c):.1f}, by the hour"),
        ("verdict", audit.verdict),
    )
    return Report(
        title=f"Audit: {audit.species.scientific_name}, {audit.phase}",
        facts=facts,
        head=("beyond a limit", "°C", "hours", "days", "most on"),
        align="lrrrl",
        rows=tuple(_limit_rows(audit, frame)),
        closing=tuple(_closing(audit, frame)),
        warning="TOO WARM" if audit.margin_c < 0 else "",
    )


def _limit_rows(audit: Audit, frame: pd.DataFrame) -> Iterator[tuple[str, ...]]:
    value = audit.species.value
    yield _row(frame, f"above the {PHASES[audit.phase][2]}", audit.ceiling_c, "above_ceiling")
    limit = value("limits.heat_limit_c")
    yield _row(frame, "brood dies faster above", limit, "above_heat_limit")
    if audit.phase == "outdoors":
        yield _row(frame, "below the coldest outdoors", audit.floor_c, "below_floor")
    awake = frame[~frame["resting"]]
    for stage, path in STANDSTILLS.items():
        subject = "no laying below" if stage == "laying" else f"{stage} stands still below"
        yield _row(awake, subject, value(path), f"below_{stage}")


def _closing(audit: Audit, frame: pd.DataFrame) -> Iterator[tuple[str, str]]:
    lost = 1 - float(np.prod(1 - frame["heat_loss"].fillna(0.0)))
    if lost > 0:
        share = "under 1 %" if lost < 0.01 else f"{lost:.0%}".replace("%", " %")
        yield "heat", f"{share} of brood that lived through all of these days would die of it"
    if frame["humidity_pct"].notna().any():
        yield "air", _air_words(audit, frame)
        wet = frame["hours_wet"]
        hours = counted(int(wet.sum()), "hour")
        yield (
            "walls",
            (
                f"wet for {hours} on {counted(int((wet > 0).sum()), 'day')}, if the coolest is "
                f"{audit.wall_cooler_by_c:g} °C cooler than the air"
            ),
        )
    else:
        yield "air", "humidity is not known"
    if audit.phase == "outdoors":
        yield "law", OUTDOORS_CAUTION
    else:
        yield "care", HEAT_CAUTION


def _air_words(audit: Audit, frame: pd.DataFrame) -> str:
    deficit = frame["deficit_kpa"]
    words = (
        f"humidity {np.nanmin(audit.humidity_pct):.0f} to {np.nanmax(audit.humidity_pct):.0f} %; "
        f"vapour pressure deficit {deficit.min():.2f} to {deficit.max():.2f} kPa by day"
    )
    if audit.humidity_band is not None:
        low, high = audit.humidity_band
        outside = int(frame["hours_outside_band"].sum())
        words += f"; outside {low:g} to {high:g} % for {counted(outside, 'hour')}"
    return words


def _row(frame: pd.DataFrame, subject: str, limit_c: float, column: str) -> tuple[str, ...]:
    hours = frame[f"hours_{column}"]
    if np.isnan(limit_c):
        return subject, "-", "-", "-", "not in the profile"
    total = int(hours.sum())
    if not total:
        return subject, f"{limit_c:.1f}", "0", "0", ""
    worst = frame.iloc[int(np.argmax(hours.fillna(0.0)))]
    end = worst["lowest_c"] if column.startswith("below") else worst["highest_c"]
    most = f"{worst['date']:%Y-%m-%d}, {counted(int(hours.max()), 'hour')}, {end:.1f} °C"
    return subject, f"{limit_c:.1f}", f"{total:,}", f"{int((hours > 0).sum()):,}", most
