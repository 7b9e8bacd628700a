"""scipy's linear, cubic and thin-plate surfaces under the same verbs, with one spread everywhere.

They have no idea of their own how far they may be off, so the spread is the root mean square error of leaving
out each place in turn. Outside the outermost readings the triangulated methods go on as the plane fitted to
all places, shifted to meet the nearest reading.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from heatmap.errors import InputError
from heatmap.surface.kernel import Kernel
from heatmap.surface.places import Places, Readings, check_points
from heatmap.surface.surface import Surface
from heatmap.surface.types import FloatArray

Interpolator = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InterpolatedSurface(Surface):
    """A surface through the places by one of scipy's interpolators.

    Made by :func:`heatmap.surface.fit_surface`; see there for what it answers.
    """

    method: str
    readings: Readings
    places: Places
    values_c: FloatArray
    left_out_c: FloatArray
    spread_c: float
    interpolator: Interpolator
    drift_c: FloatArray
    drift_mean_c: FloatArray
    drift_std_c: FloatArray

    def predict(self, points_mm: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return the interpolated surface and the one spread, each (m,) [°C]."""
        points = check_points(points_mm)
        return self.interpolator(points), np.full(len(points), self.spread_c)

    def covariance(self, points_a_mm: ArrayLike, points_b_mm: ArrayLike) -> FloatArray:
        """Return the covariance of the errors, alike over about the distance between neighbouring places."""
        a, b = check_points(points_a_mm, "points_a_mm"), check_points(points_b_mm, "points_b_mm")
        return self.spread_c**2 * self._kernel()(a, b)

    def sample(self, points_mm: ArrayLike, count: int, rng: np.random.Generator) -> FloatArray:
        """Return the surface with random errors of the one spread, (count, m) [°C]."""
        from heatmap.surface.gaussian_process import prior_samples
        from heatmap.surface.kernel import lines_of

        if count < 1:
            raise InputError(f"count is {count}; ask for at least 1 sample.")
        points = check_points(points_mm)
        errors = prior_samples(self._kernel(), lines_of(points), count, rng)
        return self.interpolator(points) + self.spread_c * errors

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return what the other places say about each reading, drift included, and the one spread, each
        (n,)."""
        place = self.places.place_of_reading
        return self.left_out_c[place] + self.drift_c, np.full(len(place), self.spread_c)

    def _kernel(self) -> Kernel:
        width, depth = self.readings.extent_mm
        between = float(np.sqrt(width * depth / len(self.values_c)))
        return Kernel(length_mm=(between, between))


def interpolated_surface(
    method: str,
    readings: Readings,
    places: Places,
    drift_c: FloatArray,
    drift_mean_c: FloatArray,
    drift_std_c: FloatArray,
) -> InterpolatedSurface:
    """Fit one of scipy's interpolators to the means of the places, each reading freed of its drift."""
    values = np.bincount(places.place_of_reading, readings.rail_c - drift_c) / places.count
    left_out = np.array([without(method, places.points_mm, values, i) for i in range(len(values))])
    return InterpolatedSurface(
        method=method,
        readings=readings,
        places=places,
        values_c=values,
        left_out_c=left_out,
        spread_c=float(np.sqrt(np.mean((values - left_out) ** 2))),
        interpolator=through(method, places.points_mm, values),
        drift_c=drift_c,
        drift_mean_c=drift_mean_c,
        drift_std_c=drift_std_c,
    )


def without(method: str, points_mm: FloatArray, values_c: FloatArray, left_out: int) -> float:
    """Return what the other places say about one; a plane, or their mean, where they are too few or in one
    line."""
    keep = np.arange(len(values_c)) != left_out
    here = points_mm[left_out : left_out + 1]
    widths = np.linalg.svd(points_mm[keep] - points_mm[keep].mean(axis=0), compute_uv=False)
    if keep.sum() < 3 or widths[1] <= 1e-6 * widths[0]:
        return float(plane(points_mm[keep], values_c[keep])(here)[0])
    return float(through(method, points_mm[keep], values_c[keep])(here)[0])


def plane(points_mm: FloatArray, values_c: FloatArray) -> Interpolator:
    """Return the plane of least squares (the flattest one where several fit)."""
    middle, level = points_mm.mean(axis=0), values_c.mean()
    slope = np.linalg.lstsq(points_mm - middle, values_c - level, rcond=1e-9)[0]
    return lambda points: level + (points - middle) @ slope


def through(method: str, points_mm: FloatArray, values_c: FloatArray) -> Interpolator:
    """Return the interpolator through values at points."""
    if method == "thin plate":
        from scipy.interpolate import RBFInterpolator

        spline = RBFInterpolator(points_mm, values_c, kernel="thin_plate_spline", degree=1)
        return lambda points: np.asarray(spline(points), dtype=np.float64) if len(points) else np.zeros(0)
    from scipy.interpolate import CloughTocher2DInterpolator, LinearNDInterpolator

    # Triangulate about the middle: Qhull loses digits far from the origin.
    middle = points_mm.mean(axis=0)
    kind = LinearNDInterpolator if method == "linear" else CloughTocher2DInterpolator
    inside = kind(points_mm - middle, values_c)
    trend = plane(points_mm, values_c)
    offset = values_c - trend(points_mm)

    def everywhere(points: FloatArray) -> FloatArray:
        result = np.asarray(inside(points - middle), dtype=np.float64)
        outside = np.isnan(result)
        nearest = np.argmin(((points[outside, None] - points_mm) ** 2).sum(axis=2), axis=1)
        result[outside] = trend(points[outside]) + offset[nearest]
        return result

    return everywhere
