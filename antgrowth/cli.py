"""The `antgrowth` command: make, check, forecast and report a colony folder, look up a species."""

from __future__ import annotations

import argparse
import io
import os
import sys
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from antgrowth._core.files import check_replaceable, make_folder, write_whole
from antgrowth._core.stopped import tell_stopped
from antgrowth._core.version import __version__
from antgrowth.errors import AntgrowthError

if TYPE_CHECKING:
    from antgrowth._api import Fit
    from antgrowth.climate.temperature import Temperature
    from antgrowth.colony.folder import Colony
    from antgrowth.forecast.arrival import Arrival
    from antgrowth.forecast.paths import Forecast

SETTINGS_FILE = "colony.toml"

PLOT_SIZE = (9.0, 5.0)
"""Width and height of the picture. [inch]"""

PLOT_DPI = 150

EVIDENCE = """\
evidence: how well the times from egg to worker are known. good: to about 12 %; fair: to about
18 %; thin: less well, so the first dates are rough until your own counts tell."""

PLAN_DAYS = 1500
"""So far a plan of the command line reaches: beyond any forecast. [day]"""
RESULTS: dict[str, Callable[[bytes], bool]] = {
    "forecast.png": lambda raw: raw.startswith(b"\x89PNG") and b"Software\0antgrowth" in raw[:999],
    "forecast.csv": lambda raw: raw.startswith(b"date,stage,mean,q05"),
    "arrival.csv": lambda raw: raw.startswith(b"date,workers,chance_by"),
}
"""Files of a forecast, and how it is told that an earlier forecast wrote them."""

