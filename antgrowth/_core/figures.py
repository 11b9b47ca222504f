"""What the pictures share: colours, heads that say the finding, legends and their dress.

Text that a keeper wrote is never read as a formula (`parse_math=False`), and colours of text and
points are those of the reader's own style.
"""

from __future__ import annotations

import base64
import html
import io
import textwrap
from collections.abc import Sequence
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib import dates as mdates
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Annotation
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from antgrowth._core.text import counted, told
from antgrowth.errors import AntgrowthError

BLUE, ORANGE, GREY, RED = "#0072B2", "#E69F00", "#999999", "#D55E00"
"""Of Okabe and Ito's set for colour-blind eyes, from memory; red is its vermilion."""

NOTES = ("counted", "roughly counted", "noted as a range", "at least", "first seen")
"""What a legend calls the marks of notes."""

TITLE_POINTS, SUBTITLE_POINTS = 11.5, 9.0


def panels(names: tuple[str, ...]) -> NDArray[np.object_]:
    """Axes of a new figure, one a stage, in two columns."""
    columns = min(len(names), 2)
    lines = -(-len(names) // columns)
    grid = new_axes(lines, columns, (9, 1.4 + 2.2 * lines), sharex=True)
    for spare in grid[len(names) :]:
        spare.remove()
        grid[len(names) - 2].tick_params(labelbottom=True)  # nothing under it has the dates now
    return grid[: len(names)]


def new_axes(
    rows: int, columns: int, size: tuple[float, float], **options: Any
) -> NDArray[np.object_]:
    """Axes of a new figure, row by row; options are those of `Figure.subplots`."""
    figure = plt.figure(figsize=size, layout="constrained")
    axes: NDArray[np.object_] = figure.subplots(rows, columns, squeeze=False, **options).ravel()
    return axes


def given_axes(names: tuple[str, ...], ax: Any, caller: str) -> NDArray[np.object_]:
    """The Axes given, one a stage."""
    axes = as_axes(ax)
    if len(axes) != len(names):
        raise AntgrowthError(
            f"{caller}: {len(axes)} Axes for {counted(len(names), 'stage')} "
            f"({', '.join(names)}). Give one Axes a stage, or choose stages."
        )
    return axes


def as_axes(given: Any) -> NDArray[np.object_]:
    """Take one Axes, or a list or array of them, as a row."""
    if isinstance(given, np.ndarray) and given.dtype == np.object_:
        given = list(given.flat)
    row = given if isinstance(given, list | tuple) else [given]
    check_axes(*row, all_there=True)
    return np.array(row, dtype=object)


def own_axes(ax: Axes | None) -> Axes:
    """The Axes given, or that of a new figure."""
    if ax is None:
        return plt.subplots(figsize=(8, 4.5), layout="constrained")[1]
    check_axes(ax)
    return ax


def check_axes(*given: Any, all_there: bool = False) -> None:
    """Refuse what is no Axes; None stands for those of a new figure, unless all must be there."""
    for one in given:
        if not (isinstance(one, Axes) or (one is None and not all_there)):
            raise AntgrowthError(f"ax = {told(one)}. Give Axes of matplotlib, or leave it out.")


def band(ax: Axes, table: pd.DataFrame, low: str, high: str, color: str, **look: Any) -> None:
    """Fill between two columns of a table of quantiles."""
    ax.fill_between(table["date"], table[low], table[high], color=color, linewidth=0, **look)


def style_axes(ax: Axes, top: float | None = None) -> None:
    """Give an Axes dates that read well, whole numbers, a light grid and no box."""
    locator = mdates.AutoDateLocator(minticks=3, maxticks=7)
    ax.xaxis.set_major_locator(locator)
    year = ["", "%Y", "%Y", "%Y", "%Y", "%Y"]  # beside ticks of years, months, days ...
    ax.xaxis.set_major_formatter(mdates.ConciseDateFormatter(locator, offset_formats=year))
    ax.yaxis.set_major_locator(MaxNLocator(5, steps=[1, 2, 5, 10], integer=True, min_n_ticks=2))
    ax.spines[["top", "right"]].set_visible(False)
    ax.grid(axis="y", alpha=0.25)
    ax.set_axisbelow(True)
    if top is not None:
        ax.set_ylim(-0.02 * top, top)  # a count of none stays whole


def head(ax: Axes, title: str, subtitle: str) -> None:
    """Write the finding above an Axes, and under it what it holds for."""
    figure = ax.figure
    alone = len(figure.axes) == 1  # then it will get most of the figure's width
    root = ax.get_figure(root=True)
    assert root is not None  # an Axes that is drawn on is in a figure
    _described(root)
    width = (0.92 * figure.bbox.width if alone else ax.bbox.width) / figure.dpi * 72.0
    small = _wrapped(subtitle, width, 0.55 * SUBTITLE_POINTS)
    lines = small.count("\n") + 1
    ax.set_title(
        _wrapped(title, width, 0.6 * TITLE_POINTS), loc="left", fontsize=TITLE_POINTS,
        fontweight="bold", pad=8 + 1.35 * SUBTITLE_POINTS * lines, parse_math=False,
    )  # fmt: skip
    ax.annotate(
        small, (0, 1), xycoords="axes fraction", xytext=(0, 5), textcoords="offset points",
        va="bottom", fontsize=SUBTITLE_POINTS, alpha=0.8, parse_math=False,
    )  # fmt: skip


def head_figure(figure: Figure, title: str, subtitle: str) -> None:
    """Write the finding above a figure of several panels."""
    _described(figure)
    width = 0.97 * figure.get_figwidth() * 72.0
    small = _wrapped(subtitle, width, 0.55 * SUBTITLE_POINTS)
    room = "\n" * (small.count("\n") + 1)  # the layout makes room for the title alone
    above = figure.suptitle(
        _wrapped(title, width, 0.6 * TITLE_POINTS) + room, x=0.01, ha="left", fontsize=TITLE_POINTS,
        fontweight="bold", parse_math=False,
    )  # fmt: skip
    figure.add_artist(
        Annotation(
            small,
            (0, 0),
            xycoords=above,
            xytext=(0, 3),
            textcoords="offset points",
            va="bottom",
            fontsize=SUBTITLE_POINTS,
            alpha=0.8,
            parse_math=False,
        )  # fmt: skip
    )


def head_panels(axes: NDArray[np.object_], own: bool, title: str, subtitle: str) -> None:
    """Write the finding above panels, and a legend: for a figure of their own, or in the first."""
    if own:
        head_figure(axes[0].figure, title, subtitle)
        legend_below(axes[0].figure, axes)
    else:
        head(axes[0], title, subtitle)
        legend(axes[0], axes)


def _described(figure: Figure) -> None:
    """Let a notebook have the finding in words: as text, and as alt text wherever it is exported.

    Notebooks ask a figure for it by this method; nbconvert takes "alt" of an output's metadata.
    """

    def bundle(**_: object) -> tuple[dict[str, str], dict[str, str]]:
        words = in_words(figure)
        return {"text/plain": words}, {"alt": words}

    setattr(figure, "_repr_mimebundle_", bundle)  # noqa: B010


def in_words(figure: Figure) -> str:
    """The titles of a figure, which say what it shows."""
    titles = [figure.get_suptitle(), *(ax.get_title(loc="left") for ax in figure.axes)]
    return ". ".join(" ".join(title.split()) for title in titles if title)


def embedded(figure: Figure, alt: str, dpi: int, style: str = "", tight: bool = False) -> str:
    """A figure as an image of HTML that needs no file, and what it says to who cannot see it.

    Where it is `tight`, its edges are those of what is drawn, as in notebooks.
    """
    data = io.BytesIO()
    figure.savefig(data, format="png", dpi=dpi, bbox_inches="tight" if tight else None)
    look = f' style="{style}"' if style else ""
    coded = base64.b64encode(data.getvalue()).decode()
    return f'<img alt="{html.escape(alt)}"{look} src="data:image/png;base64,{coded}">'


def _wrapped(text: str, width: float, letter: float) -> str:
    """Break text into lines of a width, at so much a letter, both in points."""
    return textwrap.fill(text, max(int(width / letter), 20))


def _legend_items(axes: Sequence[Axes] | NDArray[np.object_]) -> tuple[list[Artist], list[str]]:
    """Handles and labels of several Axes, each label once, notes after all else."""
    found: dict[str, Artist] = {}
    for ax in axes:
        for handle, label in zip(*ax.get_legend_handles_labels(), strict=True):
            found.setdefault(label, handle)
    labels = [label for label in found if label not in NOTES]
    labels += [label for label in NOTES if label in found]
    return [found[label] for label in labels], labels


def legend(ax: Axes, axes: Sequence[Axes] | NDArray[np.object_] | None = None) -> None:
    """Put a legend into the upper left corner of an Axes: its own, or that of several Axes."""
    handles, labels = _legend_items([ax] if axes is None else axes)
    ax.legend(
        handles, labels, loc="upper left", fontsize="small", framealpha=0.85, edgecolor="none"
    )


def legend_below(figure: Figure, axes: Sequence[Axes] | NDArray[np.object_]) -> None:
    """Put one legend for several Axes under their figure."""
    handles, labels = _legend_items(axes)
    figure.legend(
        handles, labels, loc="outside lower left", ncols=4, frameon=False, fontsize="small"
    )
