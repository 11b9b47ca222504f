"""A colony as a folder: counts, temperatures and what is said of it once, read together."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import pandas as pd

from antgrowth._api import Fit, fit
from antgrowth._core.arguments import LEVEL, NAME, PATH, takes
from antgrowth._core.dates import as_day
from antgrowth._core.files import as_path
from antgrowth._core.summary import Report, Shown
from antgrowth._core.text import near_miss, told
from antgrowth._core.validation import is_whole
from antgrowth.care.outdoors import STAY
from antgrowth.climate.forgotten_rest import ForgottenRest, forgotten_rests
from antgrowth.climate.temperature import Temperature
from antgrowth.colony.climate import TEMPERATURE_FILE, temperature_of, weather_of
from antgrowth.colony.settings import SETTINGS_FILE, read_settings
from antgrowth.errors import AntgrowthError, TemperatureError, TemperatureGapError
from antgrowth.food.feed_log import FeedLog, read_feeds
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.posterior import founding_day
from antgrowth.io.changes import ChangeLog, read_changes
from antgrowth.io.counts import CountLog, read_counts
from antgrowth.species.comfort import comfort
from antgrowth.species.milestones import milestone_faults
from antgrowth.species.parameters import Number
from antgrowth.species.profile import Species, load_species

if TYPE_CHECKING:
    from antgrowth.care.plan import CarePlan
    from antgrowth.forecast.paths import Forecast

COUNTS_FILE, CHANGES_FILE, FEEDS_FILE = "counts.csv", "changes.csv", "feeds.csv"

RESULT_FILES = ("forecast.csv", "arrival.csv")
"""Tables that the command line writes beside the keeper's own."""

_ONE_DAY = pd.Timedelta("1D")
_Part = TypeVar("_Part")


