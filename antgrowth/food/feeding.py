"""A keeper's weighings beside the budget of the same days: what they teach, and what is amiss."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.arrays import Floats
from antgrowth._core.deprecation import Former
from antgrowth._core.text import counted
from antgrowth.food.feed_log import FeedLog
from antgrowth.food.intake import Intake, learn_intake
from antgrowth.food.portions import LONGEST_DAYS, NO_CONTROL, portions_of

STRETCH_DAYS, LEAST_DAYS = 28, 7
"""Meals are held against growth in stretches so long, if they fed it for at least so long. [day]"""

SHORT_CHANCE = 0.95
"""A stretch is reported if this is the chance that it brought less than growth took."""

DETECTED = 2.0
"""So many standard deviations of weighing a portion must hold to tell anything once eaten up."""

SHORT = [
    "start", "end", "meals", "eaten_up", "most_mg", "needed_mg", "needed_q05", "needed_q95",
    "chance",
]  # fmt: skip

GONE = "It was eaten up: offer more"
LEFT = (
    "They left some: try another kind, or fresher; if they take no more, something was fed that is "
    "not written down, or fewer larvae grew than the counts say"
)

OUTSIDE = "not all of its days lie between the first and the last note"
QUIET_DAYS = "a rest, or days too cold or too hot for a budget"
NOT_NEEDED = "nothing was needed yet, or less than can be told by weighing"
TOO_LITTLE = "eaten up, and too small to tell by weighing"


@dataclass(frozen=True, eq=False)
class PastNeeds:
    """The budget of the days with notes."""

    first_day: pd.Timestamp
    # "sugar" and "protein" of each day [mg/day], shape (draws, days)
    needed: Mapping[str, Floats] = field(repr=False)
    # Why a day has no budget; empty if it has, shape (days,)
    quiet: NDArray[np.str_] = field(repr=False)


@dataclass(frozen=True, eq=False, repr=False)
class Feeding:
    """What a feed log says of a colony's appetite, and of whether it was fed enough."""

    log: FeedLog
    # A row a meal, by need and date. Columns need; date; days until the next meal; offered_mg
    # and eaten_mg, of sugar or protein; needed_mg, what the budget says of these days, as a
    # median; kind ("measured", or "at least" if eaten up; empty if nothing is learned from it);
    # reason why nothing is.
    portions: pd.DataFrame
    # By need; without a need from whose meals nothing could be learned.
    intakes: Mapping[str, Intake]
    # Stretches in which the prey eaten brought less protein than growth took, as the counts
    # tell it. Columns start, end, meals, eaten_up (share of them), most_mg, needed_mg,
    # needed_q05, needed_q95, chance.
    short: pd.DataFrame

    meals = Former("portions")

    @classmethod
    def of(
        cls,
        log: FeedLog,
        past: PastNeeds,
        content: Mapping[str, Floats | float],
        scale_mg: float,
        rng: np.random.Generator,
    ) -> Feeding:
        """Hold a feed log against the budget.

        `content` is the sugar or protein over mass by food, a number or of shape (draws, 1);
        `scale_mg` the standard deviation of one weighing.
        """
        usual = {food: float(np.median(share)) for food, share in content.items()}
        portions = portions_of(log, usual, scale_mg)
        needed = _needed(portions, past, _strength(log, content, usual))
        portions["needed_mg"] = np.median(needed, axis=0)
        _check(portions, needed, past)
        intakes = {}
        for need, own in portions[portions["kind"] != ""].groupby("need"):
            intakes[str(need)] = learn_intake(
                str(need),
                needed[:, own.index],
                own["eaten_mg"].to_numpy(),
                own["error_mg"].to_numpy(),
                own["drying"].to_numpy(),
                (own["kind"] == "at least").to_numpy(),
                rng,
            )
        short = _short(portions, needed, rng)
        shown = ["need", "date", "days", "offered_mg", "eaten_mg", "needed_mg", "kind", "reason"]
        return cls(log, portions[shown], intakes, short)

    def multiplier(self, need: str) -> Floats | float:
        """What the plan's amounts of a need are multiplied with."""
        return self.intakes[need].multiplier if need in self.intakes else 1.0

    def findings(self) -> list[str]:
        """What was learned of each need, and what is amiss, in sentences."""
        found = []
        for need, food in (("sugar", "sugar"), ("protein", "prey")):
            own = self.portions[self.portions["need"] == need]
            if need in self.intakes:
                intake = self.intakes[need]
                low, high = intake.interval()
                found.append(
                    f"{food}: this colony takes {intake.factor:.2f} times ({low:.2f} to "
                    f"{high:.2f}) what was reckoned, from {intake.portions} of "
                    f"{counted(len(own), 'meal')}; they removed {intake.learned:.0%} of what was "
                    "uncertain"
                )
            elif len(own):
                why = own["reason"].value_counts().index[0]
                found.append(
                    f"{food}: nothing could be learned from {counted(len(own), 'meal')}, mostly "
                    f"because: {why}"
                )
        for record in self.short.to_dict("records"):
            line = {str(column): value for column, value in record.items()}
            remedy = GONE if line["eaten_up"] > 0.5 else LEFT
            found.append(
                "{start:%Y-%m-%d} to {end:%Y-%m-%d}: the prey eaten held no more than "
                "{most_mg:.1f} mg of protein, and the growth that the counts imply takes "
                "{needed_mg:.1f} ({needed_q05:.1f} to {needed_q95:.1f}). ".format(**line)
                + remedy
            )
        return [*found, *self.log.findings]


