"""Fits as files: versioned JSON that a later antgrowth can still read.

A file holds what the fit rests on (notes, species, temperatures day by day, changes) and what it
found (the best point, its covariance, the draws). Nothing is fitted again on reading. A file may
come from anyone: it is held against `saved_schema` whole before anything is built from it, and its
checksum tells a damaged file from another kind of file.
"""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from antgrowth._core.files import write_whole
from antgrowth._core.text import listed, told
from antgrowth._core.validation import is_whole
from antgrowth._core.version import __version__
from antgrowth.climate.source import Source, Span
from antgrowth.climate.temperature import Temperature
from antgrowth.errors import AntgrowthError
from antgrowth.inference.brood_loss import Loss, MixtureComponent, with_loss
from antgrowth.inference.course import Course
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.laplace import Estimate, Model
from antgrowth.inference.likelihood import Sites
from antgrowth.inference.posterior import Posterior, check_span, model_of
from antgrowth.inference.saved_schema import PARTS, model_faults, schema_faults
from antgrowth.io.changes import read_changes
from antgrowth.io.counts import read_counts
from antgrowth.species.profile import species_from_mapping

FORMAT, VERSION = "antgrowth fit", 2

BEGINNING = f'{{"format": "{FORMAT}"'.encode()
"""How a file begins."""

PLAIN = {
    "error_scale": "error_scale",
    "error_spread": "error_spread",
    "strain": "dispersion",
    "log_density": "log_density",
    "rounds": "rounds",
    "converged": "converged",
}
"""Keys of a file that are plain numbers, and the fields of an estimate that they tell."""

COURSE = ("fresh", "settled", "made")
"""Fields of a course; files of an earlier version have none."""

FORMER_DRIFT = [0.4, 0.4, 0.4]
"""How far colonies strayed from the law when files did not yet tell it; see `prior.DRIFT`."""

DAYS_AHEAD = 730
"""Of a temperature plan without end, so many days after the last note are kept. [day]"""


def save_fit(fit: Posterior, path: str | os.PathLike[str]) -> None:
    """Write a fit to a JSON file; a fit saved before is replaced, a file of another kind never."""
    history = fit.history
    content = {
        "format": FORMAT,
        "version": VERSION,
        "antgrowth": __version__,
        "name": fit.counts.name,
        "counts": _table(fit.counts.to_frame()),
        "species": {"name": fit.species.name, "profile": fit.species.to_mapping()},
        "setting": {
            "day_zero": f"{history.day_zero:%Y-%m-%d}",
            "founded": history.founded,
            "queens": history.queens,
            "hemisphere": history.hemisphere,
            "changes": None if history.changes is None else _table(history.changes.to_frame()),
        },
        "temperature": _kept(fit),
        "beliefs": [_component_table(component) for component in fit.components],
        "draws": fit.draws.tolist(),
        "drift": fit.model.prior.drift.tolist(),
        "seed": fit.seed,
    }
    content["checksum"] = _checksum(content)
    write_whole(
        path, json.dumps(content, allow_nan=False), own=lambda raw: raw.startswith(BEGINNING)
    )


def read_fit(path: str | os.PathLike[str]) -> Posterior:
    """Read what `save_fit` wrote; see `antgrowth.load_fit`."""
    content = _read(Path(path))
    try:
        return _built(content)
    except AntgrowthError as fault:
        raise AntgrowthError(
            f"{path}: a saved fit that cannot be: {fault}\nFit again and save."
        ) from None


