"""How far a fit can be trusted: is its normal posterior close to the true one?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

from antgrowth.inference import Estimate, Model

__all__ = ["tail_index", "tail_index_of"]

Floats = NDArray[np.float64]

FEWEST = 20
"""A tail of fewer weights tells nothing."""


def tail_index(model: Model, best: Estimate, x: Floats) -> float:
    """How much heavier the true posterior's tails are than the normal one's.

    Parameters
    ----------
    model : Model
    best : Estimate
    x : array, shape (draws, parameters)
        Posterior draws in whitened coordinates.

    Returns
    -------
    float
        Below 0.5 the normal posterior serves well; above 0.7 its intervals may be too narrow. A
        diagnostic alone: draws are not re-weighted, which made forecasts worse in trials.

    Notes
    -----
    Weights of the draws are true over normal density, with the counts' covariance as at the most
    probable point.
    """
    used = best.sites.used
    total = best.scatter[np.ix_(used, used)] + np.diag(best.sites.extra_variance)
    factor = linalg.cholesky(total, lower=True)
    rest = (best.sites.value - model.expect(x))[:, used]
    white = linalg.solve_triangular(factor, rest.T, lower=True)
    root = linalg.cholesky(best.cov, lower=True)
    away = linalg.solve_triangular(root, (x - best.x).T, lower=True)
    # A strained fit has widened its posterior on purpose: that is no fault of the tails.
    told = (white**2).sum(axis=0) / max(1.0, best.strain)
    return tail_index_of(0.5 * (away**2).sum(axis=0) - 0.5 * (told + (x**2).sum(axis=1)))


def tail_index_of(log_weights: Floats) -> float:
    """Shape of the generalised Pareto law of the largest weights.

    Parameters
    ----------
    log_weights : array, shape (draws,)

    Returns
    -------
    float
        NaN with fewer than a hundred draws.

    References
    ----------
    Zhang J, Stephens MA (2009) A new and efficient estimation method for the generalized Pareto
    distribution. Technometrics 51:316-325, doi:10.1198/tech.2009.08017. Vehtari A, Simpson D,
    Gelman A, Yao Y, Gabry J (2024) Pareto smoothed importance sampling. JMLR 25(72) (both from
    memory).

    Examples
    --------
    >>> import numpy as np
    >>> heavy = -0.7 * np.log(1 - (np.arange(2000) + 0.5) / 2000)  # a Pareto law of shape 0.7
    >>> round(tail_index_of(heavy), 1)
    0.7
    """
    number = len(log_weights)
    tail = int(min(number / 5, 3 * np.sqrt(number)))
    if tail < FEWEST:
        return float("nan")
    weights = np.sort(np.exp(log_weights - log_weights.max()))
    beyond = weights[-tail:] - weights[-tail - 1]
    if beyond[-1] <= 0:
        return 0.0
    tried = 30 + int(np.sqrt(tail))
    quartile = beyond[int(tail / 4 + 0.5) - 1]
    theta = 1 / beyond[-1] + (1 - np.sqrt(tried / (np.arange(tried) + 0.5))) / (3 * quartile)
    shape = np.log1p(-theta[:, None] * beyond).mean(axis=1)
    score = tail * (np.log(-theta / shape) - shape - 1)
    share = 1 / np.exp(score - score[:, None]).sum(axis=1)
    best = float(share @ theta / share.sum())
    return float(np.log1p(-best * beyond).mean())
