"""Hold temperatures against the limits of a species: too warm, too cold, too dry, wet walls.

An audit says what a record or a plan means for the ants in hours of each day; it never changes the
temperatures. Hourly means are compared: a peak shorter than an hour is averaged away.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report, Shown
from antgrowth._core.text import counted, told
from antgrowth._core.validation import Day, as_number
from antgrowth.climate.default_span import days_to_show
from antgrowth.climate.humidity import deficit_kpa, dew_point_c
from antgrowth.climate.queen_heat import queen_heat
from antgrowth.climate.source import Source
from antgrowth.errors import TemperatureError
from antgrowth.species.comfort import comfort
from antgrowth.species.profile import Species, load_species
from antgrowth.species.thermal_limits import (
    HEAT_CAUTION,
    OUTDOORS_CAUTION,
    PHASES,
    SENSOR_MARGIN_C,
    STANDSTILLS,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True, eq=False, repr=False)
class Audit(Shown):
    """Temperatures held against the limits of a species; made by `Temperature.audit`.

    Attributes
    ----------
    species : Species
    phase : str
        "founding", "housed" or "outdoors".
    plan : Temperature
    start : datetime64[D]
        First day.
    hours_c : array, shape (days, 24)
        NaN where unknown. [°C]
    humidity_pct : array, shape (days, 24)
        NaN where unknown. [%]
    resting : bool array, shape (days,)
    humidity_band : tuple of float or None
        Lowest and highest relative humidity that the keeper wants. [%]
    wall_cooler_by_c : float
        How much cooler than the air the coolest wall is taken to be. [°C]
    """

    species: Species
    phase: str
    plan: Source
    start: np.datetime64
    hours_c: Floats
    humidity_pct: Floats
    resting: Flags
    humidity_band: tuple[float, float] | None
    wall_cooler_by_c: float

    @property
    def days(self) -> int:
        """Number of days."""
        return len(self.hours_c)

    @property
    def ceiling_c(self) -> float:
        """Warmest that is advised in this phase; NaN if the profile does not say [°C]."""
        return self._limit(PHASES[self.phase][0])

    @property
    def floor_c(self) -> float:
        """Coldest that does no harm outdoors; NaN indoors, or if the profile does not say [°C]."""
        return self._limit(PHASES[self.phase][1])

    @property
    def hours_above(self) -> float:
        """Hours above the ceiling; NaN if there is none."""
        if np.isnan(self.ceiling_c):
            return np.nan
        return float((self.hours_c > self.ceiling_c).sum())

    @property
    def margin_c(self) -> float:
        """How far the warmest hour stays below the ceiling; negative above it [°C]."""
        return self.ceiling_c - float(np.nanmax(self.hours_c))

    def frame(self) -> pd.DataFrame:
        """Return the findings by day.

        Returns
        -------
        DataFrame
            Columns date; mean_c, lowest_c, highest_c, of hourly means [°C]; hours_unknown;
            hours_above_ceiling; hours_near_ceiling, within 2 °C below it; hours_above_heat_limit,
            at which brood dies faster; heat_loss, the share of brood that this costs;
            hours_below_floor, outdoors; hours_below_egg, hours_below_larva, hours_below_pupa,
            hours_below_laying, at which each stands still; resting; humidity_pct, the mean [%];
            hours_outside_band; deficit_kpa, the mean vapour pressure deficit [kPa]; dew_point_c,
            the highest [°C]; hours_wet, at which the coolest wall is. NaN where something is not
            known.
        """
        hours, value = self.hours_c, self.species.value
        ceiling, limit = self.ceiling_c, value("limits.heat_limit_c")
        by_day = pd.DataFrame(hours)
        excess = pd.DataFrame(np.maximum(hours - limit, 0.0)).mean(axis=1)
        near = (hours > ceiling - SENSOR_MARGIN_C) & (hours <= ceiling)
        columns = {
            "date": (self.start + np.arange(self.days)).astype("datetime64[us]"),
            "mean_c": by_day.mean(axis=1),
            "lowest_c": by_day.min(axis=1),
            "highest_c": by_day.max(axis=1),
            "hours_unknown": np.isnan(hours).sum(axis=1),
            "hours_above_ceiling": self._count(hours > ceiling, ceiling),
            "hours_near_ceiling": self._count(near, ceiling),
            "hours_above_heat_limit": self._count(hours > limit, limit),
            "heat_loss": -np.expm1(-value("limits.heat_loss_per_day_c") * excess),
            "hours_below_floor": self._count(hours < self.floor_c, self.floor_c),
        }
        for stage, path in STANDSTILLS.items():
            threshold = value(path)
            columns[f"hours_below_{stage}"] = self._count(hours < threshold, threshold)
        columns["resting"] = self.resting
        return pd.DataFrame(columns | self._air())

    def _limit(self, path: str) -> float:
        return self.species.value(path) if path in self.species else np.nan

    def _count(self, hours: Flags, limit: float) -> Floats:
        """Count hours by day; NaN where the limit is not known, or no hour of the day."""
        known = ~np.isnan(self.hours_c).all(axis=1) & ~np.isnan(limit)
        return np.where(known, hours.sum(axis=1), np.nan)

    def _air(self) -> dict[str, object]:
        """Columns that rest on humidity."""
        humidity = self.humidity_pct
        known = ~(np.isnan(humidity) | np.isnan(self.hours_c))
        some = known.any(axis=1)
        dew = np.where(known, dew_point_c(self.hours_c, humidity), np.nan)
        wet = known & (dew >= self.hours_c - self.wall_cooler_by_c)
        low, high = self.humidity_band or (np.nan, np.nan)
        outside = (humidity < low) | (humidity > high)
        banded = some & (self.humidity_band is not None)
        return {
            "humidity_pct": pd.DataFrame(humidity).mean(axis=1),
            "hours_outside_band": np.where(banded, outside.sum(axis=1), np.nan),
            "deficit_kpa": pd.DataFrame(deficit_kpa(self.hours_c, humidity)).mean(axis=1),
            "dew_point_c": pd.DataFrame(dew).max(axis=1),
            "hours_wet": np.where(some, wet.sum(axis=1), np.nan),
        }

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the temperatures by day with the limits, and the hours beyond them.

        Parameters
        ----------
        ax : matplotlib Axes, optional
            Where to draw the temperatures alone; a new figure with all panels if not given.

        Returns
        -------
        ax : matplotlib Axes
            That of the temperatures.
        """
        return picture("climate", "plot_audit", self, ax=ax)

    @property
    def verdict(self) -> str:
        """Say in one sentence whether the ceiling is kept."""
        name, ceiling, margin = PHASES[self.phase][2], self.ceiling_c, self.margin_c
        if np.isnan(ceiling):
            path = PHASES[self.phase][0]
            return f"What is too warm {self.phase} is not known: {self.species.name} has no {path}."
        if margin < 0:
            hours = counted(int(self.hours_above), "hour")
            return f"Above the {name}, {ceiling:.1f} °C, for {hours}, by up to {-margin:.1f} °C."
        if margin < SENSOR_MARGIN_C:
            return (
                f"Within {margin:.1f} °C of the {name}, {ceiling:.1f} °C: a sensor that errs, or "
                "sits away from the brood, can hide that it is passed."
            )
        return f"At least {margin:.1f} °C below the {name}, {ceiling:.1f} °C."

    @property
    def comfort(self) -> str:
        """Say of the mean of the days without rest whether it is too cool or too warm."""
        awake = self.hours_c[~self.resting]
        if not np.isfinite(awake).any():
            return "no day without rest"
        return comfort(self.species, self.phase).sentence(float(np.nanmean(awake)))

    def _report(self) -> Report:
        return _report(self)

    def __repr__(self) -> str:
        return (
            f"Audit({self.species.name}, {self.phase}, {counted(self.days, 'day')}, "
            f"{self.hours_above:.0f} hours above the ceiling)"
        )


