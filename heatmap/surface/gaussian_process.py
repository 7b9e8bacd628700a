"""The surface as a Gaussian process whose hyper-parameters are averaged over."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg.lapack import dpstrf

from heatmap.errors import InputError
from heatmap.surface.averaging import Part, Problem
from heatmap.surface.kernel import Kernel, Lines, lines_of
from heatmap.surface.places import Places, Readings, check_points
from heatmap.surface.surface import Surface
from heatmap.surface.trends import Trends
from heatmap.surface.types import FloatArray, IntArray

SMALLEST_PIVOT = 1e-5
"""A prior sample may lack this share of the variance at any point: 0.3 % of the signal's standard
deviation."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GaussianSurface(Surface):
    """A fitted Gaussian process: a mixture over kernels and levels.

    Made by :func:`heatmap.surface.fit_surface`; see there for what it answers.
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

    @property
    def noise_std_c(self) -> float:
        """Standard deviation of the noise of one reading as the readings show it, root mean square over them
        [°C]."""
        ratio2 = sum(float(part.node_weight @ part.nodes.levels.noise_ratio**2) for part in self.parts)
        return float(np.sqrt(ratio2 * np.mean(self.noise_shape_c**2)))

    def _features(self, part: Part, trend: FloatArray, lines: Lines, is_grid: bool) -> FloatArray:
        return np.concatenate([part.nodes.kernel.on_lines(self.places.points_mm, lines, is_grid), trend])

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
        return mean + self.centre_c, np.sqrt(np.maximum(second - mean**2, 0.0))

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
            second += part.weight * part.signal_c2 * part.nodes.kernel(a, b)
        return second - mean_a[:, None] * mean_b

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
        for part, nodes, rows in self._drawn_nodes(count, rng):
            features = self._features(part, trend, lines, is_grid)
            prior = prior_samples(part.nodes.kernel, everywhere, len(rows), rng)
            result[rows] = self._conditioned(part, nodes, prior, features, rng)
        return result + self.centre_c

    def _drawn_nodes(self, count: int, rng: np.random.Generator) -> Iterator[tuple[Part, IntArray, IntArray]]:
        """Deal the samples out to nodes by weight (systematic: as even as it can be) in random order."""
        weight = np.concatenate([part.node_weight for part in self.parts])
        steps = (np.arange(count) + rng.random()) / count
        drawn = np.minimum(np.searchsorted(np.cumsum(weight / weight.sum()), steps), len(weight) - 1)
        order = rng.permutation(count)
        first = 0
        for part in self.parts:
            mine = (drawn >= first) & (drawn < first + len(part.node_weight))
            if mine.any():
                yield part, drawn[mine] - first, order[mine]
            first += len(part.node_weight)

    def _conditioned(
        self, part: Part, drawn: IntArray, prior: FloatArray, features: FloatArray, rng: np.random.Generator
    ) -> FloatArray:
        nodes, problem = part.nodes, self.problem
        n, p = nodes.rotated_trend.shape
        whiten = 1.0 / np.sqrt(problem.noise_c2)
        signal = np.sqrt(nodes.levels.signal_c2[drawn])[:, None]
        noise = nodes.levels.noise_ratio[drawn][:, None]
        chance = rng.standard_normal((len(drawn), p))
        coefficient = nodes.trend_mean[drawn] + np.einsum("jab,ja->jb", nodes.trend_factor[drawn], chance)
        at_places = signal * prior[:, :n] * whiten + noise * rng.standard_normal((len(drawn), n))
        residual = nodes.rotated_values - coefficient @ nodes.rotated_trend.T - at_places @ nodes.vectors
        solved = signal**2 * residual * nodes.inverse_variance[drawn]
        move = (solved @ nodes.vectors.T) * whiten
        size = len(features)
        combined = np.concatenate([move, coefficient[:, : size - n]], axis=1)
        return signal * prior[:, n:] + combined @ features

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
        return mean[place] + self.centre_c + drift_c, np.sqrt(variance)[place]


def drift_moments(parts: Sequence[Part], count: int) -> tuple[FloatArray, FloatArray]:
    """Return posterior mean and standard deviation of the last ``count`` trend coefficients, (count,)."""
    mean, second = np.zeros(count), np.zeros(count)
    for part in parts:
        first = part.nodes.trend_mean.shape[1] - count
        coefficient = part.nodes.trend_mean[:, first:]
        variance = (part.nodes.trend_factor[:, :, first:] ** 2).sum(axis=1)
        mean += part.node_weight @ coefficient
        second += part.node_weight @ (coefficient**2 + variance)
    return mean, np.sqrt(np.maximum(second - mean**2, 0.0))


def prior_samples(kernel: Kernel, everywhere: Lines, count: int, rng: np.random.Generator) -> FloatArray:
    """Return unit-variance random surfaces of one kernel at all points, (count, points)."""
    factor_x = root(kernel.along(0, everywhere.x_mm, everywhere.x_mm))
    factor_y = root(kernel.along(1, everywhere.y_mm, everywhere.y_mm))
    chance = rng.standard_normal((count, factor_y.shape[1], factor_x.shape[1]))
    on_lines = factor_y @ (chance @ factor_x.T)
    surfaces: FloatArray = on_lines[:, everywhere.y_of_point, everywhere.x_of_point]
    return surfaces


def root(correlation: FloatArray) -> FloatArray:
    """Return F, as narrow as it can be, with F F' equal to a correlation matrix (pivoted Cholesky)."""
    factor, pivot, rank, _ = dpstrf(correlation, tol=SMALLEST_PIVOT, lower=1)
    rows: FloatArray = np.empty((len(correlation), rank))
    rows[pivot - 1] = np.tril(factor)[:, :rank]
    return rows


