"""Was brood lost that nobody noted? A scan of the log for sudden losses.

On every second day of the log, the notes are weighed under two readings: nothing happened, or a
part of the brood, larger or smaller, was lost that day (eaten, spilled, moulded, chilled).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import linalg

from antgrowth._core.arrays import Floats
from antgrowth.inference.laplace import Estimate, Model, estimate
from antgrowth.inference.likelihood import log_probability

CHANCE_OF_LOSS = 0.1
"""Prior chance that a log holds an unnoted loss (assumed)."""

USUAL_SHARE, SHARE_SPREAD = 0.5, 0.25
"""Share of the brood lost: prior mean and standard deviation (assumed)."""

WORTH_A_THOUGHT = 0.05
"""From this probability on, a loss takes part in the forecast with its own fit."""

EVERY_DAYS = 2
"""Spacing of the days tried. [day]"""

NEAR_DAYS, SHARES = (-4, -2, 0, 2, 4), (0.35, 0.5, 0.65, 0.8, 0.9)
"""Days around the most telling one, and shares of the brood, that are weighed with all that a loss
entails: eggs that no larva eats any more, places that become free."""


@dataclass(frozen=True)
class Loss:
    """The most telling day of an unnoted loss of brood."""

    day: int  # day of the loss, in days from day zero
    share: float  # most probable share of the brood lost, if any was
    probability: float  # of any such loss within the log


@dataclass(frozen=True, eq=False, repr=False)
class MixtureComponent:
    """One reading of the log: with or without an unnoted loss of brood."""

    probability: float
    loss: Loss | None  # the loss it believes in
    model: Model
    estimate: Estimate

    def __repr__(self) -> str:
        return f"MixtureComponent({self.probability:.3f}, {self.loss})"


def components(model: Model, start: Floats | None = None) -> list[MixtureComponent]:
    """Fit a colony's log, also with an unnoted loss where one is worth a thought.

    The most probable first; probabilities add up to 1. The search begins at `start` (whitened).
    """
    best = estimate(model, start)
    strayed = model.along(best.course)
    loss = scan(strayed, best)
    if loss is None or loss.probability < WORTH_A_THOUGHT:
        return [MixtureComponent(1.0, None, strayed, best)]
    loss = _refined(strayed, best, loss)
    changed = with_loss(model, loss)
    after = estimate(changed, best.x)
    both = [
        MixtureComponent(1.0 - loss.probability, None, strayed, best),
        MixtureComponent(loss.probability, loss, changed.along(after.course), after),
    ]
    return sorted(both, key=lambda component: -component.probability)


def allocate(components: Sequence[MixtureComponent], draws: int) -> list[int]:
    """Draws for each component, by their probability; the first has what is over."""
    others = [round(component.probability * draws) for component in components[1:]]
    return [draws - sum(others), *others]


def scan(model: Model, best: Estimate) -> Loss | None:
    """Weigh an unnoted loss of brood on each day of a log; None where it is too short to tell.

    With prediction errors r of covariance K before the notes are seen, and the effect D_d of losing
    all brood on day d, the notes' density under a loss is ``N(r; m D_d, K + s² D_d D_d')`` for a
    share lost of mean m and standard deviation s; against ``N(r; 0, K)`` a closed form.
    """
    used = best.sites.used
    here = best.linearised
    last = int(model.cells.days[used].max(initial=0))
    with_brood = np.flatnonzero(here.growth.brood[0] >= 1.0)
    first = max(int(with_brood.min(initial=last)), 1)
    days = np.arange(first, last, EVERY_DAYS)
    if not len(days):
        return None
    predicted = best.sites.covariance(best.noise_cov + here.slopes @ here.slopes.T)
    innovation = (best.sites.value - here.at_prior)[used]
    effect = model.moments(here).losses[days - 1][:, used]
    factor = linalg.cholesky(predicted, lower=True)
    white = linalg.solve_triangular(factor, np.column_stack([innovation, effect.T]), lower=True)
    seen, lost = white[:, 0], white[:, 1:]
    length = (lost**2).sum(axis=0)
    rest = seen[:, None] - USUAL_SHARE * lost
    narrower = SHARE_SPREAD**2 / (1.0 + SHARE_SPREAD**2 * length)
    misfit = (rest**2).sum(axis=0) - narrower * (lost * rest).sum(axis=0) ** 2
    # What a loss leaves unexplained is a law that does not fit, and no reason to believe in losses.
    dispersion = np.maximum(1.0, (misfit + 10.0) / (len(seen) + 10.0))
    log_odds = 0.5 * (seen @ seen - misfit) / dispersion - 0.5 * np.log1p(SHARE_SPREAD**2 * length)
    odds = CHANCE_OF_LOSS / (1.0 - CHANCE_OF_LOSS) * np.exp(np.minimum(log_odds, 300.0)).mean()
    at = int(log_odds.argmax())
    share = USUAL_SHARE + narrower[at] * float(lost[:, at] @ rest[:, at])
    return Loss(int(days[at]), float(np.clip(share, 0.05, 0.95)), float(odds / (1.0 + odds)))


def _refined(model: Model, best: Estimate, loss: Loss) -> Loss:
    """The same loss on the near day and of the share that make the notes most probable."""
    last = int(model.cells.days.max())
    tried = [
        replace(loss, day=day, share=share)
        for day in (loss.day + near for near in NEAR_DAYS)
        for share in (*SHARES, loss.share)
        if 1 <= day < last
    ]
    all_ = model.forcing.with_losses([(some.day, some.share) for some in tried])
    expected = replace(model, forcing=all_).expect(np.tile(best.x, (len(tried), 1)))
    worth = [log_probability(model.observations, mean, best.noise_cov) for mean in expected]
    return tried[int(np.argmax(worth))]


def with_loss(model: Model, loss: Loss | None) -> Model:
    """The same model with part of the brood lost on the day of a loss, if there was any."""
    if loss is None:
        return model
    return replace(model, forcing=model.forcing.with_loss(loss.day, loss.share))
