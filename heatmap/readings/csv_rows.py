"""Lines and cells of a CSV file and its header; the columns of the readings file; one row ⇄ `Reading` by them.

A cell never runs over the end of a line: so a cut-off or damaged line spoils itself and nothing else. The reader, the
writer and what adds columns to a file all go by one table of columns; a new column is a new line of it.
"""

import contextlib
import csv
import math
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime
from functools import cache, cached_property, lru_cache, partial
from itertools import zip_longest
from typing import Any

import heatmap.readings.written as written
from heatmap.errors import ReadingError, quoted
from heatmap.grill.burner import Burner, burner_key
from heatmap.grill.grill import Grill
from heatmap.readings.reading import AIMS, LIDS, SURFACES, Reading
from heatmap.units import SUFFIX, Display, Kind, Units, in_from_mm, inside_value, mm_from_in, shown_value

UNITS: tuple[Units, ...] = ("us", "si")
_WHOLE = re.compile(r"(\d{1,15})(?:[.,]0{1,6})?", re.ASCII)  # "3.0", as spreadsheets write it, is 3
_HIGHEST_ROUND = 999_999
#: Cells of a column often say the same; so many are not read anew.
_REMEMBERED = 1000
#: What is said of a mark that the burner of the grill file has not.
OR_THE_GRILL_FILE = ", says the grill file; put right whichever is wrong"
#: A label and coordinates in one row may differ by this much, where no other position is nearer.
SAME_PLACE_MM = mm_from_in(0.5)
#: A written label stands for its place up to this; farther off, the coordinates are written instead.
_AT_LABEL_MM = 0.01
#: What a row says besides marks: a reading, a turn of knobs, a pure withdrawal.
_OF_A_READING = {item.name for item in fields(Reading)}
_OF_A_TURN = {"id", "round", "session", "taken_at", "aim", "note", "key"}
_OF_A_WITHDRAWAL = {"id", "round", "session", "taken_at", "position", "void", "note", "key"}
#: What spreadsheets take for a formula: anything that begins so and is no number.
_COMPUTED = re.compile(r"[=@]|[+-](?![\d.,]+$)")


@dataclass(frozen=True, kw_only=True)
class Header:
    """What the columns of a file are called, and how it separates things.

    Attributes
    ----------
    names : tuple of str
        As written; none where there is no header yet.
    delimiter : str
        "," or ";" or a tab. With ";" numbers have a decimal comma.
    newline : str
        What ends a line.
    """

    names: tuple[str, ...] = ()
    delimiter: str = ","
    newline: str = "\n"

    @property
    def decimal_comma(self) -> bool:
        """Whether the comma is the decimal sign."""
        return self.delimiter == ";"

    @cached_property
    def keys(self) -> tuple[str, ...]:
        """The names as they are compared: case-free, stripped."""
        return tuple(name.strip().casefold() for name in self.names)

    def cells(self, line: str, *, open_note: bool = False) -> dict[str, str]:
        """Return the cells of a line that say something, by the key of their column; with `open_note` what was typed
        after a comma in a note in the last column belongs to it.

        Raises
        ------
        ReadingError
            More cells than columns, or quotes that do not match.
        """
        fields, said, last = _split_row(line, self.delimiter), {}, len(self.keys) - 1
        if open_note and self.keys[last] == "note":
            fields[last:] = [self.delimiter.join(fields[last:])]
        for key, cell in zip_longest(self.keys, fields, fillvalue=""):
            if text := cell.strip():
                if not key:
                    comma = "; decimal commas need ; between the columns" if self.delimiter == "," else ""
                    count = f"it has {len(fields)} cells, the header names {len(self.names)} columns"
                    raise ReadingError(f"{count}{comma}")
                said[key] = text
        return said

    def row(self, cells: Sequence[str]) -> str:
        """Put cells together into one line with its line end; line breaks inside a cell become spaces, and a blank goes
        before what a spreadsheet would compute, which nobody reads (cells are read without blanks around them).
        """
        return self.delimiter.join([_cell(cell, self.delimiter) for cell in cells]) + self.newline


