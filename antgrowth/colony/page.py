"""The sections of a colony's page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from antgrowth._core.dates import as_day
from antgrowth._core.stages import STAGES, WORKERS
from antgrowth._core.summary import ants, share_words
from antgrowth._core.text import count_words, counted
from antgrowth.care.checks import Check, recent_alerts
from antgrowth.care.milestone import Milestone
from antgrowth.care.plan import CarePlan, day, milestone_cells
from antgrowth.colony.html import Section, listing, mark, paragraph, spread, table
from antgrowth.errors import SpeciesError
from antgrowth.evaluation.alerts import MIND
from antgrowth.evaluation.detectors import forgotten_rests_of
from antgrowth.evaluation.diagnostics import strains
from antgrowth.food.plan import FoodPlan, start_sentence
from antgrowth.food.practice import CAUTIONS, SERVING, feeding_rules
from antgrowth.food.servings import DROP_UL, LEAST, MIXING, by_hand, measured
from antgrowth.forecast.report import awaited, queens_words
from antgrowth.inference.adequacy import held_in_sample
from antgrowth.inference.species_rank import SpeciesRank, place_in_species
from antgrowth.species.view import season_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from antgrowth._api import Fit
    from antgrowth.forecast.paths import Forecast

WEEKS_NEAR = 4
"""Weeks of which food and things to do are told."""

STEP_DAYS, STEPS = 28, 6
"""Evenings that the table of the forecast shows: so many days apart, and how many of them."""

PICTURE_SIZE = (6.6, 3.8)
"""Width and height of a picture; the smaller, the larger its letters. [inch]"""

LEARNED_LITTLE = 0.1
"""Parameters of which the notes removed less doubt than this are still the profile's."""

LEVELS = ("q50", "q05", "q95")
DATES = ("window", "middle", "prepare_from")


