"""Numbers and places as people, spreadsheets and guns write them, read without guessing.

Every reader of text in the project goes through here, so that one rule holds everywhere: plain ASCII digits,
a decimal point (or a decimal comma where it cannot be anything else), nothing that only a programming
language calls a number.
"""

import contextlib
import math
import re

from heatmap.errors import ReadingError, quoted
from heatmap.grill.burner import Burner
from heatmap.readings.reading import HIGHEST_SHOWN_C, LOWEST_SHOWN_C
from heatmap.units import Kind, Units, c_from_f, f_from_c, inside_value, mm_from_in, shown_value, unit_name

#: What guns and probes show instead of a number, above their range and below it (common practice, no source).
ABOVE_RANGE, BELOW_RANGE = ("HI", "OL", "O.L", "O.L.", "0L", "OVER", "OVR"), ("LO", "UL")

_DASHES = re.compile(r"-{2,8}")
_NUMBER = re.compile(r"[+-]?(?:\d{1,15}(?:\.\d{0,20})?|\.\d{1,20})", re.ASCII)
_EXPONENT = re.compile(r"[eE][+-]?\d{1,2}$", re.ASCII)

#: Coordinates are often written to a tenth of an inch, so they are up to 0.05 in off, mm.
ROUNDED_MM = mm_from_in(0.05) + 1e-6

#: How near the gun can be held and how far, as :class:`heatmap.grill.grill.Gun` allows.
_NEAREST_MM, _FARTHEST_MM = 10.0, 5000.0


def over_range_word(text: str) -> str | None:
    """Return the word a gun shows instead of a number, or None."""
    word = "----" if _DASHES.fullmatch(text) else text.upper()
    return word if word in ("----", *ABOVE_RANGE, *BELOW_RANGE) else None


def number_from_text(text: str, *, decimal_comma: bool = False, exponent: bool = False) -> float:
    """Return the number written in a cell of a file, or a ReadingError when it is not a plain number.

    `decimal_comma` says that the comma is the file's decimal sign; the other sign is understood too where it cannot be
    a thousands mark: once, and not before exactly three digits. `exponent` allows 5.85e+02, as programs write it.

    Examples
    --------
    >>> number_from_text("585.5"), number_from_text("585,5"), number_from_text("1,234", decimal_comma=True)
    (585.5, 585.5, 1.234)
    """
    stripped = text.strip()
    own, other = (",", ".") if decimal_comma else (".", ",")
    if other in stripped:
        tail = stripped.partition(other)[2]
        if own in stripped or other in tail or (len(tail) == 3 and tail.isdigit()):
            raise ReadingError(
                f"{quoted(text)} can be read in two ways; write it without a thousands mark, like 1234{own}5"
            )
    plain = stripped.replace(",", ".")
    if not _NUMBER.fullmatch(_EXPONENT.sub("", plain) if exponent else plain):
        raise ReadingError(f"{quoted(text)} is not a number; write plain digits, like 585 or 585{own}5")
    return float(plain)


def checked_temperature_c(shown: float, units: Units, name: str = "") -> float:
    """Turn what was displayed into °C; a ReadingError, that calls it by this name, for what no gun can show."""
    why = "{value:g}{unit} cannot be: a gun shows {low:g} to {high:g}{unit}; read it again"
    why = name + " is {value:g}; it must be from {low:g} to {high:g}{unit}" if name else why
    return _within(shown, "temperature", units, (LOWEST_SHOWN_C, HIGHEST_SHOWN_C), why)


def checked_distance_mm(distance: float, units: Units, name: str) -> float:
    """Turn how far the gun was held into mm; a ReadingError for what cannot be, that calls it by this name."""
    why = name + " is {value:g}{unit}; it must be from {low:.4g} to {high:.4g}{unit}"
    return _within(distance, "length", units, (_NEAREST_MM, _FARTHEST_MM), why)


def _within(value: float, kind: Kind, units: Units, limits: tuple[float, float], why: str) -> float:
    """Turn what the cook wrote into an inside number; a ReadingError that says why where it is not within limits."""
    inside = inside_value(value, kind, units)
    if limits[0] <= inside <= limits[1]:
        return inside
    low, high = (shown_value(limit, kind, units) for limit in limits)
    raise ReadingError(why.format(value=value, unit=unit_name(kind, units), low=low, high=high))


def units_of_degree(letter: str) -> Units:
    """Return the units in which a temperature with an F or a C behind it is written."""
    return "us" if letter.casefold() == "f" else "si"


def other_unit_c(shown_c: float, units: Units) -> float:
    """Return what a number stands for that was meant in the other unit than the grill's: of 293 °F that of 293 °C."""
    return float(f_from_c(shown_c) if units == "us" else c_from_f(shown_c))


def mark_from_text(text: str, burner: Burner, *, decimal_comma: bool = False) -> float:
    """Return the mark of a burner from its name or its number.

    Raises
    ------
    ReadingError
        When it is no mark of this burner.
    """
    mark = burner.named.get(text.strip().casefold(), math.nan)
    if math.isnan(mark) and not any(":" in name for name in burner.marks):  # on a clock 7 is an hour
        with contextlib.suppress(ReadingError):
            mark = number_from_text(text, decimal_comma=decimal_comma)
    if not burner.low - 1e-9 <= mark <= burner.high + 1e-9:
        raise ReadingError(f'{quoted(text)} is no mark of burner "{burner.name}"; {burner.marks_text}')
    return mark
