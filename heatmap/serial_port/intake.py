"""Chunks from a port → readings; whatever is none is told and counted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from heatmap.readings.typed import OverRange
from heatmap.serial_port.lines import LineAssembler, Rejected
from heatmap.serial_port.parse import PortItem
from heatmap.serial_port.port import Chunk
from heatmap.serial_port.settle import Settler


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
        #: How many lines were no readings.
        self.rejected = 0
        self._lines = LineAssembler()

    def feed(self, chunk: Chunk, at_s: float = 0.0) -> list[PortItem]:
        """Take what one read brought, at a time on a clock that does not jump; return what it completes."""
        lines: list[str | Rejected] = []
        if chunk.opened:
            lines += self._lines.restart(mid_line=chunk.mid_line)
            self.next_place()
        lines += self._lines.feed(chunk.data)
        read = (self._settled(self.parse(line) if isinstance(line, str) else line, at_s) for line in lines)
        items = [item for item in read if item is not None]
        self.rejected += sum(isinstance(item, Rejected) for item in items)
        return items

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
