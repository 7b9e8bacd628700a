"""Fit the surface: the one door into this room."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from heatmap.errors import InputError
from heatmap.surface.averaging import Problem, average
from heatmap.surface.gaussian_process import GaussianSurface, drift_moments
from heatmap.surface.interpolators import interpolated_surface
from heatmap.surface.places import Places, Readings, check_readings, gather_places, numbers, spread
from heatmap.surface.priors import UNKNOWN_NOISE, kernels, levels
from heatmap.surface.surface import Surface
from heatmap.surface.trends import Trends
from heatmap.surface.types import FloatArray

METHODS = ("gaussian process", "linear", "cubic", "thin plate")

SMALLEST_NOISE = 1e-4
"""No noise is taken as this share of the readings' spread, so that matrices stay well conditioned."""
WIDENING = 1.3
"""Spreads are widened by sqrt(1 + this / sqrt(places)): no list of kernels holds every grate. Settled on make-believe
grates and open data of many kinds (tests/benchmarks/surface.py), where without it 95 % intervals cover 92 to 94 % and
as little as 85 % of one kind."""
SMALLEST_DRIFT_STD_C = 1e-9
SMALLEST_SCALE_C = 1e-3
"""Readings that are all the same still vary by this [°C], far below any display step."""


#: The same kernels serve every round on a grate.
_kernels = lru_cache(maxsize=8)(kernels)


def fit_surface(
    points_mm: ArrayLike,
    rail_c: ArrayLike,
    own_std_c: ArrayLike | None,
    *,
    extent_mm: tuple[float, float],
    method: str = "gaussian process",
    place_std_c: ArrayLike = 0.0,
    drift: ArrayLike | None = None,
    drift_std_c: ArrayLike | None = None,
    drift_mean_c: ArrayLike | None = None,
    seams_mm: Sequence[float] = (),
    seam_axis: str = "x",
) -> Surface:
    """Turn spots into a whole surface with an honest spread.

    Parameters
    ----------
    points_mm : array_like, (n, 2)
        Where each reading was taken, x to the right and y away from the cook [mm].
    rail_c : array_like, (n,)
        The readings [°C].
    own_std_c : float or array_like, (n,), or None
        Standard deviation of each reading alone [°C]; None: learned from the readings.
    extent_mm : (float, float)
        Width and depth of the grate [mm].
    method : {"gaussian process", "linear", "cubic", "thin plate"}
        The first is ours; the others are scipy's interpolators with one spread everywhere, from leaving out
        each place in turn.
    place_std_c : float or array_like, (n,)
        Standard deviation of what is the same for repeats at one place and independent between places [°C].
    drift : array_like, (n, p), optional
        Nuisance effects, one column each; the surface returned is where all are 0.
    drift_std_c, drift_mean_c : array_like, (p,), optional
        Gaussian prior of the coefficients [°C per unit of the column]; the spread of the readings and 0 if
        not given.
    seams_mm : sequence of float
        Where panels meet [mm]; the surface may step there.
    seam_axis : {"x", "y"}
        The axis ``seams_mm`` is measured along.

    Returns
    -------
    Surface

    Raises
    ------
    InputError
        For shapes and values that cannot be.
    MapError
        For fewer than three places, or all in one line.
    """
    if method not in METHODS:
        raise InputError(f"method is {method!r}; it must be one of {', '.join(METHODS)}.")
    readings = check_readings(points_mm, rail_c, own_std_c, place_std_c, extent_mm)
    places = gather_places(readings.points_mm)
    columns, prior_mean, prior_std = check_drift(drift, drift_mean_c, drift_std_c, readings)
    trends = Trends(extent_mm=readings.extent_mm, seams_mm=check_seams(seams_mm), seam_axis=check_axis(seam_axis))
    centre, scale = centre_and_scale(readings.rail_c - columns @ prior_mean, places)
    scale = max(scale, readings.least_spread_c)
    problem = pose(readings, places, columns, prior_mean, prior_std, trends, centre, scale)
    candidates = _kernels(readings.extent_mm, trends.seams_mm, trends.seam_axis)
    grid = levels(scale, claimed=readings.own_std_c is not None)
    parts = tuple(average(problem, candidates, trends.sets, grid))
    drift_mean, drift_std = drift_moments(parts, columns.shape[1])
    drift_mean = drift_mean + prior_mean
    if method != "gaussian process":
        # scipy's interpolators know no drift: they get readings freed of what was learned of it here.
        return interpolated_surface(method, readings, places, columns @ drift_mean, drift_mean, drift_std)
    return GaussianSurface(
        method=method,
        readings=readings,
        places=places,
        problem=problem,
        parts=parts,
        trends=trends,
        centre_c=centre,
        drift=columns,
        drift_mean_c=drift_mean,
        drift_std_c=drift_std,
        noise_shape_c=np.sqrt(noise_shape(readings, scale)),
        widening=float(np.sqrt(1.0 + WIDENING / np.sqrt(len(places.count)))),
    )


