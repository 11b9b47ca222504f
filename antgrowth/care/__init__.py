"""What a colony will need, and when: milestones, nests, rests and weeks outdoors."""

from __future__ import annotations

from antgrowth.care.milestone import Milestone
from antgrowth.care.plan import CarePlan
from antgrowth.care.planner import care_plan

__all__ = ["CarePlan", "Milestone", "care_plan"]
