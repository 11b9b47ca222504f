"""How a day's food and a food plan show themselves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.summary import Report, rounded
from antgrowth._core.text import counted
from antgrowth.food.practice import CAUTIONS, QUIET, SERVING
from antgrowth.food.servings import MIXING

if TYPE_CHECKING:
    from antgrowth.food.daily import DailyFood
    from antgrowth.food.plan import FoodPlan

__all__ = ["daily_report", "plan_report", "short", "start_sentence", "threshold"]

ROWS_SHOWN = 26

GUESSED_QUEEN = "the queen's mass is guessed from that of workers"

NEEDS = (
    "worked out from body mass, warmth and larvae, with caterpillars standing in for ant larvae; "
    "measured fire-ant colonies took half of such an amount of sugar and nearly twice the prey"
)


def daily_report(food: DailyFood) -> Report:
    """Report of a day's food."""
    strength = f"{food.percent:g} % sugar water"
    names = {
        "sugar_mg": "sugar",
        "solution_ul": f"  as {strength}",
        "honey_ul": "  or as honey",
        "protein_mg": "protein",
        "prey_mg": f"  as fresh {food.prey.kind}",
        "water_mg": "water, at least",
    }
    rows = []
    for line in food.frame().to_dict("records"):
        median, low, high = rounded(line["q50"], line["q05"], line["q95"])
        rows.append((names[line["amount"]], line["unit"], median, f"{low} to {high}"))
    ants = f"{food.workers:g} workers, {food.larvae:g} larvae" + (", a queen" if food.queen else "")
    if food.queen and not food.queen_weighed:
        ants += f" ({GUESSED_QUEEN})"
    return Report(
        title=f"Food a day: {food.species.scientific_name}",
        facts=(("ants", f"{ants}, awake at {food.temperature_c:g} °C"), ("amounts", NEEDS)),
        head=("food", "unit", "median", "90% range"),
        align="llrr",
        rows=tuple(rows),
        closing=_closing(),
    )


def plan_report(plan: FoodPlan) -> Report:
    """Report of a food plan: the weeks, when prey starts, and what to take care of."""
    strength, kind = f"{plan.percent:g} % sugar water", plan.prey[0].kind
    rows = list(_week_rows(plan, strength, kind))
    hidden = len(rows) - ROWS_SHOWN
    closing = [("more", f"{counted(hidden, 'row')} more in .frame()")] if hidden > 0 else []
    closing += [(reason, QUIET[reason]) for reason in sorted(set(plan.quiet) - {""})]
    forecast = plan.forecast
    return Report(
        title=f"Food plan: {forecast.fit.counts.name} ({forecast.fit.species.scientific_name})",
        facts=(
            ("span", f"{counted(forecast.days, 'day')} from {plan.dates[0]:%Y-%m-%d}"),
            ("warmth", forecast.assumed),
            ("amounts", NEEDS),
            *_feeds(plan),
            *_month(plan),
            ("prey", start_sentence(plan)),
            ("practice", f"{plan.practice.advice} (Common practice.)"),
            *_reserve(plan),
            *_unweighed(plan),
        ),
        head=("week", "from", f"{strength}, µL", "90% range", f"{kind}, mg", "90% range",
              "that is, or", "note"),
        align="llrrrrll",
        rows=tuple(rows[:ROWS_SHOWN]),
        closing=(*closing, *_closing()),
    )  # fmt: skip


def start_sentence(plan: FoodPlan) -> str:
    """When prey starts, in a sentence."""
    starts = plan.protein_starts
    if starts is None:
        return "from the first day"
    when = starts.sentence().partition(": ")[2]
    rests = " (number set by the keeper)" if plan.practice.status == "set by the keeper" else ""
    return f"starts with {threshold(plan)}: {when}{rests}"


def threshold(plan: FoodPlan) -> str:
    """The workers with whom prey starts."""
    count = plan.practice.protein_from_workers
    return "the first worker" if count == 1 else counted(count, "worker")


