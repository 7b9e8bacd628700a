"""The grate drawn in letters, seen from above: where the burners lie and where the positions are."""

import math
from collections.abc import Sequence

from heatmap.grill.grate import Point
from heatmap.grill.grill import Grill

#: No wider and no higher than this, so that the question below stays on the screen of 24 lines; a sign is twice as
#: high as wide.
_WIDEST, _HIGHEST = 46, 11


def grate_drawing(grill: Grill) -> list[str]:
    """Return the lines of the drawing, between BACK and YOU, and what its letters stand for."""
    grate = grill.grate
    scale = min(_WIDEST / grate.width_mm, 2.0 * _HIGHEST / grate.depth_mm)
    columns, rows = max(4, round(scale * grate.width_mm)), max(3, round(0.5 * scale * grate.depth_mm))
    cells = [[" "] * columns for _ in range(rows)]

    def put(point_mm: Point, letter: str) -> bool:
        column = math.floor(point_mm[0] / grate.width_mm * columns)
        row = rows - 1 - math.floor(point_mm[1] / grate.depth_mm * rows)
        middle_mm = (0.5 * grate.width_mm, 0.5 * grate.depth_mm)
        off_disc = grate.is_round and math.dist(point_mm, middle_mm) > middle_mm[0]
        if off_disc or not (0 <= row < rows and 0 <= column < columns):
            return False
        cells[row][column] = letter
        return True

    legend = []
    step_mm = 0.4 * min(grate.width_mm / columns, grate.depth_mm / rows)
    for burner, letter in zip(grill.burners, _letters([burner.name for burner in grill.burners]), strict=True):
        drawn = [put(point_mm, letter) for point_mm in _along(burner.points_mm, step_mm)]
        if drawn:
            legend.append(f"{letter} {burner.name}" if any(drawn) else f"{burner.name} (beside the grate)")
    for label in grill.labels:
        put(grill.point_mm(label), "·")
    legend.append(f"· {len(grill.labels)} positions")
    middle = 3 + columns // 2
    lines = [f"{'BACK':>{middle + 2}}", *_framed(grill, cells), f"{'YOU':>{middle + 1}}"]
    return [line.rstrip() for line in [*lines, "  " + "   ".join(legend)]]


def _framed(grill: Grill, cells: Sequence[Sequence[str]]) -> list[str]:
    rows, columns = len(cells), len(cells[0])
    if not grill.grate.is_round:
        flat = "─" * columns
        return [f"  ┌{flat}┐", *(f"  │{''.join(row)}│" for row in cells), f"  └{flat}┘"]
    halves = [0.5 * columns * math.sqrt(1.0 - ((at + 0.5) / (0.5 * rows) - 1.0) ** 2) for at in range(rows)]
    lefts = [max(0, math.floor(0.5 * columns - half)) for half in halves]
    lines = [f"  {' ' * left}({''.join(row[left : columns - left])})" for left, row in zip(lefts, cells, strict=True)]
    flat = f"   {' ' * lefts[0]}{'─' * (columns - 2 * lefts[0])}"
    return [flat, *lines, flat]


def _along(points_mm: Sequence[Point], step_mm: float) -> list[Point]:
    """Return points along a burner's line, close enough that no sign is left out."""
    found = list(points_mm[:1])
    for (x0, y0), (x1, y1) in zip(points_mm, points_mm[1:], strict=False):
        count = max(1, math.ceil(math.dist((x0, y0), (x1, y1)) / step_mm))
        found += [(x0 + (x1 - x0) * at / count, y0 + (y1 - y0) * at / count) for at in range(1, count + 1)]
    return found


def _letters(names: Sequence[str]) -> list[str]:
    """Return a letter of its own for each name: a first letter of its words where that is free."""
    taken: list[str] = []
    for name in names:
        words = name.upper().split()
        wanted = "".join([*(word[0] for word in words), *words, "123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"])
        taken.append(next((sign for sign in wanted if sign.isalnum() and sign not in taken), "*"))
    return taken
