"""What seared pieces taught, kept in `sears.csv` beside the readings: one row a piece, only ever added to."""

import os
import re
from dataclasses import replace
from functools import partial
from pathlib import Path

import heatmap.readings.csv_rows as csv_rows
from heatmap.errors import LogError, ReadingError, quoted
from heatmap.grill.grill import Grill
from heatmap.readings.csv_file import content_of
from heatmap.readings.durable import append_to, plain_reason, stamp_at
from heatmap.sear import OUTCOMES, SearedPiece

COLUMNS = ("taken_at", "place", "turns_s", "start", "thickness", "peak", "outcome", "note")
SEARS_FILE = "sears.csv"
#: What a file of sears can say, by the name of the column.
ColumnsByName = dict[str, csv_rows.Column]
#: A file larger than this holds no sears of one cook.
_LARGEST_BYTES = 1_000_000
#: What a note says of a piece that has no column of its own: temperatures, as rail 590, and the name of an entry.
_NOTED = {"rail": "rail_c", "wanted": "wanted_c"}
_NOTE = re.compile(rf"({'|'.join(_NOTED)}) (\d+(?:[.,]\d+)?)", re.ASCII)
_KEY = re.compile(r"(?:; )?\bkey=([A-Za-z0-9._:-]+)$")


def sears_beside(readings: Path) -> Path:
    """Return the file of sears that belongs to a readings file."""
    return readings.parent / SEARS_FILE


def read_sears(path: Path, grill: Grill) -> tuple[SearedPiece, ...]:
    """Read every piece; none where there is no such file.

    Raises
    ------
    ReadingError
        One line: the file, the line, and what is wrong with it.
    """
    if not os.path.exists(path):
        return ()
    _, data = content_of(path)
    if len(data) > _LARGEST_BYTES:
        raise ReadingError(f"{path}: larger than {_LARGEST_BYTES:,} bytes; that is no file of sears")
    header, columns, lines = _table(data, path, grill)
    pieces, problems = [], []
    for number, line in lines[1:]:
        try:
            if said := header.cells(line, open_note=True):
                pieces.append(_piece(said, columns))
        except ReadingError as error:
            problems.append(f"line {number}: {error}")
    if problems:
        raise ReadingError(f"{path}: {'; '.join(problems[:5])}")
    return tuple(pieces)


def append_sear(path: Path, grill: Grill, piece: SearedPiece) -> None:
    """Add one row: on the disk when this returns.

    Raises
    ------
    LogError
        When it could not be written, or the file has no column for what came of the piece.
    ReadingError
        When the file is none of sears.
    """
    try:
        stamp = stamp_at(str(path))
        there = path.read_bytes() if stamp else b""
        header, columns, lines = _table(there, path, grill)
        added = "" if there.endswith(b"\n") or not there else "\n"
        added += "" if lines else header.row(COLUMNS)
        cells = _cells(piece, columns)
        came = "peak" if piece.peak_c is not None else "outcome"
        if cells.get(came) and came not in header.keys:
            raise LogError(f"{path}: no column {came} for what came of it; add one; the sear was NOT written")
        added += header.row([cells.get(key, "") for key in header.keys])
        append_to(str(path), added.encode(), stamp)
    except OSError as error:
        raise LogError(f"{path}: {plain_reason(error)}; the sear was NOT written") from None


def _table(data: bytes, path: Path, grill: Grill) -> tuple[csv_rows.Header, ColumnsByName, list[tuple[int, str]]]:
    """Return the header of a file, of a new one where it has none yet, its columns by name, and its numbered lines.

    Numbers are in the units of the grill file; blank lines and comments are left out.
    """
    lines = csv_rows.split_lines(data.decode("utf-8-sig", errors="replace"))
    numbered = [(number, line) for number, line in enumerate(lines, 1) if csv_rows.is_content(line)]
    header = csv_rows.header_of(numbered[0][1], COLUMNS.__contains__) if numbered else csv_rows.Header(names=COLUMNS)
    if header is None or "turns_s" not in header.keys:
        raise ReadingError(f"{path}: the column turns_s is missing; columns are: {', '.join(COLUMNS)}")
    quantity = partial(csv_rows.quantity_column, units=grill.units, decimal_comma=header.decimal_comma)
    columns = (
        csv_rows.TAKEN_AT,
        csv_rows.text_column("place"),
        csv_rows.Column(
            header="turns_s", field="turns_s", read=_seconds, write=lambda all_s: " ".join(f"{one:g}" for one in all_s)
        ),
        quantity("start", "start_c", "temperature"),
        quantity("thickness", "thickness_mm", "length"),
        quantity("peak", "peak_c", "temperature"),
        csv_rows.words_column("outcome", OUTCOMES),
        csv_rows.text_column("note"),
    )
    return header, {column.header: column for column in columns}, numbered


def _piece(said: dict[str, str], columns: ColumnsByName) -> SearedPiece:
    key, note = _KEY.search(said.get("note", "")), _KEY.sub("", said.get("note", ""))
    said = {"turns_s": ""} | said
    values = {columns[name].field: columns[name].read(text) for name, text in said.items() if name in columns}
    for part in note.split("; "):  # ours come last, after what a cook may say of a rail 2
        if found := _NOTE.fullmatch(part):
            values[_NOTED[found[1]]] = columns["peak"].read(found[2])
    return SearedPiece(**values | {"note": note, "key": key[1] if key else ""})


def _cells(piece: SearedPiece, columns: ColumnsByName) -> dict[str, str]:
    """Return what is written of a piece, by the column."""
    noted = {word: value for word, field in _NOTED.items() if (value := getattr(piece, field)) is not None}
    told = [piece.note, *(f"{word} {columns['peak'].write(value)}" for word, value in noted.items())]
    told += [f"key={piece.key}"] if piece.key else []
    piece = replace(piece, note="; ".join(filter(None, told)))
    values = {name: (column, getattr(piece, column.field)) for name, column in columns.items()}
    return {name: column.write(value) for name, (column, value) in values.items() if value is not None}


def _seconds(text: str) -> tuple[float, ...]:
    try:
        seconds = tuple(float(part) for part in re.split(r"[\s,;]+", text))
    except ValueError:
        seconds = ()
    if not seconds or not all(0.0 < one <= 3600.0 for one in seconds):
        raise ReadingError(f"turns_s is {quoted(text)}; write the seconds of each turn, such as 60 60 60 60")
    return seconds
