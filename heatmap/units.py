"""Fahrenheit, Celsius, kelvin, inch and millimetre, converted in one place.

Inside the library everything is in °C and mm; kelvin only in :mod:`heatmap.physics`; °F and inches only at the
edges. A *difference* of temperatures (a standard deviation, a spread) scales without the offset.

Every function takes a number or an array and returns the same kind.

References
----------
NIST Special Publication 811 (2008), appendix B.8: 1 in = 25.4 mm exactly, t/°C = (t/°F − 32)/1.8,
T/K = t/°C + 273.15.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", float, NDArray[np.float64])

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
