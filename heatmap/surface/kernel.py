"""The correlation of the surface between any two places, and the cheap way to work it out on a grid."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Protocol, Self

import numpy as np

from heatmap.surface.matern import matern
from heatmap.surface.types import FloatArray, IntArray

ACROSS_SEAM = 0.7
"""Correlation of two panels where they meet, beside the step itself: they share burners but not metal.
Assumed."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lines:
    """Points told as the distinct x and y they use: a grid of 120 x 90 cells has 10 800 points on 210
    lines."""

    x_mm: FloatArray
    y_mm: FloatArray
    x_of_point: IntArray
    y_of_point: IntArray

    @property
    def is_grid(self) -> bool:
        """Whether the points are all crossings, row by row."""
        nx, ny = len(self.x_mm), len(self.y_mm)
        if len(self.x_of_point) != nx * ny:
            return False
        across = self.x_of_point.reshape(ny, nx)
        away = self.y_of_point.reshape(ny, nx)
        return bool(np.all(across == np.arange(nx)) and np.all(away == np.arange(ny)[:, None]))


def lines_of(points_mm: FloatArray) -> Lines:
    """Return the distinct x and y among points."""
    x, x_of_point = np.unique(points_mm[:, 0], return_inverse=True)
    y, y_of_point = np.unique(points_mm[:, 1], return_inverse=True)
    return Lines(x_mm=x, y_mm=y, x_of_point=x_of_point, y_of_point=y_of_point)


