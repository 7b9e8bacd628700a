"""What a round being taken hears besides a typed line, and what it asks to be done."""

from __future__ import annotations

from dataclasses import dataclass

from heatmap.readings.reading import Reading
from heatmap.readings.typed import Done, Help, OverRange, Shot, Typed


@dataclass(frozen=True, slots=True, kw_only=True)
class Shots:
    """What came from the port at one go, in order."""

    items: tuple[Shot | OverRange, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Write `new` down, then withdraw `old`; then call `Session.done`, or `Session.lost` when that fails."""

    new: tuple[Reading, ...] = ()
    old: tuple[Reading, ...] = ()
    why: str = "undo"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tell:
    """Show a line, where there is one; sound the bell once for kept, twice for "shoot again"."""

    text: str = ""
    rings: int = 0


#: That the round is over and that help is asked for goes on to whoever runs the session.
Effect = Change | Tell | Done | Help
Event = Typed | Shots
