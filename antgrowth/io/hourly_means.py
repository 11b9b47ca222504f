"""From readings of any interval to one temperature for each hour of each day.

Readings at least every few hours are averaged within each clock hour; short gaps are interpolated,
long ones stay open (NaN). Readings further apart stand for the mean of their day. Whatever has been
filled in or left out is said in a sentence.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from antgrowth._core.text import counted, listed

SHORT_GAP_HOURS = 6
"""At most so many missing hours in a row are interpolated."""

SIDE_HOURS = 72
"""So many hours on each side of a longer gap tell what a day is like there (assumed)."""

_FEWEST_EDGE_HOURS = 6  # a first or last day known for fewer hours than this is not covered
_DAILY_INTERVAL_HOURS = 6  # a record whose median interval is longer is one of day means
_FEWEST_TRIES = 10  # bridges over known hours from which is told how far such a one is off
_DAILY_HOLD_HOURS = 36  # daily readings this close also cover a day between them


@dataclass(frozen=True, eq=False)
class HourTable:
    """Hourly means by calendar day."""

    first_day: np.datetime64  # calendar date of the first row
    # Hourly means, shape (days, 24), NaN where a gap is too long to bridge [°C]
    hours_c: np.ndarray
    daily: bool  # whether each reading stands for the mean of its day
    findings: tuple[str, ...]  # what was filled in or left out, one sentence each
    # Relative humidity by the hour, same shape, NaN where unknown; None if none was read [%]
    humidity_pct: np.ndarray | None = None


def in_order(
    stamps: np.ndarray, values: np.ndarray, humidity_pct: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray | None, list[str]]:
    """Sort by time, and average the readings of one and the same moment."""
    order = np.argsort(stamps, kind="stable")
    stamps, values = stamps[order], values[order]
    if humidity_pct is not None:
        humidity_pct = humidity_pct[order]
    starts = np.flatnonzero(np.r_[True, stamps[1:] != stamps[:-1]])
    if starts.size == stamps.size:
        return stamps, values, humidity_pct, []
    counts = np.diff(np.r_[starts, stamps.size])
    lowest, highest = np.minimum.reduceat(values, starts), np.maximum.reduceat(values, starts)
    means = np.where(lowest == highest, lowest, np.add.reduceat(values, starts) / counts)
    if humidity_pct is not None:
        moments = np.repeat(np.arange(starts.size), counts)
        known = ~np.isnan(humidity_pct)
        humidity_pct = _means_by(moments[known], humidity_pct[known], size=starts.size)
    repeated = stamps[starts[counts > 1]].astype("datetime64[s]")
    finding = (
        f"{counted(repeated.size, 'time')} read more than once, {int((lowest != highest).sum())} "
        "of them with different readings, which were averaged: "
        f"{listed(str(stamp).replace('T', ' ') for stamp in repeated)}."
    )
    return stamps[starts], means, humidity_pct, [finding]


def tabulate(
    local: np.ndarray,
    readings_c: np.ndarray,
    steps: np.ndarray,
    humidity_pct: np.ndarray | None = None,
    bridge_days: int = 0,
) -> HourTable:
    """Arrange n readings [°C] by day and hour; no rows if no day is known well enough.

    Wall-clock times, at least one, are not in order where clocks were put back; `steps`, shape
    (n - 1,), are the true times between readings [h]. Relative humidity [%] is NaN where there is
    none. Gaps of up to `bridge_days` are bridged by the days on both sides.
    """
    first_day = local.min().astype("datetime64[D]")
    if steps.size == 0 or np.median(steps) > _DAILY_INTERVAL_HOURS:
        table = _daily_means(first_day, local, readings_c, steps)
    else:
        table = _hourly_means(first_day, local, readings_c)
    if bridge_days:
        table = _bridge_long_gaps(table, bridge_days)
    if humidity_pct is None or np.isnan(humidity_pct).all() or not table.hours_c.size:
        return table
    known = ~np.isnan(humidity_pct)
    return _with_humidity(table, local[known], humidity_pct[known])


def _with_humidity(table: HourTable, local: np.ndarray, humidity_pct: np.ndarray) -> HourTable:
    """Add humidity to the days of a table; nothing is assumed of it beyond short gaps."""
    slots_a_day, unit = (1, "D") if table.daily else (24, "h")
    start = table.first_day.astype(f"datetime64[{unit}]")
    slots = (local.astype(f"datetime64[{unit}]") - start).astype(int)
    size = len(table.hours_c) * slots_a_day
    inside = (slots >= 0) & (slots < size)
    means = _means_by(slots[inside], humidity_pct[inside], size)
    bridged, _ = (0, 0) if table.daily else _bridge_short_gaps(means)
    hours = np.repeat(means.reshape(-1, slots_a_day), 24 // slots_a_day, axis=1)
    unknown = int(np.isnan(hours).sum())
    findings = table.findings
    if bridged:
        findings += (f"Humidity of {counted(bridged, 'hour')} interpolated.",)
    if unknown:
        findings += (f"Humidity is not known for {unknown:,} of {counted(hours.size, 'hour')}.",)
    return replace(table, humidity_pct=hours, findings=findings)


def _hourly_means(first_day: np.datetime64, local: np.ndarray, readings_c: np.ndarray) -> HourTable:
    slots = (local.astype("datetime64[h]") - first_day.astype("datetime64[h]")).astype(int)
    hourly = _means_by(slots, readings_c, size=(slots.max() // 24 + 1) * 24)

    bridged, gaps = _bridge_short_gaps(hourly)
    findings = []
    if bridged:
        findings.append(
            f"{counted(bridged, 'hour')} without a reading interpolated, in "
            f"{counted(gaps, 'gap')} of up to {SHORT_GAP_HOURS} hours."
        )
    return _settle_edges(first_day, hourly.reshape(-1, 24), findings)


def _bridge_short_gaps(hourly: np.ndarray) -> tuple[int, int]:
    """Interpolate short gaps in place; return how many hours, in how many gaps."""
    read = np.flatnonzero(~np.isnan(hourly))
    if not read.size:
        return 0, 0
    missing = np.diff(read) - 1
    short = (missing > 0) & (missing <= SHORT_GAP_HOURS)
    in_short_gap = np.zeros(hourly.size, bool)
    in_short_gap[read[0] : read[-1]] = np.repeat(short, missing + 1)
    bridged = np.flatnonzero(in_short_gap & np.isnan(hourly))
    hourly[bridged] = np.interp(bridged, read, hourly[read])
    return bridged.size, int(short.sum())


def _bridge_long_gaps(table: HourTable, bridge_days: int) -> HourTable:
    """Fill gaps by the daily pattern of both sides, from the one evenly over to the other."""
    hours_c = table.hours_c.reshape(-1).copy()
    edges = np.flatnonzero(np.diff(np.isnan(hours_c).astype(int), prepend=0, append=0))
    findings = []
    for begin, end in edges.reshape(-1, 2):
        bridge = _bridge(hours_c, begin, end) if end - begin <= 24 * bridge_days else None
        if bridge is None:
            continue
        hours_c[begin:end] = bridge
        midnight = table.first_day.astype("datetime64[h]")
        first, last = (str(midnight + place)[:13].replace("T", " ") for place in (begin, end - 1))
        findings.append(
            f"{counted(int(end - begin), 'hour')} without a reading, {first}h to {last}h, bridged "
            "by the daily pattern of the days on both sides: it may have been warmer or cooler. "
            + _bridge_words(table.hours_c.reshape(-1), int(end - begin))
        )
    return replace(table, hours_c=hours_c.reshape(-1, 24), findings=(*table.findings, *findings))


def _bridge(hours_c: np.ndarray, begin: int, end: int) -> np.ndarray | None:
    """What a gap is filled with; None if a side does not tell what a day is like."""
    before = _daily_pattern(hours_c, begin - SIDE_HOURS, begin)
    after = _daily_pattern(hours_c, end, end + SIDE_HOURS)
    if before is None or after is None:
        return None
    hour = np.arange(begin, end)
    share = (hour - begin + 0.5) / (end - begin)
    filled: np.ndarray = (1 - share) * before[hour % 24] + share * after[hour % 24]
    return filled


def _bridge_words(hours_c: np.ndarray, length: int) -> str:
    """How far such a bridge is off, tried on hours of the same record that are known."""
    off = []
    for begin in range(SIDE_HOURS, hours_c.size - length - SIDE_HOURS + 1, 24):
        if not np.isnan(hours_c[begin - SIDE_HOURS : begin + length + SIDE_HOURS]).any():
            filled = _bridge(hours_c, begin, begin + length)
            off.append((filled - hours_c[begin : begin + length]).mean())
    if len(off) < _FEWEST_TRIES:
        tried = "the record is too short to tell by how much"
    else:
        far = np.quantile(np.abs(off), 0.9)
        tried = (
            "over as many hours of this record that are known, such a bridge was off by up to "
            f"{far:.1f} °C on average in nine of ten tries"
        )
    return (
        f"{tried[0].upper()}{tried[1:]}. No interval is widened for it: all allow for a sensor "
        "that is off on all days, of which these are a few."
    )


def _daily_pattern(hours_c: np.ndarray, begin: int, end: int) -> np.ndarray | None:
    """Mean by hour of the day of some hours; None if one of the 24 is never known."""
    hour = np.arange(max(begin, 0), min(end, hours_c.size))
    hour = hour[~np.isnan(hours_c[hour])]
    pattern = _means_by(hour % 24, hours_c[hour], size=24)
    return None if np.isnan(pattern).any() else pattern


def _settle_edges(first_day: np.datetime64, hours_c: np.ndarray, findings: list[str]) -> HourTable:
    """Leave out a first or last day that is hardly known; else complete it by its nearest hour."""
    known = (~np.isnan(hours_c)).sum(axis=1)
    enough = np.flatnonzero(known >= _FEWEST_EDGE_HOURS)
    first, stop = (int(enough[0]), int(enough[-1]) + 1) if enough.size else (0, 0)
    for day in np.flatnonzero(known):
        if not first <= day < stop:
            findings.append(
                f"{first_day + day} is known for {counted(int(known[day]), 'hour')}, fewer than "
                f"{_FEWEST_EDGE_HOURS}, so it is not covered."
            )
    first_day, hours_c = first_day + first, hours_c[first:stop].copy()
    if hours_c.size:
        series = hours_c.reshape(-1)  # a view: what is filled in here is filled in the table
        inside = np.flatnonzero(~np.isnan(series))
        before, after = int(inside[0]), series.size - 1 - int(inside[-1])
        if before:
            series[:before] = series[before]
            findings.append(
                f"{first_day} is read from {before:02d}:00 on; the hours before are taken as that."
            )
        if after:
            series[-after:] = series[-after - 1]
            findings.append(
                f"{first_day + (stop - first - 1)} is read until {24 - after:02d}:00; the hours "
                "after are taken as the last."
            )
    return HourTable(first_day, hours_c, False, tuple(findings))


def _daily_means(
    first_day: np.datetime64, local: np.ndarray, readings_c: np.ndarray, steps: np.ndarray
) -> HourTable:
    days = (local.astype("datetime64[D]") - first_day).astype(int)
    means = _means_by(days, readings_c, size=days.max() + 1)
    # Readings this close have at most one calendar day between them.
    held = days[:-1][(np.diff(days) == 2) & (steps <= _DAILY_HOLD_HOURS)]
    means[held + 1] = means[held]
    findings = [
        f"Readings are mostly more than {_DAILY_INTERVAL_HOURS} hours apart, so each stands for "
        "the mean of its day."
    ]
    if held.size:
        findings.append(
            f"{counted(held.size, 'day')} without a reading taken as the day before: "
            f"{listed(str(first_day + day + 1) for day in held)}."
        )
    return HourTable(first_day, np.repeat(means[:, None], 24, axis=1), True, tuple(findings))


def _means_by(places: np.ndarray, values: np.ndarray, size: int) -> np.ndarray:
    """Mean of the values that fall on each place, NaN where none does."""
    counts = np.bincount(places, minlength=size)
    means = np.full(size, np.nan)
    np.divide(np.bincount(places, values, minlength=size), counts, out=means, where=counts > 0)
    return means
