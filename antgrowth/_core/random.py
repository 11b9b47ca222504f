"""Chance: one keyword for it everywhere, and a seed that can be kept."""

from __future__ import annotations

import numpy as np

from antgrowth._core.text import told
from antgrowth.errors import AntgrowthError


def seeded(rng: int | np.random.Generator | None) -> tuple[int, np.random.Generator]:
    """Seed to remember, and the source of chance it stands for."""
    if isinstance(rng, np.random.Generator):
        seed = int(rng.integers(2**31))
    elif rng is None:
        seed = int(np.random.default_rng().integers(2**31))
    elif isinstance(rng, (int, np.integer)) and not isinstance(rng, bool) and rng >= 0:
        seed = int(rng)
    else:
        raise AntgrowthError(
            f"rng = {told(rng)}. Give a whole number of at least 0 as the seed, a numpy "
            "Generator, or "
            "None for new chance each time."
        )
    return seed, np.random.default_rng(seed)
