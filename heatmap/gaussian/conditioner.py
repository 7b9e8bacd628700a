"""One prior conditioned on noisy values: posterior, evidence, leave-one-out.

For a signal level s and a noise level t the values have covariance K = s² C + t² D, with C the prior covariance of the
noise-free values and D the diagonal of what each value's noise is claimed to be. All that is asked later is a sum over
a basis W in which the inverse is diagonal, K⁻¹ = W diag(p) W': the eigenvectors of D^-1/2 C D^-1/2 where many levels
are tried (one decomposition serves all of them), a triangle of Cholesky where there is one level.

References
----------
.. [1] C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (2006): equations 2.25 and 2.26
   (posterior), 2.30 (evidence), 2.39 to 2.42 (columns with Gaussian weights), 5.10 to 5.12 (leave-one-out).
.. [2] A. G. Journel and C. J. Huijbregts, Mining Geostatistics (1978), section VII.A.1, conditioning by kriging; J. T.
   Wilson et al., Pathwise Conditioning of Gaussian Processes, Journal of Machine Learning Research 22 (2021), eq. 17
   (both from memory).
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Protocol, runtime_checkable

import numpy as np

from heatmap.units import FloatArray, IntArray

#: What is added to the diagonal of a covariance before it is factorised, as a share of its largest element.
_JITTER = 1e-9
#: A variance below zero by more than this share of the prior's is worth a warning: the solve has lost its digits.
_LOST_DIGITS = 1e-6


class Prior(Protocol):
    """What is believed of the noise-free values before any was read; sites are whatever the prior understands."""

    def mean(self, sites: Any) -> FloatArray:
        """Return the prior mean at n sites, (n,)."""

    def covariance(self, one: Any, two: Any) -> FloatArray:
        """Return the prior covariance between sites, (n, m)."""

    def variance(self, sites: Any) -> FloatArray:
        """Return the prior variance at sites, (n,)."""


@runtime_checkable
class SampledPrior(Prior, Protocol):
    """A prior that can be drawn from."""

    def sample(self, one: Any, two: Any, count: int, random: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """Return joint samples about the mean where values were read and elsewhere, (count, n) and (count, m)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Levels:
    """Signal and noise levels to be tried, as multiples of what the prior and the claimed noise say, all (j,)."""

    signal: FloatArray
    noise: FloatArray
    log_prior: FloatArray

    def weighted(self, log_prior: float) -> Levels:
        """Return the same levels, all with this much more log prior."""
        return replace(self, log_prior=self.log_prior + log_prior)

    @classmethod
    def one(cls, log_prior: float = 0.0) -> Levels:
        """Return the single level at which prior and noise stand as they are."""
        return cls(signal=np.ones(1), noise=np.ones(1), log_prior=np.array([log_prior]))


