"""The readings file: read with every bad row told, nothing guessed.

UTF-8 with or without a byte order mark; comma, semicolon (then with decimal comma) or tab; blank lines and
lines that start with # are skipped; columns we do not know are left alone. The last line counts only when it
is ended: an unended one may have been cut off in the middle of a number.
"""

import difflib
import os
import re
from collections.abc import Container, Iterable
from dataclasses import replace
from typing import IO

from heatmap.errors import ReadingError, quoted, shortened
from heatmap.grill.grill import Grill
from heatmap.readings.csv_rows import OR_THE_GRILL_FILE, Header, Rows, columns_for, header_of, is_content, split_lines
from heatmap.readings.reading import Reading, Round, group_rounds

#: A row that cannot be used: its line and why.
Problem = tuple[int, str]
#: More than this is no readings file: at 80 bytes a row it holds 250 000 shots.
LIMIT_BYTES = 20_000_000

#: More rows than this that cannot be used are counted, not told one by one.
_SHOWN_PROBLEMS = 10


class ReadingsFile:
    """What a readings file holds; what is none is refused.

    Nothing but blank lines and comments is a file without a header; its rows are those of a new one.

    Attributes
    ----------
    name : str
        As it was called.
    header : Header
        As it stands there.
    rows : Rows
        What reads its rows and writes more of them.
    readings : tuple of Reading
        Every usable row in file order, withdrawn ones and withdrawals too.
    problems : tuple of Problem
        Rows that cannot be used.
    warnings : tuple of str
        What was not read or not understood, and why.
    highest_id : int
        Highest id of any row, bad ones included; 0 without rows.
    tail : bytes
        What stands behind the last line end.
    """

    def __init__(self, data: bytes, name: str, grill: Grill, *, keyed: bool = False) -> None:
        """Read its content; `keyed`: its rows have what a phone names its entries by."""
        if len(data) > LIMIT_BYTES:
            raise ReadingError(f"{name} is over {LIMIT_BYTES // 1_000_000} MB, the limit for a readings file")
        end = max(data.rfind(b"\n"), data.rfind(b"\r")) + 1
        self.name, self.header, self.tail = name, Header(), data[end:]
        text = _text_of(data[:end], name)
        lines = split_lines(text)
        numbered = [(number, line) for number, line in enumerate(lines, 1) if is_content(line)]
        if numbered:
            (header_line, first), *numbered = numbered
            line_end = re.search("\r\n?|\n", text)
            header = _header(first, f"{name}, line {header_line}", grill)
            self.header = replace(header, newline=line_end[0] if line_end else "\n")
        self.rows = Rows(self.header, grill, keyed=keyed)
        warnings = _slips(self.rows)
        if is_content(self.tail.decode("utf-8", "replace")):
            warnings.append(f"line {len(lines) + 1} was not read: it has no line end, it may be cut off")
        readings, problems, line_of = _gathered(self.rows, numbered)
        self.readings, self.problems, self.warnings = tuple(readings), tuple(sorted(problems)), tuple(warnings)
        self.highest_id = max(line_of, default=0)

    @property
    def rounds(self) -> tuple[Round, ...]:
        """The readings that stand, by round."""
        return group_rounds(self.readings)

    def problem_lines(self, what: str = "") -> list[str]:
        """Say of the first few rows that cannot be used why, and how many more there are; `what` becomes of them."""
        lines = [f"line {line}{what}: {why}" for line, why in self.problems[:_SHOWN_PROBLEMS]]
        more = len(self.problems) - _SHOWN_PROBLEMS
        return [*lines, f"{more} more lines{what}"] if more > 0 else lines


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
    name, data = content_of(source)
    found = ReadingsFile(data, name, grill)
    if not found.header.names:
        rest = "".join(f": {warning}; nothing else is in it" for warning in found.warnings)
        raise ReadingError(f"{name}{rest or ' is empty'}")
    if found.problems and not skip_bad:
        raise ReadingError(problems_text(found))
    if not found.readings:
        rows = "no row that can be used" if found.problems else "a header but no readings"
        raise ReadingError(f"{name} has {rows}; take a round first, or add rows below the header")
    return found


