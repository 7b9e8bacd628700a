"""The readings file: read with every bad row told, nothing guessed.

UTF-8 with or without a byte order mark; comma, semicolon (then with decimal comma) or tab; blank lines and lines
that start with # are skipped; columns we do not know are left alone. The last line counts only when it is ended:
an unended one may have been cut off in the middle of a number.
"""

from __future__ import annotations

import difflib
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, tzinfo
from pathlib import Path
from typing import IO, Literal, NamedTuple, cast

from heatmap.errors import ReadingError
from heatmap.files.csv_lines import Dialect, is_content, newline_of, split_lines, split_row
from heatmap.grill import Burner, Grill, burner_key
from heatmap.readings import AIMS, Aim, Reading, Round, group_rounds
from heatmap.units import in_from_mm, mm_from_in
from heatmap.written import (
    OVER_RANGE_WORDS,
    TemperatureUnit,
    checked_temperature_c,
    locate,
    mark_from_text,
    number_from_text,
    quoted,
    whole_from_text,
)

#: More than this is no readings file: at 80 bytes a row it holds 250 000 shots.
LIMIT_BYTES = 20_000_000

#: Coordinates are often written to a tenth of an inch, so they are up to 0.05 in off.
ROUNDED_MM = mm_from_in(0.05) + 1e-6

#: A label and coordinates in one row may differ by this much, or by half the way to the next position if less.
SAME_PLACE_MM = mm_from_in(0.5)

#: How near the gun can be held and how far, as :class:`heatmap.grill.Gun` allows.
NEAREST_MM, FARTHEST_MM = 10.0, 5000.0

#: Columns with a meaning, in the order we write them; knob_NAME columns come before void.
COLUMNS = (
    "id round session taken_at position x_in y_in x_mm y_mm aim shown_f shown_c surface lid distance_in distance_mm "
    "void note"
).split()

_SHOWN_PROBLEMS = 10


class Problem(NamedTuple):
    """A row that cannot be used: its line and why."""

    line: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsFile:
    """What a readings file holds.

    Attributes
    ----------
    name : str
        As it was called.
    readings : tuple of Reading
        Every usable row in file order, withdrawn ones and withdrawals too.
    columns : tuple of str
        Names in the header, as written.
    dialect : Dialect
    header_line : int
        Line of the header.
    warnings : tuple of str
        What was not read or not understood, and why.
    problems : tuple of Problem
        Rows left out; empty unless bad rows were to be skipped.
    highest_id : int
        Highest id of any row, bad ones included; 0 without rows.
    """

    name: str
    readings: tuple[Reading, ...]
    columns: tuple[str, ...]
    dialect: Dialect
    header_line: int = 1
    warnings: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    highest_id: int = 0

    @property
    def rounds(self) -> tuple[Round, ...]:
        """The readings that stand, by round."""
        return group_rounds(self.readings)

    @property
    def skipped(self) -> int:
        """How many rows were left out."""
        return len(self.problems)


Source = str | os.PathLike[str] | IO[str] | IO[bytes]


def load_rounds(source: Source, grill: Grill, *, skip_bad: bool = False) -> tuple[Round, ...]:
    """Read a readings file and return its rounds, oldest number first.

    Parameters
    ----------
    source : path or open file
    grill : Grill
        Says where the positions lie and which burners there are.
    skip_bad : bool
        Go on without the rows that cannot be used.

    Raises
    ------
    ReadingError
        With the line number of every row that cannot be used, or when no reading is left.
    """
    found = read_readings(source, grill, skip_bad=skip_bad)
    rounds = found.rounds
    if not rounds:
        raise ReadingError(f"{found.name}: every reading is withdrawn, none is left; take a round first")
    return rounds


def read_readings(
    source: Source, grill: Grill, *, skip_bad: bool = False, zone: tzinfo | None = None
) -> ReadingsFile:
    """Read a readings file, keeping everything it says.

    Parameters
    ----------
    source, grill, skip_bad
        As in :func:`load_rounds`.
    zone : tzinfo, optional
        Zone of times without an offset; this computer's when left out.

    Raises
    ------
    ReadingError
        As :func:`load_rounds`; also for a file without any reading.
    """
    name, data = _content_of(source)
    found = parse_readings(data, name, grill, zone=zone)
    if found.problems and not skip_bad:
        raise ReadingError(_told_once(name, found.problems))
    if not found.readings:
        rows = "no row that can be used" if found.problems else "a header but no readings"
        raise ReadingError(f"{name} has {rows}; take a round first, or add rows below the header")
    return found


