"""Seconds for every turn of a sear, from the rails under the food, and what a test piece teaches."""

from heatmap.sear.food import KINDS, Food
from heatmap.sear.lesson import DONENESS_F, Lesson, learn_from_test, peak_from_doneness
from heatmap.sear.plan import Crust, Expected, SearPlan, Sensitivity, expected_peak, plan_sear
from heatmap.sear.rails import Rails, Recovery, recovery
from heatmap.sear.unknowns import UNKNOWNS, Beliefs, Unknown

__all__ = [
    "DONENESS_F",
    "KINDS",
    "UNKNOWNS",
    "Beliefs",
    "Crust",
    "Expected",
    "Food",
    "Lesson",
    "Rails",
    "Recovery",
    "SearPlan",
    "Sensitivity",
    "Unknown",
    "expected_peak",
    "learn_from_test",
    "peak_from_doneness",
    "plan_sear",
    "recovery",
]
