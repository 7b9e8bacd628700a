"""The columns of the readings file: for each what a cell means, what it may hold and how it is written.

The row reader, the writer and what adds columns to a file all go by this table; a new column is a new line of it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from typing import Any, TypeVar

from heatmap.errors import ReadingError
from heatmap.grill.grill import Burner, Grill, burner_key
from heatmap.readings.csv_lines import Dialect, one_line
from heatmap.readings.reading import AIMS, LIDS, SURFACES
from heatmap.readings.written import (
    FARTHEST_MM,
    NEAREST_MM,
    OVER_RANGE_WORDS,
    TemperatureUnit,
    checked_temperature_c,
    locate,
    mark_from_text,
    number_from_text,
    quoted,
    whole_from_text,
)
from heatmap.units import f_from_c, in_from_mm, mm_from_in

Number = TypeVar("Number", int, float)
_HIGHEST_ROUND = 999_999
#: What is said of a mark that the burner of the grill file has not.
OR_THE_GRILL_FILE = ", says the grill file; put right whichever is wrong"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column with a meaning.

    Attributes
    ----------
    header : str
        Its name in the file.
    field : str
        What it fills of a :class:`heatmap.readings.reading.Reading`; two columns may hold the same in two units.
    read : callable
        Text of a cell that is not empty → value; raises ReadingError, naming the column.
    write : callable
        The way back.
    burner : str
        Name of the burner whose mark it holds.
    wanted : bool
        Whether a file that has no column for this field gets this one.
    """

    header: str
    field: str
    read: Callable[[str], Any]
    write: Callable[[Any], str] = str
    burner: str = ""
    wanted: bool = True


def columns_for(grill: Grill, dialect: Dialect) -> dict[str, Column]:
    """Return every column that has a meaning with this grill, by its name, in the order in which we write them.

    Parameters
    ----------
    grill : Grill
        Says the units of a new column, where the positions lie and which burners there are.
    dialect : Dialect
    """
    comma, us = dialect.decimal_comma, grill.units == "us"

    def number(header: str, text: str) -> float:
        return _named(header, lambda: number_from_text(text, decimal_comma=comma, exponent=True))

    def whole(header: str, low: int = 0) -> Column:
        return Column(header=header, field=header, read=lambda text: _whole(header, text, low))

    def words(header: str, allowed: Sequence[str]) -> Column:
        return Column(header=header, field=header, read=cache(lambda text: _word(header, text, allowed)))

    def text(header: str) -> Column:
        return Column(header=header, field=header, read=one_line)

    def length(stem: str, unit: str, check: Callable[[str, float], float] | None = None) -> Column:
        header, inches = f"{stem}_{unit}", unit == "in"

        def value_mm(text: str) -> float:
            value = number(header, text)
            value = mm_from_in(value) if inches else value
            return check(header, value) if check else value

        return Column(
            header=header,
            field=f"{stem}_mm",
            read=cache(value_mm),
            write=lambda value_mm: number_text(in_from_mm(value_mm) if inches else value_mm, dialect),
            wanted=inches == us,
        )

    def shown(unit: TemperatureUnit) -> Column:
        header = f"shown_{unit}"
        return Column(
            header=header,
            field="shown_c",
            read=cache(lambda text: checked_temperature_c(number(header, _in_range(header, text, unit)), unit)),
            write=lambda shown_c: number_text(f_from_c(shown_c) if unit == "f" else shown_c, dialect),
            wanted=(unit == "f") == us,
        )

    def knob(burner: Burner) -> Column:
        return Column(
            header=f"knob_{burner_key(burner.name)}",
            field="knobs",
            read=cache(lambda text: _mark(text, burner, decimal_comma=comma)),
            write=lambda mark: _mark_text(mark, burner, dialect),
            burner=burner.name,
            wanted=burner.control != "none",
        )

    table = [
        whole("id"),
        whole("round", 1),
        text("session"),
        Column(
            header="taken_at",
            field="taken_at",
            read=utc_from_text,
            write=time_text,
        ),
        Column(header="position", field="position", read=cache(lambda text: locate(text, grill)[0])),
        *(length(axis, unit) for unit in ("in", "mm") for axis in ("x", "y")),
        words("aim", AIMS),
        shown("f"),
        shown("c"),
        words("surface", SURFACES),
        words("lid", LIDS),
        *(length("distance", unit, _distance_mm) for unit in ("in", "mm")),
        *map(knob, grill.burners),
        whole("void"),
        text("note"),
        Column(header="key", field="key", read=str, wanted=False),
    ]
    return {column.header: column for column in table}


