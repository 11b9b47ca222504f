"""Diagnostics of a fit: tails of the posterior, bounds, and what like colonies would show."""

from __future__ import annotations

from dataclasses import replace

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import pytest
from invented_species import garden_ant

import antgrowth as ag
from antgrowth._core.stats import REACH_90
from antgrowth.errors import AntgrowthError
from antgrowth.evaluation.observation_noise import observed_counts
from antgrowth.evaluation.plots import plot_parameters, plot_predictive
from antgrowth.inference.adequacy import TAILS_MEAN
from antgrowth.inference.laplace import tempering_power
from antgrowth.inference.psis import (
    effective_sample_size,
    log_weights,
    pareto_k,
    pareto_k_of,
    tail_error,
)

NOTES = pd.DataFrame(  # an invented colony
    {
        "date": ["2026-07-20", "2026-08-14", "2026-09-03", "2026-09-20"],
        "eggs": ["52", "~33", "30-50", "70"],
        "larvae": ["", "12", "", "200+"],
        "pupae": ["", "first", "11", ""],
        "workers": ["0", "", "6", "15"],
    }
)


def fitted(notes: pd.DataFrame = NOTES, **options) -> ag.Fit:
    log = ag.read_counts(notes, today="2027-07-01", name="invented")
    options = {"queen_since": "2026-07-04", "rng": 3} | options
    return ag.fit(log, ag.constant(25.0), garden_ant(), **options)


def seen_of(workers: float | np.ndarray) -> float | np.ndarray:
    """Workers that a keeper of the invented ant sees, of so many: s = 0.37 of an endless crowd."""
    return workers * (0.37 + 0.63 / (1 + workers / 100))


@pytest.fixture(scope="module")
def fit() -> ag.Fit:
    return fitted()


@pytest.fixture(scope="module")
def found(fit):
    return fit.diagnostics()


@pytest.mark.parametrize("shape", [0.3, 0.7, 1.2])
def test_shape_of_a_pareto_law_is_found(shape):
    # Pareto of index 1/shape by its quantiles; its tail has exactly this shape.
    chance = (np.arange(20_000) + 0.5) / 20_000
    assert pareto_k_of(-shape * np.log1p(-chance)) == pytest.approx(shape, abs=0.06)


def test_equal_weights_have_no_tail():
    assert pareto_k_of(np.zeros(500)) == 0.0


def test_few_draws_tell_nothing():
    assert np.isnan(pareto_k_of(np.zeros(50)))


def test_weights_of_any_size_are_taken():
    draws = np.random.default_rng(1).exponential(0.5, 2000)
    assert pareto_k_of(draws + 5000) == pytest.approx(pareto_k_of(draws))


def test_a_log_that_says_little_leaves_a_normal_posterior():
    fit = fitted(pd.DataFrame({"date": ["2026-07-20"], "eggs": ["~30"]}))
    assert fit.pareto_k < 0.7
    assert (
        fit.diagnostics().effective_sample_size > 150
    )  # of 400, where a half of what the note tells counts


def test_the_error_of_an_index_is_how_much_it_varies():
    # 400 draws of Pareto weights of shape 0.5, again and again.
    rng = np.random.default_rng(7)
    found = [pareto_k_of(0.5 * rng.exponential(1.0, 400)) for _ in range(400)]
    assert tail_error(0.5, 400) == pytest.approx(np.std(found), rel=0.25)


def test_effective_sample_size_by_hand():
    # Weights 1, 2, 3: (1 + 2 + 3)^2 / (1 + 4 + 9)
    assert effective_sample_size(np.log([1.0, 2.0, 3.0]) + 700.0) == pytest.approx(36 / 14)


def test_weights_are_the_true_over_the_normal_density(fit):
    # A second, slow reckoning of both densities with full normal laws.
    from scipy.stats import multivariate_normal as normal

    model, best, x = fit.model, fit.estimate, fit.draws[:5]
    used = best.sites.used
    cov = best.noise_cov[np.ix_(used, used)] + np.diag(best.sites.extra_variance)
    power = tempering_power(best.dispersion)
    # Notes that are believed in part say how sure it is, and still pull to the same best point.
    true = [
        normal.logpdf(best.sites.value[used], mean[used], cov / power)
        + normal.logpdf(place, np.zeros(len(place)))
        + (1.0 - power) * best.x @ (place - best.x)
        for mean, place in zip(model.expect(x), x, strict=True)
    ]
    taken = normal.logpdf(x, best.x, best.cov)
    expected = np.array(true) - taken
    weights = log_weights(model, best, x)
    assert weights - weights[0] == pytest.approx(expected - expected[0], abs=1e-6)
    assert fit.pareto_k == pareto_k(model, best, fit.draws[:400])


