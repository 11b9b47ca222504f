"""The rest season around a forecast: planned, of the species, or missed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from antgrowth.forecast import Forecast
from antgrowth.species import Rest

__all__ = ["LEEWAY_DAYS", "RestSeason", "rest_around", "seasons_of", "yearly"]

LEEWAY_DAYS = 60
"""A rest within so many days of a species' season counts as the rest of that season (assumed)."""

_LOOK_BACK_DAYS = 400


@dataclass(frozen=True)
class RestSeason:
    """One rest.

    Attributes
    ----------
    begins, ends : Timestamp
        First day of the rest, and the day on which it is over.
    planned : bool
        It stands in the temperatures; else it is the usual season of the species.
    missed : Timestamp or None
        Begin of the last usual season, if the colony lived then and did not rest.
    """

    begins: pd.Timestamp
    ends: pd.Timestamp
    planned: bool
    missed: pd.Timestamp | None = None


def rest_around(forecast: Forecast, hemisphere: str) -> RestSeason | None:
    """The rest that goes on at the last note or comes next; None if there is none.

    Parameters
    ----------
    forecast : Forecast
    hemisphere : str
        "north" or "south".
    """
    rest, start = forecast.fit.species.rest, forecast.start
    missed = _missed(forecast, hemisphere) if rest.needed else None
    for begins, ends in _planned(forecast):
        if ends > start:
            return RestSeason(begins, ends, True, missed)
    if not rest.needed:
        return None
    seasons = seasons_of(rest, start.year, hemisphere)
    begins, ends = next(season for season in seasons if season[1] > start)
    return RestSeason(begins, ends, False, missed)


def seasons_of(
    rest: Rest, year: int, hemisphere: str
) -> Iterator[tuple[pd.Timestamp, pd.Timestamp]]:
    """Usual rest seasons that begin from two years before to two years after, in order of time."""
    for shift in range(-2, 3):
        begins = yearly(str(rest.start), year + shift, hemisphere)
        ends = yearly(str(rest.end), year + shift, hemisphere)
        if ends <= begins:
            ends = yearly(str(rest.end), year + shift + 1, hemisphere)
        yield begins, ends


def yearly(month_day: str, year: int, hemisphere: str) -> pd.Timestamp:
    """A day of the northern year, half a year later in the south; 29 February may become 28."""
    month, day = map(int, month_day.split("-"))
    first = pd.Timestamp(year=year, month=month, day=1)
    if hemisphere == "south":
        first += pd.DateOffset(months=6)
    return first + pd.Timedelta(days=min(day, first.days_in_month) - 1)


def _planned(forecast: Forecast) -> Iterator[tuple[pd.Timestamp, pd.Timestamp]]:
    """Rests in the temperatures that end after the last note."""
    origin = forecast.start - pd.Timedelta(days=_LOOK_BACK_DAYS)
    number = _LOOK_BACK_DAYS + forecast.days + 1
    resting = forecast.temperature.resting(origin, number)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], resting, [False]]).astype(int)))
    for first, stop in zip(edges[::2], edges[1::2], strict=True):
        begins, ends = (origin + pd.Timedelta(days=int(day)) for day in (first, stop))
        if stop == number:  # it goes on beyond the horizon: look for its end there
            later = forecast.temperature.resting(ends, 400)
            ends += pd.Timedelta(days=int(np.argmin(later)) if not later.all() else 400)
        yield begins, ends


def _missed(forecast: Forecast, hemisphere: str) -> pd.Timestamp | None:
    rest, start, leeway = forecast.fit.species.rest, forecast.start, LEEWAY_DAYS
    lived = forecast.fit.setting.first_day
    begun = [
        season for season in seasons_of(rest, start.year, hemisphere) if lived <= season[0] < start
    ]
    if not begun:
        return None
    begins, ends = begun[-1]
    first = begins - pd.Timedelta(days=leeway)
    days = (ends - first).days + leeway
    return None if forecast.temperature.resting(first, days).any() else begins
