"""Fit the growth model to a keeper's notes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth.cohorts import Growth
from antgrowth.counts import CountLog, read_counts
from antgrowth.errors import LogError, SpeciesError, TemperatureError
from antgrowth.inference import Estimate, Model, estimate
from antgrowth.laws import Climate
from antgrowth.likelihood import ROUGH, Observations
from antgrowth.moments import Cells
from antgrowth.prior import Prior, climate_of
from antgrowth.species import Species, load_species
from antgrowth.stages import BROOD, STAGES
from antgrowth.temperature import Temperature

if TYPE_CHECKING:
    from antgrowth.forecast import Forecast

__all__ = ["Fit", "fit"]

Floats = NDArray[np.float64]

DRAWS = 1000
"""Posterior draws kept by a fit."""


@dataclass(frozen=True, eq=False, repr=False)
class Fit:
    """A growth model fitted to one colony.

    Attributes
    ----------
    counts : CountLog
        The notes it rests on.
    temperature : Temperature
        What the colony lived through, and any plan that came with it.
    species : Species
        Where the prior comes from.
    queen_since : Timestamp
        Day 0: the day the queen sat alone without brood.
    model : Model
        Prior, climate and observations, as the fit saw them.
    estimate : Estimate
        The most probable parameters and the normal posterior around them.
    draws : array, shape (draws, parameters)
        Posterior draws in whitened coordinates.
    seed : int
        Of the draws.
    """

    counts: CountLog
    temperature: Temperature
    species: Species
    queen_since: pd.Timestamp
    model: Model
    estimate: Estimate
    draws: Floats = field(repr=False)
    seed: int

    @property
    def days(self) -> int:
        """Days from day 0 to the end of the last day with a note."""
        return int((self.counts.end - self.queen_since) / pd.Timedelta("1D")) + 1

    @property
    def converged(self) -> bool:
        """Whether the fit settled."""
        return self.estimate.converged

    @cached_property
    def growth(self) -> Growth:
        """Expected growth of the first 200 posterior draws, up to the last note."""
        return self.model.grow(self.draws[:200])

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

    def forecast(
        self,
        days: int = 180,
        temperature: Temperature | None = None,
        draws: int = DRAWS,
        rng: int | np.random.Generator | None = None,
    ) -> Forecast:
        """Let colonies like this one grow on from its last note.

        Parameters
        ----------
        days : int
            How far to look ahead. [day]
        temperature : Temperature, optional
            What is to come. If not given: the fit's own temperatures as far as they reach, then the
            daily pattern of their last two weeks.
        draws : int
            Number of simulated colonies.
        rng : int, numpy.random.Generator or None
            Seed or source of chance.

        Returns
        -------
        Forecast
        """
        from antgrowth.forecast import forecast

        return forecast(self, days=days, temperature=temperature, draws=draws, rng=rng)

    def update(self, new_counts: CountLog | pd.DataFrame | str) -> Fit:
        """Fit again with more notes, starting from what is known.

        Parameters
        ----------
        new_counts : CountLog, DataFrame or path
            The whole log so far, old rows and new.
        """
        return fit(
            new_counts,
            self.temperature,
            self.species,
            queen_since=self.queen_since,
            rng=self.seed,
            start=self.estimate.x,
        )

    def __repr__(self) -> str:
        state = "" if self.converged else ", NOT CONVERGED"
        return (
            f"Fit({self.counts.name!r}, {self.species.name}, {len(self.counts.frame)} counts on "
            f"{len(self.counts)} dates{state})"
        )


def fit(
    counts: CountLog | pd.DataFrame | str,
    temperature: Temperature,
    species: Species | str,
    *,
    queen_since: str | pd.Timestamp | None = None,
    rng: int | np.random.Generator | None = None,
    start: Floats | None = None,
) -> Fit:
    """Fit the growth model to a colony's notes.

    Parameters
    ----------
    counts : CountLog, DataFrame or path
        The keeper's notes; anything but a CountLog goes through `read_counts`.
    temperature : Temperature
        Must cover every day from `queen_since` to the last note.
    species : Species or str
        Profile, or its name or path.
    queen_since : date
        The day the queen sat alone without brood: day 0.
    rng : int, numpy.random.Generator or None
        Seed or source of chance for the posterior draws.
    start : array, shape (parameters,), optional
        Where the search begins, in whitened coordinates.

    Returns
    -------
    Fit

    Raises
    ------
    LogError
        If the log begins before `queen_since` or holds no count.
    TemperatureGapError
        If temperatures do not cover the log.

    Examples
    --------
    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> notes = pd.DataFrame({"date": ["2026-07-20", "2026-08-30"], "eggs": [9, 7],
    ...                       "workers": ["", "first"]})
    >>> found = ag.fit(notes, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=1)
    >>> found.converged
    True
    """
    log = counts if isinstance(counts, CountLog) else read_counts(counts)
    profile = species if isinstance(species, Species) else load_species(species)
    if not isinstance(temperature, Temperature):
        raise TemperatureError(
            f"fit: temperature is a {type(temperature).__name__}. Give what read_temperature, "
            "constant or day_night return, for example ag.constant(24.0)."
        )
    day_zero = _founding(log, profile, queen_since)
    days = int((log.end - day_zero) / pd.Timedelta("1D")) + 1
    climate = climate_between(profile, temperature, day_zero, days)
    model = Model(Prior.of(profile), climate, observe(log, day_zero))
    best = estimate(model, start)
    seed, source = _seeded(rng)
    return Fit(
        counts=log,
        temperature=temperature,
        species=profile,
        queen_since=day_zero,
        model=model,
        estimate=best,
        draws=best.draw(DRAWS, source),
        seed=seed,
    )


def _founding(
    log: CountLog, species: Species, queen_since: str | pd.Timestamp | None
) -> pd.Timestamp:
    if queen_since is None:
        raise LogError(
            f"{log.name}: queen_since is missing. Give the day the queen sat alone without brood, "
            'for example queen_since="2026-07-04".'
        )
    if species.founding == "dependent":
        raise SpeciesError(
            f"{species.name}: its queens do not found alone, so queen_since has no meaning. "
            "Leave it out and begin the log with what the nest held."
        )
    day_zero = pd.Timestamp(queen_since).normalize()
    if log.start < day_zero:
        raise LogError(
            f"{log.name}: the first note is of {log.start:%Y-%m-%d}, before queen_since = "
            f"{day_zero:%Y-%m-%d}. Notes begin on that day or later; check both dates."
        )
    if not len(log.frame):
        raise LogError(f"{log.name}: no count in the log. Note at least one stage on one date.")
    return day_zero


def climate_between(
    species: Species, temperature: Temperature, start: pd.Timestamp, days: int
) -> Climate:
    """What so many days from a date mean to a species."""
    return climate_of(species, temperature.hours(start, days), temperature.resting(start, days))


def observe(log: CountLog, day_zero: pd.Timestamp) -> Observations:
    """Turn a log's cells into observations of the growth model.

    A first sighting says two things: none at the last look, at least one now.
    """
    def day_of(dates: pd.Series) -> NDArray:
        return ((dates - day_zero) / pd.Timedelta("1D")).to_numpy() + 1

    frame = log.frame
    sighted = frame[frame["last_look"] >= day_zero]
    counted = pd.MultiIndex.from_frame(frame[["stage", "date"]])
    looks = pd.MultiIndex.from_arrays([sighted["stage"], sighted["last_look"]])
    none_yet = sighted[~looks.isin(counted)]  # the last look says so itself where it was counted
    nothing = np.zeros(len(none_yet))
    weights = {
        column: [float(stage == column or (column == "brood" and stage in BROOD)) for stage in STAGES]
        for column in (*STAGES, "brood")
    }
    columns = [*frame["stage"], *none_yet["stage"]]
    return Observations(
        cells=Cells(
            np.concatenate([day_of(frame["date"]), day_of(none_yet["last_look"])]).astype(np.intp),
            np.array([weights[column] for column in columns]),
        ),
        low=np.concatenate([frame["low"], nothing]),
        high=np.concatenate([frame["high"], nothing]),
        rough=np.where([*(frame["kind"] == "rough"), *(nothing > 0)], ROUGH, 1.0),
    )


def _note(scale: str, median: float, learned: float, moved: float) -> str:
    if scale == "logit" and (median > 0.99 or median < 0.01):
        return f"AT {'UPPER' if median > 0.5 else 'LOWER'} BOUND"
    if abs(moved) > 2.5:
        return "FAR FROM THE PROFILE"
    return "prior-driven" if learned < 0.1 else ""


def _seeded(rng: int | np.random.Generator | None) -> tuple[int, np.random.Generator]:
    """Seed to remember, and the source of chance it stands for."""
    if isinstance(rng, np.random.Generator):
        seed = int(rng.integers(2**31))
    elif rng is None:
        seed = int(np.random.default_rng().integers(2**31))
    else:
        seed = int(rng)
    return seed, np.random.default_rng(seed)
