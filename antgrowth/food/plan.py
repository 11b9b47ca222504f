"""What a colony will eat: a day's food, and a plan by the week with its uncertainty.

Amounts follow from body mass, temperature and the flow of larvae (`antgrowth.food.energetics`);
their ranges hold what is uncertain of the constants and of the colony's growth. They are what a
colony needs, not what it carries off: offer a little more, and watch what is left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.pictures import picture
from antgrowth._core.summary import Report, Shown
from antgrowth._core.text import counted
from antgrowth._core.validation import as_number
from antgrowth.errors import AntgrowthError
from antgrowth.food.budget import Diet, body_masses, needs_along
from antgrowth.food.daily import HUMIDITY_PERCENT, LEVELS, DailyFood, daily_food, humidity_fault
from antgrowth.food.energetics import Constants, first_workers_covered
from antgrowth.food.feed_log import FeedLog, read_feeds
from antgrowth.food.feeding import Feeding
from antgrowth.food.offers import content_of, most_noted, offers, past_budget, quiet_days
from antgrowth.food.practice import QUIET, Practice, practice_of
from antgrowth.food.servings import (
    USUAL_PREY,
    Prey,
    Serving,
    as_percent,
    choose_prey,
    mixing_table,
    prey_kinds,
    servings,
)
from antgrowth.food.view import plan_report
from antgrowth.forecast.paths import Arrival, Forecast
from antgrowth.inference.posterior import _seeded
from antgrowth.species.thermal_limits import refuse_research

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["DailyFood", "FoodPlan", "daily_food", "mixing_table", "plan_food", "prey_kinds"]

Floats = NDArray[np.float64]

WEEK = 7

SCALE_MG = 1.0
"""Standard deviation of a weighing on a scale that shows single milligrams (assumed). [mg]"""


@dataclass(frozen=True, eq=False, repr=False)
class FoodPlan(Shown):
    """What to offer a colony, week by week.

    Attributes
    ----------
    forecast : Forecast
        The colonies it feeds, one a draw.
    practice : Practice
        From how many workers on sugar and prey are offered.
    offered : mapping of str to array, shape (draws, days)
        "sugar", "protein" and "water" of each day after the last note; 0 where it is not yet, or
        not now, offered. [mg/day]
    quiet : array of str, shape (days,)
        Why a day has no amounts ("rest", "cold", "heat"); empty if it has.
    servings : tuple of Serving
        How the needs are measured out: as sugar water or honey, as one kind of prey or another.
    percent : float
        Sugar of the sugar water by weight. [%]
    prey : tuple of Prey
        The first one is what larvae are reckoned to be reared on.
    reserve : array, shape (draws,), or None
        First workers that a founding queen's reserve covers, where she eats nothing; None where she
        eats, has workers already, or her mass is not known.
    queen_weighed : bool
        False if the queen's mass is guessed from that of workers.
    seed : int
        Of the constants' draws.
    feeding : Feeding or None
        What the keeper's weighings taught, which is in `offered`; None without any.
    """

    forecast: Forecast
    practice: Practice
    offered: Mapping[str, Floats] = field(repr=False)
    quiet: NDArray[np.str_] = field(repr=False)
    servings: tuple[Serving, ...] = field(repr=False)
    percent: float
    prey: tuple[Prey, ...]
    reserve: Floats | None = field(repr=False)
    queen_weighed: bool
    seed: int
    feeding: Feeding | None = None

    @property
    def dates(self) -> pd.DatetimeIndex:
        """Days of the plan: those after the last note."""
        return self.forecast.dates[1:]

    @property
    def protein_starts(self) -> Arrival | None:
        """When prey is offered for the first time; None if from the first day."""
        count = self.practice.protein_from_workers
        if not count:
            return None
        found = self.forecast.arrival(count)
        if found.noted is None:
            return found
        # As many were there once: that some are gone does not put it off.
        begun = np.full_like(found.dates, np.datetime64(found.start, "D"))
        return replace(found, dates=begun)

    def frame(self) -> pd.DataFrame:
        """Tell what to offer in each calendar week.

        Returns
        -------
        DataFrame
            Columns week (ISO 8601), start (first day of the plan in it), days (days of it with
            amounts), need ("sugar", "protein", "water"), item, unit, q05, q25, q50, q75, q95, note.
            Items that serve the same need are alternatives. Amounts are NaN in a week without
            amounts, and pieces of unknown mass always.
        """
        labels, starts = self._weeks()
        awake = self.quiet == ""
        days = np.add.reduceat(awake.astype(int), starts)
        ends = [*starts[1:], len(awake)]
        pauses = [self._pause(slice(*span)) for span in zip(starts, ends, strict=True)]
        parts = []
        for serving in self.servings:
            part = pd.DataFrame(
                {
                    "week": labels,
                    "start": self.dates[starts],
                    "days": days,
                    "need": serving.need,
                    "item": serving.item,
                    "unit": serving.unit,
                    **self._spread(serving, starts),
                }
            )
            part.loc[days == 0, list(LEVELS)] = np.nan
            part["note"] = ["; ".join(filter(None, [serving.note, pause])) for pause in pauses]
            parts.append(part)
        return pd.concat(parts).sort_values("start", kind="stable", ignore_index=True)

    def shopping(self, weeks: int = 12) -> pd.DataFrame:
        """Tell what to buy for the weeks after the last note.

        Parameters
        ----------
        weeks : int
            How many, as far as the forecast reaches.

        Returns
        -------
        DataFrame
            Columns need, item, unit (g, mL or piece), q05, q50, q95, note. Items of the same need
            are alternatives; whoever buys q95 runs short in one colony of twenty, waste not
            counted. Days without amounts, such as those of a rest, add nothing.

        Raises
        ------
        AntgrowthError
            If the forecast does not reach as far, or the species is for research only.
        """
        refuse_research(self.forecast.fit.species, "shopping list")
        most = self.forecast.days // WEEK
        if not (isinstance(weeks, (int, np.integer)) and 1 <= weeks <= most):
            raise AntgrowthError(
                f"shopping: weeks = {weeks!r}. The forecast reaches {most} whole weeks "
                f"({self.forecast.days} days): give a whole number from 1 to that, or forecast "
                "further, 7 days a week."
            )
        bulk = {"mg": ("g", 1000.0), "µL": ("mL", 1000.0), "piece": ("piece", 1.0)}
        rows = []
        for serving in self.servings:
            if serving.unit not in bulk or serving.item == "protein":
                continue
            unit, size = bulk[serving.unit]
            spread = self._spread(serving, np.zeros(1, dtype=np.intp), WEEK * weeks)
            rows.append(
                {"need": serving.need, "item": serving.item, "unit": unit}
                | {level: float(spread[level][0]) / size for level in ("q05", "q50", "q95")}
                | {"note": serving.note}
            )
        return pd.DataFrame(rows)

    def plot(self, ax: Sequence[Axes] | None = None) -> NDArray[np.object_]:
        """Draw sugar and prey by the week.

        Parameters
        ----------
        ax : two Axes, optional
            For sugar and for prey; a figure of its own if not given.

        Returns
        -------
        array of Axes, shape (2,)
        """
        drawn: NDArray[np.object_] = picture("food", "plot_food")(self, ax)
        return drawn

    def plot_beside(self, *others: FoodPlan) -> NDArray[np.object_]:
        """Draw this plan and others side by side, such as those of two ways of founding.

        Returns
        -------
        array of Axes, shape (2, plans)
        """
        drawn: NDArray[np.object_] = picture("food", "plot_beside")(self, *others)
        return drawn

    def summary(self) -> str:
        """Report in plain text: amounts by the week, when prey starts, what to take care of."""
        return self._report().as_text()

    def _report(self) -> Report:
        return plan_report(self)

    def __repr__(self) -> str:
        count = self.practice.protein_from_workers
        prey = f"prey from {counted(count, 'worker')} on" if count else "prey from the first day"
        return (
            f"FoodPlan({self.forecast.fit.counts.name!r}, {self.forecast.days} days from "
            f"{self.dates[0]:%Y-%m-%d}, {prey})"
        )

    def _weeks(self) -> tuple[list[str], NDArray[np.intp]]:
        """Names of the calendar weeks, and the place of the first day of each."""
        calendar = self.dates.isocalendar()
        labels = [
            f"{year}-W{week:02d}"
            for year, week in zip(calendar["year"], calendar["week"], strict=True)
        ]
        starts = [day for day, label in enumerate(labels) if not day or label != labels[day - 1]]
        return [labels[day] for day in starts], np.array(starts)

    def _pause(self, days: slice) -> str:
        """Why some days have no amounts, and what to do on them; empty if all have."""
        return "; ".join(QUIET[reason] for reason in sorted(set(self.quiet[days]) - {""}))

    def _spread(
        self, serving: Serving, starts: NDArray[np.intp], days: int | None = None
    ) -> dict[str, Floats]:
        """Quantiles of what is offered in stretches that start on these of the days, by level."""
        offered = self.offered[serving.need][:, :days]
        total = np.add.reduceat(offered, starts, axis=1) * serving.per_mg
        levels = np.quantile(total, list(LEVELS.values()), axis=0)
        return dict(zip(LEVELS, levels, strict=True))


def plan_food(
    forecast: Forecast,
    *,
    percent: float = 20.0,
    prey: str | Sequence[str] = USUAL_PREY,
    piece_mg: Mapping[str, float] | None = None,
    drop_ul: float | None = None,
    protein_from_workers: int | None = None,
    mass_mg: float | None = None,
    humidity_percent: float = HUMIDITY_PERCENT,
    feeds: FeedLog | pd.DataFrame | str | None = None,
    scale_mg: float = SCALE_MG,
    rng: int | np.random.Generator | None = None,
) -> FoodPlan:
    """Plan what to offer the colonies of a forecast.

    Parameters
    ----------
    forecast : Forecast
    percent : float
        Sugar of the sugar water by weight. [%]
    prey : str or sequence of str
        Kinds to choose from, see `prey_kinds`; what larvae need is reckoned with the first. For
        seed-eaters name "seeds".
    piece_mg : mapping of str to float, optional
        Mass of one piece of a kind, weighed. [mg]
    drop_ul : float, optional
        Volume of the drop you measure sugar water with. [µL]
    protein_from_workers : int, optional
        Workers from which on prey is offered; from the profile or its way of founding if not given.
    mass_mg : float, optional
        Live mass of a worker, weighed; needed where the profile has none. [mg]
    humidity_percent : float
        Of the air around the ants, for the water they lose. [%]
    feeds : FeedLog, DataFrame or path, optional
        What was offered and what was left of it; anything but a FeedLog goes through `read_feeds`.
        Amounts then are what this colony takes, so far as the weighings tell; see
        `FoodPlan.feeding`.
    scale_mg : float
        Standard deviation of one weighing of the scale that `feeds` was weighed with. [mg]
    rng : int, numpy.random.Generator or None
        Seed or source of chance for the constants; that of the forecast if not given.

    Returns
    -------
    FoodPlan

    Raises
    ------
    SpeciesError
        If the mass of a worker is not known.
    AntgrowthError
        If an argument is out of range.

    Notes
    -----
    Each colony of the forecast gets its own draw of the constants. Days of a rest season and days
    under 10 °C have no amounts: rates of awake ants do not hold there. Larvae that are not offered
    prey yet live on the queen, and their growth is in no amount.

    Feeds teach two factors, one for sugar and one for prey, by which a colony's intake strays from
    the budget: log-normal, shrunk to 1 by as much as the budget is uncertain, and learned from
    the portions offered between the first and the last note; a portion is taken to have fed the
    colony until the next one. The statistics are written out in
    `antgrowth.food.intake.learn_intake`.

    References
    ----------
    Rueppell O, Kirkman RW (2005) Extraordinary starvation resistance in Temnothorax rugatulus
    colonies. Insectes Sociaux 52:282-290; Dussutour A, Simpson SJ (2012) Ant workers die young and
    colonies collapse when fed a high-protein diet. Proceedings of the Royal Society B
    279:2402-2408, doi:10.1098/rspb.2012.0051.
    """
    faults = humidity_fault(humidity_percent)
    if drop_ul is not None and not 0 < as_number(drop_ul) < np.inf:
        faults.append(f"drop_ul = {drop_ul!r}. Give the volume of your drop above 0 µL.")
    if not 0 < as_number(scale_mg) < np.inf:
        faults.append(f"scale_mg = {scale_mg!r}. Give the error of one weighing above 0 mg.")
    if faults:
        raise AntgrowthError("plan_food: " + "\n  ".join(faults))
    fit, strength, kinds = forecast.fit, as_percent(percent), choose_prey(prey, piece_mg)
    ant = fit.species
    practice = practice_of(ant, protein_from_workers)
    seed, source = _seeded(forecast.seed if rng is None else rng)
    shape = (forecast.draws, 1)
    constants = Constants.draw(shape, source)
    masses = body_masses(ant, mass_mg, constants, forecast.draws, source)
    shares = [kind.protein_share(shape, source) for kind in kinds]

    tomorrow = forecast.start + pd.Timedelta("1D")
    hours_c = forecast.temperature.hours(tomorrow, forecast.days)
    resting = forecast.temperature.resting(tomorrow, forecast.days)
    queens = fit.setting._queens(fit.days + forecast.days)[fit.days :]
    diet = Diet(
        masses=masses,
        constants=constants,
        prey_protein=shares[0],
        prey_energy=kinds[0].energy_j_per_mg(shape, source),
        humidity_percent=float(humidity_percent),
    )
    counts = forecast.paths.astype(float)
    need = needs_along(ant, forecast.laws, counts, queens, hours_c, resting, diet)
    quiet = quiet_days(hours_c.mean(axis=1), resting)
    offered = offers(need, counts, practice, quiet, most_noted(fit.counts))
    founding = ant.founding == "claustral" and np.median(forecast.paths[:, 0, 3]) == 0
    reserve = None
    if founding and masses.queen_weighed:
        alone = first_workers_covered(masses.queen, masses.first_worker, constants)
        reserve = (alone * queens[0])[:, 0]
    forms = tuple(servings(strength, kinds, shares, drop_ul, constants, source))
    feeding = None
    if feeds is not None:
        log = feeds if isinstance(feeds, FeedLog) else read_feeds(feeds)
        named = {kind.kind: share for kind, share in zip(kinds, shares, strict=True)}
        content = content_of(log, named, constants, shape, source)
        past = past_budget(fit, practice, diet, forecast.draws)
        feeding = Feeding.of(log, past, content, float(scale_mg), source)
        offered |= {need: offered[need] * feeding.multiplier(need) for need in ("sugar", "protein")}
    return FoodPlan(
        forecast=forecast,
        practice=practice,
        offered=offered,
        quiet=quiet,
        servings=forms,
        percent=strength,
        prey=kinds,
        reserve=reserve,
        queen_weighed=masses.queen_weighed,
        seed=seed,
        feeding=feeding,
    )
