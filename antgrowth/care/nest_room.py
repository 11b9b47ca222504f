"""Nest room: when each nest is full, when to offer the next, and how large it should be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from antgrowth._core.arguments import instance, several, takes
from antgrowth._core.pictures import picture
from antgrowth._core.stages import WORKERS
from antgrowth._core.summary import Report, Shown, share_words
from antgrowth.care.nests import Nest, nests_from
from antgrowth.care.timing import FirstPassage, first_passage_of
from antgrowth.errors import AntgrowthError
from antgrowth.forecast.arrival import CONDITION
from antgrowth.forecast.paths import Forecast

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOVING_DAYS = 14
"""About so long a colony takes to move into a nest by itself (common practice). [day]"""

AT_ONCE = (2.0, 3.0)
"""A new nest is not larger than two to three times the need at once (common practice)."""

TOO_MUCH = "Too much room at once: brood is spread out and refuse is stored inside"


@dataclass(frozen=True, eq=False, repr=False)
class NestStage:
    """One nest in the sequence of a colony."""

    nest: Nest
    low: float  # low, high: workers that it holds, together with the nests it is joined to [worker]
    high: float
    full: FirstPassage  # when the colony has as many
    # Workers for whom it is offered: median of those there when it is joined; those of the last
    # note for the first nest. NaN if that lies beyond the horizon [worker]
    need: float

    @property
    def offer_next(self) -> pd.Timestamp:
        """When the next nest must be open: 14 days before the earliest date at 90 %."""
        return self.full.earlier(MOVING_DAYS).interval()[0]

    @property
    def advice(self) -> str:
        """Whether its size suits the colony that moves in; empty if it does."""
        if not np.isfinite(self.need) or self.need < 1:
            return ""
        if self.low > AT_ONCE[1] * self.need:
            return (
                f"{TOO_MUCH} (common practice: at most {AT_ONCE[0]:g} to {AT_ONCE[1]:g} times "
                f"the need, here {self.need:.0f} workers). Close a part of it off at first"
            )
        if self.high < self.need:
            return f"Too small: {self.need:.0f} workers are there when it is joined"
        return ""

    def __repr__(self) -> str:
        return f"NestStage({_sentence(self)})"

    def _repr_html_(self) -> str:
        return Report(self.nest.name, (("full", _sentence(self)),)).as_html()


@dataclass(frozen=True, eq=False, repr=False)
class NestRoom(Shown):
    """When the nests of a colony are full; made by `nest_room`.

    Attributes
    ----------
    forecast : Forecast
    stages : tuple of NestStage
        The nests in the order in which they are used.
    """

    forecast: Forecast = field(repr=False)
    stages: tuple[NestStage, ...]

    @property
    def present(self) -> NestStage:
        """The nest in use: the first that most colonies do not overfill; else the last."""
        open_ones = [stage for stage in self.stages if stage.full.now <= 0.5]
        return open_ones[0] if open_ones else self.stages[-1]

    @property
    def following(self) -> NestStage | None:
        """The nest after the present one; None if none is planned."""
        place = self.stages.index(self.present) + 1
        return self.stages[place] if place < len(self.stages) else None

    def frame(self) -> pd.DataFrame:
        """Tell when each nest is full.

        Returns
        -------
        DataFrame
            Columns nest, room, capacity_low, capacity_high [worker], full_first, full_median,
            full_last (90 % interval; NaT beyond the horizon), chance (that it is full within the
            horizon), offer_next (day from which the next nest must be open), need (workers for whom
            it is offered), advice, basis.
        """
        rows = []
        for stage in self.stages:
            first, last = stage.full.interval()
            rows.append(
                {
                    "nest": stage.nest.name,
                    "room": stage.nest.room(),
                    "capacity_low": stage.low,
                    "capacity_high": stage.high,
                    "full_first": first,
                    "full_median": stage.full.median,
                    "full_last": last,
                    "chance": 1.0 - stage.full.chance_never,
                    "offer_next": stage.offer_next,
                    "need": stage.need,
                    "advice": stage.advice,
                    "basis": stage.nest.basis,
                }
            )
        return pd.DataFrame(rows)

    def next_size(self) -> tuple[float, float]:
        """Workers that the nest after the last one should hold: two to three times its content."""
        last = self.stages[-1]
        middle = float(np.sqrt(last.low * last.high))
        return AT_ONCE[0] * middle, AT_ONCE[1] * middle

    def sentences(self) -> tuple[str, ...]:
        """The findings in sentences, one a nest, and what should come after the last."""
        return (*(_sentence(stage) for stage in self.stages), self._next_sentence())

    def _next_sentence(self) -> str:
        low, high = self.next_size()
        return (
            f"After {self.stages[-1].nest.name}: a nest for {low:,.0f} to {high:,.0f} workers, two "
            "to three times the need at once and not more (common practice)."
        )

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the workers to come, and how many each nest holds."""
        return picture("care", "plot_nest_room", self, ax)

    def __repr__(self) -> str:
        return f"NestRoom({'; '.join(text.rstrip('.') for text in self.sentences()[:-1])})"

    def _report(self) -> Report:
        rows = []
        for line in self.frame().to_dict("records"):
            rows.append(
                (
                    line["nest"],
                    line["room"],
                    _capacity(line["capacity_low"], line["capacity_high"]),
                    *(_day(line[key]) for key in ("full_first", "full_median", "full_last")),
                    share_words(line["chance"]),
                    _day(line["offer_next"]),
                )
            )
        advice = [(stage.nest.name, stage.advice) for stage in self.stages if stage.advice]
        basis = dict.fromkeys(stage.nest.basis for stage in self.stages)
        return Report(
            title=f"Nest room: {self.forecast.fit.counts.name}",
            facts=(
                ("horizon", f"{self.forecast.dates[-1]:%Y-%m-%d}, {self.forecast.condition}"),
                *(("capacity", text) for text in basis),
            ),
            head=("nest", "room", "holds workers", "full from", "median", "to",
                  "chance in the horizon", "offer the next by"),
            align="llrlllrl",
            rows=tuple(rows),
            closing=(*advice, ("next", self._next_sentence())),
        )  # fmt: skip


