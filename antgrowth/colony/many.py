"""Many colonies at once: fitted side by side, and told of in one table."""

from __future__ import annotations

import os
import zlib
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeAlias

import numpy as np
import pandas as pd

from antgrowth._api import Fit
from antgrowth._core.arguments import ANTS, DAYS_AHEAD, PATH, RNG, optional, takes
from antgrowth._core.deprecation import Former
from antgrowth._core.pictures import picture
from antgrowth._core.progress import each
from antgrowth._core.random import seeded
from antgrowth._core.summary import Report, Shown, in_words
from antgrowth._core.text import counted, printed, told
from antgrowth._core.validation import Value
from antgrowth.colony.folder import Colony, load_colony
from antgrowth.colony.settings import SETTINGS_FILE
from antgrowth.errors import AntgrowthError
from antgrowth.forecast.arrival import Arrival
from antgrowth.inference.species_rank import SpeciesRank, place_in_species

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Path_: TypeAlias = str | os.PathLike[str]
Named: TypeAlias = Mapping[str, Colony | Path_]

COLONIES = Value(
    "at least one colony or its folder, each under a name of its own, for example "
    "fit_many({'tube 1': 'folder/of/tube-1', 'tube 2': 'folder/of/tube-2'}), or a folder that "
    "holds such folders",
    lambda found: PATH.holds(found) or _has_items(found),
)

EXECUTOR = Value(
    "an Executor, such as concurrent.futures.ProcessPoolExecutor(2)",
    lambda found: isinstance(found, Executor),
)

LOOK_AGAIN_DAYS = 28
"""A colony whose last note is so much older than the latest of all needs a look. [day]"""


@dataclass(frozen=True, eq=False)
class Kept:
    """A colony among many: its fit, its date, and what stands out."""

    fit: Fit
    arrival: Arrival  # when it holds the number of workers asked for
    species_rank: SpeciesRank  # where it stands among its species
    alerts: tuple[str, ...]  # kinds of what stands out in its notes
    workers: float  # most probable number of workers at its last note

    placing = Former("species_rank")


