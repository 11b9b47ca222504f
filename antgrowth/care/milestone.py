"""One milestone of a colony: its window, and what must hold first."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import pandas as pd

from antgrowth._core.arguments import FLAG, takes
from antgrowth._core.dates import as_day
from antgrowth._core.summary import Report, in_words, share_words
from antgrowth._core.text import span_words
from antgrowth.care.checks import Check, Checker
from antgrowth.care.timing import NEVER, FirstPassage, earliest
from antgrowth.care.triggers import Reading, Surroundings, read_trigger
from antgrowth.forecast.arrival import CONDITION
from antgrowth.species.milestones import MilestoneRule

SCHEDULED = ("coming", "due", "missed")


@dataclass(frozen=True, eq=False, repr=False)
class Milestone:
    """A milestone with its dates.

    Attributes
    ----------
    rule : MilestoneRule
        What it is, as the species profile and the keeper state it.
    status : str
        "coming"; "due": the last note is in its window, or a note asks for it; "passed": it came by
        the last note; "done": the keeper says so; "missed": it was not seized, and its window is
        that of the next time; "beyond" the horizon; "not scheduled".
    reason : str
        The trigger in words, or why it is not scheduled.
    on : Timestamp
        Day on which it passed, was done, fell due by a note or was missed; else NaT.
    window : tuple of Timestamp
        First and last day; NaT at an end beyond the horizon, and where there is no window.
    middle : Timestamp
        Most central day; NaT if there is none, or a pause such as a winter splits the days.
    timing : FirstPassage or None
        The day in each simulated colony; None where a date decides.
    by_date : bool
        A date decides, and not chance.
    start, horizon_end : Timestamp
        Last note, and last day looked ahead.
    level : float
        Probability of the window.
    checks : tuple of Check
        What must hold first, as it stands.
    """

    rule: MilestoneRule
    status: str
    reason: str
    on: pd.Timestamp
    window: tuple[pd.Timestamp, pd.Timestamp]
    middle: pd.Timestamp
    timing: FirstPassage | None = field(repr=False)
    by_date: bool
    start: pd.Timestamp
    horizon_end: pd.Timestamp
    level: float
    checks: tuple[Check, ...] = ()

    @property
    def id(self) -> str:
        """Stays the same for good."""
        return self.rule.id

    @property
    def title(self) -> str:
        """Its name."""
        return self.rule.title

    @property
    def first(self) -> pd.Timestamp:
        """First day of the window."""
        return self.window[0]

    @property
    def last(self) -> pd.Timestamp:
        """Last day of the window; NaT beyond the horizon."""
        return self.window[1]

    @property
    def is_scheduled(self) -> bool:
        """Whether it has a window ahead."""
        return self.status in SCHEDULED and pd.notna(self.first)

    @property
    def is_due(self) -> bool:
        """Whether it has no window but is to be done now: a note asks for it, or it is late."""
        return self.status == "due" and not self.is_scheduled

    @property
    def prepare_from(self) -> pd.Timestamp:
        """Day from which to prepare: the lead time before the window; NaT without a window."""
        if not self.is_scheduled:
            return NEVER
        if any(trigger.kind == "nest" for trigger in self.rule.triggers):
            return (
                self.first
            )  # its window is the time of joining, the lead time before the nest fills
        return self.first - pd.Timedelta(days=self.rule.lead_days)

    @property
    def ready(self) -> bool | None:
        """True if all checks hold, False if one does not, None if one is not known."""
        found = [check.holds for check in self.checks]
        return False if False in found else None if None in found else True

    def chance_by(self, date: str | pd.Timestamp) -> float:
        """Chance that it has come by the evening of a date; 0 or 1 where a date decides."""
        day = pd.Timestamp(as_day(date, "date"))
        if self.timing is not None:
            return self.timing.chance_by(day)
        return float(pd.notna(self.first) and self.first <= day)

    def row(self) -> dict[str, Any]:
        """A row of `CarePlan.frame`."""
        known = self.timing is not None and self.status != "not scheduled"
        return {
            "id": self.id,
            "title": self.title,
            "status": self.status,
            "on": self.on,
            "first": self.first,
            "median": self.middle,
            "last": self.last,
            "chance": self.chance_by(self.horizon_end) if known else float("nan"),
            "prepare_from": self.prepare_from,
            "ready": self.ready if self.is_scheduled else None,
            "trigger": self.reason,
            "checks": "; ".join(map(str, self.checks)),
            "action": self.rule.action,
            "caution": self.rule.caution,
            "evidence": ", ".join(dict.fromkeys([self.rule.status, self.rule.source])),
        }

    @in_words
    def sentence(self) -> str:
        """Everything in one sentence."""
        return f"{self.title}: {self.when()}."

    def when(self) -> str:
        """Its dates in words."""
        if self.status == "not scheduled":
            return f"not scheduled, {self.reason}"
        if self.status == "done":
            return f"done {_day(self.on)}"
        if self.status == "passed":
            return f"passed by {_day(self.on)} ({self.reason})"
        if self.status == "missed":
            return f"missed about {_day(self.on)}, next {self._window_words()} ({self.reason})"
        if self.status == "beyond":
            chance = share_words(self.chance_by(self.horizon_end))
            return (
                f"hardly before {_day(self.horizon_end)} ({chance} chance by then; {self.reason})"
            )
        if self.status == "due" and self.on is not NEVER:
            return f"due now, since {_day(self.on)} ({self.reason})"
        lead = (
            "" if self.prepare_from == self.first else f"; prepare from {_day(self.prepare_from)}"
        )
        if self.prepare_from <= self.start:
            lead = "; prepare now"
        condition = "" if self.by_date else f", {CONDITION}"
        due = "due now, " if self.status == "due" else ""
        return f"{due}{self._window_words()}{lead} ({self.reason}){condition}"

    @takes(short=FLAG)
    def span(self, short: bool = False) -> str:
        """Its window in words, two where a winter splits the dates; `short` as in a title."""
        if self.timing is not None and not self.by_date:
            return self.timing.when(self.level, short)
        if short:
            return span_words(self.first, self.last, self.start.year)
        return " to ".join(dict.fromkeys([_day(self.first), _day(self.last)]))

    def _window_words(self) -> str:
        """The same, with its chance and the most central day where chance decides."""
        if self.timing is None or self.by_date:
            return self.span()
        return self.timing.when_in_full(self.level)

    def checked(self, checker: Checker) -> Milestone:
        """The same, with its checks looked at."""
        if not self.is_scheduled and self.status not in ("due", "missed"):
            return self
        first = self.start if pd.isna(self.first) else self.first
        last = self.last if self.status != "due" or pd.notna(self.first) else self.start
        # The days on which a keeper warms up in steps are cool on purpose.
        ends_rest = any(trigger.value == "rest ends" for trigger in self.rule.triggers)
        warming = ends_rest and self.by_date and self.rule.ramp_days > 0
        found = checker.check(self.rule.checks, first, last, warming=warming)
        return replace(self, checks=tuple(found))

    def __repr__(self) -> str:
        return f"Milestone({self.sentence()})"

    def _repr_html_(self) -> str:
        checks = [(check.name, check.verdict()) for check in self.checks]
        facts = (
            ("when", self.when()),
            ("do", self.rule.action),
            ("mind", self.rule.caution),
            *checks,
        )
        return Report(self.title, tuple(fact for fact in facts if fact[1])).as_html()

    @classmethod
    def read(cls, rule: MilestoneRule, around: Surroundings, level: float) -> Milestone:
        """Tell when a rule's milestone comes, by the first of its triggers."""
        ahead = around.forecast
        readings = [read_trigger(trigger, rule, around) for trigger in rule.triggers]
        state = _state(rule, readings, ahead.start, level)
        return cls(rule=rule, start=ahead.start, horizon_end=ahead.dates[-1], level=level, **state)


