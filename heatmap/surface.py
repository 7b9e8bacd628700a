"""The whole surface from scattered temperatures, for points of which nothing else is known: no burners, no rounds.

The prior is a random field with a level, and now and then a bowl or a rim that falls off. The field varies along the
sides of the grate, roughly, or along its diagonals, smoothly. Lengths, trends, signal and noise are averaged over, each
as its evidence and prior say.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from heatmap.errors import InputError, MapError
from heatmap.gaussian import (
    Average,
    Conditioned,
    average,
    checked_variance,
    matern32,
    mixed,
    same_places,
    scaled_distance,
    squared_exponential,
)
from heatmap.units import FloatArray, IntArray

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


class TrendSet(NamedTuple):
    """Prior standard deviations of tilts, bends and rim, in units of the signal; width of the rim, in shorter sides."""

    tilt: float = 0.0
    bend: float = 0.0
    rim: float = 0.0
    rim_share: float = 0.1


#: Prior standard deviation of the level, in units of the signal.
LEVEL = 3.0
TREND_SETS = (
    TrendSet(),
    TrendSet(tilt=0.4, bend=0.5),
    TrendSet(tilt=1.5, bend=2.0),
    TrendSet(tilt=0.4, bend=0.5, rim=1.0, rim_share=1 / 10),
    TrendSet(tilt=0.4, bend=0.5, rim=1.0, rim_share=2 / 9),
)


class Structure(NamedTuple):
    """A field with a level, tilts, bends and a rim of Gaussian weight; sites are points (n, 2).

    Attributes
    ----------
    extent_mm, lengths_mm : (float, float)
        Width and depth of the grate; length scales along the two sides, or along the two diagonals of a square of the
        same area, to which the grate is stretched.
    diagonal : bool
        Along the diagonals the correlation is a squared exponential, along the sides a Matérn of order 3/2.
    trends : TrendSet
    signal : float
        Standard deviation of the field.
    """

    extent_mm: tuple[float, float]
    lengths_mm: tuple[float, float]
    diagonal: bool
    trends: TrendSet
    signal: float = 1.0

    def mean(self, sites: FloatArray) -> FloatArray:
        """Return 0 at points, (n,)."""
        return np.zeros(len(sites))

    def covariance(self, one: FloatArray, two: FloatArray) -> FloatArray:
        """Return the covariance between points, (n, m)."""
        field = _correlation(self.extent_mm, self.lengths_mm, self.diagonal, one.tobytes(), two.tobytes())
        return self.signal**2 * (field + self.columns(one) @ self.columns(two).T)

    def variance(self, sites: FloatArray) -> FloatArray:
        """Return the variance at points, (n,)."""
        return self.signal**2 * np.asarray(1.0 + np.square(self.columns(sites)).sum(axis=1))

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """A fitted surface: ask it for mean and standard deviation anywhere.

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
        points = _points(points_mm)
        nodes = itertools.groupby(self._average.parts, key=lambda part: _structure_of(part)._replace(signal=1.0))
        moments = [each for structure, parts in nodes for each in _moments(structure, tuple(parts), points)]
        mean_c, std_c = mixed(self._average.weights[:, None], moments)
        return mean_c + self._centre_c, np.sqrt(1.0 + WIDENING / len(self.rail_c)) * std_c


def _structure_of(part: Conditioned) -> Structure:
    assert isinstance(part.prior, Structure)
    return part.prior


def _moments(
    structure: Structure, parts: tuple[Conditioned, ...], points: FloatArray
) -> Iterable[tuple[FloatArray, FloatArray]]:
    """Return what nodes that differ in signal and noise alone say, (m,) and (m,): the structure, with a signal of 1, is
    asked once for all.
    """
    square = np.array([[_structure_of(part).signal ** 2] for part in parts])
    precision = square * [part.precision for part in parts]
    projected = structure.covariance(points, parts[0].sites) @ parts[0].basis
    means = (precision * (parts[0].basis.T @ parts[0].residual)) @ projected.T
    prior_variance = square * structure.variance(points)
    return zip(means, checked_variance(prior_variance, square * (precision @ np.square(projected).T)), strict=True)


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
    places = _merge(points, values, claimed)
    centre = float(places.values.mean())
    scale = max(float(places.values.std(ddof=1)), LEAST_SPREAD_C, 0.0 if claimed is None else float(np.median(claimed)))
    levels = _levels(scale, claimed is not None, places)
    fitted = _fit(replace(places, values=places.values - centre), levels, extent)
    noise = fitted.weights @ [np.sqrt(part.noise_variance[0] / places.noise_variance[0]) for part in fitted.parts]
    return Surface(
        points_mm=places.points,
        rail_c=places.values,
        noise_std_c=float(noise) * (1.0 if claimed is None else float(np.median(claimed))),
        _average=fitted,
        _centre_c=centre,
    )


