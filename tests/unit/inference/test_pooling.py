"""Several fitted colonies as one sharper profile."""

from __future__ import annotations

import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.errors import AntgrowthError

SINCE = "2026-05-01"


def colony(first_pupa: str, pupae: int) -> ag.Fit:
    """An invented colony of few notes."""
    notes = pd.DataFrame(
        {
            "date": ["2026-05-20", first_pupa, "2026-06-12"],
            "eggs": ["60", "", ""],
            "larvae": ["first", "", ""],
            "pupae": ["", "first", str(pupae)],
        }
    )
    return ag.fit(notes, ag.constant(25.0), "lasius-niger", queen_since=SINCE, rng=1)


@pytest.fixture(scope="module")
def fits() -> list[ag.Fit]:
    return [colony("2026-05-29", 12), colony("2026-05-30", 14), colony("2026-05-29", 13)]


def test_a_pooled_profile_is_sharper_and_reads_back(fits, tmp_path):
    pooled = ag.pool(fits, "lasius-niger", name="mine")
    frame = pooled.frame().set_index("path")
    assert (frame["narrowed"] >= 0).all() and frame["narrowed"].max() > 0.05
    assert (frame["q05"] < frame["value"]).all() and (frame["value"] < frame["q95"]).all()
    read = ag.load_species(pooled.save(tmp_path / "mine.toml"))
    assert read["rearing.places_alone"] == pooled.species["rearing.places_alone"]
    assert read["rearing.places_alone"].status == "pooled"
    assert "3 colonies" in pooled.summary()


def test_what_cannot_be_pooled_is_told(fits):
    with pytest.raises(AntgrowthError, match="Give two or more"):
        ag.pool(fits[:1])
    with pytest.raises(AntgrowthError, match="fitted from another profile than generic-tropical"):
        ag.pool(fits, "generic-tropical")
    with pytest.raises(AntgrowthError, match="a list of what"):
        ag.pool(fits[0])
