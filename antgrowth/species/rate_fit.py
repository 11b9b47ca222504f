"""Rate curves fitted to a table of development by temperature, with their uncertainty."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from antgrowth._core.arguments import LEVEL, NAME, RNG, SOURCE, celsius_list, optional, takes
from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report, Row, Shown, rounded
from antgrowth._core.text import counted, told
from antgrowth.errors import AntgrowthError
from antgrowth.io.rate_tables import RateTable, read_rate_table
from antgrowth.model.development_rates import RateCurve
from antgrowth.species.rate_models import KINDS, Kind
from antgrowth.species.rate_solver import FittedCurve, fit_kind

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_BEYOND_C = 3.0  # how far the table of a curve runs on beyond the data

_EXACT = 1e-6  # of a value: an interval narrower than this is rounding


@dataclass(frozen=True, eq=False, repr=False)
class RateCurveFit(Shown):
    """Rate curves fitted to one table; made by `fit_rate_curve`.

    Attributes
    ----------
    table : RateTable
        What was fitted.
    fitted : mapping of str to FittedCurve
        By name, the best first.
    left_out : mapping of str to str
        Kinds that were not fitted, and why.
    chosen : str
        The kind that `rate`, `band` and the rest speak of: the best, if none was chosen.
    seed : int
        Of the draws.
    """

    table: RateTable
    fitted: Mapping[str, FittedCurve]
    left_out: Mapping[str, str]
    chosen: str
    seed: int

    @property
    def best(self) -> str:
        """Name of the curve that is best supported: of the lowest AICc."""
        return next(iter(self.fitted))

    @property
    def curve(self) -> RateCurve:
        """The chosen curve, which can be called with temperatures [°C]."""
        return self.fitted[self.chosen].curve

    @takes(name=NAME)
    def choose(self, name: str) -> RateCurveFit:
        """Return the same fit with another of its curves chosen.

        Raises
        ------
        AntgrowthError
            If that curve was not fitted.
        """
        if name not in self.fitted:
            why = f" {name}: {self.left_out[name]}." if name in self.left_out else ""
            raise AntgrowthError(
                f"choose: {told(name)} was not fitted.{why} Choose one of {', '.join(self.fitted)}."
            )
        return replace(self, chosen=name)

    @takes(temperature_c=celsius_list)
    def rate(self, temperature_c: ArrayLike) -> Floats:
        """Rate of the chosen curve.

        Parameters
        ----------
        temperature_c : float or array
            [°C]

        Returns
        -------
        rate : same shape
            Share of the stage completed per day. [1/day]

        Warns
        -----
        UserWarning
            If a temperature lies outside those of the table.
        """
        self._warn(temperature_c)
        return self.curve(temperature_c)

    @takes(temperature_c=celsius_list, level=LEVEL)
    def band(self, temperature_c: ArrayLike, level: float = 0.9) -> tuple[Floats, Floats]:
        """Central interval of the curve's own uncertainty, without the scatter of single points.

        Parameters
        ----------
        temperature_c : float or array
            [°C]
        level : float
            Above 0 and below 1.

        Returns
        -------
        low, high : arrays of the same shape
            NaN if the table is too small to tell. [1/day]

        Warns
        -----
        UserWarning
            If a temperature lies outside those of the table.
        """
        self._warn(temperature_c)
        low, high = self._quantiles(temperature_c, [(1 - level) / 2, (1 + level) / 2])
        return low, high

    @takes(temperature_c=celsius_list)
    def caution(self, temperature_c: ArrayLike) -> str:
        """Say that temperatures lie outside those of the table; empty if they do not."""
        t = np.asarray(temperature_c, dtype=float)
        outside = self._outside(t)
        if not outside.any():
            return ""
        lowest, highest = self.table.range_c
        span = sorted({float(t[outside].min()), float(t[outside].max())})
        return (
            f"{self.table.name}: extrapolated at {' to '.join(f'{value:g}' for value in span)} °C, "
            f"since the table has {lowest:g} to {highest:g} °C only. There the shape of the curve "
            "decides, not what was measured."
        )

    @takes(temperature_c=optional(celsius_list))
    def frame(self, temperature_c: ArrayLike | None = None) -> pd.DataFrame:
        """Return the numbers behind the picture.

        Parameters
        ----------
        temperature_c : array, optional
            Temperatures; a fine grid from 3 °C below to 3 °C above those of the table, if not
            given. [°C]

        Returns
        -------
        DataFrame
            Columns temperature_c; rate_per_day, q05, q95 [1/day]; days (infinite where nothing
            develops); extrapolated.
        """
        if temperature_c is None:
            lowest, highest = self.table.range_c
            temperature_c = np.linspace(lowest - _BEYOND_C, highest + _BEYOND_C, 201)
        t = np.ravel(np.asarray(temperature_c, dtype=float))
        rate = self.curve(t)
        low, high = self._quantiles(t, [0.05, 0.95])
        days = np.divide(1.0, rate, out=np.full_like(rate, np.inf), where=rate > 0)
        return pd.DataFrame(
            {
                "temperature_c": t,
                "rate_per_day": rate,
                "q05": low,
                "q95": high,
                "days": days,
                "extrapolated": self._outside(t),
            }
        )

    def comparison(self) -> pd.DataFrame:
        """Return how the curves compare, the best first.

        Returns
        -------
        DataFrame
            Columns curve; parameters, how many; scatter_per_day, of the rates about the curve; aicc
            (infinite with too few points for it); behind, how much higher than the lowest; weight,
            the share of support among these curves.
        """
        curves = list(self.fitted.values())
        aicc = np.array([curve.aicc for curve in curves])
        known = np.isfinite(aicc)
        behind = np.where(known, aicc - (aicc[known].min() if known.any() else 0.0), np.inf)
        support = np.exp(-behind / 2)
        return pd.DataFrame(
            {
                "curve": [curve.name for curve in curves],
                "parameters": [len(curve.parameters) for curve in curves],
                "scatter_per_day": [curve.residual_sd for curve in curves],
                "aicc": aicc,
                "behind": behind,
                "weight": support / support.sum() if known.any() else np.nan,
            }
        )

    def summary_frame(self) -> pd.DataFrame:
        """Return the parameters of the chosen curve, and its optimum.

        Returns
        -------
        DataFrame
            Columns parameter, unit, value, q05, q95, note; not rounded.
        """
        fitted = self.fitted[self.chosen]
        rows = []
        for place, (name, unit, value, note) in enumerate(fitted.parameters):
            low, high = _interval(fitted.draws[:, place])
            rows.append((name, unit, value, low, high, note))
        optimum_c = fitted.curve.optimum_c
        if np.isfinite(optimum_c):
            kind = _kind(self.chosen)
            optima = np.array([kind.build(draw).optimum_c for draw in fitted.draws])
            rows.append(("optimum_c", "°C", optimum_c, *_interval(optima), self._optimum_note()))
        return pd.DataFrame(rows, columns=["parameter", "unit", "value", "q05", "q95", "note"])

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the chosen curve with its 90 % band, the other curves, and the table."""
        return picture("species", "plot_rate_curve", self, ax=ax)

    def _report(self) -> Report:
        return _report(self)

    def __repr__(self) -> str:
        rows = counted(len(self.table.frame), "row")
        return f"RateCurveFit({told(self.table.name)}, {self.chosen} from {rows})"

    def _outside(self, temperature_c: Floats) -> Flags:
        lowest, highest = self.table.range_c
        return (temperature_c < lowest) | (temperature_c > highest)

    def _warn(self, temperature_c: ArrayLike) -> None:
        if caution := self.caution(temperature_c):
            warnings.warn(caution, stacklevel=3)

    def _quantiles(self, temperature_c: ArrayLike, shares: list[float]) -> Floats:
        t = np.asarray(temperature_c, dtype=float)
        draws = self.fitted[self.chosen].draws
        if not len(draws):
            return np.full((len(shares), *t.shape), np.nan)
        kind = _kind(self.chosen)
        return np.quantile([kind.build(draw)(t) for draw in draws], shares, axis=0)

    def _optimum_note(self) -> str:
        return "beyond the table" if self._outside(np.array(self.curve.optimum_c)) else ""