@dataclass(frozen=True, eq=False, repr=False)
class Colony(Shown):
    """A keeper's colony, read from its folder by `load_colony`.

    Attributes
    ----------
    name : str
    counts : CountLog
    temperature : Temperature
        The record, with the plans and rests of colony.toml.
    species : Species
    queen_since : Timestamp or None
        The day the queen sat alone without brood; None if the colony came part-grown.
    queens : int
        Egg-laying queens at the start.
    changes : ChangeLog or None
        What came and went other than by birth and death; None without a changes.csv.
    feeds : FeedLog or None
        What was offered and what was left of it; None without a feeds.csv.
    weather : Temperature or None
        Of the place outdoors; None if colony.toml does not speak of outdoors.
    settings : mapping
        What colony.toml says, as written there.
    """

    name: str
    counts: CountLog
    temperature: Temperature
    species: Species
    queen_since: pd.Timestamp | None
    queens: int
    changes: ChangeLog | None
    feeds: FeedLog | None
    weather: Temperature | None
    settings: Mapping[str, Any] = field(repr=False)

    def __reduce__(self) -> tuple[Any, ...]:
        # A read-only view cannot be pickled; a plain copy can, and is as good for a reader.
        return type(self), (*(vars(self)[f.name] for f in fields(self)[:-1]), dict(self.settings))

    def fit(self, rng: int | np.random.Generator | None = None) -> Fit:
        """Fit the growth model to this colony; see `antgrowth.fit`.

        Parameters
        ----------
        rng : int, numpy.random.Generator or None
            Seed or source of chance for the posterior draws.
        """
        return fit(
            self.counts,
            self.temperature,
            self.species,
            queen_since=self.queen_since,
            queens=self.queens,
            changes=self.changes,
            hemisphere=self.settings.get("hemisphere"),
            rng=rng,
        )

    def _comfort(self) -> str:
        """Whether the last weeks without rest were too cool or too warm for the ant."""
        last = np.datetime64(self.counts.end, "D")
        try:
            usual = self.temperature.typical_day(last)
        except TemperatureError:
            return "no day without rest is known of the last year"
        cells = self.counts.frame
        housed = (cells.loc[cells["stage"] == "workers", "high"] > 0).any()
        phase = "housed" if housed or self.queen_since is None else "founding"
        found = comfort(self.species, phase).sentence(float(usual.hours(last, 1).mean()))
        return f"by the last note {found}"

    @staticmethod
    def _after(end: pd.Timestamp) -> str:
        """What a forecast takes for the days that no reading tells."""
        return (
            f"after {end:%Y-%m-%d}, the last reading: taken as the mean of two weeks before it, "
            "with the rests of colony.toml and those that the species needs; to say otherwise, "
            "write below [temperature] after = { constant_c = 24.0 }"
        )

    @property
    def forgotten_rests(self) -> tuple[ForgottenRest, ...]:
        """Seasons that the notes span without the rest that the species needs."""
        since = self.counts.start if self.queen_since is None else self.queen_since
        days = (np.datetime64(day, "D") for day in (since, self.counts.end))
        hemisphere = self.settings.get("hemisphere")
        return forgotten_rests(self.species, hemisphere, self.temperature, *days)

    @takes(level=LEVEL)
    def care_plan(self, forecast: Forecast, level: float = 0.9) -> CarePlan:
        """Plan the care of this colony as colony.toml asks for; see `antgrowth.care_plan`.

        Parameters
        ----------
        forecast : Forecast
            Of a fit of this colony.
        level : float
            Probability of the windows.
        """
        from antgrowth.care.planner import care_plan

        said = self.settings
        outdoors = said.get("outdoors", {})
        stay = {key: outdoors[key] for key in STAY if key in outdoors}
        return care_plan(
            forecast,
            milestones=said.get("milestones", []),
            nests=said.get("nests", []),
            weather=self.weather,
            outdoors=stay if self.weather is not None else None,
            feeds=self.feeds,
            hemisphere=said.get("hemisphere"),
            country=said.get("country"),
            level=level,
        )

    def __repr__(self) -> str:
        log = self.counts
        size = f"{len(log.frame)} counts on {len(log)} dates until {log.end:%Y-%m-%d}"
        return f"Colony({self.name!r}, {self.species.name}, {size})"

    def _report(self) -> Report:
        ant = self.species
        facts = [
            (
                "species",
                f"{ant.scientific_name} ({ant.common_name}), {ant.founding}, {ant.climate}; "
                f"evidence {ant.grade}",
            )
        ]
        if ant.research_only:
            facts.append(("use", "research only: not an ant to keep at home"))
        since = "not given: the colony came part-grown"
        if self.queen_since is not None:
            age = (self.counts.end - self.queen_since) // _ONE_DAY
            since = f"{self.queen_since:%Y-%m-%d}, {age} days before the last note"
        facts.append(("queen since", since))
        if self.queens > 1:
            facts.append(("queens", str(self.queens)))
        facts.append(("temperature", self.temperature.describe()))
        facts += [("", finding) for finding in self.temperature.findings]
        facts.append(("", self._comfort()))
        if (end := self.temperature.ends()) is not None:
            facts.append(("", self._after(end)))
        for rest in self.forgotten_rests:
            facts.append(("REST", f"{rest.found()}; {rest.remedy()}"))
        for label, fact in self.counts._facts():
            facts.append((label, fact.partition(" (see ")[0]))  # those names are of the log's own
        if self.changes is not None:
            facts.append(("changes", self.changes._extent()))
        if self.feeds is not None:
            facts.append(("feeds", self.feeds._extent()))
            facts += [("", finding) for finding in self.feeds.findings]
        cells = self.counts.summary_frame().rename_axis(index="stage").reset_index()
        return Report(
            title=f"Colony: {self.name}",
            facts=tuple(facts),
            head=tuple(cells.columns),
            align="l" + "r" * (len(cells.columns) - 1),
            rows=tuple(tuple(map(str, row)) for row in cells.to_numpy()),
        )


