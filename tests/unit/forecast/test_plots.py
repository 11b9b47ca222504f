"""Pictures hold the data they claim to, and their titles the finding."""

from __future__ import annotations

import dataclasses
import subprocess
import sys

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import pytest
from changed_fits import with_estimate
from invented_species import garden_ant
from matplotlib import dates as mdates
from matplotlib.collections import FillBetweenPolyCollection
from scipy import stats

import antgrowth as ag
from antgrowth._core.figures import head
from antgrowth.errors import AntgrowthError
from antgrowth.forecast.arrival import Arrival
from antgrowth.forecast.plots import plot_arrival, plot_forecast
from antgrowth.inference.plots import plot_fit
from antgrowth.inference.species_rank import SpeciesRank, place_in_species

NOTES = pd.DataFrame(
    {
        "date": [f"2026-{day}" for day in ("07-12", "07-20", "08-01", "08-14", "08-25", "09-03")],
        "eggs": ["first", 50, "~45", "<40", 32, "25-40"],
        "larvae": ["", "", "first", 12, 11, ""],
        "pupae": ["", "", "", "first", 14, "8+"],
        "workers": ["", 0, "", "", "first", 4],
    }
)


def fitted(notes: pd.DataFrame | dict, name: str = "invented $A$", **how) -> ag.Fit:
    log = ag.read_counts(pd.DataFrame(notes), today="2028-01-01", name=name)
    how = {"queen_since": "2026-07-04"} | how
    return ag.fit(log, ag.constant(25.0), garden_ant(), rng=1, **how)


@pytest.fixture(scope="module")
def fit() -> ag.Fit:
    return fitted(NOTES)


@pytest.fixture(scope="module")
def late() -> ag.Fit:
    return fitted({"date": ["2026-09-30"], "eggs": [9], "workers": [8]})


def saying(fit: ag.Fit, low: float, high: float, kind: str = "exact") -> ag.Fit:
    """The same fit, had the last cell of its log been another."""
    frame = fit.counts.frame.copy()
    frame.loc[frame.index[-1], ["low", "high", "kind"]] = low, high, kind
    other = dataclasses.replace(fit, counts=dataclasses.replace(fit.counts, frame=frame))
    vars(other).update(growth=fit.growth, species_growth=fit.species_growth)  # spare the time
    return other


def rows(frame: pd.DataFrame, **where: str) -> pd.DataFrame:
    for column, value in where.items():
        frame = frame[frame[column] == value]
    return frame


@pytest.fixture(scope="module")
def forecast(fit):
    return fit.forecast(200, ag.constant(25.0), draws=400, rng=1)  # no rest in it


@pytest.fixture(scope="module")
def spring() -> ag.Forecast:
    """Colonies with a summer ahead, in which thirty workers come."""
    notes = {"date": ["2026-04-20", "2026-05-14", "2026-06-03"], "eggs": [50, 32, ""],
             "workers": [0, "", 7]}  # fmt: skip
    young = fitted(notes, queen_since="2026-04-04")
    return young.forecast(200, ag.constant(25.0), draws=400, rng=1)


def number(date) -> float:
    return mdates.date2num(pd.Timestamp(date))


def bands(ax) -> dict[str, FillBetweenPolyCollection]:
    return {
        band.get_label(): band
        for band in ax.collections
        if isinstance(band, FillBetweenPolyCollection)
    }


def edges(band) -> pd.DataFrame:
    """Lowest and highest point of a band at each date it is drawn for."""
    corners = pd.DataFrame(band.get_paths()[0].vertices, columns=["date", "value"])
    return corners.groupby("date")["value"].agg(["min", "max"])


def lines(ax, label: str) -> list:
    return [line for line in ax.lines if line.get_label() == label]


def marked(ax, label: str):
    """The container of points with error bars of that label."""
    found = [points for points in ax.containers if points.get_label() == label]
    assert len(found) == 1, label
    return found[0]


def drawn(ax) -> None:
    """Draw the whole figure: warnings are errors."""
    ax.figure.canvas.draw()


