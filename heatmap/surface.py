"""The whole surface from scattered temperatures, for points of which nothing else is known: no burners, no rounds.

The prior is a random field with a level, and now and then a bowl or a rim that falls off. The field varies along the
sides of the grate, roughly, or along its diagonals, smoothly. Lengths, trends, signal and noise are averaged over, each
as its evidence and prior say.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple, TypeAlias

import numpy as np

from heatmap.errors import InputError, MapError
from heatmap.gaussian import (
    checked_variance,
    in_one_line,
    matern32,
    mixed,
    same_places,
    scaled_distance,
    squared_exponential,
    weighed,
)
from heatmap.units import ArrayLike, BoolArray, FloatArray, IntArray

# All numbers down to BEHIND were settled with tests/benchmarks/surface.py --part settle, on make-believe grates
# and open data. The other part, with other seeds, gave in 46 cells: CRPS 0.89 and RMSE 0.90 of the best of five other
# methods in each cell, on open data 0.96 and 0.97; 95 % intervals cover 0.955, 0.894 where they cover least.

#: Geometric mean of the two length scales as a share of the shorter side, and their ratio: medians (the ratio's is 1),
#: standard deviations of the logarithms, and how many of those the nodes lie from the median.
LENGTH_SHARE, LENGTH_LOG_STD, LENGTH_NODES = 0.42, 0.7, (-2.0, -1.0, 0.0, 1.0, 2.0)
RATIO_LOG_STD, RATIO_NODES = 0.8, (-1.4, 0.0, 1.4)
#: Signal as a multiple of the readings' standard deviation.
SIGNAL, SIGNAL_LOG_STD, SIGNAL_NODES = 1.5, 0.7, tuple(np.linspace(-2.0, 2.0, 9).tolist())
#: True noise over the claimed one; and noise as a share of the readings' standard deviation where none is claimed.
CLAIMED_LOG_STD, CLAIMED_NODES = 0.25, (-1.5, 0.0, 1.5)
UNKNOWN_NOISE, UNKNOWN_LOG_STD, UNKNOWN_NODES = 0.2, 1.2, SIGNAL_NODES
#: Variances are widened by 1 + this / places: no list of kernels holds every grate. Without it 95 % intervals of 12
#: readings cover 90 %.
WIDENING = 8.0
#: Those structures that the readings speak for most are kept, and of these what holds all but this share of the weight:
#: neither moves any figure of the benchmark by more than 0.003, and the map takes a third of the time.
MOST_STRUCTURES, LEFT_OUT = 32, 0.1
#: With more readings than this, structures are chosen by so many of them, well spread, and by what lies within so much
#: log evidence of the best.
PILOT, BEHIND = 48, 3.0
FEWEST_PLACES = 3
#: Readings all the same still vary by this [°C], far below any display step; and no noise is taken as a smaller share
#: of their spread than this: matrices stay well conditioned.
LEAST_SPREAD_C, LEAST_NOISE = 1e-3, 1e-4


#: Prior standard deviation of the level, in units of the signal.
LEVEL = 3.0
#: Those of tilts, bends and rim, likewise, and the width of the rim in shorter sides.
TREND_SETS = (
    (0.0, 0.0, 0.0, 0.1),
    (0.4, 0.5, 0.0, 0.1),
    (1.5, 2.0, 0.0, 0.1),
    (0.4, 0.5, 1.0, 1 / 10),
    (0.4, 0.5, 1.0, 2 / 9),
)


class Structure(NamedTuple):
    """A field with a level, tilts, bends and a rim of Gaussian weight, in units of the field's standard deviation.

    Attributes
    ----------
    extent_mm, lengths_mm : (float, float)
        Width and depth of the grate; length scales along the two sides, or along the two diagonals of a square of the
        same area, to which the grate is stretched.
    diagonal : bool
        Along the diagonals the correlation is a squared exponential, along the sides a Matérn of order 3/2.
    trends : tuple of float
        Of :data:`TREND_SETS`.
    log_prior : float
    """

    extent_mm: tuple[float, float]
    lengths_mm: tuple[float, float]
    diagonal: bool
    trends: tuple[float, float, float, float]
    log_prior: float

    def covariance(self, one: FloatArray, two: FloatArray) -> FloatArray:
        """Return the covariance between points, (n, m)."""
        field = _correlation(self.extent_mm, self.lengths_mm, self.diagonal, one.tobytes(), two.tobytes())
        return field + self.columns(one) @ self.columns(two).T

    def columns(self, points_mm: FloatArray) -> FloatArray:
        """Return the trend columns, each times its standard deviation, (n, p)."""
        tilt, bend, rim, rim_share = self.trends
        u, v = (2.0 * points_mm / np.asarray(self.extent_mm) - 1.0).T
        to_edge = np.minimum(points_mm, np.asarray(self.extent_mm) - points_mm).min(axis=1)
        near_edge = np.exp(-np.maximum(to_edge, 0.0) / (rim_share * min(self.extent_mm)))
        bends = (bend * u * u, bend * v * v, bend * u * v)
        return np.stack([np.full_like(u, LEVEL), tilt * u, tilt * v, *bends, rim * near_edge], axis=1)


# Structures that differ in their trends alone follow one another: they ask for the same.
@lru_cache(maxsize=1)
def _correlation(
    extent_mm: tuple[float, float], lengths_mm: tuple[float, float], diagonal: bool, one: bytes, two: bytes
) -> FloatArray:
    first, second = (np.frombuffer(content).reshape(-1, 2) for content in (one, two))
    if diagonal:
        first, second = (_along_diagonals(points, extent_mm) for points in (first, second))
    distance = scaled_distance(first, second, lengths_mm)
    return squared_exponential(distance) if diagonal else matern32(distance)


def _along_diagonals(points_mm: FloatArray, extent_mm: tuple[float, float]) -> FloatArray:
    """Return points (n, 2) along the two diagonals of a square of the grate's area."""
    x, y = (points_mm * (np.sqrt(extent_mm[0] * extent_mm[1]) / np.asarray(extent_mm))).T
    return np.asarray(np.stack([x + y, y - x], axis=1) / np.sqrt(2.0))


