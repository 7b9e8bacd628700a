"""What is said of waits: knobs turned, how long their change takes, a round begun too soon."""

from __future__ import annotations

import math
from datetime import datetime, timedelta


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
