"""What the profiles predict, beside what was published of colonies.

``python tests/reference/published_colonies.py`` prints the table. Each prediction is the 90 % range
of a profile's prior: parameters as uncertain as the profile says and, where colonies are counted,
chance. Nothing is tuned to these rows; those that helped to build a profile say so.
"""

from __future__ import annotations

import math
import sys
import textwrap
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))

import one_day

from antgrowth._core.stats import REACH_90
from antgrowth.inference.history import gain_of_queens
from antgrowth.inference.prior import Prior, forcing_of
from antgrowth.model.life_cycle import LifeCycle
from antgrowth.model.mean_field import Growth, grow
from antgrowth.model.parameters import Laws, Transfer
from antgrowth.model.simulation import simulate
from antgrowth.model.thermal_forcing import ThermalForcing
from antgrowth.species.development import BROOD_STAGES, curve_of
from antgrowth.species.parameters import QUEENS_CARE, QUEENS_LAY
from antgrowth.species.profile import Species, load_species

Floats = NDArray[np.float64]

DRAWS = 160
SEED = 1
PUPA, WORKER = 2, 3
VAGUE = 30.0
"""A predicted range whose ends differ by more than this factor proves nothing (chosen)."""

KINDS = ("hit", "touch", "miss", "vague")
GIFT_DAY = 10
"""Day on which adopted pupae are given: not published, assumed. [day]"""


def published() -> pd.DataFrame:
    """The published values; see the README of the folder."""
    with (files("antgrowth.datasets") / "published" / "colonies.csv").open(encoding="utf-8") as f:
        return pd.read_csv(f, keep_default_na=False, na_values={"low": [""], "high": [""]})


def priors(ant: Species, draws: int = DRAWS) -> Laws:
    """Laws of colonies as the profile expects them."""
    prior = Prior.of(ant)
    return prior.laws(np.random.default_rng(SEED).standard_normal((draws, len(prior))))


def steady(ant: Species, temperature_c: float, days: int) -> ThermalForcing:
    """Days of one temperature, in a season without end: none of the studies tells the date."""
    return forcing_of(ant, np.full((days, 24), temperature_c), np.zeros(days, bool))


def expected(ant: Species, temperature_c: float, days: int, **changes: object) -> Growth:
    """Expected growth of lone queens."""
    return grow(priors(ant), replace(steady(ant, temperature_c, days), **changes))


def laid(ant: Species, temperature_c: float, days: int) -> Floats:
    """Eggs that lone queens are expected to lay on each day, shape (draws, days)."""
    cycle = LifeCycle(priors(ant), steady(ant, temperature_c, days))
    states, eggs = cycle.empty(), np.empty((DRAWS, days))
    for day in range(days):
        eggs[:, day] = one_day.controls(cycle, day, one_day.signals(cycle, day, states)).eggs
        states = one_day.expected_day(cycle, day, states)
    return eggs


def by_chance(ant: Species, temperature_c: float, days: int) -> NDArray[np.int64]:
    """Whole-number colonies of lone queens, shape (draws, days + 1, 4)."""
    return _by_chance(ant.name, temperature_c, days)


@cache
def _by_chance(name: str, temperature_c: float, days: int) -> NDArray[np.int64]:
    ant, rng = load_species(name), np.random.default_rng(SEED)
    return simulate(priors(ant), steady(ant, temperature_c, days), rng)


def over(temperatures_c: tuple[float, ...], answer: Callable[[float], Floats]) -> Floats:
    """Answers at several temperatures, where the published one is not known."""
    return np.concatenate([answer(temperature_c) for temperature_c in temperatures_c])


def first_day(reached: NDArray[np.bool_]) -> Floats:
    """First day of each draw on which something holds; infinite if never."""
    return np.where(reached.any(axis=1), reached.argmax(axis=1), np.inf)


def egg_to_worker(ant: Species, temperature_c: float, first: bool = False) -> Floats:
    """Days from egg to worker of each draw."""
    return sum(stage_days(ant, temperature_c, stage, first) for stage in range(3))


