"""The correlation of the surface between any two places, and the cheap way to work it out on a grid."""

from __future__ import annotations

from dataclasses import dataclass

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
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
            seams = np.sort(np.array(self.seams_mm))
            same = np.searchsorted(seams, a_mm)[:, None] == np.searchsorted(seams, b_mm)[None, :]
            correlation = correlation * np.where(same, 1.0, ACROSS_SEAM)
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
