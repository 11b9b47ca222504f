"""From a log and a history to a posterior: the fit, and what follows from it alone."""

from __future__ import annotations

import pickle
import zlib
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from antgrowth._core.arguments import COLONIES, takes
from antgrowth._core.arrays import Floats
from antgrowth._core.dates import as_day
from antgrowth._core.deprecation import Former
from antgrowth._core.stats import stage_frame, with_brood
from antgrowth._core.threads import on_one_thread
from antgrowth.climate.temperature import Temperature
from antgrowth.errors import LogError, SpeciesError
from antgrowth.inference.brood_loss import MixtureComponent, allocate, components, with_loss
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.initial_state import InitialState
from antgrowth.inference.laplace import Estimate, Model
from antgrowth.inference.observations import held_at_first, observations_of
from antgrowth.inference.prior import DRIFT, Prior
from antgrowth.inference.psis import WEIGHED, pareto_k, plausible_draws
from antgrowth.inference.smoothing import each_evening
from antgrowth.inference.starting_state import starting_state
from antgrowth.io.counts import CountLog
from antgrowth.model.mean_field import Growth
from antgrowth.species.profile import Species

DRAWS = 1000
"""Posterior draws kept by a fit."""

LONGEST_YEARS = 40
"""From the founding to the last note. No queen is known to have lived so long: one of Lasius niger
lived nearly 29 years (Kutter and Stumper 1969, from memory)."""

DISTINCT = 400
"""Forecasts of more colonies let several grow from each posterior draw, by different chance."""


