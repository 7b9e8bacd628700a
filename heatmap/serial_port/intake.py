"""Chunks from a port → readings; whatever is none is told and counted.

From a gun that streams a reading is taken when the stream has been steady, the next at another place. On the way from
one rail to another the spot runs over valleys and edges, so the stream jumps; that, a pause of the stream (the trigger
was let go) or another position in the line is a change of place. A slow drift while the gun is held still is none. Time
comes in as an argument.
"""

from collections import deque
from collections.abc import Callable
from dataclasses import replace
from statistics import median

from heatmap.errors import ReadingError
from heatmap.grill.grill import Gun
from heatmap.readings.typed import OverRange
from heatmap.serial_port.lines import LineAssembler, Rejected
from heatmap.serial_port.parse import PortItem
from heatmap.serial_port.port import Chunk

#: A run of n normal readings spans about four standard deviations for n near 25 (factor d2 of control charts:
#: 3.93 at n = 25; ISO 7870-2, from memory).
SPAN_IN_SD = 4.0

#: Fewer readings than this cannot be called steady.
FEWEST = 3

#: A stream that pauses this long has been switched off in between (common practice, no source).
PAUSE_S = 1.0

#: A hand takes longer than this from one position to the next; a shorter jump is a wobble (common practice,
#: no source).
SHORTEST_WAY_S = 0.4


class Settler:
    """Watches a stream and says when a reading may be taken from it.

    Parameters
    ----------
    steady_s : float
        How long the stream must have been steady.
    gun : Gun
        Its repeatability and display step say how far apart readings of one place are.
    """

    def __init__(self, steady_s: float, gun: Gun) -> None:
        """Wait for the first place."""
        if not 0.1 <= steady_s <= 60.0:
            raise ReadingError(f"--settle is {steady_s:g}; it must be from 0.1 to 60 seconds")
        self.steady_s, self.gun = steady_s, gun
        self._run: deque[tuple[float, float]] = deque()  # time and °C, steady among themselves
        self._position = ""
        self._here_c: float | None = None  # what the place that was taken last shows; None before the first
        self._left_s: float | None = None  # when the stream left that place

    def next_place(self) -> None:
        """Begin anew: the cook says that the gun is on another place."""
        self._run.clear()
        self._here_c = self._left_s = None

    def feed(self, at_s: float, shown_c: float, position: str = "") -> float | None:
        """Take the next value of the stream.

        Parameters
        ----------
        at_s : float
            When, on any clock that does not jump.
        shown_c : float
        position : str
            If the line names one.

        Returns
        -------
        float or None
            The reading in °C (median of the steady time) at the moment it may be taken.
        """
        paused = bool(self._run) and at_s - self._run[-1][0] > max(PAUSE_S, self.steady_s)
        if position != self._position or paused:
            self.next_place()
        self._position = position
        self._run.append((at_s, shown_c))
        jumped = self._drop_unsteady()
        if self._here_c is not None and self._left_s is None:  # on a place that was taken
            if jumped:
                self._left_s = at_s
                return None
            while len(self._run) > 1 and self._run[1][0] <= at_s - self.steady_s:
                self._run.popleft()
            self._here_c = self._median_c()  # its drift is followed
            return None
        since_s, _ = self._run[0]
        if len(self._run) < FEWEST or at_s - since_s < self.steady_s:
            return None
        steady_c, was_c, left_s = self._median_c(), self._here_c, self._left_s
        self._here_c, self._left_s = steady_c, None
        if was_c is None or left_s is None:
            return steady_c
        # A gun that was away too briefly to be elsewhere, and shows the same again, only wobbled.
        elsewhere = since_s - left_s >= SHORTEST_WAY_S or abs(steady_c - was_c) > self._span_c()
        return steady_c if elsewhere else None

    def _median_c(self) -> float:
        return median(shown_c for _, shown_c in self._run)

    def _span_c(self) -> float:
        """How far apart readings of one place may be, °C."""
        repeatability_c = self.gun.repeatability_percent / 100.0 * abs(self._run[-1][1])
        return SPAN_IN_SD * repeatability_c + 2.0 * self.gun.display_step_c

    def _drop_unsteady(self) -> bool:
        """Drop from the front what does not fit the newest value; tell whether that was a jump."""
        span_c, newest_s, count = self._span_c(), self._run[-1][0], len(self._run)
        while max(v for _, v in self._run) - min(v for _, v in self._run) > span_c:
            self._run.popleft()
        return len(self._run) < count and newest_s - self._run[0][0] < 0.5 * self.steady_s


class Intake:
    """Lines, parser and, for guns that stream, the wait for a steady value, in a row.

    Parameters
    ----------
    parse : callable
        From :func:`heatmap.serial_port.parse.line_parser`.
    settler : Settler, optional
        For guns that stream continuously; without it each line is one reading.
    """

    def __init__(self, parse: Callable[[str], PortItem], settler: Settler | None = None) -> None:
        """Start with nothing received."""
        self.parse, self.settler = parse, settler
        self._lines = LineAssembler()

    def feed(self, chunk: Chunk, at_s: float = 0.0) -> list[PortItem]:
        """Take what one read brought, at a time on a clock that does not jump; return what it completes."""
        lines: list[str | Rejected] = []
        if chunk.opened:
            lines += self._lines.restart(mid_line=chunk.mid_line)
            self.next_place()
        lines += self._lines.feed(chunk.data)
        read = (self._settled(self.parse(line) if isinstance(line, str) else line, at_s) for line in lines)
        return [item for item in read if item is not None]

    def next_place(self) -> None:
        """The gun is on another place now; only matters for guns that stream."""
        if self.settler is not None:
            self.settler.next_place()

    def _settled(self, item: PortItem, at_s: float) -> PortItem | None:
        """Return an item of a stream when it may be taken; a word for "out of range" ends its place."""
        if isinstance(item, OverRange):
            self.next_place()
        if self.settler is None or isinstance(item, OverRange | Rejected):
            return item
        shown_c = self.settler.feed(at_s, item.shown_c, item.position)
        return None if shown_c is None else replace(item, shown_c=shown_c)
