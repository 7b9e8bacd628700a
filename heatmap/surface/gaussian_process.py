"""The surface as a Gaussian process whose hyper-parameters are averaged over."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from heatmap.errors import InputError
from heatmap.surface.averaging import Part, Problem, inverse_variances
from heatmap.surface.kernel import Correlation, DiagonalKernel, Kernel, Lines, lines_of, on_lines
from heatmap.surface.places import Places, Readings, check_points
from heatmap.surface.surface import Surface
from heatmap.surface.trends import Trends
from heatmap.surface.types import FloatArray, IntArray

SMALLEST_PIVOT = 1e-5
"""A prior sample may lack this share of the variance at any point: 0.3 % of the signal's standard
deviation."""
MOST_PIVOTS = 300
"""A prior sample off the grid lines is made of this many random numbers at most; what is missing is added as
independent chance."""
FEW_POINTS = 1000
"""The roots of prior samples depend on kernel and points alone, which are the same for every round on a grate: they are
kept for up to this many points (a grate's cells of an inch), 2 MB each at most."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GaussianSurface(Surface):
    """A fitted Gaussian process: a mixture over kernels and levels.

    Made by :func:`heatmap.surface.fit_surface`; see there for what it answers. ``widening`` multiplies every
    standard deviation it gives.
    """

    method: str
    readings: Readings
    places: Places
    problem: Problem
    parts: tuple[Part, ...]
    trends: Trends
    centre_c: float
    drift: FloatArray
    drift_mean_c: FloatArray
    drift_std_c: FloatArray
    noise_shape_c: FloatArray
    widening: float = 1.0

    @property
    def noise_std_c(self) -> float:
        """Standard deviation of the noise of one reading as the readings show it, root mean square over them
        [°C]."""
        ratio2 = sum(float(part.node_weight @ part.nodes.levels.noise_ratio[part.at_level] ** 2) for part in self.parts)
        return float(np.sqrt(ratio2 * np.mean(self.noise_shape_c**2)))

    def _features(self, part: Part, trend: FloatArray, lines: Lines, is_grid: bool) -> FloatArray:
        return np.concatenate([on_lines(part.kernel, self.places.points_mm, lines, is_grid), trend])

    def predict(self, points_mm: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return mean and standard deviation of the noise-free surface.

        Parameters
        ----------
        points_mm : array_like, (m, 2)
            Where [mm].

        Returns
        -------
        mean_c, own_std_c : array, (m,)
            [°C]; the spread is of the surface itself, without the noise of a reading.
        """
        points = check_points(points_mm)
        mean = np.zeros(len(points))
        second = np.zeros(len(points))
        trend = self.trends.columns(points).T
        lines = lines_of(points)
        is_grid = lines.is_grid
        for part in self.parts:
            features = self._features(part, trend, lines, is_grid)
            size = len(features)
            mean += part.weight * (part.pull[:size] @ features)
            square = np.einsum("ij,ij->j", part.square[:size, :size] @ features, features)
            second += part.weight * (part.signal_c2 + square)
        return mean + self.centre_c, self.widening * np.sqrt(np.maximum(second - mean**2, 0.0))

    def mean(self, points_mm: ArrayLike) -> FloatArray:
        """Return the mean of the noise-free surface at points, (m,) [°C]: quicker than :meth:`predict`."""
        points = check_points(points_mm)
        lines, places_mm = lines_of(points), self.places.points_mm
        is_grid, n = lines.is_grid, len(places_mm)
        of_trend = np.zeros(self.problem.trend.shape[1])
        mean = np.zeros(len(points))
        for part in self.parts:
            weights = part.weight * part.pull[:n]
            mean += weights @ on_lines(part.kernel, places_mm, lines, is_grid)
            of_trend += part.weight * part.pull[n:]
        return np.asarray(mean + self.trends.columns(points) @ of_trend + self.centre_c)

    def covariance(self, points_a_mm: ArrayLike, points_b_mm: ArrayLike) -> FloatArray:
        """Return the posterior covariance of the noise-free surface between two sets of points, (a, b)
        [°C²]."""
        a, b = check_points(points_a_mm, "points_a_mm"), check_points(points_b_mm, "points_b_mm")
        lines_a, lines_b = lines_of(a), lines_of(b)
        trend_a, trend_b = self.trends.columns(a).T, self.trends.columns(b).T
        second = np.zeros((len(a), len(b)))
        mean_a, mean_b = np.zeros(len(a)), np.zeros(len(b))
        for part in self.parts:
            features_a = self._features(part, trend_a, lines_a, lines_a.is_grid)
            features_b = self._features(part, trend_b, lines_b, lines_b.is_grid)
            size = len(features_a)
            mean_a += part.weight * (part.pull[:size] @ features_a)
            mean_b += part.weight * (part.pull[:size] @ features_b)
            second += part.weight * (features_a.T @ part.square[:size, :size] @ features_b)
            second += part.weight * part.signal_c2 * part.kernel(a, b)
        return self.widening**2 * (second - mean_a[:, None] * mean_b)

    def sample(self, points_mm: ArrayLike, count: int, rng: np.random.Generator) -> FloatArray:
        """Return joint samples of the noise-free surface.

        Parameters
        ----------
        points_mm : array_like, (m, 2)
            Where [mm].
        count : int
            How many samples.
        rng : numpy.random.Generator
            The source of chance.

        Returns
        -------
        array, (count, m)
            [°C].

        Notes
        -----
        Matheron's rule: a random surface and random readings of it from the prior, moved by what the true
        readings differ from the random ones. On grid lines the random surface is Lx Z Ly'.
        """
        if count < 1:
            raise InputError(f"count is {count}; ask for at least 1 sample.")
        points = check_points(points_mm)
        everywhere = lines_of(np.concatenate([self.places.points_mm, points]))
        trend = self.trends.columns(points).T
        lines = lines_of(points)
        is_grid = lines.is_grid
        result = np.empty((count, len(points)))
        for part, drawn, rows in self._dealt(count, rng):
            prior = prior_samples(part.kernel, everywhere, len(rows), rng)
            features = self._features(part, trend, lines, is_grid)
            result[rows] = self._conditioned(part, drawn, prior, features, rng)
        if self.widening != 1.0:
            mean = self.mean(points) - self.centre_c
            result = mean + self.widening * (result - mean)
        return result + self.centre_c

    def _dealt(self, count: int, rng: np.random.Generator) -> Iterator[tuple[Part, IntArray, IntArray]]:
        """Deal the samples out to nodes by weight (systematic: as even as it can be) in random order.

        Yields each part with the nodes drawn, in their order, and the samples that are theirs.
        """
        weight = np.concatenate([part.node_weight for part in self.parts])
        steps = (np.arange(count) + rng.random()) / count
        drawn = np.minimum(np.searchsorted(np.cumsum(weight / weight.sum()), steps), len(weight) - 1)
        order = rng.permutation(count)
        first = 0
        for part in self.parts:
            begin, end = np.searchsorted(drawn, [first, first + len(part.node_weight)])
            if end > begin:
                yield part, drawn[begin:end] - first, order[begin:end]
            first += len(part.node_weight)

    def _conditioned(
        self, part: Part, drawn: IntArray, prior: FloatArray, features: FloatArray, rng: np.random.Generator
    ) -> FloatArray:
        """Move random surfaces from the prior of one kernel by what the readings differ from theirs."""
        problem, nodes = self.problem, part.nodes
        row, level = part.of_node[drawn], part.at_level[drawn]
        n, p = problem.trend.shape
        count, whiten = len(drawn), 1.0 / np.sqrt(problem.noise_c2)
        signal = np.sqrt(nodes.levels.signal_c2[level])[:, None]
        noise = nodes.levels.noise_ratio[level][:, None]
        trend, chance, at_places = np.empty((count, p)), np.empty((count, self.drift.shape[1])), np.empty((count, n))
        starts = np.flatnonzero(np.diff(row, prepend=-1)).tolist()
        hands = [slice(*ends) for ends in zip(starts, [*starts[1:], count], strict=True)]
        for mine in hands:
            for numbers in (trend, chance, at_places):
                rng.standard_normal(out=numbers[mine])
        trend *= nodes.trend_std[row]
        at_places = signal * (prior[:, :n] + trend @ problem.trend.T) * whiten + noise * at_places
        residual = nodes.rotated_values[row]
        for mine in hands:
            residual[mine] -= at_places[mine] @ nodes.vectors[row[mine.start]]
        if chance.shape[1]:
            drift = nodes.drift_mean[row, level] + (nodes.drift_factor[row, level] * chance[:, :, None]).sum(axis=1)
            residual -= (nodes.rotated_drift[row] * drift[:, None, :]).sum(axis=2)
        residual /= signal**2 * nodes.eigenvalues[row] + noise**2
        move = np.empty((count, n))
        for mine in hands:
            move[mine] = residual[mine] @ nodes.vectors[row[mine.start]].T
        move *= signal**2 * whiten
        trend = signal * trend + (move @ problem.trend) * nodes.trend_std[row] ** 2
        return np.asarray(signal * prior[:, n:] + np.concatenate([move, trend], axis=1) @ features)

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return what the other places say about each reading.

        Returns
        -------
        mean_c : array, (n,)
            What the reading should have been, its own drift included [°C].
        std_c : array, (n,)
            Standard deviation of the noise-free surface there [°C]: a reading scatters about the mean by this
            and by its own noise.
        """
        mean, variance = leave_place_out(self.problem, self.parts)
        place = self.places.place_of_reading
        drift_c = self.drift @ self.drift_mean_c if self.drift.shape[1] else np.zeros(len(place))
        return mean[place] + self.centre_c + drift_c, self.widening * np.sqrt(variance)[place]


def drift_moments(parts: Sequence[Part], count: int) -> tuple[FloatArray, FloatArray]:
    """Return posterior mean and standard deviation of the drift coefficients, (count,)."""
    if not count:
        return np.zeros(0), np.zeros(0)
    weight = np.concatenate([part.node_weight for part in parts])
    means = np.concatenate([part.nodes.drift_mean[part.of_node, part.at_level] for part in parts])
    factors = np.concatenate([part.nodes.drift_factor[part.of_node, part.at_level] for part in parts])
    mean = weight @ means
    second = weight @ (means**2 + (factors**2).sum(axis=1))
    return mean, np.sqrt(np.maximum(second - mean**2, 0.0))


def prior_samples(kernel: Correlation, everywhere: Lines, count: int, rng: np.random.Generator) -> FloatArray:
    """Return unit-variance random surfaces of one kernel at all points, (count, points)."""
    if isinstance(kernel, Kernel):
        factor_x, factor_y = line_root(kernel, 0, everywhere.x_mm), line_root(kernel, 1, everywhere.y_mm)
        chance = rng.standard_normal((count, factor_y.shape[1], factor_x.shape[1]))
        points, rank = len(everywhere.x_of_point), factor_y.shape[1]
        if len(everywhere.x_mm) * len(everywhere.y_mm) > rank * points:  # many points, each on lines of its own
            along_x = chance @ factor_x.T[:, everywhere.x_of_point]
            return np.asarray((along_x * factor_y.T[:, everywhere.y_of_point]).sum(axis=1))
        on_lines = factor_y @ (chance @ factor_x.T)
        surfaces: FloatArray = on_lines[:, everywhere.y_of_point, everywhere.x_of_point]
        return surfaces
    factor, missing = scattered_root(kernel, everywhere)
    samples: FloatArray = rng.standard_normal((count, len(factor))) @ factor
    if missing.max() > SMALLEST_PIVOT:
        samples += np.sqrt(missing) * rng.standard_normal(samples.shape)
    return samples


def scattered_root(kernel: Correlation, everywhere: Lines) -> tuple[FloatArray, FloatArray]:
    """Return F (r, points) with F' F close to the correlation of all points, and the variance it lacks (points,).

    The matrix itself is never built, only the columns that are asked for.
    """
    points = np.stack([everywhere.x_mm[everywhere.x_of_point], everywhere.y_mm[everywhere.y_of_point]], axis=1)
    if not isinstance(kernel, DiagonalKernel):
        return pivoted_root(lambda pivot: kernel(points[pivot : pivot + 1], points)[0], len(points), MOST_PIVOTS)
    known = _known_scattered_root if len(points) <= FEW_POINTS else _known_scattered_root.__wrapped__
    return known(kernel, points.tobytes())


@lru_cache(maxsize=64)
def _known_scattered_root(kernel: DiagonalKernel, points: bytes) -> tuple[FloatArray, FloatArray]:
    points_mm = np.frombuffer(points).reshape(-1, 2)
    factor, missing = pivoted_root(kernel.row_of(points_mm), len(points_mm), MOST_PIVOTS)
    return _fixed(factor.copy()), _fixed(missing)


def line_root(kernel: Kernel, axis: int, where_mm: FloatArray) -> FloatArray:
    """Return F (lines, r) with F F' the correlation of lines along one axis."""
    length = kernel.length_mm[axis]
    return _known_line_root(replace(kernel, length_mm=(length, length)), axis, where_mm.tobytes())


@lru_cache(maxsize=64)
def _known_line_root(kernel: Kernel, axis: int, where: bytes) -> FloatArray:
    where_mm = np.frombuffer(where)
    return _fixed(root(kernel.along(axis, where_mm, where_mm)))


def _fixed(array: FloatArray) -> FloatArray:
    array.setflags(write=False)
    return array


def root(correlation: FloatArray) -> FloatArray:
    """Return F, as narrow as it can be, with F F' equal to a correlation matrix."""
    factor, _ = pivoted_root(lambda pivot: correlation[pivot], len(correlation), len(correlation))
    return factor.T


def pivoted_root(column: Callable[[int], FloatArray], size: int, most: int) -> tuple[FloatArray, FloatArray]:
    """Return F (r, size) with F' F close to a correlation matrix given by its columns, and the variance it lacks.

    Pivoted Cholesky (N. J. Higham, Accuracy and Stability of Numerical Algorithms, 2002, section 10.3), column by
    column. The one of LAPACK would be no quicker at these sizes, and importing it takes longer than a whole map.
    """
    factor = np.empty((min(most, size), size))
    missing = np.ones(size)
    rank = 0
    while rank < len(factor):
        pivot = int(np.argmax(missing))
        if missing[pivot] <= SMALLEST_PIVOT:
            break
        factor[rank] = (column(pivot) - factor[:rank, pivot] @ factor[:rank]) / np.sqrt(missing[pivot])
        missing = np.maximum(missing - factor[rank] ** 2, 0.0)
        rank += 1
    return factor[:rank], missing


def leave_place_out(problem: Problem, parts: tuple[Part, ...]) -> tuple[FloatArray, FloatArray]:
    """Return mean and variance of the surface at each place from the others, drift at its posterior mean.

    Each node's weight is divided by how likely it held the place left out, which is what fitting again
    without the place would do; the means and variances are Rasmussen and Williams' equations 5.10 to 5.12
    with trends.
    """
    logs, means, variances = [], [], []
    for part in parts:
        for node in np.unique(part.of_node).tolist():
            at = part.at_level[part.of_node == node]
            node_means, node_totals = leave_out_of_node(problem, part, node, at)
            noise = part.nodes.levels.noise_ratio[at, None] ** 2 * problem.noise_c2
            misfit = (problem.values_c - node_means) ** 2 / node_totals
            weight = part.node_weight[part.of_node == node, None]
            logs.append(np.log(weight) + 0.5 * (misfit + np.log(node_totals)))
            means.append(node_means)
            variances.append(np.maximum(node_totals - noise, 0.0))
    log, mean, variance = (np.concatenate(rows) for rows in (logs, means, variances))
    weight = np.exp(log - log.max(axis=0))
    weight /= weight.sum(axis=0)
    average = (weight * mean).sum(axis=0)
    return average, (weight * (variance + (mean - average) ** 2)).sum(axis=0)


def leave_out_of_node(problem: Problem, part: Part, node: int, at: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return for some levels of a node what the others say of each place: mean and variance with noise, (j, n)."""
    nodes, vectors, drift = part.nodes, part.nodes.vectors[node], part.nodes.rotated_drift[node]
    inverse = inverse_variances(nodes.levels, nodes.eigenvalues[node])[at]
    residual = nodes.rotated_values[node] - nodes.drift_mean[node, at] @ drift.T
    solved = (inverse * residual) @ vectors.T
    diagonal = inverse @ (vectors**2).T
    if drift.shape[1]:
        weighted = vectors @ (inverse[:, :, None] * drift)
        diagonal -= ((weighted @ np.swapaxes(nodes.drift_factor[node, at], 1, 2)) ** 2).sum(axis=2)
    scale = np.sqrt(problem.noise_c2)
    return problem.values_c - solved / diagonal * scale, problem.noise_c2 / diagonal
