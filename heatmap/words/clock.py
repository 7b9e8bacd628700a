"""What is said of waits: knobs turned, how long their change takes, a round begun too soon; the turns of a sear."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

SPACE_STARTS = "Space starts it, q ends."
SECONDS_OVER = "seconds over. Space when it is done."
HOW_DID_IT_COME_OUT = "How did it come out? Its peak, or under, right, over; Enter: only the seconds; n: nothing:"
HOW_TO_SAY_IT = "a temperature, under, right, over, n, or only Enter"


def then_text(following: str) -> str:
    """Say what is done when a turn is over."""
    return f"Then {following}. Space when that is sooner."


def done_sentence(seconds: Sequence[float]) -> str:
    """Say how long each turn was."""
    return f"Done: {' '.join(f'{one:g}' for one in seconds)} s."


def clock_text(moment: datetime) -> str:
    """Return a time of day here: 14:37."""
    return f"{moment.astimezone():%H:%M}"


def left_text(left: timedelta) -> str:
    """Return a time left as a clock counts it down: 12:05."""
    seconds = max(0, math.ceil(left.total_seconds()))
    return f"{seconds // 60}:{seconds % 60:02d}"


def turned_sentence(marks: str, at: datetime, until: datetime) -> str:
    """Say what was turned, and until when its change comes."""
    what = f": {marks}" if marks else ""
    return f"Turned at {clock_text(at)}{what}. The change has come by {clock_text(until)}."


def too_soon_sentence(left: timedelta) -> str:
    """Say that a round is begun before a change has come; nothing when it has."""
    minutes = left.total_seconds() / 60.0
    if minutes <= 0.5:
        return ""
    return f"{minutes:.0f} min too soon: this round counts the turn only as far as its change has come."