def _state(
    rule: MilestoneRule, readings: list[Reading], start: pd.Timestamp, level: float
) -> dict[str, Any]:
    """Status, reason and dates of a milestone from what its triggers say."""
    state: dict[str, Any] = {
        "status": "not scheduled", "on": NEVER, "window": (NEVER, NEVER), "middle": NEVER,
        "timing": None, "by_date": False,
    }  # fmt: skip
    by_chance = [found.timing for found in readings if found.timing is not None]
    by_date = [found for found in readings if found.window is not None]
    state["reason"] = " or ".join(found.because for found in readings if not found.urgent)
    if by_chance:
        fixed = [by_chance[0].fixed(found.window[0]) for found in by_date if found.window]
        timing = earliest([*by_chance, *fixed])
        middle = NEVER if timing.is_split else timing.median
        state |= {"timing": timing, "window": timing.interval(level), "middle": middle}
    elif by_date:
        soonest = min(by_date, key=lambda found: found.window or (pd.Timestamp.max,) * 2)
        state |= {"window": soonest.window, "by_date": True, "reason": soonest.because}
    over = {"window": (NEVER, NEVER), "middle": NEVER}
    if rule.done:
        return state | over | {"status": "done", "on": pd.Timestamp(rule.done)}
    passed = [found for found in readings if pd.notna(found.passed)]
    if passed:
        first = min(passed, key=lambda found: found.passed)
        status = "due" if first.urgent else "passed"
        return state | over | {"status": status, "on": first.passed, "reason": first.because}
    missed = [found for found in by_date if pd.notna(found.missed)]
    if missed and state["by_date"]:
        return state | {"status": "missed", "on": missed[0].missed}
    excluded = [found.excluded for found in readings if found.excluded]
    if not by_chance and not by_date:
        return state | {"reason": "; ".join(excluded) or f"waits for {state['reason']}"}
    # A date that is there asks for the step, whatever the numbers: nobody says that it was taken.
    there = [found for found in by_date if found.window and found.window[0] <= start]
    if by_chance and there:
        return state | {
            "status": "due", "window": there[0].window, "by_date": True, "timing": None,
            "middle": NEVER, "reason": there[0].because,
        }  # fmt: skip
    if by_chance and state["timing"].now > 0.5:
        return (
            state
            | over
            | {
                "status": "passed",
                "on": start,
                "reason": f"{state['reason']}, most likely, though not noted",
            }
        )
    if state["window"][0] is pd.NaT:
        return state | {"status": "beyond"}
    return state | {"status": "due" if state["window"][0] <= start else "coming"}


def _day(date: pd.Timestamp) -> str:
    return f"{date:%Y-%m-%d}"
