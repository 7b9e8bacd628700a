"""The readings file: read with every bad row told, nothing guessed.

UTF-8 with or without a byte order mark; comma, semicolon (then with decimal comma) or tab; blank lines and
lines that start with # are skipped; columns we do not know are left alone. The last line counts only when it
is ended: an unended one may have been cut off in the middle of a number.
"""

from __future__ import annotations

import difflib
import os
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import IO, NamedTuple, cast

from heatmap.errors import ReadingError
from heatmap.grill.grill import Grill
from heatmap.readings.csv_columns import OR_THE_GRILL_FILE, Column, column_key, columns_for
from heatmap.readings.csv_lines import Dialect, is_content, newline_of, split_lines, split_row
from heatmap.readings.csv_rows import Rows
from heatmap.readings.reading import Reading, Round, group_rounds
from heatmap.readings.written import quoted

#: More than this is no readings file: at 80 bytes a row it holds 250 000 shots.
LIMIT_BYTES = 20_000_000

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
        Names in the header, as written; none where there is no header yet.
    dialect : Dialect
    header_line : int
        Line of the header.
    warnings : tuple of str
        What was not read or not understood, and why.
    problems : tuple of Problem
        Rows left out; empty unless bad rows were to be skipped.
    highest_id : int
        Highest id of any row, bad ones included; 0 without rows.
    lines : int
        Lines that have their end.
    tail : bytes
        What stands behind the last line end.
    """

    name: str
    readings: tuple[Reading, ...] = ()
    columns: tuple[str, ...] = ()
    dialect: Dialect = field(default_factory=Dialect)
    header_line: int = 1
    warnings: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    highest_id: int = 0
    lines: int = 0
    tail: bytes = b""

    @property
    def rounds(self) -> tuple[Round, ...]:
        """The readings that stand, by round."""
        return group_rounds(self.readings)


Source = str | os.PathLike[str] | IO[str] | IO[bytes]


def load_rounds(source: Source, grill: Grill, *, skip_bad: bool = False) -> tuple[Round, ...]:
    """Return the rounds of a readings file, oldest number first; `skip_bad` goes on without rows that cannot be used.

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


def read_readings(source: Source, grill: Grill, *, skip_bad: bool = False) -> ReadingsFile:
    """Read a readings file as :func:`load_rounds`, keeping all it says; without any reading it is refused too."""
    name, data = _content_of(source)
    found = parse_readings(data, name, grill)
    if found.problems and not skip_bad:
        raise ReadingError(problems_text(found))
    if not found.readings:
        rows = "no row that can be used" if found.problems else "a header but no readings"
        raise ReadingError(f"{name} has {rows}; take a round first, or add rows below the header")
    return found


def parse_readings(data: bytes, name: str, grill: Grill) -> ReadingsFile:
    """Read the content of a readings file; bad rows are listed in `problems`, what is no readings file is refused."""
    found = examine(data, name, grill)
    if not found.columns:
        rest = "".join(f": {warning}; nothing else is in it" for warning in found.warnings)
        raise ReadingError(f"{name}{rest or ' is empty'}")
    return found


def examine(data: bytes, name: str, grill: Grill) -> ReadingsFile:
    """Read as :func:`parse_readings`; nothing but blank lines and comments is a file without columns."""
    if len(data) > LIMIT_BYTES:
        raise ReadingError(f"{name} is over {LIMIT_BYTES // 1_000_000} MB, the limit for a readings file")
    end = max(data.rfind(b"\n"), data.rfind(b"\r")) + 1
    body, tail = data[:end], data[end:]
    text = _text_of(body, name)
    lines = split_lines(text)
    warnings = []
    if is_content(tail.decode("utf-8", "replace")):
        warnings.append(f"line {len(lines) + 1} was not read: it has no line end, it may be cut off")
    at = next((index for index, line in enumerate(lines) if is_content(line)), None)
    if at is None:
        return ReadingsFile(name=name, lines=len(lines), tail=tail, warnings=tuple(warnings))
    names, delimiter = _header(lines[at], f"{name}, line {at + 1}", grill)
    rows = Rows(names, grill, Dialect(delimiter=delimiter, newline=newline_of(text)))
    _check_header(rows, f"{name}, line {at + 1}")
    gathered = _Gathered(rows)
    for index in range(at + 1, len(lines)):
        if is_content(lines[index]):
            gathered.add(lines[index], index + 1)
    gathered.finish()
    return ReadingsFile(
        name=name,
        readings=tuple(gathered.readings),
        columns=tuple(names),
        dialect=rows.dialect,
        header_line=at + 1,
        warnings=(*_slips(rows), *warnings),
        problems=tuple(sorted(gathered.problems)),
        highest_id=max(gathered.lines, default=0),
        lines=len(lines),
        tail=tail,
    )


def _content_of(source: Source) -> tuple[str, bytes]:
    """Return the name and about as many bytes as are allowed, or more."""
    if not isinstance(source, (str, os.PathLike)):
        name = str(getattr(source, "name", "readings"))
        try:
            content = getattr(source, "buffer", source).read(LIMIT_BYTES + 1)  # the bytes below a text file
        except (OSError, ValueError) as error:
            raise ReadingError(f"{name} cannot be read ({error})") from None
        return name, content.encode("utf-8", "surrogatepass") if isinstance(content, str) else content
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


