"""The outline of the food, an ellipse: its size, how it lies at a heading by the clock, what it overlaps; and where it
may lie: on the grate, inside its rim and its zone.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from heatmap.decisions.placement.typed import heading_text
from heatmap.errors import InputError
from heatmap.grill.grill import Grill
from heatmap.units import ArrayLike, BoolArray, FloatArray

Headings = tuple[float, ...]

#: Rounding only.
_NEARLY_MM = 1e-6

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

    def half_extent_mm(self, headings: tuple[float, ...]) -> FloatArray:
        """Return how far the outlines at all headings together reach to the right and away from the cook, (2,)."""
        return np.asarray(np.max([self.reach_mm(heading, np.eye(2)) for heading in headings], axis=0))

    def area_rule_mm(self, headings: Headings, centre_mm: ArrayLike = (0.0, 0.0)) -> tuple[FloatArray, FloatArray]:
        """Return points about a centre (n, 2), or about each of (…, 1, 2), (…, n, 2), and weights (n,) that average
        over the area, headings alike.

        Notes
        -----
        Gauss-Legendre in the squared radius times equal angles, exact for polynomials up to degree 11 (A. H. Stroud,
        Approximate Calculation of Multiple Integrals, 1971, section 2.6, from memory). The weights add up to one.
        """
        unit, weights = _disc_rule()
        points = [self._turned(unit, heading) for heading in headings]
        return np.asarray(centre_mm) + np.concatenate(points), np.tile(weights, len(headings)) / len(headings)

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
        even = np.pi * np.arange(_GAP_DIRECTIONS) / _GAP_DIRECTIONS
        axes = [np.stack(_axes(heading)) for heading in {*mine, *others}]
        directions = np.concatenate([np.column_stack([np.cos(even), np.sin(even)]), *axes])
        distance = np.abs(apart @ directions.T)
        reaches = (sum(self.reach_mm(one, directions) for one in pair) for pair in itertools.product(mine, others))
        return np.asarray(np.min([(distance - reach).max(axis=-1) for reach in reaches], axis=0))


class Room:
    """What a footprint has to keep inside of: the zone, and off the rim, as far as it fits so.

    Attributes
    ----------
    footprint : Footprint
    grate : Grate
    margin_mm : float
        How far it keeps off the edge.
    zone_mm : (x0, y0, x1, y1)
        What it keeps inside of.
    """

    def __init__(self, grill: Grill, footprint: Footprint, groups: Sequence[Sequence[Headings]]) -> None:
        """Find the tightest in which every group has headings that fit.

        Raises
        ------
        InputError
            When the food does not fit on the grate.
        """
        self.footprint, self.grate, display = footprint, grill.grate, grill.display
        zones = dict.fromkeys((grill.zone_mm, (0.0, 0.0, *self.grate.extent_mm)))
        for zone_mm, margin_mm in itertools.product(zones, (self.grate.rim_mm, 0.0)):
            self.zone_mm, self.margin_mm = zone_mm, margin_mm
            tight = [group for group in groups if not any(len(self.lattice_mm(one, math.inf)) for one in group)]
            if not tight:
                return
        sizes_mm = footprint.length_mm, footprint.width_mm, *self.grate.extent_mm
        length, across, width, depth = (f"{display.length(size):.4g}" for size in sizes_mm)
        at = f" at heading {heading_text(tight[0][0])}" if len(tight[0]) == 1 else ""
        raise InputError(
            f"food of {length} x {across} {display.lengths} does not fit on the grate, {width} x {depth} "
            f"{display.lengths}{at}; give a smaller size or another heading"
        )

    def centres_mm(self, headings: Headings) -> tuple[FloatArray, FloatArray]:
        """Return the lowest and the highest centre, each (2,)."""
        half, extent = self.footprint.half_extent_mm(headings), np.array(self.grate.extent_mm)
        low, high = np.array(self.zone_mm[:2]), np.array(self.zone_mm[2:])
        return np.maximum(low, self.margin_mm) + half, np.minimum(high, extent - self.margin_mm) - half

    def allows(self, centres_mm: FloatArray, headings: Headings) -> BoolArray:
        """Tell which centres (n, 2) keep the food inside."""
        low, high = self.centres_mm(headings)
        inside = ((centres_mm >= low - _NEARLY_MM) & (centres_mm <= high + _NEARLY_MM)).all(axis=1)
        edge_mm = (centres_mm[:, None] + self.footprint.edge_mm(headings)).reshape(-1, 2)
        off_edge_mm = self.grate.edge_distance_mm(edge_mm).reshape(len(centres_mm), -1)
        return np.asarray(inside & (off_edge_mm >= self.margin_mm - _NEARLY_MM).all(axis=1))

    def lattice_mm(self, headings: Headings, step_mm: float) -> FloatArray:
        """Return evenly spread allowed centres (n, 2), with the most central, on a disc perhaps the only one."""
        lines = []
        for low, high, size in zip(*self.centres_mm(headings), self.grate.extent_mm, strict=True):
            high = max(high, low)
            line = np.linspace(low, high, 1 + math.ceil((high - low) / step_mm))
            lines.append(np.union1d(line, [min(max(0.5 * size, low), high)]))
        x_mm, y_mm = np.meshgrid(*lines)
        centres = np.column_stack([x_mm.ravel(), y_mm.ravel()])
        return centres[self.allows(centres, headings)]


def _axes(heading: float) -> tuple[FloatArray, FloatArray]:
    """Return the unit vectors along a heading and to its right; 12 o'clock is +y, 3 o'clock +x."""
    angle = math.radians(30.0 * heading)
    sine, cosine = math.sin(angle), math.cos(angle)
    return np.array([sine, cosine]), np.array([cosine, -sine])


@lru_cache(maxsize=1)
def _disc_rule() -> tuple[FloatArray, FloatArray]:
    nodes, weights = np.polynomial.legendre.leggauss(_RADIAL)
    radius = np.sqrt(0.5 * (nodes + 1.0))
    angle = 2.0 * np.pi * (np.arange(_ANGULAR) + 0.5) / _ANGULAR
    x, y = np.outer(radius, np.cos(angle)), np.outer(radius, np.sin(angle))
    return np.column_stack([x.ravel(), y.ravel()]), np.repeat(0.5 * weights, _ANGULAR) / _ANGULAR
