"""The errors a keeper can meet; each says where, what was found, what is allowed, what to do."""

from __future__ import annotations

import linecache
import traceback


class AntgrowthError(ValueError):
    """Anything in the input that antgrowth will not guess its way around."""

    def _render_traceback_(self) -> list[str]:
        """What a notebook shows: the line of the cell and the message, not the way inside."""
        shown = []
        for frame, number in traceback.walk_tb(self.__traceback__):
            line = linecache.getline(frame.f_code.co_filename, number).strip()
            if frame.f_globals.get("__name__") == "__main__" and line:
                shown = [f"line {number}: {line}", ""]
        return [*shown, f"{type(self).__name__}: {self}"]


class LogError(AntgrowthError):
    """A count log that cannot be read as it stands; lists every bad row at once."""


class TemperatureError(AntgrowthError):
    """A temperature record or plan that cannot be read or does not make sense."""


class TemperatureGapError(TemperatureError):
    """Temperatures do not cover days that are needed."""


class SpeciesError(AntgrowthError):
    """A species profile that is missing, incomplete or contradicts itself."""
