"""One row of the readings file → `Reading`.

What a cell means and what it may hold; the first thing wrong with a row is told in a sentence.
"""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from datetime import UTC, datetime, tzinfo
from typing import Literal, cast

from heatmap.errors import ReadingError
from heatmap.grill.grill import Burner, Grill, burner_key
from heatmap.readings.csv_lines import Dialect, split_row
from heatmap.readings.reading import AIMS, Aim, Reading
from heatmap.readings.written import (
    FARTHEST_MM,
    NEAREST_MM,
    OVER_RANGE_WORDS,
    ROUNDED_MM,
    TemperatureUnit,
    checked_temperature_c,
    locate,
    mark_from_text,
    number_from_text,
    quoted,
    whole_from_text,
)
from heatmap.units import in_from_mm, mm_from_in

#: A label and coordinates in one row may differ by this much, or by half the way to the next position.
SAME_PLACE_MM = mm_from_in(0.5)

#: Columns with a meaning, in the order we write them; knob_NAME columns come before void.
COLUMNS = (
    "id round session taken_at position x_in y_in x_mm y_mm aim shown_f shown_c "
    "surface lid distance_in distance_mm void note"
).split()


def column_key(name: str) -> str:
    """Return a column's name as it is compared: case-free, stripped."""
    return name.strip().casefold()


def is_known_column(key: str) -> bool:
    """Tell whether a column of this key has a meaning."""
    return key in COLUMNS or key.startswith("knob_")


_DryOrOiled = Literal["dry", "oiled"]
_OpenOrClosed = Literal["open", "closed"]


