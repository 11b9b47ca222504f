"""What a figure says to who cannot see it."""

from __future__ import annotations

import matplotlib.pyplot as plt
from IPython.core.formatters import DisplayFormatter
from matplotlib.figure import Figure

from antgrowth._core import figures as draw


def test_a_notebook_keeps_the_title_as_text_and_as_alt_text():
    """As the inline backend shows it, on screens with twice the dots too."""
    display = DisplayFormatter()
    png = display.formatters["image/png"]
    for shown in (b"png", (b"png", {"width": 600})):
        png.for_type(Figure, lambda _, shown=shown: shown)
        _, ax = plt.subplots()
        draw.head(ax, "30 workers: 3 to 19 April, of $5 ants", "if the queen lives")
        data, about = display.format(ax.figure)
        words = "30 workers: 3 to 19 April, of $5 ants"
        assert data["text/plain"] == about["alt"] == words and data["image/png"] == b"png"


def test_words_of_a_figure_of_several_panels():
    axes = draw.panels(("eggs", "larvae"))
    draw.head_figure(axes[0].figure, "On track " * 20, "tube 1")
    assert draw.in_words(axes[0].figure) == ("On track " * 20).strip()
    axes[1].set_title("Larvae", loc="left")
    assert draw.in_words(axes[0].figure).endswith("On track. Larvae")
