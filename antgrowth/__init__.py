"""antgrowth: growth models for a keeper's ant colony, from patchy counts to dated forecasts.

In the order of the job; ``help(antgrowth.fit)`` and the like say what each step takes and gives.

Read what you wrote down
    `read_counts` (a `CountLog`), `read_changes` (a `ChangeLog`), `read_feeds` (a `FeedLog`);
    or a whole folder at once: `load_colony` (a `Colony`), `demo_colony` for invented ones.
Say how warm it was and will be
    `read_temperature`, `constant`, `day_night`, `repeating_day`, `monthly_normals`: each gives a
    `Temperature`, to be put together by its methods ``then``, ``rest`` and ``shift``, and held
    against the limits of a species by ``audit`` (an `Audit`).
Choose the ant
    `list_species`, `load_species` (a `Species`); from a table of durations `profile_from_table`
    (a `TableProfile`), from colonies of one's own `pool` (a `PooledProfile`), and rate curves by
    `fit_rate_curve` (a `RateCurveFit`).
Fit
    `fit` gives a `Fit`; its ``save`` writes it and `load_fit` reads it back.
Ask what is to come
    `Fit.forecast` gives a `Forecast`, its ``arrival`` a date with its interval (an `Arrival`);
    `growth_rate` (a `GrowthRate`) at steady temperatures; `sensitivity` (a `Sensitivity`): what
    the date hangs on.
Ask how far to trust it
    `Fit.diagnostics` (`Diagnostics`), `Fit.alerts` (`Alerts`, each an `Alert`), and `backtest`
    (a `Backtest`): would it have been right? `next_count` (a `NextCount`): which look to make next.
Keep many
    `fit_many` (a `ColonyFits`) fits them side by side; `compare_colonies` (a `ColonyComparison`)
    tells which of two does better.
Feed and keep them
    `Forecast.food` (a `FoodPlan`), `daily_food` (a `DailyFood`); `compare_regimes` (a
    `RegimeComparison`), `best_regime` (a `BestRegime`); `care_plan` (a `CarePlan` of `Milestone`),
    `nest_room` (a `NestRoom` of `Nest`), `outdoor_windows` (`OutdoorWindows`).
Draw
    Results have a method ``plot``; `plotting` has pictures for Axes of your own.
What can go wrong
    `AntgrowthError`, of which `LogError`, `SpeciesError`, `TemperatureError` and
    `TemperatureGapError` are kinds: each says where, what was found, what is allowed, what to do.

Examples
--------
>>> import antgrowth as ag
>>> import pandas as pd
>>> notes = pd.DataFrame({"date": ["2026-07-20", "2026-08-14"], "eggs": [9, 7],
...                       "larvae": ["first", 8]})
>>> fit = ag.fit(notes, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=1)
>>> print(fit.forecast(days=200, rng=1).arrival(workers=30).sentence())  # doctest: +SKIP
"""

from __future__ import annotations

import sys
from importlib import import_module

from antgrowth._aliases import MOVED, Package, install
from antgrowth._core.version import __version__ as __version__

TYPE_CHECKING = False
"""As in `typing`, which is left for later: until the command runs, nobody could tell of Ctrl-C."""

