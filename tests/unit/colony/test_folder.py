"""A colony read from its folder: what is understood, and what is said of a faulty folder."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import antgrowth as ag
from antgrowth.care.outdoors import outdoor_windows
from antgrowth.climate.temperature import monthly_normals
from antgrowth.colony.folder import load_colony
from antgrowth.errors import AntgrowthError

SAID = 'species = "lasius-niger"\nqueen_since = "2026-07-04"\n'
STEADY = "[temperature]\nconstant_c = 24.0\n"
COUNTS = "date,eggs,workers,note\n2026-07-20,9,,\n2026-07-25,~10,,cool\n2026-08-30,,first,\n"


def readings(first: str, last: str, celsius: float = 23.0) -> str:
    times = pd.date_range(first, f"{last} 23:00", freq="1h")
    return "time,temperature_c\n" + "".join(f"{time:%Y-%m-%d %H:%M},{celsius}\n" for time in times)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A sound colony: steady temperature, three looks."""
    path = tmp_path / "ants"
    path.mkdir()
    (path / "colony.toml").write_text(SAID + STEADY, encoding="utf-8")
    (path / "counts.csv").write_text(COUNTS, encoding="utf-8")
    return path


def say(folder: Path, text: str) -> Path:
    (folder / "colony.toml").write_text(text, encoding="utf-8")
    return folder


def fault(folder: Path) -> str:
    with pytest.raises(AntgrowthError) as caught:
        load_colony(folder)
    return str(caught.value)


# What is understood ------------------------------------------------------------------------------


def test_whole_folder(folder):
    colony = load_colony(folder)
    assert colony.name == colony.counts.name == "ants"
    assert colony.species.name == "lasius-niger"
    assert colony.queen_since == pd.Timestamp("2026-07-04")
    assert len(colony.counts.frame) == 3
    assert (colony.temperature.hours("2026-07-04", 2) == 24.0).all()
    assert colony.settings["species"] == "lasius-niger"
    with pytest.raises(TypeError):
        colony.settings["species"] = "other"


def test_name_date_of_toml_and_texts(folder):
    say(
        folder,
        'name = "shelf 2"\nspecies = "lasius-niger"\nqueen_since = 2026-07-04\n'
        f'hemisphere = "south"\ncountry = "NZ"\n{STEADY}',
    )
    colony = load_colony(str(folder))
    assert colony.name == "shelf 2"
    assert colony.queen_since == pd.Timestamp("2026-07-04")
    assert colony.settings["hemisphere"] == "south"


def test_file_with_bom(folder):
    (folder / "colony.toml").write_bytes(b"\xef\xbb\xbf" + (SAID + STEADY).encode())
    assert load_colony(folder).species.name == "lasius-niger"


def test_day_and_night(folder):
    say(folder, SAID + "[temperature]\nday_c = 28\nnight_c = 22\nday_hours = 12\n")
    hours = load_colony(folder).temperature.hours("2026-07-04", 1)
    assert (hours == 28).sum() == 12
    assert (hours == 22).sum() == 12


def test_record(folder):
    say(folder, SAID)
    (folder / "temperature.csv").write_text(readings("2026-07-04", "2026-08-30"))
    colony = load_colony(folder)
    assert (colony.temperature.hours("2026-07-04", 58) == 23.0).all()
    assert colony.temperature.covers()[1] == pd.Timestamp("2026-08-30")


def test_plans_around_a_record(folder):
    say(
        folder,
        SAID + "[temperature]\nbefore = { constant_c = 21 }\n"
        "after = { day_c = 27, night_c = 20, day_hours = 10 }\n",
    )
    (folder / "temperature.csv").write_text(readings("2026-07-10", "2026-08-20"))
    temperature = load_colony(folder).temperature
    means = temperature.hours("2026-07-04", 60).mean(axis=1)
    assert (means[:6] == 21).all()
    assert (means[6:48] == 23).all()  # 10 July to 20 August
    assert means[48:] == pytest.approx(20 + 7 * 10 / 24)