def _strength(
    log: FeedLog, content: Mapping[str, Floats | float], usual: Mapping[str, float]
) -> dict[str, Floats]:
    """How far each draw takes what was offered for stronger than usual, by need, (draws, 1)."""
    strengths = {}
    for need, portions in log.frame.groupby("need"):
        offered = portions.groupby("food")["offered_mg"].sum()
        held = sum(mass * np.asarray(content[str(food)]) for food, mass in offered.items())
        usually = sum(mass * usual[str(food)] for food, mass in offered.items())
        strengths[str(need)] = np.asarray(held / usually)
    return strengths


def _needed(portions: pd.DataFrame, past: PastNeeds, strength: Mapping[str, Floats]) -> Floats:
    """What the budget says of the days of each meal, in milligrams of food of usual strength.

    Shape (draws, meals); 0 for a meal of no known days, or not within those of the budget.
    """
    draws, days = past.needed["sugar"].shape
    needed = np.zeros((draws, len(portions)))
    for place, (need, first, last) in enumerate(_spans(portions, past)):
        if 0 <= first < last <= days:
            held = past.needed[need][:, first:last].sum(axis=1)
            needed[:, place] = held / np.asarray(strength[need]).ravel()
    return needed


def _spans(portions: pd.DataFrame, past: PastNeeds) -> list[tuple[str, int, int]]:
    """Need, first day and day after the last of each meal, from the first day of the budget on."""
    first = ((portions["date"] - past.first_day) / pd.Timedelta("1D")).astype(int)
    return list(zip(portions["need"], first, first + portions["days"], strict=True))


def _check(portions: pd.DataFrame, needed: Floats, past: PastNeeds) -> None:
    """Say of each meal what it tells, and why it tells nothing."""
    kinds, reasons = [], []
    for place, (_, first, last) in enumerate(_spans(portions, past)):
        portion = portions.loc[place]
        reason = portion["reason"]
        if not 0 <= first <= last <= len(past.quiet):
            reason = reason or OUTSIDE
        elif (past.quiet[first:last] != "").any():
            reason = reason or QUIET_DAYS
        elif not needed[:, place].all() or portion["needed_mg"] < portion["error_mg"]:
            reason = reason or NOT_NEEDED
        elif portion["eaten_up"] and portion["eaten_mg"] < DETECTED * portion["error_mg"]:
            reason = reason or TOO_LITTLE
        kinds.append("" if reason else "at least" if portion["eaten_up"] else "measured")
        reasons.append(reason)
    portions["kind"] = pd.Series(kinds, portions.index, dtype="str")
    portions["reason"] = pd.Series(reasons, portions.index, dtype="str")


def _short(portions: pd.DataFrame, needed: Floats, rng: np.random.Generator) -> pd.DataFrame:
    """Stretches whose prey brought less than growth took."""
    # Without a control what was eaten is not known, but it is no more than what is gone; and
    # meals too small to tell alone add up.
    known = (portions["kind"] != "") | portions["reason"].isin([NO_CONTROL, NOT_NEEDED, TOO_LITTLE])
    known &= (portions["need"] == "protein") & portions["days"].between(1, LONGEST_DAYS)
    own = portions[known & pd.Series(needed.all(axis=0), portions.index)]
    rows = []
    since = (own["date"] - own["date"].min()).dt.days // STRETCH_DAYS
    for _, stretch in own.groupby(since):
        if stretch["days"].sum() < LEAST_DAYS:
            continue
        took = needed[:, stretch.index].sum(axis=1)
        most = float(stretch["most_mg"].sum())
        error = float(np.sqrt((stretch["error_mg"] ** 2).sum()))
        brought = most + error * rng.standard_normal(len(took))
        chance = float((brought < took).mean())
        if chance >= SHORT_CHANCE:
            last = stretch["date"].iloc[-1] + pd.Timedelta(days=int(stretch["days"].iloc[-1]) - 1)
            low, middle, high = np.quantile(took, [0.05, 0.5, 0.95])
            up = float(stretch["eaten_up"].mean())
            rows.append((stretch["date"].iloc[0], last, len(stretch), up, most,
                         middle, low, high, chance))  # fmt: skip
    return pd.DataFrame(rows, columns=SHORT)