def _reserve(plan: FoodPlan) -> Iterator[tuple[str, str]]:
    if plan.reserve is not None:
        low, median, high = np.quantile(plan.reserve, [0.05, 0.5, 0.95])
        yield (
            "reserve",
            f"what the queen carries is enough for about {median:.0f} first workers "
            f"({low:.0f} to {high:.0f}); more larvae than that stay small or are eaten",
        )
    if not plan.queen_weighed:
        yield "queen", f"{GUESSED_QUEEN}; how many first workers she can rear is not known"


def _month(plan: FoodPlan) -> Iterator[tuple[str, str]]:
    """What the first four weeks take, in grams."""
    if plan.forecast.days < 28 or plan.forecast.fit.species.research_only:
        return
    kind, amounts = plan.prey[0].kind, []
    for line in plan.shopping(weeks=4).to_dict("records"):
        if line["unit"] == "g" and line["item"] in ("sugar", kind):
            middle, low, high = rounded(line["q50"], line["q05"], line["q95"])
            amounts.append(f"{line['item']} {middle} g ({low} to {high})")
    yield "month", f"the first four weeks take {', '.join(amounts)}; .shopping() has more"


def _feeds(plan: FoodPlan) -> Iterator[tuple[str, str]]:
    if plan.feeding is not None:
        for place, finding in enumerate(plan.feeding.findings()):
            yield "" if place else "feeds", finding


def _unweighed(plan: FoodPlan) -> Iterator[tuple[str, str]]:
    for kind in plan.prey:
        if not kind.has_piece:
            yield "pieces", f"the mass of one {kind.kind} is not known: {kind.remedy}"


def _week_rows(plan: FoodPlan, strength: str, kind: str) -> Iterator[tuple[str, ...]]:
    """Rows of the weeks; neighbouring weeks without any amount share one."""
    frame = plan.frame()
    kinds = [choice.kind for choice in plan.prey if choice.has_piece]
    alike = ""
    for week, lines in frame.groupby("week", sort=False):
        amounts = {(line["item"], line["unit"]): line for line in lines.to_dict("records")}
        sugar, prey = amounts[(strength, "µL")], amounts[(kind, "mg")]
        note = _week_note(plan, sugar, prey)
        if sugar["days"] == 0 and note == alike:
            continue
        alike = note if sugar["days"] == 0 else ""
        pieces = [f"{short(amounts[(name, 'piece')]['q50'])} {name}" for name in kinds]
        yield (
            str(week), f"{sugar['start']:%Y-%m-%d}", *_amount(sugar), *_amount(prey),
            ", ".join(pieces) if prey["q50"] > 0 else "", note,
        )  # fmt: skip


def short(number: float) -> str:
    """Write a number with two digits that mean something.

    Examples
    --------
    >>> short(1234.0), short(0.01234)
    ('1,200', '0.012')
    """
    return f"{float(f'{number:.2g}'):,g}"


def _amount(line: dict) -> tuple[str, str]:
    if not np.isfinite(line["q50"]):
        return "", ""
    if line["q95"] == 0:
        return "0", ""
    median, low, high = rounded(line["q50"], line["q05"], line["q95"])
    return median, f"{low} to {high}"


def _week_note(plan: FoodPlan, sugar: dict, prey: dict) -> str:
    start = sugar["start"]
    monday = start + pd.Timedelta(days=7 - start.day_of_week)
    days = plan.quiet[(plan.dates >= start) & (plan.dates < monday)]
    reasons = " and ".join(sorted(set(days) - {""}))
    if sugar["days"] == 0:
        return f"{reasons}: water only"
    if reasons:
        return f"{reasons} on {counted(int((days != '').sum()), 'day')}"
    if sugar["q95"] == 0:
        return "water only"
    if prey["q95"] == 0:
        return "sugar, no prey"
    if prey["q50"] == 0 and plan.practice.protein_from_workers:
        return f"prey with {threshold(plan)}"
    return ""


def _closing() -> tuple[tuple[str, str], ...]:
    cautions = tuple(("caution", text) for text in CAUTIONS)
    return (("serving", SERVING), ("mixing", MIXING), *cautions)
