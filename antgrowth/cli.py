"""The `antgrowth` command: check a colony folder, forecast from it, look up a species."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from antgrowth import __version__
from antgrowth.errors import AntgrowthError

if TYPE_CHECKING:
    from antgrowth.colony import Colony
    from antgrowth.forecast import Arrival, Forecast

__all__ = ["main"]

SETTINGS_FILE = "colony.toml"

PLOT_SIZE = (9.0, 5.0)
"""Width and height of the picture. [inch]"""

PLOT_DPI = 150

REST_LEEWAY_DAYS = 60
"""A rest within so many days of a species' season counts as the rest of that season (assumed)."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments; those of the process if not given.

    Returns
    -------
    int
        0, or 1 if what was asked for cannot be done; the reason is on the error stream.
    """
    arguments = _parser().parse_args(argv)
    try:
        arguments.run(arguments)
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

    check = commands.add_parser("check", help="read a colony folder and say what was understood")
    check.add_argument("folder", metavar="FOLDER", help=folder)
    check.set_defaults(run=_check)

    ahead = commands.add_parser(
        "forecast",
        help="say when the colony reaches a number of workers, and what to expect until then",
    )
    ahead.add_argument("folder", metavar="FOLDER", help=folder)
    for name, default, text in (
        ("workers", 30, "number of workers to wait for"),
        ("days", 200, "how far to look ahead"),
        ("draws", 1000, "number of simulated colonies"),
    ):
        ahead.add_argument(
            f"--{name}", type=_whole, default=default, metavar="N", help=f"{text} (%(default)s)"
        )
    ahead.add_argument(
        "--seed", type=int, default=1, metavar="N",
        help="the same seed gives the same forecast (%(default)s)",
    )  # fmt: skip
    ahead.add_argument(
        "--out", type=Path, default=None, metavar="DIR",
        help="where the files go; the colony folder if not given",
    )  # fmt: skip
    ahead.set_defaults(run=_forecast)

    species = commands.add_parser("species", help="list the species, or describe one")
    species.add_argument(
        "name", metavar="NAME", nargs="?", help="a listed name, or the path of your own profile"
    )
    species.set_defaults(run=_species)
    return parser


def _whole(text: str) -> int:
    try:
        number = int(text)
    except ValueError:
        number = 0
    if number < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number above 0, such as 30")
    return number


def _check(arguments: argparse.Namespace) -> None:
    from antgrowth.colony import COUNTS_FILE, load_colony, unread_files

    colony = load_colony(arguments.folder)
    print(colony.summary())
    for row in colony.counts.skipped.itertuples():
        print(f"not used: {COUNTS_FILE}, row {row.row}: {row.reason}")
    for name in unread_files(arguments.folder):
        print(f"not used: {name}; this version does not read it")
    print(f"cautions: antgrowth species {_profile(colony, arguments.folder)}")


def _profile(colony: Colony, folder: str) -> str:
    """What to call `antgrowth species` with to read about the colony's ant."""
    own = Path(folder) / colony.settings["species"]
    text = str(own) if own.is_file() else colony.species.name
    return f'"{text}"' if " " in text else text


def _forecast(arguments: argparse.Namespace) -> None:
    from antgrowth.colony import load_colony

    colony = load_colony(arguments.folder)
    out = _made(arguments.out if arguments.out is not None else Path(arguments.folder))
    fit = colony.fit(rng=arguments.seed)
    ahead = fit.forecast(days=arguments.days, draws=arguments.draws, rng=arguments.seed)
    arrival = ahead.arrival(arguments.workers)
    print(_report(colony, ahead, arrival))
    for path in _written(ahead, arrival, out):
        print(f"written: {path}")


