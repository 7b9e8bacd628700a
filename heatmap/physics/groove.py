"""How a groove glows: reflection between its walls makes it blacker than the wall itself.

The valley between two rails: radiation that leaves one wall may meet another before it gets out. An isothermal
rectangular groove, endless along its length, with diffuse grey walls and cold black surroundings, is solved for its
radiosity by the strip method: the walls are cut into strips, the share each strip sends to each other comes from
Hottel's crossed strings, and B = ε + (1 − ε) F B is solved for the radiosity B in units of a blackbody's. Strips are
narrower towards corners and edges, where B changes fastest.

References
----------
.. [1] E. M. Sparrow, S. H. Lin, "Absorption of thermal radiation in a V-groove cavity", International Journal
   of Heat and Mass Transfer 5 (1962) 1111; E. M. Sparrow, R. D. Cess, Radiation Heat Transfer: the integral
   equation (from memory).
.. [2] H. C. Hottel, A. F. Sarofim, Radiative Transfer (1967), section 2.4: crossed strings (from memory).
"""

from functools import lru_cache

import numpy as np

from heatmap.errors import InputError
from heatmap.physics.checks import emissivity_share
from heatmap.units import ArrayLike, FloatArray

# Strips on each wall. Against 320: within 4e-5 to a depth of 2 widths, 2e-4 at 4, 8e-4 at 10.
_STRIPS_PER_WALL = 40
# A deeper groove is told from one of this depth by less than what the strips are off by.
_DEEPEST = 10.0


def groove_emissivity(wall_emissivity: ArrayLike, depth_over_width: float) -> FloatArray:
    """Return the emissivity of a rectangular groove as a whole, seen straight in, shaped like `wall_emissivity`.

    From the wall's to 1, with an error below 1e-4 to a depth of 3 widths; an InputError for a value out of range.

    Examples
    --------
    >>> groove_emissivity([0.3, 0.6], 1.0).round(3).tolist()
    [0.544, 0.798]
    """
    emissivity = emissivity_share(wall_emissivity, "the emissivity of a groove's wall")
    if not depth_over_width >= 0.0:
        raise InputError("the depth of a groove over its width must be 0 or more.")
    if depth_over_width == 0.0:
        return emissivity
    reflection, weight = _modes(min(float(depth_over_width), _DEEPEST))
    wall = emissivity[..., None]
    return np.asarray(np.sum(weight * wall / (1.0 - (1.0 - wall) * reflection), axis=-1))


@lru_cache(maxsize=8)
def _modes(depth_over_width: float, strips: int = _STRIPS_PER_WALL) -> tuple[FloatArray, FloatArray]:
    """Return a groove's exchange as independent modes: ε_groove = Σ weight ε / (1 − (1 − ε) reflection).

    Reciprocity makes width × F symmetric, so one eigendecomposition serves every wall emissivity.
    """
    corners = np.array([(0.0, 0.0), (0.0, -depth_over_width), (1.0, -depth_over_width), (1.0, 0.0)])
    along = 0.5 * (1.0 - np.cos(np.pi * np.arange(strips) / strips))[:, None]
    walls = [start + along * (end - start) for start, end in zip(corners[:-1], corners[1:], strict=True)]
    edges = np.concatenate([*walls, corners[-1:]])
    string = np.hypot(*(edges[:, None, :] - edges[None, :, :]).transpose(2, 0, 1))
    # Half of crossed minus uncrossed strings; 0 between strips of one wall, as it should be.
    exchange = 0.5 * np.abs(string[:-1, :-1] + string[1:, 1:] - string[1:, :-1] - string[:-1, 1:])
    np.fill_diagonal(exchange, 0.0)
    root = np.sqrt(np.hypot(*np.diff(edges, axis=0).T))
    reflection, vectors = np.linalg.eigh(exchange / np.outer(root, root))
    seen_from_above = np.abs(np.diff(edges[:, 0]))
    return reflection, (vectors.T @ (seen_from_above / root)) * (vectors.T @ root)