@dataclass(frozen=True, eq=False, repr=False)
class Page:
    """What a keeper wants to see of a colony at a glance, section by section.

    Attributes
    ----------
    plan : CarePlan
    workers : int, optional
        Number waited for; if not given, the next of 30, 100, 300, 1000 ... after those that are
        probably there on the day of the page.
    today_is : date, optional
        The day the page is for; the day it is made if not given. Before the last note it is that
        of the note, and beyond the days looked ahead the last of these.

    Examples
    --------
    Each section is shown by a notebook as HTML; a notebook that `antgrowth new` writes does so for
    all of them.

    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> notes = pd.DataFrame({"date": ["2026-07-20", "2026-08-14"], "eggs": [9, 7]})
    >>> fit = ag.fit(notes, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=1)
    >>> page = Page(ag.care_plan(fit.forecast(days=120, draws=200, rng=1)), workers=30)
    >>> "data-of" in page.today._repr_html_()
    True
    """

    plan: CarePlan
    workers: int | None = None
    today_is: str | pd.Timestamp | None = None

    def __repr__(self) -> str:
        return f"Page({self.plan.forecast.fit.counts.name!r})"

    @property
    def as_of(self) -> pd.Timestamp:
        """The day that the page is for, within the days looked ahead."""
        ahead = self.plan.forecast
        return min(max(self._asked, ahead.start), ahead.dates[-1])

    @property
    def _asked(self) -> pd.Timestamp:
        asked = pd.Timestamp.today() if self.today_is is None else self.today_is
        return pd.Timestamp(as_day(asked, "Page: today_is"))

    @property
    def awaited(self) -> int:
        """Number of workers waited for."""
        if self.workers is not None:
            return self.workers
        return awaited(_held(self.plan.forecast, self.as_of))

    @property
    def species_rank(self) -> SpeciesRank:
        """Where the colony stands among its species."""
        return place_in_species(self.plan.forecast.fit)

    @property
    def food_plan(self) -> FoodPlan | None:
        """Food of the forecast; None where the mass of a worker is not known."""
        try:
            return self.plan.forecast.food(feeds=self.plan.feeds)
        except SpeciesError:
            return None

    def axes(self) -> Axes:
        """Axes of a new figure that can be read on the page, on a phone too."""
        import matplotlib.pyplot as plt

        return plt.subplots(figsize=PICTURE_SIZE, layout="constrained")[1]

    @property
    def title(self) -> Section:
        """Name, species and the day it holds for."""
        fit, ant = self.plan.forecast.fit, self.plan.forecast.fit.species
        verdict, kind = self._verdict()
        of = "placing.verdict" if verdict == self.species_rank.verdict else "verdict"
        return Section(
            f"<h1>{mark('name', fit.counts.name)}</h1>"
            f'<p class="under">{mark("species", ant.scientific_name)} '
            f"({mark('common_name', ant.common_name)}), {mark('as_of', day(self.as_of))}, by notes "
            f"until {mark('start', day(fit.counts.end))}. "
            f'<strong class="verdict {kind}">{mark(of, verdict)}</strong></p>'
        )

    def _verdict(self) -> tuple[str, str]:
        """The one thing to know first, and how it looks."""
        ahead = self.plan.forecast
        if ahead.fit.queenless:
            return "no queen", "warning"
        if ahead.heat is not None:
            return "too warm", "warning"
        if forgotten_rests_of(ahead.fit):
            return "a rest is not noted", "warning"
        if recent_alerts(self.plan.alerts, ahead.start):
            return "look at the alerts", "warning"
        return self.species_rank.verdict, self.species_rank.verdict.replace(" ", "-")

    @property
    def today(self) -> Section:
        """State today, as the model sees it, and whether it is on track."""
        ahead, fit = self.plan.forecast, self.plan.forecast.fit
        place, frame = self.species_rank, fit.counts.frame
        amounts = _by_day(ahead.frame())
        rows = []
        for stage in STAGES:
            noted = frame[frame["stage"] == stage]
            last, when = "", ""
            if len(noted):
                cell = noted.iloc[-1]
                last = mark(
                    f"noted.{stage}", count_words(cell["low"], cell["high"], cell["kind"], stage)
                )
                when = mark(f"noted.{stage}.date", day(cell["date"]))
            now = _spread(f"now.{stage}", amounts[self.as_of, stage])
            rows.append((stage, last, when, now))
        evidence = place.evidence(fit.species.scientific_name)
        head = ("stage", "last noted", "on", "today, most likely (range)")
        queenless = "No queen, by the changes noted: what follows is of the brood that is left."
        hot = "Too warm for the queen, now or in days to come: the forecast begins with it."
        return Section(
            "".join(
                paragraph(f"rest.{k}", f"{rest.found()}; {rest.remedy()}.", "warning")
                for k, rest in enumerate(forgotten_rests_of(fit))
            )
            + (paragraph("queen", queenless) if fit.queenless else "")
            + (paragraph("hot", hot, "warning") if ahead.heat is not None else "")
            + paragraph("placing", f"{place.finding}: {evidence}.")
            + "".join(paragraph(f"since.{k}", text) for k, text in enumerate(self._since()))
            + table("Notes and state today", head, rows, "lllr")
            + '<p class="small">All ranges of this page hold nine of ten simulated colonies. They '
            "tell what is there: of eggs, larvae and a crowd of workers a keeper sees a part.</p>"
        )

    def _since(self) -> Iterator[str]:
        """How old the last look is, and what the model takes to have happened since."""
        ahead = self.plan.forecast
        age = (self._asked - ahead.start).days
        if age <= 0:
            return
        told = f"The last look is {counted(age, 'day')} old. Since then, most likely: "
        amounts = _by_day(ahead.frame())
        then, now = (
            {stage: ants(amounts[date, stage]["q50"]) for stage in ("workers", "brood")}
            for date in (ahead.start, self.as_of)
        )
        changed = [f"{stage} from {then[stage]} to {now[stage]}" for stage in then]
        resting = ahead.temperature.resting(ahead.start, (self.as_of - ahead.start).days + 1)
        if resting[-1]:
            changed.append("and the colony rests")
        yield told + ", ".join(changed) + ". A look now makes every date below surer."
        if self._asked > self.as_of:
            yield (
                f"Today, {day(self._asked)}, lies beyond the {ahead.days} days looked ahead: what "
                f"is told is of {day(self.as_of)}. Look further ahead, or count again."
            )

    @property
    def forecast(self) -> Section:
        """When the number waited for is there, and what to expect until then."""
        ahead = self.plan.forecast
        parts = (
            [] if ahead.heat is None else [paragraph("heat", f"{ahead.heat.words()}.", "warning")]
        )
        parts += [paragraph("cool", f"{ahead.cool}.", "warning")] if ahead.cool else []
        arrival = replace(ahead.arrival(self.awaited), heat=None)  # said above
        parts.append(paragraph("arrival", f"{arrival.sentence()}.", "finding"))
        if reasons := strains(ahead.fit):
            parts.append(
                paragraph("strains", f"Take dates with care: {'; '.join(reasons)}.", "warning")
            )
        rest = self.plan.rest
        if rest is not None and self.as_of < rest.begins <= ahead.dates[-1]:
            if arrival.split() is None:  # else the chance stands with the dates
                said = self.plan.before_rest_sentence(self.awaited)
                parts.append(paragraph("before_rest", said))
        amounts = _by_day(ahead.frame())
        rows = []
        coming = ahead.dates[ahead.dates > self.as_of]
        for date in coming[STEP_DAYS - 1 :: STEP_DAYS][:STEPS]:
            at = f"ahead.{day(date)}"
            stages = [_spread(f"{at}.{name}", amounts[date, name]) for name in ("workers", "brood")]
            rows.append((mark(at, day(date)), *stages))
        head = ("evening of", "workers (range)", "brood (range)")
        parts.append(table("Workers and brood to come", head, rows, "lrr", "beside"))
        parts += self._warmth()
        return Section("".join(parts))

    def _warmth(self) -> Iterator[str]:
        """What warmth the forecast goes by, and loudly so if it leaves out a rest."""
        rest, assumed = self.plan.rest, f"Temperature to come: {self.plan.forecast.assumed}."
        if rest is None or rest.planned:
            yield paragraph("assumed", assumed, "small")
            return
        yield paragraph("assumed", assumed, "warning")
        if rest.begins <= self.plan.forecast.dates[-1]:
            yield paragraph(
                "unplanned",
                f"Dates after {day(rest.begins)} are those of a colony that skips its rest. Plan "
                "the rest: write it into colony.toml, below a line [[rest]].",
                "warning",
            )

    @property
    def milestones(self) -> Section:
        """What is to be done now, the windows, what does not hold, nests, outdoors."""
        plan, rows = self.plan, []
        for milestone in plan:
            if not milestone.is_scheduled:
                continue
            at = f"milestone.{milestone.id}"
            cells = [
                mark(f"{at}.{name}", text)
                for name, text in zip(DATES, milestone_cells(milestone)[2:5], strict=True)
            ]
            why = f"<small>{mark(f'{at}.trigger', milestone.reason)}</small>"
            title = f"{mark(at, milestone.title)}<br>{why}"
            over = milestone.last < self.as_of  # of the page, which may be made long after a note
            status = "past by now" if over else milestone.status
            rows.append((title, mark(f"{at}.status", status), *cells))
        head = ("milestone", "status", "window", "most likely", "prepare from")
        others = [m for m in plan if not m.is_scheduled and not m.is_due]
        items = "".join(f"<li>{mark(f'sentence.{m.id}', m.sentence())}</li>" for m in others)
        parts = [
            self._to_do(),
            table("Milestones ahead", head, rows, "lllll", "wide") if rows else "",
            f'<ul class="small">{items}</ul>' if items else "",
            self._checks(),
        ]
        if plan.room is not None:
            parts.append(f"<h3>Nests</h3>{listing('room', plan.room.sentences())}")
        if plan.outdoors is not None:
            parts.append(paragraph("outdoors", plan.outdoors.sentence()))
        return Section("".join(parts))

    def _to_do(self) -> str:
        """Steps that are due or to be prepared within four weeks, with what to do."""
        soon = self.as_of + pd.Timedelta(weeks=WEEKS_NEAR)
        near = [
            m
            for m in self.plan
            if m.is_due or (m.is_scheduled and m.prepare_from <= soon and not m.last < self.as_of)
        ]
        if not near:
            return ""
        items = "".join(
            f"<li><strong>{mark(f'milestone.{step.id}', step.title)}</strong>: "
            f"{mark(f'when.{step.id}', step.when())}. "
            f"{mark(f'action.{step.id}', step.rule.action)}</li>"
            for step in near
        )
        return f"<h3>To do in the next four weeks</h3><ul>{items}</ul>"

    def _checks(self) -> str:
        """What does not hold, or is not known to, and the steps that wait for it."""
        waiting: dict[str, list[tuple[Milestone, Check]]] = {}
        for milestone in self.plan:
            for check in milestone.checks:
                if check.holds is not True:
                    waiting.setdefault(str(check), []).append((milestone, check))
        if not waiting:
            return ""
        items = "".join(
            f"<li>{mark(f'check.{steps[0][0].id}.{steps[0][1].name}', text)}. Before: "
            f"{', '.join(mark(f'milestone.{step.id}', step.title) for step, _ in steps)}.</li>"
            for text, steps in waiting.items()
        )
        return f'<h3>Check first</h3><ul class="small">{items}</ul>'

    @property
    def food(self) -> Section:
        """What to offer in the next four weeks."""
        food = self.food_plan
        if food is None:
            ant = self.plan.forecast.fit.species
            return Section(
                f"<p>The mass of a worker is not known for {mark('species', ant.scientific_name)}: "
                "no amounts can be told. Weigh some workers, ten or more together: the mass of "
                "one, in mg, goes into <code>ahead.food(mass_mg=...)</code>, or as "
                "<code>workers.mass_mg</code> into a profile of your own, and amounts stand here."
                f'</p><div class="small">{self._feeding_rules}</div>'
            )
        frame = food.frame()
        ends = frame["start"] + pd.to_timedelta(frame["days"].clip(lower=1), unit="D")
        soon = ends > self.as_of
        soon &= frame["start"] < self.as_of + pd.Timedelta(weeks=WEEKS_NEAR)
        weeks = list(dict.fromkeys(frame.loc[soon, "week"]))  # the first may be a part of one
        sugar, kind = f"{food.percent:g} % sugar water", food.prey[0].kind
        rows = []
        for week in weeks:
            part = frame[frame["week"] == week]
            cells = [
                mark(f"food.{week}.start", day(part["start"].iloc[0])),
                mark(f"food.{week}.days", str(part["days"].iloc[0])),
            ]
            for item, unit in ((sugar, "µL"), (kind, "mg")):
                line = part[(part["item"] == item) & (part["unit"] == unit)].iloc[0]
                cells.append(_amount(f"food.{week}.{item}.{unit}", line))
            enough = line["q50"] >= LEAST  # of the prey, in mg
            pieces = part[(part["unit"] == "piece") & (part["q50"] > 0) & enough]
            counts = [
                mark(f"food.{week}.{item}.pieces", by_hand(number, item))
                for item, number in zip(pieces["item"], pieces["q50"], strict=True)
            ]
            cells.append(f"<small>{', '.join(counts)}</small>" if counts else "")
            rows.append(cells)
        amounts = "sugar water, µL (range)", f"{kind}, mg (range)"
        head = ("week from", "days", *amounts, "that is, or")
        shown = frame["week"].isin(weeks) & frame["item"].isin([sugar, kind])
        notes = dict.fromkeys(filter(None, frame.loc[shown, "note"]))
        lead = "Seeds and prey" if kind == "seeds" else "Prey"
        prey = f"{lead} {start_sentence(food)}."
        now = shown & (frame["week"] == weeks[0]) & (frame["item"] == sugar)
        fed = (frame.loc[now, "q95"] > 0).any()  # not in a rest, nor a claustral queen
        return Section(
            self.founding_day()
            + paragraph("food.start", prey)
            + (
                paragraph(
                    "food.percent",
                    f"Amounts a week; sugar water of {food.percent:g} % by weight, a usual drop of "
                    f"which is about {DROP_UL:g} µL.",
                )
                + table("Food by the week", head, rows, "lrrrl", "wide")
                if frame.loc[frame["week"].isin(weeks), "days"].any()  # not in a rest
                else ""
            )
            + f'<div class="small">{listing("food.note", notes)}'
            + ("" if fed else "<p>Once the colony is fed:</p>")
            + f"{self._feeding_rules}</div>"
        )

    @property
    def _feeding_rules(self) -> str:
        """How to serve, whatever the amounts."""
        return listing("food.practice", (SERVING, MIXING, *CAUTIONS))

    def founding_day(self) -> str:
        """How a queen is fed who has no workers yet."""
        if self.plan.forecast.workers_now > 0:
            return ""
        return paragraph("food.founding", feeding_rules(self.plan.forecast.fit.species).advice)

    @property
    def alerts(self) -> Section:
        """What stands out in the notes."""
        alerts = self.plan.alerts
        mind = paragraph("alerts.mind", f"Mind: {MIND}.", "small")
        if not len(alerts):
            none = f"<p>Nothing stands out up to {mark('start', day(alerts.end))}.</p>"
            return Section(none + mind)
        return Section(listing("alert", (alert.sentence() for alert in alerts)) + mind)

    @property
    def notes(self) -> Section:
        """What the model rests on, and how far it can be trusted."""
        return Section(f'<div class="small">{listing("note", _model_notes(self.plan))}</div>')

    @property
    def cautions(self) -> Section:
        """What to take care of, the law first."""
        return Section(f'<div class="small">{listing("caution", self.plan.cautions())}</div>')