def parse_readings(data: bytes | str, name: str, grill: Grill, *, zone: tzinfo | None = None) -> ReadingsFile:
    """Read the content of a readings file; bad rows are listed in `problems`, none is raised.

    Raises
    ------
    ReadingError
        When the whole is not a readings file.
    """
    if len(data) > LIMIT_BYTES:
        raise ReadingError(f"{name} is over {LIMIT_BYTES // 1_000_000} MB, the limit for a readings file")
    body, tail = split_tail(data)
    text = _text_of(body, name)
    lines = split_lines(text)
    tail_warning = f"line {len(lines) + 1} was not read: its end is missing, so it may be cut off" if tail else ""
    at = next((index for index, line in enumerate(lines) if is_content(line)), None)
    if at is None:
        raise ReadingError(f"{name} is empty" if not tail else f"{name}: {tail_warning}; nothing else is in it")
    names, delimiter = _header(lines[at], name, at + 1)
    reader = RowReader(grill, names, Dialect(delimiter=delimiter, newline=newline_of(text)), zone)
    _check_header(reader, name, at + 1, grill)
    rows = _Rows(reader)
    for index in range(at + 1, len(lines)):
        if is_content(lines[index]):
            rows.add(lines[index], index + 1)
    rows.finish()
    warnings = [*reader.warnings(), *([tail_warning] if tail_warning else [])]
    return ReadingsFile(
        name=name,
        readings=tuple(rows.readings),
        columns=tuple(names),
        dialect=reader.dialect,
        header_line=at + 1,
        warnings=tuple(warnings),
        problems=tuple(sorted(rows.problems)),
        highest_id=max(rows.lines, default=0),
    )


def split_tail(data: bytes | str) -> tuple[bytes | str, bytes | str]:
    """Return the ended lines and what stands after the last line end."""
    if isinstance(data, bytes):
        end = max(data.rfind(b"\n"), data.rfind(b"\r")) + 1
    else:
        end = max(data.rfind("\n"), data.rfind("\r")) + 1
    return data[:end], data[end:]


def _content_of(source: Source) -> tuple[str, bytes | str]:
    """Return the name and at most one byte more than the limit."""
    if not isinstance(source, (str, os.PathLike)):
        return str(getattr(source, "name", "readings")), source.read(LIMIT_BYTES + 1)
    name = os.fspath(source)
    try:
        with Path(name).open("rb") as file:
            return name, file.read(LIMIT_BYTES + 1)
    except FileNotFoundError:
        why = "there is no such file; take a round first, or name another file"
    except IsADirectoryError:
        why = "that is a folder; name the readings file in it"
    except (OSError, ValueError) as error:
        why = f"it cannot be read ({getattr(error, 'strerror', None) or error})"
        if Path(name).is_dir():  # what Windows says about a folder is "permission denied"
            why = "that is a folder; name the readings file in it"
    raise ReadingError(f"{quoted(name, 200)[1:-1]}: {why}")


def _text_of(body: bytes | str, name: str) -> str:
    if isinstance(body, bytes):
        if body.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
            raise ReadingError(f"{name} is a spreadsheet file; save it as CSV (UTF-8) first")
        if b"\0" in body:
            raise ReadingError(f"{name} is not a text file; save the readings as CSV (UTF-8)")
        try:
            return body.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = len(split_lines(body[: error.start].decode("utf-8", "replace") + "x"))
            raise ReadingError(f"{name}, line {line}: not UTF-8 text; save the file as CSV (UTF-8)") from None
    if "\0" in body:
        raise ReadingError(f"{name} is not a text file; save the readings as CSV (UTF-8)")
    return body.removeprefix("\ufeff")


def _told_once(name: str, problems: Sequence[Problem]) -> str:
    if len(problems) == 1:
        line, why = problems[0]
        return f"{name}, line {line}: {why} (mend it, or go on without it: --skip-bad)"
    shown = [f"  line {line}: {why}" for line, why in problems[:_SHOWN_PROBLEMS]]
    if len(problems) > _SHOWN_PROBLEMS:
        shown.append(f"  and {len(problems) - _SHOWN_PROBLEMS} more")
    head = f"{name}: {len(problems)} rows cannot be used; mend them, or go on without them: --skip-bad"
    return "\n".join([head, *shown])


def column_key(name: str) -> str:
    """Return a column's name as it is compared: case-free, stripped."""
    return name.strip().casefold()