TERMINAL_LETTERS = 100
"""Length of a line that a terminal shows whole."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command, with the arguments of the process if none are given.

    0, or 1 if what was asked for cannot be done, the reason being on the error stream; 130 after
    Ctrl-C.
    """
    arguments = _parser().parse_args(argv)
    try:
        arguments.run(arguments)
        sys.stdout.flush()
    except KeyboardInterrupt:
        return tell_stopped()
    except BrokenPipeError:
        # Whoever reads along, such as `head`, has seen enough; Python must not write the rest.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except (AntgrowthError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="antgrowth", description="Growth models for a keeper's ant colony."
    )
    parser.add_argument("--version", action="version", version=f"antgrowth {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    folder = "holds colony.toml and counts.csv, and mostly temperature.csv"

    new = commands.add_parser("new", help="make a colony folder of files that explain themselves")
    new.add_argument("folder", metavar="FOLDER", help="is made; files in it are not overwritten")
    new.add_argument(
        "--species", required=True, metavar="NAME", help="see: antgrowth species; or a path"
    )
    new.add_argument("--queen-since", metavar="DAY", help="the day she sat alone (today)")
    new.add_argument(
        "--hemisphere", choices=("north", "south"), default="north", help="(%(default)s)"
    )
    new.add_argument("--country", metavar="CODE", help="two letters of ISO 3166-1, such as DE")
    new.set_defaults(run=_new)

    check = commands.add_parser("check", help="read a colony folder and say what was understood")
    check.add_argument("folder", metavar="FOLDER", help=folder)
    check.set_defaults(run=_check)

    _add_forecast(commands, folder)
    _add_report(commands, folder)
    _add_species(commands)
    return parser


def _add_forecast(commands: Any, folder: str) -> None:
    """The command that forecasts, with its options."""
    ahead = commands.add_parser(
        "forecast",
        help="say when the colony reaches a number of workers, and what to expect until then",
    )
    ahead.add_argument("folder", metavar="FOLDER", help=folder)
    for name, default, text in (
        ("workers", 30, "number of workers to wait for"),
        ("draws", 1000, "number of simulated colonies"),
    ):
        ahead.add_argument(
            f"--{name}", type=_whole, default=default, metavar="N", help=f"{text} (%(default)s)"
        )
    ahead.add_argument(
        "--days", type=_whole, default=None, metavar="N",
        help="how far to look ahead (as far as it takes, 200 at least)",
    )  # fmt: skip
    ahead.add_argument(
        "--seed", type=_seed, default=1, metavar="N",
        help="the same seed gives the same forecast (%(default)s)",
    )  # fmt: skip
    ahead.add_argument(
        "--out", type=Path, default=None, metavar="DIR",
        help="where the files go; the colony folder if not given",
    )  # fmt: skip
    _add_plan(ahead)
    ahead.set_defaults(run=_forecast)


def _add_report(commands: Any, folder: str) -> None:
    """The command that makes the page, with its options."""
    report = commands.add_parser(
        "report",
        help="write report.html and care.ics into the folder; one page for a folder of folders",
    )
    report.add_argument("folder", metavar="FOLDER", help=folder)
    report.add_argument(
        "--run-notebook", action="store_true",
        help="run the folder's colony.ipynb although it was changed: it is a program, so know what "
             "it does; without it, the page is made from the data alone",
    )  # fmt: skip
    for name, text in (("workers", "number waited for"), ("days", "how far to look ahead")):
        report.add_argument(
            f"--{name}", type=_whole, default=None, metavar="N",
            help=f"{text}; as the notebook has it if not given",
        )  # fmt: skip
    report.set_defaults(run=_page)


def _add_species(commands: Any) -> None:
    """The command that lists and copies profiles."""
    species = commands.add_parser("species", help="list the species, or describe one")
    species.add_argument(
        "name", metavar="NAME", nargs="?", help="a listed name, or the path of your own profile"
    )
    species.add_argument(
        "--copy", nargs=2, metavar=("NAME", "FILE"),
        help="write a profile into a .toml file of your own, to change",
    )  # fmt: skip
    species.add_argument(
        "--courses", metavar="FILE", nargs="?", const="",
        help="two years of the named species, or of all, beside what is known; a picture into FILE",
    )  # fmt: skip
    species.set_defaults(run=_species)


def _add_plan(parser: argparse.ArgumentParser) -> None:
    """How warm it is to be, in place of what colony.toml says of the time to come."""
    for name, text in (
        ("day", "temperature by day from the last note on, with --night [°C]"),
        ("night", "temperature by night [°C]"),
        ("warmer", "so much warmer than it would be, or cooler below 0 [°C]"),
    ):
        parser.add_argument(f"--{name}", type=float, default=None, metavar="C", help=text)


def _whole(text: str) -> int:
    number = _integer(text)
    if number is None or number < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number above 0, such as 30")
    return number


def _seed(text: str) -> int:
    number = _integer(text)
    if number is None or number < 0:
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number from 0 on, such as 1")
    return number


def _integer(text: str) -> int | None:
    try:
        return int(text)
    except ValueError:
        return None


def _new(arguments: argparse.Namespace) -> None:
    from antgrowth.colony.templates import law_of, write_folder
    from antgrowth.species.profile import load_species

    paths = write_folder(
        Path(arguments.folder),
        arguments.species,
        queen_since=arguments.queen_since,
        hemisphere=arguments.hemisphere,
        country=arguments.country,
    )
    for path in paths:
        print(f"written: {path}")
    print(textwrap.fill(law_of(load_species(arguments.species)), TERMINAL_LETTERS))
    print(f"Next: fill in counts.csv, then: antgrowth report {_quoted(arguments.folder)}")


def _page(arguments: argparse.Namespace) -> None:
    from antgrowth.colony.many import colony_folders
    from antgrowth.colony.report import write_report
    from antgrowth.colony.settings import SETTINGS_FILE

    home = Path(arguments.folder)
    if not (home / SETTINGS_FILE).exists() and colony_folders(home):
        from antgrowth.colony.shelf_page import write_shelf_report

        page = write_shelf_report(home, workers=arguments.workers, days=arguments.days)
        print(f"written: {page}")
        return
    written = write_report(
        arguments.folder, arguments.run_notebook, workers=arguments.workers, days=arguments.days
    )
    print(f"written: {written.page}")
    if written.calendar is not None:
        print(f"written: {written.calendar}")
    if written.notebook_left:
        print(
            "not run: colony.ipynb, which was changed or written by something else; the page is "
            f"made from the data alone. To run it: antgrowth report {_quoted(arguments.folder)} "
            "--run-notebook"
        )


def _check(arguments: argparse.Namespace) -> None:
    from antgrowth.colony.folder import CHANGES_FILE, COUNTS_FILE, FEEDS_FILE, load_colony

    colony = load_colony(arguments.folder)
    print(colony.summary())
    logs = {COUNTS_FILE: colony.counts, CHANGES_FILE: colony.changes, FEEDS_FILE: colony.feeds}
    for name, log in logs.items():
        for row in log.skipped.itertuples() if log is not None else ():
            print(f"not used: {name}, row {row.row}: {row.reason}")
    print(f"cautions: antgrowth species {_profile(colony, arguments.folder)}")


def _profile(colony: Colony, folder: str) -> str:
    """What to call `antgrowth species` with to read about the colony's ant."""
    own = Path(folder) / colony.settings["species"]
    return _quoted(str(own) if own.is_file() else colony.species.name)


def _quoted(text: str) -> str:
    return f'"{text}"' if " " in text else text


def _forecast(arguments: argparse.Namespace) -> None:
    from antgrowth.colony.folder import load_colony

    colony = load_colony(arguments.folder)
    out = arguments.out if arguments.out is not None else Path(arguments.folder)
    _made(out)
    for name, own in RESULTS.items():
        check_replaceable(out / name, own)
    fit = colony.fit(rng=arguments.seed)
    days, waited = arguments.days, arguments.workers if arguments.days is None else None
    plan, asked = _plan(fit, arguments)
    ahead = fit.forecast(days, plan, arguments.draws, rng=arguments.seed, workers=waited)
    arrival = ahead.arrival(arguments.workers)
    print(_report(colony, ahead, arrival, asked))
    for path in _written(ahead, arrival, out):
        print(f"written: {path}")


def _plan(fit: Fit, arguments: argparse.Namespace) -> tuple[Temperature | None, str]:
    """The temperature to come that the command line asks for, with the rests that are due."""
    from antgrowth.climate.temperature import day_night
    from antgrowth.regimes.limits import warmer_than_usual, with_due_rests

    by_day, by_night, warmer = arguments.day, arguments.night, arguments.warmer
    if (by_day is None) != (by_night is None) or (by_day is not None and warmer is not None):
        raise AntgrowthError(
            "forecast: --day and --night go together, and --warmer stands alone. Give for example "
            "--day 27 --night 21, or --warmer 3."
        )
    if by_day is not None:
        plan = day_night(by_day, by_night)
        return with_due_rests(fit, plan, PLAN_DAYS), f"{plan.describe()}, and the rests due"
    if warmer is None:
        return None, ""
    side = "warmer" if warmer >= 0 else "cooler"
    words = f"{abs(warmer):g} °C {side} than it would be, with the rests due as they would be"
    return warmer_than_usual(fit, warmer, PLAN_DAYS), words


def _report(colony: Colony, ahead: Forecast, arrival: Arrival, asked: str) -> str:
    """The finding in a sentence, what it assumes, and what to expect until then."""
    from antgrowth._core.summary import share_words
    from antgrowth.evaluation.diagnostics import strains
    from antgrowth.forecast.report import forecast_report

    tomorrow = ahead.dates[1]
    facts = [("temperature", f"assumed from {tomorrow:%Y-%m-%d} on: {asked or ahead.assumed}")]
    if ahead.cool:
        facts.append(("cool", ahead.cool))
    if asked:
        facts += _limits_passed(ahead)
    elif "temperature" not in colony.settings:
        facts.append(("", f"to plan otherwise, write into {SETTINGS_FILE} a line [temperature], "
                      "and below it: after = { constant_c = 24.0 }"))  # fmt: skip
    if not arrival.reached and arrival.chance_never > 0:
        never = share_words(arrival.chance_never)
        facts.append(("horizon", f"{ahead.dates[-1]:%Y-%m-%d}; {never} chance of fewer until then"))
    if reasons := strains(ahead.fit):
        label = "TAKE CARE" if ahead.fit.converged else "NOT CONVERGED"
        facts.insert(0, (label, "; ".join(reasons)))
    for rest in colony.forgotten_rests:
        facts.insert(0, ("REST NOT NOTED", f"{rest.found()}; {rest.remedy()}"))
    if colony.species.research_only:
        facts.append(("use", "research only: not an ant to keep at home"))
    report = forecast_report(ahead, ahead.condition)
    return replace(
        report, title=f"{arrival.sentence()}.", facts=tuple(facts), closing=(), warning=""
    ).as_text()


def _limits_passed(ahead: Forecast) -> list[tuple[str, str]]:
    """What speaks against a plan: the same as in a comparison of regimes."""
    from antgrowth.regimes.limits import check_limits, phase_of

    phase = phase_of(ahead.fit, None, ahead.draws, "forecast")
    found = check_limits(ahead, phase)
    return [("NOT RECOMMENDED", found.words)] if found.excluded else []


def _written(ahead: Forecast, arrival: Arrival, out: Path) -> list[Path]:
    """Write picture and tables; say where they are."""
    import pandas as pd
    from matplotlib.figure import Figure

    # A figure of its own, so that no window system is asked for.
    figure = Figure(figsize=PLOT_SIZE, layout="constrained")
    ahead.plot(workers=arrival.workers, ax=figure.subplots())
    image = io.BytesIO()
    figure.savefig(image, format="png", dpi=PLOT_DPI, metadata={"Software": "antgrowth"})
    dates = pd.DataFrame(
        {
            "date": ahead.dates,
            "workers": arrival.workers,
            "chance_by": [arrival.chance_by(date) for date in ahead.dates],
        }
    )
    tables: list[str] = [t.to_csv(index=False, float_format="%.6g") for t in (ahead.frame(), dates)]
    paths = [out / name for name in RESULTS]
    contents: list[str | bytes] = [image.getvalue(), *tables]
    for path, content in zip(paths, contents, strict=True):
        write_whole(path, content, RESULTS[path.name])
    return paths


def _made(folder: Path) -> None:
    """Make the folder for the files, before any time is spent on them."""
    try:
        make_folder(folder)
    except AntgrowthError as error:
        raise AntgrowthError(f"{error} Such as with --out DIR.") from None


def _species(arguments: argparse.Namespace) -> None:
    from antgrowth.species.profile import copy_species, list_species, load_species

    if arguments.copy is not None:
        print(f"written: {copy_species(*arguments.copy)}")
        return
    if arguments.courses is not None:
        _courses(arguments)
        return
    if arguments.name is not None:
        print(load_species(arguments.name).summary())
        return
    table = list_species()
    table["rest"] = table["rest_needed"].map({True: "winter rest", False: "no rest"})
    table["use"] = table["research_only"].map({True: "research only", False: ""})
    shown = ["name", "scientific_name", "common_name", "founding", "rest", "evidence", "use"]
    heads = [["name", "species", "common name", "founding", "rest", "evidence", ""]]
    print(_columns(heads + table[shown].astype(str).to_numpy().tolist()))
    print(EVIDENCE)
    print("All about one of them: antgrowth species NAME")
    print("Two years of each, beside what is known: antgrowth species --courses")


def _courses(arguments: argparse.Namespace) -> None:
    from antgrowth.evaluation.courses import profile_courses

    found = profile_courses(None if arguments.name is None else [arguments.name])
    print(found.summary())
    if arguments.courses:
        found.plot()[0].figure.savefig(arguments.courses, dpi=PLOT_DPI)
        print(f"written: {arguments.courses}")


def _columns(rows: list[list[str]]) -> str:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = ("  ".join(map(str.ljust, row, widths)).rstrip() for row in rows)
    return "\n".join(lines)