def header_of(line: str, is_known: Callable[[str], bool]) -> Header | None:
    """Return the header on a line, separated by what makes most of its keys known; None where none is."""
    headers = []
    for delimiter in (",", ";", "\t"):
        with contextlib.suppress(ReadingError):
            names = tuple(cell.strip() for cell in _split_row(line, delimiter))
            headers.append(Header(names=names, delimiter=delimiter))
    known = [header for header in headers if any(map(is_known, header.keys))]
    return max(known, key=lambda header: sum(map(is_known, header.keys)), default=None)


def _split_row(line: str, delimiter: str) -> list[str]:
    """Take one line apart into cells; a ReadingError where a quote is opened and not closed on it."""
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader((line,), delimiter=delimiter, strict=True, skipinitialspace=True))
    except csv.Error:
        raise ReadingError("its quotes do not match; open and close each quote on the same line") from None


def _cell(text: str, delimiter: str) -> str:
    text = one_line(text).replace("\t", " ")
    if _COMPUTED.match(text):
        text = f" {text}"
    if delimiter in text or '"' in text or text.startswith(("#", " ")) or text.endswith(" "):
        return '"' + text.replace('"', '""') + '"'
    return text


def one_line(text: str) -> str:
    """Return a text with blanks for line breaks and for signs that a terminal would follow; tabs stay."""
    return "".join(char if char.isprintable() or char == "\t" else " " for char in text)


def is_content(line: str) -> bool:
    """Tell whether a line is neither blank nor a comment."""
    return line.lstrip()[:1] not in ("", "#")


def split_lines(text: str) -> list[str]:
    """Split at line ends only, never at the other signs Unicode calls breaks."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return lines[:-1] if lines[-1] == "" else lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column with a meaning.

    Attributes
    ----------
    header : str
        Its name in the file.
    field : str
        What it fills of a :class:`heatmap.readings.reading.Reading`, a mark that of its own name; two columns may hold
        the same in two units.
    read : callable
        Text of a cell that is not empty → value; raises ReadingError, naming the column.
    write : callable
        The way back.
    wanted : bool
        Whether a file that has no column for this field gets this one.
    """

    header: str
    field: str
    read: Callable[[str], Any]
    write: Callable[[Any], str] = str
    wanted: bool = True


def columns_for(grill: Grill, *, decimal_comma: bool = False, keyed: bool = False) -> dict[str, Column]:
    """Return every column that has a meaning with this grill, by its name, in the order in which we write them.

    Parameters
    ----------
    grill : Grill
        Says the units of a new column, where the positions lie and which burners there are.
    decimal_comma : bool
        Whether the file has numbers with one.
    keyed : bool
        Whether readings are kept with what a phone names them by.
    """

    def whole(header: str, low: int = 0) -> Column:
        return Column(header=header, field=header, read=lambda text: _whole(header, text, low))

    def quantity(stem: str, kind: Kind, checked: Callable[..., float] | None = None) -> Iterator[Column]:
        """Yield the columns in either unit; `checked` reads their cells where not every number can be."""
        for units in UNITS:
            header = f"{stem}_{Display(units).lengths if kind == 'length' else Display(units).degree_key}"
            column = quantity_column(header, stem + SUFFIX[kind], kind, units, decimal_comma=decimal_comma)
            if checked is not None:
                column = replace(column, read=partial(checked, header, units=units, decimal_comma=decimal_comma))
            yield replace(column, wanted=units == grill.units)

    def knob(burner: Burner) -> Column:
        return Column(
            header=_knob(burner),
            field=_knob(burner),
            read=lambda text: _mark(text, burner, decimal_comma),
            write=lambda mark: _mark_text(mark, burner, decimal_comma),
            wanted=burner.control != "none",
        )

    table = [
        whole("id"),
        whole("round", 1),
        text_column("session"),
        TAKEN_AT,
        Column(header="position", field="position", read=grill.label),
        *quantity("x", "length"),
        *quantity("y", "length"),
        words_column("aim", AIMS),
        *quantity("shown", "temperature", _shown_c),
        words_column("surface", SURFACES),
        words_column("lid", LIDS),
        *quantity("distance", "length", _distance_mm),
        *map(knob, grill.burners),
        whole("void"),
        text_column("note"),
        Column(header="key", field="key", read=str, wanted=keyed),
    ]
    return {column.header: replace(column, read=lru_cache(_REMEMBERED)(column.read)) for column in table}


def _knob(burner: Burner) -> str:
    return f"knob_{burner_key(burner.name)}"


