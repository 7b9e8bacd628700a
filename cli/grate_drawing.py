"""The grate drawn in letters, seen from above: where the burners lie and where the positions are."""

import math
from collections.abc import Sequence

from heatmap.grill.grate import Point
from heatmap.grill.grill import Grill

#: No wider and no higher than this, so that the question below stays on the screen of 24 lines; a sign is twice as
#: high as wide.
_WIDEST, _HIGHEST = 46, 11
#: Points a part of a burner's line is drawn with: enough that no sign is left out where it crosses the grate.
_POINTS = 100


def grate_drawing(grill: Grill) -> list[str]:
    """Return the lines of the drawing, between BACK and YOU, and what its letters stand for."""
    grate = grill.grate
    scale = min(_WIDEST / grate.width_mm, 2.0 * _HIGHEST / grate.depth_mm)
    columns, rows = max(4, round(scale * grate.width_mm)), max(3, round(0.5 * scale * grate.depth_mm))
    cells = [[" "] * columns for _ in range(rows)]
    off_centre = [(row + 0.5) / (0.5 * rows) - 1.0 for row in range(rows)]
    narrower = [1.0 - math.sqrt(1.0 - off**2) if grate.is_round else 0.0 for off in off_centre]
    lefts = [math.floor(0.5 * columns * share) for share in narrower]  # where the grate begins

    def put(point_mm: Point, letter: str) -> bool:
        column = math.floor(point_mm[0] / grate.width_mm * columns)
        row = rows - 1 - math.floor(point_mm[1] / grate.depth_mm * rows)
        on_it = 0 <= row < rows and lefts[row] <= column < columns - lefts[row]
        if on_it:
            cells[row][column] = letter
        return on_it

    legend = []
    for burner, letter in zip(grill.burners, _letters([burner.name for burner in grill.burners]), strict=True):
        drawn = [put(point_mm, letter) for point_mm in _along(burner.points_mm)]
        if drawn:
            legend.append(f"{letter} {burner.name}" if any(drawn) else f"{burner.name} (beside the grate)")
    for label in grill.labels:
        put(grill.point_mm(label), "·")
    legend.append(f"· {len(grill.labels)} positions")
    start, end = ("(", ")") if grate.is_round else ("│", "│")
    framed = [f"{start}{''.join(row[left : columns - left])}{end}" for left, row in zip(lefts, cells, strict=True)]
    lines = [" " * left + line for left, line in zip(lefts, framed, strict=True)]
    edge = "─" * (columns - 2 * lefts[0])
    flat = f"{' ' * lefts[0]} {edge}"
    top, bottom = (flat, flat) if grate.is_round else (f"┌{edge}┐", f"└{edge}┘")
    middle = 1 + columns // 2
    drawing = [f"{'BACK':>{middle + 2}}", top, *lines, bottom, f"{'YOU':>{middle + 1}}", "   ".join(legend)]
    return [f"  {line}".rstrip() for line in drawing]


def _along(points_mm: Sequence[Point]) -> list[Point]:
    """Return points along a burner's line."""
    return [
        (x0 + (x1 - x0) * at / _POINTS, y0 + (y1 - y0) * at / _POINTS)
        for (x0, y0), (x1, y1) in zip(points_mm, points_mm[1:] or points_mm, strict=False)
        for at in range(_POINTS + 1)
    ]


def _letters(names: Sequence[str]) -> list[str]:
    """Return a letter of its own for each name: a first letter of its words where that is free."""
    taken: list[str] = []
    for name in names:
        words = name.upper().split()
        wanted = "".join([*(word[0] for word in words), *words, "123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"])
        taken.append(next((sign for sign in wanted if sign.isalnum() and sign not in taken), "*"))
    return taken