def _built(content: dict[str, Any]) -> Posterior:
    """The fit that a file of sound parts tells, if they go together."""
    known = content["species"]
    species = species_from_mapping(known["profile"], known["name"], "species")
    log = read_counts(_frame(content["counts"]), name=content["name"])
    kept = content["setting"]
    changes = kept["changes"]
    history = ColonyHistory(
        species=species,
        temperature=Temperature(_Kept.of(content["temperature"])),
        day_zero=pd.Timestamp(kept["day_zero"]),
        founded=kept["founded"],
        changes=None if changes is None else read_changes(_frame(changes)),
        queens=kept["queens"],
        hemisphere=kept.get("hemisphere"),
    )
    check_span(log, history.day_zero)
    model = model_of(log, history, np.array(content.get("drift", FORMER_DRIFT)))
    days = history.day_of(log.end) + 1
    faults = model_faults(content, len(model.prior), len(model.observations.low), days)
    _refuse(list(faults))
    return Posterior(
        counts=log,
        history=history,
        components=[_component(model, component) for component in content["beliefs"]],
        draws=np.array(content["draws"], dtype=float),
        seed=content["seed"],
    )


def _refuse(faults: list[str]) -> None:
    if faults:
        raise AntgrowthError(listed(faults, "\n"))


def _read(path: Path) -> dict[str, Any]:
    """The parts of a file, each sound by itself."""
    content = _parsed(path)
    version = content.get("version", 0)
    if not is_whole(version, 0):
        raise AntgrowthError(f"{path}: a saved fit without the number of its form. Fit again.")
    if version > VERSION:
        raise AntgrowthError(
            f"{path}: saved in form {told(version)} by antgrowth {content.get('antgrowth')!s:.20}; "
            f"this antgrowth {__version__} reads forms up to {VERSION}. Install a newer one, "
            "or fit again."
        )
    if version == 1:
        raise AntgrowthError(
            f"{path}: saved by antgrowth {content.get('antgrowth')}, whose growth law knew neither "
            "eaten eggs nor seasons. Fit again from the same notes and temperatures, and save."
        )
    if content.get("checksum", "") not in ("", _checksum(content)):
        raise _damaged(path, "its checksum is another")
    missing = [part for part in PARTS if part not in content]
    if missing:
        raise AntgrowthError(
            f"{path}: not a whole saved fit, it lacks {', '.join(missing)}. Fit again and save."
        )
    if faults := list(schema_faults(content)):
        raise AntgrowthError(
            f"{path}: a saved fit that cannot be: {listed(faults, chr(10))}\nFit again and save."
        )
    return content


def _parsed(path: Path) -> dict[str, Any]:
    """A file as JSON of the right kind."""
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise AntgrowthError(f"{path}: there is no such file. Give what Fit.save wrote.") from None
    except (OSError, ValueError) as fault:
        raise AntgrowthError(
            f"{path}: cannot be read ({fault}). Give what Fit.save wrote."
        ) from None
    try:
        content = json.loads(raw.decode("utf-8"))
    except (ValueError, RecursionError) as fault:  # of text, of JSON, of its depth and its digits
        if raw.startswith(BEGINNING):
            raise _damaged(path, str(fault)) from None
        raise AntgrowthError(f"{path}: not a saved fit ({fault}). Fit again and save.") from None
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        raise AntgrowthError(f"{path}: not a saved fit. Give a file that Fit.save wrote.")
    return content


def _damaged(path: Path, why: str) -> AntgrowthError:
    return AntgrowthError(
        f"{path}: a saved fit that was cut off or changed after it was saved ({why}). Take a copy "
        "of it, or fit again and save."
    )


def _checksum(content: dict[str, Any]) -> str:
    """Of all that is said, however it is written: SHA-256."""
    said = {part: value for part, value in content.items() if part != "checksum"}
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def _component_table(component: MixtureComponent) -> dict[str, Any]:
    best = component.estimate
    return {
        "probability": component.probability,
        "loss": None if component.loss is None else vars(component.loss),
        "x": best.x.tolist(),
        "cov": best.cov.tolist(),
        "scatter": best.noise_cov.tolist(),
        "site_value": best.sites.value.tolist(),
        # JSON knows no infinity: the precision of an exact count is written as null.
        "site_precision": [p if np.isfinite(p) else None for p in best.sites.precision],
        "course": None if best.course is None else _course_table(best.course),
        **{key: getattr(best, name) for key, name in PLAIN.items()},
    }


def _course_table(course: Course) -> dict[str, Any]:
    return {name: np.asarray(getattr(course, name)).tolist() for name in COURSE}


