"""The best temperature regime for a colony: soonest at a safe distance from what is too warm."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report, Shown
from antgrowth._core.text import counted
from antgrowth._core.validation import as_celsius, check_whole
from antgrowth.climate.temperature import Temperature, constant
from antgrowth.errors import AntgrowthError, SpeciesError, TemperatureError
from antgrowth.forecast.paths import rest_habit
from antgrowth.inference.posterior import Fit
from antgrowth.regimes.candidates import (
    Candidate,
    day_night_plans,
    expected_wait,
    lowest_c,
    steady_plans,
)
from antgrowth.regimes.comparison import DAYS, RegimeComparison, _compared
from antgrowth.regimes.limits import level_of, phase_of
from antgrowth.regimes.view import best_report, gain_words, whole_days
from antgrowth.species.thermal_limits import PHASES, SENSOR_MARGIN_C

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["BestRegime", "best_regime"]

NEAR_DAYS = 2.0
"""Plans that are later by no more than this count as near the best. [day]"""

FINALISTS = 2
"""So many of the soonest are tried on whole colonies, and the soonest with cooler nights."""

DRAWS = 400
"""Colonies on which each finalist is tried."""

AS_NOW, PRACTICE = "as now", "usual practice"


@dataclass(frozen=True, eq=False, repr=False)
class BestRegime(Shown):
    """The best regime of a search; made by `best_regime`.

    Attributes
    ----------
    fit : Fit
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

    fit: Fit
    phase: str
    ceiling_c: float
    range_c: tuple[float, float]
    candidates: pd.DataFrame = field(repr=False)
    comparison: RegimeComparison = field(repr=False)
    practice_c: float | None

    @property
    def name(self) -> str:
        """Name of the best regime."""
        return min(self._tried, key=self.comparison._wait)

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
        return rest_habit(self.fit) is not None and all(resting) and not self.unrested

    @property
    def unrested(self) -> bool:
        """Whether finalists leave out a rest: one is skipped that is half over at the last note."""
        return any(self.comparison.judged[name].unrested for name in self._tried)

    def near(self) -> pd.DataFrame:
        """Safe candidates that are later than the best by no more than two days."""
        safe = self.candidates[self.candidates["safe"]]
        limit = safe["wait_days"].min() + NEAR_DAYS
        return safe[safe["wait_days"] <= limit].reset_index(drop=True)

    def frame(self) -> pd.DataFrame:
        """Return the finalists in numbers; see `RegimeComparison.frame`."""
        return self.comparison.frame()

    def sentence(self) -> str:
        """The finding in one sentence."""
        found, number = self.comparison, counted(self.comparison.workers, "worker")
        middle = level_of(found.waits[self.name], 0.5)
        when = "beyond the horizon"
        if np.isfinite(middle):
            when = f"about {self.fit.counts.end + pd.Timedelta(days=int(middle)):%Y-%m-%d}"
        gain = gain_words(found.gains(self.name), AS_NOW)
        if self.name in found.warnings:
            why = found.warnings[self.name]
            return f"{number}: {self.name} is soonest, {when}; it {gain}; not recommended: {why}"
        return f"{number}: {self.name} is best, {when}; it {gain}"

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
        waits, best = self.comparison.waits[PRACTICE], self.comparison.waits[self.name]
        both = np.isfinite(waits) & np.isfinite(best)
        later = np.median(waits[both] - best[both]) if both.any() else np.inf
        lead = f"{self.practice_c:g} °C is usual"
        objection = self.comparison.warnings.get(PRACTICE)
        but = "" if objection is None else f", but {objection}"
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
        drawn: Axes = picture("regimes", "plot_best")(self, ax)
        return drawn

    def summary(self) -> str:
        """Report in plain text: the best, how flat it is, practice, and the finalists."""
        return self._report().as_text()

    def _report(self) -> Report:
        return best_report(self)

    def __repr__(self) -> str:
        return f"BestRegime({self.sentence()})"

    @property
    def _tried(self) -> list[str]:
        """Names of the finalists of the search."""
        return [n for n in self.comparison.forecasts if n not in (AS_NOW, PRACTICE)]

    @property
    def _candidate(self) -> dict:
        return self.candidates[self.candidates["regime"] == self.name].to_dict("records")[0]


