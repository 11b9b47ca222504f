"""What the nest held on days past: against whole colonies, and against the notes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from invented_ants import swing
from invented_species import garden_ant
from simulators import one_ant
from statistical.trials import central_values

import antgrowth as ag
from antgrowth.inference.brood_loss import MixtureComponent
from antgrowth.inference.laplace import Model, estimate
from antgrowth.inference.likelihood import Observations
from antgrowth.inference.prior import Prior, forcing_of
from antgrowth.inference.smoothing import condition_on, smooth, stage_cells
from antgrowth.model.covariance import Cells

PRIOR = Prior.of(garden_ant())
LAST = 90
FORCING = forcing_of(PRIOR.species, swing(28, 20, LAST), np.zeros(LAST, bool))


def noted(*notes: tuple[int, int, float]) -> Model:
    """A colony with counts of (evening, stage, number)."""
    days, stages, number = zip(*notes, strict=True)
    number = np.array(number, float)
    cells = Cells(np.array(days), np.eye(5)[list(stages)])
    return Model(PRIOR, FORCING, Observations(cells, number, number, np.ones(len(days))))


def test_it_picks_the_pasts_that_led_to_the_count():
    """Of many colonies of one law, those that end with more workers had more pupae before.

    Grown one ant at a time by other code, without the nests' own luck: what is tested is how a
    count speaks of the past, where the law is near enough to a straight line.
    """
    end, before = 60, np.array([35, 45, 55])
    central = central_values(PRIOR.species, one_ant.TYPICAL)
    grown = one_ant.simulate(central, swing(28, 20, end), 8000, np.random.default_rng(3))
    paths = np.concatenate([np.zeros((8000, 1, 4)), grown], axis=1)
    usual = paths[:, end, 3].mean()
    number = round(usual + paths[:, end, 3].std())
    # At the prior's own centre, where the colonies are, not where the count moves the parameters;
    # and as far from what is expected there as from what these colonies have.
    x = np.zeros((1, len(PRIOR)))
    model = replace(noted((end, 3, number)), prior=replace(PRIOR, drift=np.zeros(3)))
    linearised = model.linearise(x[0])
    best = estimate(model)
    here = replace(
        best,
        x=x[0],
        linearised=linearised,
        noise_cov=model.moments(linearised).cells + np.diag(model.error(linearised, 1.0)),
        sites=replace(best.sites, value=linearised.mean + (number - usual)),
    )
    growth = model.grow(x, end)
    mean, cov = condition_on(model, here, x, growth, stage_cells(before))
    alike = paths[paths[:, end, 3] == number][:, before]
    assert len(alike) > 500
    shift = alike.mean(axis=0) - paths[:, before].mean(axis=0)
    standard_error = alike.std(axis=0) / np.sqrt(len(alike))
    found = mean[0].reshape(3, 4) - growth.counts[0, before]
    assert np.abs(found - shift).max() < 0.6 + 3 * standard_error.max()
    assert np.all(np.abs(found - shift)[:, 2:] < 0.3)  # of pupae and workers it tells the most
    sd, there = np.sqrt(np.diag(cov)).reshape(3, 4), alike.std(axis=0) > 1
    assert there.sum() >= 5
    assert sd[there] == pytest.approx(alike.std(axis=0)[there], rel=0.15)
    # And that is another past than the usual one: pupae on day 35 became the surplus of workers.
    assert shift[0, 2] > 1.5


def test_it_passes_through_the_counts_and_widens_between_them():
    model = noted((40, 1, 12), (60, 3, 9), (80, 3, 14))
    component = MixtureComponent(1.0, None, model, estimate(model))
    times = np.arange(30, 81, 5)
    held = smooth([component], times, 200, 4, np.random.default_rng(1))
    assert held.shape == (800, len(times), 4) and held.min() >= 0
    low, high = np.quantile(held, [0.05, 0.95], axis=0)
    at = {time: k for k, time in enumerate(times)}
    assert low[at[60], 3] < 9 < high[at[60], 3] and low[at[80], 3] < 14 < high[at[80], 3]
    width = (high - low)[:, 3]
    assert width[at[70]] > 1.3 * max(width[at[60]], width[at[80]])
    # A usual count strays by a tenth at most, and nothing is made of it but that.
    assert width[at[60]] < 4 < width[at[70]]


def test_the_last_evening_is_where_a_forecast_begins():
    notes = pd.DataFrame(
        {
            "date": ["2026-07-20", "2026-08-14", "2026-09-03"],
            "eggs": [9, 7, ""],
            "larvae": ["first", 8, "5-9"],
            "workers": ["", "", 4],
        }
    )
    fit = ag.fit(notes, ag.constant(25), garden_ant(), queen_since="2026-07-04", rng=1)
    frame = fit.nest_frame()
    assert list(frame.columns) == ["date", "stage", "mean", "q05", "q25", "q50", "q75", "q95"]
    assert frame["date"].min() == pd.Timestamp("2026-07-04")
    assert len(frame) == 62 * 5 and frame["date"].max() == pd.Timestamp("2026-09-03")
    levels = frame[["q05", "q25", "q50", "q75", "q95"]].to_numpy()
    assert (np.diff(levels, axis=1) >= 0).all() and (levels >= 0).all()
    last = frame[frame["date"] == frame["date"].max()].set_index("stage")
    start = fit.forecast(days=5, rng=1).frame().head(5).set_index("stage")
    for stage in ("eggs", "larvae", "pupae", "workers", "brood"):
        widths = [some["q95"][stage] - some["q05"][stage] for some in (last, start)]
        error = max(widths) / (2 * 1.645) / np.sqrt(200)  # of a mean of 200 posterior draws
        assert last["mean"][stage] == pytest.approx(start["mean"][stage], abs=1 + 3 * error), stage
        assert widths[0] == pytest.approx(widths[1], rel=0.2, abs=1.2), stage


def test_one_note_on_the_first_day():
    notes = pd.DataFrame({"date": ["2026-07-04"], "eggs": ["0"], "workers": ["0"]})
    fit = ag.fit(notes, ag.constant(25), garden_ant(), queen_since="2026-07-04", rng=1)
    frame = fit.nest_frame()
    assert len(frame) == 5 and (frame["q95"] < 1).all()
