"""Temperature regimes side by side: which is sooner, by how much, and what it risks.

All regimes are tried on the same posterior draws in the same nests, and with the same luck on the
same days, so that what differs is what the temperature does. A regime that is too warm, or that
leaves out a rest the species needs, is shown with its warning and never recommended.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._core.arguments import NAME, takes
from antgrowth._core.arrays import Floats
from antgrowth._core.deprecation import Former
from antgrowth._core.pictures import picture
from antgrowth._core.stages import WORKERS
from antgrowth._core.summary import Report, Row, Shown, in_words, share_words
from antgrowth._core.text import counted, told
from antgrowth.errors import AntgrowthError
from antgrowth.food.planner import plan_food
from antgrowth.forecast.paths import Forecast
from antgrowth.inference.posterior import Posterior
from antgrowth.regimes.limits import LimitCheck, days_gained, first_passage_days, quantile_of
from antgrowth.species.thermal_limits import HEAT_CAUTION, OUTDOORS_CAUTION

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEVELS = {"q05": 0.05, "q50": 0.5, "q95": 0.95}
FOOD = ("sugar", "protein")


@dataclass(frozen=True, eq=False, repr=False)
class RegimeComparison(Shown):
    """Regimes tried on one colony; made by `compare_regimes`.

    Attributes
    ----------
    fit : Posterior
    workers : int
        The number waited for.
    phase : str
        Whose limits count: "founding", "housed" or "outdoors".
    reference : str
        The regime that the others are compared with.
    forecasts : mapping of str to Forecast
        By regime, in the order given.
    judged : mapping of str to LimitCheck
        What the limits of the species say of each.
    seed : int
    """

    fit: Posterior
    workers: int
    phase: str
    reference: str
    forecasts: Mapping[str, Forecast] = field(repr=False)
    judged: Mapping[str, LimitCheck] = field(repr=False)
    seed: int

    waits = Former("passage_days")

    @property
    def days(self) -> int:
        """Days looked ahead. [day]"""
        return next(iter(self.forecasts.values())).days

    @cached_property
    def passage_days(self) -> dict[str, Floats]:
        """Days until there are as many workers, by regime, shape (draws,); infinite if never."""
        return {
            name: first_passage_days(ahead, self.workers) for name, ahead in self.forecasts.items()
        }

    @takes(name=NAME)
    def gains(self, name: str) -> Floats:
        """Days that a regime wins over the reference, draw by draw, shape (draws,).

        Below zero where it loses; infinite where only one of the two arrives before the horizon
        ends, NaN where neither does.
        """
        self._check("gains", name)
        return days_gained(self.passage_days[self.reference], self.passage_days[name])

    def _check(self, caller: str, name: str) -> None:
        if name not in self.passage_days:
            raise AntgrowthError(
                f"{caller}: no regime is called {told(name)}. Use one of "
                f"{', '.join(self.passage_days)}."
            )

    @property
    def recommended(self) -> str | None:
        """The regime with the least wait on average among those without objection, if any."""
        free = [name for name in self.forecasts if not self.judged[name].excluded]
        return min(free, key=self.mean_wait, default=None)

    @property
    def warnings(self) -> dict[str, str]:
        """What speaks against each regime; those without objection are left out."""
        return {name: j.words for name, j in self.judged.items() if j.excluded}

    @cached_property
    def first(self) -> dict[str, float]:
        """Chance of each regime without objection of being the first of them.

        A tie is shared, and no arrival is nobody's. What is not recommended has no part in it: NaN.
        """
        free = [name for name in self.forecasts if not self.judged[name].excluded]
        return dict.fromkeys(self.forecasts, np.nan) | self._first(free)

    def frame(self) -> pd.DataFrame:
        """Compare the regimes in numbers.

        Returns
        -------
        DataFrame
            A row a regime, in the order given. Columns regime; plan, in words; arrival_q05,
            arrival_q50, arrival_q95 (dates, NaT beyond the horizon); chance_never; gained_q05,
            gained_q50, gained_q95 over the reference, draw by draw (infinite where the horizon
            ends first) and gained_mean with gained_se, its Monte Carlo error [day]; chance_first,
            among the regimes without objection (NaN for the others); rest_begins, the next one
            (NaT if none) and chance_before_rest of as many workers; hours_above_ceiling and
            margin_c, how far the warmest hour stays below it [°C]; queens_alive, the share that the
            heat leaves by the last day (NaN if not known);
            brood_lost_to_heat, expected [brood]; sugar_mg and protein_mg, medians of what is eaten
            until there are as many workers or the horizon ends (NaN if the mass of a worker is not
            known); recommended; warning.
        """
        best = self.recommended
        rows = []
        for name, ahead in self.forecasts.items():
            passage_days, gains, judged = (
                self.passage_days[name],
                self.gains(name),
                self.judged[name],
            )
            both = gains[np.isfinite(gains)]
            begins = ahead.next_winter
            sugar, protein = self._food(name)
            rows.append(
                {
                    "regime": name,
                    "plan": ahead.assumed,
                    **{
                        f"arrival_{level}": self._date(quantile_of(passage_days, share))
                        for level, share in LEVELS.items()
                    },
                    "chance_never": float(np.isinf(passage_days).mean()),
                    **{f"gained_{n}": quantile_of(gains, share) for n, share in LEVELS.items()},
                    "gained_mean": float(both.mean()) if both.size else np.nan,
                    "gained_se": float(both.std() / np.sqrt(both.size)) if both.size else np.nan,
                    "chance_first": self.first[name],
                    "rest_begins": pd.NaT if begins is None else begins,
                    "chance_before_rest": np.nan
                    if begins is None
                    else float((passage_days < (begins - ahead.start).days).mean()),
                    "hours_above_ceiling": judged.hours_above,
                    "margin_c": judged.margin_c,
                    "queens_alive": 1.0 if ahead.heat is None else float(ahead.heat.alive[-1]),
                    "brood_lost_to_heat": self._lost_to_heat(name),
                    "sugar_mg": sugar,
                    "protein_mg": protein,
                    "recommended": name == best,
                    "warning": judged.words,
                }
            )
        return pd.DataFrame(rows)

    @in_words
    def sentence(self) -> str:
        """The finding in a sentence or two: what to do, and what only looks faster."""
        best, number = self.recommended, counted(self.workers, "worker")
        if best is None:
            found = f"{number}: none of these regimes can be recommended"
        elif best == self.reference:
            found = f"{number}: no safe regime is sooner than {best!r}"
        else:
            chance = share_words(self.first[best])
            found = f"{number}: {best!r} {gain_words(self.gains(best), self.reference)}"
            found += f", the first of the safe ones in {chance} of colonies"
        tempting = min(self.warnings, key=self.mean_wait, default=None)
        if best is None and tempting is not None:
            found += f"; the fastest, {tempting!r}: {self.warnings[tempting]}"
        elif tempting is not None and self.mean_wait(tempting) < self.mean_wait(str(best)):
            found += f"; {tempting!r} looks faster, but is not recommended: "
            found += self.warnings[tempting]
        now = self.reference
        if self.judged[now].margin_c < 0:
            told = self.warnings[now] in found
            return f"TOO WARM{'' if told else f': {now!r} is {self.warnings[now]}'}. {found}"
        return found

    def plot(self, axes: NDArray[np.object_] | None = None) -> NDArray[np.object_]:
        """Draw arrivals and days gained, a row a regime.

        Parameters
        ----------
        axes : two Axes, optional
            For dates and for days gained; a figure of its own if not given.

        Returns
        -------
        array of Axes, shape (2,)
        """
        return picture("regimes", "plot_comparison", self, axes)

    def plot_growth(self, ax: Axes | None = None) -> Axes:
        """Draw the growth of all regimes over one another, with their ranges."""
        return picture("regimes", "plot_growth_curves", self, ax)

    def _report(self) -> Report:
        return comparison_report(self)

    def __repr__(self) -> str:
        return f"RegimeComparison({self.sentence()})"

    def _first(self, names: list[str]) -> dict[str, float]:
        """Chance of each of some regimes of being the first of them."""
        if not names:
            return {}
        passage_days = np.stack([self.passage_days[name] for name in names])
        least = passage_days.min(axis=0)
        ahead = (passage_days == least) & np.isfinite(least)
        share = ahead / np.maximum(ahead.sum(axis=0), 1)
        return dict(zip(names, share.mean(axis=1).tolist(), strict=True))

    @property
    def condition(self) -> str:
        """Under which all of it holds; see `Forecast.condition`."""
        return self.forecasts[self.reference].condition

    @takes(name=NAME)
    def mean_wait(self, name: str) -> float:
        """Mean wait, the horizon standing for what comes later. [day]"""
        self._check("mean_wait", name)
        return float(np.minimum(self.passage_days[name], self.days + 1).mean())

    def _date(self, wait: float) -> pd.Timestamp:
        if not np.isfinite(wait):
            return pd.NaT  # type: ignore[return-value]
        return self.fit.counts.end + pd.Timedelta(days=int(wait))

    def _lost_to_heat(self, name: str) -> float:
        brood = self.forecasts[name].paths[..., :WORKERS].sum(axis=-1).mean(axis=0)
        loss = self.judged[name].audit.frame()["heat_loss"].to_numpy()
        return float(((brood[:-1] + brood[1:]) / 2 * loss).sum())

    def _food(self, name: str) -> tuple[float, float]:
        """Sugar and protein until arrival, or the horizon. [mg]"""
        if "workers.mass_mg" not in self.fit.species:
            return np.nan, np.nan
        offered = plan_food(self.forecasts[name], rng=self.seed).offered
        last = np.minimum(self.passage_days[name], self.days).astype(int)[:, None]
        needed = np.arange(self.days) < last
        sugar, protein = (np.median((offered[k] * needed).sum(axis=1)) for k in FOOD)
        return float(sugar), float(protein)


def gain_words(gains: Floats, reference: str) -> str:
    """How much sooner or later a regime is than the reference, with its interval.

    Examples
    --------
    >>> gain_words(np.arange(1.0, 101.0), "now")
    "is 50 days sooner than 'now' (5 to 95 days, 90% interval)"
    """
    low, middle, high = (quantile_of(gains, level) for level in (0.05, 0.5, 0.95))
    if np.isnan(middle):
        return f"is neither sooner nor later than {reference!r} within the horizon"
    if middle < 0:
        low, middle, high = -high, -middle, -low
        side = "later"
    else:
        side = "sooner"
    if np.isinf(middle):
        return f"arrives where {reference!r} does not" if side == "sooner" else "does not arrive"
    return f"is {whole_days(middle)} {side} than {reference!r} ({_span(low, high)}, 90% interval)"


def whole_days(number: float) -> str:
    """Write days, whole.

    Examples
    --------
    >>> whole_days(1.2), whole_days(12.4)
    ('1 day', '12 days')
    """
    rounded = round(number)
    return f"{rounded} day" if abs(rounded) == 1 else f"{rounded} days"


def _span(low: float, high: float) -> str:
    if np.isfinite([low, high]).all():
        return f"{low:.0f} to {high:.0f} days"
    first = f"{low:.0f} days" if np.isfinite(low) else "no arrival within the horizon"
    return f"{first} to " + (f"{high:.0f} days" if np.isfinite(high) else "beyond the horizon")


def _bound(number: float) -> str:
    if np.isfinite(number):
        return f"{number:.0f}"
    return "beyond" if number > 0 else "never"


def comparison_report(found: RegimeComparison) -> Report:
    """Report of a comparison: a row a regime, then what speaks against some of them."""
    frame = found.frame()
    start, ant = found.fit.counts.end, found.fit.species
    held = next(iter(found.judged.values()))
    return Report(
        title=f"Regimes: {found.workers} workers, {found.fit.counts.name} ({ant.scientific_name})",
        facts=(
            ("finding", found.sentence()),
            ("span", f"{found.days} days from the last note, {start:%Y-%m-%d}; reference: "
             f"{found.reference}"),
            ("limits", f"{found.phase}: {held.ceiling} {held.ceiling_c:g} °C"),
            ("holds", found.condition),
        ),
        head=(
            "regime", "verdict", "most likely", "90% interval", "days gained", "90% interval",
            "first", "before rest", "h too warm", "brood lost", "sugar", "protein",
        ),
        align="llllrrrrrrrr",
        rows=tuple(_row(row, found.reference) for row in frame.to_dict("records")),
        closing=tuple(_closing(found)),
    )  # fmt: skip


def _row(row: Row, reference: str) -> tuple[str, ...]:
    known = not np.isnan(row["gained_q50"]) and row["regime"] != reference
    gain = (f"{_bound(row['gained_q05'])} to {_bound(row['gained_q95'])}") if known else ""
    before = row["chance_before_rest"]
    verdict = "recommended" if row["recommended"] else "NOT RECOMMENDED" if row["warning"] else ""
    lost, protein = row["brood_lost_to_heat"], row["protein_mg"]
    return (
        row["regime"],
        verdict,
        _date(row["arrival_q50"]),
        f"{_date(row['arrival_q05'])} to {_date(row['arrival_q95'])}",
        _signed(row["gained_q50"]) if known else "",
        gain,
        "" if np.isnan(row["chance_first"]) else share_words(row["chance_first"]),
        "" if np.isnan(before) else share_words(before),
        "" if np.isnan(row["hours_above_ceiling"]) else f"{row['hours_above_ceiling']:,.0f}",
        "0" if lost == 0 else f"{lost:,.1f}",
        *("" if np.isnan(mg) else f"{mg / 1000:,.2g} g" for mg in (row["sugar_mg"], protein)),
    )


def _signed(number: float) -> str:
    return f"{number:+.0f}" if np.isfinite(number) else "arrives" if number > 0 else "never"


def _date(date: pd.Timestamp) -> str:
    return "later" if pd.isna(date) else f"{date:%Y-%m-%d}"


def _closing(found: RegimeComparison) -> Iterator[tuple[str, str]]:
    for name, why in found.warnings.items():
        yield "warning", f"{name}: {why}"
    if any(held.unrested for held in found.judged.values()):
        yield (
            "rest",
            f"of {found.fit.species.scientific_name} without a rest: "
            f"{found.fit.species.season.without_rest}",
        )
    yield "first", "chance of being the first of those that may be recommended"
    yield "food", "median until there are as many workers, or to the horizon"
    yield (
        "law" if found.phase == "outdoors" else "care",
        (OUTDOORS_CAUTION if found.phase == "outdoors" else HEAT_CAUTION),
    )
