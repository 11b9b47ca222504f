"""Make notes, thermometer record and weighed feeds of the demo colonies, which are invented.

``python datasets/make_demo_colonies.py`` writes counts.csv, temperature.csv and feeds.csv of the
folders in ``colonies``; their other files are written by hand. The same program and the same seeds
give the same bytes. A colony is drawn from the prior of its species and grown by
`antgrowth.model.simulation`; then a keeper looks now and then, overlooks some eggs and larvae,
misjudges numbers, and writes what she feels like. Nothing is adjusted afterwards: of a scenario's
colonies the first one is taken that holds, on the last day, as many workers as the scenario wants
and never lost nearly all before. Where she weighs feeds, the colony eats what it needs times a
factor of its own.
"""

from __future__ import annotations

import csv
import io
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

import antgrowth as ag
from antgrowth._core.stages import STAGES
from antgrowth.food.budget import Diet, Needs, body_masses, needs_along
from antgrowth.food.energetics import Constants
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.prior import Prior, forcing_of
from antgrowth.model.parameters import Laws
from antgrowth.model.simulation import simulate
from antgrowth.model.thermal_forcing import ThermalForcing

COLONIES = Path(__file__).parent / "colonies"

WEIGHED_MG = 1.0
"""Standard deviation by which a keeper's scale errs. [mg]"""

CANDIDATES = 100
"""Colonies drawn for a scenario, of which the first that fits is taken."""

GOAL = 30
"""The colony must never have had so many workers: its keeper waits for them."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Keeper:
    """How a keeper looks and writes. All numbers assumed."""

    gap_days: float
    """Mean days between looks."""
    rest_gap_days: float
    """The same while the colony rests, when only workers are counted."""
    first: float
    """Chance that the first number of a stage is written `first`."""
    written: tuple[float, float, float, float]
    """Chance that a stage is counted at a look, in life order."""
    glance: float = 0.15
    """Chance that a number is only a glance, written ~12."""
    between: float = 0.25
    """Chance that a number from 8 on is written as a range, such as 10-15."""
    seen: tuple[float, float, float, float] = (0.92, 0.95, 1.0, 1.0)
    """Share of each stage that she sees."""
    error: float = 0.07
    """Log-sd of the factor by which she misjudges a number; a glance is three times as bad."""


@dataclass(frozen=True)
class Dish:
    """One kind of food that she weighs. All numbers assumed."""

    food: str
    holds: float
    """Share of its mass that counts: sugar or protein."""
    portion_mg: float
    gap_days: tuple[int, int]
    """Fewest and most days from one portion to the next."""
    intake: float
    """What the colony takes, over what the budget says it needs."""
    appetite: float = 0.4
    """Log-sd of that from meal to meal."""
    dries: tuple[float, float] = (0.15, 0.4)
    """Least and largest share of a portion that dries up."""
    weighed: float = 0.85
    """Chance that she weighs what is left, and the control."""


@dataclass(frozen=True)
class Scenario:
    """One demo colony; everything else stands in its colony.toml."""

    folder: str
    seed: int
    last: str
    """Date of the last note."""
    workers: tuple[int, int]
    """Fewest and most workers on that day."""
    floor: int
    """Once the colony has had so many workers, it must never have fewer: most colonies that lose
    nearly all are given up, and tell little."""
    pupae: str
    """Heading of the pupae."""
    keeper: Keeper
    seasons: tuple[tuple[str, float, float], ...] = ()
    """Date, mean of the day and half the daily swing [°C], straight lines between; they make the
    logger's record. Without any there is no logger, and colony.toml tells the plan."""
    dishes: tuple[Dish, ...] = ()
    """What she weighs from `feeds_from` on."""
    feeds_from: str = ""


