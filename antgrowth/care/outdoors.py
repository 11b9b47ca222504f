"""Weeks in which a colony may move outdoors, as far as weather, numbers and the law allow it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from antgrowth._core.arguments import RNG, instance, takes
from antgrowth._core.deprecation import Former
from antgrowth._core.pictures import picture
from antgrowth._core.stages import WORKERS
from antgrowth._core.summary import Report, Shown, in_words, share_words
from antgrowth._core.text import counted
from antgrowth._core.validation import MOST_ANTS, Table, Value, whole
from antgrowth.climate.temperature import Temperature
from antgrowth.climate.weather_generator import Weather, weather_of
from antgrowth.errors import AntgrowthError
from antgrowth.forecast.paths import Forecast
from antgrowth.species.native_range import COUNTRY

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LAW = (
    "Law: keeping, moving and putting out ants is regulated, and differs by country (for example "
    "Regulation (EU) 1143/2014, section 14 of the Wildlife and Countryside Act 1981 in Great "
    "Britain, USDA APHIS PPQ 526 permits in the US). Ask your local authority first; what it says "
    "comes before any window given here.",
    "Biosecurity: never release ants, no stage of them, not even where the species is native: they "
    "may carry parasites or come from elsewhere. A country is a coarse measure: native in one part "
    "of it is not native in all.",
    "Weather is that of air in the shade: a nest in the sun gets far hotter, and a forecast of the "
    "days ahead comes before any window from usual weather.",
)
"""Cautions that stand wherever windows outdoors are told."""


def _is_probability(found: object) -> bool:
    return isinstance(found, (int, float, np.floating)) and bool(0 < found < 1)


STAY = {
    "workers": whole(1, MOST_ANTS),
    "weeks": whole(1, 52),
    "chance": Value("a probability between 0 and 1", _is_probability, "Write it, such as 0.8."),
}
"""What a keeper may say of the stay that is wanted, and how it is checked."""

YEARS = 400
"""Simulated years of weather."""

DAYS = pd.Timedelta("1D")


@dataclass(frozen=True, eq=False, repr=False)
class OutdoorWindows(Shown):
    """When a stay outdoors would go well; made by `outdoor_windows`.

    Attributes
    ----------
    forecast : Forecast
    weather : Weather
    workers : int
        That the colony must hold on the first day.
    weeks : int
        Length of the stay. [week]
    chance : float
        That both must hold with.
    low_c, high_c : float
        Limits of the profile; NaN where it does not say. [°C]
    excluded : str
        Why nothing is scheduled, whatever the weather; empty if nothing speaks against it.
    table : DataFrame
        See `frame`.
    """

    forecast: Forecast = field(repr=False)
    weather: Weather = field(repr=False)
    workers: int
    weeks: int
    chance: float
    low_c: float
    high_c: float
    excluded: str
    table: pd.DataFrame = field(repr=False)

    barred = Former("excluded")

    def frame(self) -> pd.DataFrame:
        """Tell how a stay would go that begins in each week.

        Returns
        -------
        DataFrame
            Columns start (Monday), end (last day of the stay), chance_weather (that no hour of the
            stay is outside the limits), chance_workers (that there are enough on the first day),
            chance (of both), resting (the plan has a rest in the stay), fits. Chances of weather
            are NaN where the profile has no limits.
        """
        return self.table.copy()

    def windows(self) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
        """First days on which a stay may begin: Monday to Sunday of neighbouring weeks that fit.

        Empty if no week fits, and wherever nothing may be scheduled.
        """
        if self.excluded:
            return []
        fits = self.table["fits"].to_numpy()
        edges = np.flatnonzero(np.diff(np.concatenate([[False], fits, [False]]).astype(int)))
        starts = self.table["start"]
        return [
            (starts.iloc[first], starts.iloc[stop - 1] + 6 * DAYS)
            for first, stop in zip(edges[::2], edges[1::2], strict=True)
        ]

    @property
    def last_day(self) -> pd.Timestamp:
        """Last day on which a stay that was looked at begins."""
        return pd.Timestamp(self.table["start"].iloc[-1]) + 6 * DAYS

    @in_words
    def sentence(self) -> str:
        """The finding in a sentence."""
        if self.excluded:
            return f"Outdoors: not scheduled, {self.excluded}."
        stay = f"{counted(self.weeks, 'week')} with {counted(self.workers, 'worker')}"
        spans = [f"{first:%Y-%m-%d} to {last:%Y-%m-%d}" for first, last in self.windows()]
        if spans:
            return (
                f"Outdoors: a stay of {stay} may begin {' or '.join(spans)}, with a chance of at "
                f"least {self.chance:.0%}, {self.forecast.condition}."
            )
        return f"Outdoors: no window for {stay} by {self.last_day:%Y-%m-%d}. {self._why_none()}"

    def _why_none(self) -> str:
        table = self.table
        best = table.iloc[int(table["chance"].argmax())]
        parts = {"weather": best["chance_weather"], "workers": best["chance_workers"]}
        narrow = min(parts, key=lambda name: parts[name])
        missing = {"weather": "it is the weather that is", "workers": "it is the workers that are"}
        return (
            f"The best start is {best['start']:%Y-%m-%d} with {share_words(best['chance'])} "
            f"(weather {share_words(parts['weather'])}, enough workers "
            f"{share_words(parts['workers'])}): {missing[narrow]} missing."
        )

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw how a stay would go that begins in each week."""
        return picture("care", "plot_outdoors", self, ax)

    def __repr__(self) -> str:
        return f"OutdoorWindows({self.sentence()})"

    def _report(self) -> Report:
        rows: list[tuple[str, ...]] = []
        if not self.excluded:
            near = self.table[self.table["chance"] >= min(0.5, self.chance / 2)]
            for line in near.iloc[:12].to_dict("records"):
                mark = "fits" if line["fits"] else "rest" if line["resting"] else ""
                chances = (line[key] for key in ("chance_weather", "chance_workers", "chance"))
                rows.append((f"{line['start']:%Y-%m-%d}", *map(share_words, chances), mark))
        limits = (
            f"no hour below {self.low_c:g} °C or above {self.high_c:g} °C in the shade, "
            f"{self.forecast.fit.species.name}"
        )
        facts = [("limits", limits)] if np.isfinite(self.low_c + self.high_c) else []
        facts.append(("weather", self.weather.basis))
        return Report(
            title=self.sentence(),
            facts=tuple(facts),
            head=("stay from", "weather", "workers", "both", ""),
            align="lrrrl",
            rows=tuple(rows),
            closing=tuple(("caution", text) for text in LAW),
        )


