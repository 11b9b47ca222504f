"""Two years of every profile from its founding, beside what is known of the ant.

What a profile expects of a colony of which nothing is known but the day of its founding. Nothing is
tuned to what is known: what lies out of its range is named.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.resources import files

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.arrays import Floats
from antgrowth._core.pictures import picture
from antgrowth._core.stages import WORKERS
from antgrowth._core.stats import first_passage
from antgrowth._core.summary import Report, Shown, ants
from antgrowth.climate.dormancy import add_rests, dormancy_schedule
from antgrowth.climate.temperature import Temperature, constant
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.prior import Prior
from antgrowth.model.mean_field import grow
from antgrowth.model.parameters import Laws
from antgrowth.model.simulation import simulate
from antgrowth.species.profile import Species, list_species, load_species

FOUNDED = pd.Timestamp("2026-07-04")
YEAR = 365
ROOM_C, STEADY_C = 22.0, 25.0
"""Warmth of a room, with the winter of the species; and of a plan without any. [°C]"""

DAYS = (90, YEAR, 2 * YEAR)
MATURE_YEARS = 8
"""After so many years a colony is called mature here."""

PAIRS = 50
"""Of draws that mirror each other, so that each number's middle is that of the profile."""

NO_COURSE = (
    "its queens found with workers, and its colonies rear new queens and split, which the growth "
    "law does not know; no forecast is made of it"
)
COLUMNS = [
    "profile", "regime", "quantity", "q05", "q50", "q95", "low", "high", "status", "source", "note",
    "verdict",
]  # fmt: skip

REGIMES = (f"room, {ROOM_C:.0f} °C and winter", f"steady {STEADY_C:.0f} °C")


@dataclass(frozen=True, eq=False, repr=False)
class ProfileCourses(Shown):
    """Courses of profiles; made by `profile_courses`."""

    # A row for each profile, regime and quantity: columns profile, regime, quantity, q05, q50,
    # q95 (infinite: not within two years), low, high (of what is known; NaN where nothing is),
    # status, source, note, verdict ("in range", "LOW", "HIGH"; empty where nothing is known)
    table: pd.DataFrame
    # Median of the workers on each day of two years, by profile and regime.
    workers: dict[tuple[str, str], Floats]
    # Profiles of which no course is told: their queens do not found alone.
    without: tuple[str, ...] = ()

    @property
    def out_of_range(self) -> pd.DataFrame:
        """Rows whose median is not what is known of the ant."""
        return self.table[self.table["verdict"].isin(["LOW", "HIGH"])].reset_index(drop=True)

    def plot(self) -> NDArray[np.object_]:
        """Draw the median of the workers over two years, a panel a regime."""
        return picture("evaluation", "plot_courses", self)

    def __repr__(self) -> str:
        profiles = self.table["profile"].nunique()
        return f"ProfileCourses({profiles} profiles, {len(self.out_of_range)} values out of range)"

    def _report(self) -> Report:
        names = list(dict.fromkeys(self.table["quantity"]))
        rows: list[tuple[str, ...]] = []
        for (profile, regime), part in self.table.groupby(["profile", "regime"], sort=False):
            cells = part.set_index("quantity")
            rows.append((str(profile), str(regime), *(_cell(cells.loc[name]) for name in names)))
        return Report(
            title="Two years of every profile, from a lone queen of 4 July (medians, 90 % range)",
            facts=(
                ("days", "first egg, larva, pupa, worker: the day on which the median reaches one"),
                ("mature", f"expected after {MATURE_YEARS} years"),
                ("mark", "! out of the range of what is known; each is told below"),
            ),
            head=("profile", "regime", *names),
            align="ll" + "r" * len(names),
            rows=tuple(rows),
            closing=(
                *(("OUT OF RANGE", text) for text in self._out_of_range_words()),
                *(("NO COURSE", f"{name}: {NO_COURSE}") for name in self.without),
                ("others", "lie within what is known, or nothing is known of them"),
            ),
        )

    def _out_of_range_words(self) -> Iterator[str]:
        for row in self.out_of_range.to_dict("records"):
            known = f"{_bound(row['low'])} to {_bound(row['high'])}"
            basis = ", ".join(dict.fromkeys([row["status"], row["source"]]))
            held = "its 90 % range holds some of it" if _meets(row) else "IMPLAUSIBLE"
            yield (
                f"{row['profile']}, {row['regime']}: {row['quantity']} {_number(row['q50'])} is "
                f"{row['verdict']}; known {known} ({basis}); {held}"
            )


