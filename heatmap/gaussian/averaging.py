"""Average over what the readings cannot tell: a few nodes of hyper-parameters, spread evenly over their priors, each as
likely as its evidence and prior.
"""

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, Generic

import numpy as np

from heatmap.gaussian.conditioner import Conditioned, P
from heatmap.units import BoolArray, FloatArray

#: Weights that differ by no more than this share are one.
_AS_LIKELY = 1e-6


@dataclass(frozen=True, slots=True)
class LogNormal:
    """A log-normal prior; in `steps` equally likely steps, each at its median, where nodes are to share values."""

    median: float
    log_std: float
    steps: int | None = None

    def at(self, quantile: float) -> float:
        """Return the value at a quantile between 0 and 1."""
        if self.steps is not None:
            quantile = (math.floor(quantile * self.steps) + 0.5) / self.steps
        return self.median * math.exp(self.log_std * NormalDist().inv_cdf(quantile))


def spread_nodes(priors: Sequence[LogNormal], count: int) -> Iterator[tuple[float, ...]]:
    """Yield `count` sets of values, equally likely and evenly spread over independent priors.

    Notes
    -----
    An additive recurrence: quantiles rise by fixed irrational steps, the powers of the root of x^(d+1) = x + 1, and
    wrap around (H. Niederreiter, Random Number Generation and Quasi-Monte Carlo Methods (1992), section 3.1, Kronecker
    sequences; that choice of steps is from memory).
    """
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (len(priors) + 1))
    steps = root ** -np.arange(1.0, len(priors) + 1.0)
    for at in range(1, count + 1):
        yield tuple(prior.at(float(u)) for prior, u in zip(priors, (0.5 + at * steps) % 1.0, strict=True))


class Average(Generic[P]):
    """Posteriors of one set of values under several priors, weighted.

    Attributes
    ----------
    parts : tuple of Conditioned
    weights : ndarray (parts,)
        All together add up to one.
    ranked : list of Prior
        All priors that were weighed, the likeliest first.
    """

    def __init__(self, parts: Sequence[Conditioned[P]], left_out: float) -> None:
        """Weigh nodes by evidence and prior, and keep the fewest that hold all but `left_out`."""
        kept, self.weights = weighed(np.array([part.log_evidence for part in parts]), left_out)
        self.parts = tuple(itertools.compress(parts, kept))
        self.ranked = [part.prior for part in sorted(parts, key=lambda part: part.log_evidence, reverse=True)]

    @property
    def likeliest(self) -> Conditioned[P]:
        """The part that holds the most weight."""
        return self.parts[int(np.argmax(self.weights))]

    def predict(self, sites: Any) -> tuple[FloatArray, FloatArray]:
        """Return mean and standard deviation of the noise-free values at m sites, each (m,)."""
        return mixed(self.weights[:, None], [part.predict(sites) for part in self.parts])

    def joint(self, sites: Any) -> tuple[FloatArray, FloatArray]:
        """Return mean (m,) and covariance (m, m) of the noise-free values at m sites, within and between the nodes."""
        within: FloatArray | float = 0.0
        means = []
        for part, weight in zip(self.parts, self.weights, strict=True):
            mean, covariance = part.joint(sites)
            means.append(mean)
            within = within + weight * covariance
        overall = self.weights @ np.array(means)
        off = np.array(means) - overall
        return overall, np.asarray(within + (off * self.weights[:, None]).T @ off)

    def sample(self, sites: Any, count: int, random: np.random.Generator) -> FloatArray:
        """Return joint samples of the noise-free values, (count, m): each under one node, nodes by their weights."""
        ends = np.concatenate([[0.0], np.cumsum(self.weights)])
        numbers = np.diff(np.floor(count * ends / ends[-1] + random.random())).astype(int)  # systematic sampling
        drawn = [part.sample(sites, some, random) for part, some in zip(self.parts, numbers, strict=True) if some]
        return random.permutation(np.concatenate(drawn))

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return what the others say each value should be, noise and all: mean and standard deviation, each (n,).

        A node's weight without a value is its weight divided by how well it foretells that value.
        """
        left_out = [part.leave_one_out() for part in self.parts]
        mean, variance = (np.array(each) for each in zip(*left_out, strict=True))
        log_density = -0.5 * (np.square(self.parts[0].values - mean) / variance + np.log(variance))
        log_weight = np.log(self.weights)[:, None] - log_density
        weight = np.exp(log_weight - log_weight.max(axis=0))
        return mixed(weight / weight.sum(axis=0), left_out)


def mixed(weight: FloatArray, moments: Sequence[tuple[FloatArray, FloatArray]]) -> tuple[FloatArray, FloatArray]:
    """Return mean and standard deviation of a mixture by weights (k, m) of k means and variances, (m,) each."""
    mean, variance = (np.array(each) for each in zip(*moments, strict=True))
    overall = (weight * mean).sum(axis=0)
    return overall, np.sqrt((weight * (variance + np.square(mean - overall))).sum(axis=0))


def weighed(log_evidence: FloatArray, left_out: float) -> tuple[BoolArray, FloatArray]:
    """Return which nodes are the fewest that hold all but `left_out` of the weight, (n,), and the weights of those.

    Those as likely as the least of them are kept with it, so that rounding does not decide.
    """
    weight = np.exp(log_evidence - log_evidence.max())
    weight /= weight.sum()
    falling = np.sort(weight)[::-1]
    least = falling[min(int(np.searchsorted(np.cumsum(falling), 1.0 - left_out)), len(falling) - 1)]
    kept = weight >= (1.0 - _AS_LIKELY) * least
    return kept, weight[kept] / weight[kept].sum()
