"""What a colony needs to eat, what to offer, and what was weighed."""

from __future__ import annotations

from antgrowth.food.plan import (
    DailyFood,
    FoodPlan,
    daily_food,
    mixing_table,
    plan_food,
    prey_kinds,
)

__all__ = ["DailyFood", "FoodPlan", "daily_food", "mixing_table", "plan_food", "prey_kinds"]
