"""What speaks against a regime, and numbers of waits that may have no end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from antgrowth._core.arrays import Floats
from antgrowth._core.stages import WORKERS
from antgrowth._core.stats import first_passage
from antgrowth._core.summary import share_words
from antgrowth._core.text import told
from antgrowth.climate.audit import Audit, audit
from antgrowth.climate.dormancy import add_rests, extend_plan, seasons_without_rest
from antgrowth.climate.gaps import runs
from antgrowth.climate.temperature import Temperature
from antgrowth.errors import TemperatureError
from antgrowth.forecast.paths import Forecast, forecast, usual_dormancy
from antgrowth.inference.posterior import Posterior
from antgrowth.species.thermal_limits import PHASES, SENSOR_MARGIN_C


@dataclass(frozen=True, eq=False)
class LimitCheck:
    """A regime held against the limits of its species."""

    audit: Audit  # of the days looked ahead
    # Name of the ceiling that counts: that of the profile, or a lower one that was given.
    ceiling: str
    ceiling_c: float  # NaN if neither is known [°C]
    violations: tuple[str, ...]  # why it is not recommended; none if it may be
    unrested: bool = False  # whether a rest that the species needs is left out

    @property
    def hours_above(self) -> float:
        """Hours above the ceiling that counts; NaN if there is none."""
        if np.isnan(self.ceiling_c):
            return np.nan
        return float((self.audit.hours_c > self.ceiling_c).sum())

    @property
    def margin_c(self) -> float:
        """How far the warmest hour stays below that ceiling; negative above it [°C]."""
        return self.ceiling_c - float(np.nanmax(self.audit.hours_c))

    @property
    def excluded(self) -> bool:
        """Whether it is never recommended."""
        return bool(self.violations)

    @property
    def words(self) -> str:
        """The violations in a sentence; empty if there are none."""
        return "; ".join(self.violations)


def check_limits(forecast: Forecast, phase: str, given_c: float | None = None) -> LimitCheck:
    """Hold the temperatures of a forecast against the limits of its species in a phase.

    See `Temperature.audit`. A ceiling of the keeper's own [°C] counts where it is lower than that
    of the profile, or the profile has none.
    """
    ant, first = forecast.fit.species, np.datetime64(forecast.start, "D") + 1
    found = audit(forecast.temperature, ant, phase, start=first, days=forecast.days)
    name, ceiling_c = PHASES[phase][2], found.ceiling_c
    if given_c is not None and not given_c >= ceiling_c:  # nor where the profile has none
        name, ceiling_c = "ceiling given", given_c
    violations = _too_warm(LimitCheck(found, name, ceiling_c, ()))
    if forecast.heat is not None and np.isfinite(forecast.heat.lost) and found.margin_c < 0:
        living = share_words(1.0 - forecast.heat.lost)
        violations[0] += f": {living} of queens would live through it"
    schedule, lacking = usual_dormancy(forecast.fit), []
    if schedule is not None:
        lacking = seasons_without_rest(forecast.temperature, schedule, first, forecast.days)
    for start, stop in lacking[:1]:
        violations.append(f"no rest from {start} until {stop}, which {ant.scientific_name} needs")
    return LimitCheck(found, name, ceiling_c, tuple(violations), bool(lacking))


def _too_warm(held: LimitCheck) -> list[str]:
    """The objection to what passes the ceiling or comes too near to it, if it does."""
    where, margin_c = f"the {held.ceiling}, {held.ceiling_c:g} °C", held.margin_c
    if margin_c < 0:
        return [f"above {where}, for {held.hours_above:,.0f} hours"]
    if margin_c < SENSOR_MARGIN_C - 1e-9:
        return [
            f"{margin_c:.1f} °C below {where}: less than the {SENSOR_MARGIN_C:g} °C that a sensor "
            "may be off"
        ]
    return []


def phase_of(fit: Posterior, phase: str | None, draws: int, caller: str) -> str:
    """The phase given, or that of the colony at its last note: founding without a worker."""
    if phase is None:
        now = forecast(fit, days=1, draws=draws, rng=fit.seed).workers_now
        return "founding" if now < 1 else "housed"
    if not (isinstance(phase, str) and phase in PHASES):
        raise TemperatureError(f"{caller}: phase = {told(phase)}. Use one of {', '.join(PHASES)}.")
    return phase


def with_due_rests(fit: Posterior, plan: Temperature, days: int) -> Temperature:
    """A plan for the days after the last note, with the rests that the species needs."""
    schedule, end = usual_dormancy(fit), np.datetime64(fit.counts.end, "D")
    if schedule is None:
        return plan
    whole = fit.temperature.then(end + 1, plan)  # a rest that is over counts as well
    coldest = fit.species.value("laying.lower_c")
    return add_rests(whole, schedule, coldest, end + 1, days)[0]


def warmer_than_usual(fit: Posterior, by_c: float, days: int) -> Temperature:
    """What a forecast takes the days to come to be, so much warmer, its rests left as they are."""
    first = np.datetime64(fit.counts.end, "D") + 1
    usual = extend_plan(fit.temperature, fit.species, usual_dormancy(fit), first - 1, days).usual
    plan = usual.shift(by_c)
    for begin, end in runs(usual.resting(first, days)):
        plan = plan.rest(first + begin, first + end, usual)
    return with_due_rests(fit, plan, days)


def first_passage_days(forecast: Forecast, workers: int) -> Floats:
    """Days from the last note until there are so many workers, one a draw; infinite if never."""
    return first_passage(forecast.paths[..., WORKERS] >= workers)


def days_gained(reference: Floats, passage_days: Floats) -> Floats:
    """Days won over a reference, draw by draw; NaN where the horizon ends before both arrive."""
    both = np.isinf(reference) & np.isinf(passage_days)
    return np.where(
        both, np.nan, np.where(both, 0.0, reference) - np.where(both, 0.0, passage_days)
    )


def quantile_of(values: Floats, level: float) -> float:
    """Quantile of numbers of which some may be infinite; NaN are left out."""
    known = values[~np.isnan(values)]
    if not known.size:
        return np.nan
    return float(np.quantile(known, level, method="inverted_cdf"))