def test_zone_and_unit_of_a_record(folder):
    say(folder, SAID + '[temperature]\ntz = "Europe/Berlin"\nunit = "F"\n')
    times = pd.date_range("2026-07-03 22:00", "2026-08-30 22:00", freq="1h")
    text = "time,temp\n" + "".join(f"{time:%Y-%m-%dT%H:%M}Z,77\n" for time in times)
    (folder / "temperature.csv").write_text(text)
    temperature = load_colony(folder).temperature
    assert temperature.covers()[0] == pd.Timestamp("2026-07-04")  # 22:00 UTC is midnight there
    assert temperature.hours("2026-07-04", 1) == pytest.approx(25.0)


def test_rest_keeps_what_was_logged(folder):
    say(folder, SAID + '[rest]\nstart = "2026-07-20"\nend = "2026-08-01"\n')
    (folder / "temperature.csv").write_text(readings("2026-07-04", "2026-08-30"))
    temperature = load_colony(folder).temperature
    resting = temperature.resting("2026-07-04", 58)
    assert np.flatnonzero(resting).tolist() == list(range(16, 28))
    assert (temperature.hours("2026-07-04", 58) == 23.0).all()


def test_several_rests_with_their_own_temperature(folder):
    say(
        folder,
        SAID + STEADY + '[[rest]]\nstart = "2026-11-15"\nend = "2027-02-28"\ntemperature_c = 9\n'
        '[[rest]]\nstart = "2027-11-15"\nend = "2028-02-28"\n',
    )
    temperature = load_colony(folder).temperature
    assert temperature.resting("2026-07-04", 730).sum() == 105 + 105
    assert (temperature.hours("2026-12-01", 3) == 9.0).all()
    assert (temperature.hours("2027-12-01", 3) == 24.0).all()


def test_own_species_beside_the_counts(folder):
    from antgrowth import datasets

    own = Path(datasets.__file__).parent / "colonies/warm-country-camponotus/species.toml"
    (folder / "my-ant.toml").write_bytes(own.read_bytes())
    say(folder, SAID.replace("lasius-niger", "my-ant.toml") + STEADY)
    assert load_colony(folder).species.scientific_name == "Camponotus sp."


def test_part_grown_colony(folder):
    say(folder, f'species = "linepithema-humile"\n{STEADY}')
    colony = load_colony(folder)
    assert colony.queen_since is None
    assert "part-grown" in colony.summary()


CHANGES = "date,stage,change,reason\n2026-08-10,cocoons,+12,adopted\n2026-08-20,queens,-1,\n"
FEEDS = (
    "date,food,offered_mg,left_mg,control_loss_mg\n"
    "2026-08-20,20 % sugar water,60,31.5,12\n2026-08-22,honey,20,,\n"
)


def test_changes_and_feeds(folder):
    (folder / "changes.csv").write_text(CHANGES)
    (folder / "feeds.csv").write_text(FEEDS)
    (folder / "old counts.xlsx").write_text("left alone")
    colony = load_colony(say(folder, SAID + "queens = 2\n" + STEADY))
    assert colony.changes.frame["change"].tolist() == [12, -1]
    assert colony.feeds.frame["food"].tolist() == ["20 % sugar water", "honey"]
    assert colony.queens == 2
    text = colony.summary()
    for line in ("2 changes on 2 dates", "2 portions on 2 dates", "1 portion was not weighed"):
        assert line in text


def test_a_fit_knows_what_came_and_went(folder):
    (folder / "changes.csv").write_text(CHANGES)
    fit = load_colony(say(folder, SAID + "queens = 2\n" + STEADY)).fit(rng=1)
    assert fit.history.queens == 2
    assert fit.history.changes.frame["change"].tolist() == [12, -1]


