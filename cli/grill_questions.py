"""The questions of `gratemap grill new`: an answer that cannot be is told, and that one question asked again."""

from __future__ import annotations

import math
import re
import sys
from collections.abc import Callable
from typing import Any, TypeVar

from cli import console
from heatmap.errors import GrillError, InputError
from heatmap.grill.grill import Burner, Grate, Gun, Positions, TargetBand, burner_key
from heatmap.grill.quantities import Units, inside_value, shown_value, told
from heatmap.grill.schema import LONGEST_TEXT, Section, keys_of

Answer = TypeVar("Answer")

#: The answer to the question about burners that stands for a bed of coals.
COALS = "coals"
_NUMBER = r"\d+(?:[.,]\d+)?"
#: 24, 24.5, 24 1/2, 3/4, each with or without a unit.
_LENGTH = re.compile(rf"(?:({_NUMBER})(?:\s+|$|(?=[a-z\"]))|)(?:(\d+)/([1-9]\d*))?\s*(in|inch|inches|\"|mm|cm)?", re.I)
_RATIO = re.compile(rf"({_NUMBER})(?:\s*(?::|/|to)\s*1)?", re.I)
_PAIR = re.compile(rf"({_NUMBER})\s*°?([fc])?\s*(?:-|–|,|\bto\b|\s)\s*({_NUMBER})\s*°?([fc])?", re.I)
_IN_MM = {"in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4, "mm": 1.0, "cm": 10.0}
#: Usual sizes of a rail and its pitch, as they are measured: inches, mm.
_USUAL = {"us": (0.75, 0.25), "si": (19.0, 6.0)}


def grill_answers() -> dict[str, Any]:
    """Ask what a grill file needs; return its tables.

    On a small grate the positions and the rim are drawn in, so that they fit.
    """
    units: Units = "us" if _choice("Units: us (°F, inches) or si (°C, mm)", ("us", "si")) == "us" else "si"
    us = units == "us"
    unit, degrees = ("inches", "°F") if us else ("mm", "°C")
    name = _until("A name for the grill", "my grill", _one_line)
    width = _length(f"Grate width, left to right, {unit}", 24.0 if us else 600.0, "width", units)
    depth = _length(f"Grate depth, front to back, {unit}", 18.0 if us else 450.0, "depth", units)
    rails = _choice("Rails run front-to-back or left-to-right", ("front-to-back", "left-to-right"))
    finish = _finish()
    burners = _burners(width, depth)
    low, high = _until(f"The band you want on the rails, {degrees} (no default)", "", lambda text: _band(text, units))
    numbers = _choice("Is that band as your gun shows it (shown) or the true rail (rail)", ("shown", "rail"))
    ratio = _until("Distance to spot of the gun, 12 for 12:1", "12", _ratio)
    setting = _until("Emissivity the gun is set to", "0.95", _setting)
    usual_pitch, usual_top = _USUAL[units]
    pitch = _length(f"Rails from centre to centre, {unit}", usual_pitch, "rail_pitch", units, may_end=True)
    what = f"Width of a rail's top, {unit} (a solid plate: {pitch:g})"
    top = _length(what, min(usual_top, pitch), "rail_top", units, most=pitch, may_end=True)
    grate = {"width": width, "depth": depth, "rails": rails, "rail_pitch": pitch, "rail_top": top, "finish": finish}
    tables: dict[str, Any] = {"units": units, "name": name, "grate": grate}
    side = min(width, depth)
    if side <= 2.0 * shown_value(Positions().margin_mm, "length", units):
        grate["rim"] = round(side / 20, 4)
        tables["positions"] = {"margin": round(side / 6, 4)}
    return tables | {
        "burner": burners,
        "gun": {"emissivity_setting": setting, "distance_to_spot": ratio},
        "target": {"low": low, "high": high, "numbers": numbers},
    }


def _ask(question: str, default: str, may_end: bool) -> str:
    shown = f" [{default}]" if default else ""
    sys.stderr.write(f"{question}{shown}: ")
    sys.stderr.flush()
    line = sys.stdin.readline()
    if not line and not may_end:
        raise InputError("the answers ended early; nothing was written")
    return line.strip() or default


def _until(question: str, default: str, read: Callable[[str], Answer], *, may_end: bool = False) -> Answer:
    """Ask until the answer can be used; what is wrong with it is one line.

    With `may_end` the end of the keyboard takes what stands in brackets, as Enter does.
    """
    while True:
        try:
            return read(_ask(question, default, may_end))
        except GrillError as error:
            console.talk(f"  {error}")


def _choice(question: str, allowed: tuple[str, ...]) -> str:
    """Ask for one of these words; Enter takes the first."""

    def read(text: str) -> str:
        if text.casefold() not in allowed:
            raise GrillError(f"{text!r} is not one of: {', '.join(allowed)}")
        return text.casefold()

    return _until(question, allowed[0], read)


def _one_line(text: str) -> str:
    if len(text) > LONGEST_TEXT or not text.isprintable():
        raise GrillError(f"a name is one line of at most {LONGEST_TEXT} plain characters")
    return text


def _length(
    question: str, default: float, key: str, units: Units, *, most: float = math.inf, may_end: bool = False
) -> float:
    """Ask for a length of the grate; it may have its unit behind it, also another than that of the file."""

    def read(text: str) -> float:
        value = length_in(text, units)
        _check(Grate, key, value, units)
        if value > most * (1 + 1e-9):
            raise GrillError(f"{text!r} is wider than the rails are apart, {most:g}")
        return value

    return _until(question, f"{default:g}", read, may_end=may_end)


def length_in(text: str, units: Units) -> float:
    """Read a length in the file's units: 24, 24 in, 23 1/2, 3/4, 61 cm.

    Raises
    ------
    GrillError
        When it is something else.
    """
    match = _LENGTH.fullmatch(text.strip())
    if not match or not (match[1] or match[2]):
        other = "61 cm" if units == "us" else "24 in"
        raise GrillError(f"{text!r} is not a number above 0; write it like 24, 23 1/2 or {other}")
    value = float((match[1] or "0").replace(",", ".")) + (int(match[2]) / int(match[3]) if match[2] else 0.0)
    if not value:
        raise GrillError(f"{text!r} is not a number above 0")
    if not match[4]:
        return value
    value_mm = value * _IN_MM[match[4].casefold()]
    return round(shown_value(value_mm, "length", units), 4)


def _ratio(text: str) -> float:
    match = _RATIO.fullmatch(text)
    if not match:
        raise GrillError(f"{text!r} is not a number above 0; write it like 12 or 12:1, as on the gun")
    return _check(Gun, "distance_to_spot", float(match[1].replace(",", ".")), "us")


def _setting(text: str) -> float:
    match = re.fullmatch(_NUMBER, text)
    if not match:
        raise GrillError(f"{text!r} is not a number above 0; write it like 0.95, as the gun shows it")
    return _check(Gun, "emissivity_setting", float(text.replace(",", ".")), "us")


def _check(section: type[Section], key: str, value: float, units: Units) -> float:
    """Return a number that its key of the grill file allows.

    Raises
    ------
    GrillError
        One line with the limits, in the units of the file.
    """
    try:
        keys_of(section)[key].metadata["key"].read(f"{section.table}.{key}", value, units)
    except GrillError as fault:
        raise GrillError(told(fault, units)) from None
    return value


def _pair(text: str) -> tuple[float, float, str]:
    """Read two numbers, low then high, and the letter of their unit where they have one."""
    match = _PAIR.fullmatch(text.strip())
    if not match:
        raise GrillError("two numbers, low then high, for example: 550 600")
    low, high = (float(match[at].replace(",", ".")) for at in (1, 3))
    letters = {letter.casefold() for letter in (match[2], match[4]) if letter}
    if len(letters) > 1:
        raise GrillError("two numbers in one unit, for example: 550 600")
    if not low < high:
        raise GrillError("low first, then high")
    return low, high, "".join(letters)


def _band(text: str, units: Units) -> tuple[float, float]:
    low, high, letter = _pair(text)
    written_in: Units = "us" if letter == "f" else "si" if letter == "c" else units
    found = []
    for key, end in (("low", low), ("high", high)):
        shown = round(shown_value(inside_value(end, "temperature", written_in), "temperature", units), 1)
        found.append(_check(TargetBand, key, shown, units))
    return found[0], found[1]


def _finish() -> str:
    from heatmap.physics.finishes import FINISHES, find_finish

    def read(text: str) -> str:
        if text == "?":
            raise GrillError("\n  ".join(FINISHES))
        return find_finish(text).name

    return _until("Finish of the rails (? lists them)", "cast iron, seasoned", read)


def _burners(width: float, depth: float) -> list[dict[str, Any]]:
    """Ask for the burners and, where they have knobs, for the marks on those.

    They are laid out as tubes from front to back, evenly spaced; the file says that this is to be corrected.
    """
    question = f"Burners with knobs, left to right, separated by commas; or {COALS}; or - for none"
    names = _until(question, "left, middle, right", _names)
    if names == (COALS,):
        return [{"name": COALS, "control": "none"}]
    low, high = _until("Knob marks, lowest steady flame and full", "1 10", _marks) if names else (0.0, 0.0)
    across = [width * (index + 0.5) / len(names) for index in range(len(names))]
    return [
        {"name": name, "control": "knob", "from": [x, 0.05 * depth], "to": [x, 0.95 * depth], "low": low, "high": high}
        for name, x in zip(names, across, strict=True)
    ]


def _names(text: str) -> tuple[str, ...]:
    if text == "-":
        return ()
    names = tuple(_one_line(name.strip()) for name in text.split(",") if name.strip())
    if len(names) == 1 and names[0].casefold() == COALS:
        return (COALS,)
    keys = [burner_key(name) for name in names]
    if not names or len(set(keys)) < len(keys):
        raise GrillError("names of their own, separated by commas, for example: left, middle, right")
    return names


def _marks(text: str) -> tuple[float, float]:
    low, high, _ = _pair(text)
    Burner(name="knob", points_mm=((0.0, 0.0),), low=low, high=high)  # refuses a knob with less than one step
    return low, high
