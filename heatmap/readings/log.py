"""The readings file, written: rows are only ever added, and a reading counts as taken when it is on the disk.

A row goes out in one write and is flushed to the disk before `append` returns it. What a power cut or a
killed process leaves of a row is never lost silently: it stays in the file as a comment. A lock on a side
file keeps a second writer out; the operating system releases it when the process dies.
"""

import os
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Self

from heatmap.errors import LogError, ReadingError, escaped
from heatmap.grill.grill import Grill
from heatmap.readings.csv_file import LIMIT_BYTES, ReadingsFile, check_session, problems_text
from heatmap.readings.csv_rows import split_lines, with_columns
from heatmap.readings.durable import Stamp, append_to, plain_reason, put_file, remove_leftovers, stamp_at
from heatmap.readings.reading import ITSELF, Reading

#: What stands before the rest of a cut-off row, of which every byte is shown.
_CUT_OFF = "# cut off, does not count: "


class ReadingsLog:
    """An open readings file to which rows are added; use it in a `with` statement.

    Parameters
    ----------
    path : path
        The file; made with the first reading when there is none yet.
    grill : Grill
        Says the units of a new file, and which burners have a column.
    skip_bad : bool
        Open a file that has rows which cannot be used.
    keyed : bool
        Give the file a column for what a phone names its entries by.

    Raises
    ------
    LogError
        On opening, when another process writes to the file or the folder cannot be written to.
    ReadingError
        On opening, when the file is no readings file, or has bad rows and `skip_bad` is not set.
    """

    def __init__(
        self, path: str | os.PathLike[str], grill: Grill, *, skip_bad: bool = False, keyed: bool = False
    ) -> None:
        """Remember what to open."""
        from filelock import FileLock

        self.name = os.fspath(path)
        self.grill, self.skip_bad, self.keyed = grill, skip_bad, keyed
        self._path = os.path.realpath(self.name)
        folder, base = os.path.split(self._path)
        self._lock = FileLock(os.path.join(folder, f".{base}.lock"), thread_local=False)
        self._lock_stamp: tuple[int, ...] = ()  # of the side file that is locked while the log is open
        self.file = ReadingsFile(b"", self.name, grill, keyed=keyed)  # as last read, with what was written since
        self._stamp: Stamp | None = None  # of the file as last read or written; None: read it again

    def __enter__(self) -> Self:
        """Take the lock and read what is there."""
        self._take_lock()
        try:
            remove_leftovers(self._path)
            self._scan()
            if self.file.problems and not self.skip_bad:
                raise ReadingError(problems_text(self.file))
        except BaseException as error:
            self.close()
            if isinstance(error, OSError):
                raise LogError(f"{self.name} cannot be opened for writing: {plain_reason(error)}") from error
            raise
        return self

    def __exit__(self, *_: object) -> None:
        """Release the lock."""
        self.close()

    def close(self) -> None:
        """Release the lock; every reading is on the disk already."""
        self._lock_stamp = ()
        self._lock.release()

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Every usable row of the file, those added since included."""
        return self.file.readings

    @property
    def next_id(self) -> int:
        """The id of the row that is added next, if no other hand adds one first."""
        return self.file.highest_id + 1

    def append(self, reading: Reading) -> Reading:
        """Write one reading down; return it as it is read back, with its id. It is on the disk.

        Raises
        ------
        LogError
            When it could not be written; names the reading. The file is as it was.
        """
        return self.append_all((reading,))[0]

    def append_all(self, readings: Iterable[Reading]) -> tuple[Reading, ...]:
        """Write several readings down in one write and one flush: all of them, or none.

        Raises
        ------
        LogError
            As :meth:`append`.
        """
        wanted = tuple(readings)
        if not wanted:
            return ()
        if not self._lock_stamp:
            raise LogError(f"{self.name} is not open for writing; {self._words(wanted)}")
        try:
            if os.path.isdir(os.path.dirname(self._path)):  # else the write tells
                self._take_lock()
            return self._append(wanted)
        except OSError as error:
            raise LogError(f"{self.name}: {plain_reason(error)}; {self._words(wanted)}") from error
        except (LogError, ReadingError) as error:  # perhaps another hand broke the file
            raise LogError(f"{error}; {self._words(wanted)}") from error

    def withdrawal(self, number: int, note: str = "", *, taken_at: datetime | None = None) -> Reading:
        """Return the row that withdraws the reading with this id, not written yet; what it withdraws stays in the file.

        Raises
        ------
        ReadingError
            When there is no such reading, or it is withdrawn already.
        """
        target = next((reading for reading in self.readings if reading.id == number), None)
        if target is None or (target.shown_c is None and target.aim != "turned" and target.void != number):
            raise ReadingError(f"{self.name} has no reading {number} to withdraw")
        if any(reading.void == number != reading.id for reading in self.readings):
            raise ReadingError(f"reading {number} is withdrawn already")
        return replace(target, shown_c=None, void=number, note=note, key="", taken_at=taken_at, knobs={})

    def _take_lock(self) -> None:
        """Take the lock; anew where its side file was deleted or replaced: another gratemap may hold the new one."""
        from filelock import Timeout

        lock, folder = self._lock, os.path.dirname(self._path)
        if lock.is_locked and _identity(lock.lock_file) == self._lock_stamp:
            return
        lock.release()
        if not os.path.isdir(folder):
            raise LogError(f"{self.name} cannot be opened for writing: there is no folder {folder}")
        if os.path.exists(self._path) and not os.path.isfile(self._path):
            raise LogError(f"{self.name} cannot be opened for writing: that is no file; name a file")
        try:
            lock.acquire(timeout=0)
        except Timeout:
            raise LogError(f"{self.name} is being written by another gratemap; end that one first") from None
        except (OSError, NotImplementedError, RuntimeError) as error:
            why = plain_reason(error) if isinstance(error, OSError) else str(error)
            raise LogError(f"{self.name} cannot be opened for writing: {why}") from error
        self._lock_stamp = _identity(lock.lock_file)

    def _scan(self) -> None:
        """Read what is there; from here on the file is the truth, also about what we wrote."""
        self._stamp = None
        stamp = stamp_at(self._path)
        try:
            with open(self._path, "rb") as file:
                data = file.read(LIMIT_BYTES + 1)
        except FileNotFoundError:
            if self.file.header.names:
                raise  # it was there before
            data = b""
        self.file, self._stamp = ReadingsFile(data, self.name, self.grill, keyed=self.keyed), stamp

    def _append(self, wanted: Sequence[Reading]) -> tuple[Reading, ...]:
        if self._stamp is None or self._stamp != stamp_at(self._path):
            self._scan()
        if self.file.rows.missing or self.file.tail:
            self._rewrite()
        lines, added = self._lines_for(wanted)
        header = self.file.rows.header
        data = "".join(lines if self.file.header.names else [header.row(header.names), *lines]).encode()
        stamp, self._stamp = self._stamp, None
        if (stamp[2] if stamp else 0) + len(data) > LIMIT_BYTES:
            raise LogError(f"{self.name} is full (at most {LIMIT_BYTES // 1_000_000} MB); begin a new file")
        self._stamp = append_to(self._path, data, stamp)
        self.file.header = header
        self.file.readings += added
        self.file.highest_id = added[-1].id
        return added

    def _lines_for(self, wanted: Sequence[Reading]) -> tuple[list[str], tuple[Reading, ...]]:
        """Return the rows to write and what they are read back as: no row goes out that cannot be read."""
        lines, added, rows = [], [], self.file.rows
        sessions = {reading.round: reading for reading in reversed(self.readings) if reading.session}
        for count, reading in enumerate(wanted, 1):
            number = self.file.highest_id + count
            void = number if reading.void == ITSELF else reading.void
            line = rows.line(replace(reading, id=number, void=void))
            found = rows.reading(rows.header.cells(line.removesuffix(rows.header.newline)), number)
            check_session(found, sessions)
            lines.append(line)
            added.append(found)
        return lines, tuple(added)

    def _rewrite(self) -> None:
        """Put the file anew in its place at once, with the columns it lacks and a cut-off row as a comment."""
        there, header, missing = self.file, self.file.header, self.file.rows.missing
        with open(self._path, "rb") as file:
            anew = file.read(LIMIT_BYTES + 1).removesuffix(there.tail)
        if missing:
            mark = "\ufeff" if anew.startswith(b"\xef\xbb\xbf") else ""
            lines = with_columns(split_lines(anew.decode("utf-8-sig")), missing, header.delimiter)
            anew = (mark + "".join(line + header.newline for line in lines)).encode()
        if there.tail:
            anew += (_CUT_OFF + escaped(there.tail.decode("utf-8", "backslashreplace")) + header.newline).encode()
        found = ReadingsFile(anew, self.name, self.grill)
        if (there.readings, len(there.problems)) != (found.readings, len(found.problems)):
            lacks = f"{self.name} lacks {', '.join(missing) or 'the end of its last line'}"
            raise ReadingError(f"{lacks}, and a row would be lost by adding it; add it by hand")
        put_file(self._path, anew, keep_old=bool(missing))
        self._scan()

    def _words(self, readings: Sequence[Reading]) -> str:
        """Name the readings that were not written, as the cook knows them."""
        first, display = readings[0], self.grill.display
        if first.aim == "turned" and first.void is None:
            what = "the turn of the knobs"
        elif first.void == ITSELF:
            what = "the note"
        elif first.shown_c is None:
            what = f"the withdrawal of reading {first.void}"
        else:
            what = f"{first.position or 'x, y'} {display.temperature(first.shown_c):.6g} {display.degrees}"
        more = len(readings) - 1
        return f"{what} was NOT written" if not more else f"{what} and {more} more were NOT written"


def _identity(path: str) -> tuple[int, ...]:
    """Return which file a path is; nothing for none."""
    return (stamp_at(path) or ())[:2]
