"""What no formula of radiation and geometry can take, told in one line with the number that is wrong."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from heatmap.errors import InputError
from heatmap.units import FloatArray


def above_zero(values: ArrayLike, name: str) -> FloatArray:
    """Return values as floats when all are finite and above 0; else an InputError names the first that is not."""
    array = np.asarray(values, dtype=np.float64)
    good = np.isfinite(array) & (array > 0.0)
    if not good.all():
        raise InputError(f"{name} is {array[~good].flat[0]:g}; it must be a finite number above 0.")
    return array


def emissivity_share(values: ArrayLike, name: str) -> FloatArray:
    """Return emissivities as floats when all are above 0 and at most 1; arguments and error as :func:`above_zero`."""
    array = np.asarray(values, dtype=np.float64)
    good = (array > 0.0) & (array <= 1.0)
    if not good.all():
        raise InputError(f"{name} is {array[~good].flat[0]:g}; it must be above 0 and at most 1.")
    return array


def not_negative(values: ArrayLike, name: str) -> FloatArray:
    """Return values as floats when all are finite and 0 or more; arguments and error as :func:`above_zero`."""
    array = np.asarray(values, dtype=np.float64)
    good = np.isfinite(array) & (array >= 0.0)
    if not good.all():
        raise InputError(f"{name} is {array[~good].flat[0]:g}; it must be a finite number, 0 or more.")
    return array
