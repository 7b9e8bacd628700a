"""The outline of the food, an ellipse: its size, how it lies at a heading by the clock, and what it overlaps."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from heatmap.errors import InputError
from heatmap.units import Display, FloatArray

#: Radial and angular nodes of the rule for a disc: exact for polynomials of degree 11.
_RADIAL, _ANGULAR = 4, 12
#: Points on the edge, where the hottest and the coldest of the contact mostly are.
_ON_EDGE = 24
#: Directions in which a gap between two outlines is looked for, 10° apart, besides the axes of both.
_GAP_DIRECTIONS = 18


@dataclass(frozen=True, slots=True, kw_only=True)
class Footprint:
    """The part of the food that lies on the grate.

    Attributes
    ----------
    length_mm, width_mm : float
        Along the heading and across it.
    """

    length_mm: float
    width_mm: float

    def __post_init__(self) -> None:
        """Refuse what is no outline."""
        for name, value in (("length", self.length_mm), ("width", self.width_mm)):
            if not 0.0 < value < math.inf:
                raise InputError(f"the {name} of the food is {value:g}; it must be above 0")

    @property
    def is_round(self) -> bool:
        """Whether every heading is the same."""
        return math.isclose(self.length_mm, self.width_mm)

    def size_text(self, display: Display) -> str:
        """Return the size in words: "7.5 x 5 in"."""
        length, width = display.length(self.length_mm), display.length(self.width_mm)
        return f"{length:.4g} x {width:.4g} {display.lengths}"

    def reach_mm(self, heading: float, directions: ArrayLike) -> FloatArray:
        """Return how far the outline reaches from its centre in unit directions (d, 2), shape (d,).

        Notes
        -----
        The support function of an ellipse: √(a² + b²), with a and b the parts of the half axes in a direction.
        """
        along, across = _axes(heading)
        towards = np.asarray(directions, dtype=np.float64)
        a = np.abs(towards @ along) * 0.5 * self.length_mm
        b = np.abs(towards @ across) * 0.5 * self.width_mm
        return np.hypot(a, b)

    def half_extent_mm(self, headings: tuple[float, ...]) -> tuple[float, float]:
        """Return how far the outlines at all headings together reach to the right and away from the cook."""
        reaches = np.array([self.reach_mm(heading, np.eye(2)) for heading in headings])
        across, away = reaches.max(axis=0)
        return float(across), float(away)

    def area_rule_mm(self, headings: tuple[float, ...]) -> tuple[FloatArray, FloatArray]:
        """Return points about the centre (n, 2) and weights (n,) that average over the area, headings alike.

        Notes
        -----
        Gauss-Legendre in the squared radius times equal angles, exact for polynomials up to degree 11 (A. H. Stroud,
        Approximate Calculation of Multiple Integrals, 1971, section 2.6, from memory). The weights add up to one.
        """
        unit, weights = _disc_rule()
        points = [self._turned(unit, heading) for heading in headings]
        return np.concatenate(points), np.tile(weights, len(headings)) / len(headings)

    def edge_mm(self, headings: tuple[float, ...]) -> FloatArray:
        """Return points on the edge, about the centre, at all headings (n, 2)."""
        angle = 2.0 * np.pi * np.arange(_ON_EDGE) / _ON_EDGE
        unit = np.column_stack([np.cos(angle), np.sin(angle)])
        return np.concatenate([self._turned(unit, heading) for heading in headings])

    def _turned(self, unit: FloatArray, heading: float) -> FloatArray:
        """Return points of the square from -1 to 1, first coordinate along the heading, at true size."""
        along, across = _axes(heading)
        scaled = 0.5 * unit * [self.length_mm, self.width_mm]
        return np.asarray(scaled[:, :1] * along + scaled[:, 1:] * across)

    def gaps_mm(self, apart_mm: ArrayLike, mine: tuple[float, ...], others: tuple[float, ...]) -> FloatArray:
        """Return the gap to the same food at centres `apart_mm` (…, 2) away, (…); negative: they overlap.

        Notes
        -----
        Two convex sets are apart exactly when a line fits between them. It is looked for in directions 10°
        apart and in the axes of both, so a gap that is found is there; one of less than 1 % of the length may
        be missed.
        """
        apart = np.asarray(apart_mm, dtype=np.float64)
        directions = _directions((*mine, *others))
        distance = np.abs(apart @ directions.T)
        least = np.full(apart.shape[:-1], np.inf)
        for own in mine:
            for other in others:
                reach = self.reach_mm(own, directions) + self.reach_mm(other, directions)
                least = np.minimum(least, (distance - reach).max(axis=-1))
        return least


def _axes(heading: float) -> tuple[FloatArray, FloatArray]:
    """Return the unit vectors along a heading and to its right; 12 o'clock is +y, 3 o'clock +x."""
    angle = math.radians(30.0 * heading)
    sine, cosine = math.sin(angle), math.cos(angle)
    return np.array([sine, cosine]), np.array([cosine, -sine])


def _directions(headings: tuple[float, ...]) -> FloatArray:
    even = np.pi * np.arange(_GAP_DIRECTIONS) / _GAP_DIRECTIONS
    rows = [np.column_stack([np.cos(even), np.sin(even)])]
    rows += [np.stack(_axes(heading)) for heading in set(headings)]
    return np.concatenate(rows)


@lru_cache(maxsize=1)
def _disc_rule() -> tuple[FloatArray, FloatArray]:
    nodes, weights = np.polynomial.legendre.leggauss(_RADIAL)
    radius = np.sqrt(0.5 * (nodes + 1.0))
    angle = 2.0 * np.pi * (np.arange(_ANGULAR) + 0.5) / _ANGULAR
    x, y = np.outer(radius, np.cos(angle)), np.outer(radius, np.sin(angle))
    return np.column_stack([x.ravel(), y.ravel()]), np.repeat(0.5 * weights, _ANGULAR) / _ANGULAR
