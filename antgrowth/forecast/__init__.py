"""From a posterior to simulated colonies, dates and growth rates."""

from __future__ import annotations

from antgrowth.forecast.arrival import CONDITION, Arrival
from antgrowth.forecast.paths import Forecast, PairedForecasts, forecast, usual_dormancy

__all__ = ["CONDITION", "Arrival", "Forecast", "PairedForecasts", "forecast", "usual_dormancy"]