def column_key(name: str) -> str:
    """Return a column's name as it is compared: case-free, stripped."""
    return name.strip().casefold()


def missing_columns(header: Sequence[str], table: dict[str, Column], *, keyed: bool = False) -> tuple[str, ...]:
    """Return the columns a reading may need and a file with this header lacks; `keyed` readings need their key too."""
    there = {table[key].field for key in map(column_key, header) if key in table and not table[key].burner}
    keys = {column_key(name) for name in header}
    return tuple(
        column.header
        for column in table.values()
        if (column.wanted or (keyed and column.field == "key"))
        and column.field not in there
        and column.header not in keys
    )


def _named(header: str, read: Callable[[], Number]) -> Number:
    """Read; what is wrong is told with the name of the column."""
    try:
        return read()
    except ReadingError as error:
        raise ReadingError(f"{header} {error}") from None


def _whole(header: str, text: str, low: int) -> int:
    number = _named(header, lambda: whole_from_text(text))
    if low and not low <= number <= _HIGHEST_ROUND:
        raise ReadingError(f"{header} is {number}; it must be a whole number from {low} to {_HIGHEST_ROUND}")
    return number


def _word(header: str, text: str, allowed: Sequence[str]) -> str:
    word = text.casefold()
    if word not in allowed:
        raise ReadingError(f"{header} is {quoted(word)}; it must be {', '.join(allowed[:-1])} or {allowed[-1]}")
    return word


def _distance_mm(header: str, distance_mm: float) -> float:
    if not NEAREST_MM <= distance_mm <= FARTHEST_MM:
        low, high = NEAREST_MM, FARTHEST_MM
        if header.endswith("_in"):
            low, high = in_from_mm(low), in_from_mm(high)
        raise ReadingError(f"{header} cannot be; it goes from {low:.3g} to {high:.4g}")
    return distance_mm


def _in_range(header: str, text: str, unit: TemperatureUnit) -> str:
    """Take a unit off a number: 585 F is fine under shown_f, under shown_c it is not; refuse what is no number."""
    last, bare = text[-1:].casefold(), text
    if last in ("f", "c") and text[:1].isdigit():
        if last != unit:
            raise ReadingError(f"{header} is {quoted(text)}; write it under shown_{last}")
        bare = text[:-1].rstrip(" °")
    if bare.upper() in OVER_RANGE_WORDS or set(bare) == {"-"}:
        raise ReadingError(f"{header} is {quoted(text)}: out of the gun's range, not a reading")
    return bare


def _mark(text: str, burner: Burner, *, decimal_comma: bool) -> float:
    try:
        return mark_from_text(text, burner, decimal_comma=decimal_comma)
    except ReadingError as error:
        raise ReadingError(f"{error}{OR_THE_GRILL_FILE}") from None


def _mark_text(mark: float, burner: Burner, dialect: Dialect) -> str:
    """Return a mark by its name where it has one."""
    name = burner.mark_text(mark)
    named = burner.marks and abs(mark_from_text(name, burner) - mark) < 1e-9
    return name if named else number_text(mark, dialect)


def number_text(value: float, dialect: Dialect) -> str:
    """Return a number as a person writes it, to a millionth."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    text = "0" if text == "-0" else text
    return text.replace(".", ",") if dialect.decimal_comma else text


def time_text(moment: datetime) -> str:
    """Return a moment as local time with its offset, to a thousandth of a second."""
    return moment.astimezone().isoformat(timespec="milliseconds")


def utc_from_text(text: str) -> datetime:
    """Return a moment written as ISO 8601 in UTC; without an offset it is local time.

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
            return moment.astimezone(UTC)
    except (ValueError, OverflowError, OSError):
        pass
    raise ReadingError(f"taken_at is {quoted(text)}; write date and time like 2031-06-14T13:05:00+02:00")