@takes(
    forecast=instance(Forecast, "Fit.forecast"), nests=several(Nest | Mapping, "a list of nests")
)
def nest_room(forecast: Forecast, nests: Sequence[Nest | Mapping[str, Any]]) -> NestRoom:
    """Tell when nests are full that a colony uses one after the other.

    Parameters
    ----------
    forecast : Forecast
    nests : sequence of mapping or Nest
        In the order of their use. Each has a ``name`` and a size: ``workers``, or ``area_cm2`` or
        ``volume_cm3``, perhaps with the room of one worker, ``area_per_worker_cm2`` or
        ``volume_per_worker_cm3``; ``joined=True`` if it is used together with those before it.

    Returns
    -------
    NestRoom

    Raises
    ------
    AntgrowthError
        With every fault of the nests at once.

    Notes
    -----
    Without a room of one worker, the capacity is a range: published figures of other ants lie far
    apart (0.05 to 2 cm² and 0.002 to 0.8 cm³ a worker). They are scaled to the body mass of this
    ant where it is known, and each simulated colony gets a value from
    it, evenly over its orders of magnitude. The dates are then as wide as that. State how many
    workers fill a nest of yours, and they become as sharp as the forecast.

    References
    ----------
    Cerquera LM, Tschinkel WR (2010) The nest architecture of the ant Odontomachus brunneus. Journal
    of Insect Science 10:64, doi:10.1673/031.010.6401; see datasets/care/nest_space.csv for all.

    Examples
    --------
    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> notes = pd.DataFrame({"date": ["2026-07-20", "2026-08-14"], "eggs": [9, 7]})
    >>> fit = ag.fit(notes, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=1)
    >>> ahead = fit.forecast(days=200, draws=100, rng=1)
    >>> ag.nest_room(ahead, [{"name": "tube", "workers": 25}]).next_size()
    (50.0, 75.0)
    """
    ant, path = forecast.fit.species, "workers.mass_mg"
    chosen = nests_from(list(nests), ant.value(path) if path in ant else None)
    if not chosen:
        raise AntgrowthError(
            'nest_room: no nests. Give at least one, such as {"name": "tube", "workers": 25}.'
        )
    rng = np.random.default_rng(forecast.seed)
    workers = forecast.paths[..., WORKERS]
    need = float(np.median(workers[:, 0]))
    held, low, high = np.zeros(forecast.draws), 0.0, 0.0
    stages = []
    for nest in chosen:
        own = nest.draw(forecast.draws, rng)
        before = (held, low, high) if nest.joined else (0.0, 0.0, 0.0)
        held, low, high = own + before[0], nest.low + before[1], nest.high + before[2]
        full = first_passage_of(forecast, workers >= held[:, None])
        stages.append(NestStage(nest, low, high, full, need))
        need = _workers_on(forecast, full.median)
    return NestRoom(forecast, tuple(stages))


def _workers_on(forecast: Forecast, day: pd.Timestamp) -> float:
    """Median number of workers on a day; NaN beyond the horizon."""
    if pd.isna(day):
        return float("nan")
    return float(np.median(forecast.paths[:, (day - forecast.start).days, WORKERS]))


def _sentence(stage: NestStage) -> str:
    """When it is full, and whether its size suits."""
    full = _full_sentence(stage)
    return f"{full} {stage.advice}." if stage.advice and stage.full.now <= 0.5 else full


def _full_sentence(stage: NestStage) -> str:
    name, held = stage.nest.name, _capacity(stage.low, stage.high)
    if stage.full.now > 0.5:
        return f"{name} ({held} workers): full already by {_day(stage.full.start)}."
    if pd.isna(stage.offer_next):
        far = stage.full.start + pd.Timedelta(days=stage.full.horizon)
        return f"{name} ({held} workers): hardly full before {_day(far)}, {CONDITION}."
    each = " of each" if stage.full.is_split else ""
    return (
        f"{name} ({held} workers): full {stage.full.when()} (90% interval{each}); have the next "
        f"open by {_day(stage.offer_next)}, {CONDITION}."
    )


def _capacity(low: float, high: float) -> str:
    return f"{low:,.0f}" if low == high else f"{low:,.0f} to {high:,.0f}"


def _day(date: pd.Timestamp) -> str:
    return "beyond" if pd.isna(date) else f"{date:%Y-%m-%d}"
