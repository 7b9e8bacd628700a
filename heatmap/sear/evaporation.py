"""What a wet face loses to the air by evaporating, and where water boils.

References
----------
O. A. Alduchov and R. E. Eskridge, "Improved Magnus form approximation of saturation vapor pressure", *Journal of
Applied Meteorology* 35 (1996), 601-609, equation 21 (from memory).
"""

from __future__ import annotations

import numpy as np

from heatmap.units import FloatArray, k_from_c

FRONT_C = 100.0  # water boils, at sea level; about 1 °C less for every 300 m of altitude (steam tables, from memory)

# Wet faces in air lose h/(ρ c Le^⅔) of vapour per difference in vapour concentration (Chilton and Colburn,
# as in Incropera et al. 2007, eqs 6.60 and 6.67); air at 60 °C and 1 atm: ρ 1.06 kg/m³, c 1007 J/(kg K), Le
# 0.86.
_VAPOUR_PER_FILM = 1.0 / (1.06 * 1007.0 * 0.86 ** (2.0 / 3.0))  # m³ K/J
_VAPOUR_GAS_CONSTANT = 461.5  # J/(kg K)
_LATENT_HEAT_WARM = 2.36e6  # J/kg, water at 60 °C (steam tables, from memory)
_AIR_HUMIDITY = 0.5  # of saturation at air temperature; assumed, hardly matters beside a hot face


def evaporation_flux(
    face_c: FloatArray | float, air_c: FloatArray | float, film_w_m2k: FloatArray | float
) -> FloatArray:
    """Return what an open water face loses to air by evaporating [W/m²], never below 0; all three broadcast together.

    `film_w_m2k` is that of the air, scaled by how wet the face is. Magnus with the constants of Alduchov and Eskridge
    is good to 0.4 % up to 50 °C and to 2 % at 100 °C; above that it is held, since water boils.
    """
    face = np.minimum(face_c, FRONT_C)
    vapour = _saturation_pa(face) - _AIR_HUMIDITY * _saturation_pa(np.minimum(air_c, 40.0))
    concentration = vapour / (_VAPOUR_GAS_CONSTANT * k_from_c(face))
    return np.asarray(film_w_m2k * _VAPOUR_PER_FILM * _LATENT_HEAT_WARM * np.maximum(concentration, 0.0), float)


def _saturation_pa(celsius: FloatArray) -> FloatArray:
    return np.asarray(610.94 * np.exp(17.625 * celsius / (celsius + 243.04)), float)