def _is_known(key: str) -> bool:
    return key in COLUMNS or key.startswith("knob_")


def _header(line: str, name: str, number: int) -> tuple[list[str], str]:
    """Return the column names and the delimiter: the one that finds most columns with a meaning."""
    best: tuple[list[str], str] = ([], ",")
    most = 0
    for delimiter in (",", ";", "\t"):
        try:
            names = [cell.strip() for cell in split_row(line, delimiter)]
        except ReadingError:
            continue
        known = sum(_is_known(column_key(cell)) for cell in names)
        if known > most:
            best, most = (names, delimiter), known
    if not most:
        raise ReadingError(
            f"{name}, line {number}: {quoted(line)} is no header; the first line names the columns, "
            "at least position and shown_f (or shown_c)"
        )
    return best


def _check_header(reader: RowReader, name: str, number: int, grill: Grill) -> None:
    keys = [column_key(column) for column in reader.columns]
    where = f"{name}, line {number}"
    twice = sorted({key for key in keys if key and keys.count(key) > 1})
    if twice:
        raise ReadingError(f"{where}: column {quoted(twice[0])} stands there twice; keep one")
    if "shown_f" not in keys and "shown_c" not in keys:
        raise ReadingError(f"{where}: the column shown_f or shown_c is missing; columns are: {_listed(reader.columns)}")
    has_x, has_y = ({f"{axis}_in", f"{axis}_mm"} & set(keys) for axis in "xy")
    if bool(has_x) != bool(has_y):
        raise ReadingError(f"{where}: there is a column for x or y but not for both; add the other")
    if "position" not in keys and not has_x:
        raise ReadingError(
            f"{where}: the column position (or x_in and y_in, or x_mm and y_mm) is missing; "
            f"columns are: {_listed(reader.columns)}"
        )
    if reader.unknown_burners:
        burners = ", ".join(burner.name for burner in grill.burners) or "none in the grill file"
        raise ReadingError(f"{where}: column {quoted(reader.unknown_burners[0])}: burners are: {burners}")


def _listed(columns: Sequence[str]) -> str:
    return quoted(", ".join(columns), 120)[1:-1]


