"""Who is expected in the nest on one day, by stage and age."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from antgrowth.model.mean_field import Growth, Trace, blocks, join, trace
from antgrowth.model.parameters import Climate, Laws, pace_nodes

__all__ = ["Places", "stand"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Places:
    """Groups of like ants that make up one stage.

    Attributes
    ----------
    number : array, shape (draws, places)
        Expected ants.
    entered : array, shape (draws, places)
        When they entered the stage; may be before day 0. [day]
    first : array of bool, shape (places,)
        Whether they are, or become, first workers.
    pace : array, shape (places,)
        Pace of development.
    """

    number: Floats
    entered: Floats
    first: NDArray[np.bool_]
    pace: Floats

    @classmethod
    def side_by_side(cls, one: Places, other: Places) -> Places:
        """Places of both, for the same draws."""
        return cls(
            np.concatenate([one.number, other.number], axis=1),
            np.concatenate([one.entered, other.entered], axis=1),
            np.concatenate([one.first, other.first]),
            np.concatenate([one.pace, other.pace]),
        )

    @classmethod
    def stacked(cls, parts: list[Places]) -> Places:
        """The same places for the draws of several blocks."""
        return cls(
            np.concatenate([part.number for part in parts]),
            np.concatenate([part.entered for part in parts]),
            parts[0].first,
            parts[0].pace,
        )


def stand(laws: Laws, climate: Climate, days: int, paces: int) -> tuple[Growth, list[Places]]:
    """Expected growth, and who stands in the nest at its end.

    Parameters
    ----------
    laws : Laws
    climate : Climate
        Should go on beyond `days`, for the brood to tell when it will be done.
    days : int
    paces : int
        Number of equally likely paces.

    Returns
    -------
    growth : Growth
    stages : list of Places
        Eggs, larvae, pupae, workers.
    """
    pace = pace_nodes(laws.pace_cv, paces)
    traces = [trace(some, climate, days, pace) for some in blocks(laws, paces)]
    oldest = min(int(t.laid[2].min()) for t in traces)
    stages = []
    for stage in range(4):
        parts = []
        for t in traces:
            own = _workers(t) if stage == 3 else _brood(t, stage, oldest, pace)
            parts.append(own if t.carried is None else _with_carried(own, t, stage, days))
        stages.append(Places.stacked(parts))
    return join([t.growth for t in traces]), stages


def _brood(t: Trace, stage: int, oldest: int, pace: Floats) -> Places:
    growth, factors = t.growth, t.factors
    days = growth.births.shape[1]
    kinds = np.stack([growth.first, 1.0 - growth.first], axis=-1) * growth.births[..., None]
    born = np.arange(oldest, days)[:, None, None, None] + 0.5
    inside = born > t.laid[stage]
    if stage:
        inside &= born <= t.laid[stage - 1]
    number = factors.entered[oldest:, stage] * factors.present[-1, stage]
    number *= inside * kinds[:, oldest:].transpose(1, 0, 2)[..., None] / len(pace)
    ages, draws, _, paces = number.shape
    kind, node = np.broadcast_arrays(np.arange(2)[:, None], np.arange(paces))
    return Places(
        number=number.transpose(1, 0, 2, 3).reshape(draws, -1),
        entered=factors.entered_at[oldest:, stage].transpose(1, 0, 2, 3).reshape(draws, -1),
        first=np.tile(kind.ravel() == 0, ages),
        pace=np.tile(pace[node.ravel()], ages),
    )


def _workers(t: Trace) -> Places:
    draws, _, groups = t.workers.shape
    return Places(
        number=t.workers.reshape(draws, -1),
        entered=np.tile(t.eclosed, (draws, 2)),
        first=np.repeat([True, False], groups),
        pace=np.ones(2 * groups),
    )


def _with_carried(own: Places, t: Trace, stage: int, days: int) -> Places:
    assert t.carried is not None
    number = t.carried.alive(stage, np.array([float(days)]))[:, 0]
    places = number.shape[1]
    # Ants carried out leave fewer of those who are there, in proportion.
    there = own.number.sum(axis=1) + np.maximum(number, 0.0).sum(axis=1)
    left = 1.0 + np.minimum(number, 0.0).sum(axis=1) / np.maximum(there, 1e-9)
    both = Places.side_by_side(
        own,
        Places(
            number=np.maximum(number, 0.0),
            entered=t.carried.entered[:, stage],
            first=np.zeros(places, dtype=bool),
            pace=np.ones(places),
        ),
    )
    return Places(both.number * np.maximum(left, 0.0)[:, None], both.entered, both.first, both.pace)
