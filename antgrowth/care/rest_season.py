"""The rest season around a forecast: planned, usual, or missed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from antgrowth.climate.dormancy import DormancySchedule, dormancy_schedule, seasons_without_rest
from antgrowth.climate.gaps import runs
from antgrowth.climate.source import ONE_DAY
from antgrowth.forecast.paths import Forecast, usual_dormancy

LOOK_BACK_DAYS = 400
"""A rest that goes on began within so many days before the last note."""

LOOK_AHEAD_DAYS = 400
"""The next usual season begins within so many days, and a planned one ends so soon."""


@dataclass(frozen=True)
class RestSeason:
    """One rest."""

    begins: pd.Timestamp  # begins, ends: first day of the rest, and the day on which it is over
    ends: pd.Timestamp
    words: str  # where it is known from
    planned: bool  # it stands in the temperatures of the forecast
    # Begin of the last usual season, if the colony lived then and did not rest.
    missed: pd.Timestamp | None = None


def rest_around(forecast: Forecast, hemisphere: str) -> RestSeason | None:
    """The rest that goes on at the last note or comes next in a "north" or "south"; else None."""
    fit, start = forecast.fit, np.datetime64(forecast.start, "D")
    since = np.datetime64(fit.history.first_day, "D")
    schedule = dormancy_schedule(fit.species, hemisphere, fit.temperature, since, start)
    missed = None if schedule is None else _missed(forecast, schedule, since, start)
    for begins, ends in _planned(forecast):
        if ends > forecast.start:
            return RestSeason(begins, ends, "as the forecast has it", True, missed)
    if schedule is None:
        return None
    begins, ends = map(pd.Timestamp, schedule.seasons(start, start + LOOK_AHEAD_DAYS)[0])
    return RestSeason(begins, ends, f"not planned, {schedule.words}", False, missed)


def rest_left(forecast: Forecast, ramp_days: int) -> RestSeason | None:
    """The planned rest that is over but from which the colony is still being warmed up.

    It is warmed over `ramp_days`; None if no rest ended so shortly before the last note.
    """
    ramp = pd.Timedelta(days=ramp_days)
    for begins, ends in _planned(forecast):
        if ends <= forecast.start <= ends + ramp:
            return RestSeason(begins, ends, "as the forecast has it", True)
    return None


def hemisphere_fault(forecast: Forecast, hemisphere: str) -> str:
    """What is wrong with a hemisphere whose seasons are not those of the forecast; empty if none.

    Notes
    -----
    Only a rest that the forecast has put in by itself speaks for the hemisphere of the fit: a
    keeper may plan any rest, and one who did before rests in the same weeks again.
    """
    fit, start = forecast.fit, np.datetime64(forecast.start, "D")
    usual, since = usual_dormancy(fit), np.datetime64(fit.history.first_day, "D")
    asked = dormancy_schedule(fit.species, hemisphere, fit.temperature, since, start)
    if usual is None or asked is None or (usual.start, usual.end) == (asked.start, asked.end):
        return ""
    planned = [
        (max(begins, start + 1), ends)
        for begins, ends in usual.seasons(start + 1, start + forecast.days)
    ]
    for begins, ends in _planned(forecast):
        if (np.datetime64(begins, "D"), np.datetime64(ends, "D")) in planned:
            said = fit.history.hemisphere
            found = (
                "a fit that names none" if said is None else f"a fit of the {said}ern hemisphere"
            )
            return (
                f"hemisphere = {hemisphere!r}. The forecast is from {found}, and rests from "
                f"{begins:%Y-%m-%d} until {ends:%Y-%m-%d}, {usual.words}. "
                f"Say fit(hemisphere={hemisphere!r}) and forecast anew, or leave it out here."
            )
    return ""


def yearly(month_day: str, year: int, hemisphere: str) -> pd.Timestamp:
    """A day of the northern year, half a year later in the south; 31 August becomes 28 February."""
    month, day = map(int, month_day.split("-"))
    first = pd.Timestamp(year=year, month=month, day=1)
    if hemisphere == "south":
        first += pd.DateOffset(months=6)
    return first + pd.Timedelta(days=min(day, first.days_in_month) - 1)


def _planned(forecast: Forecast) -> Iterator[tuple[pd.Timestamp, pd.Timestamp]]:
    """Rests in the temperatures that begin within the forecast or not long before it."""
    origin = forecast.start - pd.Timedelta(days=LOOK_BACK_DAYS)
    number = LOOK_BACK_DAYS + forecast.days + 1
    resting = forecast.temperature.resting(origin, number + LOOK_AHEAD_DAYS)
    for first, stop in runs(resting):
        if first < number:
            yield origin + pd.Timedelta(days=first), origin + pd.Timedelta(days=stop)


def _missed(
    forecast: Forecast, schedule: DormancySchedule, since: np.datetime64, start: np.datetime64
) -> pd.Timestamp | None:
    """Begin of the last usual season in the colony's life, if it did not rest then."""
    begun = [season for season in schedule.seasons(since, start) if since <= season[0] < start]
    days = int((start - since) // ONE_DAY) + 1
    lacking = seasons_without_rest(forecast.temperature, schedule, since, days)
    return pd.Timestamp(begun[-1][0]) if begun and begun[-1] in lacking else None
