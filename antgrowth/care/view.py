"""How a care plan shows itself as text and as HTML."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from antgrowth._core.summary import Report

if TYPE_CHECKING:
    from antgrowth.care.plan import CarePlan, Milestone

__all__ = ["HEAD", "day", "milestone_cells", "plan_report"]

HEAD = ("milestone", "status", "from", "most likely", "to", "prepare from", "checks")

_READY = {True: "fine", False: "NOT FINE", None: "look yourself"}


def plan_report(plan: CarePlan) -> Report:
    """Report of a plan: the windows, what does not hold, what to take care of."""
    ahead = plan.forecast
    country = plan.country or "no country given"
    facts = [
        ("as of", f"the last note, {ahead.start:%Y-%m-%d}; horizon {ahead.dates[-1]:%Y-%m-%d}"),
        ("warmth", ahead.assumed),
        ("holds", f"{plan.forecast.condition}; windows have a chance of {plan.level:.0%}"),
        ("keeper", f"{plan.hemisphere}ern hemisphere, {country}"),
    ]
    closing = [
        (milestone.title, str(check))
        for milestone in plan
        for check in milestone.checks
        if check.holds is not True
    ]
    unscheduled = [
        (milestone.title, milestone.when()) for milestone in plan if not milestone.is_scheduled
    ]
    rooms = [("nests", text) for text in plan.room.sentences()] if plan.room else []
    windows = [("outdoors", plan.outdoors.sentence())] if plan.outdoors else []
    cautions = [("caution", text) for text in plan.cautions()]
    return Report(
        title=f"Care plan: {ahead.fit.counts.name} ({ahead.fit.species.scientific_name})",
        facts=tuple(facts),
        head=HEAD,
        align="lllllll",
        rows=tuple(milestone_cells(milestone) for milestone in plan),
        closing=(*unscheduled, *closing, *rooms, *windows, *cautions),
    )


def milestone_cells(milestone: Milestone) -> tuple[str, ...]:
    """One row: dates of the window, or the day on which it passed."""
    head = milestone.title, milestone.status
    if not milestone.is_scheduled:
        return (*head, day(milestone.on), "", "", "", "")
    last = "beyond" if milestone.last is pd.NaT else day(milestone.last)
    ready = _READY[milestone.ready] if milestone.checks else ""
    early = milestone.prepare_from < milestone.first
    prepare = day(milestone.prepare_from) if early else ""
    dates = (day(milestone.first), day(milestone.middle), last, prepare)
    return (*head, *dates, ready)


def day(date: pd.Timestamp) -> str:
    """Write a date; empty if there is none."""
    return "" if date is pd.NaT else f"{date:%Y-%m-%d}"
