"""The command line: what it prints and writes, and that no fault of a keeper is a traceback."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

import antgrowth as ag
from antgrowth import datasets
from antgrowth.cli import main

COLONIES = Path(datasets.__file__).parent / "colonies"
WARM = COLONIES / "warm-country-camponotus"
SAID = 'species = "lasius-niger"\nqueen_since = "2026-07-04"\n[temperature]\nconstant_c = 24.0\n'
COUNTS = "date,eggs,workers,feed\n2026-07-20,30,,\n2026-07-22,,,crickets\n2026-08-30,,first,\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    path = tmp_path / "my ants"
    path.mkdir()
    (path / "colony.toml").write_text(SAID, encoding="utf-8")
    (path / "counts.csv").write_text(COUNTS, encoding="utf-8")
    return path


def run(capsys, *arguments: object) -> tuple[int, list[str], str]:
    """Status, printed lines, and the error stream of one call."""
    status = main([str(argument) for argument in arguments])
    shown = capsys.readouterr()
    return status, shown.out.splitlines(), shown.err


def forecast(capsys, folder: Path, *options: object) -> list[str]:
    status, lines, errors = run(capsys, "forecast", folder, "--draws", 60, *options)
    assert (status, errors) == (0, "")
    return lines


@pytest.fixture
def no_files(monkeypatch: pytest.MonkeyPatch) -> None:
    """For tests of what is printed: pictures take time."""
    monkeypatch.setattr("antgrowth.cli._written", lambda *_: [])


# check -------------------------------------------------------------------------------------------


def test_check_tells_all_that_was_understood(capsys, folder):
    (folder / "feeds.csv").write_text("date,food,offered_mg,left_mg,control_loss_mg,by\n,,,,,me\n")
    (folder / "changes.csv").write_text("date,stage,change,reason\n2026-08-01,eggs,-2,spilled\n")
    status, lines, errors = run(capsys, "check", folder)
    assert (status, errors) == (0, "")
    assert lines[0] == "Colony: my ants"
    shown = {line[:11].strip(): line[13:] for line in lines}
    assert shown["species"].startswith("Lasius niger (black garden ant), claustral, temperate;")
    assert shown["queen since"] == "2026-07-04, 57 days before the last note"
    assert shown["temperature"] == "constant 24.0 °C"
    assert shown["data"] == "2 counts on 2 dates, 2026-07-20 to 2026-08-30"
    assert shown["left alone"] == "columns feed"
    assert ["eggs", "1", "0", "1"] in [line.split() for line in lines]
    assert "not used: counts.csv, row 3: a date, but no count and no note" in lines
    assert "not used: feeds.csv, row 2: no date and no food" in lines
    assert shown["changes"].startswith("1 change")
    assert lines[-1] == "cautions: antgrowth species lasius-niger"


def test_check_names_a_profile_of_your_own(capsys):
    _, lines, _ = run(capsys, "check", WARM)
    command = lines[-1].removeprefix("cautions: antgrowth ").replace('"', "")
    status, lines, _ = run(capsys, *command.split(" ", 1))
    assert status == 0
    assert lines[0].startswith("Species: Camponotus sp.")


def test_check_tells_what_the_thermometer_record_had_to_decide(capsys):
    _, lines, _ = run(capsys, "check", COLONIES / "garden-ant-first-year")
    assert any("5 hours without a reading interpolated" in line for line in lines)
    assert any("rest from 2025-11-15 until 2026-02-28" in line for line in lines)


def test_check_of_a_faulty_folder(capsys, folder):
    (folder / "counts.csv").write_text("date,eggs\n2026-07-20,-3\n")
    status, lines, errors = run(capsys, "check", folder)
    assert (status, lines) == (1, [])
    assert "this colony cannot be read as it stands." in errors
    assert "counts.csv, row 2 (2026-07-20): eggs = -3." in errors


@pytest.mark.parametrize("command", ["check", "forecast"])
def test_no_folder(capsys, tmp_path, command):
    status, lines, errors = run(capsys, command, tmp_path / "nowhere")
    assert (status, lines) == (1, [])
    assert "nowhere: there is no such folder" in errors


# forecast ----------------------------------------------------------------------------------------


def test_forecast_says_the_finding_first(capsys, no_files, folder):
    lines = forecast(capsys, folder, "--days", 150)
    arrival = (
        ag.load_colony(folder).fit(rng=1).forecast(days=150, draws=60, rng=1).arrival(workers=30)
    )
    assert lines[0] == f"{arrival.sentence()}."
    assert lines[0].startswith("30 workers: 20")
    assert "(90% interval)" in lines[0]
    assert lines[0].endswith("if the queen lives and stays fertile.")
    assert lines[1].split(maxsplit=1) == [
        "temperature",
        "assumed from 2026-08-31 on: constant 24.0 °C; no rest from 2026-10-15 until 2027-03-01, "
        "though Lasius niger needs one",
    ]


def test_forecast_writes_its_files_beside_the_counts(capsys, folder):
    lines = forecast(capsys, folder, "--days", 120, "--workers", 20, "--seed", 4)
    names = ("forecast.png", "forecast.csv", "arrival.csv")
    assert lines[-3:] == [f"written: {folder / name}" for name in names]
    assert (folder / "forecast.png").read_bytes().startswith(b"\x89PNG")

    ahead = ag.load_colony(folder).fit(rng=4).forecast(days=120, draws=60, rng=4)
    table = pd.read_csv(folder / "forecast.csv", parse_dates=["date"])
    pd.testing.assert_frame_equal(table, ahead.frame(), rtol=1e-5, check_dtype=False)

    dates = pd.read_csv(folder / "arrival.csv", parse_dates=["date"])
    assert (dates["workers"] == 20).all()
    assert dates["date"].iloc[[0, -1]].tolist() == [ahead.dates[0], ahead.dates[-1]]
    assert dates["chance_by"].is_monotonic_increasing
    arrival = ahead.arrival(workers=20)
    assert dates["chance_by"].iloc[-1] == pytest.approx(1 - arrival.chance_never, abs=1e-5)
    middle = dates.loc[dates["date"] == arrival.median, "chance_by"].item()
    assert middle >= 0.5


def test_forecast_table_is_that_of_the_frame(capsys, folder):
    lines = forecast(capsys, folder, "--days", 56)
    head = next(k for k, line in enumerate(lines) if line.startswith("evening of"))
    rows = [line.split() for line in lines[head + 1 : -3]]
    assert [row[0] for row in rows] == [
        str(date.date()) for date in pd.date_range("2026-08-30", periods=9, freq="7D")
    ]
    frame = pd.read_csv(folder / "forecast.csv").set_index(["date", "stage"])
    last = frame.loc[(rows[-1][0], "workers")]
    assert rows[-1][1:5] == [f"{last[q]:.0f}" if q else "to" for q in ("q50", "q05", "", "q95")]


def test_out_is_made(capsys, folder, tmp_path):
    out = tmp_path / "new" / "results"
    lines = forecast(capsys, folder, "--days", 20, "--out", out)
    assert lines[-1] == f"written: {out / 'arrival.csv'}"
    assert sorted(path.name for path in out.iterdir()) == [
        "arrival.csv", "forecast.csv", "forecast.png"
    ]  # fmt: skip
    assert sorted(path.name for path in folder.iterdir()) == ["colony.toml", "counts.csv"]


def test_the_same_seed_gives_the_same_forecast(capsys, folder, tmp_path):
    first = forecast(capsys, folder, "--days", 10, "--out", tmp_path / "a")
    again = forecast(capsys, folder, "--days", 10, "--out", tmp_path / "b")
    other = forecast(capsys, folder, "--days", 10, "--out", tmp_path / "c", "--seed", 2)
    texts = [(tmp_path / name / "forecast.csv").read_text() for name in "abc"]
    assert first[:-3] == again[:-3]
    assert texts[0] == texts[1] != texts[2]
    assert len(other) == len(first)


def test_workers_reached_already(capsys, no_files, folder):
    lines = forecast(capsys, folder, "--workers", 1, "--days", 20)
    assert lines[0] == "1 worker: reached by 2026-08-30."
    assert not any(line.startswith("horizon") for line in lines)


def test_horizon_too_short(capsys, no_files, folder):
    lines = forecast(capsys, folder, "--workers", 5000, "--days", 30)
    assert lines[0].startswith("5000 workers: hardly before 2026-09-29, if the queen")
    shown = next(line for line in lines if line.startswith("horizon"))
    assert shown.split(maxsplit=1)[1] == "2026-09-29; over 99 % chance of fewer until then"


def test_out_that_is_a_file(capsys, folder):
    status, _, errors = run(capsys, "forecast", folder, "--out", folder / "counts.csv")
    assert status == 1
    assert "counts.csv: no folder can be made there" in errors
    assert "--out DIR" in errors


def test_picture_that_cannot_be_written(capsys, folder):
    (folder / "forecast.png").mkdir()
    status, _, errors = run(capsys, "forecast", folder, "--days", 10, "--draws", 20)
    assert status == 1
    assert "forecast.png" in errors


def test_where_the_record_ends_a_plan_is_offered(capsys, no_files, folder):
    times = pd.date_range("2026-07-04", "2026-08-30 23:00", freq="1h")
    rows = "".join(f"{time:%Y-%m-%d %H:%M},24\n" for time in times)
    (folder / "temperature.csv").write_text("time,temperature_c\n" + rows)
    said = SAID.partition("[temperature]")[0]
    (folder / "colony.toml").write_text(said)
    lines = forecast(capsys, folder, "--days", 30)
    assert "assumed from 2026-08-31 on: mean of 14 days" in lines[1]
    assert lines[2].endswith("[temperature], and below it: after = { constant_c = 24.0 }")

    (folder / "colony.toml").write_text(f"{said}[temperature]\nafter = {{ constant_c = 22.0 }}\n")
    lines = forecast(capsys, folder, "--days", 30)
    assert "then from 2026-08-31 constant 22.0 °C" in lines[1]
    assert "plan otherwise" not in lines[2]


@pytest.mark.parametrize(
    ("said", "days", "rest"),
    [
        (
            'hemisphere = "north"\n' + SAID, 100,
            "; no rest from 2026-10-15 until 2027-03-01, though Lasius niger needs one",
        ),
        (SAID, 30, ""),  # over before the season begins
        (
            'hemisphere = "south"\n' + SAID, 100,  # it is on already
            "; no rest from 2026-04-15 until 2026-09-01, though Lasius niger needs one",
        ),
        (
            SAID + '[rest]\nstart = "2026-11-20"\nend = "2027-02-20"\ntemperature_c = 9\n', 100,
            "; rest from 2026-11-20 until 2027-02-20, constant 9.0 °C",
        ),
        (SAID.replace("lasius-niger", str(WARM / "species.toml")), 100, ""),
    ],
)  # fmt: skip
def test_the_rest_to_come_is_told(capsys, no_files, folder, said, days, rest):
    (folder / "colony.toml").write_text(said)
    lines = forecast(capsys, folder, "--days", days)
    assert lines[1].endswith(f"assumed from 2026-08-31 on: constant 24.0 °C{rest}")


def test_research_only_is_told(capsys, no_files, folder):
    own = (WARM / "species.toml").read_text(encoding="utf-8")
    own = own.replace("research_only = false", "research_only = true")
    (folder / "own.toml").write_text(own, encoding="utf-8")
    (folder / "colony.toml").write_text(SAID.replace("lasius-niger", "own.toml"))
    _, checked, _ = run(capsys, "check", folder)
    for lines in (checked, forecast(capsys, folder, "--days", 10)):
        assert any("research only: not an ant to keep at home" in line for line in lines)


def test_fit_that_did_not_settle_is_told(capsys, no_files, folder, monkeypatch):
    monkeypatch.setattr(ag.Fit, "converged", False)
    lines = forecast(capsys, folder, "--days", 10)
    assert "30 workers" in lines[0]
    assert any(line.startswith("NOT CONVERGED  the fit did not settle") for line in lines)


# species, and the command itself -----------------------------------------------------------------


def test_species_list(capsys):
    status, lines, _ = run(capsys, "species")
    assert status == 0
    assert lines[0].split() == [
        "name", "species", "common", "name", "founding", "rest", "evidence",
    ]  # fmt: skip
    names = [line.split()[0] for line in lines[1:-4]]
    assert names == ag.list_species()["name"].tolist()
    assert "thin: less well" in " ".join(lines[-4:-2])
    garden = next(line for line in lines if line.startswith("lasius-niger"))
    assert "Lasius niger" in garden and "winter rest" in garden
    humile = next(line for line in lines if line.startswith("linepithema-humile"))
    assert humile.endswith("research only")
    assert lines[-2] == "All about one of them: antgrowth species NAME"
    assert lines[-1].endswith("antgrowth species --courses")


def test_one_species_with_its_cautions(capsys):
    status, lines, _ = run(capsys, "species", "lasius-niger")
    assert status == 0
    assert "\n".join(lines) == ag.load_species("lasius-niger").summary()
    assert any(line.startswith("- Law:") for line in lines)


def test_a_profile_is_copied_to_be_changed(capsys, tmp_path):
    own = tmp_path / "my-ant.toml"
    status, lines, _ = run(capsys, "species", "--copy", "lasius-niger", own)
    assert (status, lines) == (0, [f"written: {own}"])
    assert ag.load_species(own).to_mapping() == ag.load_species("lasius-niger").to_mapping()
    status, _, errors = run(capsys, "species", "--copy", "lasius-niger", own)
    assert status == 1 and "it may hold your notes" in errors


def test_the_package_runs_as_a_module():
    command = [sys.executable, "-m", "antgrowth", "--version"]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    assert run.stdout == f"antgrowth {ag.__version__}\n"


@pytest.mark.parametrize("options", [("--day", 28, "--night", 24), ("--warmer", 3)])
def test_forecast_of_a_warmer_plan(capsys, no_files, folder, options):
    cool, warm = (forecast(capsys, folder, *more) for more in ((), options))
    soonest = [re.search(r"\d{4}-\d\d-\d\d", lines[0])[0] for lines in (cool, warm)]
    assert soonest[1] < soonest[0]
    assert any("rests due" in line for line in warm)


def test_a_plan_that_is_too_warm_is_told(capsys, no_files, folder):
    lines = forecast(capsys, folder, "--warmer", 9)
    assert any(line.startswith("NOT RECOMMENDED") and "ceiling" in line for line in lines)


def test_half_a_plan_is_refused(capsys, folder):
    status, _, errors = run(capsys, "forecast", folder, "--day", 27)
    assert status == 1 and "--day and --night go together" in errors


def test_unknown_species(capsys):
    status, lines, errors = run(capsys, "species", "lasius-nigre")
    assert (status, lines) == (1, [])
    assert "Did you mean lasius-niger?" in errors


def test_version(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"antgrowth {ag.__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        ([], "COMMAND"),
        (["check"], "FOLDER"),
        (["prophesy", "x"], "invalid choice: 'prophesy'"),
        (["forecast", "x", "--workers", "0"], "'0' is no whole number above 0"),
        (["forecast", "x", "--days", "2.5"], "'2.5' is no whole number above 0"),
        (["forecast", "x", "--draws", "many"], "'many' is no whole number above 0"),
        (["forecast", "x", "--seed", "one"], "'one' is no whole number from 0 on, such as 1"),
        (["forecast", "x", "--seed", "-1"], "'-1' is no whole number from 0 on, such as 1"),
    ],
)
def test_wrong_use(capsys, arguments, expected):
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    assert expected in capsys.readouterr().err


def test_help_loads_no_pictures():
    code = (
        "import sys\nfrom antgrowth.cli import main\n"
        "try:\n    main(['forecast', '--help'])\nexcept SystemExit:\n    pass\n"
        "print([name for name in ('matplotlib', 'scipy.stats') if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "how far to look ahead (as far as it takes, 200 at least)" in run.stdout
    assert run.stdout.splitlines()[-1] == "[]"


def test_a_reader_that_has_seen_enough_is_no_error():
    code = "import sys; from antgrowth.cli import main; sys.exit(main(['species']))"
    run = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert run.stdout is not None and run.stderr is not None
    run.stdout.close()  # before a line is written
    assert (run.stderr.read(), run.wait()) == (b"", 0)
    run.stderr.close()
