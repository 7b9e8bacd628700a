"""Matérn correlation: how alike two places on the grate are, by how far apart they lie.

The correlation used for a map is a product of one Matérn along x and one along y, each with its own length
scale. It costs one exponential per reading and grid *line* instead of one per reading and grid *cell*, and a
smooth random surface on a grid is then two small matrix products.

References
----------
C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (MIT Press 2006), equations 4.9
and 4.14 to 4.17 (half-integer Matérn, squared exponential).
"""

from __future__ import annotations

import numpy as np

from heatmap.errors import InputError
from heatmap.surface.types import FloatArray

SMOOTHNESSES = (0.5, 1.5, 2.5, np.inf)


def matern(scaled_distance: FloatArray, smoothness: float = 2.5) -> FloatArray:
    """Return the Matérn correlation at distances given in length scales.

    Parameters
    ----------
    scaled_distance : array
        Distance divided by the length scale [-], not negative.
    smoothness : {0.5, 1.5, 2.5, inf}
        The order ν; ``inf`` is the squared exponential.

    Returns
    -------
    array
        Correlation, 1 at distance 0, of the shape given.

    Raises
    ------
    InputError
        For any other order.

    Examples
    --------
    >>> import numpy as np
    >>> matern(np.array([0.0, 1.0]), 2.5).round(6).tolist()
    [1.0, 0.523994]
    """
    r = scaled_distance
    if smoothness == 0.5:
        return np.asarray(np.exp(-r))
    if smoothness == 1.5:
        a = np.sqrt(3.0) * r
        return np.asarray((1.0 + a) * np.exp(-a))
    if smoothness == 2.5:
        a = np.sqrt(5.0) * r
        return np.asarray((1.0 + a * (1.0 + a / 3.0)) * np.exp(-a))
    if smoothness == np.inf:
        return np.asarray(np.exp(-0.5 * r**2))
    raise InputError(f"smoothness is {smoothness}; it must be 0.5, 1.5, 2.5 or inf.")