@takes(
    forecast=instance(Forecast, "Fit.forecast"),
    weather=instance(Temperature, "ag.monthly_normals"), rng=RNG,
)  # fmt: skip
def outdoor_windows(
    forecast: Forecast,
    weather: Temperature,
    *,
    workers: int = 100,
    weeks: int = 8,
    chance: float = 0.8,
    country: str | None = None,
    rng: int | np.random.Generator | None = None,
) -> OutdoorWindows:
    """Find the weeks in which a stay outdoors would go well.

    Parameters
    ----------
    forecast : Forecast
    weather : Temperature
        `monthly_normals` of the place, or a record of its weather of a year or more.
    workers : int
        That the colony must hold on the first day.
    weeks : int
        Length of the stay, 1 to 52. [week]
    chance : float
        That the weather must keep within the limits of the profile through the whole stay, and
        the colony hold enough workers.
    country : str, optional
        Two-letter code of ISO 3166-1. Nothing is scheduled where the species is not known to be
        native, nor without a country.
    rng : int, numpy.random.Generator or None
        Seed or source of chance for the weather; that of the forecast if not given.

    Returns
    -------
    OutdoorWindows

    Raises
    ------
    AntgrowthError
        With every fault of the arguments at once.
    TemperatureError
        If a record covers less than about a year.

    Notes
    -----
    Weather and colony are taken as independent: the chance of both is the product. A stay that
    reaches into a rest of the plan does not fit.

    Examples
    --------
    >>> import antgrowth as ag
    >>> import pandas as pd
    >>> notes = pd.DataFrame({"date": ["2026-07-20", "2026-08-14"], "eggs": [9, 7]})
    >>> fit = ag.fit(notes, ag.constant(25.0), "lasius-niger", queen_since="2026-07-04", rng=1)
    >>> ahead = fit.forecast(days=100, draws=100, rng=1)
    >>> normals = ag.monthly_normals([1, 2, 5, 9, 14, 17, 19, 18, 15, 10, 5, 2], daily_range=8)
    >>> ag.outdoor_windows(ahead, normals, workers=5, weeks=4, country="US").excluded
    'Lasius niger is not known to be native to US'
    """
    _check(workers, weeks, chance, country)
    ant = forecast.fit.species
    seasons = weather_of(weather)
    source = np.random.default_rng(forecast.seed if rng is None else rng)
    low_c, high_c = (
        ant.value(path) if path in ant else np.nan
        for path in ("limits.outdoor_low_c", "limits.outdoor_high_c")
    )
    tomorrow = forecast.start + DAYS
    monday = tomorrow + ((7 - tomorrow.day_of_week) % 7) * DAYS
    starts = pd.date_range(monday, forecast.dates[-1], freq="7D")
    if not len(starts):
        raise AntgrowthError(
            f"outdoor_windows: the forecast ends {forecast.dates[-1]:%Y-%m-%d}, before a whole "
            "week begins. Forecast further, 7 days or more."
        )
    stay = 7 * int(weeks)
    span = 7 * (len(starts) - 1) + stay
    lows, highs = seasons.years(monday, span, YEARS, source)
    good = (lows >= low_c) & (highs <= high_c)
    # Bad days up to each morning: a stay is good if their number does not rise in it.
    bad = np.concatenate([np.zeros((YEARS, 1)), np.cumsum(~good, axis=1)], axis=1)
    places = 7 * np.arange(len(starts))
    fine = (bad[:, places + stay] == bad[:, places]).mean(axis=0)
    if not np.isfinite(low_c + high_c):
        fine = np.full(len(starts), np.nan)
    first = (starts - forecast.start).days.to_numpy()
    enough = (forecast.paths[:, first, WORKERS] >= workers).mean(axis=0)
    resting = forecast.temperature.resting(monday, span)
    in_rest = np.array([resting[place : place + stay].any() for place in places])
    table = pd.DataFrame(
        {
            "start": starts,
            "end": starts + (stay - 1) * DAYS,
            "chance_weather": fine,
            "chance_workers": enough,
            "chance": fine * enough,
            "resting": in_rest,
            "fits": (fine * enough >= chance) & ~in_rest,
        }
    )
    return OutdoorWindows(
        forecast, seasons, int(workers), int(weeks), float(chance), low_c, high_c,
        _why_excluded(forecast, country, low_c, high_c), table,
    )  # fmt: skip


def _why_excluded(forecast: Forecast, country: str | None, low_c: float, high_c: float) -> str:
    """Why nothing may be scheduled; empty if nothing speaks against it."""
    ant = forecast.fit.species
    if ant.research_only:
        return f"{ant.scientific_name} is for research only"
    if country is None:
        return "no country is given: it decides whether the species is native"
    if country not in ant.native.countries:
        return f"{ant.scientific_name} is not known to be native to {country}"
    if not np.isfinite(low_c + high_c):
        return f"{ant.name} has no limits.outdoor_low_c and limits.outdoor_high_c"
    return ""


def _check(workers: object, weeks: object, chance: object, country: object) -> None:
    given = {"workers": workers, "weeks": weeks, "chance": chance}
    known = {} if country is None else {"country": country}
    if faults := list(Table(STAY | {"country": COUNTRY})(given | known, "")):
        raise AntgrowthError("outdoor_windows: " + "\n  ".join(faults))
