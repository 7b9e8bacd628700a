"""Places a little beside the labelled positions, so that a round sees what lies between them.

Twelve positions leave a hand's length between two. What the gun sees there in every round is known well and what lies
between is guessed; a round shot beside its positions, each time to another side, fills the guess in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from heatmap.grill.grill import Grill, Point
from heatmap.readings.reading import Round
from heatmap.readings.written import ROUNDED_MM
from heatmap.units import Display, mm_from_in

#: How far beside at most, as a share of the way to the next position. Assumed: near a third, so that neighbours shot to
#: opposite sides do not meet.
SHARE = 0.3
#: To which sides, x and y, round after round; the first round stands at the positions themselves.
SIDES = ((0, 0), (1, 1), (-1, 1), (1, -1), (-1, -1))


def offset_mm(grill: Grill, rounds_before: Sequence[Round]) -> Point:
    """Return how far beside its positions the next round is shot, x and y in mm: whole half inches or centimetres.

    Parameters
    ----------
    grill : Grill
    rounds_before : sequence of Round
        Those that cover the grate count: at half the positions at least.

    Notes
    -----
    No farther than keeps the outermost places off the rim; where positions stand on the rim that is nowhere.
    """
    covering = [one for one in rounds_before if 2 * len(_places(one)) >= len(grill.labels)]
    to_right, to_back = SIDES[len(covering) % len(SIDES)]
    x_mm, y_mm = _farthest_mm(grill)
    return to_right * x_mm, to_back * y_mm


def has_room(grill: Grill) -> bool:
    """Tell whether there is room beside the positions."""
    return any(_farthest_mm(grill))


def _farthest_mm(grill: Grill) -> Point:
    """Return how far beside a position a round goes, x and y."""
    grate, positions = grill.grate, grill.positions
    unit_mm = mm_from_in(0.5) if grill.units == "us" else 10.0
    room_mm = max(0.0, positions.margin_mm - grate.rim_mm)
    if grate.is_round:
        room_mm /= math.sqrt(2.0)  # to the side and away at once, where the edge may lie either way
    steps_mm = (
        _step_mm(grate.width_mm, positions.columns, positions.margin_mm),
        _step_mm(grate.depth_mm, positions.rows, positions.margin_mm),
    )
    x_mm, y_mm = (unit_mm * int(min(SHARE * step_mm, room_mm) / unit_mm + 1e-9) for step_mm in steps_mm)
    return x_mm, y_mm


def _places(one: Round) -> set[Point]:
    return {reading.point_mm for reading in one.with_aim("rail")}


def _step_mm(size_mm: float, count: int, margin_mm: float) -> float:
    """Return the way from one position to the next; from the only one to the edge."""
    return (size_mm - 2.0 * margin_mm) / (count - 1) if count > 1 else 0.5 * size_mm


def beside_mm(grill: Grill, label: str, offset: Point) -> Point:
    """Return the place beside a position, mm."""
    x_mm, y_mm = grill.point_mm(label)
    return x_mm + offset[0], y_mm + offset[1]


def label_beside(grill: Grill, point_mm: Point, offset: Point) -> str:
    """Return the position a place stands beside, or ""."""
    for label in grill.labels:
        x_mm, y_mm = beside_mm(grill, label, offset)
        if abs(x_mm - point_mm[0]) <= ROUNDED_MM and abs(y_mm - point_mm[1]) <= ROUNDED_MM:
            return label
    return ""


def offset_text(grill: Grill, offset: Point) -> str:
    """Say where from each position to aim: "2 in to the right and 2 in to the back"."""
    display = Display(grill.units)
    x_mm, y_mm = offset
    ways = (x_mm, "right" if x_mm > 0 else "left"), (y_mm, "back" if y_mm > 0 else "front")
    return " and ".join(f"{display.length_text(abs(far))} to the {way}" for far, way in ways if far)