def look_ahead(
    fit: Fit, days: int, workers: int | None = None, today_is: str | pd.Timestamp | None = None
) -> Forecast:
    """Look as far ahead as a page needs, `days` at least: until the number waited for is there.

    `workers` and `today_is` are those of `Page`.
    """
    if workers is None:
        day = pd.Timestamp(as_day(pd.Timestamp.today() if today_is is None else today_is, "today"))
        since = min(max((day - fit.counts.end).days, 1), days)
        until = fit.forecast(days=since, rng=1)  # of the same colonies as below
        workers = awaited(_held(until, min(max(day, until.start), until.dates[-1])))
    return fit.forecast(days=days, workers=workers, rng=1)


def _held(ahead: Forecast, date: pd.Timestamp) -> float:
    """Workers on a day, most likely."""
    return float(np.median(ahead.paths[:, (date - ahead.start).days, WORKERS]))


def _by_day(frame: pd.DataFrame) -> dict[tuple[Any, Any], dict[Any, Any]]:
    """Quantiles of a forecast by date and stage."""
    return {(line["date"], line["stage"]): line for line in frame.to_dict("records")}


def _spread(of: str, values: dict[Any, Any]) -> str:
    """Most likely number of ants, and its range."""
    return spread(of, *(ants(values[level]) for level in LEVELS))