class RowReader:
    """Turns the cells of a row into a `Reading`; remembers labels and numbers it has seen."""

    def __init__(self, grill: Grill, columns: Sequence[str], dialect: Dialect, zone: tzinfo | None = None) -> None:
        """Learn the columns; burners nobody knows end up in `unknown_burners`."""
        self.grill, self.columns, self.dialect, self.zone = grill, tuple(columns), dialect, zone
        self.knobs: dict[str, Burner] = {}
        self.unknown_burners: list[str] = []
        self._known: list[tuple[int, str]] = []
        for index, name in enumerate(columns):
            key = column_key(name)
            if key.startswith("knob_"):
                self._add_knob(index, key, name)
            elif key in COLUMNS:
                self._known.append((index, key))
        self._nameless = [index for index, name in enumerate(columns) if not name]
        self._numbers: dict[str, float] = {}
        self._places: dict[str, tuple[str, float, float]] = {}
        self._labels: dict[tuple[float, float], str] = {}
        self._marks: dict[tuple[str, str], float] = {}

    def _add_knob(self, index: int, key: str, name: str) -> None:
        burner = next((b for b in self.grill.burners if burner_key(b.name) == burner_key(key[5:])), None)
        if burner is None:
            self.unknown_burners.append(name)
        else:
            self.knobs[key] = burner
            self._known.append((index, key))

    def warnings(self) -> list[str]:
        """Name the columns that look like a slip of a known one."""
        told = []
        for name in self.columns:
            key = column_key(name)
            close = [] if is_known_column(key) else difflib.get_close_matches(key, COLUMNS, 1, 0.8)
            if close:
                told.append(f"column {quoted(name)} is not known and not used; should it be {close[0]}?")
        return told

    def cells(self, line: str) -> dict[str, str] | None:
        """Return the known cells of a line by column name, or None for a row of empty cells.

        Raises
        ------
        ReadingError
            More cells than columns, or quotes that do not match.
        """
        fields = split_row(line, self.dialect.delimiter)
        count, named = len(fields), len(self.columns)
        nameless = [*fields[named:], *(fields[index] for index in self._nameless if index < count)]
        if any(map(str.strip, nameless)):
            comma = "; decimal commas need ; between the columns" if self.dialect.delimiter == "," else ""
            raise ReadingError(f"it has {count} cells, the header names {named} columns{comma}")
        cells = {name: fields[index].strip() for index, name in self._known if index < count}
        return cells if any(cells.values()) or any(map(str.strip, fields)) else None

    def number(self, text: str, column: str) -> float:
        """Return the number in a cell."""
        known = self._numbers.get(text)
        if known is None:
            try:
                known = number_from_text(text, decimal_comma=self.dialect.decimal_comma, exponent=True)
            except ReadingError as error:
                raise ReadingError(f"{column} {error}") from None
            self._numbers[text] = known
        return known

    def reading(self, cells: dict[str, str], line: int, number: int) -> Reading:
        """Return the reading of one row; `number` is its id when it has none of its own.

        Raises
        ------
        ReadingError
            The first thing that is wrong with the row.
        """
        void = whole_of(cells, "void", None)
        shown_c = self._shown_c(cells)
        if shown_c is None and void is None:
            raise ReadingError("it has no temperature; write what the gun showed, or delete the row")
        position, x_mm, y_mm = self._place(cells, needed=shown_c is not None)
        return Reading(
            id=cast(int, whole_of(cells, "id", number)),
            shown_c=shown_c,
            x_mm=x_mm,
            y_mm=y_mm,
            position=position,
            aim=cast(Aim, _choice(cells, "aim", AIMS)),
            round=_round_number(cells),
            session=cells.get("session", ""),
            taken_at=self._taken_at(cells),
            surface=cast(_DryOrOiled, _choice(cells, "surface", ("dry", "oiled"))),
            lid=cast(_OpenOrClosed, _choice(cells, "lid", ("open", "closed"))),
            distance_mm=self._distance_mm(cells),
            knobs=self._settings(cells),
            void=void,
            note=cells.get("note", ""),
            line=line,
        )

    def _shown_c(self, cells: dict[str, str]) -> float | None:
        shown_f, shown_c = cells.get("shown_f", ""), cells.get("shown_c", "")
        if shown_f and shown_c:
            raise ReadingError("shown_f and shown_c are both filled; keep the one the gun showed")
        if not shown_f and not shown_c:
            return None
        unit: TemperatureUnit = "f" if shown_f else "c"
        return self._temperature_c(shown_f or shown_c, unit)

    def _temperature_c(self, text: str, unit: TemperatureUnit) -> float:
        known = self._numbers.get(text + unit)
        if known is None:
            bare = _without_unit(text, unit)
            if bare.upper() in OVER_RANGE_WORDS or set(bare) == {"-"}:
                raise ReadingError(f"shown_{unit} is {quoted(text)}: out of the gun's range, not a reading")
            known = checked_temperature_c(self.number(bare, f"shown_{unit}"), unit)
            self._numbers[text + unit] = known
        return known

    def _place(self, cells: dict[str, str], *, needed: bool) -> tuple[str, float, float]:
        label = cells.get("position", "")
        x_mm, y_mm = self._length_mm(cells, "x"), self._length_mm(cells, "y")
        if (x_mm is None) != (y_mm is None):
            raise ReadingError("x and y must both be filled, or neither")
        if label:
            place = self._places.get(label)
            if place is None:
                name, point_mm = locate(label, self.grill)
                place = self._places[label] = (name, *point_mm)
            if x_mm is not None and y_mm is not None:
                self._check_same_place(place, x_mm, y_mm)
            return place
        if x_mm is None or y_mm is None:
            if needed:
                raise ReadingError("it does not say where; fill position, or x and y")
            return "", 0.0, 0.0
        self._check_on_grate(cells, "x", x_mm, self.grill.grate.width_mm)
        self._check_on_grate(cells, "y", y_mm, self.grill.grate.depth_mm)
        name_here = self._labels.get((x_mm, y_mm))
        if name_here is None:
            name_here = self._labels[x_mm, y_mm] = self._label_at(x_mm, y_mm)
        return name_here, x_mm, y_mm

    def _length_mm(self, cells: dict[str, str], what: str) -> float | None:
        inches, millimetres = cells.get(f"{what}_in", ""), cells.get(f"{what}_mm", "")
        if inches and millimetres:
            raise ReadingError(f"{what}_in and {what}_mm are both filled; keep one")
        if inches:
            return mm_from_in(self.number(inches, f"{what}_in"))
        return self.number(millimetres, f"{what}_mm") if millimetres else None

    def _check_on_grate(self, cells: dict[str, str], axis: str, value_mm: float, size_mm: float) -> None:
        if -1e-6 <= value_mm <= size_mm + 1e-6:
            return
        if cells.get(f"{axis}_in"):
            value, size, unit = in_from_mm(value_mm), in_from_mm(size_mm), "in"
        else:
            value, size, unit = value_mm, size_mm, "mm"
        raise ReadingError(f"{axis}_{unit} is {value:g}, off the grate; it goes from 0 to {size:g}")

    def _check_same_place(self, place: tuple[str, float, float], x_mm: float, y_mm: float) -> None:
        label, label_x_mm, label_y_mm = place
        grate, positions = self.grill.grate, self.grill.positions
        steps = (
            (grate.width_mm - 2 * positions.margin_mm) / max(1, positions.columns - 1),
            (grate.depth_mm - 2 * positions.margin_mm) / max(1, positions.rows - 1),
        )
        if max(abs(x_mm - label_x_mm), abs(y_mm - label_y_mm)) > min(SAME_PLACE_MM, 0.5 * min(steps)):
            raise ReadingError(f"position {label} and x, y are different places; keep the one that is right")

    def _label_at(self, x_mm: float, y_mm: float) -> str:
        """Return the label of the position here, up to the rounding of written coordinates, or ""."""
        for label in self.grill.labels:
            label_x_mm, label_y_mm = self.grill.point_mm(label)
            if abs(x_mm - label_x_mm) <= ROUNDED_MM and abs(y_mm - label_y_mm) <= ROUNDED_MM:
                return label
        return ""

    def _taken_at(self, cells: dict[str, str]) -> datetime | None:
        text = cells.get("taken_at", "")
        return utc_from_text(text, self.zone) if text else None

    def _distance_mm(self, cells: dict[str, str]) -> float | None:
        distance_mm = self._length_mm(cells, "distance")
        if distance_mm is not None and not NEAREST_MM <= distance_mm <= FARTHEST_MM:
            unit = "in" if cells.get("distance_in") else "mm"
            low, high = NEAREST_MM, FARTHEST_MM
            if unit == "in":
                low, high = in_from_mm(low), in_from_mm(high)
            raise ReadingError(f"distance_{unit} cannot be; it goes from {low:.3g} to {high:.4g}")
        return distance_mm

    def _settings(self, cells: dict[str, str]) -> dict[str, float]:
        settings = {}
        for column, burner in self.knobs.items():
            text = cells.get(column, "")
            if text:
                mark = self._marks.get((column, text))
                if mark is None:
                    mark = mark_from_text(text, burner, decimal_comma=self.dialect.decimal_comma)
                    self._marks[column, text] = mark
                settings[burner.name] = mark
        return settings


