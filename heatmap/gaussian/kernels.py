"""How alike two places are."""

import numpy as np

from heatmap.units import ArrayLike, FloatArray, IntArray

#: Two readings closer than this are at one place [mm].
SAME_PLACE_MM = 1e-3


def scaled_distance(one: FloatArray, two: FloatArray, lengths: ArrayLike) -> FloatArray:
    """Return the distances between points (n, d) and (m, d), each axis in its own length scale, (n, m)."""
    scale = 1.0 / np.asarray(lengths, dtype=np.float64)
    one, two = one * scale, two * scale
    square = sum(np.subtract.outer(one[:, axis], two[:, axis]) ** 2 for axis in range(one.shape[1]))
    return np.asarray(np.sqrt(square))


def matern32(distance: FloatArray) -> FloatArray:
    """Return the Matérn correlation of order 3/2 at scaled distances, any shape.

    References
    ----------
    C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (2006), equation 4.17.
    """
    scaled = np.sqrt(3.0) * distance
    return np.asarray((1.0 + scaled) * np.exp(-scaled))


def squared_exponential(distance: FloatArray) -> FloatArray:
    """Return the squared exponential correlation at scaled distances, any shape (the same book, equation 4.9)."""
    return np.asarray(np.exp(-0.5 * np.square(distance)))


def in_one_line(places_mm: FloatArray) -> bool:
    """Tell whether places (n, 2) lie in one line: a millionth of how far they spread is less than a hair on a grate."""
    if len(places_mm) < 3:
        return True
    half_axes = np.linalg.svd(places_mm - places_mm.mean(axis=0), compute_uv=False)
    return bool(half_axes[1] <= 1e-6 * half_axes[0])


def same_places(points_mm: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the different places among points (n, 2), and which of them each point is at."""
    keys = np.round(points_mm / SAME_PLACE_MM).astype(np.int64)
    _, first, place = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    return points_mm[first], place.ravel()