class RowReader:
    """Turns the cells of a row into a `Reading`; remembers labels and numbers it has seen."""

    def __init__(self, grill: Grill, columns: Sequence[str], dialect: Dialect, zone: tzinfo | None = None) -> None:
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
        self._numbers: dict[str, float] = {}
        self._places: dict[str, tuple[str, float, float]] = {}
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
            close = [] if _is_known(column_key(name)) else difflib.get_close_matches(column_key(name), COLUMNS, 1, 0.8)
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
        count = len(fields)
        for index in range(count):
            if (index >= len(self.columns) or not self.columns[index]) and fields[index].strip():
                raise ReadingError(
                    f"it has {count} cells but the header names {len(self.columns)} columns"
                    + ("; numbers with a decimal comma need ; between the columns" if self.dialect.delimiter == "," else "")
                )
        cells = {name: fields[index].strip() for index, name in self._known if index < count}
        return cells if any(cells.values()) or any(field.strip() for field in fields) else None

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
        void = _whole(cells, "void", None)
        shown_c = self._shown_c(cells)
        if shown_c is None and void is None:
            raise ReadingError("shown_f and shown_c are both empty; write what the gun showed")
        position, x_mm, y_mm = self._place(cells, needed=shown_c is not None)
        return Reading(
            id=cast(int, _whole(cells, "id", number)),
            shown_c=shown_c,
            x_mm=x_mm,
            y_mm=y_mm,
            position=position,
            aim=cast(Aim, _choice(cells, "aim", AIMS)),
            round=_round_number(cells),
            session=cells.get("session", ""),
            taken_at=self._taken_at(cells),
            surface=cast(Literal["dry", "oiled"], _choice(cells, "surface", ("dry", "oiled"))),
            lid=cast(Literal["open", "closed"], _choice(cells, "lid", ("open", "closed"))),
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
                raise ReadingError(f"shown_{unit} is {quoted(text)}: the gun was over its range; that is not a reading")
            known = self._numbers[text + unit] = checked_temperature_c(self.number(bare, f"shown_{unit}"), unit)
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
        return self._label_at(x_mm, y_mm), x_mm, y_mm

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
        """Return the label of the position at this point, up to the rounding of written coordinates, or ""."""
        if not self._places.get(" all"):
            for label in self.grill.labels:
                self._places[label] = (label, *self.grill.point_mm(label))
            self._places[" all"] = ("", 0.0, 0.0)
        for label, label_x_mm, label_y_mm in self._places.values():
            if label and abs(x_mm - label_x_mm) <= ROUNDED_MM and abs(y_mm - label_y_mm) <= ROUNDED_MM:
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
    if last not in ("f", "c"):
        return text
    if last != unit:
        raise ReadingError(f"shown_{unit} is {quoted(text)}; write it under shown_{last}")
    return text[:-1].rstrip(" °")


def _whole(cells: dict[str, str], column: str, default: int | None) -> int | None:
    text = cells.get(column, "")
    if not text:
        return default
    try:
        return whole_from_text(text)
    except ReadingError as error:
        raise ReadingError(f"{column} {error}") from None


def _round_number(cells: dict[str, str]) -> int:
    number = cast(int, _whole(cells, "round", 1))
    if not 1 <= number <= 999_999:
        raise ReadingError(f"round is {number}; it must be a whole number from 1 to 999999")
    return number


def _choice(cells: dict[str, str], column: str, allowed: Sequence[str]) -> str:
    """Return one of the allowed words; the first where nothing is written."""
    word = cells.get(column, "").casefold()
    if not word:
        return allowed[0] if column != "lid" else "open"
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
    wrong = ReadingError(f"taken_at is {quoted(text)}; write date and time like 2031-06-14T13:05:00+02:00")
    try:
        moment = datetime.fromisoformat(text)
        if not text.isascii() or _is_date(text):
            raise wrong
        if not 1970 <= moment.year <= 2199:
            raise ReadingError(f"taken_at is {quoted(text)}; the year must be from 1970 to 2199")
        if moment.tzinfo is None and zone is not None:
            moment = moment.replace(tzinfo=zone)
        return moment.astimezone(UTC)
    except (ValueError, OverflowError, OSError):
        raise wrong from None


def _is_date(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


class _Rows:
    """Gathers rows, good and bad, and settles what only the whole file can tell."""

    def __init__(self, reader: RowReader) -> None:
        self.reader = reader
        self.readings: list[Reading] = []
        self.problems: list[Problem] = []
        self.lines: dict[int, int] = {}  # id → line, of bad rows too
        self._count = 0

    def add(self, line: str, number: int) -> None:
        """Read one line."""
        cells: dict[str, str] | None = {}
        own_id = self._count + 1
        try:
            cells = self.reader.cells(line)
            if cells is None:
                return
            own_id = cast(int, _whole(cells, "id", own_id))
            if own_id in self.lines:
                raise ReadingError(f"id {own_id} was used on line {self.lines[own_id]} already; give each row its own")
            self.readings.append(self.reader.reading(cells, number, own_id))
        except ReadingError as error:
            self.problems.append(Problem(number, str(error)))
        self._count += 1
        self.lines.setdefault(own_id, number)

    def finish(self) -> None:
        """Check withdrawals and sessions, and give pure withdrawals the place of what they withdraw."""
        standing = {reading.id: reading for reading in self.readings}
        sessions: dict[int, Reading] = {}
        kept = []
        for reading in self.readings:
            try:
                settled = self._withdrawal(reading, standing) if reading.void is not None else reading
                if settled is not None:
                    self._check_session(settled, sessions)
                    kept.append(settled)
            except ReadingError as error:
                self.problems.append(Problem(reading.line, str(error)))
        self.readings = kept

    def _withdrawal(self, reading: Reading, standing: dict[int, Reading]) -> Reading | None:
        target = standing.get(cast(int, reading.void))
        if target is None:
            if reading.void not in self.lines:
                raise ReadingError(f"void is {reading.void}, but no row has that id; name the id of a row in this file")
            return None if reading.shown_c is None else replace(reading, void=None)  # its target is a bad row
        if reading.shown_c is None and not reading.position:
            return replace(reading, position=target.position, x_mm=target.x_mm, y_mm=target.y_mm)
        return reading

    def _check_session(self, reading: Reading, sessions: dict[int, Reading]) -> None:
        if not reading.session or reading.shown_c is None:
            return
        first = sessions.setdefault(reading.round, reading)
        if first.session != reading.session:
            raise ReadingError(
                f"round {reading.round} is of session {quoted(first.session)} on line {first.line} but of "
                f"{quoted(reading.session)} here; give each round its own number"
            )