def test_without_changes_and_feeds(folder):
    colony = load_colony(folder)
    assert (colony.changes, colony.feeds, colony.queens) == (None, None, 1)
    assert "feeds" not in colony.summary()


def test_fit_is_the_fit_of_its_parts(folder):
    from antgrowth._api import fit

    colony = load_colony(folder)
    own = colony.fit(rng=5)
    by_hand = fit(
        colony.counts, colony.temperature, colony.species, queen_since="2026-07-04", rng=5
    )
    assert own.seed == 5
    np.testing.assert_array_equal(own.draws, by_hand.draws)


def test_how_it_shows_itself(folder):
    say(folder, 'name = "<b>$"\n' + SAID + STEADY)
    colony = load_colony(folder)
    assert repr(colony) == "Colony('<b>$', lasius-niger, 3 counts on 3 dates until 2026-08-30)"
    lines = str(colony).splitlines()
    assert lines[0] == "Colony: <b>$"
    assert lines[2].split(maxsplit=2)[2] == "2026-07-04, 57 days before the last note"
    assert lines[-2].split() == ["eggs", "1", "1", "0", "2"]
    assert "(see ." not in str(colony)
    page = colony._repr_html_()
    assert "<b>" not in page and "&lt;b&gt;" in page
    assert "$" not in page


# What is said of a faulty folder -----------------------------------------------------------------


def test_no_folder(tmp_path):
    text = fault(tmp_path / "nowhere")
    assert "nowhere: there is no such folder" in text
    assert "colony.toml and counts.csv" in text


def test_empty_folder_lacks_all_at_once(tmp_path):
    text = fault(tmp_path)
    assert "colony.toml: there is no such file. Write one with at least species =" in text
    assert "counts.csv: there is no such file" in text
    assert "temperature.csv: there is no such file in the folder" in text
    assert "constant_c = 24.0" in text


