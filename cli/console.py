"""The screen: answers to stdout, talk to stderr, colour only where it helps and is wanted."""

import codecs
import contextlib
import functools
import json
import math
import os
import re
import shutil
import sys
import textwrap
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import IO, Any, TypeVar

from heatmap.errors import HeatmapError, InputError
from heatmap.words.phrases import MARKS

Answer = TypeVar("Answer")

_COLOURS = {"too hot": "33;1", "too cold": "36;1", "in band": "1", "strong": "1"}

#: Our own colours, those of a code to scan (97;40), breaks of lines, all kept; and the other signs a terminal follows.
_FOLLOWED = re.compile(
    rf"(\033\[(?:0|97;40|{'|'.join(_COLOURS.values())})m|[\n\t])|[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e]"
)

_DRAWN = "".join(sign for signs in MARKS.values() for sign in signs)
#: The marks for terminals without these signs.
_PLAIN_MARKS = {"too hot": ("^", "^?"), "too cold": ("v", "v?"), "in band": ("=", "=?"), "suspect": ("x", "x")}

#: What stands for a sign that the screen or file cannot show: a lost minus would be another number.
_PLAIN_SIGNS = {"−": "-", "–": "-", "±": "+/-", "°": "", "×": "x", "÷": "/", "…": "...", "·": ".", "√": "sqrt "}
_PLAIN_SIGNS |= {"µ": "u", "ε": "e", "²": "^2", "³": "^3", "¹": "^1", "⁰": "0"}
_PLAIN_SIGNS |= {"█": "#", "─": "-", "│": "|", "┌": "+", "┐": "+", "└": "+", "┘": "+"}

#: The blank between a number and its unit.
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:%|°[FC]|in|mm|min|s)(?![\w%]))")


def _plain_signs(error: UnicodeError) -> tuple[str, int]:
    assert isinstance(error, UnicodeEncodeError)
    lost = error.object[error.start : error.end]
    return "".join(_PLAIN_SIGNS.get(sign, "?") for sign in lost), error.end


codecs.register_error("plain signs", _plain_signs)


def showable(text: str, stream: IO[str]) -> str:
    """Return the text with plain signs for those that the stream cannot show."""
    encoding = getattr(stream, "encoding", None) or "utf-8"
    return text.encode(encoding, errors="plain signs").decode(encoding)


def harmless(text: str) -> str:
    """Return the text with blanks for signs that a terminal would follow, our own colours apart."""
    return text if text.isprintable() else _FOLLOWED.sub(lambda found: found[1] or " ", text)


def is_terminal(stream: Any = None) -> bool:
    """Tell whether somebody sits at the stream."""
    stream = stream or sys.stdin
    return not stream.closed and bool(stream.isatty())


def answer(*lines: str) -> None:
    """Print an answer to stdout."""
    for line in lines:
        _write(sys.stdout, line)


def talk(*lines: str) -> None:
    """Print anything that is not the answer to stderr."""
    for line in lines:
        _write(sys.stderr, line)


def columns() -> int:
    """Return the width of the screen answers go to; 80 where they go elsewhere."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else 80


def reply(told: dict[str, Any] | Sequence[str], most: float = math.inf, why: Sequence[str] | None = None) -> None:
    """Print to stdout what was asked for: a document as one JSON object; else as many whole sentences, in order, as fit
    on so many lines of the screen, the first always; all of them, and why, where that is told.

    JSON is in ASCII, so that no encoding on the way can harm it; refuses NaN.
    """
    if isinstance(told, dict):
        _write(sys.stdout, json.dumps(told, allow_nan=False), wrap=False)
    elif why is not None:
        answer(*told, *why)
    else:
        for at, line in enumerate(told):
            most -= wrapped(line, columns()).count("\n") + 1
            if at and most < 0:
                return
            answer(line)


def ask(question: str, default: str, read: Callable[[str], Answer]) -> Answer:
    """Put a question on stderr, its default, if any, in brackets for Enter, until its answer can be read.

    A HeatmapError of `read` says what is wrong with one.

    Raises
    ------
    InputError
        When nobody answers any more.
    """
    while True:
        put_question(f"{question} [{default}]:" if default else question)
        line = sys.stdin.readline()
        if not line:
            raise InputError("the answers ended early; nothing was written")
        try:
            return read(line.strip() or default)
        except HeatmapError as error:
            talk(f"  {error}")


def put(text: str) -> None:
    """Write to stderr as it is, for a screen that is drawn; quietly where nobody sees it any more."""
    try:
        sys.stderr.write(showable(text, sys.stderr))
        sys.stderr.flush()
    except (OSError, ValueError):
        # What is left unwritten must not fail again at the end, where Python would make the exit code 120 of it.
        with contextlib.suppress(OSError, ValueError):
            silence(sys.stderr)


def put_question(text: str) -> None:
    """Write a question, broken between words where it is too long, and stay behind it."""
    put("\n".join(fitted(text)) + " ")


def fitted(text: str) -> list[str]:
    """Return the lines of a text broken at words, so that it fits the screen and leaves room for the cursor."""
    return wrapped(text, shutil.get_terminal_size().columns - 1).split("\n")


def open_streams() -> None:
    """Give a stream that was closed when the command was started a place to read or write nothing: the next file opened
    would get its number, and what is said would go in there.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_RDWR), mode, encoding="utf-8"))


