"""The one decision, as every command asks for it."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from cli.food import food_on, sear_on

if TYPE_CHECKING:
    from heatmap.assessment import Assessment
    from heatmap.decisions.decision import Decision, Sear
    from heatmap.decisions.placement import Wanted


def decide_now(assessment: Assessment, food: Wanted | None = None, sear: Sear | None = None) -> Decision:
    """Return the decision at this moment; for a round that is not the newest, that of its time.

    What was not said of food and sear is as the grill file has it.
    """
    from heatmap.decisions.decision import decide

    food, sear = food or food_on(assessment.grill), sear or sear_on(assessment.grill)
    newest = assessment.round.number == max(one.number for one in assessment.rounds)
    return decide(assessment, food, datetime.now().astimezone() if newest else None, sear=sear)


def of_its_time(assessment: Assessment, decision: Decision, food: Wanted | None = None) -> Decision:
    """Return what an old map called for when it was shot; for any other the decision itself."""
    from heatmap.decisions.decision import decide

    return decide(assessment, food or food_on(assessment.grill)) if decision.is_old else decision
