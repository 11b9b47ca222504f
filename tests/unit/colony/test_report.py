"""A new folder, twelve counts, a page: every number on it is that of the API."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from importlib.resources import files

import icalendar
import nbformat
import numpy as np
import pandas as pd
import pytest
from new_folders import made

import antgrowth as ag
from antgrowth._core.summary import ants
from antgrowth.care.calendar import uid_of
from antgrowth.cli import main
from antgrowth.colony.cells import Cell, as_notebook, set_values, usual_cells
from antgrowth.colony.report import Page, look_ahead, write_report
from antgrowth.errors import AntgrowthError
from antgrowth.evaluation.alert import Alert
from antgrowth.evaluation.alerts import MIND
from antgrowth.food.practice import CAUTIONS, SERVING
from antgrowth.food.servings import MIXING, by_hand, measured
from antgrowth.inference.adequacy import held_in_sample
from antgrowth.inference.species_rank import place_in_species

DAYS = 300  # as the notebook has it
SECTIONS = (
    "Today", "Forecast", "Milestones", "Food, next four weeks", "Alerts", "Model notes", "Cautions",
)  # fmt: skip
DATE = r"\d{4}-\d{2}-\d{2}"


class Reader(HTMLParser):
    """Marked values of a page, by name, and the text that is not marked."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.marked: dict[str, list[str]] = {}
        self.headings: list[str] = []
        self.bare: list[str] = []
        self.outside: list[str] = []
        self._of: list[str] = []
        self._hidden = ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        if tag == "span":
            self._of.append(found.get("data-of", ""))
            if self._of[-1]:
                self.marked.setdefault(self._of[-1], []).append("")
        if tag in ("style", "script"):
            self._hidden = tag
        if tag == "h2":
            self.headings.append("")
        for name in ("src", "href"):
            if name in found and not found[name].startswith(("data:", "#")):
                self.outside.append(found[name])

    def handle_endtag(self, tag):
        if tag == "span":
            self._of.pop()
        if tag == self._hidden:
            self._hidden = ""

    def handle_data(self, data):
        marks = [of for of in self._of if of]
        if self._hidden:
            return
        if marks:
            self.marked[marks[-1]][-1] += data
        else:
            self.bare.append(data)
        if self.headings and not self.headings[-1]:
            self.headings[-1] = data.strip().rstrip("¶")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = made(tmp_path_factory.mktemp("reports") / "my $ants & <queen>")
    assert main(["report", str(path)]) == 0
    return path