@dataclass(frozen=True, eq=False, repr=False)
class Posterior:
    """What the notes of one colony leave possible: its parameters, and where it stands.

    `antgrowth.Fit` is the same with what a keeper asks of it, and tells of each attribute.
    """

    counts: CountLog
    history: ColonyHistory
    components: list[MixtureComponent]
    draws: Floats = field(repr=False)
    seed: int

    beliefs = Former("components")
    setting = Former("history")
    tail_index = Former("pareto_k")

    def __reduce__(self) -> tuple[Any, ...]:
        # To travel light: what can be worked out again stays behind, the rest is packed.
        read = [
            (component.probability, component.loss, component.estimate)
            for component in self.components
        ]
        kept = (self.counts, self.history, self.model.prior.drift, read, self.seed)
        return _unpacked, (type(self), zlib.compress(pickle.dumps(kept)))

    @property
    def model(self) -> Model:
        """Prior, climate and observations, as the most probable component sees them."""
        return self.components[0].model

    @property
    def estimate(self) -> Estimate:
        """The most probable parameters and the normal posterior around them."""
        return self.components[0].estimate

    @property
    def species(self) -> Species:
        """Where the prior comes from."""
        return self.history.species

    @property
    def temperature(self) -> Temperature:
        """What the colony lived through, and any plan that came with it."""
        return self.history.temperature

    @property
    def queen_since(self) -> pd.Timestamp | None:
        """The day the queen sat alone without brood; None if the colony came part-grown."""
        return self.history.day_zero if self.history.founded else None

    @property
    def days(self) -> int:
        """Days from day zero to the end of the last day with a note."""
        return self.history.day_of(self.counts.end) + 1

    @property
    def queenless(self) -> bool:
        """Whether by the changes noted there is no queen at the last note."""
        return self.history.queens_left(self.days) == 0

    @takes(draws=COLONIES)
    @on_one_thread
    def initial_states(self, draws: int = DRAWS) -> list[InitialState]:
        """Where the colony stands after the last note, in draws shared out among the components.

        Worked out once for each number of draws.
        """
        if draws not in self._initial_states:
            rng = np.random.default_rng(self.seed)
            shares = allocate(self.components, draws)
            self._initial_states[draws] = [
                InitialState.of(
                    component.model,
                    component.estimate,
                    plausible_draws(component.model, component.estimate, min(share, DISTINCT), rng),
                ).spread(share)
                for component, share in zip(self.components, shares, strict=True)
                if share
            ]
        return self._initial_states[draws]

    @cached_property
    def _initial_states(self) -> dict[int, list[InitialState]]:
        return {}

    @property
    def converged(self) -> bool:
        """Whether the fit settled."""
        return self.estimate.converged

    @cached_property
    @on_one_thread
    def pareto_k(self) -> float:
        """How much heavier the posterior's tails are than normal; see `psis.pareto_k`."""
        return pareto_k(self.model, self.estimate, self.draws[:WEIGHED])

    @cached_property
    @on_one_thread
    def growth(self) -> Growth:
        """Expected growth of the first 200 posterior draws, up to the last note."""
        return self.model.along(None).grow(self.draws[:200])

    @property
    def species_draws(self) -> Floats:
        """200 draws of the prior in whitened coordinates: colonies as the profile expects them."""
        return np.random.default_rng(self.seed).standard_normal((200, len(self.model.prior)))

    @cached_property
    def species_growth(self) -> Growth:
        """Expected growth of `species_draws`, up to the last note."""
        return self.model.along(None).grow(self.species_draws)

    def growth_frame(self) -> pd.DataFrame:
        """Tell how this colony is expected to have grown, and how its species would have.

        Returns
        -------
        DataFrame
            Columns date, stage, source, mean, q05, q25, q50, q75, q95; for the evening of each
            date from `queen_since`, or else the first note, to the last count. Source "colony" is
            what the notes leave possible, "species" what the profile alone expects at the same
            temperatures. Stages in life order, and "brood". Both are expected numbers: a single
            colony strays from them by chance, and `nest_frame` follows it.

        Examples
        --------
        >>> import antgrowth as ag
        >>> import pandas as pd
        >>> notes = pd.DataFrame({"date": ["2026-07-20"], "eggs": [50]})
        >>> fit = ag.fit(notes, ag.constant(25), "lasius-niger", queen_since="2026-07-04", rng=1)
        >>> fit.growth_frame().query("stage == 'eggs'").groupby("source")["q50"].last().round()
        source
        colony     86.0
        species    91.0
        Name: q50, dtype: float64
        """
        parts = []
        for source, growth in {"colony": self.growth, "species": self.species_growth}.items():
            known = growth.counts[:, 1 + self.history.day_of(self.history.day_zero) :]
            dates = pd.date_range(self.history.day_zero, periods=known.shape[1])
            part = stage_frame(dates, with_brood(known))
            part.insert(2, "source", source)
            parts.append(part)
        return pd.concat(parts, ignore_index=True)

    def nest_frame(self) -> pd.DataFrame:
        """Tell what the nest probably held on each day, given all notes.

        Returns
        -------
        DataFrame
            Columns date, stage, mean, q05, q25, q50, q75, q95; dates and stages as in
            `growth_frame`. True numbers: what the keeper does not see is in them. Worked out
            once; each call gives a table of its own.
        """
        return self._nest_frame.copy()

    @cached_property
    def _nest_frame(self) -> pd.DataFrame:
        dates = pd.date_range(self.history.day_zero, self.counts.end)
        return stage_frame(dates, with_brood(self.nests))

    @cached_property
    @on_one_thread
    def nests(self) -> Floats:
        """What the nest may have held, given all notes, shape (nests, days from day zero, 4)."""
        first = self.history.day_of(self.history.day_zero) + 1
        evenings = np.arange(first, self.days + 1)
        return each_evening(self.components, evenings, np.random.default_rng(self.seed))

    def summary_frame(self) -> pd.DataFrame:
        """Tell what was learned of each parameter.

        Returns
        -------
        DataFrame
            One row a parameter: parameter, unit, median, q05, q95 (posterior), prior_median,
            prior_q05, prior_q95, learned (share of the prior's spread that the notes removed),
            moved (in prior standard deviations), note.
        """
        prior, cov = self.model.prior, self.estimate.cov
        whitened = {
            "prior": (np.zeros(len(prior)), np.eye(len(prior))),
            "posterior": (self.estimate.x, cov),
        }
        rows = []
        for k, parameter in enumerate(prior.parameters):
            places = {}
            for name, (centre, spread) in whitened.items():
                line = prior.factor[k]
                middle = parameter.centre + line @ centre
                places[name] = middle, float(np.sqrt(line @ spread @ line))
            (before, wide), (after, narrow) = places["prior"], places["posterior"]
            reach = np.array([0.0, -1.645, 1.645])
            q50, q05, q95 = parameter.value(after + reach * narrow)
            p50, p05, p95 = parameter.value(before + reach * wide)
            learned, moved = 1.0 - narrow / wide, (after - before) / wide
            rows.append(
                {
                    "parameter": parameter.name,
                    "unit": parameter.unit,
                    "median": q50,
                    "q05": q05,
                    "q95": q95,
                    "prior_median": p50,
                    "prior_q05": p05,
                    "prior_q95": p95,
                    "learned": max(learned, 0.0),
                    "moved": moved,
                    "note": _note(parameter.scale, float(q50), learned, moved),
                }
            )
        return pd.DataFrame(rows)


