"""A rest that a species needs, that notes and temperatures span, and that nobody has noted.

Without it a winter looks like brood that died or a queen that stopped: so it is asked for before
anything is made of the notes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from antgrowth.climate.dormancy import LEEWAY_DAYS, Season, dormancy_schedule, seasons_without_rest
from antgrowth.climate.gaps import runs
from antgrowth.climate.source import ONE_DAY
from antgrowth.climate.temperature import Temperature
from antgrowth.species.profile import Species

WEEK_DAYS = 7
"""Days over which a record is averaged: one mild day does not end a winter. [day]"""

LEAST_COLD_DAYS = 21
"""So many cold days in a row are proposed as a rest (assumed). [day]"""

AFTERMATH_DAYS = 60
"""So long after a season brood still shows what became of it in the rest (assumed). [day]"""


@dataclass(frozen=True)
class ForgottenRest:
    """A season without the rest that the species needs."""

    season: Season  # first day of the usual rest, and the day on which it is over
    basis: str  # where the season is known from
    species: str  # whose need it is
    # Days on which the nest was as cold as in a rest, and the first one after them; None if the
    # temperatures show no such weeks.
    seen: Season | None
    temperature_c: float  # mean of these days; NaN if there are none [°C]

    @property
    def proposed(self) -> Season:
        """What to note as the rest: the cold days seen, or else the usual season."""
        return self.season if self.seen is None else self.seen

    def touches(self, date: pd.Timestamp) -> bool:
        """Whether what is noted on a date may be this rest's doing."""
        start, stop = (min(self.season[0], self.proposed[0]), max(self.season[1], self.proposed[1]))
        return bool(start <= np.datetime64(date, "D") <= stop + AFTERMATH_DAYS)

    def found(self) -> str:
        """What is missing, and what the temperatures show."""
        start, stop = self.season
        missing = f"{self.species} needs a rest, and none is noted from {start} to {stop}"
        if self.seen is None:
            return f"{missing} ({self.basis}); the temperatures given show none either"
        begin, end = self.seen
        return (
            f"{missing} ({self.basis}); the temperatures show one from {begin} to {end}, at "
            f"{self.temperature_c:.1f} °C"
        )

    def remedy(self) -> str:
        """What to do about it, in Python and in a colony's folder."""
        start, stop = self.proposed
        at = "" if self.seen is not None else ", temperature=..."
        say = f'temperature.rest("{start}", "{stop}"{at}), or [[rest]] in colony.toml'
        if self.seen is not None:
            return f"if the colony rested then, say so: {say}"
        return f"if the colony rested, say when and how cold: {say}"


def forgotten_rests(
    species: Species,
    hemisphere: str | None,
    lived: Temperature,
    since: np.datetime64,
    until: np.datetime64,
) -> tuple[ForgottenRest, ...]:
    """Seasons that a colony has lived through without the rest that its species needs.

    Arguments are those of `dormancy_schedule`, with the rests noted in what it lived through. A
    season counts if more than half of it is past and lies among the days known.
    """
    schedule = dormancy_schedule(species, hemisphere, lived, since, until)
    if schedule is None:
        return ()
    days = int((until - since) // ONE_DAY) + 1
    found = []
    for start, stop in seasons_without_rest(lived, schedule, since, days):
        known = min(stop, until + 1) - max(start, since)
        if known * 2 <= stop - start:
            continue
        seen, warmth = _cold_weeks(
            lived,
            max(start - LEEWAY_DAYS, since),
            min(stop + LEEWAY_DAYS, until + 1),
            species.value("laying.lower_c"),
        )
        found.append(
            ForgottenRest((start, stop), schedule.words, species.scientific_name, seen, warmth)
        )
    return tuple(found)


def _cold_weeks(
    lived: Temperature, first: np.datetime64, stop: np.datetime64, limit_c: float
) -> tuple[Season | None, float]:
    """The longest run of weeks too cold for the queen to lay, and its mean."""
    means_c = pd.Series(lived.known_hours(first, int((stop - first) // ONE_DAY)).mean(axis=1))
    week_c = means_c.rolling(WEEK_DAYS, center=True, min_periods=1).mean()
    longest = max(
        runs((week_c < limit_c).to_numpy()), key=lambda run: run[1] - run[0], default=None
    )
    if longest is None or longest[1] - longest[0] < LEAST_COLD_DAYS:
        return None, np.nan
    begin, end = longest
    return (first + begin, first + end), float(means_c[begin:end].mean())