@pytest.fixture(scope="module")
def page(folder) -> Reader:
    return Reader((folder / "report.html").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def plan(folder) -> ag.CarePlan:
    colony = ag.load_colony(folder)
    return colony.care_plan(look_ahead(colony.fit(rng=1), DAYS))


def written(date: pd.Timestamp) -> str:
    return "" if date is pd.NaT else f"{date:%Y-%m-%d}"


def expected(plan: ag.CarePlan) -> dict[str, str]:
    """What each mark must say, taken from the API and not from the page's own code."""
    ahead, fit = plan.forecast, plan.forecast.fit
    log, place = fit.counts, place_in_species(fit)
    found = {
        "name": log.name,
        "species": fit.species.scientific_name,
        "common_name": fit.species.common_name,
        "start": written(log.end),
        "placing.verdict": place.verdict,
        "placing": f"{place.finding}: {place.evidence(fit.species.scientific_name)}.",
        "arrival": f"{ahead.arrival(Page(plan).awaited).sentence()}.",
        "before_rest": plan.before_rest_sentence(Page(plan).awaited),
        "assumed": f"Temperature to come: {ahead.assumed}.",
        "outdoors": plan.outdoors.sentence(),
        "food.percent": "Amounts a week; sugar water of 20 % by weight, a usual drop of which is "
        "about 50 µL.",
        "alerts.mind": f"Mind: {MIND}.",
        "strains": f"Take dates with care: {'; '.join(fit.diagnostics().strains)}.",
    }
    frame = ahead.frame()
    today = min(max(pd.Timestamp.today().normalize(), ahead.start), ahead.dates[-1])
    found["as_of"] = written(today)
    for line in frame[frame["date"] == today].to_dict("records"):
        for level in ("q05", "q50", "q95"):
            found[f"now.{line['stage']}.{level}"] = ants(line[level])
    for line in frame.to_dict("records"):
        found[f"ahead.{line['date']:%Y-%m-%d}"] = written(line["date"])
        for level in ("q05", "q50", "q95"):
            found[f"ahead.{line['date']:%Y-%m-%d}.{line['stage']}.{level}"] = ants(line[level])
    for row in log.frame.to_dict("records"):
        found[f"noted.{row['stage']}.date"] = written(row["date"])
    for row in plan.frame().to_dict("records"):
        at = f"milestone.{row['id']}"
        over = row["last"] < today
        found |= {at: row["title"], f"{at}.status": "past by now" if over else row["status"]}
        far = f"beyond {written(ahead.dates[-1])}"
        ends = [written(row["first"]), far if row["last"] is pd.NaT else written(row["last"])]
        found |= {f"{at}.window": " to ".join(dict.fromkeys(ends))}
        found |= {f"{at}.middle": written(row["median"]), f"{at}.trigger": row["trigger"]}
        found |= {f"{at}.prepare_from": written(row["prepare_from"])}
        found[f"sentence.{row['id']}"] = plan[row["id"]].sentence()
        found |= {f"when.{row['id']}": plan[row["id"]].when(), f"action.{row['id']}": row["action"]}
        for check in plan[row["id"]].checks:
            found[f"check.{row['id']}.{check.name}"] = str(check)
    lists = {
        "room": plan.room.sentences(),
        "caution": plan.cautions(),
        "alert": [alert.sentence() for alert in plan.alerts],
        "food.practice": (SERVING, MIXING, *CAUTIONS),
    }
    for name, texts in lists.items():
        found |= {f"{name}.{place}": text for place, text in enumerate(texts)}
    food = ahead.food(feeds=plan.feeds)
    for line in food.frame().to_dict("records"):
        at = f"food.{line['week']}"
        found |= {f"{at}.start": written(line["start"]), f"{at}.days": str(line["days"])}
        if line["unit"] == "piece":
            found[f"{at}.{line['item']}.pieces"] = by_hand(line["q50"], line["item"])
        elif line["days"]:
            values = measured(line["q50"], line["q05"], line["q95"])
            for level, text in zip(("q50", "q05", "q95"), values, strict=True):
                found[f"{at}.{line['item']}.{line['unit']}.{level}"] = text
    return found


class TestNumbers:
    def test_every_marked_value_is_the_apis(self, page, plan):
        truth = expected(plan)
        loose = {"note", "food.note", "food.start", "noted", "since"}
        compared = 0
        for name, texts in page.marked.items():
            if name in truth:
                assert set(texts) == {truth[name]}, name
                compared += 1
            else:
                assert any(name == part or name.startswith(f"{part}.") for part in loose), name
        assert compared > 90

    def test_nothing_is_a_number_without_a_mark(self, page):
        text = re.sub(r"\s+", " ", " ".join(page.bare))
        assert not re.search(r"\d", text), re.findall(r".{20}\d.{20}", text)

    def test_last_notes(self, page):
        said = {name: texts[0] for name, texts in page.marked.items() if name.startswith("noted")}
        assert said["noted.workers"] == "15 workers" and said["noted.pupae"] == "4 pupae"
        assert said["noted.pupae.date"] == "2026-09-20"

    def test_model_notes(self, page, plan):
        text = " ".join(
            t
            for name, ts in page.marked.items()
            for t in ts
            if name.startswith("note.") and not t.startswith("Season of ")
        )
        fit = plan.forecast.fit
        held, exact = held_in_sample(fit)
        assert f"{len(fit.counts.frame)} counts on 13 dates, 2026-07-04 to 2026-10-08" in text
        assert f"The 90% intervals hold {held} of {exact} exact counts" in text
        assert (
            f"1,000 simulated colonies, {plan.forecast.days} days from 2026-10-08, seed 1" in text
        )
        known = [
            f"{len(fit.counts.frame)}",
            "13",
            "90",
            f"{held}",
            f"{exact}",
            "1,000",
            f"{plan.forecast.days}",
            "1",
        ]
        lost = re.findall(r"looks: (?:under )?(\d+) %", text)
        for number in re.findall(r"\d[\d,]*", re.sub(DATE, "", text)):
            assert number in (*known, *lost, "0"), number

    def test_notes_of_the_food(self, page, plan):
        frame = plan.forecast.food().frame()
        for name, texts in page.marked.items():
            if name.startswith("food.note."):
                assert texts[0] in set(frame["note"])
        count = page.marked["food.start"][0]
        assert count.startswith("Prey starts with the first worker")


class TestPage:
    def test_every_section(self, page):
        assert tuple(page.headings) == SECTIONS

    def test_it_needs_no_other_file(self, page, folder):
        text = (folder / "report.html").read_text(encoding="utf-8")
        assert page.outside == [] and "<script" not in text and "@import" not in text
        assert text.count("data:image/png;base64,") == 2
        assert "Traceback" not in text

    def test_who_cannot_see_has_titles_and_captions(self, folder, plan):
        """A picture's title is its alt text; each table has a caption, each head its scope."""
        text = (folder / "report.html").read_text(encoding="utf-8")
        drawn = [
            one.get_title(loc="left")
            for one in (plan.forecast.plot(Page(plan).awaited), plan.plot())
        ]
        said = [unescape(alt) for alt in re.findall(r'alt="([^"]*)"', text.replace("\n", " "))]
        assert said == [" ".join(title.split()) for title in drawn]
        tables = re.findall(r"<table.*?</table>", text, flags=re.DOTALL)
        assert len(tables) >= 3 and all("<caption" in table for table in tables)
        assert "<th" in text and all(" scope=" in head for head in re.findall(r"<th\b[^>]*>", text))

    def test_names_are_escaped(self, folder):
        text = (folder / "report.html").read_text(encoding="utf-8")
        assert "<queen>" not in text and "&lt;queen&gt;" in text

    def test_law_stands_on_it(self, page):
        texts = [t for name, ts in page.marked.items() if name.startswith("caution.") for t in ts]
        assert texts[0].startswith("Law") and any("thermostat" in text for text in texts)

    def test_calendar_beside_it(self, folder, plan):
        calendar = icalendar.Calendar.from_ical((folder / "care.ics").read_bytes())
        found = {str(e["uid"]): e["dtstart"].dt for e in calendar.walk("VEVENT")}
        for milestone in plan:
            if milestone.is_scheduled:
                assert found[uid_of(plan.forecast.fit.counts.name, milestone.id)] == (
                    milestone.first.date()
                )


def test_numbers_of_the_notebook_can_be_given_with_the_command():
    cells = usual_cells(ag.load_species("lasius-niger"))
    set_values(cells, WORKERS=50, DAYS=90)
    source = "\n".join(cell.source for cell in cells)
    assert "\nWORKERS = 50  # how many" in source and "\nDAYS = 90  # how far" in source
    with pytest.raises(AntgrowthError, match="no line sets WORKERS, so --workers 50 would do"):
        set_values([Cell("code", "1 + 1")], WORKERS=50)


class TestToday:
    """A page made in November of notes that end in October is a page of November."""

    @pytest.fixture
    def november(self, plan) -> Page:
        return Page(plan, today_is="2026-11-27")

    def test_numbers_are_those_of_the_day(self, plan, november):
        marked = Reader(november.today._repr_html_()).marked
        frame = plan.forecast.frame().set_index(["date", "stage"])
        wanted = frame.loc[(pd.Timestamp("2026-11-27"), "workers"), "q50"]
        assert marked["now.workers.q50"] == [ants(wanted)]
        assert "2026-11-27" in november.title._repr_html_()

    def test_it_says_how_old_the_last_look_is_and_what_happened_since(self, november):
        (said, *_) = Reader(november.today._repr_html_()).marked["since.0"]
        assert said.startswith(
            "The last look is 50 days old. Since then, most likely: workers from "
        )
        assert "the colony rests" in said

    def test_what_is_near_is_near_that_day(self, plan):
        spring = Page(plan, today_is="2027-04-10").food._repr_html_()
        starts = [
            pd.Timestamp(texts[0])
            for name, texts in Reader(spring).marked.items()
            if re.fullmatch(r"food\..*\.start", name)
        ]
        assert min(starts) > pd.Timestamp("2027-04-03")
        assert max(starts) < pd.Timestamp("2027-05-09")

    def test_in_a_rest_there_is_no_table_of_food(self, november):
        told = november.food._repr_html_()
        assert "<table" not in told and "food.percent" not in told
        assert "no sugar and no prey" in Reader(told).marked["food.note.0"][0]

    def test_what_is_over_by_then_is_told_as_that(self, november, plan):
        marked = Reader(november.milestones._repr_html_()).marked
        begins = plan["rest-begins"]
        assert begins.status != "passed" and begins.last < pd.Timestamp("2026-11-27")
        assert marked["milestone.rest-begins.status"] == ["past by now"]
        assert marked["milestone.rest-ends.status"] == ["coming"]

    def test_the_number_waited_for_is_not_there_yet_that_day(self, plan):
        """A colony that has outgrown 30 since the last look does not wait for them."""
        counts = np.linspace(15, 40, plan.forecast.days + 1).astype(int)
        paths = plan.forecast.paths.copy()
        paths[..., 3] = counts
        grown = replace(plan, forecast=replace(plan.forecast, paths=paths))
        over = plan.forecast.dates[int(np.argmax(counts >= 30))]
        assert Page(grown, today_is=plan.forecast.start).awaited == 30
        assert Page(grown, today_is=over).awaited == 100

    def test_on_the_day_of_the_note_nothing_has_happened_since(self, plan):
        marked = Reader(Page(plan, today_is="2026-10-08").today._repr_html_()).marked
        assert not any(name.startswith("since") for name in marked)

    def test_a_day_beyond_the_horizon_is_told(self, plan):
        page = Page(plan, today_is="2028-03-01")
        assert page.as_of == plan.forecast.dates[-1]
        assert f"2028-03-01, lies beyond the {plan.forecast.days} days" in " ".join(
            Reader(page.today._repr_html_()).marked["since.1"]
        )


def test_one_verdict_stands_on_the_page(plan):
    alert = Alert("brood lost", plan.forecast.start, "brood", "x", None, "", ())
    warned = replace(plan, alerts=replace(plan.alerts, items=(alert,)))
    for one, verdict in ((plan, "on track"), (warned, "look at the alerts")):
        page = Page(one).title._repr_html_()
        assert page.count('class="verdict') == 1 and f">{verdict}</span>" in page


class TestOthers:
    def test_a_sparse_log_of_another_ant_gives_another_page(self, tmp_path, capsys, folder):
        other = made(tmp_path / "few", "formica-fusca", "2026-08-20,,,,first,\n", plans="")
        assert main(["report", str(other)]) == 0
        out = capsys.readouterr()
        assert "Traceback" not in out.err and f"written: {other / 'report.html'}" in out.out
        text = (other / "report.html").read_text(encoding="utf-8")
        found = Reader(text)
        assert tuple(found.headings) == SECTIONS and "Traceback" not in text
        mine = Reader((folder / "report.html").read_text(encoding="utf-8"))
        assert found.marked["arrival"] != mine.marked["arrival"]
        assert found.marked["species"] == ["Formica fusca"]

    def test_faults_of_the_files_are_told_before_anything_is_run(self, tmp_path, capsys):
        bad = made(tmp_path / "bad", rows="2026-08-20,-3,,,,\n")
        assert main(["report", str(bad)]) == 1
        error = capsys.readouterr().err
        assert "eggs = -3" in error and "Traceback" not in error
        assert not (bad / "report.html").exists()

    def test_a_notebook_of_the_keepers_own(self, tmp_path):
        own = made(tmp_path / "own")
        code = nbformat.v4.new_code_cell("print('my own line, 5 ants')")
        nbformat.write(nbformat.v4.new_notebook(cells=[code]), own / "colony.ipynb")
        found = write_report(own, run_notebook=True)
        assert not found.notebook_left
        assert "my own line, 5 ants" in found.page.read_text(encoding="utf-8")

    @pytest.mark.parametrize(
        ("line", "message"),
        [
            ("1 / 0", "colony.ipynb: a cell fails with ZeroDivisionError: division by zero. Open"),
            (
                "import antgrowth as ag; ag.load_species('lasius-nigre')",
                "no shipped species is called 'lasius-nigre'",
            ),
        ],
    )
    def test_a_cell_that_fails(self, tmp_path, line, message):
        own = made(tmp_path / "own")
        nbformat.write(
            nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(line)]), own / "colony.ipynb"
        )
        with pytest.raises(AntgrowthError) as caught:
            write_report(own, run_notebook=True)
        assert str(caught.value).startswith(message) and "Traceback" not in str(caught.value)

    @pytest.mark.parametrize(
        "text",
        [
            b"", b"my ants", b"[]", b"{}", b"\xff\xfe", b'{"nbformat": 4}', b'{"nbformat": 99}',
            b'{"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": 5}',
        ],
    )  # fmt: skip
    def test_a_notebook_that_is_none(self, tmp_path, capsys, text):
        own = made(tmp_path / "own")
        (own / "colony.ipynb").write_bytes(text)
        capsys.readouterr()
        assert main(["report", str(own), "--run-notebook"]) == 1
        error = capsys.readouterr().err
        assert error.startswith("colony.ipynb: this is no notebook that can be read: ")
        assert error.endswith("or delete the file: then the usual one is run.\n")
        assert not (own / "report.html").exists()


