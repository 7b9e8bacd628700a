"""The whole surface as CSV: x, y, mean and own standard deviation, one row a cell."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

from heatmap.errors import InputError
from heatmap.units import Display

if TYPE_CHECKING:
    from heatmap.assessment import Assessment


def save_grid(assessment: Assessment, path: str | Path) -> None:
    """Write rail temperatures of every cell, front row first, in the grill's units.

    Raises
    ------
    InputError
        When the file cannot be written.
    """
    display = Display(assessment.grill.units)
    length, degree = display.length_key, display.degree_key
    cells = assessment.cells
    try:
        with open(path, "w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow([f"x_{length}", f"y_{length}", f"mean_{degree}", f"own_std_{degree}"])
            for row, y_mm in enumerate(cells.y_mm):
                for column, x_mm in enumerate(cells.x_mm):
                    writer.writerow(
                        [
                            f"{display.length(float(x_mm)):.4f}",
                            f"{display.length(float(y_mm)):.4f}",
                            f"{display.temperature(float(assessment.mean_c[row, column])):.3f}",
                            f"{display.difference(float(assessment.own_std_c[row, column])):.3f}",
                        ]
                    )
    except OSError as error:
        raise InputError(f"{path}: cannot be written: {error.strerror or error}") from None
