"""The grate drawn in letters, seen from above: where the burners lie and where the positions are."""

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from heatmap.grill.grate import Point
from heatmap.grill.grill import Grill
from heatmap.units import FloatArray

#: No wider and no higher than this, so that the question below stays on the screen of 24 lines; a sign is twice as
#: high as wide.
_WIDEST, _HIGHEST = 46, 11


def grate_drawing(grill: Grill) -> list[str]:
    """Return the lines of the drawing, between BACK and YOU, and what its letters stand for."""
    grate = grill.grate
    scale = min(_WIDEST / grate.width_mm, 2.0 * _HIGHEST / grate.depth_mm)
    columns, rows = max(4, round(scale * grate.width_mm)), max(3, round(0.5 * scale * grate.depth_mm))
    cells = np.full((rows, columns), " ")

    def put(points_mm: FloatArray, letter: str) -> bool:
        on_mm = points_mm[grate.edge_distance_mm(points_mm) >= 0.0]
        at = np.minimum((on_mm / grate.extent_mm * (columns, rows)).astype(int), (columns - 1, rows - 1))
        cells[rows - 1 - at[:, 1], at[:, 0]] = letter
        return len(on_mm) > 0

    legend = []
    step_mm = 0.4 * min(grate.width_mm / columns, grate.depth_mm / rows)
    for burner, letter in zip(grill.burners, _letters([burner.name for burner in grill.burners]), strict=True):
        if burner.points_mm:
            on_it = put(_along(burner.points_mm, step_mm), letter)
            legend.append(f"{letter} {burner.name}" if on_it else f"{burner.name} (beside the grate)")
    put(np.array([grill.point_mm(label) for label in grill.labels]).reshape(-1, 2), "·")
    legend.append(f"· {len(grill.labels)} positions")
    middle = 3 + columns // 2
    lines = [f"{'BACK':>{middle + 2}}", *_framed(grill, cells), f"{'YOU':>{middle + 1}}"]
    return [line.rstrip() for line in [*lines, "  " + "   ".join(legend)]]


def _framed(grill: Grill, cells: NDArray[np.str_]) -> list[str]:
    rows, columns = len(cells), len(cells[0])
    if not grill.grate.is_round:
        flat = "─" * columns
        return [f"  ┌{flat}┐", *(f"  │{''.join(row)}│" for row in cells), f"  └{flat}┘"]
    halves = [0.5 * columns * math.sqrt(1.0 - ((at + 0.5) / (0.5 * rows) - 1.0) ** 2) for at in range(rows)]
    lefts = [max(0, math.floor(0.5 * columns - half)) for half in halves]
    lines = [f"  {' ' * left}({''.join(row[left : columns - left])})" for left, row in zip(lefts, cells, strict=True)]
    flat = f"   {' ' * lefts[0]}{'─' * (columns - 2 * lefts[0])}"
    return [flat, *lines, flat]


def _along(points_mm: Sequence[Point], step_mm: float) -> FloatArray:
    """Return points along a burner's line, shape (n, 2), close enough that no sign is left out."""
    ends = [(one, other, 2 + int(math.dist(one, other) / step_mm)) for one, other in pairwise(points_mm)]
    return np.concatenate([points_mm[:1], *(np.linspace(*between) for between in ends)])


def _letters(names: Sequence[str]) -> list[str]:
    """Return a letter of its own for each name: a first letter of its words where that is free."""
    taken: list[str] = []
    for name in names:
        words = name.upper().split()
        wanted = "".join([*(word[0] for word in words), *words, "123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"])
        taken.append(next((sign for sign in wanted if sign.isalnum() and sign not in taken), "*"))
    return taken