class TestNewFolder:
    def test_files_explain_themselves_and_are_read_at_once(self, tmp_path):
        path = tmp_path / "ants"
        assert main(["new", str(path), "--species", "lasius-niger"]) == 0
        assert sorted(file.name for file in path.iterdir()) == [
            "changes.csv", "colony.ipynb", "colony.toml", "counts.csv", "feeds.csv",
            "temperature.csv",
        ]  # fmt: skip
        for name in ("counts.csv", "temperature.csv", "changes.csv", "feeds.csv"):
            text = (path / name).read_text(encoding="utf-8")
            assert "# Example: " in text and re.search(rf"^# {DATE}", text, re.MULTILINE)
        settings = (path / "colony.toml").read_text(encoding="utf-8")
        assert 'hemisphere = "north"' in settings and "# country = " in settings
        colony = ag.load_colony(path)
        assert colony.name == "ants" and colony.queen_since == pd.Timestamp.today().normalize()
        assert len(colony.changes) == len(colony.feeds) == 0

    @pytest.mark.parametrize(
        ("name", "example"),
        [
            ("counts.csv", "2026-08-14,12,~8,,,looked with a red light"),
            ("temperature.csv", "2026-08-14 08:00,24.3,55"),
            ("changes.csv", "2026-09-01,pupae,+30,adopted"),
            ("feeds.csv", "2026-09-02,20 % sugar water,60,31,12"),
        ],
    )
    def test_the_examples_are_rows_that_are_read(self, tmp_path, name, example):
        path = made(tmp_path / "ants", rows="2026-09-20,,,,5,\n", plans="")
        text = (path / name).read_text(encoding="utf-8")
        assert f"# {example}\n" in text
        (path / name).write_text(f"{text.rstrip()}\n{example}\n", encoding="utf-8")
        if name == "temperature.csv":
            record = ag.read_temperature(path / name)
            assert record.hours("2026-08-14", 1).mean() == pytest.approx(24.3)
        elif name != "counts.csv":
            assert len(getattr(ag.load_colony(path), name.removesuffix(".csv"))) == 1
        else:
            rows = ag.read_counts(path / name).frame
            assert (rows["date"] == pd.Timestamp("2026-08-14")).sum() == 2

    def test_settings_that_are_commented_out_are_sound(self, tmp_path):
        path = made(tmp_path / "ants", rows="2026-08-20,9,,,,\n", plans="")
        text = (path / "colony.toml").read_text(encoding="utf-8")
        lines = [re.sub(r"^# (?=\[|\w+ = )", "", line) for line in text.splitlines()]
        (path / "colony.toml").write_text("\n".join(lines), encoding="utf-8")
        colony = ag.load_colony(path)
        assert [nest["name"] for nest in colony.settings["nests"]] == ["test tube", "first nest"]
        assert colony.weather is not None and len(colony.settings["milestones"]) == 2

    @pytest.mark.parametrize(
        ("hemisphere", "first"),
        [("north", ("2024-10-15", "2025-03-01")), ("south", ("2025-04-15", "2025-09-01"))],
    )
    def test_the_usual_rests_are_planned(self, tmp_path, hemisphere, first):
        path = tmp_path / "ants"
        arguments = ["--species", "lasius-niger", "--queen-since", "2024-07-04"]
        assert main(["new", str(path), *arguments, "--hemisphere", hemisphere]) == 0
        rests = ag.load_colony(path).settings["rest"]
        assert (rests[0]["start"], rests[0]["end"]) == first
        # One a year without a gap, and the last of them is still to come.
        assert [rest["start"][:4] for rest in rests] == [
            str(int(first[0][:4]) + year) for year in range(len(rests))
        ]
        today = f"{pd.Timestamp.today():%Y-%m-%d}"
        assert [rest["start"] > today for rest in rests].count(True) == 1

    @pytest.mark.parametrize("folder", [".", "../ants", "inner/.."])
    def test_the_name_is_that_of_the_folder_however_it_is_given(
        self, tmp_path, monkeypatch, folder
    ):
        (tmp_path / "ants").mkdir()
        monkeypatch.chdir(tmp_path / "ants")
        if folder.startswith("inner"):
            (tmp_path / "ants" / "inner").mkdir()
        assert main(["new", folder, "--species", "lasius-niger"]) == 0
        assert 'name = "ants"' in (tmp_path / "ants" / "colony.toml").read_text(encoding="utf-8")
        assert main(["check", folder]) == 0

    def test_a_queen_of_the_future_is_refused(self, tmp_path, capsys):
        path, today = tmp_path / "ants", pd.Timestamp.today()
        later = f"{today + pd.Timedelta(days=3):%Y-%m-%d}"
        assert main(["new", str(path), "--species", "lasius-niger", "--queen-since", later]) == 1
        assert capsys.readouterr().err == (
            f"queen_since = {later}. The day lies in the future (today is {today:%Y-%m-%d}). Give "
            "the day on which the queen sat alone; if she still is to, make the folder then.\n"
        )
        assert not path.exists()

    def test_who_needs_no_rest_gets_none(self, tmp_path):
        path = tmp_path / "ants"
        assert main(["new", str(path), "--species", "oecophylla-smaragdina"]) == 0
        assert "rest" not in ag.load_colony(path).settings
        assert "needs no rest" in (path / "colony.toml").read_text(encoding="utf-8")

    @pytest.mark.parametrize("species", ["lasius-niger", "solenopsis-invicta"])
    def test_the_law_is_told(self, tmp_path, capsys, species):
        path = tmp_path / "ants"
        assert main(["new", str(path), "--species", species]) == 0
        first = next(text for text in ag.load_species(species).cautions)
        said = " ".join(capsys.readouterr().out.split())
        assert first in said
        settings = (path / "colony.toml").read_text(encoding="utf-8")
        assert first in " ".join(settings.replace("\n# ", " ").split())

    def test_nothing_is_overwritten(self, tmp_path, capsys):
        path = made(tmp_path / "ants")
        assert main(["new", str(path), "--species", "lasius-niger"]) == 1
        error = capsys.readouterr().err
        assert "there already is colony.toml, counts.csv" in error and "give another" in error

    def test_faults_all_at_once(self, tmp_path, capsys):
        path = tmp_path / "ants"
        arguments = ["--species", "lasius-niger", "--country", "UK", "--queen-since", "3/4/2026"]
        assert main(["new", str(path), *arguments]) == 1
        error = capsys.readouterr().err
        assert "Did you mean GB?" in error and "queen_since = 3/4/2026" in error
        assert not path.exists()
        assert main(["new", str(path), "--species", "lasius"]) == 1
        assert "no shipped species is called 'lasius'" in capsys.readouterr().err

    def test_a_profile_of_your_own(self, tmp_path):
        profile = tmp_path / "mine.toml"
        source = files("antgrowth.datasets") / "species" / "lasius-niger.toml"
        profile.write_bytes(source.read_bytes())
        path = made(tmp_path / "ants", str(profile), rows="2026-08-20,9,,,,\n", plans="")
        assert ag.load_colony(path).species.name == "mine"

    def test_the_notebook_is_one_and_the_same_each_time(self):
        for name in ("lasius-niger", "solenopsis-invicta"):
            ant = ag.load_species(name)
            assert as_notebook(ant) == as_notebook(ant)
            found = nbformat.reads(as_notebook(ant), as_version=4)
            nbformat.validate(found)
            assert nbformat.writes(found) + "\n" == as_notebook(ant)  # as Jupyter saves it