# --- like colonies ---------------------------------------------------------------------------


def test_a_count_sees_and_errs_as_assumed():
    rng = np.random.default_rng(2)
    true = np.full((20_000, 1, 4), 50)
    shares = np.tile([0.8, 1.0, 1.0, 1.0], (20_000, 1, 1))
    counts = observed_counts(true, shares, np.ones(20_000), rng)[:, 0]
    assert counts[:, 0].mean() == pytest.approx(40, rel=0.01)
    # 5 % of care and 8 % x 50/150 of many, and rounding to whole ants
    assert counts[:, 3].std() == pytest.approx(50 * (0.05 + 0.08 / 3), rel=0.05)
    assert counts[:, 4].mean() == pytest.approx(140, rel=0.01)
    assert (observed_counts(0 * true, shares, np.ones(20_000), rng) == 0).all()


def test_tables_of_like_colonies(found, fit):
    assert list(found.daily) == ["date", "stage", "mean", "q05", "q25", "q50", "q75", "q95"]
    assert found.daily["stage"].head(5).tolist() == ["eggs", "larvae", "pupae", "workers", "brood"]
    assert found.daily["date"].min() == pd.Timestamp("2026-07-04")
    assert found.daily["date"].max() == fit.counts.end
    levels = found.daily[["q05", "q25", "q50", "q75", "q95"]].to_numpy()
    assert (np.diff(levels, axis=1) >= 0).all() and (levels >= 0).all()
    assert len(found.cells) == len(fit.counts.frame)
    at_least = found.cells[found.cells["kind"] == "at least"].iloc[0]
    assert at_least["low"] == 200 and not at_least["held_90"]  # so many larvae are not expected
    rough = found.cells[found.cells["kind"] == "rough"].iloc[0]
    usual = found.daily[(found.daily["date"] == rough["date"]) & (found.daily["stage"] == "eggs")]
    assert rough["q95"] - rough["q05"] > 1.2 * (usual["q95"] - usual["q05"]).item()


def test_expected_growth_lies_in_the_middle_of_like_counts(found, fit):
    growth = fit.growth_frame().query("source == 'colony' and stage == 'workers'")
    usual = found.daily[found.daily["stage"] == "workers"]
    seen = seen_of(growth["mean"].to_numpy())
    away = np.abs(usual["mean"].to_numpy() - seen)
    # Luck with places bends the mean a little: less than it scatters colonies.
    scatter = (usual["q95"] - usual["q05"]).to_numpy() / (2 * REACH_90)
    assert (away < 0.6 + 0.15 * scatter).all()


def test_what_was_held_is_counted_by_stage(found):
    table = found.summary_frame().set_index("stage")
    assert table.index.tolist() == ["eggs", "larvae", "pupae", "workers"]
    assert table["cells"].tolist() == [4, 2, 2, 3]
    assert table.loc["larvae", "held_90"] == 1
    assert (table["held_50"] <= table["held_90"]).all()


def test_ants_adopted_on_the_last_day_are_in_like_colonies():
    changes = pd.DataFrame({"date": ["2026-09-20"], "stage": ["workers"], "change": [40]})
    found = fitted(NOTES.assign(workers=["0", "", "6", "43"]), changes=changes).diagnostics()
    workers = found.daily[found.daily["stage"] == "workers"].set_index("date")["q50"]
    expected = seen_of(15.0 + 40.0) - seen_of(15.0)  # of a crowd, fewer are seen
    assert workers["2026-09-20"] - workers["2026-09-19"] == pytest.approx(expected, abs=8)


def test_a_colony_acquired_part_grown():
    found = fitted(NOTES.iloc[2:], queen_since=None).diagnostics()
    assert found.daily["date"].min() == pd.Timestamp("2026-09-03")
    assert found.cells["held_90"].sum() >= len(found.cells) - 1


def test_same_fit_same_diagnostics(found, fit):
    again = fit.diagnostics()
    pd.testing.assert_frame_equal(again.daily, found.daily)
    assert again.effective_sample_size == found.effective_sample_size


# --- words -----------------------------------------------------------------------------------


def test_the_report(found):
    text = found.summary()
    assert text == str(found)
    assert "draws    400 weighed, worth" in text
    assert f"index {found.pareto_k:.2f}, give or take {found.tail_error:.2f} (fine up to" in text
    assert "stage    cells  in 50%  in 90%" in text
    assert "never shows that dates hold; a backtest can" in text
    assert repr(found).startswith(f"Diagnostics('invented', {found.verdict}; 10 of 11 cells in 90%")
    assert "<td" in found._repr_html_() and "<script" not in found._repr_html_()


