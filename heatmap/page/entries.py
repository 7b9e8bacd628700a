"""What a phone sends, as JSON → what it asks for. Bad input is one clear line: which field, what it may be."""

import json
import re
import sys
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, get_args

from heatmap.errors import InputError, ReadingError, quoted
from heatmap.grill.grill import Grill
from heatmap.readings.csv_rows import utc_from_text
from heatmap.readings.reading import SHOT_AIMS
from heatmap.readings.spoken import parse_said
from heatmap.readings.typed import LONGEST_NOTE, OverRange, Shot, Skip, Turned, Typed, Undo
from heatmap.readings.written import checked_temperature_c, mark_from_text
from heatmap.sear import OUTCOMES, SearedPiece
from heatmap.taking.session import Kind

_KEY = re.compile(r"[A-Za-z0-9._:-]{1,64}")
_MOST_TURNS = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What a phone sends.

    Attributes
    ----------
    key : str
        Its name, under which it counts once.
    event : Typed, {"full", "recheck"} or SearedPiece
        What it means; a kind of round begins another.
    insist, replaces : bool
        As :meth:`heatmap.taking.session.Session.hear_beside`.
    taken_at : datetime or None
        When it was tapped, UTC; None for now.
    round : int or None
        The round it was tapped in; None for the one that is taken.
    answer : Future
        Where its answer goes: a status of HTTP and a JSON object.
    """

    key: str
    event: Typed | Kind | SearedPiece
    insist: bool = False
    replaces: bool = False
    taken_at: datetime | None = None
    round: int | None = None
    answer: Future[tuple[int, dict[str, Any]]] = field(default_factory=Future)


def _is_key(value: Any) -> bool:
    return isinstance(value, str) and _KEY.fullmatch(value) is not None


def _are_turns(value: Any) -> bool:
    return isinstance(value, list) and 1 <= len(value) <= _MOST_TURNS and all(map(_is_number, value))


def _is_line(value: Any) -> bool:
    return isinstance(value, str) and len(value) <= LONGEST_NOTE and value.isprintable()


def _is_number(value: Any) -> bool:
    """Tell whether it is a number; a whole one of hundreds of digits is none."""
    return type(value) in (int, float) and abs(value) <= sys.float_info.max


#: Every field an entry can have, by rows of names: what fits, and what it must be.
_FIELDS: tuple[tuple[str, Callable[[Any], object], str], ...] = (
    ("key", _is_key, "1 to 64 letters, digits or . _ : - that name this entry alone"),
    ("typed taken_at position reason place note", _is_line, f"one line of at most {LONGEST_NOTE} plain characters"),
    ("shown peak", _is_number, "a number"),
    ("insist replaces", lambda value: isinstance(value, bool), "true or false"),
    ("round id", lambda value: type(value) is int and 1 <= value < 10**15, "a whole number from 1"),
    ("aim", SHOT_AIMS.__contains__, f"one of {', '.join(SHOT_AIMS)}"),
    ("kind", get_args(Kind).__contains__, f"one of {', '.join(get_args(Kind))}"),
    ("outcome", ("", *OUTCOMES).__contains__, f"one of {', '.join(OUTCOMES)}"),
    ("marks", lambda value: isinstance(value, dict) and value, "an object, such as {NAME: value}"),
    ("turns_s", _are_turns, f"a list of 1 to {_MOST_TURNS} numbers"),
)
#: What was told, by these names; a null or an empty text is as good as a field left out.
Told = dict[str, Any]


def _told(body: bytes, needed: Iterable[str]) -> Told:
    """Read a body, and refuse a field that does not fit."""
    try:
        told = json.loads(body.decode("utf-8"))
    except (ValueError, RecursionError):
        told = None
    if not isinstance(told, dict):
        raise InputError("the entry is not understood; send one JSON object in UTF-8")
    for names, fits, must in _FIELDS:
        for name in names.split():
            if name in needed if told.get(name) is None else not fits(told[name]):
                raise ReadingError(f"{name} must be {must}")
    plain = {name: " ".join(value.split()) if isinstance(value, str) else value for name, value in told.items()}
    return {name: value for name, value in plain.items() if value not in (None, "")}


def _shot(told: Told, grill: Grill) -> Typed:
    if "typed" in told:
        event = parse_said(told["typed"], grill)
        if isinstance(event, Shot | OverRange) and not event.position:
            return replace(event, position=_position(told, grill))  # the one that was asked for
        return event
    if "shown" not in told:
        raise ReadingError("shown is missing: the number the gun showed")
    shown_c = checked_temperature_c(told["shown"], grill.units)
    if told["shown"] < 0:
        raise ReadingError(f"shown is {told['shown']:g}, below zero; enter what the gun shows without a sign")
    return Shot(shown_c=shown_c, position=_position(told, grill), aim=told.get("aim", "rail"))


def _turned(told: Told, grill: Grill) -> Typed:
    """Understand marks by their number, or by name where they are named."""
    marks = {}
    for name, mark in told["marks"].items():
        burner = grill.burner(name)
        if not isinstance(mark, str) and not _is_number(mark):
            raise ReadingError(f"the mark of {quoted(name)} must be a number")
        marks[burner.name] = mark_from_text(mark if isinstance(mark, str) else f"{float(mark):.12g}", burner)
    return Turned(marks=marks)


def _named(told: Told, names: str) -> Told:
    """Return what was told by these names."""
    return {name: told[name] for name in names.split() if name in told}


def _position(told: Told, grill: Grill) -> str:
    return grill.label(told["position"]) if "position" in told else ""


def _sear(told: Told, grill: Grill) -> SearedPiece:
    peak_c = checked_temperature_c(told["peak"], grill.units) if "peak" in told else None
    return SearedPiece(**_named(told, "place outcome note"), turns_s=tuple(map(float, told["turns_s"])), peak_c=peak_c)


#: What can be entered, as the last word of the address says it: how it is understood, and the field it must have.
ENTRIES: dict[str, tuple[Callable[[Told, Grill], Typed | Kind | SearedPiece], str]] = {
    "shots": (_shot, "key"),
    "void": (lambda told, _: Undo(id=told.get("id"), why=told.get("reason", "undo")), "key"),
    "turned": (_turned, "marks"),
    "round": (lambda told, _: told.get("kind", "full"), "key"),
    "skip": (lambda told, grill: Skip(position=_position(told, grill)), "key"),
    "sears": (_sear, "turns_s"),
}


def entry_of(what: str, body: bytes, grill: Grill) -> Entry:
    """Understand the body of a POST to /api/ and what of :data:`ENTRIES` it enters.

    Raises
    ------
    InputError
        One line: which field, and what it may be.
    """
    understand, needed = ENTRIES[what]
    told = _told(body, ("key", needed))
    event = understand(told, grill)
    taken_at = utc_from_text(told["taken_at"]) if "taken_at" in told else None
    return Entry(**_named(told, "key insist replaces round"), event=event, taken_at=taken_at)
