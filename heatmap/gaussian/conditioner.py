"""One prior conditioned on noisy values: posterior, evidence, leave-one-out.

The values have covariance K = C + D, with C the prior covariance of the noise-free values and D the diagonal of each
value's noise. All that is asked later is a sum over a basis W with K⁻¹ = W W', from the triangle of Cholesky.

References
----------
.. [1] C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (2006): equations 2.25 and 2.26
   (posterior), 2.30 (evidence), 2.39 to 2.42 (columns with Gaussian weights), 5.10 to 5.12 (leave-one-out).
.. [2] A. G. Journel and C. J. Huijbregts, Mining Geostatistics (1978), section VII.A.1, conditioning by kriging; J. T.
   Wilson et al., Pathwise Conditioning of Gaussian Processes, Journal of Machine Learning Research 22 (2021), eq. 17
   (both from memory).
"""

import warnings
from functools import cached_property
from typing import Any, Generic, Protocol, TypeVar

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

    def sample(self, one: Any, two: Any, count: int, random: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """Return joint samples about the mean where values were read and elsewhere, (count, n) and (count, m)."""


P = TypeVar("P", bound=Prior)


class Conditioned(Generic[P]):
    """A prior conditioned on n noisy values.

    Attributes
    ----------
    prior : Prior
    sites : object
        Where the values were read.
    values, residual, noise_variance : ndarray (n,)
        What was read, that minus the prior mean, and the variance of its noise.
    log_evidence : float
        Logarithm of the marginal likelihood and the prior of the prior.
    """

    def __init__(
        self, prior: P, sites: Any, values: FloatArray, noise_variance: FloatArray, log_prior: float = 0.0
    ) -> None:
        """Condition a prior on values (n,) with noise variances (n,)."""
        self.prior, self.sites, self.values, self.noise_variance = prior, sites, values, noise_variance
        self.residual = values - prior.mean(sites)
        # With the residual as one more row, the last row of the triangle is what the covariance leaves of the residual.
        beyond = 1.0 + self.residual @ self.residual / noise_variance.min()
        bordered: FloatArray = np.diag(np.append(noise_variance, beyond))
        bordered[:-1, :-1] += prior.covariance(sites, sites)
        bordered[-1, :-1] = self.residual
        triangle: FloatArray = np.asarray(np.linalg.cholesky(bordered))
        self._lower, last = triangle[:-1, :-1], triangle[-1, :-1]
        half_log_determinant = np.log(np.diag(self._lower)).sum()
        constant = 0.5 * len(values) * np.log(2.0 * np.pi)
        self.log_evidence = float(log_prior - 0.5 * last @ last - half_log_determinant - constant)

    @cached_property
    def basis(self) -> FloatArray:
        """W, (n, n); of most nodes only the evidence is asked."""
        return np.asarray(np.linalg.inv(self._lower).T)

    def predict(self, sites: Any) -> tuple[FloatArray, FloatArray]:
        """Return mean and variance of the noise-free values at m sites, each (m,)."""
        projected = self.prior.covariance(sites, self.sites) @ self.basis
        prior_variance = self.prior.variance(sites)
        variance = checked_variance(prior_variance, np.square(projected).sum(axis=1))
        return self.prior.mean(sites) + projected @ self._coefficients, variance

    def joint(self, sites: Any) -> tuple[FloatArray, FloatArray]:
        """Return mean (m,) and covariance (m, m) of the noise-free values at m sites."""
        projected = self.prior.covariance(sites, self.sites) @ self.basis
        covariance = self.prior.covariance(sites, sites) - projected @ projected.T
        return self.prior.mean(sites) + projected @ self._coefficients, covariance

    def sample(self, sites: Any, count: int, random: np.random.Generator) -> FloatArray:
        """Return joint samples of the noise-free values at m sites, (count, m).

        Matheron's rule [2]_: a sample of the prior, moved by what the readings say against what it would have read.
        """
        read, asked = self.prior.sample(self.sites, sites, count, random)
        off = self.residual - read - np.sqrt(self.noise_variance) * random.standard_normal(read.shape)
        pulls = (off @ self.basis) @ self.basis.T
        return np.asarray(self.prior.mean(sites) + asked + pulls @ self.prior.covariance(sites, self.sites).T)

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return what the others say each value should be, noise and all: mean and variance, each (n,)."""
        variance = 1.0 / np.square(self.basis).sum(axis=1)
        return self.values - (self.basis @ self._coefficients) * variance, variance

    @property
    def _coefficients(self) -> FloatArray:
        return self.basis.T @ self.residual


def checked_variance(prior_variance: FloatArray, explained: FloatArray) -> FloatArray:
    """Return the variance that is left of the prior's, any shape, and warn where none can be."""
    variance = prior_variance - explained
    if (variance < -_LOST_DIGITS * prior_variance).any():
        warnings.warn("a posterior variance came out negative: the readings' noise is too small", stacklevel=3)
    return np.maximum(variance, 0.0)


def lower_triangle(covariance: FloatArray) -> FloatArray:
    """Return the triangle of Cholesky of a covariance (n, n) that may be singular, two values being one."""
    jitter = _JITTER * float(np.diag(covariance).max(initial=0.0)) + 1e-300
    return np.asarray(np.linalg.cholesky(covariance + jitter * np.eye(len(covariance))))
