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
RIM_WIDTHS = (0.05, 0.12)
"""Distance from the edge over which the rim cools, as shares of the shorter side. On a grate 450 mm deep 22 mm, about
as far as a rail conducts (fin length), and 54 mm towards what radiation lets fall off (tests/benchmarks/surface.py)."""
TREND_SETS = (
    (3.0, 0.5, 0.5, 0.4, 0.4, 0.4, 0.0, 0.0),
    (3.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
    (3.0, 0.5, 0.5, 0.4, 0.4, 0.4, 1.0, 0.0),
    (3.0, 0.5, 0.5, 0.4, 0.4, 0.4, 0.0, 1.0),
    (3.0, 0.5, 0.5, 0.4, 0.4, 0.4, 1.5, 1.5),
    (3.0, 1.0, 1.0, 1.5, 1.5, 1.5, 0.0, 0.0),
)
"""Prior standard deviations of the trends in units of the signal: slight bowl, level only, narrow rim, wide rim, strong
rim, strong bowl. Shots seldom lie on the rim itself, so what may fall off beyond the outermost ones is mostly told by
these. Weakly informative: chosen so that no trend alone explains everything and all together may."""
SUSPECT_SETS = (0, 4)
"""Those that suspects are judged with: slight bowl and strong rim, for a corner may really be cold."""


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
        return np.array(
            [LEVEL_STD, TILT_STD, TILT_STD, BOWL_STD, BOWL_STD, BOWL_STD, *[RIM_STD] * len(RIM_WIDTHS), *steps]
        )

    @property
    def sets(self) -> FloatArray:
        """Prior standard deviations to average over, in units of the signal, (v, p); see TREND_SETS."""
        steps = [STEP_STD] * len(self.seams_mm)
        return np.array([[*row, *steps] for row in TREND_SETS])

    def columns(self, points_mm: FloatArray) -> FloatArray:
        """Return the trend columns at points, (m, p)."""
        width, depth = self.extent_mm
        u = 2.0 * points_mm[:, 0] / width - 1.0
        v = 2.0 * points_mm[:, 1] / depth - 1.0
        to_edge = np.minimum((1.0 - np.abs(u)) * width, (1.0 - np.abs(v)) * depth) / 2.0
        rims = [np.exp(-np.maximum(to_edge, 0.0) / (share * min(width, depth))) for share in RIM_WIDTHS]
        steps = [np.where(points_mm[:, self.seam_axis] > seam, 0.5, -0.5) for seam in self.seams_mm]
        return np.stack([np.ones_like(u), u, v, u * u, v * v, u * v, *rims, *steps], axis=1)

    def panel(self, points_mm: FloatArray) -> IntArray:
        """Return the number of the panel each point lies on, (m,)."""
        return np.searchsorted(np.sort(np.array(self.seams_mm)), points_mm[:, self.seam_axis]).astype(np.int64)
