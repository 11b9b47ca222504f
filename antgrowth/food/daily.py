"""A day's food of a colony whose size and warmth are known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from antgrowth._core.arguments import (
    AMOUNT,
    COLONIES,
    FLAG,
    LEVEL,
    LONGEST_DAYS,
    RNG,
    above_0,
    optional,
    takes,
)
from antgrowth._core.arrays import Floats
from antgrowth._core.random import seeded
from antgrowth._core.stats import QUANTILES
from antgrowth._core.summary import Report, Shown, short
from antgrowth._core.text import told
from antgrowth._core.validation import Value, as_number, one_of
from antgrowth.errors import AntgrowthError
from antgrowth.food import energetics
from antgrowth.food.budget import body_masses, first_brood, needs
from antgrowth.food.constants import Constants
from antgrowth.food.energetics import COOLEST_C, WARMEST_C
from antgrowth.food.practice import GUESSED_QUEEN, NEEDS, to_mind
from antgrowth.food.servings import USUAL_PREY, Prey, as_percent, choose_prey, measured
from antgrowth.inference.prior import Prior, forcing_of
from antgrowth.model.life_cycle import larval_progress
from antgrowth.species.profile import Species, load_species

DRAWS = 4000
"""Draws of a day's food."""

HUMIDITY_PERCENT = 60.0
"""Humidity taken if none is given: that of a room (assumed) [%]."""

HUMIDITY = Value("0 to 100 %", lambda found: bool(0 <= as_number(found) <= 100))

AWAKE_C = Value(
    f"{COOLEST_C:.0f} to {WARMEST_C:.0f} °C, where the rates were measured",
    lambda found: bool(COOLEST_C <= as_number(found) <= WARMEST_C),
    "Resting ants live on their stores: no daily amount holds.",
)

UNITS = {
    "sugar_mg": "mg",
    "solution_ul": "µL",
    "honey_ul": "µL",
    "protein_mg": "mg",
    "prey_mg": "mg",
    "water_mg": "mg",
}


