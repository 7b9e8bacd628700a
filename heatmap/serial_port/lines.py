"""Bytes → lines. Only a line whose end has arrived counts; where the bytes were cut does not matter.

A line that was being sent while the port was opened arrives without its beginning: "585.2" becomes "5.2".
So the first line after opening counts only when the port was silent at first and no line had been cut off, or when it
looks like lines known to be whole.
"""

import re
from dataclasses import dataclass

from heatmap.errors import shortened

#: A gun's line is a few tens of bytes (common practice, no source); what is longer is noise or a wrong speed.
LIMIT = 200

_ENDS = re.compile(rb"[\r\n]")
_DIGITS = re.compile(r"[0-9]")
_HEADLESS = "its beginning may be missing: the port had just been opened"

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
        self._held: str | None = None
        self._shapes: set[str] = set()

    def restart(self, *, mid_line: bool) -> list[Rejected]:
        """Forget what is not a whole line and return it: the port was opened (again).

        Parameters
        ----------
        mid_line : bool
            Whether the next bytes may be the rest of a line whose beginning was missed; so they may also be where the
            line before was cut off.
        """
        lost = [Rejected(self._held, _HEADLESS)] if self._held is not None else []
        self._doubtful = mid_line or bool(self._tail)
        if self._tail:
            lost.append(Rejected(_printable(self._tail), "cut off: the connection ended in the middle of it"))
        self._tail, self._held = b"", None
        return lost

    def feed(self, data: bytes) -> list[str | Rejected]:
        """Take the next bytes and return the lines they finish, in order."""
        *finished, self._tail = (piece[: LIMIT + 1] for piece in _ENDS.split(self._tail + data))
        return [line for raw in finished for line in self._finished(raw)]

    def _finished(self, raw: bytes) -> list[str | Rejected]:
        # An end was seen, so what follows starts at its beginning.
        doubtful, self._doubtful = self._doubtful, False
        text = raw.decode("latin-1").strip(" \t")
        if len(raw) > LIMIT:
            return [Rejected(_printable(raw), f"longer than {LIMIT} bytes; is the speed (--baud) right?")]
        if not (text.isascii() and text.replace("\t", " ").isprintable()):
            return [Rejected(_printable(raw), "not plain ASCII text; is the speed (--baud) right?")]
        return self._judged(text, doubtful) if text else []

    def _judged(self, text: str, doubtful: bool) -> list[str | Rejected]:
        """Let a whole line pass; hold a doubtful one until the next shows what whole lines look like."""
        shape = _DIGITS.sub("9", text)
        if doubtful and shape not in self._shapes:
            if self._shapes:
                return [Rejected(text, _HEADLESS)]
            self._held = text
            return []
        held, self._held = self._held, None
        if len(self._shapes) < _MOST_SHAPES:
            self._shapes.add(shape)
        if held is None:
            return [text]
        first = held if _DIGITS.sub("9", held) == shape else Rejected(held, _HEADLESS)
        return [first, text]


def _printable(raw: bytes) -> str:
    return shortened(raw.decode("ascii", "backslashreplace"), 60)
