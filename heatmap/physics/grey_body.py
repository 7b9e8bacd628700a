"""From what an infrared gun shows to how hot the surface is, and back.

A surface that is not black glows less than its temperature says and mirrors its surroundings for the rest.
The gun knows neither; it takes its emissivity setting for the one and, as a rule, its own temperature for the
other. Both sides of

    s L(T_shown) + (1 − s) L(T_gun)  =  ε L(T_true) + (1 − ε) L(T_reflected)

are the radiance that arrives: on the left as the gun takes it apart, on the right as the surface makes it.
A gun that adds no reflection term has no (1 − s) L(T_gun); pass ``gun_k=None`` for it.

Temperatures [K], emissivities above 0 to 1, radiances in 8 to 14 µm [W m⁻² sr⁻¹]. Everything broadcasts; what is out of
range raises InputError. As exact as the band integral: within 1e-6 K for a grey surface in a flat band. What is not
known is far larger, the band itself included: a gun set to 0.95 that shows 575 °F on ε 0.80 means 637.9 °F if its band
is 8-14 µm, 635.5 °F if it is 7.5-13.

References
----------
.. [1] ASTM E2758, Standard Guide for Selection and Use of Wideband, Low Temperature Infrared Thermometers;
   ASTM E2847, Standard Test Method for Calibration and Accuracy Verification of Wideband Infrared
   Thermometers.
.. [2] P. Saunders, "Infrared thermometry: the measurement equation", Measurement Standards Laboratory of
   New Zealand, Technical Guide 22. (The equation from memory of [1]_ and [2]_.)
"""

import numpy as np
from numpy.typing import ArrayLike

from heatmap.errors import InputError
from heatmap.physics.checks import emissivity_share
from heatmap.physics.planck import band_radiance, band_radiance_and_slope, band_temperature
from heatmap.units import FloatArray


def measured_radiance(shown_k: ArrayLike, *, setting: ArrayLike, gun_k: ArrayLike | None = None) -> FloatArray:
    """Return the radiance that arrived at the gun, from the number it showed: s L(T_shown) + (1 − s) L(T_gun)."""
    share = emissivity_share(setting, "the gun's emissivity setting")
    radiance = share * band_radiance(shown_k)
    return radiance if gun_k is None else radiance + (1.0 - share) * band_radiance(gun_k)


def emitted_and_reflected(true_k: ArrayLike, *, emissivity: ArrayLike, reflected_k: ArrayLike) -> FloatArray:
    """Return the radiance that leaves a surface towards the gun: ε L(T) + (1 − ε) L(T_reflected)."""
    share = emissivity_share(emissivity, "the emissivity of the surface")
    return share * band_radiance(true_k) + (1.0 - share) * band_radiance(reflected_k)


def true_temperature(
    shown_k: ArrayLike,
    *,
    setting: ArrayLike,
    emissivity: ArrayLike,
    reflected_k: ArrayLike,
    gun_k: ArrayLike | None = None,
) -> FloatArray:
    """Return how hot the surface really is, from what the gun shows [K].

    Raises
    ------
    InputError
        If an input is out of range, or no temperature fits: reflection alone is more than all that arrived.

    Examples
    --------
    A gun set to 0.95 and at 297 K shows 561 K (550 °F) on a rail of emissivity 0.80; it is at 594 K (610 °F):

    >>> rail_k = true_temperature(560.93, setting=0.95, emissivity=0.80, reflected_k=297.04, gun_k=297.04)
    >>> round(float(rail_k), 1)
    594.2
    """
    share = emissivity_share(emissivity, "the emissivity of the surface")
    arrived = measured_radiance(shown_k, setting=setting, gun_k=gun_k)
    return band_temperature((arrived - (1.0 - share) * band_radiance(reflected_k)) / share)


def shown_from_radiance(radiance: ArrayLike, *, setting: ArrayLike, gun_k: ArrayLike | None = None) -> FloatArray:
    """Return what the gun shows when this radiance arrives [K]; the inverse of :func:`measured_radiance`."""
    share = emissivity_share(setting, "the gun's emissivity setting")
    own = np.asarray(radiance, dtype=np.float64)
    if gun_k is not None:
        own = own - (1.0 - share) * band_radiance(gun_k)
    return band_temperature(own / share)


def emissivity_from_pair(
    shown_k: ArrayLike,
    true_k: ArrayLike,
    *,
    setting: ArrayLike,
    reflected_k: ArrayLike,
    gun_k: ArrayLike | None = None,
) -> FloatArray:
    """Return the emissivity that makes a gun reading agree with a known temperature at the same place.

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
    if np.any(np.abs(np.asarray(true_k) - np.asarray(reflected_k)) < 1.0):
        raise InputError(
            "the surface is as hot as what it mirrors, so its emissivity cannot be told; "
            "take the pair of readings on a hot grate."
        )
    arrived, surroundings = measured_radiance(shown_k, setting=setting, gun_k=gun_k), band_radiance(reflected_k)
    return (arrived - surroundings) / (band_radiance(true_k) - surroundings)


def temperature_per_emissivity(true_k: ArrayLike, emissivity: ArrayLike, reflected_k: ArrayLike) -> FloatArray:
    """Return how far the answer moves for an emissivity too low by one unit [K] (divide by 100 for 0.01).

    −dT/dε = (L(T) − L(T_reflected)) / (ε dL/dT). At a true 575 °F and 75 °F around, 0.01 of emissivity is worth 3.6 °F
    at ε 0.95, 4.3 °F at 0.80, 5.8 °F at 0.60 and 11.5 °F at 0.30. First order: at ε 0.30 the real step is 3 % off that,
    below it is no use.
    """
    share = emissivity_share(emissivity, "the emissivity of the surface")
    radiance, slope = band_radiance_and_slope(true_k)
    return (radiance - band_radiance(reflected_k)) / (share * slope)
