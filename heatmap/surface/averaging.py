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

from heatmap.surface.kernel import Correlation, correlations
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
MOST_NUMBERS = 4_000_000
"""Matrices of places are worked on in blocks of so many numbers (32 MB); only many readings need more than one."""
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Nodes:
    """Every level for each of k candidates (a kernel and a set of trends), with the posterior of the drift for each.

    All arrays have the candidates first: ``vectors`` (k, n, n) and ``eigenvalues`` (k, n) of the whitened correlation,
    values (k, n) and drift (k, n, q) turned into that basis, and by level ``drift_mean`` (k, j, q), ``drift_factor``
    (k, j, q, q) and ``log_posterior`` (k, j).
    """

    kernels: tuple[Correlation, ...]
    levels: Levels
    trend_std: FloatArray
    vectors: FloatArray
    eigenvalues: FloatArray
    rotated_values: FloatArray
    rotated_drift: FloatArray
    drift_mean: FloatArray
    drift_factor: FloatArray
    log_posterior: FloatArray

    def only(self, index: IntArray | slice) -> Nodes:
        """Return some of the candidates."""
        kernels = self.kernels[index] if isinstance(index, slice) else tuple(self.kernels[i] for i in index.tolist())
        some = {name: getattr(self, name)[index] for name in _BY_CANDIDATE}
        return Nodes(kernels=kernels, levels=self.levels, **some)

    @classmethod
    def joined(cls, pieces: Sequence[Nodes]) -> Nodes:
        """Return the candidates of all pieces, which have the same levels."""
        if len(pieces) == 1:
            return pieces[0]
        return cls(
            kernels=tuple(kernel for piece in pieces for kernel in piece.kernels),
            levels=pieces[0].levels,
            **{name: np.concatenate([getattr(piece, name) for piece in pieces]) for name in _BY_CANDIDATE},
        )

    @property
    def log_evidence(self) -> FloatArray:
        """Logarithm of the evidence of each candidate, all levels together, (k,)."""
        top = self.log_posterior.max(axis=1)
        return np.asarray(top + np.log(np.exp(self.log_posterior - top[:, None]).sum(axis=1)))


_BY_CANDIDATE = tuple(
    "trend_std vectors eigenvalues rotated_values rotated_drift drift_mean drift_factor log_posterior".split()
)


def inverse_variances(levels: Levels, eigenvalues: FloatArray) -> FloatArray:
    """Return 1 / (s² λ + t²) for levels (j,) and eigenvalues (…, n), (…, j, n)."""
    variance = levels.signal_c2[:, None] * eigenvalues[..., None, :] + levels.noise_ratio[:, None] ** 2
    return np.asarray(1.0 / variance)


Candidate = tuple[Correlation, FloatArray, float]
"""A kernel, the standard deviations of the trends beside it, and the logarithm of its prior."""


