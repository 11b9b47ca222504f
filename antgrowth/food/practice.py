"""What to offer when: keepers' practice by the way a queen founds, and what to take care of.

Rules without a publication are common practice; a profile or the keeper can set the number of
workers from which on prey is offered.
"""

from __future__ import annotations

from dataclasses import dataclass

from antgrowth._core.text import told
from antgrowth._core.validation import is_whole
from antgrowth.errors import AntgrowthError
from antgrowth.food.servings import MIXING
from antgrowth.species.profile import Species

CAUTIONS = (
    "Offer bred or pesticide-free prey only: an insect caught outdoors may carry poison or "
    "parasites, and one poisoned meal can end a colony.",
    "Too much protein shortens workers' lives: prey follows the larvae, sugar is there always.",
)

SERVING = (
    "Keep sugar water or honey there always. Offer prey in portions small enough to be eaten "
    "within a day, freshly killed, and take leftovers away before they mould. Offer more where "
    "all is gone within hours, less where it is left. Water stands free at all times, drawn up by "
    "cotton or foam: small ants drown in an open drop."
)

SEEDS = (
    "Seeds: untreated small ones lie there dry at all times, cracked for the first workers; prey "
    "is offered besides while there are larvae, and sugar water takes the place of neither "
    "(common practice)."
)

WARM_REST_C = 12.0
"""From this warmth on a resting colony is fed (assumed): its stores do not last so long. [°C]"""

WARM_REST = (
    f"rest at {WARM_REST_C:.0f} °C or warmer: sugar and water stay there. By the body stores and "
    "metabolic rates behind these amounts a rest of weeks is more than an ant holds, and starved "
    "workers of Lasius niger lasted about a week and a half when warm (J Exp Biol 219:769, as "
    "repeated). The amount is that of awake ants, and more than they take; the warmth from which "
    "on to feed is assumed"
)

QUIET = {
    "rest": f"rest season under {WARM_REST_C:.0f} °C: water and a look for mould, no sugar "
    "and no prey. No amounts are given, for no rule of so much a day holds there: resting ants "
    "live on their stores, and colonies that such a rule gives weeks have lived eight months unfed",
    "cold": "under 10 °C: as in a rest season, water and a look for mould; the rates behind the "
    "amounts were measured from 10 °C up",
    "heat": "above 40 °C: beyond the rates behind the amounts, and deadly for most ants",
}
"""Why a day has no amounts, and what to do on it."""


GUESSED_QUEEN = "the queen's mass is guessed from that of workers"

NEEDS = (
    "worked out from body mass, warmth and larvae, with caterpillars standing in for ant larvae; "
    "measured fire-ant colonies took half of such an amount of sugar and nearly twice the prey"
)


@dataclass(frozen=True)
class FeedingRules:
    """How a colony is fed."""

    # sugar_from_workers, protein_from_workers: sugar and prey are offered once there have been
    # so many workers; 0 from the first day.
    sugar_from_workers: int
    protein_from_workers: int
    status: str  # what the rule for prey rests on
    advice: str


_BY_FOUNDING = {
    "claustral": FeedingRules(
        1,
        1,
        "common practice",
        "The founding queen gets water and nothing else, and is left alone: her brood grows from "
        "her reserve. Her first workers need tiny prey at once, pieces no larger than themselves, "
        "and sugar.",
    ),
    "semi-claustral": FeedingRules(
        0,
        0,
        "common practice",
        "The founding queen forages: small prey and sugar from the first day.",
    ),
    "sealed-tube": FeedingRules(
        0,
        1,
        "common practice",
        "The founding queen takes sugar water in her closed tube. Her first workers need tiny prey "
        "at once, pieces no larger than themselves.",
    ),
    "dependent": FeedingRules(
        0,
        0,
        "common practice",
        "Queen and workers are fed together: sugar and prey from the first day.",
    ),
}


_WAITING = (
    "Prey waits until there are {count} workers: leftovers mould in the closed tube, and each "
    "opening costs brood. Against waiting: larvae are built of protein, and in a rearing study of "
    "the sister species Oecophylla longinoda colonies did better with protein throughout "
    "(recalled, unverified). To begin sooner, write protein_from_workers = 1 into colony.toml, "
    "and take leftovers away within a day."
)
"""Beside the sugar water of a closed tube, where the profile lets prey wait."""


def feeding_rules(species: Species, protein_from_workers: int | None = None) -> FeedingRules:
    """How a species is fed: by its way of founding, its profile's number, or the keeper's own."""
    usual = _BY_FOUNDING[species.founding]
    count, status = usual.protein_from_workers, usual.status
    if "food.protein_from_workers" in species:
        number = species["food.protein_from_workers"]
        count, status = round(number.value), number.status
    if protein_from_workers is not None:
        if not is_whole(protein_from_workers, 0):
            raise AntgrowthError(
                f"protein_from_workers = {told(protein_from_workers)}. Give the number of "
                "workers from "
                "which on prey is offered, a whole number of at least 0."
            )
        count, status = int(protein_from_workers), "set by the keeper"
    advice = usual.advice
    if count > 1:
        advice = f"{advice.partition('. ')[0]}. {_WAITING.format(count=count)}"
    if species.eats_seeds:
        advice += f" {SEEDS}"
    return FeedingRules(usual.sugar_from_workers, count, status, advice)


def to_mind() -> tuple[tuple[str, str], ...]:
    """How to serve and mix what is told, and what to take care of: the end of each report."""
    cautions = tuple(("caution", text) for text in CAUTIONS)
    return (("serving", SERVING), ("mixing", MIXING), *cautions)
