"""Where the food may lie: on the grate, inside its rim, off what is marked out, off the seams."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatmap.decisions.placement.footprint import Footprint, heading_text
from heatmap.errors import InputError
from heatmap.grill.grill import Grate
from heatmap.units import Display

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Box = tuple[float, float, float, float]
Headings = tuple[float, ...]

#: Rounding only.
_NEARLY_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """What a footprint has to keep inside of and off.

    Attributes
    ----------
    footprint : Footprint
    extent_mm : (width, depth)
    margin_mm : float
        Edge it keeps off.
    boxes_mm : tuple of (x0, y0, x1, y1)
        Marked-out areas.
    seams_mm, seam_axis
        Seams to keep off, and the coordinate (0 is x) that changes across them.
    """

    footprint: Footprint
    extent_mm: tuple[float, float]
    margin_mm: float
    boxes_mm: tuple[Box, ...] = ()
    seams_mm: tuple[float, ...] = ()
    seam_axis: int = 0

    @classmethod
    def on(
        cls,
        grate: Grate,
        footprint: Footprint,
        groups: Sequence[Sequence[Headings]],
        *,
        keep_off_mm: Sequence[Box],
        off_seams: bool,
        display: Display,
    ) -> Room:
        """Keep off the rim where every group has headings that fit inside it, else only inside the grate.

        Raises
        ------
        InputError
            When the food does not fit on the grate.
        """
        common = {
            "footprint": footprint,
            "extent_mm": grate.extent_mm,
            "boxes_mm": tuple(check_box(box) for box in keep_off_mm),
            "seams_mm": grate.seams_mm if off_seams else (),
            "seam_axis": 0 if grate.seam_axis == "x" else 1,
        }
        for margin_mm in (grate.rim_mm, 0.0):
            room = cls(margin_mm=margin_mm, **common)  # type: ignore[arg-type]
            if all(any(room.fits(headings) for headings in group) for group in groups):
                return room
        width, depth = (f"{display.length(size):.4g}" for size in grate.extent_mm)
        tight = [group for group in groups if not any(room.fits(headings) for headings in group)][0]
        at = f" at heading {heading_text(tight[0])}" if len(tight) == 1 else ""
        raise InputError(
            f"food of {footprint.size_text(display)} does not fit on the grate, {width} x {depth} "
            f"{display.lengths}{at}; give a smaller --size or another --heading"
        )

    def limits_mm(self, headings: Headings) -> tuple[FloatArray, FloatArray]:
        """Return the lowest and the highest centre, each (2,)."""
        half = np.array(self.footprint.half_extent_mm(headings)) + self.margin_mm
        return half, np.array(self.extent_mm) - half

    def fits(self, headings: Headings) -> bool:
        """Tell whether there is a centre at all."""
        low, high = self.limits_mm(headings)
        return bool(np.all(low <= high + _NEARLY_MM))

    def allows(self, centres_mm: FloatArray, headings: Headings) -> BoolArray:
        """Tell which centres (n, 2) keep the food inside and off everything."""
        low, high = self.limits_mm(headings)
        inside = (centres_mm >= low - _NEARLY_MM) & (centres_mm <= high + _NEARLY_MM)
        allowed = inside.all(axis=1)
        for box in self.boxes_mm:
            allowed &= self.footprint.gaps_to_box_mm(centres_mm, headings, box) >= -_NEARLY_MM
        reach = self.footprint.half_extent_mm(headings)[self.seam_axis]
        for seam_mm in self.seams_mm:
            allowed &= np.abs(centres_mm[:, self.seam_axis] - seam_mm) >= reach - _NEARLY_MM
        return np.asarray(allowed)

    def lattice_mm(self, headings: Headings, step_mm: float) -> FloatArray:
        """Return evenly spread allowed centres (n, 2), with those that just touch what is kept off."""
        low, high = self.limits_mm(headings)
        lines = []
        for axis in (0, 1):
            count = 1 + math.ceil(max(high[axis] - low[axis], 0.0) / step_mm)
            even = np.linspace(low[axis], max(high[axis], low[axis]), count)
            touching = np.array(self._touching_mm(headings, axis))
            kept = touching[(touching > low[axis]) & (touching < high[axis])]
            lines.append(np.unique(np.concatenate([even, kept])))
        x_mm, y_mm = np.meshgrid(*lines)
        centres = np.column_stack([x_mm.ravel(), y_mm.ravel()])
        return centres[self.allows(centres, headings)]

    def _touching_mm(self, headings: Headings, axis: int) -> list[float]:
        reach = self.footprint.half_extent_mm(headings)[axis]
        edges = [side for box in self.boxes_mm for side in (box[axis] - reach, box[axis + 2] + reach)]
        if axis == self.seam_axis:
            edges += [seam + sign * reach for seam in self.seams_mm for sign in (-1.0, 1.0)]
        return edges

    def nothing_left(self, display: Display) -> InputError:
        """Return the error for a grate that is marked out altogether."""
        what = ["the marked-out areas"] if self.boxes_mm else []
        what += ["the seams"] if self.seams_mm else []
        return InputError(
            f"no place is left for food of {self.footprint.size_text(display)} off {' and '.join(what)}; "
            "keep off less, or give a smaller --size"
        )


def check_box(box: Box) -> Box:
    """Return a box with its corners in order.

    Raises
    ------
    InputError
        When it is not four finite numbers, or has no area.
    """
    if len(box) != 4 or not all(math.isfinite(number) for number in box):
        raise InputError("an area to keep off needs four numbers: x0,y0,x1,y1 of two opposite corners")
    x0, y0, x1, y1 = box
    if x0 == x1 or y0 == y1:
        raise InputError("an area to keep off has no width or no depth; give two opposite corners, x0,y0,x1,y1")
    return (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))


def read_box(text: str) -> Box:
    """Read "x0,y0,x1,y1" in any one unit.

    Raises
    ------
    InputError
        When it cannot be read.
    """
    try:
        numbers = tuple(float(part) for part in text.split(","))
    except ValueError:
        numbers = ()
    if len(numbers) != 4:
        raise InputError(
            f'keep off "{text}" cannot be read; write x0,y0,x1,y1 of two opposite corners, such as 0,0,6,4'
        )
    return check_box(numbers)
