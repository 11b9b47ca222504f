"""Temperature regimes side by side: which is sooner, by how much, and what it risks.

All regimes are tried on the same posterior draws in the same nests, and with the same luck on the
same days, so that what differs is what the temperature does. A regime that is too warm, or that
leaves out a rest the species needs, is shown with its warning and never recommended.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report, Shown, share_words
from antgrowth._core.text import counted
from antgrowth._core.validation import check_whole
from antgrowth.climate.schedules import as_plan
from antgrowth.climate.temperature import Temperature
from antgrowth.errors import AntgrowthError, TemperatureError, TemperatureGapError
from antgrowth.food.plan import plan_food
from antgrowth.forecast.paths import Forecast, Pairing, rest_habit
from antgrowth.inference.posterior import Fit, _seeded
from antgrowth.regimes.limits import (
    Judged,
    gain_of,
    judge,
    level_of,
    next_rest,
    phase_of,
    rested,
    waits_of,
)
from antgrowth.regimes.view import comparison_report, gain_words

__all__ = ["RegimeComparison", "compare_regimes"]

Floats = NDArray[np.float64]

DAYS, DRAWS = 300, 1000


@dataclass(frozen=True, eq=False, repr=False)
class RegimeComparison(Shown):
    """Regimes tried on one colony; made by `compare_regimes`.

    Attributes
    ----------
    fit : Fit
    workers : int
        The number waited for.
    phase : str
        Whose limits count: "founding", "housed" or "outdoors".
    reference : str
        The regime that the others are compared with.
    forecasts : mapping of str to Forecast
        By regime, in the order given.
    judged : mapping of str to Judged
        What the limits of the species say of each.
    seed : int
    """

    fit: Fit
    workers: int
    phase: str
    reference: str
    forecasts: Mapping[str, Forecast] = field(repr=False)
    judged: Mapping[str, Judged] = field(repr=False)
    seed: int

    @property
    def days(self) -> int:
        """Days looked ahead. [day]"""
        return next(iter(self.forecasts.values())).days

    @cached_property
    def waits(self) -> dict[str, Floats]:
        """Days until there are as many workers, by regime, shape (draws,); infinite if never."""
        return {name: waits_of(ahead, self.workers) for name, ahead in self.forecasts.items()}

    def gains(self, name: str) -> Floats:
        """Days that a regime wins over the reference, draw by draw, shape (draws,).

        Below zero where it loses; infinite where only one of the two arrives before the horizon
        ends, NaN where neither does.
        """
        if name not in self.waits:
            raise AntgrowthError(
                f"gains: no regime is called {name!r}. Use one of {', '.join(self.waits)}."
            )
        return gain_of(self.waits[self.reference], self.waits[name])

    @property
    def recommended(self) -> str | None:
        """The regime with the least wait on average among those without objection, if any."""
        free = [name for name in self.forecasts if not self.judged[name].barred]
        return min(free, key=self._wait, default=None)

    @property
    def warnings(self) -> dict[str, str]:
        """What speaks against each regime; those without objection are left out."""
        return {name: j.words for name, j in self.judged.items() if j.barred}

    @cached_property
    def first(self) -> dict[str, float]:
        """Chance of each regime of being first; a tie is shared, and no arrival is nobody's."""
        return self._first(list(self.forecasts))

    def frame(self) -> pd.DataFrame:
        """Compare the regimes in numbers.

        Returns
        -------
        DataFrame
            A row a regime, in the order given. Columns regime; plan, in words; arrival_q05,
            arrival_q50, arrival_q95 (dates, NaT beyond the horizon); chance_never; gained_q05,
            gained_q50, gained_q95 over the reference, draw by draw (infinite where the horizon
            ends first) and gained_mean with gained_se, its Monte Carlo error [day]; chance_first;
            rest_begins, the next one (NaT if none) and chance_before_rest of as many workers;
            hours_above_ceiling and margin_c, how far the warmest hour stays below it [°C];
            brood_lost_to_heat, expected [brood]; sugar_mg and protein_mg, medians of what is eaten
            until there are as many workers or the horizon ends (NaN if the mass of a worker is not
            known); recommended; warning.
        """
        best, habit = self.recommended, rest_habit(self.fit)
        rows = []
        for name, ahead in self.forecasts.items():
            waits, gains, judged = self.waits[name], self.gains(name), self.judged[name]
            both = gains[np.isfinite(gains)]
            begins = next_rest(ahead, habit)
            sugar, protein = self._food(name)
            rows.append(
                {
                    "regime": name,
                    "plan": ahead.assumed,
                    **{
                        f"arrival_{level}": self._date(level_of(waits, share))
                        for level, share in LEVELS.items()
                    },
                    "chance_never": float(np.isinf(waits).mean()),
                    **{f"gained_{n}": level_of(gains, share) for n, share in LEVELS.items()},
                    "gained_mean": float(both.mean()) if both.size else np.nan,
                    "gained_se": float(both.std() / np.sqrt(both.size)) if both.size else np.nan,
                    "chance_first": self.first[name],
                    "rest_begins": pd.NaT if begins is None else begins,
                    "chance_before_rest": np.nan
                    if begins is None
                    else float((waits < (begins - ahead.start).days).mean()),
                    "hours_above_ceiling": judged.hours_above,
                    "margin_c": judged.margin_c,
                    "brood_lost_to_heat": self._lost_to_heat(name),
                    "sugar_mg": sugar,
                    "protein_mg": protein,
                    "recommended": name == best,
                    "warning": judged.words,
                }
            )
        return pd.DataFrame(rows)

    def sentence(self) -> str:
        """The finding in a sentence or two: what to do, and what only looks faster."""
        best, number = self.recommended, counted(self.workers, "worker")
        if best is None:
            found = f"{number}: none of these regimes can be recommended"
        elif best == self.reference:
            found = f"{number}: no safe regime is sooner than {best!r}"
        else:
            free = [name for name in self.forecasts if not self.judged[name].barred]
            chance = share_words(self._first(free)[best])
            found = f"{number}: {best!r} {gain_words(self.gains(best), self.reference)}"
            found += f", the first of the safe ones in {chance} of colonies"
        tempting = min(self.warnings, key=self._wait, default=None)
        if best is None and tempting is not None:
            found += f"; the fastest, {tempting!r}: {self.warnings[tempting]}"
        elif tempting is not None and self._wait(tempting) < self._wait(str(best)):
            found += f"; {tempting!r} looks faster, but is not recommended: "
            found += self.warnings[tempting]
        return found

    def plot(self, axes: NDArray[np.object_] | None = None) -> NDArray[np.object_]:
        """Draw arrivals and days gained, a row a regime.

        Parameters
        ----------
        axes : two Axes, optional
            For dates and for days gained; a figure of its own if not given.

        Returns
        -------
        array of Axes, shape (2,)
        """
        drawn: NDArray[np.object_] = picture("regimes", "plot_comparison")(self, axes)
        return drawn

    def summary(self) -> str:
        """Report in plain text: a row a regime, warnings and cautions."""
        return self._report().as_text()

    def _report(self) -> Report:
        return comparison_report(self)

    def __repr__(self) -> str:
        return f"RegimeComparison({self.sentence()})"

    def _first(self, names: list[str]) -> dict[str, float]:
        """Chance of each of some regimes of being the first of them."""
        waits = np.stack([self.waits[name] for name in names])
        least = waits.min(axis=0)
        ahead = (waits == least) & np.isfinite(least)
        share = ahead / np.maximum(ahead.sum(axis=0), 1)
        return dict(zip(names, share.mean(axis=1).tolist(), strict=True))

    @property
    def condition(self) -> str:
        """Under which all of it holds; see `Forecast.condition`."""
        return self.forecasts[self.reference].condition

    def _wait(self, name: str) -> float:
        """Mean wait, the horizon standing for what comes later. [day]"""
        return float(np.minimum(self.waits[name], self.days + 1).mean())

    def _date(self, wait: float) -> pd.Timestamp:
        if not np.isfinite(wait):
            return pd.NaT  # type: ignore[return-value]
        return self.fit.counts.end + pd.Timedelta(days=int(wait))

    def _lost_to_heat(self, name: str) -> float:
        brood = self.forecasts[name].paths[..., :3].sum(axis=-1).mean(axis=0)
        loss = self.judged[name].audit.frame()["heat_loss"].to_numpy()
        return float(((brood[:-1] + brood[1:]) / 2 * loss).sum())

    def _food(self, name: str) -> tuple[float, float]:
        """Sugar and protein until arrival, or the horizon. [mg]"""
        if "workers.mass_mg" not in self.fit.species:
            return np.nan, np.nan
        offered = plan_food(self.forecasts[name], rng=self.seed).offered
        last = np.minimum(self.waits[name], self.days).astype(int)[:, None]
        needed = np.arange(self.days) < last
        sugar, protein = (np.median((offered[k] * needed).sum(axis=1)) for k in FOOD)
        return float(sugar), float(protein)


