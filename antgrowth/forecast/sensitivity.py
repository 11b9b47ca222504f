"""What a date hangs on: shares of its variance by parameter, and what to measure next."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.arguments import ANTS, RNG, takes
from antgrowth._core.arrays import Floats
from antgrowth._core.pictures import picture
from antgrowth._core.random import seeded
from antgrowth._core.stages import STAGES
from antgrowth._core.summary import Report, Shown, in_words
from antgrowth._core.text import counted
from antgrowth.errors import AntgrowthError
from antgrowth.forecast.arrival import Arrival
from antgrowth.forecast.paths import Forecast, forecast
from antgrowth.inference.posterior import Posterior

if TYPE_CHECKING:
    from matplotlib.axes import Axes

HORIZON = 365
"""Days that a forecast looks ahead, where only a fit is given. [day]"""

FEWEST_DRAWS = 300
"""With fewer colonies, shares are mostly chance."""

RESAMPLES = 200
"""Times that the colonies are drawn anew to tell how certain a share is."""

MENTIONED = 0.05
"""A smaller share of the variance is not worth a keeper's evening."""


@dataclass(frozen=True, eq=False, repr=False)
class Sensitivity(Shown):
    """What the date of a number of workers hangs on; made by `sensitivity`.

    Attributes
    ----------
    arrival : Arrival
        The dates that are explained.
    names, units, measures : tuple of str
        Of what the date may hang on, and how a keeper learns it.
    shares : array, shape (names,)
        Share of the variance of the ranked dates that goes with each.
    resampled : array, shape (resamples, names)
        The same with the colonies drawn anew: how certain the shares are.
    later_days : array, shape (names,)
        By how much later the middle date comes in the third of the colonies where it is greatest
        than in the third where it is least; infinite where most of these never arrive. [day]
    name : str
        Of the colony.
    """

    arrival: Arrival
    names: tuple[str, ...]
    units: tuple[str, ...]
    measures: tuple[str, ...]
    shares: Floats = field(repr=False)
    resampled: Floats = field(repr=False)
    later_days: Floats = field(repr=False)
    name: str = ""

    @property
    def r2(self) -> float:
        """Share of the variance that all of them explain; the rest is chance and interplay."""
        return float(self.shares.sum())

    def frame(self) -> pd.DataFrame:
        """Return the shares, the largest first.

        Returns
        -------
        DataFrame
            Columns parameter, unit, share, q05, q95, later_days [day], measure.
        """
        low, high = np.quantile(self.resampled, [0.05, 0.95], axis=0)
        table = pd.DataFrame(
            {
                "parameter": self.names,
                "unit": self.units,
                "share": self.shares,
                "q05": low,
                "q95": high,
                "later_days": self.later_days,
                "measure": self.measures,
            }
        )
        return table.sort_values("share", ascending=False, ignore_index=True)

    @in_words
    def sentence(self) -> str:
        """What to measure, in one sentence."""
        top = self.frame().head(3)
        top = top[top["share"] >= MENTIONED]
        what = f"The date of {counted(self.arrival.workers, 'worker')}"
        if not len(top):
            return f"{what} hangs on nothing that you could measure: chance decides it"
        named = zip(top["parameter"], top["share"], strict=True)
        parts = [f"{name} ({100 * share:.0f} %)" for name, share in named]
        hangs = parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
        advice = "; ".join(dict.fromkeys(top["measure"]))
        return f"{what} hangs most on {hangs}. To know it better: {advice}"

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the shares as bars; what is drawn is in `frame`."""
        return picture("forecast", "plot_sensitivity", self, ax=ax)

    def _report(self) -> Report:
        frame = self.frame()
        shown = frame[frame["share"] >= 0.01]
        rows = [
            (row["parameter"], f"{100 * row['share']:.0f} %",
             f"{100 * row['q05']:.0f} to {100 * row['q95']:.0f} %", _later(row["later_days"]),
             row["measure"])
            for row in shown.to_dict("records")
        ]  # fmt: skip
        return Report(
            title=f"Sensitivity: {self.name}",
            facts=(
                ("finding", self.sentence()),
                ("dates", self.arrival.sentence()),
                ("explained", f"{100 * self.r2:.0f} % of the variance of the ranked dates; the "
                              "rest is chance and interplay"),
            ),
            head=("hangs on", "share", "90% interval", "more of it", "what to do"),
            align="lrrll",
            rows=tuple(rows),
        )  # fmt: skip

    def __repr__(self) -> str:
        return f"Sensitivity({self.name!r}, {counted(self.arrival.workers, 'worker')})"


@takes(workers=ANTS, rng=RNG)
def sensitivity(
    of: Posterior | Forecast, workers: int = 30, *, rng: int | np.random.Generator | None = None
) -> Sensitivity:
    """Tell what the date of a number of workers hangs on.

    Parameters
    ----------
    of : Posterior or Forecast
        Of a fit, a year ahead is looked at; of a forecast its own days.
    workers : int
        The number waited for; more than there are.
    rng : int, Generator or None
        Seed or source of chance of the forecast of a fit, and of drawing the colonies anew.

    Returns
    -------
    Sensitivity

    Raises
    ------
    AntgrowthError
        If there are so many workers already, if half of the colonies do not arrive within the days
        looked ahead, or if there are fewer than 300 colonies.

    Notes
    -----
    Every simulated colony has a posterior draw of the parameters, some ants in the nest today, and
    a date. Dates and predictors are replaced by their ranks, colonies that never arrive last, and
    the ranked dates are regressed on the standardised ranks. What hangs together in the posterior
    shares its part: the share of a predictor is its squared CAR score, an element of
    ``(P^-1/2 r)^2`` with the correlations P among predictors and r with the date. The squares sum
    to R². From each is taken what chance alone would show, ``(1 - R²) / n``.

    References
    ----------
    Zuber V, Strimmer K (2011) High-dimensional regression and variable selection using CAR scores.
    Statistical Applications in Genetics and Molecular Biology 10:34, doi:10.2202/1544-6115.1730
    (from memory).

    Examples
    --------
    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> notes = pd.DataFrame({"date": ["2026-07-20"], "eggs": [9]})
    >>> fit = ag.fit(notes, ag.constant(25), "lasius-niger", queen_since="2026-07-04", rng=1)
    >>> found = ag.sensitivity(fit, workers=30, rng=1)
    >>> 0.5 < found.r2 < 1.0
    True
    """
    seed, source = seeded(rng)
    if isinstance(of, Posterior):
        ahead = forecast(of, days=HORIZON, rng=seed)
    elif isinstance(of, Forecast):
        ahead = of
    else:
        raise AntgrowthError(
            f"sensitivity: the first argument is a {type(of).__name__}. Give a fit or a forecast."
        )
    arrival = ahead.arrival(workers)
    _check(ahead, arrival)
    waited = (arrival.dates - np.datetime64(arrival.start, "D")).astype(float)
    waited = np.where(np.isnat(arrival.dates), np.inf, waited)
    names, units, measures, columns = _predictors(ahead)
    x = _standard(np.stack([_ranks(column) for column in columns], axis=1))
    y = _standard(_ranks(waited)[:, None])[:, 0]
    return Sensitivity(
        arrival=arrival,
        names=names,
        units=units,
        measures=measures,
        shares=_shares(x, y),
        resampled=np.array([
            _shares(x[again], y[again])
            for again in source.integers(len(y), size=(RESAMPLES, len(y)))
        ]),
        later_days=np.array([_later_days(rank, waited) for rank in x.T]),
        name=ahead.fit.counts.name,
    )  # fmt: skip


def _check(ahead: Forecast, arrival: Arrival) -> None:
    if ahead.draws < FEWEST_DRAWS:
        raise AntgrowthError(
            f"sensitivity: {ahead.draws} simulated colonies. At least {FEWEST_DRAWS} are needed to "
            "tell parameters apart: forecast with draws=1000."
        )
    there = arrival.dates <= np.datetime64(arrival.start, "D")
    if there.mean() > 0.5:
        raise AntgrowthError(
            f"sensitivity: {arrival.workers} workers are there already by {arrival.start:%Y-%m-%d}."
            " Ask for more."
        )
    if arrival.chance_never > 0.5:
        raise AntgrowthError(
            f"sensitivity: most colonies do not hold {arrival.workers} workers within "
            f"{arrival.horizon} days. Ask for fewer, or forecast further: "
            f"fit.forecast(days={2 * arrival.horizon})."
        )


def _predictors(
    ahead: Forecast,
) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...], list[Floats]]:
    """Names, units, what to measure, and values of all that differs among the colonies."""
    rows: list[tuple[str, str, str, Floats]] = []
    for parameter in ahead.fit.model.prior.parameters:
        fitted = parameter.fitted
        if fitted.field:
            values = getattr(ahead.laws, fitted.field)
            values = values if fitted.column is None else values[:, fitted.column]
            rows.append((fitted.name, parameter.unit, fitted.measure, values))
    for stage, standing in zip(STAGES, ahead.paths[:, 0].T, strict=True):
        measure = f"count the {stage} again, with care"
        rows.append((f"{stage} in the nest now", "ants", measure, standing.astype(float)))
    differing = [row for row in rows if np.ptp(row[3]) > 0]
    names, units, measures, columns = zip(*differing, strict=True)
    return names, units, measures, list(columns)


def _ranks(values: Floats) -> Floats:
    """Ranks, those of equal values shared."""
    _, place, number = np.unique(values, return_inverse=True, return_counts=True)
    return (np.cumsum(number) - (number - 1) / 2.0)[place]


def _standard(columns: Floats) -> Floats:
    found: Floats = (columns - columns.mean(axis=0)) / columns.std(axis=0)
    return found


def _shares(x: Floats, y: Floats) -> Floats:
    """Squared CAR scores of standardised columns, less what chance alone would show."""
    n = len(y)
    together = np.asarray(np.corrcoef(np.column_stack([x, y]), rowvar=False))
    size, axes = np.linalg.eigh(together[:-1, :-1])
    root = axes / np.sqrt(np.maximum(size, 1e-9)) @ axes.T
    squares = (root @ together[:-1, -1]) ** 2
    found: Floats = np.maximum(squares - (1 - squares.sum()) / n, 0.0)
    return found


def _later_days(rank: Floats, waited: Floats) -> float:
    """Middle date of the upper third over that of the lower third."""
    low, high = np.quantile(rank, [1 / 3, 2 / 3])
    early, late = (np.quantile(waited[some], 0.5, method="lower")
                   for some in (rank <= low, rank >= high))  # fmt: skip
    if not (np.isfinite(early) and np.isfinite(late)):
        return float(np.sign(late - early) * np.inf) if early != late else 0.0
    return float(late - early)


def _later(days: float) -> str:
    if not np.isfinite(days):
        return "much later" if days > 0 else "much earlier"
    if abs(days) < 0.5:
        return "no other date"
    return f"{counted(round(abs(days)), 'day')} {'later' if days > 0 else 'earlier'}"
