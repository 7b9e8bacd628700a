"""Where the food may lie: on the grate, inside its rim and its zone."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from heatmap.decisions.placement.footprint import Footprint
from heatmap.decisions.placement.typed import heading_text
from heatmap.errors import InputError
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Box, Grill
from heatmap.units import BoolArray, Display, FloatArray

Headings = tuple[float, ...]

#: Rounding only.
_NEARLY_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """What a footprint has to keep inside of.

    Attributes
    ----------
    footprint : Footprint
    grate : Grate
    margin_mm : float
        How far it keeps off the edge.
    zone_mm : (x0, y0, x1, y1)
        What it keeps inside of.
    over_rim, over_zone : bool
        Whether it may lie over the rim, or outside the zone, since it does not fit otherwise.
    """

    footprint: Footprint
    grate: Grate
    margin_mm: float
    zone_mm: Box
    over_rim: bool
    over_zone: bool

    @classmethod
    def on(cls, grill: Grill, footprint: Footprint, groups: Sequence[Sequence[Headings]]) -> Room:
        """Keep to the zone and off the rim as far as every group has headings that fit so.

        Raises
        ------
        InputError
            When the food does not fit on the grate.
        """
        grate, display = grill.grate, Display(grill.units)
        whole = grill.target.zone == "all"
        for over_zone, margin_mm in itertools.product((True,) if whole else (False, True), (grate.rim_mm, 0.0)):
            room = cls(
                footprint=footprint,
                grate=grate,
                margin_mm=margin_mm,
                zone_mm=(0.0, 0.0, *grate.extent_mm) if over_zone else grill.zone_mm,
                over_rim=margin_mm < grate.rim_mm,
                over_zone=over_zone and not whole,
            )
            if all(any(room.fits(headings) for headings in group) for group in groups):
                return room
        width, depth = (f"{display.length(size):.4g}" for size in grate.extent_mm)
        tight = [group for group in groups if not any(room.fits(headings) for headings in group)][0]
        at = f" at heading {heading_text(tight[0])}" if len(tight) == 1 else ""
        raise InputError(
            f"food of {footprint.size_text(display)} does not fit on the grate, {width} x {depth} "
            f"{display.lengths}{at}; give a smaller --size or another --heading"
        )

    def centres_mm(self, headings: Headings) -> tuple[FloatArray, FloatArray]:
        """Return the lowest and the highest centre, each (2,)."""
        half, extent = np.array(self.footprint.half_extent_mm(headings)), np.array(self.grate.extent_mm)
        low, high = np.array(self.zone_mm[:2]), np.array(self.zone_mm[2:])
        return np.maximum(low, self.margin_mm) + half, np.minimum(high, extent - self.margin_mm) - half

    def fits(self, headings: Headings) -> bool:
        """Tell whether there is a centre at all."""
        return len(self.lattice_mm(headings, math.inf)) > 0

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