class Correlation(Protocol):
    """The correlation of the surface between places: 1 from a place to itself."""

    def __call__(self, a_mm: FloatArray, b_mm: FloatArray) -> FloatArray:
        """Return the correlation of points (a, 2) with points (b, 2), (a, b)."""
        ...

    def on_lines(self, a_mm: FloatArray, lines: Lines, is_grid: bool) -> FloatArray:
        """Return the correlation of points (a, 2) with points on lines, (a, m)."""
        ...

    def stretched(self, first: float, second: float) -> Self:
        """Return the same kernel with its two length scales multiplied."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Kernel:
    """A product of a Matérn correlation along x and one along y, weaker across panel seams.

    Parameters
    ----------
    length_mm : (float, float)
        Length scales along x and along y [mm].
    smoothness : float
        Order ν of both.
    seams_mm : tuple of float
        Where panels meet [mm], along ``seam_axis`` (0 is x, 1 is y).
    """

    length_mm: tuple[float, float]
    smoothness: float = 2.5
    seams_mm: tuple[float, ...] = ()
    seam_axis: int = 0

    def along(self, axis: int, a_mm: FloatArray, b_mm: FloatArray) -> FloatArray:
        """Return the correlation along one axis, (a, b)."""
        scaled = np.abs(a_mm[:, None] - b_mm[None, :]) / self.length_mm[axis]
        correlation = matern(scaled, self.smoothness)
        if self.seams_mm and axis == self.seam_axis:
            correlation = correlation * across_seams(self.seams_mm, a_mm, b_mm)
        return correlation

    def __call__(self, a_mm: FloatArray, b_mm: FloatArray) -> FloatArray:
        """Return the correlation of points (a, 2) with points (b, 2), (a, b)."""
        return self.along(0, a_mm[:, 0], b_mm[:, 0]) * self.along(1, a_mm[:, 1], b_mm[:, 1])

    def on_lines(self, a_mm: FloatArray, lines: Lines, is_grid: bool) -> FloatArray:
        """Return the correlation of points (a, 2) with points on lines, (a, m)."""
        along_x = self.along(0, a_mm[:, 0], lines.x_mm)
        along_y = self.along(1, a_mm[:, 1], lines.y_mm)
        if is_grid:
            return (along_y[:, :, None] * along_x[:, None, :]).reshape(len(a_mm), -1)
        return along_x[:, lines.x_of_point] * along_y[:, lines.y_of_point]

    def half(self, first: bool, points_mm: FloatArray) -> FloatArray:
        """Return the correlation of points (n, 2) along x, or along y, (n, n)."""
        axis = 0 if first else 1
        return self.along(axis, points_mm[:, axis], points_mm[:, axis])

    def half_key(self, first: bool) -> Hashable:
        """Return what it depends on besides the points."""
        return (first, self.length_mm[0 if first else 1], self.smoothness, self.seams_mm, self.seam_axis)

    def stretched(self, first: float, second: float) -> Kernel:
        """Return the same kernel with its two length scales multiplied."""
        return replace(self, length_mm=(self.length_mm[0] * first, self.length_mm[1] * second))


@dataclass(frozen=True, slots=True, kw_only=True)
class DiagonalKernel:
    """A squared exponential with its length scales along the two diagonals of the grate, weaker across panel seams.

    A ridge of heat or a cold side need not run along the rails; wind and a tilted burner make others.

    Parameters
    ----------
    extent_mm : (float, float)
        Width and depth of the grate [mm].
    length_shares : (float, float)
        Length scales along the rising diagonal and across it, as shares of the sides.
    seams_mm, seam_axis
        As for :class:`Kernel`.
    """

    extent_mm: tuple[float, float]
    length_shares: tuple[float, float]
    seams_mm: tuple[float, ...] = ()
    seam_axis: int = 0

    def __call__(self, a_mm: FloatArray, b_mm: FloatArray) -> FloatArray:
        """Return the correlation of points (a, 2) with points (b, 2), (a, b)."""
        return self._correlation(a_mm, self._sides(a_mm)[0], b_mm, self._sides(b_mm)[1])

    def row_of(self, points_mm: FloatArray) -> Callable[[int], FloatArray]:
        """Return what gives the correlation of one of the points (n, 2) with all of them, (n,)."""
        left, right = self._sides(points_mm)

        def row(i: int) -> FloatArray:
            one = slice(i, i + 1)
            return np.asarray(self._correlation(points_mm[one], left[one], points_mm, right)[0])

        return row

    def _sides(self, points_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return two matrices (n, 4): one times the other transposed is -|a - b|^2 / 2."""
        place, ones = self._diagonals(points_mm), np.ones((len(points_mm), 1))
        square = -0.5 * (place**2).sum(axis=1, keepdims=True)
        return np.concatenate([place, square, ones], axis=1), np.concatenate([place, ones, square], axis=1)

    def _correlation(self, a_mm: FloatArray, left: FloatArray, b_mm: FloatArray, right: FloatArray) -> FloatArray:
        exponent = np.minimum(left @ right.T, 0.0)
        correlation: FloatArray = np.exp(exponent, out=exponent)
        if self.seams_mm:
            axis = self.seam_axis
            correlation *= across_seams(self.seams_mm, a_mm[:, axis], b_mm[:, axis])
        return correlation

    def on_lines(self, a_mm: FloatArray, lines: Lines, is_grid: bool) -> FloatArray:
        """Return the correlation of points (a, 2) with points on lines, (a, m)."""
        return self(a_mm, np.stack([lines.x_mm[lines.x_of_point], lines.y_mm[lines.y_of_point]], axis=1))

    def half(self, first: bool, points_mm: FloatArray) -> FloatArray:
        """Return the correlation of points (n, 2) along the rising diagonal, or across it and seams, (n, n)."""
        place = self._diagonals(points_mm)[:, 0 if first else 1]
        correlation: FloatArray = np.exp(-0.5 * (place[:, None] - place) ** 2)
        if self.seams_mm and not first:
            along = points_mm[:, self.seam_axis]
            correlation = correlation * across_seams(self.seams_mm, along, along)
        return correlation

    def half_key(self, first: bool) -> Hashable:
        """Return what it depends on besides the points."""
        share = self.length_shares[0 if first else 1]
        return ("diagonal", first, share, self.extent_mm, self.seams_mm, self.seam_axis)

    def stretched(self, first: float, second: float) -> DiagonalKernel:
        """Return the same kernel with its two length scales multiplied."""
        a, b = self.length_shares
        return replace(self, length_shares=(a * first, b * second))

    def _diagonals(self, points_mm: FloatArray) -> FloatArray:
        middle = points_mm / np.array(self.extent_mm) - 0.5
        along, across = middle[:, 0] + middle[:, 1], middle[:, 1] - middle[:, 0]
        return np.asarray(np.stack([along, across], axis=1) / (np.sqrt(2.0) * np.array(self.length_shares)))


