"""What a forecast has to beat: the species alone, and the colony's worker counts alone."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from antgrowth._core.arrays import Floats, Ints
from antgrowth.climate.temperature import Temperature
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.initial_state import SHIFT_GRAIN_C
from antgrowth.inference.prior import Prior
from antgrowth.inference.starting_state import starting_state, states_of
from antgrowth.model.simulation import simulate

MOST_TIMES = 100.0
"""Log-linear growth is not followed beyond so many times the most workers counted (assumed): its
scores stay finite, and it is not made to look worse than it is by a few endless draws."""

ROUNDING = 1.0 / 12.0
"""Variance of a number rounded to whole ants. [ants²]"""


def species_average(
    history: ColonyHistory,
    held: Floats,
    days: int,
    draws: int,
    rng: np.random.Generator,
    temperature: Temperature | None = None,
) -> Ints:
    """Let colonies of a species grow from day zero as the profile alone expects, without any note.

    A colony that came part-grown begins with what the first note found: `held`, shape (5,). Another
    temperature may stand in place of the history's own. Eggs, larvae, pupae, workers at the start
    of day zero and the end of each day: shape (draws, days + 1, 4).
    """
    prior = Prior.of(history.species, history.founded)
    x = prior.with_round_shifts(rng.standard_normal((draws, len(prior))), SHIFT_GRAIN_C)
    laws, forcing = prior.laws(x), history.forcing(days, temperature)
    states = None
    if not history.founded:
        states = states_of(starting_state(history, held, prior), laws, forcing, rng)
    return simulate(laws, forcing, rng, states=states)


@dataclass(frozen=True, eq=False)
class UsualColonies:
    """Colonies of the species average that all cutoffs of a backtest share.

    Where the temperatures are known, it is the same colonies whatever the cutoff.
    """

    draws: int  # number of colonies
    seed: tuple[int, ...]
    _grown: dict[int, Ints] = field(default_factory=dict, repr=False)

    def paths(
        self, history: ColonyHistory, held: Floats, days: int, temperature: Temperature
    ) -> Ints:
        """See `species_average`; history and temperatures are those of one log at every call."""
        if days not in self._grown:
            rng = np.random.default_rng(self.seed)
            self._grown[days] = species_average(history, held, days, self.draws, rng, temperature)
        return self._grown[days]


@dataclass(frozen=True, eq=False)
class LogLinear:
    """A straight line through the logarithm of the workers counted, with its doubt."""

    # intercept, slope: draws of the line; the intercept is the log of the workers on day 0
    # [1/day], shape (draws,)
    intercept: Floats
    slope: Floats
    residual_sd: Floats  # sd of one more count about the line, on the log scale, shape (draws,)
    most: float  # beyond so many workers it is not followed [ants]

    def counts(self, day: Floats, rng: np.random.Generator) -> Floats:
        """Workers counted on days, shape (draws, len(day))."""
        chance = rng.standard_normal((len(self.slope), len(day)))
        line = self.intercept[:, None] + self.slope[:, None] * day
        line = line + self.residual_sd[:, None] * chance
        return np.rint(np.exp(np.minimum(line, np.log(self.most))))

    def arrivals(self, workers: float, rng: np.random.Generator) -> Floats:
        """Days on which a count of so many is reached, shape (draws,); infinite for never."""
        needed = np.log(workers) + self.residual_sd * rng.standard_normal(len(self.slope))
        upward = self.slope > 0
        slope = np.where(upward, self.slope, 1.0)
        return np.where(upward, (needed - self.intercept) / slope, np.inf)


def log_linear_growth(
    day: ArrayLike, workers: ArrayLike, draws: int, rng: np.random.Generator
) -> LogLinear | None:
    """Draw a straight line through the logarithm of the workers counted, each of shape (counts,).

    None with fewer than three counts above 0, or all of them on one day; 0 has no logarithm.

    Ordinary regression with a flat prior: a scaled inverse chi-square for the variance, and normal
    coefficients given it. The squares left over are never less than the rounding of counts to whole
    ants leaves: three counts that happen to lie on a line are no certainty.
    """
    days, numbers = np.asarray(day, float), np.asarray(workers, float)
    above = numbers > 0
    x, number = days[above], numbers[above]
    if len(x) < 3 or np.ptp(x) == 0:
        return None
    y, middle = np.log(number), x - x.mean()
    slope = middle @ y / (middle @ middle)
    left_over = y - y.mean() - slope * middle
    squares = max(left_over @ left_over, (ROUNDING / number**2).sum())
    residual_sd = np.sqrt(squares / rng.chisquare(len(x) - 2, draws))
    slopes = slope + residual_sd / np.sqrt(middle @ middle) * rng.standard_normal(draws)
    levels = y.mean() + residual_sd / np.sqrt(len(x)) * rng.standard_normal(draws)
    return LogLinear(levels - slopes * x.mean(), slopes, residual_sd, MOST_TIMES * number.max())
