"""How fast a colony grows at a temperature, once its own workers limit it."""

from __future__ import annotations

import warnings
from collections.abc import Hashable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from antgrowth._core.arguments import ANTS, RNG, celsius_list, optional, takes
from antgrowth._core.arrays import Floats
from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report, Shown, in_words, rounded
from antgrowth._core.text import counted
from antgrowth.errors import AntgrowthError
from antgrowth.inference.history import gain_of_queens
from antgrowth.inference.initial_state import SHIFT_GRAIN_C
from antgrowth.inference.posterior import Posterior
from antgrowth.inference.prior import Prior, forcing_of
from antgrowth.model.euler_lotka import long_run_rates
from antgrowth.species.parameters import QUEENS_CARE
from antgrowth.species.profile import Species, load_species
from antgrowth.species.thermal_limits import HEAT_CAUTION

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DRAWS = 200

CURVE_C = np.arange(10.0, 38.25, 0.5)
"""Temperatures of a curve for which none are named. [°C]"""

LONGEST = 3650.0
"""Doubling times beyond ten years are told as no growth. [day]"""


@dataclass(frozen=True, eq=False, repr=False)
class GrowthRate(Shown):
    """Growth of colonies at steady temperatures; made by `growth_rate`.

    Attributes
    ----------
    name : str
        Of the species, or of the colony.
    species : Species
    temperature_c : array, shape (temperatures,)
        [°C]
    rates : array, shape (draws, temperatures)
        Minus infinite where a colony does not last. [1/day]
    workers : int
        Size of the colony: larger ones grow more slowly.
    """

    name: str
    species: Species
    temperature_c: Floats
    rates: Floats = field(repr=False)
    workers: int

    @property
    def rate_per_day(self) -> Floats:
        """Median rate, shape (temperatures,) [1/day]."""
        return self._quantile(0.5)

    @property
    def doubling_days(self) -> Floats:
        """Time in which it doubles, shape (temperatures,); infinite if it does not [day]."""
        return _doubling(self.rate_per_day)

    @property
    def fastest_c(self) -> float:
        """Temperature of the fastest growth among those given up to the ceiling, if any [°C]."""
        return float(self.temperature_c[self._fastest])

    @property
    def _fastest(self) -> int:
        safe = self.temperature_c <= self.ceiling_c
        rate = np.where(safe, self.rate_per_day, -np.inf) if safe.any() else self.rate_per_day
        return int(np.argmax(rate))

    def frame(self) -> pd.DataFrame:
        """Return the numbers behind the picture.

        Returns
        -------
        DataFrame
            Columns temperature_c; rate_per_day (median), q05, q95 [1/day], minus infinite where a
            colony does not last; doubling_days, doubling_q05, doubling_q95, infinite where it does
            not grow; chance_grows, the share of draws in which it does; above_ceiling, of the
            housed colony, where heat does harm that this growth knows nothing of.
        """
        low, middle, high = (self._quantile(level) for level in (0.05, 0.5, 0.95))
        return pd.DataFrame(
            {
                "temperature_c": self.temperature_c,
                "rate_per_day": middle,
                "q05": low,
                "q95": high,
                "doubling_days": _doubling(middle),
                "doubling_q05": _doubling(high),
                "doubling_q95": _doubling(low),
                "chance_grows": (self.rates > 0).mean(axis=0),
                "above_ceiling": self.temperature_c > self.ceiling_c,
            }
        )

    @property
    def ceiling_c(self) -> float:
        """Warmest that is advised for a housed colony; infinite if the profile has none [°C]."""
        path = "limits.housed_ceiling_c"
        return self.species.value(path) if path in self.species else np.inf

    @in_words
    def sentence(self) -> str:
        """The finding in one sentence."""
        row = self.frame().iloc[self._fastest]
        at = f"at {row['temperature_c']:g} °C"
        if row["doubling_days"] > LONGEST:
            return f"{self.name}: does not grow {at}"
        lead = f"fastest {at}, " if len(self.temperature_c) > 1 else f"{at} "
        if row["above_ceiling"]:
            lead = f"TOO WARM, above the ceiling of {self.ceiling_c:g} °C, where queens die: {lead}"
        middle, quick, slow = row["doubling_days"], row["doubling_q05"], row["doubling_q95"]
        if slow > LONGEST:
            best = f"{self.name}: {lead}doubles in {middle:.0f} days"
            return f"{best}, at the quickest in {quick:.0f}; it may not grow at all"
        days, least, most = rounded(middle, quick, slow)
        return f"{self.name}: {lead}doubles in {days} days ({least} to {most}, 90% interval)"

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the rate with its 90 % band over the temperature.

        Raises
        ------
        AntgrowthError
            If there are fewer than two temperatures.
        """
        return picture("forecast", "plot_growth_rate", self, ax)

    def __repr__(self) -> str:
        return f"GrowthRate({self.sentence()})"

    def _quantile(self, level: float) -> Floats:
        # Between a number and minus infinite there is no mean: one of the draws stands for it.
        return np.quantile(self.rates, level, axis=0, method="closest_observation")

    def _report(self) -> Report:
        few = slice(None, None, -(-len(self.temperature_c) // 12))
        warm = self.temperature_c > self.ceiling_c
        return Report(
            title=f"Growth rate: {self.name}",
            facts=(
                ("finding", self.sentence()),
                (
                    "holds",
                    "while rearing limits growth, fed well, at a steady temperature",
                ),
                ("size", f"of {self.workers:,} workers; larger colonies grow more slowly"),
            ),
            head=("°C", "rate [1/day]", "90% interval", "doubling [day]", "note"),
            align="rrrrl",
            rows=tuple(_row(row) for row in self.frame()[few].to_dict("records")),
            closing=(
                ("limits", f"{counted(int(warm.sum()), 'temperature')} above the ceiling of the "
                 f"housed colony, {self.ceiling_c:g} °C: faster is not safe there"),
                ("care", HEAT_CAUTION),
            ) if warm.any() else (("care", HEAT_CAUTION),),
        )  # fmt: skip


@takes(temperature_c=optional(celsius_list), workers=ANTS, rng=RNG, seed=optional(RNG))
def growth_rate(
    species: Species | str | Posterior,
    temperature_c: ArrayLike | None = None,
    *,
    workers: int = 30,
    rng: int = 1,
    seed: int | None = None,
) -> GrowthRate:
    """Tell how fast a colony grows at steady temperatures while its workers limit it.

    Parameters
    ----------
    species : Species, str or Fit
        A profile, its name or path; or a fit, whose posterior then counts.
    temperature_c : float or array, optional
        Temperatures; 10 to 38 °C in steps of 0.5 if not given. [°C]
    workers : int
        Size of the colony.
    rng : int
        Seed of the draws from a profile.
    seed : int, optional
        The old name of `rng`.

    Returns
    -------
    GrowthRate

    Raises
    ------
    TemperatureError
        If a temperature is no number from -40 to 70.
    SpeciesError
        If there is no such profile.

    Notes
    -----
    The rate r of the equation of Euler and Lotka for 200 draws of the parameters, see
    `antgrowth.model.euler_lotka.long_run_rates`; the doubling time is ``ln 2 / r``. A founding
    queen is slower, and a colony whose queen lays too little as well. Food, disease and the
    queen's own death are not in it, and no rest: a species that needs one does not grow through the
    winter however warm it is kept.

    References
    ----------
    See `antgrowth.model.euler_lotka.rate_of_increase`.

    Examples
    --------
    >>> import antgrowth as ag
    >>> print(ag.growth_rate("lasius-niger", 25.0).sentence())
    Lasius niger: at 25 °C doubles in 32 days (17 to 56, 90% interval)
    """
    if seed is not None:
        warnings.warn(
            "growth_rate: seed= is called rng= now, as everywhere; the old name goes with 0.3.",
            DeprecationWarning,
            stacklevel=2,
        )
        rng = seed
    grid = CURVE_C if temperature_c is None else temperature_c
    warmth = np.atleast_1d(np.asarray(grid, dtype=float)).ravel()
    if not isinstance(species, (Species, str, Posterior)):
        raise AntgrowthError(
            f"growth_rate: species is a {type(species).__name__}. Give a profile, its name, or a "
            "fit."
        )
    if isinstance(species, Posterior):
        ant, name = species.species, species.counts.name
        prior, draws = species.model.prior, species.draws[:DRAWS]
        queens = max(species.history.queens_left(species.days), 1)
    else:
        ant = load_species(species) if isinstance(species, str) else species
        name, prior = ant.scientific_name, Prior.of(ant)
        draws = np.random.default_rng(rng).standard_normal((DRAWS, len(prior)))
        queens = 1
    laws = prior.laws(prior.with_round_shifts(draws, SHIFT_GRAIN_C))
    hours_c = np.repeat(warmth[:, None], 24, axis=1)
    forcing = forcing_of(ant, hours_c, np.zeros(len(warmth), bool))
    care = gain_of_queens(ant, QUEENS_CARE, np.full(len(warmth), float(queens)))
    forcing = replace(forcing, care=care)
    return GrowthRate(name, ant, warmth, long_run_rates(laws, forcing, workers), int(workers))


def _doubling(rate: Floats) -> Floats:
    grows = rate > 0
    return np.where(grows, np.log(2.0) / np.where(grows, rate, 1.0), np.inf)


def _row(row: dict[Hashable, Any]) -> tuple[str, ...]:
    note = "above the ceiling" if row["above_ceiling"] else ""
    at = f"{row['temperature_c']:g}"
    if not np.isfinite(row["rate_per_day"]):
        return at, "", "", "", note or "does not last"
    low = f"{row['q05']:.4f}" if np.isfinite(row["q05"]) else "does not last"
    span = f"{low} to {row['q95']:.4f}"
    doubles = f"{row['doubling_days']:,.0f}" if row["doubling_days"] <= LONGEST else "never"
    return at, f"{row['rate_per_day']:.4f}", span, doubles, note
