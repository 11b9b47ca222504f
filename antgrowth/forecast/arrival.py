"""Arrivals: when a colony first holds a number of workers, and whether its queen sees it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, cast

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.arguments import FLAG, LEVEL, takes
from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.dates import as_day
from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report, Shown, in_words, share_words
from antgrowth._core.text import counted, day_words, span_words, told
from antgrowth._core.validation import as_number
from antgrowth.climate.queen_heat import QueenHeat
from antgrowth.errors import AntgrowthError
from antgrowth.forecast.report import arrival_report

if TYPE_CHECKING:
    from matplotlib.axes import Axes

CONDITION = "if the queen lives and stays fertile"

QUEENLESS = "from the brood that is left: by the changes noted there is no queen"
"""Instead, where the last queen was noted lost."""

PAUSE_DAYS = 45
"""Dates on both sides of so long a time without any are told apart (chosen): a winter is. [day]"""

EITHER_SIDE = 0.05
"""Least share of colonies on each side of it; a smaller one lies outside of a 90 % interval."""

STRAGGLERS = 0.01
"""Share of colonies that may come within the pause nonetheless."""

RESUMES = 3.0
"""So many times the colonies that may come on a day of a pause come on one of those after it."""

YEAR = 365.25
"""Days that an assumed yearly survival refers to. [day]"""


@dataclass(frozen=True, eq=False, repr=False)
class Arrival(Shown):
    """When a colony first holds a number of workers, if the queen lives and stays fertile.

    Attributes
    ----------
    workers : int
        The number waited for.
    dates : array of datetime64[D], shape (draws,)
        Day of arrival in each simulated colony; NaT where the horizon ends first.
    start : Timestamp
        Date of the last note.
    horizon : int
        Days looked ahead. [day]
    queen_survival : float or None
        Share of such queens assumed to live through a year; None if nothing is assumed.
    condition : str
        Under which the dates hold.
    noted : Timestamp or None
        First note of as many; None if there is none.
    heat : QueenHeat or None
        What heat does to the queen on the way; None if it stays below her ceiling.
    rest : Timestamp or None
        First day of the rest ahead; None if there is none.

    Notes
    -----
    The dates are conditional on the queen. With `queen_survival` S her chance to live for another t
    days is taken as ``S ** (t / 365.25)``, the same on each of them. A queen who still founds alone
    runs a greater danger than one with workers around her: choose S for the days ahead. Heat above
    her ceiling comes on top.
    """

    workers: int
    dates: NDArray[np.datetime64] = field(repr=False)
    start: pd.Timestamp
    horizon: int
    queen_survival: float | None = None
    condition: str = CONDITION
    noted: pd.Timestamp | None = None
    heat: QueenHeat | None = None
    rest: pd.Timestamp | None = None

    @property
    def reached(self) -> bool:
        """Whether most colonies hold as many already at the last note."""
        return bool(np.mean(self.dates == np.datetime64(self.start, "D")) > 0.5)

    @property
    def reached_by(self) -> pd.Timestamp:
        """By when it was reached, if it was: the first note of as many, or else the last note."""
        return self.start if self.noted is None else self.noted

    @property
    def chance_never(self) -> float:
        """Chance that the horizon ends first."""
        return float(np.isnat(self.dates).mean())

    def chance_by(self, date: str | pd.Timestamp) -> float:
        """Chance of arrival on or before a date, if the queen lives."""
        return float(self._come_by(date).mean())

    def chance_with_queen_by(self, date: str | pd.Timestamp) -> float:
        """Chance of arrival on or before a date and with the queen, whom the ants may lose first.

        Raises
        ------
        AntgrowthError
            If nothing is assumed of her survival.
        """
        if self.queen_survival is None:
            raise AntgrowthError(
                "chance_with_queen_by: nothing is assumed of the queen. Say which share of such "
                "queens lives through a year, for example forecast.arrival(30, queen_survival=0.8)."
            )
        come = self._come_by(date)
        days = (self.dates[come] - np.datetime64(self.start, "D")).astype(int)
        cool = 1.0 if self.heat is None else np.nan_to_num(self.heat.alive, nan=1.0)[days]
        return float((self.queen_survival ** (days / YEAR) * cool).sum() / len(come))

    def _come_by(self, date: str | pd.Timestamp) -> Flags:
        return self.dates <= np.datetime64(as_day(date, "date"), "D")  # NaT compares as false

    @property
    def median(self) -> pd.Timestamp:
        """Most central date; NaT when the horizon ends first in half of the colonies."""
        return self._date(self._quantile(0.5))

    @takes(level=LEVEL)
    def interval(self, level: float = 0.9) -> tuple[pd.Timestamp, pd.Timestamp]:
        """Central interval of dates, both days included.

        Parameters
        ----------
        level : float
            Probability of the interval, between 0 and 1.

        Returns
        -------
        first, last : Timestamp
            NaT at an end that lies beyond the horizon.

        Notes
        -----
        An arrival noted on a day happened at some moment since the day before. Quantiles are taken
        on that continuous scale and rounded to whole days, so that an interval holds what it
        promises on average, rather than more.
        """
        tail = (1.0 - level) / 2.0
        low, high = np.rint(self._quantile(tail)), np.rint(self._quantile(1.0 - tail))
        first = low + 1 if low < high else high
        return self._date(first), self._date(high)

    @property
    def waited(self) -> Floats:
        """Days of each colony after the last note; infinite if never."""
        waited = (self.dates - np.datetime64(self.start, "D")).astype(float)
        return np.where(np.isnat(self.dates), np.inf, waited)

    def split(self) -> tuple[Arrival, Arrival] | None:
        """The dates before and after a long pause in their midst; None if there is none.

        A winter divides them: the middle of all dates would be a day on which nothing happens.

        Notes
        -----
        A pause is 45 days or more in which no more than 1 % of colonies arrive, with 5 % or more on
        either side; what lies beyond the horizon counts as later. Of several, as there are winters,
        the one is told that is long and divides the dates evenly. After a pause more arrive than in
        it: the thin tail of latecomers is none.
        """
        waited = np.sort(self.waited)
        few = int(STRAGGLERS * len(waited))
        with np.errstate(invalid="ignore"):  # from never to never
            gaps = np.nan_to_num(waited[few + 1 :] - waited[: len(waited) - few - 1], posinf=0.0)
        sides = np.arange(1, len(gaps) + 1) / len(waited)
        gaps[(sides < EITHER_SIDE) | (sides > 1.0 - EITHER_SIDE)] = 0.0
        if not gaps.size or gaps.max() < PAUSE_DAYS:
            return None
        place = int((gaps * (gaps >= PAUSE_DAYS) * np.minimum(sides, 1.0 - sides)).argmax())
        within = waited[place:][: few + 2]  # stragglers go to the side they are near
        end = within[-1]
        since = min(PAUSE_DAYS, self.horizon - end) + 1
        resumed = np.count_nonzero((waited >= end) & (waited < end + since)) / since
        if resumed < RESUMES * few / gaps[place]:
            return None
        early = self.waited <= within[int(np.diff(within).argmax())]
        before, after = (replace(self, dates=self.dates[some]) for some in (early, ~early))
        return before, after

    def windows(self, level: float = 0.9) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
        """Central interval of the dates, or of those before and after a pause in their midst.

        What lies beyond the horizon ends with it; a window that begins beyond it is left out.
        """
        spans = [part.interval(level) for part in self.split() or (self,)]
        far = horizon_of(self)
        return [(a, far if pd.isna(b) else b) for a, b in spans if pd.notna(a)]

    @takes(level=LEVEL, short=FLAG)
    def when(self, level: float = 0.9, short: bool = False) -> str:
        """The dates alone, in words: one window, or two where a pause splits them.

        Parameters
        ----------
        level : float
            Probability of the interval, or of that on each side.
        short : bool
            As a title writes days.
        """
        if self.reached:
            by, year = self.reached_by, self.start.year
            return f"reached by {day_words(by, year) if short else f'{by:%Y-%m-%d}'}"
        parts = self.split()
        if parts is None:
            return self._window_words(*self.interval(level), short)
        spans = [self._window_words(*part.interval(level), short) for part in parts]
        ends, turn = parts[0].interval(level)[1], parts[1].interval(level)[0]
        begun = ends - pd.Timedelta(days=PAUSE_DAYS)  # the last of the early ones may come in it
        between = self.rest is not None and begun < self.rest and not self.rest > turn
        pause = "the rest" if between else "a pause"
        share = share_words(len(parts[0].dates) / len(self.dates))
        return f"before {pause} {share} ({spans[0]}), else {spans[1]}"

    def when_in_full(self, level: float = 0.9) -> str:
        """The dates in words, with the chance of their window and the most central day."""
        if self.split() is not None:
            return f"{self.when(level)} ({level:.0%} interval of each)"
        if self.reached or pd.isna(self.interval(level)[0]):
            return self.when(level)
        middle = "" if pd.isna(self.median) else f", most likely about {self.median:%Y-%m-%d}"
        return f"{self.when(level)} ({level:.0%} interval){middle}"

    def _window_words(self, first: pd.Timestamp, last: pd.Timestamp, short: bool) -> str:
        """A span of dates, either end of which may lie beyond the horizon."""
        end, year = horizon_of(self) if pd.isna(last) else last, self.start.year
        if pd.isna(first):
            return f"hardly before {day_words(end, year) if short else f'{end:%Y-%m-%d}'}"
        beyond = "beyond " if pd.isna(last) else ""
        if short:
            return span_words(first, end, year, beyond)
        return f"{first:%Y-%m-%d} to {beyond}{end:%Y-%m-%d}"

    def _quantile(self, share: float) -> float:
        """Moment by which a share has arrived, in days after the last note; infinite if never."""
        waited = self.waited
        day, number = np.unique(waited, return_counts=True)
        upto = np.cumsum(number) / len(waited)
        at = int(np.searchsorted(upto, share))
        if not np.isfinite(day[at]):
            return np.inf
        before = upto[at - 1] if at else 0.0
        return float(day[at] - 1 + (share - before) / (upto[at] - before))

    def _date(self, waited: float) -> pd.Timestamp:
        if not np.isfinite(waited):
            return cast(pd.Timestamp, pd.NaT)
        return self.start + pd.Timedelta(days=int(np.ceil(waited)))

    @in_words
    @takes(level=LEVEL)
    def sentence(self, level: float = 0.9) -> str:
        """The finding in one sentence."""
        number = "1 worker" if self.workers == 1 else f"{self.workers} workers"
        if self.reached:
            return f"{number}: {self.when()}"
        if self.heat is not None:
            number = f"{self.heat.words(self.median)}. {number}"
        condition = self.condition + self._with_queen(horizon_of(self))
        return f"{number}: {self.when_in_full(level)}, {condition}"

    def _with_queen(self, far: pd.Timestamp) -> str:
        """What to add to the condition on the queen, if her survival is assumed."""
        if self.queen_survival is None:
            return ""
        return (
            f"; {share_words(self.chance_with_queen_by(far))} chance to get there with her by "
            f"{far:%Y-%m-%d}, assuming that {self.queen_assumed()}"
        )

    def queen_assumed(self) -> str:
        """What is assumed of the queen, in words; empty if nothing is."""
        if self.queen_survival is None:
            return ""
        return f"{100 * self.queen_survival:.3g} % of such queens live through a year"

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the chance of each date; see `antgrowth.plotting.plot_arrival`."""
        return picture("forecast", "plot_arrival", self, ax=ax)

    def _report(self) -> Report:
        return arrival_report(self)

    def __repr__(self) -> str:
        return f"Arrival({self.sentence()})"