def _without_unit(text: str, unit: TemperatureUnit) -> str:
    """Take a unit off a number: 585 F under shown_f is fine, under shown_c it is not."""
    last = text[-1:].casefold()
    if last not in ("f", "c") or not text[:1].isdigit():
        return text
    if last != unit:
        raise ReadingError(f"shown_{unit} is {quoted(text)}; write it under shown_{last}")
    return text[:-1].rstrip(" °")


def whole_of(cells: dict[str, str], column: str, default: int | None) -> int | None:
    """Return the whole number in a cell, or the default where it is empty."""
    text = cells.get(column, "")
    if not text:
        return default
    try:
        return whole_from_text(text)
    except ReadingError as error:
        raise ReadingError(f"{column} {error}") from None


def _round_number(cells: dict[str, str]) -> int:
    number = cast(int, whole_of(cells, "round", 1))
    if not 1 <= number <= 999_999:
        raise ReadingError(f"round is {number}; it must be a whole number from 1 to 999999")
    return number


def _choice(cells: dict[str, str], column: str, allowed: Sequence[str]) -> str:
    """Return one of the allowed words; the first where nothing is written."""
    word = cells.get(column, "").casefold()
    if not word:
        return allowed[0]
    if word not in allowed:
        raise ReadingError(f"{column} is {quoted(word)}; it must be {', '.join(allowed[:-1])} or {allowed[-1]}")
    return word


def utc_from_text(text: str, zone: tzinfo | None = None) -> datetime:
    """Return a moment written as ISO 8601 in UTC; without an offset it is local time.

    Parameters
    ----------
    text : str
    zone : tzinfo, optional
        The local zone; this computer's when left out.

    Raises
    ------
    ReadingError
        When it is no date with a time of day, or lies outside 1970 to 2199.
    """
    try:
        moment = datetime.fromisoformat(text)
        if text.isascii() and len(text) > len("2031-06-14"):  # no longer: a date without a time of day
            if not 1970 <= moment.year <= 2199:
                raise ReadingError(f"taken_at is {quoted(text)}; the year must be from 1970 to 2199")
            if moment.tzinfo is None and zone is not None:
                moment = moment.replace(tzinfo=zone)
            return moment.astimezone(UTC)
    except (ValueError, OverflowError, OSError):
        pass
    raise ReadingError(f"taken_at is {quoted(text)}; write date and time like 2031-06-14T13:05:00+02:00")
