"""What to look out for: each watch reads a fit and warns of one kind of trouble.

Limits were set on simulated colonies; how often others are warned about while healthy, and how soon
a loss is noticed, tells `tests/statistical/test_alerts.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.arrays import Floats
from antgrowth._core.stages import BROOD, EGGS
from antgrowth._core.stats import REACH_90
from antgrowth._core.summary import share_words
from antgrowth._core.text import counted
from antgrowth.climate.forgotten_rest import ForgottenRest, forgotten_rests
from antgrowth.climate.queen_heat import queen_heat
from antgrowth.evaluation.alert import Alert
from antgrowth.evaluation.innovations import Innovations
from antgrowth.inference.adequacy import CONTRADICTORY
from antgrowth.inference.laplace import unforeseen
from antgrowth.model.life_cycle import LifeCycle, larval_progress
from antgrowth.species.comfort import cool_for_brood

if TYPE_CHECKING:
    from antgrowth.inference.posterior import Posterior

REST_NOT_NOTED = "rest not noted"
"""Kind of the alert that comes before all others: until it is settled, they cannot be judged."""
CONTRADICTION = "notes against the model"

CALM = 1.0
"""Dispersion below which a log follows the growth law so closely that small losses stand out."""

LOSS_WORTH_TELLING = {True: 0.5, False: 0.8}
"""Probability of an unnoted loss of brood from which the keeper is told of a loss, in a calm log or
not: nothing that is less likely than not is called one."""

LOSS_WORTH_A_LOOK = 0.28
"""The same, in a calm log, from which a look with too little brood is told as that."""

RECENT = 2
"""Visits in which a fresh change has to show."""

TOO_FEW = {True: -2.5, False: -2.75}
"""Standardised miss of all brood at a recent look, in a calm log or not."""

STALLED = -3.0
"""Standardised miss of the eggs at a recent look."""

OUT_OF_LINE = 4.5
"""Standardised miss of any one count."""

USUAL_VISITS = 4
"""Visits of usual dispersion that every log is taken to have had besides its own (assumed)."""

LATE = 0.975
"""Share of the species' colonies that are ahead of a colony called late."""

TO_SEE = 1.5
"""Eggs expected from which a keeper would have seen some. [egg]"""

QUEENS_LOST = 0.01
"""Share of queens lost to heat from which the keeper is told: single warm hours cost less."""

LAST_DAYS = 14
STANDSTILL = 0.1
"""Larvae stand still where these last days brought less than this share of usual progress."""

TAKEN = (
    "eaten by workers or queen after a disturbance, hunger or too much heat",
    "mould, drought or a spill in the tube",
    "mites or other guests",
    "brood hidden out of sight, or a slip in the count",
)
COUNTING = (
    "a slip in the count or in the date",
    "ants carried in or out without a line in changes.csv",
    "another part of the nest in view than before",
)
AFTER_WINTER = (
    "many queens of this ant lay only after their first winter: give her that winter at its time, "
    "and not more warmth"
)
HARDLY_LAYING = (
    "no protein for the queen, or none for the larvae she waits for",
    "too cold or too warm beside her, or her season over: many ants stop for the year however warm",
    "a disturbance: light, shaking, too many looks",
    "a sick or failing queen",
)


def forgotten_rests_of(fit: Posterior) -> tuple[ForgottenRest, ...]:
    """Seasons that a colony's log spans without the rest that its species needs."""
    since, until = (np.datetime64(d, "D") for d in (fit.history.first_day, fit.counts.end))
    return forgotten_rests(fit.species, fit.history.hemisphere, fit.temperature, since, until)


def rest_not_noted(fit: Posterior, innovations: Innovations) -> Iterator[Alert]:
    """A rest that the species needs and nobody noted; what follows from it is no alert."""
    for rest in forgotten_rests_of(fit):
        yield Alert(
            REST_NOT_NOTED, pd.Timestamp(rest.season[0]), "",
            f"{rest.found()}. Without it a winter looks like brood that was lost and a queen that "
            "stopped, so warnings of these months wait until it is settled", None, "",
            (
                rest.remedy(),
                "it was kept awake: an ant that needs a winter may stop rearing or decline",
            ),
        )  # fmt: skip


