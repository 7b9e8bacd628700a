"""The whole surface as CSV: x, y, mean and own standard deviation, one row a cell."""

from __future__ import annotations

from typing import TYPE_CHECKING

from heatmap.units import Display

if TYPE_CHECKING:
    from heatmap.assessment import Assessment


def grid_csv(assessment: Assessment) -> str:
    """Return rail temperatures of every cell on the grate, front row first, in the grill's units."""
    display, cells = Display(assessment.grill.units), assessment.cells
    length, degree = display.length_key, display.degree_key
    rows = [f"x_{length},y_{length},mean_{degree},own_std_{degree}"]
    on = assessment.grill.grate.edge_distance_mm(cells.points_mm).reshape(cells.inside.shape) >= -1e-9
    for row, y_mm in enumerate(cells.y_mm):
        for column, x_mm in enumerate(cells.x_mm):
            if not on[row, column]:
                continue
            x, y = display.length(float(x_mm)), display.length(float(y_mm))
            mean = display.temperature(float(assessment.mean_c[row, column]))
            own_std = display.difference(float(assessment.own_std_c[row, column]))
            rows.append(f"{x:.4f},{y:.4f},{mean:.3f},{own_std:.3f}")
    return "\r\n".join(rows) + "\r\n"  # line ends of RFC 4180
