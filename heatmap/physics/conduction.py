"""A slab seared on alternating faces: plain conduction, exact but for the degree of a polynomial.

Linear in temperature, so written in °C; checked against the closed forms of the textbooks.
"""

from collections.abc import Sequence
from functools import cache
from typing import Literal

import numpy as np
from scipy.linalg import eigh
from scipy.special import exprel

from heatmap.errors import InputError
from heatmap.physics.checks import above_zero, not_negative
from heatmap.units import ArrayLike, FloatArray

Step = tuple[Literal["A", "B", "R"], float]

# Polynomial degree of the slab solution. 64 puts the outermost nodes d/4000 from the face; the tests show the
# answer unchanged to 1e-4 °C from 48 up, for conductances up to 20 000 W/(m² K).
SLAB_DEGREE = 64
_gauss_nodes = cache(np.polynomial.legendre.leggauss)


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
) -> FloatArray:
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
    sizes = {"thickness_m": thickness_m, "conductivity": conductivity, "density": density}
    for name, value in (sizes | {"specific_heat": specific_heat}).items():
        above_zero(value, name)
    films = {"contact_w_m2k": contact_w_m2k, "air_w_m2k": air_w_m2k, "rest_w_m2k": rest_w_m2k}
    for name, value in films.items():
        not_negative(value, name)
    fraction = np.asarray(at_fraction, float)
    if not np.all((fraction >= 0.0) & (fraction <= 1.0)):
        raise InputError("at_fraction must lie from 0 (one face) to 1 (the other)")
    faces = {
        "A": ((contact_w_m2k, rail_c), (air_w_m2k, air_c)),
        "B": ((air_w_m2k, air_c), (contact_w_m2k, rail_c)),
        "R": ((rest_w_m2k, air_c), (rest_w_m2k, air_c)),
    }
    order = np.arange(SLAB_DEGREE + 1)
    at_faces = np.array([(-1.0) ** order, np.ones(order.size)])  # every polynomial is ±1 there
    mass = density * specific_heat * thickness_m / (2.0 * order + 1.0)
    # ∫ P_m' P_n' over −1..1 is l(l + 1) with l the lower order, for orders of the same parity, else 0
    lower, same_parity = np.minimum.outer(order, order), np.add.outer(order, order) % 2 == 0
    stiffness = np.where(same_parity, lower * (lower + 1.0), 0.0) * 2.0 * conductivity / thickness_m
    weights = _start_weights(start_c, fraction)
    for kind, seconds in steps:
        if kind not in faces:
            raise InputError(f"step {kind!r} is unknown; a step is A, B or R with its seconds")
        not_negative(seconds, "seconds of a step")
        film_w_m2k, outside_c = np.array(faces[kind]).T
        rates, vectors = eigh(stiffness + at_faces.T * film_w_m2k @ at_faces, np.diag(mass))
        in_modes, drive = (mass * weights) @ vectors, (film_w_m2k * outside_c) @ at_faces @ vectors
        decay = -np.maximum(rates, 0.0) * seconds
        weights = vectors @ (in_modes * np.exp(decay) + drive * seconds * exprel(decay))
    return np.asarray(np.polynomial.legendre.legval(2.0 * fraction - 1.0, weights), float)


def _start_weights(start_c: ArrayLike, fraction: FloatArray) -> FloatArray:
    """Return the weights of the polynomials that fit the start temperatures best."""
    start = np.asarray(start_c, float)
    if start.ndim == 2 and start.shape[0] == 2:
        places, values = start
    elif start.shape in ((), fraction.shape):
        places, values = fraction.ravel(), np.broadcast_to(start, fraction.shape).ravel()
    else:
        raise InputError("start_c must be a number, shaped like at_fraction, or two rows (fractions, temperatures)")
    order = np.argsort(places)
    nodes, node_weights = _gauss_nodes(8 * SLAB_DEGREE)
    start_there = np.interp(0.5 * (nodes + 1.0), places[order], values[order])
    basis = np.polynomial.legendre.legvander(nodes, SLAB_DEGREE) * (np.arange(SLAB_DEGREE + 1) + 0.5)
    return np.asarray((node_weights * start_there) @ basis, float)
