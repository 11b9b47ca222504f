"""The posterior of a fit by a general-purpose sampler, from the same moments and likelihood.

The fit takes the posterior as normal, with the counts' covariance and the counting error as at its
best point. Here nothing is frozen: for every place the walkers try, growth, the covariance of the
counts by chance and the counting error are worked out anew, and the scale of the counting error is
sampled along with the parameters.
"""

from __future__ import annotations

import emcee
import numpy as np

import antgrowth as ag
from antgrowth.inference.laplace import ERROR_SPREAD, Linearisation
from antgrowth.inference.likelihood import log_probability


def log_posterior(fit: ag.Fit, places: np.ndarray) -> np.ndarray:
    """Log density of parameters, whitened, and of the log of the counting error's scale.

    Parameters
    ----------
    fit : Fit
        Its notes; of what it found, only the normal stand-ins of bounded cells.
    places : array, shape (walkers, parameters + 1)

    Returns
    -------
    array, shape (walkers,)
        Up to a constant.
    """
    model = fit.model
    x, log_scale = places[:, :-1], places[:, -1]
    growth = model.grow(x)
    expected = model.expect(x, growth)
    density = -0.5 * (x**2).sum(axis=1) - 0.5 * (log_scale / ERROR_SPREAD) ** 2
    for k, mean in enumerate(expected):
        here = Linearisation(
            x[k], mean, np.zeros((len(mean), len(x[k]))), growth.take(slice(k, k + 1))
        )
        error = model.error(here, float(np.exp(log_scale[k])))
        density[k] += log_probability(
            model.observations, mean, model.moments(here).cells + np.diag(error)
        )
    return density


def chain(
    fit: ag.Fit, walkers: int, burn_in: int, steps: int, seed: int, progress: bool = False
) -> np.ndarray:
    """Sample the posterior of a fit, shape (steps, walkers, parameters + 1).

    Walkers begin scattered half again as wide as the fit's own posterior.
    """
    rng = np.random.default_rng(seed)
    best = fit.estimate
    x = best.x + 1.5 * (best.draw(walkers, rng) - best.x)
    log_scale = np.log(best.error_scale) + best.error_spread * rng.standard_normal(walkers)
    sampler = emcee.EnsembleSampler(
        walkers,
        len(best.x) + 1,
        lambda places: log_posterior(fit, places),
        moves=[(emcee.moves.DEMove(), 0.7), (emcee.moves.StretchMove(), 0.3)],
        vectorize=True,
    )
    sampler.random_state = np.random.RandomState(seed).get_state()
    start = np.column_stack([x, log_scale])
    sampler.run_mcmc(start, burn_in + steps, progress=progress)
    return sampler.get_chain(discard=burn_in)
