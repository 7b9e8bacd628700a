"""What no formula of radiation and geometry can take, told in one line with the number that is wrong."""

import numpy as np

from heatmap.errors import InputError
from heatmap.units import ArrayLike, BoolArray, FloatArray


def above_zero(values: ArrayLike, name: str) -> FloatArray:
    """Return values as floats when all are finite and above 0; else an InputError names the first that is not."""
    array = np.asarray(values, dtype=np.float64)
    return _all(np.isfinite(array) & (array > 0.0), array, name, "a finite number above 0")


def not_negative(values: ArrayLike, name: str) -> FloatArray:
    """Return values as floats when all are finite and 0 or more; arguments and error as :func:`above_zero`."""
    array = np.asarray(values, dtype=np.float64)
    return _all(np.isfinite(array) & (array >= 0.0), array, name, "a finite number, 0 or more")


def emissivity_share(values: ArrayLike, name: str) -> FloatArray:
    """Return emissivities as floats when all are above 0 and at most 1; arguments and error as :func:`above_zero`."""
    array = np.asarray(values, dtype=np.float64)
    return _all((array > 0.0) & (array <= 1.0), array, name, "above 0 and at most 1")


def _all(good: BoolArray, array: FloatArray, name: str, allowed: str) -> FloatArray:
    if not good.all():
        raise InputError(f"{name} is {array[~good].flat[0]:g}; it must be {allowed}.")
    return array
