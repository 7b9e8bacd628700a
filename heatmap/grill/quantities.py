"""Numbers with a kind, kept in mm and °C and told in the units the cook reads."""

from __future__ import annotations

import math
from typing import Literal

from heatmap.errors import GrillError
from heatmap.units import Display, c_difference_from_f, c_from_f, mm_from_in

Units = Literal["us", "si"]
Kind = Literal["length", "temperature", "difference", "number", "count", "text"]
#: How the name of a field ends that holds a number with a unit.
SUFFIX: dict[Kind, str] = {"length": "_mm", "temperature": "_c", "difference": "_c"}


class OutOfRangeError(GrillError):
    """A number of the grill is outside what is possible; can say so in the units the cook wrote.

    Where a limit is another number of the grill, `limit` names it, and the value must lie below it; `reason` says why
    the limits are where they are.
    """

    def __init__(
        self,
        key: str,
        value: float,
        low: float,
        high: float,
        kind: Kind,
        low_open: bool = False,
        limit: str = "",
        reason: str = "",
    ) -> None:
        self.key, self.value, self.low, self.high = key, value, low, high
        self.kind, self.low_open, self.limit, self.reason = kind, low_open, limit, reason
        super().__init__(self.in_units("si"))

    def in_units(self, units: Units) -> str:
        """Return the message with its numbers in °F and inches (us) or °C and mm (si)."""
        value, low, high = (shown_value(number, self.kind, units) for number in (self.value, self.low, self.high))
        floor = f"above {low:.4g}" if self.low_open else f"at least {low:.4g}"
        word = "below" if self.limit else "at most"
        ceiling = "" if math.isinf(high) else f" and {word} {high:.4g}"
        unit = unit_name(self.kind, units)
        limit = f", {self.limit}" if self.limit else ""
        reason = f": {self.reason}" if self.reason else ""
        return f"{self.key} is {value:.6g}{unit}; it must be {floor}{ceiling}{unit}{limit}{reason}"


def told(fault: GrillError, units: Units) -> str:
    """Return what is wrong, in the units of the file."""
    return fault.in_units(units) if isinstance(fault, OutOfRangeError) else str(fault)


def unit_name(kind: Kind, units: Units) -> str:
    """Return the unit a number of this kind is written in, with a leading space, or nothing."""
    if kind not in SUFFIX:
        return ""
    display = Display(units)
    return f" {display.lengths if kind == 'length' else display.degrees}"


def shown_value(value: float, kind: Kind, units: Units) -> float:
    """Turn an inside number (mm, °C) into the number the cook writes."""
    if kind not in SUFFIX:
        return value
    display = Display(units)
    convert = {"length": display.length, "temperature": display.temperature, "difference": display.difference}[kind]
    return float(convert(value))


def quantity_text(value: float, kind: Kind, units: Units) -> str:
    """Return an inside number (mm, °C) with its unit, to four digits, as the cook reads it: "137.5 °F"."""
    return f"{shown_value(value, kind, units):.4g}{unit_name(kind, units)}"


def inside_value(value: float, kind: Kind, units: Units) -> float:
    """Turn a number the cook wrote into an inside number (mm, °C)."""
    if units == "si" or kind not in SUFFIX:
        return value
    convert = {"length": mm_from_in, "temperature": c_from_f, "difference": c_difference_from_f}[kind]
    return float(convert(value))
