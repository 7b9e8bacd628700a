"""What a phone sends, as JSON → what it asks for. Bad input is one clear line: which field, what it may be."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from heatmap.errors import InputError, ReadingError, quoted
from heatmap.grill.grill import Grill
from heatmap.readings.csv_rows import utc_from_text
from heatmap.readings.reading import SHOT_AIMS
from heatmap.readings.spoken import parse_said
from heatmap.readings.typed import LONGEST_NOTE, OverRange, Shot, Skip, Turned, Typed, Undo
from heatmap.readings.written import checked_temperature_c, mark_from_text
from heatmap.sear import OUTCOMES, SearedPiece
from heatmap.taking.standing import Kind

_KEY = re.compile(r"[A-Za-z0-9._:-]{1,64}")
_LONGEST_LINE = 200
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


class _Fields:
    """The fields of one JSON object; a null is as good as a field left out."""

    def __init__(self, body: bytes) -> None:
        """Read a body."""
        try:
            self._told = json.loads(body.decode("utf-8"))
        except (ValueError, RecursionError):
            self._told = None
        if not isinstance(self._told, dict):
            raise InputError("the entry is not understood; send one JSON object in UTF-8")

    def _field(self, name: str, fits: Callable[[Any], object], must: str, *, needed: bool = False) -> Any:
        value = self._told.get(name)
        if needed if value is None else not fits(value):
            raise ReadingError(f"{name} must be {must}")
        return value

    def text(self, name: str, *, longest: int = LONGEST_NOTE) -> str:
        """Return one line of text, "" where there is none."""

        def fits(value: Any) -> bool:
            return isinstance(value, str) and len(value) <= longest and value.isprintable()

        return " ".join((self._field(name, fits, f"one line of at most {longest} plain characters") or "").split())

    def key(self) -> str:
        """Return what the entry is named by."""

        def fits(value: Any) -> bool:
            return isinstance(value, str) and _KEY.fullmatch(value) is not None

        must = "1 to 64 letters, digits or . _ : - that name this entry alone"
        return str(self._field("key", fits, must, needed=True))

    def flag(self, name: str) -> bool:
        """Return yes or no, no where nothing is said."""
        return bool(self._field(name, lambda value: isinstance(value, bool), "true or false"))

    def number(self, name: str) -> float | None:
        """Return a number, or None."""
        value = self._field(name, _is_number, "a number")
        return None if value is None else float(value)

    def whole(self, name: str) -> int | None:
        """Return a whole number from 1, or None."""
        value = self._field(name, lambda value: type(value) is int and 1 <= value < 10**15, "a whole number from 1")
        return None if value is None else int(value)

    def word(self, name: str, allowed: Sequence[str]) -> str:
        """Return one of these words, the first where nothing is said."""
        told = self._field(name, lambda value: value in allowed, f"one of {', '.join(filter(None, allowed))}")
        return str(told or allowed[0])

    def moment(self, name: str) -> datetime | None:
        """Return a moment in UTC, or None."""
        text = self.text(name, longest=40)
        return utc_from_text(text) if text else None

    def numbers(self, name: str, most: int) -> tuple[float, ...]:
        """Return one to so many numbers."""

        def fits(value: Any) -> bool:
            return isinstance(value, list) and 1 <= len(value) <= most and all(map(_is_number, value))

        return tuple(map(float, self._field(name, fits, f"a list of 1 to {most} numbers", needed=True)))

    def named(self, name: str) -> Mapping[str, Any]:
        """Return what is told by name."""
        must = "an object, such as {NAME: value}"
        return dict(self._field(name, lambda value: isinstance(value, dict) and value, must, needed=True))


def _is_number(value: Any) -> bool:
    """Tell whether it is a number; a whole one of hundreds of digits is none."""
    return type(value) in (int, float) and abs(value) <= sys.float_info.max


def _shot(told: _Fields, grill: Grill) -> Entry:
    """Understand POST /api/shots."""
    line, shown = told.text("typed", longest=_LONGEST_LINE), told.number("shown")
    if not line:
        if shown is None:
            raise ReadingError("shown is missing: the number the gun showed")
        checked_temperature_c(shown, grill.units)
        line = f"{told.word('aim', SHOT_AIMS)} {shown:.6f}"
    event = parse_said(line, grill)
    if isinstance(event, Shot | OverRange) and not event.position:
        event = replace(event, position=_position(told, grill))  # the one that was asked for
    return Entry(
        key=told.key(),
        event=event,
        insist=told.flag("insist"),
        replaces=told.flag("replaces"),
        taken_at=told.moment("taken_at"),
        round=told.whole("round"),
    )


def _turned(told: _Fields, grill: Grill) -> Entry:
    """Understand POST /api/turned: marks by their number, or by name where they are named."""
    marks = {}
    for name, mark in told.named("marks").items():
        burner = grill.burner(name)
        if not isinstance(mark, str) and not _is_number(mark):
            raise ReadingError(f"the mark of {quoted(name)} must be a number")
        marks[burner.name] = mark_from_text(mark if isinstance(mark, str) else f"{float(mark):.12g}", burner)
    return Entry(key=told.key(), event=Turned(marks=marks), taken_at=told.moment("taken_at"))


def _void(told: _Fields, _grill: Grill) -> Entry:
    """Understand POST /api/void."""
    return Entry(key=told.key(), event=Undo(id=told.whole("id"), why=told.text("reason") or "undo"))


def _round(told: _Fields, _grill: Grill) -> Entry:
    """Understand POST /api/round."""
    return Entry(key=told.key(), event=told.word("kind", ("full", "recheck")))  # type: ignore[arg-type]


def _skip(told: _Fields, grill: Grill) -> Entry:
    """Understand POST /api/skip."""
    return Entry(key=told.key(), event=Skip(position=_position(told, grill)))


def _position(told: _Fields, grill: Grill) -> str:
    position = told.text("position", longest=8)
    return grill.label(position) if position else ""


def _sear(told: _Fields, grill: Grill) -> Entry:
    """Understand POST /api/sears: what came of a sear."""
    peak = told.number("peak")
    piece = SearedPiece(
        place=told.text("place"),
        turns_s=told.numbers("turns_s", _MOST_TURNS),
        outcome=told.word("outcome", ("", *OUTCOMES)) or None,  # type: ignore[arg-type]
        peak_c=None if peak is None else checked_temperature_c(peak, grill.units),
        note=told.text("note"),
    )
    return Entry(key=told.key(), event=piece, taken_at=told.moment("taken_at"))


_READERS: dict[str, Callable[[_Fields, Grill], Entry]] = {
    "shots": _shot,
    "void": _void,
    "turned": _turned,
    "round": _round,
    "skip": _skip,
    "sears": _sear,
}
#: What can be entered, as the last word of the address says it.
ENTRIES = frozenset(_READERS)


def entry_of(what: str, body: bytes, grill: Grill) -> Entry:
    """Understand the body of a POST to /api/ and what of :data:`ENTRIES` it enters.

    Raises
    ------
    InputError
        One line: which field, and what it may be.
    """
    return _READERS[what](_Fields(body), grill)
