"""One typed line → what the cook means. Pure; the session decides what to do with it.

A cook has one hand free, often only the number pad: digits and Enter shoot, `-` takes back the last reading,
`+` skips the position, `.` says the gun showed no number, `/` asks for help, `*` ends the round. Words work
as well, in any case. Whatever could mean two things is refused with a sentence, never guessed.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import heatmap.readings.written as written
from heatmap.errors import ReadingError, quoted
from heatmap.grill.grill import Grill
from heatmap.readings.reading import SHOT_AIMS, Aim


class Typed:
    """What a line means."""

    __slots__ = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot(Typed):
    """A reading.

    Attributes
    ----------
    shown_c : float
        What was displayed, °C.
    position : str
        Label such as B3; "" for the position asked for.
    aim : {"rail", "valley", "patch", "contact"}
    distance_mm : float or None
        How far the gun was held for it; None as for all others.
    """

    shown_c: float
    position: str = ""
    aim: Aim = "rail"
    distance_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RowOfShots(Typed):
    """A row called out from left to right.

    Attributes
    ----------
    shots : tuple of Shot
        Those with a number, each with its position.
    skipped, left_open : tuple of str
        Positions skipped on purpose, and those at the right end that were not mentioned.
    """

    shots: tuple[Shot, ...]
    skipped: tuple[str, ...] = ()
    left_open: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OverRange(Typed):
    """The gun showed a word or dashes instead of a number."""

    word: str
    position: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stands(Typed):
    """How something is from here on: the rails, the lid while the grate soaks, or the marks of these burners."""

    surface: Literal["dry", "oiled"] | None = None
    lid: Literal["open", "closed"] | None = None
    marks: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned(Typed):
    """The knobs were turned just now: to these marks, or as advised where none are named."""

    marks: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted(Typed):
    """Something to be kept that is no reading."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Undo(Typed):
    """Take back the last thing typed; with a position the last reading there, of this aim where one is named; with an
    id the row of it.
    """

    position: str = ""
    aim: Aim | Literal[""] = ""
    id: int | None = None
    why: str = "undo"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix(Typed):
    """The number a reading should have been, in the newest round that has one there, or in `round`."""

    shot: Shot
    round: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Skip(Typed):
    """Leave out a position; the one asked for where none is named."""

    position: str = ""


@dataclass(frozen=True, slots=True)
class Done(Typed):
    """The round is over."""


@dataclass(frozen=True, slots=True)
class Help(Typed):
    """Show what can be typed."""


@dataclass(frozen=True, slots=True)
class Again(Typed):
    """An empty line: repeat the question."""


#: Every line that stands for itself; the single signs are the keys around the number pad.
COMMANDS: dict[str, Typed] = {
    "": Again(),
    **dict.fromkeys(("undo", "-"), Undo()),
    **dict.fromkeys(("skip", "+"), Skip()),
    **dict.fromkeys(("done", "*"), Done()),
    **dict.fromkeys(("?", "help", "/"), Help()),
    **dict.fromkeys((".", ","), OverRange(word=".")),  # the same key where the pad has a comma
    "oiled": Stands(surface="oiled"),
    "dry": Stands(surface="dry"),
    "lid open": Stands(lid="open"),
    "lid closed": Stands(lid="closed"),
    **dict.fromkeys(("turned", "t"), Turned()),
}

LONGEST_NOTE = 200
_SHOWN = re.compile(r"(\d{1,6}(?:\.\d{1,6}|,\d{1,2})?)(?:°?([fc]))?", re.ASCII | re.IGNORECASE)
_UNIT_APART = re.compile(r"(?<!\S)(\d[\d.,]*) (°?[fc])(?!\S)", re.ASCII | re.IGNORECASE)
_SINGLE = re.compile(rf"((?:(?:[a-z]\d{{1,2}}|{'|'.join(SHOT_AIMS)})(?: |$))*)(.*?)(?: from (\S+))?", re.A | re.I)
_SKIPPED = ("-", "skip")
_HOW = "write 585, B3 585, or ? for help"


def parse_typed(line: str, grill: Grill) -> Typed:
    """Understand one typed line; temperatures are in the grill's units unless F or C stands behind them.

    Raises
    ------
    ReadingError
        One sentence: what was typed and what to type instead.
    """
    text = " ".join(line.split())
    if text.casefold().startswith("note "):
        if not text.isprintable() or len(text) > len("note ") + LONGEST_NOTE:
            raise ReadingError(f"a note is one line of at most {LONGEST_NOTE} plain characters")
        return Noted(text=text[5:])
    if not text.replace("°", "").isascii() or not text.isprintable():
        raise ReadingError(f"{quoted(text)} has signs that are not plain letters and digits; {_HOW}")
    command = COMMANDS.get(text.casefold())
    if command is not None:
        return command
    text = _UNIT_APART.sub(r"\1\2", text)
    first, _, rest = text.partition(" ")
    match first.casefold():
        case "lid":
            raise ReadingError(f"{quoted(text)} is not understood; type lid open or lid closed")
        case "knob":
            return Stands(marks=marks_in(rest, grill, "type knob, a burner and its mark, like knob left 6.5"))
        case "turned" | "t":
            return Turned(marks=marks_in(rest, grill, "type turned, a burner and its mark, like turned left 6.5"))
        case "fix":
            return _fix(text, grill)
    if len(first) == 1 and first.isalpha() and rest:
        return _row(first.upper(), rest.split(), grill)
    return _single(text, grill)


