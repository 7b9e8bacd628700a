"""Lines, cells and header of a CSV file: which signs separate them, taking a line apart and putting one together.

A cell never runs over the end of a line: so a cut-off or damaged line spoils itself and nothing else.
"""

import contextlib
import csv
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import zip_longest

from heatmap.errors import ReadingError

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

    def cells(self, line: str) -> dict[str, str]:
        """Return the cells of a line that say something, by the key of their column.

        Raises
        ------
        ReadingError
            More cells than columns, or quotes that do not match.
        """
        fields, said = split_row(line, self.delimiter), {}
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
            names = tuple(cell.strip() for cell in split_row(line, delimiter))
            headers.append(Header(names=names, delimiter=delimiter))
    known = [header for header in headers if any(map(is_known, header.keys))]
    return max(known, key=lambda header: sum(map(is_known, header.keys)), default=None)


def split_row(line: str, delimiter: str) -> list[str]:
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


def newline_of(text: str) -> str:
    r"""Return what ends the first line: "\\r\\n", "\\r" or "\\n" (also when nothing does)."""
    found = re.search("\r\n?|\n", text)
    return found[0] if found else "\n"


def split_lines(text: str) -> list[str]:
    """Split at line ends only, never at the other signs Unicode calls breaks."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return lines[:-1] if lines[-1] == "" else lines
