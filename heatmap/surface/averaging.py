"""Average over what the readings cannot tell: length scales, signal and noise levels, with the trends
integrated out.

For one pair of length scales let B = D^-1/2 K D^-1/2 = U diag(λ) U' be the correlation of the places,
whitened by the noise *shape* D (own noise and finish of each place). For signal level s and noise level t the
whitened readings have covariance s² B + t² I + T Q T', so one eigendecomposition serves every (s, t). The
trend coefficients (prior covariance Q) are integrated out exactly. The weight of each node of the grid is its
marginal likelihood times its prior, and what is reported is the mean and the variance of the mixture.

References
----------
C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (MIT Press 2006), sections 2.2,
2.7 (equations 2.39 to 2.45, trends with a Gaussian prior), 5.4.1 and 5.4.2 (marginal likelihood, leave-one-
out).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatmap.surface.kernel import Kernel
from heatmap.surface.types import FloatArray, IntArray

KEPT_WEIGHT = 1e-3
"""Length-scale pairs whose weight is below this share of the greatest are left out of predictions."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Problem:
    """What is to be fitted, in °C about the centre of the readings.

    ``values_c`` (n,) one per place, ``noise_c2`` (n,) the shape D, ``trend`` (n, p) and ``trend_precision``
    (p, p) the trend columns and the inverse of their prior covariance; ``contrast_*`` what repeats at one
    place tell about noise and trend (drift) without telling anything about the surface.
    """

    points_mm: FloatArray
    values_c: FloatArray
    noise_c2: FloatArray
    trend: FloatArray
    trend_precision: FloatArray
    contrast_count: int
    contrast_square: float
    contrast_trend: FloatArray
    contrast_gram: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Levels:
    """The grid of signal and noise levels with the logarithm of its prior, all (j,)."""

    signal_c2: FloatArray
    noise_ratio: FloatArray
    log_prior: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Nodes:
    """All levels for one kernel: the eigendecomposition and, per node, the posterior of the trend
    coefficients."""

    kernel: Kernel
    vectors: FloatArray
    eigenvalues: FloatArray
    rotated_values: FloatArray
    rotated_trend: FloatArray
    levels: Levels
    trend_mean: FloatArray
    trend_factor: FloatArray
    log_posterior: FloatArray

    def only(self, index: IntArray) -> Nodes:
        """Return the nodes at these indices."""
        levels = Levels(
            signal_c2=self.levels.signal_c2[index],
            noise_ratio=self.levels.noise_ratio[index],
            log_prior=self.levels.log_prior[index],
        )
        return Nodes(
            kernel=self.kernel,
            vectors=self.vectors,
            eigenvalues=self.eigenvalues,
            rotated_values=self.rotated_values,
            rotated_trend=self.rotated_trend,
            levels=levels,
            trend_mean=self.trend_mean[index],
            trend_factor=self.trend_factor[index],
            log_posterior=self.log_posterior[index],
        )

    @property
    def inverse_variance(self) -> FloatArray:
        """1 / (s² λ + t²) for each node and eigenvector, (j, n)."""
        return 1.0 / (
            self.levels.signal_c2[:, None] * self.eigenvalues + self.levels.noise_ratio[:, None] ** 2
        )


