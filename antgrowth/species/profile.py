"""Species profiles: what is known of an ant, each number with its source and its standing.

A profile is a TOML file, shipped or written by the keeper; its form is described in
``datasets/species/README.md``. Numbers are priors: the keeper's own counts sharpen them.
"""

from __future__ import annotations

import csv
import os
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from statistics import NormalDist
from types import MappingProxyType
from typing import Any

import pandas as pd

from antgrowth._core.arguments import CELSIUS, LEVEL, NAME, PATH, takes
from antgrowth._core.files import as_path, read_raw
from antgrowth._core.text import near_miss, told
from antgrowth.errors import SpeciesError
from antgrowth.species.development import egg_to_worker
from antgrowth.species.milestones import MilestoneRule, amended, as_entries, usual_milestones
from antgrowth.species.native_range import Native, native_from
from antgrowth.species.parameters import CURVE_PATHS, PARAMETERS, SEASON_NUMBERS, Number
from antgrowth.species.schema import (
    AFTER_WINTER,
    REST_DATES,
    SEEDS,
    SPRING,
    TOGETHER,
    check_profile,
)
from antgrowth.species.toml_writer import save_profile
from antgrowth.species.view import as_html, as_text


@dataclass(frozen=True)
class Rest:
    """The rest season of a species."""

    needed: bool  # whether colonies decline without it
    # start, end: month and day on the northern hemisphere, such as "10-15"; None if not needed.
    start: str | None = None
    end: str | None = None
    temperature_c: float | None = None  # usual temperature [°C]
    note: str = ""


@dataclass(frozen=True)
class Season:
    """What ends the time of the year in which a colony rears brood and its queen lays.

    A season that has ended begins again only after a rest.

    Examples
    --------
    >>> ant = load_species("lasius-niger")
    >>> ant.season.kind, ant.season.spring, ant.season.ended_by
    ('endogenous', '03-28', 'season.length_days')
    >>> load_species("oecophylla-smaragdina").season.numbers
    ()
    """

    # "endogenous" (it ends on a timer of the colony's own, however warm it is), "exogenous" (it
    # ends when days grow cool) or "none" (it never ends)
    kind: str
    source: str  # source, status: what the kind rests on; as of a `Number`
    status: str
    # Month and day on the northern hemisphere at which the season begins for a colony that has
    # had no rest yet, such as "03-15"; None if it never ends.
    spring: str | None = None
    note: str = ""

    @property
    def numbers(self) -> tuple[str, ...]:
        """Paths of the numbers that the profile holds of it; none if it never ends."""
        return SEASON_NUMBERS[self.kind]

    @property
    def basis(self) -> str:
        """What the kind rests on, in words."""
        return self.status if self.status == "assumed" else f"{self.status}, {self.source}"

    @property
    def without_rest(self) -> str:
        """What a colony does that gets no rest, and how far that is known."""
        told = {
            "endogenous": "it stops rearing on a timer of its own, which these dates know",
            "exogenous": "warm days keep its season open, and these dates go on by that",
            "none": "its season never ends where it is warm",
        }[self.kind]
        return f"{told} ({self.basis}); that it declines without a winter no date here knows"

    @property
    def ended_by(self) -> str | None:
        """Path of the number that tells its end: a length or a temperature; None if it has none."""
        return self.numbers[0] if self.numbers else None


