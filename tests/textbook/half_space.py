"""Heat moving into a solid so thick that its other side does not matter yet, in closed form.

Every solution starts from one temperature throughout; equations are linear, so temperatures are in °C.

References
----------
F. P. Incropera, D. P. DeWitt, T. L. Bergman and A. S. Lavine, *Fundamentals of Heat and Mass Transfer*, 6th
edition (2007), section 5.7; symbols and equation numbers follow it. The same results stand in Y. A. Çengel and
A. J. Ghajar, *Heat and Mass Transfer*, chapter 4.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import erf, erfc, erfcinv, erfcx

from heatmap.errors import InputError
from heatmap.physics.checks import above_zero

Array = NDArray[np.float64]


def effusivity(conductivity: ArrayLike, density: ArrayLike, specific_heat: ArrayLike) -> Array:
    """Return how strongly a solid holds its own temperature when touched, √(k ρ c).

    Parameters
    ----------
    conductivity, density, specific_heat : array_like
        In W/(m K), kg/m³ and J/(kg K); broadcast together.

    Returns
    -------
    ndarray
        Effusivity [W s½/(m² K)].
    """
    heat_capacity = np.asarray(density, float) * np.asarray(specific_heat, float)
    return np.asarray(np.sqrt(np.asarray(conductivity, float) * heat_capacity), float)


def contact_temperature(
    first_c: ArrayLike, first_effusivity: ArrayLike, second_c: ArrayLike, second_effusivity: ArrayLike
) -> Array:
    """Return the temperature where two thick solids meet, from the moment they touch.

    Parameters
    ----------
    first_c, second_c : array_like
        Temperatures before contact [°C].
    first_effusivity, second_effusivity : array_like
        See :func:`effusivity`; any unit, the same for both.

    Returns
    -------
    ndarray
        Interface temperature [°C]; constant for as long as both behave as half-spaces, with perfect contact.

    References
    ----------
    Incropera et al. (2007), eq. 5.63; Çengel and Ghajar, section 4-3.

    Examples
    --------
    A hand at 32 °C on an aluminium block at 20 °C:

    >>> round(float(contact_temperature(32.0, 1100.0, 20.0, 24000.0)), 3)
    20.526
    """
    first_weight = np.asarray(first_effusivity, float)
    second_weight = np.asarray(second_effusivity, float)
    total: Array = first_weight * np.asarray(first_c, float) + second_weight * np.asarray(second_c, float)
    return np.asarray(total / (first_weight + second_weight), float)


def half_space_fixed_face(
    depth_m: ArrayLike, time_s: ArrayLike, *, start_c: float, face_c: float, diffusivity: float
) -> Array:
    """Return the temperature in a thick solid whose face is suddenly held at another temperature.

    Parameters
    ----------
    depth_m, time_s : array_like
        Depth below the face [m] and time since the change [s, above 0]; broadcast together.
    start_c, face_c : float
        Uniform start and held face temperature [°C].
    diffusivity : float
        k/(ρ c) [m²/s].

    Returns
    -------
    ndarray
        Temperature [°C].

    References
    ----------
    Incropera et al. (2007), eq. 5.57.
    """
    eta = _similarity(depth_m, time_s, diffusivity)
    return face_c + (start_c - face_c) * erf(eta)


def half_space_fixed_face_flux(
    time_s: ArrayLike, *, start_c: float, face_c: float, conductivity: float, diffusivity: float
) -> Array:
    """Return the heat flux into a thick solid whose face is held.

    Parameters
    ----------
    time_s, start_c, face_c, diffusivity
        As in :func:`half_space_fixed_face`.
    conductivity : float
        Of the solid [W/(m K)].

    Returns
    -------
    ndarray
        Flux into the solid [W/m²], shaped like `time_s`.

    References
    ----------
    Incropera et al. (2007), eq. 5.58: k (T_s − T_i)/√(π α t).
    """
    time = above_zero(time_s, "time_s")
    above_zero(diffusivity, "diffusivity")
    return conductivity * (face_c - start_c) / np.sqrt(np.pi * diffusivity * time)


def half_space_depth(goal_c: float, time_s: ArrayLike, *, start_c: float, face_c: float, diffusivity: float) -> Array:
    """Return how deep a temperature has come in a thick solid with a held face.

    Parameters
    ----------
    goal_c : float
        The temperature looked for [°C], between start and face.
    time_s, start_c, face_c, diffusivity
        As in :func:`half_space_fixed_face`.

    Returns
    -------
    ndarray
        Depth below the face [m], shaped like `time_s`.

    Raises
    ------
    InputError
        If the goal does not lie between start and face.
    """
    share = (goal_c - face_c) / (start_c - face_c) if start_c != face_c else np.nan
    if not 0.0 < share < 1.0:
        raise InputError(f"goal_c is {goal_c:g}; it must lie between the start, {start_c:g}, and the face, {face_c:g}")
    time = above_zero(time_s, "time_s")
    return 2.0 * np.sqrt(diffusivity * time) * float(erfcinv(1.0 - share))


def half_space_fixed_flux(
    depth_m: ArrayLike,
    time_s: ArrayLike,
    *,
    start_c: float,
    flux_w_m2: float,
    conductivity: float,
    diffusivity: float,
) -> Array:
    """Return the temperature in a thick solid that takes a constant flux through its face.

    Parameters
    ----------
    depth_m, time_s, start_c, diffusivity
        As in :func:`half_space_fixed_face`.
    flux_w_m2 : float
        Flux into the face [W/m²].
    conductivity : float
        Of the solid [W/(m K)].

    Returns
    -------
    ndarray
        Temperature [°C].

    References
    ----------
    Incropera et al. (2007), eq. 5.59.
    """
    depth = np.asarray(depth_m, float)
    eta = _similarity(depth, time_s, diffusivity)
    root = np.sqrt(diffusivity * np.asarray(time_s, float) / np.pi)
    rise = 2.0 * root * np.exp(-(eta**2)) - depth * erfc(eta)
    return start_c + flux_w_m2 / conductivity * rise


def half_space_convection(
    depth_m: ArrayLike,
    time_s: ArrayLike,
    *,
    start_c: float,
    fluid_c: float,
    film_w_m2k: float,
    conductivity: float,
    diffusivity: float,
) -> Array:
    """Return the temperature in a thick solid heated through a film, or a contact.

    Parameters
    ----------
    depth_m, time_s, start_c, diffusivity
        As in :func:`half_space_fixed_face`.
    fluid_c : float
        What lies beyond the film [°C].
    film_w_m2k : float
        Conductance of the film or contact [W/(m² K)].
    conductivity : float
        Of the solid [W/(m K)].

    Returns
    -------
    ndarray
        Temperature [°C].

    Notes
    -----
    exp(h x/k + h² α t/k²) erfc(…) is formed as exp(−η²) erfcx(…), which does not overflow.

    References
    ----------
    Incropera et al. (2007), eq. 5.60.
    """
    eta = _similarity(depth_m, time_s, diffusivity)
    film = film_w_m2k * np.sqrt(diffusivity * np.asarray(time_s, float)) / conductivity
    share = erfc(eta) - np.exp(-(eta**2)) * erfcx(eta + film)
    return start_c + (fluid_c - start_c) * share


def _similarity(depth_m: ArrayLike, time_s: ArrayLike, diffusivity: float) -> Array:
    time = above_zero(time_s, "time_s")
    above_zero(diffusivity, "diffusivity")
    return np.asarray(depth_m, float) / (2.0 * np.sqrt(diffusivity * time))
