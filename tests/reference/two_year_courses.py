"""Two years of every profile from its founding, beside what is known of the ant.

``python tests/reference/two_year_courses.py [profile ...]`` prints the courses: what a profile
expects of a colony of which nothing is known but the day of its founding, kept at the profile's
reference temperature and rested as it says. Numbers are medians over draws with their 90 % range;
days are those on which the median first reaches one. Beside them stands what is known, and whence.
"""

from __future__ import annotations

import sys
import textwrap
from dataclasses import dataclass

import numpy as np
import pandas as pd

import antgrowth as ag

FOUNDED = "2026-07-04"
YEAR = 365
DRAWS = 300
SEED = 1
BROOD = ("eggs", "larvae", "pupae")
PART_GROWN = {"workers": 20, "brood": 25}
"""First note of colonies whose queens do not found alone."""

ASIDE = "from memory, unverified"

KNOWN = {
    "camponotus-pennsylvanicus": "First clutch 9 to 20 eggs, egg to worker 42 to 84 d, 200 to 300 "
    "workers after 2 to 4 years (pest-information pages, secondary).",
    "formica-fusca": "Formica japonica lays a first clutch in 4 to 5 d, and all along from about "
    f"10 workers on (1984, read). Winters without brood, mature 500 to 2000 workers ({ASIDE}).",
    "generic-temperate": f"5 to 20 workers in the first autumn, 50 to 300 in the second ({ASIDE}).",
    "generic-tropical": f"First workers after 4 to 8 weeks, hundreds within a year ({ASIDE}).",
    "lasius-flavus": f"First workers after 7 to 9 weeks, mature about 10,000 workers ({ASIDE}).",
    "lasius-japonicus": "Many pupae about 30 d after laying began at 25 °C; winters as queen, "
    "workers and larvae (Kamitani and others 2015, read).",
    "lasius-niger": "60 colonies founded on 12 August 2016 (Schläppi and others 2020): first "
    "workers 52 d after the first egg, 16 (up to 21) of them and 36 larvae (up to 47) before the "
    "rest, 12 workers and 15 larvae after it, 182 workers (117 to 294) and 46 larvae in November "
    "of the second summer. Those counts helped to make the profile. Mature 5000 to 10,000 workers "
    f"({ASIDE}).",
    "linepithema-humile": "Best survival from egg to adult 16 % (Abril and others 2010, read); egg "
    "to worker 49 d at 25 °C (Hartley and Lester 2003, derived). Queens are many.",
    "messor-barbarus": f"First workers after 6 to 9 weeks, mature some thousands ({ASIDE}).",
    "monomorium-pharaonis": "Egg to worker 38 d at 27 °C, about 400 eggs in a queen's life "
    "(secondary); colonies grow by new queens, which the model does not know.",
    "myrmica-rubra": f"Large larvae winter (Elmes and Wardlaw 1983, read). A handful of workers in "
    f"the first year, mature some hundreds for each queen ({ASIDE}).",
    "oecophylla-smaragdina": "First worker about 54 d after the flight (Offenberg and others 2012, "
    "derived); of a suitable mature size after 3 years (Peng and others 2013, read).",
    "pheidole-pallidula": f"First workers after 5 to 7 weeks, mature some thousands ({ASIDE}).",
    "solenopsis-invicta": "15 to 20 first workers, 7000 in the first autumn, 25,000 after 2 years, "
    "50,000 after 3 outdoors (Markin and others 1973, read); about 4000 after 6 months (Tschinkel "
    "1988, read).",
    "temnothorax-rugatulus": "13 to 300 workers, median 71; brood for each worker 0.8 (Chism and "
    "others 2022, derived).",
    "tetramorium-caespitum": "First workers after 5 to 8 weeks, 100 to 500 after a year, mature "
    f"about 10,000 ({ASIDE}).",
}
"""What is known of each ant, with its standing."""


