"""The posterior of a fit against a general-purpose sampler of the same log density.

The fit takes its posterior as normal around the most probable point, and the counts' covariance as
it is there. The sampler freezes nothing (`posterior_chain`). Both take the notes in full here: that
a fit believes them less (`laplace.TEMPERING`) is no matter of this test. Its log was written by a
simulated keeper about a colony grown one ant at a time, and was chosen before the two were
compared.

Measured with 500 steps of 64 walkers (six minutes of an idle processor), in standard deviations of
the prior; errors of the chain itself 0.01 to 0.06 of medians, 0.09 of ends:

- Medians agree within 0.15 for twenty-five of the twenty-nine parameters. The brood reared alone
  lies 0.49 too high, survival of larvae 0.40, the rate of laying 0.21, the eggs a larva eats 0.16:
  the fit does not see that another place would also mean another scatter of the counts, and the
  sampler prefers places with less of it. The truth is on the sampler's side: it lies below the
  middle of the fit's posterior in six of ten simulated colonies (`study.ranks`).
- Of the ends of 90 % intervals seven of ten agree within 0.15; the farthest is 0.66 off (brood
  reared alone).
- Dates: the day of 30 workers, some 40 days ahead, comes within half a day of the sampler's (1000
  draws each, which settle it to 0.4), as do both ends of its interval of 20 days.
- In an earlier version of the law, dates of 29 colonies of the calibration study's first kind
  scored no better from the sampler's draws: their CRPS was less by 0.08 d of 4 d, give or take
  0.21. In another log, of a tail index of 0.95, ends of intervals were up to 1.1 off; the day of 30
  workers, 60 days ahead, moved by less than half a day, and the ends of its interval of 35 days by
  up to 5. That is what `adequacy.TAILS_MEAN` tells a keeper.

So the aim of 0.15 is reached by most parameters and not by all: `test_medians_and_intervals` has
the bounds that an earlier version of the law kept, and is marked as known to fail.

That the fit passes over what another place would mean to the scatter is deliberate. Steps by the
whole gradient of the density, that of the covariance included, find the sampler's place; on real
colonies they forecast no better but worse (7788 counts of the trial: CRPS 3.48 instead of 3.39 with
the profile, 3.35 instead of 3.17 with pooled ones), for a law that is not quite true then moves to
where it explains how far counts scatter rather than where they lie. And they cost ten times as
much.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import antgrowth as ag
from antgrowth.inference.initial_state import InitialState
from antgrowth.inference.laplace import Estimate, tempering_power
from statistical.posterior_chain import chain, log_posterior
from statistical.test_speed import fit as fitted, notes

AIM = 0.15
OFF = {"larva survival", "larvae seen"}
"""Parameters whose medians missed the aim under an earlier law; today's stand above."""

OFF_BY, ENDS_OFF_BY = 0.35, 0.5
BLOCKS = 8


@pytest.fixture(scope="module")
def fit() -> ag.Fit:
    return fitted(notes(75, 10))


@pytest.fixture(scope="module")
def sure(fit) -> Estimate:
    """The fit's posterior if all that the notes tell made it surer, as it does the sampler's."""
    best = fit.estimate
    doubt = np.eye(len(best.x))
    told = (np.linalg.inv(best.cov) - doubt) / tempering_power(best.dispersion)
    return replace(best, cov=np.linalg.inv(told + doubt))


@pytest.fixture(scope="module")
def sampled(fit) -> np.ndarray:
    """Whitened parameters by the sampler, shape (steps, walkers, parameters)."""
    return chain(fit, walkers=64, burn_in=150, steps=500, seed=11)[..., :-1]


def in_prior_sd(fit: ag.Fit, x: np.ndarray) -> np.ndarray:
    """Distance of each parameter from the profile's middle."""
    prior = fit.model.prior
    return x @ prior.factor.T / np.array([parameter.spread for parameter in prior.parameters])


def test_the_densities_are_the_same_at_the_best_point(fit):
    best = fit.estimate
    there = np.append(best.x, np.log(best.error_scale))
    found = log_posterior(fit, np.array([there, there]))
    scale = -0.5 * (np.log(best.error_scale) / 0.5) ** 2
    assert found == pytest.approx(best.log_density + scale, abs=0.3)
    away = np.append(best.x + 3.0, np.log(best.error_scale))
    assert log_posterior(fit, away[None])[0] < found[0] - 10


@pytest.mark.slow
@pytest.mark.xfail(strict=True, reason="four of twenty-nine parameters, see the module")
def test_medians_and_intervals(fit, sure, sampled):
    best, prior = sure, fit.model.prior
    theirs = in_prior_sd(fit, sampled)
    middle = in_prior_sd(fit, best.x)
    spreads = np.array([parameter.spread for parameter in prior.parameters])
    sd = np.sqrt(np.diag(prior.factor @ best.cov @ prior.factor.T)) / spreads
    levels = {"q05": (0.05, -1.645), "median": (0.5, 0.0), "q95": (0.95, 1.645)}
    misses, errors = {}, {}
    for name, (level, reach) in levels.items():
        blocks = [
            np.quantile(part.reshape(-1, len(prior)), level, axis=0)
            for part in np.array_split(theirs, BLOCKS)
        ]
        everything = np.quantile(theirs.reshape(-1, len(prior)), level, axis=0)
        misses[name] = middle + reach * sd - everything
        errors[name] = np.std(blocks, axis=0, ddof=1) / np.sqrt(BLOCKS)
    print("\nfit minus sampler [prior sd], error of the chain")
    for k, name in enumerate(prior.names):
        cells = (f"{level} {misses[level][k]:+.2f} ({errors[level][k]:.2f})" for level in levels)
        print(f"{name:24}", "  ".join(cells))
    off = np.array([name in OFF for name in prior.names])
    slack = {level: 3 * error for level, error in errors.items()}
    assert (np.abs(misses["median"]) <= np.where(off, OFF_BY, AIM) + slack["median"]).all()
    for end in ("q05", "q95"):
        assert (np.abs(misses[end]) <= ENDS_OFF_BY + slack[end]).all()
        assert (np.abs(misses[end]) <= AIM + slack[end]).mean() >= 0.5
    assert max(error.max() for error in errors.values()) < 0.15, "the chain is too short to tell"


@pytest.mark.slow
def test_dates(fit, sure, sampled):
    rng = np.random.default_rng(5)
    everything = sampled.reshape(-1, sampled.shape[-1])
    draws = {
        "fit": sure.draw(1000, rng),
        "sampler": everything[rng.choice(len(everything), 1000, replace=False)],
    }
    ends = {}
    for name, x in draws.items():
        standing = replace(fit)
        standing._initial_states[len(x)] = [InitialState.of(fit.model, sure, x)]
        ahead = standing.forecast(days=150, temperature=ag.constant(24.0), draws=len(x), rng=7)
        arrival = ahead.arrival(30)
        ends[name] = np.array([arrival._quantile(level) for level in (0.05, 0.5, 0.95)])
        print(f"\n30 workers, {name}: " + ", ".join(f"{days:.1f}" for days in ends[name]) + " days")
    assert np.abs(ends["fit"] - ends["sampler"]).max() <= 4.0
    assert abs(ends["fit"][1] - ends["sampler"][1]) <= 3.0
    width = {name: found[2] - found[0] for name, found in ends.items()}
    assert width["fit"] / width["sampler"] == pytest.approx(1.0, abs=0.25)
