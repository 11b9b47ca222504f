"""A species profile that stays as it is, for tests of what is made of a profile.

What is known of a real ant is learned anew now and then; whether the fit settles, and on what, is
not to be held against that.
"""

from __future__ import annotations

from dataclasses import replace

from antgrowth.species.profile import Species, load_species

NUMBERS: dict[str, tuple[float, float]] = {
    "development.shared_spread": (0.15, 0.0),
    "development.pace_cv": (0.12, 0.0),
    "development.egg.days": (18.9, 0.12),
    "development.egg.lower_c": (14.0, 2.0),
    "development.egg.upper_c": (35.0, 0.0),
    "development.larva.days": (7.5, 0.15),
    "development.larva.lower_c": (12.0, 2.5),
    "development.larva.upper_c": (35.0, 0.0),
    "development.pupa.days": (24.7, 0.12),
    "development.pupa.lower_c": (11.0, 2.5),
    "development.pupa.upper_c": (35.0, 0.0),
    "survival.egg": (0.95, 0.7),
    "survival.larva": (0.44, 0.5),
    "survival.pupa": (0.98, 0.7),
    "laying.delay_days": (3.0, 0.8),
    "laying.founding_rate": (4.7, 0.2),
    "laying.rate_per_worker": (0.25, 0.5),
    "laying.top_rate": (400.0, 0.5),
    "laying.lower_c": (12.0, 2.5),
    "laying.upper_c": (33.0, 0.0),
    "rearing.eggs_eaten": (0.58, 0.4),
    "rearing.places_alone": (17.7, 0.25),
    "rearing.places_per_worker": (2.3, 0.4),
    "rearing.places_power": (0.75, 0.2),
    "rearing.pupa_care": (1.0, 0.2),
    "workers.life_days": (300.0, 0.45),
    "workers.life_shape": (2.0, 0.0),
    "workers.ageing_q10": (2.0, 0.0),
    "workers.first_life": (0.6, 0.35),
    "workers.first_development": (1.0, 0.12),
    "limits.heat_limit_c": (30.0, 0.0),
    "limits.heat_loss_per_day_c": (0.03, 0.0),
    "season.length_days": (185.0, 0.12),
    "season.wake_days": (12.0, 0.4),
    "season.laying_days": (60.0, 0.4),
    "season.fasting": (0.8, 0.6),
    "rest.egg_survival": (0.05, 0.8),
    "rest.larva_survival": (0.7, 0.5),
    "rest.pupa_survival": (0.05, 0.8),
    "counting.seen_eggs": (0.92, 0.8),
    "counting.seen_larvae": (0.92, 0.8),
    "counting.seen_workers": (0.37, 0.8),
}
"""Value and spread of each number; about those of a garden ant (invented, for tests alone)."""


def garden_ant() -> Species:
    """An invented ant: as Lasius niger in all that is no number of the growth law."""
    model = load_species("lasius-niger")
    numbers = dict(model.numbers)
    for path, (value, spread) in NUMBERS.items():
        numbers[path] = replace(numbers[path], value=value, spread=spread)
    season = replace(model.season, kind="endogenous", spring="03-28")
    return replace(
        model, name="invented-ant", scientific_name="Formica inventa", numbers=numbers,
        season=season,
    )  # fmt: skip