@takes(folder=PATH)
def load_colony(folder: str | os.PathLike[str]) -> Colony:
    """Read a colony from its folder.

    Parameters
    ----------
    folder : str or path
        Holds colony.toml and counts.csv, temperature.csv unless colony.toml gives the temperature,
        and, if there is something to tell, changes.csv and feeds.csv.

    Returns
    -------
    colony : Colony

    Raises
    ------
    AntgrowthError
        With the faults of all files of the folder at once, and what contradicts between them: notes
        or changes before the queen, more queens lost than there were, days without a temperature.

    Notes
    -----
    counts.csv is read by `read_counts`, temperature.csv by `read_temperature`, changes.csv by
    `read_changes`, feeds.csv by `read_feeds`. Keys of colony.toml:

    ===================================  ===========================================================
    ``species``                          a name of `list_species`, or the path of a profile of your
                                         own, from the folder on
    ``queen_since``                      the day the queen sat alone without brood; left out for a
                                         colony that came part-grown
    ``queens``                           how many laid eggs at the start; 1 if left out
    ``protein_from_workers``             prey is offered from so many workers on; as usual for the
                                         species if left out
    ``name``                             of the colony; else that of the folder
    ``hemisphere``, ``country``          "north" or "south"; the two-letter code of ISO 3166-1
    ``[temperature] constant_c``         without temperature.csv: steady all the time [°C]; or
    ``day_c, night_c, day_hours``        by day and by night [°C, °C, h]
    ``before``, ``after``                with temperature.csv: what was before its first and comes
                                         after its last day, ``after = { constant_c = 24.0 }``
    ``tz``, ``unit``                     time zone of the keeper's clock, "C" or "F", for
                                         temperature.csv
    ``bridge_days``                      gaps of up to so many days are filled by the daily pattern
                                         of both sides, and told; 5 if left out, 0 for none
    ``[rest] start, end``                first day of a rest, and the day on which it is over; at
                                         the logged or planned temperature, or, on days without a
                                         reading, at its own ``temperature_c``; ``[[rest]]`` for
                                         each of several
    ``[[milestones]]``                   amend those of the species by ``id``; see the README of the
                                         species folder
    ``[[nests]]``                        each nest in the order of use; see `antgrowth.nest_room`
    ``[outdoors] workers, weeks,``       for a stay outdoors; see `antgrowth.outdoor_windows`
    ``chance``
    ``normals_c``, ``daily_range_c``     12 monthly means of the place [°C], from night to day [°C];
    ``weather``                          or a record of its weather, a file of the folder
    ===================================  ===========================================================

    Examples
    --------
    >>> load_colony(demo_colony("warm-country-camponotus")).species
    Species('species', Camponotus sp., claustral, evidence thin)
    """
    path = as_path(folder)
    if not path.is_dir():
        raise AntgrowthError(
            f"{path}: there is no such folder. Give the folder that holds {SETTINGS_FILE} and "
            f"{COUNTS_FILE}; the path starts at {Path.cwd()}."
        )
    checked = read_settings(path)
    said = checked.settings
    faults = [f"{SETTINGS_FILE}: {fault}" for fault in checked.faults] + _misnamed(path)
    name = str(said.get("name", path.resolve().name))
    counts = _try(faults, lambda: read_counts(path / COUNTS_FILE, name=name))
    # Its faults are listed already; without its time zone a record would only seem to have more.
    sound = not any(fault.startswith("temperature") for fault in checked.faults)
    temperature = _try(faults, lambda: temperature_of(path, checked)) if sound else None
    wanted = said.get("species")
    species = _try(faults, lambda: _species(path, said)) if isinstance(wanted, str) else None
    changes = _optional(faults, path / CHANGES_FILE, read_changes)
    feeds = _optional(faults, path / FEEDS_FILE, read_feeds)
    weather = None
    # A fault of the stay hides none of the weather; any other may be a weather that is misnamed.
    own = tuple(f"outdoors.{key} =" for key in STAY)
    if not any(f.startswith("outdoors") and not f.startswith(own) for f in checked.faults):
        weather = _try(faults, lambda: weather_of(path, said.get("outdoors")))
    if species is not None:
        asked = milestone_faults(said.get("milestones", []), species.milestones, None, own=True)
        faults += [f"{SETTINGS_FILE}: {fault}" for fault in asked]
    queen_since = _told_day(said.get("queen_since"))
    queens = said.get("queens", 1)
    if counts is not None and species is not None:
        faults += _contradictions(counts, temperature, species, queen_since, changes, queens)
    if faults or counts is None or temperature is None or species is None:
        raise _all(path, faults)
    return Colony(
        name, counts, temperature, species, queen_since, queens, changes, feeds, weather,
        MappingProxyType(said),
    )  # fmt: skip


def _told_day(text: Any) -> pd.Timestamp | None:
    """The day that a setting names; None if there is none, or its fault is told already."""
    try:
        return None if text is None else pd.Timestamp(as_day(text, "queen_since"))
    except AntgrowthError:
        return None


