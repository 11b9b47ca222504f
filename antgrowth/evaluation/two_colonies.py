"""Two colonies side by side: which does better, and what that rests on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.arguments import ANTS, CELSIUS, instance, optional, takes
from antgrowth._core.arrays import Floats
from antgrowth._core.summary import Report, Shown, in_words, share_words
from antgrowth._core.text import counted, day_words
from antgrowth.errors import AntgrowthError
from antgrowth.forecast.growth_rate import growth_rate
from antgrowth.forecast.paths import Forecast

if TYPE_CHECKING:
    from antgrowth.inference.posterior import Posterior

UNDECIDED = (0.2, 0.8)
"""Chances between these are called open."""


@dataclass(frozen=True, eq=False, repr=False)
class ColonyComparison(Shown):
    """Which of two colonies does better; made by `compare_colonies`.

    Attributes
    ----------
    forecasts : tuple of two Forecast
    names : tuple of str
    workers : int
    ages : tuple of two arrays, shape (draws,)
        Days from the founding, or else from the first note, to so many workers; infinite where the
        forecast ends first. [day]
    rates : tuple of two arrays, shape (draws,), or None
        Long-run growth of each colony's ants and brood at `temperature_c`, alike for both. [1/day]
    temperature_c : float
    """

    forecasts: tuple[Forecast, Forecast]
    names: tuple[str, str]
    workers: int
    ages: tuple[Floats, Floats]
    rates: tuple[Floats, Floats]
    temperature_c: float

    @property
    def sooner(self) -> float:
        """Chance that the first colony needs fewer days for so many workers, as both are kept."""
        return _chance(-self.ages[0], -self.ages[1])

    @property
    def quicker(self) -> float:
        """Chance that the first colony would grow faster at one temperature for both."""
        return _chance(*self.rates)

    def frame(self) -> pd.DataFrame:
        """Tell of both colonies.

        Returns
        -------
        DataFrame
            Columns name, looks, days_of_notes; age_median, age_q05, age_q95 [day]; rate_median,
            rate_q05, rate_q95 [1/day].
        """
        rows = []
        for ahead, name, age, rate in zip(
            self.forecasts, self.names, self.ages, self.rates, strict=True
        ):
            fit = ahead.fit
            row: dict[str, object] = {
                "name": name, "looks": int(fit.counts.frame["date"].nunique()),
                "days_of_notes": fit.days,
            }  # fmt: skip
            for what, values in (("age", age), ("rate", rate)):
                q05, q50, q95 = np.quantile(values, [0.05, 0.5, 0.95], method="closest_observation")
                row |= {f"{what}_median": q50, f"{what}_q05": q05, f"{what}_q95": q95}
            rows.append(row)
        return pd.DataFrame(rows)

    @in_words
    def sentence(self) -> str:
        """The finding in two sentences: as they are kept, and at one temperature for both."""
        kept = self._said(
            self.sooner, f"needs fewer days to {counted(self.workers, 'worker')} as kept"
        )
        alike = self._said(self.quicker, f"grows faster at {self.temperature_c:g} °C for both")
        return f"{kept} {alike}"

    def _said(self, chance: float, what: str) -> str:
        name = self.names[0] if chance >= 0.5 else self.names[1]
        likely = max(chance, 1.0 - chance)
        if UNDECIDED[0] < chance < UNDECIDED[1]:
            return f"Open which {what} ({name}: {share_words(likely)})."
        return f"{name} {what} ({share_words(likely)} chance)."

    def _report(self) -> Report:
        rows = []
        for row in self.frame().to_dict("records"):
            far = "beyond the forecast" if not np.isfinite(row["age_q95"]) else ""
            span = f"{row['age_q05']:.0f} to {far or format(row['age_q95'], '.0f')}"
            grows = f"{100 * row['rate_median']:.2f}"
            rows.append((row["name"], str(row["looks"]), str(row["days_of_notes"]), span, grows))
        ends = (f"{n} to {day_words(a.start)}" for n, a in zip(self.names, self.forecasts,
                                                              strict=True))  # fmt: skip
        return Report(
            title=f"{self.names[0]} beside {self.names[1]}",
            facts=(("finding", self.sentence()),),
            head=("colony", "looks", "days of notes", f"days to {self.workers} workers (90 %)",
                  f"% a day at {self.temperature_c:g} °C"),
            align="lrrrr",
            rows=tuple(rows),
            closing=(
                ("rests on", f"the notes of {', '.join(ends)}; where they are few, both are taken "
                             "for what their profiles say"),
                ("not told", "whether it is the queen, the food or the nest: two colonies differ "
                             "in all of them"),
            ),
        )  # fmt: skip

    def __repr__(self) -> str:
        return f"ColonyComparison({self.sentence()})"


@takes(
    first=instance(Forecast, "Fit.forecast"), second=instance(Forecast, "Fit.forecast"),
    workers=ANTS, temperature_c=optional(CELSIUS),
)  # fmt: skip
def compare_colonies(
    first: Forecast, second: Forecast, workers: int = 30, temperature_c: float | None = None
) -> ColonyComparison:
    """Tell which of two colonies does better.

    Parameters
    ----------
    first, second : Forecast
        Of two colonies, far enough ahead for the number of workers.
    workers : int
        At least 1.
    temperature_c : float, optional
        At which both are compared alike; the reference of the first one's species if not given.
        [°C]

    Returns
    -------
    ColonyComparison

    Raises
    ------
    AntgrowthError
        If hardly any colony of a forecast reaches the number.

    Notes
    -----
    Days are counted from the founding; of a colony that came part-grown from its first note, which
    compares only with another that came alike. The chance is that of two draws, one of each colony;
    an equal number of days counts by half.
    """
    ages = _age(first, workers), _age(second, workers)
    names = first.fit.counts.name, second.fit.counts.name
    if names[0] == names[1]:
        names = f"{names[0]} (first)", f"{names[1]} (second)"
    at = temperature_c
    if at is None:
        at = first.fit.species.value("development.reference_c")
    rates = _rate(first.fit, at), _rate(second.fit, at)
    return ColonyComparison((first, second), names, workers, ages, rates, float(at))


def _age(forecast: Forecast, workers: int) -> Floats:
    arrival = forecast.arrival(workers)
    if np.isnat(arrival.dates).mean() > 0.9:
        raise AntgrowthError(
            f"compare_colonies: {forecast.fit.counts.name!r} does not hold "
            f"{counted(workers, 'worker')} within {forecast.days} days. Forecast farther, for "
            "example fit.forecast(days=400), or give a smaller number."
        )
    days = (arrival.dates - np.datetime64(forecast.fit.history.first_day, "D")).astype(float)
    found: Floats = np.where(np.isnat(arrival.dates), np.inf, days)
    return found


def _rate(fit: Posterior, temperature_c: float) -> Floats:
    found: Floats = growth_rate(fit, [temperature_c]).rates[:, 0]
    return found


def _chance(one: Floats, other: Floats) -> float:
    """Chance that a draw of one is above a draw of the other; ties count by half."""
    ordered = np.sort(other)
    below = np.searchsorted(ordered, one, side="left")
    upto = np.searchsorted(ordered, one, side="right")
    return float((below + upto).mean() / (2 * len(ordered)))