def test_faults_of_all_files_at_once(folder):
    say(folder, 'species = "lasius-nigre"\nqueen_sinc = "2026-07-04"\nhemisphere = "nort"\n')
    (folder / "counts.csv").write_text("date,eggs\n2026-07-20,-3\n2026-07-21,many\n")
    (folder / "temperature.csv").write_text("time,temperature_c\n2026-07-04 10:00,hot\n")
    (folder / "changes.csv").write_text("date,stage,change\n2026-07-20,ants,+3\n")
    (folder / "feeds.csv").write_text(FEEDS.replace("honey", "syrup"))
    text = fault(folder)
    for piece in (
        "colony.toml: queen_sinc: no such key. Did you mean queen_since?",
        "colony.toml: hemisphere = 'nort'. Allowed: north, south. Did you mean north?",
        "counts.csv, row 2 (2026-07-20): eggs = -3.",
        "counts.csv, row 3 (2026-07-21): eggs = many.",
        "temperature.csv: 1 of 1 row cannot be used",
        "no shipped species is called 'lasius-nigre'. Did you mean lasius-niger?",
        "changes.csv, row 2 (2026-07-20): stage = ants.",
        "feeds.csv, row 3 (2026-08-22): food = syrup.",
    ):
        assert piece in text


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("species = lasius", "colony.toml: not a TOML file:"),
        (f'queen_since = "2026-07-04"\n{STEADY}', "colony.toml: species is missing. Add it"),
        (f'species = ""\n{STEADY}', "colony.toml: species = ''. Allowed: a text in quotes."),
        (f"species = 5\n{STEADY}", "colony.toml: species = 5. Allowed: a text in quotes."),
        (SAID.replace("2026-07-04", "04/07/2026"), "colony.toml: queen_since = 04/07/2026. Day"),
        (f"name = 3\n{SAID}{STEADY}", "colony.toml: name = 3. Allowed: a text in quotes."),
        (f"{SAID}temperature = 24\n", "temperature = 24. This is a table: write a line [temper"),
        (
            f"{SAID}[temperature]\nconstant = 24\n",
            "temperature.constant: no such key. Did you mean constant_c?",
        ),
        (
            f'{SAID}[temperature]\nconstant_c = "warm"\n',
            "colony.toml: temperature.constant_c = 'warm'. Give a number from -40 to 70",
        ),
        (
            f"{SAID}[temperature]\nconstant_c = 24\nday_c = 27\n",
            "colony.toml: temperature has constant_c and day_c. Allowed: constant_c alone, or",
        ),
        (f"{SAID}[temperature]\nday_c = 27\n", "temperature has day_c. Allowed: constant_c alone"),
        (
            f"{SAID}[temperature]\nday_c = 27\nnight_c = 20\nday_hours = 24\n",
            "colony.toml: temperature.day_hours = 24. A day lasts more than 0 and less than 24 "
            "hours; for one temperature all the time write constant_c alone.",
        ),
        (
            f"{SAID}[temperature]\nday_c = 27\nnight_c = 20\nday_hours = 'long'\n",
            "colony.toml: temperature.day_hours = 'long'. A day lasts",
        ),
        (
            f"{SAID}[temperature]\nafter = {{ constant_c = 24 }}\n",
            "temperature.after goes with a temperature.csv, and there is none",
        ),
        (f"{SAID}[temperature]\nunit = 'K'\n", "temperature.unit = 'K'. Allowed: C, F."),
        (f"queens = 0\n{SAID}{STEADY}", "queens = 0. Allowed: a whole number from 1 to 10,000"),
        (f"queens = true\n{SAID}{STEADY}", "colony.toml: queens = True. Allowed: a whole number"),
        (f"{SAID}[temperature]\ntz = 2\n", "temperature.tz = 2. Allowed: a text in quotes."),
        (f"{SAID}{STEADY}[rest]\nstart = '2026-11-15'\n", "colony.toml: rest.end is missing."),
        (f"{SAID}{STEADY}[rest]\nstart = '15'\nend = '16'\n", "rest.start = 15. Not a date"),
        (
            f"{SAID}{STEADY}[rest]\nstart = '2026-11-15'\nend = '2026-11-14'\n",
            "colony.toml: rest from 2026-11-15 to 2026-11-14 has no day in it. The end is "
            "the first day after the rest: write a later one.",
        ),
        (
            f"{SAID}{STEADY}[[rest]]\nstart = '2026-11-15'\nend = '2026-11-15'\n",
            "colony.toml: rest from 2026-11-15 to 2026-11-15 has no day in it.",
        ),
        (
            f"{SAID}{STEADY}[rest]\nstart = '2026-11-15'\nend = '2027-02-14'\ntemperature_c = 99\n",
            "rest.temperature_c = 99. Give a number from -40 to 70",
        ),
        (f"{SAID}{STEADY}rest = 5\n", "temperature.rest: no such key."),
        (f"rest = 5\n{SAID}{STEADY}", "rest = 5. This is a table: write a line [rest]"),
    ],
)
def test_fault_of_colony_toml(folder, said, expected):
    assert expected in fault(say(folder, said))


def test_one_fault_of_a_key_is_told_once(folder):
    text = fault(say(folder, f"{SAID}[temperature]\nunit = 'K'\ntz = 5\n"))
    assert text.count("\n") == 2  # the heading and a line each


def test_not_utf8(folder):
    (folder / "colony.toml").write_bytes(b'name = "ant\xe9"')
    assert "colony.toml: byte 11 is not UTF-8 text" in fault(folder)


def test_plan_beside_a_record(folder):
    (folder / "temperature.csv").write_text(readings("2026-07-04", "2026-08-30"))
    text = fault(folder)
    assert "temperature.constant_c is given, but there is a temperature.csv too" in text
    assert "after = { constant_c = 24.0 }" in text


def test_faulty_plan_after_a_record(folder):
    say(folder, SAID + "[temperature]\nafter = { day_c = 24 }\n")
    (folder / "temperature.csv").write_text(readings("2026-07-04", "2026-08-30"))
    assert "colony.toml: temperature.after has day_c. Allowed: constant_c alone" in fault(folder)


