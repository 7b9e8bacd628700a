"""Seconds for every turn of a sear, from the rails under the food, and what a test piece teaches."""

from heatmap.sear.food import Food
from heatmap.sear.lesson import OUTCOMES, Lesson, SearedPiece, check_test_piece, learn_from_test
from heatmap.sear.plan import SearPlan, plan_on, plan_sear
from heatmap.sear.rails import Rails
from heatmap.sear.runs import Beliefs

__all__ = [
    "OUTCOMES",
    "Beliefs",
    "Food",
    "Lesson",
    "Rails",
    "SearPlan",
    "SearedPiece",
    "check_test_piece",
    "learn_from_test",
    "plan_on",
    "plan_sear",
]
