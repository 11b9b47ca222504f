"""What a keeper's notes say to the growth model."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.arrays import Floats
from antgrowth._core.stages import BROOD, STAGES
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.likelihood import ROUGH, Observations
from antgrowth.io.counts import CountLog
from antgrowth.io.tables import Faults
from antgrowth.model.covariance import Cells

if TYPE_CHECKING:
    from antgrowth.io.changes import ChangeLog

COLUMN_WEIGHTS = {
    column: [
        *(float(stage == column or (column == "brood" and stage in BROOD)) for stage in STAGES),
        float(column == "dead"),
    ]
    for column in (*STAGES, "brood", "dead")
}
"""Which stages a column of the log adds up, in life order, and the dead."""


def observations_of(log: CountLog, history: ColonyHistory) -> Observations:
    """Turn the cells of a log into observations.

    A first sighting says two things: none at the last look, at least one now. Ants found dead say
    that at least so many workers had died by then.
    """
    frame = log.frame
    _check_leavers(history.changes, log)
    sighted = frame[frame["last_look"] >= history.day_zero]
    counted = pd.MultiIndex.from_frame(frame[["stage", "date"]])
    visits = pd.MultiIndex.from_arrays([sighted["stage"], sighted["last_look"]])
    none_yet = sighted[~visits.isin(counted)]  # the last look says so itself where it was counted
    dead = _found_dead(history.changes, log)
    nothing = np.zeros(len(none_yet))
    columns = [*frame["stage"], *none_yet["stage"], *["dead"] * len(dead)]
    stages = np.array([COLUMN_WEIGHTS[column] for column in columns]).reshape(-1, len(STAGES) + 1)
    dates = pd.concat([frame["date"], none_yet["last_look"], dead["date"]])
    rough = np.where(frame["kind"] == "rough", ROUGH, 1.0)
    return Observations(
        cells=Cells(_end_of(dates, history), stages),
        low=np.concatenate([frame["low"], nothing, dead["number"]]).astype(float),
        high=np.concatenate([frame["high"], nothing, np.full(len(dead), np.inf)]).astype(float),
        rough=np.concatenate([rough, np.ones(len(none_yet) + len(dead))]),
    )


def held_at_first(log: CountLog) -> Floats:
    """What the first counts found of eggs, larvae, pupae, workers and brood; NaN where not told."""
    frame = log.frame[log.frame["date"] == log.frame["date"].min()].set_index("stage")
    bounded = np.isfinite(frame["high"])
    found = frame["low"].where(~bounded, (frame["low"] + frame["high"]) / 2)
    held: Floats = found.reindex([*STAGES, "brood"]).to_numpy(dtype=float)
    return held


def _found_dead(changes: ChangeLog | None, log: CountLog) -> pd.DataFrame:
    """Workers found dead so far, by date, up to the last note."""
    if changes is None:
        return pd.DataFrame({"date": pd.to_datetime([]), "number": np.zeros(0)})
    frame = changes.frame[changes.frame["found_dead"] & (changes.frame["date"] <= log.end)]
    return pd.DataFrame({"date": frame["date"], "number": frame["change"].abs().cumsum()})


def _check_leavers(changes: ChangeLog | None, log: CountLog) -> None:
    """Refuse ants that left before any of their stage had been seen."""
    if changes is None:
        return
    faults = Faults(changes.name)
    firsts = log.frame.dropna(subset="last_look").set_index("stage")
    came: set[str] = set()
    for change in changes.frame[~changes.frame["found_dead"]].to_dict("records"):
        stage, number = change["stage"], change["change"]
        if number > 0:
            came.add(stage)
        elif stage in firsts.index and stage not in came:
            first = firsts.loc[stage]
            if change["date"] <= first["last_look"]:
                faults.add(
                    change["row"],
                    f"{stage} = {number}, but {log.name} has the first of them on "
                    f"{first['date']:%Y-%m-%d} and none at the look of "
                    f"{first['last_look']:%Y-%m-%d}. Correct the date or the stage, or delete the "
                    "row.",
                    change["date"].date(),
                )
    faults.raise_all()


def _end_of(dates: pd.Series, history: ColonyHistory) -> NDArray[np.intp]:
    """The end of each date, in days from day zero."""
    return ((dates - history.day_zero) / pd.Timedelta("1D")).to_numpy().astype(np.intp) + 1