def check_queen_survival(share: object) -> None:
    """Refuse what is no yearly survival."""
    if not 0.0 < as_number(share) <= 1.0:
        raise AntgrowthError(
            f"arrival: queen_survival = {told(share)}. Give the share of such queens that "
            "live through "
            "a year, above 0 and up to 1, such as 0.8."
        )


def arrival_title(arrival: Arrival) -> str:
    """Write when a number of workers comes, as short as a title has to be."""
    number = counted(arrival.workers, "worker")
    found = f"{number}: {arrival.when(short=True)}"
    (first, last), middle, far = arrival.interval(), arrival.median, horizon_of(arrival)
    if arrival.reached or arrival.split() is not None or pd.isna(first):
        return found
    if pd.isna(middle):
        return (
            f"{number}: hardly before {day_words(first, arrival.start.year)}, "
            f"most likely after {day_words(far, first.year)}"
        )
    year = (far if pd.isna(last) else last).year
    return f"{found}, most likely around {day_words(middle, year)}"


def arrival_rest(arrival: Arrival) -> str:
    """What the interval does not tell: who is there already, or how many come after it all."""
    if arrival.reached:
        already = float(np.mean(arrival.dates == np.datetime64(arrival.start, "D")))
        return f"{share_words(already)} of simulated colonies hold as many already"
    far = day_words(horizon_of(arrival))
    return f"{share_words(arrival.chance_never)} chance that it comes only after {far}"


def horizon_of(arrival: Arrival) -> pd.Timestamp:
    """Last day looked ahead."""
    return arrival.start + pd.Timedelta(days=arrival.horizon)
