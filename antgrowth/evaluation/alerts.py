"""Warnings: what in a colony's notes and temperatures calls for a look at the nest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from antgrowth._core.summary import Report, Shown
from antgrowth.evaluation.alert import Alert
from antgrowth.evaluation.detectors import (
    CONTRADICTION,
    DETECTORS,
    REST_NOT_NOTED,
    forgotten_rests_of,
)
from antgrowth.evaluation.innovations import Innovations

if TYPE_CHECKING:
    from antgrowth.inference.posterior import Posterior

MIND = (
    "a warning is no diagnosis: it says that the notes stray from what was expected. Of simulated "
    "healthy colonies one in twenty was warned about by mistake; of halved broods six in ten "
    "passed unseen for two looks"
)


LIKE_A_REST = (
    "brood lost",
    "less brood",
    "laying stalled",
    "larvae stand still",
    "count out of line",
)
"""Alerts that a rest looks like which nobody has noted."""


@dataclass(frozen=True, eq=False, repr=False)
class Alerts(Shown):
    """The warnings about one colony; a sequence of `Alert`.

    What is too warm for the queen comes first, the others in order of their dates.

    A rest that is not noted comes first: what looks like it is no alert until that is settled.

    Attributes
    ----------
    name : str
        Of the log.
    end : Timestamp
        Date of the last note.
    items : tuple of Alert
    innovations : Innovations
        How far each look strayed from what the earlier ones let expect.
    """

    name: str
    end: pd.Timestamp
    items: tuple[Alert, ...]
    innovations: Innovations

    def __iter__(self) -> Iterator[Alert]:
        return iter(self.items)

    def __len__(self) -> int:
        return len(self.items)

    def __getitem__(self, place: int) -> Alert:
        return self.items[place]

    def frame(self) -> pd.DataFrame:
        """Tell the alerts as a table.

        Returns
        -------
        DataFrame
            Columns date, kind, stage, expected_low, expected_high, seen, found, causes; a row an
            alert, none where nothing stands out.
        """
        rows = [
            {
                "date": alert.date,
                "kind": alert.kind,
                "stage": alert.stage,
                "expected_low": None if alert.expected is None else alert.expected[0],
                "expected_high": None if alert.expected is None else alert.expected[1],
                "seen": alert.seen,
                "found": alert.found,
                "causes": alert.possible,
            }
            for alert in self.items
        ]
        columns = [
            "date", "kind", "stage", "expected_low", "expected_high", "seen", "found", "causes",
        ]  # fmt: skip
        return pd.DataFrame(rows, columns=columns)

    def __repr__(self) -> str:
        kinds = ", ".join(alert.kind for alert in self.items)
        return f"Alerts({self.name!r}: {kinds or 'nothing stands out'})"

    def _report(self) -> Report:
        none = (("alerts", f"nothing stands out up to {self.end:%Y-%m-%d}"),)
        each = tuple(
            fact
            for alert in self.items
            for fact in (
                (f"{alert.date:%Y-%m-%d}", f"{alert.kind.upper()}: {alert.found}"),
                ("", f"possible: {alert.possible}"),
            )
        )
        return Report(title=f"Alerts: {self.name}", facts=each or none, closing=(("mind", MIND),))


def find_alerts(fit: Posterior) -> Alerts:
    """Look through a fit's log and temperatures for what calls for a look; see `Fit.alerts`."""
    innovations = Innovations.of(fit)
    found = [alert for look_out in DETECTORS for alert in look_out(fit, innovations)]
    rests = forgotten_rests_of(fit)
    found = [
        alert
        for alert in found
        if not (rests and alert.kind == CONTRADICTION)  # of the whole log, the rest included
        and not (alert.kind in LIKE_A_REST and any(rest.touches(alert.date) for rest in rests))
    ]
    before_all = ("too warm", REST_NOT_NOTED)
    found.sort(key=lambda alert: (alert.kind not in before_all, alert.date))
    return Alerts(fit.counts.name, fit.counts.end, tuple(found), innovations)
