"""Bytes → lines. Only a line whose end has arrived counts; where the bytes were cut does not matter.

A line that was being sent while the port was opened arrives without its beginning: "585.2" becomes "5.2".
So the first line after opening counts only when the port was silent at first and no line had been cut off, or when it
looks like a line known to be whole.
"""

import re
from dataclasses import dataclass

from heatmap.errors import shortened

#: A gun's line is a few tens of bytes (common practice, no source); what is longer is noise or a wrong speed.
LIMIT = 200

_ENDS = re.compile(rb"[\r\n]")
_DIGITS = re.compile(r"[0-9]")

#: A gun has a handful of ways to write a line; noise must not fill the memory.
_MOST_SHAPES = 1000


@dataclass(frozen=True, slots=True)
class Rejected:
    """A line that is no reading: what arrived (printable, and shortened where it is noise) and why."""

    text: str
    why: str


class LineAssembler:
    """Puts lines together from pieces; blank lines are passed over, one longer than `LIMIT` bytes is rejected whole."""

    def __init__(self) -> None:
        """Start with nothing received, at the beginning of a line."""
        self._tail = b""  # of a line that is too long no more than shows it
        self._doubtful = False
        self._shapes: set[str] = set()

    def restart(self, *, mid_line: bool) -> list[Rejected]:
        """Forget what is not a whole line and return it: the port was opened (again).

        Parameters
        ----------
        mid_line : bool
            Whether the next bytes may be the rest of a line whose beginning was missed; so they may also be where the
            line before was cut off.
        """
        lost, self._tail = self._tail, b""
        self._doubtful = mid_line or bool(lost)
        return [Rejected(_printable(lost), "cut off: the connection ended in the middle of it")] if lost else []

    def feed(self, data: bytes) -> list[str | Rejected]:
        """Take the next bytes and return the lines they finish, in order."""
        *finished, self._tail = (piece[: LIMIT + 1] for piece in _ENDS.split(self._tail + data))
        return [line for raw in finished if (line := self._finished(raw))]

    def _finished(self, raw: bytes) -> str | Rejected:
        """Return what came up to a line end; nothing of a blank line."""
        # An end was seen, so what follows starts at its beginning.
        doubtful, self._doubtful = self._doubtful, False
        text = raw.decode("latin-1").strip(" \t")
        if len(raw) > LIMIT:
            return Rejected(_printable(raw), f"longer than {LIMIT} bytes; is the speed (--baud) right?")
        if not (text.isascii() and text.replace("\t", " ").isprintable()):
            return Rejected(_printable(raw), "not plain ASCII text; is the speed (--baud) right?")
        shape = _DIGITS.sub("9", text)
        if text and doubtful and shape not in self._shapes:
            return Rejected(text, "its beginning may be missing: the port had just been opened")
        if len(self._shapes) < _MOST_SHAPES:
            self._shapes.add(shape)
        return text


def _printable(raw: bytes) -> str:
    return shortened(raw.decode("ascii", "backslashreplace"), 60)
