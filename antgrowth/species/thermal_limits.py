"""Which numbers of a species profile limit the temperature, and what a keeper must mind."""

from __future__ import annotations

from typing import TYPE_CHECKING

from antgrowth.errors import SpeciesError

if TYPE_CHECKING:
    from antgrowth.species.profile import Species

PHASES = {
    "founding": ("limits.founding_ceiling_c", "", "ceiling of the founding nest"),
    "housed": ("limits.housed_ceiling_c", "", "ceiling of the housed colony"),
    "outdoors": ("limits.outdoor_high_c", "limits.outdoor_low_c", "warmest outdoors"),
}
"""By phase of a colony: paths of its highest and lowest temperature, and a name of the highest."""

SENSOR_MARGIN_C = 2.0
"""Within this of a ceiling nothing is safe: sensors err, and sit away from the brood. [°C]"""

HEAT_CAUTION = (
    "Heat mats: use a thermostat and residual-current protection; fold and cover nothing, keep "
    "water away from mains; heat only a part of the nest, so that the ants can choose."
)

OUTDOORS_CAUTION = (
    "Outdoors: never release ants, and keep none outdoors that are not native there; your local "
    "authority decides what may be kept."
)

COLD_LIMIT = "limits.cold_limit_c"
"""Path of the temperature below which eggs die faster, where that is known."""

STANDSTILLS = {
    "egg": "development.egg.lower_c",
    "larva": "development.larva.lower_c",
    "pupa": "development.pupa.lower_c",
    "laying": "laying.lower_c",
}
"""What stops in the cold, and the path of the temperature below which it does."""


def refuse_dependent(ant: Species) -> None:
    """Make no forecast of an ant whose queens found with workers."""
    if ant.founding == "dependent":
        raise SpeciesError(
            f"{ant.scientific_name} ({ant.name}): no forecast is made. Its queens found with "
            "workers and with other queens, and its colonies rear new queens and split; the growth "
            "law knows one queen's brood and no other past, and by it such colonies grow "
            "implausibly. Its temperatures can be held against its limits (audit), and its growth "
            "rate is told."
        )


def refuse_research(ant: Species, what: str) -> None:
    """Make no plan of keeping, such as a "care plan", for an ant that is not to be kept at home."""
    if ant.research_only:
        raise SpeciesError(
            f"{ant.scientific_name} ({ant.name}) is for research only, so no {what} is made for "
            f"it. Fits and forecasts are. {ant.cautions[0]}"
        )
