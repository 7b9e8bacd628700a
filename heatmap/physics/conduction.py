"""Heat moving through solids: the closed forms of the textbooks, and a slab seared on alternating faces.

All equations are linear in temperature, so they are written in °C. Symbols and equation numbers follow
Incropera, DeWitt, Bergman and Lavine, *Fundamentals of Heat and Mass Transfer*, 6th edition (2007),
chapters 3 and 5; the same results stand in Çengel and Ghajar, *Heat and Mass Transfer*, chapters 3 and 4.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import eigh
from scipy.special import erf, erfc, erfcinv, erfcx

from heatmap.errors import InputError

Array = NDArray[np.float64]
Step = tuple[Literal["A", "B", "R"], float]

# Polynomial degree of the slab solution. 64 puts the outermost nodes d/4000 from the face; the tests show the
# answer unchanged to 1e-4 °C from 48 up, for conductances up to 20 000 W/(m² K).
SLAB_DEGREE = 64


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
    """Return the heat flux into a thick solid whose face is held [W/m²].

    References
    ----------
    Incropera et al. (2007), eq. 5.58: k (T_s − T_i)/√(π α t).
    """
    time = np.asarray(time_s, float)
    _require_positive(time_s=time, diffusivity=diffusivity)
    return conductivity * (face_c - start_c) / np.sqrt(np.pi * diffusivity * time)


def half_space_depth(goal_c: float, time_s: ArrayLike, *, start_c: float, face_c: float, diffusivity: float) -> Array:
    """Return how deep a temperature has come in a thick solid with a held face [m].

    Raises
    ------
    InputError
        If the goal does not lie between start and face.
    """
    share = (goal_c - face_c) / (start_c - face_c) if start_c != face_c else np.nan
    if not 0.0 < share < 1.0:
        raise InputError(f"goal_c is {goal_c:g}; it must lie between the start, {start_c:g}, and the face, {face_c:g}")
    time = np.asarray(time_s, float)
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
    """Return the temperature in a thick solid that takes a constant flux through its face [°C].

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
    """Return the temperature in a thick solid heated through a film (or contact) conductance [°C].

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
    _require_positive(biot=biot, count=count)
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
    """Return the heat a wall has taken up as a share of all it can (Incropera et al. 2007, eq. 5.46)."""
    zeta = plane_wall_eigenvalues(film_w_m2k * half_thickness_m / conductivity, terms)
    fourier = diffusivity * np.asarray(time_s, float)[..., None] / half_thickness_m**2
    series = plane_wall_coefficients(zeta) * np.exp(-(zeta**2) * fourier) * np.sin(zeta) / zeta
    return np.asarray(1.0 - series.sum(axis=-1), float)


def lumped_temperature(
    time_s: ArrayLike, *, start_c: ArrayLike, fluid_c: ArrayLike, time_constant_s: ArrayLike
) -> Array:
    """Return the temperature of a body so conductive that it is the same all through.

    The time constant is ρ V c/(h A). Holds for Bi below about 0.1 (Incropera et al. 2007, eqs 5.6 and 5.10).
    """
    decay = np.exp(-np.asarray(time_s, float) / np.asarray(time_constant_s, float))
    fluid = np.asarray(fluid_c, float)
    return np.asarray(fluid + (np.asarray(start_c, float) - fluid) * decay, float)


def straight_fin_efficiency(
    height_m: ArrayLike, thickness_m: ArrayLike, *, film_w_m2k: ArrayLike, conductivity: ArrayLike
) -> Array:
    """Return the share of its ideal heat that a straight fin of even thickness passes, tanh(m H)/(m H).

    m = √(2 h/(k t)); the tip is taken as insulated (Incropera et al. 2007, eq. 3.89 with table 3.4, case B).
    """
    slope = np.sqrt(2.0 * np.asarray(film_w_m2k, float) / (np.asarray(conductivity, float) * thickness_m))
    reach = slope * height_m
    return np.where(reach > 0.0, np.tanh(reach) / np.where(reach > 0.0, reach, 1.0), 1.0)


def seared_slab(
    *,
    thickness_m: float,
    conductivity: float,
    density: float,
    specific_heat: float,
    start_c: ArrayLike,
    steps: Sequence[Step],
    rail_c: float,
    contact_w_m2k: float,
    air_c: float,
    air_w_m2k: float,
    rest_w_m2k: float,
    at_fraction: ArrayLike,
) -> Array:
    """Return the temperatures in a slab after it lay on hot rails, face by face, and rested.

    Plain conduction with constant properties and even contact over the whole face; no limit by evaporation.
    Real food is heated far less than this: see :mod:`heatmap.sear`.

    Parameters
    ----------
    thickness_m, conductivity, density, specific_heat : float
        Of the slab, in m, W/(m K), kg/m³, J/(kg K).
    start_c : array_like
        Start temperature [°C]: a number; an array shaped like `at_fraction`, at those fractions; or two rows,
        fractions and temperatures. Linear between the points given, level beyond them.
    steps : sequence of (str, float)
        What happens, and for how many seconds: ``"A"`` the face x = 0 lies on the rail, ``"B"`` the face x
        = d, ``"R"`` off the grate, both faces losing with `rest_w_m2k`.
    rail_c, air_c : float
        Rail and air temperature [°C].
    contact_w_m2k, air_w_m2k, rest_w_m2k : float
        Conductance of the face on the rail, of the other face meanwhile, and of both at rest [W/(m² K)].
        A face held at the rail temperature is a very large `contact_w_m2k`.
    at_fraction : array_like
        Where to report, as fractions of the thickness from the face x = 0; any shape.

    Returns
    -------
    ndarray
        Temperature at the end of the last step [°C], shaped like `at_fraction`.

    Raises
    ------
    InputError
        For a size or property not above zero, a negative time or conductance, a fraction outside 0 to 1 or
        an unknown step.

    Notes
    -----
    The weak form of the heat equation is expanded in Legendre polynomials and stepped exactly in time
    through its eigenvectors, so that only the degree of the polynomial limits the accuracy.

    References
    ----------
    Canuto, Hussaini, Quarteroni and Zang, *Spectral Methods: Fundamentals in Single Domains* (2006),
    section 3.3 (Galerkin form with natural boundary conditions).

    Examples
    --------
    >>> centre_c = seared_slab(
    ...     thickness_m=0.03175, conductivity=0.45, density=1070.0, specific_heat=3450.0, start_c=43.3333,
    ...     steps=[("A", 60.0), ("A", 60.0), ("B", 60.0), ("B", 60.0)], rail_c=315.5556, contact_w_m2k=400.0,
    ...     air_c=25.0, air_w_m2k=15.0, rest_w_m2k=10.0, at_fraction=0.5)
    >>> round(float(centre_c), 2)
    51.12
    """
    _require_positive(thickness_m=thickness_m, conductivity=conductivity, density=density, specific_heat=specific_heat)
    _require_not_negative(contact_w_m2k=contact_w_m2k, air_w_m2k=air_w_m2k, rest_w_m2k=rest_w_m2k)
    fraction = np.asarray(at_fraction, float)
    if not np.all((fraction >= 0.0) & (fraction <= 1.0)):
        raise InputError("at_fraction must lie from 0 (one face) to 1 (the other)")
    faces = {
        "A": ((contact_w_m2k, rail_c), (air_w_m2k, air_c)),
        "B": ((air_w_m2k, air_c), (contact_w_m2k, rail_c)),
        "R": ((rest_w_m2k, air_c), (rest_w_m2k, air_c)),
    }
    slab = _LegendreSlab(thickness_m, conductivity, density * specific_heat)
    weights = slab.weights_of(start_c, fraction)
    for kind, seconds in steps:
        if kind not in faces:
            raise InputError(f"step {kind!r} is unknown; a step is A, B or R with its seconds")
        _require_not_negative(seconds=seconds)
        weights = slab.after(weights, seconds, *faces[kind])
    return np.asarray(np.polynomial.legendre.legval(2.0 * fraction - 1.0, weights), float)


class _LegendreSlab:
    """The heat equation in a slab as a small system for the weights of Legendre polynomials."""

    def __init__(self, thickness_m: float, conductivity: float, heat_capacity: float) -> None:
        order = np.arange(SLAB_DEGREE + 1)
        self.left = (-1.0) ** order  # every polynomial is ±1 at the faces
        self.right = np.ones(order.size)
        self.mass = heat_capacity * thickness_m / (2.0 * order + 1.0)
        lower = np.minimum.outer(order, order)
        same_parity = np.add.outer(order, order) % 2 == 0
        # ∫ P_m' P_n' over −1..1 is l(l + 1) with l the lower order, for orders of the same parity, else 0
        self.stiffness = np.where(same_parity, lower * (lower + 1.0), 0.0) * 2.0 * conductivity / thickness_m
        self._modes: dict[tuple[float, float], tuple[Array, Array]] = {}

    def weights_of(self, start_c: ArrayLike, fraction: Array) -> Array:
        """Return the weights of the best fit to the start temperatures."""
        start = np.asarray(start_c, float)
        weights = np.zeros(SLAB_DEGREE + 1)
        if start.ndim == 0:
            weights[0] = float(start)
            return weights
        if start.ndim == 2 and start.shape[0] == 2:
            places, values = start
        elif start.shape == fraction.shape:
            places, values = fraction.ravel(), start.ravel()
        else:
            raise InputError("start_c must be a number, shaped like at_fraction, or two rows (fractions, temperatures)")
        order = np.argsort(places)
        nodes, node_weights = np.polynomial.legendre.leggauss(8 * SLAB_DEGREE)
        profile = np.interp(0.5 * (nodes + 1.0), places[order], values[order])
        basis = np.polynomial.legendre.legvander(nodes, SLAB_DEGREE)
        projected = basis.T @ (node_weights * profile)
        return np.asarray(projected * (np.arange(SLAB_DEGREE + 1) + 0.5), float)

    def after(self, weights: Array, seconds: float, left: tuple[float, float], right: tuple[float, float]) -> Array:
        """Return the weights after some seconds; each face has a conductance and an outside temperature."""
        rates, vectors = self._modes_for(left[0], right[0])
        drive = vectors.T @ (left[0] * left[1] * self.left + right[0] * right[1] * self.right)
        in_modes = vectors.T @ (self.mass * weights)
        decay = -np.expm1(-rates * seconds)
        # (1 − e^(−r t))/r, which is t where a mode does not decay
        reach = np.where(rates * seconds > 1e-12, decay / np.where(rates > 0.0, rates, 1.0), seconds)
        return vectors @ (in_modes * (1.0 - decay) + drive * reach)

    def _modes_for(self, left_w_m2k: float, right_w_m2k: float) -> tuple[Array, Array]:
        key = (left_w_m2k, right_w_m2k)
        if key not in self._modes:
            system = (
                self.stiffness
                + left_w_m2k * np.outer(self.left, self.left)
                + right_w_m2k * np.outer(self.right, self.right)
            )
            root = np.sqrt(self.mass)
            rates, vectors = eigh(system / np.outer(root, root))
            self._modes[key] = (np.maximum(rates, 0.0), vectors / root[:, None])
        return self._modes[key]


def _similarity(depth_m: ArrayLike, time_s: ArrayLike, diffusivity: float) -> Array:
    time = np.asarray(time_s, float)
    _require_positive(time_s=time, diffusivity=diffusivity)
    return np.asarray(depth_m, float) / (2.0 * np.sqrt(diffusivity * time))


def _require_positive(**values: ArrayLike) -> None:
    for name, value in values.items():
        if not np.all(np.asarray(value, float) > 0.0):
            raise InputError(f"{name} is {np.asarray(value)}; it must be above 0")


def _require_not_negative(**values: ArrayLike) -> None:
    for name, value in values.items():
        if not np.all(np.asarray(value, float) >= 0.0):
            raise InputError(f"{name} is {np.asarray(value)}; it must not be negative")
