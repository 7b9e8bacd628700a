"""Where burners lie that are not where the grill file says: mirrored or turned, as a slip while telling it would be."""

from collections.abc import Iterator, Sequence
from enum import Enum

import numpy as np

from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate, Point
from heatmap.units import FloatArray

#: Lines whose corners are no farther than this from each other's lie alike [mm].
ALIKE_MM = 25.4

Lines = tuple[tuple[Point, ...], ...]


class Layout(Enum):
    """How the burners lie, against what the grill file says: what takes a point from where it is told to where it is;
    from the middle of the grate, over half of its sides.
    """

    AS_TOLD = ((1.0, 0.0), (0.0, 1.0))
    LEFT_TO_RIGHT = ((-1.0, 0.0), (0.0, 1.0))
    FRONT_TO_BACK = ((1.0, 0.0), (0.0, -1.0))
    HALF_TURN = ((-1.0, 0.0), (0.0, -1.0))
    QUARTER_TURN = ((0.0, -1.0), (1.0, 0.0))
    QUARTER_TURN_BACK = ((0.0, 1.0), (-1.0, 0.0))


def other_lines(grate: Grate, burners: Sequence[Burner]) -> Iterator[tuple[Layout, Lines]]:
    """Yield the layouts that differ from the one told and from one another, and the corners of the burners' lines in
    each.
    """
    told = tuple(burner.points_mm for burner in burners)
    seen = [told]
    for layout in Layout:
        lines = tuple(_moved(grate, points, np.array(layout.value)) for points in told)
        if not any(all(map(_alike, lines, other)) for other in seen):
            seen.append(lines)
            yield layout, lines


def _moved(grate: Grate, points_mm: tuple[Point, ...], move: FloatArray) -> tuple[Point, ...]:
    half = 0.5 * np.array(grate.extent_mm)
    moved = ((np.reshape(points_mm, (-1, 2)) / half - 1.0) @ move.T + 1.0) * half
    return tuple((float(x), float(y)) for x, y in moved)


def _alike(one: tuple[Point, ...], two: tuple[Point, ...]) -> bool:
    """Tell whether a burner's line lies where another does, whichever end it begins at."""
    apart = np.hypot(*(np.reshape(one, (-1, 1, 2)) - np.reshape(two, (1, -1, 2))).T)
    return not apart.size or float(max(apart.min(axis=0).max(), apart.min(axis=1).max())) <= ALIKE_MM