@dataclass(frozen=True, eq=False, repr=False)
class ColonyFits(Mapping[str, Fit], Shown):
    """Many colonies fitted alike; made by `fit_many`. A mapping from name to `Fit`.

    Attributes
    ----------
    kept : dict of str to Kept
        By name, in the order of the names.
    failed : dict of str to str
        Colonies that could not be fitted, and why.
    awaited : int
        Number of workers whose date is told.
    """

    kept: dict[str, Kept]
    failed: dict[str, str]
    awaited: int

    def __getitem__(self, name: str) -> Fit:
        return self.kept[name].fit

    def __iter__(self) -> Iterator[str]:
        return iter(self.kept)

    def __len__(self) -> int:
        return len(self.kept)

    @cached_property
    def table(self) -> pd.DataFrame:
        """What `frame` gives a copy of."""
        return _table(self)

    def frame(self) -> pd.DataFrame:
        """Tell of all colonies.

        Returns
        -------
        DataFrame
            One row a colony, those first that move next: colony, species, last_note, workers (most
            probable number then), first, median, last (of the 90 % interval of the date; NaT beyond
            the horizon), standing ("ahead", "on track", "behind"), look ("" or why it needs one).
            Colonies that failed come last, with the reason as `look`.
        """
        return self.table.copy()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the dates of all colonies, those first that move next."""
        return picture("colony", "plot_colonies", self, ax=ax)

    @in_words
    def sentence(self) -> str:
        """Who moves next, who needs a look, who failed."""
        told = self.table[self.table["median"].notna()]
        number = counted(self.awaited, "worker")
        parts = [f"{counted(len(self), 'colony', 'colonies')} fitted"]
        waiting = told[[not self.kept[name].arrival.reached for name in told["colony"]]]
        if len(waiting):
            first = waiting.iloc[0]
            parts.append(
                f"next to hold {number}: {first['colony']}, "
                f"{self.kept[first['colony']].arrival.when(short=True)}"
            )
        look = self.table[(self.table["look"] != "") & self.table["standing"].ne("")]
        if len(look):
            parts.append(f"{len(look)} {'needs' if len(look) == 1 else 'need'} a look")
        if self.failed:
            parts.append(f"{len(self.failed)} could not be fitted")
        return "; ".join(parts) + "."

    def _report(self) -> Report:
        rows = []
        for row in self.table.to_dict("records"):
            kept = self.kept.get(row["colony"])
            when = "" if kept is None else kept.arrival.when()
            workers = "" if pd.isna(row["workers"]) else f"{row['workers']:.0f}"
            last = "" if pd.isna(row["last_note"]) else f"{row['last_note']:%Y-%m-%d}"
            rows.append((row["colony"], last, workers, when, row["standing"], row["look"]))
        return Report(
            title=f"Colonies, and when they hold {counted(self.awaited, 'worker')}",
            facts=(("in short", self.sentence()),),
            head=("colony", "last note", "workers", "date (90 % interval)", "standing", "look"),
            align="llrlll",
            rows=tuple(rows),
        )

    def __repr__(self) -> str:
        return f"ColonyFits({self.sentence()})"


@takes(
    colonies=COLONIES, workers=ANTS, days=DAYS_AHEAD, executor=optional(EXECUTOR), rng=RNG,
)  # fmt: skip
def fit_many(
    colonies: Named | Iterable[Colony | Path_] | Path_,
    *,
    workers: int = 30,
    days: int = 365,
    executor: Executor | None = None,
    rng: int | np.random.Generator | None = None,
) -> ColonyFits:
    """Fit many colonies and foresee their dates.

    Parameters
    ----------
    colonies : mapping or iterable of Colony or path, or path
        Under names of your own, or under those of the colonies and folders. A path is a colony's
        folder; one alone is a folder of such folders.
    workers : int
        Number whose date is told.
    days : int
        How far to look ahead. [day]
    executor : concurrent.futures.Executor, optional
        Who does the work: processes of this machine, or a cluster whose library offers this
        interface. If not given, one colony after the other. Neither it nor the order changes any
        number.
    rng : int, numpy.random.Generator or None
        Seed or source of chance, from which each colony gets a seed by its name.

    Returns
    -------
    ColonyFits
        A colony that cannot be fitted is told in its `failed`, while the rest goes on.

    Raises
    ------
    AntgrowthError
        If there is no colony, or two have one name.
    """
    seed, _ = seeded(rng)
    named = _named(colonies)
    asked = [(name, colony, workers, days, seed) for name, colony in named.items()]
    if executor is None:
        results = each(lambda one: _keep(*one), asked, "colonies")
    else:
        tasks = [executor.submit(_keep, *one) for one in asked]
        results = each(lambda task: task.result(), tasks, "colonies")
    found = dict(zip(named, results, strict=True))
    return ColonyFits(
        {name: kept for name in named if isinstance(kept := found[name], Kept)},
        {name: why for name in named if isinstance(why := found[name], str)},
        workers,
    )


def colony_folders(home: str | os.PathLike[str]) -> list[Path]:
    """Folders of colonies directly below one, by name."""
    return sorted(path.parent for path in Path(home).glob(f"*/{SETTINGS_FILE}"))


def _named(colonies: Named | Iterable[Colony | Path_] | Path_) -> dict[str, Colony | Path_]:
    if isinstance(colonies, str | os.PathLike):
        colonies = colony_folders(colonies)
    pairs = colonies.items() if isinstance(colonies, Mapping) else ((None, c) for c in colonies)
    named: dict[str, Colony | Path_] = {}
    for given, colony in pairs:
        if not (isinstance(colony, Colony) or PATH.holds(colony)):
            _refuse(f"{told(colony)} is no colony")
        own = colony.name if isinstance(colony, Colony) else Path(colony).name
        name = own if given is None else printed(given) or own
        if name in named:
            _refuse(f"two colonies are called {name!r}")
        named[name] = colony
    if not named:
        _refuse("there is no colony")
    return dict(sorted(named.items()))


def _has_items(found: Any) -> bool:
    if isinstance(found, str | os.PathLike):
        return False
    try:
        iter(found)
    except TypeError:
        return False
    return True


def _refuse(why: str) -> NoReturn:
    raise AntgrowthError(f"fit_many: {why}. Give {COLONIES.allowed}.")


def _keep(name: str, colony: Colony | Path_, workers: int, days: int, seed: int) -> Kept | str:
    """Fit one colony and foresee its date; the reason where that cannot be."""
    own = zlib.crc32(f"{seed} {name}".encode())
    try:
        if not isinstance(colony, Colony):
            colony = load_colony(colony)
        fit = colony.fit(rng=own)
        ahead = fit.forecast(days=days, rng=own)
        alerts = tuple(alert.kind for alert in fit.alerts())
        rank = place_in_species(fit)
        return Kept(fit, ahead.arrival(workers), rank, alerts, ahead.workers_now)
    except AntgrowthError as error:
        return str(error)


def _table(colonies: ColonyFits) -> pd.DataFrame:
    latest = max((k.fit.counts.end for k in colonies.kept.values()), default=pd.Timestamp(0))
    rows = []
    for name, kept in colonies.kept.items():
        first, last = kept.arrival.interval()
        end = kept.fit.counts.end
        why = [*kept.alerts]
        if (latest - end).days >= LOOK_AGAIN_DAYS:
            why.append(f"last note {counted((latest - end).days, 'day')} before the others'")
        rows.append(
            {
                "colony": name, "species": kept.fit.species.name, "last_note": end,
                "workers": kept.workers, "first": first, "median": kept.arrival.median,
                "last": last, "standing": kept.species_rank.verdict, "look": "; ".join(why),
            }
        )  # fmt: skip
    rows.sort(key=lambda row: (row["median"] is pd.NaT, row["median"], row["colony"]))
    for name, why_not in colonies.failed.items():
        rows.append({"colony": name, "standing": "", "look": why_not})
    columns = ["colony", "species", "last_note", "workers", "first", "median", "last",
               "standing", "look"]  # fmt: skip
    frame = pd.DataFrame(rows, columns=columns)
    dates = ["last_note", "first", "median", "last"]
    return frame.assign(**{name: pd.to_datetime(frame[name]) for name in dates})
