"""Fahrenheit, Celsius, kelvin, inch and millimetre, converted in one place.

Inside the library everything is in °C and mm; kelvin only in :mod:`heatmap.physics`; °F and inches only at the
edges. A *difference* of temperatures (a standard deviation, a spread) scales without the offset.

Every function takes a number or an array and returns the same kind.

References
----------
NIST Special Publication 811 (2008), appendix B.8: 1 in = 25.4 mm exactly, t/°C = (t/°F − 32)/1.8,
T/K = t/°C + 273.15.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING, Literal, TypeAlias, TypeVar

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

#: Arrays as they are named everywhere; in quotes, so that commands that need no numpy start without it.
FloatArray: TypeAlias = "npt.NDArray[np.float64]"
BoolArray: TypeAlias = "npt.NDArray[np.bool_]"
IntArray: TypeAlias = "npt.NDArray[np.intp]"
#: Numbers, in lists or arrays, that a function makes an array of.
ArrayLike: TypeAlias = "npt.ArrayLike"

Number = TypeVar("Number", "float", "npt.NDArray[np.float64]")

Units = Literal["us", "si"]
Kind = Literal["length", "temperature", "difference", "number", "count", "text"]
#: How the name of a field ends that holds a number with a unit.
SUFFIX: dict[Kind, str] = {"length": "_mm", "temperature": "_c", "difference": "_c"}

#: People read ± as 95 %: so many standard deviations of a normal distribution on either side.
STDS_95 = 1.959964

MM_PER_INCH = 25.4
ZERO_CELSIUS_K = 273.15


def c_from_f(fahrenheit: Number) -> Number:
    """Return a temperature in °C from one in °F."""
    return (fahrenheit - 32.0) / 1.8


def f_from_c(celsius: Number) -> Number:
    """Return a temperature in °F from one in °C."""
    return celsius * 1.8 + 32.0


def c_difference_from_f(fahrenheit: Number) -> Number:
    """Return a temperature difference in °C from one in °F."""
    return fahrenheit / 1.8


def f_difference_from_c(celsius: Number) -> Number:
    """Return a temperature difference in °F from one in °C."""
    return celsius * 1.8


def k_from_c(celsius: Number) -> Number:
    """Return a temperature in kelvin from one in °C."""
    return celsius + ZERO_CELSIUS_K


def c_from_k(kelvin: Number) -> Number:
    """Return a temperature in °C from one in kelvin."""
    return kelvin - ZERO_CELSIUS_K


def mm_from_in(inches: Number) -> Number:
    """Return a length in mm from one in inches."""
    return inches * MM_PER_INCH


def in_from_mm(millimetres: Number) -> Number:
    """Return a length in inches from one in mm."""
    return millimetres / MM_PER_INCH


#: To inside numbers and back, by kind, for what is written in °F and inches.
_US: dict[Kind, tuple[Callable[[float], float], Callable[[float], float]]] = {
    "length": (mm_from_in, in_from_mm),
    "temperature": (c_from_f, f_from_c),
    "difference": (c_difference_from_f, f_difference_from_c),
}


def inside_value(value: float, kind: Kind, units: Units) -> float:
    """Turn a number the cook wrote into an inside number (mm, °C)."""
    return float(_US[kind][0](value)) if units == "us" and kind in _US else value


def shown_value(value: float, kind: Kind, units: Units) -> float:
    """Turn an inside number (mm, °C) into the number the cook writes."""
    return float(_US[kind][1](value)) if units == "us" and kind in _US else value


def unit_name(kind: Kind, units: Units) -> str:
    """Return the unit a number of this kind is written in, with a leading space, or nothing."""
    unit = Display(units).lengths if kind == "length" else Display(units).degrees
    return f" {unit}" if kind in SUFFIX else ""


def quantity_text(value: float, kind: Kind, units: Units) -> str:
    """Return an inside number (mm, °C) with its unit, to four digits, as the cook reads it: "137.5 °F"."""
    return f"{shown_value(value, kind, units):.4g}{unit_name(kind, units)}"


def percent(share: float) -> str:
    """Return a share in whole percent: "27 %"."""
    return f"{100 * share:.0f} %"


def percent_range(low: float, high: float) -> str:
    """Return the limits of a share in whole percent: "20 to 35 %"."""
    return f"{100 * low:.0f} to {percent(high)}"


#: What stands behind a temperature and behind a length, and what ends a key that holds degrees.
_SIGNS: dict[Units, tuple[str, str, str]] = {"us": ("°F", "in", "f"), "si": ("°C", "mm", "c")}


class Display:
    """Inside numbers (°C, mm) as one cook reads them: °F and inches, or °C and millimetres.

    Attributes
    ----------
    units : {"us", "si"}
    degrees, lengths : str
        The sign for a temperature; the one for a length, which also ends a key that holds one.
    degree_key : str
        The ending of a key that holds a temperature or a difference of temperatures.
    """

    def __init__(self, units: Units) -> None:
        """Choose the units."""
        self.units, (self.degrees, self.lengths, self.degree_key) = units, _SIGNS[units]

    def temperature(self, celsius: float) -> float:
        """Return a temperature for the reader."""
        return f_from_c(celsius) if self.units == "us" else celsius

    def difference(self, celsius: float) -> float:
        """Return a temperature difference for the reader."""
        return f_difference_from_c(celsius) if self.units == "us" else celsius

    def length(self, millimetres: float) -> float:
        """Return a length for the reader."""
        return in_from_mm(millimetres) if self.units == "us" else millimetres

    def temperature_text(self, celsius: float) -> str:
        """Return a temperature in words, to the degree."""
        return f"{self.temperature(celsius):.0f} {self.degrees}"

    def range_text(self, low_c: float, high_c: float) -> str:
        """Return the limits of a band in words, to the degree, without their unit: "550-600"."""
        return f"{self.temperature(low_c):.0f}-{self.temperature(high_c):.0f}"

    def difference_text(self, celsius: float) -> str:
        """Return a difference in words, to the degree."""
        return f"{self.difference(celsius):.0f} {self.degrees}"

    def margin(self, std_celsius: float) -> float:
        """Return what stands behind ± for a standard deviation: people read it as 95 %."""
        return STDS_95 * self.difference(std_celsius)

    def margin_text(self, std_celsius: float) -> str:
        """Return what stands behind ± in words, to the degree."""
        return f"{self.margin(std_celsius):.0f} {self.degrees}"

    def length_text(self, millimetres: float) -> str:
        """Return a length in words."""
        return f"{self.length(millimetres):.3g} {self.lengths}"
