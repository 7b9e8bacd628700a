"""Where on the grate, as a cook calls it: "front left", "the back and the right"."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heatmap.assessment import Assessment
from heatmap.grill.grill import Grate
from heatmap.words.phrases import joined

#: A third of the grate is called too hot or too cold when at least this share of its cells is.
_PART_OF_REGION = 0.5
_ACROSS, _AWAY = ("left", "middle", "right"), ("front", "centre", "back")


def region_name(x_mm: float, y_mm: float, grate: Grate) -> str:
    """Return the ninth of the grate a point lies in, as a cook calls it: "front left", "back centre", "centre"."""
    column = min(max(int(3 * x_mm / grate.width_mm), 0), 2)
    row = min(max(int(3 * y_mm / grate.depth_mm), 0), 2)
    return _ninth(row, column)


def _ninth(row: int, column: int) -> str:
    if row == 1:
        return "centre" if column == 1 else _ACROSS[column]
    return f"{_AWAY[row]} centre" if column == 1 else f"{_AWAY[row]} {_ACROSS[column]}"


def _ninths(assessment: Assessment, word: str) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which of the 3 × 3 parts, front row first, are mostly of this word, and which of them count at all."""
    cells, grate = assessment.cells, assessment.grill.grate
    column = np.minimum((3 * cells.x_mm / grate.width_mm).astype(int), 2)
    row = np.minimum((3 * cells.y_mm / grate.depth_mm).astype(int), 2)
    flagged = (assessment.words == word) & cells.inside
    result, counts = np.zeros((3, 3), dtype=bool), np.zeros((3, 3), dtype=bool)
    for i in range(3):
        for j in range(3):
            part = np.outer(row == i, column == j) & cells.inside
            counts[i, j] = bool(part.any())
            result[i, j] = counts[i, j] and float(np.mean(flagged[part])) >= _PART_OF_REGION
    return result, counts


def regions(assessment: Assessment, word: str) -> str:
    """Say where the grate is of this word: "the right", "the back and the front left", or nothing."""
    parts, counts = _ninths(assessment, word)
    if parts[counts].all():
        return "everywhere"
    names: list[str] = []
    left = parts.copy()
    for column in range(3):
        if counts[:, column].any() and parts[counts[:, column], column].all():
            names.append(f"the {_ACROSS[column]}")
            left[:, column] = False
    for row in range(3):
        if counts[row].any() and parts[row, counts[row]].all() and left[row].any():
            names.append("the middle from side to side" if row == 1 else f"the {_AWAY[row]}")
            left[row] = False
    names += [f"the {_ninth(row, column)}" for row in (2, 1, 0) for column in range(3) if left[row, column]]
    return joined(names)
