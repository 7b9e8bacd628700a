"""A place in the grate's own names, as a hand can find it: "on B2, a hand towards B3"."""

from __future__ import annotations

import math

from heatmap.grill.grate import Point
from heatmap.grill.grill import Grill
from heatmap.words.phrases import joined

#: Nearer to a position than this it is "on" it, mm: no hand sets food down better than to an inch (assumed).
_ON_MM = 25.4
#: Nearer than this it is two fingers, else a hand, mm; their breadths are about 40 and 100 (from memory).
_HAND_MM = 65.0
#: From this part of the way on it is "between".
_BETWEEN = 0.4
#: Cosine of how far the way to a neighbour may lie off the way to the centre: half of what lies between straight and
#: across.
_ALIGNED = math.cos(math.radians(30.0))
_EDGES = (("left", "right"), ("front", "back"))


def where(grill: Grill, x_mm: float, y_mm: float) -> str:
    """Say where a centre lies: "on B2", "on B2, a hand towards C3", "between B2 and B3"."""
    here = min(grill.labels, key=lambda label: math.dist(grill.point_mm(label), (x_mm, y_mm)))
    at = grill.point_mm(here)
    off_mm = (x_mm - at[0], y_mm - at[1])
    far_mm = math.hypot(*off_mm)
    if far_mm < _ON_MM:
        return f"on {here}"
    beside = _neighbour(grill, here, off_mm)
    if beside is None:
        axis = 0 if abs(off_mm[0]) > abs(off_mm[1]) else 1
        beside = f"the {_EDGES[axis][off_mm[axis] > 0]} edge"
    elif far_mm > _BETWEEN * math.dist(at, grill.point_mm(beside)):
        return f"between {joined(sorted([here, beside]))}"
    return f"on {here}, {'two fingers' if far_mm < _HAND_MM else 'a hand'} towards {beside}"


def _neighbour(grill: Grill, here: str, off_mm: Point) -> str | None:
    """Return the position beside, straight on or across, in whose direction an offset points; None where none is."""
    at = grill.point_mm(here)
    found = []
    for label in grill.labels:
        to_mm = [there - mine for there, mine in zip(grill.point_mm(label), at, strict=True)]
        length_mm = math.hypot(*to_mm)
        along = sum(one * other for one, other in zip(to_mm, off_mm, strict=True)) / math.hypot(*off_mm)
        if length_mm > 0 and along > _ALIGNED * length_mm:
            found.append((length_mm / along * length_mm, label))
    return min(found, default=(0.0, None))[1]
