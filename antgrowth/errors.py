"""The errors a keeper can meet; each says where, what was found, what is allowed, what to do."""

from __future__ import annotations

__all__ = [
    "AntgrowthError",
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