@dataclass(frozen=True, eq=False, repr=False)
class DailyFood(Shown):
    """What a colony eats in a day.

    Attributes
    ----------
    workers, larvae : float
    temperature_c : float
        [°C]
    species : Species
    percent : float
        Sugar of the sugar water by weight. [%]
    prey : Prey
        What larvae are reared on.
    queen : bool
        Whether she is counted in.
    queen_weighed : bool
        False if her mass is guessed from that of workers.
    draws : mapping of str to array, shape (draws,)
        Amounts a day by name, see `UNITS`: one for each draw of the uncertain constants.
    seed : int
    """

    workers: float
    larvae: float
    temperature_c: float
    species: Species
    percent: float
    prey: Prey
    queen: bool
    queen_weighed: bool
    draws: Mapping[str, Floats] = field(repr=False)
    seed: int

    @property
    def sugar_mg(self) -> float:
        """Sugar, as a median [mg/day]."""
        return self._median("sugar_mg")

    @property
    def solution_ul(self) -> float:
        """That sugar as sugar water, as a median [µL/day]."""
        return self._median("solution_ul")

    @property
    def honey_ul(self) -> float:
        """That sugar as honey instead, as a median [µL/day]."""
        return self._median("honey_ul")

    @property
    def protein_mg(self) -> float:
        """Protein, as a median [mg/day]."""
        return self._median("protein_mg")

    @property
    def prey_mg(self) -> float:
        """That protein as fresh prey, as a median [mg/day]."""
        return self._median("prey_mg")

    @property
    def water_mg(self) -> float:
        """Water lost through the skin, as a median; food brings much of it [mg/day]."""
        return self._median("water_mg")

    @property
    def ranges(self) -> dict[str, tuple[float, float]]:
        """Central 90 % range of each amount, by name."""
        return {name: self.interval(name) for name in UNITS}

    @takes(name=one_of(*UNITS, remedy=""), level=LEVEL)
    def interval(self, name: str, level: float = 0.9) -> tuple[float, float]:
        """Central interval of an amount.

        Parameters
        ----------
        name : str
            Such as "sugar_mg".
        level : float
            Probability of the interval, between 0 and 1.
        """
        tail = (1.0 - level) / 2.0
        low, high = np.quantile(self.draws[name], [tail, 1.0 - tail])
        return float(low), float(high)

    @takes(
        volume_ul=above_0("the volume of a drop above 0 µL"),
        of=one_of("honey", "sugar water", remedy=""),
    )
    def lasts(self, volume_ul: float, of: str = "honey") -> tuple[float, float, float]:
        """How long a measured drop lasts.

        Parameters
        ----------
        volume_ul : float
            Volume of the drop, as the keeper measured it. [µL]
        of : {"honey", "sugar water"}

        Returns
        -------
        median, low, high : float
            With the central 90 % range; infinite if nothing is eaten. [day]

        Examples
        --------
        >>> queen = daily_food(0, 0, 25.0, "lasius-niger", rng=1)
        >>> round(queen.lasts(50.0, of="honey")[0] / 7)  # weeks
        19
        """
        names = {"honey": "honey_ul", "sugar water": "solution_ul"}
        eaten = np.quantile(self.draws[names[of]], [0.5, 0.95, 0.05])
        if not eaten.all():
            return np.inf, np.inf, np.inf
        median, low, high = float(volume_ul) / eaten
        return float(median), float(low), float(high)

    def frame(self) -> pd.DataFrame:
        """Tell every amount a day.

        Returns
        -------
        DataFrame
            Columns amount, unit, q05, q25, q50, q75, q95.
        """
        return pd.DataFrame(
            [
                {"amount": name, "unit": unit}
                | {key: float(np.quantile(self.draws[name], at)) for key, at in QUANTILES.items()}
                for name, unit in UNITS.items()
            ]
        )

    def _report(self) -> Report:
        return _report(self)

    def __repr__(self) -> str:
        return (
            f"DailyFood({self.workers:g} workers, {self.larvae:g} larvae at "
            f"{self.temperature_c:g} °C: sugar {short(self.sugar_mg)} mg, {self.prey.kind} "
            f"{short(self.prey_mg)} mg a day)"
        )

    def _median(self, name: str) -> float:
        return float(np.median(self.draws[name]))


def _report(food: DailyFood) -> Report:
    """Report of a day's food."""
    strength = f"{food.percent:g} % sugar water"
    names = {
        "sugar_mg": "sugar",
        "solution_ul": f"  as {strength}",
        "honey_ul": "  or as honey",
        "protein_mg": "protein",
        "prey_mg": f"  as fresh {food.prey.kind}",
        "water_mg": "water lost, in part made up by the food",
    }
    rows = []
    for line in food.frame().to_dict("records"):
        median, low, high = measured(line["q50"], line["q05"], line["q95"])
        span = "" if low == high else f"{low} to {high}"
        rows.append((names[line["amount"]], line["unit"], median, span))
    ants = f"{food.workers:g} workers, {food.larvae:g} larvae" + (", a queen" if food.queen else "")
    if food.queen and not food.queen_weighed:
        ants += f" ({GUESSED_QUEEN})"
    return Report(
        title=f"Food a day: {food.species.scientific_name}",
        facts=(("ants", f"{ants}, awake at {food.temperature_c:g} °C"), ("amounts", NEEDS)),
        head=("food", "unit", "median", "90% range"),
        align="llrr",
        rows=tuple(rows),
        closing=to_mind(),
    )


