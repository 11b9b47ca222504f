"""The stages of an ant's life, in life order: the one tuple every other module uses."""

from __future__ import annotations

BROOD = ("eggs", "larvae", "pupae")
"""The brood stages, in life order."""

STAGES = (*BROOD, "workers")
"""All stages, in life order; array axes that run over stages follow it."""

EGGS, LARVAE, PUPAE, WORKERS = range(len(STAGES))
"""Places on such an axis; brood is what stands before the workers."""

SINGULAR = {"eggs": "egg", "larvae": "larva", "pupae": "pupa", "workers": "worker"}