def test_zoned_record_without_zone(folder):
    say(folder, SAID)
    (folder / "temperature.csv").write_text("time,temp\n2026-07-04T10:00Z,22\n")
    text = fault(folder)
    assert "carries a time zone" in text
    assert 'keys below [temperature]: tz = "Europe/Berlin"' in text


def test_uncovered_days(folder):
    say(folder, SAID)
    (folder / "temperature.csv").write_text(readings("2026-07-10", "2026-08-20"))
    text = fault(folder)
    assert "temperature starts 2026-07-10 but 2026-07-04 to 2026-07-09 (6 days) are needed" in text
    assert "temperature ends 2026-08-20 but 2026-08-21 to 2026-08-30 (10 days) are needed" in text
    assert "below [temperature], before = { constant_c = 24.0 }" in text


def test_readings_of_a_rest_count_and_its_temperature_is_for_days_without(folder):
    say(folder, SAID + '[rest]\nstart = "2026-08-15"\nend = "2026-09-20"\ntemperature_c = 9\n')
    (folder / "temperature.csv").write_text(readings("2026-07-04", "2026-08-30"))
    temperature = load_colony(folder).temperature
    hours_c = temperature.hours("2026-08-15", 36).mean(axis=1)
    assert temperature.resting("2026-08-01", 60).sum() == 36
    assert (hours_c[:16] > 15).all() and (hours_c[16:] == 9).all()


def test_a_rest_after_the_last_reading_is_taken_as_the_api_takes_it(folder):
    """What comes between is as the two weeks before, in a folder as in Python."""
    said = SAID + '[rest]\nstart = "2026-11-15"\nend = "2027-02-20"\ntemperature_c = 9\n'
    (folder / "temperature.csv").write_text(readings("2026-07-04", "2026-08-30"))
    colony = load_colony(say(folder, said))
    record = ag.read_temperature(folder / "temperature.csv")
    planned = record.rest("2026-11-15", "2027-02-20", 9)
    fits = [
        colony.fit(rng=1),
        ag.fit(colony.counts, planned, colony.species, queen_since=colony.queen_since, rng=1),
    ]
    ours, theirs = (fit.forecast(200, draws=20, rng=1) for fit in fits)
    assert (ours.temperature.hours("2026-09-01", 190)[75:172] == 9).all()
    assert np.array_equal(ours.paths, theirs.paths)
    assert "after 2026-08-30, the last reading: taken as the mean of two weeks" in colony.summary()


def test_notes_before_the_queen(folder):
    say(folder, SAID.replace("07-04", "07-21") + STEADY)
    assert "the first note is of 2026-07-20, before queen_since = 2026-07-21" in fault(folder)


def test_changes_before_the_queen_and_queens_that_were_not_there(folder):
    (folder / "changes.csv").write_text(
        "date,stage,change\n2026-07-01,pupae,+3\n2026-08-01,queens,-2\n"
    )
    text = fault(folder)
    assert "row 2 (2026-07-01): dated before 2026-07-04, the day the queen sat alone" in text
    assert "row 3 (2026-08-01): queens = -2, but 1 there" in text
    say(folder, f'species = "linepithema-humile"\n{STEADY}')
    assert "row 2 (2026-07-01): dated before the first note, 2026-07-20" in fault(folder)


def test_queen_that_does_not_found_alone(folder):
    say(folder, SAID.replace("lasius-niger", "linepithema-humile") + STEADY)
    assert "its queens do not found alone" in fault(folder)


@pytest.mark.parametrize(
    ("wrong", "right"), [("count.csv", "counts.csv"), ("temperatures.csv", "temperature.csv")]
)
def test_misnamed_table(folder, wrong, right):
    (folder / "counts.csv").rename(folder / "kept.csv")
    (folder / wrong).write_text(COUNTS)
    text = fault(folder)
    assert f"{wrong}: a table of that name is not read. Did you mean {right}? Rename it" in text


