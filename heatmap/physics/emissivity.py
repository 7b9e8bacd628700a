"""The emissivity of a grate: a film of oil on a finish, and a spectrum over the gun's band.

The finishes a cook can name, each with its source, are in :mod:`heatmap.physics.finishes`.

What it means: at a true 575 °F and 75 °F around, 0.01 of emissivity is worth 3.6 °F at ε 0.95 and 4.3 °F at
0.80 (:func:`heatmap.physics.grey_body.temperature_per_emissivity`).
"""

from __future__ import annotations

from math import hypot, isfinite, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from heatmap.errors import InputError
from heatmap.physics.finishes import NICKEL_PLATED_POLISHED, OIL_FILM_50_UM
from heatmap.physics.planck import spectral_radiance

# A film of oil hides part of what is under it: ε' = ε + a (ε_oil − ε). ε_oil is a deep pool of oil: 1 −
# Fresnel reflection straight in for a refractive index of 1.47; Codex Alimentarius CXS 210 gives 1.458 to
# 1.477 for common vegetable oils, in visible light (from memory).
_OIL_INDEX = 1.47
OIL_EMISSIVITY = 1.0 - ((_OIL_INDEX - 1.0) / (_OIL_INDEX + 1.0)) ** 2
# a is taken as anything, evenly, from no film left to the 0.05 mm film of lubricating oil on polished nickel.
_THICKEST_FILM = (OIL_FILM_50_UM.low - NICKEL_PLATED_POLISHED.low) / (OIL_EMISSIVITY - NICKEL_PLATED_POLISHED.low)
OIL_COVER = 0.5 * _THICKEST_FILM
OIL_COVER_SD = _THICKEST_FILM / sqrt(12.0)


def oiled(emissivity: float, emissivity_sd: float) -> tuple[float, float]:
    """Return the emissivity of a finish with a thin film of cooking oil on it, and its spread. Assumed.

    Parameters
    ----------
    emissivity : float
        Emissivity of the dry finish [1], above 0 and at most 1.
    emissivity_sd : float
        Its standard deviation [1].

    Returns
    -------
    tuple of float
        Emissivity and standard deviation with the film.

    Raises
    ------
    InputError
        If the emissivity is out of range or the spread is below 0.

    Notes
    -----
    No figure for vegetable oil in 8-14 µm is published; this is an assumption made from films of lubricating
    oil, total emissivity, 0.27 and 0.46 at 0.025 and 0.05 mm on polished nickel of 0.045 (Wolfe and Zissis
    1978; Hottel; from memory): ε' = ε + a (0.964 − ε) with a anywhere between 0 and 0.45. So it hardly moves a
    seasoned surface (0.90 to 0.91) and makes bright metal both blacker and far less certain (0.16 ± 0.05 to
    0.34 ± 0.12). The film is never taken to make the finish under it better known. Wet oil smokes off or bakes
    on at searing temperature, and can flare up: shoot a dry grate when you can.

    Examples
    --------
    >>> tuple(round(value, 3) for value in oiled(0.90, 0.05))
    (0.914, 0.051)
    """
    if not 0.0 < emissivity <= 1.0:
        raise InputError(f"emissivity is {emissivity:g}; it must be above 0 and at most 1.")
    if not (isfinite(emissivity_sd) and emissivity_sd >= 0.0):
        raise InputError(f"emissivity_sd is {emissivity_sd:g}; it must be 0 or more.")
    gap = OIL_EMISSIVITY - emissivity
    return emissivity + OIL_COVER * gap, hypot(emissivity_sd, OIL_COVER_SD * gap)


def band_emissivity(wavelength_um: ArrayLike, spectral_emissivity: ArrayLike, kelvin: float) -> float:
    """Return the emissivity a gun sees, from a spectrum over its band.

    Parameters
    ----------
    wavelength_um : array_like, shape (n,)
        Wavelengths [µm], rising, from one edge of the band to the other.
    spectral_emissivity : array_like, shape (n,)
        Emissivity at each, 1 − reflectance for an opaque surface.
    kelvin : float
        Temperature of the surface [K].

    Returns
    -------
    float
        ∫ ε_λ L_λ dλ / ∫ L_λ dλ, by trapezia.

    Raises
    ------
    InputError
        If there are fewer than two points, they do not rise, or shapes differ.
    """
    wavelength = np.asarray(wavelength_um, dtype=np.float64)
    spectrum: NDArray[np.float64] = np.asarray(spectral_emissivity, dtype=np.float64)
    if wavelength.ndim != 1 or wavelength.shape != spectrum.shape or wavelength.size < 2:
        raise InputError("a spectrum needs two or more wavelengths and one emissivity for each.")
    if not (np.diff(wavelength) > 0.0).all():
        raise InputError("the wavelengths of a spectrum must rise.")
    glow = spectral_radiance(wavelength, kelvin)
    step = np.diff(wavelength)
    whole = np.sum((glow[1:] + glow[:-1]) * step)
    return float(np.sum(((spectrum * glow)[1:] + (spectrum * glow)[:-1]) * step) / whole)
