"""One row of the readings file ⇄ `Reading`, by the columns a file has; and a file given the columns it lacks."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import Any

from heatmap.errors import ReadingError
from heatmap.grill.grill import Grill, Point
from heatmap.readings.csv_columns import Column, column_key, columns_for
from heatmap.readings.csv_lines import Dialect, is_content, join_row, split_row
from heatmap.readings.reading import Reading
from heatmap.readings.written import ROUNDED_MM
from heatmap.units import in_from_mm, mm_from_in

#: A label and coordinates in one row may differ by this much, or by half the way to the next position.
SAME_PLACE_MM = mm_from_in(0.5)
#: A written label stands for its place up to this; farther off, the coordinates are written instead.
_AT_LABEL_MM = 0.01
#: What a pure withdrawal says; everything else belongs to a reading.
_OF_A_WITHDRAWAL = {"id", "round", "session", "taken_at", "position", "void", "note", "key"}
_OF_A_TURN = {"id", "round", "session", "taken_at", "aim", "knobs", "note", "key"}


class Rows:
    """Turns the rows of a file with this header into readings, and readings into rows.

    Parameters
    ----------
    header : sequence of str
    grill : Grill
    dialect : Dialect
    """

    def __init__(self, header: Sequence[str], grill: Grill, dialect: Dialect) -> None:
        """Find the columns that have a meaning; those without a name hold no more than empty cells."""
        self.header, self.grill, self.dialect = tuple(header), grill, dialect
        self.table = columns_for(grill, dialect)
        self.keys = [column_key(name) for name in header]
        self._known = [(index, self.table[key]) for index, key in enumerate(self.keys) if key in self.table]
        self._nameless = [index for index, name in enumerate(header) if not name]
        self._labels, self._point_mm = frozenset(grill.labels), cache(grill.point_mm)
        self._label_at = cache(self._label_found_at)
        # A number that could stand in two columns is written in the grill's units where the file has that column.
        self._written: dict[int, Column] = {}
        for index, column in sorted(self._known, key=lambda known: not known[1].wanted):
            held = {(other.field, other.burner) for other in self._written.values()}
            if (column.field, column.burner) not in held:
                self._written[index] = column

    def cells(self, line: str) -> dict[str, str] | None:
        """Return the cells of a line that say something by their column, or None for a row of empty cells.

        Raises
        ------
        ReadingError
            More cells than columns, or quotes that do not match.
        """
        fields = split_row(line, self.dialect.delimiter)
        count, named = len(fields), len(self.header)
        nameless = [*fields[named:], *(fields[index] for index in self._nameless if index < count)]
        if any(map(str.strip, nameless)):
            comma = "; decimal commas need ; between the columns" if self.dialect.delimiter == "," else ""
            raise ReadingError(f"it has {count} cells, the header names {named} columns{comma}")
        said = {
            column.header: text for index, column in self._known if index < count and (text := fields[index].strip())
        }
        return said if said or any(map(str.strip, fields)) else None

    def whole(self, cells: dict[str, str], header: str, default: int) -> int:
        """Return the whole number in a cell, or the default where nothing is said."""
        return int(self.table[header].read(cells[header])) if header in cells else default

    def reading(self, cells: dict[str, str], line: int, number: int) -> Reading:
        """Return the reading of one row; `number` is its id when it has none of its own.

        Raises
        ------
        ReadingError
            What is wrong with the row.
        """
        turned = cells.get("aim", "").strip().casefold() == "turned"
        if turned and not cells.keys().isdisjoint(("shown_f", "shown_c")):
            raise ReadingError("aim is turned, and a number was shown; keep one: a turn of knobs is no reading")
        if cells.keys().isdisjoint(("shown_f", "shown_c", "void")) and not turned:
            raise ReadingError("it has no temperature; write what the gun showed, or delete the row")
        values: dict[str, Any] = {"id": number}
        knobs: dict[str, float] = {}
        held: dict[str, str] = {}
        for header, text in cells.items():
            column = self.table[header]
            if column.burner:
                knobs[column.burner] = column.read(text)
            elif column.field in held:
                raise ReadingError(f"{held[column.field]} and {header} are both filled; keep the one that is right")
            else:
                held[column.field] = header
                values[column.field] = column.read(text)
        position, x_mm, y_mm = self._place(values, held)
        values |= {"position": position, "x_mm": x_mm, "y_mm": y_mm}
        return Reading(**{"shown_c": None} | values, knobs=knobs, line=line)

    def _place(self, values: dict[str, Any], held: dict[str, str]) -> tuple[str, float, float]:
        label, x_mm, y_mm = (values.get(field) for field in ("position", "x_mm", "y_mm"))
        if (x_mm is None) != (y_mm is None):
            raise ReadingError("x and y must both be filled, or neither")
        if label:
            point_mm = self._point_mm(label)
            if x_mm is not None and y_mm is not None:
                self._check_same_place(label, point_mm, x_mm, y_mm)
            return label, *point_mm
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
        return self._label_at(x_mm, y_mm), x_mm, y_mm

    def _check_same_place(self, label: str, point_mm: Point, x_mm: float, y_mm: float) -> None:
        grate, positions = self.grill.grate, self.grill.positions
        steps = (
            (grate.width_mm - 2 * positions.margin_mm) / max(1, positions.columns - 1),
            (grate.depth_mm - 2 * positions.margin_mm) / max(1, positions.rows - 1),
        )
        if max(abs(x_mm - point_mm[0]), abs(y_mm - point_mm[1])) > min(SAME_PLACE_MM, 0.5 * min(steps)):
            raise ReadingError(f"position {label} and x, y are different places; keep the one that is right")

    def _label_found_at(self, x_mm: float, y_mm: float) -> str:
        """Return the label of the position here, up to the rounding of written coordinates, or ""."""
        for label in self.grill.labels:
            label_x_mm, label_y_mm = self._point_mm(label)
            if abs(x_mm - label_x_mm) <= ROUNDED_MM and abs(y_mm - label_y_mm) <= ROUNDED_MM:
                return label
        return ""

    def line(self, reading: Reading) -> str:
        """Return the row of a reading with its line end; a cell is empty where the reading says nothing about it."""
        silent = {"x_mm", "y_mm"} if self._stands_at_label(reading) else {"position"}
        told = _OF_A_TURN if reading.aim == "turned" and reading.void is None else _OF_A_WITHDRAWAL
        knobs = {self.grill.burner(name).name: mark for name, mark in reading.knobs.items()}
        cells = [""] * len(self.header)
        for index, column in self._written.items():
            if column.field in silent or (reading.shown_c is None and column.field not in told):
                continue
            value = knobs.get(column.burner) if column.burner else getattr(reading, column.field)
            cells[index] = "" if value is None else column.write(value)
        return join_row(cells, self.dialect)

    def _stands_at_label(self, reading: Reading) -> bool:
        if reading.position not in self._labels:
            return False
        x_mm, y_mm = self._point_mm(reading.position)
        return math.dist((x_mm, y_mm), reading.point_mm) <= _AT_LABEL_MM


def with_columns(lines: Sequence[str], header: int, missing: Sequence[str], dialect: Dialect) -> list[str]:
    """Return the lines of a file with columns added at the right; every row says what it said, sound or not.

    Rows without an id get the number they counted as. Cells beyond the header go where they are empty; for others the
    header gets columns without a name. A line that cannot be taken apart stays as it is.

    Parameters
    ----------
    lines : sequence of str
        Without their line ends.
    header : int
        Index of the header among them.
    missing : sequence of str
    dialect : Dialect
    """
    named = len(split_row(lines[header], dialect.delimiter))
    rows: dict[int, tuple[int, list[str]]] = {}  # by line: what it counts as, its cells
    number = 0
    for index in range(header + 1, len(lines)):
        if is_content(lines[index]):
            with contextlib.suppress(ReadingError):
                cells = split_row(lines[index], dialect.delimiter)
                if not any(map(str.strip, cells)):
                    continue
                rows[index] = (number + 1, cells)
            number += 1
    filled = [at for _, cells in rows.values() for at, cell in enumerate(cells, 1) if cell.strip()]
    width = max([named, *filled])
    widened = list(lines)
    widened[header] = dialect.delimiter.join([lines[header], *[""] * (width - named), *missing])
    for index, (number, cells) in rows.items():
        own = [str(number) if name == "id" else "" for name in missing]
        row = lines[index]
        if len(cells) > width:
            row = join_row(cells[:width], replace(dialect, newline=""))
        widened[index] = dialect.delimiter.join([row, *[""] * (width - len(cells)), *own])
    return widened
