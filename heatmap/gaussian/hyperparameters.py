"""Hyper-parameters that the readings tell little of: a few nodes spread evenly over their priors."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np


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
