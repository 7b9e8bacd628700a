"""The nine parts of the grate, and their names: a cook's "front left", "back centre", "centre right", "centre"."""

import itertools

import numpy as np

from heatmap.grill.grate import Grate
from heatmap.units import BoolArray, FloatArray, IntArray


def ninth_of(points_mm: FloatArray, grate: Grate) -> tuple[IntArray, IntArray]:
    """Return in which of the 3 × 3 parts points (m, 2) lie: row from the front and column from the left, each (m,)."""
    width_mm, depth_mm = grate.extent_mm
    column, row = (3.0 * points_mm / [width_mm, depth_mm]).astype(int).T
    return np.clip(row, 0, 2), np.clip(column, 0, 2)


def part_name(row: int, column: int) -> str:
    """Return what a part is called; a name of one word is left to whole sides, but for the centre."""
    words = (("front", "centre", "back")[row], ("left", "centre", "right")[column])
    return " ".join(dict.fromkeys(words))


def region_name(x_mm: float, y_mm: float, grate: Grate) -> str:
    """Return what the part a point lies in is called."""
    row, column = ninth_of(np.array([[x_mm, y_mm]]), grate)
    return part_name(int(row[0]), int(column[0]))


def parts_of_grate(grate: Grate, points_mm: FloatArray) -> dict[str, BoolArray]:
    """Return which of points (m, 2) lie in each part that holds any, by its name, back row first."""
    row, column = ninth_of(points_mm, grate)
    parts = {part_name(*at): (row == at[0]) & (column == at[1]) for at in itertools.product((2, 1, 0), (0, 1, 2))}
    return {name: here for name, here in parts.items() if here.any()}