class TestGrowthFrame:
    def test_shape_and_order(self, fit):
        frame = fit.growth_frame()
        assert list(frame.columns) == [
            "date", "stage", "source", "mean", "q05", "q25", "q50", "q75", "q95",
        ]  # fmt: skip
        days = (pd.Timestamp("2026-09-03") - pd.Timestamp("2026-07-04")).days + 1
        assert len(frame) == days * 5 * 2
        assert frame["date"].min() == pd.Timestamp("2026-07-04")
        assert frame["date"].max() == pd.Timestamp("2026-09-03")
        assert list(frame["stage"][:5]) == ["eggs", "larvae", "pupae", "workers", "brood"]
        levels = frame[["q05", "q25", "q50", "q75", "q95"]].to_numpy()
        assert (np.diff(levels, axis=1) >= 0).all() and (levels >= 0).all()

    def test_values_are_those_of_the_growth_at_the_end_of_each_day(self, fit):
        frame = fit.growth_frame()
        for source, growth in (("colony", fit.growth), ("species", fit.species_growth)):
            row = rows(frame, source=source, stage="larvae", date="2026-08-14")
            larvae = growth.counts[:, 42, 1]  # 41 days after day 0, so the end of day 41
            assert row["mean"].item() == pytest.approx(larvae.mean())
            assert row["q95"].item() == pytest.approx(np.quantile(larvae, 0.95))
            brood = growth.counts[:, 42, :3].sum(axis=1)
            row = rows(frame, source=source, stage="brood", date="2026-08-14")
            assert row["q50"].item() == pytest.approx(np.median(brood))

    def test_the_species_is_the_prior_and_wider_than_the_colony(self, fit, late):
        frame = rows(fit.growth_frame(), stage="brood", date="2026-08-14")
        width = (frame["q95"] - frame["q05"]).to_numpy() / frame["q50"].to_numpy()
        # Much of what a nest shows is luck that lasts for weeks, which tells nothing of its law,
        # and notes make it surer by half of what they tell.
        assert width[1] > 1.1 * width[0]
        # The same whatever the notes say, but for how far they reach:
        one, two = (rows(f.growth_frame(), source="species") for f in (fit, late))
        both = [f[f["date"] < "2026-09-03"].reset_index(drop=True) for f in (one, two)]
        pd.testing.assert_frame_equal(*both)

    def test_an_acquired_colony_starts_with_its_first_note(self):
        notes = {"date": ["2026-03-01", "2026-03-15"], "eggs": [15, 18], "workers": [12, 15]}
        frame = fitted(notes, queen_since=None).growth_frame()
        assert frame["date"].min() == pd.Timestamp("2026-03-01")
        assert frame["date"].max() == pd.Timestamp("2026-03-15")


