"""Weighed portions as meals: what was eaten of a need, and how well that is known."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from antgrowth.food.feed_log import FeedLog

LONGEST_DAYS = 7
"""A portion is not taken to have fed the colony for longer: others will not be in the table. [day]
"""

EATEN_UP_SHARE = 0.05
"""Of a portion of which no more is left, or no more than the scale shows, all was eaten: the colony
may have wanted more (assumed)."""

CONTROL_MISMATCH = 0.2
"""A portion dries up as its control does but for this share of its loss (assumed standard
deviation): the air in the nest is not that beside it."""

DRIED_SHARE = 0.7
"""Once a control has lost so much of its mass, what was eaten cannot be told any more (assumed)."""

NOT_WEIGHED = "what was left was not weighed"
NO_CONTROL = "no control: how much dried up is not known"
DRIED = "the control dried out: what was eaten cannot be told from what dried up"
FAR = f"the next one is more than {LONGEST_DAYS} days away"
LAST = "the last one: how long it had to last is not known"


def portions_of(log: FeedLog, content: Mapping[str, float], scale_mg: float) -> pd.DataFrame:
    """Put the portions of a day that serve one need together, a row each, by need and date.

    `content` is the share of a food's mass that counts: sugar of sugar water, protein of prey;
    `scale_mg` the standard deviation of one weighing. Columns need; date; days until the next meal,
    0 for the last; offered_mg; eaten_mg, as much as is likeliest, NaN if not known; most_mg, as
    much as can be [all in mg of sugar or protein]; error_mg, their standard deviation by weighing;
    drying, log-sd of what was eaten for not knowing when; eaten_up; reason why it tells nothing of
    the appetite, empty if it does.

    Only the water of a portion dries up. Of O mg offered that hold a share w, L mg are left and the
    control lost C: ants that ate at once took ``w (O - L - C)``, and those that ate at the very end
    ``w (O - L O / (O - C))``, which is the most. Taken is the geometric mean, and any time in
    between as likely, on the scale of the logarithm. Without a control the most is ``w (O - L)``.
    The masses of portion and control are two weighings each.
    """
    portions = log.frame
    offered = portions["offered_mg"]
    holds = portions["food"].map(content)
    dried = portions["control_loss_mg"]
    left = offered - dried  # of the control
    thickened = offered / left.where(left > 0)
    parts = pd.DataFrame(
        {
            "need": portions["need"],
            "date": portions["date"],
            "offered_mg": holds * offered,
            "eaten_mg": holds * portions["eaten_mg"] * np.sqrt(thickened),
            "most_mg": holds * (offered - portions["left_mg"] * thickened.fillna(1.0)),
            "variance": (holds * np.hypot(2.0 * scale_mg, CONTROL_MISMATCH * dried.fillna(0.0)))
            ** 2,
            "drying": np.abs(np.log(thickened)) / np.sqrt(12.0),
            "eaten_up": portions["left_mg"] <= np.maximum(scale_mg, EATEN_UP_SHARE * offered),
            "reason": np.select(
                [portions["left_mg"].isna(), dried.isna(), dried > DRIED_SHARE * offered],
                [NOT_WEIGHED, NO_CONTROL, DRIED],
                default="",
            ),
        }
    )
    together = parts.groupby(["need", "date"])
    whole = together[["offered_mg", "eaten_mg", "most_mg", "variance"]].agg(_whole)
    whole["error_mg"] = np.sqrt(whole.pop("variance"))
    whole["drying"] = together["drying"].max()
    whole["eaten_up"] = together["eaten_up"].all()
    whole["reason"] = together["reason"].agg(_first_filled)
    whole = whole.reset_index()
    whole.insert(2, "days", -whole.groupby("need")["date"].diff(-1).dt.days.fillna(0).astype(int))
    open_ended, far = whole["days"] == 0, whole["days"] > LONGEST_DAYS
    whole.loc[open_ended & (whole["reason"] == ""), "reason"] = LAST
    whole.loc[far & (whole["reason"] == ""), "reason"] = FAR
    return whole


def _whole(portions: pd.Series) -> float:
    """Sum, which is not known unless every part is."""
    return float(portions.sum(skipna=False))


def _first_filled(texts: pd.Series) -> str:
    return next(filter(None, texts), "")
