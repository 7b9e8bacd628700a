"""From what an infrared gun shows to how hot the surface is, and back.

A surface that is not black glows less than its temperature says and mirrors its surroundings for the rest.
The gun knows neither; it takes its emissivity setting for the one and, as a rule, its own temperature for the
other. Both sides of

    s L(T_shown) + (1 − s) L(T_gun)  =  ε L(T_true) + (1 − ε) L(T_reflected)

are the radiance that arrives: on the left as the gun takes it apart, on the right as the surface makes it.
A gun that adds no reflection term has no (1 − s) L(T_gun); pass ``gun_k=None`` for it.

Temperatures in kelvin, emissivities from above 0 to 1. Everything broadcasts; the result is an array, or a
numpy scalar when all inputs are numbers.

References
----------
.. [1] ASTM E2758, Standard Guide for Selection and Use of Wideband, Low Temperature Infrared Thermometers;
   ASTM E2847, Standard Test Method for Calibration and Accuracy Verification of Wideband Infrared
   Thermometers.
.. [2] P. Saunders, "Infrared thermometry: the measurement equation", Measurement Standards Laboratory of
   New Zealand, Technical Guide 22. (The equation from memory of [1]_ and [2]_.)
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from heatmap.errors import InputError
from heatmap.physics.checks import emissivity_share
from heatmap.physics.planck import (
    HIGH_UM,
    LOW_UM,
    band_radiance,
    band_radiance_slope,
    band_temperature,
)

Array = NDArray[np.float64]


def measured_radiance(
    shown_k: ArrayLike,
    *,
    setting: ArrayLike,
    gun_k: ArrayLike | None = None,
    low_um: float = LOW_UM,
    high_um: float = HIGH_UM,
) -> Array:
    """Return the radiance that arrived at the gun, from the number it showed.

    Parameters
    ----------
    shown_k : array_like
        Temperature on the gun's display [K].
    setting : array_like
        Emissivity the gun is set to, above 0 and at most 1.
    gun_k : array_like or None, optional
        The gun's own temperature [K], which it takes for the reflected one; None for a gun that adds no
        reflection term.
    low_um, high_um : float, optional
        Edges of the gun's wave band [µm].

    Returns
    -------
    ndarray
        s L(T_shown) + (1 − s) L(T_gun) [W m⁻² sr⁻¹].

    Raises
    ------
    InputError
        If a temperature, the setting or the band is out of range.
    """
    share = emissivity_share(setting, "the gun's emissivity setting")
    radiance = share * band_radiance(shown_k, low_um, high_um)
    if gun_k is not None:
        radiance = radiance + (1.0 - share) * band_radiance(gun_k, low_um, high_um)
    return radiance


def emitted_and_reflected(
    true_k: ArrayLike,
    *,
    emissivity: ArrayLike,
    reflected_k: ArrayLike,
    low_um: float = LOW_UM,
    high_um: float = HIGH_UM,
) -> Array:
    """Return the radiance that leaves a surface towards the gun: its own glow and what it mirrors.

    Parameters
    ----------
    true_k : array_like
        Temperature of the surface [K].
    emissivity : array_like
        Emissivity of the surface in the band, above 0 and at most 1.
    reflected_k : array_like
        Temperature of what the surface mirrors [K].
    low_um, high_um : float, optional
        Edges of the wave band [µm].

    Returns
    -------
    ndarray
        ε L(T) + (1 − ε) L(T_reflected) [W m⁻² sr⁻¹].

    Raises
    ------
    InputError
        If a temperature, the emissivity or the band is out of range.
    """
    share = emissivity_share(emissivity, "the emissivity of the surface")
    own = share * band_radiance(true_k, low_um, high_um)
    return own + (1.0 - share) * band_radiance(reflected_k, low_um, high_um)


def _temperature(radiance: Array, low_um: float, high_um: float, impossible_k: float | None, what: str) -> Array:
    """Return the temperature of a radiance; where it is not above 0, the stand-in or an error."""
    impossible = ~(radiance > 0.0)
    if not np.any(impossible):
        return band_temperature(radiance, low_um, high_um)
    if impossible_k is None:
        raise InputError(
            f"{what} cannot be: the reflection taken off is more than all that arrived. "
            "The emissivity is too low or the reflected temperature too high for this reading."
        )
    kelvin = band_temperature(np.where(impossible, 1.0, radiance), low_um, high_um)
    return np.where(impossible, impossible_k, kelvin)[()]


def true_temperature(
    shown_k: ArrayLike,
    *,
    setting: ArrayLike,
    emissivity: ArrayLike,
    reflected_k: ArrayLike,
    gun_k: ArrayLike | None = None,
    low_um: float = LOW_UM,
    high_um: float = HIGH_UM,
    impossible_k: float | None = None,
) -> Array:
    """Return how hot the surface really is, from what the gun shows.

    Parameters
    ----------
    shown_k : array_like
        Temperature on the gun's display [K].
    setting : array_like
        Emissivity the gun is set to, above 0 and at most 1.
    emissivity : array_like
        Emissivity of the surface in the band, above 0 and at most 1.
    reflected_k : array_like
        Temperature of what the surface mirrors [K].
    gun_k : array_like or None, optional
        The gun's own temperature [K]; None for a gun that adds no reflection term.
    low_um, high_um : float, optional
        Edges of the gun's wave band [µm].
    impossible_k : float or None, optional
        What to return where reflection alone would exceed all that arrived, so that no temperature fits; a
        random draw in an uncertainty calculation can land there. None (the default) raises instead.

    Returns
    -------
    ndarray
        True temperature [K], of the broadcast shape.

    Raises
    ------
    InputError
        If an input is out of range, or no temperature fits and impossible_k is None.

    Notes
    -----
    The measurement equation of the module solved for T_true. As exact as the band integral: within 1e-6 K for
    a grey surface in a flat 8-14 µm band. What is not known is far larger, the band itself included: a gun
    set to 0.95 that shows 575 °F on ε 0.80 means 637.9 °F if its band is 8-14 µm, 635.5 °F if it is 7.5-13.

    Examples
    --------
    A gun set to 0.95 and at 297 K shows 561 K (550 °F) on a rail of emissivity 0.80; it is at 594 K (610 °F):

    >>> rail_k = true_temperature(560.93, setting=0.95, emissivity=0.80, reflected_k=297.04, gun_k=297.04)
    >>> round(float(rail_k), 1)
    594.2
    """
    share = emissivity_share(emissivity, "the emissivity of the surface")
    arrived = measured_radiance(shown_k, setting=setting, gun_k=gun_k, low_um=low_um, high_um=high_um)
    own = (arrived - (1.0 - share) * band_radiance(reflected_k, low_um, high_um)) / share
    return _temperature(own, low_um, high_um, impossible_k, "this reading")


def shown_temperature(
    true_k: ArrayLike,
    *,
    setting: ArrayLike,
    emissivity: ArrayLike,
    reflected_k: ArrayLike,
    gun_k: ArrayLike | None = None,
    low_um: float = LOW_UM,
    high_um: float = HIGH_UM,
    impossible_k: float | None = None,
) -> Array:
    """Return what the gun would show on a surface of known temperature.

    Parameters
    ----------
    true_k : array_like
        Temperature of the surface [K].
    setting, emissivity, reflected_k, gun_k, low_um, high_um
        As in :func:`true_temperature`.
    impossible_k : float or None, optional
        What to return where the gun would take off more reflection than arrived (it is much hotter than what
        it looks at); None raises.

    Returns
    -------
    ndarray
        Shown temperature [K], of the broadcast shape.

    Raises
    ------
    InputError
        If an input is out of range, or no temperature fits and impossible_k is None.

    Notes
    -----
    The measurement equation of the module solved for T_shown; the inverse of :func:`true_temperature`.
    """
    arrived = emitted_and_reflected(
        true_k, emissivity=emissivity, reflected_k=reflected_k, low_um=low_um, high_um=high_um
    )
    return shown_from_radiance(
        arrived, setting=setting, gun_k=gun_k, low_um=low_um, high_um=high_um, impossible_k=impossible_k
    )


def shown_from_radiance(
    radiance: ArrayLike,
    *,
    setting: ArrayLike,
    gun_k: ArrayLike | None = None,
    low_um: float = LOW_UM,
    high_um: float = HIGH_UM,
    impossible_k: float | None = None,
) -> Array:
    """Return what the gun shows when this radiance arrives, for instance from a spot on rail and valley.

    Parameters
    ----------
    radiance : array_like
        Radiance that arrives, averaged over the spot by area [W m⁻² sr⁻¹].
    setting, gun_k, low_um, high_um, impossible_k
        As in :func:`shown_temperature`.

    Returns
    -------
    ndarray
        Shown temperature [K]; the inverse of :func:`measured_radiance`.

    Raises
    ------
    InputError
        If an input is out of range, or no temperature fits and impossible_k is None.
    """
    share = emissivity_share(setting, "the gun's emissivity setting")
    own = np.asarray(radiance, dtype=np.float64)
    if gun_k is not None:
        own = own - (1.0 - share) * band_radiance(gun_k, low_um, high_um)
    return _temperature(own / share, low_um, high_um, impossible_k, "what the gun would show")


def emissivity_from_pair(
    shown_k: ArrayLike,
    true_k: ArrayLike,
    *,
    setting: ArrayLike,
    reflected_k: ArrayLike,
    gun_k: ArrayLike | None = None,
    low_um: float = LOW_UM,
    high_um: float = HIGH_UM,
) -> Array:
    """Return the emissivity that makes a gun reading agree with a known temperature at the same place.

    The known temperature comes from a contact probe or from a patch of known emissivity beside the spot.

    Parameters
    ----------
    shown_k : array_like
        Temperature on the gun's display [K].
    true_k : array_like
        Known temperature of the surface [K].
    setting, reflected_k, gun_k, low_um, high_um
        As in :func:`true_temperature`.

    Returns
    -------
    ndarray
        ε = (arrived − L(T_reflected)) / (L(T_true) − L(T_reflected)). Nothing keeps it between 0 and 1: a
        value outside says that the two readings, or the reflected temperature, do not fit together.

    Raises
    ------
    InputError
        If an input is out of range, or surface and surroundings are within 1 K, so that emissivity has no
        effect.
    """
    surroundings = band_radiance(reflected_k, low_um, high_um)
    if np.any(np.abs(np.asarray(true_k) - np.asarray(reflected_k)) < 1.0):
        raise InputError(
            "the surface is as hot as what it mirrors, so its emissivity cannot be told; "
            "take the pair of readings on a hot grate."
        )
    arrived = measured_radiance(shown_k, setting=setting, gun_k=gun_k, low_um=low_um, high_um=high_um)
    return (arrived - surroundings) / (band_radiance(true_k, low_um, high_um) - surroundings)


def temperature_per_emissivity(
    true_k: ArrayLike,
    emissivity: ArrayLike,
    reflected_k: ArrayLike,
    low_um: float = LOW_UM,
    high_um: float = HIGH_UM,
) -> Array:
    """Return how far the answer moves for an emissivity too low by one unit (divide by 100 for 0.01).

    Parameters
    ----------
    true_k : array_like
        Temperature of the surface [K].
    emissivity : array_like
        Emissivity of the surface in the band, above 0 and at most 1.
    reflected_k : array_like
        Temperature of what the surface mirrors [K].
    low_um, high_um : float, optional
        Edges of the wave band [µm].

    Returns
    -------
    ndarray
        −dT/dε = (L(T) − L(T_reflected)) / (ε dL/dT) [K per unit of emissivity]; above 0 when the surface is
        hotter than what it mirrors.

    Raises
    ------
    InputError
        If an input is out of range.

    Notes
    -----
    At a true 575 °F and 75 °F around, 0.01 of emissivity is worth 3.6 °F at ε 0.95, 4.3 °F at 0.80, 5.8 °F at
    0.60 and 11.5 °F at 0.30. First order: at ε 0.30 the real step is 3 % off that, below it is no use.
    """
    share = emissivity_share(emissivity, "the emissivity of the surface")
    excess = band_radiance(true_k, low_um, high_um) - band_radiance(reflected_k, low_um, high_um)
    return excess / (share * band_radiance_slope(true_k, low_um, high_um))