def stage_days(ant: Species, temperature_c: float, stage: int, first: bool = False) -> Floats:
    """Days in a brood stage of each draw, whose curve may lie warmer or cooler."""
    laws, curve = priors(ant), curve_of(ant, BROOD_STAGES[stage])
    reference_c = ant.value("development.reference_c")
    rate = curve(temperature_c - laws.shift_c) / curve(reference_c - laws.shift_c)
    need = laws.days[:, stage] * (laws.first_development if first else 1.0)
    return np.divide(need, rate, out=np.full(len(need), np.inf), where=rate > 0)


def weaver_first_worker(ant: Species) -> Floats:
    return over((26, 28, 30), lambda t: first_day(by_chance(ant, t, 160)[..., WORKER] >= 1))


def weaver_queens_earlier(ant: Species) -> Floats:
    alone, together = (_moment(g.counts[..., WORKER], 0.7) for g in queens(ant, 200))
    come = np.isfinite(alone)
    return 100 * (1 - together[come] / alone[come])


def weaver_queens_workers(ant: Species) -> Floats:
    alone, together = (g.counts[:, 68, WORKER] for g in queens(ant, 68))
    some = alone >= 1  # too few to divide by
    return together[some] / alone[some]


def _moment(path: Floats, level: float) -> Floats:
    """When a rising expectation passes a level, between days too; infinite if never. [day]"""
    day = first_day(path >= level)
    some = np.isfinite(day)
    place, draw = day[some].astype(int), np.flatnonzero(some)
    before = path[draw, place - 1]
    day[some] = place - (path[draw, place] - level) / (path[draw, place] - before)
    return day


def queens(ant: Species, days: int) -> tuple[Growth, Growth]:
    """Growth with one queen and with three."""
    weather = steady(ant, 28, days)
    lay, care = (
        gain_of_queens(ant, path, np.full(days, 3.0)) for path in (QUEENS_LAY, QUEENS_CARE)
    )
    together = grow(priors(ant), replace(weather, laying=weather.laying * lay, care=care))
    return grow(priors(ant), weather), together


def weaver_adopts(pupae: int, days: int) -> Callable[[Species], Floats]:
    def answer(ant: Species) -> Floats:
        gift = (Transfer(GIFT_DAY, PUPA, pupae),)
        boosted = expected(ant, 28, GIFT_DAY + days, transfers=gift).counts[:, -1].sum(axis=1)
        return boosted / expected(ant, 28, GIFT_DAY + days).counts[:, -1].sum(axis=1)

    return answer


def japonicus_pupae(ant: Species) -> Floats:
    pupae = expected(ant, 25, 60).counts[..., PUPA]
    many = first_day(pupae >= 0.5 * pupae.max(axis=1, keepdims=True))
    return many - priors(ant).delay


def japonicus_15_degrees(ant: Species) -> Floats:
    return (stage_days(ant, 15, 0, first=True) <= 50).astype(float)


class Founding:
    """The first brood of lone queens at 25 °C: what they lay, and when."""

    def __init__(self, ant: Species) -> None:
        growth = expected(ant, 25, 150)
        brood, self.births = growth.brood[:, 1:], laid(ant, 25, 150)
        self.workers = growth.counts[:, 1:, WORKER]
        self.start = np.ceil(priors(ant).delay).astype(int)  # the first whole day of laying
        self.hatch = first_day(growth.counts[:, 1:, 1] >= 0.5)
        self.hatched = self.hatch.astype(int)
        before = np.arange(150) < self.hatch[:, None]
        most = np.where(before, brood, 0).max(axis=1, keepdims=True)
        self.clutch = first_day(brood >= 0.9 * most) + 1 - priors(ant).delay
        self.first_rate = self.births[np.arange(DRAWS), self.start]

    def pause(self) -> Floats:
        return self.births[np.arange(DRAWS), self.hatched - 1] / self.first_rate

    def resumed(self) -> Floats:
        """Share of the way from egg to first worker when laying resumes."""
        worker = first_day(self.workers >= 0.5)
        day = np.arange(150)
        between = (day >= self.hatch[:, None]) & (day < worker[:, None])
        fastest = np.where(between, self.births, 0).max(axis=1, keepdims=True)
        resumes = first_day(between & (self.births >= 0.5 * fastest))
        return (resumes - self.start) / (worker - self.start)

    def continuous(self) -> Floats:
        low = self.births < 0.25 * self.first_rate[:, None]
        low &= np.arange(150) >= self.start[:, None]
        last = 149 - low[:, ::-1].argmax(axis=1)
        return self.workers[np.arange(DRAWS), last]


