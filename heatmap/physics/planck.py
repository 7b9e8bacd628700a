"""How much a hot surface glows in the wave band an infrared gun looks at, and the way back to temperature.

Everything is exact Planck radiation of a blackbody in a flat band with sharp edges, by default 8 to 14 µm.
The band integral is a Gauss quadrature of Planck's law. Because it is wanted hundreds of thousands of times for one
map, each band also gets a polynomial between 140 K and 1600 K, made from the quadrature at first use; outside that
range the quadrature answers directly. Its error is in the docstrings and under test.

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

from functools import cache, lru_cache
from math import log, pi, sqrt

import numpy as np
from numpy.polynomial import Chebyshev, Polynomial

from heatmap.errors import InputError
from heatmap.physics.checks import above_zero
from heatmap.units import ArrayLike, FloatArray

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

# Gauss-Legendre nodes over the logarithm of the wavelength: within 1e-12 of the series of [2]_ for any band and
# temperature (tests).
_NODES = 64
_rule = cache(np.polynomial.legendre.leggauss)

# The polynomial: range, degree. Chosen by its error: see band_radiance.
_TABLE_LOW_K = 140.0
_TABLE_HIGH_K = 1600.0
_DEGREE = 24
_SMALL_STEP = 1e-6  # what is left after it is about its square
_MOST_NEWTON_STEPS = 60  # two to eight are enough from a few kelvin up to a million


def check_band(low_um: float, high_um: float) -> tuple[float, float]:
    """Return the band edges as floats, or say what is wrong with them."""
    low, high = float(low_um), float(high_um)
    if not _SHORTEST_UM <= low < high <= _LONGEST_UM:
        raise InputError(
            f"the wave band is {low:g} to {high:g} µm; it must run upwards within {_SHORTEST_UM:g} and "
            f"{_LONGEST_UM:g}, as in 8 to 14."
        )
    return low, high


def _spectral_radiance(wavelength_um: FloatArray | float, kelvin: FloatArray) -> FloatArray:
    """Return Planck's law, c1L / (λ⁵ (exp(c2/λT) − 1)) [W m⁻² sr⁻¹ µm⁻¹]."""
    # c1L in W m² sr⁻¹ over λ⁵ in µm⁵ is 1e30 W m⁻³ sr⁻¹, and 1e-6 of that per µm.
    x = SECOND_RADIATION_CONSTANT_UM_K / (wavelength_um * kelvin)
    # Beyond x = 700 the exponential overflows; there the radiance is 0 to any purpose.
    return np.asarray(FIRST_RADIATION_CONSTANT * 1e24 / wavelength_um**5 / np.expm1(np.minimum(x, 700.0)))


def _exact_band_radiance(kelvin: FloatArray, low_um: float, high_um: float) -> FloatArray:
    """Return the band radiance by quadrature, any temperature (n,): ∫ λ L_λ d ln λ."""
    nodes, weights = _rule(_NODES)
    half_width = 0.5 * log(high_um / low_um)
    wavelength_um = sqrt(low_um * high_um) * np.exp(half_width * nodes)
    return np.asarray(half_width * _spectral_radiance(wavelength_um, kelvin[:, None]) @ (weights * wavelength_um))


_LOG_RANGE_K = (log(_TABLE_LOW_K), log(_TABLE_HIGH_K))


@lru_cache(maxsize=32)
def _polynomial(low_um: float, high_um: float) -> Polynomial:
    """Return ln L over ln T of a band, through Chebyshev points of the quadrature."""

    def log_radiance(log_kelvin: FloatArray) -> FloatArray:
        return np.log(_exact_band_radiance(np.exp(log_kelvin), low_um, high_um))

    way = Chebyshev.interpolate(log_radiance, _DEGREE, domain=_LOG_RANGE_K)
    return way.convert(kind=Polynomial, domain=way.domain)


@lru_cache(maxsize=32)
def _way_back(low_um: float, high_um: float) -> tuple[FloatArray, FloatArray]:
    """Return ln L of a band, rising, and ln T there, near enough for straight lines between."""
    log_kelvin = np.linspace(*_LOG_RANGE_K, 101)
    return _polynomial(low_um, high_um)(log_kelvin), log_kelvin


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
    8-14 µm and 1e-9 for any band; outside that range quadrature, below 1e-12.

    Examples
    --------
    >>> round(float(band_radiance(575.0)), 4)
    550.412
    """
    temperature, (low, high) = np.asarray(kelvin, dtype=np.float64), check_band(low_um, high_um)
    flat = temperature.ravel()
    inside = (flat >= _TABLE_LOW_K) & (flat <= _TABLE_HIGH_K)
    radiance: FloatArray = np.exp(_polynomial(low, high)(np.log(np.clip(flat, _TABLE_LOW_K, _TABLE_HIGH_K))))
    if not inside.all():
        outside = above_zero(flat[~inside], "a temperature in kelvin")
        radiance[~inside] = _exact_band_radiance(outside, low, high)
    return radiance.reshape(temperature.shape)[()]


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
    The inverse of :func:`band_radiance` by Newton's method, as exact as that: between 140 and 1600 K below 1e-7 K for
    8-14 µm and 1e-4 K for any band; outside, from 40 K on, below 1e-12 of the temperature. Cold, ln L is nearly
    straight over 1/T (Wien); hot, over ln T. Each side steps in what is straight there.

    Examples
    --------
    >>> round(float(band_temperature(550.4119843312)), 6)
    575.0
    """
    wanted = above_zero(radiance, "what glows, less what is mirrored and added by the gun,")
    log_wanted = np.log(wanted)
    kelvin: FloatArray = np.exp(np.interp(log_wanted, *_way_back(*check_band(low_um, high_um))))
    for _ in range(_MOST_NEWTON_STEPS):
        now, slope = band_radiance_and_slope(kelvin, low_um, high_um)
        power = slope * kelvin / now  # d ln L / d ln T
        step = (log_wanted - np.log(now)) / power
        kelvin = kelvin * np.where(step < 0.0, 1.0 / (1.0 - step), np.exp(np.minimum(step, 5.0)))
        if (np.abs(step) < _SMALL_STEP).all():
            break
    return kelvin[()]


def band_radiance_and_slope(
    kelvin: ArrayLike, low_um: float = LOW_UM, high_um: float = HIGH_UM
) -> tuple[FloatArray, FloatArray]:
    """Return :func:`band_radiance` and how much more it is for one kelvin more, dL/dT [W m⁻² sr⁻¹ K⁻¹].

    L = T⁴ g(λ₁T, λ₂T), so T dL/dT = 4L + λ₂L_λ(λ₂) − λ₁L_λ(λ₁): exact, by the chain rule.
    """
    radiance, kelvin = band_radiance(kelvin, low_um, high_um), np.asarray(kelvin, dtype=np.float64)
    high = high_um * _spectral_radiance(high_um, kelvin)
    low = low_um * _spectral_radiance(low_um, kelvin)
    return radiance, (4.0 * radiance + high - low) / kelvin