def test_results_beside_the_tables_are_no_fault(folder):
    for name in ("forecast.csv", "arrival.csv", "summer holiday.csv"):
        (folder / name).write_text("x")
    assert load_colony(folder).name == "ants"


def test_own_species_missing(folder):
    say(folder, SAID.replace("lasius-niger", "my-ant.toml") + STEADY)
    assert "my-ant.toml: there is no such file" in fault(folder)


# What a care plan asks of colony.toml ------------------------------------------------------------


def test_faults_of_nests_milestones_and_outdoors_together(folder):
    text = fault(
        say(
            folder,
            SAID
            + 'country = "UK"\n'
            + STEADY
            + """
[[nests]]
name = "tube"
[[milestones]]
id = "out-of-tub"
lead_days = 3
[outdoors]
worker = 100
""",
        )
    )
    assert "colony.toml: country = 'UK'. Allowed: the two-letter code of ISO 3166-1" in text
    assert "colony.toml: nests tube: no size. Allowed: one of workers" in text
    assert "colony.toml: milestones out-of-tub: title, triggers missing" in text
    assert "colony.toml: outdoors.worker: no such key. Did you mean workers?" in text


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ("workers = 50", "outdoors has no weather. Allowed: normals_c"),
        ('normals_c = [1]\nweather = "w.csv"', "outdoors has normals_c and weather. Allowed"),
        ("normals_c = [1, 2]", "outdoors: monthly_normals: 2 values. Give 12"),
        ('weather = "w.csv"', "w.csv"),
        ("", "colony.toml: outdoors has no weather. Allowed: normals_c"),
        (
            'weather = "w.csv"\ndaily_range_c = 8',
            "colony.toml: outdoors.daily_range_c goes with normals_c, but weather is given: the",
        ),
    ],
)
def test_weather_outdoors_that_cannot_be_used(folder, lines, message):
    text = fault(say(folder, SAID + f"{STEADY}\n[outdoors]\n{lines}\n"))
    assert message in text


def test_faults_of_a_stay_outdoors_are_told_at_once_with_those_of_its_weather(folder):
    stay = 'workers = "many"\nweeks = 99\nchance = 3\nnormals_c = [1, 2]'
    text = fault(say(folder, SAID + f"{STEADY}\n[outdoors]\n{stay}\n"))
    for piece in (
        "colony.toml: outdoors.workers = 'many'. Allowed: a whole number from 1 to 1,000,000.",
        "colony.toml: outdoors.weeks = 99. Allowed: a whole number from 1 to 52.",
        "colony.toml: outdoors.chance = 3. Allowed: a probability between 0 and 1. Write it",
        "colony.toml: outdoors: monthly_normals: 2 values. Give 12",
    ):
        assert piece in text


@pytest.mark.parametrize(
    ("key", "values"),
    [
        ("workers", (0, 1, 10**9, 10**9 + 1, 2.5, "many")),
        ("weeks", (0, 1, 52, 53, 2.0)),
        ("chance", (0, 0.001, 0.8, 0.999, 1, 3, "often")),
    ],
)
def test_a_stay_is_read_where_it_can_be_planned_and_nowhere_else(folder, key, values):
    normals = [18] * 12
    ahead = load_colony(folder).fit(rng=1).forecast(days=20, draws=20, rng=1)
    for value in values:
        said = f"{SAID}{STEADY}\n[outdoors]\nnormals_c = {normals}\n{key} = {value!r}\n"
        try:
            outdoor_windows(ahead, monthly_normals(normals), **{key: value})
        except AntgrowthError:
            assert f"colony.toml: outdoors.{key} = {value!r}. Allowed" in fault(say(folder, said))
        else:
            plan = load_colony(say(folder, said)).care_plan(ahead)
            assert getattr(plan.outdoors, key) == value


