"""The blackbody fraction of the printed tables, out of the product's band radiance."""

from __future__ import annotations

from math import pi

from heatmap.physics.planck import STEFAN_BOLTZMANN, band_radiance

#: The widest band the product takes [µm]; below 0.5 µm and these temperatures nothing glows.
_LOW_UM, _HIGH_UM = 0.5, 1000.0


def blackbody_fraction(wavelength_temperature_um_k: float) -> float:
    """Return the share of a blackbody's radiation below a wavelength, F(0→λT) [1].

    It depends on the product λT alone, so λ is put at the long end of the band and T follows.

    References
    ----------
    F. P. Incropera et al., Fundamentals of Heat and Mass Transfer, "blackbody radiation functions".
    """
    kelvin = wavelength_temperature_um_k / _HIGH_UM
    return float(pi * band_radiance(kelvin, _LOW_UM, _HIGH_UM) / (STEFAN_BOLTZMANN * kelvin**4))
