"""One warning about a colony: what stands out, when, and what may have happened."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from antgrowth._core.summary import in_words


@dataclass(frozen=True)
class Alert:
    """Something in a colony's notes or temperatures that calls for a look.

    Attributes
    ----------
    kind : str
        "rest not noted", "too warm", "no queen", "brood lost", "less brood", "laying stalled",
        "no eggs yet", "larvae stand still", "too cool", "heat damage", "count out of line" or
        "notes against the model".
    date : Timestamp
        The day it shows, or happened.
    stage : str
        Stage concerned; "brood" for all of it, "" for the whole colony.
    found : str
        What stands out, in words.
    expected : tuple of float or None
        90 % range of what was expected there. [ants]
    seen : str
        What was noted instead; "" if it is no count.
    causes : tuple of str
        What may lie behind it: possibilities, not findings.
    """

    kind: str
    date: pd.Timestamp
    stage: str
    found: str
    expected: tuple[float, float] | None
    seen: str
    causes: tuple[str, ...]

    @in_words
    def sentence(self) -> str:
        """The alert in a sentence or two."""
        return f"{self.date:%Y-%m-%d}, {self.kind}: {self.found}. Possible: {self.possible}."

    @property
    def possible(self) -> str:
        """The causes as one text."""
        return "; ".join(self.causes)