def silence(stream: IO[str]) -> None:
    """Turn a stream nobody reads to nowhere, so that what is still to be flushed does no harm (Python documentation,
    signal module, note on SIGPIPE)."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def _write(stream: IO[str], text: str, *, wrap: bool = True) -> None:
    if wrap and stream.isatty():
        text = wrapped(text, shutil.get_terminal_size().columns)
    try:
        stream.write(showable(harmless(text), stream) + "\n")
        stream.flush()
    except OSError as error:
        silence(stream)
        # `head` and pagers may leave before the end; where its exit code is the answer the command goes on, silently.
        if not ("--check" in sys.argv if isinstance(error, BrokenPipeError) else stream is sys.stderr):
            raise


def wrapped(text: str, width: int) -> str:
    """Return the text with lines too long for the screen broken between words, never between a number and its unit."""
    lines = []
    for line in text.split("\n"):
        if len(line) <= width or "\033" in line:
            lines.append(line)
        else:
            indent = " " * (len(line) - len(line.lstrip()) + 2)
            how = {"subsequent_indent": indent, "break_long_words": False, "break_on_hyphens": False}
            held = _BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", line)
            lines += textwrap.wrap(held, max(width, 20), **how)  # type: ignore[arg-type]
    return "\n".join(lines).replace("\N{NO-BREAK SPACE}", " ")


def can_show(signs: str, stream: IO[str] | None = None) -> bool:
    """Tell whether the stream has these signs."""
    return showable(signs, stream or sys.stdout) == signs


def mark(word: str, stream: IO[str] | None = None, *, sure: bool = True) -> str:
    """Return the mark for a verdict: filled when it is sure, hollow when it only leans that way."""
    return (MARKS if can_show(_DRAWN, stream) else _PLAIN_MARKS)[word][not sure]


def legend(stream: IO[str] | None = None) -> str:
    """Return what the marks mean, on one line."""
    marks = "  ".join(f"{mark(word, stream)} {word}" for word in MARKS if word != "suspect")
    return f"{marks}; {'hollow' if can_show(_DRAWN, stream) else 'with ?'}: not sure"


def wants_colour(stream: IO[str] | None = None) -> bool:
    """Tell whether to colour: only a terminal, and never against NO_COLOR (https://no-color.org)."""
    return not os.environ.get("NO_COLOR") and follows_escapes(stream or sys.stdout)


def follows_escapes(stream: IO[str]) -> bool:
    """Tell whether the stream is a terminal that clears and colours when told; old Windows consoles print the codes."""
    told = os.environ.get("TERM", "dumb") not in ("", "dumb") or "WT_SESSION" in os.environ  # Windows Terminal's mark
    return told and stream.isatty()


def coloured(text: str, style: str, stream: IO[str] | None = None) -> str:
    """Return the text in the colour of a verdict, or as it is where colour is not wanted."""
    return f"\033[{_COLOURS[style]}m{text}\033[0m" if style in _COLOURS and wants_colour(stream) else text


@functools.cache
def _shapes() -> dict[str, list[str]]:
    """Return the five rows of each sign; a dot of ink is #. In the file signs stand side by side, below their names."""
    shapes: dict[str, list[str]] = {}
    for sheet in Path(__file__).with_name("big_letters.txt").read_text(encoding="utf-8").split("\n\n"):
        letters, *rows = sheet.split()
        shapes |= {letter: rows[at :: len(letters)] for at, letter in enumerate(letters)}
    return shapes


def big(text: str) -> list[str]:
    """Return the five lines of a label in big letters, so that it is read at arm's length in the sun."""
    shapes = [_shapes()[char] for char in text.upper() if char in _shapes()]
    # Every dot is two signs wide, because a sign of a terminal is twice as high as wide.
    rows = ["   ".join(shape[row] for shape in shapes) for row in range(5)]
    return [row.replace("#", "██").replace(".", "  ").rstrip() for row in rows]


def show_large(above: str, large: str, below: str) -> None:
    """Show a word in big letters between two texts, on a screen of its own; where none can be cleared, in one line."""
    if not follows_escapes(sys.stderr):
        put(f"\r{above}  {large}  {below} ")
        return
    lines = [wrapped(above, 59), "", *(f"    {line}" for line in big(large)), "", wrapped(below, 59)]
    put("\033[H\033[2J" + "\n".join(lines) + "\n")
