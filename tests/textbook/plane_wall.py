"""A wall heated alike on both faces, and a body the same all through, in closed form; temperatures in °C.

References
----------
F. P. Incropera, D. P. DeWitt, T. L. Bergman and A. S. Lavine, *Fundamentals of Heat and Mass Transfer*, 6th
edition (2007), sections 5.1 to 5.5; symbols and equation numbers follow it. The same results stand in Y. A. Çengel and
A. J. Ghajar, *Heat and Mass Transfer*, chapter 4.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from heatmap.physics.checks import above_zero

Array = NDArray[np.float64]


def plane_wall_eigenvalues(biot: float, count: int = 100) -> Array:
    """Return the first roots ζ of ζ tan ζ = Bi, in rising order.

    Parameters
    ----------
    biot : float
        h L/k with L half the thickness; above 0.
    count : int
        How many roots.

    References
    ----------
    Incropera et al. (2007), eq. 5.39c and table 5.1.
    """
    above_zero(biot, "biot")
    above_zero(count, "count")
    low = np.pi * np.arange(count)
    high = low + np.pi / 2.0
    for _ in range(64):  # halving an interval of π/2 64 times ends below the spacing of doubles
        middle = 0.5 * (low + high)
        below = middle * np.sin(middle) * np.cos(low) < biot * np.cos(middle) * np.cos(low)
        low_or_middle = np.where(below, middle, low)
        high = np.where(below, high, middle)
        low = low_or_middle
    return 0.5 * (low + high)


def plane_wall_coefficients(eigenvalues: ArrayLike) -> Array:
    """Return C = 4 sin ζ/(2ζ + sin 2ζ) for each root (Incropera et al. 2007, eq. 5.39b)."""
    zeta = np.asarray(eigenvalues, float)
    return np.asarray(4.0 * np.sin(zeta) / (2.0 * zeta + np.sin(2.0 * zeta)), float)


def plane_wall_temperature(
    fraction: ArrayLike,
    time_s: ArrayLike,
    *,
    half_thickness_m: float,
    start_c: float,
    fluid_c: float,
    film_w_m2k: float,
    conductivity: float,
    diffusivity: float,
    terms: int = 100,
) -> Array:
    """Return the temperature in a wall heated alike on both faces, from the full series.

    Parameters
    ----------
    fraction : array_like
        Place, 0 at the mid-plane to 1 at a face; broadcast with `time_s`.
    time_s : array_like
        Time since the change [s].
    half_thickness_m, start_c, fluid_c, film_w_m2k, conductivity, diffusivity : float
        In m, °C, °C, W/(m² K), W/(m K), m²/s.
    terms : int
        Terms of the series; 100 are exact to 1e-9 for α t/L² above 3e-4.

    Returns
    -------
    ndarray
        Temperature [°C].

    References
    ----------
    Incropera et al. (2007), eq. 5.39a.
    """
    zeta = plane_wall_eigenvalues(film_w_m2k * half_thickness_m / conductivity, terms)
    fourier = diffusivity * np.asarray(time_s, float)[..., None] / half_thickness_m**2
    place = np.asarray(fraction, float)[..., None]
    series = plane_wall_coefficients(zeta) * np.exp(-(zeta**2) * fourier) * np.cos(zeta * place)
    return np.asarray(fluid_c + (start_c - fluid_c) * series.sum(axis=-1), float)


def plane_wall_heat_share(
    time_s: ArrayLike,
    *,
    half_thickness_m: float,
    film_w_m2k: float,
    conductivity: float,
    diffusivity: float,
    terms: int = 100,
) -> Array:
    """Return the heat a wall has taken up as a share of all it can.

    Parameters
    ----------
    time_s, half_thickness_m, film_w_m2k, conductivity, diffusivity, terms
        As in :func:`plane_wall_temperature`.

    Returns
    -------
    ndarray
        Share [1], shaped like `time_s`.

    References
    ----------
    Incropera et al. (2007), eq. 5.46.
    """
    zeta = plane_wall_eigenvalues(film_w_m2k * half_thickness_m / conductivity, terms)
    fourier = diffusivity * np.asarray(time_s, float)[..., None] / half_thickness_m**2
    series = plane_wall_coefficients(zeta) * np.exp(-(zeta**2) * fourier) * np.sin(zeta) / zeta
    return np.asarray(1.0 - series.sum(axis=-1), float)


def lumped_temperature(
    time_s: ArrayLike, *, start_c: ArrayLike, fluid_c: ArrayLike, time_constant_s: ArrayLike
) -> Array:
    """Return the temperature of a body so conductive that it is the same all through.

    Parameters
    ----------
    time_s : array_like
        Time since the change [s].
    start_c, fluid_c : array_like
        Start temperature, and that of the surroundings [°C].
    time_constant_s : array_like
        ρ V c/(h A) [s]; all broadcast together.

    Returns
    -------
    ndarray
        Temperature [°C].

    Notes
    -----
    Holds for Bi below about 0.1.

    References
    ----------
    Incropera et al. (2007), eqs 5.6 and 5.10.
    """
    decay = np.exp(-np.asarray(time_s, float) / np.asarray(time_constant_s, float))
    fluid = np.asarray(fluid_c, float)
    return np.asarray(fluid + (np.asarray(start_c, float) - fluid) * decay, float)
