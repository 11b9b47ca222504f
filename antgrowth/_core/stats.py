"""Statistics that several rooms share; arrays in, arrays out."""

from __future__ import annotations

import numpy as np

from antgrowth._core.arrays import Flags, Floats

REACH_90 = 1.645
"""Half the width of a central 90 % interval, in standard deviations."""


def first_passage(there: Flags) -> Floats:
    """Time of first passage: the first day on which something holds, infinite where it never does.

    `there` has shape (draws, days); given is the place of the day, shape (draws,).

    Examples
    --------
    >>> first_passage(np.array([[False, True, True], [False, False, False]]))
    array([ 1., inf])
    """
    return np.where(there.any(axis=1), there.argmax(axis=1).astype(float), np.inf)
