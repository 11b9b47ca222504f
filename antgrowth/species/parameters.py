"""The numbers of a species profile: their paths, units, ranges, and how a prior lies on them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

SPREAD_FLOORS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "read": {"log": 0.08, "logit": 0.2, "celsius": 0.5},
        "derived": {"log": 0.12, "logit": 0.3, "celsius": 0.75},
        "secondary": {"log": 0.18, "logit": 0.45, "celsius": 1.0},
        "common practice": {"log": 0.18, "logit": 0.45, "celsius": 1.0},
        "memory": {"log": 0.20, "logit": 0.5, "celsius": 1.25},
        "assumed": {"log": 0.25, "logit": 0.6, "celsius": 1.5},
        "pooled": {"log": 0.03, "logit": 0.1, "celsius": 0.25},
    }
)
"""The narrowest prior a number may claim, by status and scale: weak evidence, wide prior."""

STATUSES = tuple(SPREAD_FLOORS)

CHOICES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "founding": ("claustral", "semi-claustral", "sealed-tube", "dependent"),
        "climate": ("temperate", "warm-temperate", "tropical"),
        "brood": ("naked pupae", "cocoons"),
        "season.kind": ("endogenous", "exogenous", "none"),
        "development.egg.curve": ("briere", "degree-day"),
        "development.larva.curve": ("briere", "degree-day"),
        "development.pupa.curve": ("briere", "degree-day"),
    }
)
CURVE_PATHS = {stage: f"development.{stage}.curve" for stage in ("egg", "larva", "pupa")}

QUEENS_LAY, QUEENS_CARE = "laying.queens_power", "rearing.queens_power"
"""What a profile may say of several queens in one nest."""

QUEENS_POWER = 0.6
"""Where a profile does not know better, for laying and care alike (assumed). In Solenopsis invicta
the brood of each queen falls exponentially with their number, and that of all is largest with 4 to
7 (Tschinkel 1993, read): as by a power of 0.4 to 0.7 for three to five."""

_AFTER_REST = ("season.wake_days", "season.laying_days", "season.fasting")
SEASON_NUMBERS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "endogenous": ("season.length_days", *_AFTER_REST),
        "exogenous": ("season.ends_below_c", *_AFTER_REST),
        "none": (),
    }
)
"""The numbers that a season of each kind has, all of them needed, the one of its end first."""


@dataclass(frozen=True)
class Number:
    """One number of a profile, with what it rests on."""

    value: float  # in `unit`
    # Standard deviation of the prior on the parameter's scale: of the logarithm, of the logit,
    # or in °C; 0 where the model holds the number fixed.
    spread: float
    unit: str
    source: str  # keys of the sources, or "assumption", "common practice", "own counts"
    status: str  # one of `STATUSES`
    note: str = ""  # how the value follows from its source


@dataclass(frozen=True)
class Parameter:
    """What a profile may say about one number."""

    path: str  # its place in the TOML file
    unit: str
    # Where its prior is normal: "log" (of positive quantities), "logit" (of shares), "celsius".
    scale: str
    # low, high: allowed range of the value, ends included; a share excludes 0 and 1 [unit]
    low: float
    high: float
    meaning: str
    # The growth model holds it fixed, so that no spread is asked for. Only the food plan draws
    # the masses, where a spread is welcome.
    held: bool = False
    # A profile without it is incomplete. Those of `SEASON_NUMBERS` are needed by the kind of
    # season, and have no place in another.
    needed: bool = True

    @property
    def allowed(self) -> str:
        """The allowed range in words."""
        if self.scale == "logit":
            return "a share above 0 and below 1"
        return f"a number from {self.low:g} to {self.high:g} [{self.unit}]"

    def allows(self, value: float) -> bool:
        """Whether `value` lies in the allowed range."""
        if self.scale == "logit":
            return 0 < value < 1
        return self.low <= value <= self.high

    def interval(self, number: Number) -> tuple[float, float]:
        """Return the central 90 % range of the prior of `number`, in its unit."""
        reach = 1.645 * number.spread
        if self.scale == "celsius":
            return number.value - reach, number.value + reach
        if self.scale == "log":
            return number.value * math.exp(-reach), number.value * math.exp(reach)
        logit = math.log(number.value / (1 - number.value))
        return 1 / (1 + math.exp(reach - logit)), 1 / (1 + math.exp(-reach - logit))


# fmt: off
def _of_brood_and_queen() -> Iterator[Parameter]:
    p = Parameter
    yield p("development.reference_c", "°C", "celsius", 10, 40,
            "temperature of the stage durations, laying rates and worker life", held=True)
    yield p("development.pace_cv", "1", "log", 0.02, 0.5,
            "coefficient of variation of pace between individuals", held=True)
    yield p("development.shared_spread", "1", "log", 0.05, 1,
            "log-sd of a factor common to the three durations", held=True)
    for stage in ("egg", "larva", "pupa"):
        at = f"development.{stage}"
        lasts = "from taking a place to the pupa" if stage == "larva" else f"of the {stage} stage"
        yield p(f"{at}.days", "day", "log", 0.5, 400, f"duration {lasts}")
        yield p(f"{at}.lower_c", "°C", "celsius", 0, 40, f"the {stage} stands still below")
        yield p(f"{at}.upper_c", "°C", "celsius", 15, 60, f"the {stage} stands still above",
                held=True)
    for stage in ("egg", "larva", "pupa"):
        yield p(f"survival.{stage}", "1", "logit", 0, 1, f"share that completes the {stage} stage")
    yield p("laying.delay_days", "day", "log", 0.2, 400, "from the queen alone to her first egg")
    yield p("laying.founding_rate", "egg/day", "log", 0.01, 1000, "rate of the lone queen")
    yield p("laying.rate_per_worker", "egg/day/worker", "log", 0.001, 100, "added by each worker")
    yield p("laying.top_rate", "egg/day", "log", 0.1, 10_000, "top rate of a mature queen")
    yield p("laying.lower_c", "°C", "celsius", 0, 40, "the queen lays nothing below")
    yield p("laying.upper_c", "°C", "celsius", 15, 60, "the queen lays nothing above", held=True)
    yield p(QUEENS_LAY, "1", "log", 0, 2,
            "n queens lay as much as one times n to this power", held=True, needed=False)
    yield p("rearing.eggs_eaten", "egg/day/larva", "log", 0.001, 20,
            "eaten by each larva where eggs are plenty")
    yield p("rearing.places_alone", "brood", "log", 0.5, 1000,
            "larvae that the lone queen rears at a time")
    yield p("rearing.places_per_worker", "brood/worker", "log", 0.01, 100,
            "rho of the places rho ((1 + W)^b - 1) that W workers add")
    yield p("rearing.places_power", "1", "log", 0.1, 1.5, "b, the power of those places")
    yield p("rearing.pupa_care", "1", "log", 0.01, 5,
            "places that a pupa takes, where a larva being reared takes 1")
    yield p(QUEENS_CARE, "1", "log", 0, 2,
            "n queens alone rear as much brood as one times n to this power",
            held=True, needed=False)


def _of_season_and_workers() -> Iterator[Parameter]:
    p = Parameter
    yield p("season.length_days", "day", "log", 20, 365,
            "from spring to the end of rearing, on the colony's own timer", needed=False)
    yield p("season.ends_below_c", "°C", "celsius", 0, 35,
            "rearing ends when ten days are cooler on average", needed=False)
    yield p("season.wake_days", "day", "log", 0.5, 120, "from the end of a rest to rearing",
            needed=False)
    yield p("season.laying_days", "day", "log", 0.5, 150, "from the end of a rest to laying",
            needed=False)
    yield p("season.fasting", "1", "logit", 0, 1,
            "share by which larvae eat fewer eggs when the season is over", needed=False)
    yield p("workers.life_days", "day", "log", 5, 4000, "Weibull scale of worker life")
    yield p("workers.life_shape", "1", "log", 0.5, 10, "Weibull shape of worker life", held=True)
    yield p("workers.ageing_q10", "1", "log", 1, 5, "ageing quickens by this over 10 °C",
            held=True)
    yield p("workers.first_life", "1", "log", 0.1, 1.5, "life of first workers, relative")
    yield p("workers.first_development", "1", "log", 0.3, 1.5,
            "stage durations of first workers, relative")
    yield p("workers.mass_mg", "mg", "log", 0.01, 1000, "live mass of a worker",
            held=True, needed=False)
    yield p("workers.first_mass_mg", "mg", "log", 0.01, 1000, "live mass of a first worker",
            held=True, needed=False)
    yield p("queen.mass_mg", "mg", "log", 0.05, 5000, "live mass of a newly mated queen",
            held=True, needed=False)
    yield p("food.protein_from_workers", "worker", "log", 0, 1000,
            "prey is offered from so many workers on", held=True, needed=False)


def _of_keeping() -> Iterator[Parameter]:
    p = Parameter
    yield p("limits.founding_ceiling_c", "°C", "celsius", 10, 45, "warmest advised while founding",
            held=True)
    yield p("limits.housed_ceiling_c", "°C", "celsius", 10, 45, "warmest advised with workers",
            held=True)
    for phase in ("founding", "housed"):
        yield p(f"limits.{phase}_practice_c", "°C", "celsius", 10, 45,
                f"usual {'while founding' if phase == 'founding' else 'with workers'}",
                held=True, needed=False)
    yield p("limits.outdoor_low_c", "°C", "celsius", -40, 30,
            "coldest that a nest outdoors comes to no harm in", held=True, needed=False)
    yield p("limits.outdoor_high_c", "°C", "celsius", 10, 60,
            "warmest that a nest outdoors comes to no harm in", held=True, needed=False)
    yield p("limits.heat_limit_c", "°C", "celsius", 15, 60, "brood dies faster above", held=True)
    yield p("limits.heat_loss_per_day_c", "1/day/°C", "log", 0, 10,
            "extra death rate of brood for each °C above the heat limit", held=True)
    yield p("limits.queen_loss_per_day_c", "1/day/°C", "log", 0, 10,
            "death rate of the queen for each °C above the ceiling", held=True, needed=False)
    yield p("limits.cold_limit_c", "°C", "celsius", 0, 40,
            "eggs die faster on days cooler than this on average", held=True, needed=False)
    yield p("limits.cold_loss_per_day_c", "1/day/°C", "log", 0, 10,
            "extra death rate of eggs for each °C below the cold limit", held=True, needed=False)
    yield p("rest.temperature_c", "°C", "celsius", 0, 25, "usual temperature of the rest",
            held=True, needed=False)
    for stage, many in (("egg", "eggs"), ("larva", "larvae"), ("pupa", "pupae")):
        yield p(f"rest.{stage}_survival", "1", "logit", 0, 1,
                f"share of {many} that outlives a rest")
    for stage in ("eggs", "larvae"):
        yield p(f"counting.seen_{stage}", "1", "logit", 0, 1, f"share of {stage} a keeper sees")
    yield p("counting.seen_workers", "1", "logit", 0, 1,
            "share of a crowd of workers a keeper sees")
# fmt: on


PARAMETERS: Mapping[str, Parameter] = MappingProxyType(
    {p.path: p for p in (*_of_brood_and_queen(), *_of_season_and_workers(), *_of_keeping())}
)
"""Every number of a profile by its path, in the order of the file."""