SCENARIOS = (
    Scenario(
        folder="garden-ant-first-year",
        seed=11,
        last="2026-05-24",
        workers=(15, 20),
        floor=6,
        pupae="pupae",
        keeper=Keeper(10, 32, first=0.7, written=(0.55, 0.6, 0.65, 0.8)),
        seasons=(
            ("2025-07-19", 24.5, 2.5),
            ("2025-08-20", 24.5, 2.5),
            ("2025-09-10", 22.0, 2.5),
            ("2025-10-01", 19.0, 2.0),
            ("2025-11-13", 13.0, 1.0),
            ("2025-11-16", 9.0, 0.5),
            ("2026-02-26", 9.0, 0.5),
            ("2026-03-03", 15.0, 1.5),
            ("2026-03-20", 19.0, 2.0),
            ("2026-04-15", 21.0, 2.5),
            ("2026-05-24", 23.0, 2.5),
        ),
        dishes=(
            Dish("20 % sugar water", 0.2, 50.0, (2, 4), intake=0.7),
            Dish("house cricket", 0.203, 60.0, (3, 5), intake=1.4),
        ),
        feeds_from="2026-03-08",
    ),
    Scenario(
        folder="warm-country-camponotus",
        seed=1,
        last="2026-02-22",
        workers=(12, 18),
        floor=6,
        pupae="cocoons",
        keeper=Keeper(8, 8, first=1.0, written=(0.06, 0.06, 0.1, 0.5)),
    ),
    *(
        Scenario(
            folder=f"breeders-shelf/tube-{tube}",
            seed=200 + tube,
            last=last,
            workers=workers,
            floor=6,
            pupae="pupae",
            keeper=Keeper(9, 9, first=0.5, written=(0.4, 0.4, 0.6, 0.9)),
        )
        for tube, last, workers in (
            (1, "2026-09-06", (8, 16)),
            (2, "2026-09-06", (18, 27)),
            (3, "2026-09-05", (8, 16)),
            (4, "2026-07-29", (2, 8)),
            (5, "2026-09-06", (12, 20)),
            (6, "2026-09-04", (6, 10)),
        )
    ),
)


def generated() -> dict[str, str]:
    """Make all files anew.

    Returns
    -------
    dict of str to str
        Text of each file, by its path from `COLONIES` on.
    """
    texts: dict[str, str] = {}
    for scenario in SCENARIOS:
        rng = np.random.default_rng(scenario.seed)
        said = tomllib.loads((COLONIES / scenario.folder / "colony.toml").read_text("utf-8"))
        start = np.datetime64(said["queen_since"], "D")
        dates = np.arange(start, np.datetime64(scenario.last, "D") + 1)
        hours_c = _hours(scenario, said, dates, rng)
        resting = _resting(said, dates)
        forcing = _forcing(scenario, said, hours_c, resting)
        path, laws = _colony(scenario, said, forcing, rng)
        looks = _looks(scenario.keeper, resting, rng)
        rows = _notes(scenario, path[looks], resting[looks], rng)
        texts[f"{scenario.folder}/counts.csv"] = _table(
            ("date", *STAGES[:2], scenario.pupae, STAGES[3], "note"),
            [(str(date), *row) for date, row in zip(dates[looks], rows, strict=True)],
        )
        if scenario.seasons:
            texts[f"{scenario.folder}/temperature.csv"] = _record(dates, hours_c, rng)
        if scenario.dishes:
            need = _needs(scenario, said, path, laws, hours_c, forcing)
            # Chance of its own: with or without feeds, notes and record are the same.
            chance = np.random.default_rng((scenario.seed, 1))
            texts[f"{scenario.folder}/feeds.csv"] = _feeds(scenario, dates, need, chance)
    return texts


def _hours(
    scenario: Scenario, said: dict[str, Any], dates: NDArray, rng: np.random.Generator
) -> Floats:
    """Temperatures [°C] that the colony lives through, shape (days, 24)."""
    if scenario.seasons:
        since = (dates - dates[0]).astype(float)
        knots, means, swings = zip(*scenario.seasons, strict=True)
        at = (np.array(knots, "datetime64[D]") - dates[0]).astype(float)
        by_hour = np.sin(2 * np.pi * (np.arange(24) - 9) / 24)  # warmest at three in the afternoon
        planned = np.interp(since, at, means)[:, None] + np.outer(
            np.interp(since, at, swings), by_hour
        )
    else:
        plan = said["temperature"]
        planned = ag.day_night(plan["day_c"], plan["night_c"], plan["day_hours"]).hours(
            dates[0], len(dates)
        )
    weather = np.zeros(len(dates))  # warm and cool spells of a few days
    for day in range(1, len(dates)):
        weather[day] = 0.8 * weather[day - 1] + 0.3 * rng.standard_normal()
    return planned + weather[:, None] + 0.15 * rng.standard_normal(planned.shape)


