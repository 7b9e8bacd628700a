"""The nine parts of the grate, and their names: a cook's "front left", "back centre", "centre right", "centre"."""

import itertools

import numpy as np

from heatmap.grill.grate import Grate
from heatmap.units import BoolArray, FloatArray


def part_name(row: int, column: int) -> str:
    """Return what a part is called; a name of one word is left to whole sides, but for the centre."""
    words = (("front", "centre", "back")[row], ("left", "centre", "right")[column])
    return " ".join(dict.fromkeys(words))


def region_name(x_mm: float, y_mm: float, grate: Grate) -> str:
    """Return what the part a point lies in is called."""
    (name,) = parts_of_grate(grate, np.array([[x_mm, y_mm]]))
    return name


def parts_of_grate(grate: Grate, points_mm: FloatArray) -> dict[str, BoolArray]:
    """Return which of points (m, 2) lie in each part that holds any, by its name, back row first."""
    column, row = np.clip((3.0 * points_mm / grate.extent_mm).astype(int), 0, 2).T
    parts = {part_name(*at): (row == at[0]) & (column == at[1]) for at in itertools.product((2, 1, 0), (0, 1, 2))}
    return {name: here for name, here in parts.items() if here.any()}
