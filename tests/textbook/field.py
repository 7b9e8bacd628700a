"""The random fields of the textbooks: a correlation of distance and a few columns, nothing averaged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[np.float64]]


@dataclass(frozen=True)
class Field:
    """A prior for :mod:`heatmap.gaussian` on points (n, 2).

    Attributes
    ----------
    correlation : callable
        Distances along both axes, (2, n, m), to correlations (n, m); 1 from a place to itself.
    signal_variance : float
    columns : callable or None
        Points (n, 2) to columns (n, p), each times its prior standard deviation.
    level : float
        The prior mean.
    """

    correlation: Callable[[Array], Array]
    signal_variance: float = 1.0
    columns: Callable[[Array], Array] | None = None
    level: float = 0.0

    def mean(self, sites: Array) -> Array:
        return np.full(len(sites), self.level)

    def covariance(self, one: Array, two: Array) -> Array:
        apart = np.abs(one.T[:, :, None] - two.T[:, None, :])
        total = self.signal_variance * self.correlation(apart)
        return total if self.columns is None else total + self.columns(one) @ self.columns(two).T

    def variance(self, sites: Array) -> Array:
        return np.array([self.covariance(site[None], site[None])[0, 0] for site in sites])

    def sample(self, one: Array, two: Array, count: int, random: np.random.Generator) -> tuple[Array, Array]:
        both = np.concatenate([one, two])
        drawn = random.multivariate_normal(np.zeros(len(both)), self.covariance(both, both), count, method="svd")
        return drawn[:, : len(one)], drawn[:, len(one) :]


def radial(function: Callable[[Array], Array]) -> Callable[[Array], Array]:
    """Return the correlation that depends on the distance alone."""
    return lambda apart: function(np.hypot(*apart))
