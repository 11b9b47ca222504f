"""What a keeper calls: `fit`, and what is asked of a `Fit`.

The rooms before work on a `Posterior`; here it gets its verbs.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.arguments import (
    ANTS,
    COLONIES,
    DAYS_AHEAD,
    HEMISPHERE,
    PATH,
    QUEENS,
    RNG,
    numbers_list,
    optional,
    takes,
)
from antgrowth._core.arrays import Floats
from antgrowth._core.pictures import picture
from antgrowth._core.random import seeded
from antgrowth._core.summary import Report, Shown, share_words
from antgrowth._core.threads import on_one_thread
from antgrowth._core.validation import as_celsius
from antgrowth.climate.temperature import Temperature, constant, read_temperature
from antgrowth.errors import AntgrowthError, LogError, TemperatureError
from antgrowth.evaluation.alerts import Alerts, find_alerts
from antgrowth.evaluation.detectors import forgotten_rests_of
from antgrowth.evaluation.diagnostics import Diagnostics, diagnose, strains
from antgrowth.forecast.arrival import Arrival
from antgrowth.forecast.paths import Forecast, forecast
from antgrowth.forecast.report import awaited
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.posterior import DRAWS, Posterior, check_span, fit_posterior, founding_day
from antgrowth.inference.prior import Prior
from antgrowth.inference.report import fit_report
from antgrowth.inference.saving import read_fit, save_fit
from antgrowth.inference.species_rank import place_in_species
from antgrowth.io.changes import ChangeLog, read_changes
from antgrowth.io.counts import CountLog, read_counts
from antgrowth.species.profile import Species, load_species

LEARNED = 0.1
"""Share of a parameter's spread that the notes have to remove to have told something of it."""


@dataclass(frozen=True, eq=False, repr=False)
class Fit(Posterior, Shown):
    """A growth model fitted to one colony.

    Attributes
    ----------
    counts : CountLog
        The notes it rests on.
    history : ColonyHistory
        Species, temperatures, day zero, and what was done to the colony.
    components : list of MixtureComponent
        Readings of the log with and without an unnoted loss of brood, the most probable first.
    draws : array, shape (draws, parameters)
        Posterior draws of the first component in whitened coordinates.
    seed : int
        Of the draws.
    """

    @classmethod
    def of(cls, posterior: Posterior) -> Fit:
        """The same posterior, with what a keeper asks of it."""
        return cls(*(getattr(posterior, f.name) for f in fields(Posterior)))

    def forecast(
        self,
        days: int | None = None,
        temperature: Temperature | float | None = None,
        draws: int = DRAWS,
        rng: int | np.random.Generator | None = None,
        *,
        workers: int | None = None,
    ) -> Forecast:
        """Let colonies like this one grow on from its last note.

        Parameters
        ----------
        days : int, optional
            How far to look ahead; 180 if neither this nor `workers` is given. [day]
        temperature : Temperature, optional
            What is to come, taken as it is. If not given: the fit's own temperatures as far as they
            reach, then the daily pattern of their last two weeks without rest. A species that needs
            a rest then gets one in each of its seasons for which none is planned: as it had before,
            or else as its profile says. A plan without end and without any rest is taken at its
            word. `Forecast.assumed` tells.
        draws : int
            Number of simulated colonies.
        rng : int, numpy.random.Generator or None
            Seed or source of chance. With one seed, forecasts have the days in common that they
            share, however far they look.
        workers : int, optional
            Look ahead, `days` at least, until 19 of 20 colonies hold so many workers, or clearly
            will not: at most three years.

        Returns
        -------
        Forecast
        """
        return forecast(
            self, days=days, workers=workers, temperature=temperature, draws=draws, rng=rng
        )

    @on_one_thread
    def alerts(self) -> Alerts:
        """Warn of what stands out in the notes and temperatures.

        Returns
        -------
        Alerts
            A sequence of `Alert`, empty if nothing calls for a look: a sudden loss of brood, laying
            that stalls, a queen late with her eggs, larvae that stand still, heat, a count out of
            line, notes that contradict the growth law. Each names date, stage, what was expected
            and seen, and causes as possibilities.
        """
        return find_alerts(self)

    @on_one_thread
    def diagnostics(self) -> Diagnostics:
        """Check how far this fit can be trusted.

        Returns
        -------
        Diagnostics
            Whether the normal posterior serves (effective draws, tail index), parameters at bounds,
            and how many of the notes the fit itself would expect. Its `plot_parameters` draws
            profile against posterior, its `plot_predictive` the notes on what like colonies show.
        """
        return diagnose(self)

    @takes(path=PATH)
    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the fit to a JSON file; `load_fit` reads it back."""
        save_fit(self, path)

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
            queens=self.history.queens,
            changes=self.history.changes,
            hemisphere=self.history.hemisphere,
            rng=self.seed,
            start=self.estimate.x,
        )

    def plot(self, stages: Sequence[str] | None = None) -> NDArray[np.object_]:
        """Draw notes and growth of each stage; see `antgrowth.plotting.plot_fit`."""
        return picture("inference", "plot_fit", self, stages=stages)

    @takes(workers=ANTS, days=DAYS_AHEAD, draws=COLONIES)
    def explore(self, workers: int = 30, days: int = 180, draws: int = 300) -> Any:
        """Move day and night temperature, the day of the change and the number of workers by hand.

        Parameters
        ----------
        workers : int
            The number waited for at first.
        days : int
            How far to look ahead. [day]
        draws : int
            Simulated colonies; more are slower to redraw, and say it more finely.

        Returns
        -------
        Explorer
            Shows itself in a notebook; dates, growth and food follow its sliders.

        Raises
        ------
        AntgrowthError
            If ipywidgets is not installed, or an argument is out of range.
        """
        return picture("regimes", "explore", self, workers, days, draws, module="explore")

    def _report(self) -> Report:
        report = fit_report(self)
        said = [f"REST NOT NOTED: {r.found()}; {r.remedy()}." for r in forgotten_rests_of(self)]
        return replace(
            report,
            facts=(*_findings(self), *report.facts),
            warning=" ".join(filter(None, (*said, report.warning))),
            folded=f"{len(report.rows)} parameters",
        )

    @cached_property
    def outlook(self) -> Arrival:
        """When the next of 30, 100, 300, 1000 ... workers are there, if nothing is changed."""
        number = awaited(self.forecast(1, rng=self.seed).workers_now)
        return self.forecast(rng=self.seed, workers=number).arrival(number)

    def __repr__(self) -> str:
        state = "" if self.converged else ", NOT CONVERGED"
        state += ", REST NOT NOTED" if forgotten_rests_of(self) else ""
        return (
            f"Fit({self.counts.name!r}, {self.species.name}, {len(self.counts.frame)} counts on "
            f"{len(self.counts)} dates{state})"
        )


@takes(
    queens=QUEENS, hemisphere=optional(HEMISPHERE), rng=RNG, start=optional(numbers_list),
)  # fmt: skip
def fit(
    counts: CountLog | pd.DataFrame | str,
    temperature: Temperature | float | pd.DataFrame | str | os.PathLike[str],
    species: Species | str,
    *,
    queen_since: str | pd.Timestamp | None = None,
    queens: int = 1,
    changes: ChangeLog | pd.DataFrame | str | None = None,
    hemisphere: str | None = None,
    rng: int | np.random.Generator | None = None,
    start: Floats | None = None,
) -> Fit:
    """Fit the growth model to a colony's notes.

    Parameters
    ----------
    counts : CountLog, DataFrame or path
        The keeper's notes; anything but a CountLog goes through `read_counts`.
    temperature : Temperature, number, DataFrame or path
        A number is a steady temperature [°C]; a record goes through `read_temperature`. Must cover
        every day from `queen_since`, or else from the first note, to the last note.
    species : Species or str
        Profile, or its name or path.
    queen_since : date, optional
        The day the queen sat alone without brood: day zero. If not given, the colony came
        part-grown: its first note is where it stands, and its past is unknown.
    queens : int
        Egg-laying queens at the start. They lay as much as one times their number to the power
        0.6, and by themselves rear so much more brood (assumed), unless the profile knows better.
        Of many ants, *Lasius niger* among them, all but one die once there are workers: note it in
        `changes` when it happens.
    changes : ChangeLog, DataFrame or path, optional
        Ants carried in or out, queens lost or added, ants found dead; see `read_changes`.
    hemisphere : {"north", "south"}, optional
        Where the colony lives: forecasts put the rest of a species that needs one into its season.
        If not given, and the colony has had no rest yet, north is assumed.
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
    SpeciesError
        If `queen_since` is given for a species whose queens do not found alone.
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
    if changes is not None:
        changes = changes if isinstance(changes, ChangeLog) else read_changes(changes)
    temperature = _temperature_of(temperature)
    if not len(log.frame):
        raise LogError(f"{log.name}: no count in the log. Note at least one stage on one date.")
    founding = None if queen_since is None else founding_day(log, profile, queen_since)
    if founding is None:
        check_span(log, log.start)
    if start is not None and len(start) != (size := len(Prior.of(profile, founding is not None))):
        raise AntgrowthError(f"fit: start has {len(start)} numbers. Give {size}, one a parameter.")
    history = ColonyHistory(
        profile,
        temperature,
        log.start if founding is None else founding,
        founding is not None,
        changes,
        queens,
        hemisphere,
    )
    return Fit.of(fit_posterior(log, history, seeded(rng)[0], start))


