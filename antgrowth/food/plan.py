"""A food plan: what to offer a colony, week by week, with its uncertainty."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.deprecation import Former
from antgrowth._core.pictures import picture
from antgrowth._core.stats import QUANTILES, quantiles
from antgrowth._core.summary import Report, Row, Shown
from antgrowth._core.text import counted, told
from antgrowth._core.validation import is_whole
from antgrowth.errors import AntgrowthError
from antgrowth.food.feeding import Feeding
from antgrowth.food.practice import GUESSED_QUEEN, NEEDS, QUIET, WARM_REST, FeedingRules, to_mind
from antgrowth.food.servings import DROP_UL, LEAST, Prey, Serving, by_hand, measured
from antgrowth.forecast.arrival import Arrival
from antgrowth.forecast.paths import Forecast
from antgrowth.species.thermal_limits import refuse_research

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WEEK = 7

ROWS = 26
"""Most rows of weeks that a report shows."""


@dataclass(frozen=True, eq=False, repr=False)
class FoodPlan(Shown):
    """What to offer a colony, week by week.

    Attributes
    ----------
    forecast : Forecast
        The colonies it feeds, one a draw.
    rules : FeedingRules
        From how many workers on sugar and prey are offered.
    offered : mapping of str to array, shape (draws, days)
        "sugar", "protein" and "water" of each day after the last note; 0 where it is not yet, or
        not now, offered. [mg/day]
    quiet : array of str, shape (days,)
        Why a day has no amounts ("rest", "cold", "heat"); empty if it has.
    servings : tuple of Serving
        How the needs are measured out: as sugar water or honey, as one kind of prey or another.
    percent : float
        Sugar of the sugar water by weight. [%]
    prey : tuple of Prey
        The first one is what larvae are reckoned to be reared on.
    reserve : array, shape (draws,), or None
        First workers that a founding queen's reserve covers, where she eats nothing; None where she
        eats, has workers already, or her mass is not known.
    queen_weighed : bool
        False if the queen's mass is guessed from that of workers.
    seed : int
        Of the constants' draws.
    feeding : Feeding or None
        What the keeper's weighings taught, which is in `offered`; None without any.
    """

    forecast: Forecast
    rules: FeedingRules
    offered: Mapping[str, Floats] = field(repr=False)
    quiet: NDArray[np.str_] = field(repr=False)
    servings: tuple[Serving, ...] = field(repr=False)
    percent: float
    prey: tuple[Prey, ...]
    reserve: Floats | None = field(repr=False)
    queen_weighed: bool
    seed: int
    feeding: Feeding | None = None

    practice = Former("rules")

    @cached_property
    def dates(self) -> pd.DatetimeIndex:
        """Days of the plan: those after the last note."""
        return self.forecast.dates[1:]

    @property
    def protein_starts(self) -> Arrival | None:
        """When prey is offered for the first time; None if from the first day."""
        count = self.rules.protein_from_workers
        if not count:
            return None
        found = replace(self.forecast.arrival(count), heat=None)  # told by the forecast
        if found.noted is None:
            return found
        # As many were there once: that some are gone does not put it off.
        begun = np.full_like(found.dates, np.datetime64(found.start, "D"))
        return replace(found, dates=begun)

    def frame(self) -> pd.DataFrame:
        """Tell what to offer in each calendar week.

        Returns
        -------
        DataFrame
            Columns week (ISO 8601), start (first day of the plan in it), days (days of it with
            amounts), need ("sugar", "protein", "water"), item, unit, q05, q25, q50, q75, q95, note.
            Items that serve the same need are alternatives. Amounts are NaN in a week without
            amounts, and pieces of unknown mass always.
        """
        labels, starts = self._weeks()
        awake = self.quiet == ""
        days = np.add.reduceat(awake.astype(int), starts)
        ends = [*starts[1:], len(awake)]
        pauses = [self._pause(slice(*span)) for span in zip(starts, ends, strict=True)]
        parts = []
        for serving in self.servings:
            part = pd.DataFrame(
                {
                    "week": labels,
                    "start": self.dates[starts],
                    "days": days,
                    "need": serving.need,
                    "item": serving.item,
                    "unit": serving.unit,
                    **self._spread(serving, starts),
                }
            )
            part.loc[days == 0, list(QUANTILES)] = np.nan
            part["note"] = ["; ".join(filter(None, [serving.note, pause])) for pause in pauses]
            parts.append(part)
        return pd.concat(parts).sort_values("start", kind="stable", ignore_index=True)

    def shopping(self, weeks: int = 12) -> pd.DataFrame:
        """Tell what to buy for the weeks after the last note.

        Parameters
        ----------
        weeks : int
            How many, as far as the forecast reaches.

        Returns
        -------
        DataFrame
            Columns need, item, unit (g, mL or piece), q05, q50, q95, note. Items of the same need
            are alternatives; whoever buys q95 runs short in one colony of twenty, waste not
            counted. Days without amounts, such as those of a rest, add nothing.

        Raises
        ------
        AntgrowthError
            If the forecast does not reach as far, or the species is for research only.
        """
        refuse_research(self.forecast.fit.species, "shopping list")
        most = self.forecast.days // WEEK
        if not is_whole(weeks, 1, most):
            raise AntgrowthError(
                f"shopping: weeks = {told(weeks)}. The forecast reaches {most} whole weeks "
                f"({self.forecast.days} days): give a whole number from 1 to that, or forecast "
                "further, 7 days a week."
            )
        bulk = {"mg": ("g", 1000.0), "µL": ("mL", 1000.0), "piece": ("piece", 1.0)}
        rows = []
        for serving in self.servings:
            if serving.unit not in bulk or serving.item == "protein":
                continue
            unit, size = bulk[serving.unit]
            spread = self._spread(serving, np.zeros(1, dtype=np.intp), WEEK * weeks)
            rows.append(
                {"need": serving.need, "item": serving.item, "unit": unit}
                | {level: float(spread[level][0]) / size for level in ("q05", "q50", "q95")}
                | {"note": serving.note}
            )
        return pd.DataFrame(rows)

    def plot(self, ax: Sequence[Axes] | None = None) -> NDArray[np.object_]:
        """Draw sugar and prey by the week.

        Parameters
        ----------
        ax : two Axes, optional
            For sugar and for prey; a figure of its own if not given.

        Returns
        -------
        array of Axes, shape (2,)
        """
        return picture("food", "plot_food", self, ax)

    def plot_beside(self, *others: FoodPlan) -> NDArray[np.object_]:
        """Draw this plan and others side by side, such as those of two ways of founding.

        Returns
        -------
        array of Axes, shape (2, plans)
        """
        if not all(isinstance(other, FoodPlan) for other in others):
            raise AntgrowthError(f"plot_beside: {told(others)}. Give what Forecast.food returns.")
        return picture("food", "plot_beside", self, *others)

    def _report(self) -> Report:
        return _report(self)

    def __repr__(self) -> str:
        count = self.rules.protein_from_workers
        prey = f"prey from {counted(count, 'worker')} on" if count else "prey from the first day"
        return (
            f"FoodPlan({self.forecast.fit.counts.name!r}, {self.forecast.days} days from "
            f"{self.dates[0]:%Y-%m-%d}, {prey})"
        )

    def _weeks(self) -> tuple[list[str], NDArray[np.intp]]:
        """Names of the calendar weeks, and the place of the first day of each."""
        calendar = self.dates.isocalendar()
        labels = [
            f"{year}-W{week:02d}"
            for year, week in zip(calendar["year"], calendar["week"], strict=True)
        ]
        starts = [day for day, label in enumerate(labels) if not day or label != labels[day - 1]]
        return [labels[day] for day in starts], np.array(starts)

    @cached_property
    def warm_rest(self) -> Flags:
        """Days of a rest so warm that the colony is fed, shape (days,)."""
        resting = self.forecast.temperature.resting(self.dates[0], len(self.dates))
        found: Flags = resting & (self.quiet == "")
        return found

    def _pause(self, days: slice) -> str:
        """Why some days have no amounts or other ones, and what to do; empty if all are usual."""
        return "; ".join(_why(self.quiet[days], self.warm_rest[days]))

    def _spread(
        self, serving: Serving, starts: NDArray[np.intp], days: int | None = None
    ) -> dict[str, Floats]:
        """Quantiles of what is offered in stretches that start on these of the days, by level."""
        offered = self.offered[serving.need][:, :days]
        return quantiles(np.add.reduceat(offered, starts, axis=1) * serving.per_mg)


def _report(plan: FoodPlan) -> Report:
    """Report of a food plan: the weeks, when prey starts, and what to take care of."""
    strength, kind = f"{plan.percent:g} % sugar water", plan.prey[0].kind
    rows = list(_week_rows(plan, strength, kind))
    hidden = len(rows) - ROWS
    closing = [("more", f"{counted(hidden, 'row')} more in .frame()")] if hidden > 0 else []
    closing += [("rest", text) for text in _why(plan.quiet, plan.warm_rest)]
    forecast = plan.forecast
    return Report(
        title=f"Food plan: {forecast.fit.counts.name} ({forecast.fit.species.scientific_name})",
        facts=(
            ("span", f"{counted(forecast.days, 'day')} from {plan.dates[0]:%Y-%m-%d}"),
            ("warmth", forecast.assumed),
            ("amounts", f"{NEEDS}. A usual drop is about {DROP_UL:g} µL"),
            *_feeds(plan),
            *(("month", f"{text}; .shopping() has more") for text in month_words(plan)),
            ("prey", start_sentence(plan)),
            ("practice", f"{plan.rules.advice} (Common practice.)"),
            *_reserve(plan),
            *_unweighed(plan),
        ),
        head=("week", "from", f"{strength}, µL", "90% range", f"{kind}, mg", "90% range",
              "that is, or", "note"),
        align="llrrrrll",
        rows=tuple(rows[:ROWS]),
        closing=(*closing, *to_mind()),
    )  # fmt: skip


def _why(quiet: NDArray[np.str_], warm_rest: Flags) -> list[str]:
    """Why some of these days have no amounts, or sugar alone."""
    reasons = [QUIET[reason] for reason in sorted(set(quiet) - {""})]
    return [*reasons, WARM_REST] if warm_rest.any() else reasons


def start_sentence(plan: FoodPlan) -> str:
    """When prey starts, in a sentence."""
    starts = plan.protein_starts
    if starts is None:
        return "from the first day"
    when = starts.sentence().partition(": ")[2]
    rests = " (number set by the keeper)" if plan.rules.status == "set by the keeper" else ""
    return f"starts with {threshold(plan)}: {when}{rests}"


def threshold(plan: FoodPlan) -> str:
    """The workers with whom prey starts."""
    count = plan.rules.protein_from_workers
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


def month_words(plan: FoodPlan) -> Iterator[str]:
    """What the first four weeks take, in grams."""
    if plan.forecast.days < 28 or plan.forecast.fit.species.research_only:
        return
    kind, amounts = plan.prey[0].kind, []
    for line in plan.shopping(weeks=4).to_dict("records"):
        if line["unit"] == "g" and line["item"] in ("sugar", kind):
            middle, low, high = measured(line["q50"], line["q05"], line["q95"])
            amounts.append(f"{line['item']} {middle} g ({low} to {high})")
    yield f"the first four weeks take {', '.join(amounts)}"


def _feeds(plan: FoodPlan) -> Iterator[tuple[str, str]]:
    if plan.feeding is not None:
        for place, finding in enumerate(plan.feeding.findings()):
            yield "" if place else "feeds", finding


def _unweighed(plan: FoodPlan) -> Iterator[tuple[str, str]]:
    for kind in plan.prey:
        if not kind.has_piece:
            yield "pieces", f"{kind.kind}: the mass of one is not known: {kind.remedy}"


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
        pieces = [by_hand(amounts[(name, "piece")]["q50"], name) for name in kinds]
        yield (
            str(week), f"{sugar['start']:%Y-%m-%d}", *_amount(sugar), *_amount(prey),
            ", ".join(pieces) if prey["q50"] >= LEAST else "", note,
        )  # fmt: skip


def _amount(line: Row) -> tuple[str, str]:
    if not np.isfinite(line["q50"]):
        return "", ""
    median, low, high = measured(line["q50"], line["q05"], line["q95"])
    return median, "" if low == high else f"{low} to {high}"


def _week_note(plan: FoodPlan, sugar: Row, prey: Row) -> str:
    start = sugar["start"]
    monday = start + pd.Timedelta(days=7 - start.day_of_week)
    week = (plan.dates >= start) & (plan.dates < monday)
    days, warm = plan.quiet[week], plan.warm_rest[week]
    reasons = " and ".join(sorted(set(days) - {""}))
    if sugar["days"] == 0:
        return f"{reasons}: water only"
    if reasons:
        return f"{reasons} on {counted(int((days != '').sum()), 'day')}"
    if sugar["q95"] == 0:
        return "water only"
    if warm.any():
        part = f" on {counted(int(warm.sum()), 'day')}"
        return f"rest{'' if warm.all() else part}: sugar and water"
    if prey["q95"] < LEAST:
        return "sugar, no prey"
    if prey["q50"] >= LEAST:
        return ""
    begun = plan.protein_starts
    if begun is None or begun.chance_by(start) > 0.5:
        return "prey only if larvae grow"  # those that wait for a place or for spring eat little
    return f"prey with {threshold(plan)}"
