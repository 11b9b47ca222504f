"""From a posterior to simulated colonies, dates and growth rates."""

from __future__ import annotations

from antgrowth.forecast.paths import (
    CONDITION,
    Arrival,
    Forecast,
    PairedForecasts,
    forecast,
    rest_habit,
)

__all__ = ["CONDITION", "Arrival", "Forecast", "PairedForecasts", "forecast", "rest_habit"]