@dataclass(frozen=True, repr=False)
class Species:
    """What is known of a species, as priors for the growth model.

    Attributes
    ----------
    name : str
        Of the profile: its file name without ".toml".
    scientific_name, common_name : str
    founding : str
        "claustral" (the queen eats nothing), "semi-claustral" (she forages), "sealed-tube" (she
        stays shut in and takes sugar water) or "dependent" (she does not found alone).
    climate : str
        "temperate", "warm-temperate" or "tropical".
    brood : str
        "naked pupae" or "cocoons".
    research_only : bool
        Not an ant to keep at home.
    numbers : mapping of str to Number
        By path, such as "laying.founding_rate"; see `PARAMETERS` for unit and meaning.
    curves : mapping of str to str
        Rate curve of "egg", "larva" and "pupa": "briere" or "degree-day".
    rest : Rest
    season : Season
    cautions : tuple of str
        What a keeper must take care of; local law comes first.
    sources : mapping of str to str
        Citations of the sources used, by key.
    milestones : tuple of MilestoneRule
        What a keeper looks forward to: the usual ones, as the profile amends them.
    native : Native
        Countries in parts of which it is native; none if the profile does not say.
    eats_seeds : bool
        Whether seeds are its staple.
    together : str
        What becomes of several queens who found together; empty if the profile does not say.
    lays_after_winter : bool
        Whether many of its queens lay only after their first winter.

    Examples
    --------
    >>> ant = load_species("lasius-niger")
    >>> ant
    Species('lasius-niger', Lasius niger, claustral, evidence fair)
    >>> ant.value("survival.pupa")
    0.99
    """

    name: str
    scientific_name: str
    common_name: str
    founding: str
    climate: str
    brood: str
    research_only: bool
    numbers: Mapping[str, Number]
    curves: Mapping[str, str]
    rest: Rest
    season: Season
    cautions: tuple[str, ...]
    sources: Mapping[str, str] = field(default_factory=dict)
    milestones: tuple[MilestoneRule, ...] = ()
    native: Native = Native()
    eats_seeds: bool = False
    lays_after_winter: bool = False
    together: str = ""

    def __post_init__(self) -> None:
        for name in ("numbers", "curves", "sources"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))

    def __reduce__(self) -> tuple[Any, ...]:
        # Read-only views cannot be pickled; plain copies can, and are sealed again on arrival.
        plain = (dict(v) if isinstance(v, Mapping) else v for v in vars(self).values())
        return type(self), tuple(plain)

    def __repr__(self) -> str:
        return (
            f"Species({told(self.name)}, {self.scientific_name}, {self.founding}, "
            f"evidence {self.grade})"
        )

    def __str__(self) -> str:
        return self.summary()

    def __contains__(self, path: object) -> bool:
        return path in self.numbers

    __iter__ = None  # a profile has numbers by path, and no order in which to go through them

    @takes(path=NAME)
    def __getitem__(self, path: str) -> Number:
        if path in self.numbers:
            return self.numbers[path]
        if path in PARAMETERS and path.startswith("season."):
            raise SpeciesError(
                f"{self.name}: a season of kind {told(self.season.kind)} has no {path} "
                f"({PARAMETERS[path].meaning}). See .season.numbers for those it has."
            )
        if path in PARAMETERS:
            raise SpeciesError(
                f"{self.name}: {path} is not known for this species "
                f"({PARAMETERS[path].meaning}). Measure it and add it to a profile of your own."
            )
        raise SpeciesError(
            f"{self.name}: no number is called {told(path)}.{near_miss(path, PARAMETERS)} "
            "See .evidence() for all."
        )

    @takes(path=NAME)
    def value(self, path: str) -> float:
        """Value of one number, in the unit of `PARAMETERS`.

        Raises
        ------
        SpeciesError
            If the profile has no such number.
        """
        return self[path].value

    @property
    def grade(self) -> str:
        """How well the durations are known: "good", "fair" or "thin".

        From the doubt that all three share: up to 0.12 good, up to 0.18 fair, above it thin.
        """
        spread = self.value("development.shared_spread")
        return "good" if spread <= 0.12 else "fair" if spread <= 0.18 else "thin"

    @takes(temperature_c=CELSIUS, level=LEVEL)
    def egg_to_worker_days(
        self, temperature_c: float = 25.0, level: float = 0.9
    ) -> tuple[float, float, float]:
        """Days from a laid egg to a worker at a constant temperature.

        Parameters
        ----------
        temperature_c : float
            [°C]
        level : float
            Of the central interval, between 0 and 1.

        Returns
        -------
        days, low, high : float
            Of brood that workers rear; the lone queen's is a little quicker
            (`workers.first_development`). Infinite where a stage stands still. [day]

        Examples
        --------
        >>> days, low, high = load_species("lasius-niger").egg_to_worker_days(25.0)
        >>> round(days), round(low), round(high)
        (53, 39, 71)
        """
        return egg_to_worker(self, temperature_c, NormalDist().inv_cdf((1 + level) / 2))

    def evidence(self) -> pd.DataFrame:
        """Return every number with what it rests on.

        Returns
        -------
        DataFrame
            Columns parameter, value, unit, spread, source, status, note. A spread of 0 marks what
            the model holds fixed.
        """
        return pd.DataFrame(
            [
                {"parameter": path} | {name: getattr(number, name) for name in EVIDENCE}
                for path, number in self.numbers.items()
            ],
            columns=["parameter", *EVIDENCE],
        )

    def summary(self) -> str:
        """Describe the profile in plain text: the ant, its numbers, cautions, sources."""
        return as_text(self)

    def _repr_html_(self) -> str:
        return as_html(self)

    def to_mapping(self) -> dict[str, Any]:
        """Return the profile as a nested plain dict of the TOML file's form, to be saved."""
        table: dict[str, Any] = {name: getattr(self, name) for name in TEXTS}
        table["cautions"] = list(self.cautions)
        rest = {name: found for name, found in vars(self.rest).items() if found not in (None, "")}
        table["rest"] = rest
        season = {name: found for name, found in vars(self.season).items() if found}
        table["season"] = season
        for path, number in self.numbers.items():
            _plant(table, path, {k: v for k, v in vars(number).items() if v != ""})
        for stage, curve in self.curves.items():
            _plant(table, CURVE_PATHS[stage], curve)
        usual = usual_milestones(self.founding, self.rest.needed)
        table["milestones"] = as_entries(self.milestones, usual)
        if self.together:
            table[TOGETHER] = self.together
        if self.eats_seeds:
            _plant(table, SEEDS, True)
        if self.lays_after_winter:
            _plant(table, AFTER_WINTER, True)
        if self.native.countries:
            table["native"] = vars(self.native) | {"countries": list(self.native.countries)}
        shipped = _citations()
        if own := {key: text for key, text in self.sources.items() if key not in shipped}:
            table["sources"] = own
        return table


