"""The picture of the study of simulated colonies: what was promised beside what was held."""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import pytest
from scipy import stats

import antgrowth as ag

STUDY = pd.DataFrame(
    {
        "kind": ["kept", "short", "all"], "colonies": [30, 30, 60],
        "held 90 %": [90.0, 60.0, 75.0], "CRPS [d]": [5.0, 9.0, 7.0],
        "CRPS species [d]": [10.0, 12.0, 11.0],
    }
)  # fmt: skip


@pytest.mark.parametrize("table", [STUDY, STUDY.set_index("kind")])
def test_kinds_that_fall_short_are_marked_and_counted(table):
    share, score = ag.plotting.plot_study(table)
    assert [label.get_text() for label in share.get_yticklabels()] == ["kept", "all", "short"]
    assert "1 of 2 kinds of colonies are held as promised" in share.figure.get_suptitle()
    lines = {line.get_label(): line for line in [*share.lines, *score.lines]}
    assert list(lines["held"].get_xdata()) == [90.0]
    assert list(lines["held less than promised"].get_xdata()) == [75.0, 60.0]
    assert list(lines["error with the notes"].get_xdata()) == [5.0, 7.0, 9.0]
    assert set(lines["promised"].get_xdata()) == {90.0}


def test_what_thirty_colonies_leave_open():
    """Jeffreys' interval of a share (Brown, Cai and DasGupta 2001, doi:10.1214/ss/1009213286)."""
    share, _ = ag.plotting.plot_study(STUDY)
    low, high = share.collections[0].get_segments()[0][:, 0]
    assert (low, high) == pytest.approx(100 * np.array(stats.beta(27.5, 3.5).ppf([0.05, 0.95])))


def test_axes_of_ones_own():
    axes = plt.subplots(1, 2)[1]
    assert ag.plotting.plot_study(STUDY, axes)[0] is axes[0]
    with pytest.raises(ag.AntgrowthError, match="plot_study: 1 Axes for 2"):
        ag.plotting.plot_study(STUDY, axes[0])