def _findings(fit: Fit) -> Iterator[tuple[str, str]]:
    """What a fit found, before its numbers: on track, a date, a loss, whose the numbers are."""
    place = place_in_species(fit)
    yield "finding", f"{place.finding}: {place.evidence(fit.species.scientific_name)}"
    yield "date", fit.outlook.sentence()
    table = fit.summary_frame()
    own = table["learned"] >= LEARNED
    yield (
        "learned",
        (
            f"of {len(table)} parameters the notes tell something of {int(own.sum())}; the others "
            "are still the profile's"
        ),
    )
    lost = sum(component.probability for component in fit.components if component.loss is not None)
    if lost > 0.05:
        yield "loss", f"{share_words(lost)} chance that brood was lost between two looks"
    if reasons := strains(fit):
        yield "TAKE CARE", "; ".join(reasons)


def _temperature_of(given: object) -> Temperature:
    """A temperature as it is, a number as a steady one, a table or file as a record."""
    if isinstance(given, Temperature):
        return given
    if isinstance(given, str | os.PathLike | pd.DataFrame):
        return read_temperature(given)
    if isinstance(given, int | float | np.number) and not isinstance(given, bool):
        return constant(as_celsius(given, "fit: temperature"))
    raise TemperatureError(
        f"fit: temperature is a {type(given).__name__}. Give a number of °C, the path of a record, "
        "or what read_temperature, constant or day_night return, for example ag.constant(24.0)."
    )


@takes(path=PATH)
@on_one_thread
def load_fit(path: str | os.PathLike[str]) -> Fit:
    """Read a fit that `Fit.save` wrote.

    Parameters
    ----------
    path : path

    Returns
    -------
    Fit
        Gives the same forecasts as the fit that was saved.

    Raises
    ------
    AntgrowthError
        If the file is missing, is no saved fit, or was written by a later antgrowth.
    """
    return Fit.of(read_fit(path))