def test_heavy_tails_are_told_as_what_they_are(found, fit, monkeypatch):
    heavy = replace(found, pareto_k=0.9)
    assert heavy.heavy_tails and TAILS_MEAN in heavy.summary()
    assert not replace(found, pareto_k=0.3).heavy_tails
    assert "the normal posterior serves" in replace(found, pareto_k=0.3).summary()
    assert "too few draws to tell" in replace(found, pareto_k=float("nan")).summary()
    monkeypatch.setitem(vars(fit), "pareto_k", 0.9)
    told = [line for line in fit.summary().splitlines() if line.startswith("tails ")]
    assert len(told) == 1 and told[0].endswith(f" {TAILS_MEAN} (see .diagnostics())")


def test_parameters_at_bounds_are_named(found, fit):
    assert "no parameter at a bound" in found.summary()
    estimate = fit.estimate
    x = estimate.x.copy()
    k = fit.model.prior.names.index("larva survival")
    x[k] = 12.0
    pushed = replace(estimate, x=x)
    odd = replace(fit, components=[replace(fit.components[0], estimate=pushed)])
    told = replace(found, fit=odd)
    assert told.at_bounds == {"larva survival": "AT UPPER BOUND"}
    assert "bounds   larva survival: AT UPPER BOUND" in told.summary()


# --- pictures --------------------------------------------------------------------------------


def test_parameters_are_drawn_in_units_of_the_profile(found, fit):
    ax = plot_parameters(found)
    table = fit.summary_frame()
    grey, blue = (box.patches for box in ax.containers)
    assert len(grey) == len(blue) == len(table)
    for box, row in zip(blue, table.to_dict("records"), strict=True):
        assert box.get_width() == pytest.approx(2 * REACH_90 * (1 - row["learned"]))
        assert box.get_x() + box.get_width() / 2 == pytest.approx(row["moved"])
    assert {box.get_width() for box in grey} == {2 * REACH_90}
    assert [tick.get_text() for tick in ax.get_yticklabels()] == table["parameter"].tolist()
    told = (table["learned"] >= 0.5).sum()
    assert ax.get_title(loc="left").startswith(f"The notes tell most about {told} of 29 parameters")
    low, high = ax.get_xlim()
    assert all(low < box.get_x() and box.get_x() + box.get_width() < high for box in blue)
    assert found.plot_parameters(ax=plt.subplots()[1]) is not ax


def test_notes_are_drawn_on_like_counts(found):
    axes = plot_predictive(found)
    assert [panel.get_ylabel() for panel in axes] == ["eggs", "larvae", "pupae", "workers"]
    title = axes[0].figure._suptitle.get_text()
    assert title.startswith("10 of 11 notes lie in the 90% range of like colonies")
    wide = axes[3].collections[0].get_datalim(axes[3].transData)
    workers = found.daily[found.daily["stage"] == "workers"]
    assert wide.y1 == workers["q95"].max()
    missed = [line for line in axes[1].lines if line.get_label() == "outside its 90%"]
    assert [line.get_ydata().tolist() for line in missed] == [[200.0]]
    one = found.plot_predictive(stages=["eggs"], ax=plt.subplots()[1])
    assert len(one) == 1 and one[0].get_ylabel() == "eggs"


def test_stages_and_axes_that_cannot_be_drawn(found):
    with pytest.raises(AntgrowthError, match="plot_predictive: stages = .*Give one or more of"):
        found.plot_predictive(stages=["ants"])
    with pytest.raises(AntgrowthError, match="plot_predictive: 1 Axes for 4 stages"):
        found.plot_predictive(ax=plt.subplots()[1])


class TestVerdict:
    def test_a_fit_that_follows_its_notes_says_so(self):
        fit = ag.load_colony(ag.demo_colony("garden-ant-first-year")).fit(rng=1)
        told = fit.diagnostics()
        assert told.strains == () and told.verdict == "the fit follows its notes"

    def test_what_strains_is_named(self, fit, monkeypatch):
        far = fit.summary_frame().assign(note="FAR FROM THE PROFILE").head(1)
        monkeypatch.setattr(type(fit), "summary_frame", lambda _: far)
        monkeypatch.setattr(type(fit), "converged", False)
        few = replace(fit.diagnostics(), effective_sample_size=3.2)
        told = few.verdict
        assert told.startswith("take dates with care: the fit did not settle; ")
        assert f"{far['parameter'][0]} lies far from what the profile" in told
        assert "of 400 draws only 3 fit the notes" in told