def _report(fit: RateCurveFit) -> Report:
    """Report of fitted rate curves: the table, the chosen curve, and how the others compare."""
    table = fit.table
    lowest, highest = fit.table.range_c
    weighted = ", weighted by sd" if table.frame["sd_per_day"].notna().all() else ""
    unused = f"; columns not used: {', '.join(table.unused)}" if table.unused else ""
    facts = [
        ("data", f"{counted(len(table.frame), 'row')}, {lowest:g} to {highest:g} °C{weighted}"
         f"{unused}"),
        ("curve", f"{fit.chosen}, {_verdict(fit)}"),
    ]  # fmt: skip
    return Report(
        title=f"Rate curve: {table.name}",
        facts=tuple(facts),
        head=("parameter", "unit", "value", "90% interval", "note"),
        align="llrrl",
        rows=tuple(_row(row) for row in fit.summary_frame().to_dict("records")),
        closing=tuple(_closing(fit)),
    )


def _verdict(fit: RateCurveFit) -> str:
    if fit.chosen != fit.best:
        return f"chosen; the table supports {fit.best} more"
    compared = sum(np.isfinite(fitted.aicc) for fitted in fit.fitted.values())
    if not compared:
        return "the simplest: too few rows to compare curves"
    return "best supported" if compared > 1 else "the only one that so few rows can support"