def lost_brood(fit: Posterior, innovations: Innovations) -> Iterator[Alert]:
    """A sudden loss of brood, long ago or lately."""
    chance = sum(
        component.probability for component in fit.components if component.loss is not None
    )
    calm = min(component.estimate.dispersion for component in fit.components) < CALM
    visits = _for_this_log(innovations.brood)
    low = visits.tail(RECENT)
    low = low[low["z"] < TOO_FEW[calm]]
    if calm and chance > LOSS_WORTH_A_LOOK and low.empty:
        low = visits[visits["z"] < -REACH_90].tail(1)
    if chance > LOSS_WORTH_TELLING[calm]:
        loss = next(component.loss for component in fit.components if component.loss is not None)
        date = fit.history.day_zero + pd.Timedelta(days=loss.day - 1)
        # Its day is known to about a look: the one before it may be the first that shows it.
        before = innovations.brood.loc[innovations.brood["date"] < date, "date"].max()
        seen = innovations.brood[
            (innovations.brood["date"] >= date) | (innovations.brood["date"] == before)
        ]
        visit = seen.iloc[int(seen["z"].argmin())] if len(seen) else None
        found = (
            f"about {loss.share:.0%} of the brood may have been lost around that day "
            f"({chance:.0%} probable)"
        )
        if visit is not None and not visit["z"] < -REACH_90:
            visit = None  # what was noted then is within what was expected
        if visit is not None:
            found += f"; on {visit['date']:%Y-%m-%d} {_against(visit)}"
        yield Alert(
            "brood lost", date, "brood", found,
            None if visit is None else (visit["low"], visit["high"]),
            "" if visit is None else visit["text"], TAKEN,
        )  # fmt: skip
    elif len(low) and not _only_eggs(innovations, low["date"].iloc[0]):
        visit = low.iloc[0]
        yield Alert(
            "less brood", visit["date"], "brood", _against(visit),
            (visit["low"], visit["high"]), visit["text"], (*TAKEN, *HARDLY_LAYING[:2]),
        )  # fmt: skip


def stalled_laying(fit: Posterior, innovations: Innovations) -> Iterator[Alert]:
    """Far fewer eggs at one of the last looks than all earlier ones let expect."""
    eggs = _for_this_log(innovations.cells[innovations.cells["stage"] == "eggs"]).tail(RECENT)
    for _, visit in eggs[eggs["z"] < STALLED].head(1).iterrows():
        yield Alert(
            "laying stalled", visit["date"], "eggs", _against(visit),
            (visit["low"], visit["high"]), visit["text"], (*HARDLY_LAYING, *TAKEN[:1]),
        )  # fmt: skip


def no_eggs(fit: Posterior, innovations: Innovations) -> Iterator[Alert]:
    """A lone queen without eggs long after her kind has laid."""
    frame = fit.counts.frame
    if fit.queen_since is None or (frame["high"] > 0).any():
        return
    visits = frame.loc[frame["stage"] == "eggs", "date"]
    if visits.empty:
        return
    growth = fit.species_growth.counts[..., EGGS]
    laid = np.maximum.accumulate(growth, axis=1)[:, fit.history.day_of(visits.max()) + 1] >= TO_SEE
    if laid.mean() > LATE:
        yield Alert(
            "no eggs yet", visits.max(), "eggs",
            f"{(visits.max() - fit.queen_since).days} days alone and no egg, by when "
            f"{share_words(laid.mean())} of queens of {fit.species.scientific_name} have laid",
            (TO_SEE, float(np.quantile(growth[:, -1], 0.95))), "0",
            (
                *([AFTER_WINTER] if fit.species.lays_after_winter else []),
                "not mated, or hurt",
                "too cold, too bright or too often disturbed",
            ),
        )  # fmt: skip


