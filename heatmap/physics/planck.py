"""How much a hot surface glows in the wave band an infrared gun looks at, and the way back to temperature.

Everything is exact Planck radiation of a blackbody in a flat band with sharp edges, by default 8 to 14 µm.
The band integral comes from two series that together hold for every wavelength and temperature. Because it
is wanted hundreds of thousands of times for one map, each band also gets two polynomials (radiance from
temperature, temperature from radiance) between 140 K and 1600 K, made from the series at first use; outside
that range the series answer directly. Their error is in the docstrings and under test.

Temperatures in kelvin, wavelengths in µm, radiance in W m⁻² sr⁻¹. Every function broadcasts and returns an
array, or a numpy scalar when all inputs are numbers.

References
----------
.. [1] CODATA 2022 recommended values; h, c and k are exact since the SI revision of 2019.
.. [2] R. Siegel, J. R. Howell, Thermal Radiation Heat Transfer: series for the blackbody fraction
   (appendix, "useful radiation relations"); F. P. Incropera et al., Fundamentals of Heat and Mass Transfer,
   "blackbody radiation functions" (table 12.1 or 12.2 by edition).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import exp, factorial, log, pi

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import ArrayLike

from heatmap.errors import InputError
from heatmap.physics.checks import above_zero
from heatmap.units import FloatArray

# [1]: exact by definition.
PLANCK_CONSTANT = 6.62607015e-34  # J s
SPEED_OF_LIGHT = 299_792_458.0  # m s⁻¹
BOLTZMANN_CONSTANT = 1.380649e-23  # J K⁻¹

# First radiation constant for radiance, c1L = 2hc², W m² sr⁻¹; second, c2 = hc/k, m K and µm K.
FIRST_RADIATION_CONSTANT = 2.0 * PLANCK_CONSTANT * SPEED_OF_LIGHT**2
SECOND_RADIATION_CONSTANT = PLANCK_CONSTANT * SPEED_OF_LIGHT / BOLTZMANN_CONSTANT
SECOND_RADIATION_CONSTANT_UM_K = SECOND_RADIATION_CONSTANT * 1e6
STEFAN_BOLTZMANN = 2.0 * pi**5 * BOLTZMANN_CONSTANT**4 / (15.0 * PLANCK_CONSTANT**3 * SPEED_OF_LIGHT**2)  # W m⁻² K⁻⁴

# The band of the common hand gun, and the limits of any band: visible red to the edge of the far infrared.
LOW_UM = 8.0
HIGH_UM = 14.0
_SHORTEST_UM = 0.5
_LONGEST_UM = 1000.0

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

# The polynomials: range, degrees. Chosen by their error: see band_radiance and band_temperature.
_TABLE_LOW_K = 140.0
_TABLE_HIGH_K = 1600.0
_RADIANCE_DEGREE = 24
_TEMPERATURE_DEGREE = 24
_MOST_NEWTON_STEPS = 60  # four to eight are enough from a few kelvin up to a million


def check_band(low_um: float, high_um: float) -> tuple[float, float]:
    """Return the band edges as floats, or say what is wrong with them."""
    low, high = float(low_um), float(high_um)
    if not _SHORTEST_UM <= low < high <= _LONGEST_UM:
        raise InputError(
            f"the wave band is {low:g} to {high:g} µm; it must run upwards within {_SHORTEST_UM:g} and "
            f"{_LONGEST_UM:g}, as in 8 to 14."
        )
    return low, high


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


def spectral_radiance(wavelength_um: ArrayLike, kelvin: ArrayLike) -> FloatArray:
    """Return how strongly a blackbody glows at one wavelength [W m⁻² sr⁻¹ µm⁻¹]; wavelength and temperature broadcast.

    Planck's law, L_λ = c1L / (λ⁵ (exp(c2/λT) − 1)).
    """
    wavelength = above_zero(wavelength_um, "a wavelength in µm")
    temperature = above_zero(kelvin, "a temperature in kelvin")
    return _spectral_radiance(wavelength, temperature)[()]


def _spectral_radiance(wavelength_um: FloatArray | float, kelvin: FloatArray) -> FloatArray:
    # c1L in W m² sr⁻¹ over λ⁵ in µm⁵ is 1e30 W m⁻³ sr⁻¹, and 1e-6 of that per µm.
    x = SECOND_RADIATION_CONSTANT_UM_K / (wavelength_um * kelvin)
    # Beyond x = 700 the exponential overflows; there the radiance is 0 to any purpose.
    result: FloatArray = FIRST_RADIATION_CONSTANT * 1e24 / (wavelength_um**5 * np.expm1(np.minimum(x, 700.0)))
    return result


def _exact_band_radiance(kelvin: FloatArray, low_um: float, high_um: float) -> FloatArray:
    """Return the band radiance by the series, any temperature; shape at least (1,)."""
    x_low = SECOND_RADIATION_CONSTANT_UM_K / (high_um * kelvin)
    x_high = SECOND_RADIATION_CONSTANT_UM_K / (low_um * kelvin)
    scale = STEFAN_BOLTZMANN / (pi * _WHOLE)
    return scale * kelvin**4 * _between(x_low, x_high)


def _slope(kelvin: FloatArray, radiance: FloatArray, low_um: float, high_um: float) -> FloatArray:
    """Return dL/dT of a band from its radiance: T dL/dT = 4L + λ₂L_λ(λ₂) − λ₁L_λ(λ₁)."""
    high = high_um * _spectral_radiance(high_um, kelvin)
    low = low_um * _spectral_radiance(low_um, kelvin)
    result: FloatArray = (4.0 * radiance + high - low) / kelvin
    return result


def _newton_temperature(radiance: FloatArray, low_um: float, high_um: float) -> FloatArray:
    """Return the temperature of a band radiance by Newton's method on the series, any radiance above 0.

    Cold, ln L is nearly straight over 1/T (Wien); hot, over ln T. Each side steps in what is straight there.
    """
    kelvin = np.full_like(radiance, 500.0)
    wanted = np.log(radiance)
    for _ in range(_MOST_NEWTON_STEPS):
        now = _exact_band_radiance(kelvin, low_um, high_um)
        power = _slope(kelvin, now, low_um, high_um) * kelvin / now  # d ln L / d ln T
        step = (wanted - np.log(now)) / power
        kelvin = kelvin * np.where(step < 0.0, 1.0 / (1.0 - step), np.exp(np.minimum(step, 5.0)))
        if (np.abs(step) < 1e-14).all():
            break
    return kelvin


@dataclass(frozen=True, slots=True, kw_only=True)
class _BandTable:
    """Two polynomials of one band, ln L over ln T and ln T over ln L, on −1 … 1, highest power first."""

    log_radiance: tuple[float, ...]
    log_temperature: tuple[float, ...]
    log_low: float  # ln L at the two ends of the table
    log_high: float


_LOG_LOW_K = log(_TABLE_LOW_K)
_LOG_HIGH_K = log(_TABLE_HIGH_K)


@lru_cache(maxsize=32)
def _band_table(low_um: float, high_um: float) -> _BandTable:
    """Return the polynomials of a band, through Chebyshev points of the series."""
    ends = np.log(_exact_band_radiance(np.array([_TABLE_LOW_K, _TABLE_HIGH_K]), low_um, high_um))
    log_low, log_high = float(ends[0]), float(ends[1])

    def log_radiance(unit: FloatArray) -> FloatArray:
        kelvin = np.exp(_LOG_LOW_K + (unit + 1.0) * (0.5 * (_LOG_HIGH_K - _LOG_LOW_K)))
        return np.log(_exact_band_radiance(kelvin, low_um, high_um))

    def log_temperature(unit: FloatArray) -> FloatArray:
        radiance = np.exp(log_low + (unit + 1.0) * (0.5 * (log_high - log_low)))
        return np.log(_newton_temperature(radiance, low_um, high_um))

    def powers(function: Callable[[FloatArray], FloatArray], degree: int) -> tuple[float, ...]:
        points = chebyshev.chebpts1(degree + 1)  # as many points as coefficients: the fit goes through them
        fitted = chebyshev.chebfit(points, function(points), degree)
        return tuple(map(float, chebyshev.cheb2poly(fitted)[::-1]))

    return _BandTable(
        log_radiance=powers(log_radiance, _RADIANCE_DEGREE),
        log_temperature=powers(log_temperature, _TEMPERATURE_DEGREE),
        log_low=log_low,
        log_high=log_high,
    )


def _exp_polynomial_of_log(values: FloatArray, low: float, high: float, powers: tuple[float, ...]) -> FloatArray:
    """Return exp(p(u)) where u runs from −1 to 1 as ln(values) runs from low to high."""
    unit = np.log(values)
    unit -= 0.5 * (low + high)
    unit *= 2.0 / (high - low)
    result = np.full_like(unit, powers[0])
    for power in powers[1:]:
        result *= unit
        result += power
    return np.exp(result, out=result)


def band_radiance(kelvin: ArrayLike, low_um: float = LOW_UM, high_um: float = HIGH_UM) -> FloatArray:
    """Return how much a perfectly black surface glows in the band an infrared gun looks at.

    Parameters
    ----------
    kelvin : array_like
        Temperature [K], any shape, above 0.
    low_um, high_um : float, optional
        Edges of the wave band [µm], within 0.5 and 1000; sensitivity between them is taken as flat.

    Returns
    -------
    ndarray
        Band radiance L [W m⁻² sr⁻¹], same shape.

    Notes
    -----
    L = σT⁴/π (F(0→λ₂T) − F(0→λ₁T)) [2]_. Relative error of the polynomial (140 to 1600 K) below 1e-11 for
    8-14 µm and 1e-9 for any band; outside that range the series answer, below 1e-12.

    Examples
    --------
    >>> round(float(band_radiance(575.0)), 4)
    550.412
    """
    temperature = above_zero(kelvin, "a temperature in kelvin")
    low, high = check_band(low_um, high_um)
    return _band_radiance(np.atleast_1d(temperature), low, high).reshape(temperature.shape)[()]


def _band_radiance(kelvin: FloatArray, low_um: float, high_um: float) -> FloatArray:
    table = _band_table(low_um, high_um)
    outside = (kelvin < _TABLE_LOW_K) | (kelvin > _TABLE_HIGH_K)
    if not outside.any():
        return _exp_polynomial_of_log(kelvin, _LOG_LOW_K, _LOG_HIGH_K, table.log_radiance)
    inside = np.where(outside, _TABLE_LOW_K, kelvin)
    result = _exp_polynomial_of_log(inside, _LOG_LOW_K, _LOG_HIGH_K, table.log_radiance)
    result[outside] = _exact_band_radiance(kelvin[outside], low_um, high_um)
    return result


def band_temperature(radiance: ArrayLike, low_um: float = LOW_UM, high_um: float = HIGH_UM) -> FloatArray:
    """Return the temperature of a black surface from its glow in the band.

    Parameters
    ----------
    radiance : array_like
        Band radiance [W m⁻² sr⁻¹], any shape, above 0.
    low_um, high_um : float, optional
        Edges of the wave band [µm].

    Returns
    -------
    ndarray
        Temperature [K], same shape.

    Notes
    -----
    The inverse of :func:`band_radiance`. Error between 140 and 1600 K (polynomial) below 1e-7 K for 8-14 µm
    and 1e-4 K for any band; outside, below 1e-12 of the temperature (Newton's method on the series).

    Examples
    --------
    >>> round(float(band_temperature(550.4119843312)), 6)
    575.0
    """
    wanted = np.asarray(radiance, dtype=np.float64)
    good = np.isfinite(wanted) & (wanted > 0.0)
    if not good.all():
        worst = wanted[~good].flat[0]
        raise InputError(
            f"a radiance of {worst:g} W/m²sr belongs to no temperature; it must be a finite number above 0. "
            "Too little glow is left when more reflection is taken off than the surface can mirror."
        )
    low, high = check_band(low_um, high_um)
    return _band_temperature(np.atleast_1d(wanted), low, high).reshape(wanted.shape)[()]


def _band_temperature(radiance: FloatArray, low_um: float, high_um: float) -> FloatArray:
    table = _band_table(low_um, high_um)
    outside = (radiance < exp(table.log_low)) | (radiance > exp(table.log_high))
    if not outside.any():
        return _exp_polynomial_of_log(radiance, table.log_low, table.log_high, table.log_temperature)
    inside = np.where(outside, exp(table.log_low), radiance)
    result = _exp_polynomial_of_log(inside, table.log_low, table.log_high, table.log_temperature)
    result[outside] = _newton_temperature(radiance[outside], low_um, high_um)
    return result


def band_radiance_slope(kelvin: ArrayLike, low_um: float = LOW_UM, high_um: float = HIGH_UM) -> FloatArray:
    """Return how much more a black surface glows in the band for one kelvin more, dL/dT [W m⁻² sr⁻¹ K⁻¹].

    Arguments and errors as :func:`band_radiance`. L = T⁴ g(λ₁T, λ₂T), so T dL/dT = 4L + λ₂L_λ(λ₂) − λ₁L_λ(λ₁): exact,
    by the chain rule.
    """
    temperature = above_zero(kelvin, "a temperature in kelvin")
    low, high = check_band(low_um, high_um)
    flat = np.atleast_1d(temperature)
    return _slope(flat, _band_radiance(flat, low, high), low, high).reshape(temperature.shape)[()]
