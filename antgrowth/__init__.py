"""antgrowth: growth models for a keeper's ant colony, from patchy counts to dated forecasts.

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

from typing import Any

__version__ = "0.1.0"

from antgrowth.alerts import Alert, Alerts
from antgrowth.audit import Audit
from antgrowth.backtest import Backtest, backtest
from antgrowth.care import CarePlan, Milestone, care_plan
from antgrowth.changes import ChangeLog, read_changes
from antgrowth.colony import Colony, demo_colony, load_colony
from antgrowth.counts import CountLog, read_counts
from antgrowth.curve_fit import RateCurveFit, fit_rate_curve
from antgrowth.diagnostics import Diagnostics
from antgrowth.errors import (
    AntgrowthError,
    ConvergenceError,
    LogError,
    SpeciesError,
    TemperatureError,
    TemperatureGapError,
)
from antgrowth.feeds import FeedLog, read_feeds
from antgrowth.fit import Fit, fit
from antgrowth.food import DailyFood, FoodPlan, daily_food
from antgrowth.forecast import Arrival, Forecast
from antgrowth.growing import GrowthRate, growth_rate
from antgrowth.nest import Nest, NestRoom, nest_room
from antgrowth.outdoors import OutdoorWindows, outdoor_windows
from antgrowth.profile_table import TableProfile, profile_from_table
from antgrowth.regime_search import BestRegime, best_regime
from antgrowth.regimes import RegimeComparison, compare_regimes
from antgrowth.saving import load_fit
from antgrowth.sensitivity import Sensitivity, sensitivity
from antgrowth.species import Species, list_species, load_species
from antgrowth.temperature import (
    Temperature,
    constant,
    day_night,
    monthly_normals,
    read_temperature,
    repeating_day,
)

__all__ = [
    "Alert",
    "Alerts",
    "AntgrowthError",
    "Arrival",
    "Audit",
    "Backtest",
    "BestRegime",
    "CarePlan",
    "ChangeLog",
    "Colony",
    "ConvergenceError",
    "CountLog",
    "DailyFood",
    "Diagnostics",
    "FeedLog",
    "Fit",
    "FoodPlan",
    "Forecast",
    "GrowthRate",
    "LogError",
    "Milestone",
    "Nest",
    "NestRoom",
    "OutdoorWindows",
    "RateCurveFit",
    "RegimeComparison",
    "Sensitivity",
    "Species",
    "SpeciesError",
    "TableProfile",
    "Temperature",
    "TemperatureError",
    "TemperatureGapError",
    "backtest",
    "best_regime",
    "care_plan",
    "compare_regimes",
    "constant",
    "daily_food",
    "day_night",
    "demo_colony",
    "fit",
    "fit_rate_curve",
    "growth_rate",
    "list_species",
    "load_colony",
    "load_fit",
    "load_species",
    "monthly_normals",
    "nest_room",
    "outdoor_windows",
    "plotting",
    "profile_from_table",
    "read_changes",
    "read_counts",
    "read_feeds",
    "read_temperature",
    "repeating_day",
    "sensitivity",
]


def __getattr__(name: str) -> Any:
    # `import antgrowth.fit` would hide the function of that name; only plotting is left for later,
    # since it alone needs matplotlib.
    if name == "plotting":
        import importlib

        return importlib.import_module("antgrowth.plotting")
    raise AttributeError(f"module 'antgrowth' has no attribute {name!r}")