class TestPlotFit:
    def test_bands_are_the_table(self, fit):
        axes = fit.plot()
        assert [ax.get_ylabel() for ax in axes] == ["eggs", "larvae", "pupae", "workers"]
        nest, species = fit.nest_frame(), rows(fit.growth_frame(), source="species")
        drawn(axes[0])
        for ax in axes:
            usual, own = (some[some["stage"] == ax.get_ylabel()] for some in (species, nest))
            for some, label in (
                (usual, "usual for Formica inventa (90%)"),
                (own, "this colony, given the notes (90%)"),
            ):
                shown = edges(bands(ax)[label])
                assert shown.index.to_list() == [number(date) for date in some["date"]]
                np.testing.assert_allclose(shown["min"], some["q05"], atol=1e-9)
                np.testing.assert_allclose(shown["max"], some["q95"], atol=1e-9)
            (median,) = lines(ax, "its median")
            np.testing.assert_allclose(median.get_ydata(), own["q50"])

    def test_the_species_lies_behind_the_colony_and_the_notes_before_both(self, fit):
        ax = fit.plot()[0]
        grey, blue = bands(ax).values()
        assert grey.get_label().startswith("usual")
        point = marked(ax, "counted").lines[0]
        assert point.get_zorder() > blue.get_zorder() >= grey.get_zorder()

    def test_counts_have_their_counting_error(self, fit):
        eggs = fit.plot()[0]
        counted, rough = marked(eggs, "counted"), marked(eggs, "roughly counted")
        assert list(counted.lines[0].get_xdata()) == [
            np.datetime64("2026-07-20"), np.datetime64("2026-08-25"),
        ]  # fmt: skip
        assert list(counted.lines[0].get_ydata()) == [50, 32]
        assert list(rough.lines[0].get_ydata()) == [45]
        assert rough.lines[0].get_markerfacecolor() == "none"
        best = fit.estimate
        variance = fit.model.error(best.linearised, best.error_scale)
        frame = fit.counts.frame
        for points, text in ((counted, "50"), (rough, "~45")):
            at = frame.index[(frame["stage"] == "eggs") & (frame["text"] == text)][0]
            low, high = points.lines[2][0].get_segments()[0][:, 1]
            assert (high - low) / 2 == pytest.approx(1.645 * np.sqrt(variance[at]))

    def test_ranges_at_least_counts_and_first_sightings_look_different(self, fit):
        eggs, larvae, pupae, workers = fit.plot()
        ranges = marked(eggs, "noted as a range").lines[2][0].get_segments()
        assert [list(span[:, 1]) for span in ranges] == [[0, 39], [25, 40]]  # "<40" and "25-40"
        arrows = [line for line in pupae.lines if list(line.get_ydata()) == [8]]
        assert len(arrows) == 1
        tip = arrows[0].get_marker().vertices[:, 1]
        assert tip.min() == 0 and tip.max() == 1  # stands on the count and points up
        assert lines(pupae, "at least")
        (star,) = lines(workers, "first seen")
        assert star.get_marker() == "*" and list(star.get_ydata()) == [1]
        dotted = [line for line in workers.lines if line.get_linestyle() == ":"]
        assert [list(line.get_ydata()) for line in dotted] == [[0, 1]]
        assert list(dotted[0].get_xdata()) == [
            np.datetime64("2026-08-14"), np.datetime64("2026-08-25"),
        ]  # fmt: skip
        assert not [line for line in eggs.lines if line.get_linestyle() == ":"]  # no look before

    def test_a_count_of_none_has_no_error(self, fit):
        workers = fit.plot()[3]
        none, four = (s[:, 1] for s in marked(workers, "counted").lines[2][0].get_segments())
        assert list(none) == [0, 0]
        assert four[0] < 4 < four[1]

    def test_all_notes_are_in_view(self, fit):
        for ax in fit.plot():
            low, high = ax.get_ylim()
            frame = fit.counts.frame
            noted = frame.loc[frame["stage"] == ax.get_ylabel(), ["low", "high"]].to_numpy()
            assert low < 0 and noted[np.isfinite(noted)].max() < high

    def test_one_legend_holds_each_mark_once(self, fit):
        (legend,) = fit.plot()[0].figure.legends
        labels = [text.get_text() for text in legend.get_texts()]
        assert labels == [
            "usual for Formica inventa (90%)", "this colony, given the notes (90%)", "its median",
            "counted", "roughly counted", "noted as a range", "at least", "first seen",
        ]  # fmt: skip

    def test_title_and_subtitle(self, fit):
        figure = plot_fit(fit)[0].figure
        assert figure.get_suptitle().strip() == "On track: workers within the species' usual range"
        texts = [text.get_text() for text in figure.findobj(plt.Annotation)]
        (subtitle,) = [text for text in texts if "invented" in text]
        assert subtitle.startswith("invented $A$: 4 workers on 3 September 2026; ")
        assert subtitle.endswith(" % of Formica inventa colonies are expected to have fewer")
        drawn(figure.axes[0])  # "$A$" is not read as a formula, nor does it fail as one

    def test_names_that_are_no_formula_can_be_drawn(self):
        ax = fitted({"date": ["2026-07-20"], "eggs": [9]}, name=r"$\frac{$ 100 % \n").plot()[0]
        drawn(ax)

    def test_not_converged_is_said_first(self, fit):
        lost = with_estimate(fit, converged=False)
        assert plot_fit(lost)[0].figure.get_suptitle().startswith("NOT CONVERGED. On track")

    def test_stages_can_be_chosen(self, fit):
        assert [ax.get_ylabel() for ax in fit.plot(["workers", "brood"])] == ["workers", "brood"]
        three = fit.plot(["eggs", "larvae", "workers"])
        assert len(three) == 3 and len(three[0].figure.axes) == 3
        drawn(three[0])
        assert len(fit.plot("eggs")) == 1

    def test_brood_has_a_panel_where_it_was_counted(self):
        axes = fitted({"date": ["2026-07-20", "2026-08-20"], "brood": [10, 15]}).plot()
        assert len(axes) == 5
        assert list(marked(axes[4], "counted").lines[0].get_ydata()) == [10, 15]
        drawn(axes[0])

    @pytest.mark.parametrize("stages", [["ants"], [], ["eggs", "queens"]])
    def test_unknown_stages(self, fit, stages):
        with pytest.raises(AntgrowthError, match=r"stages = .*one or more of eggs, larvae, pupae"):
            fit.plot(stages)

    def test_given_axes_are_used(self, fit):
        figure, ax = plt.subplots()
        axes = plot_fit(fit, ["workers"], ax=ax)
        assert axes[0] is ax and plt.get_fignums() == [figure.number]
        assert ax.get_title(loc="left") == "On track: workers within the species' usual range"
        assert ax.get_legend() is not None and not figure.legends
        with pytest.raises(AntgrowthError, match=r"1 Axes for 4 stages \(eggs, .*one Axes a stage"):
            plot_fit(fit, ax=ax)