@dataclass(frozen=True, kw_only=True, eq=False)
class Conditioned:
    """A prior conditioned on n noisy values, at j levels.

    Attributes
    ----------
    prior : Prior
    sites : object
        Where the values were read.
    levels : Levels
    residual, noise_variance : ndarray (n,)
        Values minus the prior mean, and the variance of their noise as claimed.
    basis_of : callable
        What works out `basis`, (n, n): of most nodes only the evidence is asked.
    precision : ndarray (j, n)
        K⁻¹ = basis diag(precision) basis'.
    log_evidence : ndarray (j,)
        Logarithm of the marginal likelihood and the prior of each level.
    """

    prior: Prior
    sites: Any
    levels: Levels
    residual: FloatArray
    noise_variance: FloatArray
    basis_of: Callable[[], FloatArray]
    precision: FloatArray
    log_evidence: FloatArray

    @cached_property
    def basis(self) -> FloatArray:
        """W, (n, n)."""
        return self.basis_of()

    def pooled(self, sites: Any, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return mean and variance of the noise-free values at m sites, each (m,): the levels by weights (j,) that add
        up to one, what they differ by included.
        """
        signal2 = self.levels.signal**2
        projected = self.prior.covariance(sites, self.sites) @ self.basis
        pulls = signal2[:, None] * self._coefficients
        pull = weights @ pulls
        mean = self.prior.mean(sites) + projected @ pull
        prior_variance = float(weights @ signal2) * self.prior.variance(sites)
        variance = prior_variance - np.square(projected) @ ((weights * signal2**2) @ self.precision)
        if (variance < -_LOST_DIGITS * prior_variance).any():
            warnings.warn("a posterior variance came out negative: the readings' noise is too small", stacklevel=2)
        variance = np.maximum(variance, 0.0)
        if len(weights) > 1:
            variance += weights @ np.square((pulls - pull) @ projected.T)
        return mean, variance

    def mean(self, sites: Any) -> FloatArray:
        """Return the mean of the noise-free values at m sites, (j, m)."""
        pull = self._coefficients @ self.basis.T @ self.prior.covariance(sites, self.sites).T
        return np.asarray(self.prior.mean(sites) + self.levels.signal[:, None] ** 2 * pull)

    def covariance(self, one: Any, two: Any, weights: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the mean covariance of the levels (n, m) by weights (j,), and their means at both sites, (j, n) and
        (j, m).
        """
        signal2 = self.levels.signal**2
        left = self.prior.covariance(one, self.sites) @ self.basis
        right = left if two is one else self.prior.covariance(two, self.sites) @ self.basis
        gain = (weights * signal2**2) @ self.precision
        covariance = float(weights @ signal2) * self.prior.covariance(one, two) - (left * gain) @ right.T
        means = [
            self.prior.mean(sites) + signal2[:, None] * (self._coefficients @ projected.T)
            for sites, projected in ((one, left), (two, right))
        ]
        return covariance, means[0], means[1]

    def sample(self, sites: Any, numbers: IntArray, random: np.random.Generator) -> FloatArray:
        """Return joint samples of the noise-free values at m sites, so many (j,) of each level, (sum, m).

        Matheron's rule [2]_: a sample of the prior, moved by what the readings say against what it would have read.
        """
        assert isinstance(self.prior, SampledPrior)
        level, n = np.repeat(np.arange(len(numbers)), numbers), len(self.residual)
        signal, noise = self.levels.signal[level, None], self.levels.noise[level, None]
        read, asked = self.prior.sample(self.sites, sites, len(level), random)
        off = self.residual - signal * read
        off -= noise * np.sqrt(self.noise_variance) * random.standard_normal((len(level), n))
        pulls = (off @ self.basis * self.precision[level]) @ self.basis.T
        moved = pulls @ self.prior.covariance(sites, self.sites).T
        return np.asarray(self.prior.mean(sites) + signal * asked + signal**2 * moved)

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return what the others say each residual should be, noise and all: mean and variance, each (j, n)."""
        variance = 1.0 / (self.precision @ np.square(self.basis).T)
        return self.residual - (self._coefficients @ self.basis.T) * variance, variance

    @property
    def _coefficients(self) -> FloatArray:
        return np.asarray(self.precision * (self.basis.T @ self.residual))


def condition(
    prior: Prior, sites: Any, values: FloatArray, noise_variance: FloatArray, log_prior: float = 0.0
) -> Conditioned:
    """Condition a prior on values (n,) with noise variances (n,), both levels as they stand."""
    residual = values - prior.mean(sites)
    # With the residual as one more row of the covariance, the triangle's last row is what it leaves of the residual.
    beyond = 1.0 + residual @ residual / noise_variance.min()
    bordered: FloatArray = np.diag(np.append(noise_variance, beyond))
    bordered[:-1, :-1] += prior.covariance(sites, sites)
    bordered[-1, :-1] = residual
    triangle = np.linalg.cholesky(bordered)
    lower, last = triangle[:-1, :-1], triangle[-1, :-1]
    half_log_determinant = np.log(np.diag(lower)).sum()
    misfit = last @ last
    constant = 0.5 * len(values) * np.log(2.0 * np.pi)
    return Conditioned(
        prior=prior,
        sites=sites,
        levels=Levels.one(log_prior),
        residual=residual,
        noise_variance=noise_variance,
        basis_of=lambda: np.linalg.inv(lower).T,
        precision=np.ones((1, len(values))),
        log_evidence=np.array([log_prior - 0.5 * misfit - half_log_determinant - constant]),
    )


def condition_levels(
    prior: Prior, sites: Any, values: FloatArray, noise_variance: FloatArray, levels: Levels
) -> Conditioned:
    """Condition a prior on values (n,) with noise variances (n,) at many levels, by one eigendecomposition."""
    residual = values - prior.mean(sites)
    root = np.sqrt(noise_variance)
    eigenvalues, vectors = np.linalg.eigh(prior.covariance(sites, sites) / np.outer(root, root))
    basis = vectors / root[:, None]
    variance = np.outer(levels.signal**2, np.maximum(eigenvalues, 0.0)) + levels.noise[:, None] ** 2
    precision = 1.0 / variance
    misfit = precision @ np.square(basis.T @ residual)
    log_determinant = np.log(variance).sum(axis=1) + 2.0 * np.log(root).sum()
    constant = len(values) * np.log(2.0 * np.pi)
    return Conditioned(
        prior=prior,
        sites=sites,
        levels=levels,
        residual=residual,
        noise_variance=noise_variance,
        basis_of=lambda: basis,
        precision=precision,
        log_evidence=levels.log_prior - 0.5 * (misfit + log_determinant + constant),
    )


def lower_triangle(covariance: FloatArray) -> FloatArray:
    """Return the triangle of Cholesky of a covariance (n, n) that may be singular, two values being one."""
    jitter = _JITTER * float(np.diag(covariance).max(initial=0.0)) + 1e-300
    return np.asarray(np.linalg.cholesky(covariance + jitter * np.eye(len(covariance))))
