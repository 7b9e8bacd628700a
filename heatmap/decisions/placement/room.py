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
    limits_mm : (x0, y0, x1, y1)
        What it keeps inside of.
    radius_mm : float or None
        And inside so much of a disc about the middle of the grate.
    middle_mm : (x, y)
    over_rim, over_zone : bool
        Whether it may lie over the rim, or outside the zone, since it does not fit otherwise.
    """

    footprint: Footprint
    limits_mm: Box
    middle_mm: tuple[float, float]
    radius_mm: float | None = None
    over_rim: bool = False
    over_zone: bool = False

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
            zone = (0.0, 0.0, *grate.extent_mm) if over_zone else grill.zone_mm
            room = cls(
                footprint=footprint,
                middle_mm=(0.5 * grate.width_mm, 0.5 * grate.depth_mm),
                limits_mm=(
                    max(zone[0], margin_mm),
                    max(zone[1], margin_mm),
                    min(zone[2], grate.width_mm - margin_mm),
                    min(zone[3], grate.depth_mm - margin_mm),
                ),
                radius_mm=0.5 * grate.width_mm - margin_mm if grate.is_round else None,
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
        half = np.array(self.footprint.half_extent_mm(headings))
        return np.array(self.limits_mm[:2]) + half, np.array(self.limits_mm[2:]) - half

    def fits(self, headings: Headings) -> bool:
        """Tell whether there is a centre at all."""
        return len(self.lattice_mm(headings, math.inf)) > 0

    def allows(self, centres_mm: FloatArray, headings: Headings) -> BoolArray:
        """Tell which centres (n, 2) keep the food inside."""
        low, high = self.centres_mm(headings)
        inside = ((centres_mm >= low - _NEARLY_MM) & (centres_mm <= high + _NEARLY_MM)).all(axis=1)
        if self.radius_mm is not None:
            edge = centres_mm[:, None] + self.footprint.edge_mm(headings) - np.array(self.middle_mm)
            inside &= np.hypot(edge[..., 0], edge[..., 1]).max(axis=1) <= self.radius_mm + _NEARLY_MM
        return np.asarray(inside)

    def lattice_mm(self, headings: Headings, step_mm: float) -> FloatArray:
        """Return evenly spread allowed centres (n, 2); on a disc with the most central, which may be the only one."""
        lines = []
        for low, high, middle in zip(*self.centres_mm(headings), self.middle_mm, strict=True):
            high = max(high, low)
            line = np.linspace(low, high, 1 + math.ceil((high - low) / step_mm))
            central = [] if self.radius_mm is None else [min(max(middle, low), high)]
            lines.append(np.union1d(line, central))
        x_mm, y_mm = np.meshgrid(*lines)
        centres = np.column_stack([x_mm.ravel(), y_mm.ravel()])
        return centres[self.allows(centres, headings)]