def evaluate(problem: Problem, kernel: Kernel, log_prior: float, levels: Levels) -> Nodes:
    """Work out every signal and noise level for one kernel."""
    whiten = 1.0 / np.sqrt(problem.noise_c2)
    correlation = kernel(problem.points_mm, problem.points_mm)
    eigenvalues, vectors = np.linalg.eigh(whiten[:, None] * correlation * whiten)
    eigenvalues = np.maximum(eigenvalues, 0.0)
    values = vectors.T @ (whiten * problem.values_c)
    trend = vectors.T @ (whiten[:, None] * problem.trend)
    noise2 = levels.noise_ratio**2
    weights = 1.0 / (levels.signal_c2[:, None] * eigenvalues + noise2[:, None])

    n, p = trend.shape
    outer = (trend[:, :, None] * trend[:, None, :]).reshape(n, p * p)
    precision = (weights @ outer).reshape(-1, p, p) + problem.trend_precision
    precision += problem.contrast_gram / noise2[:, None, None]
    pull = weights @ (trend * values[:, None]) + problem.contrast_trend / noise2[:, None]
    square = weights @ values**2 + problem.contrast_square / noise2

    factor = np.linalg.inv(np.linalg.cholesky(precision))  # L^-1, so that precision^-1 = L^-T L^-1
    half = np.einsum("jab,jb->ja", factor, pull)
    log_determinant = (
        -np.log(weights).sum(axis=1)
        + problem.contrast_count * np.log(noise2)
        - 2.0 * np.log(np.einsum("jaa->ja", factor)).sum(axis=1)
    )
    log_likelihood = -0.5 * (square - (half**2).sum(axis=1) + log_determinant)
    return Nodes(
        kernel=kernel,
        vectors=vectors,
        eigenvalues=eigenvalues,
        rotated_values=values,
        rotated_trend=trend,
        levels=levels,
        trend_mean=np.einsum("jba,jb->ja", factor, half),
        trend_factor=factor,
        log_posterior=log_likelihood + levels.log_prior + log_prior,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One kernel's share of the mixture, ready for prediction.

    With z = (correlation with the places; trend columns) at a point, the part's mean is ``pull @ z`` and its
    second moment ``signal_c2 + z @ square @ z``: one quadratic form however many levels were averaged.
    """

    nodes: Nodes
    node_weight: FloatArray
    weight: float
    signal_c2: float
    pull: FloatArray
    square: FloatArray


def summarise(problem: Problem, nodes: Nodes, node_weight: FloatArray) -> Part:
    """Fold the levels of one kernel into a linear and a quadratic form; ``node_weight`` (j,) sums to the
    share."""
    share = float(node_weight.sum())
    w = node_weight / share
    n, p = nodes.rotated_trend.shape
    s2 = nodes.levels.signal_c2
    inverse = nodes.inverse_variance
    residual = nodes.rotated_values - nodes.trend_mean @ nodes.rotated_trend.T
    coefficient = np.concatenate([s2[:, None] * inverse * residual, nodes.trend_mean], axis=1)

    # Columns of R L^-T with R = (-s² diag(inverse) T; I): what uncertain trends add to the variance.
    spread = np.empty((len(w), n + p, p))
    weighted = -(s2[:, None] * inverse)[:, :, None] * nodes.rotated_trend
    spread[:, :n] = weighted @ np.swapaxes(nodes.trend_factor, 1, 2)
    spread[:, n:] = np.swapaxes(nodes.trend_factor, 1, 2)
    columns = np.concatenate(
        [np.sqrt(w)[:, None, None] * spread, (np.sqrt(w)[:, None] * coefficient)[:, :, None]], axis=2
    )
    stacked = np.swapaxes(columns, 0, 1).reshape(n + p, -1)
    square = stacked @ stacked.T
    square[np.arange(n), np.arange(n)] -= (w * s2**2) @ inverse

    rotate = np.zeros((n + p, n + p))
    rotate[:n, :n] = nodes.vectors / np.sqrt(problem.noise_c2)[:, None]
    rotate[n:, n:] = np.eye(p)
    return Part(
        nodes=nodes,
        node_weight=node_weight,
        weight=share,
        signal_c2=float(w @ s2),
        pull=rotate @ (w @ coefficient),
        square=rotate @ square @ rotate.T,
    )


def mixture(problem: Problem, evaluated: list[Nodes]) -> list[Part]:
    """Weigh the nodes, drop those that carry nothing, and fold the rest into parts."""
    top = max(float(nodes.log_posterior.max()) for nodes in evaluated)
    raw = [np.exp(nodes.log_posterior - top) for nodes in evaluated]
    greatest = max(float(weight.sum()) for weight in raw)
    kept = [i for i, weight in enumerate(raw) if weight.sum() >= KEPT_WEIGHT * greatest]
    total = sum(float(raw[i].sum()) for i in kept)
    parts = []
    for i in kept:
        few = np.flatnonzero(raw[i] >= KEPT_WEIGHT * raw[i].max()).astype(np.int64)
        share = raw[i].sum() / total
        weight = raw[i][few] / raw[i][few].sum() * share
        parts.append(summarise(problem, evaluated[i].only(few), weight))
    return parts