TEXTS = ("scientific_name", "common_name", "founding", "climate", "brood", "research_only")
EVIDENCE = ("value", "unit", "spread", "source", "status", "note")


@takes(name_or_path=PATH)
def load_species(name_or_path: str | os.PathLike[str]) -> Species:
    """Load a species profile.

    Parameters
    ----------
    name_or_path : str or path
        Name of a shipped profile (see `list_species`), with a blank or a hyphen between its words,
        or path of a keeper's own TOML file.

    Raises
    ------
    SpeciesError
        If there is no such profile, or with every fault of the file at once.

    Examples
    --------
    >>> load_species("linepithema-humile").founding
    'dependent'
    >>> load_species("Lasius niger").name
    'lasius-niger'
    """
    shipped, path = _shipped(), as_path(name_or_path)
    name = "-".join(name_or_path.lower().split()) if isinstance(name_or_path, str) else ""
    if name in shipped:
        return _read(shipped[name], name, f"{name}.toml", own=False)
    if path.is_file():
        return _read(read_raw(path), path.stem, str(path), own=True)
    if path.suffix == ".toml" or len(path.parts) > 1:
        raise SpeciesError(
            f"{path}: there is no such file. Give the path of a species profile, or one of "
            f"{', '.join(shipped)}."
        )
    raise SpeciesError(
        f"no shipped species is called {str(name_or_path)!r}.{near_miss(str(path), shipped)} "
        f"Allowed: {', '.join(shipped)}, or the path of a profile of your own, ending in .toml."
    )


def copy_species(name: str, path: str | os.PathLike[str]) -> Path:
    """Write a shipped profile into a new .toml file of your own, to change."""
    shipped = _shipped()
    known = "-".join(name.lower().split())
    if known not in shipped:
        load_species(name)  # tells what is wrong with the name, unless it is a file
        raise SpeciesError(f"{name}: this is a file already. Copy one of {', '.join(shipped)}.")
    return save_profile(path, shipped[known].decode("utf-8"))


def list_species() -> pd.DataFrame:
    """List the shipped profiles.

    Returns
    -------
    DataFrame
        Columns name, scientific_name, common_name, founding, climate, rest_needed, research_only,
        evidence (how well the durations are known: good, fair, thin), egg_to_worker_days at 25 °C
        with its 90 % interval q05 to q95 [day], numbers, and assumed (how many of those are only
        assumed).
    """
    rows = []
    for name in _shipped():
        ant = load_species(name)
        days, low, high = ant.egg_to_worker_days(25.0)
        rows.append(
            {
                "name": name,
                "scientific_name": ant.scientific_name,
                "common_name": ant.common_name,
                "founding": ant.founding,
                "climate": ant.climate,
                "rest_needed": ant.rest.needed,
                "research_only": ant.research_only,
                "evidence": ant.grade,
                "egg_to_worker_days": days,
                "q05": low,
                "q95": high,
                "numbers": len(ant.numbers),
                "assumed": sum(n.status == "assumed" for n in ant.numbers.values()),
            }
        )
    return pd.DataFrame(rows)


