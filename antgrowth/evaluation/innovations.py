"""How far each visit of a log strays from what all earlier visits let expect.

The notes before any fit are jointly normal, with the growth law linearised at its most probable
point: what the parameters leave open, the chance of growth, and counting. Taken in order of time,
the prediction of each look from the earlier ones follows from one factorisation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy import linalg

from antgrowth._core.stages import BROOD
from antgrowth._core.stats import REACH_90

if TYPE_CHECKING:
    from antgrowth.inference.posterior import Posterior


@dataclass(frozen=True, eq=False, repr=False)
class Innovations:
    """One-step-ahead predictions of a log, and what was noted."""

    # A row for each cell that says something: date, stage, text (as written), exact (whether it
    # gives one number), low, high (90 % range expected from the earlier visits), z
    # (standardised miss)
    cells: pd.DataFrame
    brood: pd.DataFrame  # the same for all brood noted at a look: date, text, low, high, z

    def __repr__(self) -> str:
        return f"Innovations({len(self.cells)} cells, {len(self.brood)} looks at the brood)"

    @classmethod
    def of(cls, fit: Posterior) -> Innovations:
        """Predict each visit of a fit's log from the visits before it.

        The reading without any unnoted loss is the one that a loss has to stand out against.
        """
        component = next(component for component in fit.components if component.loss is None)
        model, best = component.model, component.estimate
        frame = fit.counts.frame
        # Cells beyond the frame's are what first sightings say of the look before, and the dead.
        used = np.flatnonzero(best.sites.used)
        used = used[np.argsort(model.cells.days[used], kind="stable")]
        here = best.linearised
        predicted_cov = (best.noise_cov + here.slopes @ here.slopes.T)[np.ix_(used, used)]
        predicted_cov = predicted_cov + np.diag(1.0 / best.sites.precision[used])
        root = linalg.cholesky(predicted_cov, lower=True)
        miss = linalg.solve_triangular(root, (best.sites.value - here.at_prior)[used], lower=True)
        days = model.cells.days[used]
        cells, brood = [], []
        for day in np.unique(days):
            visit = np.flatnonzero(days == day)
            own = root[np.ix_(visit, visit)]  # of this look, given all earlier ones
            rest, cov = own @ miss[visit], own @ own.T
            noted = used[visit] < len(frame)
            rows = frame.iloc[used[visit][noted]]
            value, sd = best.sites.value[used[visit]], np.sqrt(np.diag(cov))
            cells += [
                _row(date, value[k], rest[k], sd[k])
                | {"stage": stage, "text": text, "exact": bool(np.isinf(best.sites.precision[c]))}
                for k, c, date, stage, text in zip(
                    np.flatnonzero(noted), used[visit][noted], rows["date"], rows["stage"],
                    rows["text"], strict=True,
                )
            ]  # fmt: skip
            of_brood = noted.copy()
            of_brood[noted] = rows["stage"].isin([*BROOD, "brood"]).to_numpy()
            if of_brood.any():
                every = of_brood.astype(float)
                texts = rows[of_brood[noted]]
                pairs = zip(texts["text"], texts["stage"], strict=True)
                text = ", ".join(f"{number} {stage}" for number, stage in pairs)
                spread = float(np.sqrt(every @ cov @ every))
                row = _row(rows["date"].iloc[0], float(every @ value), float(every @ rest), spread)
                brood.append(row | {"text": text})
        columns = ["date", "stage", "text", "exact", "low", "high", "z"]
        return cls(
            pd.DataFrame(cells, columns=columns),
            pd.DataFrame(brood, columns=[c for c in columns if c not in ("stage", "exact")]),
        )


def _row(date: pd.Timestamp, value: float, miss: float, sd: float) -> dict[str, object]:
    centre = value - miss
    low, high = max(centre - REACH_90 * sd, 0.0), max(centre + REACH_90 * sd, 0.0)
    return {"date": date, "low": low, "high": high, "z": miss / sd}
