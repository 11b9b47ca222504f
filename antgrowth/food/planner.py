"""Plan what to offer the colonies of a forecast.

Amounts follow from body mass, temperature and the flow of larvae (`antgrowth.food.energetics`);
their ranges hold what is uncertain of the constants and of the colony's growth. They are what a
colony needs, not what it carries off: offer a little more, and watch what is left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from antgrowth._core.arguments import RNG, above_0, instance, optional, takes, within
from antgrowth._core.random import seeded
from antgrowth._core.validation import MOST_ANTS
from antgrowth.food.budget import Diet, body_masses, needs_along
from antgrowth.food.constants import Constants
from antgrowth.food.daily import HUMIDITY, HUMIDITY_PERCENT
from antgrowth.food.energetics import first_workers_covered
from antgrowth.food.feed_log import FeedLog, read_feeds
from antgrowth.food.feeding import Feeding
from antgrowth.food.offers import content_of, most_noted, past_budget, quiet_days, ration_schedule
from antgrowth.food.plan import FoodPlan
from antgrowth.food.practice import feeding_rules
from antgrowth.food.servings import as_percent, choose_prey, servings, usual_prey
from antgrowth.forecast.paths import Forecast

SCALE_MG = 1.0
"""Standard deviation of a weighing on a scale that shows single milligrams (assumed). [mg]"""


@takes(
    forecast=instance(Forecast, "Fit.forecast"),
    drop_ul=optional(above_0("the volume of your drop above 0 µL")),
    protein_from_workers=optional(within(0, MOST_ANTS)), humidity_percent=HUMIDITY,
    scale_mg=above_0("the error of one weighing above 0 mg"), rng=RNG,
)  # fmt: skip
def plan_food(
    forecast: Forecast,
    *,
    percent: float = 20.0,
    prey: str | Sequence[str] | None = None,
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
    prey : str or sequence of str, optional
        Kinds to choose from, see `prey_kinds`; what larvae need is reckoned with the first. If not
        given, usual insects, and before them seeds where the species eats them.
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
    Each colony of the forecast gets its own draw of the constants. Days of a rest season
    under 12 °C and days under 10 °C have no amounts: rates of awake ants do not hold there. In a
    warmer rest sugar goes on, as much as awake ants take. Larvae that are not offered
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
    fit, strength = forecast.fit, as_percent(percent)
    ant = fit.species
    kinds = choose_prey(usual_prey(ant) if prey is None else prey, piece_mg)
    rules = feeding_rules(ant, protein_from_workers)
    seed, source = seeded(forecast.seed if rng is None else rng)
    shape = (forecast.draws, 1)
    constants = Constants.draw(shape, source)
    masses = body_masses(ant, mass_mg, constants, forecast.draws, source)
    shares = [kind.protein_share(shape, source) for kind in kinds]

    tomorrow = forecast.start + pd.Timedelta("1D")
    hours_c = forecast.temperature.hours(tomorrow, forecast.days)
    resting = forecast.temperature.resting(tomorrow, forecast.days)
    queens = fit.history.queens_by_day(fit.days + forecast.days)[fit.days :]
    diet = Diet(
        masses=masses,
        constants=constants,
        prey_protein=shares[0],
        prey_energy=kinds[0].energy_j_per_mg(shape, source),
        humidity_percent=float(humidity_percent),
    )
    counts = forecast.paths.astype(float)
    forcing = fit.history.forcing(fit.days + forecast.days, forecast.temperature)
    need = needs_along(ant, forecast.laws, counts, queens, hours_c, forcing, diet)
    quiet = quiet_days(hours_c.mean(axis=1), resting)
    offered = ration_schedule(need, counts, rules, quiet, most_noted(fit.counts))
    founding = ant.founding == "claustral" and forecast.workers_now == 0
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
        past = past_budget(fit, rules, diet, forecast.draws)
        feeding = Feeding.of(log, past, content, float(scale_mg), source)
        offered |= {need: offered[need] * feeding.multiplier(need) for need in ("sugar", "protein")}
    return FoodPlan(
        forecast=forecast,
        rules=rules,
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