def fire_first_workers(ant: Species) -> Floats:
    # First workers, had none of them died by then.
    laws = replace(priors(ant), life=np.full(DRAWS, 1e9))
    states = grow(laws, steady(ant, 28, 60)).last
    layout = LifeCycle(laws, steady(ant, 28, 1)).state
    first = slice(layout.workers.start, layout.workers.start + layout.ages)
    return states[:, first].sum(axis=1)


def fire_workers(days: tuple[int, ...]) -> Callable[[Species], Floats]:
    def answer(ant: Species) -> Floats:
        return over((25, 27.5, 30), lambda t: by_chance(ant, t, 182)[:, days, WORKER].ravel())

    return answer


def fire_larvae(ant: Species) -> Floats:
    counts = expected(ant, 28, 180).counts[:, 60:]
    return counts[..., WORKER].mean(axis=1) / counts[..., 1].mean(axis=1)


def fire_mature(ant: Species) -> Floats:
    laws = priors(ant)
    life = laws.life * math.gamma(1 + 1 / laws.life_shape)
    return laws.top_rate * laws.survival.prod(axis=1) * life


def myrmica_q10(ant: Species) -> Floats:
    return stage_days(ant, 15, 1) / stage_days(ant, 25, 1)


def argentine_hatch(ant: Species) -> Floats:
    cold = steady(ant, 18, 1).loss[0, 0]
    return priors(ant).survival[:, 0] * np.exp(-cold * stage_days(ant, 18, 0))


def temnothorax_brood(ant: Species) -> Floats:
    paths = by_chance(ant, 24, 450)[:, 250::50]
    workers, brood = paths[..., WORKER], paths[..., :3].sum(axis=-1)
    usual = (workers >= 13) & (workers <= 300)
    return brood[usual] / workers[usual]


def carpenter_years(ant: Species) -> Floats:
    # A year from June: four and a half warm months, five of rest, two and a half warm ones.
    day = np.arange(1461) % 365
    rest = (day >= 137) & (day < 288)
    hours = np.repeat(np.where(rest, 7.0, 24.0)[:, None], 24, axis=1)
    counts = grow(priors(ant), forcing_of(ant, hours, rest, since_spring=60.0)).counts
    return counts[:, [730, 1095, 1460], WORKER].ravel()


PREDICTIONS: dict[str, Callable[[Species], Floats]] = {
    "weaver-first-worker": weaver_first_worker,
    "weaver-queens-earlier": weaver_queens_earlier,
    "weaver-queens-workers": weaver_queens_workers,
    "weaver-adopts-50": weaver_adopts(50, 50),
    "weaver-adopts-100": weaver_adopts(100, 50),
    "weaver-adopts-300": weaver_adopts(300, 60),
    "japonicus-pupae": japonicus_pupae,
    "japonicus-15-degrees": japonicus_15_degrees,
    "formica-clutch": lambda ant: Founding(ant).clutch,
    "formica-pause": lambda ant: Founding(ant).pause(),
    "formica-second-clutch": lambda ant: Founding(ant).resumed(),
    "formica-continuous": lambda ant: Founding(ant).continuous(),
    "fire-first-workers": fire_first_workers,
    "fire-egg-to-worker": lambda ant: over((24, 28, 32), lambda t: egg_to_worker(ant, t)),
    "fire-six-months": fire_workers((182,)),
    "fire-first-autumn": fire_workers((150, 165, 180)),
    "fire-larvae": fire_larvae,
    "fire-mature": fire_mature,
    "pharaoh-38-days": lambda ant: egg_to_worker(ant, 27),
    "pharaoh-brazil": lambda ant: over((24, 26, 28), lambda t: egg_to_worker(ant, t)),
    "myrmica-q10": myrmica_q10,
    "argentine-outdoors": lambda ant: over((18, 22, 26, 29), lambda t: egg_to_worker(ant, t)),
    "argentine-hatch-18": argentine_hatch,
    "temnothorax-brood": temnothorax_brood,
    "carpenter-years": carpenter_years,
}


def width(q05: float, q95: float) -> float:
    """How many times as much the upper end of a range is as the lower one; of ants, half of one."""
    least = 0.5 if q95 > 1 else 1e-9
    return max(q95, least) / max(q05, least)


