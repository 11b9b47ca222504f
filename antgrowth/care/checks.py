"""What must hold before a step is taken: warmth within limits, no open alert, food in place."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import pandas as pd

from antgrowth._core.summary import Report
from antgrowth._core.text import counted
from antgrowth.evaluation.alert import Alert
from antgrowth.evaluation.alerts import Alerts
from antgrowth.food.feed_log import FeedLog
from antgrowth.food.practice import WARM_REST_C, feeding_rules
from antgrowth.forecast.paths import Forecast

FRESH_DAYS = 14
"""A portion noted within so many days of the last note counts as food in place (assumed). [day]"""

OPEN_DAYS = 42
"""An alert of so many days before the last note is still open (assumed). [day]"""

_DAY = pd.Timedelta("1D")


def recent_alerts(alerts: Iterable[Alert], last_note: pd.Timestamp) -> list[Alert]:
    """Alerts that are still open on the day of the last note."""
    return [alert for alert in alerts if alert.date >= last_note - OPEN_DAYS * _DAY]


@dataclass(frozen=True)
class Check:
    """One thing that must hold first."""

    name: str  # "temperature", "alerts" or "food"
    holds: bool | None  # None if it is not known
    text: str  # what was found

    def verdict(self) -> str:
        """Whether it holds, and what was found."""
        words = {True: "fine", False: "NOT FINE", None: "not known, look yourself"}
        return f"{words[self.holds]}; {self.text}"

    def __str__(self) -> str:
        return f"{self.name}: {self.verdict()}"

    def _repr_html_(self) -> str:
        return Report("", ((self.name, self.verdict()),)).as_html()


@dataclass(frozen=True, eq=False)
class Checker:
    """Looks at one colony."""

    forecast: Forecast
    feeds: FeedLog | None
    alerts: Alerts
    # From then on the colony is out of the founding tube; NaT if that is not in sight.
    housed_from: pd.Timestamp

    def check(
        self,
        names: Sequence[str],
        first: pd.Timestamp,
        last: pd.Timestamp,
        *,
        warming: bool = False,
    ) -> list[Check]:
        """Look at "temperature", "alerts" and "food", as asked for, in the window of a step.

        The window has NaT at an end beyond the horizon. One of warming in steps has to be warm at
        its end, and not before.
        """
        checks = {
            "temperature": lambda: self._temperature(first, last, warming),
            "alerts": self._alerts,
            "food": self._food,
        }
        return [checks[name]() for name in names]

    def _temperature(self, first: pd.Timestamp, last: pd.Timestamp, warming: bool) -> Check:
        ahead, ant = self.forecast, self.forecast.fit.species
        start = max(first, ahead.start)
        stop = min(ahead.dates[-1] if pd.isna(last) else last, ahead.dates[-1])
        if start > stop:
            return Check("temperature", None, "the window lies beyond the forecast")
        days = (stop - start) // _DAY + 1
        hours_c = ahead.temperature.hours(start, days)
        resting = ahead.temperature.resting(start, days)
        # A colony that may still sit in its tube is held against the lower ceiling; so with NaT.
        phase = "housed" if start >= self.housed_from else "founding"
        ceiling = ant.value(f"limits.{phase}_ceiling_c")
        coolest = ant.value("development.larva.lower_c")
        found = f"{hours_c.min():.1f} to {hours_c.max():.1f} °C planned in the window"
        if hours_c.max() > ceiling:
            over = int((hours_c > ceiling).sum())
            return Check(
                "temperature", False,
                f"{found}, {counted(over, 'hour')} above the {phase} ceiling of {ceiling:g} °C",
            )  # fmt: skip
        if warming and stop != last:
            return Check("temperature", None, f"{found}; the forecast ends before it is warm")
        if warming:
            hours_c, resting = hours_c[-1:], resting[-1:]
        awake = hours_c[~resting].mean(axis=1)
        if len(awake) and awake.min() < coolest:
            cold = "at its end still" if warming else "and days with"
            return Check(
                "temperature", False,
                f"{found}, {cold} a mean below {coolest:g} °C, at which larvae stand still",
            )  # fmt: skip
        limits = f"{phase} ceiling {ceiling:g} °C"
        return Check("temperature", True, f"{found}; {limits}, larvae grow above {coolest:g} °C")

    def _alerts(self) -> Check:
        recent = recent_alerts(self.alerts, self.forecast.start)
        if not recent:
            return Check("alerts", True, f"none in the {OPEN_DAYS} days before the last note")
        told = "; ".join(f"{alert.kind} ({alert.date:%Y-%m-%d})" for alert in recent)
        return Check("alerts", False, f"{told}: see the alerts")

    def _food(self) -> Check:
        ahead = self.forecast
        wanted = self._wanted()
        if ahead.temperature.resting(ahead.start, 1)[0]:
            if ahead.temperature.hours(ahead.start, 1).mean() < WARM_REST_C:
                return Check("food", True, "this colony rests: water only")
            wanted = wanted[:1]  # sugar alone
        if not wanted:
            return Check("food", True, "this colony is not fed yet")
        if self.feeds is None:
            return Check("food", None, "no feeds were given")
        if not len(self.feeds):
            return Check("food", None, "feeds.csv holds no portion")
        frame = self.feeds.frame
        fresh = frame[
            (frame["date"] <= ahead.start) & (frame["date"] > ahead.start - FRESH_DAYS * _DAY)
        ]
        offered = set(fresh["need"])
        missing = [need for need in wanted if need not in offered]
        when = f"in the {FRESH_DAYS} days before the last note"
        if missing:
            return Check("food", False, f"no {' and no '.join(missing)} noted {when}")
        return Check("food", True, f"{' and '.join(wanted)} noted {when}")

    def _wanted(self) -> list[str]:
        """What an awake colony of the last note's size is offered."""
        rules = feeding_rules(self.forecast.fit.species)
        most = self.forecast.workers_now
        needs = {"sugar": rules.sugar_from_workers, "protein": rules.protein_from_workers}
        return [need for need, count in needs.items() if most >= count]