def check_drift(
    drift: ArrayLike | None, mean_c: ArrayLike | None, std_c: ArrayLike | None, readings: Readings
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the drift columns (n, p) with the mean and standard deviation of their coefficients."""
    n = len(readings.rail_c)
    if drift is None:
        if mean_c is not None or std_c is not None:
            raise InputError("drift_std_c or drift_mean_c was given without drift; give the columns too.")
        return np.zeros((n, 0)), np.zeros(0), np.zeros(0)
    columns = numbers(drift, "drift")
    if columns.ndim != 2 or columns.shape[0] != n:
        raise InputError(f"drift has shape {columns.shape}; it must be ({n}, p), one row per reading.")
    p = columns.shape[1]
    mean = np.zeros(p) if mean_c is None else np.broadcast_to(numbers(mean_c, "drift_mean_c"), (p,))
    default = np.std(readings.rail_c) + SMALLEST_SCALE_C
    std = spread(default if std_c is None else std_c, p, "drift_std_c")
    return columns, mean.astype(np.float64), std


def check_seams(seams_mm: Sequence[float]) -> tuple[float, ...]:
    """Return the seams in order."""
    seams = numbers(list(seams_mm), "seams_mm")
    return tuple(sorted({float(seam) for seam in seams}))


def check_axis(seam_axis: str) -> int:
    """Return 0 for x and 1 for y."""
    if seam_axis not in ("x", "y"):
        raise InputError(f"seam_axis is {seam_axis!r}; it must be 'x' or 'y'.")
    return "xy".index(seam_axis)


def centre_and_scale(values_c: FloatArray, places: Places) -> tuple[float, float]:
    """Return the mean and the standard deviation of the means of the places."""
    means = np.bincount(places.place_of_reading, values_c) / places.count
    return float(means.mean()), max(float(means.std(ddof=1)), SMALLEST_SCALE_C)


def noise_shape(readings: Readings, scale_c: float) -> FloatArray:
    """Return the variance of each reading as claimed, or a first guess, (n,) [°C²]."""
    if readings.own_std_c is None:
        return np.full(len(readings.rail_c), (UNKNOWN_NOISE * scale_c) ** 2)
    return np.asarray(np.maximum(readings.own_std_c, SMALLEST_NOISE * scale_c) ** 2)


def pose(
    readings: Readings,
    places: Places,
    drift: FloatArray,
    drift_mean_c: FloatArray,
    drift_std_c: FloatArray,
    trends: Trends,
    centre_c: float,
    scale_c: float,
) -> Problem:
    """Merge repeats exactly: their weighted mean goes to the surface, their differences to noise and
    drift."""
    variance = noise_shape(readings, scale_c)
    place, n = places.place_of_reading, len(places.count)
    values = readings.rail_c - drift @ drift_mean_c - centre_c
    information = np.bincount(place, 1.0 / variance)

    def merged(column: FloatArray) -> FloatArray:
        return np.bincount(place, column / variance) / information

    means = merged(values)
    drift_means = np.stack([merged(column) for column in drift.T], axis=1) if drift.size else np.zeros((n, 0))
    deviation = (values - means[place]) / np.sqrt(variance)
    drift_deviation = (drift - drift_means[place]) / np.sqrt(variance)[:, None]

    place_variance = np.bincount(place, readings.place_std_c**2) / places.count
    return Problem(
        points_mm=places.points_mm,
        values_c=means,
        noise_c2=1.0 / information + place_variance,
        trend=trends.columns(places.points_mm),
        drift=drift_means,
        drift_precision=np.diag(1.0 / np.maximum(drift_std_c, SMALLEST_DRIFT_STD_C) ** 2),
        contrast_count=len(values) - n,
        contrast_square=float(deviation @ deviation),
        contrast_drift=drift_deviation.T @ deviation,
        contrast_gram=drift_deviation.T @ drift_deviation,
    )
