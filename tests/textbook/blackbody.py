"""The blackbody fraction of the printed tables: out of the product's band radiance, and by the textbooks' two series.

References
----------
.. [1] F. P. Incropera et al., Fundamentals of Heat and Mass Transfer, "blackbody radiation functions" (table 12.1 or
   12.2 by edition).
.. [2] R. Siegel, J. R. Howell, Thermal Radiation Heat Transfer: series for the blackbody fraction (appendix, "useful
   radiation relations").
"""

from __future__ import annotations

from math import factorial, pi

import numpy as np

from heatmap.physics.planck import SECOND_RADIATION_CONSTANT_UM_K, STEFAN_BOLTZMANN, band_radiance
from heatmap.units import FloatArray

#: The widest band the product takes [µm]; below 0.5 µm and these temperatures nothing glows.
_LOW_UM, _HIGH_UM = 0.5, 1000.0

# Where the two series meet. At x = 2 eighteen terms of the one and fourteen of the other reach 1e-15.
_MEETING_POINT = 2.0
_TAIL_TERMS = 18
# ∫₀^∞ x³/(eˣ − 1) dx = π⁴/15.
_WHOLE = pi**4 / 15.0
# x³/(eˣ − 1) = Σ B_k x^(k+2)/k!, integrated; beyond B₁ = −1/2 only the even Bernoulli numbers are left.
_EVEN_BERNOULLI_NUMBERS = (
    1.0, 1 / 6, -1 / 30, 1 / 42, -1 / 30, 5 / 66, -691 / 2730, 7 / 6, -3617 / 510, 43867 / 798,
    -174611 / 330, 854513 / 138, -236364091 / 2730, 8553103 / 6,
)  # fmt: skip
_HEAD_COEFFICIENTS = tuple(number / factorial(2 * k) / (2 * k + 3) for k, number in enumerate(_EVEN_BERNOULLI_NUMBERS))


def _tail(x: FloatArray) -> FloatArray:
    """Return ∫ₓ^∞ u³/(eᵘ − 1) du for x ≥ 2, by Σ e⁻ⁿˣ (x³/n + 3x²/n² + 6x/n³ + 6/n⁴) [2]_."""
    q = np.exp(-x)
    cubic, square, linear, constant = (np.zeros_like(x) for _ in range(4))
    for n in range(_TAIL_TERMS, 0, -1):
        for total, power in ((cubic, 1), (square, 2), (linear, 3), (constant, 4)):
            total += 1.0 / n**power
            total *= q
    result: FloatArray = ((cubic * x + 3.0 * square) * x + 6.0 * linear) * x + 6.0 * constant
    return result


def _head(x: FloatArray) -> FloatArray:
    """Return ∫₀ˣ u³/(eᵘ − 1) du for x < 2, by the Bernoulli numbers: x³ (1/3 − x/8 + x²/60 − …)."""
    square = x * x
    even = np.zeros_like(x)
    for coefficient in reversed(_HEAD_COEFFICIENTS):
        even *= square
        even += coefficient
    result: FloatArray = x**3 * (even - x / 8.0)
    return result


def _between(x_low: FloatArray, x_high: FloatArray) -> FloatArray:
    """Return ∫ u³/(eᵘ − 1) du from x_low up to x_high, without losing digits at either end."""
    x_low, x_high = np.broadcast_arrays(np.atleast_1d(x_low), np.atleast_1d(x_high))
    low_is_tail, high_is_tail = x_low >= _MEETING_POINT, x_high >= _MEETING_POINT
    result = np.empty(x_low.shape)
    both = low_is_tail & high_is_tail
    result[both] = _tail(x_low[both]) - _tail(x_high[both])
    neither = ~(low_is_tail | high_is_tail)
    result[neither] = _head(x_high[neither]) - _head(x_low[neither])
    across = ~low_is_tail & high_is_tail
    result[across] = _WHOLE - _head(x_low[across]) - _tail(x_high[across])
    return result


def band_radiance_by_series(kelvin: FloatArray, low_um: float, high_um: float) -> FloatArray:
    """Return the band radiance of temperatures (n,) by the two series [2]_."""
    x_low = SECOND_RADIATION_CONSTANT_UM_K / (high_um * kelvin)
    x_high = SECOND_RADIATION_CONSTANT_UM_K / (low_um * kelvin)
    return np.asarray(STEFAN_BOLTZMANN / (pi * _WHOLE) * kelvin**4 * _between(x_low, x_high))


def blackbody_fraction(wavelength_temperature_um_k: float) -> float:
    """Return the share of a blackbody's radiation below a wavelength, F(0→λT) [1]_, by the product.

    It depends on the product λT alone, so λ is put at the long end of the band and T follows.
    """
    kelvin = wavelength_temperature_um_k / _HIGH_UM
    return float(pi * band_radiance(kelvin, _LOW_UM, _HIGH_UM) / (STEFAN_BOLTZMANN * kelvin**4))
