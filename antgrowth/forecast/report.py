"""How forecasts and arrivals print."""

from __future__ import annotations

from dataclasses import replace
from itertools import count
from typing import TYPE_CHECKING

import pandas as pd

from antgrowth._core.stages import WORKERS
from antgrowth._core.summary import Facts, Report, ants, share_words
from antgrowth._core.text import counted
from antgrowth.inference.history import gain_of_queens
from antgrowth.species.comfort import cool_for_brood
from antgrowth.species.parameters import QUEENS_CARE, QUEENS_LAY

if TYPE_CHECKING:
    from antgrowth.forecast.arrival import Arrival
    from antgrowth.forecast.paths import Forecast
    from antgrowth.inference.posterior import Posterior

COOL_LOOK_DAYS = 60
"""Over so many days, or until a rest, the warmth of the brood is looked at (assumed). [day]"""

ROWS = 8
"""About as many rows as a forecast shows."""


def forecast_report(forecast: Forecast, condition: str) -> Report:
    """Report of a forecast: when the next number of workers is there, and a few dates."""
    frame = forecast.frame()
    days = _few_days(forecast.days)
    columns = [[f"{date:%Y-%m-%d}" for date in forecast.dates[days]]]
    for stage in ("workers", "brood"):
        some = frame[frame["stage"] == stage].iloc[days]
        low, median, high = (some[level].map(ants) for level in ("q05", "q50", "q95"))
        columns += [median.to_list(), (low + " to " + high).to_list()]
    fit = forecast.fit
    arrival = forecast.arrival(awaited(forecast.workers_now))
    return Report(
        title=f"Forecast: {fit.counts.name} ({fit.species.scientific_name})",
        facts=(
            ("finding", replace(arrival, heat=None).sentence()),
            ("span", f"{forecast.days} days from the last note, {forecast.start:%Y-%m-%d}"),
            ("warmth", forecast.assumed),
            *((("cool", forecast.cool),) if forecast.cool else ()),
            *((("queens", queens_words(fit)),) if fit.history.queens > 1 else ()),
            ("holds", condition),
            ("model", f"{forecast.draws:,} simulated colonies, seed {forecast.seed}"),
        ),
        head=("evening of", "workers", "90% interval", "brood", "90% interval"),
        align="lrrrr",
        rows=tuple(zip(*columns, strict=True)),
        warning="" if forecast.heat is None else forecast.heat.words(),
    )


def awaited(now: float) -> int:
    """The next of 30, 100, 300, 1000 ... workers that is more than there are now."""
    steps = (first * int(10**power) for power in count(1) for first in (3, 10))
    return next(number for number in steps if number > now)


def queens_words(fit: Posterior) -> str:
    """What several queens at the start do in the law, and what is known of it; else empty."""
    number, ant = fit.history.queens, fit.species
    if number < 2:
        return ""
    known = ant.together or (
        "What becomes of several queens in one tube is not in this profile: of many ants all but "
        "one die."
    )
    lay, care = (
        f"{gain_of_queens(ant, path, float(number)):.1f} times"
        for path in (QUEENS_LAY, QUEENS_CARE)
    )
    assumed = "" if QUEENS_CARE in ant else ", both assumed"
    return (
        f"{number} at the start: the law lets them lay {lay} as much as one, and rear {care} as "
        f"much brood by themselves{assumed}. {known} Note a lost queen in changes.csv"
    )


def cool_words(forecast: Forecast) -> str:
    """Whether the brood of weeks to come has it too cool, and what may not finish for it.

    Empty where it is warm enough or a rest has begun.
    """
    ant, rest = forecast.fit.species, forecast.next_rest
    if forecast.temperature.resting(forecast.start, 1)[0]:
        return ""
    until = forecast.days if rest is None else (rest - forecast.start).days - 1
    weeks = min(until, COOL_LOOK_DAYS)
    if weeks < 1:
        return ""
    tomorrow = forecast.start + pd.Timedelta("1D")
    mean_c = float(forecast.temperature.hours(tomorrow, weeks).mean())
    found = cool_for_brood(ant, mean_c)
    if not found:
        return ""
    words = f"COOL for the brood: {mean_c:.1f} °C on average; {found}"
    if (forecast.paths[:, 0, WORKERS] == 0).all() and (winter := forecast.next_winter) is not None:
        late = 1.0 - forecast.arrival(1).chance_by(winter - pd.Timedelta("1D"))
        usual = "usual " if rest is None else ""
        words += (
            f"; the first brood may not finish before the {usual}rest of {winter:%Y-%m-%d}, "
            f"{share_words(late)}"
        )
    return (
        f"{words}. How many larvae wait, and what cold costs them, is not known: by the law they "
        "only grow more slowly, so that dates may come later still"
    )


def arrival_report(arrival: Arrival) -> Report:
    """Report of an arrival: central intervals of its date, and the chance that it never comes."""
    far = arrival.start + pd.Timedelta(days=arrival.horizon)

    def written(date: pd.Timestamp) -> str:
        return f"after {far:%Y-%m-%d}" if pd.isna(date) else f"{date:%Y-%m-%d}"

    rows, sides = [], arrival.split() or (arrival,)
    for level in (0.5, 0.8, 0.9, 0.95):
        for side, part in zip(
            (" before", " after") if len(sides) > 1 else ("",), sides, strict=True
        ):
            first, last = part.interval(level)
            if pd.notna(first) and not arrival.reached:
                rows.append((f"{level:.0%}{side}", written(first), written(last)))
    horizon = f"{far:%Y-%m-%d}, {arrival.horizon} days from the last note"
    if not arrival.reached:
        horizon += f"; {share_words(arrival.chance_never)} chance of fewer workers until then"
    return Report(
        title=f"Arrival: {counted(arrival.workers, 'worker')}",
        facts=(("finding", arrival.sentence()),),
        head=("chance", "from", "to"),
        align="rll",
        rows=tuple(rows),
        closing=(("horizon", horizon), *_with_queen(arrival, far)),
    )


def _with_queen(arrival: Arrival, far: pd.Timestamp) -> Facts:
    """Chances with the assumed survival of the queen, beside those if she lives."""
    if arrival.queen_survival is None or arrival.reached:
        return ()
    assumed = f"{arrival.queen_assumed()} (assumed)"
    dates = dict.fromkeys([arrival.median, arrival.interval()[1], far])
    chances = [
        f"{share_words(arrival.chance_with_queen_by(date))} by {date:%Y-%m-%d} "
        f"({share_words(arrival.chance_by(date))} if she lives)"
        for date in dates
        if pd.notna(date)
    ]
    return (("queen", assumed), ("with her", ", ".join(chances)))


def _few_days(days: int) -> list[int]:
    """Days to show of a forecast: the first, some at an even distance, the last."""
    steps = (1, 2, 7, 14, 28, 56, 91, 182, 364)
    step = next((step for step in steps if days <= ROWS * step), steps[-1])
    return [*range(0, days - step // 2, step), days]
