"""Pareto-smoothed importance sampling: is the posterior as normal as the fit takes it to be?"""

from __future__ import annotations

import numpy as np
from scipy import linalg

from antgrowth._core.arrays import Floats
from antgrowth.inference.laplace import Estimate, Model, tempering_power

FEWEST = 20
"""A tail of fewer weights tells nothing."""

SPARE = 1.25
"""Draws made for each that is taken."""

ABSURD = 4.0
"""A draw is absurd whose log weight lies so far below the usual."""

WEIGHED = 400
"""Draws whose weights are worked out."""


def pareto_k(model: Model, best: Estimate, x: Floats) -> float:
    """How much heavier the true posterior's tails are than the normal one's, of whose draws x are.

    Below 0.5 the normal posterior serves well; above 0.7 single parameters may lie outside their
    intervals more often than told. A diagnostic alone: draws are not re-weighted, which made
    forecasts worse in trials. Of the `log_weights`: of a few hundred draws it is known to about
    0.2, see `tail_error`.
    """
    return pareto_k_of(log_weights(model, best, x))


def plausible_draws(model: Model, best: Estimate, number: int, rng: np.random.Generator) -> Floats:
    """Posterior draws in whitened coordinates, shape (number, parameters), none of them absurd.

    Where counts bend, the normal tail reaches to colonies that cannot have been noted so: a queen
    who begins to lay after her first eggs were seen. Such draws are passed over. Draws are not
    weighed otherwise: that made forecasts worse in trials.
    """
    x = best.draw(int(np.ceil(SPARE * number)), rng)
    weights = log_weights(model, best, x)
    absurd = weights < np.median(weights) - ABSURD
    order = np.argsort(absurd, kind="stable")  # those passed over stand in if there are too few
    return x[order[:number]]


def log_weights(model: Model, best: Estimate, x: Floats) -> Floats:
    """True over normal posterior density of draws (whitened), as logarithms, up to a constant.

    The true density is that with the counts' covariance as at the most probable point: what is
    weighed is how far the expected counts bend, which a normal posterior takes to be straight.
    """
    used = best.sites.used
    factor = linalg.cholesky(best.sites.covariance(best.noise_cov), lower=True)
    rest = (best.sites.value - model.expect(x))[:, used]
    white = linalg.solve_triangular(factor, rest.T, lower=True)
    root = linalg.cholesky(best.cov, lower=True)
    apart = x - best.x
    away = linalg.solve_triangular(root, apart.T, lower=True)
    # At the best point notes pull as hard as the profile. A fit widens its posterior on purpose, a
    # overdispersed one the more: that is no fault of the tails.
    misfit = 0.5 * (white**2).sum(axis=0) + apart @ best.x
    log_likelihood = tempering_power(best.dispersion) * misfit
    return np.asarray(0.5 * (away**2).sum(axis=0) - log_likelihood - 0.5 * (apart**2).sum(axis=1))


def effective_sample_size(log_weights: Floats) -> float:
    """How many draws of equal weight tell as much as these.

    Kish L (1965) Survey sampling. Wiley (from memory).

    Examples
    --------
    >>> import numpy as np
    >>> effective_sample_size(np.zeros(100)), effective_sample_size(np.log([1.0, 1.0, 1e-9]))
    (100.0, 2.0)
    """
    weights = np.exp(log_weights - log_weights.max())
    return round(float(weights.sum() ** 2 / (weights**2).sum()), 6)


def tail_error(index: float, draws: int) -> float:
    """Standard error of a tail index from so many draws: that of the likeliest Pareto shape.

    ``(1 + index) / sqrt(tail)``: Smith RL (1985) Maximum likelihood estimation in a class of
    nonregular cases. Biometrika 72:67-90, doi:10.1093/biomet/72.1.67 (from memory).
    """
    return float((1.0 + index) / np.sqrt(_tail_of(draws)))


def pareto_k_of(log_weights: Floats) -> float:
    """Shape of the generalised Pareto law of the largest weights; NaN of fewer than a hundred.

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
    >>> round(pareto_k_of(heavy), 1)
    0.7
    """
    number = len(log_weights)
    tail = _tail_of(number)
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
    found = float(np.log1p(-best * beyond).mean())
    return (tail * found + 5.0) / (tail + 10.0)  # drawn a little towards one half


def _tail_of(draws: int) -> int:
    """How many of the largest weights make the tail."""
    return int(min(draws / 5, 3 * np.sqrt(draws)))
