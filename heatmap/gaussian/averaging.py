"""Average over what the readings cannot tell: nodes of hyper-parameters, each as likely as its evidence and prior."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from heatmap.gaussian.conditioner import Conditioned, Levels
from heatmap.units import BoolArray, FloatArray

#: Nodes that together hold less than this are left out.
LEFT_OUT = 0.005


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Average:
    """Posteriors of one set of values under several priors and levels, weighted.

    Attributes
    ----------
    parts : tuple of Conditioned
    weights : tuple of ndarray
        For each part the weight of each of its levels; all together add up to one.
    """

    parts: tuple[Conditioned, ...]
    weights: tuple[FloatArray, ...]

    @property
    def likeliest(self) -> Conditioned:
        """The part that holds the most weight."""
        return max(zip(self.parts, self.weights, strict=True), key=lambda pair: float(pair[1].sum()))[0]

    def predict(self, sites: Any) -> tuple[FloatArray, FloatArray]:
        """Return mean and standard deviation of the noise-free values at m sites, each (m,)."""
        shares = [float(weight.sum()) for weight in self.weights]
        means, variances = zip(
            *(
                part.pooled(sites, weight / share)
                for part, weight, share in zip(self.parts, self.weights, shares, strict=True)
            ),
            strict=True,
        )
        mean = np.average(means, axis=0, weights=shares)
        return mean, np.sqrt(np.average(variances + np.square(means - mean), axis=0, weights=shares))

    def mean(self, sites: Any) -> FloatArray:
        """Return the mean of the noise-free values at m sites, (m,)."""
        return np.asarray(sum(w @ part.mean(sites) for part, w in zip(self.parts, self.weights, strict=True)))

    def covariance(self, one: Any, two: Any) -> FloatArray:
        """Return the covariance of the noise-free values, within and between the nodes, (n, m)."""
        return self._joint(one, two)[1]

    def joint(self, sites: Any) -> tuple[FloatArray, FloatArray]:
        """Return mean (m,) and covariance (m, m) of the noise-free values at m sites."""
        return self._joint(sites, sites)

    def _joint(self, one: Any, two: Any) -> tuple[FloatArray, FloatArray]:
        total: FloatArray | float = 0.0
        lefts, rights = [], []
        for part, weight in zip(self.parts, self.weights, strict=True):
            within, left, right = part.covariance(one, two, weight)
            total = total + within
            lefts.append(left)
            rights.append(right)
        weight, left, right = np.concatenate(self.weights), np.concatenate(lefts), np.concatenate(rights)
        mean = weight @ left
        return mean, np.asarray(total + ((left - mean) * weight[:, None]).T @ (right - weight @ right))

    def sample(self, sites: Any, count: int, random: np.random.Generator) -> FloatArray:
        """Return joint samples of the noise-free values, (count, m): each under one node, nodes by their weights."""
        ends = np.concatenate([[0.0], np.cumsum(np.concatenate(self.weights))])
        numbers = np.diff(np.floor(count * ends / ends[-1] + random.random())).astype(int)  # systematic sampling
        of_parts = np.split(numbers, np.cumsum([len(weight) for weight in self.weights])[:-1])
        drawn = [
            part.sample(sites, some, random) for part, some in zip(self.parts, of_parts, strict=True) if some.any()
        ]
        return random.permutation(np.concatenate(drawn))

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return what the others say each value should be, noise and all: mean and standard deviation, each (n,).

        A node's weight without a value is its weight divided by how well it foretells that value.
        """
        left_out = [part.leave_one_out() for part in self.parts]
        mean = np.concatenate(
            [means + part.prior.mean(part.sites) for part, (means, _) in zip(self.parts, left_out, strict=True)]
        )
        variance = np.concatenate([variances for _, variances in left_out])
        values = self.parts[0].residual + self.parts[0].prior.mean(self.parts[0].sites)
        log_density = -0.5 * (np.square(values - mean) / variance + np.log(variance))
        log_weight = np.log(np.concatenate(self.weights))[:, None] - log_density
        weight = np.exp(log_weight - log_weight.max(axis=0))
        weight /= weight.sum(axis=0)
        overall = (weight * mean).sum(axis=0)
        return overall, np.sqrt((weight * (variance + np.square(mean - overall))).sum(axis=0))


def average(parts: Sequence[Conditioned], left_out: float = LEFT_OUT) -> Average:
    """Weigh the nodes of all parts by evidence and prior, and keep the fewest that hold all but `left_out`."""
    log_evidence = np.concatenate([part.log_evidence for part in parts])
    weight = np.exp(log_evidence - log_evidence.max())
    weight /= weight.sum()
    order = np.argsort(-weight, kind="stable")
    count = int(np.searchsorted(np.cumsum(weight[order]), 1.0 - left_out)) + 1
    kept = np.zeros(len(weight), dtype=bool)
    kept[order[:count]] = True
    weight = np.where(kept, weight, 0.0) / weight[kept].sum()
    some: list[Conditioned] = []
    weights: list[FloatArray] = []
    at = 0
    for part in parts:
        here = slice(at, at := at + len(part.log_evidence))
        if kept[here].any():
            some.append(_only(part, kept[here]))
            weights.append(weight[here][kept[here]])
    return Average(parts=tuple(some), weights=tuple(weights))


def _only(part: Conditioned, kept: BoolArray) -> Conditioned:
    levels = part.levels
    return replace(
        part,
        levels=Levels(signal=levels.signal[kept], noise=levels.noise[kept], log_prior=levels.log_prior[kept]),
        precision=part.precision[kept],
        log_evidence=part.log_evidence[kept],
    )
