"""One prior conditioned on noisy values: posterior, evidence, leave-one-out.

The values have covariance K = C + D, with C the prior covariance of the noise-free values and D the diagonal of each
value's noise. All that is asked later is a sum over a basis W in which the inverse is diagonal, K⁻¹ = W diag(p) W': a
triangle of Cholesky, or eigenvectors where many signals and noises are tried on one prior.

References
----------
.. [1] C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (2006): equations 2.25 and 2.26
   (posterior), 2.30 (evidence), 2.39 to 2.42 (columns with Gaussian weights), 5.10 to 5.12 (leave-one-out).
.. [2] A. G. Journel and C. J. Huijbregts, Mining Geostatistics (1978), section VII.A.1, conditioning by kriging; J. T.
   Wilson et al., Pathwise Conditioning of Gaussian Processes, Journal of Machine Learning Research 22 (2021), eq. 17
   (both from memory).
"""

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol, runtime_checkable

import numpy as np

from heatmap.units import FloatArray

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


@runtime_checkable
class PulledPrior(Prior, Protocol):
    """A prior that is quicker than by its covariance in telling what values somewhere mean elsewhere."""

    def pulled(self, one: Any, two: Any, weights: FloatArray) -> FloatArray:
        """Return the prior covariance between n sites and m, (n, m), times weights of those (m,), (n,)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Conditioned:
    """A prior conditioned on n noisy values.

    Attributes
    ----------
    prior : Prior
    sites : object
        Where the values were read.
    residual, noise_variance : ndarray (n,)
        Values minus the prior mean, and the variance of their noise.
    basis_of : callable
        What works out `basis`, (n, n): of most nodes only the evidence is asked.
    precision : ndarray (n,)
        K⁻¹ = basis diag(precision) basis'.
    log_evidence : float
        Logarithm of the marginal likelihood and the prior of the prior.
    """

    prior: Prior
    sites: Any
    residual: FloatArray
    noise_variance: FloatArray
    basis_of: Callable[[], FloatArray]
    precision: FloatArray
    log_evidence: float

    @cached_property
    def basis(self) -> FloatArray:
        """W, (n, n)."""
        return self.basis_of()

    def predict(self, sites: Any) -> tuple[FloatArray, FloatArray]:
        """Return mean and variance of the noise-free values at m sites, each (m,)."""
        projected = self.prior.covariance(sites, self.sites) @ self.basis
        prior_variance = self.prior.variance(sites)
        variance = checked_variance(prior_variance, np.square(projected) @ self.precision)
        return self.prior.mean(sites) + projected @ self._coefficients, variance

    def mean(self, sites: Any) -> FloatArray:
        """Return the mean of the noise-free values at m sites, (m,)."""
        weights = self.basis @ self._coefficients
        if isinstance(self.prior, PulledPrior):
            return self.prior.mean(sites) + self.prior.pulled(sites, self.sites, weights)
        return self.prior.mean(sites) + self.prior.covariance(sites, self.sites) @ weights

    def joint(self, sites: Any) -> tuple[FloatArray, FloatArray]:
        """Return mean (m,) and covariance (m, m) of the noise-free values at m sites."""
        projected = self.prior.covariance(sites, self.sites) @ self.basis
        covariance = self.prior.covariance(sites, sites) - (projected * self.precision) @ projected.T
        return self.prior.mean(sites) + projected @ self._coefficients, covariance

    def sample(self, sites: Any, count: int, random: np.random.Generator) -> FloatArray:
        """Return joint samples of the noise-free values at m sites, (count, m).

        Matheron's rule [2]_: a sample of the prior, moved by what the readings say against what it would have read.
        """
        assert isinstance(self.prior, SampledPrior)
        read, asked = self.prior.sample(self.sites, sites, count, random)
        off = self.residual - read - np.sqrt(self.noise_variance) * random.standard_normal(read.shape)
        pulls = (off @ self.basis * self.precision) @ self.basis.T
        return np.asarray(self.prior.mean(sites) + asked + pulls @ self.prior.covariance(sites, self.sites).T)

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return what the others say each value should be, noise and all: mean and variance, each (n,)."""
        variance = 1.0 / (np.square(self.basis) @ self.precision)
        return self.values - (self.basis @ self._coefficients) * variance, variance

    @property
    def values(self) -> FloatArray:
        """What was read, (n,)."""
        return self.residual + self.prior.mean(self.sites)

    @property
    def _coefficients(self) -> FloatArray:
        return np.asarray(self.precision * (self.basis.T @ self.residual))


def checked_variance(prior_variance: FloatArray, explained: FloatArray) -> FloatArray:
    """Return the variance that is left of the prior's, any shape, and warn where none can be."""
    variance = prior_variance - explained
    if (variance < -_LOST_DIGITS * prior_variance).any():
        warnings.warn("a posterior variance came out negative: the readings' noise is too small", stacklevel=3)
    return np.maximum(variance, 0.0)


def condition(
    prior: Prior, sites: Any, values: FloatArray, noise_variance: FloatArray, log_prior: float = 0.0
) -> Conditioned:
    """Condition a prior on values (n,) with noise variances (n,)."""
    residual = values - prior.mean(sites)
    # With the residual as one more row of the covariance, the triangle's last row is what it leaves of the residual.
    beyond = 1.0 + residual @ residual / noise_variance.min()
    bordered: FloatArray = np.diag(np.append(noise_variance, beyond))
    bordered[:-1, :-1] += prior.covariance(sites, sites)
    bordered[-1, :-1] = residual
    triangle = np.linalg.cholesky(bordered)
    lower, last = triangle[:-1, :-1], triangle[-1, :-1]
    half_log_determinant = np.log(np.diag(lower)).sum()
    constant = 0.5 * len(values) * np.log(2.0 * np.pi)
    return Conditioned(
        prior=prior,
        sites=sites,
        residual=residual,
        noise_variance=noise_variance,
        basis_of=lambda: np.linalg.inv(lower).T,
        precision=np.ones(len(values)),
        log_evidence=float(log_prior - 0.5 * last @ last - half_log_determinant - constant),
    )


def lower_triangle(covariance: FloatArray) -> FloatArray:
    """Return the triangle of Cholesky of a covariance (n, n) that may be singular, two values being one."""
    jitter = _JITTER * float(np.diag(covariance).max(initial=0.0)) + 1e-300
    return np.asarray(np.linalg.cholesky(covariance + jitter * np.eye(len(covariance))))
