"""The errors a keeper can meet; each says where, what was found, what is allowed, what to do."""

from __future__ import annotations

__all__ = [
    "AntgrowthError",
    "ConvergenceError",
    "LogError",
    "SpeciesError",
    "TemperatureError",
    "TemperatureGapError",
]


class AntgrowthError(ValueError):
    """Anything in the input that antgrowth will not guess its way around."""


class LogError(AntgrowthError):
    """A count log that cannot be read as it stands; lists every bad row at once."""


class TemperatureError(AntgrowthError):
    """A temperature record or plan that cannot be read or does not make sense."""


class TemperatureGapError(TemperatureError):
    """Temperatures do not cover days that are needed."""


class SpeciesError(AntgrowthError):
    """A species profile that is missing, incomplete or contradicts itself."""


class ConvergenceError(AntgrowthError):
    """A fit that found no best point; `best` carries the best parameters met so far."""

    def __init__(self, message: str, best: object = None) -> None:
        super().__init__(message)
        self.best = best