@dataclass(frozen=True)
class Course:
    """Two years of a profile.

    Attributes
    ----------
    name : str
    days : mapping of str to DataFrame
        By stage: mean, q05, q50 and q95 of each day, indexed by date.
    rest : tuple of Timestamp or None
        First day of the first rest, and the day after its last; None if the ant needs none.
    alone : bool
        Whether the queen founded alone.
    """

    name: str
    days: dict[str, pd.DataFrame]
    rest: tuple[pd.Timestamp, pd.Timestamp] | None
    alone: bool

    def first(self, stage: str) -> str:
        """The day on which the median of a stage first reaches one."""
        there = self.days[stage].index[self.days[stage]["q50"] >= 1]
        if not len(there):
            return "not within two years"
        return f"{there[0]:%Y-%m-%d}, day {(there[0] - pd.Timestamp(FOUNDED)).days}"

    def number(self, stage: str, day: pd.Timestamp) -> str:
        row = self.days[stage].loc[day]
        return f"{row['q50']:.0f} ({row['q05']:.0f} to {row['q95']:.0f}) {stage}"

    def largest(self, stage: str, until: pd.Timestamp) -> str:
        seen = self.days[stage].loc[:until, "q50"]
        return f"{seen.max():.0f} on {seen.idxmax():%Y-%m-%d}"

    def lines(self) -> list[tuple[str, str]]:
        """What the table tells, in the order of time."""
        founded = pd.Timestamp(FOUNDED)
        told = []
        if self.alone:
            before = self.days["workers"].index[self.days["workers"]["q50"] >= 1]
            until = before[0] if len(before) else founded + pd.Timedelta(days=YEAR)
            told += [
                ("first eggs", self.first("eggs")),
                ("most eggs before workers", self.largest("eggs", until)),
                ("first larvae", self.first("larvae")),
                ("first pupae", self.first("pupae")),
                ("first workers", self.first("workers")),
            ]
        if self.rest:
            for label, day in zip(("at the first rest", "in spring"), self.rest, strict=True):
                stages = ("workers", *BROOD)
                told.append((label, ", ".join(self.number(stage, day) for stage in stages)))
        for years in (1, 2):
            day = founded + pd.Timedelta(days=years * YEAR)
            told.append((f"after {years} year{'s' * (years > 1)}", self.number("workers", day)))
        end = founded + pd.Timedelta(days=2 * YEAR)
        brood = sum(self.days[stage].loc[end, "mean"] for stage in BROOD)
        told.append(("brood a worker", f"{brood / self.days['workers'].loc[end, 'mean']:.2f}"))
        return told


def course(name: str) -> Course:
    """Let colonies grow as the profile expects, from their founding on."""
    ant = ag.load_species(name)
    plan, rests = ag.constant(ant.value("development.reference_c")), rests_of(ant)
    for begins, ends in rests:
        plan = plan.rest(begins, ends, ant.rest.temperature_c)
    alone = ant.founding != "dependent"
    counts = dict.fromkeys((*BROOD, "workers"), 0) if alone else PART_GROWN
    notes = pd.DataFrame([{"date": FOUNDED, **counts}])
    since = {"queen_since": FOUNDED} if alone else {}
    fit = ag.fit(notes, plan, ant, hemisphere="north", rng=SEED, **since)
    table = fit.forecast(days=2 * YEAR, draws=DRAWS, rng=SEED).frame()
    days = {
        stage: part.set_index("date")[["mean", "q05", "q50", "q95"]]
        for stage, part in table.groupby("stage")
    }
    return Course(name, days, rests[0] if rests else None, alone)


def rests_of(ant: ag.Species) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """First day of each rest of the two years, and the day after its last, as the profile says."""
    if not ant.rest.needed:
        return []

    def after(month_day: str, day: pd.Timestamp) -> pd.Timestamp:
        this_year = pd.Timestamp(f"{day.year}-{month_day}")
        return this_year if this_year > day else this_year + pd.DateOffset(years=1)

    begins = after(ant.rest.start, pd.Timestamp(FOUNDED))
    ends = after(ant.rest.end, begins)
    later = pd.DateOffset(years=1)
    return [(begins, ends), (begins + later, ends + later)]


def report(found: Course) -> str:
    """One course as text, with what is known of the ant below it."""
    width = max(len(label) for label, _ in found.lines())
    lines = [found.name, *(f"  {label.ljust(width)}  {told}" for label, told in found.lines())]
    known = textwrap.fill(f"known: {KNOWN[found.name]}", 98, initial_indent="  ",
                          subsequent_indent="  ")  # fmt: skip
    return "\n".join([*lines, known])


def main(names: list[str]) -> None:
    """Print the courses of the named profiles, or of all."""
    shipped = ag.list_species()["name"].tolist()
    assert set(KNOWN) == set(shipped), set(KNOWN) ^ set(shipped)
    for name in names or shipped:
        found = course(name)
        assert all(np.isfinite(part["mean"]).all() for part in found.days.values()), name
        print(report(found), end="\n\n", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