def _unpacked(kind: type[Posterior], packed: bytes) -> Posterior:
    counts, history, drift, read, seed = pickle.loads(zlib.decompress(packed))
    model = model_of(counts, history, drift)
    found = [
        MixtureComponent(chance, loss, with_loss(model, loss).along(best.course), best)
        for chance, loss, best in read
    ]
    return kind(counts, history, found, _draws(found, seed), seed)


def _draws(found: list[MixtureComponent], seed: int) -> Floats:
    return found[0].estimate.draw(DRAWS, np.random.default_rng(seed))


@on_one_thread
def fit_posterior(
    log: CountLog, history: ColonyHistory, seed: int, start: Floats | None = None
) -> Posterior:
    """Fit the growth model to a log; the search may begin at a whitened `start`."""
    found = components(model_of(log, history), start)
    return Posterior(log, history, found, _draws(found, seed), seed)


def model_of(log: CountLog, history: ColonyHistory, drift: Floats = DRIFT) -> Model:
    """What a log and a history are to the fit."""
    prior = replace(Prior.of(history.species, history.founded), drift=drift)
    start = None if history.founded else starting_state(history, held_at_first(log), prior)
    forcing = history.forcing(history.day_of(log.end) + 1)
    return Model(prior, forcing, observations_of(log, history), start)


def check_span(log: CountLog, day_zero: pd.Timestamp) -> None:
    """Refuse a history that is longer than any colony's."""
    years = (log.end - day_zero).days / 365.25
    if years > LONGEST_YEARS:
        raise LogError(
            f"{log.name}: from {day_zero:%Y-%m-%d}, its first day, to the last note, of "
            f"{log.end:%Y-%m-%d}, are {years:.0f} years. Allowed: up to {LONGEST_YEARS}, more than "
            "any queen is known to have lived. Correct queen_since or the date of a note."
        )


def founding_day(log: CountLog, species: Species, queen_since: str | pd.Timestamp) -> pd.Timestamp:
    """Day on which the queen sat alone, checked against the log and the species."""
    if species.founding == "dependent":
        raise SpeciesError(
            f"{species.name}: its queens do not found alone, so queen_since has no meaning. "
            "Leave it out and begin the log with what the nest held."
        )
    day_zero = pd.Timestamp(as_day(queen_since, "fit: queen_since"))
    if log.start < day_zero:
        raise LogError(
            f"{log.name}: the first note is of {log.start:%Y-%m-%d}, before queen_since = "
            f"{day_zero:%Y-%m-%d}. Notes begin on that day or later; check both dates."
        )
    check_span(log, day_zero)
    return day_zero


def _note(scale: str, median: float, learned: float, moved: float) -> str:
    if scale == "logit" and (median > 0.99 or median < 0.01):
        return f"AT {'UPPER' if median > 0.5 else 'LOWER'} BOUND"
    if abs(moved) > 2.5:
        return "FAR FROM THE PROFILE"
    return "prior-driven" if learned < 0.1 else ""
