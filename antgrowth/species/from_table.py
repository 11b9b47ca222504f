"""A species profile from a table of durations by temperature and stage.

Curves are fitted to the table (`rate_fit`); what it does not tell is taken from the profile of
another ant, and called assumed where it is another.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.arguments import NAME, RNG, SOURCE, optional, takes
from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report, Shown, rounded
from antgrowth._core.text import counted, told
from antgrowth.errors import SpeciesError
from antgrowth.io.rate_tables import read_stage_tables
from antgrowth.species.development import BROOD_STAGES
from antgrowth.species.milestones import usual_milestones
from antgrowth.species.native_range import Native
from antgrowth.species.parameters import PARAMETERS, QUEENS_CARE, QUEENS_LAY, SPREAD_FLOORS, Number
from antgrowth.species.profile import Season, Species, load_species, species_from_mapping
from antgrowth.species.rate_fit import RateCurveFit, fit_rate_curve
from antgrowth.species.rate_solver import FittedCurve
from antgrowth.species.toml_writer import as_toml, save_profile

OWN_COUNTS = "own counts"

KINDS = ("degree-day", "briere")
"""Curves that a profile can hold."""

MEASURED_TOGETHER = 0.1
"""Log-sd of what is common to all durations of a table, from its nest to another (assumed)."""

UNTOLD_SPREAD_C = 3.0
"""Spread of a lower limit that the table does not show. [°C]"""


@dataclass(frozen=True, eq=False, repr=False)
class TableProfile(Shown):
    """A species profile made of a table; made by `profile_from_table`.

    Attributes
    ----------
    species : Species
        Ready to fit with.
    curves : mapping of str to RateCurveFit
        Of "egg", "larva" and "pupa", those that the table holds; the curve of the profile is the
        chosen one.
    like : str
        Profile that the rest was taken from.
    """

    species: Species
    curves: Mapping[str, RateCurveFit]
    like: str

    def frame(self) -> pd.DataFrame:
        """Tell what the profile now says of development.

        Returns
        -------
        DataFrame
            A row for each stage and of "days", "lower_c", "upper_c": stage, curve, rows (of the
            table; 0 if it has none), parameter, unit, value, q05, q95 (of the prior), status.
        """
        rows = []
        for stage in BROOD_STAGES:
            found = len(self.curves[stage].table.frame) if stage in self.curves else 0
            for name in ("days", "lower_c", "upper_c"):
                path = f"development.{stage}.{name}"
                number = self.species[path]
                low, high = PARAMETERS[path].interval(number)
                rows.append(
                    {
                        "stage": stage,
                        "curve": self.species.curves[stage],
                        "rows": found,
                        "parameter": name,
                        "unit": number.unit,
                        "value": number.value,
                        "q05": low,
                        "q95": high,
                        "status": number.status,
                    }
                )
        return pd.DataFrame(rows)

    def to_toml(self) -> str:
        """Return the text of a profile file; its form is told in ``datasets/species/README.md``."""
        tables = counted(len(self.curves), "stage")
        opening = (
            f"{self.species.scientific_name}: development of {tables} from a table of durations,\n"
            f"the rest from the profile {self.like}."
        )
        return as_toml(self.species.to_mapping(), opening)

    def save(self, path: str | os.PathLike[str]) -> Path:
        """Write the profile to a new TOML file, for `load_species` and ``colony.toml``.

        Raises
        ------
        SpeciesError
            If there is such a file already, or the name does not end in .toml.
        """
        return save_profile(path, self.to_toml())

    def plot(self) -> NDArray[np.object_]:
        """Draw the table and the curve of each stage; what is drawn is in `curves[...].frame()`."""
        return picture("species", "plot_stage_curves", self.curves)

    def _report(self) -> Report:
        ant = self.species
        reference_c = ant.value("development.reference_c")
        days, low, high = ant.egg_to_worker_days(reference_c)
        total = " to ".join(rounded(days, low, high)[1:])
        rows = [
            (row["stage"], row["parameter"], row["unit"], *_shown(row), row["curve"], row["status"])
            for row in self.frame().to_dict("records")
        ]
        return Report(
            title=f"Profile: {ant.name} ({ant.scientific_name})",
            facts=(
                ("table", ", ".join(f"{stage} {counted(len(fit.table.frame), 'row')}"
                                    for stage, fit in self.curves.items())),
                ("days", f"at {reference_c:g} °C; egg to worker {total}"),
            ),
            head=("stage", "number", "unit", "value", "90% interval", "curve", "status"),
            align="lllrrll",
            rows=tuple(rows),
            closing=(("rest", f"from the profile {self.like}"),),
        )  # fmt: skip

    def __repr__(self) -> str:
        return f"TableProfile({told(self.species.name)}, {', '.join(self.curves)} from a table)"


@takes(
    table=SOURCE, name=NAME, scientific_name=NAME, common_name=optional(NAME), source=NAME,
    citation=optional(NAME), rng=RNG,
)  # fmt: skip
def profile_from_table(
    table: object,
    *,
    name: str,
    scientific_name: str,
    like: Species | str = "generic-temperate",
    common_name: str | None = None,
    source: str = OWN_COUNTS,
    citation: str | None = None,
    rng: int | np.random.Generator | None = None,
) -> TableProfile:
    """Make a species profile of a table of durations by temperature and stage.

    Parameters
    ----------
    table : path or DataFrame
        Columns stage (egg, larva, pupa), temperature_c [°C], duration_days [day] or rate_per_day
        [1/day], and if you like sd, of that duration or rate. At least three temperatures for each
        stage that it has. It is not changed.
    name : str
        Of the profile.
    scientific_name : str
        Of the ant. Is it another than that of `like`, what is taken from there becomes assumed.
    like : Species or str
        Profile that tells the rest: laying, survival, life, limits, rest, and stages that the table
        does not have.
    common_name : str, optional
        The scientific name if not given.
    source : str
        Where the table comes from: "own counts", or a key for the citation.
    citation : str, optional
        Who, when, what: needed unless the table is your own or its source is a shipped one.
    rng : int, Generator or None
        For the draws that show how uncertain the curves are.

    Returns
    -------
    TableProfile

    Raises
    ------
    LogError
        If rows cannot be read or a stage has too few temperatures; all are listed.
    SpeciesError
        If a fitted curve cannot stand in a profile, with every such stage; or with every fault of
        the profile that would result.

    Notes
    -----
    Of each stage the better supported of `DegreeDay` and `Briere` is taken; Briere's
    wherever rates fall at the warm end, which a line cannot follow, however few the rows. Its
    duration at the reference temperature of `like`, and its limits, become numbers of the profile;
    their spread is the standard deviation over the draws of the fitted curve, or what the status
    asks for at least, if that is more; the model holds upper limits fixed. A limit that the table
    does not show is called assumed.

    Examples
    --------
    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> warm = [18, 20, 22, 25, 28]
    >>> table = pd.DataFrame({"stage": ["egg"] * 5 + ["larva"] * 5 + ["pupa"] * 5,  # invented
    ...                       "temperature_c": warm * 3,
    ...                       "duration_days": [33, 24, 19, 15, 11.9, 40, 28, 23, 17, 13.6,
    ...                                         36, 28, 22, 17.5, 14.5]})
    >>> found = ag.profile_from_table(table, name="my-ant", scientific_name="Lasius sp.", rng=1)
    >>> days, low, high = found.species.egg_to_worker_days(24.0)
    >>> round(days)
    53
    """
    template = like if isinstance(like, Species) else load_species(like)
    curves = _fitted(read_stage_tables(table, name), rng)
    status = "read" if source == OWN_COUNTS else "derived"
    measured, kinds = _measured(curves, template, source, status)
    same = scientific_name == template.scientific_name
    kept = dict(template.numbers) if same else {
        path: _as_assumed(path, number, template.name) for path, number in template.numbers.items()
        if path not in (QUEENS_LAY, QUEENS_CARE)
    }  # fmt: skip
    if len(curves) == len(BROOD_STAGES):
        kept["development.shared_spread"] = Number(
            MEASURED_TOGETHER, 0.0, "1", "assumption", "assumed",
            "All stages stand in one table; what sets its nest apart from another is a guess.",
        )  # fmt: skip
    plain = template if same else _of_another(template)
    ant = replace(
        plain,
        name=name,
        scientific_name=scientific_name,
        common_name=common_name or scientific_name,
        numbers=kept | measured,
        curves=dict(template.curves) | kinds,
    )
    mapping: dict[str, Any] = ant.to_mapping()
    if citation is not None:
        mapping.setdefault("sources", {})[source] = citation
    return TableProfile(species_from_mapping(mapping, name, name), curves, template.name)


def _fitted(
    tables: Mapping[str, Any], rng: int | np.random.Generator | None
) -> dict[str, RateCurveFit]:
    """Curves of each stage, chosen among those that a profile can hold."""
    found = {}
    for stage, table in tables.items():
        fit = fit_rate_curve(table, rng=rng)
        supported = next(kind for kind in fit.fitted if kind in KINDS)
        found[stage] = fit.choose("briere" if _bends(fit) else supported)
    return found


def _bends(fit: RateCurveFit) -> bool:
    """Whether rates fall at the warm end, and there are rows enough for a curve that does."""
    t, rate = fit.table.temperature_c, fit.table.rate_per_day
    means = [float(rate[t == at].mean()) for at in np.unique(t)]
    return means[-1] < max(means) and "briere" in fit.fitted


def _measured(
    curves: Mapping[str, RateCurveFit], template: Species, source: str, status: str
) -> tuple[dict[str, Number], dict[str, str]]:
    """Numbers of the profile that follow from curves, by path, and the kind of each curve."""
    reference_c = template.value("development.reference_c")
    numbers: dict[str, Number] = {}
    faults = []
    for stage, fit in curves.items():
        fault = _fault(fit, stage, reference_c, template.name)
        if fault:
            faults.append(fault)
            continue
        at = f"development.{stage}"
        numbers[f"{at}.days"] = _days(fit, reference_c, source, status)
        numbers[f"{at}.lower_c"] = _limit(fit, f"{at}.lower_c", source, status)
        numbers[f"{at}.upper_c"] = (
            _limit(fit, f"{at}.upper_c", source, status)
            if fit.chosen == "briere"
            else _end_of_line(fit, template[f"{at}.upper_c"], reference_c)
        )
    if faults:
        raise SpeciesError("\n".join(faults))
    return numbers, {stage: fit.chosen for stage, fit in curves.items()}


def _fault(fit: RateCurveFit, stage: str, reference_c: float, like: str) -> str:
    curve, where = fit.curve, fit.table.name
    lowest, highest = fit.table.range_c
    if curve.lower_c < PARAMETERS[f"development.{stage}.lower_c"].low:
        return (
            f"{where}: by the {fit.chosen} curve the stage stands still only below "
            f"{curve.lower_c:.3g} °C; a profile allows 0 °C and more. Add cooler temperatures, "
            f"where development slows: the table begins at {lowest:g} °C."
        )
    if not curve.lower_c < reference_c < curve.upper_c:
        return (
            f"{where}: by the {fit.chosen} curve the stage stands still at {reference_c:g} °C, the "
            f"reference temperature of {like}; the table has {lowest:g} to {highest:g} °C. Give as "
            "`like` a profile whose reference lies within the table."
        )
    return ""


def _days(fit: RateCurveFit, reference_c: float, source: str, status: str) -> Number:
    rates = np.array([curve(reference_c) for curve in _drawn(fit)])
    spread = float(np.log(rates[rates > 0]).std()) if (rates > 0).any() else 0.0
    value = float(1 / fit.curve(reference_c))
    note = f"{fit.chosen} curve fitted to {counted(len(fit.table.frame), 'row')}"
    lowest, highest = fit.table.range_c
    if not lowest <= reference_c <= highest:
        note += f"; extrapolated, since the table has {lowest:g} to {highest:g} °C only"
    floor = SPREAD_FLOORS[status]["log"]
    return Number(value, max(spread, floor), "day", source, status, f"{note}.")


def _limit(fit: RateCurveFit, path: str, source: str, status: str) -> Number:
    """A limit of the fitted curve; one that the table does not show is only assumed."""
    name, held = path.rpartition(".")[2], PARAMETERS[path].held
    fitted = fit.fitted[fit.chosen]
    told = {parameter: note for parameter, _, _, note in fitted.parameters}
    value = float(getattr(fitted.curve, name))
    spread = float(np.std([getattr(curve, name) for curve in _drawn(fit)] or [0.0]))
    if told[name] or not len(fitted.draws):
        note = "The table does not show this limit; it goes with the fitted curve."
        spread = 0.0 if held else UNTOLD_SPREAD_C
        return Number(value, spread, "°C", "assumption", "assumed", note)
    note = f"Of the {fit.chosen} curve fitted to the table."
    spread = 0.0 if held else max(spread, SPREAD_FLOORS[status]["celsius"])
    return Number(value, spread, "°C", source, status, note)


def _end_of_line(fit: RateCurveFit, usual: Number, reference_c: float) -> Number:
    """Where a straight line is no more to be trusted: at the warmest of the table."""
    warmest = fit.table.range_c[1]
    value, note = usual.value, "Beyond the table, which does not reach it."
    if warmest > reference_c:
        value = warmest
        note = "The warmest temperature of the table: beyond it the line is not to be trusted."
    return Number(value, 0.0, "°C", "assumption", "assumed", note)


def _drawn(fit: RateCurveFit) -> list[Any]:
    """Curves as uncertain as the table leaves them."""
    fitted: FittedCurve = fit.fitted[fit.chosen]
    return [type(fitted.curve)(*draw) for draw in fitted.draws.tolist()]


def _as_assumed(path: str, number: Number, like: str) -> Number:
    """What is known of one ant, as a guess at another."""
    spread = number.spread
    if not PARAMETERS[path].held:
        spread = max(spread, SPREAD_FLOORS["assumed"][PARAMETERS[path].scale])
    note = _told_of(number, like)
    return Number(number.value, spread, number.unit, "assumption", "assumed", note)


def _told_of(known: Number | Season, like: str) -> str:
    """What a guess rests on: the profile it comes from, and what that one says."""
    standing = "" if known.status == "assumed" else f" ({known.status}: {known.source})"
    return f"As for {like}{standing}. {known.note}".rstrip()


def _of_another(template: Species) -> Species:
    """A profile whose milestones and countries are not those of its own ant."""
    usual = usual_milestones(template.founding, template.rest.needed)
    season = replace(
        template.season,
        source="assumption",
        status="assumed",
        note=_told_of(template.season, template.name),
    )
    cautions = (
        f"Cautions and most numbers are those of another profile, {template.name}: what holds for "
        "your ant you must find out.",
        *template.cautions,
    )
    return replace(
        template, milestones=usual, native=Native(), season=season, cautions=cautions,
        together="", lays_after_winter=False,
    )  # fmt: skip


def _shown(row: Mapping[Any, Any]) -> tuple[str, str]:
    if row["q05"] == row["q95"]:
        return f"{row['value']:.3g}", "held"
    value, low, high = rounded(row["value"], row["q05"], row["q95"])
    return value, f"{low} to {high}"
