"""Conversions against NIST Special Publication 811 (2008), appendix B.8, and against scipy.constants."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatmap import units


# The two fixed points by definition of the scales; −40 is where both meet; 1 in = 25.4 mm exactly.
@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    [(0.0, 32.0), (100.0, 212.0), (-40.0, -40.0), (37.0, 98.6), (315.5555555555556, 600.0)],
)
def test_published_temperatures(celsius: float, fahrenheit: float) -> None:
    assert units.c_from_f(fahrenheit) == pytest.approx(celsius, abs=1e-12)
    assert units.f_from_c(celsius) == pytest.approx(fahrenheit, abs=1e-12)
    assert units.k_from_c(celsius) == celsius + 273.15


def test_published_lengths() -> None:
    assert units.mm_from_in(1.0) == 25.4
    assert units.in_from_mm(25.4) == 1.0
    assert units.mm_from_in(24.0) == pytest.approx(609.6)


def test_agrees_with_scipy() -> None:
    from scipy.constants import convert_temperature, inch

    numbers = np.linspace(-60.0, 1100.0, 30)
    np.testing.assert_allclose(units.f_from_c(numbers), convert_temperature(numbers, "C", "F"), rtol=1e-13)
    np.testing.assert_allclose(units.c_from_f(numbers), convert_temperature(numbers, "F", "C"), rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(units.k_from_c(numbers), convert_temperature(numbers, "C", "K"))
    np.testing.assert_allclose(units.mm_from_in(numbers), 1000.0 * inch * numbers)


PAIRS = [
    (units.c_from_f, units.f_from_c),
    (units.c_difference_from_f, units.f_difference_from_c),
    (units.k_from_c, units.c_from_k),
    (units.mm_from_in, units.in_from_mm),
]


@given(number=st.floats(-1e6, 1e6))
def test_there_and_back(number: float) -> None:
    for there, back in PAIRS:
        assert back(there(number)) == pytest.approx(number, abs=1e-9)
        assert there(back(number)) == pytest.approx(number, abs=1e-9)


@given(low=st.floats(-60.0, 1100.0), high=st.floats(-60.0, 1100.0))
def test_a_difference_has_no_offset(low: float, high: float) -> None:
    assert units.f_difference_from_c(high - low) == pytest.approx(units.f_from_c(high) - units.f_from_c(low), abs=1e-9)


def test_arrays_stay_arrays() -> None:
    assert units.c_from_f(np.array([32.0, 212.0])).tolist() == [0.0, 100.0]