def _report(colony: Colony, ahead: Forecast, arrival: Arrival) -> str:
    """The finding in a sentence, what it assumes, and what to expect until then."""
    from antgrowth._showing.render import forecast_report, share_words
    from antgrowth.forecast import CONDITION

    tomorrow = ahead.dates[1]
    facts = [("temperature", f"assumed from {tomorrow:%Y-%m-%d} on: {ahead.assumed}")]
    if "temperature" not in colony.settings:
        facts.append(("", f"to plan otherwise, write into {SETTINGS_FILE} a line [temperature], "
                      "and below it: after = { constant_c = 24.0 }"))  # fmt: skip
    if season := _unplanned_rest(colony, ahead):
        facts.append(("rest", season))
    if not arrival.reached and arrival.chance_never > 0:
        never = share_words(arrival.chance_never)
        facts.append(("horizon", f"{ahead.dates[-1]:%Y-%m-%d}; {never} chance that it comes first"))
    if not ahead.fit.converged:
        facts.append(("NOT CONVERGED", "the fit did not settle: do not rely on these dates"))
    if colony.species.research_only:
        facts.append(("use", "research only: not an ant to keep at home"))
    report = forecast_report(ahead, CONDITION)
    return replace(
        report, title=f"{arrival.sentence()}.", facts=tuple(facts), closing=(), warning=""
    ).as_text()


def _unplanned_rest(colony: Colony, ahead: Forecast) -> str:
    """Warn of a rest season ahead for which nothing is planned; empty if there is none."""
    import pandas as pd

    ant, rest, leeway = colony.species, colony.species.rest, pd.Timedelta(days=REST_LEEWAY_DAYS)
    if not rest.needed:
        return ""
    later = pd.DateOffset(months=6 if colony.settings.get("hemisphere") == "south" else 0)
    for year in range(ahead.start.year - 1, ahead.dates[-1].year + 1):
        start, end = (pd.Timestamp(f"{year}-{day}") + later for day in (rest.start, rest.end))
        if end < start:
            end += pd.DateOffset(years=1)
        # Keepers move the season by some weeks: a rest near it is the rest of that season.
        near = ahead.temperature.resting(start - leeway, (end - start + 2 * leeway).days)
        if start <= ahead.dates[-1] and end > ahead.start and not near.any():
            return (
                f"{ant.scientific_name} needs one, usually {start:%Y-%m-%d} to {end:%Y-%m-%d}, and "
                f"none is planned: trust no number after it should begin. Add it to "
                f"{SETTINGS_FILE}: a line [[rest]], and below it start, end and temperature_c"
            )
    return ""


def _written(ahead: Forecast, arrival: Arrival, out: Path) -> list[Path]:
    """Write picture and tables; say where they are."""
    import pandas as pd
    from matplotlib.figure import Figure

    picture, table, dates = (
        out / name for name in ("forecast.png", "forecast.csv", "arrival.csv")
    )
    # A figure of its own, so that no window system is asked for.
    figure = Figure(figsize=PLOT_SIZE, layout="constrained")
    ahead.plot(workers=arrival.workers, ax=figure.subplots())
    figure.savefig(picture, dpi=PLOT_DPI)
    ahead.frame().to_csv(table, index=False, float_format="%.6g")
    pd.DataFrame(
        {
            "date": ahead.dates,
            "workers": arrival.workers,
            "chance_by": [arrival.chance_by(date) for date in ahead.dates],
        }
    ).to_csv(dates, index=False, float_format="%.6g")
    return [picture, table, dates]


def _made(folder: Path) -> Path:
    """Make the folder for the files, before any time is spent on them."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise AntgrowthError(
            f"{folder}: no folder can be made there ({error.strerror}). "
            "Give another with --out DIR."
        ) from None
    return folder


def _species(arguments: argparse.Namespace) -> None:
    from antgrowth.species import list_species, load_species

    if arguments.name is not None:
        print(load_species(arguments.name).summary())
        return
    table = list_species()
    table["rest"] = table["rest_needed"].map({True: "winter rest", False: "no rest"})
    table["use"] = table["research_only"].map({True: "research only", False: ""})
    shown = ["name", "scientific_name", "common_name", "founding", "rest", "evidence", "use"]
    print(_columns(table[shown].astype(str).to_numpy().tolist()))
    print("All about one of them: antgrowth species NAME")


def _columns(rows: list[list[str]]) -> str:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = ("  ".join(map(str.ljust, row, widths)).rstrip() for row in rows)
    return "\n".join(lines)
