"""Profiles from tables: what the table tells, what it does not, and the way through a file."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.errors import LogError, SpeciesError
from antgrowth.model.development_rates import Briere, DegreeDay
from antgrowth.species.parameters import SPREAD_FLOORS
from antgrowth.species.profile import list_species, load_species
from antgrowth.species.toml_writer import as_toml

TRUTH = {
    "egg": Briere.through(14, 25, 13, 36),
    "larva": Briere.through(16, 25, 12, 35),
    "pupa": Briere.through(17, 25, 11, 36),
}
"""An invented ant."""

WARMTHS = (17, 19, 21, 23, 25, 27, 29, 31, 33)


def table(error: float = 0.03, warmths: tuple[float, ...] = WARMTHS, seed: int = 4) -> pd.DataFrame:
    """Durations of the invented ant, as somebody measured them."""
    rng = np.random.default_rng(seed)
    rows = [
        (stage, t, float(1 / curve(t)) * np.exp(error * rng.standard_normal()))
        for stage, curve in TRUTH.items()
        for t in warmths
    ]
    return pd.DataFrame(rows, columns=["stage", "temperature_c", "duration_days"])


def made(found: pd.DataFrame | None = None, **options) -> ag.TableProfile:
    options = {"name": "my-ant", "scientific_name": "Lasius niger", "like": "lasius-niger",
               "rng": 1} | options  # fmt: skip
    return ag.profile_from_table(table() if found is None else found, **options)


@pytest.fixture(scope="module")
def profile() -> ag.TableProfile:
    return made()


class TestWhatTheTableTells:
    def test_durations_and_limits_come_back(self, profile):
        ant = profile.species
        for stage, truth in TRUTH.items():
            assert ant.curves[stage] == "briere"
            at = f"development.{stage}"
            assert ant.value(f"{at}.days") == pytest.approx(1 / float(truth(25)), rel=0.06)
            off = abs(ant.value(f"{at}.lower_c") - truth.lower_c)
            assert off < 3 * ant[f"{at}.lower_c"].spread
            assert ant.value(f"{at}.upper_c") == pytest.approx(truth.upper_c, abs=1.5)
            assert ant[f"{at}.upper_c"].spread == 0  # the model holds it fixed
            assert ant[f"{at}.days"].source == "own counts"
            assert ant[f"{at}.days"].status == "read"

    def test_spread_follows_the_scatter_of_the_table(self):
        spreads = [
            made(table(error)).species["development.larva.days"].spread for error in (0.1, 0.3)
        ]
        assert SPREAD_FLOORS["read"]["log"] <= spreads[0] < spreads[1]
        # A table without any scatter is still no better than a reading.
        exact = made(table(1e-4)).species["development.larva.days"].spread
        assert exact == SPREAD_FLOORS["read"]["log"]

    def test_profile_and_fitted_curve_agree_at_every_temperature(self, profile):
        for t in (18.0, 24.0, 30.0):
            days = sum(1 / float(fit.curve(t)) for fit in profile.curves.values())
            assert profile.species.egg_to_worker_days(t)[0] == pytest.approx(days)

    def test_a_table_that_only_rises_gets_a_line(self):
        ant = made(table(0.03, warmths=(18, 20, 22, 25))).species
        assert set(ant.curves.values()) == {"degree-day"}
        number = ant["development.egg.upper_c"]
        # It ends at the reference: beyond, the usual limit stays, and is only assumed.
        assert (number.value, number.status) == (35.0, "assumed")

    def test_rates_that_fall_are_followed_however_few_the_rows(self):
        ant = made(table(0.03, warmths=(18, 22, 26, 30, 34))).species
        assert set(ant.curves.values()) == {"briere"}

    def test_end_of_a_line_is_the_warmest_of_the_table(self):
        rows = table(warmths=(18, 20, 22, 25, 28))
        line = {"egg": DegreeDay.through(14, 25, 12)}
        rows["duration_days"] = [
            float(1 / line["egg"](t)) * (1 + 0.01 * (-1) ** k)
            for k, t in enumerate(rows["temperature_c"])
        ]
        ant = made(rows).species
        assert ant.curves["egg"] == "degree-day"
        number = ant["development.egg.upper_c"]
        assert (number.value, number.status) == (28.0, "assumed")
        assert "not to be trusted" in number.note

    def test_frame_and_words(self, profile):
        frame = profile.frame()
        assert len(frame) == 9 and set(frame["rows"]) == {len(WARMTHS)}
        drawn = frame["parameter"] != "upper_c"
        inside = (frame["q05"] < frame["value"]) & (frame["value"] < frame["q95"])
        assert (inside == drawn).all()
        assert (frame["q05"] == frame["q95"]).equals(~drawn)
        assert "egg 9 rows" in str(profile) and "lasius-niger" in str(profile)
        assert "<table>" in profile._repr_html_()
        assert repr(profile) == "TableProfile('my-ant', egg, larva, pupa from a table)"

    def test_plot_is_of_each_stage(self, profile):
        axes = profile.plot()
        assert len(axes) == 3
        assert len({ax.get_ylim() for ax in axes}) == 1
        points = axes[0].containers[0].lines[0].get_xydata()
        assert points[:, 0].tolist() == list(WARMTHS)


class TestWhatItDoesNot:
    def test_same_ant_keeps_its_evidence(self, profile):
        usual = load_species("lasius-niger")
        for path in ("survival.egg", "laying.delay_days", "workers.life_days"):
            assert profile.species[path] == usual[path]
        assert profile.species.milestones == usual.milestones
        assert profile.species.season == usual.season
        assert profile.species.native == usual.native

    def test_another_ant_is_only_assumed(self):
        usual = load_species("lasius-niger")
        ant = made(scientific_name="Lasius inventus").species
        assert ant.common_name == "Lasius inventus"
        for path, number in ant.numbers.items():
            if not path.startswith("development.") or path.endswith(("pace_cv", "reference_c")):
                assert number.status == "assumed", path
                assert number.value == usual.value(path)
                assert number.spread >= usual[path].spread
        assert "derived: gutierrez2020" in ant["laying.delay_days"].note
        assert ant.native.countries == ()
        assert (ant.season.kind, ant.season.spring) == (usual.season.kind, usual.season.spring)
        assert (ant.season.status, ant.season.source) == ("assumed", "assumption")
        assert ant.season.note.startswith("As for lasius-niger (derived: schlaeppi2020")
        assert "lasius-niger" in ant.cautions[0]
        assert usual.together
        assert not ant.together, "what queens of another ant do is not known of this one"
        notes = " ".join([ant.season.note, *(number.note for number in ant.numbers.values())])
        # Those of the usual milestones, and what notes say that the other ant's numbers rest on.
        assert all(key == "gutierrez2020" or key in notes for key in ant.sources)

    def test_a_missing_stage_stays_as_it_was(self):
        rows = table()
        found = made(rows[rows["stage"] != "pupa"])
        usual = load_species("lasius-niger")
        assert found.species["development.pupa.days"] == usual["development.pupa.days"]
        assert found.species["development.shared_spread"] == usual["development.shared_spread"]
        assert list(found.curves) == ["egg", "larva"]
        assert found.frame().query("stage == 'pupa'")["rows"].tolist() == [0, 0, 0]

    def test_whole_table_leaves_less_common_doubt(self, profile):
        assert profile.species.value("development.shared_spread") == 0.1
        assert profile.species["development.shared_spread"].status == "assumed"

    def test_a_publication_is_cited(self):
        ant = made(source="roe2030", citation="Roe J (2030) Brood of an invented ant").species
        assert ant["development.egg.days"].source == "roe2030"
        assert ant["development.egg.days"].status == "derived"
        assert ant.sources["roe2030"].startswith("Roe J (2030)")
        with pytest.raises(SpeciesError, match="No source is called 'roe2030'"):
            made(source="roe2030")


class TestThroughAFile:
    def test_round_trip(self, profile, tmp_path):
        csv = tmp_path / "durations.csv"
        table().to_csv(csv, index=False)
        from_file = made(csv)
        assert from_file.species == profile.species
        path = from_file.save(tmp_path / "my-ant.toml")
        again = load_species(path)
        assert again == profile.species
        for stage, truth in TRUTH.items():
            days, low, high = (
                again.value(f"development.{stage}.{key}") for key in ("days", "lower_c", "upper_c")
            )
            back = 1 / Briere.through(days, 25, low, high)(np.array(WARMTHS[1:-1]))
            np.testing.assert_allclose(back, 1 / truth(np.array(WARMTHS[1:-1])), rtol=0.1)

    def test_it_fits_and_forecasts(self, profile):
        notes = pd.DataFrame({"date": ["2026-07-20"], "eggs": [9]})
        fit = ag.fit(notes, ag.constant(25), profile.species, queen_since="2026-07-04", rng=1)
        first = fit.forecast(days=120, draws=100, rng=1).arrival(workers=1)
        assert 35 < (first.median - pd.Timestamp("2026-07-04")).days < 75

    @pytest.mark.parametrize("name", list_species()["name"])
    def test_every_profile_can_be_written_and_read(self, name, tmp_path):
        ant = load_species(name)
        path = tmp_path / f"{name}.toml"
        path.write_text(as_toml(ant.to_mapping(), "a copy"), encoding="utf-8")
        assert load_species(path) == ant

    def test_texts_with_all_that_toml_escapes(self, profile, tmp_path):
        odd = 'so "called" \\ ant,\n\ttab \x7f and °C ä'
        ant = replace(profile.species, name="odd", common_name=odd, cautions=(odd, "Law first."))
        path = tmp_path / "odd.toml"
        path.write_text(as_toml(ant.to_mapping(), "two\nlines"), encoding="utf-8")
        assert load_species(path) == ant

    def test_nothing_is_overwritten(self, profile, tmp_path):
        path = tmp_path / "notes.toml"
        path.write_text("mine", encoding="utf-8")
        with pytest.raises(SpeciesError, match="there is such a file, and it may hold"):
            profile.save(path)
        assert path.read_text(encoding="utf-8") == "mine"
        with pytest.raises(SpeciesError, match=r"a profile is a .toml file"):
            profile.save(tmp_path / "ant.txt")


class TestFaults:
    def test_all_rows_at_once(self):
        rows = table().astype({"duration_days": object, "stage": object})
        rows.loc[0, "duration_days"] = -3
        rows.loc[3, "stage"] = "nymph"
        rows.loc[12, "temperature_c"] = 99
        with pytest.raises(LogError) as caught:
            made(rows)
        text = str(caught.value)
        assert re.search(r"my-ant, row 2: duration_days = -3. Give a number of days above 0", text)
        assert re.search(r"row 5: stage = nymph. Give egg, larva or pupa; a cocoon is", text)
        assert re.search(r"row 14: temperature_c = 99", text)

    def test_too_few_temperatures_of_every_stage_named(self):
        with pytest.raises(LogError) as caught:
            made(table(warmths=(20, 25)))
        assert str(caught.value).count("development at 2 different temperatures") == 3
        assert "my-ant, larva: " in str(caught.value)

    def test_no_stage_and_no_rows(self):
        with pytest.raises(LogError, match=r"Needed besides: stage, with egg, larva or pupa"):
            made(table().drop(columns="stage"))
        with pytest.raises(LogError, match=r"there is no row in it"):
            made(table().head(0))

    def test_a_threshold_below_freezing(self):
        rows = pd.DataFrame(
            {"stage": "egg", "temperature_c": [20, 23, 26, 29],
             "duration_days": [1 / (0.04 + 0.001 * t) for t in (20, 23, 26, 29)]}
        )  # fmt: skip
        with pytest.raises(SpeciesError, match=r"egg: .* stands still only below -\d+.* °C; a pro"):
            made(rows)

    def test_a_table_below_the_reference(self):
        cold = {"egg": Briere.through(20, 15, 4, 22)}
        warmths = (8, 10, 12, 14, 16, 18, 20, 21)
        rows = pd.DataFrame(
            {"stage": "egg", "temperature_c": warmths,
             "duration_days": [float(1 / cold["egg"](t)) for t in warmths]}
        )  # fmt: skip
        with pytest.raises(
            SpeciesError, match=r"stands still at 25 °C, the reference temperature of lasius-niger"
        ):
            made(rows)

    def test_the_table_is_not_changed(self):
        rows = table()
        before = rows.copy()
        made(rows)
        pd.testing.assert_frame_equal(rows, before)

    def test_words_of_stages(self):
        rows = table()
        rows["stage"] = rows["stage"].map({"egg": "Eggs", "larva": "larvae", "pupa": "cocoons"})
        assert made(rows).species == made().species
