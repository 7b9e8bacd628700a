"""The one decision, as every command asks for it."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from cli.food import FoodSaid
from cli.lesson import asked_sear

if TYPE_CHECKING:
    from heatmap.assessment import Assessment
    from heatmap.decisions.decision import Decision, Sear
    from heatmap.decisions.placement import Wanted


def decide_now(
    assessment: Assessment, readings: Path, food: Wanted | None = None, sear: Sear | None = None
) -> Decision:
    """Return the decision at this moment; for a round that is not the newest, that of its time.

    What was not said of food and sear is as the grill file and the test pieces beside the readings have it.
    """
    from heatmap.decisions.decision import decide

    food = food or FoodSaid().that_counts(assessment.grill)
    sear = sear or _usual_sear(assessment, readings, food)
    newest = assessment.round.number == max(one.number for one in assessment.rounds)
    return decide(assessment, food, datetime.now().astimezone() if newest else None, sear=sear)


def _usual_sear(assessment: Assessment, readings: Path, food: Wanted | None) -> Sear | None:
    """Return the sear the grill file describes, where it says which peak is wanted."""
    from heatmap.decisions.decision import rails_under
    from heatmap.decisions.placement import find_places

    grill = assessment.grill
    if grill.food.target_c is None:
        return None
    rails = rails_under(assessment, find_places(assessment, food or FoodSaid().outline(grill)).best)
    return asked_sear(grill, rails, readings, FoodSaid())[0]


def of_its_time(assessment: Assessment, decision: Decision, food: Wanted | None = None) -> Decision:
    """Return what an old map called for when it was shot; for any other the decision itself."""
    from heatmap.decisions.decision import decide

    return decide(assessment, food or FoodSaid().that_counts(assessment.grill)) if decision.is_old else decision