def across_seams(seams_mm: tuple[float, ...], a_mm: FloatArray, b_mm: FloatArray) -> FloatArray:
    """Return the factor of the correlation between coordinates on one panel or on two, (a, b)."""
    seams = np.sort(np.array(seams_mm))
    same = np.searchsorted(seams, a_mm)[:, None] == np.searchsorted(seams, b_mm)[None, :]
    return np.where(same, 1.0, ACROSS_SEAM)


MOST_KNOWN = 2**16
"""The correlations of places with a grid are the same for every round: up to this many numbers of a kernel are kept."""


def on_lines(kernel: Correlation, a_mm: FloatArray, lines: Lines, is_grid: bool) -> FloatArray:
    """Return the correlation of points (a, 2) with points on lines, (a, m), not to be written to."""
    small = is_grid and len(a_mm) * len(lines.x_of_point) <= MOST_KNOWN
    if small and isinstance(kernel, Kernel | DiagonalKernel):
        return _known_on_grid(kernel, a_mm.tobytes(), lines.x_mm.tobytes(), lines.y_mm.tobytes())
    return kernel.on_lines(a_mm, lines, is_grid)


@lru_cache(maxsize=80)
def _known_on_grid(kernel: Kernel | DiagonalKernel, a: bytes, x: bytes, y: bytes) -> FloatArray:
    x_mm, y_mm = np.frombuffer(x), np.frombuffer(y)
    columns, rows = np.meshgrid(np.arange(len(x_mm)), np.arange(len(y_mm)))
    lines = Lines(x_mm=x_mm, y_mm=y_mm, x_of_point=columns.ravel(), y_of_point=rows.ravel())
    known = kernel.on_lines(np.frombuffer(a).reshape(-1, 2), lines, True)
    known.setflags(write=False)
    return known


def correlations(points_mm: FloatArray, kernels: Sequence[Correlation]) -> FloatArray:
    """Return the correlation matrices of points (n, 2) by many kernels, (k, n, n), not to be written to."""
    if len(points_mm) ** 2 * len(kernels) <= 4 * MOST_KNOWN:
        return _known_correlations(points_mm.tobytes(), tuple(kernels))
    return _correlations(points_mm, kernels)


@lru_cache(maxsize=8)
def _known_correlations(points: bytes, kernels: tuple[Correlation, ...]) -> FloatArray:
    known = _correlations(np.frombuffer(points).reshape(-1, 2), kernels)
    known.setflags(write=False)
    return known


def _correlations(points_mm: FloatArray, kernels: Sequence[Correlation]) -> FloatArray:
    """Work them out; ours are products of two factors, and many have a factor in common: each is worked out once."""
    result = np.empty((len(kernels), len(points_mm), len(points_mm)))
    halves: dict[Hashable, FloatArray] = {}
    for i, kernel in enumerate(kernels):
        if i and kernel is kernels[i - 1]:
            result[i] = result[i - 1]
        elif isinstance(kernel, Kernel | DiagonalKernel):
            keys = kernel.half_key(True), kernel.half_key(False)
            for key, first in zip(keys, (True, False), strict=True):
                if key not in halves:
                    halves[key] = kernel.half(first, points_mm)
            np.multiply(halves[keys[0]], halves[keys[1]], out=result[i])
        else:
            result[i] = kernel(points_mm, points_mm)
    return result
