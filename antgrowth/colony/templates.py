"""A new colony folder: files that explain themselves, with an example row in each."""

from __future__ import annotations

import textwrap
from pathlib import Path

import numpy as np
import pandas as pd

from antgrowth._core.dates import as_day
from antgrowth._core.files import make_folder, write_new
from antgrowth.care.outdoors import LAW
from antgrowth.climate.dormancy import dormancy_schedule
from antgrowth.climate.temperature import constant
from antgrowth.colony.cells import NOTEBOOK_FILE, as_notebook
from antgrowth.errors import AntgrowthError
from antgrowth.food.practice import feeding_rules
from antgrowth.species.native_range import COUNTRY
from antgrowth.species.profile import Species, load_species
from antgrowth.species.toml_writer import as_toml_text

YEAR_DAYS = 365

FIRST = ("Law", "Research only")
"""How the caution of a profile begins that comes first."""

SETTINGS = """\
# A colony as antgrowth reads it. A line that begins with # is a comment.
{law}
name = {name}

# {scientific}; `antgrowth species` lists all.
species = {species}

{queen}

# "north" or "south": tells the season of the rest.
hemisphere = {hemisphere}

# Two letters (ISO 3166-1): decides what may go outdoors.
{country}
{prey}
# Used until temperature.csv holds readings: then delete constant_c. What comes after the last
# reading is taken as the two weeks before it; to say otherwise: after = {{ constant_c = {warmth} }}
[temperature]
constant_c = {warmth}

{rest}

# Nests in the order of their use, by the workers they hold, or by size and the room of one worker.
# [[nests]]
# name = "test tube"
# workers = 25
# [[nests]]
# name = "first nest"
# area_cm2 = 60
# area_per_worker_cm2 = 0.5

# Milestones: change those of the species by id, or say that one is done.
# [[milestones]]
# id = "out-of-tube"
# triggers = [{{ stage = "workers", count = 12 }}, {{ note = ["mould", "water low"] }}]
# [[milestones]]
# id = "first-worker"
# done = "2026-09-02"

# A stay outdoors: only where the species is native and your authority allows it. Needs a country.
# [outdoors]
# normals_c = [1, 2, 5, 9, 14, 17, 19, 18, 15, 10, 5, 2]   # mean of each month of your place
# daily_range_c = 8
# workers = 100
# weeks = 8
# chance = 0.8
"""

QUEEN = """\
# The day the queen sat alone without brood. If the colony came with brood or workers, delete this
# line and the first row of counts.csv, and begin there with what the nest held when it came.
queen_since = {since}"""

NO_QUEEN = """\
# Queens of this species do not found alone: counts.csv begins with what the nest held when it came.
# queens = 1   # how many laid eggs then"""

REST = """\
[[rest]]
start = "{start}"
end = "{end}"
temperature_c = {warmth}"""

RESTS = """\
# Rests, as they were or as you plan them: change these, which are usual for the species, to yours.
# temperature_c is for days without a reading; where temperature.csv has readings, they count.
"""

NO_REST = """\
# This species needs no rest. If it gets one, say so:
# """

COUNTS = """\
# A row for each look at the nest. Count what you like and leave the rest empty: empty is not 0.
# 12 counted, ~12 roughly, 10-15 between, 30+ at least, <5 fewer, first = seen for the first time.
# Example: on 14 August 12 eggs, about 8 larvae, pupae and workers not counted:
# 2026-08-14,12,~8,,,looked with a red light
{begin}date,eggs,larvae,pupae,workers,note
{first_row}"""

BEGIN = """\
# Begin with what the nest held on the day it came, workers above all:
# {since},,~20,~15,30,as it came
"""

TEMPERATURE = """\
# What a logger read at the nest; any interval up to a day will do. Delete constant_c from
# colony.toml once there are readings.
# Example: 24.3 degrees Celsius and 55 % humidity at 8 in the morning:
# 2026-08-14 08:00,24.3,55
time,temperature_c,humidity
"""

CHANGES = """\
# Ants that came or went other than by birth and death.
# Example: 30 pupae of another colony adopted on 1 September:
# 2026-09-01,pupae,+30,adopted
# Workers found dead in the refuse are not subtracted again: 2026-09-08,workers,2,found_dead
date,stage,change,reason
"""

FEEDS = """\
# What was offered and what was left of it, in milligrams; leave cells empty that you did not weigh.
# The control is a like portion without ants: what it lost by drying.
# Example: 60 mg of sugar water offered on 2 September, 31 mg left, the control lost 12 mg:
# 2026-09-02,20 % sugar water,60,31,12
date,food,offered_mg,left_mg,control_loss_mg
"""