@takes(
    workers=AMOUNT, larvae=AMOUNT, temperature_c=AWAKE_C, queen=FLAG,
    larval_days=optional(above_0("the length of the larval stage above 0 days", LONGEST_DAYS)),
    humidity_percent=HUMIDITY, draws=COLONIES,
    rng=RNG,
)  # fmt: skip
def daily_food(
    workers: float,
    larvae: float,
    temperature_c: float,
    species: Species | str,
    *,
    queen: bool = True,
    mass_mg: float | None = None,
    larval_days: float | None = None,
    percent: float = 20.0,
    prey: str = USUAL_PREY[0],
    humidity_percent: float = HUMIDITY_PERCENT,
    draws: int = DRAWS,
    rng: int | np.random.Generator | None = None,
) -> DailyFood:
    """Work out what a colony eats in a day.

    Parameters
    ----------
    workers, larvae : float
        How many there are.
    temperature_c : float
        Nest temperature, from 10 to 40; for resting colonies there is no such arithmetic. [°C]
    species : Species or str
        Profile, or its name or path.
    queen : bool
        Whether a queen eats along.
    mass_mg : float, optional
        Live mass of a worker, weighed; needed where the profile has none. [mg]
    larval_days : float, optional
        Length of the larval stage at that temperature; from the profile if not given. [day]
    percent : float
        Sugar of the sugar water by weight. [%]
    prey : str
        What larvae are reared on; one of `prey_kinds`.
    humidity_percent : float
        Of the air around the ants, for the water they lose. [%]
    draws : int
        Draws of the uncertain constants.
    rng : int, numpy.random.Generator or None
        Seed or source of chance.

    Returns
    -------
    DailyFood

    Raises
    ------
    SpeciesError
        If the mass of a worker is not known.
    AntgrowthError
        If an argument is out of range, or `prey` is not one kind.

    Notes
    -----
    Adults burn sugar by mass and temperature; larvae need the protein and energy of the body they
    grow, at the pace of their stage. Growth energy beyond that of the prey counts as sugar. The
    queen's eggs are left out: they weigh next to nothing beside larvae. What larvae ate who die
    later is counted in.

    Examples
    --------
    >>> daily_food(100, 50, 25.0, "lasius-niger", rng=1)
    DailyFood(100 workers, 50 larvae at 25 °C: sugar 16 mg, house cricket 24 mg a day)
    """
    if not isinstance(prey, str):
        raise AntgrowthError(f"daily_food: prey = {told(prey)}. Name one kind, such as 'mealworm'.")
    strength, (kind,) = as_percent(percent), choose_prey(prey)
    ant = species if isinstance(species, Species) else load_species(species)
    seed, source = seeded(rng)
    shape = (int(draws), 1)
    constants = Constants.draw(shape, source)
    masses = body_masses(ant, mass_mg, constants, int(draws), source)
    prior = Prior.of(ant)
    laws = prior.laws(source.standard_normal((int(draws), len(prior))))
    hours_c = np.full((1, 24), float(temperature_c))
    if larval_days is None:
        growing = larval_progress(laws, forcing_of(ant, hours_c, np.zeros(1, bool)))
        quicker = laws.first_development[:, None]
    else:
        growing = np.full(shape, 1.0 / as_number(larval_days))
        quicker = np.ones(shape)
    share, energy = kind.protein_share(shape, source), kind.energy_j_per_mg(shape, source)
    need = needs(
        workers=np.full(shape, float(workers)),
        larvae=np.full(shape, float(larvae)),
        older=np.full(shape, float(workers)),
        queens=np.full(1, float(queen)),
        first=first_brood(ant, laws),
        growing=growing,
        first_development=quicker,
        hours_c=hours_c,
        humidity_percent=float(humidity_percent),
        masses=masses,
        prey_protein=share,
        prey_energy=energy,
        constants=constants,
    )
    sugar = need.adult_sugar_mg + need.growth_sugar_mg
    amounts = {
        "sugar_mg": sugar,
        "solution_ul": energetics.solution_ul(sugar, strength),
        "honey_ul": energetics.honey_ul(sugar, constants),
        "protein_mg": need.protein_mg,
        "prey_mg": energetics.prey_mg(need.protein_mg, share),
        "water_mg": need.water_mg,
    }
    return DailyFood(
        workers=float(workers),
        larvae=float(larvae),
        temperature_c=float(temperature_c),
        species=ant,
        percent=strength,
        prey=kind,
        queen=bool(queen),
        queen_weighed=masses.queen_weighed,
        draws={name: amount[:, 0] for name, amount in amounts.items()},
        seed=seed,
    )
