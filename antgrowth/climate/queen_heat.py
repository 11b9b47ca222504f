"""What heat above the ceiling of its phase does to a queen, who is warned of before all else."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.summary import share_words
from antgrowth._core.text import counted
from antgrowth.species.profile import Species
from antgrowth.species.thermal_limits import PHASES

LOSS = "limits.queen_loss_per_day_c"


@dataclass(frozen=True, eq=False)
class QueenHeat:
    """Hours above the ceiling, and the share of queens that live through them."""

    first: pd.Timestamp  # first day above
    hours: int  # hours above
    hottest_c: float  # [°C]
    ceiling: str  # name and height of the ceiling that is passed first
    # Share of queens that the heat has left alive at the start and after each of the days; NaN
    # where the profile does not say how many die, shape (days + 1,)
    alive: Floats = field(repr=False)
    start: pd.Timestamp  # of the first entry of `alive`: the evening of this day

    def alive_by(self, date: pd.Timestamp) -> float:
        """Share of queens that the heat has left alive by the evening of a day."""
        day = (date - self.start) // pd.Timedelta("1D")
        return float(self.alive[min(max(day, 0), len(self.alive) - 1)])

    @property
    def lost(self) -> float:
        """Share of queens lost to heat by the last day; NaN if not known."""
        return float(1.0 - self.alive[-1])

    def hours_words(self) -> str:
        """How far and how long it is too warm."""
        return (
            f"{counted(self.hours, 'hour')} above the {self.ceiling}, up to {self.hottest_c:.1f} °C"
        )

    def words(self, until: pd.Timestamp | None = None) -> str:
        """What is to be read first, with the share of queens alive on a day, or on the last one."""
        last = self.start + pd.Timedelta(days=len(self.alive) - 1)
        day = last if until is None or pd.isna(until) else until
        lead = f"TOO WARM for the queen: {self.hours_words()}, from {self.first:%Y-%m-%d} on"
        if np.isnan(self.lost):
            return f"{lead}; how many queens that kills is not known of this species"
        living = share_words(self.alive_by(day))
        return f"{lead}; {living} of queens would live through it to {day:%Y-%m-%d}"


def queen_heat(
    ant: Species, hours_c: Floats, housed: Flags, start: pd.Timestamp
) -> QueenHeat | None:
    """What days mean to a queen; None if no hour is above her ceiling.

    Hours [°C] of shape (days, 24), NaN where unknown, which harms nobody here; `housed` (days,),
    whether she has workers: else she is founding, and has the lower ceiling. `start` is the day
    before the first.

    The hazard rises by "limits.queen_loss_per_day_c" for each °C above the ceiling: with 0.03 a day
    and a ceiling of 28 °C, 5 % of queens live through 50 days at 30 °C, where all founding queens
    of *Lasius japonicus* died.

    References
    ----------
    Kamitani S, Asakura K, Nakamura K (2015) Effects of environmental factors on life cycle
    regulation in Lasius japonicus Santschi. Sociobiology 62.
    """
    phases = [PHASES[name] for name in ("founding", "housed")]
    if any(path not in ant for path, _, _ in phases):
        return None
    low, high = (ant.value(path) for path, _, _ in phases)
    ceiling_c = np.where(housed, high, low)[:, None]
    excess = np.nan_to_num(np.maximum(hours_c - ceiling_c, 0.0))
    if not excess.any():
        return None
    day = int((excess > 0).any(axis=1).argmax())
    each_c = ant.value(LOSS) if LOSS in ant else np.nan
    alive = np.exp(-each_c * np.concatenate([[0.0], np.cumsum(excess.mean(axis=1))]))
    return QueenHeat(
        first=start + pd.Timedelta(days=day + 1),
        hours=int((excess > 0).sum()),
        hottest_c=float(hours_c[excess > 0].max()),
        ceiling=f"{phases[int(housed[day])][2]}, {ceiling_c[day, 0]:g} °C",
        alive=alive,
        start=start,
    )
