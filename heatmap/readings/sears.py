"""What seared pieces taught, kept in `sears.csv` beside the readings: one row a piece, only ever added to."""

from __future__ import annotations

import csv
import os
import re
from pathlib import Path
from typing import Any

from heatmap.errors import LogError, ReadingError
from heatmap.grill.grill import Grill
from heatmap.grill.quantities import inside_value, shown_value
from heatmap.readings.csv_columns import time_text, utc_from_text
from heatmap.readings.csv_lines import Dialect, join_row
from heatmap.readings.durable import flush_to_disk, plain_reason
from heatmap.readings.written import number_from_text, quoted
from heatmap.sear import OUTCOMES, SearedPiece

COLUMNS = ("taken_at", "place", "turns_s", "start", "thickness", "peak", "outcome", "note")
SEARS_FILE = "sears.csv"
#: A file larger than this holds no sears of one cook.
_LARGEST_BYTES = 1_000_000
#: Columns of numbers: what they fill, and of what kind, in the units of the grill file.
_NUMBERS = {
    "start": ("start_c", "temperature"),
    "thickness": ("thickness_mm", "length"),
    "peak": ("peak_c", "temperature"),
}
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
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST_BYTES + 1)
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise ReadingError(f"{path}: cannot be read: {plain_reason(error)}") from None
    if len(data) > _LARGEST_BYTES:
        raise ReadingError(f"{path}: larger than {_LARGEST_BYTES:,} bytes; that is no file of sears")
    lines = data.decode("utf-8-sig", errors="replace").splitlines()
    kept = [(at, line) for at, line in enumerate(lines, 1) if line.strip() and not line.lstrip().startswith("#")]
    if not kept:
        return ()
    header = kept[0][1]
    delimiter = next((sign for sign in ";\t" if sign in header), ",")
    names = [name.strip().casefold() for name in header.split(delimiter)]
    if "turns_s" not in names:
        raise ReadingError(f"{path}: the column turns_s is missing; columns are: {', '.join(COLUMNS)}")
    pieces, problems = [], []
    for at, line in kept[1:]:
        try:
            cells = next(csv.reader([line], delimiter=delimiter))
            said = {name: cell.strip() for name, cell in zip(names, cells, strict=False) if cell.strip()}
            if said:
                pieces.append(_piece(said, grill, comma=delimiter == ";"))
        except (ReadingError, csv.Error) as error:
            problems.append(f"line {at}: {error}")
    if problems:
        raise ReadingError(f"{path}: {'; '.join(problems[:5])}")
    return tuple(pieces)


def _piece(said: dict[str, str], grill: Grill, *, comma: bool) -> SearedPiece:
    def number(name: str, kind: Any) -> float | None:
        if name not in said:
            return None
        try:
            return inside_value(number_from_text(said[name], decimal_comma=comma), kind, grill.units)
        except ReadingError as error:
            raise ReadingError(f"{name} {error}") from None

    written = said.get("note", "")
    key, note = _KEY.search(written), _KEY.sub("", written)
    outcome = said.get("outcome", "").casefold()
    if outcome not in ("", *OUTCOMES):
        raise ReadingError(f"outcome is {quoted(outcome)}; it must be under, right or over")
    values: dict[str, Any] = {field: number(name, kind) for name, (field, kind) in _NUMBERS.items()}
    for part in note.split("; "):  # ours come last, after what a cook may say of a rail 2
        if found := _NOTE.fullmatch(part):
            shown = float(found[2].replace(",", "."))
            values[_NOTED[found[1]]] = inside_value(shown, "temperature", grill.units)
    return SearedPiece(
        taken_at=utc_from_text(said["taken_at"]) if "taken_at" in said else None,
        place=said.get("place", ""),
        turns_s=_seconds(said.get("turns_s", "")),
        outcome=next((one for one in OUTCOMES if one == outcome), None),
        note=note,
        key=key[1] if key else "",
        **values,
    )


def _seconds(text: str) -> tuple[float, ...]:
    try:
        seconds = tuple(float(part) for part in re.split(r"[\s,;]+", text.strip()))
    except ValueError:
        seconds = ()
    if not seconds or not all(0.0 < one <= 3600.0 for one in seconds):
        raise ReadingError(f"turns_s is {quoted(text)}; write the seconds of each turn, such as 60 60 60 60")
    return seconds


def append_sear(path: Path, grill: Grill, piece: SearedPiece) -> None:
    """Add one row: on the disk when this returns.

    Raises
    ------
    LogError
        When it could not be written.
    """
    try:
        there = path.read_bytes() if path.exists() else b""
    except OSError as error:
        raise LogError(f"{path}: cannot be read: {plain_reason(error)}") from None
    header = there.decode("utf-8-sig", errors="replace").lstrip().partition("\n")[0].strip()
    delimiter = next((sign for sign in ";\t" if sign in header), ",")
    names = [name.strip().casefold() for name in header.split(delimiter)] if header else list(COLUMNS)
    start = "" if header else f"{','.join(COLUMNS)}\n"
    if there and not there.endswith(b"\n"):
        start = f"\n{start}"
    cells = _cells(piece, grill, comma=delimiter == ";")
    row = join_row([cells.get(name, "") for name in names], Dialect(delimiter=delimiter, newline=""))
    try:
        file = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o666)
        try:
            os.write(file, f"{start}{row}\n".encode())
            flush_to_disk(file)
        finally:
            os.close(file)
    except OSError as error:
        raise LogError(f"{path}: {plain_reason(error)}; the sear was NOT written") from None


def _cells(piece: SearedPiece, grill: Grill, *, comma: bool) -> dict[str, str]:
    def shown(value: float | None, kind: Any) -> str:
        text = "" if value is None else f"{round(shown_value(value, kind, grill.units), 2):g}"
        return text.replace(".", ",") if comma else text

    noted = {word: shown(getattr(piece, field), "temperature") for word, field in _NOTED.items()}
    said = [piece.note, *(f"{word} {text}" for word, text in noted.items() if text)]
    said += [f"key={piece.key}"] if piece.key else []
    return {
        "taken_at": "" if piece.taken_at is None else time_text(piece.taken_at),
        "place": piece.place,
        "turns_s": " ".join(f"{one:g}" for one in piece.turns_s),
        **{name: shown(getattr(piece, field), kind) for name, (field, kind) in _NUMBERS.items()},
        "outcome": piece.outcome or "",
        "note": "; ".join(filter(None, said)),
    }
