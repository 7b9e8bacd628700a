"""Chunks from a port → readings, with everything counted and nothing swallowed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from heatmap.serial_port.lines import BadLine, LineAssembler
from heatmap.serial_port.parse import PortItem, PortOverRange, PortReading, Rejected
from heatmap.serial_port.port import Chunk
from heatmap.serial_port.settle import Settler


@dataclass(slots=True)
class Counts:
    """What has arrived: every line is a reading, out of range, rejected, or part of a stream."""

    lines: int = 0
    readings: int = 0
    over_range: int = 0
    rejected: int = 0
    streamed: int = 0


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
        self.counts = Counts()
        self._lines = LineAssembler()

    def feed(self, chunk: Chunk, at_s: float = 0.0) -> list[PortItem]:
        """Take what one read brought, at a time on a clock that does not jump; return what it completes."""
        items: list[PortItem] = []
        if chunk.opened:
            items += [self._bad(bad) for bad in self._lines.restart(mid_line=chunk.mid_line)]
            self.next_place()
        for line in self._lines.feed(chunk.data):
            item = self._bad(line) if isinstance(line, BadLine) else self._read(line.text, at_s)
            if item is not None:
                items.append(item)
        return items

    def next_place(self) -> None:
        """The gun is on another place now; only matters for guns that stream."""
        if self.settler is not None:
            self.settler.next_place()

    def _bad(self, bad: BadLine) -> Rejected:
        self.counts.lines += 1
        self.counts.rejected += 1
        return Rejected(text=bad.text, why=bad.why)

    def _read(self, text: str, at_s: float) -> PortItem | None:
        self.counts.lines += 1
        item = self.parse(text)
        if isinstance(item, Rejected):
            self.counts.rejected += 1
        elif isinstance(item, PortOverRange):
            self.counts.over_range += 1
            self.next_place()
        else:
            return self._settled(item, at_s)
        return item

    def _settled(self, item: PortReading, at_s: float) -> PortReading | None:
        if self.settler is None:
            self.counts.readings += 1
            return item
        shown_c = self.settler.feed(at_s, item.shown_c, item.position)
        if shown_c is None:
            self.counts.streamed += 1
            return None
        self.counts.readings += 1
        return PortReading(shown_c=shown_c, position=item.position, text=item.text)
