"""The best temperature regime of a search, how flat the search is around it, and its report."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.arrays import Floats
from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report, Row, Shown, in_words, share_words
from antgrowth._core.text import counted
from antgrowth.climate.temperature import Temperature
from antgrowth.forecast.paths import usual_dormancy
from antgrowth.inference.posterior import Posterior
from antgrowth.regimes.comparison import RegimeComparison, comparison_report, gain_words, whole_days
from antgrowth.regimes.limits import days_gained, quantile_of
from antgrowth.species.thermal_limits import SENSOR_MARGIN_C

if TYPE_CHECKING:
    from matplotlib.axes import Axes

NEAR_DAYS = 2.0
"""Plans that are later by no more than this count as near the best. [day]"""

AS_NOW, PRACTICE = "as now", "usual practice"
"""Names of what goes on now and of what is usual, beside the finalists."""


@dataclass(frozen=True, eq=False, repr=False)
class BestRegime(Shown):
    """The best regime of a search; made by `best_regime`.

    Attributes
    ----------
    fit : Posterior
    phase : str
        Whose ceiling counts.
    ceiling_c : float
        [°C]
    range_c : tuple of float
        Lowest and highest temperature searched: from where some brood stands still to the ceiling
        itself, though nothing within 2 °C of that is recommended. [°C]
    candidates : DataFrame
        Columns regime, day_c, night_c, mean_c [°C], wait_days (until expected growth reaches the
        number of workers), safe; the soonest first.
    comparison : RegimeComparison
        The finalists on whole colonies, with what goes on now and the practice value.
    practice_c : float or None
        Temperature usual in this phase; None if the profile has none. [°C]
    """

    fit: Posterior
    phase: str
    ceiling_c: float
    range_c: tuple[float, float]
    candidates: pd.DataFrame = field(repr=False)
    comparison: RegimeComparison = field(repr=False)
    practice_c: float | None

    @property
    def name(self) -> str:
        """Name of the best regime."""
        return min(self._tried, key=self.comparison.mean_wait)

    @property
    def day_c(self) -> float:
        """Its temperature by day [°C]."""
        return float(self._candidate["day_c"])

    @property
    def night_c(self) -> float:
        """Its temperature by night [°C]."""
        return float(self._candidate["night_c"])

    @property
    def plan(self) -> Temperature:
        """Its temperatures, with the rest that the species needs, from day zero of the colony."""
        return self.comparison.forecasts[self.name].temperature

    @property
    def rests(self) -> bool:
        """Whether the species needs a rest in the days looked ahead, and each finalist has it."""
        plans = [self.comparison.forecasts[name] for name in self._tried]
        resting = [p.temperature.resting(p.dates[1], p.days).any() for p in plans]
        return usual_dormancy(self.fit) is not None and all(resting) and not self.unrested

    @property
    def unrested(self) -> bool:
        """Whether finalists leave out a rest: one is skipped that is half over at the last note."""
        return any(self.comparison.judged[name].unrested for name in self._tried)

    def near(self) -> pd.DataFrame:
        """Safe candidates that are later than the best by no more than two days."""
        safe = self.candidates[self.candidates["safe"]]
        limit = safe["wait_days"].min() + NEAR_DAYS
        near: pd.DataFrame = safe[safe["wait_days"] <= limit]
        return near.reset_index(drop=True)

    def frame(self) -> pd.DataFrame:
        """Return the finalists in numbers; see `RegimeComparison.frame`."""
        return self.comparison.frame()

    @in_words
    def sentence(self) -> str:
        """The finding in one sentence."""
        found, number = self.comparison, counted(self.comparison.workers, "worker")
        middle = quantile_of(found.passage_days[self.name], 0.5)
        when = "beyond the horizon"
        ahead = found.forecasts[self.name].arrival(found.workers)
        if ahead.split() is not None:
            when = ahead.when()
        elif np.isfinite(middle):
            when = f"about {self.fit.counts.end + pd.Timedelta(days=int(middle)):%Y-%m-%d}"
        gain = gain_words(found.gains(self.name), AS_NOW)
        if found.judged[AS_NOW].margin_c < 0:
            number = f"TOO WARM: {AS_NOW} is {found.warnings[AS_NOW]}. {number}"
        if self.name in found.warnings:
            why = found.warnings[self.name]
            return f"{number}: {self.name} is soonest, {when}; it {gain}; not recommended: {why}"
        return f"{number}: {self.name} is best, {when}; it {gain}"

    @property
    def next_name(self) -> str | None:
        """Name of the finalist that comes next; None if there is one alone."""
        others = [name for name in self._tried if name != self.name]
        return min(others, key=self.comparison.mean_wait, default=None)

    def ahead_of_next(self) -> Floats:
        """Days by which the best is sooner than the next, colony by colony, shape (draws,).

        Both are tried on the same colonies with the same luck: what is left open of the difference
        is far less than of either date. Infinite and NaN as of `RegimeComparison.gains`.
        """
        days = self.comparison.passage_days
        return days_gained(days[self.next_name or self.name], days[self.name])

    def lead(self) -> str:
        """How sure it is that the best is better than the next; empty if there is one alone."""
        if self.next_name is None:
            return ""
        days = self.ahead_of_next()
        known = days[~np.isnan(days)]
        sooner, later = (share_words(float(np.mean(side))) for side in (known > 0, known < 0))
        return (
            f"the best {gain_words(days, self.next_name)}; of colonies that get there it is the "
            f"sooner of the two in {sooner}, the later in {later}"
        )

    def flatness(self) -> str:
        """Say how much it matters to meet the best."""
        steady = self.candidates[self.candidates["day_c"] == self.candidates["night_c"]]
        safe = steady[steady["safe"]]
        best, limit = safe["wait_days"].min(), self.ceiling_c - SENSOR_MARGIN_C
        flat = safe[safe["wait_days"] <= self.candidates.loc[self.candidates["safe"], "wait_days"]
                    .min() + NEAR_DAYS]  # fmt: skip
        near = len(self.near())
        lie = "lies" if near == 1 else "lie"
        words = f"{near} of {len(self.candidates)} plans {lie} within {NEAR_DAYS:g} days"
        if len(flat) > 1:
            words += f", steady ones from {flat['day_c'].min():g} to {flat['day_c'].max():g} °C"
        top = float(safe.sort_values("wait_days")["day_c"].iloc[0])
        cooler = safe[np.isclose(safe["day_c"], top - 2.0)]
        if len(cooler):
            words += f"; 2 °C cooler costs {whole_days(float(cooler['wait_days'].iloc[0] - best))}"
        warm = steady[~steady["safe"]]
        lost = best - warm["wait_days"].min() if len(warm) else 0.0
        if lost > 0.5 and np.isclose(top, limit):
            words += (
                f"; up to the ceiling it would be {whole_days(float(lost))} sooner still, within "
                "what a sensor may be off: the margin sets this best, not the ants"
            )
        return words

    def practice(self) -> str:
        """Hold the practice value against the best."""
        if self.practice_c is None:
            return f"no temperature usual for {self.phase} colonies is known of this species"
        passage_days, best = (
            self.comparison.passage_days[PRACTICE],
            self.comparison.passage_days[self.name],
        )
        both = np.isfinite(passage_days) & np.isfinite(best)
        later = np.median(passage_days[both] - best[both]) if both.any() else np.inf
        lead = f"{self.practice_c:g} °C is usual"
        violation = self.comparison.warnings.get(PRACTICE)
        but = "" if violation is None else f", but {violation}"
        if later <= -0.5:
            return f"{lead}: {whole_days(float(-later))} sooner than the best{but}"
        if but:
            return f"{lead}{but}"
        if not np.isfinite(later):
            return f"{lead}: it does not get there in time"
        if later < 0.5:
            return f"{lead}: as soon as the best"
        return f"{lead}: {whole_days(float(later))} later than the best"

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the wait over the temperature, for steady plans and for cooler nights."""
        return picture("regimes", "plot_best", self, ax)

    def _report(self) -> Report:
        return best_report(self)

    def __repr__(self) -> str:
        return f"BestRegime({self.sentence()})"

    @property
    def _tried(self) -> list[str]:
        """Names of the finalists of the search."""
        return [n for n in self.comparison.forecasts if n not in (AS_NOW, PRACTICE)]

    @property
    def _candidate(self) -> Row:
        return self.candidates[self.candidates["regime"] == self.name].to_dict("records")[0]


def best_report(found: BestRegime) -> Report:
    """Report of a search: the best, how flat it is, and the finalists side by side."""
    below = comparison_report(found.comparison)
    low, high = found.range_c
    season = found.fit.species.season
    rests = f", each with its rest ({season.kind} season: {season.basis})" if found.rests else ""
    if found.unrested:
        rests = ", without the rest that is due and more than half over"
    return Report(
        title=f"Best regime: {found.comparison.workers} workers, {found.fit.counts.name} "
        f"({found.fit.species.scientific_name})",
        facts=(
            ("finding", found.sentence()),
            *((("next", found.lead()),) if found.next_name else ()),
            ("flatness", found.flatness()),
            ("practice", found.practice()),
            ("searched", f"{len(found.candidates)} plans between {low:g} and {high:g} °C"
             f"{rests}; only those are recommended that "
             f"stay at least 2 °C below the ceiling, {found.ceiling_c:g} °C"),
            ("holds", found.comparison.condition),
        ),
        head=below.head,
        align=below.align,
        rows=below.rows,
        closing=below.closing,
    )  # fmt: skip
