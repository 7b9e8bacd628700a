"""The nine parts of the grate, by name."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from heatmap.grill.grill import Grill


def parts_of_grate(grill: Grill, cells_mm: NDArray[np.float64]) -> dict[str, NDArray[np.bool_]]:
    """Return the nine parts of the grate by name: back left, back, back right, left, centre, …"""
    width, depth = grill.grate.extent_mm
    column = np.clip((3.0 * cells_mm[:, 0] / width).astype(int), 0, 2)
    row = np.clip((3.0 * cells_mm[:, 1] / depth).astype(int), 0, 2)
    names = {}
    for at_row, at_column in itertools.product((2, 1, 0), (0, 1, 2)):
        words = [("front", "", "back")[at_row], ("left", "centre", "right")[at_column]]
        names[" ".join(word for word in words if word)] = (row == at_row) & (column == at_column)
    return names