def text_column(header: str) -> Column:
    """Return a column of one line of text."""
    return Column(header=header, field=header, read=one_line)


def words_column(header: str, allowed: Sequence[str]) -> Column:
    """Return a column that holds one of these words, in any case."""
    return Column(header=header, field=header, read=lambda text: _word(header, text, allowed))


def quantity_column(header: str, field: str, kind: Kind, units: Units, *, decimal_comma: bool) -> Column:
    """Return a column of numbers of a kind, written in these units."""
    return Column(
        header=header,
        field=field,
        read=lambda text: inside_value(_number(header, text, decimal_comma), kind, units),
        write=lambda value: _number_text(shown_value(value, kind, units), decimal_comma),
    )


def _number(header: str, text: str, decimal_comma: bool) -> float:
    try:
        return written.number_from_text(text, decimal_comma=decimal_comma, exponent=True)
    except ReadingError as error:
        raise ReadingError(f"{header} {error}") from None


def _whole(header: str, text: str, low: int) -> int:
    match = _WHOLE.fullmatch(text)
    if not match:
        raise ReadingError(f"{header} {quoted(text)} is not a whole number")
    number = int(match[1])
    if low and not low <= number <= _HIGHEST_ROUND:
        raise ReadingError(f"{header} is {number}; it must be a whole number from {low} to {_HIGHEST_ROUND}")
    return number


def _word(header: str, text: str, allowed: Sequence[str]) -> str:
    word = text.casefold()
    if word not in allowed:
        raise ReadingError(f"{header} is {quoted(word)}; it must be {', '.join(allowed[:-1])} or {allowed[-1]}")
    return word


def _distance_mm(header: str, text: str, units: Units, decimal_comma: bool) -> float:
    return written.checked_distance_mm(_number(header, text, decimal_comma), units, header)


def _shown_c(header: str, text: str, units: Units, decimal_comma: bool) -> float:
    """Read what was displayed: 585 F is fine under shown_f, under shown_c it is not; refuse what is no number."""
    last, bare = text[-1:].casefold(), text
    if last in ("f", "c") and text[:1].isdigit():
        if last != Display(units).degree_key:
            raise ReadingError(f"{header} is {quoted(text)}; write it under shown_{last}")
        bare = text[:-1].rstrip(" °")
    if written.over_range_word(bare) or set(bare) == {"-"}:
        raise ReadingError(f"{header} is {quoted(text)}: out of the gun's range, not a reading")
    return written.checked_temperature_c(_number(header, bare, decimal_comma), units)


def _mark(text: str, burner: Burner, decimal_comma: bool) -> float:
    try:
        return written.mark_from_text(text, burner, decimal_comma=decimal_comma)
    except ReadingError as error:
        raise ReadingError(f"{error}{OR_THE_GRILL_FILE}") from None


def _mark_text(mark: float, burner: Burner, decimal_comma: bool) -> str:
    """Return a mark by its name where it has one."""
    named = zip(burner.marks, burner.settable, strict=False)  # of a dial with numbers none
    return next((name for name, at in named if abs(at - mark) < 1e-9), _number_text(mark, decimal_comma))