def _text_of(body: bytes, name: str) -> str:
    if body.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise ReadingError(f"{name} is a spreadsheet file; save it as CSV (UTF-8) first")
    if b"\0" in body:
        raise ReadingError(f"{name} is not a text file; save the readings as CSV (UTF-8)")
    try:
        return body.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = len(split_lines(body[: error.start].decode("utf-8", "replace") + "x"))
        raise ReadingError(f"{name}, line {line}: not UTF-8 text; save the file as CSV (UTF-8)") from None


def problems_text(found: ReadingsFile) -> str:
    """Return what is wrong with the rows of a file: the first few with their lines, and the count."""
    name, problems = found.name, found.problems
    if len(problems) == 1:
        line, why = problems[0]
        return f"{name}, line {line}: {why} (mend it, or go on without it: --skip-bad)"
    if all(why.endswith(OR_THE_GRILL_FILE) for _, why in problems):  # one dial, said once: the rows may be right
        line, why = problems[0]
        return f"{name}: {len(problems)} rows cannot be used, the first on line {line}: {why}; or --skip-bad"
    shown = [f"  line {line}: {why}" for line, why in problems[:_SHOWN_PROBLEMS]]
    if len(problems) > _SHOWN_PROBLEMS:
        shown.append(f"  and {len(problems) - _SHOWN_PROBLEMS} more")
    head = f"{name}: {len(problems)} rows cannot be used; mend them, or go on without them: --skip-bad"
    return "\n".join([head, *shown])


def _header(line: str, where: str, grill: Grill) -> tuple[list[str], str]:
    """Return the column names and the delimiter: the one that finds most columns with a meaning."""
    table = columns_for(grill, Dialect())
    best: tuple[list[str], str] = ([], ",")
    most = 0
    for delimiter in (",", ";", "\t"):
        try:
            names = [cell.strip() for cell in split_row(line, delimiter)]
        except ReadingError:
            continue
        known = sum(_is_known(column_key(cell), table) for cell in names)
        if known > most:
            best, most = (names, delimiter), known
    if not most:
        raise ReadingError(
            f"{where}: {quoted(line)} is no header; the first line names the columns, "
            "at least position and shown_f (or shown_c)"
        )
    return best


def _is_known(key: str, table: dict[str, Column]) -> bool:
    return key in table or key.startswith("knob_")


def _check_header(rows: Rows, where: str) -> None:
    keys, columns = rows.keys, f"columns are: {quoted(', '.join(rows.header), 120)[1:-1]}"
    twice = sorted({key for key in keys if key and keys.count(key) > 1})
    if twice:
        raise ReadingError(f"{where}: column {quoted(twice[0])} stands there twice; keep one")
    fields = {rows.table[key].field for key in keys if key in rows.table}
    if "shown_c" not in fields:
        raise ReadingError(f"{where}: the column shown_f or shown_c is missing; {columns}")
    if ("x_mm" in fields) != ("y_mm" in fields):
        raise ReadingError(f"{where}: there is a column for x or y but not for both; add the other")
    if not fields & {"position", "x_mm"}:
        what = "position (or x_in and y_in, or x_mm and y_mm)"
        raise ReadingError(f"{where}: the column {what} is missing; {columns}")
    for name, key in zip(rows.header, keys, strict=True):
        if key.startswith("knob_") and key not in rows.table:
            burners = ", ".join(burner.name for burner in rows.grill.burners) or "none in the grill file"
            raise ReadingError(f"{where}: column {quoted(name)}: burners are: {burners}")


def _slips(rows: Rows) -> list[str]:
    """Name the columns that look like a slip of a known one."""
    told = []
    for name, key in zip(rows.header, rows.keys, strict=True):
        close = [] if key in rows.table else difflib.get_close_matches(key, rows.table, 1, 0.8)
        if close:
            told.append(f"column {quoted(name)} is not known and not used; should it be {close[0]}?")
    return told


class _Gathered:
    """Gathers rows, good and bad, and settles what only the whole file can tell."""

    def __init__(self, rows: Rows) -> None:
        self.rows = rows
        self.readings: list[Reading] = []
        self.problems: list[Problem] = []
        self.lines: dict[int, int] = {}  # id → line, of bad rows too
        self._count = 0

    def add(self, line: str, number: int) -> None:
        """Read one line."""
        cells: dict[str, str] | None = {}
        own_id = self._count + 1
        try:
            cells = self.rows.cells(line)
            if cells is None:
                return
            own_id = self.rows.whole(cells, "id", own_id)
            if own_id in self.lines:
                raise ReadingError(f"id {own_id} stands on line {self.lines[own_id]} too; give each row its own")
            self.readings.append(self.rows.reading(cells, number, own_id))
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
                raise ReadingError(f"void is {reading.void}, but no row has that id; name the id of a row here")
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