class TestPlacing:
    def test_ahead_behind_and_on_track(self, late):
        behind, ahead = (place_in_species(saying(late, n, n)) for n in (2, 150))
        assert behind.finding == "Behind: fewer workers than is usual for the species"
        assert ahead.finding == "Ahead: more workers than is usual for the species"
        assert place_in_species(late).finding.startswith("On track: workers within")
        on = " workers on 30 September 2026; "
        assert behind.evidence("Ant") == (f"2{on}99 % of Ant colonies are expected to have more")
        assert ahead.evidence("Ant").startswith(f"150{on}")
        assert ahead.evidence("Ant").endswith(" % of Ant colonies are expected to have fewer")

    def test_titles_of_the_picture(self, late):
        for number, word in ((2, "Behind"), (150, "Ahead"), (15, "On track")):
            title = plot_fit(saying(late, number, number))[0].figure.get_suptitle()
            assert title.startswith(f"{word}: ")

    def test_shares_are_those_of_a_poisson_around_each_draw(self, fit):
        place = place_in_species(fit)
        there = fit.species_growth.counts[:, -1, 3]
        workers = there * fit.model.prior.seen(fit.species_draws, there)[:, 3]  # a few overlooked
        rng = np.random.default_rng(1)
        many = rng.poisson(workers, size=(2000, len(workers)))
        assert place.fewer == pytest.approx((many < 4).mean(), abs=0.005)
        assert place.more == pytest.approx((many > 4).mean(), abs=0.005)
        exact = stats.poisson(workers)
        assert place.fewer == pytest.approx(exact.cdf(3).mean())
        assert place.more == pytest.approx(1 - exact.cdf(4).mean())

    def test_no_workers_tell_only_where_some_are_expected(self, late):
        early = fitted({"date": ["2026-07-20"], "eggs": [9], "workers": [0]})
        assert place_in_species(early).stage == "eggs"
        place = place_in_species(saying(late, 0, 0))
        assert (place.stage, place.verdict) == ("workers", "behind")

    @pytest.mark.parametrize(
        ("low", "high", "kind", "verdict"),
        [
            (0, 150, "between", "on track"),
            (140, 150, "between", "ahead"),
            (0, 2, "below", "behind"),
            (0, 15, "below", "on track"),
            (3, np.inf, "at least", "on track"),
            (150, np.inf, "at least", "ahead"),
            (1, np.inf, "first", "on track"),
        ],
    )
    def test_a_range_is_behind_or_ahead_only_as_a_whole(self, late, low, high, kind, verdict):
        assert place_in_species(saying(late, low, high, kind)).verdict == verdict

    @pytest.mark.parametrize(
        ("fewer", "more", "verdict"),
        [
            (0.951, 0.0, "ahead"),
            (0.949, 0.04, "on track"),
            (0.0, 0.951, "behind"),
            (0.0, 0.0, "on track"),
        ],
    )
    def test_limits(self, fewer, more, verdict):
        place = SpeciesRank("workers", pd.Timestamp("2026-09-03"), "4 workers", fewer, more)
        assert place.verdict == verdict


