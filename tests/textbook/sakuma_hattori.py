"""The band radiance of the standards: one exponential that stands in for a wide band.

Calibration laboratories describe a radiation thermometer by three coefficients instead of its band. The map does
not use it; it checks the exact band of :mod:`heatmap.physics.planck` by another route.

References
----------
.. [1] F. Sakuma, S. Hattori, "Establishing a practical temperature standard by using a narrow-band radiation
   thermometer with a silicon detector", Temperature: Its Measurement and Control 5 (1982) 421.
.. [2] J. Fischer et al., "Uncertainty budgets for calibration of radiation thermometers below the silver
   point", BIPM CCT-WG5 (2008); ASTM E2758 and E2847 use the same form.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from heatmap.physics.checks import above_zero
from heatmap.physics.planck import HIGH_UM, LOW_UM, SECOND_RADIATION_CONSTANT_UM_K, check_band

Array = NDArray[np.float64]


def sakuma_hattori_coefficients(low_um: float = LOW_UM, high_um: float = HIGH_UM) -> tuple[float, float]:
    """Return the two coefficients of the band approximation used by standards for radiation thermometers.

    Parameters
    ----------
    low_um, high_um : float, optional
        Edges of a flat wave band [µm].

    Returns
    -------
    tuple of float
        A [µm] and B [µm K].

    Raises
    ------
    InputError
        If the band is upside down.

    Notes
    -----
    A = λ₀ (1 − 6s²/λ₀²), B = c2 s²/(2λ₀²), with λ₀ the centre of the band and s its standard deviation,
    width/√12 for a flat band [1]_ [2]_. For 8-14 µm: 9.364 µm and 178.4 µm K.
    """
    low, high = check_band(low_um, high_um)
    centre = 0.5 * (low + high)
    relative_variance = ((high - low) / sqrt(12.0) / centre) ** 2
    return centre * (1.0 - 6.0 * relative_variance), 0.5 * SECOND_RADIATION_CONSTANT_UM_K * relative_variance


def sakuma_hattori(kelvin: ArrayLike, a_um: float, b_um_k: float, c: float = 1.0) -> Array:
    """Return the signal of a radiation thermometer by the approximation of the standards.

    Parameters
    ----------
    kelvin : array_like
        Temperature [K], above 0.
    a_um, b_um_k : float
        Coefficients, as from :func:`sakuma_hattori_coefficients`.
    c : float, optional
        Scale; the signal has its unit.

    Returns
    -------
    ndarray
        S = c / (exp(c2/(A T + B)) − 1).

    Raises
    ------
    InputError
        If a temperature is not a finite number above 0.

    Notes
    -----
    Scaled to agree at 573 K it is within 0.33 K of the exact 8-14 µm band from 273 K to 773 K; with A, B
    and C fitted, within 0.032 K.
    """
    temperature = above_zero(kelvin, "a temperature in kelvin")
    return np.asarray(c / np.expm1(SECOND_RADIATION_CONSTANT_UM_K / (a_um * temperature + b_um_k)))[()]


def sakuma_hattori_temperature(signal: ArrayLike, a_um: float, b_um_k: float, c: float = 1.0) -> Array:
    """Return the temperature [K] of a signal, the inverse of :func:`sakuma_hattori`.

    Parameters
    ----------
    signal : array_like
        Signal S in the unit of c, above 0.
    a_um, b_um_k, c : float
        As in :func:`sakuma_hattori`.

    Returns
    -------
    ndarray
        T = (c2 / ln(c/S + 1) − B) / A.

    Raises
    ------
    InputError
        If a signal is not a finite number above 0.
    """
    wanted = above_zero(signal, "a signal")
    return np.asarray((SECOND_RADIATION_CONSTANT_UM_K / np.log1p(c / wanted) - b_um_k) / a_um)[()]
