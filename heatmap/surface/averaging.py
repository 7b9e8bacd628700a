"""Average over what the readings cannot tell: kernel, trends, signal and noise levels.

For one kernel and one set of trends let B = D^-1/2 (K + T R² T') D^-1/2 = U diag(λ) U' be the correlation of the
places, trends integrated out with the prior standard deviations R (in units of the signal), whitened by the noise
*shape* D (own noise and finish of each place). For signal level s and noise level t the whitened readings have
covariance s² B + t² I, so one eigendecomposition serves every (s, t). Drift over time, whose prior is in °C, is
integrated out exactly beside it. The weight of each node is its marginal likelihood times its prior, and what is
reported is the mean and the variance of the mixture.

From coarse to fine: all kernels are tried with one set of trends (on a well spread part of the places where there are
many), and only those that may carry weight with every set and all places.

References
----------
C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (MIT Press 2006), sections 2.2, 2.7
(equations 2.39 to 2.45, trends with a Gaussian prior), 5.4.1 and 5.4.2 (marginal likelihood, leave-one-out).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from heatmap.surface.kernel import Correlation
from heatmap.surface.types import FloatArray, IntArray

KEPT_WEIGHT = 1e-2
"""Nodes whose weight is below this share of the greatest are left out of predictions."""
KEPT_SHARE = 0.1
"""So are kernels below this share where there are many places: each costs a prediction of its own, and with the
posterior that narrow its neighbours say the same."""
KEPT_LOG = 6.0
"""Kernels this far below the best in log posterior after the coarse pass are not looked at again."""
PILOT_PLACES = 48
"""The coarse pass looks at this many places at most."""
HALF_STEPS = (0.7, 1.0, 1.0 / 0.7)
"""Half a step of the grid of length scales, down and up."""
FINE_KERNELS = 20
"""The fine pass looks at this many kernels at most (fewer with more places, for its cost grows as their cube)."""
FINE_PAIRS = 80
"""With more places than the coarse pass looks at, the fine pass looks at this many pairs of a kernel and a set of
trends at most, fewer in the same way."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Problem:
    """What is to be fitted, in °C about the centre of the readings.

    ``values_c`` (n,) one per place, ``noise_c2`` (n,) the shape D, ``trend`` (n, p) the trend columns, ``drift``
    (n, q) and ``drift_precision`` (q, q) the drift columns and the inverse of their prior covariance; ``contrast_*``
    what repeats at one place tell about noise and drift without telling anything about the surface.
    """

    points_mm: FloatArray
    values_c: FloatArray
    noise_c2: FloatArray
    trend: FloatArray
    drift: FloatArray
    drift_precision: FloatArray
    contrast_count: int
    contrast_square: float
    contrast_drift: FloatArray
    contrast_gram: FloatArray

    def only(self, index: IntArray) -> Problem:
        """Return the problem with some of the places."""
        return replace(
            self,
            points_mm=self.points_mm[index],
            values_c=self.values_c[index],
            noise_c2=self.noise_c2[index],
            trend=self.trend[index],
            drift=self.drift[index],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Levels:
    """The grid of signal and noise levels with the logarithm of its prior, all (j,)."""

    signal_c2: FloatArray
    noise_ratio: FloatArray
    log_prior: FloatArray

    def only(self, index: IntArray) -> Levels:
        """Return some of the levels."""
        return Levels(
            signal_c2=self.signal_c2[index],
            noise_ratio=self.noise_ratio[index],
            log_prior=self.log_prior[index],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Nodes:
    """All levels for one kernel and one set of trends, with the posterior of the drift for each."""

    kernel: Correlation
    trend_std: FloatArray
    vectors: FloatArray
    eigenvalues: FloatArray
    rotated_values: FloatArray
    rotated_drift: FloatArray
    levels: Levels
    drift_mean: FloatArray
    drift_factor: FloatArray
    log_posterior: FloatArray

    def only(self, index: IntArray) -> Nodes:
        """Return the nodes at these indices."""
        return replace(
            self,
            levels=self.levels.only(index),
            drift_mean=self.drift_mean[index],
            drift_factor=self.drift_factor[index],
            log_posterior=self.log_posterior[index],
        )

    @property
    def inverse_variance(self) -> FloatArray:
        """1 / (s² λ + t²) for each node and eigenvector, (j, n)."""
        variance = self.levels.signal_c2[:, None] * self.eigenvalues + self.levels.noise_ratio[:, None] ** 2
        return np.asarray(1.0 / variance)


Candidate = tuple[Correlation, FloatArray, float]
"""A kernel, the standard deviations of the trends beside it, and the logarithm of its prior."""


def evaluate(problem: Problem, candidates: Sequence[Candidate], levels: Levels) -> list[Nodes]:
    """Work out every signal and noise level for each candidate, all at once."""
    whiten = 1.0 / np.sqrt(problem.noise_c2)
    trend_std = np.array([std for _, std, _ in candidates])
    correlation = correlations(problem.points_mm, [kernel for kernel, _, _ in candidates])
    scaled = problem.trend * trend_std[:, None, :]
    correlation += scaled @ np.swapaxes(scaled, 1, 2)
    eigenvalues, vectors = np.linalg.eigh(correlation * (whiten[:, None] * whiten))
    eigenvalues = np.maximum(eigenvalues, 0.0)
    turned = np.swapaxes(vectors, 1, 2)
    values = turned @ (whiten * problem.values_c)
    drift = turned @ (whiten[:, None] * problem.drift)
    noise2 = levels.noise_ratio**2
    weights = 1.0 / (levels.signal_c2[:, None] * eigenvalues[:, None, :] + noise2[:, None])

    square = (weights @ (values**2)[:, :, None])[:, :, 0] + problem.contrast_square / noise2
    log_determinant = -np.log(weights).sum(axis=2) + problem.contrast_count * np.log(noise2)
    mean, factor, gain = integrate_drift(problem, weights, values, drift, noise2)
    log_posterior = -0.5 * (square + log_determinant) + gain + levels.log_prior
    return [
        Nodes(
            kernel=kernel,
            trend_std=std,
            vectors=vectors[i],
            eigenvalues=eigenvalues[i],
            rotated_values=values[i],
            rotated_drift=drift[i],
            levels=levels,
            drift_mean=mean[i],
            drift_factor=factor[i],
            log_posterior=log_posterior[i] + log_prior,
        )
        for i, (kernel, std, log_prior) in enumerate(candidates)
    ]


def correlations(points_mm: FloatArray, kernels: Sequence[Correlation]) -> FloatArray:
    """Return the correlation matrices of the places, (k, n, n); neighbours in the list that are one kernel share."""
    result = np.empty((len(kernels), len(points_mm), len(points_mm)))
    for i, kernel in enumerate(kernels):
        result[i] = result[i - 1] if i and kernel is kernels[i - 1] else kernel(points_mm, points_mm)
    return result


def integrate_drift(
    problem: Problem, weights: FloatArray, values: FloatArray, drift: FloatArray, noise2: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return posterior mean (k, j, q), inverse Cholesky factor (k, j, q, q) and log evidence (k, j) of the drift."""
    k, j, n = weights.shape
    q = problem.drift.shape[1]
    if q == 0:
        return np.zeros((k, j, 0)), np.zeros((k, j, 0, 0)), np.zeros((k, j))
    outer = (drift[:, :, :, None] * drift[:, :, None, :]).reshape(k, n, q * q)
    precision = (weights @ outer).reshape(k, j, q, q) + problem.drift_precision
    precision += problem.contrast_gram / noise2[:, None, None]
    pull = weights @ (drift * values[:, :, None]) + problem.contrast_drift / noise2[:, None]
    factor = np.linalg.inv(np.linalg.cholesky(precision))  # L^-1, so that precision^-1 = L^-T L^-1
    half = np.einsum("kjab,kjb->kja", factor, pull)
    gain = 0.5 * (half**2).sum(axis=2) + np.log(np.einsum("kjaa->kja", factor)).sum(axis=2)
    return np.einsum("kjba,kjb->kja", factor, half), factor, gain


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One kernel's share of the mixture, ready for prediction.

    With z = (correlation with the places; trend columns) at a point, the part's mean is ``pull @ z`` and its second
    moment ``signal_c2 + z @ square @ z``: one quadratic form however many trends and levels were averaged.
    """

    kernel: Correlation
    members: tuple[tuple[Nodes, FloatArray], ...]
    weight: float
    signal_c2: float
    pull: FloatArray
    square: FloatArray


def summarise(problem: Problem, members: Sequence[tuple[Nodes, FloatArray]]) -> Part:
    """Fold all nodes of one kernel into a linear and a quadratic form; their weights sum to its share."""
    n, p = problem.trend.shape
    share = float(sum(weight.sum() for _, weight in members))
    pull, square, signal = np.zeros(n + p), np.zeros((n + p, n + p)), 0.0
    for nodes, weight in members:
        w = weight / share
        linear, quadratic, signal_c2 = fold(problem, nodes, w)
        expand = np.concatenate([np.eye(n), nodes.trend_std[:, None] ** 2 * problem.trend.T])
        pull += expand @ linear
        square += expand @ quadratic @ expand.T
        square[n:, n:] += signal_c2 * np.diag(nodes.trend_std**2)
        signal += signal_c2
    return Part(
        kernel=members[0][0].kernel,
        members=tuple(members),
        weight=share,
        signal_c2=signal,
        pull=pull,
        square=square,
    )


def fold(problem: Problem, nodes: Nodes, w: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Return mean (n,), second moment (n, n) about the prior variance, and prior variance, for weights w (j,)."""
    s2, inverse = nodes.levels.signal_c2, nodes.inverse_variance
    gain = s2[:, None] * inverse
    coefficient = gain * (nodes.rotated_values - nodes.drift_mean @ nodes.rotated_drift.T)
    columns = np.sqrt(w)[:, None] * coefficient
    if nodes.drift_mean.shape[1]:
        spread = (gain[:, :, None] * nodes.rotated_drift) @ np.swapaxes(nodes.drift_factor, 1, 2)
        spread = np.sqrt(w)[:, None, None] * spread
        columns = np.concatenate([columns, np.moveaxis(spread, 2, 1).reshape(-1, columns.shape[1])])
    square = columns.T @ columns
    square[np.diag_indices_from(square)] -= (w * s2**2) @ inverse
    back = nodes.vectors / np.sqrt(problem.noise_c2)[:, None]
    return back @ (w @ coefficient), back @ square @ back.T, float(w @ s2)


def average(
    problem: Problem, kernels: Sequence[tuple[Correlation, float]], trend_stds: FloatArray, levels: Levels
) -> list[Part]:
    """Average over kernels, sets of trends (v, p) and levels, from coarse to fine."""
    n = len(problem.values_c)
    pilot = problem if n <= PILOT_PLACES else problem.only(well_spread(problem.points_mm, PILOT_PLACES))
    coarse = evaluate(pilot, [(kernel, trend_stds[0], log) for kernel, log in kernels], levels)
    evidence = np.array([log_sum_exp(nodes.log_posterior) for nodes in coarse])
    share = min(1.0, PILOT_PLACES / n) ** 1.5
    order = np.argsort(-evidence, kind="stable")[: max(4, int(FINE_KERNELS * share))]
    chosen = [int(i) for i in order if evidence[i] >= evidence[order[0]] - KEPT_LOG]
    if pilot is problem:
        fine = evaluate(
            problem, [(*kernels[i][:1], std, kernels[i][1]) for i in chosen for std in trend_stds[1:]], levels
        )
        return mixture(problem, fine + [coarse[i] for i in chosen])
    candidates = [(kernels[i][0], std, kernels[i][1]) for i in chosen for std in trend_stds]
    on_pilot = np.array([log_sum_exp(nodes.log_posterior) for nodes in evaluate(pilot, candidates, levels)])
    pairs = np.argsort(-on_pilot, kind="stable")[: max(8, int(FINE_PAIRS * share))]
    fine = evaluate(problem, [candidates[i] for i in sorted(pairs)], levels)
    # With many readings the posterior is narrower than the grid: look half a step around the best.
    best = max(fine, key=lambda nodes: log_sum_exp(nodes.log_posterior))
    log_prior = next(kernels[i][1] for i in chosen if kernels[i][0] is best.kernel)
    around = [
        (best.kernel.stretched(first, second), best.trend_std, log_prior)
        for first in HALF_STEPS
        for second in HALF_STEPS
        if first != 1.0 or second != 1.0
    ]
    return mixture(problem, fine + evaluate(problem, around, levels))


def log_sum_exp(values: FloatArray) -> float:
    """Return the logarithm of a sum of exponentials."""
    top = float(values.max())
    return top + float(np.log(np.exp(values - top).sum()))


def well_spread(points_mm: FloatArray, count: int) -> IntArray:
    """Return places chosen one after another, each the farthest from those before, the first nearest the middle."""
    from_middle = ((points_mm - points_mm.mean(axis=0)) ** 2).sum(axis=1)
    chosen = [int(np.argmin(from_middle))]
    distance = ((points_mm - points_mm[chosen[0]]) ** 2).sum(axis=1)
    while len(chosen) < count:
        chosen.append(int(np.argmax(distance)))
        distance = np.minimum(distance, ((points_mm - points_mm[chosen[-1]]) ** 2).sum(axis=1))
    return np.array(sorted(chosen), dtype=np.int64)


def mixture(problem: Problem, evaluated: Sequence[Nodes]) -> list[Part]:
    """Weigh the nodes, drop those that carry nothing, and fold the rest into one part per kernel."""
    top = max(float(nodes.log_posterior.max()) for nodes in evaluated)
    raw = [np.exp(nodes.log_posterior - top) for nodes in evaluated]
    by_kernel: dict[int, list[int]] = {}
    for i, nodes in enumerate(evaluated):
        by_kernel.setdefault(id(nodes.kernel), []).append(i)
    share = {key: sum(float(raw[i].sum()) for i in group) for key, group in by_kernel.items()}
    least = KEPT_WEIGHT if len(problem.values_c) <= PILOT_PLACES else KEPT_SHARE
    kept = [key for key, value in share.items() if value >= least * max(share.values())]
    total = sum(share[key] for key in kept)
    parts = []
    for key in kept:
        group = [i for i in by_kernel[key] if raw[i].sum() >= KEPT_WEIGHT * share[key]]
        best = max(float(raw[i].max()) for i in group)
        few = [np.flatnonzero(raw[i] >= KEPT_WEIGHT * best).astype(np.int64) for i in group]
        scale = share[key] / total / sum(float(raw[i][f].sum()) for i, f in zip(group, few, strict=True))
        members = [(evaluated[i].only(f), raw[i][f] * scale) for i, f in zip(group, few, strict=True) if len(f)]
        parts.append(summarise(problem, members))
    return parts