def leave_place_out(problem: Problem, parts: tuple[Part, ...]) -> tuple[FloatArray, FloatArray]:
    """Return mean and variance of the surface at each place from the others, drift at its posterior mean.

    Each node's weight is divided by how likely it held the place left out, which is what fitting again
    without the place would do; the means and variances are Rasmussen and Williams' equations 5.10 to 5.12
    with trends.
    """
    logs, means, variances = [], [], []
    for part in parts:
        node_means, node_totals = leave_out_of_nodes(problem, part)
        noise = part.nodes.levels.noise_ratio[:, None] ** 2 * problem.noise_c2
        misfit = (problem.values_c - node_means) ** 2 / node_totals
        logs.append(np.log(part.node_weight)[:, None] + 0.5 * (misfit + np.log(node_totals)))
        means.append(node_means)
        variances.append(np.maximum(node_totals - noise, 0.0))
    log, mean, variance = (np.concatenate(rows) for rows in (logs, means, variances))
    weight = np.exp(log - log.max(axis=0))
    weight /= weight.sum(axis=0)
    average = (weight * mean).sum(axis=0)
    return average, (weight * (variance + (mean - average) ** 2)).sum(axis=0)


def leave_out_of_nodes(problem: Problem, part: Part) -> tuple[FloatArray, FloatArray]:
    """Return for each node the mean and total variance (noise included) of each place from the others, (j,
    n)."""
    nodes = part.nodes
    inverse = nodes.inverse_variance
    residual = nodes.rotated_values - nodes.trend_mean @ nodes.rotated_trend.T
    solved = (inverse * residual) @ nodes.vectors.T
    diagonal = inverse @ (nodes.vectors**2).T
    weighted = nodes.vectors @ (inverse[:, :, None] * nodes.rotated_trend)
    diagonal -= ((weighted @ np.swapaxes(nodes.trend_factor, 1, 2)) ** 2).sum(axis=2)
    scale = np.sqrt(problem.noise_c2)
    return problem.values_c - solved / diagonal * scale, problem.noise_c2 / diagonal
