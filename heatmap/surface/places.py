"""Check what was given for a map and merge the readings taken at one place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from heatmap.errors import InputError, MapError
from heatmap.surface.types import FloatArray, IntArray

SAME_PLACE_MM = 1e-3
"""Two readings closer than this are at one place: far below what anybody can aim, far above rounding of
inches."""

FEWEST_PLACES = 3
"""A plane has three coefficients."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """Checked readings: numbers of the right shape, finite, in mm and °C."""

    points_mm: FloatArray
    rail_c: FloatArray
    own_std_c: FloatArray | None
    place_std_c: FloatArray
    extent_mm: tuple[float, float]

    @property
    def least_spread_c(self) -> float:
        """What they vary by at least, however equal they are shown: the usual standard deviation of one, °C.

        A display that steps and a gun that repeats only so well can show twelve equal numbers of a grate that is not
        equal. 0 where nothing is claimed and the readings alone can say.
        """
        if self.own_std_c is None or not len(self.own_std_c):
            return 0.0
        return float(np.median(self.own_std_c))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """Readings sorted by place: one row per place, and for each reading the row it belongs to."""

    points_mm: FloatArray
    place_of_reading: IntArray
    count: IntArray


def check_readings(
    points_mm: ArrayLike,
    rail_c: ArrayLike,
    own_std_c: ArrayLike | None,
    place_std_c: ArrayLike,
    extent_mm: tuple[float, float],
) -> Readings:
    """Return the readings as arrays, or say in one line what is wrong with them."""
    points = check_points(points_mm, "points_mm")
    rail = numbers(rail_c, "rail_c")
    if rail.shape != (len(points),):
        raise InputError(f"rail_c has shape {rail.shape} for {len(points)} points; give one temperature per point.")
    own = None if own_std_c is None else spread(own_std_c, len(points), "own_std_c")
    place = spread(place_std_c, len(points), "place_std_c")
    return Readings(points_mm=points, rail_c=rail, own_std_c=own, place_std_c=place, extent_mm=check_extent(extent_mm))


def numbers(values: ArrayLike, name: str) -> FloatArray:
    """Return finite floats, or say which one is not."""
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError(f"{name} must be numbers; got something that is not.") from None
    bad = np.argwhere(~np.isfinite(array))
    if len(bad):
        where = ", ".join(str(index) for index in bad[0])
        raise InputError(f"{name}[{where}] is {array[tuple(bad[0])]}; every value must be a finite number.")
    return array


def check_points(points_mm: ArrayLike, name: str = "points_mm") -> FloatArray:
    """Return points as an (n, 2) array of finite floats."""
    points = numbers(points_mm, name)
    if points.size == 0:
        points = points.reshape(0, 2)
    if points.ndim != 2 or points.shape[1] != 2:
        raise InputError(f"{name} has shape {points.shape}; it must be (n, 2): x to the right, y away from the cook.")
    return points


def spread(values: ArrayLike, count: int, name: str) -> FloatArray:
    """Return standard deviations as (count,), from one for all or one each."""
    array = numbers(values, name)
    if array.shape not in ((), (count,)):
        raise InputError(f"{name} has shape {array.shape}; give one number for all or {count}, one per reading.")
    if np.any(array < 0):
        raise InputError(f"{name} has {array.min():g} in it; a standard deviation must be 0 or more.")
    return np.broadcast_to(array, (count,)).astype(np.float64)


def check_extent(extent_mm: tuple[float, float]) -> tuple[float, float]:
    """Return the width and depth of the grate."""
    extent = numbers(extent_mm, "extent_mm")
    if extent.shape != (2,) or np.any(extent <= 0):
        raise InputError(f"extent_mm is {extent_mm}; it must be (width, depth), both above 0.")
    return float(extent[0]), float(extent[1])


def gather_places(points_mm: FloatArray) -> Places:
    """Find which readings were taken at one place; needs three places not all in one line."""
    keys = np.round(points_mm / SAME_PLACE_MM).astype(np.int64)
    _, first, place_of_reading, count = np.unique(
        keys, axis=0, return_index=True, return_inverse=True, return_counts=True
    )
    points = points_mm[first]
    if len(points) < FEWEST_PLACES:
        raise MapError(
            f"{len(points)} place{'s' if len(points) != 1 else ''} with a reading; "
            f"a map needs at least {FEWEST_PLACES}, not all in one line."
        )
    # The thinner half-axis of the cloud of points against the wider: 1e-6 of a grate is less than a hair.
    widths = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    if widths[1] <= 1e-6 * widths[0]:
        raise MapError("all readings lie in one line; take at least one to the side of it, a map needs an area.")
    return Places(points_mm=points, place_of_reading=place_of_reading.ravel(), count=count)