def _fit(places: _Places, levels: FloatArray, extent: tuple[float, float]) -> Average:
    """Average over the structures that the readings, or a well spread part of many, speak for most."""
    structures, many = _structures(extent), len(places.points) > PILOT
    few = places.only(_well_spread(places.points, PILOT)) if many else places
    tried = [_Tried.of(one, few, levels) for one in structures]
    evidence = np.array([np.logaddexp.reduce(one.log_evidence) for one in tried])
    best = np.argsort(-evidence, kind="stable")[:MOST_STRUCTURES]
    if many:
        best = np.sort(best[evidence[best] >= evidence[best[0]] - BEHIND])
        tried = [_Tried.of(structures[at], places, levels) for at in best]
    else:
        tried = [tried[at] for at in np.sort(best)]
    return average([node for one in tried for node in one.nodes(places, levels)], LEFT_OUT)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Tried:
    """A structure at every level (j,): the eigenvectors of D^-1/2 C D^-1/2 serve each s² C + t² D."""

    structure: Structure
    basis: FloatArray
    variance: FloatArray
    log_evidence: FloatArray

    @classmethod
    def of(cls, weighed: tuple[Structure, float], places: _Places, levels: FloatArray) -> _Tried:
        structure, log_prior = weighed
        signals, noises, log_priors = levels.T
        root = np.sqrt(places.noise_variance)
        eigenvalues, vectors = np.linalg.eigh(structure.covariance(places.points, places.points) / np.outer(root, root))
        basis = vectors / root[:, None]
        variance = np.outer(signals**2, np.maximum(eigenvalues, 0.0)) + noises[:, None] ** 2
        misfit = (1.0 / variance) @ np.square(basis.T @ places.values)
        log_determinant = np.log(2.0 * np.pi * variance).sum(axis=1) + 2.0 * np.log(root).sum()
        log_evidence = log_prior + log_priors - 0.5 * (misfit + log_determinant)
        return cls(structure=structure, basis=basis, variance=variance, log_evidence=log_evidence)

    def nodes(self, places: _Places, levels: FloatArray) -> Iterator[Conditioned]:
        """Yield the structure conditioned at every level."""
        for (signal, noise, _), variance, told in zip(levels, self.variance, self.log_evidence, strict=True):
            yield Conditioned(
                prior=self.structure._replace(signal=signal),
                sites=places.points,
                residual=places.values,
                noise_variance=noise**2 * places.noise_variance,
                basis_of=lambda: self.basis,
                precision=1.0 / variance,
                log_evidence=float(told),
            )


@lru_cache(maxsize=8)
def _structures(extent: tuple[float, float]) -> tuple[tuple[Structure, float], ...]:
    """Return every pair of length scales, along sides and diagonals, with every set of trends; and its log prior."""
    found = []
    for along, ratio in itertools.product(LENGTH_NODES, RATIO_NODES):
        length = LENGTH_SHARE * min(extent) * np.exp(LENGTH_LOG_STD * along)
        half = np.exp(0.5 * RATIO_LOG_STD * ratio)
        for diagonal, trends in itertools.product((False, True), TREND_SETS):
            lengths = float(length * half), float(length / half)
            found.append((Structure(extent, lengths, diagonal, trends), -0.5 * (along**2 + ratio**2)))
    return tuple(found)


def _levels(scale: float, claimed: bool, places: _Places) -> FloatArray:
    """Return signals [°C], noises over what is claimed, and their log prior with what repeats say, (j, 3)."""
    signal_nodes, noise_nodes = np.array(SIGNAL_NODES), np.array(CLAIMED_NODES if claimed else UNKNOWN_NODES)
    signal = SIGNAL * scale * np.exp(SIGNAL_LOG_STD * signal_nodes)
    median, log_std = (1.0, CLAIMED_LOG_STD) if claimed else (UNKNOWN_NOISE * scale, UNKNOWN_LOG_STD)
    noise = median * np.exp(log_std * noise_nodes)
    repeats = -0.5 * places.repeat_square / noise**2 - places.repeat_count * np.log(noise)
    signals, noises = np.meshgrid(signal, noise, indexing="ij")
    log_prior = -0.5 * signal_nodes[:, None] ** 2 + (repeats - 0.5 * noise_nodes**2)[None, :]
    return np.column_stack([signals.ravel(), noises.ravel(), log_prior.ravel()])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Places:
    """Readings merged by place: values (n,), variances of their noise (n,) as claimed or in units of one reading's, and
    what the differences of repeats say of the noise: their number and the sum of their squares in the same units.
    """

    points: FloatArray
    values: FloatArray
    noise_variance: FloatArray
    repeat_count: int = 0
    repeat_square: float = 0.0

    def only(self, kept: IntArray) -> _Places:
        """Return some of them."""
        points, values, noise_variance = self.points[kept], self.values[kept], self.noise_variance[kept]
        return _Places(points=points, values=values, noise_variance=noise_variance)


def _merge(points: FloatArray, values: FloatArray, claimed: FloatArray | None) -> _Places:
    """Merge what was read at one place; a map needs three places, not all in one line."""
    places, place = same_places(points)
    if len(places) < FEWEST_PLACES:
        raise MapError(
            f"{len(places)} place{'s' if len(places) != 1 else ''} with a reading; "
            f"a map needs at least {FEWEST_PLACES}, not all in one line."
        )
    # The thinner half-axis of the cloud of points against the wider: 1e-6 of a grate is less than a hair.
    widths = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    if widths[1] <= 1e-6 * widths[0]:
        raise MapError("all readings lie in one line; take at least one to the side of it, a map needs an area.")
    least = LEAST_NOISE * max(float(values.std()), LEAST_SPREAD_C)
    information = np.ones(len(values)) if claimed is None else 1.0 / np.maximum(claimed, least) ** 2
    total = np.bincount(place, information)
    merged = np.bincount(place, information * values) / total
    return _Places(
        points=places,
        values=merged,
        noise_variance=1.0 / total,
        repeat_count=len(values) - len(places),
        repeat_square=float((information * (values - merged[place]) ** 2).sum()),
    )


def _well_spread(points: FloatArray, count: int) -> IntArray:
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