def evaluate(problem: Problem, candidates: Sequence[Candidate], levels: Levels) -> Nodes:
    """Work out every signal and noise level for each candidate, as many at once as memory allows."""
    step = max(1, MOST_NUMBERS // len(problem.values_c) ** 2)
    blocks = [candidates[start : start + step] for start in range(0, len(candidates), step)]
    return Nodes.joined([_evaluate(problem, block, levels) for block in blocks])


def _evaluate(problem: Problem, candidates: Sequence[Candidate], levels: Levels) -> Nodes:
    whiten = 1.0 / np.sqrt(problem.noise_c2)
    trend_std = np.array([std for _, std, _ in candidates])
    different = list(dict.fromkeys(kernel for kernel, _, _ in candidates))
    number = {kernel: i for i, kernel in enumerate(different)}
    correlation = correlations(problem.points_mm, different)
    if len(different) < len(candidates):
        correlation = correlation[[number[kernel] for kernel, _, _ in candidates]]
    scaled = problem.trend * trend_std[:, None, :]
    correlation = correlation + scaled @ np.swapaxes(scaled, 1, 2)
    eigenvalues, vectors = np.linalg.eigh(correlation * (whiten[:, None] * whiten))
    eigenvalues = np.maximum(eigenvalues, 0.0)
    turned = np.swapaxes(vectors, 1, 2)
    values = turned @ (whiten * problem.values_c)
    drift = turned @ (whiten[:, None] * problem.drift)
    noise2 = levels.noise_ratio**2
    weights = inverse_variances(levels, eigenvalues)

    square = (weights @ (values**2)[:, :, None])[:, :, 0] + problem.contrast_square / noise2
    log_determinant = -np.log(weights).sum(axis=2) + problem.contrast_count * np.log(noise2)
    mean, factor, gain = integrate_drift(problem, weights, values, drift, noise2)
    log_posterior = -0.5 * (square + log_determinant) + gain + levels.log_prior
    log_posterior += np.array([log_prior for _, _, log_prior in candidates])[:, None]
    return Nodes(
        kernels=tuple(kernel for kernel, _, _ in candidates),
        levels=levels,
        trend_std=trend_std,
        vectors=vectors,
        eigenvalues=eigenvalues,
        rotated_values=values,
        rotated_drift=drift,
        drift_mean=mean,
        drift_factor=factor,
        log_posterior=log_posterior,
    )


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
    factor = inverse_cholesky(precision)  # L^-1, so that precision^-1 = L^-T L^-1
    half = (factor * pull[:, :, None, :]).sum(axis=3)
    gain = 0.5 * (half**2).sum(axis=2) + np.log(np.diagonal(factor, axis1=2, axis2=3)).sum(axis=2)
    return (factor * half[:, :, :, None]).sum(axis=2), factor, gain


def inverse_cholesky(matrices: FloatArray) -> FloatArray:
    """Return L^-1 of each L L' = A, (…, q, q): many small ones at once, where LAPACK takes them one by one.

    By bordering: since L^-1 A = L', row i of L is the rows of L^-1 above it times column i of A.
    """
    result = np.zeros_like(matrices)
    for i in range(matrices.shape[-1]):
        above = result[..., :i, :i]
        row = (above * matrices[..., None, i, :i]).sum(axis=-1)
        result[..., i, i] = 1.0 / np.sqrt(matrices[..., i, i] - (row**2).sum(axis=-1))
        result[..., i, :i] = -result[..., i, i, None] * (row[..., :, None] * above).sum(axis=-2)
    return result


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One kernel's share of the mixture, ready for prediction.

    With z = (correlation with the places; trend columns) at a point, the part's mean is ``pull @ z`` and its second
    moment ``signal_c2 + z @ square @ z``: one quadratic form however many trends and levels were averaged. These are
    the candidates ``of_node`` (w,) of ``nodes`` at levels ``at_level`` (w,), in order, with weights ``node_weight``.
    """

    kernel: Correlation
    nodes: Nodes
    of_node: IntArray
    at_level: IntArray
    node_weight: FloatArray
    weight: float
    signal_c2: float
    pull: FloatArray
    square: FloatArray


def summarise(problem: Problem, nodes: Nodes, weight: FloatArray, starts: IntArray) -> list[Part]:
    """Fold all nodes of each kernel, which begin at `starts`, into a linear and a quadratic form.

    The weights (k, j) of a kernel sum to its share; the forms are for that share.
    """
    shares = np.add.reduceat(weight.sum(axis=1), starts)
    each = np.repeat(shares, np.diff([*starts, len(weight)]))[:, None]
    pull, square, signal_c2 = (np.add.reduceat(form, starts) for form in fold(problem, nodes, weight / each))
    of_node, at_level = np.nonzero(weight)
    node_weight = weight[of_node, at_level]
    cuts = np.searchsorted(of_node, [*starts.tolist(), len(weight)]).tolist()
    return [
        Part(
            kernel=nodes.kernels[start],
            nodes=nodes,
            of_node=of_node[cuts[i] : cuts[i + 1]],
            at_level=at_level[cuts[i] : cuts[i + 1]],
            node_weight=node_weight[cuts[i] : cuts[i + 1]],
            weight=float(shares[i]),
            signal_c2=float(signal_c2[i]),
            pull=pull[i],
            square=square[i],
        )
        for i, start in enumerate(starts.tolist())
    ]


def fold(problem: Problem, nodes: Nodes, w: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return pull (k, n + p), square (k, n + p, n + p) and signal variance (k,) for weights (k, j) of the levels."""
    used = np.flatnonzero(w.any(axis=0))
    w, s2 = w[:, used], nodes.levels.signal_c2[used]
    levels = Levels(signal_c2=s2, noise_ratio=nodes.levels.noise_ratio[used], log_prior=nodes.levels.log_prior[used])
    inverse = inverse_variances(levels, nodes.eigenvalues)
    gain, root = s2[:, None] * inverse, np.sqrt(w)[:, :, None]
    drift = np.swapaxes(nodes.rotated_drift, 1, 2)
    coefficient = gain * (nodes.rotated_values[:, None, :] - nodes.drift_mean[:, used] @ drift)
    square = _squares(root * coefficient)
    for column in np.moveaxis(nodes.drift_factor[:, used] @ drift[:, None], 2, 0):
        square += _squares(root * gain * column)
    on = np.arange(square.shape[1])
    square[:, on, on] -= ((w * s2**2)[:, None, :] @ inverse)[:, 0]
    back = nodes.vectors / np.sqrt(problem.noise_c2)[:, None]
    linear = (back @ (w[:, None, :] @ coefficient).swapaxes(1, 2))[:, :, 0]
    quadratic = back @ square @ np.swapaxes(back, 1, 2)
    return _with_trends(problem.trend, nodes.trend_std**2, linear, quadratic, w @ s2)


def _squares(columns: FloatArray) -> FloatArray:
    return np.asarray(np.swapaxes(columns, 1, 2) @ columns)


def _with_trends(
    trend: FloatArray, trend2: FloatArray, linear: FloatArray, quadratic: FloatArray, signal_c2: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Widen forms over the places by the trend columns of the point asked for: their coefficients follow from them."""
    p = trend.shape[1]
    of_places = trend2[:, :, None] * trend.T
    pull = np.concatenate([linear, (of_places @ linear[:, :, None])[:, :, 0]], axis=1)
    below = of_places @ quadratic
    corner = below @ np.swapaxes(of_places, 1, 2)
    corner[:, np.arange(p), np.arange(p)] += signal_c2[:, None] * trend2
    top = np.concatenate([quadratic, np.swapaxes(below, 1, 2)], axis=2)
    return pull, np.concatenate([top, np.concatenate([below, corner], axis=2)], axis=1), signal_c2


def average(
    problem: Problem, kernels: Sequence[tuple[Correlation, float]], trend_stds: FloatArray, levels: Levels
) -> list[Part]:
    """Average over kernels, sets of trends (v, p) and levels, from coarse to fine."""
    n = len(problem.values_c)
    pilot = problem if n <= PILOT_PLACES else problem.only(well_spread(problem.points_mm, PILOT_PLACES))
    coarse = evaluate(pilot, [(kernel, trend_stds[0], log) for kernel, log in kernels], levels)
    evidence = coarse.log_evidence
    share = min(1.0, PILOT_PLACES / n) ** 1.5
    order = np.argsort(-evidence, kind="stable")[: max(4, int(FINE_KERNELS * share))]
    chosen = [int(i) for i in order if evidence[i] >= evidence[order[0]] - KEPT_LOG]
    if pilot is problem:
        fine = evaluate(
            problem, [(*kernels[i][:1], std, kernels[i][1]) for i in chosen for std in trend_stds[1:]], levels
        )
        return mixture(problem, Nodes.joined([fine, coarse.only(np.array(chosen))]))
    candidates = [(kernels[i][0], std, kernels[i][1]) for i in chosen for std in trend_stds]
    on_pilot = evaluate(pilot, candidates, levels).log_evidence
    pairs = np.argsort(-on_pilot, kind="stable")[: max(8, int(FINE_PAIRS * share))]
    fine = evaluate(problem, [candidates[i] for i in sorted(pairs)], levels)
    # With many readings the posterior is narrower than the grid: look half a step around the best.
    best = int(np.argmax(fine.log_evidence))
    kernel, std = fine.kernels[best], fine.trend_std[best]
    log_prior = next(kernels[i][1] for i in chosen if kernels[i][0] is kernel)
    around = [
        (kernel.stretched(first, second), std, log_prior)
        for first in HALF_STEPS
        for second in HALF_STEPS
        if first != 1.0 or second != 1.0
    ]
    return mixture(problem, Nodes.joined([fine, evaluate(problem, around, levels)]))


def well_spread(points_mm: FloatArray, count: int) -> IntArray:
    """Return places chosen one after another, each the farthest from those before, the first nearest the middle."""
    from_middle = ((points_mm - points_mm.mean(axis=0)) ** 2).sum(axis=1)
    chosen = [int(np.argmin(from_middle))]
    distance = ((points_mm - points_mm[chosen[0]]) ** 2).sum(axis=1)
    while len(chosen) < count:
        chosen.append(int(np.argmax(distance)))
        distance = np.minimum(distance, ((points_mm - points_mm[chosen[-1]]) ** 2).sum(axis=1))
    return np.array(sorted(chosen), dtype=np.int64)


def mixture(problem: Problem, nodes: Nodes) -> list[Part]:
    """Weigh the nodes, drop those that carry nothing, and fold the rest into one part per kernel."""
    raw = np.exp(nodes.log_posterior - nodes.log_posterior.max())
    first: dict[int, int] = {}
    of_kernel = np.array([first.setdefault(id(kernel), len(first)) for kernel in nodes.kernels])
    by_node = raw.sum(axis=1)
    share = np.bincount(of_kernel, by_node)
    least = KEPT_WEIGHT if len(problem.values_c) <= PILOT_PLACES else KEPT_SHARE
    kept = share >= least * share.max()
    carries = kept[of_kernel] & (by_node >= KEPT_WEIGHT * share[of_kernel])
    best = np.zeros(len(share))
    np.maximum.at(best, of_kernel[carries], raw[carries].max(axis=1))
    few = carries[:, None] & (raw >= KEPT_WEIGHT * best[of_kernel, None])
    weight = np.where(few, raw, 0.0)
    scale = share / share[kept].sum() / np.where(kept, np.bincount(of_kernel, weight.sum(axis=1)), 1.0)
    order = np.argsort(of_kernel, kind="stable")
    order = order[few[order].any(axis=1)]
    of_kernel, nodes, weight = of_kernel[order], nodes.only(order), (weight * scale[of_kernel, None])[order]
    starts = np.flatnonzero(np.diff(of_kernel, prepend=-1))
    # Each kernel has a few sets of trends; as many kernels at once as memory allows.
    step = max(1, MOST_NUMBERS // (len(problem.values_c) ** 2 * (1 + len(order) // len(starts))))
    parts = []
    for at in range(0, len(starts), step):
        begin = starts[at]
        end = starts[at + step] if at + step < len(starts) else len(order)
        piece = slice(begin, end)
        parts += summarise(problem, nodes.only(piece), weight[piece], starts[at : at + step] - begin)
    return parts