class TestPlotForecast:
    def test_fan_is_the_table(self, forecast):
        ax = forecast.plot()
        drawn(ax)
        table = forecast.frame().query("stage == 'workers'")
        for label, low, high in (
            ("90% of colonies", "q05", "q95"),
            ("50% of colonies", "q25", "q75"),
        ):
            shown = edges(bands(ax)[label])
            assert shown.index[0] == number("2026-09-03")
            np.testing.assert_allclose(shown["min"], table[low])
            np.testing.assert_allclose(shown["max"], table[high])
        (median,) = lines(ax, "median")
        np.testing.assert_allclose(median.get_ydata(), table["q50"])
        assert ax.get_ylabel() == "workers"

    def test_threshold_interval_and_notes(self, spring):
        ax = spring.plot(workers=30)
        assert [line for line in ax.lines if list(line.get_ydata()) == [30, 30]]
        assert "30 workers" in [text.get_text() for text in ax.texts]
        (shade,) = [patch for patch in ax.patches if patch.get_label() == "arrival (90%)"]
        first, last = spring.arrival(30).interval()
        assert shade.get_x() == pytest.approx(number(first))
        assert shade.get_x() + shade.get_width() == pytest.approx(number(last))
        assert shade.get_zorder() < bands(ax)["90% of colonies"].get_zorder()
        assert list(marked(ax, "counted").lines[0].get_ydata()) == [0, 7]

    def test_limits_keep_the_threshold_in_view(self, spring):
        ax = spring.plot(workers=30)
        assert 36 <= ax.get_ylim()[1] <= 90
        left, right = ax.get_xlim()
        first, last = spring.arrival(30).interval()
        assert left < number("2026-04-20") and number(last) < right < number("2026-12-20")
        ax = spring.plot(workers=None)
        top = spring.frame().query("stage == 'workers'")["q95"].max()
        assert ax.get_ylim()[1] >= top and ax.get_xlim()[1] > number("2026-12-20")
        assert spring.plot(workers=100_000).get_ylim()[1] > 100_000

    def test_titles(self, spring):
        a = spring.arrival(30)
        (first, last), middle = a.interval(), a.median
        title = spring.plot().get_title(loc="left")
        assert title.startswith("30 workers: ")
        for date in (first, last, middle):
            assert f"{date.day} {date:%B}" in title
        assert "202" not in title  # all in the year of the last note
        assert spring.plot(2).get_title(loc="left") == "2 workers: reached by 3 June"
        far = spring.plot(100_000)
        assert far.get_title(loc="left") == "100,000 workers: hardly before 20 December"
        assert not [patch for patch in far.patches if patch.get_label() == "arrival (90%)"]
        whole = spring.plot(workers=None).get_title(loc="left")
        assert " workers on 20 December 2026, most likely around " in whole

    def test_subtitle_says_of_whom_and_when_it_holds_in_one_line(self, forecast):
        ax = forecast.plot()
        texts = [text.get_text() for text in ax.texts]
        assert "invented $A$: if the queen lives and stays fertile" in texts

    def test_long_subtitles_are_broken_into_lines(self, forecast):
        ax = plot_forecast(forecast)
        head(ax, "title", "24.0 °C by day, 20.0 by night; " * 8)
        drawn(ax)
        (text,) = [text for text in ax.texts if "by night" in text.get_text()]
        assert text.get_text().count("\n") >= 1
        box = text.get_window_extent()
        assert box.x1 <= ax.figure.bbox.x1
        assert box.y1 <= ax._left_title.get_window_extent().y0 + 2  # not into the title

    def test_the_past_and_the_winter_are_drawn_as_in_the_opening_picture(self, forecast):
        ax = forecast.plot()
        (band,) = [c for c in ax.collections if c.get_label() == "probably there (90%)"]
        past = forecast.fit.nest_frame().query("stage == 'workers'")
        assert band.get_paths()[0].vertices[:, 1].max() == past["q95"].max()

    def test_a_winter_is_named(self, fit):
        ahead = fit.forecast(200, ag.constant(25).rest("2026-10-15", "2027-03-01", 9), 50, rng=1)
        assert "winter rest" in [text.get_text() for text in ahead.plot(None).texts]

    def test_given_axes_are_used(self, forecast):
        _, ax = plt.subplots()
        assert forecast.plot(ax=ax) is ax
        assert len(plt.get_fignums()) == 1


