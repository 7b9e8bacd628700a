"""What a round being taken hears besides a typed line, and what it asks to be done."""

from __future__ import annotations

from dataclasses import dataclass

from heatmap.readings.reading import Reading
from heatmap.readings.typed import OverRange, Shot, Typed


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
    """Show a line."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """Sound the bell: once for kept, twice for "shoot again"."""

    times: int


@dataclass(frozen=True, slots=True)
class ShowHelp:
    """Show what can be typed."""


@dataclass(frozen=True, slots=True)
class End:
    """The round is over."""


Effect = Change | Tell | Ring | ShowHelp | End
Event = Typed | Shots
