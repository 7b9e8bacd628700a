"""The whole surface from scattered temperatures, for points of which nothing else is known: no burners, no rounds.

The prior is a Matérn field with a length scale along each axis, a level, and now and then a bowl or a rim that falls
off. Length scales, trends, signal and noise are averaged over, each node as its evidence and prior say.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from heatmap.errors import InputError, MapError
from heatmap.gaussian import Average, Levels, average, condition_levels, matern32, scaled_distance, squared_exponential

FloatArray = NDArray[np.float64]

#: Geometric mean of the two length scales as a share of the shorter side, and their ratio: median and standard
#: deviation of the logarithm. Settled, like all numbers below, on half of the cells of tests/benchmarks/surface.py.
LENGTH_SHARE, LENGTH_LOG_STD, RATIO_LOG_STD = 0.42, 0.6, 0.6
#: How many standard deviations of those logarithms the nodes lie from the median.
LENGTH_NODES = (-2.0, -1.0, 0.0, 1.0, 2.0)
RATIO_NODES = (-2.0, -1.0, 0.0, 1.0, 2.0)
#: Signal as a multiple of the readings' standard deviation.
SIGNAL, SIGNAL_LOG_STD, SIGNAL_NODES = 1.5, 0.7, (-2.0, -1.0, 0.0, 1.0, 2.0)
#: True noise over the claimed one; and noise as a share of the readings' spread where none is claimed.
CLAIMED_LOG_STD, CLAIMED_NODES = 0.25, (-1.5, 0.0, 1.5)
UNKNOWN_NOISE, UNKNOWN_LOG_STD, UNKNOWN_NODES = 0.1, 1.2, (-2.0, -1.0, 0.0, 1.0, 2.0)
#: Prior standard deviations of level, tilts, bends and rim, in units of the signal, and the width of the rim as a share
#: of the shorter side; each set with its prior.
LEVEL, TILT, BEND, RIM = 3.0, 0.4, 0.5, 1.0
TREND_SETS = (
    (0.0, 0.0, 0.0),
    (TILT, BEND, 0.0),
    (0.0, 0.0, 1 / 12),
    (TILT, BEND, 1 / 12),
    (TILT, BEND, 1 / 7),
    (TILT, BEND, 2 / 9),
)
#: The structures are first tried on so many readings, well spread; those that fall behind by this much in log evidence
#: are not looked at again.
PILOT, BEHIND, MOST_STRUCTURES = 48, 5.0, 12
#: No noise is taken as a smaller share of the readings' spread than this: matrices stay well conditioned.
LEAST_NOISE = 1e-4
#: Two readings closer than this are at one place [mm].
SAME_PLACE_MM = 1e-3
FEWEST_PLACES = 3
LEAST_SPREAD_C = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SurfacePrior:
    """A field of unit variance with a level, tilts, bends and a rim of Gaussian weight; sites are points."""

    extent_mm: tuple[float, float]
    lengths_mm: tuple[float, float]
    tilt: float
    bend: float
    rim_share: float
    smooth: bool

    def mean(self, sites: FloatArray) -> FloatArray:
        """Return 0 at points (n, 2), (n,)."""
        return np.zeros(len(sites))

    def covariance(self, one: FloatArray, two: FloatArray) -> FloatArray:
        """Return the covariance between points, (n, m)."""
        distance = scaled_distance(one, two, self.lengths_mm)
        field = squared_exponential(distance) if self.smooth else matern32(distance)
        return np.asarray(field + self._trends(one) @ self._trends(two).T)

    def variance(self, sites: FloatArray) -> FloatArray:
        """Return the variance at points, (n,)."""
        return np.asarray(1.0 + np.square(self._trends(sites)).sum(axis=1))

    def _trends(self, points_mm: FloatArray) -> FloatArray:
        """Return the trend columns, each times its standard deviation, (n, p)."""
        u, v = unit_square(points_mm, self.extent_mm).T
        columns = [np.full_like(u, LEVEL)]
        if self.tilt or self.bend:
            columns += [self.tilt * u, self.tilt * v, self.bend * u * u, self.bend * v * v, self.bend * u * v]
        if self.rim_share:
            columns.append(RIM * rim_column(points_mm, self.extent_mm, self.rim_share))
        return np.stack(columns, axis=1)


def unit_square(points_mm: FloatArray, extent_mm: tuple[float, float]) -> FloatArray:
    """Return points (n, 2) with the grate from −1 to 1 along each axis."""
    return np.asarray(2.0 * points_mm / np.asarray(extent_mm) - 1.0)


def rim_column(points_mm: FloatArray, extent_mm: tuple[float, float], width_share: float) -> FloatArray:
    """Return what falls off from 1 at the edge, over a share of the shorter side, (n,)."""
    to_edge = np.minimum(points_mm, np.asarray(extent_mm) - points_mm).min(axis=1)
    return np.asarray(np.exp(-np.maximum(to_edge, 0.0) / (width_share * min(extent_mm))))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """A fitted surface: ask it for mean and standard deviation anywhere, or for joint samples.

    Attributes
    ----------
    points_mm, rail_c : ndarray, (n, 2) and (n,)
        The places with their readings, repeats merged.
    noise_std_c : float
        What one reading scatters by, as learned [°C].
    """

    points_mm: FloatArray
    rail_c: FloatArray
    noise_std_c: float
    _average: Average
    _centre_c: float

    def predict(self, points_mm: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return mean and standard deviation of the noise-free surface at points (m, 2), each (m,) [°C]."""
        mean_c, std_c = self._average.predict(_points(points_mm))
        return mean_c + self._centre_c, std_c

    def covariance(self, one_mm: ArrayLike, two_mm: ArrayLike) -> FloatArray:
        """Return the covariance of the noise-free surface between points, (n, m) [°C²]."""
        return self._average.covariance(_points(one_mm), _points(two_mm))

    def sample(self, points_mm: ArrayLike, count: int, random: np.random.Generator) -> FloatArray:
        """Return joint samples of the noise-free surface at points (m, 2), (count, m) [°C]."""
        return self._average.sample(_points(points_mm), count, random) + self._centre_c

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return what the other places say each merged reading should be: mean and std, noise and all, each (n,)."""
        mean_c, std_c = self._average.leave_one_out()
        return mean_c + self._centre_c, std_c


def fit_surface(
    points_mm: ArrayLike, rail_c: ArrayLike, own_std_c: ArrayLike | None, *, extent_mm: tuple[float, float]
) -> Surface:
    """Turn scattered temperatures into a whole surface with an honest spread.

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

    Returns
    -------
    Surface
        No reading is dropped; those at one point are merged.

    Raises
    ------
    InputError
        For shapes and values that cannot be.
    MapError
        For fewer than three places, or all in one line.
    """
    points, values = _points(points_mm), _numbers(rail_c, "rail_c")
    if values.shape != (len(points),):
        raise InputError(f"rail_c has shape {values.shape} for {len(points)} points; give one temperature per point.")
    extent = _extent(extent_mm)
    claimed = None if own_std_c is None else _spread(own_std_c, len(points))
    if claimed is not None:
        claimed = np.maximum(claimed, LEAST_NOISE * max(float(values.std()), LEAST_SPREAD_C))
    places = _merge(points, values, claimed)
    centre = float(places.values.mean())
    scale = max(float(places.values.std(ddof=1)), LEAST_SPREAD_C, 0.0 if claimed is None else float(np.median(claimed)))
    levels = _levels(scale, claimed is not None, places)
    fitted = _fit(places.points, places.values - centre, places.noise_variance, levels, extent)
    noise = sum(w @ part.levels.noise for part, w in zip(fitted.parts, fitted.weights, strict=True))
    shot_std_c = 1.0 if claimed is None else float(np.median(claimed))
    return Surface(
        points_mm=places.points,
        rail_c=places.values,
        noise_std_c=float(noise) * shot_std_c,
        _average=fitted,
        _centre_c=centre,
    )


def _fit(
    points: FloatArray, values: FloatArray, noise_variance: FloatArray, levels: Levels, extent: tuple[float, float]
) -> Average:
    """Average over all structures; with many readings over those that a well spread part of them leaves standing."""
    structures = list(_structures(extent))
    if len(points) > PILOT:
        pilot = _well_spread(points, PILOT)
        tried = [
            (condition_levels(prior, points[pilot], values[pilot], noise_variance[pilot], levels), log_prior)
            for prior, log_prior in structures
        ]
        evidence = np.array([log_prior + _log_sum(part.log_evidence) for part, log_prior in tried])
        best = np.argsort(-evidence, kind="stable")[:MOST_STRUCTURES]
        structures = [structures[at] for at in best if evidence[at] >= evidence[best[0]] - BEHIND]
    parts = [
        condition_levels(prior, points, values, noise_variance, levels.weighted(log_prior))
        for prior, log_prior in structures
    ]
    return average(parts)


@lru_cache(maxsize=8)
def _structures(extent: tuple[float, float]) -> tuple[tuple[SurfacePrior, float], ...]:
    """Return every pair of length scales with every set of trends, and the logarithm of its prior."""
    shorter = min(extent)
    found = []
    for along in LENGTH_NODES:
        for ratio in RATIO_NODES:
            mean = LENGTH_SHARE * shorter * np.exp(LENGTH_LOG_STD * along)
            half = np.exp(0.5 * RATIO_LOG_STD * ratio)
            for (tilt, bend, rim), smooth in itertools.product(TREND_SETS, (False, True)):
                prior = SurfacePrior(
                    extent_mm=extent,
                    lengths_mm=(mean * half, mean / half),
                    tilt=tilt,
                    bend=bend,
                    rim_share=rim,
                    smooth=smooth,
                )
                found.append((prior, -0.5 * (along**2 + ratio**2)))
    return tuple(found)


def _levels(scale: float, claimed: bool, places: _Places) -> Levels:
    """Return signal and noise levels, with their prior and what repeats say of the noise."""
    signal_nodes, noise_nodes = np.array(SIGNAL_NODES), np.array(CLAIMED_NODES if claimed else UNKNOWN_NODES)
    signal = SIGNAL * scale * np.exp(SIGNAL_LOG_STD * signal_nodes)
    noise = (
        np.exp(CLAIMED_LOG_STD * noise_nodes)
        if claimed
        else UNKNOWN_NOISE * scale * np.exp(UNKNOWN_LOG_STD * noise_nodes)
    )
    repeats = -0.5 * places.repeat_square / noise**2 - places.repeat_count * np.log(noise)
    signals, noises = np.meshgrid(signal, noise, indexing="ij")
    log_prior = -0.5 * signal_nodes[:, None] ** 2 + (repeats - 0.5 * noise_nodes**2)[None, :]
    return Levels(signal=signals.ravel(), noise=noises.ravel(), log_prior=log_prior.ravel())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Places:
    """Readings merged by place: values (n,), variances of their noise (n,) as claimed or in units of one reading's, and
    what the differences of repeats say of the noise: their number and the sum of their squares in the same units.
    """

    points: FloatArray
    values: FloatArray
    noise_variance: FloatArray
    repeat_count: int
    repeat_square: float


def _merge(points: FloatArray, values: FloatArray, claimed: FloatArray | None) -> _Places:
    """Merge what was read at one place; a map needs three places, not all in one line."""
    keys = np.round(points / SAME_PLACE_MM).astype(np.int64)
    _, first, place = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    places, place = points[first], place.ravel()
    if len(places) < FEWEST_PLACES:
        raise MapError(
            f"{len(places)} place{'s' if len(places) != 1 else ''} with a reading; "
            f"a map needs at least {FEWEST_PLACES}, not all in one line."
        )
    # The thinner half-axis of the cloud of points against the wider: 1e-6 of a grate is less than a hair.
    widths = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    if widths[1] <= 1e-6 * widths[0]:
        raise MapError("all readings lie in one line; take at least one to the side of it, a map needs an area.")
    information = 1.0 / (np.ones(len(values)) if claimed is None else claimed**2)
    total = np.bincount(place, information)
    merged = np.bincount(place, information * values) / total
    return _Places(
        points=places,
        values=merged,
        noise_variance=1.0 / total,
        repeat_count=len(values) - len(places),
        repeat_square=float((information * (values - merged[place]) ** 2).sum()),
    )


def _well_spread(points: FloatArray, count: int) -> NDArray[np.int64]:
    """Choose places one after another, each the farthest from those before, the first nearest the middle."""
    chosen = [int(np.argmin(np.square(points - points.mean(axis=0)).sum(axis=1)))]
    distance = np.square(points - points[chosen[0]]).sum(axis=1)
    while len(chosen) < count:
        chosen.append(int(np.argmax(distance)))
        distance = np.minimum(distance, np.square(points - points[chosen[-1]]).sum(axis=1))
    return np.array(sorted(chosen))


def _numbers(values: ArrayLike, name: str) -> FloatArray:
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


def _points(points_mm: ArrayLike) -> FloatArray:
    points = _numbers(points_mm, "points_mm")
    if points.size == 0:
        points = points.reshape(0, 2)
    if points.ndim != 2 or points.shape[1] != 2:
        raise InputError(f"points_mm has shape {points.shape}; it must be (n, 2): x to the right, y away from the cook")
    return points


def _spread(values: ArrayLike, count: int) -> FloatArray:
    """Return standard deviations as (count,), from one for all or one each."""
    array = _numbers(values, "own_std_c")
    if array.shape not in ((), (count,)):
        raise InputError(f"own_std_c has shape {array.shape}; give one number for all or {count}, one per reading.")
    if np.any(array < 0):
        raise InputError(f"own_std_c has {array.min():g} in it; a standard deviation must be 0 or more.")
    return np.broadcast_to(array, (count,)).astype(np.float64)


def _extent(extent_mm: tuple[float, float]) -> tuple[float, float]:
    extent = _numbers(extent_mm, "extent_mm")
    if extent.shape != (2,) or np.any(extent <= 0):
        raise InputError(f"extent_mm is {extent_mm}; it must be (width, depth), both above 0.")
    return float(extent[0]), float(extent[1])


def _log_sum(logs: FloatArray) -> float:
    return float(logs.max() + np.log(np.exp(logs - logs.max()).sum()))