def profile_courses(names: Sequence[str] | None = None) -> ProfileCourses:
    """Let colonies of profiles grow for two years, in a room with a winter and at steady 25 °C.

    All that are shipped if not named.
    """
    known, rows, workers = known_courses(), [], {}
    species = [load_species(n) for n in (list_species()["name"] if names is None else names)]
    for ant in species:
        if ant.founding == "dependent":
            continue
        name = ant.name
        for regime, warmth in zip(REGIMES, (ROOM_C, STEADY_C), strict=True):
            values, workers[name, regime] = _course(ant, warmth, winter=warmth == ROOM_C)
            for quantity, levels in values.items():
                there = known[(known["profile"] == name) & (known["quantity"] == quantity)]
                told = there.iloc[0] if len(there) else None
                rows.append({"profile": name, "regime": regime, "quantity": quantity,
                             **dict(zip(("q05", "q50", "q95"), levels, strict=True)),
                             **_held_against(levels[1], told)})  # fmt: skip
    lacking = [ant.name for ant in species if ant.founding == "dependent"]
    return ProfileCourses(pd.DataFrame(rows, columns=COLUMNS), workers, tuple(lacking))


def known_courses() -> pd.DataFrame:
    """What is known of two years of each ant, with its standing.

    Columns profile, quantity, low, high (NaN where there is no bound), source, status, note.
    """
    with (files("antgrowth.datasets") / "published" / "courses.csv").open(encoding="utf-8") as file:
        table = pd.read_csv(file, keep_default_na=False, na_values={"low": [""], "high": [""]})
    return table


def _course(ant: Species, warmth_c: float, winter: bool) -> tuple[dict[str, Floats], Floats]:
    """Quantiles of what a table tells of one profile, and the median of its workers by day."""
    plan = _plan(ant, warmth_c, MATURE_YEARS * YEAR, winter)
    history = ColonyHistory(ant, plan, FOUNDED, True, None, 1, "north")
    rng = np.random.default_rng(1)
    prior = Prior.of(ant)
    half = rng.standard_normal((PAIRS, len(prior)))
    x = np.concatenate([half, -half])
    laws = prior.laws(prior.with_round_shifts(x, 0.5))
    paths = simulate(laws, history.forcing(2 * YEAR), rng)
    levels = [0.05, 0.5, 0.95]
    found = {}
    for place, stage in enumerate(("egg", "larva", "pupa", "worker")):
        days = first_passage(paths[:, :, place] >= 1)
        found[f"first {stage}"] = np.quantile(days, levels, method="inverted_cdf")
    for day in DAYS:
        found[f"workers on day {day}"] = np.quantile(paths[:, day, -1], levels)
    found["mature size"] = _mature(laws, history, levels)
    middle: Floats = np.median(paths[..., WORKERS], axis=0)
    return found, middle


def _mature(laws: Laws, history: ColonyHistory, levels: list[float]) -> Floats:
    """Most workers of the last year, as expected."""
    forcing = history.forcing(MATURE_YEARS * YEAR)
    counts = grow(laws, forcing).counts
    found: Floats = np.quantile(counts[:, -YEAR:, -1].max(axis=1), levels)
    return found


def _plan(ant: Species, warmth_c: float, days: int, winter: bool) -> Temperature:
    plan, first = constant(warmth_c), np.datetime64(FOUNDED, "D")
    schedule = dormancy_schedule(ant, "north", plan, first, first)
    if not winter or schedule is None:
        return plan
    return add_rests(plan, schedule, ant.value("laying.lower_c"), first, days)[0]


def _held_against(median: float, told: pd.Series | None) -> dict[str, object]:
    """Bounds of what is known, and where the median lies to them."""
    if told is None:
        return dict.fromkeys(("low", "high"), np.nan) | dict.fromkeys(
            ("status", "source", "note", "verdict"), ""
        )
    verdict = "LOW" if median < told["low"] else "HIGH" if median > told["high"] else "in range"
    if np.isnan(told["low"]) and np.isnan(told["high"]):
        verdict = ""
    return {**told[["low", "high", "status", "source", "note"]], "verdict": verdict}


def _meets(row: dict[object, object]) -> bool:
    """Whether the predicted range overlaps the known one."""
    low, high = (row[end] for end in ("low", "high"))
    return not (row["q95"] < low or row["q05"] > high)  # type: ignore[operator]


def _cell(row: pd.Series) -> str:
    mark = "!" if row["verdict"] in ("LOW", "HIGH") else ""
    span = f"{_number(row['q05'])}-{_number(row['q95'])}"
    return f"{mark}{_number(row['q50'])} ({span})"


def _number(value: float) -> str:
    return ants(value) if np.isfinite(value) else "never"


def _bound(value: float) -> str:
    return "?" if np.isnan(value) else f"{value:,.0f}"
