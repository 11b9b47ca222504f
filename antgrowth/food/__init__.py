"""What a colony needs to eat, what to offer, and what was weighed."""

from __future__ import annotations

from antgrowth.food.daily import DailyFood, daily_food
from antgrowth.food.plan import FoodPlan
from antgrowth.food.planner import plan_food
from antgrowth.food.servings import mixing_table, prey_kinds

__all__ = ["DailyFood", "FoodPlan", "daily_food", "mixing_table", "plan_food", "prey_kinds"]