def arrival(days, horizon: int = 100) -> Arrival:
    days = np.asarray(days, float)
    dates = np.full(len(days), np.datetime64("NaT"), dtype="datetime64[D]")
    come = ~np.isnan(days)
    dates[come] = np.datetime64("2026-09-03") + days[come].astype(int)
    return Arrival(30, dates, pd.Timestamp("2026-09-03"), horizon)


class TestPlotArrival:
    def test_bars_add_up_to_those_that_come(self):
        coming = np.random.default_rng(1).integers(20, 35, 300)
        ax = plot_arrival(arrival([*coming, *[np.nan] * 100]))
        drawn(ax)
        heights = [bar.get_height() for bar in ax.patches]
        assert sum(heights) == pytest.approx(75.0)
        assert ax.get_ylabel() == "chance each day [%]"
        bar = ax.patches[0]  # centred on its day
        assert bar.get_x() == pytest.approx(number("2026-09-23") - 0.5)
        assert heights[0] == pytest.approx(100 * (coming == 20).sum() / 400)

    @pytest.mark.parametrize(("spread", "label"), [(20, "day"), (100, "week"), (400, "four weeks")])
    def test_bars_are_as_wide_as_the_spread_asks_for(self, spread, label):
        days = np.linspace(10, 10 + spread, 500)
        ax = plot_arrival(arrival(days, horizon=500))
        assert ax.get_ylabel() == f"chance each {label} [%]"
        assert sum(bar.get_height() for bar in ax.patches) == pytest.approx(100.0)

    def test_running_total_and_its_marks(self):
        some = arrival(np.arange(1, 51))
        ax = plot_arrival(some)
        total = max(ax.lines, key=lambda line: len(line.get_xdata()))
        heights = np.asarray(total.get_ydata())
        np.testing.assert_allclose(heights / heights[-1], np.arange(1, 51) / 50)
        texts = [text.get_text() for text in ax.texts]
        assert "10 % by 8 September" in texts  # 5 of 50 by day 5
        assert "50 % by 28 September" in texts
        assert "90 % by 18 October" in texts
        for share, date in ((0.1, "2026-09-08"), (0.5, "2026-09-28"), (0.9, "2026-10-18")):
            assert some.chance_by(date) == pytest.approx(share)

    def test_interval_is_marked(self):
        some = arrival(np.arange(1, 201), horizon=240)
        ax = plot_arrival(some)
        first, last = some.interval()
        ends = [list(line.get_xdata()) for line in ax.lines if len(line.get_xdata()) == 2]
        assert ends == [[number(first), number(last)]]
        assert "90% interval" in [text.get_text() for text in ax.texts]

    def test_the_chance_that_the_horizon_ends_first_is_said(self):
        ax = plot_arrival(arrival([*[50.0] * 30, *[np.nan] * 10]))
        assert ax.get_title(loc="left") == (
            "30 workers: 23 October to beyond 12 December, most likely around 23 October"
        )
        assert (
            "if the queen lives and stays fertile; 25 % chance that it comes only after "
            "12 December 2026"
        ) in [text.get_text().replace("\n", " ") for text in ax.texts]

    def test_reached_and_never(self):
        there = plot_arrival(arrival([0.0] * 40))
        drawn(there)
        assert there.get_title(loc="left") == "30 workers: reached by 3 September"
        assert "90% interval" not in [text.get_text() for text in there.texts]
        never = plot_arrival(arrival([np.nan] * 40))
        drawn(never)
        assert not never.patches
        assert "no simulated colony comes so far" in [text.get_text() for text in never.texts]
        assert never.get_title(loc="left") == "30 workers: hardly before 12 December"

    def test_texts_stay_inside_the_figure(self):
        for days in (np.arange(1, 51), [*np.arange(40, 80), *[np.nan] * 10], [3.0] * 9):
            ax = plot_arrival(arrival(days))
            drawn(ax)
            for text in ax.texts:
                box = text.get_window_extent()
                assert box.x0 >= 0 and box.x1 <= ax.figure.bbox.x1, text.get_text()

    def test_from_the_forecast(self, forecast):
        _, ax = plt.subplots()
        assert forecast.arrival(30).plot(ax=ax) is ax


def test_importing_antgrowth_does_not_load_matplotlib():
    code = (
        "import sys, antgrowth; assert 'matplotlib' not in sys.modules; "
        "antgrowth.plotting.plot_fit; assert 'matplotlib.pyplot' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
