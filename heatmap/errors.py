"""Everything that can go wrong on purpose, as one family; and how a message shows what was given.

::

    HeatmapError                 the base: one plain line, never a traceback
    ├── InputError               what was given cannot be used
    │   ├── GrillError           the grill file, or a value meant for it
    │   └── ReadingError         a reading, a row or a whole readings file
    ├── MapError                 the readings are fine but no map can be made of them
    ├── LogError                 a reading could not be written down
    └── PortError                the serial port

A message says what, where, what was allowed and what to do.
"""

from __future__ import annotations


def escaped(text: str) -> str:
    """Return text safe to show in one line: control and odd characters as they are written in code."""
    return "".join(char if char.isprintable() else ascii(char)[1:-1] for char in text)


def shortened(text: str, limit: int = 80) -> str:
    """Return text as :func:`escaped`, cut where it is long."""
    safe = escaped(text)
    return safe if len(safe) <= limit else f"{safe[: limit - 1]}…"


def quoted(text: str, limit: int = 40) -> str:
    """Return text as :func:`shortened`, in quotes."""
    return f'"{shortened(text, limit)}"'


class HeatmapError(Exception):
    """Something gratemap can explain in one line."""


class InputError(HeatmapError):
    """What was given cannot be used."""


class GrillError(InputError):
    """The description of the grill is missing something or out of range; `also` holds what else is wrong with it."""

    also: tuple[GrillError, ...] = ()


class ReadingError(InputError):
    """A reading, a row or a whole readings file cannot be understood."""


class MapError(HeatmapError):
    """The readings are fine, but they are too few or too alike in place for a map."""


class LogError(HeatmapError):
    """A reading could not be written to the log."""


class PortError(HeatmapError):
    """The serial port cannot be opened or has gone."""