def species_from_mapping(
    table: Mapping[str, Any], name: str, where: str, own: bool = True
) -> Species:
    """Build a species from a nested mapping, as `Species.to_mapping` gives, or a parsed profile.

    Errors name the file as `where`, and tell every fault at once. Shipped profiles are not the
    keeper's `own`, and may cite only shipped sources.
    """
    citations = _citations()
    checked = check_profile(table, citations, own)
    if checked.faults:
        count = len(checked.faults)
        listed = "\n".join(f"  {fault}" for fault in checked.faults)
        raise SpeciesError(f"{where}: {count} fault{'s' if count > 1 else ''}\n{listed}")
    texts, numbers = checked.texts, checked.numbers
    known = citations | checked.own_sources
    usual = usual_milestones(texts["founding"], texts["rest.needed"])
    milestones = amended(usual, table.get("milestones", []))
    native = native_from(table.get("native", {}))
    season = Season(
        kind=texts["season.kind"],
        source=texts["season.source"],
        status=texts["season.status"],
        spring=texts.get(SPRING),
        note=texts.get("season.note", ""),
    )
    sourced: list[Number | MilestoneRule | Native | Season] = [
        *numbers.values(), *milestones, native, season,
    ]  # fmt: skip
    used = {key for item in sourced for key in item.source.split(", ")}
    notes = [item.note for item in sourced] + [texts.get("rest.note", ""), texts.get(TOGETHER, "")]
    used |= set(re.findall(r"\w+", " ".join(notes)))  # what a guess rests on stands in its note
    warmth = numbers.get("rest.temperature_c")
    start, end = (texts.get(path) for path in REST_DATES)
    return Species(
        name=name,
        **{text: texts[text] for text in TEXTS},
        numbers={path: numbers[path] for path in PARAMETERS if path in numbers},
        curves={stage: texts[path] for stage, path in CURVE_PATHS.items()},
        rest=Rest(
            needed=texts["rest.needed"],
            start=start,
            end=end,
            temperature_c=warmth.value if warmth else None,
            note=texts.get("rest.note", ""),
        ),
        season=season,
        cautions=tuple(texts["cautions"]),
        sources={key: text for key, text in known.items() if key in used},
        milestones=milestones,
        native=native,
        eats_seeds=texts.get(SEEDS, False),
        lays_after_winter=texts.get(AFTER_WINTER, False),
        together=texts.get(TOGETHER, ""),
    )


def _read(raw: bytes, name: str, where: str, own: bool) -> Species:
    try:
        table = tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise SpeciesError(
            f"{where}: byte {error.start} is not UTF-8 text. Allowed: a TOML file in UTF-8. "
            "Save it again with that encoding."
        ) from error
    except (ValueError, RecursionError) as error:
        raise SpeciesError(
            f"{where}: not a TOML file: {error}. Allowed: the form that the README of the species "
            "folder describes. Correct that place; a shipped profile shows the form."
        ) from error
    return species_from_mapping(table, name, where, own)


def _shipped() -> dict[str, bytes]:
    """Read all shipped profiles, by name, in the order of the alphabet."""
    folder = files("antgrowth.datasets") / "species"
    found = [item for item in folder.iterdir() if item.name.endswith(".toml")]
    return {
        item.name.removesuffix(".toml"): item.read_bytes()
        for item in sorted(found, key=lambda item: item.name)
    }


def _citations() -> dict[str, str]:
    """Read the shipped sources: key to citation, its DOI, and what of it is from memory."""
    text = (files("antgrowth.datasets") / "sources.csv").read_text(encoding="utf-8")
    found = {}
    for row in csv.DictReader(text.splitlines()):
        doi = row["doi"] and f" doi:{row['doi']}"
        standing = row["standing"] and f" [{row['standing']}]"
        found[row["key"]] = row["citation"] + doi + standing
    return found


def _plant(table: dict[str, Any], path: str, leaf: Any) -> None:
    """Put a leaf into a nested dict at a dotted path."""
    *branches, last = path.split(".")
    for branch in branches:
        table = table.setdefault(branch, {})
    table[last] = leaf
