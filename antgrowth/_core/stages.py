"""The stages of an ant's life, in life order: the one tuple every other module uses."""

from __future__ import annotations

BROOD = ("eggs", "larvae", "pupae")
"""The brood stages, in life order."""

STAGES = (*BROOD, "workers")
"""All stages, in life order; array axes that run over stages follow it."""

STAGE_OF_BROOD = {"eggs": "egg", "larvae": "larva", "pupae": "pupa"}
"""The singular, as species profiles name a stage."""
