"""Numbers with a kind, kept in mm and °C and told in the units the cook reads."""

from __future__ import annotations

from typing import Literal

from heatmap.units import Display, c_difference_from_f, c_from_f, mm_from_in

Units = Literal["us", "si"]
Kind = Literal["length", "temperature", "difference", "number", "count", "text"]
#: How the name of a field ends that holds a number with a unit.
SUFFIX: dict[Kind, str] = {"length": "_mm", "temperature": "_c", "difference": "_c"}


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