if TYPE_CHECKING:
    # Type checkers take a name for public that is imported under itself.
    from antgrowth._api import Fit as Fit, fit as fit, load_fit as load_fit
    from antgrowth.care.milestone import Milestone as Milestone
    from antgrowth.care.nest_room import NestRoom as NestRoom, nest_room as nest_room
    from antgrowth.care.nests import Nest as Nest
    from antgrowth.care.outdoors import (
        OutdoorWindows as OutdoorWindows,
        outdoor_windows as outdoor_windows,
    )
    from antgrowth.care.plan import CarePlan as CarePlan
    from antgrowth.care.planner import care_plan as care_plan
    from antgrowth.climate.audit import Audit as Audit
    from antgrowth.climate.temperature import (
        Temperature as Temperature,
        constant as constant,
        day_night as day_night,
        monthly_normals as monthly_normals,
        read_temperature as read_temperature,
        repeating_day as repeating_day,
    )
    from antgrowth.colony.folder import (
        Colony as Colony,
        demo_colony as demo_colony,
        load_colony as load_colony,
    )
    from antgrowth.colony.many import ColonyFits as ColonyFits, fit_many as fit_many
    from antgrowth.errors import (
        AntgrowthError as AntgrowthError,
        LogError as LogError,
        SpeciesError as SpeciesError,
        TemperatureError as TemperatureError,
        TemperatureGapError as TemperatureGapError,
    )
    from antgrowth.evaluation.alert import Alert as Alert
    from antgrowth.evaluation.alerts import Alerts as Alerts
    from antgrowth.evaluation.backtest import backtest as backtest
    from antgrowth.evaluation.diagnostics import Diagnostics as Diagnostics
    from antgrowth.evaluation.next_count import NextCount as NextCount, next_count as next_count
    from antgrowth.evaluation.score_table import Backtest as Backtest
    from antgrowth.evaluation.two_colonies import (
        ColonyComparison as ColonyComparison,
        compare_colonies as compare_colonies,
    )
    from antgrowth.food.daily import DailyFood as DailyFood, daily_food as daily_food
    from antgrowth.food.feed_log import FeedLog as FeedLog, read_feeds as read_feeds
    from antgrowth.food.plan import FoodPlan as FoodPlan
    from antgrowth.forecast.arrival import Arrival as Arrival
    from antgrowth.forecast.growth_rate import GrowthRate as GrowthRate, growth_rate as growth_rate
    from antgrowth.forecast.paths import Forecast as Forecast
    from antgrowth.forecast.sensitivity import (
        Sensitivity as Sensitivity,
        sensitivity as sensitivity,
    )
    from antgrowth.inference.pooling import PooledProfile as PooledProfile, pool as pool
    from antgrowth.io.changes import ChangeLog as ChangeLog, read_changes as read_changes
    from antgrowth.io.counts import CountLog as CountLog, read_counts as read_counts
    from antgrowth.regimes.best import BestRegime as BestRegime
    from antgrowth.regimes.compare import compare_regimes as compare_regimes
    from antgrowth.regimes.comparison import RegimeComparison as RegimeComparison
    from antgrowth.regimes.search import best_regime as best_regime
    from antgrowth.species.from_table import (
        TableProfile as TableProfile,
        profile_from_table as profile_from_table,
    )
    from antgrowth.species.profile import (
        Species as Species,
        list_species as list_species,
        load_species as load_species,
    )
    from antgrowth.species.rate_fit import (
        RateCurveFit as RateCurveFit,
        fit_rate_curve as fit_rate_curve,
    )

HOMES = {
    "_api": "Fit fit load_fit",
    "care.milestone": "Milestone",
    "care.nest_room": "NestRoom nest_room",
    "care.nests": "Nest",
    "care.outdoors": "OutdoorWindows outdoor_windows",
    "care.plan": "CarePlan",
    "care.planner": "care_plan",
    "climate.audit": "Audit",
    "climate.temperature": (
        "Temperature constant day_night monthly_normals read_temperature repeating_day"
    ),
    "colony.folder": "Colony demo_colony load_colony",
    "colony.many": "ColonyFits fit_many",
    "errors": "AntgrowthError LogError SpeciesError TemperatureError TemperatureGapError",
    "evaluation.alert": "Alert",
    "evaluation.alerts": "Alerts",
    "evaluation.backtest": "backtest",
    "evaluation.diagnostics": "Diagnostics",
    "evaluation.next_count": "NextCount next_count",
    "evaluation.score_table": "Backtest",
    "evaluation.two_colonies": "ColonyComparison compare_colonies",
    "food.daily": "DailyFood daily_food",
    "food.feed_log": "FeedLog read_feeds",
    "food.plan": "FoodPlan",
    "forecast.arrival": "Arrival",
    "forecast.growth_rate": "GrowthRate growth_rate",
    "forecast.paths": "Forecast",
    "forecast.sensitivity": "Sensitivity sensitivity",
    "inference.pooling": "PooledProfile pool",
    "io.changes": "ChangeLog read_changes",
    "io.counts": "CountLog read_counts",
    "regimes.best": "BestRegime",
    "regimes.compare": "compare_regimes",
    "regimes.comparison": "RegimeComparison",
    "regimes.search": "best_regime",
    "species.from_table": "TableProfile profile_from_table",
    "species.profile": "Species list_species load_species",
    "species.rate_fit": "RateCurveFit fit_rate_curve",
}
"""Where public names live: what nobody asks for is not loaded, see `__getattr__`."""

PUBLIC = {name: module for module, names in HOMES.items() for name in names.split()}

__all__ = sorted([*PUBLIC, "plotting"])

sys.modules[__name__].__class__ = Package
install()


def __dir__() -> list[str]:
    return list(__all__)


def __getattr__(name: str) -> object:
    # Called for a name that is not there yet; so each is looked up once.
    if name in PUBLIC:
        found = getattr(import_module(f"antgrowth.{PUBLIC[name]}"), name)
        globals()[name] = found
        return found
    if name == "plotting" or name in MOVED:
        return import_module(f"antgrowth.{name}")
    raise AttributeError(f"module 'antgrowth' has no attribute {name!r}")
