"""The intake factor: what a colony was weighed to eat, over what the budget says it needs."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy import special

from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.deprecation import Former

INTAKE_SPREAD = 0.35
"""Log-sd, colony by colony, of what is eaten over what the equations say even if every constant
were known (assumed). Fire-ant colonies were measured to take half the sugar and twice the prey
(`tests/reference/test_food_published.py`), which are two such spreads."""

APPETITE, APPETITE_SPREAD = 0.4, 0.4
"""Log-sd by which single meals stray from what is eaten on the whole, and the log-sd of that number
itself (both assumed): a meal may be stored, and a nest stirred up does not eat."""

CLEAR = 0.15
"""Up to this error of weighing, relative to what was eaten, the error of its logarithm is as good
as normal."""

GRID, REACH = 161, 4.0
"""Points of the factor's logarithm, so many prior standard deviations to either side."""

SPREADS = np.linspace(-2.0, 2.0, 5)
STRAYS = np.linspace(-3.5, 3.5, 36)
"""Standard deviations at which the scatter of appetite, and the appetite at one meal, are summed
over."""


@dataclass(frozen=True, eq=False, repr=False)
class Intake:
    """What was learned of a colony's intake of one need."""

    need: str  # "sugar" or "protein"
    portions: int  # meals it was learned from
    # Of the factor's logarithm before, whose mean was 0: what is uncertain of the budget.
    prior_sd: float
    centre: float  # centre, sd: mean and standard deviation of the factor's logarithm
    sd: float
    # What the budget of each draw is multiplied with, shape (draws, 1)
    multiplier: Floats = field(repr=False)

    meals = Former("portions")

    @property
    def factor(self) -> float:
        """Eaten over what the budget's median says, as a median."""
        return float(np.exp(self.centre))

    def interval(self, level: float = 0.9) -> tuple[float, float]:
        """Central range of the factor."""
        reach = special.ndtri(0.5 + level / 2.0) * self.sd
        return float(np.exp(self.centre - reach)), float(np.exp(self.centre + reach))

    @property
    def learned(self) -> float:
        """Share of the prior's spread that the weighings removed."""
        return max(1.0 - self.sd / self.prior_sd, 0.0)

    def __repr__(self) -> str:
        low, high = self.interval()
        return (
            f"Intake({self.need}: {self.factor:.2f} ({low:.2f} to {high:.2f}) of the budget, from "
            f"{self.portions} meals)"
        )


def learn_intake(
    need: str,
    needed: Floats,
    eaten: Floats,
    error: Floats,
    drying: Floats,
    eaten_up: Flags,
    rng: np.random.Generator,
) -> Intake:
    """Learn the intake factor of one need from meals.

    Parameters
    ----------
    need : str
    needed : array, shape (draws, meals)
        What the budget says was needed from each meal to the next. [mg]
    eaten : array, shape (meals,)
        As weighed, may be below 0 by the errors of weighing. [mg]
    error : array, shape (meals,)
        Their standard deviation. [mg]
    drying : array, shape (meals,)
        Log-sd of what was eaten for not knowing how far the food had dried up.
    eaten_up : array of bool, shape (meals,)
        Nothing was left.
    rng : numpy.random.Generator

    Returns
    -------
    Intake

    Notes
    -----
    **Model.** With n_j the median over the draws of what was needed, the colony wants at a meal

    ``log w_j = log n_j + f + e_j,  e_j ~ N(0, s_j²),  s_j² = a² + u_j² + v_j²``

    where f is the logarithm of the intake factor; a the scatter of appetite, ``log a ~ N(log 0.4,
    0.4²)``; u_j the log-sd of drying; and v_j what the draws disagree about that meal beside the
    others. Weighed is ``y_j ~ N(w_j, t_j²)``. So a y_j below 0 is what it is, a small meal and an
    error of weighing: to cut it at zero, or leave it out, would make the appetite too large. The
    probability of y_j is summed over e_j; where t_j is below 0.15 y_j, it is that of a log-normal
    with ``s_j² + (t_j / y_j)²``, which is the same but for rounding. Of a meal that was eaten up,
    the colony wanted y_j or more, and what counts is the normal probability of that.

    **Prior.** ``f ~ N(0, d² + 0.35²)``: d is the spread, over the draws of the constants and of the
    colony's growth, of the logarithm of what all these meals together should have brought; 0.35 is
    how far colonies stray from the equations. Few or poor weighings leave f near 0, the more the
    better they are the more they decide.

    **Posterior.** Mean m and standard deviation p of f, on a grid of f and a, and a normal
    distribution with these. A draw whose budget strays by L_i from the median, and whose colony by
    c_i from the budget, is multiplied with ``exp(m + (L_i + c_i) p / sqrt(d² + 0.35²) - L_i)``: so
    the plan's amounts, budget and factor together, have the mean and the spread of the posterior,
    and draws stay the draws they were.
    """
    middle = np.median(needed, axis=0)
    whole = np.log(needed.sum(axis=1))
    strays = whole - np.median(whole)
    apart = np.log(needed / middle) - strays[:, None]
    stray = strays + INTAKE_SPREAD * rng.standard_normal(len(strays))
    prior_sd = float(np.hypot(strays.std(), INTAKE_SPREAD))

    f = np.linspace(-REACH, REACH, GRID) * prior_sd
    spread = APPETITE * np.exp(APPETITE_SPREAD * SPREADS)
    posterior = np.add.outer(-0.5 * (f / prior_sd) ** 2, -0.5 * SPREADS**2)
    for n, y, t, up, own in zip(
        middle, eaten, error, eaten_up, np.hypot(drying, apart.std(axis=0)), strict=True
    ):
        posterior += _log_chance(f[:, None] + np.log(n), np.hypot(spread, own), y, t, up)
    weight = np.exp(posterior - posterior.max()).sum(axis=1)
    weight = weight / weight.sum()
    centre = float(weight @ f)
    sd = float(np.sqrt(weight @ (f - centre) ** 2))
    multiplier = np.exp(centre + stray * sd / prior_sd - strays)[:, None]
    return Intake(need, len(middle), prior_sd, centre, sd, multiplier)


def _log_chance(wanted: Floats, spread: Floats, eaten: float, error: float, up: bool) -> Floats:
    """Log-probability of what was weighed at one meal, as `learn_intake` has it.

    The logarithm of what was wanted, but for chance, has shape (factors, 1); the log-sd of that
    chance (scatters,). `up`: nothing was left.
    """
    if eaten > 0 and (up or error < CLEAR * eaten):
        wide = spread if up else np.hypot(spread, error / eaten)
        off = (wanted - np.log(eaten)) / wide
        chance: Floats = special.log_ndtr(off) if up else -0.5 * off**2 - np.log(wide)
        return chance
    portion = np.exp(wanted[..., None] + spread[:, None] * STRAYS)
    log_terms = -0.5 * STRAYS**2 - 0.5 * ((eaten - portion) / error) ** 2
    mixed: Floats = special.logsumexp(log_terms, axis=-1) - np.log(error)
    return mixed
