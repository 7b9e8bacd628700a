"""The whole surface as CSV: x, y, mean and own standard deviation, one row a cell."""

from __future__ import annotations

from typing import TYPE_CHECKING

from heatmap.units import Display

if TYPE_CHECKING:
    from heatmap.assessment import Assessment


def grid_csv(assessment: Assessment) -> str:
    """Return rail temperatures of every cell, front row first, in the grill's units."""
    display, cells = Display(assessment.grill.units), assessment.cells
    length, degree = display.length_key, display.degree_key
    rows = [f"x_{length},y_{length},mean_{degree},own_std_{degree}"]
    for row, y_mm in enumerate(cells.y_mm):
        for column, x_mm in enumerate(cells.x_mm):
            x, y = display.length(float(x_mm)), display.length(float(y_mm))
            mean = display.temperature(float(assessment.mean_c[row, column]))
            own_std = display.difference(float(assessment.own_std_c[row, column]))
            rows.append(f"{x:.4f},{y:.4f},{mean:.3f},{own_std:.3f}")
    return "\r\n".join(rows) + "\r\n"  # line ends of RFC 4180
