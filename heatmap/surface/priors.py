"""What is believed before the first reading: how fast, how much and how noisily the grate varies.

All are weakly informative and scale with the grate and with the readings' own spread, so that °F or °C, a
small or a large grate make no difference. Their numbers were settled on make-believe grates and open data of
many kinds (tests/benchmarks/surface.py), never on one of them.
"""

from __future__ import annotations

import numpy as np

from heatmap.surface.averaging import Levels
from heatmap.surface.kernel import Correlation, DiagonalKernel, Kernel
from heatmap.surface.types import FloatArray

LENGTH_CENTRE, LENGTH_SPREAD, LENGTH_TOGETHER = 0.4, 1.0, 0.5
"""Median length scale as a share of the side of the grate, the standard deviation of its logarithm, and the
correlation of the two logarithms."""
LENGTH_GRID = np.geomspace(0.08, 3.2, 6)

SIGNAL_CENTRE, SIGNAL_SPREAD = 2.2, 0.85
SIGNAL_GRID = np.geomspace(0.3, 10.0, 7)
"""Signal level as a multiple of the readings' spread."""

CLAIMED_SPREAD = 0.35
CLAIMED_GRID = np.exp(np.linspace(-0.7, 1.4, 5))
"""True noise as a multiple of the noise claimed."""

UNKNOWN_NOISE = 0.1
UNKNOWN_SPREAD = 1.2
UNKNOWN_GRID = np.geomspace(0.1, 10.0, 7)
"""Noise when none is claimed: a share of the readings' spread, known to a factor of three either way."""


def noise_grid(claimed: bool) -> FloatArray:
    """Return the noise levels to average over, as multiples of the noise claimed or guessed."""
    return CLAIMED_GRID if claimed else UNKNOWN_GRID


def levels(scale_c: float, claimed: bool) -> Levels:
    """Return the grid of signal and noise levels with its prior."""
    return _levels(scale_c, SIGNAL_GRID, noise_grid(claimed), claimed)


def _levels(scale_c: float, signal_grid: FloatArray, noise: FloatArray, claimed: bool) -> Levels:
    noise_spread = CLAIMED_SPREAD if claimed else UNKNOWN_SPREAD
    signal, ratio = (grid.ravel() for grid in np.meshgrid(signal_grid, noise, indexing="ij"))
    log_prior = -0.5 * (np.log(signal / SIGNAL_CENTRE) / SIGNAL_SPREAD) ** 2
    log_prior = log_prior - 0.5 * (np.log(ratio) / noise_spread) ** 2
    return Levels(signal_c2=(scale_c * signal) ** 2, noise_ratio=ratio, log_prior=log_prior)


def kernels(
    extent_mm: tuple[float, float], seams_mm: tuple[float, ...], seam_axis: int
) -> list[tuple[Correlation, float]]:
    """Return the kernels to average over, each with the logarithm of its prior."""
    return _kernels(LENGTH_GRID, extent_mm, seams_mm, seam_axis)


def _kernels(
    shares: FloatArray, extent_mm: tuple[float, float], seams_mm: tuple[float, ...], seam_axis: int
) -> list[tuple[Correlation, float]]:
    straight: list[tuple[Correlation, float]] = []
    diagonal: list[tuple[Correlation, float]] = []
    for a in shares:
        for b in shares:
            log_prior = length_log_prior(np.array([a, b]))
            length = (float(a * extent_mm[0]), float(b * extent_mm[1]))
            kernel = Kernel(length_mm=length, seams_mm=seams_mm, seam_axis=seam_axis)
            turned = DiagonalKernel(
                extent_mm=extent_mm,
                length_shares=(float(a), float(b)),
                seams_mm=seams_mm,
                seam_axis=seam_axis,
            )
            straight.append((kernel, log_prior))
            diagonal.append((turned, log_prior))
    return straight + diagonal


def length_log_prior(share: FloatArray) -> float:
    """Return the logarithm of the prior of length scales given as shares of the sides."""
    a, b = np.log(share / LENGTH_CENTRE) / LENGTH_SPREAD
    r = LENGTH_TOGETHER
    return float(-0.5 * (a * a - 2 * r * a * b + b * b) / (1 - r * r))


def coarse_levels(scale_c: float, claimed: bool) -> Levels:
    """Return a coarser grid of levels, wide enough for a scale that is only roughly known."""
    return _levels(scale_c, np.geomspace(0.4, 6.0, 5), noise_grid(claimed)[::2], claimed)


def coarse_kernels(
    extent_mm: tuple[float, float], seams_mm: tuple[float, ...], seam_axis: int
) -> list[tuple[Correlation, float]]:
    """Return fewer kernels over the same range of length scales."""
    return _kernels(np.geomspace(0.1, 1.6, 4), extent_mm, seams_mm, seam_axis)