def _number_text(value: float, decimal_comma: bool) -> str:
    """Return a number as a person writes it."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    text = "0" if text == "-0" else text
    return text.replace(".", ",") if decimal_comma else text


def utc_from_text(text: str) -> datetime:
    """Return a moment written as ISO 8601 in UTC; without an offset it is local time.

    Raises
    ------
    ReadingError
        When it is no date with a time of day, or lies outside 1970 to 2199.
    """
    with contextlib.suppress(ValueError, OverflowError, OSError):
        moment = datetime.fromisoformat(text)
        if text.isascii() and len(text) > len("2031-06-14"):  # no longer: a date without a time of day
            if not 1970 <= moment.year <= 2199:
                raise ReadingError(f"taken_at is {quoted(text)}; the year must be from 1970 to 2199")
            return moment.astimezone(UTC)
    raise ReadingError(f"taken_at is {quoted(text)}; write date and time like 2031-06-14T13:05:00+02:00")


def _time_text(moment: datetime) -> str:
    """Return a moment as local time with its offset, to a thousandth of a second."""
    return moment.astimezone().isoformat(timespec="milliseconds")


#: The column of when it was.
TAKEN_AT = Column(header="taken_at", field="taken_at", read=utc_from_text, write=_time_text)


class Rows:
    """Turns the rows of a file with this header into readings, and readings into rows.

    A file without a header gets one of all columns that a reading may need; `missing` are those another file lacks.
    """

    def __init__(self, header: Header, grill: Grill, *, keyed: bool = False) -> None:
        """Find the columns that have a meaning."""
        self.grill, self.table = grill, columns_for(grill, decimal_comma=header.decimal_comma, keyed=keyed)
        wanted = [column for column in self.table.values() if column.wanted]
        self.header = header if header.names else replace(header, names=tuple(column.header for column in wanted))
        self._knobs = {_knob(burner): burner.name for burner in grill.burners}
        self._point_mm, self._label_at = cache(grill.point_mm), cache(self._label_near)
        # A number that could stand in two columns is written in the grill's units where the file has that column.
        known = [(index, self.table[key]) for index, key in enumerate(self.header.keys) if key in self.table]
        known.sort(key=lambda one: one[1].wanted)
        self._written = {column.field: (index, column) for index, column in known}
        self.missing = tuple(column.header for column in wanted if column.field not in self._written)

    def reading(self, cells: dict[str, str], number: int) -> Reading:
        """Return the reading of one row; `number` is its id when it has none of its own.

        Raises
        ------
        ReadingError
            What is wrong with the row.
        """
        if cells.get("aim", "").casefold() == "turned" and not cells.keys().isdisjoint(("shown_f", "shown_c")):
            raise ReadingError("aim is turned, and a number was shown; keep one: a turn of knobs is no reading")
        values: dict[str, Any] = {"id": number}
        held: dict[str, str] = {}
        for header, text in cells.items():
            if (column := self.table.get(header)) is None:
                continue
            if column.field in held:
                raise ReadingError(f"{held[column.field]} and {header} are both filled; keep the one that is right")
            held[column.field] = header
            values[column.field] = column.read(text)
        values["position"], values["x_mm"], values["y_mm"] = self._place(values, held)
        knobs = {name: values.pop(field) for field, name in self._knobs.items() if field in values}
        return Reading(**values, knobs=knobs)

    def _place(self, values: dict[str, Any], held: dict[str, str]) -> tuple[str, float, float]:
        label, x_mm, y_mm = (values.get(field) for field in ("position", "x_mm", "y_mm"))
        if (x_mm is None) != (y_mm is None):
            raise ReadingError("x and y must both be filled, or neither")
        if label:
            if x_mm is not None and y_mm is not None and label != self._label_at(x_mm, y_mm, SAME_PLACE_MM):
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
        if self.grill.grate.is_round and self.grill.grate.edge_distance_mm([(x_mm, y_mm)])[0] < -written.ROUNDED_MM:
            raise ReadingError("x, y is off the round grate; measure from its leftmost and its nearest edge")
        return self._label_at(x_mm, y_mm, written.ROUNDED_MM), x_mm, y_mm

    def _label_near(self, x_mm: float, y_mm: float, most_mm: float) -> str:
        """Return the label of the nearest position, or "" where it is farther off than this in x or y."""
        nearest = min(self.grill.labels, key=lambda label: math.dist(self._point_mm(label), (x_mm, y_mm)))
        label_x_mm, label_y_mm = self._point_mm(nearest)
        return nearest if max(abs(x_mm - label_x_mm), abs(y_mm - label_y_mm)) <= most_mm else ""

    def line(self, reading: Reading) -> str:
        """Return the row of a reading with its line end; a cell is empty where the reading says nothing about it."""
        at_label = reading.position and reading.position == self._label_at(*reading.point_mm, _AT_LABEL_MM)
        silent = {"x_mm", "y_mm"} if at_label else {"position"}
        told = _OF_A_TURN if reading.aim == "turned" and reading.void is None else _OF_A_WITHDRAWAL
        told = told if reading.shown_c is None else _OF_A_READING
        values = {field: getattr(reading, field) for field in told - silent}
        values |= {_knob(self.grill.burner(name)): mark for name, mark in reading.knobs.items()}
        cells = [""] * len(self.header.names)
        for field, (index, column) in self._written.items():
            if values.get(field) is not None:
                cells[index] = column.write(values[field])
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
                cells = _split_row(text, delimiter)
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