def write_folder(
    folder: Path,
    species: str,
    *,
    queen_since: str | None = None,
    hemisphere: str = "north",
    country: str | None = None,
) -> list[Path]:
    """Write the files of a new colony; nothing is written if a file is there already."""
    ant = load_species(species)
    faults: list[str] = []
    if country is not None:
        faults += COUNTRY(country, "country")
    today = pd.Timestamp.today().date()
    since = today.isoformat()
    try:
        day = today if queen_since is None else as_day(queen_since, "queen_since")
        if day > today:
            faults.append(
                f"queen_since = {day}. The day lies in the future (today is {today}). Give the day "
                "on which the queen sat alone; if she still is to, make the folder then."
            )
        else:
            since = day.isoformat()
    except AntgrowthError as error:
        faults.append(str(error))
    alone = ant.founding != "dependent"
    if not alone and queen_since is not None:
        faults.append(
            f"queen_since = {queen_since}. Queens of {ant.scientific_name} do not found alone: "
            "leave it out, and begin counts.csv with what the nest held when it came."
        )
    texts = {
        "colony.toml": _settings(folder, species, ant, since, hemisphere, country),
        "counts.csv": COUNTS.format(
            first_row=f"{since},0,0,0,0,the queen sits alone\n" if alone else "",
            begin="" if alone else BEGIN.format(since=since),
        ),
        "temperature.csv": TEMPERATURE,
        "changes.csv": CHANGES,
        "feeds.csv": FEEDS,
        NOTEBOOK_FILE: as_notebook(ant),
    }
    if taken := [name for name in texts if (folder / name).exists()]:
        faults.append(
            f"{folder}: there already is {', '.join(taken)}. Nothing is overwritten: give another "
            "folder."
        )
    if faults:
        raise AntgrowthError("\n".join(faults))
    make_folder(folder)
    write_new({folder / name: text for name, text in texts.items()})
    return [folder / name for name in texts]


def law_of(ant: Species) -> str:
    """The caution that comes before all others."""
    return next((text for text in ant.cautions if text.startswith(FIRST)), LAW[0])


def _settings(
    folder: Path, species: str, ant: Species, since: str, hemisphere: str, country: str | None
) -> str:
    asked = f"{'# ' if country is None else ''}country = {as_toml_text(country or 'DE')}"
    profile = species
    if ant.name != species:  # a file of one's own: by its name if it lies in the folder
        own = Path(species).expanduser().resolve()
        profile = own.name if own.parent == folder.resolve() else str(own)
    warmth = ant.value("development.reference_c") - 1
    alone = ant.founding != "dependent"
    return SETTINGS.format(
        name=as_toml_text(folder.resolve().name), species=as_toml_text(profile),
        scientific=ant.scientific_name,
        queen=QUEEN.format(since=as_toml_text(since)) if alone else NO_QUEEN,
        hemisphere=as_toml_text(hemisphere), warmth=f"{warmth:.1f}",
        country=asked, rest=_rests(ant, since, hemisphere, warmth), law=_commented(law_of(ant)),
        prey=_prey(ant),
    )  # fmt: skip


def _prey(ant: Species) -> str:
    """The key by which a keeper need not wait with prey, where the profile does."""
    count = feeding_rules(ant).protein_from_workers
    if count < 2:
        return ""
    told = _commented(f"Prey from so many workers on. {feeding_rules(ant).advice}")
    return f"\n{told}\nprotein_from_workers = {count}\n"


def _rests(ant: Species, since: str, hemisphere: str, warmth: float) -> str:
    """The seasons of rest since the queen sat alone, and the next: a plan is taken at its word."""
    first, today = np.datetime64(since, "D"), np.datetime64("today", "D")
    schedule = dormancy_schedule(ant, hemisphere, constant(warmth), first, first)
    if schedule is None:
        example = REST.format(start="2027-11-15", end="2028-03-01", warmth=15.0)
        return NO_REST + example.replace("\n", "\n# ")
    seasons = schedule.seasons(first, max(first, today) + YEAR_DAYS)
    tables = [
        REST.format(start=start, end=end, warmth=f"{schedule.temperature_c:.1f}")
        for start, end in seasons
        if start > first
    ]
    return RESTS + "\n".join(tables)


def _commented(text: str) -> str:
    return textwrap.fill(text, 98, initial_indent="# ", subsequent_indent="# ")