def _report(audit: Audit) -> Report:
    """Report of an audit: the limits, the hours beyond them, the air, and cautions."""
    frame = audit.frame()
    last = audit.start + (audit.days - 1)
    unknown = int(frame["hours_unknown"].sum())
    span = f"{audit.start} to {last}, {counted(audit.days, 'day')}"
    if unknown:
        span += f"; {counted(unknown, 'hour')} without a temperature, not counted"
    rests = int(audit.resting.sum())
    if rests:
        span += f"; {counted(rests, 'day')} of rest"
    warm = f"mean {np.nanmean(audit.hours_c):.1f} °C, {np.nanmin(audit.hours_c):.1f} to "
    facts = (
        ("days", span),
        ("warmth", f"{warm}{np.nanmax(audit.hours_c):.1f}, by the hour"),
        ("verdict", audit.verdict),
        ("comfort", audit.comfort),
    )
    return Report(
        title=f"Audit: {audit.species.scientific_name}, {audit.phase}",
        facts=facts,
        head=("beyond a limit", "°C", "hours", "days", "most on"),
        align="lrrrl",
        rows=tuple(_limit_rows(audit, frame)),
        closing=tuple(_closing(audit, frame)),
        warning="TOO WARM" if audit.margin_c < 0 else "",
    )


