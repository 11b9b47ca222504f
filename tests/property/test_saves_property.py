"""Saved fits: whatever became of a file, it is told, or it forecasts."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, strategies as st
from odd import CHANGES, changed, inputs, kinds_of_places, nested, odd_toml, told_or_fine

import antgrowth as ag
from antgrowth.errors import AntgrowthError
from antgrowth.inference.saving import _checksum

SAVED = Path(__file__).parents[1] / "compat" / "fit_v2.json"
WHOLE = json.loads(SAVED.read_text(encoding="utf-8"))
WHOLE["draws"] = WHOLE["draws"][:5]
KINDS = kinds_of_places(WHOLE)
STRANGE = odd_toml.map(str) | st.sampled_from(
    [None, True, {}, [], 0, -1, 2, 0.5, 1e14, 1e300, -29.9, float("nan"), float("inf"), 10**400]
)


@pytest.fixture(scope="module")
def path(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("saves") / "fit.json"


def written(content: dict, path: Path) -> Path:
    """A file with a checksum that is right: as whoever means ill would write it."""
    path.write_text(json.dumps(content | {"checksum": _checksum(content)}), encoding="utf-8")
    return path


def used(path: Path) -> None:
    """Load a fit; what loads has to answer."""
    fit = ag.load_fit(path)
    assert "nan" not in fit.summary().lower().split()
    ahead = fit.forecast(days=5, draws=5, rng=1, temperature=24.0)
    assert np.isfinite(ahead.frame()["mean"]).all()


@inputs(60, 9000)
@given(st.sampled_from(KINDS).flatmap(st.sampled_from), CHANGES, STRANGE)
def test_a_save_that_was_changed(path, place, change, value):
    content = copy.deepcopy(WHOLE)
    changed(content, place, change, value)
    with told_or_fine():
        used(written(content, path))


@inputs(30, 4000)
@given(st.floats(0, 1), st.integers(0, 255))
def test_a_byte_that_was_changed(saved_whole, path, where, byte):
    raw = bytearray(saved_whole)
    at = int(where * (len(raw) - 1))
    same = raw[at] == byte
    raw[at] = byte
    path.write_bytes(raw)
    with told_or_fine():
        ag.load_fit(path)
        # A blank between two parts, or a 1.0 of a 1.00, says the same.
        assert same or json.loads(raw) == json.loads(saved_whole)


@inputs(30, 4000)
@given(st.floats(0, 0.999999))
def test_a_file_that_was_cut_off(saved_whole, path, share):
    path.write_bytes(saved_whole[: int(share * len(saved_whole))])
    with told_or_fine():
        ag.load_fit(path)
        raise AssertionError("a part of a file was taken for the whole")


@pytest.fixture(scope="module")
def saved_whole(path) -> bytes:
    return written(WHOLE, path.with_name("whole.json")).read_bytes()


def refused(path: Path) -> str:
    with pytest.raises(AntgrowthError) as caught:
        ag.load_fit(path)
    return str(caught.value)


class TestFound:
    """Files that once ended in an error of something else, or in no error at all."""

    def test_damage_is_told_from_a_file_of_another_kind(self, saved_whole, path):
        path.write_bytes(saved_whole.replace(b'"queens": 1', b'"queens": 2'))
        assert "changed after it was saved (its checksum is another)" in refused(path)
        path.write_bytes(saved_whole[:-100])
        assert "a saved fit that was cut off or changed" in refused(path)
        path.write_text('{"format": "recipe"}', encoding="utf-8")
        assert refused(path).endswith("not a saved fit. Give a file that Fit.save wrote.")

    def test_one_that_was_not_changed(self, saved_whole, path):
        path.write_bytes(saved_whole)
        used(path)

    @pytest.mark.parametrize(
        ("place", "value", "words"),
        [
            (("draws",), [[1.0, 2.0]], "draws.0 has 2 numbers and not 29"),
            (("beliefs", 0, "cov"), [], "beliefs.0.cov is not square"),
            (("beliefs", 0, "cov"), [[1.0] * 29] * 29, "beliefs.0.cov is not positive definite"),
            (("beliefs", 0, "scatter", 0, 1), 7.0, "beliefs.0.scatter is not symmetric"),
            (("beliefs", 0, "probability"), 0.5, "their probabilities add up to"),
            (("beliefs", 0, "x", 3), 1e300, "beliefs.0.x.3 = 1e+300. Allowed: -30 to 30."),
            (("beliefs", 0, "strain"), None, "beliefs.0.strain = None. Allowed: a number"),
            (("setting", "queens"), -3, "setting.queens = -3. Allowed: a whole number"),
            (("setting", "day_zero"), "2026-02-30", "setting.day_zero = '2026-02-30'"),
            (("temperature", "days"), [[10**9, False, [24.0] * 24]], "temperature.days.0.0"),
            (("temperature", "days", 0, 2), [24.0] * 23, "is no list of 24 numbers"),
            (("counts", "date"), ["2026-04-12"], "counts is no table of texts"),
            (("seed",), -1, "seed = -1"),
            (("version",), "2", "a saved fit without the number of its form"),
        ],
    )
    def test_parts_that_cannot_be(self, path, place, value, words):
        content = copy.deepcopy(WHOLE)
        changed(content, place, "another", value)
        told = refused(written(content, path))
        assert told.startswith(f"{path}: a saved fit ") and words in told

    def test_lists_in_lists_without_end(self, path):
        path.write_text('{"format": "antgrowth fit", "x": ' + "[" * 10**6, encoding="utf-8")
        assert "was cut off or changed" in refused(path)
        profile = copy.deepcopy(WHOLE)
        profile["species"]["profile"]["development"] = nested(900)
        assert "development" in refused(written(profile, path))

    def test_numbers_of_thousands_of_digits(self, path):
        path.write_text('{"format": "antgrowth fit", "seed": ' + "9" * 5000 + "}", encoding="utf-8")
        assert "was cut off or changed" in refused(path)

    def test_another_file_is_not_written_over(self, path):
        notes = path.with_name("counts.csv")
        notes.write_text("date,eggs\n2026-04-20,9\n", encoding="utf-8")
        fit = ag.load_fit(SAVED)
        with pytest.raises(AntgrowthError, match="which antgrowth did not write"):
            fit.save(notes)
        assert notes.read_text(encoding="utf-8") == "date,eggs\n2026-04-20,9\n"
        for _ in range(2):  # a save is replaced by another
            fit.save(path.with_name("again.json"))

    def test_the_drift_that_it_was_fitted_with_is_kept(self, path):
        fit = ag.load_fit(SAVED)
        assert fit.model.prior.drift == pytest.approx([0.4, 0.4, 0.4])  # of before it was written
        content = copy.deepcopy(WHOLE) | {"drift": [0.1, 0.2, 0.3]}
        kept = ag.load_fit(written(content, path))
        laws = kept.model.prior.laws(kept.draws)
        assert np.array_equal(laws.drift, [0.1, 0.2, 0.3])
        kept.save(path.with_name("again.json"))
        again = json.loads(path.with_name("again.json").read_text(encoding="utf-8"))
        assert again["drift"] == [0.1, 0.2, 0.3]