def _amount(of: str, line: pd.Series) -> str:
    """Most likely amount and its range; empty in a week without amounts."""
    values = [line[level] for level in LEVELS]
    if not pd.notna(values[0]):
        return ""
    return spread(of, *measured(*values))


def _model_notes(plan: CarePlan) -> Iterator[str]:
    ahead, fit = plan.forecast, plan.forecast.fit
    log = fit.counts
    yield (
        f"{counted(len(log.frame), 'count')} on {counted(len(log), 'date')}, {log.start:%Y-%m-%d} "
        f"to {log.end:%Y-%m-%d}; {counted(len(log.skipped), 'row')} of the file not used."
    )
    yield from fit.temperature.findings
    if not fit.converged:
        yield "NOT CONVERGED: the fit did not settle; do not rely on these dates."
    held, exact = held_in_sample(fit)
    if exact:
        yield f"The 90% intervals hold {held} of {counted(exact, 'exact count')} (in sample)."
    frame = fit.summary_frame()
    own = frame.loc[frame["learned"] < LEARNED_LITTLE, "parameter"]
    if len(own):
        yield f"Still the profile's, not the colony's: {', '.join(own)}."
    lost = sum(component.probability for component in fit.components if component.loss is not None)
    if lost:
        yield f"Chance that brood was lost between two looks: {share_words(lost)}."
    yield (
        f"{ahead.draws:,} simulated colonies, {ahead.days} days from {ahead.start:%Y-%m-%d}, seed "
        f"{ahead.seed}; evidence for {fit.species.name}: {fit.species.grade}."
    )
    if fit.history.queens > 1:
        yield f"Queens: {queens_words(fit)}."
    yield f"Season of {fit.species.scientific_name}: {season_words(fit.species)}."
    yield "Every date holds if the queen lives and stays fertile: no count can tell that."
