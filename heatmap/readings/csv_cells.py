"""`Reading` → cells of a row, in the columns and the units a file has."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, tzinfo

from heatmap.errors import ReadingError
from heatmap.grill.grill import Grill, burner_key
from heatmap.readings.csv_lines import Dialect, is_content, join_row, split_row
from heatmap.readings.csv_rows import COLUMNS, column_key
from heatmap.readings.reading import Reading
from heatmap.units import f_from_c, in_from_mm

_LENGTHS, _DEGREES = ("in", "mm"), ("f", "c")

#: A written label stands for its place up to this; farther off, the coordinates are written instead.
_AT_LABEL_MM = 0.01


def missing_columns(columns: Sequence[str], grill: Grill) -> tuple[str, ...]:
    """Return the columns a reading may need and a file with these columns lacks, in the grill's units."""
    there = {column_key(column) for column in columns}
    own_units = {"in", "f"} if grill.units == "us" else {"mm", "c"}
    wanted: list[str] = []
    for name in COLUMNS:
        stem, _, unit = name.rpartition("_")
        kinds = next((kind for kind in (_LENGTHS, _DEGREES) if unit in kind), None)
        if name == "void":
            wanted += [f"knob_{burner_key(b.name)}" for b in grill.burners if b.control != "none"]
        if kinds is None or (unit in own_units and not any(f"{stem}_{kind}" in there for kind in kinds)):
            wanted.append(name)
    return tuple(name for name in wanted if name not in there)


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
    width = max([named, *(_filled(cells) for _, cells in rows.values())])
    widened = list(lines)
    widened[header] = dialect.delimiter.join([lines[header], *[""] * (width - named), *missing])
    for index, (number, cells) in rows.items():
        own = [str(number) if name == "id" else "" for name in missing]
        row = lines[index]
        if len(cells) > width:
            row = join_row(cells[:width], replace(dialect, newline=""))
        widened[index] = dialect.delimiter.join([row, *[""] * (width - len(cells)), *own])
    return widened


def _filled(cells: Sequence[str]) -> int:
    """Return how many cells there are up to the last that is not empty."""
    return max((at for at, cell in enumerate(cells, 1) if cell.strip()), default=0)


class CellWriter:
    """Turns readings into the cells of a file with these columns.

    Parameters
    ----------
    columns : sequence of str
    grill : Grill
    dialect : Dialect
    zone : tzinfo, optional
        Zone in which times are written; this computer's when left out.
    """

    def __init__(self, columns: Sequence[str], grill: Grill, dialect: Dialect, zone: tzinfo | None = None) -> None:
        """Choose the units: the grill's where the file has that column, else the file's."""
        self.keys = [column_key(column) for column in columns]
        self.grill, self.dialect, self.zone = grill, dialect, zone
        own = 0 if grill.units == "us" else 1
        self._degrees = self._unit("shown", ("f", "c"), own)
        self._lengths = {stem: self._unit(stem, ("in", "mm"), own) for stem in ("x", "y", "distance")}
        self._points = {label: grill.point_mm(label) for label in grill.labels}

    def _unit(self, stem: str, units: tuple[str, str], own: int) -> str:
        there = [unit for unit in units if f"{stem}_{unit}" in self.keys]
        return units[own] if units[own] in there or not there else there[0]

    def cells(self, reading: Reading) -> list[str]:
        """Return one cell for each column, empty where the reading says nothing about it."""
        cells = {
            "id": str(reading.id),
            "round": str(reading.round),
            "session": reading.session,
            "taken_at": time_text(reading.taken_at, self.zone) if reading.taken_at else "",
            "void": "" if reading.void is None else str(reading.void),
            "note": reading.note,
        }
        if self._stands_at_label(reading):
            cells["position"] = reading.position
        elif reading.shown_c is not None:
            cells |= self._length("x", reading.x_mm) | self._length("y", reading.y_mm)
        if reading.shown_c is not None:
            shown = f_from_c(reading.shown_c) if self._degrees == "f" else reading.shown_c
            cells[f"shown_{self._degrees}"] = number_text(shown, self.dialect)
            cells["aim"], cells["surface"], cells["lid"] = reading.aim, reading.surface, reading.lid
            if reading.distance_mm is not None:
                cells |= self._length("distance", reading.distance_mm)
            for name, mark in reading.knobs.items():
                cells[f"knob_{burner_key(name)}"] = self._mark(name, mark)
        return [cells.get(key, "") for key in self.keys]

    def _stands_at_label(self, reading: Reading) -> bool:
        x_mm, y_mm = self._points.get(reading.position, (math.inf, math.inf))
        return abs(x_mm - reading.x_mm) <= _AT_LABEL_MM and abs(y_mm - reading.y_mm) <= _AT_LABEL_MM

    def _length(self, stem: str, value_mm: float) -> dict[str, str]:
        unit = self._lengths[stem]
        value = in_from_mm(value_mm) if unit == "in" else value_mm
        return {f"{stem}_{unit}": number_text(value, self.dialect)}

    def _mark(self, name: str, mark: float) -> str:
        """Write a mark by its name where it has one."""
        burner = self.grill.burner(name)
        for known, at in zip(burner.marks, burner.settable if burner.marks else (), strict=True):
            if abs(at - mark) < 1e-9:
                return known
        return number_text(mark, self.dialect)


def number_text(value: float, dialect: Dialect) -> str:
    """Return a number as a person writes it, to a millionth."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    text = "0" if text == "-0" else text
    return text.replace(".", ",") if dialect.decimal_comma else text


def time_text(moment: datetime, zone: tzinfo | None = None) -> str:
    """Return a moment as local time with its offset, to a thousandth of a second."""
    return moment.astimezone(zone).isoformat(timespec="milliseconds")