def standing_larvae(fit: Posterior, innovations: Innovations) -> Iterator[Alert]:
    """Larvae that do not become pupae: too cold for their clock to run, or overdue by it.

    Larvae that wait for a place among the workers' brood, or for spring once the season is over,
    are as they should be.
    """
    frame = fit.counts.frame
    noted = frame[frame["stage"] == "larvae"]
    there = noted[noted["low"] > 0]
    if there.empty or there["date"].max() < noted["date"].max():
        return
    passed_by = fit.model.forcing.days_passed(1)
    first, end = (fit.history.day_of(date) + 1 for date in (there["date"].min(), fit.counts.end))
    before = max(end - LAST_DAYS, 0)
    recent = float(passed_by[end] - passed_by[before])
    if _rearing(fit)[end - 1] > 0.5 and recent < STANDSTILL * (end - before):
        lower = fit.species.value("development.larva.lower_c")
        yield Alert(
            "larvae stand still", fit.counts.end, "larvae",
            f"the last {counted(end - before, 'day')} brought larvae as far as "
            f"{recent:.1f} days at {fit.species.value('development.reference_c'):g} °C do; below "
            f"{lower:g} °C they do not develop",
            None, str(there["text"].iloc[-1]),
            ("too cold: warm the nest gently if it is no rest season, and keep to the ceiling",),
        )  # fmt: skip
        return
    grown = frame["stage"].isin(["pupae", "workers"])
    looked = frame[(frame["stage"] == "pupae") & (frame["high"] == 0)]
    if (frame.loc[grown, "high"] > 0).any() or looked.empty or fit.queen_since is None:
        return
    last = fit.history.day_of(looked["date"].max()) + 1
    laws = fit.model.prior.laws(fit.species_draws)
    passed = larval_progress(laws, fit.model.forcing)[:, first:last].sum(axis=1)
    overdue = passed / laws.first_development > 1 + fit.species.value("development.pace_cv")
    if overdue.mean() > LATE:
        yield Alert(
            "larvae stand still", looked["date"].max(), "larvae",
            f"no pupa {counted(last - first, 'day')} after the first larvae; at these temperatures "
            "hardly any need so long",
            None, str(there["text"].iloc[-1]),
            (
                "no protein",
                "the brood sits cooler than the sensor",
                "larvae that wait for a winter, as some species' do",
                "young larvae lost and others come after them",
            ),
        )  # fmt: skip


def _rearing(fit: Posterior) -> Floats:
    """Share to which larvae of the fit are reared on each day: none in a rest, or out of season."""
    laws = fit.model.prior.laws(fit.estimate.x[None])
    found: Floats = LifeCycle(laws, fit.model.forcing).rearing[0]
    return found


def heated_queen(fit: Posterior, innovations: Innovations) -> Iterator[Alert]:
    """So much heat above the ceiling that it kills queens."""
    first, frame = fit.history.first_day, fit.counts.frame
    days = (fit.counts.end - first).days + 1
    grown = frame.loc[(frame["stage"] == "workers") & (frame["high"] > 0), "date"]
    housed_from = grown.min() if len(grown) else fit.counts.end + pd.Timedelta("1D")
    housed = np.asarray(pd.date_range(first, periods=days) >= housed_from)
    hours_c = fit.temperature.hours(first, days)
    found = queen_heat(fit.species, hours_c, housed, first - pd.Timedelta("1D"))
    if found is None or found.lost < QUEENS_LOST or fit.queenless:
        return
    killed = ""
    if np.isfinite(found.lost):
        killed = f"; about {share_words(found.lost)} of queens die of as much"
    yield Alert(
        "too warm", found.first, "", f"{found.hours_words()}{killed}", None, "",
        (
            "move the nest to where it is cooler now, then look for the reason",
            "sun, a heat mat without a thermostat, or a sensor nearer to the heat than the queen",
        ),
    )  # fmt: skip


def cool_brood(fit: Posterior, innovations: Innovations) -> Iterator[Alert]:
    """Two weeks in season too cool for the brood."""
    frame = fit.counts.frame
    end = fit.history.day_of(fit.counts.end) + 1
    days = min(LAST_DAYS, end)
    if _rearing(fit)[end - 1] < 0.5 or days < LAST_DAYS:
        return
    if not (frame.loc[frame["stage"].isin(["eggs", "larvae"]), "high"] > 0).any():
        return
    mean_c = fit.temperature.hours(fit.counts.end - pd.Timedelta(days=days - 1), days).mean()
    if found := cool_for_brood(fit.species, mean_c):
        yield Alert(
            "too cool", fit.counts.end, "brood",
            f"the last {counted(days, 'day')} had {mean_c:.1f} °C on average; brood: {found}",
            None, "",
            ("a cool room: warm a part of the nest gently, and keep to the ceiling",),
        )  # fmt: skip


def heat(fit: Posterior, innovations: Innovations) -> Iterator[Alert]:
    """Hours above the temperature from which brood dies."""
    limit = fit.species.value("limits.heat_limit_c")
    days = (fit.counts.end - fit.history.first_day).days + 1
    excess = np.maximum(fit.temperature.hours(fit.history.first_day, days) - limit, 0.0)
    if not excess.any():
        return
    each_c = fit.species.value("limits.heat_loss_per_day_c")
    lost = 1.0 - np.exp(-each_c * excess.mean(axis=1).sum())
    worst = fit.history.first_day + pd.Timedelta(days=int(excess.sum(axis=1).argmax()))
    yield Alert(
        "heat damage", worst, "brood",
        f"{counted(int((excess > 0).sum()), 'hour')} above {limit:g} °C, at most "
        f"{limit + excess.max():.1f} °C; about {lost:.0%} of the brood that lived through all of "
        "it is expected lost",
        None, "",
        (
            "sun, a heat mat without a thermostat, or a sensor nearer to the heat than the nest",
            "move the nest to where it is cooler first, then look for the reason",
        ),
    )  # fmt: skip