LEVELS = {"q05": 0.05, "q50": 0.5, "q95": 0.95}
FOOD = ("sugar", "protein")


def compare_regimes(
    fit: Fit,
    regimes: Mapping[str, Temperature | float | None],
    *,
    workers: int = 30,
    days: int = DAYS,
    reference: str | None = None,
    phase: str | None = None,
    keep_rest: bool = False,
    draws: int = DRAWS,
    rng: int | np.random.Generator | None = None,
) -> RegimeComparison:
    """Try temperature regimes on a colony, from the day after its last note on.

    Parameters
    ----------
    fit : Fit
    regimes : mapping of str to Temperature, number or None
        Plans by a name of yours, at least two; a number is a steady temperature [°C], None what a
        forecast takes by default.
    workers : int
        The number waited for.
    days : int
        How far to look ahead. [day]
    reference : str, optional
        The regime that the others are compared with; the first if not given.
    phase : {"founding", "housed", "outdoors"}, optional
        Whose limits count. If not given, "founding" while no worker is expected at the last note,
        else "housed".
    keep_rest : bool
        Put the rest that the species needs into each plan that has none.
    draws : int
        Colonies of each regime.
    rng : int, numpy.random.Generator or None
        Seed or source of chance.

    Returns
    -------
    RegimeComparison

    Raises
    ------
    AntgrowthError
        If an argument is out of range.
    TemperatureGapError
        If a plan ends too soon.

    Notes
    -----
    Each colony has the same parameters, the same nest on the day of the last note, and the same
    luck on each later day in every regime (`common_random_numbers.Luck`), so that differences show
    with far fewer colonies than two independent runs would need. Plans are taken as they are. One
    that passes the ceiling of the phase, comes within 2 °C of it (a sensor may err by as much), or
    has no rest in a season in which the species needs one, is shown with the objection and never
    recommended. Brood lost to heat is what dies above the heat limit of the profile; what heat does
    to queens is known of few ants, and no date knows it.

    For heat mats see `constant`.

    Examples
    --------
    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> notes = pd.DataFrame({"date": ["2026-03-20", "2026-04-15"], "eggs": [12, 4],
    ...                       "larvae": ["", 9]})
    >>> fit = ag.fit(notes, ag.constant(24), "lasius-niger", queen_since="2026-03-01", rng=1)
    >>> tried = ag.compare_regimes(fit, {"steady 23": 23, "25": 25, "31": 31}, workers=10,
    ...                            days=120, draws=200, rng=1)
    >>> tried.recommended, list(tried.warnings)
    ('25', ['31'])
    """
    return _compared(
        fit, regimes, workers=workers, days=days, reference=reference, phase=phase,
        keep_rest=keep_rest, draws=draws, rng=rng,
    )  # fmt: skip


