"""Fit one kind of rate curve to a table, and draw its parameters as uncertain as they are."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice

import numpy as np

from antgrowth._core.arrays import Flags, Floats
from antgrowth._core.deprecation import Former
from antgrowth.io.rate_tables import RateTable
from antgrowth.model.development_rates import RateCurve
from antgrowth.species.rate_models import Kind

_DRAWS = 1000
_FEWEST_DRAWS = 100  # with fewer that make a curve, nothing is said of its uncertainty
_AT_BOUND = 0.005  # of the range between the bounds
_ROUNDING = 1e-9  # of the fastest rate: a curve that comes closer goes through the point


@dataclass(frozen=True, eq=False)
class FittedCurve:
    """One kind of curve, fitted."""

    name: str  # "degree-day", "briere" or "sharpe-schoolfield"
    curve: RateCurve
    # The note says which of them the table does not show.
    parameters: tuple[tuple[str, str, float, str], ...]
    # Parameters as uncertain as they are; no rows if that cannot be told,
    # shape (draws, parameters)
    draws: Floats
    # Standard deviation of the rates about the curve; of a rate of middling weight if the table
    # has sd [1/day]
    residual_sd: float
    aicc: float  # Akaike's criterion, corrected for few points; infinite with too few for it

    scatter = Former("residual_sd")


def fit_kind(kind: Kind, table: RateTable, rng: np.random.Generator) -> FittedCurve:
    """Fit one kind of curve by weighted least squares on rates."""
    from scipy.optimize import least_squares  # slow to load, and seldom needed

    root = np.sqrt(table.weights)
    t, rate = table.temperature_c, table.rate_per_day
    bounds = tuple(np.array(bound) for bound in kind.bounds(table))

    def misses(coordinates: Floats) -> Floats:
        curve = kind.build(kind.to_parameters(coordinates))
        missed: Floats = root * (curve(t) - rate) / rate.max()
        return missed

    inside = 1e-6 * (bounds[1] - bounds[0])
    found = min(
        (
            least_squares(misses, np.clip(start, bounds[0] + inside, bounds[1] - inside),
                          bounds=bounds, x_scale="jac", ftol=1e-12, xtol=1e-12, gtol=1e-12)
            for start in kind.starts(table)
        ),
        key=lambda result: result.cost,
    )  # fmt: skip
    n, p = len(rate), found.x.size
    squares = max(2 * found.cost, n * _ROUNDING**2)
    near = np.minimum(found.x - bounds[0], bounds[1] - found.x)
    held = near < _AT_BOUND * (bounds[1] - bounds[0])
    values = kind.to_parameters(found.x)
    notes = ["at its bound: the table does not show it" if bound else "" for bound in held]
    return FittedCurve(
        name=kind.name,
        curve=kind.build(values),
        parameters=tuple(
            (name, unit, float(value), note)
            for (name, unit), value, note in zip(kind.parameters, values, notes, strict=True)
        ),
        draws=_draws(kind, found.x, found.jac, held, squares / (n - p), n - p, rng),
        residual_sd=float(np.sqrt(squares / (n - p)) * rate.max()),
        aicc=_aicc(squares, n, p + 1),
    )


def _draws(
    kind: Kind,
    centre: Floats,
    jacobian: Floats,
    held: Flags,
    variance: float,
    freedom: int,
    rng: np.random.Generator,
) -> Floats:
    """Draw parameters from Student's t around the best point; those that make no curve are left."""
    free = np.flatnonzero(~held)
    none = np.empty((0, centre.size))
    size = np.linalg.norm(jacobian[:, free], axis=0)
    if not free.size or not size.all():
        return none
    _, singular, axes = np.linalg.svd(jacobian[:, free] / size, full_matrices=False)
    if singular[-1] < 1e-7 * singular[0]:  # a direction in which the table says nothing
        return none
    tries = 4 * _DRAWS
    normal = rng.standard_normal((tries, free.size)) / singular @ axes / size
    coordinates = np.tile(centre, (tries, 1))
    wide = np.sqrt(variance * freedom / rng.chisquare(freedom, tries))
    coordinates[:, free] += normal * wide[:, None]
    with np.errstate(over="ignore"):
        candidates = kind.to_parameters(coordinates)
    candidates = candidates[np.isfinite(candidates).all(axis=1)]
    draws = list(islice((draw for draw in candidates if _makes_curve(kind, draw)), _DRAWS))
    return np.array(draws) if len(draws) >= _FEWEST_DRAWS else none


def _makes_curve(kind: Kind, parameters: Floats) -> bool:
    try:
        kind.build(parameters)
    except ValueError:
        return False
    return True


def _aicc(squares: float, n: int, k: int) -> float:
    if n < k + 2:
        return np.inf
    return float(n * np.log(squares / n) + 2 * k + 2 * k * (k + 1) / (n - k - 1))
