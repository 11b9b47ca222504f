"""Species profiles: the numbers of an ant, each with its source, and curves fitted to tables."""

from __future__ import annotations

from antgrowth.species.milestones import MilestoneRule
from antgrowth.species.native_range import Native
from antgrowth.species.parameters import PARAMETERS, SPREAD_FLOORS, Number, Parameter
from antgrowth.species.profile import (
    Rest,
    Season,
    Species,
    list_species,
    load_species,
    species_from_mapping,
)

__all__ = [
    "PARAMETERS",
    "SPREAD_FLOORS",
    "MilestoneRule",
    "Native",
    "Number",
    "Parameter",
    "Rest",
    "Season",
    "Species",
    "list_species",
    "load_species",
    "species_from_mapping",
]