def log_score(low: float, high: float, q05: float, q50: float, q95: float) -> float:
    """Log density of the published middle, by the factor e; NaN where there is a bound alone.

    The prediction is taken as log-normal, with a spread of its own on either side of the median. A
    narrow prediction that holds scores above a wide one.
    """
    if not (math.isfinite(low) and math.isfinite(high) and 0 < q05 < q50 < q95 < math.inf):
        return math.nan
    published_middle = (low + high) / 2
    side = q05 if published_middle < q50 else q95
    if not published_middle > 0:
        return math.nan
    spread = abs(math.log(side / q50)) / REACH_90
    miss = math.log(published_middle / q50) / spread
    return -0.5 * miss**2 - math.log(spread * math.sqrt(2 * math.pi))


def verdict(low: float, high: float, q05: float, q50: float, q95: float) -> str:
    """How a published range lies to a predicted one.

    "hit": its middle lies within the predicted 90 % range (of a bound alone: the predicted median
    keeps it). "touch": the ranges overlap no further than that. "miss": they do not meet. "vague":
    the predicted range is so wide that it would hold nearly anything.
    """
    if width(q05, q95) > VAGUE and q95 > 1:  # shares close to none are told apart by less
        return "vague"
    bound = not (math.isfinite(low) and math.isfinite(high))
    at_least = low if math.isfinite(low) else -math.inf
    at_most = high if math.isfinite(high) else math.inf
    if at_least <= q50 <= at_most if bound else q05 <= (low + high) / 2 <= q95:
        return "hit"
    return "touch" if q05 <= at_most and q95 >= at_least else "miss"


def comparison() -> pd.DataFrame:
    """Predicted beside published.

    Returns
    -------
    DataFrame
        The columns of ``colonies.csv``, then q05, q50, q95 of the prediction, verdict, width
        (q95 over q05) and log_score.
    """
    table = published()
    ants = {name: load_species(name) for name in table["profile"].unique()}
    levels = []
    for row in table.itertuples():
        answers = PREDICTIONS[row.id](ants[row.profile])
        levels.append(np.quantile(answers, [0.05, 0.5, 0.95], method="inverted_cdf"))
    table[["q05", "q50", "q95"]] = np.array(levels)
    bounds = table[["low", "high", "q05", "q50", "q95"]].to_numpy()
    return table.assign(
        verdict=[verdict(*row) for row in bounds],
        width=[width(q05, q95) for *_, q05, _, q95 in bounds],
        log_score=[log_score(*row) for row in bounds],
    )


def report(table: pd.DataFrame) -> str:
    """The table as text, with a tally."""
    head = (
        "ant: quantity",
        "unit",
        "published",
        "predicted",
        "width",
        "score",
        "helped",
        "verdict",
    )
    rows = [head]
    for row in table.itertuples():
        what = textwrap.wrap(f"{row.ant}: {row.quantity}", 58)
        predicted = f"{_short(row.q50)} ({_short(row.q05)} to {_short(row.q95)})"
        unit = "" if row.unit == "1" else row.unit
        wide = f"x {_short(row.width)}" if math.isfinite(row.width) else ""
        score = "" if math.isnan(row.log_score) else f"{row.log_score:.1f}"
        rows.append(
            (what[0], unit, _span(row.low, row.high), predicted, wide, score, row.helped,
             row.verdict)
        )  # fmt: skip
        rows += [(f"  {line}", *[""] * 7) for line in what[1:]]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = ["  ".join(map(str.ljust, row, widths)).rstrip() for row in rows]
    for helped, words in (("no", "independent"), ("yes", "helped to build the profile")):
        some = table[table["helped"] == helped]["verdict"]
        counts = ", ".join(f"{(some == kind).sum()} {kind}" for kind in KINDS)
        lines.append(f"{len(some)} rows {words}: {counts}")
    return "\n".join(lines)


def _span(low: float, high: float) -> str:
    if not math.isfinite(low):
        return f"up to {_short(high)}"
    if not math.isfinite(high):
        return f"over {_short(low)}"
    return _short(low) if low == high else f"{_short(low)} to {_short(high)}"


def _short(value: float) -> str:
    if not math.isfinite(value):
        return "never"
    return f"{value:,.0f}" if abs(value) >= 100 else f"{value:.2g}"


if __name__ == "__main__":
    print(report(comparison()))