def _contradictions(
    counts: CountLog,
    temperature: Temperature | None,
    species: Species,
    queen_since: pd.Timestamp | None,
    changes: ChangeLog | None,
    queens: Any,
) -> list[str]:
    """What the files of a folder say against one another, as far as they can be read."""
    faults: list[str] = []
    begun: pd.Timestamp | None = counts.start
    if queen_since is not None:
        begun = _try(faults, lambda: founding_day(counts, species, queen_since))
    if begun is not None and temperature is not None:
        days = (counts.end - begun) // _ONE_DAY + 1
        _try(faults, lambda: temperature.hours(begun, days))
    if changes is not None and temperature is not None and is_whole(queens, 1):
        first, founded = counts.start if queen_since is None else queen_since, bool(queen_since)
        # A history refuses changes that cannot have been.
        _try(faults, lambda: ColonyHistory(species, temperature, first, founded, changes, queens))
    return faults


@takes(name=NAME)
def demo_colony(name: str) -> Path:
    """Find the folder of a demo colony. All of them are invented.

    Parameters
    ----------
    name : str
        "garden-ant-first-year" or "warm-country-camponotus"; "breeders-shelf" holds six folders of
        colonies, for `fit_many`.

    Returns
    -------
    folder : Path
        Part of the package: copy it before you change anything. Its README says what is in it.

    Raises
    ------
    AntgrowthError
        If there is no demo colony of that name.

    Examples
    --------
    >>> load_colony(demo_colony("garden-ant-first-year")).name
    'garden ant, first year'
    """
    home = Path(str(files("antgrowth.datasets") / "colonies"))
    names = sorted({path.relative_to(home).parts[0] for path in home.rglob(SETTINGS_FILE)})
    if name not in names:
        raise AntgrowthError(
            f"demo_colony: no demo colony is called {told(name)}.{near_miss(name, names)} "
            f"Allowed: {', '.join(names)}. Give one of them; for a folder of your own use "
            "load_colony."
        )
    return home / name


def _species(folder: Path, said: Mapping[str, Any]) -> Species:
    """The profile, with the keeper's own choice of when prey starts."""
    wanted = said["species"]
    own = folder / wanted
    ant = load_species(own if own.is_file() or own.suffix == ".toml" else wanted)
    chosen = said.get("protein_from_workers")
    if chosen is None or not is_whole(chosen, 0):
        return ant
    practice = "common practice"
    prey = Number(float(chosen), 0.0, "worker", practice, practice, "Set in colony.toml.")
    return replace(ant, numbers={**ant.numbers, "food.protein_from_workers": prey})


def _misnamed(folder: Path) -> list[str]:
    """Find tables that nobody would read, though their name is almost one that is read."""
    known = (COUNTS_FILE, TEMPERATURE_FILE, CHANGES_FILE, FEEDS_FILE)
    free = [name for name in known if not (folder / name).is_file()]
    return [
        f"{found}: a table of that name is not read.{near} Rename it, or move it elsewhere."
        for found in sorted(path.name for path in folder.glob("*.csv"))
        if found not in (*known, *RESULT_FILES) and (near := near_miss(found, free))
    ]


def _optional(faults: list[str], path: Path, read: Callable[[Path], _Part]) -> _Part | None:
    """Read a table that need not be there."""
    return _try(faults, lambda: read(path)) if path.is_file() else None


def _try(faults: list[str], read: Callable[[], _Part]) -> _Part | None:
    """Read one part of the folder; note what is wrong with it."""
    try:
        return read()
    except TemperatureGapError as error:
        faults.append(
            f"{error}\nIn {SETTINGS_FILE}, below [temperature], before = {{ constant_c = 24.0 }} "
            "stands for the days before the first reading, after = { constant_c = 24.0 } for those "
            f"after the last, and bridge_days = 14 bridges longer gaps within {TEMPERATURE_FILE}."
        )
    except AntgrowthError as error:
        faults.append(str(error))
    return None


def _all(folder: Path, faults: list[str]) -> AntgrowthError:
    head = f"{folder}: this colony cannot be read as it stands."
    return AntgrowthError("\n".join([head, *faults]))