def test_a_record_still_to_come_leaves_the_plan(folder):
    path = say(folder, SAID + STEADY)
    (path / "temperature.csv").write_text("# an example\ntime,temperature_c\n\n", encoding="utf-8")
    assert "constant" in load_colony(path).temperature.describe()


def test_a_plan_of_care_from_the_folder(folder):
    path = say(
        folder,
        SAID
        + 'country = "DE"\nhemisphere = "south"\n'
        + STEADY
        + """
[[nests]]
name = "tube"
workers = 25
[[milestones]]
id = "out-of-tube"
done = "2026-07-20"
[outdoors]
normals_c = [18, 18, 18, 18, 18, 18, 18, 18, 18, 18, 18, 18]
weeks = 2
""",
    )
    read = load_colony(path)
    plan = read.care_plan(read.fit(rng=1).forecast(days=60, draws=20, rng=1))
    assert plan.hemisphere == "south" and plan.country == "DE"
    assert plan.room.stages[0].nest.name == "tube" and plan.outdoors.weeks == 2
    assert plan["out-of-tube"].status == "done"


def test_faults_of_one_file_and_contradictions_between_others_come_together(folder):
    say(folder, SAID.replace("07-04", "07-21") + STEADY)
    (folder / "feeds.csv").write_text("date,food,offered_mg\n2026-08-01,honey,-3\n")
    text = fault(folder)
    assert "the first note is of 2026-07-20, before queen_since = 2026-07-21" in text
    assert "feeds.csv, row 2" in text


def test_whether_it_is_too_cool_or_too_warm_is_said_both_ways(folder):
    words = {12: "too cool", 16: "cool", 20: "cool", 24: "comfortable", 29: "too warm"}
    for celsius, word in words.items():
        say(folder, f"{SAID}[temperature]\nconstant_c = {celsius}\n")
        assert f"{celsius}.0 °C is {word} for this ant: too cool below 16 °C" in (
            load_colony(folder).summary()
        )


def test_the_ceiling_is_that_of_the_phase(folder):
    say(folder, f"{SAID}[temperature]\nconstant_c = 26.5\n")
    for workers, word in ((0, "too warm"), (6, "comfortable")):
        counts = f"date,eggs,workers\n2026-07-20,12,0\n2026-09-01,9,{workers}\n"
        (folder / "counts.csv").write_text(counts)
        assert f"26.5 °C is {word} for this ant" in load_colony(folder).summary()


@pytest.mark.parametrize("name", ["linepithema-humile", "monomorium-pharaonis"])
def test_a_new_folder_of_queens_that_do_not_found_alone_reads_as_it_says(tmp_path, name):
    from antgrowth.colony.templates import write_folder

    write_folder(tmp_path / "ants", name)
    said = (tmp_path / "ants" / "colony.toml").read_text()
    assert "\nqueen_since" not in said and "do not found alone" in said
    counts = tmp_path / "ants" / "counts.csv"
    # The example below "Begin with what the nest held" is a row that can be taken as it is.
    (row,) = [line[2:] for line in counts.read_text().splitlines() if "as it came" in line]
    counts.write_text(counts.read_text() + row + "\n")
    assert load_colony(tmp_path / "ants").queen_since is None
    with pytest.raises(AntgrowthError, match="do not found alone"):
        write_folder(tmp_path / "more", name, queen_since="2026-07-04")


def test_a_profile_of_your_own_lies_in_the_folder(tmp_path):
    from antgrowth.colony.templates import write_folder
    from antgrowth.species.profile import copy_species

    home = tmp_path / "ants"
    home.mkdir()
    own = copy_species("lasius-niger", home / "my-ant.toml")
    write_folder(home, str(own), queen_since="2026-07-04")
    assert 'species = "my-ant.toml"' in (home / "colony.toml").read_text()
    assert load_colony(home).species.name == "my-ant"