def _limit_rows(audit: Audit, frame: pd.DataFrame) -> Iterator[tuple[str, ...]]:
    value = audit.species.value
    yield _row(frame, f"above the {PHASES[audit.phase][2]}", audit.ceiling_c, "above_ceiling")
    limit = value("limits.heat_limit_c")
    yield _row(frame, "brood dies faster above", limit, "above_heat_limit")
    if audit.phase == "outdoors":
        yield _row(frame, "below the coldest outdoors", audit.floor_c, "below_floor")
    awake = frame[~frame["resting"]]
    for stage, path in STANDSTILLS.items():
        subject = "no laying below" if stage == "laying" else f"{stage} stands still below"
        yield _row(awake, subject, value(path), f"below_{stage}")


def _closing(audit: Audit, frame: pd.DataFrame) -> Iterator[tuple[str, str]]:
    housed = np.full(audit.days, audit.phase == "housed")
    heat = None
    if audit.phase != "outdoors":  # there she can go deeper
        heat = queen_heat(audit.species, audit.hours_c, housed, pd.Timestamp(audit.start - 1))
    if heat is not None:
        yield "queen", heat.words()
    lost = 1 - float(np.prod(1 - frame["heat_loss"].fillna(0.0)))
    if lost > 0:
        share = "under 1 %" if lost < 0.01 else f"{lost:.0%}".replace("%", " %")
        yield "heat", f"{share} of brood that lived through all of these days would die of it"
    if frame["humidity_pct"].notna().any():
        yield "air", _air_words(audit, frame)
        wet = frame["hours_wet"]
        hours = counted(int(wet.sum()), "hour")
        yield (
            "walls",
            (
                f"wet for {hours} on {counted(int((wet > 0).sum()), 'day')}, if the coolest is "
                f"{audit.wall_cooler_by_c:g} °C cooler than the air"
            ),
        )
    else:
        yield "air", "humidity is not known"
    if audit.phase == "outdoors":
        yield "law", OUTDOORS_CAUTION
    else:
        yield "care", HEAT_CAUTION


def _air_words(audit: Audit, frame: pd.DataFrame) -> str:
    deficit = frame["deficit_kpa"]
    words = (
        f"humidity {np.nanmin(audit.humidity_pct):.0f} to {np.nanmax(audit.humidity_pct):.0f} %; "
        f"vapour pressure deficit {deficit.min():.2f} to {deficit.max():.2f} kPa by day"
    )
    if audit.humidity_band is not None:
        low, high = audit.humidity_band
        outside = int(frame["hours_outside_band"].sum())
        words += f"; outside {low:g} to {high:g} % for {counted(outside, 'hour')}"
    return words


