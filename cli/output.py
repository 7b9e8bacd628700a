"""Files that options name to write to: one rule for what may be written over, one way to write it.

A name that cannot be is told before the work. What is there already is replaced only where it is an earlier output of
the same kind, or `--force` says so; readings and grill files never are.
"""

import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer

from cli import console, options
from cli.exit_codes import ExitCode
from cli.options import option
from heatmap.errors import InputError

#: Common file systems take no longer name [bytes].
_LONGEST_NAME = 255
#: So much of a file tells what it is.
_HEAD_BYTES = 65_536
#: A line that names the columns of a log, and a line that begins a table of a grill file.
_READINGS = re.compile(rb"""^(?:.*[,;\t])?\s*["']?(?:shown_[fc]|taken_at)["']?\s*(?:[,;\t]|$)""", re.I | re.M)
_TABLES = rb"grate|positions|burner|gun|probe|patch|target|food|surroundings"
_GRILL = re.compile(rb"""^\s*(?:\[\[?\s*["']?(?:%b)["']?\s*[\].]|["']?grate["']?\s*[.=])""" % _TABLES, re.M)
#: Marks in front of UTF-8 and UTF-16.
_MARKS = b"\xef\xbb\xbf\xff\xfe"


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of output: what it is called, how its name may end, and how a file of it begins."""

    name: str
    begins: re.Pattern[bytes]
    endings: tuple[str, ...] = ()


#: The endings are those of :func:`heatmap.pictures.picture_bytes`, named here so that matplotlib can wait.
PICTURE = Kind(
    "picture",
    re.compile(rb"\x89PNG\r\n.{0,200}Software\0?gratemap|<\?xml.{0,2000}<dc:title>gratemap<", re.S),
    (".png", ".svg"),
)
GRID = Kind("grid", re.compile(rb"x_(in|mm),y_\1,mean_[fc],own_std_[fc]\r?$", re.M))
REPORT = Kind("report", re.compile(rb"\s*<!doctype html>.{0,400}\"generator\" content=\"gratemap report", re.S | re.I))
SHEET = Kind("sheet", re.compile(rb"\s*<!doctype html>.{0,400}\"generator\" content=\"gratemap sheet", re.S | re.I))
GRILL = Kind("grill file", _GRILL)


@dataclass(frozen=True, slots=True)
class Output:
    """A file to be written, looked at before the work and again before it is written."""

    path: Path
    kind: Kind
    force: bool = False

    def check(self) -> None:
        """Refuse a name that cannot be, and a file that may not be written over.

        Raises
        ------
        InputError
            One line: the file, what is wrong and what to do.
        """
        path, kind = self.path, self.kind
        if len(os.fsencode(path.name)) > _LONGEST_NAME:
            raise InputError(f"{path.name[:40]}…: a name of more than {_LONGEST_NAME} letters; give a shorter one")
        if kind.endings and path.suffix.casefold() not in kind.endings:
            raise InputError(f"{path}: a {kind.name}'s name must end in {' or '.join(kind.endings)}")
        if os.path.isdir(path):
            raise InputError(f"{path}: that is a folder; name a file for the {kind.name}")
        if not os.path.isdir(path.parent):
            raise InputError(f"{path}: there is no folder {path.parent} for the {kind.name}; make it, or take another")
        try:
            with open(path if os.path.isfile(path) else os.devnull, "rb") as file:  # a device or pipe loses nothing
                head = file.read(_HEAD_BYTES).replace(b"\0", b"")  # without the zeros of UTF-16
        except OSError as error:
            raise InputError(f"{path}: cannot be written: {error.strerror or error}") from None
        if not head or kind.begins.match(head):
            return
        for what, sign in (("readings", _READINGS), ("a grill file", _GRILL)):
            if sign is not kind.begins and sign.search(head.lstrip(_MARKS).replace(b"\r", b"\n")):
                raise InputError(f"{path} holds {what} and is never written over; name another file")
        if not self.force:
            raise InputError(f"{path} is no {kind.name} of gratemap; name another file, or replace it with --force")

    def save(self, content: bytes | str) -> None:
        """Write the file: whole or not at all.

        Raises
        ------
        InputError
            As :meth:`check`, and when the system refuses; what was there is as it was.
        """
        from heatmap.readings.durable import plain_reason, put_file

        self.check()
        data = content.encode() if isinstance(content, str) else content
        try:
            put_file(os.path.realpath(self.path), data)
        except OSError as error:
            raise InputError(f"{self.path}: cannot be written: {plain_reason(error)}") from None


def output_of(kind: Kind, what: str, *, usual: str = "") -> Any:
    """Return an option that names a file to write; where it is left out, `usual` or nothing."""

    def checked(context: typer.Context, path: Path | None) -> Output | None:
        if context.resilient_parsing or (path is None and not usual):
            return None
        output = Output(path or Path(usual), kind, bool(context.params.get("force")))
        for given, name in (("grill", "grill file"), ("readings", "readings file")):
            there = context.params.get(given)
            if there is not None and os.path.realpath(there) == os.path.realpath(output.path):
                raise InputError(f"{output.path} is the {name} and is never written over; name another file")
        output.check()
        return output

    return option("FILE", what, parser=Path, callback=checked, show_default=usual or False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How a command that maps is to answer; each field is an option."""

    why: bool = options.why()
    picture: Output | None = output_of(PICTURE, "Save a picture of it as .png or .svg.")
    force: bool = options.force()
    as_json: bool = options.as_json()
    check: bool = options.check()

    def save_picture(self, draw: Callable[[Any], Any]) -> None:
        """Save the picture that is asked for, drawn with what :mod:`cli.drawing` has, and tell where it is."""
        if self.picture is not None:
            import cli.drawing

            self.picture.save(cli.drawing.picture_bytes(draw(cli.drawing), self.picture.path.suffix))
            console.talk(f"Picture saved: {self.picture.path}")

    def exit_unless(self, yes: bool) -> None:
        """Exit with 5 where the answer is no and `--check` asks for it."""
        if self.check and not yes:
            raise typer.Exit(ExitCode.ANSWER_IS_NO)