def _component(model: Model, found: dict[str, Any]) -> MixtureComponent:
    loss = None if found["loss"] is None else Loss(**found["loss"])
    kept = found.get("course")
    course = None if kept is None else Course(*(np.array(kept[name]) for name in COURSE))
    model = with_loss(model, loss).along(course)
    return MixtureComponent(found["probability"], loss, model, _estimate(model, found))


def _estimate(model: Model, found: dict[str, Any]) -> Estimate:
    x = np.array(found["x"])
    precision = [np.inf if p is None else p for p in found["site_precision"]]
    return Estimate(
        x=x,
        cov=np.array(found["cov"]),
        linearised=model.linearise(x),
        noise_cov=np.array(found["scatter"]),
        sites=Sites(np.array(found["site_value"]), np.array(precision)),
        **{name: found[key] for key, name in PLAIN.items()},
        course=model.course,
    )


def _table(frame: pd.DataFrame) -> dict[str, list[str]]:
    frame = frame.assign(date=frame["date"].dt.strftime("%Y-%m-%d"))
    return {str(column): frame[column].astype(str).tolist() for column in frame}


def _frame(table: dict[str, list[str]]) -> pd.DataFrame:
    return pd.DataFrame(table)


def _kept(fit: Posterior) -> dict[str, Any]:
    """Temperatures from the first known day on, equal days in a row written once."""
    history, temperature = fit.history, fit.temperature
    last = temperature.covers()[1]
    ahead = fit.counts.end + pd.Timedelta(days=DAYS_AHEAD)
    last = ahead if last is None else max(last, fit.counts.end)
    start, days = history.day_zero, (last - history.day_zero).days + 1
    hours = temperature.known_hours(start, days)  # unrounded: the same forecasts
    days_written = [
        (bool(rests), tuple(None if np.isnan(c) else float(c) for c in row))
        for rests, row in zip(temperature.resting(start, days), hours, strict=True)
    ]
    return {
        "first_day": f"{start:%Y-%m-%d}",
        "words": temperature.describe(),
        "endless": temperature.covers()[1] is None,
        "days": [[len(list(run)), *day] for day, run in groupby(days_written)],
    }


@dataclass(frozen=True, eq=False, repr=False)
class _Kept(Source):
    """Temperatures read back from a saved fit.

    A plan without end goes on as on its last kept day: forecasts take it at its word, as before.
    """

    first: np.datetime64
    table: np.ndarray
    rests: np.ndarray
    words: str
    endless: bool

    @classmethod
    def of(cls, kept: dict[str, Any]) -> _Kept:
        hours = [np.tile(np.array(row, dtype=float), (n, 1)) for n, _, row in kept["days"]]
        rests = [np.full(n, rest) for n, rest, _ in kept["days"]]
        first = np.datetime64(kept["first_day"], "D")
        return cls(
            first,
            np.concatenate(hours),
            np.concatenate(rests),
            kept["words"],
            kept.get("endless", False),  # older files do not tell
        )

    def covers(self) -> Span:
        last = pd.Timestamp(self.first + (len(self.table) - 1))
        return pd.Timestamp(self.first), None if self.endless else last

    def describe(self) -> str:
        return self.words

    def known_hours(self, start: np.datetime64, days: int) -> np.ndarray:
        beyond = self.table[-1] if self.endless else np.full(24, np.nan)
        hours = self._days(self.table, start, np.tile(beyond, (days, 1)))
        hours[: max(int((self.first - start) / np.timedelta64(1, "D")), 0)] = np.nan
        return hours

    def resting(self, start: np.datetime64, days: int) -> np.ndarray:
        return self._days(self.rests, start, np.zeros(days, bool))

    def _days(self, known: np.ndarray, start: np.datetime64, into: np.ndarray) -> np.ndarray:
        offset = int((start - self.first) / np.timedelta64(1, "D"))
        first, last = max(offset, 0), min(offset + len(into), len(known))
        if first < last:
            into[first - offset : last - offset] = known[first:last]
        return into