def odd_counts(fit: Posterior, innovations: Innovations) -> Iterator[Alert]:
    """Counts that no colony of this law would show after the earlier ones."""
    cells = innovations.cells[innovations.cells["exact"]]
    losses = [component.loss for component in fit.components if component.loss is not None]
    if losses and fit.components[0].loss is not None:
        # What the loss explains has been told already.
        gone = fit.history.day_zero + pd.Timedelta(days=losses[0].day - 1)
        brood = cells["stage"].isin([*BROOD, "brood"]) & (cells["date"] >= gone)
        cells = cells[~brood]
    cells = cells[(cells["stage"] != "eggs") | (cells["z"] < 0)]  # many queens lay by the clutch
    for _, cell in cells[_for_this_log(cells)["z"].abs() > OUT_OF_LINE].iterrows():
        yield Alert(
            "count out of line", cell["date"], cell["stage"], _against(cell),
            (cell["low"], cell["high"]), cell["text"], COUNTING,
        )  # fmt: skip


def no_queen(fit: Posterior, innovations: Innovations) -> Iterator[Alert]:
    """The last queen was noted lost, and none was added since."""
    changes = fit.history.changes
    if changes is None or not fit.queenless:
        return
    frame = changes.frame
    lost = frame[(frame["stage"] == "queens") & (frame["change"] < 0)]
    yield Alert(
        "no queen", lost["date"].max(), "", "by the changes noted the colony has no queen, so "
        "nothing is laid: forecasts count on the brood that is left", None, "",
        (
            "she is dead: workers live on for months, so feed them as before",
            "she was mistaken for dead, or another was added: then note it in changes.csv",
        ),
    )  # fmt: skip


def contradictions(fit: Posterior, innovations: Innovations) -> Iterator[Alert]:
    """Notes and growth law that do not go together.

    That a fit did not settle is no matter of the ants: it is told with the dates, and here only
    beside what the notes themselves say.
    """
    best, frame = fit.estimate, fit.counts.frame
    early = frame[unforeseen(fit.model, best.mean, best.noise_cov)[: len(frame)]]
    if best.dispersion <= CONTRADICTORY and early.empty:
        return
    ant = fit.species.scientific_name
    faults = [
        f"{cell['text']} {cell['stage']} noted on {cell['date']:%Y-%m-%d}, when the profile of "
        f"{ant} lets hardly any be expected"
        for cell in early.head(1).to_dict("records")
    ]
    if best.dispersion > CONTRADICTORY:
        faults.append(
            f"the notes stray {np.sqrt(best.dispersion):.1f} times as far from any growth that the "
            f"profile of {ant} allows as notes usually do"
        )
    if not best.converged:
        faults.append("the fit did not settle")
    yield Alert(
        CONTRADICTION, fit.counts.end, "", "; ".join(faults), None, "",
        (
            "a wrong date, or queen_since off by weeks",
            "another species than the profile's",
            "ants carried in or out, or a queen lost, without a line in changes.csv",
        ),
    )  # fmt: skip


DETECTORS = (
    heated_queen, rest_not_noted, no_queen, lost_brood, stalled_laying, no_eggs, standing_larvae,
    cool_brood, heat, odd_counts, contradictions,
)  # fmt: skip


def _for_this_log(visits: pd.DataFrame) -> pd.DataFrame:
    """The same visits with their misses measured by how far the others of the log stray.

    A queen who lays by the clutch surprises at every look: only more than that stands out.
    """
    square = visits["z"] ** 2
    others = (square.sum() - square + USUAL_VISITS) / (len(visits) - 1 + USUAL_VISITS)
    return visits.assign(z=visits["z"] / np.sqrt(np.maximum(others, 1.0)))


def _only_eggs(innovations: Innovations, date: pd.Timestamp) -> bool:
    """Whether the eggs alone are what is missing at a look."""
    there = innovations.cells[(innovations.cells["date"] == date)].set_index("stage")["z"]
    return bool(there.get("eggs", 0.0) < STALLED and (there.drop("eggs") > -1.0).all())


def _against(visit: pd.Series) -> str:
    what = f"{visit['text']} {visit['stage']}" if "stage" in visit else visit["text"]
    low, high = round(visit["low"]), round(visit["high"])
    return f"{what} noted where the earlier notes let {low} to {high} be expected"