@pytest.mark.parametrize(
    ("now", "awaited"), [(0, 30), (29, 30), (30, 100), (250, 300), (1000, 3000)]
)
def test_waits_for_the_next_round_number(plan, now, awaited):
    ahead = replace(plan.forecast, paths=np.full_like(plan.forecast.paths, now))
    assert Page(replace(plan, forecast=ahead)).awaited == awaited
    assert Page(plan, workers=77).awaited == 77


def test_a_page_of_a_colony_without_queen(plan, monkeypatch):
    assert "no queen" not in Page(plan).title._repr_html_().lower()
    monkeypatch.setattr(type(plan.forecast.fit.history), "queens_left", lambda *_: 0)
    page = Page(plan)
    assert "no queen" in page.title._repr_html_()
    assert "No queen, by the changes noted" in page.today._repr_html_()


def test_a_page_without_amounts_where_no_mass_is_known(plan, monkeypatch):
    ant = plan.forecast.fit.species.to_mapping()
    for name in ("mass_mg", "first_mass_mg"):
        del ant["workers"][name]
    bare = ag.species.species_from_mapping(ant, "my-ant", "my-ant.toml")
    monkeypatch.setattr(type(plan.forecast.fit), "species", property(lambda _: bare))
    page = Page(plan)
    told = page.food._repr_html_()
    assert page.food_plan is None and "Weigh some workers" in told
    assert "workers.mass_mg" in told and "by weight" in told  # where it goes, and how to serve
    assert repr(page) == f"Page({plan.forecast.fit.counts.name!r})"
    assert "characters of HTML" in repr(page.today)
