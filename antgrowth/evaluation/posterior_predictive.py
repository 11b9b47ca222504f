"""Like colonies, counted by a like keeper: what a fit would expect of the log that shaped it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.stages import STAGES, WORKERS
from antgrowth._core.stats import quantiles, stage_frame
from antgrowth.evaluation.observation_noise import observed_counts
from antgrowth.inference.initial_state import SHIFT_GRAIN_C
from antgrowth.inference.likelihood import ROUGH
from antgrowth.inference.starting_state import drawn_states
from antgrowth.model.simulation import simulate

if TYPE_CHECKING:
    from antgrowth.inference.posterior import Posterior


COLUMNS = (*STAGES, "brood")


def posterior_predictive(
    fit: Posterior, colonies: int, seed: int
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Let like colonies live through the log, and count them; at most as many as the fit has draws.

    For each day of the log and stage, what a usual count would find: columns `date`, `stage`,
    `mean`, `q05` to `q95`. And the log's cells with what was expected of each, rough ones as rough:
    columns of `CountLog.frame`, `q05` to `q95`, `held_50`, `held_90`.
    """
    rng = np.random.default_rng(seed)
    model, best = fit.model, fit.estimate
    x = model.prior.with_round_shifts(fit.draws[:colonies], SHIFT_GRAIN_C)
    states = None if model.start is None else drawn_states(model, x, rng)
    paths = simulate(model.prior.laws(x), model.forcing, rng, states=states)
    shares = model.prior.seen(x, paths[..., WORKERS].astype(float))
    scale = best.error_scale * np.exp(best.error_spread * rng.standard_normal(len(x)))
    first = fit.history.day_of(fit.history.first_day) + 1
    usual = observed_counts(paths[:, first:], shares[:, first:], scale, rng)
    dates = pd.date_range(fit.history.first_day, periods=usual.shape[1])
    daily = stage_frame(dates, usual)
    cells = fit.counts.frame.copy()
    days = ((cells["date"] - fit.history.day_zero) / pd.Timedelta("1D")).to_numpy().astype(int) + 1
    rough = np.where(cells["kind"] == "rough", ROUGH, 1.0)
    counts = observed_counts(paths[:, days], shares[:, days], scale[:, None] * rough, rng)
    column = [COLUMNS.index(stage) for stage in cells["stage"]]
    cells = cells.assign(**quantiles(counts[:, np.arange(len(cells)), column]))
    for name, low, high in (("held_50", "q25", "q75"), ("held_90", "q05", "q95")):
        cells[name] = (cells[low] <= cells["high"]) & (cells["low"] <= cells[high])
    return daily, cells