def _resting(said: dict[str, Any], dates: NDArray) -> NDArray[np.bool_]:
    if "rest" not in said:
        return np.zeros(len(dates), bool)
    start, end = (np.datetime64(said["rest"][key], "D") for key in ("start", "end"))
    return (dates >= start) & (dates < end)


def _forcing(
    scenario: Scenario, said: dict[str, Any], hours_c: Floats, resting: NDArray[np.bool_]
) -> ThermalForcing:
    """What the temperatures mean to the ant, in the season in which its queen flew."""
    species, since = _species(scenario, said), pd.Timestamp(said["queen_since"])
    history = ColonyHistory(
        species, ag.constant(20.0), since, True, None, 1, said.get("hemisphere")
    )
    return forcing_of(species, hours_c, resting, history.since_spring)


def _colony(
    scenario: Scenario, said: dict[str, Any], forcing: ThermalForcing, rng: np.random.Generator
) -> tuple[Ints, Laws]:
    """Counts of the chosen colony in the evening of each day, shape (days, 4), and its law."""
    prior = Prior.of(_species(scenario, said))
    laws = prior.laws(rng.standard_normal((CANDIDATES, len(prior))))
    paths = simulate(laws, forcing, rng)[:, 1:]
    workers, (fewest, most) = paths[..., 3], scenario.workers
    fits = (workers[:, -1] >= fewest) & (workers[:, -1] <= most) & (workers.max(axis=1) < GOAL)
    enough = workers >= scenario.floor
    fits &= (enough == np.logical_or.accumulate(enough, axis=1)).all(axis=1)
    chosen = np.flatnonzero(fits)[:1]
    return paths[chosen[0]], laws.take(chosen)


def _species(scenario: Scenario, said: dict[str, Any]) -> ag.Species:
    own = COLONIES / scenario.folder / said["species"]
    return ag.load_species(own if own.is_file() else said["species"])


def _needs(
    scenario: Scenario,
    said: dict[str, Any],
    path: Ints,
    laws: Laws,
    hours_c: Floats,
    forcing: ThermalForcing,
) -> Needs:
    """What the budget, with its middle constants, says of each day."""
    species, usual = _species(scenario, said), Constants.usual()
    masses = body_masses(species, None, usual, 1, np.random.default_rng(0))
    middle = replace(
        masses,
        worker=np.full((1, 1), species.value("workers.mass_mg")),
        first_worker=np.full((1, 1), species.value("workers.first_mass_mg")),
        queen=np.full((1, 1), species.value("queen.mass_mg")),
    )
    counts = np.concatenate([path[:1], path])[None].astype(float)
    diet = Diet(middle, usual, 0.203, 5.87, 60.0)
    return needs_along(species, laws, counts, np.ones(len(path)), hours_c, forcing, diet)


def _feeds(scenario: Scenario, dates: NDArray, need: Needs, rng: np.random.Generator) -> str:
    """Write what she offered, what was left, and what the control lost, in whole milligrams."""
    begun = int((np.datetime64(scenario.feeds_from, "D") - dates[0]).astype(int))
    sugar = (need.adult_sugar_mg + need.growth_sugar_mg)[0]
    rows = []
    for dish in scenario.dishes:
        needed = sugar if dish.food.endswith("sugar water") else need.protein_mg[0]
        day = begun
        while day < len(dates) - 1:
            until = min(day + int(rng.integers(dish.gap_days[0], dish.gap_days[1] + 1)), len(dates))
            wanted = (
                needed[day:until].sum()
                * dish.intake
                * np.exp(dish.appetite * rng.standard_normal())
            )
            offered = max(1, round(dish.portion_mg * np.exp(0.15 * rng.standard_normal())))
            left, dried = _leavings(dish, offered, wanted / dish.holds, rng)
            weighed = rng.random() < dish.weighed
            cells = (str(left), str(dried)) if weighed else ("", "")
            rows.append((str(dates[day]), dish.food, str(offered), *cells))
            day = until
    return _table(("date", "food", "offered_mg", "left_mg", "control_loss_mg"), sorted(rows))


