"""How one colony has strayed from the law, as far as its notes tell.

For weeks a colony lays, rears and eats more or less than the law has it (`growth_law.DRIFTS`). To
the fit that is chance: part of the covariance of the counts. But what it makes of them is no
straight line: a wave of brood that comes late by chance meets other places and other mouths. So the
law is linearised around the course that the notes ask for, not around that of a colony that never
strays, as an iterated smoother does it (Bell BM (1994) SIAM Journal on Optimization 4:626-636, from
memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import linalg

from antgrowth._core.arrays import Floats
from antgrowth.model.growth_law import DRIFT_DAYS, DRIFT_KEPT

PART = 0.5
"""Part of the way that a round takes to the course that the notes ask for: all of it swings."""

LONGEST_STEP = 1.5
"""A round takes a course no farther. [standard deviations of the drift]"""


@dataclass(frozen=True, eq=False, repr=False)
class Course:
    """How a colony is taken to have strayed from the law."""

    # What came to it on the first morning, and by each one after (logarithms),
    # shape (days + 1, drifts)
    fresh: Floats
    # By how much the notes lower the mean, as they leave less chance of straying far (logarithms),
    # shape (days + 1, drifts)
    settled: Floats
    # What the course made of the cells, by slopes, shape (cells,); nothing until it is worked out
    made: Floats | float = 0.0

    def __repr__(self) -> str:
        return f"Course({len(self.fresh)} mornings)"

    @cached_property
    def strays(self) -> Floats:
        """How far it strays on each morning, shape (days + 1, drifts)."""
        return remembered(self.fresh) + self.settled

    def makes(self, effect: Floats) -> Floats:
        """What the course makes of cells, by the effect of straying from a morning on.

        The effect is of shape (days, drifts, cells), of the first days; found is (cells,).
        """
        found: Floats = np.einsum("dkc,dk->c", effect, self.fresh[: len(effect)])
        return found

    def approached(self, before: Course | None, drift: Floats) -> tuple[Course, float]:
        """The course a part of the way here from another, or none; and how long the way is.

        In standard deviations of the drift, at most on any day.
        """
        old = before or Course(np.zeros_like(self.fresh), np.zeros_like(self.settled))
        apart = np.abs(self.strays - old.strays) / np.maximum(drift, 1e-9)
        far = float(apart.max(initial=0.0))
        part = min(PART, LONGEST_STEP / max(far, 1e-9))
        fresh, settled = (
            a + part * (b - a) for a, b in ((old.fresh, self.fresh), (old.settled, self.settled))
        )
        return Course(fresh, settled), far


def remembered(fresh: Floats) -> Floats:
    """What comes on each morning, added up as far as it lasts: shape (days, drifts, ...)."""
    found = fresh.copy()
    kept = DRIFT_KEPT.reshape(-1, *[1] * (fresh.ndim - 2))
    for day in range(1, len(found)):
        found[day] += kept * found[day - 1]
    return found


def course_asked(days: int, drift: Floats, effect: Floats, cov: Floats, missed: Floats) -> Course:
    """The course that notes ask for.

    Parameters
    ----------
    days : int
        Of the course.
    drift : array, shape (drifts,)
        Log-sd by which colonies stray.
    effect : array, shape (days with notes + 1, drifts, cells)
        What straying from a morning on does to the cells.
    cov : array, shape (cells, cells)
        Of the cells, straying included.
    missed : array, shape (cells,)
        Noted less what is expected of a colony of which nothing is known.

    Returns
    -------
    Course
        Its mean given the notes, by linear regression. Colonies lay in proportion to the
        exponential of how far they stray, whose mean lies above by half of the variance left.
    """
    fresh, settled = np.zeros((2, days + 1, len(drift)))
    variance = np.tile(drift**2, (len(effect), 1))
    variance[1:] *= 1.0 - np.exp(-2.0 / DRIFT_DAYS)
    link = variance[:, :, None] * effect
    factor = linalg.cholesky(cov, lower=True)
    pull = linalg.cho_solve((factor, True), missed)
    told = linalg.solve_triangular(factor, remembered(link).reshape(-1, len(missed)).T, lower=True)
    fresh[: len(effect)] = link @ pull
    settled[: len(effect)] = -0.5 * (told**2).sum(axis=0).reshape(len(effect), -1)
    return Course(fresh, settled)
