"""The surface as placement sees it: how far from the target, how uncertain, and averages over footprints."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from heatmap.units import FloatArray, IntArray
from heatmap.verdict.chances import normal_cumulative

if TYPE_CHECKING:
    from heatmap.assessment import Assessment


@dataclass(frozen=True, kw_only=True, eq=False)
class TargetField:
    """Numbers held against the band, as differences from its middle, on cells of an inch.

    Attributes
    ----------
    x_mm, y_mm : ndarray, shape (columns,) and (rows,)
    off_c : ndarray, shape (rows, columns)
        Mean, less the target.
    variance_c2 : ndarray, shape (rows, columns)
        Own variance.
    samples_c : ndarray, shape (count, rows * columns)
        Joint samples, less the target, without the level.
    level_std_c : float
        What moves all cells together.
    half_band_c : float
        From the target to either limit.
    """

    x_mm: FloatArray
    y_mm: FloatArray
    off_c: FloatArray
    variance_c2: FloatArray
    samples_c: FloatArray
    level_std_c: float
    half_band_c: float

    @classmethod
    def of(
        cls, assessment: Assessment, *, whole_grate: bool = False, compared_c: FloatArray | None = None
    ) -> TargetField:
        """Take the cells inside the rim, or all of them; the mean of the map at all wide cells (m,), or another one."""
        cells, target = assessment.wide_cells, assessment.grill.target
        rows, columns = cells.inside.any(axis=1), cells.inside.any(axis=0)
        if whole_grate:
            rows, columns = np.ones_like(rows), np.ones_like(columns)
        block = np.ix_(rows, columns)
        shape = cells.inside.shape
        mean_c, own_std_c = assessment.wide_surface_c
        if compared_c is None:
            compared_c = assessment.calibration.compared_c(mean_c)
        kept = np.outer(rows, columns).ravel()
        return cls(
            x_mm=cells.x_mm[columns],
            y_mm=cells.y_mm[rows],
            off_c=compared_c.reshape(shape)[block] - target.middle_c,
            variance_c2=(own_std_c.reshape(shape)[block] * assessment.compared_slope) ** 2,
            samples_c=assessment.samples_c[:, kept] - target.middle_c,
            level_std_c=assessment.level_std_c,
            half_band_c=0.5 * (target.high_c - target.low_c),
        )

    @cached_property
    def expected_square_c2(self) -> FloatArray:
        """Expected squared difference from the target without the level, (rows, columns)."""
        return self.off_c**2 + self.variance_c2

    def at(self, values: FloatArray, points_mm: FloatArray) -> FloatArray:
        """Return values of all cells (…, rows * columns) at points (…, 2), bilinear between centres."""
        left, right, to_right = _between(self.x_mm, points_mm[..., 0])
        front, back, to_back = _between(self.y_mm, points_mm[..., 1])
        columns = len(self.x_mm)
        cells = [row * columns + column for row in (front, back) for column in (left, right)]
        weights = [along * across for along in (1 - to_back, to_back) for across in (1 - to_right, to_right)]
        return np.asarray((values[..., np.stack(cells)] * np.stack(weights)).sum(axis=values.ndim - 1))

    def squares_c2(self, points_mm: FloatArray, weights: FloatArray) -> FloatArray:
        """Return the mean of the expected squares over footprints of points (n, q, 2), shape (n,)."""
        return np.asarray(self.at(self.expected_square_c2.ravel(), points_mm) @ weights)

    def sampled(self, points_mm: FloatArray) -> FloatArray:
        """Return the samples at points (q, 2), shape (count, q)."""
        return self.at(self.samples_c, points_mm)

    def chance_in_band(self, sampled_c: FloatArray) -> float:
        """Return the chance that all points of samples (count, q) are in band, exact over the level."""
        low, high = sampled_c.min(axis=1), sampled_c.max(axis=1)
        level_c = max(self.level_std_c, 1e-9)
        below_top = normal_cumulative((self.half_band_c - high) / level_c)
        chance = below_top - normal_cumulative((-self.half_band_c - low) / level_c)
        return float(np.mean(np.maximum(chance, 0.0)))


def _between(lines_mm: FloatArray, at_mm: FloatArray) -> tuple[IntArray, IntArray, FloatArray]:
    """Return the lines on both sides of coordinates and how far across they lie; end gaps go on outwards."""
    if len(lines_mm) == 1:
        zero = np.zeros(at_mm.shape, dtype=np.int64)
        return zero, zero, np.zeros(at_mm.shape)
    place = (at_mm - lines_mm[0]) / (lines_mm[1] - lines_mm[0])
    low = np.clip(np.floor(place).astype(np.int64), 0, len(lines_mm) - 2)
    return low, low + 1, place - low
