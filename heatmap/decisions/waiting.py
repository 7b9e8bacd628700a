"""Until when to wait: a change that has not come, a grate that still rises or falls, a lid that was just lifted."""

import math
from datetime import datetime, timedelta
from typing import Literal, NamedTuple

from heatmap.assessment import Assessment
from heatmap.decisions.tuning import COME, LID_MATTERS_C, LID_SHOWS_C
from heatmap.grate_model.round_spots import LID_TIME_S
from heatmap.taking.tuning import STEADY_C_PER_MIN

#: A round begun at the very minute it was told to is not too early for a rounded second.
_ROUNDING = 0.01
#: What is waited for.
Cause = Literal["change", "rising", "falling", "lid"]


class Settling(NamedTuple):
    """What has not settled when the round was over, and when it will have.

    Attributes
    ----------
    cause : {"change", "rising", "falling", "lid"}
    until : datetime
    per_minute_c : float
        How fast the grate moved while it was shot; 0 where that is not the cause.
    """

    cause: Cause
    until: datetime
    per_minute_c: float = 0.0


def unsettled(assessment: Assessment) -> Settling | None:
    """Return why the map does not stand for the grate to come: a change under way, or a drift; None when it does."""
    return _change(assessment) or _drift(assessment)


def _change(assessment: Assessment) -> Settling | None:
    """A knob turned after the last shot, or before the first one with too little time for its change to come."""
    model = assessment.model
    minutes = timedelta(minutes=model.minutes_of_change)
    turned_after = [one.taken_at for one in assessment.round.turned_after if one.taken_at is not None]
    if turned_after:
        return Settling("change", max(turned_after) + minutes)
    if len(model.rounds) < 2:
        return None
    before, newest = model.rounds[-2], model.rounds[-1]
    if before.group != newest.group or before.last_at is None or newest.taken_at is None:
        return None
    if not (before.marks_known and newest.marks_known) or dict(before.settings) == dict(newest.settings):
        return None
    since = newest.turned_at or before.last_at
    come = 1.0 - 10.0 ** (-(newest.taken_at - since) / minutes)
    return None if come > COME - _ROUNDING else Settling("change", since + minutes)


def _drift(assessment: Assessment) -> Settling | None:
    """A rise or fall that is more than noise, until it is as slow as a steady grate's."""
    drift, last_at = assessment.surface.drift_c_per_min(), assessment.surface.spots.last_at
    if drift is None or last_at is None:
        return None
    per_minute_c, std_c = drift
    if abs(per_minute_c) < max(STEADY_C_PER_MIN, 2 * std_c):
        return None
    # 90 % of a change takes ln 10 of the time constant.
    time_constant_min = assessment.model.minutes_of_change / math.log(10.0)
    minutes = time_constant_min * math.log(abs(per_minute_c) / STEADY_C_PER_MIN)
    cause: Cause = "rising" if per_minute_c > 0 else "falling"
    return Settling(cause, last_at + timedelta(minutes=minutes), per_minute_c)


def lid_back(assessment: Assessment) -> Settling | None:
    """Return when a grate that cooled under a lifted lid is back to what its map shows, the lid closed again."""
    spots, since_lid_c = assessment.surface.spots, assessment.surface.lid_drop_c()
    if spots.last_at is None or since_lid_c > -LID_SHOWS_C:
        return None
    usual_c, usual_last_c = float(spots.lid_drop_c(0.0)), float(spots.lid_drop_c(float(spots.minutes.max())))
    times = usual_last_c / usual_c
    if -since_lid_c * (times - 1.0) < LID_MATTERS_C:
        return None
    return Settling("lid", spots.last_at + timedelta(seconds=LID_TIME_S * math.log(times)))