def _row(frame: pd.DataFrame, subject: str, limit_c: float, column: str) -> tuple[str, ...]:
    hours = frame[f"hours_{column}"]
    if np.isnan(limit_c):
        return subject, "-", "-", "-", "not in the profile"
    total = int(hours.sum())
    if not total:
        return subject, f"{limit_c:.1f}", "0", "0", ""
    worst = frame.iloc[int(np.argmax(hours.fillna(0.0)))]
    end = worst["lowest_c"] if column.startswith("below") else worst["highest_c"]
    most = f"{worst['date']:%Y-%m-%d}, {counted(int(hours.max()), 'hour')}, {end:.1f} °C"
    return subject, f"{limit_c:.1f}", f"{total:,}", f"{int((hours > 0).sum()):,}", most


def audit(
    temperature: Source,
    species: Species | str,
    phase: str,
    *,
    start: Day | None = None,
    days: int | None = None,
    humidity_band: tuple[float, float] | None = None,
    wall_cooler_by_c: float = 1.0,
) -> Audit:
    """Hold temperatures against the limits of a species.

    Parameters
    ----------
    temperature : Temperature
        A record or a plan.
    species : Species or str
        A profile, or the name or path of one.
    phase : str
        "founding" (a closed tube), "housed" (with workers, in a nest) or "outdoors": each has its
        own ceiling in the profile.
    start, days : date and int, optional
        Which days; all that are covered if not given. Of a plan without an end, those around its
        changes, or from today on until it repeats itself.
    humidity_band : tuple of two numbers, optional
        Lowest and highest relative humidity wanted; no species profile knows one. [%]
    wall_cooler_by_c : float
        How much cooler than the air the coolest wall is, 0 to 20; in a heated nest it can be
        several degrees. 1 is assumed. [°C]

    Returns
    -------
    Audit

    Raises
    ------
    TemperatureError
        If an argument is out of range.
    TemperatureGapError
        If none of the days has a temperature.
    SpeciesError
        If there is no such profile.

    Notes
    -----
    Ceilings are the warmest *constant* temperatures advised; a single hour above one is a warning,
    not a death. Hours without a temperature are counted as unknown, and never as safe.
    """
    ant = load_species(species) if isinstance(species, str) else species
    if not (isinstance(phase, str) and phase in PHASES):
        raise TemperatureError(f"audit: phase = {told(phase)}. Use one of {', '.join(PHASES)}.")
    band = None if humidity_band is None else _as_band(humidity_band)
    cooler = as_number(wall_cooler_by_c)
    if not 0 <= cooler <= 20:
        raise TemperatureError(
            f"audit: wall_cooler_by_c = {told(wall_cooler_by_c)}. Give a number from 0 to 20 °C."
        )
    first, number = days_to_show(temperature, start, days)
    hours_c = temperature.known_hours(first, number)
    if np.isnan(hours_c).all():
        temperature.hours(first, number)  # says what is covered, and what to do
    return Audit(
        species=ant,
        phase=phase,
        plan=temperature,
        start=first,
        hours_c=hours_c,
        humidity_pct=temperature.humidity(first, number),
        resting=temperature.resting(first, number),
        humidity_band=band,
        wall_cooler_by_c=cooler,
    )


def _as_band(band: tuple[float, float]) -> tuple[float, float]:
    row = isinstance(band, list | tuple) or (isinstance(band, np.ndarray) and band.ndim == 1)
    values = [as_number(value) for value in band[:3]] if row else []
    if len(values) != 2 or not 0 <= values[0] < values[1] <= 100:
        raise TemperatureError(
            f"audit: humidity_band = {told(band)}. Give the lowest and the highest, 0 to "
            "100 %, such "
            "as (50, 80)."
        )
    return values[0], values[1]