class Surface:
    """A fitted surface: ask it for mean and standard deviation anywhere.

    Attributes
    ----------
    points_mm, rail_c : ndarray, (n, 2) and (n,)
        The places with their readings, repeats merged.
    noise_std_c : float
        What one reading scatters by, as learned [°C].
    """

    def __init__(
        self, points_mm: FloatArray, values: FloatArray, claimed: FloatArray | None, extent_mm: tuple[float, float]
    ) -> None:
        """Fit them, checked before; see :func:`fit_surface`."""
        places, repeats, square = _merge(points_mm, values, claimed)
        self.points_mm, self.rail_c, noise_variance = places
        claim = None if claimed is None else float(np.median(claimed))
        scale = max(float(self.rail_c.std(ddof=1)), LEAST_SPREAD_C, claim or 0.0)
        levels = _levels(scale, claim is not None, repeats, square)
        parts = _tried((self.points_mm, self.rail_c - self.rail_c.mean(), noise_variance), levels, extent_mm)
        kept, self._weights = weighed(np.concatenate([part.log_evidence for part in parts]), LEFT_OUT)
        noise = self._weights @ np.tile(levels[:, 1], len(parts))[kept]
        self.noise_std_c = float(noise) * (1.0 if claim is None else claim)
        self._parts = list(zip(parts, np.split(kept, len(parts)), strict=True))

    def predict(self, points_mm: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return mean and standard deviation of the noise-free surface at points (m, 2), each (m,) [°C]."""
        points = _points(points_mm)
        moments = [each for part, kept in self._parts if kept.any() for each in part.predict(points, kept)]
        mean_c, std_c = mixed(self._weights[:, None], moments)
        return mean_c + self.rail_c.mean(), np.sqrt(1.0 + WIDENING / len(self.rail_c)) * std_c


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
    return Surface(points, values, None if own_std_c is None else _spread(own_std_c, len(points)), extent)


def _tried(places: Places, levels: FloatArray, extent: tuple[float, float]) -> list[_AtLevels]:
    """Return the structures that the readings, or a well spread part of many, speak for most, in order."""
    structures, chosen = _structures(extent), _well_spread(places[0], PILOT)
    few = places[0][chosen], places[1][chosen], places[2][chosen]
    tried = [_AtLevels(one, few, levels) for one in structures]
    evidence = np.array([np.logaddexp.reduce(one.log_evidence) for one in tried])
    best = np.argsort(-evidence, kind="stable")[:MOST_STRUCTURES]
    if len(chosen) < len(places[0]):
        best = best[evidence[best] >= evidence[best[0]] - BEHIND]
        return [_AtLevels(structures[at], places, levels) for at in np.sort(best)]
    return [tried[at] for at in np.sort(best)]


#: Places (n, 2), values (n,), and variances of their noise (n,) as claimed or in units of one reading's.
Places: TypeAlias = tuple[FloatArray, FloatArray, FloatArray]


class _AtLevels:
    """A structure conditioned at every level of signal s and noise t (j,).

    The eigenvectors of D^-1/2 C D^-1/2 serve each s² C + t² D: its inverse is W diag(1 / variance) W', as in
    :mod:`heatmap.gaussian.conditioner`.
    """

    def __init__(self, structure: Structure, places: Places, levels: FloatArray) -> None:
        """Condition it, values being about their mean."""
        self.structure, (self.points, values, noise_variance) = structure, places
        signals, noises, log_priors = levels.T
        root = np.sqrt(noise_variance)
        eigenvalues, vectors = np.linalg.eigh(structure.covariance(self.points, self.points) / np.outer(root, root))
        self.basis, self.square = vectors / root[:, None], signals[:, None] ** 2
        self.projected = self.basis.T @ values
        self.variance = self.square * np.maximum(eigenvalues, 0.0) + noises[:, None] ** 2
        log_determinant = np.log(2.0 * np.pi * self.variance).sum(axis=1) + 2.0 * np.log(root).sum()
        misfit = (1.0 / self.variance) @ np.square(self.projected)
        self.log_evidence = structure.log_prior + log_priors - 0.5 * (misfit + log_determinant)

    def predict(self, points: FloatArray, kept: BoolArray) -> Iterator[tuple[FloatArray, FloatArray]]:
        """Yield mean and variance of the noise-free values at m points at some of the levels, (m,) each."""
        square, between = self.square[kept], self.structure.covariance(points, self.points) @ self.basis
        precision = square / self.variance[kept]
        means = (precision * self.projected) @ between.T
        prior_variance = square * (1.0 + np.square(self.structure.columns(points)).sum(axis=1))
        variances = checked_variance(prior_variance, square * (precision @ np.square(between).T))
        return zip(means, variances, strict=True)


@lru_cache(maxsize=8)
def _structures(extent: tuple[float, float]) -> tuple[Structure, ...]:
    """Return every pair of length scales, along sides and diagonals, with every set of trends."""
    found = []
    for along, ratio, diagonal, trends in itertools.product(LENGTH_NODES, RATIO_NODES, (False, True), TREND_SETS):
        length = LENGTH_SHARE * min(extent) * np.exp(LENGTH_LOG_STD * along)
        half = np.exp(0.5 * RATIO_LOG_STD * ratio)
        lengths = float(length * half), float(length / half)
        found.append(Structure(extent, lengths, diagonal, trends, -0.5 * (along**2 + ratio**2)))
    return tuple(found)


def _levels(scale: float, claimed: bool, repeat_count: int, repeat_square: float) -> FloatArray:
    """Return signals [°C], noises over what is claimed, and their log prior with what repeats say, (j, 3)."""
    signal_nodes, noise_nodes = np.array(SIGNAL_NODES), np.array(CLAIMED_NODES if claimed else UNKNOWN_NODES)
    signal = SIGNAL * scale * np.exp(SIGNAL_LOG_STD * signal_nodes)
    median, log_std = (1.0, CLAIMED_LOG_STD) if claimed else (UNKNOWN_NOISE * scale, UNKNOWN_LOG_STD)
    noise = median * np.exp(log_std * noise_nodes)
    repeats = -0.5 * repeat_square / noise**2 - repeat_count * np.log(noise)
    signals, noises = np.meshgrid(signal, noise, indexing="ij")
    log_prior = -0.5 * signal_nodes[:, None] ** 2 + (repeats - 0.5 * noise_nodes**2)[None, :]
    return np.column_stack([signals.ravel(), noises.ravel(), log_prior.ravel()])


def _merge(points: FloatArray, values: FloatArray, claimed: FloatArray | None) -> tuple[Places, int, float]:
    """Merge what was read at one place; a map needs three places, not all in one line.

    What the differences of repeats say of the noise stands beside: their number and the sum of their squares, over the
    same variance.
    """
    places, place = same_places(points)
    if len(places) < FEWEST_PLACES:
        raise MapError(
            f"{len(places)} place{'s' if len(places) != 1 else ''} with a reading; "
            f"a map needs at least {FEWEST_PLACES}, not all in one line."
        )
    if in_one_line(places):
        raise MapError("all readings lie in one line; take at least one to the side of it, a map needs an area.")
    least = LEAST_NOISE * max(float(values.std()), LEAST_SPREAD_C)
    information = np.ones(len(values)) if claimed is None else 1.0 / np.maximum(claimed, least) ** 2
    total = np.bincount(place, information)
    merged = np.bincount(place, information * values) / total
    square = float((information * (values - merged[place]) ** 2).sum())
    return (places, merged, 1.0 / total), len(values) - len(places), square


def _well_spread(points: FloatArray, count: int) -> IntArray:
    """Choose places, of few all, each the farthest from those before, the first nearest the middle; in order."""
    chosen = [int(np.argmin(np.square(points - points.mean(axis=0)).sum(axis=1)))]
    distance = np.square(points - points[chosen[0]]).sum(axis=1)
    while len(chosen) < min(count, len(points)):
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
        where = f"[{', '.join(str(index) for index in bad[0])}]" if array.ndim else ""
        raise InputError(f"{name}{where} is {array[tuple(bad[0])]}; every value must be a finite number.")
    return array


def _points(points_mm: ArrayLike) -> FloatArray:
    points = _numbers(points_mm, "points_mm")
    if points.size == 0:
        points = points.reshape(0, 2)
    if points.ndim != 2 or points.shape[1] != 2:
        raise InputError(
            f"points_mm has shape {points.shape}; it must be (n, 2): x to the right, y away from the cook."
        )
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
