"""Trends that are real on a grate: level, tilt, bowl, and the fall-off along the rim; steps at panel
seams."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from heatmap.surface.types import FloatArray, IntArray

LEVEL_STD = 10.0
TILT_STD = 0.5
BOWL_STD = 0.4
RIM_STD = 0.4
STEP_STD = 0.7
RIM_WIDTH = 0.08
TREND_SETS = (
    (3.0, 0.5, 0.5, 0.4, 0.4, 0.4, 0.0),
    (3.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
    (3.0, 0.5, 0.5, 0.4, 0.4, 0.4, 0.7),
    (3.0, 1.0, 1.0, 1.5, 1.5, 1.5, 0.0),
)
"""Prior standard deviations of the trends in units of the readings' own spread, and the width over which the
rim cools in units of the shorter side. Weakly informative: chosen so that no trend alone explains everything
and all together may; see tests/benchmarks/surface.py."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trends:
    """The trend columns for one grate."""

    extent_mm: tuple[float, float]
    seams_mm: tuple[float, ...] = ()
    seam_axis: int = 0

    @property
    def std(self) -> FloatArray:
        """Prior standard deviation of each coefficient, in units of the readings' spread."""
        steps = [STEP_STD] * len(self.seams_mm)
        return np.array([LEVEL_STD, TILT_STD, TILT_STD, BOWL_STD, BOWL_STD, BOWL_STD, RIM_STD, *steps])

    @property
    def sets(self) -> FloatArray:
        """Prior standard deviations to average over, in units of the signal, (v, p): slight bowl, level
        only, rim, strong bowl."""
        steps = [STEP_STD] * len(self.seams_mm)
        return np.array([[*row, *steps] for row in TREND_SETS])

    def columns(self, points_mm: FloatArray) -> FloatArray:
        """Return the trend columns at points, (m, p)."""
        width, depth = self.extent_mm
        u = 2.0 * points_mm[:, 0] / width - 1.0
        v = 2.0 * points_mm[:, 1] / depth - 1.0
        to_edge = np.minimum((1.0 - np.abs(u)) * width, (1.0 - np.abs(v)) * depth) / 2.0
        rim = np.exp(-np.maximum(to_edge, 0.0) / (RIM_WIDTH * min(width, depth)))
        steps = [np.where(points_mm[:, self.seam_axis] > seam, 0.5, -0.5) for seam in self.seams_mm]
        return np.stack([np.ones_like(u), u, v, u * u, v * v, u * v, rim, *steps], axis=1)

    def panel(self, points_mm: FloatArray) -> IntArray:
        """Return the number of the panel each point lies on, (m,)."""
        return np.searchsorted(np.sort(np.array(self.seams_mm)), points_mm[:, self.seam_axis]).astype(np.int64)