def _shown_c(word: str, grill: Grill) -> float:
    match = _SHOWN.fullmatch(word)
    if not match:
        raise ReadingError(_why_not_a_number(word))
    units = written.units_of_degree(match[2]) if match[2] else grill.units
    return written.checked_temperature_c(written.number_from_text(match[1]), units)


def _why_not_a_number(word: str) -> str:
    if word.startswith("-") and _SHOWN.fullmatch(word[1:]):
        return f"{quoted(word)} is below zero; type what the gun shows without a sign, or - alone to undo"
    if word in ("--", "++"):
        return f"{quoted(word)} is not clear; type - to undo, + to skip, or ---- when the gun shows dashes"
    if "," in word and re.fullmatch(r"[\d,.]+", word):
        return f"{quoted(word)} can be read in two ways; type the number like 585 or 585.5"
    return f"{quoted(word)} is not understood; {_HOW}"


def _single(text: str, grill: Grill) -> Typed:
    """[position] [aim] number [from distance], position and aim in any order."""
    names, shown, distance = _SINGLE.fullmatch(text).groups("")  # type: ignore[union-attr]  # it matches anything
    words = names.casefold().split()
    labels = [word for word in words if word not in SHOT_AIMS]
    aims = [aim for word in words for aim in SHOT_AIMS if aim == word]
    if len(labels) > 1 or len(aims) > 1:
        raise ReadingError(f"{quoted(text)} names two; type one at a time, like B3 585")
    position = grill.label(labels[0]) if labels else ""
    if not shown:
        raise ReadingError(f"{quoted(text)} lacks its number; type it like B3 585")
    if shown.casefold() in ("-", "undo") and not distance:
        return Undo(position=position, aim=aims[0] if aims else "")
    if " " in shown:
        numbers = all(_SHOWN.fullmatch(word) for word in shown.split())
        row = "has more than one number; type one, or a whole row, like B 585 590 600"
        raise ReadingError(f"{quoted(text)} {row if numbers else f'is not understood; {_HOW}'}")
    over = None if shown == "--" else written.over_range_word(shown)  # perhaps two undos
    if over is not None:
        return OverRange(word=over, position=position)
    if distance and "contact" in aims:
        raise ReadingError(f"{quoted(text)} is of the probe, which has no distance; leave from away")
    distance_mm = None
    try:
        if distance:  # in the grill's unit of length
            number = written.number_from_text(distance.casefold().removesuffix(grill.display.lengths))
            distance_mm = written.checked_distance_mm(number, grill.units, "the distance")
    except ReadingError as error:
        raise ReadingError(f"{quoted(text)}: {error}; type it like valley 640 from 4") from None
    aim: Aim = aims[0] if aims else "rail"
    return Shot(shown_c=_shown_c(shown, grill), position=position, aim=aim, distance_mm=distance_mm)


def _row(row: str, words: Sequence[str], grill: Grill) -> Typed:
    """B 585 590 600: a whole row from left to right; - skips one."""
    labels = [label for label in grill.labels if label[0] == row]
    if not labels:
        grill.label(f"{row}1")  # says which there are
    columns = len(labels)
    if len(words) == 1 and columns > 1:
        raise ReadingError(f"{row} {quoted(words[0])}: which position of row {row}? Type it like {row}3 585")
    if len(words) > columns:
        raise ReadingError(f"row {row} has {columns} positions, but {len(words)} were typed; type it again")
    if words[0].isdigit() and int(words[0]) <= grill.positions.columns:
        label = f"{row}{words[0]}"
        raise ReadingError(f"{row} {words[0]} …: for one position type {label} in one word, then its number")
    shots, skipped = [], []
    for label, word in zip(labels, words, strict=False):
        if word.casefold() in _SKIPPED or written.over_range_word(word):
            skipped.append(label)
        else:
            shots.append(Shot(shown_c=_shown_c(word, grill), position=label))
    return RowOfShots(shots=tuple(shots), skipped=tuple(skipped), left_open=tuple(labels[len(words) :]))


def marks_in(text: str, grill: Grill, how: str = "type a burner and its mark, like left 6.5") -> dict[str, float]:
    """Read burners and their marks in turn, as left 6.5, back left MED HI; `how` says what to type instead.

    Raises
    ------
    ReadingError
        When one is no burner, or no mark of it.
    """
    longest_first = sorted((burner.name for burner in grill.burners), key=len, reverse=True)
    names = "|".join(re.escape(name).replace(r"\ ", "[ _]+") for name in longest_first)
    one = re.compile(rf"({names or '(?!)'})[ =]+(\S.*?)(?:$|(?: ?, ?| )(?=(?:{names})[ =]))", re.IGNORECASE)
    marks: dict[str, float] = {}
    rest = text
    while rest or not marks:
        if not (found := one.match(rest)):
            what = f"{quoted(rest)} is not understood; " if rest else ""
            raise ReadingError(f"{what}{how}; {grill.burners_text}")
        burner = grill.burner(found[1])
        marks[burner.name] = written.mark_from_text(found[2], burner)
        rest = rest[found.end() :]
    return marks


def _fix(text: str, grill: Grill) -> Typed:
    """Read fix A1 575, fix contact A1 610, fix A1 575 round 2."""
    like = "type fix, a position and its right number, like fix A1 575"
    found = re.fullmatch(r"\w+ (.+?)(?: round (\d{1,9}))?", text, re.ASCII | re.IGNORECASE)
    try:
        shot = _single(found[1], grill) if found else None
    except ReadingError as error:
        raise ReadingError(f"{error}; {like}") from None
    if not found or not isinstance(shot, Shot) or not shot.position:
        raise ReadingError(f"{quoted(text)}: {like}")
    return Fix(shot=shot, round=int(found[2]) if found[2] else None)