def content_of(source: Source) -> tuple[str, bytes]:
    """Return the name and about as many bytes as are allowed, or more."""
    name = os.fspath(source) if isinstance(source, (str, os.PathLike)) else str(getattr(source, "name", "readings"))
    try:
        if isinstance(source, (str, os.PathLike)):
            with open(source, "rb") as file:
                return name, file.read(LIMIT_BYTES + 1)
        content = getattr(source, "buffer", source).read(LIMIT_BYTES + 1)  # the bytes below a text file
        return name, content.encode("utf-8", "surrogatepass") if isinstance(content, str) else content
    except FileNotFoundError:
        why = "there is no such file; take a round first, or name another file"
    except (OSError, ValueError) as error:
        why = f"it cannot be read ({getattr(error, 'strerror', None) or error})"
        if os.path.isdir(name):  # Windows calls that "permission denied"
            why = "that is a folder; name the readings file in it"
    raise ReadingError(f"{shortened(name, 200)}: {why}")


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
    line, why = problems[0]
    if len(problems) == 1:
        return f"{name}, line {line}: {why} (mend it, or go on without it: --skip-bad)"
    if all(each.endswith(OR_THE_GRILL_FILE) for _, each in problems):  # one dial, said once: the rows may be right
        return f"{name}: {len(problems)} rows cannot be used, the first on line {line}: {why}; or --skip-bad"
    head = f"{name}: {len(problems)} rows cannot be used; mend them, or go on without them: --skip-bad"
    return "\n  ".join([head, *found.problem_lines()])


def _header(line: str, where: str, grill: Grill) -> Header:
    table = columns_for(grill)
    header = header_of(line, lambda key: key in table or key.startswith("knob_"))
    if header is None:
        raise ReadingError(
            f"{where}: {quoted(line)} is no header; the first line names the columns, "
            "at least position and shown_f (or shown_c)"
        )
    keys, columns = header.keys, f"columns are: {shortened(', '.join(header.names), 120)}"
    twice = sorted({key for key in keys if key and keys.count(key) > 1})
    if twice:
        raise ReadingError(f"{where}: column {quoted(twice[0])} stands there twice; keep one")
    fields = {table[key].field for key in keys if key in table}
    if "shown_c" not in fields:
        raise ReadingError(f"{where}: the column shown_f or shown_c is missing; {columns}")
    if ("x_mm" in fields) != ("y_mm" in fields):
        raise ReadingError(f"{where}: there is a column for x or y but not for both; add the other")
    if not fields & {"position", "x_mm"}:
        what = "position (or x_in and y_in, or x_mm and y_mm)"
        raise ReadingError(f"{where}: the column {what} is missing; {columns}")
    for name, key in zip(header.names, keys, strict=True):
        if key.startswith("knob_") and key not in table:
            raise ReadingError(f"{where}: column {quoted(name)}: {grill.burners_text}")
    return header


def _slips(rows: Rows) -> list[str]:
    """Name the columns that look like a slip of a known one."""
    told = []
    for name, key in zip(rows.header.names, rows.header.keys, strict=True):
        if key not in rows.table and (close := difflib.get_close_matches(key, rows.table, 1, 0.8)):
            told.append(f"column {quoted(name)} is not known and not used; should it be {close[0]}?")
    return told


def _gathered(rows: Rows, numbered: Iterable[tuple[int, str]]) -> tuple[list[Reading], list[Problem], dict[int, int]]:
    """Return the rows that can be used, why others cannot, and the line of every id, of bad rows too."""
    readings: list[Reading] = []
    problems: list[Problem] = []
    line_of: dict[int, int] = {}
    for number, line in numbered:
        own_id = len(readings) + len(problems) + 1
        try:
            cells = rows.header.cells(line)
            if not cells:
                continue
            own_id = int(rows.table["id"].read(cells["id"])) if "id" in cells else own_id
            if own_id in line_of:
                raise ReadingError(f"id {own_id} stands on line {line_of[own_id]} too; give each row its own")
            readings.append(rows.reading(cells, own_id))
        except ReadingError as error:
            problems.append((number, str(error)))
        line_of.setdefault(own_id, number)
    # What only the whole file can tell: what is withdrawn, and the session of a round.
    standing = {reading.id for reading in readings}
    sessions: dict[int, Reading] = {}
    kept = []
    for reading in readings:
        try:
            settled = _settled(reading, standing, line_of)
            if settled is not None:
                check_session(settled, sessions)
                kept.append(settled)
        except ReadingError as error:
            problems.append((line_of[reading.id], str(error)))
    return kept, problems, line_of


def _settled(reading: Reading, standing: Container[int], line_of: Container[int]) -> Reading | None:
    """Return a reading as it counts where it withdraws a bad row: as one that does not; None where it says no more."""
    if reading.void is None or reading.void in standing:
        return reading
    if reading.void not in line_of:
        raise ReadingError(f"void is {reading.void}, but no row has that id; name the id of a row here")
    return None if reading.shown_c is None else replace(reading, void=None)


def check_session(reading: Reading, sessions: dict[int, Reading]) -> None:
    """Refuse a reading of another session than its round; `sessions` has the first reading of each that names one."""
    if not reading.session or reading.shown_c is None:
        return
    first = sessions.setdefault(reading.round, reading)
    if first.session != reading.session:
        raise ReadingError(
            f"round {reading.round} is of session {quoted(first.session)} in reading {first.id} but of "
            f"{quoted(reading.session)} here; give each round its own number"
        )
