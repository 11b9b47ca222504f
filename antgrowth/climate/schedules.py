"""Plans, and how temperatures are put together: one after the other, with a rest, warmer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.text import counted
from antgrowth.climate.humidity import moved_humidity_pct
from antgrowth.climate.source import ONE_DAY, Source, Span


@dataclass(frozen=True, eq=False, repr=False)
class Repeating(Source):
    """The same day for ever."""

    pattern_c: Floats  # mean of each hour of the day, shape (24,) [°C]
    words: str  # the description

    def covers(self) -> Span:
        return None, None

    def describe(self) -> str:
        return self.words

    def known_hours(self, start: np.datetime64, days: int) -> Floats:
        return np.tile(self.pattern_c, (days, 1))


@dataclass(frozen=True, eq=False, repr=False)
class Then(Source):
    """One temperature until a day, another one from that day on."""

    before: Source
    day: np.datetime64  # first day of `after`
    after: Source

    def covers(self) -> Span:
        return self.before.covers()[0], self.after.covers()[1]

    @property
    def findings(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(self.before.findings + self.after.findings))

    def describe(self) -> str:
        return f"{self.before.describe()}; then from {self.day} {self.after.describe()}"

    @property
    def cycle_days(self) -> int:
        return max(self.before.cycle_days, self.after.cycle_days)

    def ends(self) -> pd.Timestamp | None:
        return self.after.ends()

    def changes(self) -> tuple[np.datetime64, ...]:
        earlier = (day for day in self.before.changes() if day < self.day)
        later = (day for day in self.after.changes() if day > self.day)
        return (*earlier, self.day, *later)

    def known_hours(self, start: np.datetime64, days: int) -> Floats:
        first = self._days_before(start, days)
        return np.concatenate(
            [
                self.before.known_hours(start, first),
                self.after.known_hours(start + first, days - first),
            ]
        )

    def resting(self, start: np.datetime64, days: int) -> Flags:
        first = self._days_before(start, days)
        return np.concatenate(
            [self.before.resting(start, first), self.after.resting(start + first, days - first)]
        )

    def humidity(self, start: np.datetime64, days: int) -> Floats:
        first = self._days_before(start, days)
        return np.concatenate(
            [self.before.humidity(start, first), self.after.humidity(start + first, days - first)]
        )

    def _days_before(self, start: np.datetime64, days: int) -> int:
        return min(max(int((self.day - start) // ONE_DAY), 0), days)


@dataclass(frozen=True, eq=False, repr=False)
class Layer(Source):
    """A source over another one: a kind says what it changes, all else is as below."""

    source: Source  # the one below

    def covers(self) -> Span:
        return self.source.covers()

    def describe(self) -> str:
        return self.source.describe()

    def known_hours(self, start: np.datetime64, days: int) -> Floats:
        return self.source.known_hours(start, days)

    def resting(self, start: np.datetime64, days: int) -> Flags:
        return self.source.resting(start, days)

    def humidity(self, start: np.datetime64, days: int) -> Floats:
        return self.source.humidity(start, days)

    @property
    def cycle_days(self) -> int:
        return self.source.cycle_days

    def changes(self) -> tuple[np.datetime64, ...]:
        return self.source.changes()

    def ends(self) -> pd.Timestamp | None:
        return self.source.ends()

    @property
    def findings(self) -> tuple[str, ...]:
        return self.source.findings


@dataclass(frozen=True, eq=False, repr=False)
class Ramp(Layer):
    """A temperature that is reached evenly, over some days, from that of one day."""

    from_c: Floats  # mean of each hour of the day before, shape (24,) [°C]
    day: np.datetime64  # first day of the ramp
    days: int  # its length

    def describe(self) -> str:
        return f"over {counted(self.days, 'day')} to {self.source.describe()}"

    def changes(self) -> tuple[np.datetime64, ...]:
        end = self.day + self.days
        return (end, *(day for day in self.source.changes() if day > end))

    def known_hours(self, start: np.datetime64, days: int) -> Floats:
        hour = np.arange(days * 24).reshape(days, 24) + int((start - self.day) // ONE_DAY) * 24
        share = np.clip((hour + 0.5) / (self.days * 24), 0.0, 1.0)
        return (1 - share) * self.from_c + share * self.source.known_hours(start, days)

    def humidity(self, start: np.datetime64, days: int) -> Floats:
        known_c = self.source.known_hours(start, days)
        return moved_humidity_pct(
            self.source.humidity(start, days), known_c, self.known_hours(start, days)
        )


@dataclass(frozen=True, eq=False, repr=False)
class Shifted(Layer):
    """A temperature that is warmer or cooler by so much."""

    by_c: float  # how much warmer [°C]

    def describe(self) -> str:
        side = "cooler" if self.by_c < 0 else "warmer"
        return f"{self.source.describe()}; all of it {abs(self.by_c):g} °C {side}"

    def known_hours(self, start: np.datetime64, days: int) -> Floats:
        return self.source.known_hours(start, days) + self.by_c

    def humidity(self, start: np.datetime64, days: int) -> Floats:
        at_sensor_c = self.source.known_hours(start, days)
        return moved_humidity_pct(
            self.source.humidity(start, days), at_sensor_c, at_sensor_c + self.by_c
        )


@dataclass(frozen=True, eq=False, repr=False)
class Rest(Layer):
    """A temperature with a rest."""

    start: np.datetime64
    stop: np.datetime64  # first day after the rest
    during: Source | None  # temperature of the rest; None leaves it as planned

    def covers(self) -> Span:
        first, last = self.source.covers()
        if self.during is None:
            return first, last
        start, end = pd.Timestamp(self.start), pd.Timestamp(self.stop - ONE_DAY)
        return first and min(first, start), last and max(last, end)

    @property
    def findings(self) -> tuple[str, ...]:
        return self.source.findings + (self.during.findings if self.during is not None else ())

    def describe(self) -> str:
        at = f", {self.during.describe()}" if self.during is not None else ""
        return f"{self.source.describe()}; rest from {self.start} until {self.stop}{at}"

    def changes(self) -> tuple[np.datetime64, ...]:
        days = self._interrupted().changes()
        return tuple(sorted({*days, self.start, self.stop}))

    def _interrupted(self) -> Source:
        """The temperature alone."""
        if self.during is None:
            return self.source
        return Then(Then(self.source, self.start, self.during), self.stop, self.source)

    def known_hours(self, start: np.datetime64, days: int) -> Floats:
        return self._interrupted().known_hours(start, days)

    def humidity(self, start: np.datetime64, days: int) -> Floats:
        return self._interrupted().humidity(start, days)

    def resting(self, start: np.datetime64, days: int) -> Flags:
        day = start + np.arange(days)
        return self.source.resting(start, days) | ((day >= self.start) & (day < self.stop))


@dataclass(frozen=True, eq=False, repr=False)
class Continued(Layer):
    """A temperature that goes on as usual after its end; rests planned for later stay."""

    day: np.datetime64  # first day that is not known any more
    usual_day: Source  # what stands for the days that are not known
    rest_day: Source  # the same for those of a rest

    def covers(self) -> Span:
        return self.source.covers()[0], None

    def ends(self) -> pd.Timestamp | None:
        return None

    def describe(self) -> str:
        return f"{self.source.describe()}; then from {self.day} {self.usual_day.describe()}"

    def changes(self) -> tuple[np.datetime64, ...]:
        return tuple(sorted({*self.source.changes(), self.day}))

    def known_hours(self, start: np.datetime64, days: int) -> Floats:
        known = self.source.known_hours(start, days)
        later = start + np.arange(days) >= self.day
        resting = self.resting(start, days)
        for which, usual in ((later & ~resting, self.usual_day), (later & resting, self.rest_day)):
            known[which] = np.where(
                np.isnan(known[which]), usual.known_hours(start, days)[which], known[which]
            )
        return known


@dataclass(frozen=True, eq=False, repr=False)
class Until(Layer):
    """A temperature as it was known in the evening of a day; a rest that was on ends as planned."""

    last: np.datetime64  # the day

    def covers(self) -> Span:
        first, end = self.source.covers()
        last = pd.Timestamp(self.last)
        return first, last if end is None else min(end, last)

    def ends(self) -> pd.Timestamp | None:
        return self.covers()[1]

    def describe(self) -> str:
        return f"{self.source.describe()}, as known on {self.last}"

    def changes(self) -> tuple[np.datetime64, ...]:
        return tuple(day for day in self.source.changes() if day <= self.last)

    def known_hours(self, start: np.datetime64, days: int) -> Floats:
        return self._known(self.source.known_hours(start, days), start)

    def humidity(self, start: np.datetime64, days: int) -> Floats:
        return self._known(self.source.humidity(start, days), start)

    def resting(self, start: np.datetime64, days: int) -> Flags:
        resting = self.source.resting(start, days)
        later = self.source.resting(self.last, max(int((start - self.last) // ONE_DAY) + days, 0))
        still = np.logical_and.accumulate(later)  # of the days from the last on
        coming = start + np.arange(days) > self.last
        resting[coming] = still[len(still) - int(coming.sum()) :]
        return resting

    def _known(self, values: Floats, start: np.datetime64) -> Floats:
        values[start + np.arange(len(values)) > self.last] = np.nan
        return values


def steady(temperature_c: float) -> Repeating:
    """The same temperature all the time."""
    return Repeating(np.full(24, temperature_c), f"constant {temperature_c:.1f} °C")