def best_regime(
    fit: Fit,
    *,
    workers: int = 30,
    ceiling_c: float | None = None,
    phase: str | None = None,
    days: int = DAYS,
    draws: int = DRAWS,
    rng: int | np.random.Generator | None = None,
) -> BestRegime:
    """Search for the steady or day-and-night temperature that brings workers soonest, safely.

    Parameters
    ----------
    fit : Fit
    workers : int
        The number waited for.
    ceiling_c : float, optional
        A lower ceiling than that of the profile for the phase, which is taken if not given. What
        goes on now and the practice value are held against it as well. [°C]
    phase : {"founding", "housed", "outdoors"}, optional
        Whose ceiling counts. If not given, "founding" while no worker is expected at the last note,
        else "housed".
    days : int
        How far to look ahead. [day]
    draws : int
        Colonies on which the finalists are tried.
    rng : int, numpy.random.Generator or None
        Seed or source of chance.

    Returns
    -------
    BestRegime

    Raises
    ------
    TemperatureError
        If `ceiling_c` is above that of the profile, or leaves no room to search.
    SpeciesError
        If the profile has no ceiling for the phase and none is given.
    AntgrowthError
        If the colony holds as many workers already, or is not expected to in time.

    Notes
    -----
    Steady temperatures are searched from where some brood stands still to the ceiling, and days of
    14 hours with nights 3 and 6 °C cooler; only what stays 2 °C below the ceiling may be
    recommended, since a sensor may be off by as much. A species that needs a rest has it in each
    candidate, at its usual time or as the colony had it before; one that was due and is more than
    half over at the last note is skipped, and then no candidate is recommended. Expected growth of
    a few posterior draws finds the finalists, whole colonies decide among them. Sooner is all that
    counts here: what heat does to a queen over months is known of few ants. The ceilings stand for
    it.

    For heat mats see `constant`.

    Examples
    --------
    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> notes = pd.DataFrame({"date": ["2026-03-20", "2026-04-15"], "eggs": [12, 4],
    ...                       "larvae": ["", 9]})
    >>> fit = ag.fit(notes, ag.constant(24), "lasius-niger", queen_since="2026-03-01", rng=1)
    >>> found = ag.best_regime(fit, workers=10, days=120, draws=100, rng=1)
    >>> found.name, found.range_c
    ('steady 26 °C', (14.0, 28.0))
    """
    check_whole("best_regime", workers=workers, days=days, draws=draws)
    held = phase_of(fit, phase, draws, "best_regime")
    ceiling = _ceiling(fit, held, ceiling_c)
    low = lowest_c(fit.species)
    if not ceiling - SENSOR_MARGIN_C > low:
        raise TemperatureError(
            f"best_regime: {SENSOR_MARGIN_C:g} °C below a ceiling of {ceiling:g} °C there is no "
            f"room above {low:g} °C, where some brood of {fit.species.name} stands still. Give a "
            "higher ceiling_c."
        )
    steady = _tried(fit, steady_plans(low, ceiling, 1.0), workers, days)
    if steady and min(wait for _, wait in steady) <= 0:
        raise AntgrowthError(
            f"best_regime: the colony is expected to hold {workers} workers already. Ask for more."
        )
    others = _tried(fit, day_night_plans(low, ceiling), workers, days)
    top = min((c for c in steady if c[0].safe), key=lambda c: c[1])[0].day_c
    between = [c for c in steady_plans(low, ceiling, 0.5) if abs(abs(c.day_c - top) - 0.5) < 0.1]
    table = _table([*steady, *others, *_tried(fit, between, workers, days)])
    safe = table[table["safe"]]
    if safe["wait_days"].min() >= days:
        raise AntgrowthError(
            f"best_regime: under no safe plan are {workers} workers expected within {days} days. "
            "Look further ahead, or ask for fewer."
        )
    practice = _practice(fit, held)
    plans: dict[str, Temperature | float | None] = {AS_NOW: None}
    nights = safe[safe["night_c"] < safe["day_c"]]
    finalists = pd.concat([safe.head(FINALISTS), nights.head(1)]).drop_duplicates("regime")
    for row in finalists.to_dict("records"):
        plans[row["regime"]] = Candidate(row["regime"], row["day_c"], row["night_c"], True).plan
    if practice is not None:
        plans[PRACTICE] = constant(practice)
    comparison = _compared(
        fit,
        plans,
        workers=workers,
        days=days,
        reference=AS_NOW,
        phase=held,
        keep_rest=True,
        draws=draws,
        rng=rng,
        ceiling_c=ceiling,
    )
    return BestRegime(fit, held, ceiling, (low, ceiling), table, comparison, practice)


def _ceiling(fit: Fit, phase: str, given: float | None) -> float:
    ant, (path, _, name) = fit.species, PHASES[phase]
    known = ant.value(path) if path in ant else None
    if given is None:
        if known is None:
            raise SpeciesError(
                f"best_regime: {ant.name} has no {path}. Give ceiling_c, the warmest that is safe."
            )
        return known
    ceiling = as_celsius(given, "best_regime: ceiling_c")
    if known is not None and ceiling > known:
        raise TemperatureError(
            f"best_regime: ceiling_c = {ceiling:g} °C is above the {name} of {ant.scientific_name},"
            f" {known:g} °C. Refused, since it can kill the colony: give {known:g} or less, or "
            "leave it out. If you know better, write it into a profile of your own."
        )
    return ceiling


def _practice(fit: Fit, phase: str) -> float | None:
    path = f"limits.{phase}_practice_c"
    return fit.species.value(path) if path in fit.species else None


def _tried(
    fit: Fit, candidates: list[Candidate], workers: int, days: int
) -> list[tuple[Candidate, float]]:
    return [(c, expected_wait(fit, c.plan, workers, days)) for c in candidates]


def _table(tried: list[tuple[Candidate, float]]) -> pd.DataFrame:
    rows = [
        {
            "regime": c.name,
            "day_c": c.day_c,
            "night_c": c.night_c,
            "mean_c": c.mean_c,
            "wait_days": wait,
            "safe": c.safe,
        }
        for c, wait in tried
    ]
    # Of plans that are as soon, the coolest comes first.
    return pd.DataFrame(rows).sort_values(["wait_days", "mean_c"], ignore_index=True)