def _compared(
    fit: Fit,
    regimes: Mapping[str, Temperature | float | None],
    *,
    workers: int,
    days: int,
    reference: str | None,
    phase: str | None,
    keep_rest: bool,
    draws: int,
    rng: int | np.random.Generator | None,
    ceiling_c: float | None = None,
) -> RegimeComparison:
    """`compare_regimes`, with a ceiling of the keeper's own that no regime may come near."""
    plans = _plans(regimes)
    check_whole("compare_regimes", workers=workers, days=days, draws=draws)
    first = next(iter(plans)) if reference is None else reference
    if not (isinstance(first, str) and first in plans):
        raise AntgrowthError(
            f"compare_regimes: reference = {reference!r}. Use the name of a regime: "
            f"{', '.join(plans)}."
        )
    seed = _seeded(rng)[0]
    held = phase_of(fit, phase, draws, "compare_regimes")
    pairing, forecasts = Pairing.of(fit, draws, seed), {}
    for name, plan in plans.items():
        kept = rested(fit, plan, days) if keep_rest and plan is not None else plan
        try:
            forecasts[name] = pairing.forecast(days, kept)
        except TemperatureGapError as gap:
            raise TemperatureGapError(f"compare_regimes: {name!r}: {gap}") from None
    judged = {name: judge(ahead, held, ceiling_c) for name, ahead in forecasts.items()}
    return RegimeComparison(fit, int(workers), held, first, forecasts, judged, seed)


def _plans(regimes: Mapping[str, Temperature | float | None]) -> dict[str, Temperature | None]:
    if not isinstance(regimes, Mapping) or len(regimes) < 2:
        raise TemperatureError(
            "compare_regimes: regimes must be two or more plans by name, such as "
            '{"steady 24": 24, "27 by day": ag.day_night(27, 21)}.'
        )
    plans: dict[str, Temperature | None] = {}
    for name, plan in regimes.items():
        if str(name) in plans:
            raise TemperatureError(
                f"compare_regimes: two regimes are called {str(name)!r}, one by a text and one by "
                "something else. Give each a name of its own, a text."
            )
        plans[str(name)] = None if plan is None else as_plan(plan, f"compare_regimes: {name!r}")
    return plans
