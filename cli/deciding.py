"""The one decision, as every command asks for it."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cli.lesson import asked_sear

if TYPE_CHECKING:
    from heatmap.assessment import Assessment
    from heatmap.decisions.decision import Decision, Sear


def decide_now(
    assessment: Assessment,
    readings: Path,
    sear: Sear | None = None,
    *,
    now: datetime | None = None,
    **limits: Any,
) -> Decision:
    """Return the decision at this moment, or `now`; for a round that is not the newest, that of its time.

    What is not said of the sear is as the grill and the test pieces beside the readings have it; `limits` are those of
    :func:`heatmap.decide`.
    """
    from heatmap.decisions.decision import decide, rails_under
    from heatmap.decisions.placement import Wanted, find_places

    grill = assessment.grill
    if sear is None and grill.food.target_c is not None:
        rails = rails_under(assessment, find_places(assessment, Wanted.of(grill)).best)
        sear, _ = asked_sear(grill, rails, readings)
    if now is None and assessment.round.number == max(one.number for one in assessment.rounds):
        now = datetime.now().astimezone()
    return decide(assessment, Wanted.said(grill), now, sear=sear, **limits)


def of_its_time(assessment: Assessment, decision: Decision) -> Decision:
    """Return what an old map called for when it was shot; for any other the decision itself."""
    from heatmap.decisions.decision import decide
    from heatmap.decisions.placement import Wanted

    return decide(assessment, Wanted.said(assessment.grill)) if decision.is_old else decision