def _leavings(
    dish: Dish, offered: int, wanted_mg: float, rng: np.random.Generator
) -> tuple[int, int]:
    """What she weighs of a portion, and of the loss of its control. [mg]

    The ants eat at some time of the drying. A portion dries a fifth more or less than its control.
    """
    dries = rng.uniform(*dish.dries) * offered
    own, early = dries * np.exp(0.2 * rng.standard_normal()), rng.random()
    solid, water = dish.holds * offered, (1 - dish.holds) * offered - early * dries
    share = max(1 - wanted_mg / offered, 0.0)  # of the solid, and of the water there is then
    left = solid * share + max(water * share - (1 - early) * own, 0.0)
    weigh = rng.normal([left, dries], [WEIGHED_MG, WEIGHED_MG * np.sqrt(2.0)])
    return max(0, round(weigh[0])), round(weigh[1])


def _looks(keeper: Keeper, resting: NDArray[np.bool_], rng: np.random.Generator) -> Ints:
    """Days on which she looks: the first, the last, and some between."""
    last, day, looks = len(resting) - 1, 0, [0]
    while True:
        gap = keeper.rest_gap_days if resting[day] else keeper.gap_days
        day += max(2, round(gap * rng.gamma(4.0) / 4.0))
        if day >= last:
            return np.array([*looks, last])
        looks.append(day)


def _notes(
    scenario: Scenario, true: Ints, resting: NDArray[np.bool_], rng: np.random.Generator
) -> list[list[str]]:
    """Cells and note of each look."""
    keeper = scenario.keeper
    seen = rng.binomial(true, keeper.seen)
    met = np.zeros(4, bool)
    rows = []
    for look, numbers in enumerate(seen):
        cells, debuts = ["", "", "", ""], []
        last = look == len(seen) - 1
        for stage, number in enumerate(numbers):
            count = rng.random() < keeper.written[stage]
            if resting[look] or last:
                count = stage == 3 or (last and count)
            if number and not met[stage]:
                met[stage] = True
                debuts.append(STAGES[stage] if stage != 2 else scenario.pupae)
                first = look > 0 and rng.random() < keeper.first
                cells[stage] = "first" if first else str(number)
            elif look == 0 or (count and met[stage]):
                cells[stage] = _written(int(number), keeper, rng)
        rested = look > 0 and bool(resting[look - 1])
        note = _note(look, cells, debuts, bool(resting[look]), rested)
        rows.append([*cells, note])
    return rows


def _written(number: int, keeper: Keeper, rng: np.random.Generator) -> str:
    """Write a number as a keeper does."""
    if number == 0:
        return "0"
    style, slip = rng.random(), rng.standard_normal()
    if style < keeper.glance:
        guess = max(1, round(number * np.exp(3 * keeper.error * slip)))
        return f"~{guess if guess < 10 else 5 * round(guess / 5)}"
    counted = max(1, round(number * np.exp(keeper.error * slip)))
    if counted >= 8 and style < keeper.glance + keeper.between:
        low = 5 * (counted // 5)
        return f"{low}-{low + 5}"
    return str(counted)


def _note(look: int, cells: list[str], debuts: list[str], rests: bool, rested: bool) -> str:
    """Say what happened; nothing at most looks."""
    if look == 0:
        return "the queen sits alone in her tube"
    if rests:
        return "winter rest, looked with a red light" if rested else "in the cellar for the winter"
    if rested:
        return "back from the cellar"
    if "workers" in debuts:
        return "the first worker is out"
    if not any(cells):
        return "looked in, nothing counted"
    if any(cell.startswith("~") for cell in cells):
        return "counted in a hurry"
    return ""


def _record(dates: NDArray, hours_c: Floats, rng: np.random.Generator) -> str:
    """Write a logger's hourly readings; its battery once failed for some hours."""
    times = (dates.astype("datetime64[h]")[:, None] + np.arange(24)).ravel()
    failed = int(rng.integers(len(times) // 4, len(times) // 2))
    kept = np.r_[0:failed, failed + 5 : len(times)]
    return _table(
        ("time", "temperature_c"),
        [(f"{str(times[k])[:10]} {str(times[k])[11:]}:00", f"{hours_c.flat[k]:.1f}") for k in kept],
    )


def _table(header: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([header, *rows])
    return text.getvalue()


def main() -> None:
    """Write the files and say which."""
    for name, text in generated().items():
        (COLONIES / name).write_text(text, encoding="utf-8", newline="\n")
        print(COLONIES / name)


if __name__ == "__main__":
    main()
