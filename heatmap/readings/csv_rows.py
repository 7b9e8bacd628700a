"""One row of the readings file ⇄ `Reading`, by the columns a file has; and a file given the columns it lacks."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Sequence
from functools import cache
from typing import Any

from heatmap.errors import ReadingError
from heatmap.grill.grill import Grill
from heatmap.readings.csv_columns import Column, columns_for
from heatmap.readings.csv_lines import Header, is_content, split_row
from heatmap.readings.reading import Reading
from heatmap.readings.written import ROUNDED_MM
from heatmap.units import in_from_mm, mm_from_in

#: A label and coordinates in one row may differ by this much, where no other position is nearer.
SAME_PLACE_MM = mm_from_in(0.5)
#: A written label stands for its place up to this; farther off, the coordinates are written instead.
_AT_LABEL_MM = 0.01
#: What a pure withdrawal says; everything else belongs to a reading.
_OF_A_WITHDRAWAL = {"id", "round", "session", "taken_at", "position", "void", "note", "key"}
_OF_A_TURN = {"id", "round", "session", "taken_at", "aim", "knobs", "note", "key"}


class Rows:
    """Turns the rows of a file with this header into readings, and readings into rows."""

    def __init__(self, header: Header, grill: Grill) -> None:
        """Find the columns that have a meaning."""
        self.header, self.grill = header, grill
        self.table = columns_for(grill, decimal_comma=header.decimal_comma)
        self._point_mm, self._nearest = cache(grill.point_mm), cache(self._nearest_label)
        # A number that could stand in two columns is written in the grill's units where the file has that column.
        known = [(index, self.table[key]) for index, key in enumerate(header.keys) if key in self.table]
        self._written: dict[tuple[str, str], tuple[int, Column]] = {}
        for index, column in sorted(known, key=lambda one: not one[1].wanted):
            self._written.setdefault((column.field, column.burner), (index, column))

    def number(self, cells: dict[str, str], counted: int) -> int:
        """Return the id of a row; what it counts as where none is written."""
        return int(self.table["id"].read(cells["id"])) if "id" in cells else counted

    def reading(self, cells: dict[str, str], number: int) -> Reading:
        """Return the reading of one row; `number` is its id when it has none of its own.

        Raises
        ------
        ReadingError
            What is wrong with the row.
        """
        turned = cells.get("aim", "").casefold() == "turned"
        if turned and not cells.keys().isdisjoint(("shown_f", "shown_c")):
            raise ReadingError("aim is turned, and a number was shown; keep one: a turn of knobs is no reading")
        if cells.keys().isdisjoint(("shown_f", "shown_c", "void")) and not turned:
            raise ReadingError("it has no temperature; write what the gun showed, or delete the row")
        values: dict[str, Any] = {"id": number}
        knobs: dict[str, float] = {}
        held: dict[str, str] = {}
        for header, text in cells.items():
            column = self.table.get(header)
            if column is None:
                continue
            if column.burner:
                knobs[column.burner] = column.read(text)
            elif column.field in held:
                raise ReadingError(f"{held[column.field]} and {header} are both filled; keep the one that is right")
            else:
                held[column.field] = header
                values[column.field] = column.read(text)
        position, x_mm, y_mm = self._place(values, held)
        values |= {"position": position, "x_mm": x_mm, "y_mm": y_mm}
        return Reading(**values, knobs=knobs)

    def _place(self, values: dict[str, Any], held: dict[str, str]) -> tuple[str, float, float]:
        label, x_mm, y_mm = (values.get(field) for field in ("position", "x_mm", "y_mm"))
        if (x_mm is None) != (y_mm is None):
            raise ReadingError("x and y must both be filled, or neither")
        if label:
            if x_mm is not None and y_mm is not None:
                near = self._is_within(SAME_PLACE_MM, label, x_mm, y_mm)
                if not near or label != self._nearest(x_mm, y_mm):
                    raise ReadingError(f"position {label} and x, y are different places; keep the one that is right")
            return label, *self._point_mm(label)
        if x_mm is None or y_mm is None:
            if "shown_c" in values:
                raise ReadingError("it does not say where; fill position, or x and y")
            return "", 0.0, 0.0
        for field, value_mm, size_mm in zip(("x_mm", "y_mm"), (x_mm, y_mm), self.grill.grate.extent_mm, strict=True):
            if not -1e-6 <= value_mm <= size_mm + 1e-6:
                inches = held[field].endswith("_in")
                value, size = (in_from_mm(one) if inches else one for one in (value_mm, size_mm))
                raise ReadingError(f"{held[field]} is {value:g}, off the grate; it goes from 0 to {size:g}")
        if self.grill.grate.is_round and self.grill.grate.edge_distance_mm([(x_mm, y_mm)])[0] < -ROUNDED_MM:
            raise ReadingError("x, y is off the round grate; measure from its leftmost and its nearest edge")
        nearest = self._nearest(x_mm, y_mm)
        return nearest if self._is_within(ROUNDED_MM, nearest, x_mm, y_mm) else "", x_mm, y_mm

    def _is_within(self, most_mm: float, label: str, x_mm: float, y_mm: float) -> bool:
        label_x_mm, label_y_mm = self._point_mm(label)
        return max(abs(x_mm - label_x_mm), abs(y_mm - label_y_mm)) <= most_mm

    def _nearest_label(self, x_mm: float, y_mm: float) -> str:
        return min(self.grill.labels, key=lambda label: math.dist(self._point_mm(label), (x_mm, y_mm)))

    def line(self, reading: Reading) -> str:
        """Return the row of a reading with its line end; a cell is empty where the reading says nothing about it."""
        at_label = reading.position in self.grill.labels and self._is_within(
            _AT_LABEL_MM, reading.position, *reading.point_mm
        )
        silent = {"x_mm", "y_mm"} if at_label else {"position"}
        told = _OF_A_TURN if reading.aim == "turned" and reading.void is None else _OF_A_WITHDRAWAL
        knobs = {self.grill.burner(name).name: mark for name, mark in reading.knobs.items()}
        cells = [""] * len(self.header.names)
        for index, column in self._written.values():
            if column.field in silent or (reading.shown_c is None and column.field not in told):
                continue
            value = knobs.get(column.burner) if column.burner else getattr(reading, column.field)
            cells[index] = "" if value is None else column.write(value)
        return self.header.row(cells)


def with_columns(lines: Sequence[str], missing: Sequence[str], delimiter: str) -> list[str]:
    """Return the lines of a file with columns added at the right; every row says what it said, sound or not.

    Rows without an id get the number they counted as. Where rows have cells beyond the header it gets columns without a
    name. A line that cannot be taken apart stays as it is.

    Parameters
    ----------
    lines : sequence of str
        Without their line ends.
    missing : sequence of str
    delimiter : str
    """
    rows: dict[int, tuple[int, str, int]] = {}  # by line: what it counts as, the header as 0; its text; its cells
    number = 0
    for index, line in enumerate(lines):
        if is_content(line):
            with contextlib.suppress(ReadingError):
                text = line.rstrip(delimiter)
                cells = split_row(text, delimiter)
                if not any(map(str.strip, cells)):
                    continue
                rows[index] = (number, text, len(cells))
            number += 1
    width = max(count for _, _, count in rows.values())
    widened = list(lines)
    for index, (number, text, count) in rows.items():
        own = [str(number) if name == "id" else "" for name in missing] if number else missing
        widened[index] = delimiter.join([text, *[""] * (width - count), *own])
    return widened