def _closing(fit: RateCurveFit) -> list[tuple[str, str]]:
    closing = []
    for row in fit.comparison().to_dict("records"):
        if row["curve"] != fit.chosen:
            behind = row["aicc"] - fit.fitted[fit.chosen].aicc
            aicc = f"AICc {behind:+.1f}" if np.isfinite(behind) else "AICc needs more rows"
            residual_sd = f"scatter {row['scatter_per_day']:.2g} 1/day"
            closing.append((row["curve"], f"{aicc}, {residual_sd}"))
    closing += [(name, f"not fitted: {why}") for name, why in fit.left_out.items()]
    t, rate = fit.table.temperature_c, fit.table.rate_per_day
    if fit.chosen == "degree-day" and rate[t == t.max()].mean() < rate.max():
        closing.append(("care", "rates fall at the warm end, which a straight line cannot follow"))
    return closing


def _row(row: Row) -> tuple[str, ...]:
    value, low, high = row["value"], row["q05"], row["q95"]
    if high - low > _EXACT * abs(value):
        text, *ends = rounded(value, low, high)
        interval = " to ".join(ends)
    else:  # held at a bound, without scatter, or unknown
        text, interval = f"{value:.6g}", "-"
    return row["parameter"], row["unit"], text, interval, row["note"]


@takes(table=SOURCE, name=optional(NAME), rng=RNG)
def fit_rate_curve(
    table: object, *, name: str | None = None, rng: int | np.random.Generator | None = None
) -> RateCurveFit:
    """Fit rate curves to a table of development at constant temperatures.

    Parameters
    ----------
    table : path or DataFrame
        Columns temperature_c [°C]; duration_days [day] or rate_per_day [1/day]; if you like sd, the
        standard deviation of that duration or rate (of the mean, where it is one). All rows of one
        stage. It is not changed.
    name : str, optional
        What results call it; the file name if not given.
    rng : int, Generator or None
        For the draws that show the uncertainty.

    Returns
    -------
    RateCurveFit

    Raises
    ------
    LogError
        If there are rows that cannot be read (all are listed), several stages, or development at
        fewer than 3 temperatures.

    Notes
    -----
    Least squares on rates, weighted by 1/sd² if sd is given; the sd of a duration D becomes sd/D²
    of its rate. The sd weigh the rows against each other: how far the rates scatter is taken from
    the fit. A curve of p parameters is fitted with at least p + 1 rows at p + 1 temperatures:
    `DegreeDay` (2 parameters), `Briere` (3), `SharpeSchoolfield` (4). Curves are compared by
    ``AICc = n ln(S/n) + 2K + 2K(K+1)/(n-K-1)``, with the weighted sum of squares S and
    ``K = p + 1``; it needs n of K + 2. With fewer rows for each curve the simplest is taken.
    Uncertainty is that of Student's t with n - p degrees of freedom around the best point; a
    parameter that comes to lie at its bound is held there, and named.

    References
    ----------
    Hurvich CM, Tsai CL (1989) Regression and time series model selection in small samples.
    Biometrika 76:297-307, doi:10.1093/biomet/76.2.297 (from memory). For the curves see
    `model.development_rates`.

    Examples
    --------
    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> table = pd.DataFrame({"temperature_c": [18, 20, 22, 25, 28],  # invented
    ...                       "duration_days": [62, 42, 31.5, 23, 18.2]})
    >>> found = ag.fit_rate_curve(table, name="pupae", rng=1)
    >>> found.chosen, round(float(1 / found.rate(24.0)), 1)
    ('degree-day', 25.3)
    """
    rates = table if isinstance(table, RateTable) else read_rate_table(table, name)
    seed = rng if isinstance(rng, int) else int(np.random.default_rng(rng).integers(2**31))
    n, temperatures = len(rates.frame), np.unique(rates.temperature_c).size
    fitted, left_out = [], {}
    for kind in KINDS:
        needed = len(kind.parameters) + 1
        if n < needed or temperatures < needed:
            left_out[kind.name] = (
                f"needs {needed} rows at {needed} temperatures, there are {n} at {temperatures}"
            )
        else:
            fitted.append(fit_kind(kind, rates, np.random.default_rng(seed)))
    fitted.sort(key=lambda curve: curve.aicc)  # stable: the simplest first among equals
    best = {curve.name: curve for curve in fitted}
    return RateCurveFit(rates, best, left_out, fitted[0].name, seed)


def _kind(name: str) -> Kind:
    return next(kind for kind in KINDS if kind.name == name)


def _interval(values: Floats) -> tuple[float, float]:
    if not len(values):
        return np.nan, np.nan
    low, high = np.quantile(values, [0.05, 0.95])
    return float(low), float(high)
